//! Reads the files of a recorded case as the simulator wrote them: facts, pulls and their weather.
//!
//! With `car`, `plan` and `build` the only place that knows the case format. A case becomes the project's own types, with the doubts a shop
//! would state: makers' claims a few per cent, the load on the drums from the car's mass, everything else left to
//! the catalogue's defaults.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::belief::Prior;
use pullcast::dyno::pull::AxleStart;
use pullcast::dyno::{Conditions, Recording};
use pullcast::fit::observation::{MeasuredPull, ReadAt, Visit};
use serde_json::Value;
use std::path::Path;

/// Band of engine speed in which the pulls are averaged, rpm.
pub(crate) const BAND_RPM: f64 = 100.0;
/// Doubt on a maker's efficiency claims, and on sizes stated by the maker; relative.
pub(super) const CLAIM: f64 = 0.03;
pub(super) const SIZE: f64 = 0.005;

/// Names of the cases in a folder, in order.
pub(crate) fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the recorded pulls are part of the repository")
        .filter_map(Result::ok)
        .filter(|entry| entry.path().is_dir())
        .filter_map(|entry| entry.file_name().into_string().ok())
        .collect();
    names.sort();
    names
}

pub(crate) fn json(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

pub(super) fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("{key} is missing in {value}"))
}

/// Doubt relative to the value.
pub(super) fn about(value: f64, relative: f64) -> Prior {
    Prior::normal(
        value,
        relative * value.abs(),
        value - value.abs() * 0.5,
        value + value.abs() * 0.5,
    )
    .expect("a positive spread")
}

pub(super) fn exact(value: f64) -> Prior {
    Prior::fixed(value).expect("a finite number")
}

/// The air of a pull, and how its electric axle is started.
pub(super) fn start(head: &Value) -> (Day, AxleStart) {
    let weather = &head["weather"];
    let day = Day::from_relative_humidity(
        StationPressure::from_pa(1e3 * number(weather, "station_pressure_kpa")),
        273.15 + number(weather, "temperature_c"),
        1e-2 * number(weather, "relative_humidity_pct"),
    )
    .expect("a possible day");
    let mut axle = Conditions::rested(7000.0).axle;
    if let Some(charge) = head["battery_state_of_charge_pct_start"].as_f64() {
        axle.charge = 1e-2 * charge;
    }
    (day, axle)
}

/// The pulls of one visit.
pub(crate) fn visit(dir: &Path, name: &str) -> Visit {
    let mut pulls = Vec::new();
    for index in 1.. {
        let table = dir.join(name).join(format!("run{index}.csv"));
        if !table.exists() {
            break;
        }
        let head = json(&table.with_extension("json"));
        let (day, axle) = start(&head);
        let recording = recording(&table);
        let curve = recording
            .reduce(BAND_RPM)
            .unwrap_or_else(|e| panic!("{}: {e}", table.display()));
        let mut conditions = Conditions::rested(7000.0);
        conditions.axle = axle;
        let rest_s = head["minutes_since_previous_run"]
            .as_f64()
            .map(|m| 60.0 * m);
        pulls.push(MeasuredPull {
            read_at: ReadAt::Drums,
            level_doubt: None,
            name: format!("{name} {index}"),
            day,
            conditions,
            rest_s,
            curve,
        });
    }
    Visit {
        name: name.to_owned(),
        pulls,
    }
}

pub(crate) fn recording(path: &Path) -> Recording {
    let mut reader =
        csv::Reader::from_path(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let header = reader.headers().expect("a header").clone();
    let mut columns: Vec<Vec<f64>> = vec![Vec::new(); header.len()];
    for row in reader.records() {
        let row = row.expect("a row");
        for (column, cell) in columns.iter_mut().zip(row.iter()) {
            column.push(cell.parse().expect("a number"));
        }
    }
    let take = |name: &str, factor: f64, shift: f64| -> Option<Vec<f64>> {
        let index = header.iter().position(|h| h == name)?;
        Some(columns[index].iter().map(|x| x * factor + shift).collect())
    };
    Recording {
        time_s: take("time_s", 1.0, 0.0).expect("time"),
        engine_rpm: take("engine_rpm", 1.0, 0.0).expect("engine speed"),
        power_w: take("wheel_power_kw", 1e3, 0.0).expect("power"),
        manifold_pa: take("manifold_pressure_kpa", 1e3, 0.0),
        charge_k: take("charge_temp_c", 1.0, 273.15),
        lambda: take("lambda", 1.0, 0.0),
        spark_deg: take("spark_deg_btdc", 1.0, 0.0),
        fuel_kg_s: take("fuel_flow_g_s", 1e-3, 0.0),
        drum_rad_s: take("drum_speed_rpm", std::f64::consts::TAU / 60.0, 0.0),
        corrected_w: take("wheel_power_corrected_kw", 1e3, 0.0),
        ..Recording::default()
    }
}
