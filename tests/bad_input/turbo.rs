//! Mistakes in what a car file or a plan says of a turbocharger.

use super::*;

const TURBO: &str = r#"[blower]
kind = "turbocharger"
boost = "60 kPa gauge"
[blower.rated_point]
wheel_diameter = "50 mm"
reference_pressure = "100 kPa"
reference_temperature = "25 °C"
pressure_ratio = 1.8
flow = "140 g/s"
efficiency = 0.73
speed = "120000 rpm"
"#;

fn spoilt(from: &str, to: &str, said: &Said<'_>) {
    let text = format!("{CAR}{}", TURBO.replace(from, to));
    let problems = refused(files::car::open(&Folder::new().write("car.toml", &text)));
    only(&problems, "car.toml", said);
}

#[test]
fn a_sound_turbocharger_is_read() {
    let text = format!("{CAR}{TURBO}");
    let (_, warnings) = files::car::open(&Folder::new().write("car.toml", &text)).expect("a car");
    assert!(warnings.is_empty(), "{warnings}");
}

#[test]
fn every_mistake_about_the_boost_is_named_at_its_line() {
    let (at, line) = ("boost = \"60 kPa gauge\"", Some(22));
    spoilt(
        at,
        "",
        &Said {
            code: "key_missing",
            line: Some(20),
            value: "0 ways",
            expected: "exactly one of",
        },
    );
    spoilt(
        at,
        "boost = \"60 kPa\"",
        &Said {
            code: "unit_ambiguous",
            line,
            value: "kPa",
            expected: "gauge",
        },
    );
    spoilt(
        at,
        "boost = \"-60 kPa gauge\"",
        &Said {
            code: "out_of_range",
            line,
            value: "-60",
            expected: "1.000 kPa gauge to 500.0 kPa gauge",
        },
    );
    spoilt(
        at,
        "boost = \"60 kPa gauge\"\nboost_absolute = \"160 kPa abs\"",
        &Said {
            code: "key_conflict",
            line: Some(23),
            value: "2 ways",
            expected: "exactly one of",
        },
    );
    spoilt(
        at,
        "boost = \"60 kPa gauge\"\ncount = 0",
        &Said {
            code: "out_of_range",
            line: Some(23),
            value: "0",
            expected: "1 to 4",
        },
    );
    spoilt(
        at,
        "boost = \"60 kPa gauge\"\ndrive_ratio = 2",
        &Said {
            code: "key_unknown",
            line: Some(23),
            value: "drive_ratio",
            expected: "",
        },
    );
}

#[test]
fn a_rated_point_no_wheel_can_have_is_refused() {
    spoilt(
        "speed = \"120000 rpm\"",
        "speed = \"12000 rpm\"",
        &Said {
            code: "map_invalid",
            line: Some(30),
            value: "31 m/s",
            expected: "check speed, wheel_diameter and pressure_ratio",
        },
    );
    spoilt(
        "boost = \"60 kPa gauge\"",
        "boost_absolute = \"70 kPa abs\"",
        &Said {
            code: "out_of_range",
            line: Some(22),
            value: "70",
            expected: "100.0 kPa",
        },
    );
}

#[test]
fn a_boost_curve_must_rise_and_be_whole() {
    let curve = |speeds: &str, pressures: &str| {
        TURBO.replace("boost = \"60 kPa gauge\"\n", "")
            + &format!("[blower.boost_curve]\nspeed = {speeds}\n{pressures}\n")
    };
    for (speeds, pressures, code, line, value) in [
        (
            "[\"3000 rpm\", \"2000 rpm\"]",
            "gauge = [\"60 kPa gauge\", \"50 kPa gauge\"]",
            "out_of_range",
            31,
            "are not in rising order",
        ),
        (
            "[\"3000 rpm\", \"4000 rpm\"]",
            "gauge = [\"60 kPa gauge\"]",
            "field_count",
            32,
            "1 pressures",
        ),
        (
            "[\"3000 rpm\"]",
            "gauge = [\"60 kPa gauge\"]\nabsolute = [\"160 kPa abs\"]",
            "key_conflict",
            33,
            "either gauge or absolute",
        ),
        (
            "[\"3000 rpm\"]",
            "gauge = [\"900 kPa gauge\"]",
            "out_of_range",
            32,
            "900",
        ),
    ] {
        let text = format!("{CAR}{}", curve(speeds, pressures));
        let problems = refused(files::car::open(&Folder::new().write("car.toml", &text)));
        let said = Said {
            code,
            line: Some(line),
            value,
            expected: "",
        };
        holds(problems.first().expect("one"), "car.toml", &said);
    }
}

#[test]
fn headers_ahead_of_a_turbine_are_refused_at_their_line() {
    let folder = Folder::new();
    let text = format!("{PLAN}[[change]]\nkind = \"headers\"\narea_factor = 1.2\n");
    let (plan, _) = files::plan::open(&folder.write("plan.toml", &text)).expect("a plan");
    let (car, _) =
        files::car::open(&folder.write("turbo.toml", &format!("{CAR}{TURBO}"))).expect("a car");
    let said = Said {
        code: "plan_unfit",
        line: Some(5),
        value: "feed its turbine",
        expected: "an exhaust behind the turbine",
    };
    only(
        &refused(plan.check(&car.sheet.centre.car)),
        "plan.toml",
        &said,
    );
}

#[test]
fn a_plan_may_raise_the_boost_of_a_turbocharger_only() {
    let folder = Folder::new();
    let text = format!("{PLAN}[[change]]\nkind = \"boost\"\nboost_factor = 1.2\n");
    let (plan, _) = files::plan::open(&folder.write("plan.toml", &text)).expect("a plan");
    let (car, _) = files::car::open(&folder.write("car.toml", CAR)).expect("a car");
    let said = Said {
        code: "plan_unfit",
        line: Some(5),
        value: "turbocharger",
        expected: "a part the car has",
    };
    only(
        &refused(plan.check(&car.sheet.centre.car)),
        "plan.toml",
        &said,
    );
    let (car, _) =
        files::car::open(&folder.write("turbo.toml", &format!("{CAR}{TURBO}"))).expect("a car");
    assert!(plan.check(&car.sheet.centre.car).is_ok());
    let both = text + "boost = \"80 kPa gauge\"\n";
    let said = Said {
        code: "key_conflict",
        line: Some(6),
        value: "both given",
        expected: "boost_factor alone",
    };
    only(
        &refused(files::plan::open(&folder.write("plan.toml", &both))),
        "plan.toml",
        &said,
    );
}
