//! Wrong entries meet a recorded pull: `fit` and `quote` stop and name what would agree, `diagnose` warns, and a sound pull passes unremarked.

use crate::shop::{CAR, Shop, VISIT};
use std::fmt::Write as _;

const HP_PER_KW: f64 = 1.341_022;

/// A shop with pulls of its car, drum speed logged as the car turns the drum: no slip, no growth.
pub(crate) fn with_drum_speed(shop: &Shop) {
    shop.measure_with("predict car.toml --weather weather.toml", false);
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        // What the drum of this inertia gains of the recorded power, from a speed that the gearing gives at the start.
        let inertia_kg_m2 = 90.0;
        let mut csv =
            String::from("time (s),engine speed (rpm),drum speed (rpm),wheel power (kW)\n");
        let rows: Vec<Vec<f64>> = text
            .lines()
            .skip(1)
            .map(|l| l.split(',').map(|f| f.parse().expect("a number")).collect())
            .collect();
        let per_engine = 0.31 / (1.36 * 3.9 * 0.35);
        let mut square = (rows[0][1] * per_engine * std::f64::consts::TAU / 60.0).powi(2);
        for (index, row) in rows.iter().enumerate() {
            if index > 0 {
                let before = &rows[index - 1];
                let work_j = 500.0 * (row[2] + before[2]) * (row[0] - before[0]);
                square += 2.0 * work_j / inertia_kg_m2;
            }
            let drum_rpm = square.sqrt() * 60.0 / std::f64::consts::TAU;
            let engine_rpm = drum_rpm / per_engine;
            writeln!(csv, "{},{engine_rpm:.1},{drum_rpm:.3},{}", row[0], row[2])
                .expect("a String takes all");
        }
        shop.write(name, &csv);
    }
}

/// Multiplies the last column, whose header stays.
fn scale_power(shop: &Shop, factor: f64) {
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        let mut lines = text.lines();
        let mut out = format!("{}\n", lines.next().expect("a header"));
        for line in lines {
            let (rest, power) = line.rsplit_once(',').expect("columns");
            let power: f64 = power.parse().expect("a number");
            writeln!(out, "{rest},{:.3}", factor * power).expect("a String takes all");
        }
        shop.write(name, &out);
    }
}

#[test]
fn hp_under_the_name_kw_stops_with_or_without_drum_speed_and_trust_goes_on() {
    for drum in [true, false] {
        let shop = Shop::new();
        if drum {
            with_drum_speed(&shop);
        } else {
            shop.measure();
        }
        let sound = shop.run("fit car.toml visit.toml");
        assert!(
            !sound.err.contains("recording_contradicts"),
            "{}",
            sound.err
        );
        scale_power(&shop, HP_PER_KW);
        for verb in [
            "fit car.toml visit.toml --out fitted.toml",
            "quote car.toml plan.toml --visit visit.toml --draws 60",
        ] {
            let ran = shop.run(verb);
            assert_eq!(ran.code, 65, "{verb}: {}", ran.err);
            assert_eq!(ran.out, "");
            let err = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
            for part in [
                "pull1.csv",
                "wheel power (kW)",
                "power in hp under the name kW",
                "trust_recording = true",
                "1 more pull of this visit shows the same",
            ] {
                assert!(err.contains(part), "{verb}: {part} in {err}");
            }
        }
        assert!(!shop.names().contains(&"fitted.toml".to_owned()));
        let trusted = VISIT.replace("[[pull]]", "[[pull]]\ntrust_recording = true");
        shop.write("visit.toml", &trusted);
        let ran = shop.run("fit car.toml visit.toml --accept-misfit --json");
        assert_eq!(ran.code, 0, "{}", ran.err);
        let document = ran.json("pullcast/fit/2");
        let finding = &document["recordings"][0]["findings"][0];
        assert_eq!(finding["severity"], "warns");
        assert_eq!(finding["candidates"][0]["mistake"], "power_hp_as_kw");
        let warned = ran.records()[0]["problems"][0].clone();
        assert_eq!(warned["severity"], "warning", "{warned}");
    }
}

#[test]
fn a_wrong_inertia_names_the_one_that_agrees_and_a_wrong_final_drive_too() {
    let shop = Shop::new();
    with_drum_speed(&shop);
    shop.write("heavy.toml", &CAR.replace("90 kg m2", "99 kg m2"));
    let ran = shop.run("fit heavy.toml visit.toml --json");
    assert_eq!(ran.code, 65, "{}", ran.err);
    let problem = &ran.records()[0]["problems"][0];
    let expected = problem["expected"].as_str().expect("what would agree");
    assert!(expected.contains("drums.inertia 90"), "{expected}");

    shop.write(
        "long.toml",
        &CAR.replace("final_drive = 3.9", "final_drive = 3.5"),
    );
    let ran = shop.run("fit long.toml visit.toml --json");
    assert_eq!(ran.code, 65, "{}", ran.err);
    let records = ran.records();
    let problem = &records[0]["problems"][0];
    let told = problem["message"].as_str().expect("a message");
    assert!(told.contains("engine speed (rpm)"), "{told}");
    let expected = problem["expected"].as_str().expect("what would agree");
    // The log has no slip; the drive is told to what the doubt of slip leaves, and 3.9 lies in it.
    let value = expected
        .split("final_drive ")
        .nth(1)
        .and_then(|rest| rest.split(',').next())
        .and_then(|number| number.parse::<f64>().ok())
        .expect("a final drive");
    assert!((value / 3.9 - 1.0).abs() < 0.04, "{expected}");
}

#[test]
fn a_diagnosis_is_warned_and_goes_on() {
    let shop = Shop::new();
    with_drum_speed(&shop);
    shop.well("fit car.toml visit.toml --out fitted.toml");
    scale_power(&shop, HP_PER_KW);
    let ran = shop.run("diagnose fitted.toml visit.toml --pull 2");
    assert!(ran.err.contains("recording_contradicts"), "{}", ran.err);
    assert_eq!(ran.code, 0, "{}", ran.err);
}

#[test]
fn a_displacement_mistyped_is_warned_of_with_the_one_that_would_agree() {
    let shop = Shop::new();
    shop.measure();
    for (mm, mistyped_l) in [("96 mm", 2.779), ("77 mm", 1.434)] {
        shop.write("odd.toml", &CAR.replace("86 mm", mm));
        for verb in [
            "fit odd.toml visit.toml --accept-misfit",
            "quote odd.toml plan.toml --visit visit.toml --draws 60 --accept-misfit",
            "diagnose odd.toml visit.toml --pull 2",
        ] {
            let err = shop.run(verb).err;
            let err = err.split_whitespace().collect::<Vec<_>>().join(" ");
            let told = err
                .split("a displacement of ")
                .nth(1)
                .and_then(|rest| rest.split(' ').next());
            let told = told.unwrap_or_else(|| panic!("{verb}, {mistyped_l} l: {err}"));
            let told: f64 = told.parse().expect("a number");
            // 86 mm by 86 mm four times, to what an engine's own losses do not go with its size.
            assert!((told / 1.998 - 1.0).abs() < 0.07, "{verb}: {told}");
        }
    }
    // A car that was fitted has its size from the file it was fitted with.
    shop.well("fit car.toml visit.toml --out fitted.toml");
    let ran = shop.run("diagnose fitted.toml visit.toml --pull 2");
    assert!(!ran.err.contains("a displacement of"), "{}", ran.err);
}
