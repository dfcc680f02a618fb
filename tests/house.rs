//! What a shop asks of its house: a class rule, two rigs, the drift of pulls in a row, boost against what was declared; as a user runs it.
//!
//! The pulls are made here, so that what must come out is known before it is asked.

use crate::shop::{Ran, Shop, answer_in};
use serde_json::Value;
use std::fmt::Write as _;

const HEAD: &str = "kind = \"visit\"\nversion = 1\n";
const ROOM: &str = "[weather]\ntemperature = \"25 °C\"\nrelative_humidity = \"0 %\"\nstation_pressure = \"99 kPa\"\n";

/// Power of the made-up car, kW: a parabola with its top of 200 at 5500 rpm.
fn power_kw(rpm: f64) -> f64 {
    200.0 - 12.0 * ((rpm - 5500.0) / 1000.0).powi(2)
}

/// Boost of the made-up car, kPa gauge: level, with a hump of 10 kPa about 4000 rpm.
fn boost_kpa(rpm: f64) -> f64 {
    60.0 + 10.0 * (-((rpm - 4000.0) / 400.0).powi(2)).exp()
}

/// A pull of 10 s from 2000 to 6500 rpm, 50 rows a second.
fn pull(scale: f64) -> String {
    let mut csv = String::from("time (s),engine speed (rpm),wheel power (kW),boost (kPa gauge)\n");
    for row in 0..=500 {
        let time = 0.02 * f64::from(row);
        let rpm = 2000.0 + 450.0 * time;
        writeln!(
            csv,
            "{time:.2},{rpm:.1},{:.4},{:.3}",
            scale * power_kw(rpm),
            boost_kpa(rpm)
        )
        .expect("a String takes all");
    }
    csv
}

