//! What the program says of a car that runs into a limit of its fuel supply, clutch, converter or tyres, in text and in JSON,
//! and that the plan which lifts the limit takes the words away.

use crate::shop::{CAR, Shop};
use serde_json::Value;

/// Injectors enough for the car as it stands, not for the blower of the shop's plan.
const INJECTORS: &str = "[injectors]\nflow = \"240 cm3/min\"\n";
const LEAN: &str = "injector_duty";

fn shop(more: &str) -> Shop {
    let shop = Shop::new();
    shop.write("car.toml", &format!("{CAR}{more}"));
    shop
}

/// The shop's plan with more changes at its end.
fn and_then(shop: &Shop, changes: &str) {
    let plan = std::fs::read_to_string(shop.path("plan.toml")).expect("the plan");
    shop.write("more.toml", &format!("{plan}{changes}"));
}

fn predicted(shop: &Shop, arguments: &str) -> Value {
    let document = shop.well(&format!("predict {arguments} --json"));
    document.json("pullcast/predict/2")
}

fn limit<'v>(document: &'v Value, id: &str) -> Option<&'v Value> {
    let limits = document["limits"].as_array().expect("a list");
    limits.iter().find(|line| line["limit"] == id)
}

/// Text with its line breaks and indents taken out.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn injectors_too_small_for_the_plan_cap_the_prediction_and_say_from_where() {
    let shop = shop(INJECTORS);
    let before = predicted(&shop, "car.toml");
    assert!(limit(&before, LEAN).is_none(), "enough as it stands");
    assert_eq!(before["peak_power_capped_by"], serde_json::json!([]));
    let after = predicted(&shop, "car.toml --plan plan.toml");
    let line = limit(&after, LEAN).expect("the limit");
    let from = line["from_rpm"].as_f64().expect("an engine speed");
    assert!((3000.0..6800.0).contains(&from), "{line}");
    assert_eq!(line["caps_power"], true);
    assert_eq!(after["peak_power_capped_by"], serde_json::json!([LEAN]));
    for point in after["points"].as_array().expect("a list") {
        let at = |key: &str| point[key].as_f64().expect("a number");
        let capped = point["capped_by"]
            .as_array()
            .expect("a list")
            .contains(&LEAN.into());
        // One step of the computed pull to either side of where it starts.
        if at("rpm") > from + 150.0 {
            assert!(
                capped && at("lambda") > 0.88 && at("injector_duty") > 0.849,
                "{point}"
            );
        } else if at("rpm") < from - 150.0 {
            assert!(!capped && at("injector_duty") < 0.851, "{point}");
        }
    }
    let text = flat(&shop.well("predict car.toml --plan plan.toml").out);
    for part in [
        "The peak is capped: injectors at their duty limit",
        "It caps the power. Larger injectors or more rail pressure.",
        "do not make this pull",
        "duty",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    // Larger ones lift it, and then the peak is that of a car whose fuel supply is not known.
    and_then(
        &shop,
        "[[change]]\nkind = \"injectors\"\nflow = \"60 lb/h\"\n",
    );
    let lifted = predicted(&shop, "car.toml --plan more.toml");
    assert!(limit(&lifted, LEAN).is_none());
    shop.write("car.toml", CAR);
    let free = predicted(&shop, "car.toml --plan plan.toml");
    assert_eq!(lifted["peak_power"], free["peak_power"]);
    let peak = |document: &Value| {
        document["peak_power"]["power_w"]
            .as_f64()
            .expect("a number")
    };
    assert!(
        peak(&after) < 0.97 * peak(&free),
        "{} {}",
        peak(&after),
        peak(&free)
    );
    assert_eq!(free["points"][3]["injector_duty"], Value::Null);
}

