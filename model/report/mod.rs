//! From results to what a person reads and what a program parses.
//!
//! Each verb has one report: a plain structure of SI numbers and words, made once from the result. The text is drawn from
//! that structure and the JSON is that structure, so the two cannot disagree. Nothing here prints, reads a file or
//! computes physics; a number that needs another unit gets it in [`number`] and nowhere else.

/// Adds formatted text to a `String`, which cannot fail.
macro_rules! add {
    ($out:expr, $($text:tt)*) => {{
        use std::fmt::Write as _;
        let _ = write!($out, $($text)*);
    }};
}

pub mod basis;
pub mod beside;
pub mod book;
mod by_cycle;
pub mod cautions;
pub mod chart;
pub mod compare;
pub mod config;
mod correct;
pub mod diagnose;
pub mod document;
mod drift;
pub mod fit;
pub mod guard;
pub mod html;
mod inertia;
mod interactions;
mod kind;
pub mod limits;
pub mod number;
mod offset;
mod own_jobs;
pub mod pdf;
pub mod predict;
mod promise;
pub mod quote;
pub mod reach;
mod read;
pub mod reduce;
mod rules;
mod sequence;
pub mod sheet;
pub mod shelf;
mod site;
pub mod spread;
pub mod stamp;
pub mod starter;
pub mod strokes;
pub mod table;
pub mod terminal;
pub mod trace;
mod words;

pub use document::{Document, Level};
pub use number::{Span, Units, What};
pub use stamp::{Stamp, Stamped};
pub use terminal::View;

use serde::Serialize;

/// A finished report.
pub trait Report: Serialize {
    /// Name and version of the machine-readable form. The version goes up when a field changes its meaning or goes away,
    /// not when one is added.
    const SCHEMA: &'static str;

    /// What a person reads.
    fn document(&self, units: Units) -> Document;

    /// The same as plain text, with all its details.
    fn text(&self, units: Units) -> String {
        self.document(units).text()
    }

    /// The same as a terminal shows it.
    fn drawn(&self, units: Units, view: View) -> String {
        self.document(units).drawn(view)
    }

    /// For a program: one JSON document with the schema first, every number in SI (engine speed in rpm, angles in deg), and the words
    /// of all ids in it last.
    ///
    /// Fails only if the report holds something JSON cannot say, which no report of this folder does.
    fn json(&self) -> Result<String, serde_json::Error>
    where
        Self: Sized,
    {
        let mut text = serde_json::to_string_pretty(&self.tree()?)?;
        text.push('\n');
        Ok(crate::files::shown::escaped_json(&text).into_owned())
    }

    /// The same before it is text.
    fn tree(&self) -> Result<serde_json::Value, serde_json::Error>
    where
        Self: Sized,
    {
        let answer = serde_json::to_value(self)?;
        let words = words::glossary(&answer);
        serde_json::to_value(Tagged {
            schema: Self::SCHEMA,
            answer,
            words,
        })
    }
}

#[derive(Serialize)]
struct Tagged {
    schema: &'static str,
    #[serde(flatten)]
    answer: serde_json::Value,
    #[serde(skip_serializing_if = "serde_json::Map::is_empty")]
    words: serde_json::Map<String, serde_json::Value>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Serialize)]
    struct Small {
        power_w: f64,
    }

    impl Report for Small {
        const SCHEMA: &'static str = "pullcast/small/1";
        fn document(&self, units: Units) -> Document {
            let mut document = Document::new();
            document
                .at(Level::Answer)
                .line(units.show(What::Power, self.power_w));
            document
        }
    }

    #[test]
    fn the_schema_comes_first_and_numbers_stay_si() {
        let json = Small { power_w: 375_000.0 }.json().expect("plain data");
        assert!(
            json.starts_with("{\n  \"schema\": \"pullcast/small/1\""),
            "{json}"
        );
        let value: serde_json::Value = serde_json::from_str(&json).expect("JSON");
        assert_eq!(value["power_w"], 375_000.0);
    }
}
