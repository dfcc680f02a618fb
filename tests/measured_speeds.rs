//! What nobody measured is not told as if somebody had: a baseline cut short, and a fit that was taken in spite of what spoke against it.

use crate::shop::{Shop, run_in};
use serde_json::Value;
use std::path::Path;

/// The demo's coupe with its baseline cut at an engine speed, quoted.
fn coupe_cut_at(rpm: Option<f64>) -> (Value, String) {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/manual_coupe");
    let folder = tempfile::tempdir().expect("a scratch folder");
    for name in ["car.toml", "plan_engine.toml", "baseline.toml"] {
        std::fs::copy(demo.join(name), folder.path().join(name)).expect("a scratch file");
    }
    let pull = std::fs::read_to_string(demo.join("baseline.csv")).expect("the demo's pulls");
    let below = |line: &&str| {
        let speed = line
            .split(',')
            .nth(2)
            .and_then(|cell| cell.parse::<f64>().ok());
        rpm.zip(speed).is_none_or(|(rpm, speed)| speed <= rpm)
    };
    let kept: Vec<&str> = pull.lines().filter(below).collect();
    std::fs::write(folder.path().join("baseline.csv"), kept.join("\n")).expect("a scratch file");
    let quote = "quote car.toml plan_engine.toml --visit baseline.toml --draws 100";
    let ran = run_in(folder.path(), &format!("{quote} --json"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    (
        ran.json("pullcast/quote/4"),
        run_in(folder.path(), quote).out,
    )
}

fn three(range: &Value) -> [f64; 3] {
    ["p5", "p50", "p95"].map(|p| range[p].as_f64().expect("a number"))
}

#[test]
fn a_baseline_cut_short_widens_the_range_and_is_told() {
    let (whole, _) = coupe_cut_at(None);
    let (cut, text) = coupe_cut_at(Some(4500.0));
    let power = |document: &Value, side: &str| three(&document[side]["power_w"]);
    // What the whole recording shows at the redline lies inside the range of the one that never went there.
    let [low, _, high] = power(&cut, "before");
    let [_, read, _] = power(&whole, "before");
    assert!((low..=high).contains(&read), "{read} in {low}..{high}");
    for side in ["before", "after"] {
        let width = |document: &Value| power(document, side)[2] - power(document, side)[0];
        assert!(width(&cut) > 2.0 * width(&whole), "{side}");
    }
    // A peak past 6000 is not held against a reading that ends at 4500.
    let up_to = cut["shown_up_to_rpm"].as_f64().expect("a speed");
    assert!((4400.0..=4500.0).contains(&up_to), "{up_to}");
    assert!(three(&cut["shown_gain"])[1] < 0.30, "{}", cut["shown_gain"]);
    assert_eq!(whole["shown_up_to_rpm"], Value::Null);
    let told = cut["extrapolated"]["before_rpm"].as_f64().expect("a speed");
    assert!(told > 6000.0, "{told}");
    assert!(
        text.contains("The car was measured up to 4400 rpm only"),
        "{text}"
    );
    assert!(text.contains("is extrapolated"), "{text}");
}

#[test]
fn what_speaks_against_a_fit_is_repeated_by_every_verb_that_uses_the_car() {
    let shop = Shop::new();
    shop.measure_with(
        "predict car.toml --plan plan.toml --weather weather.toml",
        true,
    );
    shop.well("fit car.toml visit.toml --out fitted.toml --accept-misfit");
    for verb in [
        "predict fitted.toml",
        "quote fitted.toml plan.toml --draws 60",
        "trace fitted.toml --rpm 4000",
    ] {
        let ran = shop.well(verb);
        assert!(
            ran.err
                .contains("the car file does not describe this car: manifold pressure"),
            "{verb}: {}",
            ran.err
        );
    }
}

#[test]
fn a_fitted_file_remembers_where_the_car_was_measured() {
    let shop = Shop::new();
    shop.measure();
    shop.well("fit car.toml visit.toml --out fitted.toml");
    let text = std::fs::read_to_string(shop.path("fitted.toml")).expect("the fitted car");
    let speed = |key: &str| -> f64 {
        let line = text.lines().find(|line| line.starts_with(key));
        let value = line.and_then(|line| line.split('"').nth(1));
        let number = value.and_then(|value| value.strip_suffix(" rpm"));
        number
            .and_then(|n| n.parse().ok())
            .unwrap_or_else(|| panic!("{key} in {text}"))
    };
    assert!(speed("measured_from") < 2500.0 && speed("measured_to") > 6500.0);
}

#[test]
fn the_centre_that_predict_shows_is_the_middle_of_a_quote() {
    let shop = Shop::new();
    shop.measure();
    shop.well("fit car.toml visit.toml --out fitted.toml");
    for car in ["car.toml", "fitted.toml"] {
        let weather = "--weather weather.toml --json";
        let quote = shop
            .well(&format!("quote {car} plan.toml --draws 200 {weather}"))
            .json("pullcast/quote/4");
        let predicted = |plan: &str| {
            let ran = shop.well(&format!("predict {car} {plan} {weather}"));
            let document = ran.json("pullcast/predict/2");
            document["peak_power"]["power_w"]
                .as_f64()
                .expect("a number")
        };
        for (side, plan) in [("before", ""), ("after", "--plan plan.toml")] {
            let (middle, centre) = (three(&quote[side]["power_w"])[1], predicted(plan));
            // A quote looks at 28 engine speeds and a prediction at 40: a peak between them is read to a thousandth.
            assert!(
                (middle / centre - 1.0).abs() < 1e-3,
                "{car} {side}: {middle} against {centre}"
            );
        }
    }
}
