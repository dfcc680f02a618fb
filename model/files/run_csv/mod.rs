//! Reader for recordings of pulls: text tables with a unit for every column.
//!
//! Loggers differ in everything but the idea, so the reader takes any separator, decimal sign, encoding and shape of table that can be
//! told apart for certain, names in many languages ([`Lexicon`]), and turns every known column into SI. What it cannot tell apart it asks back, once, naming
//! the column and the possible answers; a logger file keeps them. It refuses to repair a recording: a row without a reading is left out, many are an
//! error with the first line, because a curve drawn through it would be invented.
//!
//! ```text
//! # comments and blank lines are skipped
//! time_s; engine_rpm; wheel_power_kw; charge temp (°C)
//! 0,00;   2210;       41,2;           24
//! ```
//!
//! Several pulls in one file are told apart by a `pull` (or `run`) column, by a repeated header row, or by time starting
//! again.

mod account;
mod answers;
mod cell;
mod channel;
mod choose;
mod climbs;
pub(super) mod dialect;
mod factor;
mod fill;
mod foreign;
mod gaps;
mod header;
mod infer;
mod layout;
mod lexicon;
mod logger;
mod plausible;
mod pulls;
mod question;
mod read;
mod rows;
mod settle;
mod shapes;
mod sides;
#[cfg(test)]
mod tests;
mod unit_row;
pub(super) mod words;

use std::ops::Range;
use std::path::Path;

pub use account::{Account, ReadColumn, ReadPull};
pub use channel::Channel;
pub use dialect::DecimalMark;
pub use lexicon::Lexicon;
pub(in crate::files) use lexicon::names_drums;
pub(super) use logger::parted;
pub use logger::{Logger, beside, file_name as logger_file_name, remembered};
pub use pulls::{Fall, falls};
pub use shapes::Turned;

use super::diagnostic::Problems;
use super::encoding::{Encoding, RECORDING_LIMIT_BYTES, read_bytes};
use crate::units::Unit;

/// Against what a manifold pressure is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureReference {
    /// Against vacuum.
    Absolute,
    /// Against the surrounding air.
    Gauge,
}

/// Answers to what a file may leave open, and what a caller demands of it.
#[derive(Debug, Clone, PartialEq)]
pub struct RunOptions {
    /// How a manifold pressure is meant whose header does not say.
    pub manifold_pressure: Option<PressureReference>,
    /// Units for headers that have none: (header as written, unit).
    pub units: Vec<(String, String)>,
    /// Names that columns should have had: (header as written or `#3`, name). `skip` leaves a column out.
    pub columns: Vec<(String, String)>,
    /// Air over fuel that counts as lambda 1, for a mixture that does not say.
    pub stoichiometric: Option<f64>,
    /// The decimal sign, where commas could also group thousands.
    pub decimal: Option<DecimalMark>,
    /// Fewest rows that make a pull.
    pub minimum_rows: usize,
}

impl Default for RunOptions {
    /// Nothing answered; five rows, the fewest a smoothed derivative can be taken from.
    fn default() -> Self {
        Self {
            manifold_pressure: None,
            units: Vec::new(),
            columns: Vec::new(),
            stoichiometric: None,
            decimal: None,
            minimum_rows: 5,
        }
    }
}

/// One column in SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What it measures.
    pub channel: Channel,
    /// The header as written.
    pub header: String,
    /// The unit the file uses.
    pub unit: &'static Unit,
    /// What the file's numbers were taken times before that unit: 1000 under `RPM x1000`.
    pub scale: f64,
    /// All rows of all pulls, in the SI unit of the channel.
    pub values_si: Vec<f64>,
}

/// One pull's share of the rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pull {
    /// From the `pull` column, if there is one.
    pub label: Option<String>,
    /// Rows of every column.
    pub rows: Range<usize>,
}

/// A recording read whole.
#[derive(Debug, Clone)]
pub struct RunFile {
    /// The file as the user named it.
    pub name: String,
    /// How the bytes became text.
    pub encoding: Encoding,
    /// What separates fields.
    pub separator: char,
    /// What marks decimals; a point also where no number has decimals.
    pub decimal: DecimalMark,
    /// Known columns in the order of the file.
    pub columns: Vec<Column>,
    /// Headers that are not read.
    pub ignored: Vec<String>,
    /// At least one.
    pub pulls: Vec<Pull>,
    /// What a person should know about how the file was read.
    pub warnings: Problems,
    /// Heads with the units below them: the make-up by which files of one logger are known again.
    pub heads: Vec<String>,
    /// What the table was, where it had not one row per sample.
    pub turned: Option<Turned>,
    lines: Lines,
}

impl RunFile {
    /// Reads a recording from disk, with the answers of a logger file and the names of a `names.toml` beside it or in a folder above.
    pub fn open(path: &Path, options: &RunOptions) -> Result<Self, Problems> {
        let bytes = read_bytes(path, RECORDING_LIMIT_BYTES)?;
        let lexicon = logger::lexicon_for(path)?;
        let name = path.display().to_string();
        logger::with_answers(path, options, |options| {
            read::read(&name, &bytes, options, &lexicon)
        })
    }

    /// Reads bytes that are already here; `name` is what problems call them.
    pub fn parse(name: &str, bytes: &[u8], options: &RunOptions) -> Result<Self, Problems> {
        read::read(name, bytes, options, &Lexicon::default())
    }

    /// The column of a channel, all pulls.
    pub fn column(&self, channel: Channel) -> Option<&Column> {
        self.columns.iter().find(|column| column.channel == channel)
    }

    /// One pull's values of a channel, SI.
    pub fn values_si(&self, pull: &Pull, channel: Channel) -> Option<&[f64]> {
        self.column(channel)
            .and_then(|column| column.values_si.get(pull.rows.clone()))
    }

    /// Line of the file, from 1, a row was written on.
    pub fn line(&self, row: usize) -> usize {
        self.lines.of(row)
    }

    /// Number of rows, all pulls.
    pub fn row_count(&self) -> usize {
        self.pulls.last().map_or(0, |pull| pull.rows.end)
    }
}

/// Line numbers of rows, kept as the few places where they jump.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Lines {
    /// (first row, its line) of each stretch without gaps.
    stretches: Vec<(usize, usize)>,
}

impl Lines {
    fn record(&mut self, row: usize, line: usize) {
        if self.stretches.is_empty() || self.of(row) != line {
            self.stretches.push((row, line));
        }
    }

    fn of(&self, row: usize) -> usize {
        let after = self.stretches.partition_point(|&(first, _)| first <= row);
        let (first, line) = after
            .checked_sub(1)
            .and_then(|at| self.stretches.get(at))
            .copied()
            .unwrap_or((0, 0));
        line + (row - first.min(row))
    }
}
