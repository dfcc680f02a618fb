//! The last line of an answer: which program made it, and from what.

use super::{Document, Level, Report, Units};
use serde::Serialize;

/// What an answer was made by and from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stamp {
    /// The program's version.
    pub version: &'static str,
    /// Short hash of the inputs as parsed, [`crate::ask::fingerprint`].
    pub inputs: String,
    /// Seed of the draws, where draws were made.
    pub seed: Option<u64>,
    /// Date, where the caller stated one: the same input gives the same bytes on any day.
    pub date: Option<String>,
}

impl Stamp {
    /// Of this program.
    pub fn new(inputs: String, seed: Option<u64>, date: Option<String>) -> Self {
        Self {
            version: env!("CARGO_PKG_VERSION"),
            inputs,
            seed,
            date,
        }
    }

    /// In one line.
    pub(super) fn line(&self) -> String {
        let mut text = format!("pullcast {} · inputs {}", self.version, self.inputs);
        if let Some(seed) = self.seed {
            add!(text, " · seed {seed}");
        }
        if let Some(date) = &self.date {
            add!(text, " · {date}");
        }
        text
    }
}

/// A report with its last line.
#[derive(Debug, Clone, Serialize)]
pub struct Stamped<R> {
    /// The report.
    #[serde(flatten)]
    pub report: R,
    /// What it was made by and from.
    pub made_by: Stamp,
}

impl<R: Report> Report for Stamped<R> {
    const SCHEMA: &'static str = R::SCHEMA;

    fn document(&self, units: Units) -> Document {
        let mut document = self.report.document(units);
        document.at(Level::Answer).foot(self.made_by.line());
        document
    }
}
