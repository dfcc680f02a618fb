//! A document as text: what fits a counter by default, everything on demand, as wide as the terminal.
//!
//! Without the details only the answer is drawn, and the last line says how to see the rest. Colour adds weight and nothing else: the same
//! characters stand in the same places without it. What a file holds is made harmless here, before any escape of our own is added.

use super::document::{Block, Content, Document, Level};
use super::strokes::power_chart;
use super::table::{bullet, paragraph};
use crate::files::shown::shown;

/// How a document is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct View {
    /// Whether the details are shown.
    pub details: bool,
    /// Columns of the terminal; fewer than [`View::LEAST_WIDTH`] count as so many.
    pub width: usize,
    /// Whether lines are weighted by escape sequences.
    pub colour: bool,
}

impl View {
    /// Columns where nobody says how many there are.
    pub const WIDTH: usize = 80;
    /// Fewest columns that are drawn for.
    pub const LEAST_WIDTH: usize = 60;
    /// Most lines of an answer without its details, at [`View::WIDTH`] columns.
    pub const ANSWER_LINES: usize = 25;
    /// Everything, without colour.
    pub const FULL: Self = Self {
        details: true,
        width: Self::WIDTH,
        colour: false,
    };
    /// The answer alone, without colour.
    pub const ANSWER: Self = Self {
        details: false,
        ..Self::FULL
    };

    fn shows(self, block: &Block) -> bool {
        match block.level {
            Level::Answer => true,
            Level::Detail => self.details,
            Level::Brief => !self.details,
        }
    }
}

/// Widest running text: longer lines are hard to follow by eye.
const MOST_TEXT: usize = 100;

const BOLD: &str = "\u{1b}[1m";
const DIM: &str = "\u{1b}[2m";
const PLAIN: &str = "\u{1b}[0m";

impl Document {
    /// Everything as plain text.
    pub fn text(&self) -> String {
        self.drawn(View::FULL)
    }

    /// As text for a terminal.
    pub fn drawn(&self, view: View) -> String {
        let width = view.width.max(View::LEAST_WIDTH);
        let hides = |block: &Block| block.level == Level::Detail && !view.details;
        let mut more = self.blocks.iter().any(hides);
        let mut out = String::new();
        let mut air = false;
        for block in self.blocks.iter().filter(|block| view.shows(block)) {
            if block.content == Content::Space {
                air = !out.is_empty();
                continue;
            }
            let text = match &block.content {
                Content::Foot { text } if std::mem::take(&mut more) => {
                    paragraph("", &format!("{text} · {MORE}"), 0, width)
                }
                content => content.text(width),
            };
            if std::mem::take(&mut air) {
                out.push('\n');
            }
            let first = out.is_empty();
            let text = shown(&text);
            match style(block, first).filter(|_| view.colour) {
                Some(style) => weighted(&mut out, &text, style, first),
                None => out.push_str(&text),
            }
        }
        if more {
            add!(out, "\n{MORE}\n");
        }
        out
    }
}

/// How to see what is left out.
const MORE: &str = "--details for more";

/// Bold is what is read first, dim what is read last.
fn style(block: &Block, first: bool) -> Option<&'static str> {
    match (&block.content, block.level) {
        (Content::Verbatim { .. }, _) => None,
        (Content::Title { .. } | Content::Section { .. }, _) => Some(BOLD),
        (Content::Foot { .. }, _) | (_, Level::Detail) => Some(DIM),
        _ => first.then_some(BOLD),
    }
}

/// Lines in a style; of the first block only the first line.
fn weighted(out: &mut String, text: &str, style: &str, only_first: bool) {
    for (n, line) in text.lines().enumerate() {
        if line.is_empty() || (only_first && n > 0) {
            add!(out, "{line}\n");
        } else {
            add!(out, "{style}{line}{PLAIN}\n");
        }
    }
}

