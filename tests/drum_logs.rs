//! `reduce` as a user runs it: the demo's log, the curve it writes taken by a visit, and logs with something wrong.
//!
//! The demo's log is made here, from a car and a drum invented for it; a test makes it again and compares. To store it anew, run
//! that test with `REMAKE_SCENARIOS=1` in the environment.

use std::f64::consts::PI;
use std::fmt::Write as _;

use crate::drum_log_maker::{Phase, Sensor, World, look, normal};
use crate::scenario_maker::folder;
use crate::shop::Shop;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

pub(crate) const RADIUS_M: f64 = 0.6;
/// Engine rpm per m/s in third and fourth gear.
const THIRD: f64 = 157.0;
const FOURTH: f64 = 113.0;
/// The engine log's clock started so much later, s.
const LATE_S: f64 = 7.31;

/// Force of the demo's engine at the drum, N.
fn demo_force(v: f64, rpm: f64) -> f64 {
    let x = (rpm - 4400.0) / 2700.0;
    let torque = 262.0 * (1.0 - 0.22 * x * x) + 9.0 * (-((rpm - 3300.0) / 500.0).powi(2)).exp();
    torque * rpm * PI / 30.0 / v
}

/// The demo's drums and what was done on them.
pub(crate) fn demo() -> World {
    World {
        force_n: demo_force,
        mass_kg: 1180.0,
        turning_kg: 34.0,
        drag: [190.0, 1.6, 0.045],
        start_m_s: 9.0,
        tip_in_s: 0.03,
        phases: &[
            Phase::Gently {
                gear: FOURTH,
                to_rpm: 1900.0,
                share: 0.6,
            },
            Phase::Pull {
                gear: FOURTH,
                to_rpm: 6650.0,
            },
            Phase::Limiter {
                gear: FOURTH,
                seconds: 0.9,
            },
            Phase::Coast { to_m_s: 55.0 },
            Phase::Brake { to_m_s: 14.0 },
            Phase::Gently {
                gear: THIRD,
                to_rpm: 2500.0,
                share: 0.6,
            },
            Phase::Pull {
                gear: THIRD,
                to_rpm: 6500.0,
            },
            Phase::Shift {
                seconds: 0.45,
                to_gear: FOURTH,
            },
            Phase::Pull {
                gear: FOURTH,
                to_rpm: 6450.0,
            },
            Phase::Coast { to_m_s: 32.0 },
        ],
    }
}

/// The demo's drum log and engine log.
fn demo_logs() -> (String, String) {
    let truth = demo().run();
    let sensor = Sensor {
        jitter: 0.2,
        run_out: [0.002, 0.0],
        engine_noise_rpm: 6.0,
        ..Sensor::at(50.0, 0.012, 11)
    };
    let drum = look(&truth, &sensor, 60.0, (0.0, 1e6));
    let mut out = String::from(
        "# An invented car on invented drums: two pulls, a shift in the second, then a run-down in neutral.\ntime (s),drum speed (rpm),engine speed (rpm)\n",
    );
    for i in 0..drum.time_s.len() {
        let turning = drum.speed_m_s[i] / RADIUS_M * 30.0 / PI;
        writeln!(out, "{:.4},{turning:.2},{:.0}", drum.time_s[i], drum.rpm[i])
            .expect("a String takes all");
    }
    let sensor = Sensor {
        engine_noise_rpm: 8.0,
        ..Sensor::at(20.0, 0.0, 12)
    };
    let engine = look(&truth, &sensor, 60.0, (LATE_S, 1e6));
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let mut other = String::from(
        "time (s),engine speed (rpm),manifold pressure (kPa absolute),charge temperature (°C),lambda\n",
    );
    for i in 0..engine.time_s.len() {
        let rpm = engine.rpm[i];
        writeln!(
            other,
            "{:.3},{rpm:.0},{:.1},{:.1},{:.3}",
            engine.time_s[i] - LATE_S,
            96.5 - 0.0004 * rpm + 0.2 * normal(&mut rng),
            26.0 + 0.0008 * rpm,
            0.88 + 0.004 * normal(&mut rng)
        )
        .expect("a String takes all");
    }
    (out, other)
}

