//! Files that would act on the terminal, run in a spreadsheet, or drown a person in messages: what the program says of them is short and safe.
//!
//! Bounds are on the size of what is printed. Sizes of the files are a fraction of those measured by hand in release, so that the tests are quick.

use crate::shop::{CAR, Ran, Shop};
use std::fmt::Write as _;

/// Escape, bell, a carriage return inside a line, a mark that turns what follows, and one invisible.
const EVIL: &str = "a\\u001b[2J\\u0007\\r\\nPromise: 900 kW\\u202e\\u2066\\ufeff";

/// Nothing that acts on a terminal.
fn harmless(text: &str) {
    let acts = |c: char| {
        (c.is_control() && c != '\n' && c != '\t')
            || matches!(c, '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
    };
    if let Some(found) = text.chars().find(|&c| acts(c)) {
        panic!("{found:?} in {text}");
    }
}

fn short(ran: &Ran) {
    assert!(
        ran.out.len() + ran.err.len() < 30_000,
        "{} and {}",
        ran.out.len(),
        ran.err.len()
    );
}

fn evil(text: &str, name: &str) -> String {
    text.replace(&format!("name = \"{name}\""), &format!("name = \"{EVIL}\""))
}

#[test]
fn a_name_acts_neither_on_the_terminal_nor_on_a_written_file() {
    let shop = Shop::new();
    shop.measure();
    let visit = std::fs::read_to_string(shop.path("visit.toml")).expect("a visit");
    let line = visit
        .lines()
        .find(|l| l.starts_with("name = "))
        .expect("a name");
    shop.write(
        "visit.toml",
        &visit.replace(line, &format!("name = \"{EVIL}\"")),
    );
    shop.write("car.toml", &evil(CAR, "coupe"));
    for call in [
        "predict car.toml",
        "predict car.toml --json",
        "fit car.toml visit.toml --out fitted.toml",
        "fit car.toml visit.toml --json",
        "fit missing.toml visit.toml --json",
    ] {
        let ran = shop.run(call);
        harmless(&ran.out);
        harmless(&ran.err);
        assert!(
            !ran.out.lines().any(|l| l.starts_with("Promise: 900")),
            "{}",
            ran.out
        );
    }
    let fitted = std::fs::read_to_string(shop.path("fitted.toml")).expect("the fitted car");
    harmless(&fitted);
    shop.well("predict fitted.toml");
}

#[test]
fn what_is_wrong_is_shown_without_what_acts_in_it() {
    let shop = Shop::new();
    for text in [
        CAR.replace("cylinders = 4", "cylinders = \"\u{202e}\u{2066}four\""),
        CAR.replace("cylinders = 4", "cylinders = 4\n\"\\u001b[2J\u{202e}\" = 3"),
    ] {
        shop.write("car.toml", &text);
        for format in ["", " --json"] {
            let ran = shop.run(&format!("predict car.toml{format}"));
            assert_eq!(ran.code, 65, "{}", ran.err);
            harmless(&ran.err);
            assert!(
                ran.err.to_lowercase().contains("u+202e") || ran.err.contains("\\u202e"),
                "{}",
                ran.err
            );
        }
    }
}

#[test]
fn ten_problems_are_printed_and_the_rest_counted() {
    let shop = Shop::new();
    let mut text = CAR.to_owned();
    text.push_str("[limits]\n");
    for key in 0..3000 {
        let _ = writeln!(text, "nonsense_{key} = {key}");
    }
    shop.write("car.toml", &text);
    let ran = shop.run("predict car.toml");
    assert_eq!(ran.code, 65);
    short(&ran);
    assert_eq!(
        ran.err.matches("is not a known key").count(),
        10,
        "{}",
        ran.err
    );
    assert!(ran.err.contains("and 2990 more problems"), "{}", ran.err);
    let ran = shop.run("predict car.toml --json");
    short(&ran);
    let records = ran.records();
    assert_eq!(records[0]["problems"].as_array().map(Vec::len), Some(10));
    assert_eq!(records[0]["more"], 2990);
}

#[test]
fn a_plan_that_is_wrong_throughout_is_told_in_a_screen() {
    let shop = Shop::new();
    for (changes, told) in [
        (900, "and 890 more problems"),
        (2000, "[[change]] stands 2000 times"),
    ] {
        let change = "[[change]]\nkind = \"intake\"\narea_factor = 900\n";
        let head = "kind = \"plan\"\nversion = 1\nname = \"much\"\n";
        shop.write("plan.toml", &format!("{head}{}", change.repeat(changes)));
        let ran = shop.run("quote car.toml plan.toml");
        assert_eq!(ran.code, 65);
        short(&ran);
        assert!(ran.err.contains(told), "{}", ran.err);
    }
}

#[test]
fn columns_that_nobody_knows_are_one_line_however_many() {
    for many in [100, 1000, 2000] {
        let shop = Shop::new();
        shop.measure();
        let text = std::fs::read_to_string(shop.path("pull1.csv")).expect("the recording");
        let mut wide = String::new();
        for (at, line) in text.lines().enumerate() {
            wide.push_str(line);
            for column in 0..many {
                let _ = if at == 0 {
                    write!(wide, ",sensor {column} (V)")
                } else {
                    write!(wide, ",{column}")
                };
            }
            wide.push('\n');
        }
        shop.write("pull1.csv", &wide);
        let ran = shop.run("diagnose car.toml visit.toml --pull 1");
        short(&ran);
        let told = format!(
            "{many} columns are not read, their names are not known: sensor 0 (V), sensor 1 (V), sensor 2 (V) and {} more",
            many - 3
        );
        let said = ran
            .err
            .replace("| ", "")
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert_eq!(said.matches(&told).count(), 1, "{}", ran.err);
        // The header is shown around the place, not whole.
        assert!(!ran.err.contains("sensor 50"), "{}", ran.err);
    }
}

#[test]
fn a_log_named_like_a_formula_does_not_make_one_in_a_table() {
    let comment = pullcast::files::shown::table_comment("reduced from x,=cmd.csv: smoothed");
    assert_eq!(comment, "reduced from x,'=cmd.csv: smoothed");
}

#[test]
fn wrong_calls_are_answered_with_the_right_ones() {
    let shop = Shop::new();
    for (wrong, right) in [
        (
            "quote plan.toml car.toml",
            "pullcast quote car.toml plan.toml",
        ),
        ("predict plan.toml", "pullcast predict CAR.toml plan.toml"),
        (
            "fit car.toml weather.toml",
            "pullcast fit car.toml VISIT.toml",
        ),
        (
            "predict car.toml --wheather weather.toml",
            "pullcast predict car.toml --weather weather.toml",
        ),
        (
            "qoute car.toml plan.toml",
            "pullcast quote car.toml plan.toml",
        ),
    ] {
        let ran = shop.run(wrong);
        assert_ne!(ran.code, 0, "{wrong}");
        let said = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            said.contains(&format!("call it as: {right}")),
            "{wrong}: {}",
            ran.err
        );
    }
    let ran = shop.run("predict car.toml --wheather weather.toml --json");
    let call = ran.records()[0]["call"].to_string();
    assert!(
        call.contains("call it as: pullcast predict car.toml --weather weather.toml --json"),
        "{call}"
    );
}

