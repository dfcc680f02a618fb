//! The recorded pulls of the project, read as a shop's files.

use super::*;
use std::fmt::Write as _;

/// One recording of an independent crank-angle simulator (see its README), read here by nothing but splitting at commas.
const CASE: &str = "validation/data/recorded_pulls/cooler_upgrade_pd_v8_5pulls/baseline";

#[test]
fn a_recorded_pull_is_read_as_its_columns_say() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(CASE);
    let text = std::fs::read_to_string(folder.join("run1.csv")).expect("a recorded pull");
    let header: Vec<&str> = text.lines().next().expect("a header").split(',').collect();
    let column = |name: &str| -> Vec<f64> {
        let at = header.iter().position(|h| *h == name).expect("a column");
        let cell = |line: &str| line.split(',').nth(at).and_then(|cell| cell.parse().ok());
        text.lines().skip(1).filter_map(cell).collect()
    };
    let visit = "kind = \"visit\"\nversion = 1\nname = \"baseline\"\n[weather]\ntemperature = \"20 °C\"\n\
        relative_humidity = \"50 %\"\nstation_pressure = \"99 kPa\"\n[[pull]]\nfile = \"run1.csv\"\n\
        manifold_pressure = \"absolute\"\n[[pull]]\nfile = \"run2.csv\"\nmanifold_pressure = \"absolute\"\n\
        [pull.weather]\ntemperature = \"22 °C\"\n";
    let file = TomlFile::parse("visit.toml", visit).unwrap_or_else(|p| panic!("{p}"));
    let (found, warnings) = read(&file, &folder).unwrap_or_else(|p| panic!("{p}"));
    // Torque taken at engine speed by convention, once for each recording.
    assert!(
        warnings.iter().all(|w| w.code == Code::COLUMN_CONVENTION),
        "{warnings}"
    );
    let pull = &found.visit.pulls[0];
    let by_hand = crate::dyno::Recording {
        drum_rad_s: None,
        blower_rad_s: None,
        spark_deg: None,
        fuel_kg_s: None,
        air_kg_s: None,
        corrected_w: None,
        force_w: None,
        time_s: column("time_s"),
        engine_rpm: column("engine_rpm"),
        power_w: column("wheel_power_kw").iter().map(|kw| 1e3 * kw).collect(),
        manifold_pa: Some(
            column("manifold_pressure_kpa")
                .iter()
                .map(|kpa| 1e3 * kpa)
                .collect(),
        ),
        charge_k: Some(column("charge_temp_c").iter().map(|c| c + 273.15).collect()),
        lambda: Some(column("lambda")),
        ..crate::dyno::Recording::default()
    };
    let curve = by_hand.reduce(BAND_RPM).expect("a pull");
    assert_eq!(curve.bands.len(), pull.curve.bands.len());
    for (a, b) in curve.bands.iter().zip(&pull.curve.bands) {
        // Engine speed goes to rad/s and back: the last bits differ.
        assert!((a.power_w / b.power_w - 1.0).abs() < 1e-9 && (a.rpm / b.rpm - 1.0).abs() < 1e-9);
        assert!(
            (a.manifold_pa.expect("logged") / b.manifold_pa.expect("logged") - 1.0).abs() < 1e-9
        );
        assert!((a.charge_k.expect("logged") - b.charge_k.expect("logged")).abs() < 1e-9);
    }
    // The second pull's own temperature replaces the visit's, its other readings stay.
    let days: Vec<_> = found
        .visit
        .pulls
        .iter()
        .map(|p| (p.day.temperature_k(), p.day.station().pa()))
        .collect();
    assert_eq!(days, [(293.15, 99e3), (295.15, 99e3)]);
}

#[test]
fn boost_is_taken_over_the_pressure_of_the_room() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut table =
        String::from("time (s),engine speed (rpm),wheel power (kW),boost (psi gauge)\n");
    for row in 0..400 {
        let rpm = 2000.0 + 10.0 * f64::from(row);
        // Writing to a String cannot fail.
        let _ = writeln!(table, "{},{rpm},{},10", 0.02 * f64::from(row), 0.02 * rpm);
    }
    std::fs::write(folder.path().join("run.csv"), table).expect("a file");
    let visit = "kind = \"visit\"\nversion = 1\nname = \"x\"\n[weather]\ntemperature = \"20 °C\"\ndew_point = \"8 °C\"\n\
        station_pressure = \"900 hPa\"\n[[pull]]\nfile = \"run.csv\"\ncharge = \"64 %\"\nelectric_axle = \"off\"\n";
    let file = TomlFile::parse("visit.toml", visit).unwrap_or_else(|p| panic!("{p}"));
    let (found, _) = read(&file, folder.path()).unwrap_or_else(|p| panic!("{p}"));
    let pull = &found.visit.pulls[0];
    // 10 psi is 68 947.57 Pa (exact definition of the pound-force per square inch).
    let manifold = pull.curve.bands[3].manifold_pa.expect("logged");
    assert!((manifold - 158_947.57).abs() < 0.01, "{manifold}");
    assert_eq!(
        (pull.conditions.axle.on, pull.conditions.axle.charge),
        (false, 0.64)
    );
}

