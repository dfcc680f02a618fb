//! Drum logs with a force at the drums, as a user reads and reduces them: what the force is taken for, the inertia held against it, and logs
//! whose force cannot be used.

use std::f64::consts::PI;
use std::fmt::Write as _;

use crate::drum_log_maker::{Sensor, Truth, look, normal};
use crate::drum_logs::{RADIUS_M, demo, field};
use crate::guard::with_drum_speed;
use crate::shop::{CAR, Shop, VISIT};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

/// Drag of the drums themselves, which the cell feels with what their inertia takes, N.
const OWN_N: f64 = 45.0;
/// The cell comes so much after the speed, s.
const LATE_S: f64 = 0.12;
const LBF_N: f64 = 4.448_221_615_260_5;
const REDUCE: &str = "pullcast/reduce/2";

/// Force at the surface at a fine row, N: what the drums' inertia and their own drag take.
fn force_n(truth: &Truth, row: usize) -> f64 {
    let moving = truth.speed_m_s[row] > 0.1;
    if moving {
        truth.power_w[row] / truth.speed_m_s[row] + OWN_N
    } else {
        0.0
    }
}

/// The demo's drive logged with a force cell, at 50 rows a second, its numbers as `cell` writes them of a force in N.
fn log(header: &str, cell: impl Fn(f64) -> f64) -> (Truth, String) {
    let truth = demo().run();
    let drum = look(&truth, &Sensor::at(50.0, 0.012, 31), 60.0, (0.0, 1e6));
    let mut rng = ChaCha8Rng::seed_from_u64(32);
    let mut out = format!("time (s),drum speed (rpm),engine speed (rpm),{header}\n");
    for i in 0..drum.time_s.len() {
        let late = drum.time_s[i] - LATE_S;
        let row = truth.time_s.partition_point(|t| *t < late);
        let force = force_n(&truth, row) + 12.0 * normal(&mut rng);
        let turning = drum.speed_m_s[i] / RADIUS_M * 30.0 / PI;
        writeln!(
            out,
            "{:.4},{turning:.2},{:.0},{:.3}",
            drum.time_s[i],
            drum.rpm[i],
            cell(force)
        )
        .expect("a String takes all");
    }
    (truth, out)
}

/// Line breaks may fall inside a phrase.
fn flat(text: &str) -> String {
    let words = text.split_whitespace().filter(|word| *word != "|");
    words.collect::<Vec<_>>().join(" ")
}

fn description(drums: &str) -> String {
    format!(
        "kind = \"drum log\"\nversion = 1\nname = \"cell\"\nlog = \"drum.csv\"\n[drums]\nradius = \"0.6 m\"\n{drums}\n"
    )
}

/// Inertia of the demo's drums: 1180 kg at 0.6 m.
const INERTIA: &str = "inertia = \"424.8 kg m2\"";

fn shop_with(header: &str, cell: impl Fn(f64) -> f64, drums: &str) -> (Shop, Truth) {
    let shop = Shop::new();
    let (truth, csv) = log(header, cell);
    shop.write("drum.csv", &csv);
    shop.write("session.toml", &description(drums));
    (shop, truth)
}

/// Mean square of the errors of power over their stated variance, over all curves; the truth holds what the cell feels.
fn chi2(report: &Value, truth: &Truth) -> f64 {
    let (mut squares, mut count) = (0.0, 0.0);
    for (pull, phase) in report["pulls"]
        .as_array()
        .expect("pulls")
        .iter()
        .zip([1, 6, 8])
    {
        let (begin, end) = (truth.begins[phase], truth.begins[phase + 1]);
        for p in pull["curve"]["points"].as_array().expect("points") {
            let row = begin + truth.rpm[begin..end].partition_point(|&r| r < field(p, "/rpm"));
            let row = row.min(end - 1);
            let power = force_n(truth, row) * truth.speed_m_s[row];
            squares += ((field(p, "/power_w") - power) / field(p, "/power_se_w")).powi(2);
            count += 1.0;
        }
    }
    squares / count
}

