//! What is wrong with a station's rows: each left out is counted under its reason, and what is wrong with a column is said.

use super::PressureKind;
use serde::Serialize;

/// Hours for which a reading may stand still before it is taken for stuck. Common practice, no source.
pub(super) const STUCK_H: i64 = 48;

/// Why a row is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// A reading is missing, or marked as such.
    Missing,
    /// The time cannot be read.
    Time,
    /// The hour stands there already.
    Repeated,
    /// Air that cannot be: a dew point or wet bulb above the air, a humidity above 100 %.
    Humidity,
    /// A temperature or pressure no workshop has.
    Range,
    /// A reading that has stood still for two days.
    Stuck,
}

impl Reason {
    /// All.
    pub const ALL: [Self; 6] = [
        Self::Missing,
        Self::Time,
        Self::Repeated,
        Self::Humidity,
        Self::Range,
        Self::Stuck,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Missing => "a reading is missing",
            Self::Time => "the time cannot be read",
            Self::Repeated => "the hour stands there twice",
            Self::Humidity => "impossible humidity",
            Self::Range => "temperature or pressure out of range",
            Self::Stuck => "a reading stuck for two days",
        }
    }
}

/// Rows left out for one reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// Why.
    pub reason: Reason,
    /// How many.
    pub rows: usize,
}

/// What was found on the way from rows to hours.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cleaning {
    /// Rows of the file.
    pub rows: usize,
    /// Hours kept.
    pub kept: usize,
    /// Rows left out, by reason.
    pub left_out: Vec<LeftOut>,
    /// Usual step from row to row, minutes.
    pub step_min: i64,
    /// Stretches in which rows are not there or are left out.
    pub gaps: usize,
    /// The longest of them, minutes.
    pub longest_gap_min: i64,
    /// Months of the year without any hour.
    pub empty_months: Vec<u8>,
    /// Columns that never change.
    pub constant: Vec<&'static str>,
    /// Which pressure was read.
    pub pressure: PressureKind,
    /// Elevation it was taken to the station with, or checked by, m.
    pub elevation_m: Option<f64>,
    /// Local time less UTC, minutes; none where stamps are local as written.
    pub utc_offset_min: Option<i64>,
    /// Columns that were not read.
    pub ignored: Vec<String>,
}

/// Rows of a column that stand still too long: those after the first of a stretch.
pub(super) fn stuck(values: &[f64], step_min: i64) -> Vec<usize> {
    let longest = usize::try_from(STUCK_H * 60 / step_min.max(1))
        .unwrap_or(usize::MAX)
        .max(4);
    let mut found = Vec::new();
    let mut from = 0;
    for row in 1..=values.len() {
        if row == values.len() || values[row] != values[from] {
            if row - from > longest {
                found.extend(from + 1..row);
            }
            from = row;
        }
    }
    found
}

/// The usual step, stretches longer than it, and the longest of them, minutes.
pub(super) fn gaps(minutes: &[i64]) -> (i64, usize, i64) {
    let mut steps: Vec<i64> = minutes.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_unstable();
    let usual = steps.get(steps.len() / 2).copied().unwrap_or(60).max(1);
    let long: Vec<i64> = steps
        .into_iter()
        .filter(|step| 2 * step > 3 * usual)
        .collect();
    (usual, long.len(), long.last().copied().unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stuck_reading_is_found_and_a_still_night_is_not() {
        let mut values: Vec<f64> = (0..200).map(f64::from).collect();
        values[20..30].fill(7.0);
        assert!(stuck(&values, 60).is_empty());
        values[50..110].fill(7.0);
        assert_eq!(stuck(&values, 60), (51..110).collect::<Vec<_>>());
    }

    #[test]
    fn gaps_are_counted_against_the_usual_step() {
        assert_eq!(gaps(&[0, 60, 120, 300, 360, 420, 600]), (60, 2, 180));
    }
}
