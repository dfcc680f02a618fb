//! Mistakes in car, plan, visit and weather files, and in the paths to them.

use pullcast::files::{Severity, TomlFile};

use super::*;

#[test]
fn the_files_of_these_tests_are_sound_before_they_are_spoilt() {
    let folder = Folder::new();
    let (_, warnings) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
    assert!(warnings.is_empty(), "{warnings}");
    let (visit, warnings) =
        files::visit::open(&folder.visit(WEATHER, "", &csv(HEADER, 400))).expect("a visit");
    assert!(warnings.is_empty(), "{warnings}");
    assert!(visit.visit.pulls[0].curve.bands.len() > 30);
}

#[test]
fn a_missing_file_is_named() {
    let folder = Folder::new();
    let path = folder.0.path().join("no_car.toml");
    let missing = Said {
        code: "file_missing",
        line: None,
        value: "no such file",
        expected: "existing file",
    };
    only(&refused(files::car::open(&path)), "no_car.toml", &missing);
    only(&refused(files::plan::open(&path)), "no_car.toml", &missing);
    // A recording that is missing is a mistake of the visit, at the line that names it.
    let visit = folder.visit(WEATHER, "", "");
    std::fs::remove_file(folder.0.path().join("run.csv")).expect("it was there");
    let at = Said {
        code: "file_missing",
        line: Some(9),
        value: "run.csv",
        expected: "path of a recording",
    };
    only(&refused(files::visit::open(&visit)), "visit.toml", &at);
}

#[test]
fn a_folder_is_no_file() {
    let folder = Folder::new();
    let problems = refused(files::weather::open(folder.0.path()));
    let name = folder
        .0
        .path()
        .file_name()
        .expect("a name")
        .to_string_lossy()
        .into_owned();
    only(
        &problems,
        &name,
        &Said {
            code: "file_is_folder",
            line: None,
            value: "folder",
            expected: "a file",
        },
    );
}

#[test]
fn an_empty_file_is_said_to_be_empty() {
    let empty = Said {
        code: "file_empty",
        line: None,
        value: "empty",
        expected: "content",
    };
    only(
        &refused(files::car::open(&Folder::new().write("car.toml", "\n"))),
        "car.toml",
        &empty,
    );
    only(&recording(""), "run.csv", &empty);
}

#[test]
fn a_negative_inertia_is_out_of_range() {
    let at = Said {
        code: "out_of_range",
        line: Some(18),
        value: "-240",
        expected: "0.5000 kg m2 to 5000 kg m2",
    };
    only(&car("\"240 kg m2\"", "\"-240 kg m2\""), "car.toml", &at);
}

#[test]
fn a_key_written_twice_is_refused() {
    let at = Said {
        code: "key_duplicate",
        line: Some(7),
        value: "bore",
        expected: "every key once",
    };
    only(
        &car("stroke = \"86 mm\"", "bore = \"86 mm\""),
        "car.toml",
        &at,
    );
}

#[test]
fn a_unit_of_another_kind_is_refused() {
    let at = Said {
        code: "unit_wrong",
        line: Some(6),
        value: "kg",
        expected: "mm",
    };
    only(
        &car("bore = \"86 mm\"", "bore = \"92 kg\""),
        "car.toml",
        &at,
    );
}

#[test]
fn a_number_without_its_unit_is_refused() {
    let at = Said {
        code: "unit_missing",
        line: Some(6),
        value: "86",
        expected: "mm",
    };
    only(&car("bore = \"86 mm\"", "bore = 86"), "car.toml", &at);
    only(&car("bore = \"86 mm\"", "bore = \"86\""), "car.toml", &at);
}

#[test]
fn a_decimal_comma_is_refused_in_a_car_file() {
    let at = Said {
        code: "decimal_comma",
        line: Some(6),
        value: "86,5",
        expected: "a length",
    };
    only(
        &car("bore = \"86 mm\"", "bore = \"86,5 mm\""),
        "car.toml",
        &at,
    );
}