#[test]
fn a_logged_force_gives_the_power_and_the_inertia_is_held_against_it() {
    let (shop, truth) = shop_with("Roll force (lbf)", |n| n / LBF_N, INERTIA);
    let report = shop.well("reduce session.toml --json").json(REDUCE);
    let force = &report["roll_force"];
    assert_eq!(force["force"], "all", "{force}");
    assert_eq!(force["told_by"], "by_the_log", "{force}");
    assert_eq!(force["reversed"], false, "{force}");
    // Within three of its own standard errors and the half row by which a lag lies between rows.
    let lag = field(force, "/lag_s");
    assert!(
        (lag - LATE_S).abs() < 3.0 * field(force, "/lag_se_s") + 0.01,
        "{force}"
    );
    let (mass, se) = (
        field(force, "/feels/mass_kg"),
        field(force, "/feels/mass_se_kg"),
    );
    assert!((mass - 1180.0).abs() < 3.0 * se, "{force}");
    assert!(se < 12.0, "{force}");
    assert_eq!(force["feels"]["agrees"], true, "{force}");
    // One on average, were the points independent; some ten values stand behind each of three curves.
    let squares = chi2(&report, &truth);
    assert!(squares < 3.0, "{squares}");
    let ran = shop.well("reduce session.toml");
    let flat = flat(&ran.out);
    for words in [
        "Power is uncorrected, the logged force at the drums times their speed",
        "They agree.",
        "The force cell's scale and the radius are taken as exact",
        "known by the log: how it goes with acceleration and speed",
        "after the speed, which is taken out",
        "single readings of the force scatter by",
    ] {
        assert!(flat.contains(words), "{words}: {}", ran.out);
    }
}

#[test]
fn a_mistyped_inertia_is_named_and_does_not_bend_the_power() {
    let (shop, _) = shop_with("Roll force (N)", |n| n, INERTIA);
    let right = shop.well("reduce session.toml --json").json(REDUCE);
    shop.write(
        "session.toml",
        &description("inertia = \"467.28 ± 1 kg m2\""),
    );
    let report = shop.well("reduce session.toml --json").json(REDUCE);
    let feels = &report["roll_force"]["feels"];
    assert_eq!(feels["agrees"], false, "{feels}");
    let would = field(feels, "/inertia_that_would_agree_kg_m2");
    assert!(
        (would - 424.8).abs() < 3.0 * field(feels, "/inertia_se_kg_m2"),
        "{feels}"
    );
    let peak = "/pulls/0/curve/peak_power/value";
    // The same force and speed: the rows that the curve holds may differ at its ends, not its top.
    assert!((field(&report, peak) / field(&right, peak) - 1.0).abs() < 1e-6);
    let text = shop.well("reduce session.toml").out;
    let flat = flat(&text);
    assert!(
        flat.contains("but the stated inertia makes 1298 kg"),
        "{text}"
    );
    assert!(flat.contains("drums.inertia 42"), "{text}");
}

#[test]
fn the_curve_of_a_force_is_a_recording_whose_inertia_the_guard_names() {
    let (shop, _) = shop_with("Roll force (N)", |n| n, INERTIA);
    shop.well("reduce session.toml --csv curves.csv");
    let csv = std::fs::read_to_string(shop.path("curves.csv")).expect("the curves");
    assert!(
        csv.contains("the logged force at the drums times their speed"),
        "{csv}"
    );
    let one: String = csv
        .lines()
        .filter(|line| line.starts_with("pull,") || line.starts_with("1,"))
        .map(|line| line.to_owned() + "\n")
        .collect();
    shop.write("one.csv", &one);
    shop.write(
        "one.toml",
        "kind = \"visit\"\nversion = 1\nname = \"one\"\n[weather]\ntemperature = \"14 °C\"\nrelative_humidity = \"71 %\"\n\
         station_pressure = \"965 hPa\"\n[[pull]]\nfile = \"one.csv\"\n",
    );
    // The car of this folder stands on drums of 90 kg m²; the log's have 424.8, and 45 N of drag that the cell feels too.
    let fit = shop.run("fit car.toml one.toml");
    assert_eq!(fit.code, 65, "{}{}", fit.out, fit.err);
    assert!(flat(&fit.err).contains("drums.inertia 43"), "{}", fit.err);
}

/// Force and road speed beside what a visit's recordings hold, by the recorded power times `cell`.
fn with_force(shop: &Shop, cell: f64, drum: bool) {
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        let mut csv = String::from(
            "time (s),engine speed (rpm),road speed (m/s),wheel force (N),wheel power (kW)",
        );
        csv.push_str(if drum { ",drum speed (rpm)\n" } else { "\n" });
        for line in text.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            let number = |i: usize| cells[i].parse::<f64>().expect("a number");
            let v = number(2) * PI / 30.0 * 0.35;
            let force = cell * 1e3 * number(3) / v;
            write!(
                csv,
                "{},{},{v:.5},{force:.2},{}",
                cells[0], cells[1], cells[3]
            )
            .expect("a String takes all");
            let turning = if drum {
                format!(",{}", cells[2])
            } else {
                String::new()
            };
            writeln!(csv, "{turning}").expect("a String takes all");
        }
        shop.write(name, &csv);
    }
}

