//! The sheet on paper: one side for the customer, whatever it takes, and the engineer's side behind it.
//!
//! Where the customer's side does not fit, it is set a little smaller until it does; only what no letter that can be read would hold goes on overleaf.

use super::customer::{CHART_NOTE, Customer, Part, SIGN, Words};
use crate::report::chart::svg;
use crate::report::document::Document;
use crate::report::pdf::{Canvas, Flow, FontError, Paper, Style};

/// Millimetres in points.
const MM: f64 = 72.0 / 25.4;
/// Margins to the sides and at both ends.
const MARGINS: (f64, f64) = (14.0 * MM, 11.0 * MM);
/// Letters of running text on both sides, points.
const TEXT: f64 = 8.8;
const ENGINEER: f64 = 7.8;
/// Sizes that are tried, in parts of the usual one.
const SCALES: [f64; 8] = [1.1, 1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75];
/// Width of the chart on the customer's side, and of those on the engineer's.
const GLANCE: f64 = 74.0 * MM;
const CHART: f64 = 150.0 * MM;

/// Both sides.
pub(super) fn drawn(
    side: &Customer,
    documents: &[Document],
    title: &str,
    paper: Paper,
) -> Result<Vec<u8>, FontError> {
    let mut canvas = Canvas::new(paper)?;
    for scale in SCALES {
        canvas = Canvas::new(paper)?;
        let mut flow = Flow::new(&mut canvas, MARGINS);
        customer(&mut flow, side, scale);
        if canvas.pages() == 1 {
            break;
        }
    }
    let mut flow = Flow::new(&mut canvas, MARGINS);
    flow.new_page();
    let style = Style::plain(ENGINEER);
    flow.paragraph("Engineer's side", style.in_colour(Style::QUIET).bold());
    if !side.own_cautions.is_empty() {
        part(&mut flow, &side.all_cautions(), style);
    }
    for document in documents {
        flow.document(document, style, CHART);
    }
    flow.space(0.5 * ENGINEER);
    flow.paragraph(&side.foot, style.in_colour(Style::QUIET));
    canvas.finish(title, &side.foot)
}

fn customer(flow: &mut Flow<'_>, side: &Customer, scale: f64) {
    let style = Style::plain(scale * TEXT);
    let em = style.size;
    letterhead(flow, side, style);
    flow.space(0.9 * em);
    let head = Style {
        size: 1.6 * em,
        ..style
    };
    flow.paragraph(&side.title, head.bold());
    flow.space(0.6 * em);
    promise(flow, side, style);
    flow.space(0.8 * em);
    figures(flow, side, style);
    let (left, right, y) = (flow.left, flow.right, flow.y);
    let gap = 2.0 * em;
    let width = 0.5 * (flow.width() - gap);
    let mut lowest = y;
    for (place, column) in side.columns.iter().enumerate() {
        flow.y = y;
        flow.left = left + place as f64 * (width + gap);
        flow.right = flow.left + width;
        for words in column {
            part(flow, words, style);
        }
        lowest = lowest.max(flow.y);
    }
    (flow.left, flow.right, flow.y) = (left, right, lowest);
    flow.space(0.9 * em);
    flow.rule(Style::RULE, 0.6);
    part(flow, &side.check, style);
    flow.space(3.4 * em);
    let y = flow.y;
    for (place, who) in SIGN.iter().enumerate() {
        flow.y = y;
        flow.left = left + place as f64 * (width + gap);
        flow.right = flow.left + width;
        flow.rule(Style::QUIET, 0.6);
        flow.paragraph(who, style.in_colour(Style::QUIET));
    }
    (flow.left, flow.right) = (left, right);
    flow.space(0.4 * em);
    flow.paragraph(&side.foot, style.in_colour(Style::QUIET));
}

fn letterhead(flow: &mut Flow<'_>, side: &Customer, style: Style) {
    let y = flow.y;
    for (name, value) in &side.facts {
        flow.ending_right(&format!("{name}  {value}"), style);
    }
    let facts = flow.y;
    flow.y = y;
    let right = flow.right;
    flow.right -= 0.4 * flow.width();
    for (place, line) in side.shop.iter().enumerate() {
        let firm = Style {
            size: 1.5 * style.size,
            ..style
        };
        flow.paragraph(line, if place == 0 { firm.bold() } else { style });
    }
    flow.right = right;
    flow.y = flow.y.max(facts) + 0.5 * style.size;
    flow.rule(Style::INK, 1.5);
}

/// The range in a frame, what it means beside it.
fn promise(flow: &mut Flow<'_>, side: &Customer, style: Style) {
    let em = style.size;
    let (top, left, right) = (flow.y, flow.left, flow.right);
    let number = Style {
        size: 2.5 * em,
        ..style
    }
    .bold()
    .in_colour(Style::MAIN);
    let width = flow.text_width(&side.range, number);
    (flow.left, flow.right) = (left + 1.4 * em, right - 1.4 * em);
    // Beside each other where there is room for words, else one below the other.
    let beside = width < 0.55 * flow.width();
    flow.y = top + 0.9 * em;
    flow.paragraph(&side.range, number);
    let below = flow.y;
    if beside {
        flow.left += width + 1.8 * em;
        flow.y = top + 0.9 * em;
    }
    flow.paragraph(&side.meaning.concat(), style);
    flow.y = flow.y.max(below) + 0.9 * em;
    (flow.left, flow.right) = (left, right);
    flow.frame(top, Style::MAIN, 1.5);
    for remark in &side.remarks {
        flow.space(0.5 * em);
        flow.paragraph(remark, style.bold());
    }
}

/// The figures, and the chart at their side.
fn figures(flow: &mut Flow<'_>, side: &Customer, style: Style) {
    let (top, left, right) = (flow.y, flow.left, flow.right);
    let small = Style {
        size: 0.92 * style.size,
        ..style
    };
    let quiet = small.in_colour(Style::QUIET);
    flow.right = right - GLANCE - 1.6 * style.size;
    flow.table(&side.figures, small);
    flow.space(0.4 * style.size);
    flow.paragraph(&side.correction, quiet);
    let below = flow.y;
    (flow.left, flow.right, flow.y) = (right - GLANCE, right, top);
    flow.drawing(&side.chart.svg(svg::NARROW));
    flow.paragraph(CHART_NOTE, quiet);
    flow.y = flow.y.max(below);
    (flow.left, flow.right) = (left, right);
}

fn part(flow: &mut Flow<'_>, part: &Part, style: Style) {
    let head = Style {
        size: 1.08 * style.size,
        ..style
    };
    flow.heading(part.head, head, 0.7 * style.size);
    match &part.words {
        Words::Points(points) => flow.list(points, style),
        Words::Running(text) => flow.paragraph(text, style),
    }
}
