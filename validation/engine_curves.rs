//! Real engines' full-load tables through the engine's own bookkeeping: swept volume, mean pressure, power.
//!
//! Source: `data/engine_curves/README.md`. The tables are makers' and testers' numbers with their printing errors, so they check
//! definitions (a four-stroke's power of a mean pressure, the sum of the swept volumes), not the combustion model.

use std::collections::HashMap;
use std::path::Path;

use pullcast::engine::geometry::{CylinderGeometry, EngineGeometry};

/// Rows of a table as maps from column to text.
fn rows(name: &str) -> Vec<HashMap<String, String>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/engine_curves");
    let mut reader = csv::Reader::from_path(folder.join(name)).expect("the table can be read");
    reader
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("a regular table")
}

fn number(row: &HashMap<String, String>, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

/// An engine of one cylinder by bore and stroke; rod and compression ratio do not enter here.
fn engine(bore_m: f64, stroke_m: f64, cylinders: u32) -> EngineGeometry {
    EngineGeometry {
        cylinder: CylinderGeometry {
            bore_m,
            stroke_m,
            rod_m: 1.6 * stroke_m,
            compression_ratio: 9.0,
        },
        cylinders,
    }
}

#[test]
fn mean_pressure_and_torque_of_a_full_load_curve_are_one_power() {
    let engines = rows("full_load_engines.csv");
    let curves = rows("full_load_curves.csv");
    assert_eq!(curves.len(), 98);
    for point in &curves {
        let of = engines
            .iter()
            .find(|e| e["id"] == point["id"])
            .expect("every curve has its engine");
        let swept_m3 = number(of, "displacement_L") * 1e-3;
        // One square cylinder of the whole displacement.
        let bore_m = (4.0 * swept_m3 / std::f64::consts::PI).cbrt();
        let rpm = number(point, "rpm");
        let power_w = engine(bore_m, bore_m, 1)
            .power_of_mean_pressure_w(number(point, "bmep_kPa") * 1e3, rpm);
        let printed_w = number(point, "power_kW") * 1e3;
        // Tolerance: the displacement behind the printed mean pressure is rounded to 0.1 litre in the table, 5 % of the
        // smallest engine.
        let rounding = 0.05e-3 / swept_m3 + 1e-3;
        assert!((power_w / printed_w - 1.0).abs() < rounding, "{point:?}");
    }
}

#[test]
fn bore_stroke_and_cylinders_give_the_printed_displacement() {
    let mut checked = 0;
    for row in rows("engines_1985.csv") {
        if row["displacement_mismatch_pct"].is_empty() {
            continue;
        }
        let cylinders = row["n_cyl"].parse().expect("a count");
        let built = engine(
            number(&row, "bore_mm") * 1e-3,
            number(&row, "stroke_mm") * 1e-3,
            cylinders,
        );
        // Tolerance: the column is rounded to 1 cm³ (0.05 % of the smallest engine), bore and stroke to 0.01 mm.
        let expected_m3 = number(&row, "displacement_from_bore_stroke_cc") * 1e-6;
        let relative = built.displacement_m3() / expected_m3 - 1.0;
        assert!(relative.abs() < 1e-3, "{row:?}: {relative}");
        checked += 1;
    }
    assert!(checked > 50, "{checked}");
}
