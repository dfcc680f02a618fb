//! Mistakes in what a car or plan file says of fuel supply, clutch, converter, turning parts, oil, belt, battery, tyres, mass
//! and thresholds: every field with a wrong unit, out of range, negative and misspelt; what must be there missing; and keys
//! that contradict each other.

use super::*;

/// A key with a sound value, and values of another unit, beyond its range, and negative.
struct Field {
    key: &'static str,
    sound: &'static str,
    /// Value and the code it is refused with.
    unit: (&'static str, &'static str),
    beyond: &'static str,
    negative: &'static str,
}

const fn field(
    key: &'static str,
    sound: &'static str,
    unit: (&'static str, &'static str),
    beyond: &'static str,
    negative: &'static str,
) -> Field {
    Field {
        key,
        sound,
        unit,
        beyond,
        negative,
    }
}

const WRONG: &str = "unit_wrong";
/// A plain number where a unit was written.
const PLAIN: (&str, &str) = ("\"0.5 kg\"", WRONG);
const MASS: (&str, &str) = ("\"5 kg\"", WRONG);

const FLOW: Field = field(
    "flow",
    "\"440 cm3/min\"",
    ("\"440 mm\"", WRONG),
    "\"90000 cm3/min\"",
    "\"-440 cm3/min\"",
);
const PUMP_FLOW: Field = field(
    "flow",
    "\"255 L/h\"",
    ("\"255 kPa\"", WRONG),
    "\"90000 L/h\"",
    "\"-255 L/h\"",
);
const RATED: Field = field(
    "rated_pressure",
    "\"3 bar\"",
    MASS,
    "\"90 bar\"",
    "\"-3 bar\"",
);
const DEAD: Field = field("dead_time", "\"0.9 ms\"", MASS, "\"90 ms\"", "\"-1 ms\"");
const DUTY: Field = field("duty_limit", "0.9", PLAIN, "1.2", "-0.9");
const FALL: Field = field("fall", "0.1", PLAIN, "0.9", "-0.1");
const RAIL: Field = field("pressure", "\"4 bar\"", MASS, "\"400 bar\"", "\"-4 bar\"");
const CAPACITY: Field = field(
    "capacity",
    "\"500 N m\"",
    MASS,
    "\"50000 N m\"",
    "\"-500 N m\"",
);
const STALL_SPEED: Field = field(
    "stall_speed",
    "\"2500 rpm\"",
    MASS,
    "\"25000 rpm\"",
    "\"-2500 rpm\"",
);
const STALL_TORQUE: Field = field(
    "stall_torque",
    "\"300 N m\"",
    MASS,
    "\"30000 N m\"",
    "\"-300 N m\"",
);
const TORQUE_RATIO: Field = field("torque_ratio", "2.1", PLAIN, "9", "-2");
const COUPLING: Field = field("coupling", "0.88", PLAIN, "1.5", "-0.88");
const BEFORE: Field = field(
    "inertia_before",
    "\"0.12 kg m2\"",
    MASS,
    "\"120 kg m2\"",
    "\"-0.12 kg m2\"",
);
const AFTER: Field = field(
    "inertia_after",
    "\"0.06 kg m2\"",
    MASS,
    "\"120 kg m2\"",
    "\"-0.06 kg m2\"",
);

/// Tables of a car file: name, lines that must stand beside, fields.
const TABLES: &[(&str, &[Field])] = &[
    ("injectors", &[FLOW, RATED, DEAD, DUTY]),
    ("fuel_pump", &[PUMP_FLOW, RATED, FALL]),
    ("fuel_rail", &[RAIL]),
    ("clutch", &[CAPACITY]),
    (
        "converter",
        &[STALL_SPEED, STALL_TORQUE, TORQUE_RATIO, COUPLING],
    ),
    (
        "limits",
        &[
            field(
                "exhaust_temperature",
                "\"900 °C\"",
                MASS,
                "\"9000 °C\"",
                "\"-90 °C\"",
            ),
            field(
                "peak_pressure",
                "\"110 bar\"",
                MASS,
                "\"1100 bar\"",
                "\"-110 bar\"",
            ),
            field(
                "piston_speed",
                "\"24 m/s\"",
                MASS,
                "\"240 m/s\"",
                "\"-24 m/s\"",
            ),
            field(
                "tyre_speed",
                "\"240 km/h\"",
                MASS,
                "\"2400 km/h\"",
                "\"-240 km/h\"",
            ),
        ],
    ),
];

