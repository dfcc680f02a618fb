//! A file to fill in, as it was written or printed.

use super::{Document, Level, Report, Units};
use serde::Serialize;

/// What `new` made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Starter {
    /// Kind of file.
    pub kind: &'static str,
    /// Where it was written; none if the text itself is the answer.
    pub path: Option<String>,
    /// Where its schema was written.
    pub schema_path: Option<String>,
    /// The file's text.
    pub text: String,
}

impl Report for Starter {
    const SCHEMA: &'static str = "pullcast/new/1";

    fn document(&self, _: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        match &self.path {
            None => self.text.lines().for_each(|line| {
                part.verbatim(line);
            }),
            Some(path) => {
                part.line(format!(
                    "Wrote a {} file to fill in to {path}; `new --all` writes one that shows every key.",
                    self.kind
                ));
                if let Some(beside) = &self.schema_path {
                    part.line(format!(
                        "Beside it, {beside} lets an editor check and complete it."
                    ));
                }
            }
        }
        document
    }
}
