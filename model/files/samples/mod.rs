//! Every sample of a spread as a row of a table: CSV, or Parquet where the program was built with it.
//!
//! A year of hours for thousands of cars makes tens of millions of rows, so they go to disk as they come and none is kept. The file takes its place when the
//! last row is written, or not at all. It refuses to say anything that is not of one sample: figures over many are the answer's.

#[cfg(feature = "parquet")]
mod parquet;

use super::diagnostic::Problems;
use super::write::{Growing, Overwrite};
use crate::ask::spread::{Hour, Sample};
use std::fmt::Write as _;
use std::io::{self, Write};
use std::path::Path;

/// A sample with the hours of its readings before and after.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    /// The sample.
    pub sample: &'a Sample,
    /// Hour of the reading before.
    pub before: &'a Hour,
    /// Hour of the reading after.
    pub after: &'a Hour,
}

/// What a column holds.
#[derive(Clone, Copy)]
enum Cell {
    Count(fn(&Row<'_>) -> i64),
    /// A figure in SI, and the digits behind its point in text.
    Figure(fn(&Row<'_>) -> f64, usize),
}
use Cell::{Count, Figure};

/// The columns in order: names carry their units.
const COLUMNS: [(&str, Cell); 17] = [
    (
        "draw",
        Count(|row| i64::try_from(row.sample.draw).unwrap_or(i64::MAX)),
    ),
    ("month", Count(|row| row.before.month.into())),
    ("hour", Count(|row| row.before.hour.into())),
    (
        "station_pressure_pa",
        Figure(|row| row.before.air.station().pa(), 1),
    ),
    (
        "temperature_k",
        Figure(|row| row.before.air.temperature_k(), 2),
    ),
    (
        "humidity_ratio",
        Figure(|row| row.before.air.humidity_ratio(), 6),
    ),
    ("power_before_w", Figure(|row| row.sample.before.power_w, 1)),
    (
        "electric_power_before_w",
        Figure(|row| row.sample.before.electric_w, 1),
    ),
    (
        "torque_before_nm",
        Figure(|row| row.sample.before.torque_nm, 3),
    ),
    ("month_after", Count(|row| row.after.month.into())),
    ("hour_after", Count(|row| row.after.hour.into())),
    (
        "station_pressure_after_pa",
        Figure(|row| row.after.air.station().pa(), 1),
    ),
    (
        "temperature_after_k",
        Figure(|row| row.after.air.temperature_k(), 2),
    ),
    (
        "humidity_ratio_after",
        Figure(|row| row.after.air.humidity_ratio(), 6),
    ),
    ("power_after_w", Figure(|row| row.sample.after.power_w, 1)),
    (
        "electric_power_after_w",
        Figure(|row| row.sample.after.electric_w, 1),
    ),
    (
        "torque_after_nm",
        Figure(|row| row.sample.after.torque_nm, 3),
    ),
];

/// How the table is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Text, a comma between cells.
    Csv,
    /// Apache Parquet, format version 1: a column each, figures unrounded. Where the program was built with the feature `parquet`.
    Parquet,
}

impl Form {
    /// Whether this build can write it.
    pub const fn is_built(self) -> bool {
        match self {
            Self::Csv => true,
            Self::Parquet => cfg!(feature = "parquet"),
        }
    }
}

/// A table that grows row by row.
pub struct Samples(Table);

enum Table {
    Csv(Growing, String),
    #[cfg(feature = "parquet")]
    Parquet(parquet::Table),
}

impl Samples {
    /// An empty one, to take the place of `path`.
    ///
    /// # Panics
    ///
    /// Where the form is none that [was built](Form::is_built).
    pub fn new(path: &Path, form: Form, overwrite: Overwrite) -> Result<Self, Problems> {
        let file = Growing::new(path, overwrite)?;
        let table = match form {
            Form::Csv => {
                let names = COLUMNS.map(|(name, _)| name).join(",");
                Table::Csv(file, names + "\n")
            }
            #[cfg(feature = "parquet")]
            Form::Parquet => Table::Parquet(parquet::Table::new(file)?),
            #[cfg(not(feature = "parquet"))]
            Form::Parquet => unreachable!("asked for a form that was not built"),
        };
        Ok(Self(table))
    }

    /// One more row.
    pub fn push(&mut self, row: &Row<'_>) -> io::Result<()> {
        match &mut self.0 {
            Table::Csv(file, line) => {
                for (place, (_, cell)) in COLUMNS.iter().enumerate() {
                    let comma = if place == 0 { "" } else { "," };
                    let written = match cell {
                        Count(of) => write!(line, "{comma}{}", of(row)),
                        Figure(of, digits) => write!(line, "{comma}{:.digits$}", of(row)),
                    };
                    written.map_err(io::Error::other)?;
                }
                line.push('\n');
                file.write_all(line.as_bytes())?;
                line.clear();
                Ok(())
            }
            #[cfg(feature = "parquet")]
            Table::Parquet(table) => table.push(row),
        }
    }

    /// Puts the table in its place.
    pub fn finish(self) -> Result<(), Problems> {
        match self.0 {
            Table::Csv(mut file, line) => {
                // Without a row the header is still to be written.
                file.write_all(line.as_bytes())
                    .map_err(|error| file.problem(&error))?;
                file.finish()
            }
            #[cfg(feature = "parquet")]
            Table::Parquet(table) => table.finish(),
        }
    }
}
