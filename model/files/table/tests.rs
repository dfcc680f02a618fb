//! One test for each way to write a wrong TOML file: the code, the place, the value and the expectation.

use super::*;
use crate::units::Dimension;
use std::fmt::Write as _;

struct Found {
    code: &'static str,
    line: usize,
    column: usize,
    value: &'static str,
    expected: &'static str,
}

/// A small car reader, as its author would write it.
fn car(table: &mut Table<'_>) -> Option<f64> {
    let name = table.optional_text("name");
    let ratio = table.optional_quantity("drive_ratio", Dimension::Ratio);
    let drive = table.optional_choice("drive", &[("front", 0), ("rear", 1), ("all", 2)]);
    let flag = table.optional_boolean("linked");
    let speeds = table
        .has("shift_speeds")
        .then(|| table.quantities("shift_speeds", Dimension::RotationalSpeed))
        .flatten();
    let engine = table.subtable("engine", |engine| {
        let bore = engine.quantity("bore", Dimension::Length);
        let bore = engine.within("bore", bore, 0.01..=0.3);
        let cylinders = engine.optional_integer("cylinders", 1..=16);
        let boost =
            engine.optional_quantity_of("boost", &[Dimension::GaugePressure, Dimension::Pressure]);
        let inertia = engine.optional_quantity("inertia", Dimension::Inertia);
        let inertia = engine.positive("inertia", inertia);
        let _ = (cylinders, boost, inertia);
        Some(bore?.value_si)
    });
    let gears = table.tables("gear", |gear| gear.quantity("ratio", Dimension::Ratio));
    let _ = (name, ratio, drive, flag, speeds, gears?);
    engine
}

fn problems(text: &str) -> Problems {
    match TomlFile::parse("car.toml", text) {
        Ok(file) => file.read(car).expect_err("a mistake in the file"),
        Err(problems) => problems,
    }
}

fn check(text: &str, expected: &Found) {
    let all = problems(text);
    let problem = all.iter().find(|p| p.code.name() == expected.code);
    let problem = problem.unwrap_or_else(|| panic!("{} in {all}", expected.code));
    assert_eq!(problem.file, "car.toml");
    assert_eq!(
        (problem.line, problem.column),
        (Some(expected.line), Some(expected.column)),
        "{all}"
    );
    assert_eq!(
        problem.value.as_deref().unwrap_or_default(),
        expected.value,
        "{all}"
    );
    let said = format!(
        "{} {}",
        problem.expected.as_deref().unwrap_or_default(),
        problem.help.as_deref().unwrap_or_default()
    );
    assert!(said.contains(expected.expected), "{said}");
}