/// A pull of 8 s with every channel that has a range; `spoil` may change a row's cells.
fn spoiled(
    time: &str,
    spoil: impl Fn(usize, &mut [String; 7]),
) -> Result<(VisitFile, Problems), Problems> {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut table = format!(
        "{time},engine speed (rpm),wheel power (kW),manifold pressure (kPa absolute),charge temp (°C),lambda,drum speed (rpm)\n"
    );
    for row in 0..400_usize {
        let rpm = 2000.0 + 10.0 * row as f64;
        let mut cells = [
            0.02 * row as f64,
            rpm,
            0.02 * rpm,
            98.0,
            30.0,
            0.88,
            0.2 * rpm,
        ]
        .map(|value| format!("{value:.3}"));
        spoil(row, &mut cells);
        // Writing to a String cannot fail.
        let _ = writeln!(table, "{}", cells.join(","));
    }
    std::fs::write(folder.path().join("run.csv"), table).expect("a file");
    let visit = "kind = \"visit\"\nversion = 1\nname = \"x\"\n[weather]\ntemperature = \"20 °C\"\ndew_point = \"8 °C\"\n\
        station_pressure = \"900 hPa\"\n[[pull]]\nfile = \"run.csv\"\n";
    let file = TomlFile::parse("visit.toml", visit).unwrap_or_else(|p| panic!("{p}"));
    read(&file, folder.path())
}

#[test]
fn a_reading_that_no_car_makes_is_refused_with_row_value_and_range() {
    // Row 200 is on line 202 of the file.
    for (cell, text, value, range) in [
        (2, "9999", "9999 kW", "at most 5000 kW"),
        (2, "-60", "-60.00 kW", "kW"),
        (
            3,
            "-20",
            "-20.00 kPa",
            "more than 0 and at most 600.0 kPa; is it gauge pressure, 'boost', and not absolute?",
        ),
        (3, "980", "980.0 kPa", "at most 600.0 kPa"),
        (
            4,
            "-70",
            "-70.00 °C",
            "at least -60.00 and at most 300.0 °C",
        ),
        (4, "310", "310.0 °C", "at most 300.0 °C"),
        (5, "0", "0", "more than 0 and at most 5.000"),
        (5, "14.7", "14.70", "at most 5.000"),
        (6, "0", "0 rpm", "more than 0"),
    ] {
        let problems = spoiled("time (s)", |row, cells| {
            if row == 200 || row == 300 {
                text.clone_into(&mut cells[cell]);
            }
        })
        .expect_err(text);
        let problem = problems
            .with_code(Code::OUT_OF_RANGE)
            .next()
            .unwrap_or_else(|| panic!("{text}: {problems}"));
        assert_eq!(
            (problem.line, problem.value.as_deref()),
            (Some(202), Some(value)),
            "{problems}"
        );
        assert!(
            problem.file.ends_with("run.csv")
                && problem.message.contains("and one more row is out of range")
                && problem
                    .expected
                    .as_deref()
                    .is_some_and(|e| e.contains(range)),
            "{problems}"
        );
    }
}