#[test]
fn a_plan_behind_the_car_is_the_plan_of_the_option() {
    let shop = Shop::new();
    for verb in ["predict", "trace --rpm 5000"] {
        let behind = shop.well(&format!("{verb} car.toml plan.toml")).out;
        let option = shop.well(&format!("{verb} car.toml --plan plan.toml")).out;
        let without = shop.well(&format!("{verb} car.toml")).out;
        assert_eq!(behind, option);
        assert_ne!(behind, without);
    }
}

#[test]
fn starter_files_are_quoted_as_they_are_and_completions_and_manual_name_every_verb() {
    let shop = Shop::new();
    for units in ["metric", "shop"] {
        for kind in ["car", "plan", "weather"] {
            shop.well(&format!("new {kind} {units}_{kind}.toml --units {units}"));
        }
        shop.well(&format!(
            "quote {units}_car.toml {units}_plan.toml --weather {units}_weather.toml --draws 50"
        ));
    }
    let long = shop.well("new car --all").out;
    assert!(long.lines().count() > 200);
    let page = shop.well("manual").out;
    for verb in ["quote", "predict", "reduce", "completions"] {
        assert!(page.contains(verb), "{verb} in {page}");
        for shell in ["bash", "zsh", "fish"] {
            assert!(
                shop.well(&format!("completions {shell}"))
                    .out
                    .contains(verb)
            );
        }
    }
    assert!(shop.well("manual quote").out.contains("reach"));
    assert_eq!(shop.run("manual nothing").code, 2);
}
