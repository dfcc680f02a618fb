//! Every starter file loads as it is, and with its optional keys counted in.

use super::*;
use crate::files::{plan, visit, weather};
use crate::parts;

fn parse(text: &str) -> TomlFile {
    TomlFile::parse("starter.toml", text).unwrap_or_else(|problems| panic!("{problems}"))
}

/// Takes the sign off every optional line.
pub(in crate::files) fn all_counted(text: &str) -> String {
    let plain = |line: &str| match line.strip_prefix('#') {
        Some(rest) if rest.starts_with(|c: char| c.is_ascii_lowercase() || c == '[') => {
            rest.to_owned()
        }
        _ => line.to_owned(),
    };
    text.lines().map(|line| plain(line) + "\n").collect()
}

#[test]
fn the_starter_car_is_a_car_and_its_shown_defaults_are_the_defaults() {
    shows_the_defaults(WrittenIn::Metric);
}

#[test]
fn the_starter_car_in_shop_units_shows_the_same_defaults() {
    shows_the_defaults(WrittenIn::Shop);
}

fn shows_the_defaults(units: WrittenIn) {
    let (bare, warnings) = car::read(&parse(&super::car()), Path::new(""))
        .unwrap_or_else(|problems| panic!("{problems}"));
    assert!(warnings.is_empty(), "{warnings}");
    // Every optional number of a car without blower, cooler and axle stands in the file.
    let text = super::text(FileKind::Car, units);
    for belief in &bare.sheet.beliefs {
        let line = format!("{} = ", belief.parameter.key());
        assert!(text.contains(&line), "{}", belief.parameter.path);
    }
    let only_plain: String = all_counted(&text);
    let stated = only_plain.replace("coupling = \"single\"", "coupling = \"separate\"");
    let (full, warnings) =
        car::read(&parse(&stated), Path::new("")).unwrap_or_else(|problems| panic!("{problems}"));
    // The keys of a centrifugal blower are shown beside those of the screw blower, which does not use them.
    for warning in warnings.iter() {
        assert_eq!(warning.code, crate::files::belief::KEY_UNUSED, "{warning}");
    }
    for belief in &bare.sheet.beliefs {
        let same = full
            .sheet
            .beliefs
            .iter()
            .find(|b| b.parameter == belief.parameter)
            .expect("the same number");
        // A mass is stated in the full file, and the loads follow from it.
        if belief.parameter.path == "wheels.load" {
            continue;
        }
        // Four digits are shown.
        let close = |a: f64, b: f64| (a - b).abs() <= 1e-3 * b.abs().max(1e-9);
        assert!(
            close(same.prior.centre(), belief.prior.centre()),
            "{}",
            belief.parameter.path
        );
        assert!(
            close(same.prior.sd(), belief.prior.sd())
                || belief.parameter.path == "fuel.motor_octane",
            "{}",
            belief.parameter.path
        );
    }
}

#[test]
fn the_starter_plan_loads_with_every_kind_of_change() {
    for units in [WrittenIn::Metric, WrittenIn::Shop] {
        let text = super::text(FileKind::Plan, units);
        let (bare, warnings) =
            plan::read(&parse(&text), Path::new("")).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!((bare.plan.changes.len(), warnings.len()), (2, 0));
        let (full, _) = plan::read(&parse(&all_counted(&text)), Path::new(""))
            .unwrap_or_else(|p| panic!("{p}"));
        let shown = |kind: &&parts::Kind| full.plan.changes.iter().any(|c| c.kind().id == kind.id);
        let missing: Vec<_> = parts::kinds().filter(|kind| !shown(kind)).collect();
        assert!(missing.is_empty(), "{missing:?}");
    }
}

#[test]
fn a_long_file_in_shop_units_has_no_metric_quantity() {
    for kind in FileKind::ALL {
        let text = super::text(kind, WrittenIn::Shop);
        // A number, a blank and a unit; names of units that a log may have stand without a number.
        let words: Vec<&str> = text
            .split(|c: char| c.is_whitespace() || "\",;:()".contains(c))
            .map(|word| word.trim_end_matches('.'))
            .collect();
        for pair in words.windows(2) {
            let metric = [
                "mm", "mm2", "mm²", "cm", "m", "m/s", "km/h", "kPa", "hPa", "bar", "kg", "kg/s",
                "kg/min", "g", "g/s", "g/min", "L", "L/rev", "L/h", "cm3/min", "kJ/K", "W/K",
                "kW/K", "kW", "N", "°C", "K",
            ];
            let number = pair[0].parse::<f64>().is_ok();
            assert!(!(number && metric.contains(&pair[1])), "{pair:?} in {text}");
        }
    }
}

#[test]
fn the_starter_weather_and_visit_load_once_their_recordings_are_there() {
    let (room, warnings) =
        weather::read(&parse(&super::weather())).unwrap_or_else(|p| panic!("{p}"));
    assert_eq!((room.day.station().pa(), warnings.len()), (100_000.0, 0));
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut table = String::from("time (s),engine speed,wheel power (kW)\n");
    for row in 0..400 {
        let (time, rpm) = (0.02 * f64::from(row), 2000.0 + 10.0 * f64::from(row));
        // Writing to a String cannot fail.
        let _ = writeln!(table, "{time},{rpm},{}", 0.02 * rpm);
    }
    for name in ["pull1.csv", "pull2.csv"] {
        std::fs::write(
            folder.path().join(name),
            table.replace("speed,", "speed (rpm),"),
        )
        .expect("a file");
    }
    let (bare, warnings) =
        visit::read(&parse(&super::visit()), folder.path()).unwrap_or_else(|p| panic!("{p}"));
    assert_eq!((bare.visit.pulls.len(), warnings.len()), (2, 0));
    std::fs::write(folder.path().join("pull2.csv"), &table).expect("a file");
    let counted = all_counted(&super::visit());
    let (full, _) = visit::read(&parse(&counted), folder.path()).unwrap_or_else(|p| panic!("{p}"));
    assert_eq!(full.visit.pulls[1].rest_s, Some(300.0));
    assert!(!full.visit.pulls[1].conditions.axle.on);
    assert_eq!(full.entered[1].drum_inertia_kg_m2, Some(110.0));
}
