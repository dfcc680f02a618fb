//! What is read at the counter: an answer of 25 lines, as wide as the terminal, in one set of units, the same for any order of the parts.

use crate::shop::{Ran, answer_in};
use pullcast::report::View;
use std::path::{Path, PathBuf};

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name)
}

/// Questions about the demo's cars, by folder.
const ASKED: [(&str, &str); 11] = [
    (
        "upland_estate",
        "quote car.toml plan_screw_blower.toml --draws 50 --weather after_day.toml",
    ),
    (
        "upland_estate",
        "quote car.toml plan_sprays.toml --draws 50 --visit baseline.toml --date 2026-02-28",
    ),
    (
        "upland_estate",
        "quote car.toml plan_screw_blower.toml --draws 50 --reach 220kW --by pulley",
    ),
    (
        "manual_coupe",
        "quote car.toml plan_breathing.toml --draws 50",
    ),
    ("manual_coupe", "quote car.toml plan_engine.toml --draws 50"),
    (
        "manual_coupe",
        "quote car.toml plan_breathing.toml --draws 50 --reach 300kW --by exhaust",
    ),
    (
        "upland_estate",
        "predict car.toml --plan plan_screw_blower.toml --pulls 12 --rest 30s",
    ),
    (
        "upland_estate",
        "predict car.toml --plan plan_sprays.toml --weather after_day.toml",
    ),
    ("manual_coupe", "predict car.toml"),
    ("turbo_four", "predict car.toml --pulls 3"),
    ("turbo_four", "predict car.toml"),
];

fn ask(folder: &str, arguments: &str, variables: &[(&str, &str)]) -> Ran {
    let ran = answer_in(&demo(folder), arguments, variables);
    assert_eq!(ran.code, 0, "{arguments}: {}", ran.err);
    ran
}

fn widest(text: &str) -> usize {
    text.lines()
        .map(|line| line.chars().count())
        .max()
        .unwrap_or(0)
}

#[test]
fn an_answer_fits_a_counter_and_ends_with_what_made_it() {
    for (folder, arguments) in ASKED {
        let out = ask(folder, arguments, &[]).out;
        let lines = out.lines().count();
        assert!(
            lines <= View::ANSWER_LINES,
            "{lines} lines of {arguments}:\n{out}"
        );
        assert!(widest(&out) <= View::WIDTH, "{arguments}:\n{out}");
        let (first, last) = (out.lines().next(), out.lines().last());
        let opens = ["Promise ", "Expect ", "220 kW is out", "300 kW is out"];
        assert!(
            opens
                .iter()
                .any(|word| first.is_some_and(|line| line.starts_with(word))),
            "{out}"
        );
        assert!(
            last.is_some_and(|line| line.starts_with("pullcast ") && line.contains("inputs ")),
            "{out}"
        );
        let cautions = out.split("Before the pull:\n").nth(1).expect("cautions");
        let cautions = cautions
            .lines()
            .filter(|line| line.starts_with("  - "))
            .count();
        assert!((2..=4).contains(&cautions), "{out}");
    }
}

#[test]
fn text_and_tables_follow_the_terminal() {
    for columns in ["60", "140"] {
        for (folder, arguments) in [ASKED[0], ASKED[6]] {
            for details in ["", " --details"] {
                let asked = format!("{arguments}{details}");
                let out = ask(folder, &asked, &[("COLUMNS", columns)]).out;
                let width: usize = columns.parse().expect("a number");
                assert!(widest(&out) <= width, "{asked} at {columns}:\n{out}");
            }
        }
    }
}

#[test]
fn colour_is_asked_for_and_changes_no_character() {
    let (folder, arguments) = ASKED[8];
    let plain = ask(folder, arguments, &[]).out;
    assert!(!plain.contains('\u{1b}'));
    assert_eq!(
        ask(folder, &format!("{arguments} --color never"), &[]).out,
        plain
    );
    let coloured = ask(folder, &format!("{arguments} --color always"), &[]).out;
    assert!(coloured.starts_with("\u{1b}[1m"), "{coloured}");
    let stripped = coloured
        .replace("\u{1b}[1m", "")
        .replace("\u{1b}[2m", "")
        .replace("\u{1b}[0m", "");
    assert_eq!(stripped, plain);
}

/// Whether a text names a unit of the other set, on its own behind a number, in brackets or as a heading.
fn metric(text: &str) -> Option<&str> {
    let bounds = |c: char| c.is_whitespace() || "(),;:.|".contains(c);
    let units = [
        "kW", "kPa", "°C", "km/h", "mm", "kg/s", "g/s", "kg", "Nm", "m/s²", "kg/m³", "bar",
    ];
    let word = text.split(bounds).find(|word| units.contains(word));
    word.or_else(|| text.contains("N m ").then_some("N m"))
}

