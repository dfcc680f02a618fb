//! The map of a centrifugal blower as a shop has it: measured points in a table of their own, points inside the car
//! file, or the one rated point on the maker's sheet.
//!
//! ```text
//! # wheel diameter: 92 mm
//! # reference pressure: 100 kPa
//! # reference temperature: 25 °C
//! corrected flow (kg/s), pressure ratio, efficiency, speed (rpm)
//! 0.0481,                1.199,          0.704,      45588
//! ```
//!
//! The reference state must be written: maps differ in it, and assuming one is worth several per cent of flow. Points whose
//! speeds agree within 1 % form a line of at least three.

use std::path::Path;

use super::belief;
use super::diagnostic::{Code, Problems};
use super::map_csv::{self, Column, Layout, Sheet};
use super::table::Table;
use crate::air::gas::PerfectGas;
use crate::boost::{CompressorMap, MapError, MapPoint, MapReference};
use crate::units::Dimension;

/// Points that do not make a map.
pub const MAP_INVALID: Code = Code::new("map_invalid");

/// A map as written, from which the map is made.
#[derive(Debug, Clone, PartialEq)]
pub struct MapSource {
    /// Corrected points; one alone is the rated point.
    pub points: Vec<MapPoint>,
    /// State to which they are corrected.
    pub reference: MapReference,
    /// Wheel the map was measured with, m.
    pub wheel_diameter_m: f64,
    /// Whether the one point is a rated point from which a map is drawn.
    pub rated: bool,
}

impl MapSource {
    /// The map.
    pub fn map(&self) -> Result<CompressorMap, MapError> {
        match (self.rated, self.points.first()) {
            (true, Some(point)) => {
                CompressorMap::from_rated_point(*point, self.reference, self.wheel_diameter_m)
            }
            _ => CompressorMap::from_points(&self.points, self.reference, self.wheel_diameter_m),
        }
    }
}

/// Reads `map = "file.csv"`, `[… .map_points]` or `[… .rated_point]` of a blower's table, and proves that it makes a map.
pub(super) fn source(table: &mut Table<'_>, folder: &Path) -> Option<MapSource> {
    let written = ["map", "map_points", "rated_point"]
        .into_iter()
        .filter(|key| table.has(key))
        .collect::<Vec<_>>();
    let [key] = written[..] else {
        let code = if written.is_empty() {
            Code::KEY_MISSING
        } else {
            belief::KEY_CONFLICT
        };
        let key = written.get(1).copied().unwrap_or("map");
        table.error(
            key,
            code,
            format!("the map of this blower is given in {} ways", written.len()),
            "exactly one of: map = \"file.csv\", a table 'map_points', a table 'rated_point'",
        );
        return None;
    };
    let source = match key {
        "map" => {
            let name = table.text("map")?;
            match open(&folder.join(&name)) {
                Ok(source) => Some(source),
                Err(problems) => {
                    for problem in problems.iter() {
                        table.push(problem.clone());
                    }
                    None
                }
            }
        }
        "rated_point" => table.subtable("rated_point", rated_point),
        _ => table.subtable("map_points", map_points),
    }?;
    if let Err(error) = source.map() {
        table.error(
            key,
            MAP_INVALID,
            error.to_string(),
            "at least three points on every speed line, all physically possible",
        );
        return None;
    }
    Some(source)
}

fn reference(table: &mut Table<'_>) -> Option<(MapReference, f64)> {
    let pressure = belief::required_plain(
        table,
        "reference_pressure",
        Dimension::BarometricPressure,
        50e3..=150e3,
    );
    let temperature = belief::required_plain(
        table,
        "reference_temperature",
        Dimension::Temperature,
        250.0..=350.0,
    );
    let wheel = belief::required_plain(table, "wheel_diameter", Dimension::Length, 0.02..=0.3);
    let reference = MapReference {
        pressure_pa: pressure?,
        temperature_k: temperature?,
    };
    Some((reference, wheel?))
}

/// Work per mass over the rim's speed squared of any radial wheel at its rated point; usual stages have 0.65 to 0.80 (from memory).
const LEAST_WORK: f64 = 0.35;
const MOST_WORK: f64 = 1.1;

fn rated_point(table: &mut Table<'_>) -> Option<MapSource> {
    let state = reference(table);
    let ratio = belief::required_plain(table, "pressure_ratio", Dimension::Ratio, 1.01..=10.0);
    let flow = belief::required_plain(table, "flow", Dimension::MassFlow, 0.005..=5.0);
    let efficiency = belief::required_plain(table, "efficiency", Dimension::Ratio, 0.3..=0.899);
    let speed = belief::required_plain(table, "speed", Dimension::RotationalSpeed, 500.0..=40e3);
    let (reference, wheel_diameter_m) = state?;
    let rim_m_s = 0.5 * wheel_diameter_m * speed?;
    let gas = PerfectGas::AIR;
    let ideal = ratio?.powf((gas.gamma - 1.0) / gas.gamma) - 1.0;
    let work = gas.cp_j_kg_k() * reference.temperature_k * ideal / (efficiency? * rim_m_s.powi(2));
    if !(LEAST_WORK..=MOST_WORK).contains(&work) {
        let message = format!(
            "a wheel with a tip speed of {rim_m_s:.0} m/s cannot make this pressure ratio: its work would be {work:.2} times tip speed squared"
        );
        let expected =
            format!("{LEAST_WORK} to {MOST_WORK}; check speed, wheel_diameter and pressure_ratio");
        table.error("speed", MAP_INVALID, message, expected);
        return None;
    }
    let point = MapPoint {
        speed_rad_s: speed?,
        flow_kg_s: flow?,
        pressure_ratio: ratio?,
        efficiency: efficiency?,
    };
    Some(MapSource {
        points: vec![point],
        reference,
        wheel_diameter_m,
        rated: true,
    })
}