impl Content {
    fn text(&self, width: usize) -> String {
        let text_width = width.min(MOST_TEXT);
        match self {
            Self::Title { text } | Self::Section { text } | Self::Foot { text } => {
                paragraph("", text, 0, text_width)
            }
            Self::Line { lead, text } => line(lead, text, width),
            Self::Verbatim { text } => format!("{text}\n"),
            Self::Paragraph { lead, text, indent } => paragraph(lead, text, *indent, text_width),
            Self::List { items } => items.iter().map(|item| bullet(item, text_width)).collect(),
            Self::Table { table } => table.render(width),
            Self::Chart { .. } => String::new(),
            Self::Strokes { rows, units } => power_chart(rows, *units, width),
            Self::Space => "\n".to_owned(),
        }
    }
}

/// One line if it fits; otherwise it goes on below its own first word, or below the one behind the label.
fn line(lead: &str, text: &str, width: usize) -> String {
    let whole = format!("{lead}{text}");
    if whole.chars().count() <= width {
        return whole + "\n";
    }
    let words = text.trim_start();
    let lead = format!("{lead}{}", &text[..text.len() - words.len()]);
    // Columns inside a line are kept as far as they go: behind the last gap the words may break.
    let (columns, words) = match words.rfind("  ") {
        Some(gap) => words.split_at(gap + 2),
        None => ("", words),
    };
    let lead = format!("{lead}{columns}");
    let indent = lead.chars().count().min(width / 2);
    paragraph(&lead, words, indent, width)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn document() -> Document {
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .paragraph("Promise 196 kW.")
            .space();
        document
            .at(Level::Brief)
            .section("Before the pull")
            .list(["straps"]);
        document
            .at(Level::Detail)
            .space()
            .section("Before the pull, in full")
            .list(["straps, anchors and chocks"]);
        document.at(Level::Answer).space().foot("pullcast 1");
        document
    }

    #[test]
    fn the_answer_stands_alone_until_the_details_are_asked_for() {
        assert_eq!(
            document().drawn(View::ANSWER),
            "Promise 196 kW.\n\nBefore the pull\n  - straps\n\npullcast 1 · --details for more\n"
        );
        assert_eq!(
            document().text(),
            "Promise 196 kW.\n\nBefore the pull, in full\n  - straps, anchors and chocks\n\npullcast 1\n"
        );
    }

    #[test]
    fn colour_adds_weight_and_nothing_else() {
        for details in [false, true] {
            let plain = View {
                details,
                ..View::FULL
            };
            let coloured = document().drawn(View {
                colour: true,
                ..plain
            });
            assert!(
                coloured.starts_with("\u{1b}[1mPromise 196 kW.\u{1b}[0m\n"),
                "{coloured:?}"
            );
            assert!(coloured.contains(DIM), "{coloured:?}");
            let mut stripped = coloured;
            for escape in [BOLD, DIM, PLAIN] {
                stripped = stripped.replace(escape, "");
            }
            assert_eq!(stripped, document().drawn(plain));
        }
    }

    #[test]
    fn an_escape_of_a_file_is_never_one_of_ours() {
        let mut document = Document::new();
        document.at(Level::Answer).line("car \u{1b}[31mred");
        let view = View {
            colour: true,
            ..View::ANSWER
        };
        assert_eq!(
            document.drawn(view),
            "\u{1b}[1mcar [U+001B][31mred\u{1b}[0m\n"
        );
    }

    #[test]
    fn a_line_that_is_too_wide_goes_on_below_its_first_word() {
        let text = "98.6 kPa absolute, 14 °C, 60 % humidity, from a visit with a rather long name";
        let mut document = Document::new();
        document.at(Level::Answer).fact("Air:        ", text);
        let drawn = document.drawn(View {
            width: 20,
            ..View::ANSWER
        });
        assert!(
            drawn.lines().all(|line| line.chars().count() <= 60),
            "{drawn}"
        );
        assert!(
            drawn
                .lines()
                .skip(1)
                .all(|line| line.starts_with("            ")),
            "{drawn}"
        );
        let words = |text: &str| {
            text.split_whitespace()
                .map(str::to_owned)
                .collect::<Vec<_>>()
        };
        assert_eq!(words(&drawn)[1..], words(text));
    }
}
