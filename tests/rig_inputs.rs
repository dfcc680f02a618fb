//! What a shop may type at a rig and must not get past: times in the wrong order, run-downs and weights that tell nothing, and an output
//! named as one of its own inputs.

use crate::drum_logs::demo_shop;
use crate::shop::Shop;

fn text(shop: &Shop, name: &str) -> String {
    std::fs::read_to_string(shop.path(name)).expect("a file of the shop")
}

/// Words of a text whatever its lines.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_run_down_that_ends_before_it_begins_is_refused_at_its_line() {
    let shop = demo_shop();
    let session = text(&shop, "session.toml");
    for (from, to) in [("20 s", "10 s"), ("20 s", "20 s")] {
        shop.write(
            "session.toml",
            &format!("{session}from = \"{from}\"\nto = \"{to}\"\n"),
        );
        let ran = shop.run("reduce session.toml");
        let line = session.lines().count() + 2;
        assert_eq!((ran.code, ran.out.as_str()), (65, ""), "{}", ran.err);
        for words in [
            &format!("session.toml:{line}"),
            to,
            "a time later than 'from', which is 20 s",
        ] {
            assert!(ran.err.contains(words), "{words}: {}", ran.err);
        }
    }
    // Beyond the log's end there is nothing to read, and nothing to break.
    shop.write("session.toml", &format!("{session}from = \"900 s\"\n"));
    let said = flat(&shop.well("reduce session.toml").out);
    assert!(
        said.contains("no drag, because the run-down has 0 rows"),
        "{said}"
    );
}

#[test]
fn a_run_down_too_short_for_a_drag_gives_no_number() {
    let shop = demo_shop();
    let session = text(&shop, "session.toml");
    let from = |seconds: u32| {
        shop.write(
            "session.toml",
            &format!("{session}from = \"{seconds} s\"\n"),
        );
        let text = flat(&shop.well("reduce session.toml").out);
        let report = shop
            .well("reduce session.toml --json")
            .json("pullcast/reduce/2");
        (text, report)
    };
    // 1.4 km/h are left of the run-down.
    let (text, report) = from(150);
    assert!(
        text.contains("no drag, because this run-down is too short to give a drag"),
        "{text}"
    );
    assert!(
        !text.contains("N/(m/s) v") && report["coast_down"].is_null(),
        "{text}"
    );
    // 20 km/h: the drag is good to some per cent, but not its three parts.
    let (text, report) = from(130);
    assert!(
        text.contains("F0, F1 and F2 cannot be told apart"),
        "{text}"
    );
    assert!(report["coast_down"]["coefficients"].is_null(), "{report}");
    assert!(report["coast_down"]["drag"][1][1].is_number(), "{report}");
    let (text, report) = from(90);
    assert!(text.contains("N/(m/s) v"), "{text}");
    assert!(
        report["coast_down"]["coefficients"][0].is_number(),
        "{report}"
    );
}

#[test]
fn weights_and_times_that_cannot_be_are_named() {
    let shop = Shop::new();
    let masses = "inertia --height 1.5m --radius 0.35m --light 10kg --heavy 40kg";
    let pair = "inertia --added 30kgm2";
    let good = "--bare-time 60s --loaded-time 67.5s";
    for (arguments, code, words) in [
        // Worked by hand: 885 kg m², at which the bearings would push with 18.5 N m.
        (
            format!("{masses} --light-time 12s --heavy-time 7s --stated 454kgm2"),
            1,
            "the bearings drive the drum, by 18.5",
        ),
        // √(2 · 1.5/9.80665) = 0.55 s.
        (
            format!("{masses} --light-time 12s --heavy-time 0.5s"),
            2,
            "the heavy mass took 0.50 s, less than the 0.55 s of a free fall",
        ),
        (
            format!("{masses} --light-time 0.54s --heavy-time 0.5s"),
            2,
            "the light mass took 0.54 s, less than the 0.55 s of a free fall",
        ),
        (
            format!("{pair} --bare-time 60s --bare-time 61s --bare-time 10s --loaded-time 67s"),
            1,
            "the bare run: a time of 10.00 s stands apart from the others, whose median is 60.50 s",
        ),
        (
            format!("{pair} --bare-time 60s --loaded-time 67s --loaded-time 97s"),
            1,
            "the loaded run: 67.00 s and 97.00 s are too far apart to be repeats",
        ),
        (
            format!("{pair} {good} --stated 0kgm2"),
            2,
            "a moment of inertia lies above zero",
        ),
        (
            format!("{pair} {good} --stated -5kgm2"),
            2,
            "a moment of inertia lies above zero; expected one as \"240 kg m2\"",
        ),
        (
            format!("inertia --added -20kgm2 {good}"),
            2,
            "a moment of inertia lies above zero",
        ),
        (
            format!("{pair} --bare-time -60s --loaded-time 67s"),
            2,
            "a time taken lies above zero",
        ),
        (
            "inertia --height -1.5m".to_owned(),
            2,
            "a height or radius lies above zero",
        ),
        (
            "inertia --light -1kg".to_owned(),
            2,
            "a mass lies above zero",
        ),
        (
            "reduce session.toml --band -50rpm".to_owned(),
            2,
            "10 to 500 rpm are taken",
        ),
        (
            "correct weather.toml --power -3kW".to_owned(),
            2,
            "power below zero",
        ),
    ] {
        let ran = shop.run(&arguments);
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (code, ""),
            "{arguments}: {}",
            ran.err
        );
        assert!(flat(&ran.err).contains(words), "{arguments}: {}", ran.err);
    }
}