#[test]
fn a_force_beside_power_and_drum_speed_says_which_of_three_is_mistyped() {
    let shop = Shop::new();
    with_drum_speed(&shop);
    shop.write("visit.toml", VISIT);
    let sound = |name: &str| std::fs::read_to_string(shop.path(name)).expect("a recording");
    let pulls = ["pull1.csv", "pull2.csv"].map(|name| (name, sound(name)));
    with_force(&shop, 1.0, true);
    shop.well("fit car.toml visit.toml");
    // Power and force agree: the inertia is wrong, and neither a unit nor a correction.
    shop.write("heavy.toml", &CAR.replace("90 kg m2", "99 kg m2"));
    let ran = shop.run("fit heavy.toml visit.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(
        flat(&ran.err).contains("drums.inertia 90.")
            || flat(&ran.err).contains("drums.inertia 89."),
        "{}",
        ran.err
    );
    assert!(!flat(&ran.err).contains("looks corrected"), "{}", ran.err);
    // Force and drum agree: the power is in hp, and the inertia is not accused.
    for (name, text) in &pulls {
        shop.write(name, text);
    }
    with_force(&shop, 1.0, true);
    scale_power(&shop, 1.341_022);
    let ran = shop.run("fit car.toml visit.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(
        flat(&ran.err).contains("power in hp under the name kW"),
        "{}",
        ran.err
    );
    assert!(!flat(&ran.err).contains("drums.inertia"), "{}", ran.err);
    // Without drum speed the force alone tells it.
    for (name, text) in &pulls {
        shop.write(name, text);
    }
    with_force(&shop, 1.0, false);
    scale_power(&shop, 1.341_022);
    let ran = shop.run("fit car.toml visit.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(
        flat(&ran.err).contains("is not the force logged at the drums"),
        "{}",
        ran.err
    );
    // Power and drum agree: the cell is off, which warns.
    for (name, text) in &pulls {
        shop.write(name, text);
    }
    with_force(&shop, 1.05, true);
    let ran = shop.well("fit car.toml visit.toml");
    assert!(
        flat(&ran.err).contains("a force cell of the right scale"),
        "{}",
        ran.err
    );
}

/// Multiplies the column of power.
fn scale_power(shop: &Shop, factor: f64) {
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        let mut out = String::new();
        for (number, line) in text.lines().enumerate() {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            if number > 0 {
                let power: f64 = cells[4].parse().expect("a number");
                cells[4] = format!("{:.3}", factor * power);
            }
            out.push_str(&(cells.join(",") + "\n"));
        }
        shop.write(name, &out);
    }
}

#[test]
fn the_sign_is_told_by_the_log_and_a_stated_one_that_contradicts_it_is_an_error() {
    let (shop, _) = shop_with("Roll force (N)", |n| -n, INERTIA);
    let report = shop.well("reduce session.toml --json").json(REDUCE);
    assert_eq!(
        report["roll_force"]["reversed"], true,
        "{}",
        report["roll_force"]
    );
    assert!(field(&report, "/pulls/0/curve/peak_power/value") > 1e5);
    assert!(flat(&shop.well("reduce session.toml").out).contains("its sign reversed"));
    shop.write(
        "session.toml",
        &description(&format!("{INERTIA}\nforce = \"all\"")),
    );
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    for words in [
        "line ",
        "the force at the drums is -",
        "force = \"all, reversed\"",
    ] {
        assert!(flat(&ran.err).contains(words), "{words}: {}", ran.err);
    }
    shop.write(
        "session.toml",
        &description(&format!("{INERTIA}\nforce = \"all, reversed\"")),
    );
    let stated = shop.well("reduce session.toml --json").json(REDUCE);
    assert_eq!(stated["roll_force"]["told_by"], "stated");
}

#[test]
fn a_force_that_the_log_does_not_explain_asks_one_question() {
    // Half of the force: neither all of it nor none.
    let (shop, _) = shop_with("Roll force (N)", |n| 0.5 * n, INERTIA);
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    for words in [
        "all of it or the brake's alone",
        "force = \"all\"",
        "force = \"brake alone\"",
        "drum.csv",
    ] {
        assert!(flat(&ran.err).contains(words), "{words}: {}", ran.err);
    }
    let ran = shop.run("reduce session.toml --json");
    let problem = &ran.records()[0]["problems"][0];
    assert_eq!(problem["code"], "pullcast::force_question", "{problem}");
    assert!(
        problem["line"].as_u64().is_some_and(|line| line > 1),
        "{problem}"
    );
    shop.write(
        "session.toml",
        &description(&format!("{INERTIA}\nforce = \"all\"")),
    );
    shop.well("reduce session.toml");
    // In lbf under the name N it is not half of anything.
    let (shop, _) = shop_with("Roll force (N)", |n| n / LBF_N, INERTIA);
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(
        flat(&ran.err).contains("force in lbf: it was logged so under the name N"),
        "{}",
        ran.err
    );
    shop.write(
        "session.toml",
        &description(&format!("{INERTIA}\nforce = \"all\"")),
    );
    let text = shop.well("reduce session.toml").out;
    assert!(flat(&text).contains("-77.5 % apart"), "{text}");
}

