//! The sheet: one page to hand over the counter, and the engineer's side behind it.
//!
//! The customer's side is read first and kept: the range before the number, what it stands on, what could change it, how it will be checked, until when
//! it holds. The engineer's side is the quote in full. As a page for a browser it is one file that shows both, prints them on A4 or Letter paper, and asks
//! for nothing from outside; as PDF it is drawn here, so that it looks the same everywhere. It refuses a price: this program knows none.

mod customer;
mod paper;

use super::chart::svg::{self, escaped};
use super::number::Units;
use super::pdf::{FontError, Paper};
use super::quote::QuoteReport;
use super::stamp::Stamp;
use super::{Report, html};
use customer::{CHART_NOTE, Customer, Part, SIGN, Words};

/// What stands on a sheet beside the quote.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Letter {
    /// The shop: its name, then further lines.
    pub shop: Vec<String>,
    /// For whom it is.
    pub customer: Option<String>,
    /// Last day on which it holds, as YYYY-MM-DD.
    pub valid_until: Option<String>,
    /// What the shop wants minded besides what the program says.
    pub cautions: Vec<String>,
}

fn title(quote: &QuoteReport, made_by: &Stamp) -> String {
    format!("Quote {}: {}", made_by.inputs, quote.answer.basis.car)
}

/// The whole sheet as PDF on paper of a size.
pub fn pdf(
    quote: &QuoteReport,
    made_by: &Stamp,
    letter: &Letter,
    units: Units,
    paper: Paper,
) -> Result<Vec<u8>, FontError> {
    let customer = Customer::of(quote, made_by, letter, units);
    let mut documents = vec![quote.document(units)];
    documents.extend(quote.fit.as_ref().map(|fit| fit.document(units)));
    paper::drawn(&customer, &documents, &title(quote, made_by), paper)
}

/// The whole file for a browser.
pub fn sheet(quote: &QuoteReport, made_by: &Stamp, letter: &Letter, units: Units) -> String {
    let mut out = String::new();
    let side = Customer::of(quote, made_by, letter, units);
    html::head(
        &mut out,
        &title(quote, made_by),
        &format!("{}{}", include_str!("sheet.css"), svg::STYLE),
    );
    out.push_str("<body>\n<main class=\"side customer\">\n");
    letterhead(&mut out, &side);
    promise(&mut out, &side);
    figures(&mut out, &side);
    out.push_str("<div class=\"columns\">\n");
    for column in &side.columns {
        out.push_str("<div>\n");
        for words in column {
            part(&mut out, words);
        }
        out.push_str("</div>\n");
    }
    out.push_str("</div>\n<div class=\"checked\">\n");
    part(&mut out, &side.check);
    out.push_str("<div class=\"sign\">");
    for who in SIGN {
        add!(out, "<p>{who}</p>");
    }
    add!(
        out,
        "</div>\n</div>\n<footer>{}</footer>\n</main>\n<section class=\"side engineer\">\n<p class=\"over\">Engineer's side</p>\n",
        escaped(&side.foot)
    );
    if !side.own_cautions.is_empty() {
        part(&mut out, &side.all_cautions());
    }
    html::unfolded(&mut out, &quote.document(units));
    if let Some(fit) = &quote.fit {
        html::unfolded(&mut out, &fit.document(units));
    }
    add!(
        out,
        "<footer>{}</footer>\n</section>\n</body>\n</html>\n",
        escaped(&side.foot)
    );
    out
}

fn letterhead(out: &mut String, side: &Customer) {
    out.push_str("<header>\n<div class=\"shop\">\n");
    for (place, line) in side.shop.iter().enumerate() {
        let class = if place == 0 { " class=\"firm\"" } else { "" };
        add!(out, "<p{class}>{}</p>\n", escaped(line));
    }
    out.push_str("</div>\n<dl>\n");
    for (name, value) in &side.facts {
        add!(
            out,
            "<div><dt>{name}</dt><dd>{}</dd></div>\n",
            escaped(value)
        );
    }
    add!(out, "</dl>\n</header>\n<h1>{}</h1>\n", escaped(&side.title));
}

/// The range first, then what may be counted on.
fn promise(out: &mut String, side: &Customer) {
    let [before, sure, behind] = &side.meaning;
    add!(
        out,
        "<div class=\"range\">\n<p class=\"number\">{}</p>\n<p>{}<strong>{}</strong>{}</p>\n</div>\n",
        escaped(&side.range),
        escaped(before),
        escaped(sure),
        escaped(behind)
    );
    for remark in &side.remarks {
        add!(out, "<p class=\"hoped\">{}</p>\n", escaped(remark));
    }
}

fn figures(out: &mut String, side: &Customer) {
    out.push_str("<div class=\"picture\">\n<div>\n");
    html::table(out, &side.figures);
    add!(
        out,
        "<p class=\"small\">{}</p>\n</div>\n<div>\n{}<p class=\"small\">{CHART_NOTE}</p>\n</div>\n</div>\n",
        escaped(&side.correction),
        side.chart.svg(svg::NARROW)
    );
}

fn part(out: &mut String, part: &Part) {
    add!(out, "<h2>{}</h2>\n", part.head);
    match &part.words {
        Words::Running(text) => add!(out, "<p>{}</p>\n", escaped(text)),
        Words::Points(points) => {
            out.push_str("<ul>\n");
            for point in points {
                add!(out, "<li>{}</li>\n", escaped(point));
            }
            out.push_str("</ul>\n");
        }
    }
}