#[test]
fn no_output_replaces_what_the_same_command_reads() {
    let shop = demo_shop();
    shop.measure();
    shop.write(
        "second.toml",
        &text(&shop, "visit.toml")
            .replace("pull1", "other1")
            .replace("pull2", "other2"),
    );
    for (from, to) in [("pull1.csv", "other1.csv"), ("pull2.csv", "other2.csv")] {
        let text = text(&shop, from).replacen("0.0000", "0.0001", 1);
        shop.write(to, &text);
    }
    std::fs::create_dir(shop.path("sub")).expect("a scratch folder");
    let before = shop.names();
    for (run, output, kept) in [
        (
            "compare visit.toml second.toml --csv",
            "pull1.csv",
            "pull1.csv",
        ),
        (
            "compare visit.toml second.toml --csv",
            "sub/../other2.csv",
            "other2.csv",
        ),
        (
            "compare visit.toml second.toml --csv",
            "visit.toml",
            "visit.toml",
        ),
        ("reduce session.toml --csv", "drum.csv", "drum.csv"),
        ("reduce session.toml --csv", "./engine.csv", "engine.csv"),
        ("reduce session.toml --csv", "session.toml", "session.toml"),
        (
            "predict car.toml --weather weather.toml --csv",
            "car.toml",
            "car.toml",
        ),
        (
            "predict car.toml --weather weather.toml --csv",
            "weather.toml",
            "weather.toml",
        ),
        (
            "predict car.toml --plan plan.toml --csv",
            "plan.toml",
            "plan.toml",
        ),
        ("fit car.toml visit.toml --out", "visit.toml", "visit.toml"),
        ("fit car.toml visit.toml --out", "pull2.csv", "pull2.csv"),
        (
            "quote car.toml plan.toml --visit visit.toml --out",
            "plan.toml",
            "plan.toml",
        ),
    ] {
        let content = text(&shop, kept);
        for force in ["", " --force"] {
            let ran = shop.run(&format!("{run} {output}{force}"));
            assert_eq!(
                (ran.code, ran.out.as_str()),
                (1, ""),
                "{run} {output}: {}",
                ran.err
            );
            for words in [
                "pullcast::file_is_input",
                output,
                "read by the same command",
            ] {
                assert!(
                    flat(&ran.err).contains(words),
                    "{run} {output}: {}",
                    ran.err
                );
            }
            assert_eq!(text(&shop, kept), content, "{run} {output}");
        }
    }
    assert_eq!(shop.names(), before);
    // A file of another command is replaced when asked.
    shop.well("reduce session.toml --csv pull1.csv --force");
}

#[test]
fn settings_that_are_not_used_are_said() {
    let shop = demo_shop();
    let session = text(&shop, "session.toml");
    let radius = "radius = \"0.6 m\"\n";
    let gearing = "[gearing]\ngear = 1.3\nfinal_drive = 3.9\ntyre_radius = \"0.31 m\"\n";
    assert!(shop.well("reduce session.toml").err.is_empty());
    let more = session.replace(radius, &format!("{radius}pulses_per_turn = 60\n"));
    shop.write("session.toml", &format!("{more}{gearing}"));
    let said = flat(&shop.well("reduce session.toml").err);
    for words in [
        "'pulses_per_turn' is not used: the log has drum speed",
        "'gearing' is not used: engine speed was logged",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    shop.measure();
    let visit = text(&shop, "visit.toml");
    let line = visit.lines().count() + 1;
    shop.write(
        "visit.toml",
        &format!("{visit}corrected_to = \"din-70020\"\n"),
    );
    // The output is refused, so that nothing is fitted here; what is told of the files is told all the same.
    let said = flat(&shop.run("fit car.toml visit.toml --out visit.toml").err);
    assert!(
        said.contains("'corrected_to' is not used: the recording has power as read")
            && said.contains(&format!("visit.toml:{line}")),
        "{said}"
    );
}
