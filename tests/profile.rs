//! The shop's profile: found from below, overridden by flags, and told where it counts.

use crate::shop::{Shop, WEATHER};

const PROFILE: &str = r#"kind = "shop"
version = 1
name = "Cold Hill & Sons"
letterhead = ["1 Long Lane"]
units = "shop"
standard = "din-70020"
quote_holds_days = 14
cautions = ["Bring it with a full tank."]
visit_repeatability = "3 %"
[[rig]]
name = "linked drums"
[rig.drums]
inertia = "90 kg m2"
radius = "0.35 m"
[[pump]]
name = "98"
[pump.fuel]
research_octane = 98
"#;
/// Twelve lines.
const CAR: &str = r#"kind = "car"
version = 1
name = "coupe"
wheels.tyre_radius = "0.31 m"
driveline.gear = 1.36
driveline.final_drive = 3.9
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
compression_ratio = 11
redline = "7000 rpm"
"#;

fn from_of(config: &serde_json::Value, name: &str) -> String {
    let settings = config["settings"].as_array().expect("a list");
    let found = settings.iter().find(|setting| setting["name"] == name);
    let found = found.unwrap_or_else(|| panic!("{name} in {config}"));
    format!(
        "{} {}",
        found["value"].as_str().expect("text"),
        found["from"].as_str().expect("text")
    )
}

#[test]
fn config_says_where_each_value_comes_from() {
    let shop = Shop::new();
    let config = |call: &str| shop.well(call).json("pullcast/config/1");
    let without = config("config --json");
    assert_eq!(without["profile"], serde_json::Value::Null);
    assert_eq!(from_of(&without, "units"), "metric built_in");
    shop.write("pullcast.toml", PROFILE);
    let with = config("config --json");
    assert_eq!(from_of(&with, "units"), "shop profile");
    assert_eq!(from_of(&with, "standard"), "din-70020 profile");
    assert_eq!(from_of(&with, "visit_repeatability"), "3.0 % profile");
    assert_eq!(from_of(&with, "pull_repeatability"), "0.7 % built_in");
    let flagged = config("config --json --units metric --standard iso-1585");
    assert_eq!(from_of(&flagged, "units"), "metric flag");
    assert_eq!(from_of(&flagged, "standard"), "iso-1585 flag");
}

#[test]
fn a_profile_counts_in_the_answer_and_a_flag_goes_before_it() {
    let shop = Shop::new();
    let quote = "quote car.toml plan.toml --draws 50";
    let plain = shop
        .well(&format!("{quote} --json"))
        .json("pullcast/quote/4");
    shop.write("pullcast.toml", PROFILE);
    let told = shop.well(quote).out;
    assert!(
        told.contains(" hp ") && told.contains("DIN 70020"),
        "{told}"
    );
    let flagged = shop
        .well(&format!("{quote} --units metric --standard sae-j1349"))
        .out;
    assert!(
        flagged.contains(" kW ") && flagged.contains("SAE J1349"),
        "{flagged}"
    );
    // Readings that stray twice as far make a wider range.
    let profiled = shop
        .well(&format!("{quote} --json"))
        .json("pullcast/quote/4");
    let width = |answer: &serde_json::Value| {
        let range = &answer["promise"]["power_w"];
        range["p95"].as_f64().expect("a number") - range["p5"].as_f64().expect("a number")
    };
    assert!(width(&profiled) > width(&plain));
    assert_ne!(profiled["made_by"]["inputs"], plain["made_by"]["inputs"]);
    shop.well(&format!("{quote} --sheet sheet.html --date 2026-11-29"));
    let sheet = std::fs::read_to_string(shop.path("sheet.html")).expect("a sheet");
    for text in [
        "Cold Hill &amp; Sons",
        "1 Long Lane",
        "2026-12-13",
        "Bring it with a full tank.",
    ] {
        assert!(sheet.contains(text), "{text} in {sheet}");
    }
}

#[test]
fn a_car_of_twelve_lines_pulls_on_the_shops_drums() {
    assert_eq!(CAR.lines().count(), 12);
    let shop = Shop::new();
    shop.write("short.toml", CAR);
    // In metric units, before the profile states others.
    shop.measure();
    let alone = shop.run("predict short.toml --json");
    assert_eq!(alone.code, 65);
    assert!(alone.err.contains("drums"), "{}", alone.err);
    shop.write("pullcast.toml", PROFILE);
    // The shop's own car file says the same at length.
    let whole = shop.well("predict car.toml --units metric").out;
    let short = shop.well("predict short.toml --units metric");
    assert_eq!(short.out, whole);
    assert!(
        short.err.contains("rig 'linked drums' from"),
        "{}",
        short.err
    );
    let gone = shop.run("predict gone.toml");
    assert_eq!(gone.code, 66);
    shop.write("named.toml", &format!("rig = \"none such\"\n{CAR}"));
    let named = shop.run("predict named.toml");
    assert_eq!(named.code, 65);
    assert!(named.err.contains("linked drums"), "{}", named.err);
    // A fitted car takes its drums along.
    shop.well("fit short.toml visit.toml --out fitted.toml");
    std::fs::remove_file(shop.path("pullcast.toml")).expect("gone");
    shop.well("predict fitted.toml");
}

#[test]
fn a_profile_with_mistakes_is_told_and_nothing_is_answered_by_half_of_it() {
    let shop = Shop::new();
    shop.write(
        "pullcast.toml",
        &PROFILE
            .replace("\"3 %\"", "\"300 %\"")
            .replace("units", "unitz"),
    );
    let ran = shop.run("correct weather.toml");
    assert_eq!((ran.code, ran.out.as_str()), (65, ""), "{}", ran.err);
    assert!(
        ran.err.contains("unitz") && ran.err.contains("visit_repeatability"),
        "{}",
        ran.err
    );
    // Another file named in its place is one.
    shop.write("other.toml", WEATHER);
    assert_eq!(shop.run("correct weather.toml --shop other.toml").code, 65);
    assert_eq!(shop.run("correct weather.toml --shop none.toml").code, 66);
}
