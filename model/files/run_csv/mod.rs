//! Reader for recordings of pulls: text tables with a unit for every column.
//!
//! Loggers differ in everything but the idea, so the reader takes any separator, decimal sign and encoding that can be
//! told apart for certain, and turns every known column into SI. What it cannot tell apart it asks back, naming the column
//! and the possible answers. It refuses to repair a recording: a gap, a stray text or time running backwards is an error
//! with its line, because a curve drawn through it would be invented.
//!
//! ```text
//! # comments and blank lines are skipped
//! time_s; engine_rpm; wheel_power_kw; charge temp (°C)
//! 0,00;   2210;       41,2;           24
//! ```
//!
//! Several pulls in one file are told apart by a `pull` (or `run`) column, by a repeated header row, or by time starting
//! again.

mod channel;
pub(super) mod dialect;
mod header;
mod pulls;
mod read;
mod rows;
#[cfg(test)]
mod tests;
mod unit_row;
pub(super) mod words;

use std::ops::Range;
use std::path::Path;

pub use channel::Channel;
pub use dialect::DecimalMark;
pub use pulls::{Fall, falls};

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
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunOptions {
    /// How a manifold pressure is meant whose header does not say.
    pub manifold_pressure: Option<PressureReference>,
    /// Units for headers that have none: (header as written, unit).
    pub units: Vec<(String, String)>,
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
    lines: Lines,
}

impl RunFile {
    /// Reads a recording from disk.
    pub fn open(path: &Path, options: &RunOptions) -> Result<Self, Problems> {
        let bytes = read_bytes(path, RECORDING_LIMIT_BYTES)?;
        Self::parse(&path.display().to_string(), &bytes, options)
    }

    /// Reads bytes that are already here; `name` is what problems call them.
    pub fn parse(name: &str, bytes: &[u8], options: &RunOptions) -> Result<Self, Problems> {
        read::read(name, bytes, options)
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
