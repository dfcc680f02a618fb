//! Mistakes in the engine parts of a plan: every field of every kind, one row for each class of mistake.

use super::*;

/// A sound change of every kind, and the keys it must have.
const SOUND: [(&str, &str, &[&str]); 10] = [
    (
        "throttle",
        "bore_from = \"65 mm\"\nbore_to = \"70 mm\"\n",
        &["bore_from", "bore_to"],
    ),
    (
        "headers",
        "area_factor = 1.3\nshare = 0.4\nscavenging = \"8 kPa\"\n",
        &["area_factor"],
    ),
    (
        "camshaft",
        "duration_change = \"16 deg\"\nclosing_change = \"8 deg\"\nexhaust_duration_change = \"12 deg\"\n\
         exhaust_centre_change = \"2 deg\"\nlift_from = \"10 mm\"\nlift_to = \"11 mm\"\n",
        &["duration_change", "lift_from", "lift_to"],
    ),
    (
        "cylinder head",
        "flow_factor = 1.08\ninlet_valve_diameter = \"33 mm\"\n",
        &[],
    ),
    (
        "bore and stroke",
        "bore = \"87 mm\"\nstroke = \"90 mm\"\nrod_length = \"140 mm\"\ncompression_ratio = 10.5\n",
        &[],
    ),
    (
        "tank mix",
        "left = \"20 L\"\nadded = \"30 L\"\nfuel = \"petrol with ethanol\"\nethanol = \"85 %\"\n\
         research_octane = 105\nmotor_octane = 89\n",
        &["left", "added", "ethanol", "research_octane"],
    ),
    (
        "octane",
        "research_octane = 98\nmotor_octane = 88\n",
        &["research_octane"],
    ),
    ("spark", "retard = \"3 deg\"\n", &["retard"]),
    (
        "water-methanol",
        "flow = \"400 cm3/min\"\nmethanol = \"50 %\"\nevaporated = 0.5\n",
        &["flow", "methanol"],
    ),
    (
        "nitrous",
        "flow = \"2 kg/min\"\nbottle_temperature = \"28 °C\"\nevaporated = 0.9\nfrom_speed = \"3200 rpm\"\n",
        &["flow"],
    ),
];

fn change(kind: &str, keys: &str) -> String {
    format!("{PLAN}[[change]]\nkind = \"{kind}\"\n{keys}")
}

fn read(text: &str) -> Result<(files::plan::PlanFile, Problems), Problems> {
    files::plan::open(&Folder::new().write("plan.toml", text))
}

