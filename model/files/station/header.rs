//! The header of a station file: which column is what, in which unit, and which pressure is meant.

use crate::files::run_csv::words::{spellings, split_bracket, words_of};
use crate::units::{Dimension, LookupError, Unit, find};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    /// Time stamp; by UTC where its name says so.
    Time {
        /// Whether its name says UTC.
        utc: bool,
    },
    /// A part of the calendar.
    Part(Part),
    /// A reading.
    Reading(Reading),
    /// A pressure whose name does not say which.
    SomePressure,
}

/// A part of the calendar in a column of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Year,
    Month,
    Day,
    Hour,
    Minute,
}

/// A reading of the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reading {
    Temperature,
    DewPoint,
    WetBulb,
    RelativeHumidity,
    Pressure(super::PressureKind),
}

impl Reading {
    pub(super) fn dimension(self) -> Dimension {
        match self {
            Self::Temperature | Self::DewPoint | Self::WetBulb => Dimension::Temperature,
            Self::RelativeHumidity => Dimension::Ratio,
            Self::Pressure(_) => Dimension::BarometricPressure,
        }
    }

    pub(super) fn words(self) -> &'static str {
        use super::PressureKind::{Altimeter, SeaLevel, Station};
        match self {
            Self::Temperature => "temperature",
            Self::DewPoint => "dew point",
            Self::WetBulb => "wet bulb",
            Self::RelativeHumidity => "relative humidity",
            Self::Pressure(Station) => "station pressure",
            Self::Pressure(SeaLevel) => "sea level pressure",
            Self::Pressure(Altimeter) => "altimeter setting",
        }
    }
}

use super::PressureKind::{Altimeter, SeaLevel, Station};

/// Names, as words in any order.
const NAMES: &[(&str, Column)] = &[
    ("time", Column::Time { utc: false }),
    ("timestamp", Column::Time { utc: false }),
    ("date time", Column::Time { utc: false }),
    ("datetime", Column::Time { utc: false }),
    ("local time", Column::Time { utc: false }),
    ("time utc", Column::Time { utc: true }),
    ("date time utc", Column::Time { utc: true }),
    ("datetime utc", Column::Time { utc: true }),
    ("year", Column::Part(Part::Year)),
    ("month", Column::Part(Part::Month)),
    ("day", Column::Part(Part::Day)),
    ("hour", Column::Part(Part::Hour)),
    ("minute", Column::Part(Part::Minute)),
    ("temperature", Column::Reading(Reading::Temperature)),
    ("temp", Column::Reading(Reading::Temperature)),
    ("t", Column::Reading(Reading::Temperature)),
    ("air temperature", Column::Reading(Reading::Temperature)),
    ("dry bulb", Column::Reading(Reading::Temperature)),
    (
        "dry bulb temperature",
        Column::Reading(Reading::Temperature),
    ),
    ("dew point", Column::Reading(Reading::DewPoint)),
    ("dewpoint", Column::Reading(Reading::DewPoint)),
    ("dew point temperature", Column::Reading(Reading::DewPoint)),
    ("td", Column::Reading(Reading::DewPoint)),
    ("wet bulb", Column::Reading(Reading::WetBulb)),
    ("wet bulb temperature", Column::Reading(Reading::WetBulb)),
    (
        "relative humidity",
        Column::Reading(Reading::RelativeHumidity),
    ),
    ("humidity", Column::Reading(Reading::RelativeHumidity)),
    ("rh", Column::Reading(Reading::RelativeHumidity)),
    (
        "station pressure",
        Column::Reading(Reading::Pressure(Station)),
    ),
    (
        "atmospheric station pressure",
        Column::Reading(Reading::Pressure(Station)),
    ),
    ("qfe", Column::Reading(Reading::Pressure(Station))),
    (
        "sea level pressure",
        Column::Reading(Reading::Pressure(SeaLevel)),
    ),
    (
        "mean sea level pressure",
        Column::Reading(Reading::Pressure(SeaLevel)),
    ),
    ("slp", Column::Reading(Reading::Pressure(SeaLevel))),
    ("mslp", Column::Reading(Reading::Pressure(SeaLevel))),
    ("altimeter", Column::Reading(Reading::Pressure(Altimeter))),
    (
        "altimeter setting",
        Column::Reading(Reading::Pressure(Altimeter)),
    ),
    (
        "altimeter pressure",
        Column::Reading(Reading::Pressure(Altimeter)),
    ),
    ("qnh", Column::Reading(Reading::Pressure(Altimeter))),
    ("pressure", Column::SomePressure),
    ("air pressure", Column::SomePressure),
    ("atmospheric pressure", Column::SomePressure),
    ("barometer", Column::SomePressure),
    ("p", Column::SomePressure),
];