fn map_points(table: &mut Table<'_>) -> Option<MapSource> {
    let state = reference(table);
    let values = |list: Option<Vec<super::Quantity>>| -> Option<Vec<f64>> {
        Some(list?.iter().map(|q| q.value_si).collect())
    };
    let speeds = values(table.quantities("speed", Dimension::RotationalSpeed));
    let flows = values(table.quantities("flow", Dimension::MassFlow));
    let ratios = values(table.quantities("pressure_ratio", Dimension::Ratio));
    let efficiencies = values(table.quantities("efficiency", Dimension::Ratio));
    let (reference, wheel_diameter_m) = state?;
    let (speeds, flows, ratios, efficiencies) = (speeds?, flows?, ratios?, efficiencies?);
    let count = speeds.len();
    for (key, list) in [
        ("flow", &flows),
        ("pressure_ratio", &ratios),
        ("efficiency", &efficiencies),
    ] {
        if list.len() != count {
            table.error(
                key,
                Code::FIELD_COUNT,
                format!("{} values, but there are {count} speeds", list.len()),
                format!("{count} values"),
            );
            return None;
        }
    }
    let points = (0..count)
        .map(|i| MapPoint {
            speed_rad_s: speeds[i],
            flow_kg_s: flows[i],
            pressure_ratio: ratios[i],
            efficiency: efficiencies[i],
        })
        .collect();
    Some(MapSource {
        points,
        reference,
        wheel_diameter_m,
        rated: false,
    })
}

/// A map file; its columns in the order of [`MapPoint`].
const LAYOUT: Layout<4> = Layout {
    columns: [
        column("speed", Dimension::RotationalSpeed),
        column("corrected flow", Dimension::MassFlow),
        column("pressure ratio", Dimension::Ratio),
        column("efficiency", Dimension::Ratio),
    ],
    header: "corrected flow (kg/s), pressure ratio, efficiency, speed (rpm)",
    row: "four numbers",
    rows: "a header and at least three points on every speed line",
};

const fn column(name: &'static str, dimension: Dimension) -> Column {
    Column {
        name,
        dimension,
        required: true,
    }
}

/// Reads a map file.
pub fn open(path: &Path) -> Result<MapSource, Problems> {
    let mut problems = Problems::new();
    let sheet = map_csv::open(path, &LAYOUT, &mut problems);
    of_sheet(sheet, problems)
}

#[cfg(test)]
fn read(name: &str, text: &str) -> Result<MapSource, Problems> {
    let mut problems = Problems::new();
    let sheet = map_csv::read(name, text, &LAYOUT, &mut problems);
    of_sheet(sheet, problems)
}

fn of_sheet(sheet: Option<Sheet<4>>, mut problems: Problems) -> Result<MapSource, Problems> {
    let made = sheet.and_then(|sheet| {
        // What they must be beyond that, the map itself says.
        let any = &(f64::MIN..=f64::MAX);
        let mut stated =
            |key, example, dimension| sheet.stated(key, example, dimension, any, &mut problems);
        let wheel = stated("wheel diameter", "92 mm", Dimension::Length);
        let pressure = stated(
            "reference pressure",
            "100 kPa",
            Dimension::BarometricPressure,
        );
        let temperature = stated("reference temperature", "25 °C", Dimension::Temperature);
        let reference = MapReference {
            pressure_pa: pressure?,
            temperature_k: temperature?,
        };
        let points = sheet.rows.iter().filter_map(|row| {
            let [speed, flow, ratio, efficiency] = row.values;
            Some(MapPoint {
                speed_rad_s: speed?,
                flow_kg_s: flow?,
                pressure_ratio: ratio?,
                efficiency: efficiency?,
            })
        });
        Some(MapSource {
            points: points.collect(),
            reference,
            wheel_diameter_m: wheel?,
            rated: false,
        })
    });
    problems.unless_errors(made).map(|(source, _)| source)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units;

    const MAP: &str = "# wheel diameter: 92 mm\n# reference pressure: 100 kPa\n# reference temperature: 25 °C\n\
        corrected flow (kg/s), pressure ratio, efficiency, speed (rpm)\n\
        0.10, 1.50, 0.70, 40000\n0.15, 1.48, 0.75, 40000\n0.20, 1.40, 0.70, 40000\n";

    #[test]
    fn a_map_file_keeps_its_reference_and_points() {
        let source = read("map.csv", MAP).expect("a map");
        assert_eq!(source.points.len(), 3);
        assert_eq!(source.reference.pressure_pa, 100_000.0);
        assert!((source.points[1].speed_rad_s - units::rad_s(40000.0)).abs() < 1e-9);
        assert!(source.map().is_ok());
    }

    #[test]
    fn a_map_without_its_reference_is_refused() {
        let text = MAP.replace("# reference temperature: 25 °C\n", "");
        let problem = read("map.csv", &text).expect_err("no reference").only();
        assert_eq!(
            (problem.code, problem.file.as_str()),
            (Code::KEY_MISSING, "map.csv")
        );
        assert!(
            problem.message.contains("reference temperature"),
            "{problem}"
        );
        let bad = read("map.csv", &MAP.replace("0.15, 1.48", "0.15, nan")).expect_err("NaN");
        assert_eq!(bad.first().and_then(|p| p.line), Some(6));
    }
}
