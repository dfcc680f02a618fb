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
        corrected_w: None,
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