#[test]
fn a_force_that_cannot_be_used_is_told_with_its_line() {
    let (shop, _) = shop_with("Roll force (N)", |_| 0.0, INERTIA);
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    for words in ["line 2", "is 0 N on every row", "Roll force (N) = skip"] {
        assert!(flat(&ran.err).contains(words), "{words}: {}", ran.err);
    }
    // What it says to write helps.
    shop.write(
        "session.toml",
        &description(INERTIA).replace("[drums]", "columns = [\"Roll force (N) = skip\"]\n[drums]"),
    );
    let report = shop.well("reduce session.toml --json").json(REDUCE);
    assert!(report["roll_force"].is_null());
    // A cell of 3000 N under 4000 N of force.
    let (shop, _) = shop_with("Roll force (N)", |n| n.min(3000.0), INERTIA);
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    for words in [
        "stands at its largest value, 3000.0 N, from here to line",
        "end of its range",
    ] {
        assert!(flat(&ran.err).contains(words), "{words}: {}", ran.err);
    }
    // kN in the header, N in the column.
    let (shop, _) = shop_with("Roll force (kN)", |n| n, INERTIA);
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    assert!(flat(&ran.err).contains("is the unit right?"), "{}", ran.err);
    // Text in place of numbers, here and there and all along.
    let (shop, _) = shop_with("Roll force (N)", |n| n, INERTIA);
    let log = std::fs::read_to_string(shop.path("drum.csv")).expect("the log");
    let overloaded = |each: usize| -> String {
        let lines = log
            .lines()
            .enumerate()
            .map(|(number, line)| match line.rsplit_once(',') {
                Some((rest, _)) if number > 0 && number % each == 0 => format!("{rest},overload\n"),
                _ => line.to_owned() + "\n",
            });
        lines.collect()
    };
    shop.write("drum.csv", &overloaded(7));
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    for words in ["overload", "not a number", "Roll force"] {
        assert!(flat(&ran.err).contains(words), "{words}: {}", ran.err);
    }
    shop.write("drum.csv", &overloaded(1));
    let ran = shop.well("reduce session.toml");
    assert!(
        flat(&ran.err).contains("column 'Roll force (N)' (no numbers) is not read"),
        "{}",
        ran.err
    );
}

#[test]
fn a_log_with_force_is_read_with_what_was_understood_and_its_logger_is_remembered() {
    let (shop, _) = shop_with("Zugkraft Rolle [lbf]", |n| n / LBF_N, INERTIA);
    let read = shop.well("read drum.csv").out;
    assert!(
        read.contains("wheel force") && read.contains("lbf"),
        "{read}"
    );
    let named = log("Kanal7", |n| n / LBF_N).1;
    shop.write("drum.csv", &named);
    shop.write("later.csv", &named);
    shop.well("read drum.csv --column Kanal7=wheel_force_lbf");
    let later = shop.well("read later.csv").out;
    assert!(later.contains("wheel force"), "{later}");
    let report = shop.well("reduce session.toml --json").json(REDUCE);
    assert_eq!(report["roll_force"]["force"], "all");
}

#[test]
fn a_brakes_force_alone_is_no_power_of_a_visit() {
    let shop = Shop::new();
    shop.measure();
    shop.write("visit.toml", VISIT);
    for name in ["pull1.csv", "pull2.csv"] {
        let text = std::fs::read_to_string(shop.path(name)).expect("a recording");
        shop.write(
            name,
            &text
                .replace("wheel power (kW)", "Bremskraft (kN),road speed (m/s)")
                .replace('\n', ",30\n")
                .replace("(m/s),30", "(m/s)"),
        );
    }
    let ran = shop.run("fit car.toml visit.toml");
    assert_eq!(ran.code, 65, "{}", ran.err);
    for words in [
        "the brake's force and no power",
        "pullcast reduce",
        "pull1.csv",
    ] {
        assert!(flat(&ran.err).contains(words), "{words}: {}", ran.err);
    }
}