/// A visit of pulls that read so much of the made-up car, each after a rest.
fn visit(shop: &Shop, name: &str, pulls: &[(f64, Option<&str>)]) {
    let mut text = format!("{HEAD}name = \"{name}\"\n{ROOM}");
    for (place, (scale, rest)) in pulls.iter().enumerate() {
        let file = format!("{name}_{place}.csv");
        shop.write(&file, &pull(*scale));
        write!(text, "[[pull]]\nfile = \"{file}\"\n").expect("a String takes all");
        if let Some(rest) = rest {
            writeln!(text, "rest_before = \"{rest}\"").expect("a String takes all");
        }
    }
    shop.write(&format!("{name}.toml"), &text);
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// The short answer: at most 25 lines of 80 columns.
fn at_the_counter(shop: &Shop, call: &str, code: i32) -> String {
    let ran = answer_in(&shop.path(""), call, &[("COLUMNS", "80")]);
    assert_eq!(ran.code, code, "{call}: {}{}", ran.out, ran.err);
    assert!(ran.out.trim_end().lines().count() <= 25, "{}", ran.out);
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    ran.out
}

fn refused(ran: &Ran, code: i32, words: &str) {
    assert_eq!(ran.code, code, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains(words), "{words} in {}", ran.err);
}

#[test]
fn pulls_in_a_row_tell_their_drift_and_what_a_rest_gave_back() {
    let shop = Shop::new();
    // 1 % less from pull to pull, and scatter whose slope and mean over the rows are nothing: of each row (+1, −2, +1)/1000.
    let level = |k: f64, scatter: f64| (-0.01 * k + 1e-3 * scatter).exp();
    let rest = Some("2 min");
    visit(
        &shop,
        "row",
        &[
            (level(0.0, 1.0), None),
            (level(1.0, -2.0), rest),
            (level(2.0, 1.0), rest),
            (level(0.5, 1.0), Some("20 min")),
            (level(1.5, -2.0), rest),
            (level(2.5, 1.0), rest),
        ],
    );
    let document = shop
        .well("compare row.toml --json")
        .json("pullcast/drift/1");
    let drift = &document["per_pull"];
    // Power is written to a tenth of a watt and levels agree to the curve's rounding.
    assert!((number(&drift["value"]) + 0.01).abs() < 1e-6, "{drift}");
    // s² = 2 (1 + 4 + 1) 1e-6/(6 − 2 − 1), se = s/√(2 · 2).
    let scatter = (12e-6_f64 / 3.0).sqrt();
    assert!(
        (number(&document["scatter"]) - scatter).abs() < 1e-6,
        "{document}"
    );
    assert!((number(&drift["standard_error"]) - 0.5 * scatter).abs() < 1e-6);
    // t(0.95; 3) = 2.353 (every table of Student's distribution, from memory).
    let half = 0.5 * (number(&drift["high"]) - number(&drift["low"]));
    assert!((half / (0.5 * scatter) - 2.353).abs() < 1e-3, "{half}");
    // From 2.0 back to 0.5 pulls' worth.
    let back = &document["recovered"][0];
    assert!(
        (number(&back["gained"]["value"]) - 0.015).abs() < 1e-6,
        "{back}"
    );
    assert!((number(&back["lost"]) - 0.02).abs() < 1e-6, "{back}");
    let text = at_the_counter(&shop, "compare row.toml", 0);
    for part in [
        "From pull to pull -1.0",
        "20 min of rest",
        "75 % of what was lost came back",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

#[test]
fn a_drift_is_held_against_the_car_as_described() {
    let shop = Shop::new();
    let blower = "[blower]\nkind = \"screw\"\ndisplacement = \"0.7 L/rev\"\ndrive_ratio = 2.0\n[cooler]\nkind = \"air to water\"\n";
    shop.write("blown.toml", &format!("{}{blower}", crate::shop::CAR));
    let rest = Some("10 s");
    let pulls = [(1.0, None), (0.97, rest), (0.94, rest), (0.91, None)];
    visit(&shop, "row", &pulls);
    let call = "compare row.toml --car blown.toml --json";
    let document = shop.well(call).json("pullcast/drift/1");
    assert_eq!(document["predicted"]["contradicted"], true, "{document}");
    let own = |document: &Value, pull: usize| number(&document["pulls"][pull]["predicted_change"]);
    // A warm car is another one, the more so the more pulls it made; a rested one is the first again, to the digit.
    let warm = [own(&document, 1), own(&document, 2)];
    assert!(
        warm[0] != 0.0 && warm[1].abs() > 1.5 * warm[0].abs(),
        "{warm:?}"
    );
    assert_eq!(own(&document, 3), 0.0);
    // Of the same sign as `predict` has it, and with a long rest less.
    let asked = "predict blown.toml --pulls 3 --rest 10s --json";
    let predicted = shop.well(asked).json("pullcast/predict/2");
    let there = number(&predicted["sequence"]["pulls"][2]["change"]);
    assert!(there * warm[1] > 0.0, "{there} {warm:?}");
    let rest = Some("30 min");
    visit(
        &shop,
        "slow",
        &[(1.0, None), (0.97, rest), (0.94, rest), (0.91, None)],
    );
    let slow = shop.well("compare slow.toml --car blown.toml --json");
    let slow = own(&slow.json("pullcast/drift/1"), 2);
    assert!(slow.abs() < warm[1].abs(), "{slow} {warm:?}");
    let text = at_the_counter(&shop, "compare row.toml --car blown.toml", 0);
    assert!(text.contains("these pulls leave out"), "{text}");
}

#[test]
fn pulls_without_a_stated_rest_are_no_row() {
    let shop = Shop::new();
    visit(&shop, "loose", &[(1.0, None), (0.99, None), (0.98, None)]);
    refused(
        &shop.run("compare loose.toml"),
        1,
        "state rest_before in the visit",
    );
    visit(&shop, "pair", &[(1.0, None), (0.99, Some("2 min"))]);
    refused(
        &shop.run("compare pair.toml"),
        1,
        "three pulls made one right after the other",
    );
}

#[test]
fn two_rigs_differ_by_what_their_cars_tell() {
    let shop = Shop::new();
    // Differences of Student's first three pairs of sleepers, +1.2, +2.4 and +1.3, as per cent in logarithms: mean 1.6333, s 0.6658.
    // Each car makes power of its own, or its recordings would be those of another.
    for (car, of, ln) in [("a", 1.0, 0.012), ("b", 0.9, 0.024), ("c", 1.1, 0.013_f64)] {
        let again = Some("5 min");
        visit(
            &shop,
            &format!("{car}_here"),
            &[(of, None), (1.002 * of, again)],
        );
        let there = of * ln.exp();
        visit(
            &shop,
            &format!("{car}_there"),
            &[(there, None), (1.002 * there, again)],
        );
    }
    let car = |name: &str| format!("--car {name}_here.toml {name}_there.toml");
    let call = format!("offset {} {} {}", car("a"), car("b"), car("c"));
    let document = shop
        .well(&format!("{call} --json"))
        .json("pullcast/offset/1");
    let ln = |key: &str| number(&document[key]).ln_1p();
    assert!((ln("offset") - 0.016_333).abs() < 2e-6, "{document}");
    // t(0.95; 2) = 2.920 (every table of Student's distribution, from memory), s/√3 = 0.3844 %.
    let half = 0.5 * (ln("high") - ln("low"));
    assert!((half - 2.920 * 0.003_844_2).abs() < 5e-6, "{half}");
    assert_eq!(document["stands_out"], true);
    assert_eq!(document["range_from"], "cars");
    let text = at_the_counter(&shop, &call, 0);
    assert!(
        text.contains("The other rig reads +1.6 % (+0.5 to +2.8 %)"),
        "{text}"
    );

    let alone = shop.well(&format!("offset {} --json", car("a")));
    let document = alone.json("pullcast/offset/1");
    assert_eq!(document["range_from"], "usual_repeatability");
    // √(2 · 0.015² + 0.007² (1/2 + 1/2)): the defaults of docs/files.md; both days are the same.
    let usual = (2.0 * 0.015_f64.powi(2) + 0.007_f64.powi(2)).sqrt();
    assert!((number(&document["standard_error"]) - usual).abs() < 1e-9);
    assert_eq!(document["stands_out"], false);
}

#[test]
fn two_rigs_are_held_together_in_one_air_and_over_all_speeds() {
    let shop = Shop::new();
    visit(&shop, "here", &[(1.0, None)]);
    // Thinner air there, the same power read: so much more of the rig's. The factor of SAE J1349 in dry air of 25 °C (a standard's formula, from memory):
    // 1.18 · 99/95 − 0.18.
    visit(&shop, "there", &[(1.0003, None)]);
    let thin = std::fs::read_to_string(shop.path("there.toml")).expect("a visit");
    shop.write("there.toml", &thin.replace("99 kPa", "95 kPa"));
    let call = "offset --car here.toml there.toml --json";
    let document = shop.well(call).json("pullcast/offset/1");
    let factor = 1.0003 * (1.18 * 99.0 / 95.0 - 0.18);
    assert!(
        (number(&document["offset"]) / (factor - 1.0) - 1.0).abs() < 1e-3,
        "{document}"
    );
    // What the factor leaves open widens the range of one car beyond what visits and pulls stray by.
    let usual = (2.0 * 0.015_f64.powi(2) + 0.007_f64.powi(2) * 2.0).sqrt();
    assert!(
        number(&document["standard_error"]) > 1.02 * usual,
        "{document}"
    );
    // Less below 4250 rpm and more above, told apart by halves of the shared speeds, which lie 250 rpm apart.
    let tilted = |rpm: f64| 1.0 + 0.02 * (rpm - 4250.0) / 4500.0;
    let mut csv = String::from("time (s),engine speed (rpm),wheel power (kW)\n");
    for row in 0..=500 {
        let time = 0.02 * f64::from(row);
        let rpm = 2000.0 + 450.0 * time;
        writeln!(csv, "{time:.2},{rpm:.1},{:.4}", tilted(rpm) * power_kw(rpm))
            .expect("a String takes all");
    }
    visit(&shop, "tilted", &[(1.0, None)]);
    shop.write("tilted_0.csv", &csv);
    let document = shop
        .well("offset --car here.toml tilted.toml --json")
        .json("pullcast/offset/1");
    let car = &document["cars"][0];
    let (from, to) = (number(&car["from_rpm"]), number(&car["to_rpm"]));
    assert_eq!((from, to), (2750.0, 6250.0), "{car}");
    // Seven speeds below, eight above.
    for (found, middle) in [
        (&car["halves"][0], 3500.0),
        (&car["halves"][1], 5375.0),
        (&document["offset"], 4500.0),
    ] {
        let expected = tilted(middle) - 1.0;
        // A mean of logarithms lies below the logarithm of the mean by half the variance, 1e-5 here.
        assert!((number(found) - expected).abs() < 3e-5, "{expected} {car}");
    }
    // Power of a motor on the other axle is no engine's.
    let with_axle = |name: &str| {
        let text = std::fs::read_to_string(shop.path(name)).expect("a visit");
        shop.write(name, &format!("{text}electric_axle = \"on\"\n"));
    };
    with_axle("tilted.toml");
    refused(
        &shop.run("offset --car here.toml tilted.toml"),
        1,
        "hold electric power",
    );
}

const CLASS: &str = "kind = \"class\"\nversion = 1\nname = \"street\"\ncorrection = \"none\"\ngrid = \"500 rpm\"\ncounts = \"highest\"\ntolerance = \"2 %\"\n";

#[test]
fn a_class_rule_is_met_or_not_with_its_chance_and_its_ballast() {
    let shop = Shop::new();
    visit(&shop, "pulls", &[(1.0, None), (0.99, Some("5 min"))]);
    let limits = "highest_power = \"198 kW\"\nhighest_power_to_weight = \"160 W/kg\"\n";
    shop.write("class.toml", &format!("{CLASS}{limits}"));
    let call = "rules class.toml pulls.toml --mass 1200±12kg";
    let ran = shop.run(&format!("{call} --json"));
    assert_eq!(ran.code, 1, "{}", ran.err);
    let document = ran.json("pullcast/rules/1");
    // The mean of the parabola over 500 rpm about its top: 200 − 12 · 0.25²/3; bands of 100 rpm take off another 12 · 0.05²/3.
    let reading = 200e3 - 12e3 * (0.25 * 0.25 + 0.05 * 0.05) / 3.0;
    let value = number(&document["power_w"]["value"]);
    assert!((value / reading - 1.0).abs() < 1e-4, "{value} {reading}");
    let power = &document["power"];
    assert_eq!(power["standing"], "within_tolerance");
    assert_eq!(document["power_to_weight"]["standing"], "over");
    // sd of the next check's logarithm: √[2 (0.015² + 0.007²/2)]; Φ from ln(limit/reading) in units of it.
    let sd = (2.0 * (0.015_f64.powi(2) + 0.007_f64.powi(2) / 2.0)).sqrt();
    let z = (198e3 / value).ln() / sd;
    // Φ(−0.40) = 0.3446 and its slope there 0.3683 (a table of the normal distribution, from memory).
    assert!((z + 0.40).abs() < 0.03, "{z}");
    let expected = 0.3446 + 0.3683 * (z + 0.40);
    assert!(
        (number(&power["chance"]["pass"]) - expected).abs() < 1e-3,
        "{power}"
    );
    // Both doubts: relative ones add as squares; 90 % of a normal curve lie within 1.645 standard deviations, as everywhere in the files.
    let both = sd.hypot(0.01);
    let ratio = &document["power_to_weight_w_kg"];
    let found = (number(&ratio["high"]) / number(&ratio["value"])).ln() / 1.645;
    assert!((found - both).abs() < 1e-6, "{found} {both}");
    // Ballast: power over the limit less the mass; the sure one by z(0.90) = 1.2816 standard deviations more power.
    let ballast = &document["ballast"];
    assert!((number(&ballast["least_kg"]) - (value / 160.0 - 1200.0)).abs() < 1e-6);
    let sure = value * (1.281_551_6 * both).exp() / 160.0 - 1200.0;
    assert!(
        (number(&ballast["sure_kg"]) - sure).abs() < 1e-3,
        "{ballast}"
    );
    let text = at_the_counter(&shop, call, 1);
    for part in [
        "Over the limit of street: power to weight",
        "Ballast: ",
        "loose weight injures",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    refused(&shop.run("rules class.toml pulls.toml"), 2, "give --mass");
    // The mean of both pulls counts where the class says so.
    let mean = CLASS.replace("\"highest\"", "\"mean\"");
    shop.write("mean.toml", &format!("{mean}highest_power = \"198 kW\"\n"));
    let of_mean = shop
        .run("rules mean.toml pulls.toml --json")
        .json("pullcast/rules/1");
    let of_mean = number(&of_mean["power_w"]["value"]);
    assert!(
        (of_mean / (0.995 * value) - 1.0).abs() < 1e-6,
        "{of_mean} {value}"
    );
    shop.write("easy.toml", &format!("{CLASS}highest_power = \"210 kW\"\n"));
    let text = at_the_counter(&shop, "rules easy.toml pulls.toml", 0);
    assert!(text.contains("Passes street"), "{text}");
}

#[test]
fn a_quote_is_held_against_a_class_as_pulls_are() {
    let shop = Shop::new();
    let class = CLASS.replace("\"none\"", "\"sae-j1349\"");
    shop.write(
        "class.toml",
        &format!("{class}highest_power = \"200 kW\"\n"),
    );
    let quoted = shop.well("quote car.toml plan.toml --json");
    let quoted: Value = serde_json::from_str(&quoted.out).expect("JSON");
    let peak = &quoted["promise"]["corrected_power_w"];
    let ran = shop.run("rules class.toml --car car.toml --plan plan.toml --json");
    let document = ran.json("pullcast/rules/1");
    let figure = &document["power_w"];
    // The average over a grid lies below the peak, by little where the curve is flat.
    let off = number(&figure["value"]) / number(&peak["p50"]);
    assert!((0.95..1.0).contains(&off), "{off}");
    let width = |low: &Value, high: &Value| (number(high) / number(low)).ln();
    let (own, theirs) = (
        width(&figure["low"], &figure["high"]),
        width(&peak["p5"], &peak["p95"]),
    );
    assert!((own - theirs).abs() < 1e-9, "{own} {theirs}");
    assert_eq!(document["counted"]["measured"], false);
}

#[test]
fn boost_is_held_against_what_was_declared() {
    let shop = Shop::new();
    visit(&shop, "pulls", &[(1.0, None)]);
    let declared = |tolerance: &str, what: &str| {
        shop.write(
            "class.toml",
            &format!("{CLASS}[boost]\ntolerance = \"{tolerance}\"\n{what}\n"),
        );
        let ran = shop.run("rules class.toml pulls.toml --json");
        (ran.code, ran.json("pullcast/rules/1"))
    };
    let (code, document) = declared("5 kPa", "highest = \"63 kPa gauge\"");
    let boost = &document["boost"];
    assert_eq!((code, &boost["standing"]), (1, &Value::from("over")));
    let stretch = &boost["over"][0];
    // The hump is 10 kPa high at 4000 rpm and above 3 kPa for |n − 4000| < 400 √ln(10/3) = 439 rpm, which the car passes in 1.95 s at 450 rpm/s;
    // bands of 100 rpm end within one band of it. Over a band whose middle lies 50 rpm off its top at most, the hump's mean is lower than the top by
    // 10 kPa (50² + 100²/12)/400² = 0.208 kPa at most.
    let excess = number(&stretch["excess_pa"]);
    assert!((7e3 - 208.0..=7e3).contains(&excess), "{stretch}");
    assert!(
        (number(&stretch["at_rpm"]) - 4000.0).abs() <= 50.0,
        "{stretch}"
    );
    assert!(
        (number(&stretch["duration_s"]) - 1.95).abs() < 0.23,
        "{stretch}"
    );
    assert!(
        (number(&stretch["from_rpm"]) - 3561.0).abs() <= 100.0,
        "{stretch}"
    );
    let (code, document) = declared("8 kPa", "highest = \"63 kPa gauge\"");
    assert_eq!(
        (code, &document["boost"]["standing"]),
        (0, &Value::from("within_tolerance"))
    );
    let curve = "speed = [\"3000 rpm\", \"4000 rpm\", \"6000 rpm\"]\ngauge = [\"66 kPa gauge\", \"75 kPa gauge\", \"66 kPa gauge\"]";
    let (code, document) = declared("1 kPa", curve);
    assert_eq!(
        (code, &document["boost"]["standing"]),
        (0, &Value::from("pass")),
        "{document}"
    );
    // Not judged where nothing is declared.
    assert!(number(&document["boost"]["speeds_rpm"][0]) >= 3000.0);
    let text = at_the_counter(&shop, "rules class.toml pulls.toml", 0);
    assert!(text.contains("nowhere above what was declared"), "{text}");
}