#[test]
fn an_unknown_key_is_refused_with_the_nearest() {
    let problems = car("redline =", "redlime =");
    // The misspelt key, and the key that is now missing.
    assert_eq!(problems.len(), 2, "{problems}");
    let unknown = problems
        .with_code(files::Code::KEY_UNKNOWN)
        .next()
        .expect("unknown");
    let at = Said {
        code: "key_unknown",
        line: Some(9),
        value: "redlime",
        expected: "redline",
    };
    holds(unknown, "car.toml", &at);
    assert_eq!(unknown.help.as_deref(), Some("did you mean 'redline'?"));
    let at = Said {
        code: "key_missing",
        line: Some(4),
        value: "redline",
        expected: "rpm",
    };
    holds(
        problems
            .with_code(files::Code::KEY_MISSING)
            .next()
            .expect("missing"),
        "car.toml",
        &at,
    );
}

#[test]
fn a_wrong_choice_is_refused_with_the_nearest() {
    let problems = car("gear = 1.36", "gear = 1.36\ngearbox = \"manuel\"");
    let at = Said {
        code: "choice_unknown",
        line: Some(14),
        value: "manuel",
        expected: "\"automatic\"",
    };
    only(&problems, "car.toml", &at);
    assert_eq!(
        problems.first().and_then(|p| p.help.as_deref()),
        Some("did you mean \"manual\"?")
    );
    let plan = format!("{PLAN}[[change]]\nkind = \"puley\"\nratio_factor = 1.1\n");
    let problems = refused(files::plan::open(&Folder::new().write("plan.toml", &plan)));
    let at = Said {
        code: "choice_unknown",
        line: Some(5),
        value: "puley",
        expected: "\"pulley\"",
    };
    only(&problems, "plan.toml", &at);
}

#[test]
fn a_file_of_another_kind_is_refused() {
    let problems = refused(files::plan::open(
        &Folder::new().write("car.toml", "kind = \"car\"\nversion = 1\nname = \"x\"\n"),
    ));
    let at = Said {
        code: "choice_unknown",
        line: Some(1),
        value: "car",
        expected: "\"plan\"",
    };
    holds(problems.first().expect("at least one"), "car.toml", &at);
    let problems = car("version = 1", "version = 2");
    only(
        &problems,
        "car.toml",
        &Said {
            code: "out_of_range",
            line: Some(2),
            value: "2",
            expected: "from 1 to 1",
        },
    );
}

#[test]
fn a_humidity_of_140_per_cent_is_refused() {
    let weather = WEATHER.replace("60 %", "140 %");
    let visit = Folder::new();
    let problems = refused(files::visit::open(&visit.visit(
        &weather,
        "",
        &csv(HEADER, 400),
    )));
    let at = Said {
        code: "out_of_range",
        line: Some(6),
        value: "140",
        expected: "0 % to 100",
    };
    only(&problems, "visit.toml", &at);
}

#[test]
fn a_sea_level_pressure_given_as_station_pressure_is_warned_about_with_the_value_to_expect() {
    let text = format!("kind = \"weather\"\nversion = 1\n{WEATHER}altitude = \"1600 m\"\n")
        .replace("1000 hPa", "1013.25 hPa");
    let (weather, warnings) =
        files::weather::open(&Folder::new().write("weather.toml", &text)).expect("only a warning");
    // The standard atmosphere (ISO 2533 table) has 835.2 hPa at 1600 m.
    let at = Said {
        code: "pressure_doubtful",
        line: Some(5),
        value: "1013.2",
        expected: "835.2 hPa",
    };
    only(&warnings, "weather.toml", &at);
    assert_eq!(
        warnings.first().map(|w| w.severity),
        Some(Severity::Warning)
    );
    assert_eq!(
        weather.day.station().pa(),
        101_325.0,
        "nothing is corrected in silence"
    );
}

#[test]
fn two_pressures_at_once_and_none_at_all_are_asked_back() {
    let of = |pressure: &str| {
        let text = format!(
            "kind = \"weather\"\nversion = 1\n{}altitude = \"100 m\"\n",
            WEATHER.replace("station_pressure = \"1000 hPa\"\n", pressure)
        );
        refused(files::weather::open(
            &Folder::new().write("weather.toml", &text),
        ))
    };
    let both = of("station_pressure = \"1000 hPa\"\naltimeter = \"30 inHg\"\n");
    let at = Said {
        code: "key_conflict",
        line: Some(6),
        value: "altimeter",
        expected: "exactly one of",
    };
    only(&both, "weather.toml", &at);
    let none = of("");
    assert_eq!(none.first().map(|p| p.code.name()), Some("key_missing"));
    assert!(
        none.first()
            .and_then(|p| p.expected.as_deref())
            .is_some_and(|e| e.contains("sea_level_pressure"))
    );
}

