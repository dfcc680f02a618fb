//! The map of a turbine as a shop has it, measured points in a table of their own or inside the car file or plan, turned into
//! beliefs about the two numbers the model carries of a turbine.
//!
//! ```text
//! # reference pressure: 101.325 kPa
//! # reference temperature: 15 °C
//! # test gas: air
//! # bearings: not in the efficiency
//! corrected flow (kg/s), expansion ratio, efficiency, speed (rpm)
//! 0.0981,                1.50,            0.68,       90000
//! ```
//!
//! The reference state must be written. The gas is air and the efficiency the wheel's alone unless stated otherwise; the speed may be
//! left out, is checked, and tells nothing (docs/decisions.md says why). It refuses a map beside the numbers that the map
//! gives.

use std::path::Path;

use super::belief::{self, KEY_CONFLICT};
use super::compressor_map::MAP_INVALID;
use super::diagnostic::{Code, Problems};
use super::map_csv::{self, Column, Layout, Row, Sheet};
use super::table::Table;
use crate::belief::parameter;
use crate::belief::prior::Prior;
use crate::boost::turbine_map::FEWEST;
use crate::boost::{MapReference, ReducedTurbine, TestGas, TurbineMapPoint, TurbineTest};
use crate::units::{Dimension, find, show};

/// A point of a map that stands apart from the others and counts for nothing.
pub const POINT_APART: Code = Code::new("map_point_apart");

/// The keys of which at most one gives a turbine's map.
pub(crate) const KEYS: [&str; 2] = ["turbine_map", "turbine_map_points"];
/// The numbers that a map gives.
const GIVEN_BY_MAP: [&str; 2] = ["turbine_area", "turbine_efficiency"];

/// Gases of tests by their words; the first where none is stated.
const GASES: &[(&str, TestGas)] = &[("air", TestGas::Air), ("exhaust", TestGas::Exhaust)];
/// Whether the bearings' friction is in the efficiency; the first where it is not stated.
const BEARINGS: &[(&str, bool)] = &[
    ("not in the efficiency", false),
    ("in the efficiency", true),
];

/// What makes sense, SI. Maps are corrected to a standard day or to the stand's hot gas.
const REFERENCE_PA: std::ops::RangeInclusive<f64> = 50e3..=500e3;
const REFERENCE_K: std::ops::RangeInclusive<f64> = 250.0..=1300.0;
const SPEED: std::ops::RangeInclusive<f64> = 100.0..=40e3;
const FLOW: std::ops::RangeInclusive<f64> = 1e-3..=5.0;
/// An expansion ratio below one is a pressure ratio upside down; right at one the area is not to be told.
const RATIO: std::ops::RangeInclusive<f64> = 1.02..=10.0;
const EFFICIENCY: std::ops::RangeInclusive<f64> = 0.05..=0.95;

const LAYOUT: Layout<4> = Layout {
    columns: [
        column("corrected flow", Dimension::MassFlow, true),
        column("expansion ratio", Dimension::Ratio, true),
        column("efficiency", Dimension::Ratio, true),
        column("speed", Dimension::RotationalSpeed, false),
    ],
    header: "corrected flow (kg/s), expansion ratio, efficiency, and speed (rpm) or none",
    row: "a number for every column of the header",
    rows: "a header and at least three points",
};

const fn column(name: &'static str, dimension: Dimension, required: bool) -> Column {
    Column {
        name,
        dimension,
        required,
    }
}

/// What a map says of one turbine, in the model's units.
#[derive(Debug, Clone, Copy)]
pub(super) struct TurbineBelief {
    /// Effective area, m².
    pub(super) area: Prior,
    /// Isentropic efficiency.
    pub(super) efficiency: Prior,
}

/// A map as read, and who can point at its points.
struct Read {
    points: Vec<TurbineMapPoint>,
    test: TurbineTest,
    rows: Vec<Row<4>>,
}