fn numbers(text: &str) -> Vec<f64> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .flat_map(|line| line.split(','))
        .map(|cell| cell.parse().expect("a number"))
        .collect()
}

#[test]
fn the_demo_log_is_what_its_maker_makes() {
    let (drum, engine) = demo_logs();
    let folder = folder("drum_session");
    for (name, made) in [("drum.csv", drum), ("engine.csv", engine)] {
        let path = folder.join(name);
        if std::env::var_os("REMAKE_SCENARIOS").is_some() {
            std::fs::write(&path, &made).expect("the scenario can be written");
        }
        let stored = std::fs::read_to_string(&path).expect("the demo's log");
        let (a, b) = (numbers(&stored), numbers(&made));
        assert_eq!(a.len(), b.len(), "{name}");
        // A last digit may round either way on another machine; engine speed is told to 1 rpm.
        let off = a.iter().zip(&b).filter(|(a, b)| (*a - *b).abs() > 1e-9);
        assert!(off.count() < 20, "{name}");
    }
}

/// The demo in a shop's folder, and its report.
pub(crate) fn demo_shop() -> Shop {
    let shop = Shop::new();
    for name in ["session.toml", "drum.csv", "engine.csv"] {
        let from = folder("drum_session").join(name);
        std::fs::copy(from, shop.path(name)).expect("a scratch copy");
    }
    shop
}

pub(crate) fn field(value: &Value, path: &str) -> f64 {
    value
        .pointer(path)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("{path} in {value}"))
}

#[test]
fn the_demo_session_is_reduced_as_it_was_driven() {
    let shop = demo_shop();
    let report = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    let truth = demo().run();
    let pulls = report["pulls"].as_array().expect("pulls");
    let ends: Vec<&str> = pulls
        .iter()
        .map(|p| p["ended_by"].as_str().expect("a word"))
        .collect();
    assert_eq!(ends, ["limiter", "shift", "lift_off"]);
    let numbers: Vec<u64> = pulls
        .iter()
        .map(|p| p["pull"].as_u64().expect("a number"))
        .collect();
    assert_eq!(numbers, [1, 2, 2]);
    for (pull, phase) in pulls.iter().zip([1, 6, 8]) {
        let (begin, end) = (truth.begins[phase], truth.begins[phase + 1]);
        let points = pull["curve"]["points"].as_array().expect("points");
        let mut squares = 0.0;
        for p in points {
            let rpm = field(p, "/rpm");
            let row = begin + truth.rpm[begin..end].partition_point(|&r| r < rpm);
            let z =
                (field(p, "/power_w") - truth.power_w[row.min(end - 1)]) / field(p, "/power_se_w");
            squares += z * z / points.len() as f64;
        }
        // One on average, were the points independent; some ten values stand behind a curve.
        assert!(squares < 3.0, "{squares}");
        assert!(points.len() > 25, "{}", points.len());
        let span = field(pull, "/curve/smoothing_span_rpm/0");
        assert!(span > 50.0, "{span}");
        // 0.2 % of run-out was put in.
        let run_out = field(pull, "/curve/run_out/0/amplitude");
        assert!((run_out - 0.002).abs() < 1e-4, "{run_out}");
    }
    let lag = field(&report, "/engine_log/lag_s");
    assert!((lag - LATE_S).abs() < 0.002, "{lag}");
    // Both reads of fourth gear are of one engine: they agree to the noise.
    let agreement = field(&report, "/repeatability/0/mean");
    assert!(agreement.abs() < 0.002, "{agreement}");
    let [f0, f1, f2] = demo().drag;
    for told in report["coast_down"]["drag"].as_array().expect("drag") {
        let v = field(told, "/0");
        let error = field(told, "/1") - (f0 + f1 * v + f2 * v * v);
        // The interval holds 95 %, the mass's doubt of 0.7 % in it.
        assert!(error.abs() < field(told, "/2"), "{told} at {v}");
    }
}

