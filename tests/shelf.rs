//! The shop's shelf from outside: parts imported from a table, named in a plan, and a quote that keeps the version it was made with.

use crate::shop::Shop;
use serde_json::Value;
use std::fs;

const PARTS: &str = "name,kind,rotors,displacement,drive_ratio,cooling,effectiveness,reference_flow,pressure_drop,note\n\
    screw-0.7,displacement blower,screw,0.7 L/rev,2.0,,,,,own pulls\n\
    water-cooler,charge cooler,,,,air to water,75 %,200 g/s,5 kPa,\n";
const SHORT: &str = "kind = \"plan\"\nversion = 1\nname = \"screw blower\"\n[[change]]\npart = \"screw-0.7\"\n[[change]]\npart = \"water-cooler\"\n";
const ASK: &str = "quote car.toml short.toml --draws 50 --json";

fn shop() -> Shop {
    let shop = Shop::new();
    shop.write("parts.csv", PARTS);
    shop.write("short.toml", SHORT);
    let done = shop
        .well("shelf import parts.csv --json")
        .json("pullcast/shelf/1");
    assert_eq!(done["parts"][0]["new"], true, "{done}");
    shop
}

#[test]
fn a_named_part_is_the_part_written_out() {
    let shop = shop();
    let inputs = |call: &str| {
        let quote: Value = serde_json::from_str(&shop.well(call).out).expect("JSON");
        quote["made_by"]["inputs"]
            .as_str()
            .expect("a number")
            .to_owned()
    };
    let written_out = inputs(&ASK.replace("short.toml", "plan.toml"));
    assert_eq!(inputs(ASK), written_out);
    let ran = shop.well(ASK);
    assert!(ran.err.contains("screw-0.7"), "{}", ran.err);
    // A key of the plan's own goes first.
    shop.write(
        "short.toml",
        &SHORT.replace("\"screw-0.7\"\n", "\"screw-0.7\"\ndrive_ratio = 2.1\n"),
    );
    assert_ne!(inputs(ASK), written_out);
    // From a folder below, as the profile is found.
    fs::create_dir(shop.path("jobs")).expect("a folder");
    shop.write("jobs/short.toml", SHORT);
    let below = crate::shop::run_in(&shop.path("jobs"), "predict ../car.toml short.toml");
    assert_eq!(below.code, 0, "{}", below.err);
}

#[test]
fn a_kept_quote_keeps_the_version_it_was_made_with() {
    let shop = shop();
    let quote: Value =
        serde_json::from_str(&shop.well(&format!("{ASK} --book")).out).expect("JSON");
    let number = quote["made_by"]["inputs"].as_str().expect("a number");
    let next = PARTS.replace("2.0", "2.3");
    shop.write("next.csv", &next);
    let done = shop
        .well("shelf import next.csv --json")
        .json("pullcast/shelf/1");
    assert_eq!(
        (&done["parts"][0]["version"], &done["parts"][1]["new"]),
        (&2.into(), &false.into())
    );
    let later: Value = serde_json::from_str(&shop.well(ASK).out).expect("JSON");
    assert_ne!(later["made_by"]["inputs"], quote["made_by"]["inputs"]);
    let again = |shop: &Shop| {
        shop.well(&format!("book again {number} --json"))
            .json("pullcast/again/1")["same"]
            .clone()
    };
    assert_eq!(again(&shop), true);
    shop.write(
        "old.toml",
        &SHORT.replace("\"screw-0.7\"\n", "\"screw-0.7\"\npart_version = 1\n"),
    );
    let old: Value =
        serde_json::from_str(&shop.well(&ASK.replace("short", "old")).out).expect("JSON");
    assert_eq!(old["made_by"]["inputs"], quote["made_by"]["inputs"]);
    for file in ["shelf.toml", "short.toml", "car.toml"] {
        fs::remove_file(shop.path(file)).expect("gone");
    }
    assert_eq!(again(&shop), true);
}

#[test]
fn what_the_shelf_lacks_is_told_with_the_nearest_name() {
    let shop = shop();
    shop.write("short.toml", &SHORT.replace("screw-0.7", "screw-0.8"));
    let ran = shop.run(ASK);
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(
        ran.err.contains("not_on_the_shelf") && ran.err.contains("screw-0.7"),
        "{}",
        ran.err
    );
    shop.write("wrong.csv", "name,kind,drive_ratio\nx,no such work,2\n");
    let ran = shop.run("shelf import wrong.csv");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(ran.err.contains("line 2"), "{}", ran.err);
    let shown = shop
        .well("shelf show water-cooler --json")
        .json("pullcast/part/1");
    assert_eq!(
        (&shown["kind"], &shown["versions"][0]),
        (&"charge cooler".into(), &1.into())
    );
    assert_eq!(shop.run("shelf show gone").code, 1);
    let listed = shop.well("shelf list").out;
    assert!(
        listed.contains("2 parts") && listed.contains("water-cooler"),
        "{listed}"
    );
}

#[test]
fn imports_at_once_lose_nothing() {
    const AT_ONCE: usize = 12;
    let shop = Shop::new();
    for place in 0..AT_ONCE {
        let row = format!("part {place},pulley,1.{place:02}\n");
        shop.write(
            &format!("{place}.csv"),
            &format!("name,kind,ratio_factor\n{row}"),
        );
    }
    let imports: Vec<_> = (0..AT_ONCE)
        .map(|place| {
            std::process::Command::new(assert_cmd::cargo::cargo_bin("pullcast"))
                .args(["shelf", "import", &format!("{place}.csv")])
                .current_dir(shop.path(""))
                .stdout(std::process::Stdio::null())
                .spawn()
                .expect("the program")
        })
        .collect();
    for mut import in imports {
        assert!(import.wait().expect("an end").success());
    }
    let listed = shop.well("shelf list --json").json("pullcast/shelf/1")["parts"].clone();
    assert_eq!(listed.as_array().map(Vec::len), Some(AT_ONCE), "{listed:#}");
}

#[test]
fn a_version_that_stands_twice_is_refused_at_its_line() {
    let shop = shop();
    let text = fs::read_to_string(shop.path("shelf.toml")).expect("a shelf");
    let (_, parts) = text.split_once("[[part]]").expect("a part");
    shop.write("shelf.toml", &format!("{text}\n[[part]]{parts}"));
    let ran = shop.run("shelf list");
    assert_eq!(ran.code, 65, "{}{}", ran.out, ran.err);
    assert!(
        ran.err.contains("version 1 of 'screw-0.7' stands twice"),
        "{}",
        ran.err
    );
}