#[test]
fn a_plan_that_removes_a_blower_the_car_lacks_is_refused_at_its_change() {
    let folder = Folder::new();
    let text = format!(
        "{PLAN}[[change]]\nkind = \"intake\"\narea_factor = 1.2\n[[change]]\nkind = \"remove blower\"\n[[change]]\nkind = \"remove charge cooler\"\n"
    );
    let (plan, _) = files::plan::open(&folder.write("plan.toml", &text)).expect("a plan");
    let (car, _) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
    let problems = refused(plan.check(&car.sheet.centre.car));
    assert_eq!(problems.len(), 2, "{problems}");
    let at = Said {
        code: "plan_unfit",
        line: Some(8),
        value: "remove blower",
        expected: "a part the car has",
    };
    holds(problems.first().expect("two"), "plan.toml", &at);
    let cooler = problems.iter().nth(1).expect("two");
    assert_eq!(cooler.line, Some(10));
    // What is removed comes off before anything is fitted, so the blower of the same plan is not there yet.
    let text = format!(
        "{PLAN}[[change]]\nkind = \"displacement blower\"\nrotors = \"screw\"\ndisplacement = \"1.2 L/rev\"\ndrive_ratio = 2.0\n[[change]]\nkind = \"remove blower\"\n"
    );
    let (plan, _) = files::plan::open(&folder.write("plan.toml", &text)).expect("a plan");
    assert!(plan.check(&car.sheet.centre.car).is_err());
}

#[test]
fn a_map_that_cannot_be_is_refused_in_its_own_file() {
    let folder = Folder::new();
    let map = "# wheel diameter: 92 mm\n# reference pressure: 100 kPa\n# reference temperature: 25 °C\n\
        corrected flow (kg/s), pressure ratio, efficiency, speed (rpm)\n0.10, 1.50, 0.70, 40000\n0.15, 1.48, x, 40000\n";
    folder.write("map.csv", map);
    let text =
        format!("{CAR}[blower]\nkind = \"centrifugal\"\ndrive_ratio = 8\nmap = \"map.csv\"\n");
    let problems = refused(files::car::open(&folder.write("car.toml", &text)));
    only(
        &problems,
        "map.csv",
        &Said {
            code: "number_invalid",
            line: Some(6),
            value: "'x'",
            expected: "four numbers",
        },
    );
    folder.write("map.csv", &map.replace("x, 40000", "0.75, 40000"));
    let problems = refused(files::car::open(&folder.0.path().join("car.toml")));
    let at = Said {
        code: "map_invalid",
        line: Some(23),
        value: "2 points",
        expected: "at least three points",
    };
    only(&problems, "car.toml", &at);
}

#[test]
fn several_mistakes_are_reported_at_once_each_at_its_line() {
    let text = CAR
        .replace("cylinders = 4", "cylinders = \"four\"")
        .replace("bore = \"86 mm\"", "bore = \"86\"")
        .replace("research_octane = 95", "research_octan = 95")
        .replace("final_drive = 3.9", "final_drive = 39")
        .replace("\"0.35 m\"", "\"0.35 m\"\ncoupling = \"linkd\"");
    let problems = refused(files::car::open(&Folder::new().write("car.toml", &text)));
    let found: Vec<(&str, Option<usize>)> =
        problems.iter().map(|p| (p.code.name(), p.line)).collect();
    let expected = [
        ("unit_missing", Some(6)),
        ("wrong_type", Some(5)),
        ("key_missing", Some(10)),
        ("key_unknown", Some(11)),
        ("out_of_range", Some(14)),
        ("choice_unknown", Some(20)),
    ];
    assert_eq!(found, expected, "{problems}");
    // And mistakes of the visit come together with those of its recordings.
    let folder = Folder::new();
    let visit = folder.visit(WEATHER, "charge = \"120 %\"\n", &csv(HEADER, 400));
    let text = std::fs::read_to_string(&visit).expect("written")
        + "[[pull]]\nfile = \"run.csv\"\nrest_befor = \"5 min\"\n";
    let problems = refused(files::visit::open(&folder.write("visit.toml", &text)));
    let found: Vec<(&str, Option<usize>)> =
        problems.iter().map(|p| (p.code.name(), p.line)).collect();
    assert_eq!(
        found,
        [("out_of_range", Some(10)), ("key_unknown", Some(13))]
    );
}

