//! What the program says when file, pulls and work do or do not belong together, driven as a user drives it.

use crate::shop::{Shop, VISIT};
use serde_json::Value;

#[test]
fn a_starter_plan_on_a_starter_car_is_a_sensible_job() {
    let shop = Shop::new();
    shop.well("new car my_car.toml");
    shop.well("new plan my_plan.toml");
    let document = shop
        .well("quote my_car.toml my_plan.toml --draws 100 --json")
        .json("pullcast/quote/4");
    // What a moderate blower on pump petrol, some 0.3 bar and a cooler, is commonly worth; common practice, no source.
    let gain = document["gain"]["p50"].as_f64().expect("a number");
    assert!((0.25..=0.45).contains(&gain), "{gain}");
    assert_eq!(document["promise"]["gain"], document["gain"]);
    let text = shop
        .well("quote my_car.toml my_plan.toml --draws 100 --units shop")
        .out;
    let told = text.lines().next().expect("a sentence");
    assert!(
        told.starts_with("Promise ") && told.contains("hp on the drums"),
        "{text}"
    );
    // In reference air the factor is one and changes nothing.
    assert!(
        !text.contains("would have changed") && text.contains("lb/ft³"),
        "{text}"
    );
}

#[test]
fn a_car_file_without_the_cars_blower_fails_its_fit_and_says_why() {
    let shop = Shop::new();
    shop.measure_with(
        "predict car.toml --plan plan.toml --weather weather.toml",
        true,
    );
    let before = shop.names();
    for verb in [
        "fit car.toml visit.toml --out fitted.toml",
        "quote car.toml plan.toml --visit visit.toml --draws 60 --out fitted.toml",
    ] {
        let ran = shop.run(verb);
        assert_eq!(ran.code, 1, "{verb}: {}", ran.err);
        for part in [
            "the car file does not describe this car: manifold pressure is off by",
            "the file has no [blower]",
            "rpm in baseline: pull",
            "--accept-misfit",
        ] {
            assert!(ran.err.contains(part), "{verb}: {part} in {}", ran.err);
        }
        assert_eq!(shop.names(), before, "{verb}");
    }
    let ran = shop.well("fit car.toml visit.toml --out fitted.toml --accept-misfit --json");
    let document = ran.json("pullcast/fit/2");
    let first = &document["misfits"][0];
    assert_eq!(
        (&first["kind"], &first["channel"], &document["written"]),
        (
            &"channel".into(),
            &"manifold_pressure".into(),
            &"fitted.toml".into()
        )
    );
    let written = std::fs::read_to_string(shop.path("fitted.toml")).expect("the fitted car");
    assert!(written.contains("does not describe this car"), "{written}");
}

#[test]
fn every_log_of_the_described_car_passes_as_its_own() {
    let shop = Shop::new();
    shop.measure_with("predict car.toml --weather weather.toml", true);
    let ran = shop.well("fit car.toml visit.toml --json");
    assert_eq!(
        ran.json("pullcast/fit/2")["misfits"],
        Value::Array(Vec::new())
    );
}

#[test]
fn the_reading_before_is_that_of_the_last_visit_and_the_quote_says_so() {
    let shop = Shop::new();
    shop.measure();
    for name in ["pull1.csv", "pull2.csv"] {
        // The same pulls logged a little later: other recordings.
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        let mut lines: Vec<&str> = text.lines().collect();
        lines.remove(1);
        shop.write(&format!("later_{name}"), &lines.join("\n"));
    }
    let later = VISIT
        .replace("baseline", "later")
        .replace("\"pull", "\"later_pull");
    shop.write("later.toml", &later);
    let run = "quote car.toml plan.toml --visit visit.toml later.toml --draws 60";
    let text = shop
        .well(run)
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    for part in [
        "the mean peak of 2 pulls of visit 'later', the last of the 2 visits named",
        "(visit 'later')",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

#[test]
fn a_unit_row_may_hold_one_for_plain_numbers() {
    let shop = Shop::new();
    shop.measure_with("predict car.toml --weather weather.toml", true);
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        let (_, rows) = text.split_once('\n').expect("a header");
        let head = "time,engine speed,wheel power,manifold pressure,charge temperature,lambda\ns,rpm,kW,kPa absolute,°C,1\n";
        shop.write(name, &format!("{head}{rows}"));
    }
    let document = shop
        .well("fit car.toml visit.toml --json")
        .json("pullcast/fit/2");
    assert_eq!(document["channels"].as_array().map(Vec::len), Some(3));
}

#[test]
fn a_recording_named_twice_is_no_second_evidence() {
    let shop = Shop::new();
    shop.measure();
    let ran = shop.run("fit car.toml visit.toml visit.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    // A report is as wide as the terminal, and its lines are broken there.
    let words: Vec<&str> = ran
        .err
        .split_whitespace()
        .filter(|word| *word != "|" && *word != "│")
        .collect();
    let on_one_line = words.join(" ");
    assert!(
        on_one_line.contains("the same recording as 'pull1' of visit.toml"),
        "{}",
        ran.err
    );
}

#[test]
fn power_that_no_belief_explains_fails_the_fit() {
    let shop = Shop::new();
    shop.measure();
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        // Ten times: a car could read it, this one cannot.
        let tenfold = |line: &str| match line.rsplit_once(',') {
            Some((front, kw)) => match kw.parse::<f64>() {
                Ok(kw) => format!("{front},{:.3}\n", 10.0 * kw),
                Err(_) => format!("{line}\n"),
            },
            None => String::new(),
        };
        shop.write(name, &text.lines().map(tenfold).collect::<String>());
    }
    let ran = shop.run("fit car.toml visit.toml --out fitted.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(ran.err.contains("recording_contradicts"), "{}", ran.err);
    // A recording that is trusted against its own energy still is not the car's.
    let trusted = VISIT.replace("[[pull]]", "[[pull]]\ntrust_recording = true");
    shop.write("visit.toml", &trusted);
    let ran = shop.run("fit car.toml visit.toml --out fitted.toml");
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(ran.err.contains("power is off by"), "{}", ran.err);
    assert!(!shop.path("fitted.toml").exists());
}

#[test]
fn power_in_a_unit_a_thousand_times_too_large_is_refused_by_verb_and_file() {
    let shop = Shop::new();
    shop.measure();
    let text = std::fs::read_to_string(shop.path("pull2.csv")).expect("a recording");
    shop.write(
        "pull2.csv",
        &text.replace("wheel power (kW)", "wheel power (MW)"),
    );
    for verb in [
        "fit car.toml visit.toml",
        "compare visit.toml visit.toml",
        "diagnose car.toml visit.toml",
    ] {
        let ran = shop.run(verb);
        assert_eq!(ran.code, 65, "{verb}: {}", ran.err);
        let flat = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in [
            "pull2.csv: line 2: power is",
            "column 'wheel power (MW)'",
            "at most 5000 kW; is the unit right?",
        ] {
            assert!(flat.contains(part), "{verb}: {part}: {}", ran.err);
        }
        assert!(!flat.contains("pull1.csv: line"), "{verb}: {}", ran.err);
    }
}

#[test]
fn a_file_of_another_kind_is_one_mistake() {
    let shop = Shop::new();
    let ran = shop.run("predict plan.toml");
    assert_eq!(ran.code, 65);
    assert_eq!(ran.err.matches("pullcast::").count(), 1, "{}", ran.err);
    assert!(
        ran.err
            .contains("this is a plan file, given as the car file"),
        "{}",
        ran.err
    );
}
