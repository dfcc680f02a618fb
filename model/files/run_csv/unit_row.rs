//! The row of units that some recordings have below their header.

use csv::ByteRecord;

use crate::units::{Dimension, LookupError, find};

pub(super) fn texts(record: &ByteRecord) -> Vec<String> {
    record
        .iter()
        .map(|field| String::from_utf8_lossy(field.trim_ascii()).into_owned())
        .collect()
}

pub(super) fn without_brackets(cell: &str) -> &str {
    cell.trim()
        .trim_start_matches(['(', '['])
        .trim_end_matches([')', ']'])
}

/// The unit of a plain number, as unit rows write it.
const PLAIN_NUMBER: &str = "1";

/// Whether a row below the header names units: no numbers but `1`, the unit of a plain number, and at least one known unit
/// that is none.
pub(super) fn holds_units(row: &ByteRecord) -> bool {
    let cells = texts(row);
    // Any dimension serves: a unit of another one is known just as well.
    let known = |cell: &String| {
        !cell.is_empty()
            && cell != PLAIN_NUMBER
            && matches!(
                find(without_brackets(cell), Dimension::Length),
                Ok(_) | Err(LookupError::WrongDimension { .. })
            )
    };
    cells.iter().all(|cell| {
        cell == PLAIN_NUMBER
            || (!cell.starts_with(|first: char| first.is_ascii_digit() && !cell.contains('/'))
                && cell.parse::<f64>().is_err())
    }) && cells.iter().any(known)
}
