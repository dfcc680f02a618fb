//! Hours of a weather station, as a table with one row each.
//!
//! ```text
//! # elevation: 900 m
//! # utc offset: 1 h
//! time, temperature (°C), dew point (°C), station pressure (hPa)
//! 2025-01-01T00:00, -1.2, -3.4, 908.1
//! ```
//!
//! Which pressure is meant is declared by its header, never guessed; what it says must fit the elevation. A row that cannot be true is left out and
//! counted, never repaired: hours are weather only whole.

mod clean;
mod header;
mod judge;
mod read;
#[cfg(test)]
mod tests;
mod time;

pub use clean::{Cleaning, LeftOut, Reason};

use super::diagnostic::{Code, Problems};
use super::encoding::{RECORDING_LIMIT_BYTES, read_bytes};
use crate::ask::spread::Hour;
use serde::Serialize;
use std::path::Path;

/// A pressure that does not say which, or that does not fit the elevation.
pub const PRESSURE_KIND: Code = Code::new("station_pressure_kind");
/// A time column that could be read two ways.
pub const TIME_AMBIGUOUS: Code = Code::new("time_ambiguous");
/// A station whose pressure says another elevation than is stated.
pub const ELEVATION_DOUBTFUL: Code = Code::new("elevation_doubtful");
/// A column that never changes.
pub const COLUMN_CONSTANT: Code = Code::new("column_constant");
/// Hours of business counted by a clock that is not the shop's.
pub const TIME_UTC: Code = Code::new("time_utc");
/// Rows left out, or hours that are not there.
pub const ROWS_LEFT_OUT: Code = Code::new("rows_left_out");

/// Which pressure a station reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureKind {
    /// At the station.
    Station,
    /// Reduced to sea level with the air's temperature.
    SeaLevel,
    /// Reduced to sea level with the standard atmosphere.
    Altimeter,
}

impl PressureKind {
    /// All.
    pub const ALL: [Self; 3] = [Self::Station, Self::SeaLevel, Self::Altimeter];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Station => "pressure at the station",
            Self::SeaLevel => "pressure reduced to sea level with the air's temperature",
            Self::Altimeter => "altimeter setting",
        }
    }
}

/// Answers to what a file may leave open; they outrank its own lines.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Options {
    /// Elevation of the station, m.
    pub elevation_m: Option<f64>,
    /// Local time less UTC, minutes.
    pub utc_offset_min: Option<i64>,
    /// Which pressure a column means that does not say.
    pub pressure: Option<PressureKind>,
}

/// A station file read.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Its hours, in order.
    pub hours: Vec<Hour>,
    /// What was found on the way.
    pub cleaning: Cleaning,
}

/// Reads a station file from disk.
pub fn open(path: &Path, options: &Options) -> Result<(Station, Problems), Problems> {
    let bytes = read_bytes(path, RECORDING_LIMIT_BYTES)?;
    parse(&path.display().to_string(), &bytes, options)
}

/// Reads a station file whose bytes are here.
pub fn parse(name: &str, bytes: &[u8], options: &Options) -> Result<(Station, Problems), Problems> {
    read::read(name, bytes, options)
}