#[test]
fn a_sound_file_reads_without_a_word() {
    let text = "name = \"estate\"\ndrive_ratio = \"2.16 ± 0.02\"\ndrive = \"all\"\nlinked = true\n\
        shift_speeds = [\"6500 rpm\", \"6700 rpm\"]\n[engine]\nbore = \"92.7 mm\"\ncylinders = 6\n\
        boost = \"8 psi gauge\"\n[[gear]]\nratio = 3.2\n[[gear]]\nratio = 2\n";
    let (bore_m, warnings) = TomlFile::parse("car.toml", text)
        .and_then(|file| file.read(car))
        .expect("sound");
    assert_eq!((bore_m, warnings.len()), (0.0927, 0));
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn every_mistake_points_at_its_value() {
    let engine = "[engine]\nbore = \"92.7 mm\"\n";
    for (text, expected) in [
        (
            "[engine]\nbore = 92.7\n".to_owned(),
            Found {
                code: "unit_missing",
                line: 2,
                column: 8,
                value: "92.7",
                expected: "bore = \"92.7 mm\"",
            },
        ),
        (
            "[engine]\nbore = \"92.7\"\n".to_owned(),
            Found {
                code: "unit_missing",
                line: 2,
                column: 9,
                value: "92.7",
                expected: "a length with its unit: m, mm, cm",
            },
        ),
        (
            "[engine]\nbore = \"92.7 kW\"\n".to_owned(),
            Found {
                code: "unit_wrong",
                line: 2,
                column: 14,
                value: "kW",
                expected: "m, mm, cm",
            },
        ),
        (
            "[engine]\nbore = \"92.7 mmm\"\n".to_owned(),
            Found {
                code: "unit_unknown",
                line: 2,
                column: 14,
                value: "mmm",
                expected: "m, mm, cm",
            },
        ),
        (
            "[engine]\nbore = \"92,7 mm\"\n".to_owned(),
            Found {
                code: "decimal_comma",
                line: 2,
                column: 9,
                value: "92,7",
                expected: "a length",
            },
        ),
        (
            "[engine]\nbore = nan\n".to_owned(),
            Found {
                code: "number_not_finite",
                line: 2,
                column: 8,
                value: "nan",
                expected: "a length",
            },
        ),
        (
            "[engine]\nbore = true\n".to_owned(),
            Found {
                code: "wrong_type",
                line: 2,
                column: 8,
                value: "true",
                expected: "\"... mm\"",
            },
        ),
        (
            "[engine]\nbore = \"9.27 m\"\n".to_owned(),
            Found {
                code: "out_of_range",
                line: 2,
                column: 8,
                value: "\"9.27 m\"",
                expected: "0.01000 m to 0.3000 m",
            },
        ),
        (
            format!("{engine}inertia = \"-0.2 kg m2\"\n"),
            Found {
                code: "out_of_range",
                line: 3,
                column: 11,
                value: "\"-0.2 kg m2\"",
                expected: "greater than zero",
            },
        ),
        (
            format!("{engine}boost = \"8 psi\"\n"),
            Found {
                code: "unit_ambiguous",
                line: 3,
                column: 12,
                value: "psi",
                expected: "psi gauge or psi absolute",
            },
        ),
        (
            format!("{engine}cylinders = 0\n"),
            Found {
                code: "out_of_range",
                line: 3,
                column: 13,
                value: "0",
                expected: "a whole number from 1 to 16",
            },
        ),
        (
            format!("{engine}cylinders = \"six\"\n"),
            Found {
                code: "wrong_type",
                line: 3,
                column: 13,
                value: "\"six\"",
                expected: "a whole number from 1 to 16",
            },
        ),
        (
            format!("drive = \"raer\"\n{engine}"),
            Found {
                code: "choice_unknown",
                line: 1,
                column: 9,
                value: "\"raer\"",
                expected: "did you mean \"rear\"?",
            },
        ),
        (
            format!("linked = \"yes\"\n{engine}"),
            Found {
                code: "wrong_type",
                line: 1,
                column: 10,
                value: "\"yes\"",
                expected: "true or false",
            },
        ),
        (
            format!("shift_speeds = [\"6500 rpm\", \"6700\"]\n{engine}"),
            Found {
                code: "unit_missing",
                line: 1,
                column: 30,
                value: "6700",
                expected: "rpm",
            },
        ),
        (
            "[engine]\ncylinders = 6\n".to_owned(),
            Found {
                code: "key_missing",
                line: 1,
                column: 1,
                value: "[engine]",
                expected: "bore = \"... mm\"",
            },
        ),
        (
            "name = \"estate\"\n".to_owned(),
            Found {
                code: "key_missing",
                line: 1,
                column: 1,
                value: "",
                expected: "[engine]",
            },
        ),
        (
            format!("{engine}cylinder = 6\n"),
            Found {
                code: "key_unknown",
                line: 3,
                column: 1,
                value: "cylinder",
                expected: "did you mean 'cylinders'?",
            },
        ),
        (
            format!("{engine}[[gear]]\nratio = 3\n[[gear]]\nratoi = 2\n"),
            Found {
                code: "key_unknown",
                line: 6,
                column: 1,
                value: "ratoi",
                expected: "did you mean 'ratio'?",
            },
        ),
        (
            format!("{engine}bore = \"93 mm\"\n"),
            Found {
                code: "key_duplicate",
                line: 3,
                column: 1,
                value: "bore",
                expected: "every key once",
            },
        ),
        (
            "engine = 3\n".to_owned(),
            Found {
                code: "wrong_type",
                line: 1,
                column: 10,
                value: "3",
                expected: "a table: [engine]",
            },
        ),
        (
            format!("gear = 3\n{engine}"),
            Found {
                code: "wrong_type",
                line: 1,
                column: 8,
                value: "3",
                expected: "[[gear]]",
            },
        ),
        (
            "[engine]\nbore = 92.7 mm\n".to_owned(),
            Found {
                code: "syntax",
                line: 2,
                column: 8,
                value: "92.7 mm",
                expected: "\"92.7 mm\"",
            },
        ),
        (
            format!("{engine}cylinders = ?\n"),
            Found {
                code: "syntax",
                line: 3,
                column: 13,
                value: "?",
                expected: "",
            },
        ),
    ] {
        check(&text, &expected);
    }
}

#[test]
fn all_mistakes_are_reported_at_once_and_in_order() {
    let all = problems(
        "drive = \"x\"\nlinked = 3\n[engine]\nbore = 1\ncylinders = 99\nvalves = 4\n[[gear]]\n",
    );
    let codes: Vec<&str> = all.iter().map(|problem| problem.code.name()).collect();
    assert_eq!(
        codes,
        [
            "choice_unknown",
            "wrong_type",
            "unit_missing",
            "out_of_range",
            "key_unknown",
            "key_missing"
        ]
    );
}

#[test]
fn several_syntax_errors_come_together() {
    let all = problems("a = \nb = \"open\n[engine\n");
    assert!(all.len() >= 3, "{all}");
    assert!(
        all.iter()
            .all(|problem| problem.code == Code::SYNTAX && problem.line.is_some()),
        "{all}"
    );
}

#[test]
fn a_table_written_twice_is_a_duplicate_key() {
    let all = problems("[engine]\nbore = \"92.7 mm\"\n[engine]\nbore = \"93 mm\"\n");
    let problem = all.first().expect("one problem");
    assert_eq!(
        (problem.code, problem.line),
        (Code::KEY_DUPLICATE, Some(3)),
        "{all}"
    );
    assert_eq!(problem.value.as_deref(), Some("engine"), "{all}");
}

#[test]
fn a_dotted_path_reaches_a_nested_table() {
    let file = TomlFile::parse(
        "car.toml",
        "[engine]\nbore = 1\n[engine.head]\nvalves = 4\nvalvs = 1\n",
    )
    .expect("sound");
    let problems = file
        .read(|root| root.at("engine.head", |head| head.integer("valves", 1..=8)))
        .expect_err("one unknown key in the last table");
    let names: Vec<_> = problems
        .iter()
        .map(|problem| problem.message.as_str())
        .collect();
    assert_eq!(names, ["'engine.head.valvs' is not a known key"]);
}

#[test]
fn a_readers_own_findings_point_at_the_value() {
    let text = "station_pressure = \"101.3 kPa\"\n";
    let file = TomlFile::parse("run.toml", text).expect("sound");
    let (_, warnings) = file
        .read(|run| {
            let pressure = run.quantity("station_pressure", Dimension::BarometricPressure);
            run.warning(
                "station_pressure",
                Code::OUT_OF_RANGE,
                "this looks like a sea-level pressure",
                "about 84 kPa",
            );
            pressure
        })
        .expect("a warning only");
    let warning = warnings.iter().next().expect("one warning");
    assert_eq!(
        (warning.line, warning.column, warning.value.as_deref()),
        (Some(1), Some(20), Some("\"101.3 kPa\""))
    );
}

#[test]
fn a_file_from_disk_reports_its_path() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("car.toml");
    let missing = TomlFile::open(&path).expect_err("not there");
    assert_eq!(
        missing.iter().next().map(|p| p.code),
        Some(Code::FILE_MISSING)
    );
    std::fs::write(&path, b"\xEF\xBB\xBF[engine]\r\nbore = 92.7\r\n").expect("writable");
    let problems = TomlFile::open(&path)
        .expect("sound TOML")
        .read(car)
        .expect_err("no unit");
    let problem = problems.iter().next().expect("one problem");
    assert_eq!(
        (problem.file.as_str(), problem.line, problem.column),
        (path.to_string_lossy().as_ref(), Some(2), Some(8))
    );
    std::fs::write(&path, " \n\t\n").expect("writable");
    let problems = TomlFile::open(&path).expect_err("blank");
    assert_eq!(
        problems.iter().next().map(|p| p.code),
        Some(Code::FILE_EMPTY)
    );
}