/// Reads `turbine_map = "file.csv"` or a table `turbine_map_points`, if one is there. `Err` where it is and cannot be taken;
/// the problem is then in the table.
pub(super) fn belief(table: &mut Table<'_>, folder: &Path) -> Result<Option<TurbineBelief>, ()> {
    let written: Vec<&str> = KEYS.into_iter().filter(|key| table.has(key)).collect();
    let Some(key) = written.first().copied() else {
        return Ok(None);
    };
    if let Some(second) = written.get(1) {
        let message = "the map of this turbine is given in 2 ways";
        let expected = "one of: turbine_map = \"file.csv\", a table 'turbine_map_points'";
        table.error(second, KEY_CONFLICT, message, expected);
        return Err(());
    }
    let twice: Vec<&str> = GIVEN_BY_MAP
        .into_iter()
        .filter(|key| table.has(key))
        .collect();
    for number in &twice {
        let message = format!("both '{number}' and a turbine map are given");
        let expected = format!(
            "'{key}', or '{}' and '{}'",
            GIVEN_BY_MAP[0], GIVEN_BY_MAP[1]
        );
        table.error(number, KEY_CONFLICT, message, expected);
    }
    let read = if key == "turbine_map" {
        from_file(table, folder)
    } else {
        table.subtable(key, from_lists)
    };
    let read = read.filter(|_| twice.is_empty()).ok_or(())?;
    let turbine = read.test.reduce(&read.points).map_err(|error| {
        let expected = format!(
            "at least {FEWEST} points of one turbine; check the columns, their units and the reference state"
        );
        table.error(key, MAP_INVALID, error.to_string(), expected);
    })?;
    stands_apart(table, key, &read, &turbine);
    let area = bounded(
        table,
        key,
        "blower.turbine_area",
        |(lower, upper)| Prior::log_normal(turbine.area_m2, turbine.area_sd_ln, lower, upper).ok(),
        turbine.area_m2,
    );
    let efficiency = bounded(
        table,
        key,
        "blower.turbine_efficiency",
        |(lower, upper)| {
            Prior::normal(turbine.efficiency, turbine.efficiency_sd, lower, upper).ok()
        },
        turbine.efficiency,
    );
    let (area, efficiency) = (area.ok_or(())?, efficiency.ok_or(())?);
    Ok(Some(TurbineBelief { area, efficiency }))
}

/// The belief about a number of the catalogue that the map gives, within the catalogue's range.
fn bounded(
    table: &mut Table<'_>,
    key: &str,
    path: &str,
    make: impl Fn((f64, f64)) -> Option<Prior>,
    centre: f64,
) -> Option<Prior> {
    let parameter = parameter::find(path)?;
    let bounds = parameter.bounds();
    let made = make(bounds);
    if made.is_none() {
        let unit = parameter.measure.unit();
        let text = |model: f64| show(model / parameter.measure.scale, unit);
        let message = format!("{path} would be {} by this map", text(centre));
        let expected = format!("{} to {}", text(bounds.0), text(bounds.1));
        table.error(key, Code::OUT_OF_RANGE, message, expected);
    }
    made
}

fn stands_apart(table: &mut Table<'_>, key: &str, read: &Read, turbine: &ReducedTurbine) {
    for index in &turbine.apart {
        let point = &read.points[*index];
        let message = format!(
            "point {} was ignored as an outlier: area {} (map: {}), efficiency {:.2} (map: {:.2})",
            index + 1,
            area_text(read.test.area_m2(point)),
            area_text(turbine.area_m2),
            point.efficiency,
            turbine.efficiency,
        );
        let problem = match read.rows.get(*index) {
            Some(row) => row.problem(POINT_APART, message),
            None => table.problem(key, POINT_APART, message),
        };
        table.push(
            problem
                .expected("a point near the others, or none")
                .warning(),
        );
    }
}

fn area_text(area_m2: f64) -> String {
    let unit = find("mm2", Dimension::Area).unwrap_or_else(|_| Dimension::Area.si_unit());
    show(area_m2, unit)
}

fn from_file(table: &mut Table<'_>, folder: &Path) -> Option<Read> {
    let name = table.text("turbine_map")?;
    let mut problems = Problems::new();
    let sheet = map_csv::open(&folder.join(name), &LAYOUT, &mut problems);
    let read = sheet.and_then(|sheet| of_sheet(sheet, &mut problems));
    for problem in problems.iter() {
        table.push(problem.clone());
    }
    read.filter(|_| !problems.has_errors())
}