#[test]
fn shop_units_leave_no_metric_unit() {
    for (folder, arguments) in ASKED {
        let arguments = arguments
            .replace("220kW", "295hp")
            .replace("300kW", "402hp");
        let out = ask(folder, &format!("{arguments} --units shop --details"), &[]).out;
        for line in out.lines() {
            assert_eq!(metric(line), None, "{arguments}: {line}");
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let csv = folder.path().join("pull.csv");
    let csv = csv.display().to_string();
    ask(
        "manual_coupe",
        &format!("predict car.toml --units shop --csv {csv}"),
        &[],
    );
    let text = std::fs::read_to_string(&csv).expect("the curve");
    let head = text.lines().next().expect("a head");
    assert_eq!(metric(head), None, "{head}");
    assert!(
        head.contains("wheel power (hp)") && head.contains("(psi absolute)"),
        "{head}"
    );
}

#[test]
fn work_that_promises_less_than_the_car_reads_today_is_not_sold_on_power() {
    let out = ask(
        "manual_coupe",
        "quote car.toml plan_breathing.toml --visit baseline.toml",
        &[],
    )
    .out;
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("do not sell it on power"), "{out}");
    let certain = ask(
        "upland_estate",
        "quote car.toml plan_screw_blower.toml --visit baseline.toml --weather after_day.toml",
        &[],
    )
    .out;
    assert!(!certain.contains("do not sell it"), "{certain}");
    // Where the baseline was pulled in other air, the gain says from what it counts, so that the table adds up.
    let gain = certain
        .lines()
        .find(|line| line.contains("gain on the same day"));
    let numbers: Vec<f64> = gain
        .expect("a gain")
        .split([' ', '+'])
        .filter_map(|word| word.parse().ok())
        .collect();
    let after = certain
        .lines()
        .find(|line| line.contains("peak power, uncorrected"));
    let after: f64 = after
        .expect("a peak")
        .split_whitespace()
        .find_map(|word| word.parse().ok())
        .expect("a number");
    let (gained, from) = (numbers[0], numbers[numbers.len() - 1]);
    // Whole kilowatts are shown of each, and middles of draws need not add up to the last digit.
    assert!((from + gained - after).abs() <= 1.5, "{certain}");
}

#[test]
fn a_quote_is_the_same_to_the_last_byte_for_any_order_of_the_parts() {
    let folder = tempfile::tempdir().expect("a folder");
    let car = demo("upland_estate").join("car.toml");
    std::fs::copy(car, folder.path().join("car.toml")).expect("copied");
    let plan = std::fs::read_to_string(demo("upland_estate").join("plan_screw_blower.toml"))
        .expect("a plan");
    let mut parts: Vec<&str> = plan.split("[[change]]").collect();
    let head = parts.remove(0);
    let written = |parts: &[&str]| {
        let mut text = head.to_owned();
        for part in parts {
            text.push_str("[[change]]");
            text.push_str(part.trim_end());
            text.push_str("\n\n");
        }
        std::fs::write(folder.path().join("plan.toml"), text).expect("written");
    };
    let asked = |format: &str| {
        let arguments = format!("quote car.toml plan.toml --draws 50 {format}");
        let ran = answer_in(folder.path(), &arguments, &[]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    for format in ["--details", "--json"] {
        written(&parts);
        let there = asked(format);
        parts.reverse();
        written(&parts);
        assert_eq!(asked(format), there);
        parts.rotate_left(1);
        written(&parts);
        assert_eq!(asked(format), there);
    }
    written(&parts[1..]);
    let inputs = |text: &str| {
        text.split("· inputs ")
            .nth(1)
            .map(|rest| rest[..12].to_owned())
    };
    let fewer = inputs(&asked(""));
    written(&parts);
    assert_ne!(inputs(&asked("")), fewer, "another plan has another name");
}

#[test]
fn the_readme_shows_what_the_program_prints() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).expect("the README");
    assert!(
        readme.lines().count() <= 150,
        "the README is to be read at once"
    );
    let mut fences = readme.split("```").skip(1).step_by(2);
    let mut held = 0;
    while let Some(fence) = fences.next() {
        let command = fence.replace("\\\n", " ");
        let Some((_, arguments)) = command.split_once("cargo run --release -- quote scenarios")
        else {
            continue;
        };
        let arguments = arguments.lines().next().expect("a command");
        let out = answer_in(root, &format!("quote scenarios{arguments}"), &[]).out;
        let shown = fences
            .next()
            .expect("the output")
            .trim_start_matches("text\n");
        assert_eq!(out, shown);
        held += 1;
    }
    assert!(held >= 1);
}