#[test]
fn a_recording_in_place_of_its_description_is_one_clear_error() {
    let mut csv = String::from("# a log\ntime (s),engine speed (rpm),wheel power (kW)\n");
    for row in 0..5000 {
        writeln!(csv, "{:.2},{},{}", f64::from(row) * 0.02, 1500 + row, 40)
            .expect("a String takes all");
    }
    for text in [csv.clone(), csv.replace(',', ";"), csv.replace(',', "\t")] {
        let problem = TomlFile::parse("run.csv", &text)
            .expect_err("no TOML")
            .only();
        assert_eq!(problem.code, Code::FILE_IS_RECORDING);
        let shown = problem.help.expect("what to do");
        assert!(
            shown.contains("new visit") && shown.contains("new drum-log"),
            "{shown}"
        );
    }
    // Numbers in the lists of a sound file are no recording.
    let lists = "flow = [\n1.0, 2.0,\n3.0, 4.0,\n5.0, 6.0,\n7.0, 8.0,\n]\n";
    assert!(TomlFile::parse("map.toml", lists).is_ok());
}

#[test]
fn a_text_that_is_no_toml_at_all_shows_a_few_places_and_counts_the_rest() {
    let text = "this is a letter and no file\n".repeat(100);
    let problems = TomlFile::parse("letter.toml", &text).expect_err("no TOML");
    assert_eq!(problems.len(), MOST_SYNTAX_PROBLEMS + 1, "{problems}");
    let last = problems.iter().last().expect("the count of the others");
    assert!(
        last.message.contains("92 more") || last.message.contains(" more places"),
        "{last}"
    );
}

#[test]
fn a_recording_too_large_for_a_description_is_told_what_describes_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("long.csv");
    let row = "0.001,100.25,1000.5\n";
    let rows = usize::try_from(TOML_LIMIT_BYTES).expect("small") / row.len() + 1;
    std::fs::write(&path, row.repeat(rows)).expect("a file");
    let problem = TomlFile::open(&path).expect_err("too large").only();
    assert_eq!(problem.code, Code::FILE_TOO_LARGE);
    assert!(
        problem
            .help
            .is_some_and(|help| help.contains("new drum-log"))
    );
}
