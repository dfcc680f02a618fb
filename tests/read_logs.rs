//! `read`: what it shows, the one question it asks, and the answers it keeps for the next log.

use crate::shop::Shop;
use std::f64::consts::PI;
use std::fmt::Write as _;

/// A log of 9 s whose power has no unit: 300 N m from 2200 to 6700 rpm.
fn log(head: &str) -> String {
    let mut text = format!("{head}\n");
    for row in 0..=450 {
        let time_s = 0.02 * f64::from(row);
        let rpm = 2200.0 + 500.0 * time_s;
        let hp = 300.0 * rpm * PI / 30.0 / 745.7;
        writeln!(text, "{time_s:.2},{rpm:.0},{hp:.2}").expect("a String takes all");
    }
    text
}

#[test]
fn a_question_is_one_error_that_names_the_option_and_its_answer_is_kept() {
    let shop = Shop::new();
    shop.write("one.csv", &log("Time (s),RPM,Power"));
    shop.write("two.csv", &log("Time (s),RPM,Power"));
    shop.write("other.csv", &log("Time (s),RPM,Output Power"));
    let asked = shop.run("read one.csv");
    assert_eq!((asked.code, asked.out.as_str()), (65, ""));
    assert!(
        asked.err.contains("--column \"Power=wheel_power_hp\""),
        "{}",
        asked.err
    );
    assert!(asked.err.lines().count() <= 10, "{}", asked.err);
    let record = &shop.run("read one.csv --json").records()[0]["problems"][0];
    assert_eq!(record["asked"][0]["column"], "Power");
    assert_eq!(record["asked"][0]["answers"][0], "wheel_power_hp");

    let told = shop.well("read one.csv --column Power=wheel_power_hp --json");
    let told = told.json("pullcast/read/1");
    assert_eq!(told["pulls"][0]["rows"], 451);
    let peak = told["pulls"][0]["peak_power_w"].as_f64().expect("a number");
    assert!(
        (peak / (300.0 * 6700.0 * PI / 30.0) - 1.0).abs() < 1e-3,
        "{peak}"
    );
    assert!(
        told["logger"]
            .as_str()
            .is_some_and(|l| l.ends_with("one.logger.toml"))
    );

    // The next log of the same heads is read with it, without being named, by every verb.
    let next = shop.well("read two.csv --json").json("pullcast/read/1");
    assert_eq!(next["pulls"][0]["peak_power_w"].as_f64(), Some(peak));
    let visit = crate::shop::VISIT
        .replace("pull1.csv", "one.csv")
        .replace("pull2.csv", "two.csv");
    let visit = visit.replace(
        "[[pull]]\nfile = \"two.csv\"\nrest_before = \"5 min\"\n",
        "",
    );
    shop.write("visit.toml", &visit);
    let fitted = shop.run("fit car.toml visit.toml");
    assert!(!fitted.err.contains("unit_missing"), "{}", fitted.err);
    // A log of other heads is not.
    assert_eq!(shop.run("read other.csv").code, 65);
}

#[test]
fn a_visit_answers_for_its_own_recording() {
    let shop = Shop::new();
    shop.write("one.csv", &log("Time (s),RPM,Power"));
    let visit = |more: &str| {
        let head = crate::shop::VISIT
            .split("[[pull]]")
            .next()
            .unwrap_or_default();
        format!("{head}[[pull]]\nfile = \"one.csv\"\n{more}")
    };
    shop.write("visit.toml", &visit(""));
    assert!(
        shop.run("fit car.toml visit.toml")
            .err
            .contains("unit_missing")
    );
    shop.write(
        "visit.toml",
        &visit("columns = [\"Power = wheel_power_hp\"]\n"),
    );
    assert!(
        !shop
            .run("fit car.toml visit.toml")
            .err
            .contains("unit_missing")
    );
    shop.write("visit.toml", &visit("columns = [\"Power\"]\n"));
    let wrong = shop.run("fit car.toml visit.toml");
    assert_eq!(wrong.code, 65);
    assert!(
        wrong.err.contains("does not name a column"),
        "{}",
        wrong.err
    );
}

#[test]
fn a_shop_adds_its_own_names() {
    let shop = Shop::new();
    shop.write("one.csv", &log("Time (s),RPM,Brrm (hp)"));
    let lacks = shop.well("read one.csv --json").json("pullcast/read/1");
    assert_eq!(lacks["lacks"][0], "power, torque or drum speed");
    shop.write(
        "names.toml",
        "kind = \"names\"\nversion = 1\n[words]\npower = \"brrm\"\n",
    );
    let read = shop.well("read one.csv --json").json("pullcast/read/1");
    assert_eq!(read["columns"][2]["measures"], "wheel power");
    shop.write(
        "names.toml",
        "kind = \"names\"\nversion = 1\n[channels]\n\"flux\" = [\"power\"]\n",
    );
    let wrong = shop.run("read one.csv");
    assert_eq!(wrong.code, 65);
    assert!(
        wrong.err.contains("'flux' is not the name of a channel"),
        "{}",
        wrong.err
    );
}