#[test]
fn the_text_states_smoothing_errors_and_what_drag_contains() {
    let shop = demo_shop();
    let text = shop.well("reduce session.toml").out;
    for words in [
        "3 full-throttle pulls, most 137 kW at 6400 rpm (pull 2)",
        "smoothing span",
        "standard error",
        "Inertia and radius add 0.47 % to power",
        "ended by the rev limiter",
        "ended by a shift: pulling again",
        "ended by lifting off",
        "drum run-out: removed: first harmonic of a turn 0.20",
        "Repeatability, in one gear",
        "Coast-down, gearbox in neutral",
        "the tyres' rolling resistance",
    ] {
        // Line breaks may fall inside a phrase.
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{words}: {text}");
    }
    let shop_units = shop.well("--units shop reduce session.toml").out;
    assert!(shop_units.contains(" hp at "), "{shop_units}");
    // The span is on every curve whatever the method.
    let other = shop
        .well("reduce session.toml --method savitzky-golay --span 150rpm")
        .out;
    assert_eq!(other.matches("smoothing span").count(), 3, "{other}");
}

#[test]
fn a_reduced_curve_is_a_recording_that_a_visit_takes_and_a_fit_uses() {
    let shop = demo_shop();
    let ran = shop.well("reduce session.toml --csv curves.csv");
    assert!(
        ran.err.contains("curves written to curves.csv"),
        "{}",
        ran.err
    );
    let csv = std::fs::read_to_string(shop.path("curves.csv")).expect("the curves");
    assert!(csv.contains("smoothing span"), "{csv}");
    let again = shop.run("reduce session.toml --csv curves.csv");
    assert_eq!(again.code, 1, "{}", again.err);
    shop.well("reduce session.toml --csv curves.csv --force");
    shop.write(
        "reduced.toml",
        "kind = \"visit\"\nversion = 1\nname = \"reduced\"\n[weather]\ntemperature = \"14 °C\"\n\
         relative_humidity = \"71 %\"\nstation_pressure = \"965 hPa\"\n[[pull]]\nfile = \"curves.csv\"\n",
    );
    let (visit, _) =
        pullcast::files::visit::open(&shop.path("reduced.toml")).unwrap_or_else(|p| panic!("{p}"));
    assert_eq!(visit.visit.pulls.len(), 3);
    let report = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    for (pull, reduced) in visit
        .visit
        .pulls
        .iter()
        .zip(report["pulls"].as_array().expect("pulls"))
    {
        let points = reduced["curve"]["points"].as_array().expect("points");
        let error_of = |p: &Value| field(p, "/power_se_w");
        let least = points.iter().map(error_of).fold(f64::INFINITY, f64::min);
        for band in &pull.curve.bands {
            // The recording's errors are the curve's own, and larger where its smoothing spans several bands.
            assert!(band.power_se_w >= least, "{band:?}");
            assert!(band.power_se_w < 0.02 * band.power_w, "{band:?}");
            // Channels of the engine log came along: 96.5 kPa less 0.4 Pa per rpm.
            let manifold = band.manifold_pa.expect("logged");
            assert!(
                (manifold - 96_500.0 + 0.4 * band.rpm).abs() < 400.0,
                "{band:?}"
            );
            assert!(band.lambda.is_some_and(|l| (l - 0.88).abs() < 0.02));
        }
    }
    // The car of this folder and its drums are others: whatever the fit says of that, it takes the recording if told to trust it.
    shop.write(
        "fourth.toml",
        "kind = \"visit\"\nversion = 1\nname = \"reduced\"\n[weather]\ntemperature = \"14 °C\"\n\
         relative_humidity = \"71 %\"\nstation_pressure = \"965 hPa\"\n[[pull]]\nfile = \"one.csv\"\ntrust_recording = true\n",
    );
    let one: String = csv
        .lines()
        .filter(|line| line.starts_with("pull,") || line.starts_with("1,"))
        .map(|line| line.to_owned() + "\n")
        .collect();
    shop.write("one.csv", &one);
    let fit = shop.run("fit car.toml fourth.toml --accept-misfit");
    assert_eq!(fit.code, 0, "{}{}", fit.out, fit.err);
}

