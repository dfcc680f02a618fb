//! What a reader asks of a table: its keys, and of each what may stand there.
//!
//! A reader that is run over a text by [`TomlFile::asked`] leaves the list behind, whatever the text lacks. The schema of a file kind is
//! made of it, so it cannot say anything that its reader does not.

use std::ops::RangeInclusive;

use super::{Table, TomlFile};
use crate::files::Problems;
use crate::units::Dimension;

/// One reading of a table, by a reader that may ask for other keys when others are written.
pub type Sample = Vec<Asked>;

/// A key that was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The key.
    pub key: String,
    /// Whether its absence is a mistake.
    pub required: bool,
    /// What may stand there.
    pub what: What,
}

/// What may stand under a key.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// Nobody asked for more than whether it is there.
    Presence,
    /// A number of one of these dimensions, with or without doubt, its centre within limits (SI).
    Quantity {
        /// What it may measure.
        dimensions: Vec<Dimension>,
        /// Smallest and largest centre.
        limits_si: Option<(f64, f64)>,
        /// Whether it is a list of them.
        list: bool,
    },
    /// A text.
    Text,
    /// A list of texts.
    Texts,
    /// One of these words, and the one that was written.
    Choice {
        /// All of them.
        words: Vec<String>,
        /// The one taken in this reading.
        taken: Option<String>,
    },
    /// A whole number.
    Whole(RangeInclusive<i64>),
    /// True or false.
    Switch,
    /// A table, by each of its readings.
    Table(Vec<Sample>),
    /// A list of tables, by each reading of one of them.
    Tables(Vec<Sample>),
}

impl TomlFile {
    /// What a reader asks of this text. Tables that are not there are read as if they were empty; what the reader makes of them, and what it
    /// finds wrong, is dropped.
    pub fn asked<T>(
        text: &str,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Result<Sample, Problems> {
        let file = Self::parse("", text)?;
        let (root, _) = toml::de::DeTable::parse_recoverable(file.excerpt.text());
        let mut table = Table::new(root.get_ref(), 0..0, String::new(), &file.excerpt);
        table.asked = Some(Vec::new());
        reader(&mut table);
        Ok(table.asked.unwrap_or_default())
    }
}

impl Table<'_> {
    /// Notes what may stand under a key, where that is asked.
    pub(super) fn note(&mut self, key: &str, what: impl FnOnce() -> What) {
        let Some(asked) = &mut self.asked else {
            return;
        };
        match asked.iter_mut().find(|asked| asked.key == key) {
            None => asked.push(Asked {
                key: key.to_owned(),
                required: false,
                what: what(),
            }),
            Some(known) if known.what == What::Presence => known.what = what(),
            Some(known) => {
                if let (What::Table(known), What::Table(more)) = (&mut known.what, what()) {
                    known.extend(more);
                }
            }
        }
    }

    /// Notes that a key must be there.
    pub(super) fn note_required(&mut self, key: &str) {
        let asked = self.asked.iter_mut().flatten();
        for asked in asked.filter(|asked| asked.key == key) {
            asked.required = true;
        }
    }

    /// Notes the limits of a number.
    pub(super) fn note_limits(&mut self, key: &str, limits_si: &RangeInclusive<f64>) {
        let asked = self.asked.iter_mut().flatten();
        for asked in asked.filter(|asked| asked.key == key) {
            if let What::Quantity {
                limits_si: known, ..
            } = &mut asked.what
            {
                *known = Some((*limits_si.start(), *limits_si.end()));
            }
        }
    }

    /// Notes the word that was taken.
    pub(super) fn note_word(&mut self, key: &str, word: &str) {
        let asked = self.asked.iter_mut().flatten();
        for asked in asked.filter(|asked| asked.key == key) {
            if let What::Choice { taken, .. } = &mut asked.what {
                *taken = Some(word.to_owned());
            }
        }
    }

    /// Reads a table that is not there, where it is asked what its reader would look for.
    pub(super) fn note_absent<T>(
        &mut self,
        path: String,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Option<Sample> {
        self.asked.as_ref()?;
        let nothing = toml::de::DeTable::new();
        let mut table = Table::new(&nothing, self.header.clone(), path, self.excerpt);
        table.asked = Some(Vec::new());
        reader(&mut table);
        table.asked
    }
}