/// Kinds of change: name, a line that must stand beside, fields.
const KINDS: &[(&str, &str, &[Field])] = &[
    ("injectors", "", &[FLOW, RATED, DEAD, DUTY]),
    ("fuel pump", "", &[PUMP_FLOW, RATED, FALL]),
    ("fuel rail", "", &[RAIL]),
    ("flywheel", "", &[BEFORE, AFTER]),
    ("turning parts", "at = \"shaft\"\n", &[BEFORE, AFTER]),
    (
        "driveline oil",
        "oil = \"75W-80\"\n",
        &[field(
            "temperature",
            "\"95 °C\"",
            MASS,
            "\"950 °C\"",
            "\"-95 °C\"",
        )],
    ),
    ("clutch", "", &[CAPACITY]),
    (
        "converter",
        "",
        &[STALL_SPEED, STALL_TORQUE, TORQUE_RATIO, COUPLING],
    ),
    (
        "belt",
        "",
        &[
            field("tension", "\"2500 N\"", MASS, "\"25 kN\"", "\"-2500 N\""),
            field("wrap", "\"170 deg\"", MASS, "\"700 deg\"", "\"-170 deg\""),
            field("friction", "1.1", PLAIN, "9", "-1.1"),
        ],
    ),
    (
        "battery",
        "",
        &[
            field(
                "resistance",
                "\"80 mohm\"",
                MASS,
                "\"80 ohm\"",
                "\"-80 mohm\"",
            ),
            field("energy", "\"9 kWh\"", MASS, "\"9000 kWh\"", "\"-9 kWh\""),
            field("voltage", "\"400 V\"", MASS, "\"4 kV\"", "\"-400 V\""),
            field("power", "\"90 kW\"", MASS, "\"9 MW\"", "\"-90 kW\""),
        ],
    ),
    (
        "tyres",
        "",
        &[
            field(
                "tyre_radius",
                "\"0.31 m\"",
                MASS,
                "\"3.1 m\"",
                "\"-0.31 m\"",
            ),
            field("grip", "1.2", PLAIN, "9", "-1.2"),
            field("rolling_coefficient", "0.012", PLAIN, "0.5", "-0.012"),
            field(
                "speed_rating",
                "\"270 km/h\"",
                MASS,
                "\"2700 km/h\"",
                "\"-270 km/h\"",
            ),
        ],
    ),
    (
        "mass",
        "",
        &[
            // Mass may be taken out, so a negative one is refused by its size alone.
            field(
                "added",
                "\"-40 kg\"",
                ("\"40 N\"", WRONG),
                "\"40 t\"",
                "\"-40 t\"",
            ),
            field("share", "0.6", PLAIN, "1.6", "-0.6"),
        ],
    ),
];

/// A car that an open converter fits.
fn automatic() -> String {
    CAR.replace("gear = 1.36", "gear = 1.36\ngearbox = \"automatic\"")
}

/// What stands before the fields under test.
fn car_head(table: &str) -> String {
    // A rail says nothing without injectors or pump.
    let with = if table == "fuel_rail" {
        "[injectors]\nflow = \"440 cm3/min\"\n"
    } else {
        ""
    };
    format!("{}{with}[{table}]\n", automatic())
}

fn plan_head(kind: &str, beside: &str) -> String {
    format!("{PLAN}[[change]]\nkind = \"{kind}\"\n{beside}")
}

fn lines(fields: &[Field], but: Option<(&str, &str)>) -> String {
    fields.iter().fold(String::new(), |text, field| {
        let value = match but {
            Some((key, value)) if key == field.key => value,
            _ => field.sound,
        };
        format!("{text}{} = {value}\n", field.key)
    })
}

fn read_car(text: &str) -> Result<Problems, Problems> {
    let path = Folder::new();
    files::car::open(&path.write("car.toml", text)).map(|(_, warnings)| warnings)
}

fn read_plan(text: &str) -> Result<Problems, Problems> {
    let path = Folder::new();
    files::plan::open(&path.write("plan.toml", text)).map(|(_, warnings)| warnings)
}