/// A row whose text has one key's value replaced, and the line that key stands on.
fn spoilt(kind: &str, keys: &str, key: &str, value: &str) -> (String, usize) {
    let lines: Vec<String> = keys
        .lines()
        .map(|line| match line.split_once(" = ") {
            Some((name, _)) if name == key => format!("{key} = {value}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    let at = lines
        .iter()
        .position(|line| line.starts_with(&format!("{key} =")))
        .expect("the key is there");
    (change(kind, &lines.concat()), at + 6)
}

fn names(keys: &str) -> impl Iterator<Item = &str> {
    keys.lines()
        .filter_map(|line| line.split_once(" = ").map(|(name, _)| name))
}

#[track_caller]
fn one(text: &str, code: &str, line: Option<usize>, value: &str) {
    let problems = refused(read(text));
    assert_eq!(problems.len(), 1, "{text}\n{problems}");
    let problem = problems.first().expect("one");
    assert_eq!(problem.code.name(), code, "{text}\n{problem:?}");
    assert_eq!(problem.line, line, "{text}\n{problem:?}");
    let found = format!(
        "{} {}",
        problem.value.as_deref().unwrap_or_default(),
        problem.message
    );
    assert!(found.contains(value), "{text}\n{problem:?}");
    let expected = problem.expected.as_deref().unwrap_or_default();
    assert!(!expected.is_empty(), "{text}\n{problem:?}");
}

#[test]
fn every_part_is_sound_before_it_is_spoilt() {
    for (kind, keys, _) in SOUND {
        let (plan, warnings) = read(&change(kind, keys)).expect(kind);
        assert!(warnings.is_empty(), "{kind}: {warnings}");
        let folder = Folder::new();
        let (car, _) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
        assert!(plan.check(&car.sheet.centre.car).is_ok(), "{kind}");
    }
}

#[test]
fn a_key_that_must_be_there_is_asked_for() {
    for (kind, keys, required) in SOUND {
        for key in required {
            let rest: Vec<&str> = keys
                .split_inclusive('\n')
                .filter(|line| !line.starts_with(&format!("{key} =")))
                .collect();
            let rest = rest.concat();
            one(&change(kind, &rest), "key_missing", Some(4), key);
        }
    }
    one(&change("cylinder head", ""), "key_missing", Some(4), "flow");
    one(
        &change("bore and stroke", "rod_length = \"140 mm\"\n"),
        "key_missing",
        Some(4),
        "stroke",
    );
}

#[test]
fn a_unit_of_another_kind_is_refused_in_every_field() {
    for (kind, keys, _) in SOUND {
        for key in names(keys).filter(|key| *key != "fuel") {
            let (text, line) = spoilt(kind, keys, key, "\"5 N m\"");
            one(&text, "unit_wrong", Some(line), key);
        }
    }
}

#[test]
fn a_number_out_of_range_or_negative_is_refused_in_every_field() {
    // Angles of a camshaft may be negative; far too much is wrong on either side.
    let cases = [
        ("throttle", "bore_from", "\"-65 mm\"", "\"900 mm\""),
        ("throttle", "bore_to", "\"-70 mm\"", "\"5 mm\""),
        ("headers", "area_factor", "-1.3", "9"),
        ("headers", "share", "-0.4", "1.4"),
        ("headers", "scavenging", "\"-8 kPa\"", "\"80 kPa\""),
        ("camshaft", "duration_change", "\"-160 deg\"", "\"160 deg\""),
        ("camshaft", "closing_change", "\"-90 deg\"", "\"90 deg\""),
        (
            "camshaft",
            "exhaust_duration_change",
            "\"-90 deg\"",
            "\"90 deg\"",
        ),
        (
            "camshaft",
            "exhaust_centre_change",
            "\"-90 deg\"",
            "\"90 deg\"",
        ),
        ("camshaft", "lift_from", "\"-10 mm\"", "\"100 mm\""),
        ("camshaft", "lift_to", "\"-11 mm\"", "\"0 mm\""),
        ("cylinder head", "flow_factor", "-1.08", "12"),
        (
            "cylinder head",
            "inlet_valve_diameter",
            "\"-33 mm\"",
            "\"330 mm\"",
        ),
        ("bore and stroke", "bore", "\"-87 mm\"", "\"8.7 mm\""),
        ("bore and stroke", "stroke", "\"-90 mm\"", "\"900 mm\""),
        ("bore and stroke", "rod_length", "\"-140 mm\"", "\"14 mm\""),
        ("bore and stroke", "compression_ratio", "-10.5", "105"),
        ("tank mix", "left", "\"-20 L\"", "\"20 m3\""),
        ("tank mix", "added", "\"-30 L\"", "\"0 L\""),
        ("tank mix", "ethanol", "\"-85 %\"", "\"185 %\""),
        ("tank mix", "research_octane", "-105", "205"),
        ("tank mix", "motor_octane", "-89", "189"),
        ("octane", "research_octane", "-98", "40"),
        ("octane", "motor_octane", "-88", "188"),
        ("spark", "retard", "\"-3 deg\"", "\"60 deg\""),
        ("water-methanol", "flow", "\"-400 cm3/min\"", "\"40 L/min\""),
        ("water-methanol", "methanol", "\"-50 %\"", "\"150 %\""),
        ("water-methanol", "evaporated", "-0.5", "1.5"),
        ("nitrous", "flow", "\"-2 kg/min\"", "\"2 kg/s\""),
        ("nitrous", "bottle_temperature", "\"-40 °C\"", "\"60 °C\""),
        ("nitrous", "evaporated", "-0.9", "1.9"),
        ("nitrous", "from_speed", "\"-3200 rpm\"", "\"32000 rpm\""),
    ];
    for (kind, keys, _) in SOUND {
        for key in names(keys).filter(|key| *key != "fuel") {
            let (_, _, low, high) = cases
                .iter()
                .find(|case| (case.0, case.1) == (kind, key))
                .expect("a case for every field");
            for value in [low, high] {
                let (text, line) = spoilt(kind, keys, key, value);
                one(&text, "out_of_range", Some(line), key);
            }
        }
    }
    let share = "share_of_fuel = 0.9\nmethanol = 0.5\n";
    one(
        &change("water-methanol", share),
        "out_of_range",
        Some(6),
        "share_of_fuel",
    );
    let sizes = "primary_from = \"38 mm\"\nprimary_to = \"400 mm\"\n";
    one(
        &change("headers", sizes),
        "out_of_range",
        Some(7),
        "primary_to",
    );
    let centre = "duration_change = \"10 deg\"\ncentre_change = \"95 deg\"\n";
    one(
        &change("camshaft", centre),
        "out_of_range",
        Some(7),
        "centre_change",
    );
}

#[test]
fn an_unknown_key_is_refused_in_every_part() {
    for (kind, keys, _) in SOUND {
        let text = change(kind, &format!("boost_level = 3\n{keys}"));
        one(&text, "key_unknown", Some(6), "boost_level");
    }
}

#[test]
fn keys_that_say_the_same_twice_are_refused() {
    let cases = [
        (
            "headers",
            "area_factor = 1.3\nprimary_from = \"38 mm\"\nprimary_to = \"42 mm\"\n",
        ),
        (
            "camshaft",
            "closing_change = \"8 deg\"\nduration_change = \"16 deg\"\ncentre_change = \"2 deg\"\n",
        ),
        ("spark", "retard = \"3 deg\"\nto_limit = true\n"),
        (
            "water-methanol",
            "flow = \"400 cm3/min\"\nshare_of_fuel = 0.2\nmethanol = 0.5\n",
        ),
    ];
    for (kind, keys) in cases {
        let first = names(keys).next().expect("a key");
        let problems = refused(read(&change(kind, keys)));
        let at = Said {
            code: "key_conflict",
            line: Some(6),
            value: first,
            expected: first.split('_').next().unwrap_or_default(),
        };
        only(&problems, "plan.toml", &at);
    }
}

#[test]
fn a_crank_too_long_for_its_rods_does_not_fit_the_car() {
    let folder = Folder::new();
    let text = change("bore and stroke", "stroke = \"140 mm\"\n");
    let (plan, _) = files::plan::open(&folder.write("plan.toml", &text)).expect("a plan");
    let (car, _) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
    let at = Said {
        code: "plan_unfit",
        line: Some(5),
        value: "140.0 mm",
        expected: "rod_length of at least 154.0 mm",
    };
    only(
        &refused(plan.check(&car.sheet.centre.car)),
        "plan.toml",
        &at,
    );
}