#[test]
fn any_setting_finds_the_same_peak() {
    let shop = demo_shop();
    let mut peaks = Vec::new();
    for setting in [
        "",
        "--band 10rpm",
        "--band 500rpm",
        "--method savitzky-golay --span 150rpm",
    ] {
        let report = shop
            .well(&format!("reduce session.toml --json {setting}"))
            .json("pullcast/reduce/2");
        peaks.push(field(&report, "/pulls/0/curve/peak_power/rpm"));
    }
    let (low, high) = peaks
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(l, h), p| (l.min(*p), h.max(*p)));
    assert!(high - low < 50.0, "{peaks:?}");
}

#[test]
fn mistakes_end_with_the_codes_of_the_manual() {
    let shop = demo_shop();
    for (arguments, code, words) in [
        ("reduce none.toml", 66, "none.toml"),
        ("reduce car.toml", 65, "drum log"),
        (
            "reduce session.toml --span 100rpm",
            2,
            "--method savitzky-golay",
        ),
        ("reduce session.toml --span 300rpm", 2, "50 to 150 rpm"),
        ("reduce session.toml --band 100", 2, "unit"),
        ("reduce session.toml --csv nowhere/x.csv", 1, "nowhere"),
    ] {
        let ran = shop.run(arguments);
        assert_eq!(ran.code, code, "{arguments}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains(words), "{arguments}: {}", ran.err);
        assert!(ran.out.is_empty(), "{arguments}: {}", ran.out);
    }
    let log = std::fs::read_to_string(shop.path("drum.csv")).expect("the log");
    let lines: Vec<&str> = log.lines().collect();
    let mut swapped = lines.clone();
    swapped.swap(1000, 1001);
    shop.write("drum.csv", &(swapped.join("\n") + "\n"));
    let ran = shop.run("reduce session.toml");
    assert_eq!(ran.code, 65);
    assert!(ran.err.contains("line 1002: time goes from"), "{}", ran.err);
    let ran = shop.run("reduce session.toml --json");
    assert_eq!(ran.records()[0]["problems"][0]["line"], 1002, "{}", ran.err);
}

#[test]
fn the_starter_description_reduces_a_log_put_beside_it() {
    let shop = demo_shop();
    shop.well("new drum-log mine.toml");
    let text = std::fs::read_to_string(shop.path("mine.toml")).expect("the starter");
    assert!(text.contains("kind = \"drum log\""), "{text}");
    let report = shop
        .well("reduce mine.toml --json")
        .json("pullcast/reduce/2");
    assert_eq!(report["pulls"].as_array().map(Vec::len), Some(3));
    // All its optional keys, taken in, are keys.
    let counted: String = text
        .lines()
        .map(|line| match line.strip_prefix('#') {
            Some(rest) if rest.starts_with(|c: char| c.is_ascii_lowercase() || c == '[') => {
                rest.to_owned() + "\n"
            }
            _ => line.to_owned() + "\n",
        })
        .collect();
    shop.write("all.toml", &counted);
    let all = pullcast::files::drum_log::open(&shop.path("all.toml"));
    assert!(
        all.is_ok(),
        "{}",
        all.err().map_or_else(String::new, |p| p.to_string())
    );
}

/// The demo's log with its rows of numbers changed: row from 0, time, drum speed and engine speed; `None` leaves a row out.
fn change_log(shop: &Shop, change: impl Fn(usize, [f64; 3]) -> Option<[f64; 3]>) {
    let log = std::fs::read_to_string(folder("drum_session").join("drum.csv")).expect("the log");
    let (head, rows): (Vec<&str>, Vec<&str>) = log
        .lines()
        .partition(|line| !line.starts_with(|c: char| c.is_ascii_digit()));
    let mut out = head.join("\n") + "\n";
    for (i, row) in rows.iter().enumerate() {
        let cells: Vec<f64> = row
            .split(',')
            .map(|c| c.parse().expect("a number"))
            .collect();
        if let Some([time, drum, engine]) = change(i, [cells[0], cells[1], cells[2]]) {
            writeln!(out, "{time:.4},{drum:.2},{engine:.0}").expect("a String takes all");
        }
    }
    shop.write("drum.csv", &out);
}

fn ends(report: &Value) -> Vec<String> {
    let pulls = report["pulls"].as_array().expect("pulls");
    let word = |p: &Value| p["ended_by"].as_str().expect("a word").to_owned();
    pulls.iter().map(word).collect()
}

/// Rows 600 to 640 of the log lie within the first pull, at 14 s.
const WITHIN: usize = 600;

#[test]
fn one_bad_reading_does_not_part_a_pull_and_is_told_with_its_line() {
    let shop = demo_shop();
    let sound = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    assert_eq!(sound["left_out_readings"].as_array().map(Vec::len), Some(0));
    for size in [1.05, 1.5, 0.0] {
        change_log(&shop, |i, [time, drum, engine]| {
            let drum = if i == WITHIN { size * drum } else { drum };
            Some([time, drum, engine])
        });
        let report = shop
            .well("reduce session.toml --json")
            .json("pullcast/reduce/2");
        assert_eq!(
            ends(&report),
            ["limiter", "shift", "lift_off"],
            "times {size}"
        );
        let left = report["left_out_readings"].as_array().expect("a list");
        // Two lines of heading, and lines count from 1.
        assert_eq!(left.len(), 1, "{left:?}");
        assert_eq!(left[0]["line"], WITHIN + 3);
        let power = "/pulls/0/curve/peak_power/value";
        let (with, without) = (field(&report, power), field(&sound, power));
        // The tenth of a standard error that one reading of a thousand may move.
        let se = field(&sound, "/pulls/0/curve/peak_power/se");
        assert!((with - without).abs() < 0.3 * se, "{with} {without} {se}");
        let text = shop.well("reduce session.toml").out;
        assert!(
            text.contains("the reading on line 603 was left out"),
            "{text}"
        );
    }
}

#[test]
fn a_stuck_sensor_and_a_hole_are_said() {
    let shop = demo_shop();
    let held = std::cell::Cell::new(0.0);
    change_log(&shop, |i, [time, drum, engine]| {
        if i == WITHIN {
            held.set(drum);
        }
        let stuck = (WITHIN..WITHIN + 40).contains(&i);
        Some([time, if stuck { held.get() } else { drum }, engine])
    });
    let report = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    assert_eq!(ends(&report), ["limiter", "shift", "lift_off"]);
    assert_eq!(
        report["stuck"][0]["first_line"],
        WITHIN + 3,
        "{}",
        report["stuck"]
    );
    assert_eq!(report["stuck"][0]["last_line"], WITHIN + 42);
    let text = shop.well("reduce session.toml").out;
    assert!(text.contains("sensor is stuck for 0.7"), "{text}");
    change_log(&shop, |i, row| {
        (!(WITHIN..WITHIN + 100).contains(&i)).then_some(row)
    });
    let report = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    let hole = &report["pulls"][0]["curve"]["holes"][0];
    assert_eq!(hole["first_line"], WITHIN + 2, "{hole}");
    assert!((field(hole, "/duration_s") - 2.02).abs() < 0.05, "{hole}");
    let text = shop.well("reduce session.toml").out;
    assert!(text.contains("no readings for 2.0"), "{text}");
}

#[test]
fn a_pull_that_stops_before_its_top_has_no_peak() {
    let shop = demo_shop();
    // The log ends in the middle of the first pull.
    change_log(&shop, |i, row| (i < 700).then_some(row));
    let session = std::fs::read_to_string(shop.path("session.toml")).expect("the session");
    shop.write("short.toml", &session.replace("engine_log", "# engine_log"));
    let report = shop
        .well("reduce short.toml --json")
        .json("pullcast/reduce/2");
    assert!(report["pulls"][0]["curve"]["peak_power"]["rpm_se"].is_null());
    let text = shop.well("reduce short.toml").out;
    assert!(text.contains("peak power   peak not reached"), "{text}");
}

#[test]
fn a_run_down_alone_gives_its_drag() {
    let shop = demo_shop();
    let whole = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    change_log(&shop, |_, row| (row[0] > 66.0).then_some(row));
    let report = shop
        .well("reduce session.toml --json")
        .json("pullcast/reduce/2");
    assert_eq!(report["pulls"].as_array().map(Vec::len), Some(0));
    for place in ["/coast_down/drag/1/1", "/coast_down/drag/2/1"] {
        let (alone, with) = (field(&report, place), field(&whole, place));
        // The same run-down, of which the ends are found a little otherwise: within its interval.
        let width = field(
            &whole,
            &place.replace("/1", "/2").replace("drag/2/2", "drag/1/2"),
        );
        assert!(
            (alone - with).abs() < width,
            "{place}: {alone} {with} {width}"
        );
    }
    let text = shop.well("reduce session.toml").out;
    assert!(
        text.contains("no full-throttle pull, only a run-down"),
        "{text}"
    );
    assert!(text.contains("Coast-down, gearbox in neutral"), "{text}");
    let csv = shop.run("reduce session.toml --csv curves.csv");
    assert_eq!(
        (csv.code, csv.err.contains("no curve to write")),
        (1, true),
        "{}",
        csv.err
    );
    assert!(!shop.path("curves.csv").exists());
}

#[test]
fn another_gear_is_said_in_text_and_recording_and_stops_a_comparison() {
    let shop = demo_shop();
    let ran = shop.well("reduce session.toml --csv curves.csv");
    assert!(ran.out.contains("times as fast in pull 2"), "{}", ran.out);
    let csv = std::fs::read_to_string(shop.path("curves.csv")).expect("the curves");
    assert!(
        csv.contains("# At the same drum speed the engine turns"),
        "{csv}"
    );
    // Stretch 2 is in third gear, the others in fourth.
    for number in ["1", "2", "3"] {
        let part: String = csv
            .lines()
            .filter(|line| line.starts_with("pull,") || line.starts_with(&format!("{number},")))
            .map(|line| line.to_owned() + "\n")
            .collect();
        shop.write(&format!("{number}.csv"), &part);
        shop.write(
            &format!("{number}.toml"),
            &format!(
                "kind = \"visit\"\nversion = 1\nname = \"v{number}\"\n[weather]\ntemperature = \"14 °C\"\n\
                 relative_humidity = \"71 %\"\nstation_pressure = \"965 hPa\"\n[[pull]]\nfile = \"{number}.csv\"\n"
            ),
        );
    }
    let refused = shop.run("compare 1.toml 2.toml");
    assert_eq!(
        (refused.code, refused.out.as_str()),
        (1, ""),
        "{}",
        refused.err
    );
    assert!(refused.err.contains("another gear"), "{}", refused.err);
    let forced = shop.well("compare 1.toml 2.toml --force").out;
    assert!(forced.contains("forced: the engine turns"), "{forced}");
    let same = shop.well("compare 1.toml 3.toml").out;
    assert!(!same.contains("another gear"), "{same}");
}