#[test]
fn answers_do_not_take_the_place_of_another_file() {
    let shop = Shop::new();
    shop.write("one.csv", &log("Time (s),RPM,Power"));
    shop.write(
        "one.logger.toml",
        "kind = \"logger\"\nversion = 1\nheads = [\"a\"]\ncolumns = []\n",
    );
    let ran = shop.run("read one.csv --column Power=wheel_power_hp");
    assert_eq!(ran.code, 1, "{}", ran.err);
    shop.well("read one.csv --column Power=wheel_power_hp --force");
    // Its own answers are replaced without a word.
    shop.well("read one.csv --column Power=wheel_power_PS");
    let kept = std::fs::read_to_string(shop.path("one.logger.toml")).expect("written");
    assert!(kept.contains("Power = wheel_power_PS"), "{kept}");
    // An answer for another column is added to them, and one for a column that is not there is refused.
    shop.well("read one.csv --column RPM=engine_rpm");
    let stray = shop.run("read one.csv --column Boost=manifold_kpa");
    assert!(
        stray.err.contains("no column 'Boost'") && stray.err.contains("Time (s); RPM; Power"),
        "{}",
        stray.err
    );
    let kept = std::fs::read_to_string(shop.path("one.logger.toml")).expect("written");
    assert!(
        kept.contains("Power = wheel_power_PS") && kept.contains("RPM = engine_rpm"),
        "{kept}"
    );
    // A file of the program's own is named for what it is.
    let wrong = shop.run("read one.logger.toml");
    assert_eq!(wrong.code, 65);
    shop.write("car.toml", "kind = \"car\"\n");
    let wrong = shop.run("read car.toml");
    assert!(
        wrong.err.contains("this is a car file, not a log"),
        "{}",
        wrong.err
    );
    shop.write(
        "bad.logger.toml",
        "kind = \"logger\"\nversion = 1\nheads = [\"a\"]\ncolumns = [\"x\"]\n",
    );
    let wrong = shop.run("read one.csv");
    assert!(
        wrong.err.contains("does not name a column"),
        "{}",
        wrong.err
    );
}

#[test]
fn many_bad_rows_fill_no_screen() {
    let shop = Shop::new();
    let text = log("Time (s),RPM,WHP").replace(".00,", ".x,");
    shop.write("one.csv", &text.replace("20,", "oops,"));
    let ran = shop.run("read one.csv");
    assert_eq!(ran.code, 65, "{}", ran.out);
    assert!(ran.err.lines().count() <= 10, "{}", ran.err);
}

#[test]
fn a_question_does_not_hide_what_else_is_wrong() {
    let shop = Shop::new();
    let plain = log("Time (s),RPM,WHP");
    let mut text = String::new();
    for (row, line) in plain.lines().enumerate() {
        // Mixture by a ratio whose fuel nobody says; power is no number on most rows.
        match line.rsplit_once(',') {
            Some((_, _)) if row == 0 => writeln!(text, "{line},AFR"),
            Some((rest, _)) if row % 3 > 0 => writeln!(text, "{rest},off,12.9"),
            _ => writeln!(text, "{line},12.9"),
        }
        .expect("a String takes all");
    }
    shop.write("two.csv", &text);
    let ran = shop.run("read two.csv");
    assert_eq!(ran.code, 65, "{}", ran.out);
    for words in ["of which fuel?", "WHP"] {
        assert!(ran.err.contains(words), "{words}: {}", ran.err);
    }
    let problems = ran_problems(&shop);
    assert!(problems.len() == 2, "{problems:?}");
    // Without the fault the question stands alone, and with an answer the log is read.
    shop.write("one.csv", &text.replace("off", "120"));
    assert_eq!(
        shop.run("read one.csv").err.matches("pullcast::").count(),
        1
    );
    let answered = shop.well("read one.csv --column AFR=skip --json");
    let columns = &answered.json("pullcast/read/1")["columns"];
    assert_eq!(columns.as_array().map(Vec::len), Some(3), "{columns}");
}

/// Codes of what is wrong with the log of two faults.
fn ran_problems(shop: &Shop) -> Vec<String> {
    let record = &shop.run("read two.csv --json").records()[0];
    let problems = record["problems"].as_array().expect("a list");
    problems.iter().map(|p| p["code"].to_string()).collect()
}

#[test]
fn numbers_in_hp_and_lb_ft_under_heads_of_kw_and_nm_are_asked_about_once() {
    let shop = Shop::new();
    // 300 N m are 221.27 lb ft; power as `log` writes it, in hp.
    let heads = |power: &str, torque: &str| {
        log("")
            .lines()
            .enumerate()
            .fold(String::new(), |text, (row, line)| {
                if row == 0 {
                    format!("Time (s),RPM,{power},{torque}\n")
                } else {
                    format!("{text}{line},221.27\n")
                }
            })
    };
    shop.write("wrong.csv", &heads("Power (kW)", "Torque (Nm)"));
    let ran = shop.run("read wrong.csv");
    assert_eq!(ran.code, 65, "{}{}", ran.out, ran.err);
    let said = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
    for option in [
        "Power (kW)=wheel_power_hp",
        "Torque (Nm)=wheel_torque_lb_ft",
    ] {
        assert!(said.contains(option), "{option}: {}", ran.err);
    }
    shop.write("right.csv", &heads("Power (hp)", "Torque (lb ft)"));
    let read = shop.well("read right.csv --json").json("pullcast/read/1");
    let peak = read["pulls"][0]["peak_power_w"].as_f64().expect("a number");
    assert!(
        (peak / (300.0 * 6700.0 * PI / 30.0) - 1.0).abs() < 1e-3,
        "{peak}"
    );
}