fn named(words: &[&str]) -> Option<Column> {
    let sorted = |mut words: Vec<&str>| {
        words.sort_unstable();
        words.join(" ")
    };
    let wanted = sorted(words.to_vec());
    NAMES
        .iter()
        .find(|(name, _)| sorted(name.split(' ').collect()) == wanted)
        .map(|row| row.1)
}

/// A header cell understood: what it holds and, of a reading, its unit. A name nobody knows is none.
pub(super) fn understand(
    cell: &str,
    pressure: Option<super::PressureKind>,
) -> Option<(Column, Result<Option<&'static Unit>, LookupError>)> {
    let (name, bracketed) = split_bracket(cell);
    let words = words_of(name);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    for unit_words in 0..words.len().min(4) {
        let (name, suffix) = words.split_at(words.len() - unit_words);
        let Some(mut column) = named(name) else {
            continue;
        };
        if let (Column::SomePressure, Some(kind)) = (column, pressure) {
            column = Column::Reading(Reading::Pressure(kind));
        }
        let dimension = match column {
            Column::Reading(reading) => reading.dimension(),
            Column::SomePressure => Dimension::BarometricPressure,
            Column::Time { .. } | Column::Part(_) if suffix.is_empty() => {
                return Some((column, Ok(None)));
            }
            Column::Time { .. } | Column::Part(_) => continue,
        };
        let by_suffix = spellings(suffix)
            .iter()
            .find_map(|unit| unit_of(unit, dimension).ok());
        let unit = match (suffix.is_empty(), bracketed) {
            (false, _) if by_suffix.is_none() => continue,
            (false, _) => Ok(by_suffix),
            (true, Some(unit)) => unit_of(unit, dimension).map(Some),
            (true, None) => Ok(None),
        };
        return Some((column, unit));
    }
    None
}

fn unit_of(written: &str, dimension: Dimension) -> Result<&'static Unit, LookupError> {
    let written = match (written, dimension) {
        ("pct" | "percent", Dimension::Ratio) => "%",
        ("c", Dimension::Temperature) => "°C",
        ("f", Dimension::Temperature) => "°F",
        _ => written,
    };
    find(written, dimension)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_of_many_shapes_say_the_same() {
        for (cell, column, unit) in [
            (
                "temperature (°C)",
                Column::Reading(Reading::Temperature),
                "°C",
            ),
            ("T_C", Column::Reading(Reading::Temperature), "°C"),
            ("dew_point_f", Column::Reading(Reading::DewPoint), "°F"),
            ("RH_pct", Column::Reading(Reading::RelativeHumidity), "%"),
            (
                "Station pressure [hPa]",
                Column::Reading(Reading::Pressure(Station)),
                "hPa",
            ),
            (
                "sea_level_pressure_hpa",
                Column::Reading(Reading::Pressure(SeaLevel)),
                "hPa",
            ),
            (
                "altimeter (inHg)",
                Column::Reading(Reading::Pressure(Altimeter)),
                "inHg",
            ),
            ("p_hPa", Column::SomePressure, "hPa"),
        ] {
            let (found, written) = understand(cell, None).expect(cell);
            assert_eq!(found, column, "{cell}");
            assert_eq!(
                written.expect("a unit").map(|u| u.symbol),
                Some(unit),
                "{cell}"
            );
        }
        let declared = understand("p_hPa", Some(Altimeter)).map(|found| found.0);
        assert_eq!(
            declared,
            Some(Column::Reading(Reading::Pressure(Altimeter)))
        );
        assert!(understand("wind gust", None).is_none());
        assert_eq!(
            understand("Time_UTC", None).map(|f| f.0),
            Some(Column::Time { utc: true })
        );
    }
}
