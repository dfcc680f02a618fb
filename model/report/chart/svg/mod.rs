//! Charts as drawings: SVG of our own, the same on a page, on paper and in a file.
//!
//! A line, its dashes and its lightness tell curves apart, so that colour is not needed. Names stand at the lines and give way to each other. Inside a
//! page a drawing brings no style of its own, so that the page may forbid any; as a file it brings the paper's. It asks for nothing from outside,
//! and every word is escaped.

mod bars;
mod hours;
mod panels;
mod scale;

use super::{Chart, Figure, Pen};
use crate::files::shown::shown;
use crate::report::document::{Content, Document};

/// Style of all charts, in colours named as a page names its own.
pub const STYLE: &str = include_str!("chart.css");

/// Colours of paper, under the names of the style.
const PAPER: [(&str, &str); 7] = [
    ("--ground", "#fdfdfb"),
    ("--ink", "#1d2126"),
    ("--quiet", "#5a626c"),
    ("--rule", "#d5d8dc"),
    ("--main", "#17427c"),
    ("--other", "#a3660f"),
    ("--third", "#1f7a6d"),
];

/// Width of a drawing on a page or on paper.
pub const WIDE: f64 = 760.0;
/// Width of the same drawing on a phone: the letters keep their size.
pub const NARROW: f64 = 380.0;
/// Usual width of a letter of 13 pixels.
const LETTER: f64 = 6.9;
/// From one line of letters to the next.
const LINE: f64 = 16.0;

impl Pen {
    const fn class(self) -> &'static str {
        match self {
            Self::Main => "main",
            Self::Other => "other",
            Self::Third => "third",
            Self::Fourth => "fourth",
            Self::Read => "read",
        }
    }
}

impl Chart {
    /// The drawing for a page that holds [`STYLE`], so many units wide; empty where there is nothing to draw.
    pub fn svg(&self, width: f64) -> String {
        let (body, height) = self.drawn(width);
        if height <= 0.0 {
            return String::new();
        }
        format!(
            "<svg class=\"chart\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" aria-label=\"{}\">\n{body}</svg>\n",
            escaped(&format!("{}. {}", self.title, self.caption))
        )
    }

    /// What is drawn and how high it is.
    fn drawn(&self, width: f64) -> (String, f64) {
        let mut out = String::new();
        let height = match &self.figure {
            Figure::Panels { axis, panels } => panels::draw(&mut out, axis, panels, width),
            Figure::Bars { axis, rows } => bars::draw(&mut out, axis, rows, width),
            Figure::Hours { name, cells } => hours::draw(&mut out, name, cells, width),
        };
        (out, height)
    }
}

impl Document {
    /// All its charts, one below the other, as one file; none where it has no chart.
    pub fn svg(&self) -> Option<String> {
        const EDGE: f64 = 20.0;
        let width = WIDE - 2.0 * EDGE;
        let mut body = String::new();
        let mut y = EDGE;
        let mut names = Vec::new();
        for block in &self.blocks {
            let Content::Chart { chart } = &block.content else {
                continue;
            };
            let (drawing, height) = chart.drawn(width);
            if height <= 0.0 {
                continue;
            }
            names.push(chart.title.as_str());
            y = lines(&mut body, &chart.title, "title", (EDGE, y), (22.0, 9.7));
            y += 4.0;
            y = lines(&mut body, &chart.caption, "caption", (EDGE, y), (LINE, 6.3));
            y += 12.0;
            add!(
                body,
                "<g transform=\"translate({EDGE:.0} {y:.1})\">\n{drawing}</g>\n"
            );
            y += height + 28.0;
        }
        if names.is_empty() {
            return None;
        }
        if let Some(foot) = self.blocks.iter().find_map(|block| match &block.content {
            Content::Foot { text } => Some(text),
            _ => None,
        }) {
            y = lines(&mut body, foot, "caption", (EDGE, y - 12.0), (LINE, 6.3));
        }
        let height = y + EDGE;
        Some(format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chart\" width=\"{WIDE:.0}\" height=\"{height:.0}\" \
             viewBox=\"0 0 {WIDE:.0} {height:.0}\" role=\"img\" aria-label=\"{}\">\n<style>\n{}</style>\n\
             <rect class=\"paper\" width=\"{WIDE:.0}\" height=\"{height:.0}\"/>\n{body}</svg>\n",
            escaped(&names.join(". ")),
            on_paper(STYLE)
        ))
    }
}

/// A style with the paper's colours put in.
fn on_paper(style: &str) -> String {
    PAPER
        .iter()
        .fold(style.to_owned(), |style, (name, colour)| {
            style.replace(&format!("var({name})"), colour)
        })
}

/// The style of charts in colours of a sheet, on white.
pub(in crate::report) fn on_white_paper() -> String {
    on_paper(&STYLE.replace("var(--ground)", "#ffffff"))
}

/// Text broken into lines that fit; the place below the last.
fn lines(
    out: &mut String,
    text: &str,
    class: &str,
    (x, mut y): (f64, f64),
    (line, letter): (f64, f64),
) -> f64 {
    for row in wrapped(text, letters(WIDE - 2.0 * x, letter)) {
        y += line;
        add!(
            out,
            "<text class=\"{class}\" x=\"{x:.0}\" y=\"{:.1}\">{}</text>\n",
            y - 4.0,
            escaped(&row)
        );
    }
    y
}

/// How many letters go into a width.
fn letters(width: f64, letter: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a drawing is at most thousands of units wide"
    )]
    let count = (width / letter).clamp(4.0, 1000.0) as usize;
    count
}

/// Width of a text in letters of 13 pixels.
fn width_of(text: &str) -> f64 {
    LETTER * text.chars().count() as f64
}

/// Text in lines of so many letters; a longer word stands alone.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut rows: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match rows.last_mut() {
            Some(row) if row.chars().count() + 1 + word.chars().count() <= most => {
                row.push(' ');
                row.push_str(word);
            }
            _ => rows.push(word.to_owned()),
        }
    }
    rows
}

/// Text for the drawing: nothing in it is markup, and nothing in it acts.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in shown(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}
