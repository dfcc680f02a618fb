//! What a kind of work asks of the file it is written in.
//!
//! Exists so that a part's reader stands beside its physics without knowing TOML, places or problems: `files` fills in the form from a
//! table, keeps the place of every key and words the problem of a key that is absent or wrong. Ask for every key first, use `?` only when
//! building: a `?` on the way would hide the mistakes behind it.

use super::row::Row;
use crate::belief::prior::{Prior, PriorError};
use crate::boost::{BoostControl, CompressorMap};
use crate::fuel::FuelKind;

/// What is wrong with keys that can each be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// One that is needed is absent.
    Missing,
    /// Two say the same thing, or contradict each other.
    Conflict,
}

/// A compressor map as it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenMap {
    /// The map.
    pub map: CompressorMap,
    /// Whether it is drawn from the one point a maker rates the machine at.
    pub rated: bool,
}

/// What a turbine's map says of one turbine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WrittenTurbine {
    /// Effective area, m².
    pub area_m2: Prior,
    /// Isentropic efficiency.
    pub efficiency: Prior,
}

/// A key that is there and wrong; its problem is noted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wrong;

/// One change of a plan as it was written. Whatever is absent or wrong is noted by the form; `None` says only that there is no value.
pub trait Form {
    /// Whether a key is there. It counts as known from then on.
    fn has(&mut self, key: &str) -> bool;
    /// A number in the model's unit, within its row's range, with the doubt of a bare one.
    fn read_number(&mut self, row: &Row, required: bool) -> Option<Prior>;
    /// A number that the model takes as it stands.
    fn read_plain(&mut self, row: &Row, required: bool) -> Option<f64>;
    /// A whole number within limits.
    fn read_count(&mut self, key: &str, limits: (i64, i64), required: bool) -> Option<u32>;
    /// `true` or `false`.
    fn read_switch(&mut self, key: &str) -> Option<bool>;
    /// Place of one of the words in their list.
    fn read_word(&mut self, key: &str, words: &[&str], required: bool) -> Option<usize>;
    /// A flow of petrol by volume or by mass, m³/s, within the row's range.
    fn read_fuel_flow(&mut self, row: &Row) -> Option<Prior>;
    /// What is in the tank, before its octane.
    fn read_fuel(&mut self, key: &str) -> Option<FuelKind>;
    /// The map of a compressor, in one of its three ways.
    fn read_compressor_map(&mut self) -> Option<WrittenMap>;
    /// The map of a turbine, if there is one.
    fn read_turbine_map(&mut self) -> Result<Option<WrittenTurbine>, Wrong>;
    /// The boost asked for, in one of its three ways.
    fn read_boost(&mut self) -> Option<BoostControl>;
    /// A belief that follows from what is written, or the problem that it cannot be one, at a key.
    fn accepted(&mut self, key: &str, made: Result<Prior, PriorError>) -> Option<Prior>;
    /// A form within this one, if it is there.
    fn within(&mut self, key: &str, reader: &mut dyn FnMut(&mut dyn Form));
    /// Notes what is wrong, at a key or at the form if that is absent.
    fn error(&mut self, key: &str, fault: Fault, message: &str, expected: &str);
}

impl dyn Form + '_ {
    /// A number; where it is left out, what its row says.
    pub fn number(&mut self, row: &Row) -> Option<Prior> {
        use super::row::LeftOut::{AsOfCar, MustBeGiven, Usual};
        match row.left_out {
            MustBeGiven => self.required(row),
            Usual(_) | AsOfCar => self.number_or(row, row.usual()),
            _ => self.optional(row),
        }
    }

    /// A number; `usual` where it is left out.
    pub fn number_or(&mut self, row: &Row, usual: Option<Prior>) -> Option<Prior> {
        let read = self.optional(row);
        if self.has(row.key) { read } else { usual }
    }

    /// A number that must be there.
    pub fn required(&mut self, row: &Row) -> Option<Prior> {
        self.read_number(row, true)
    }

    /// A number that may be left out.
    pub fn optional(&mut self, row: &Row) -> Option<Prior> {
        self.read_number(row, false)
    }

    /// A number taken as it stands, that may be left out.
    pub fn plain(&mut self, row: &Row) -> Option<f64> {
        self.read_plain(row, false)
    }

    /// A number taken as it stands, that must be there.
    pub fn required_plain(&mut self, row: &Row) -> Option<f64> {
        self.read_plain(row, true)
    }

    /// One of a list of words.
    pub fn word<T: Clone>(
        &mut self,
        row: &Row,
        choices: &[(&str, T)],
        required: bool,
    ) -> Option<T> {
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let place = self.read_word(row.key, &words, required)?;
        choices.get(place).map(|(_, choice)| choice.clone())
    }

    /// A whole number that may be left out.
    pub fn count(&mut self, row: &Row) -> Option<u32> {
        self.read_count(row.key, row.counts(), false)
    }

    /// A whole number that must be there.
    pub fn required_count(&mut self, row: &Row) -> Option<u32> {
        self.read_count(row.key, row.counts(), true)
    }

    /// Whether any of these is there; all of them count as known.
    pub fn has_any(&mut self, rows: &[Row]) -> bool {
        rows.iter().filter(|row| self.has(row.key)).count() > 0
    }

    /// Of several keys at least one must be there, and each that is there must have been read.
    pub fn some(&mut self, what: &str, read: &[(&Row, bool)]) -> Option<()> {
        let keys: Vec<&str> = read.iter().map(|(row, _)| row.key).collect();
        if keys.iter().filter(|key| self.has(key)).count() == 0 {
            let first = keys.first().copied().unwrap_or_default();
            let message = format!("this change of the {what} changes nothing");
            let expected = format!("one or more of {}", keys.join(", "));
            self.error(first, Fault::Missing, &message, &expected);
            return None;
        }
        read.iter()
            .all(|(row, read)| *read || !self.has(row.key))
            .then_some(())
    }
}