/// Spoils each field in turn in each way and asks for the code, the line and the value.
fn spoil_each(
    file: &str,
    head: &str,
    fields: &[Field],
    read: fn(&str) -> Result<Problems, Problems>,
) {
    let sound = read(&format!("{head}{}", lines(fields, None)));
    assert!(sound.is_ok_and(|w| w.is_empty()), "{head}");
    for (place, field) in fields.iter().enumerate() {
        let line = head.lines().count() + place + 1;
        for (value, code) in [
            field.unit,
            (field.beyond, "out_of_range"),
            (field.negative, "out_of_range"),
        ] {
            let text = format!("{head}{}", lines(fields, Some((field.key, value))));
            let problems = refused(read(&text));
            let number = value.trim_matches('"').split(' ').next().expect("a number");
            let number = if code == WRONG {
                ""
            } else {
                number.trim_start_matches('-')
            };
            // Large numbers are shown with four digits, in the unit they were written in.
            let digits: String = number
                .chars()
                .filter(char::is_ascii_digit)
                .take(1)
                .collect();
            let said = Said {
                code,
                line: Some(line),
                value: &digits,
                expected: "",
            };
            let found = problems.iter().find(|p| p.line == Some(line));
            let found = found.unwrap_or_else(|| panic!("{text}{problems}"));
            holds(found, file, &said);
            assert!(found.expected.is_some(), "{problems}");
        }
        let misspelt = format!("{head}{}", lines(fields, None)).replace(
            &format!("\n{} = ", field.key),
            &format!("\n{}x = ", field.key),
        );
        let problems = refused(read(&misspelt));
        let unknown = problems
            .with_code(files::Code::KEY_UNKNOWN)
            .next()
            .expect("unknown");
        let help = format!("did you mean '{}'?", field.key);
        assert_eq!(
            (unknown.line, unknown.help.as_deref()),
            (Some(line), Some(help.as_str()))
        );
    }
}

#[test]
fn every_new_field_of_a_car_is_held_to_its_unit_its_range_and_its_name() {
    for (table, fields) in TABLES {
        spoil_each("car.toml", &car_head(table), fields, read_car);
    }
}

#[test]
fn every_new_field_of_a_plan_is_held_to_its_unit_its_range_and_its_name() {
    for (kind, beside, fields) in KINDS {
        spoil_each("plan.toml", &plan_head(kind, beside), fields, read_plan);
    }
}

#[test]
fn what_a_part_cannot_do_without_is_asked_for() {
    for (head, key) in [
        (car_head("injectors"), "flow"),
        (car_head("fuel_pump"), "flow"),
        (car_head("clutch"), "capacity"),
        (car_head("converter"), "stall_speed"),
    ] {
        missing("car.toml", &refused(read_car(&head)), key, &head);
    }
    for (kind, key) in [
        ("injectors", "flow"),
        ("fuel pump", "flow"),
        ("fuel rail", "pressure"),
        ("flywheel", "inertia_before"),
        ("turning parts", "at"),
        ("driveline oil", "oil"),
        ("clutch", "capacity"),
        ("converter", "stall_torque"),
        ("belt", "ribs_from"),
        ("battery", "resistance"),
        ("tyres", "speed_rating"),
        ("mass", "added"),
    ] {
        let head = plan_head(kind, "");
        missing("plan.toml", &refused(read_plan(&head)), key, &head);
    }
    let half = plan_head("belt", "ribs_to = 8\n");
    missing("plan.toml", &refused(read_plan(&half)), "ribs_from", &half);
}

#[track_caller]
fn missing(file: &str, problems: &Problems, key: &str, text: &str) {
    let mut of_the_kind = problems.with_code(files::Code::KEY_MISSING);
    let named = of_the_kind.find(|p| p.expected.as_deref().is_some_and(|e| e.contains(key)));
    let problem = named.unwrap_or_else(|| panic!("{text}{problems}"));
    assert!(problem.file.ends_with(file) && problem.line.is_some());
}

#[test]
fn keys_that_contradict_each_other_are_refused() {
    let conflict = |problems: Problems, file: &str, value: &str, expected: &str| {
        let line = problems.first().expect("one").line;
        let said = Said {
            code: "key_conflict",
            line,
            value,
            expected,
        };
        only(&problems, file, &said);
    };
    let both = "capacity = \"500 N m\"\nfaces = 2\nfriction = 0.3\nclamp = \"9 kN\"\nouter_radius = \"120 mm\"\ninner_radius = \"80 mm\"\n";
    let car = car_head("clutch") + both;
    conflict(
        refused(read_car(&car)),
        "car.toml",
        "both 'capacity' and the clutch's dimensions are given",
        "capacity alone",
    );
    let plan = plan_head("clutch", both);
    conflict(
        refused(read_plan(&plan)),
        "plan.toml",
        "both 'capacity' and the clutch's dimensions are given",
        "capacity alone",
    );
    let inside_out = plan
        .replace("capacity = \"500 N m\"\n", "")
        .replace("80 mm", "130 mm");
    conflict(
        refused(read_plan(&inside_out)),
        "plan.toml",
        "inner radius",
        "outer_radius",
    );
    let manual = car_head("converter").replace("\ngearbox = \"automatic\"", "")
        + "stall_speed = \"2000 rpm\"\nstall_torque = \"300 N m\"\n";
    conflict(
        refused(read_car(&manual)),
        "car.toml",
        "manual gearbox",
        "automatic",
    );
    let locked = plan_head("converter", "locked = true\nstall_speed = \"2000 rpm\"\n");
    conflict(
        refused(read_plan(&locked)),
        "plan.toml",
        "locked",
        "locked alone",
    );
    let belt = plan_head("belt", "ribs_from = 6\nribs_to = 8\ntension = \"3 kN\"\n");
    conflict(
        refused(read_plan(&belt)),
        "plan.toml",
        "both given",
        "the ribs",
    );
}