fn of_sheet(sheet: Sheet<4>, problems: &mut Problems) -> Option<Read> {
    let pressure = sheet.stated(
        "reference pressure",
        "101.325 kPa",
        Dimension::BarometricPressure,
        &REFERENCE_PA,
        problems,
    );
    let temperature = sheet.stated(
        "reference temperature",
        "15 °C",
        Dimension::Temperature,
        &REFERENCE_K,
        problems,
    );
    let gas = sheet.word("test gas", GASES, problems);
    let bearings = sheet.word("bearings", BEARINGS, problems);
    let mut points = Vec::new();
    for row in &sheet.rows {
        let flow = row.within(&LAYOUT, 0, &FLOW, problems);
        let ratio = row.within(&LAYOUT, 1, &RATIO, problems);
        let efficiency = row.within(&LAYOUT, 2, &EFFICIENCY, problems);
        row.within(&LAYOUT, 3, &SPEED, problems);
        if let (Some(flow_kg_s), Some(expansion_ratio), Some(efficiency)) =
            (flow, ratio, efficiency)
        {
            points.push(TurbineMapPoint {
                flow_kg_s,
                expansion_ratio,
                efficiency,
            });
        }
    }
    Some(Read {
        points,
        test: TurbineTest {
            reference: MapReference {
                pressure_pa: pressure?,
                temperature_k: temperature?,
            },
            gas: gas?,
            bearings_in_efficiency: bearings?,
        },
        rows: sheet.rows,
    })
}

fn from_lists(table: &mut Table<'_>) -> Option<Read> {
    let pressure = belief::required_plain(
        table,
        "reference_pressure",
        Dimension::BarometricPressure,
        REFERENCE_PA,
    );
    let temperature = belief::required_plain(
        table,
        "reference_temperature",
        Dimension::Temperature,
        REFERENCE_K,
    );
    let gas = word(table, "test_gas", GASES);
    let bearings = word(table, "bearings", BEARINGS);
    let flows = list(table, "flow", Dimension::MassFlow, &FLOW);
    let ratios = list(table, "expansion_ratio", Dimension::Ratio, &RATIO);
    let efficiencies = list(table, "efficiency", Dimension::Ratio, &EFFICIENCY);
    let speeds = if table.has("speed") {
        Some(list(table, "speed", Dimension::RotationalSpeed, &SPEED)?)
    } else {
        None
    };
    let (flows, ratios, efficiencies) = (flows?, ratios?, efficiencies?);
    let count = flows.len();
    for (key, list) in [
        ("expansion_ratio", Some(&ratios)),
        ("efficiency", Some(&efficiencies)),
        ("speed", speeds.as_ref()),
    ] {
        if let Some(list) = list.filter(|list| list.len() != count) {
            table.error(
                key,
                Code::FIELD_COUNT,
                format!("{} values, but there are {count} flows", list.len()),
                format!("{count} values"),
            );
            return None;
        }
    }
    let points = (0..count).map(|i| TurbineMapPoint {
        flow_kg_s: flows[i],
        expansion_ratio: ratios[i],
        efficiency: efficiencies[i],
    });
    Some(Read {
        points: points.collect(),
        test: TurbineTest {
            reference: MapReference {
                pressure_pa: pressure?,
                temperature_k: temperature?,
            },
            gas: gas?,
            bearings_in_efficiency: bearings?,
        },
        rows: Vec::new(),
    })
}

fn word<T: Copy>(table: &mut Table<'_>, key: &str, choices: &[(&str, T)]) -> Option<T> {
    if table.has(key) {
        table.choice(key, choices)
    } else {
        choices.first().map(|(_, choice)| *choice)
    }
}

/// A list of numbers, each within limits.
fn list(
    table: &mut Table<'_>,
    key: &str,
    dimension: Dimension,
    limits: &std::ops::RangeInclusive<f64>,
) -> Option<Vec<f64>> {
    let quantities = table.quantities(key, dimension)?;
    quantities
        .into_iter()
        .map(|quantity| Some(table.within(key, Some(quantity), limits.clone())?.value_si))
        .collect()
}
