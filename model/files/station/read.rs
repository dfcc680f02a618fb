//! From bytes to hours.

use super::clean::{self, Cleaning, LeftOut, Reason};
use super::header::{Column, Part, Reading, understand};
use super::judge::{judge, say};
use super::time::{self, NoStamp, Stamp};
use super::{Options, PRESSURE_KIND, PressureKind, Station, TIME_AMBIGUOUS, TIME_UTC};
use crate::air::atmosphere::{
    ALTITUDE_RANGE_M, AltimeterSetting, SeaLevelPressure, StationPressure,
};
use crate::air::{Day, DayError};
use crate::ask::spread::Hour;
use crate::files::diagnostic::{Code, Excerpt, Problem, Problems};
use crate::files::encoding::decode_recording;
use crate::files::quantity;
use crate::files::run_csv::dialect::separator;
use crate::units::{Dimension, Unit, accepted};
use std::sync::Arc;

/// What stands in a field where there is nothing.
const MISSING: [&str; 9] = ["", "m", "na", "n/a", "nan", "null", "-", "-999", "-9999"];

/// What is stated in lines of remarks.
struct Stated {
    elevation_m: Option<f64>,
    utc_offset_min: Option<i64>,
}

/// Where things stand in a row.
struct Layout {
    time: Option<(usize, bool)>,
    parts: Vec<(Part, usize)>,
    temperature: (usize, &'static Unit),
    humidity: (Reading, usize, &'static Unit),
    pressure: (PressureKind, usize, &'static Unit),
    ignored: Vec<String>,
    separator: char,
}

/// One row read: when, temperature, humidity reading, pressure, SI.
struct Row {
    minutes: i64,
    temperature_k: f64,
    humidity: f64,
    pressure_pa: f64,
}

pub(super) fn read(
    name: &str,
    bytes: &[u8],
    options: &Options,
) -> Result<(Station, Problems), Problems> {
    let (text, _) = decode_recording(name, bytes)?;
    let mut problems = Problems::new();
    let stated = stated(name, &text, options, &mut problems);
    let mut lines = text
        .lines()
        .enumerate()
        .filter(|(_, line)| !line.trim().is_empty() && !line.trim_start().starts_with('#'));
    let Some((number, header)) = lines.next() else {
        let problem = Problem::of_file(Code::FILE_EMPTY, name, "the file holds no table");
        return Err(problem
            .expected("a header row and a row for every hour")
            .into());
    };
    let excerpt = Arc::new(Excerpt::line(name, header, number + 1));
    let layout = layout(&excerpt, header, options, &mut problems);
    let (Some(layout), false) = (layout, problems.has_errors()) else {
        return Err(problems);
    };
    let (rows, mut cleaning) = rows(name, lines, &layout, &stated, &mut problems);
    if layout.pressure.0 != PressureKind::Station && stated.elevation_m.is_none() {
        let problem = Problem::of_file(
            Code::KEY_MISSING,
            name,
            "a pressure reduced to sea level needs the elevation of the station",
        );
        problems.push(problem.expected("a line '# elevation: 900 m', or --elevation \"900 m\""));
        return Err(problems);
    }
    let hours = hours(&rows, &layout, &stated, &mut cleaning);
    let written: Vec<f64> = rows.iter().map(|row| row.pressure_pa).collect();
    let declared = (layout.pressure.0, stated.elevation_m);
    judge(name, &hours, written, declared, &mut problems);
    say(name, &mut cleaning, &hours, &mut problems);
    if hours.is_empty() {
        problems.push(Problem::of_file(Code::ROWS_NONE, name, "no row is left"));
    }
    let station = Station { hours, cleaning };
    problems.unless_errors(Some(station))
}

/// Lines `# key: value`; what the caller answers outranks them.
fn stated(name: &str, text: &str, options: &Options, problems: &mut Problems) -> Stated {
    let mut stated = Stated {
        elevation_m: options.elevation_m,
        utc_offset_min: options.utc_offset_min,
    };
    for (number, line) in text.lines().enumerate() {
        let Some((key, value)) = line
            .trim()
            .strip_prefix('#')
            .and_then(|rest| rest.split_once(':'))
        else {
            continue;
        };
        let key = key.trim().to_lowercase().replace('_', " ");
        let dimension = match key.as_str() {
            "elevation" => Dimension::Length,
            "utc offset" => Dimension::Time,
            _ => continue,
        };
        match quantity::parse(value.trim(), dimension) {
            Ok(found) if dimension == Dimension::Length => {
                stated.elevation_m = stated.elevation_m.or(Some(found.value_si));
            }
            Ok(found) => {
                #[expect(clippy::cast_possible_truncation, reason = "held to a day below")]
                let minutes = (found.value_si / 60.0).round().clamp(-1440.0, 1440.0) as i64;
                stated.utc_offset_min = stated.utc_offset_min.or(Some(minutes));
            }
            Err(fault) => {
                let excerpt = Arc::new(Excerpt::line(name, line, number + 1));
                let problem = Problem::at(fault.code, &excerpt, 0..line.len(), fault.message);
                problems.push(problem.expected(fault.expected));
            }
        }
    }
    if let Some(elevation) = stated.elevation_m
        && !(ALTITUDE_RANGE_M.0..=ALTITUDE_RANGE_M.1).contains(&elevation)
    {
        let message = format!("an elevation of {elevation:.0} m is no workshop's");
        problems
            .push(Problem::of_file(Code::OUT_OF_RANGE, name, message).expected("-500 to 11019 m"));
    }
    stated
}

/// A column chosen of several of its kind: the first of the order of preference.
fn first<T: Copy>(
    found: &[(Reading, usize, Option<T>)],
    order: &[Reading],
) -> Option<(Reading, usize, Option<T>)> {
    order
        .iter()
        .find_map(|wanted| found.iter().find(|(reading, ..)| reading == wanted))
        .copied()
}

/// Columns of a header.
struct Columns<'h> {
    time: Option<(usize, bool)>,
    parts: Vec<(Part, usize)>,
    readings: Vec<(Reading, usize, Option<&'static Unit>)>,
    /// A pressure that does not say which.
    undeclared: Option<&'h str>,
    ignored: Vec<String>,
}

fn columns<'h>(
    excerpt: &Arc<Excerpt>,
    header: &'h str,
    separator: char,
    options: &Options,
    problems: &mut Problems,
) -> Columns<'h> {
    let (mut time, mut parts, mut ignored) = (None, Vec::new(), Vec::new());
    let mut readings: Vec<(Reading, usize, Option<&'static Unit>)> = Vec::new();
    let mut undeclared = None;
    for (place, cell) in header.split(separator).enumerate() {
        let cell = cell.trim().trim_matches('"');
        match understand(cell, options.pressure) {
            Some((Column::Time { utc }, _)) => time = time.or(Some((place, utc))),
            Some((Column::Part(part), _)) => parts.push((part, place)),
            Some((Column::SomePressure, _)) => undeclared = Some(cell),
            Some((Column::Reading(reading), Ok(unit))) => readings.push((reading, place, unit)),
            Some((Column::Reading(_), Err(error))) => {
                let message = format!("the column '{cell}': {error}");
                let problem = Problem::at(Code::UNIT_UNKNOWN, excerpt, 0..header.len(), message);
                problems.push(problem.expected(error.candidates()));
            }
            None => ignored.push(cell.to_owned()),
        }
    }
    Columns {
        time,
        parts,
        readings,
        undeclared,
        ignored,
    }
}

fn layout(
    excerpt: &Arc<Excerpt>,
    header: &str,
    options: &Options,
    problems: &mut Problems,
) -> Option<Layout> {
    use PressureKind::{Altimeter, SeaLevel, Station};
    let separator = char::from(separator(header));
    let Columns {
        time,
        parts,
        readings,
        undeclared,
        ignored,
    } = columns(excerpt, header, separator, options, problems);
    let mut missing = |what: &str, code: Code, expected: String| {
        let problem = Problem::at(
            code,
            excerpt,
            0..header.len(),
            format!("no column for the {what}"),
        );
        problems.push(problem.expected(expected));
    };
    let calendar = [Part::Year, Part::Month, Part::Day, Part::Hour];
    if time.is_none()
        && !calendar
            .iter()
            .all(|part| parts.iter().any(|p| p.0 == *part))
    {
        missing(
            "time",
            Code::COLUMNS_UNKNOWN,
            "time, or year, month, day and hour".to_owned(),
        );
    }
    let temperature = first(&readings, &[Reading::Temperature]);
    if temperature.is_none() {
        missing(
            "temperature",
            Code::COLUMNS_UNKNOWN,
            "temperature (°C)".to_owned(),
        );
    }
    let humidity = first(
        &readings,
        &[
            Reading::DewPoint,
            Reading::WetBulb,
            Reading::RelativeHumidity,
        ],
    );
    if humidity.is_none() {
        let expected = "dew point (°C), wet bulb (°C) or relative humidity (%)".to_owned();
        missing("humidity", Code::COLUMNS_UNKNOWN, expected);
    }
    let kinds = [Station, Altimeter, SeaLevel].map(Reading::Pressure);
    let pressure = first(&readings, &kinds);
    if pressure.is_none() {
        let expected = "station pressure, sea level pressure or altimeter in the header, or --pressure station, sea-level or altimeter";
        match undeclared {
            Some(cell) => {
                let message = format!("'{cell}' does not say which pressure it is");
                problems.push(
                    Problem::at(PRESSURE_KIND, excerpt, 0..header.len(), message)
                        .expected(expected),
                );
            }
            None => missing("pressure", Code::COLUMNS_UNKNOWN, expected.to_owned()),
        }
    }
    let mut with_unit = |found: Option<(Reading, usize, Option<&'static Unit>)>| {
        let (reading, place, unit) = found?;
        if unit.is_none() {
            let message = format!("the {} has no unit", reading.words());
            let problem = Problem::at(Code::UNIT_MISSING, excerpt, 0..header.len(), message);
            problems.push(problem.expected(accepted(reading.dimension())));
        }
        Some((reading, place, unit?))
    };
    let (temperature, humidity, pressure) = (
        with_unit(temperature),
        with_unit(humidity),
        with_unit(pressure),
    );
    let (temperature, pressure) = (temperature?, pressure?);
    let Reading::Pressure(kind) = pressure.0 else {
        return None;
    };
    Some(Layout {
        time,
        parts,
        temperature: (temperature.1, temperature.2),
        humidity: humidity?,
        pressure: (kind, pressure.1, pressure.2),
        ignored,
        separator,
    })
}

/// A number in a field; none where it is missing.
fn number(field: &str, separator: char) -> Option<f64> {
    let field = field.trim().trim_matches('"');
    if MISSING.contains(&field.to_lowercase().as_str()) {
        return None;
    }
    let value: Option<f64> = if separator == ',' {
        field.parse().ok()
    } else {
        field.replace(',', ".").parse().ok()
    };
    value.filter(|value| value.is_finite() && *value > -990.0)
}

fn moment(fields: &[&str], layout: &Layout) -> Result<Stamp, NoStamp> {
    if let Some((place, utc)) = layout.time {
        let field = fields.get(place).copied().unwrap_or_default();
        let mut stamp = time::stamp(field.trim().trim_matches('"'))?;
        if utc {
            stamp.offset_min = stamp.offset_min.or(Some(0));
        }
        return Ok(stamp);
    }
    let part = |wanted: Part| {
        let place = layout.parts.iter().find(|(part, _)| *part == wanted)?.1;
        fields.get(place)?.trim().parse::<i64>().ok()
    };
    let minutes = (|| {
        let (year, month, day) = (part(Part::Year)?, part(Part::Month)?, part(Part::Day)?);
        time::from_parts(
            year,
            month,
            day,
            part(Part::Hour)?,
            part(Part::Minute).unwrap_or(0),
        )
    })();
    let minutes = minutes.ok_or(NoStamp::Unreadable)?;
    Ok(Stamp {
        minutes,
        offset_min: None,
    })
}

/// The rows that hold all their readings, in order of local time.
fn rows<'t>(
    name: &str,
    lines: impl Iterator<Item = (usize, &'t str)>,
    layout: &Layout,
    stated: &Stated,
    problems: &mut Problems,
) -> (Vec<Row>, Cleaning) {
    let mut counts = [0_usize; Reason::ALL.len()];
    let mut count = |reason: Reason| counts[reason as usize] += 1;
    let (mut rows, mut all, mut by_utc) = (Vec::new(), 0, false);
    let mut ambiguous = None;
    for (number_of_line, line) in lines {
        all += 1;
        let fields: Vec<&str> = line.split(layout.separator).collect();
        let read = |place: usize, unit: &Unit| {
            fields
                .get(place)
                .and_then(|field| number(field, layout.separator))
                .map(|x| unit.to_si(x))
        };
        let minutes = match moment(&fields, layout) {
            Ok(Stamp {
                minutes,
                offset_min: None,
            }) => minutes,
            Ok(Stamp {
                minutes,
                offset_min: Some(offset),
            }) => {
                if let Some(local) = stated.utc_offset_min {
                    minutes - offset + local
                } else {
                    // A stamp that states its own time is local by it; one by UTC is nobody's.
                    by_utc |= offset == 0;
                    minutes
                }
            }
            Err(error) => {
                if error == NoStamp::DayOrMonth {
                    ambiguous = ambiguous.or(Some((number_of_line, line)));
                }
                count(Reason::Time);
                continue;
            }
        };
        let readings = (
            read(layout.temperature.0, layout.temperature.1),
            read(layout.humidity.1, layout.humidity.2),
            read(layout.pressure.1, layout.pressure.2),
        );
        match readings {
            (Some(temperature_k), Some(humidity), Some(pressure_pa)) => {
                rows.push(Row {
                    minutes,
                    temperature_k,
                    humidity,
                    pressure_pa,
                });
            }
            _ => count(Reason::Missing),
        }
    }
    if let Some((number, line)) = ambiguous {
        let excerpt = Arc::new(Excerpt::line(name, line, number + 1));
        let message = "day and month of this date could be either way round";
        let problem = Problem::at(TIME_AMBIGUOUS, &excerpt, 0..line.len(), message);
        problems.push(problem.expected("2025-03-21T14:00, or columns year, month, day, hour"));
    }
    if by_utc {
        let problem = Problem::of_file(
            TIME_UTC,
            name,
            "times are by UTC, and hours of business are counted by it",
        );
        problems.push(
            problem
                .expected("a line '# utc offset: 1 h', or --utc-offset \"1 h\"")
                .warning(),
        );
    }
    rows.sort_by_key(|row| row.minutes);
    let before = rows.len();
    rows.dedup_by_key(|row| row.minutes);
    counts[Reason::Repeated as usize] = before - rows.len();
    let minutes: Vec<i64> = rows.iter().map(|row| row.minutes).collect();
    let (step_min, ..) = clean::gaps(&minutes);
    let cleaning = Cleaning {
        rows: all,
        kept: 0,
        left_out: left_out(&counts),
        step_min,
        gaps: 0,
        longest_gap_min: 0,
        empty_months: Vec::new(),
        constant: Vec::new(),
        pressure: layout.pressure.0,
        elevation_m: stated.elevation_m,
        utc_offset_min: stated.utc_offset_min,
        ignored: layout.ignored.clone(),
    };
    (rows, cleaning)
}

fn left_out(counts: &[usize; Reason::ALL.len()]) -> Vec<LeftOut> {
    Reason::ALL
        .iter()
        .zip(counts)
        .map(|(&reason, &rows)| LeftOut { reason, rows })
        .collect()
}

/// Station pressure of a row.
fn station(row: &Row, kind: PressureKind, elevation_m: Option<f64>) -> StationPressure {
    let elevation = elevation_m.unwrap_or(0.0);
    match kind {
        PressureKind::Station => StationPressure::from_pa(row.pressure_pa),
        PressureKind::SeaLevel => {
            SeaLevelPressure::from_pa(row.pressure_pa).to_station(elevation, row.temperature_k)
        }
        PressureKind::Altimeter => AltimeterSetting::from_pa(row.pressure_pa).to_station(elevation),
    }
}

/// A reading of a row.
type ValueOf = fn(&Row) -> f64;

/// The hours that can be true.
fn hours(rows: &[Row], layout: &Layout, stated: &Stated, cleaning: &mut Cleaning) -> Vec<Hour> {
    let mut count = |reason: Reason, more: usize| cleaning.left_out[reason as usize].rows += more;
    let columns: [(&'static str, ValueOf); 3] = [
        ("temperature", |row| row.temperature_k),
        (layout.humidity.0.words(), |row| row.humidity),
        ("pressure", |row| row.pressure_pa),
    ];
    let mut stuck = vec![false; rows.len()];
    let mut constant = Vec::new();
    for (name, of) in columns {
        let values: Vec<f64> = rows.iter().map(of).collect();
        if values.len() > 1 && values.iter().all(|v| *v == values[0]) {
            // The whole column: told, or nothing would be left.
            constant.push(name);
            continue;
        }
        for row in clean::stuck(&values, cleaning.step_min) {
            stuck[row] = true;
        }
    }
    let mut hours = Vec::with_capacity(rows.len());
    let mut minutes = Vec::with_capacity(rows.len());
    for (row, stuck) in rows.iter().zip(stuck) {
        if stuck {
            count(Reason::Stuck, 1);
            continue;
        }
        let pressure = station(row, layout.pressure.0, stated.elevation_m);
        let made = match layout.humidity.0 {
            Reading::DewPoint => Day::from_dew_point(pressure, row.temperature_k, row.humidity),
            Reading::WetBulb => Day::from_wet_bulb(pressure, row.temperature_k, row.humidity),
            _ => Day::from_relative_humidity(pressure, row.temperature_k, row.humidity),
        };
        match made {
            Ok(air) => {
                let (day_number, month, hour) = time::local(row.minutes);
                hours.push(Hour {
                    day_number,
                    month,
                    hour,
                    air,
                });
                minutes.push(row.minutes);
            }
            Err(DayError::Temperature { .. } | DayError::Pressure { .. }) => {
                count(Reason::Range, 1);
            }
            Err(_) => count(Reason::Humidity, 1),
        }
    }
    cleaning.constant = constant;
    let (_, gaps, longest) = clean::gaps(&minutes);
    (cleaning.gaps, cleaning.longest_gap_min) = (gaps, longest);
    hours
}