#[test]
fn words_counts_and_switches_are_held_to_what_they_may_be() {
    let choice = |problems: Problems, value: &str, expected: &str| {
        let problem = problems.first().expect("one");
        assert_eq!(problem.code.name(), "choice_unknown", "{problems}");
        let found = format!(
            "{} {}",
            problem.value.as_deref().unwrap_or_default(),
            problem.message
        );
        assert!(found.contains(value), "{problems}");
        assert!(
            problem
                .expected
                .as_deref()
                .is_some_and(|e| e.contains(expected)),
            "{problems}"
        );
    };
    choice(
        refused(read_plan(&plan_head("driveline oil", "oil = \"75W90\"\n"))),
        "75W90",
        "75W-90",
    );
    choice(
        refused(read_car(
            &CAR.replace("gear = 1.36", "gear = 1.36\noil = \"20W-50\""),
        )),
        "20W-50",
        "75W-90",
    );
    let rail = car_head("fuel_rail") + "reference = \"tank\"\n";
    choice(refused(read_car(&rail)), "tank", "manifold");
    choice(
        refused(read_plan(&plan_head("fuel rail", "reference = \"tank\"\n"))),
        "tank",
        "manifold",
    );
    let at = plan_head("turning parts", "at = \"piston\"\n") + &lines(&[BEFORE, AFTER], None);
    choice(refused(read_plan(&at)), "piston", "crank");
    let code = |problems: Problems| problems.first().expect("one").code.name();
    let count = |n: &str| car_head("injectors") + &format!("flow = \"440 cm3/min\"\ncount = {n}\n");
    assert_eq!(code(refused(read_car(&count("0")))), "out_of_range");
    assert_eq!(code(refused(read_car(&count("-4")))), "out_of_range");
    assert_eq!(code(refused(read_car(&count("\"four\"")))), "wrong_type");
    let ribs = plan_head("belt", "ribs_from = -6\nribs_to = 8\n");
    assert_eq!(code(refused(read_plan(&ribs))), "out_of_range");
    let locked = car_head("converter") + "locked = \"yes\"\n";
    assert_eq!(code(refused(read_car(&locked))), "wrong_type");
    let faces = plan_head(
        "clutch",
        "faces = 0\nfriction = 3\nclamp = \"-9 kN\"\nouter_radius = \"9 m\"\ninner_radius = \"80 kg\"\n",
    );
    let problems = refused(read_plan(&faces));
    let codes: Vec<&str> = problems.iter().map(|p| p.code.name()).collect();
    assert_eq!(
        codes,
        [
            "out_of_range",
            "out_of_range",
            "out_of_range",
            "out_of_range",
            WRONG
        ]
    );
}

#[test]
fn a_part_stated_without_use_is_warned_about_and_a_change_to_none_refused_at_its_line() {
    let rail = format!("{CAR}[fuel_rail]\npressure = \"4 bar\"\n");
    let warnings = read_car(&rail).unwrap_or_else(|p| panic!("{p}"));
    let said = Said {
        code: "key_unused",
        line: Some(21),
        value: "fuel_rail.pressure",
        expected: "",
    };
    only(&warnings, "car.toml", &said);
    let folder = Folder::new();
    let (car, _) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
    for (kind, keys, value, expected) in [
        (
            "belt",
            "friction = 1.2\n",
            "blower",
            "blower on a belt in the plan",
        ),
        (
            "battery",
            "energy = \"9 kWh\"\n",
            "electric axle",
            "a part the car has",
        ),
        (
            "mass",
            "added = \"-1500 kg\"\nshare = 1\n",
            "load on the tyres",
            "less than 7500 N",
        ),
        (
            "flywheel",
            "inertia_before = \"1.2 kg m2\"\ninertia_after = \"0.1 kg m2\"\n",
            "moment of inertia",
            "less than",
        ),
    ] {
        let text = plan_head(kind, keys);
        let (plan, _) = files::plan::open(&folder.write("plan.toml", &text)).expect("a plan");
        let problems = refused(plan.check(&car.sheet.centre.car));
        let said = Said {
            code: "plan_unfit",
            line: Some(5),
            value,
            expected,
        };
        only(&problems, "plan.toml", &said);
    }
}