#[test]
fn nothing_is_left_of_a_file_that_could_not_be_written() {
    let folder = Folder::new();
    let (car, _) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
    let path = folder.0.path().join("no_such_folder").join("fitted.toml");
    let result = files::car_write::save(
        &path,
        &car,
        &car.sheet,
        &files::car_write::Account::default(),
        files::Overwrite::Refuse,
    );
    let at = Said {
        code: "file_not_written",
        line: None,
        value: "cannot be written",
        expected: "existing folder",
    };
    only(&refused(result), "fitted.toml", &at);
    let names: Vec<_> = std::fs::read_dir(folder.0.path())
        .expect("a folder")
        .filter_map(Result::ok)
        .map(|e| e.file_name())
        .collect();
    assert_eq!(names, ["car.toml"]);
    let overwritten = files::car_write::save(
        &folder.0.path().join("car.toml"),
        &car,
        &car.sheet,
        &files::car_write::Account::default(),
        files::Overwrite::Refuse,
    );
    let at = Said {
        code: "file_exists",
        line: None,
        value: "already there",
        expected: "new name",
    };
    only(&refused(overwritten), "car.toml", &at);
}

proptest::proptest! {
    /// Whatever stands in place of a value, the answer is a car or a problem, never a panic.
    #[test]
    fn no_value_makes_the_reader_panic(line in 3..18_usize, value in "[a-z0-9.\"±%,/ -]{1,12}") {
        let text: String = CAR
            .lines()
            .enumerate()
            .map(|(at, written)| match written.split_once(" = ") {
                Some((key, _)) if at == line => format!("{key} = {value}\n"),
                _ => format!("{written}\n"),
            })
            .collect();
        if let Ok(file) = TomlFile::parse("car.toml", &text) {
            let _ = files::car::read(&file, std::path::Path::new(""));
        }
    }
}

#[test]
fn a_doubt_larger_than_its_number_is_remarked_where_the_number_cannot_be_nothing() {
    let folder = Folder::new();
    let open = |from: &str, to: &str| {
        assert!(CAR.contains(from), "{from}");
        let path = folder.write("car.toml", &CAR.replacen(from, to, 1));
        files::car::open(&path).unwrap_or_else(|p| panic!("{p}")).1
    };
    let wide = open("inertia = \"240 kg m2\"", "inertia = \"240 ± 300 kg m2\"");
    let said = Said {
        code: "doubt_wide",
        line: Some(18),
        value: "1.2 times the value",
        expected: "a tolerance smaller than the value, or a factor",
    };
    only(&wide, "car.toml", &said);
    // As much as the number, a factor, and a drag that may be nothing are as they should be.
    let drag = "inertia = \"240 kg m2\"\ndrag = \"20 ± 30 N\"";
    for sound in [
        "inertia = \"240 ± 240 kg m2\"",
        "inertia = \"240 kg m2 */ 3\"",
        drag,
    ] {
        let warnings = open("inertia = \"240 kg m2\"", sound);
        assert!(warnings.is_empty(), "{sound}: {warnings}");
    }
    let plan =
        format!("{PLAN}[[change]]\nkind = \"exhaust\"\nback_pressure_factor = \"0.8 ± 1.0\"\n");
    let (_, warnings) = files::plan::open(&folder.write("plan.toml", &plan)).expect("a plan");
    let said = Said {
        code: "doubt_wide",
        line: Some(6),
        value: "1.2 times the value",
        expected: "",
    };
    only(&warnings, "plan.toml", &said);
}