#[test]
fn a_quote_of_a_capped_car_says_so_in_its_first_paragraph_and_warns() {
    let shop = shop(INJECTORS);
    let run = "quote car.toml plan.toml --draws 60 --seed 3";
    let document = shop.well(&format!("{run} --json")).json("pullcast/quote/4");
    assert_eq!(document["promise"]["capped_by"], serde_json::json!([LEAN]));
    let line = limit(&document, LEAN).expect("the limit");
    assert_eq!(line["caps_power"], true);
    assert!(
        line["share_of_draws"]
            .as_f64()
            .is_some_and(|share| share > 0.9),
        "{line}"
    );
    assert!(
        line["from_rpm"].as_f64().is_some_and(|rpm| rpm > 3000.0),
        "{line}"
    );
    let about = |about: &str| {
        let cautions = document["cautions"].as_array().expect("a list");
        cautions.iter().any(|caution| caution["caution"] == about)
    };
    assert!(about("lean_mixture"), "{}", document["cautions"]);
    let expected = |key: &str| document["expected"][key]["p50"].as_f64().expect("a number");
    // Their limit is 0.85 with a doubt of 0.03, so the middle of 60 draws strays from it by 0.005; three times that.
    assert!((expected("injector_duty") - 0.85).abs() < 0.015);
    // A blower's boost and warmth are there to be logged.
    assert!(expected("boost_pa") > 10e3 && expected("charge_k") > 300.0);
    let text = flat(&shop.well(run).out);
    for part in [
        "The peak is capped: injectors",
        "lean mixture: ",
        "fuel pump and lines: whether they carry the fuel",
        "clutch and gearbox: whether they hold the torque",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    // A car whose supply is large enough has neither the words nor the caution.
    let supply = "[injectors]\nflow = \"900 cm3/min\"\n[fuel_pump]\nflow = \"340 L/h\"\n[clutch]\ncapacity = \"600 N m\"\n";
    shop.write("car.toml", &format!("{CAR}{supply}"));
    let text = flat(&shop.well(run).out);
    for part in [
        "capped",
        "lean mixture",
        "clutch and gearbox",
        "whether they carry the fuel",
    ] {
        assert!(!text.contains(part), "{part} in {text}");
    }
    assert!(
        text.contains("gearbox and shafts: whether they hold the torque"),
        "{text}"
    );
}

#[test]
fn a_pump_on_a_referenced_rail_is_named_as_the_limit() {
    let shop = shop("[fuel_pump]\nflow = \"50 L/h\"\n[fuel_rail]\npressure = \"3 bar\"\n");
    let words = "fuel_pump";
    let after = predicted(&shop, "car.toml --plan plan.toml");
    assert_eq!(after["peak_power_capped_by"], serde_json::json!([words]));
    and_then(
        &shop,
        "[[change]]\nkind = \"fuel pump\"\nflow = \"190 L/h\"\n",
    );
    let lifted = predicted(&shop, "car.toml --plan more.toml");
    assert!(limit(&lifted, words).is_none());
}

#[test]
fn a_clutch_too_weak_for_the_plan_caps_it_from_the_speed_at_which_it_slips() {
    let shop = shop("[clutch]\ncapacity = \"215 N m\"\n");
    let before = predicted(&shop, "car.toml");
    assert!(
        limit(&before, "clutch_slip").is_none(),
        "{}",
        before["limits"]
    );
    let after = predicted(&shop, "car.toml --plan plan.toml");
    let line = limit(&after, "clutch_slip").expect("the limit");
    assert_eq!(line["caps_power"], true);
    for point in after["points"].as_array().expect("a list") {
        let torque = point["torque_nm"].as_f64().expect("a number");
        assert!(torque < 215.0, "{point}");
    }
    // 2 faces, 0.3, 12 kN, 0.12 and 0.08 m carry 729.6 N m.
    let sizes = "faces = 2\nfriction = 0.3\nclamp = \"12 kN\"\nouter_radius = \"120 mm\"\ninner_radius = \"80 mm\"\n";
    and_then(&shop, &format!("[[change]]\nkind = \"clutch\"\n{sizes}"));
    let lifted = predicted(&shop, "car.toml --plan more.toml");
    assert!(limit(&lifted, "clutch_slip").is_none());
    shop.write("car.toml", CAR);
    let free = predicted(&shop, "car.toml --plan plan.toml");
    assert_eq!(lifted["peak_power"], free["peak_power"]);
}

#[test]
fn thresholds_of_the_car_file_are_told_as_advice_with_their_speeds() {
    let usual = shop("");
    let plain = predicted(&usual, "car.toml");
    let advisory = |document: &Value| {
        let limits = document["limits"].as_array().expect("a list");
        let words = |line: &Value| {
            let id = line["limit"].as_str().expect("an id");
            document["words"]["limit"][id].as_str().map(str::to_owned)
        };
        let told = limits.iter().filter_map(words);
        told.filter(|words| words.contains("advisory")).count()
    };
    assert_eq!(advisory(&plain), 0, "{}", plain["limits"]);
    let limits = "[limits]\nexhaust_temperature = \"600 °C\"\npeak_pressure = \"50 bar\"\npiston_speed = \"18 m/s\"\ntyre_speed = \"100 km/h\"\n";
    usual.write("car.toml", &format!("{CAR}{limits}"));
    let told = predicted(&usual, "car.toml");
    assert_eq!(advisory(&told), 4, "{}", told["limits"]);
    assert_eq!(told["points"], plain["points"], "advice moves no figure");
    let piston = limit(&told, "piston_speed").expect("told");
    // 2 · 0.086 m · N/60 = 18 m/s at 6279 rpm; the pull is computed at 40 speeds, 126 rpm apart.
    let from = piston["from_rpm"].as_f64().expect("an engine speed");
    assert!((6279.0..6279.0 + 126.0).contains(&from), "{from}");
    let text = flat(&usual.well("predict car.toml").out);
    assert!(
        text.contains("Tyres with a higher speed rating, or a lower gear"),
        "{text}"
    );
    let quote = flat(&usual.well("quote car.toml plan.toml --draws 60").out);
    assert!(quote.contains("rated for 100 km/h"), "{quote}");
}

#[test]
fn the_trace_shows_the_fuel_supply_at_work() {
    let shop = shop(&format!("{INJECTORS}[fuel_pump]\nflow = \"90 L/h\"\n"));
    let run = "trace car.toml --plan plan.toml --rpm 6500";
    let document = shop.well(&format!("{run} --json")).json("pullcast/trace/2");
    let step = |part: &str, quantity: &str| {
        let sections = document["sections"].as_array().expect("a list");
        let section = sections.iter().find(|s| s["part"] == part).expect(part);
        let steps = section["steps"].as_array().expect("a list");
        let found = steps.iter().find(|s| s["quantity"] == quantity);
        found.expect(quantity).clone()
    };
    let value =
        |part: &str, quantity: &str| step(part, quantity)["value"].as_f64().expect("a number");
    let fuel = value("charge", "fuel_flow");
    // The mixture is carried from pass to pass until it stands still to 1e-6.
    let most = value("fuel_supply", "injector_flow_limit");
    assert!((fuel / most - 1.0).abs() < 1e-5, "{fuel} {most}");
    // 90 L/h of 745 kg/m³ less 10 % for each 100 kPa of boost: nearer to the rated 18.6 g/s than the engine comes.
    assert!(value("fuel_supply", "pump_flow_limit") > 1.1 * fuel);
    assert!((value("fuel_supply", "injector_duty") / 0.85 - 1.0).abs() < 1e-5);
    let words = &step("charge", "lambda")["equation"];
    assert_eq!(words, "mixture_by_supply");
    assert!(shop.well(run).out.contains("Fuel supply"));
}

/// Newton on the drums in the working of a trace, whatever clutch or converter do.
#[test]
fn the_trace_works_clutch_and_converter_forward_to_the_pulls_own_reading() {
    let automatic = CAR.replace(
        "gear = 1.36",
        "gear = 1.36\ngearbox = \"automatic\"\noil = \"ATF\"",
    );
    let converter = "[converter]\nstall_speed = \"1900 rpm\"\nstall_torque = \"200 N m\"\n";
    for (car, words) in [
        (format!("{automatic}{converter}"), "converter speed ratio"),
        (
            format!("{CAR}[clutch]\ncapacity = \"150 N m\"\n"),
            "torque into the gearbox",
        ),
    ] {
        let shop = Shop::new();
        shop.write("car.toml", &car);
        let run = "trace car.toml --rpm 4500";
        let document = shop.well(&format!("{run} --json")).json("pullcast/trace/2");
        let sections = document["sections"].as_array().expect("a list");
        let drums = sections.last().expect("sections");
        let step = |quantity: &str| {
            let steps = drums["steps"].as_array().expect("a list");
            let found = steps.iter().find(|s| s["quantity"] == quantity);
            found.expect(quantity)["value"].as_f64().expect("a number")
        };
        let net = step("drum_force") - step("drum_drag");
        let inertia = step("drum_mass") * step("surface_acceleration");
        // The pull settles acceleration and slip to 1e-9 of themselves, an open converter's ratio with them.
        assert!((net / inertia - 1.0).abs() < 1e-6, "{net} {inertia}");
        assert!(shop.well(run).out.contains(words));
    }
}

#[test]
fn a_car_with_every_part_is_written_and_read_again_as_it_was() {
    let automatic = CAR.replace(
        "gear = 1.36",
        "gear = 1.36\ngearbox = \"automatic\"\noil = \"75W-80\"",
    );
    let parts = "[injectors]\nflow = \"42 lb/h\"\ncount = 8\n[fuel_pump]\nflow = \"255 L/h\"\n[fuel_rail]\nreference = \"outside\"\n\
        [clutch]\ncapacity = \"600 ± 30 N m\"\n[converter]\nstall_speed = \"1900 rpm\"\nstall_torque = \"200 N m\"\n\
        [limits]\ntyre_speed = \"240 km/h\"\npeak_pressure = \"130 bar\"\n";
    let shop = Shop::new();
    let path = shop.path("car.toml");
    shop.write("car.toml", &format!("{automatic}{parts}"));
    let (first, warnings) = pullcast::files::car::open(&path).expect("a car");
    assert!(warnings.is_empty(), "{warnings}");
    let written = shop.path("written.toml");
    let new = pullcast::files::Overwrite::Refuse;
    pullcast::files::car_write::save(
        &written,
        &first,
        &first.sheet,
        &pullcast::files::car_write::Account::default(),
        new,
    )
    .expect("written");
    let (again, _) = pullcast::files::car::open(&written).expect("a car");
    let (a, b) = (&first.sheet.centre.car, &again.sheet.centre.car);
    assert_eq!(first.parts.supply, again.parts.supply);
    assert_eq!(a.fuel_supply.injectors.expect("injectors").count, 8);
    // Centres keep nine digits.
    let close = |x: f64, y: f64| assert!((x / y - 1.0).abs() < 1e-8, "{x} {y}");
    let flow = |car: &pullcast::car::Car| car.fuel_supply.injectors.expect("injectors").flow_m3_s;
    close(flow(a), flow(b));
    // 42 lb/h over 745 kg/m³.
    close(flow(a), 42.0 * 0.453_592_37 / 3600.0 / 745.0);
    close(
        a.driveline.clutch_nm.expect("a clutch"),
        b.driveline.clutch_nm.expect("a clutch"),
    );
    assert_eq!(a.fuel_supply.rail, b.fuel_supply.rail);
    assert_eq!(a.driveline.oil, b.driveline.oil);
    let stall = |car: &pullcast::car::Car| car.driveline.converter.expect("open").stall_speed_rad_s;
    close(stall(a), stall(b));
    assert!(!a.driveline.converter.expect("open").locked);
}
