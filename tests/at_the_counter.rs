//! What a shop sees: the whole short output of a verb on the demo, 80 columns wide.
//!
//! The snapshots are there to be read. Each holds a complete answer in at most 25 lines, none of them wider than the terminal.

use crate::shop::answer_in;
use crate::sources::root;
use std::path::Path;

/// The answer without its details.
fn answer(folder: &Path, arguments: &str) -> String {
    let ran = answer_in(folder, arguments, &[("COLUMNS", "80")]);
    assert_eq!(ran.code, 0, "{arguments}: {}", ran.err);
    let lines = ran.out.trim_end().lines().count();
    assert!(lines <= 25, "{arguments}: {lines} lines\n{}", ran.out);
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{arguments}: {line}");
    }
    ran.out
}

fn scenario(name: &str) -> std::path::PathBuf {
    root().join("scenarios").join(name)
}

#[test]
fn compare() {
    let run = "compare baseline.toml after.toml --car car.toml --plan plan_screw_blower.toml";
    insta::assert_snapshot!(answer(&scenario("upland_estate"), run));
}

#[test]
fn fit_and_diagnose() {
    let folder = scenario("upland_estate");
    insta::assert_snapshot!("fit", answer(&folder, "fit car.toml baseline.toml"));
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let fitted = scratch.path().join("estate.toml").display().to_string();
    answer(
        &folder,
        &format!("fit car.toml baseline.toml --out {fitted}"),
    );
    let run = format!("diagnose {fitted} odd.toml --good baseline.toml --same-visit");
    insta::assert_snapshot!("diagnose", answer(&folder, &run));
}

#[test]
fn reduce() {
    insta::assert_snapshot!(answer(&scenario("drum_session"), "reduce session.toml"));
}

#[test]
fn reduce_in_shop_units() {
    insta::assert_snapshot!(answer(
        &scenario("drum_session"),
        "reduce session.toml --units shop"
    ));
}

#[test]
fn correct() {
    let run = "correct after_day.toml --power 150kW --electric 50kW";
    insta::assert_snapshot!(answer(&scenario("upland_estate"), run));
}

#[test]
fn correct_a_turbo_engine() {
    let run = "correct after_day.toml --charging turbo --units shop";
    insta::assert_snapshot!(answer(&scenario("upland_estate"), run));
}

#[test]
fn inertia() {
    let run = "inertia --added 30kgm2 --bare-time 60s --loaded-time 67.5s --stated 250kgm2";
    insta::assert_snapshot!(answer(&root(), run));
}

#[test]
fn trace() {
    let run = "trace car.toml --rpm 5000 --plan plan_screw_blower.toml";
    insta::assert_snapshot!(answer(&scenario("upland_estate"), run));
}