#[test]
fn a_reading_far_off_its_neighbours_is_left_out_and_named() {
    let (clean, quiet) = spoiled("time (s)", |_, _| ()).unwrap_or_else(|p| panic!("{p}"));
    assert_eq!(quiet.with_code(READING_LEFT_OUT).count(), 0, "{quiet}");
    for (cell, text) in [(2, "961"), (3, "590"), (4, "250"), (5, "4.9"), (6, "5000")] {
        let (found, warnings) = spoiled("time (s)", |row, cells| {
            if row == 200 {
                text.clone_into(&mut cells[cell]);
            }
        })
        .unwrap_or_else(|p| panic!("{p}"));
        let told: Vec<_> = warnings.with_code(READING_LEFT_OUT).collect();
        assert!(
            told.len() == 1 && told[0].line == Some(202),
            "{text}: {warnings}"
        );
        let bands = |file: &VisitFile| file.visit.pulls[0].curve.bands.clone();
        let (here, there) = (bands(&found), bands(&clean));
        assert_eq!(here.len(), there.len());
        for (a, b) in here.iter().zip(&there) {
            // Ten rows make a band: one row less moves its means by half a row's step at most, 0.1 kW of power.
            assert!((a.power_w - b.power_w).abs() <= 100.0, "{a:?} {b:?}");
            for (a, b) in [
                (a.manifold_pa, b.manifold_pa),
                (a.charge_k, b.charge_k),
                (a.lambda, b.lambda),
            ] {
                assert!((a.expect("logged") / b.expect("logged") - 1.0).abs() < 1e-9);
            }
        }
    }
    // Where boost arrives at once, no reading is taken for a lone one.
    let (_, warnings) = spoiled("time (s)", |row, cells| {
        if row >= 200 {
            "450".clone_into(&mut cells[3]);
            "900".clone_into(&mut cells[2]);
        }
    })
    .unwrap_or_else(|p| panic!("{p}"));
    assert_eq!(
        warnings.with_code(READING_LEFT_OUT).count(),
        0,
        "{warnings}"
    );
    // A signal that jumps all the time is no signal.
    let problems = spoiled("time (s)", |row, cells| {
        if row % 8 == 0 {
            "590".clone_into(&mut cells[3]);
        }
    })
    .expect_err("a broken sensor");
    assert_eq!(
        problems.with_code(READING_LEFT_OUT).count(),
        1,
        "{problems}"
    );
}

#[test]
fn a_pull_that_lasts_as_long_as_none_can_is_refused() {
    // 7.98 s of the table read as milliseconds, and 15.96 as minutes.
    for (time, value) in [("time (ms)", "0.007980 s"), ("time (min)", "957.6 s")] {
        let minutes = time.contains("min");
        let problems = spoiled(time, |row, cells| {
            if minutes {
                cells[0] = format!("{:.3}", 0.04 * row as f64);
            }
        })
        .expect_err(time);
        let problem = problems.first().expect("a problem");
        assert_eq!(
            (problem.code, problem.value.as_deref()),
            (Code::OUT_OF_RANGE, Some(value)),
            "{problems}"
        );
        assert!(
            problem.message.contains(&format!("column '{time}'"))
                && problem
                    .expected
                    .as_deref()
                    .is_some_and(|e| e.contains("0.5 s to 600 s")),
            "{problems}"
        );
    }
}

#[test]
fn a_speed_of_the_drums_surface_tells_how_they_turn_and_a_road_speed_does_not() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let visit = folder.path().join("visit.toml");
    std::fs::write(
        &visit,
        "kind = \"visit\"\nversion = 1\nname = \"v\"\n[weather]\ntemperature = \"20 °C\"\nrelative_humidity = \"50 %\"\n\
         station_pressure = \"99 kPa\"\n[[pull]]\nfile = \"run.csv\"\n",
    )
    .expect("a visit");
    // From 60 to 160 km/h in five seconds, on drums of half a metre.
    let energy = |head: &str, radius_m: Option<f64>| {
        let mut text = format!("time (s),engine speed (rpm),wheel power (kW),{head} (km/h)\n");
        for row in 0..=100 {
            let kmh = f64::from(row) + 60.0;
            let _ = writeln!(text, "{},{},90,{kmh}", 0.05 * f64::from(row), 40.0 * kmh);
        }
        std::fs::write(folder.path().join("run.csv"), text).expect("a log");
        let (found, _) = open_on(&visit, radius_m).unwrap_or_else(|p| panic!("{p}"));
        found.visit.pulls[0].curve.rig.energy.expect("rows")
    };
    for head in [
        "roller speed",
        "Rollengeschwindigkeit",
        "drum surface speed",
    ] {
        let energy = energy(head, Some(0.5));
        let [_, last] = energy.drum_rad_s.expect(head);
        // The engine turns forty times a minute for each km/h.
        let kmh = units::rpm(energy.engine_rad_s[1]) / 40.0;
        assert!(
            (last / (kmh / 3.6 / 0.5) - 1.0).abs() < 1e-6,
            "{head} {last}"
        );
    }
    assert!(energy("road speed", Some(0.5)).drum_rad_s.is_none());
    assert!(energy("roller speed", None).drum_rad_s.is_none());
}
