//! Two wide-open-throttle runs of a road car on a real chassis dynamometer: read as a shop would read its own log, and
//! compared with what NumPy makes of the same bytes.
//!
//! Source: `data/real_pulls/README.md`, which carries the attribution the data ask for. The numbers below were computed there with
//! `numpy.polyfit` over nine points and `numpy.interp`, outside this program. The dynamometer is not an inertia drum and
//! the car shifts, so nothing of the combustion model is checked here.

use std::ops::Range;
use std::path::Path;

use pullcast::drumlog::coast_down::Drag;
use pullcast::drumlog::pulls::End;
use pullcast::drumlog::reduction::Ask;
use pullcast::drumlog::smoother::state_space;
use pullcast::drumlog::{
    ForceLog, Log, Measured, Question, Reading, Reads, Reduction, Rig, RoadLoad, Signal, Told,
    reduce,
};
use pullcast::dyno::{Coupling, Drums, Recording, RecordingError};
use pullcast::files::run_csv::{Channel, RunFile, RunOptions};

/// Slower than this the car stands, m/s: the speed signal of the standing rolls is exactly zero.
const STANDING_M_S: f64 = 1.0;

fn path() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/real_pulls/wot_two_pulls_10hz.csv")
}

fn run() -> RunFile {
    RunFile::open(&path(), &RunOptions::default()).expect("the recording can be read")
}

/// One channel of the whole recording, SI.
fn all(run: &RunFile, channel: Channel) -> &[f64] {
    &run.column(channel)
        .expect("the channel is logged")
        .values_si
}

/// Roll power, W.
fn power_w(run: &RunFile) -> Vec<f64> {
    let speed = all(run, Channel::RoadSpeed);
    let force = all(run, Channel::WheelForce);
    speed.iter().zip(force).map(|(v, f)| v * f).collect()
}

/// Rows from rest to the highest speed of every stretch in which the car moves.
fn pulls(speed_m_s: &[f64]) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = None;
    for (row, &speed) in speed_m_s.iter().enumerate() {
        match (start, speed > STANDING_M_S) {
            (None, true) => start = Some(row),
            (Some(first), false) => {
                let fastest = (first..row).max_by(|&a, &b| speed_m_s[a].total_cmp(&speed_m_s[b]));
                found.extend(fastest.map(|top| first..top));
                start = None;
            }
            _ => {}
        }
    }
    found
}

/// Nine-point quadratic smoothing at a row. Weights: Savitzky & Golay, Anal. Chem. 36 (1964) 1627 (from memory; they sum to
/// 231, and the expected values below come from least squares, not from them).
fn smoothed(values: &[f64], row: usize) -> f64 {
    const WEIGHTS: [f64; 9] = [-21.0, 14.0, 39.0, 54.0, 59.0, 54.0, 39.0, 14.0, -21.0];
    let window = &values[row - 4..=row + 4];
    WEIGHTS.iter().zip(window).map(|(w, v)| w * v).sum::<f64>() / 231.0
}

/// Time at which a rising signal passes a value, s.
fn crossing_s(time_s: &[f64], values: &[f64], value: f64) -> f64 {
    let after = values.partition_point(|&v| v < value);
    let (t0, t1) = (time_s[after - 1], time_s[after]);
    let (v0, v1) = (values[after - 1], values[after]);
    t0 + (t1 - t0) * (value - v0) / (v1 - v0)
}

#[test]
fn the_log_is_read_with_its_units() {
    let run = run();
    assert_eq!(run.row_count(), 1585);
    for channel in [
        Channel::Time,
        Channel::RoadSpeed,
        Channel::WheelForce,
        Channel::EngineSpeed,
    ] {
        assert!(run.column(channel).is_some(), "{channel:?}");
    }
    // The first line of the file: -10.0 s, -11.284 N; idle near 830 rpm at 6 s (row 160).
    assert_eq!(all(&run, Channel::Time)[0], -10.0);
    assert_eq!(all(&run, Channel::WheelForce)[0], -11.284);
    let idle_rpm = all(&run, Channel::EngineSpeed)[160] * 30.0 / std::f64::consts::PI;
    // Printed to 0.001 rpm.
    assert!((idle_rpm - 830.033).abs() < 1e-9, "{idle_rpm}");
}

#[test]
fn two_pulls_are_found_and_reach_the_power_numpy_finds() {
    let run = run();
    let power = power_w(&run);
    let pulls = pulls(all(&run, Channel::RoadSpeed));
    assert_eq!(pulls.len(), 2);
    // Tolerance: the expected numbers are printed to 0.01 kW.
    let same = |found_w: f64, expected_kw: f64| (found_w / 1e3 - expected_kw).abs() < 0.006;
    for (pull, (raw_kw, smooth_kw)) in pulls.iter().zip([(86.49, 86.13), (89.22, 89.23)]) {
        // The window stays clear of the lift-off, whose step it would overshoot.
        let rows = pull.start..pull.end - 4;
        let raw = rows.clone().map(|row| power[row]).fold(0.0, f64::max);
        let smooth = rows.map(|row| smoothed(&power, row)).fold(0.0, f64::max);
        assert!(same(raw, raw_kw), "{raw} W, expected {raw_kw} kW");
        assert!(
            same(smooth, smooth_kw),
            "{smooth} W, expected {smooth_kw} kW"
        );
    }
}

#[test]
fn the_pulls_take_the_time_numpy_finds() {
    let run = run();
    let speed = all(&run, Channel::RoadSpeed);
    let time = all(&run, Channel::Time);
    for (pull, expected_s) in pulls(speed).into_iter().zip([9.8328, 9.4966]) {
        let at = |km_h: f64| crossing_s(&time[pull.clone()], &speed[pull.clone()], km_h / 3.6);
        let taken_s = at(120.0) - at(60.0);
        // Tolerance: rounding of the expected numbers.
        assert!((taken_s - expected_s).abs() < 6e-5, "{taken_s} s");
    }
}

#[test]
fn a_repeated_header_tells_the_pulls_apart() {
    let text = std::fs::read_to_string(path()).expect("the recording is text");
    let whole = run();
    let (header, rows) = text.split_once('\n').expect("a header line");
    let rows: Vec<&str> = rows.lines().collect();
    let pulls = pulls(all(&whole, Channel::RoadSpeed));
    let block = |pull: &Range<usize>| format!("{header}\n{}\n", rows[pull.clone()].join("\n"));
    let joined = block(&pulls[0]) + &block(&pulls[1]);
    let parted = RunFile::parse("two.csv", joined.as_bytes(), &RunOptions::default())
        .expect("two blocks can be read");
    assert_eq!(parted.pulls.len(), 2);
    for (pull, rows) in parted.pulls.iter().zip(&pulls) {
        let speed = parted.values_si(pull, Channel::RoadSpeed);
        assert_eq!(speed, Some(&all(&whole, Channel::RoadSpeed)[rows.clone()]));
    }
}

/// A stretch of the log as the reduction takes it.
fn recording(run: &RunFile, rows: Range<usize>) -> Recording {
    let rpm = all(run, Channel::EngineSpeed)[rows.clone()].iter();
    Recording {
        time_s: all(run, Channel::Time)[rows.clone()].to_vec(),
        engine_rpm: rpm.map(|w| w * 30.0 / std::f64::consts::PI).collect(),
        power_w: power_w(run)[rows].to_vec(),
        ..Recording::default()
    }
}

/// Rows between two times, s.
fn between(run: &RunFile, from_s: f64, to_s: f64) -> Range<usize> {
    let time = all(run, Channel::Time);
    time.partition_point(|&t| t < from_s)..time.partition_point(|&t| t <= to_s)
}

#[test]
fn a_pull_across_a_shift_is_refused_with_the_speeds_of_the_shift() {
    let run = run();
    // 94.0 to 102.1 s of the second pull holds one upshift: 4370.757 rpm at 96.6 s, then down to 3193.004 rpm. The fall is
    // reported at the first row that is far enough below: 3676.934 rpm at 96.9 s (all three printed so in the log).
    let refused = recording(&run, between(&run, 93.95, 102.15)).reduce(100.0);
    let Err(RecordingError::FallsBack {
        from_rpm, to_rpm, ..
    }) = refused
    else {
        panic!("a shift was taken for a pull: {refused:?}");
    };
    // Tolerance: rounding of the way through rad/s.
    assert!((from_rpm - 4370.757).abs() < 1e-9, "{from_rpm}");
    assert!((to_rpm - 3676.934).abs() < 1e-9, "{to_rpm}");
}

#[test]
fn within_one_gear_the_reduced_curve_follows_the_log() {
    let run = run();
    // 97.5 to 102.1 s of the second pull: one gear, 3200 to 4330 rpm, throttle open throughout (read off the log).
    let recording = recording(&run, between(&run, 97.45, 102.15));
    let curve = recording
        .reduce(100.0)
        .expect("a climb in one gear is a pull");
    // NumPy: nine-point quadratic filter of roll power, interpolated over engine speed: (rpm, kW).
    for (rpm, expected_kw) in [
        (3342.8, 87.29),
        (3446.0, 87.25),
        (3548.5, 87.87),
        (3644.8, 87.70),
        (3751.0, 87.20),
        (3844.6, 87.89),
        (3934.6, 87.91),
        (4036.2, 88.35),
        (4140.9, 85.96),
    ] {
        let band = curve.bands.iter().find(|b| (b.rpm - rpm).abs() < 0.1);
        let band = band.expect("the curve covers the gear");
        // Tolerance: the band's own standard error, 0.4 to 0.7 kW. Both stand on the same samples, so they must lie closer
        // together than the noise the band admits (measured: 0.16 kW at most).
        let error_w = band.power_w - 1e3 * expected_kw;
        assert!(error_w.abs() < band.power_se_w, "{band:?}");
    }
    // Scatter of single samples: NumPy finds 0.27 % about its own filter, which follows some of it; a line through each band
    // follows less. Tolerance: a factor of three.
    assert!((0.0027..0.0081).contains(&curve.noise), "{}", curve.noise);
}

/// The roll balance fitted to the same log outside the program (`meta.json`): mass kg, then N, N s/m, N s²/m².
const BALANCE: [f64; 4] = [1742.165, -83.821, 13.617_7, 0.004_525];
/// What that fit leaves over, N root mean square: its stated doubt of a force.
const BALANCE_RMS_N: f64 = 79.84;
/// The three fits stated there, of three logs of the same rolls, find masses this far apart: 1742.2, 1752.9, 1767.9 kg.
const BALANCE_SPREAD_KG: f64 = 25.8;

fn drag_n(balance: &[f64], v: f64) -> f64 {
    balance[1] + v * (balance[2] + v * balance[3])
}

fn signal(run: &RunFile, rows: Range<usize>) -> Signal {
    Signal::even(
        Measured::Speed,
        all(run, Channel::Time)[rows.clone()].to_vec(),
        all(run, Channel::RoadSpeed)[rows].to_vec(),
    )
}

#[test]
fn the_roll_balance_comes_back_from_smoothed_acceleration_within_its_stated_doubt() {
    let run = run();
    let smoothed = state_space(&signal(&run, 0..run.row_count()), None, &[]).expect("a smooth log");
    let force = all(&run, Channel::WheelForce);
    let row = |i: usize| {
        let v = smoothed.speed_m_s[i];
        nalgebra::Vector4::new(smoothed.acceleration_m_s2[i], 1.0, v, v * v)
    };
    let mut kept: Vec<usize> = (0..force.len())
        .filter(|&i| smoothed.speed_m_s[i] > STANDING_M_S)
        .collect();
    // Force and speed are not read at one instant, so rows in which the force jumps say nothing of a balance: what lies three
    // standard deviations off is left out until nothing does.
    let mut balance = nalgebra::Vector4::zeros();
    for _ in 0..30 {
        let (mut normal, mut right) = (nalgebra::Matrix4::zeros(), nalgebra::Vector4::zeros());
        for &i in &kept {
            normal += row(i) * row(i).transpose();
            right += row(i) * force[i];
        }
        balance = normal.cholesky().expect("a balance").solve(&right);
        let left = |i: usize| force[i] - balance.dot(&row(i));
        let squares: f64 = kept.iter().map(|&i| left(i).powi(2)).sum();
        let sd = (squares / kept.len() as f64).sqrt();
        kept.retain(|&i| left(i).abs() < 3.0 * sd);
    }
    assert!(kept.len() > 500, "{} rows", kept.len());
    let mass_kg = balance[0];
    assert!(
        (mass_kg - BALANCE[0]).abs() < BALANCE_SPREAD_KG,
        "{mass_kg} kg"
    );
    for v in [5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0] {
        let (found, stated) = (drag_n(balance.as_slice(), v), drag_n(&BALANCE, v));
        assert!(
            (found - stated).abs() < BALANCE_RMS_N,
            "{found} N, stated {stated} N at {v} m/s"
        );
    }
}

/// Rolls of the stated mass.
fn rolls() -> Rig {
    let drums = Drums {
        inertia_kg_m2: BALANCE[0],
        radius_m: 1.0,
        drag_n: 0.0,
        drag_n_s_m: 0.0,
        machine: pullcast::dyno::drums::Machine::default(),
        drag_n_s2_m2: 0.0,
        drag_added_back: false,
        coupling: Coupling::Single,
    };
    Rig {
        drums,
        inertia_doubt: 0.0,
        radius_doubt: 0.0,
        reads_turning: false,
        road_load: None,
    }
}

/// The recording reduced as a drum of the stated mass.
fn reduction(run: &RunFile) -> Reduction {
    reduced(run, 0..run.row_count(), false, rolls())
}

/// Rows of it, reduced on a rig, by the recorded force or without.
fn reduced(run: &RunFile, rows: Range<usize>, force: bool, rig: Rig) -> Reduction {
    let rpm = all(run, Channel::EngineSpeed)[rows.clone()].iter();
    let log = Log {
        time_s: all(run, Channel::Time)[rows.clone()].to_vec(),
        reading: Reading::Speed(all(run, Channel::RoadSpeed)[rows.clone()].to_vec()),
        engine_rpm: Some(rpm.map(|w| w * 30.0 / std::f64::consts::PI).collect()),
        force: force.then(|| ForceLog {
            force_n: all(run, Channel::WheelForce)[rows].to_vec(),
            stated: None,
            doubt: 0.0,
            by_torque: false,
        }),
    };
    reduce(&Question {
        log: &log,
        engine: None,
        rig,
        gearing_rpm_s_m: None,
        ask: Ask::StateSpace,
        band_rpm: 50.0,
        coast: None,
    })
    .expect("the recording holds pulls")
}

#[test]
fn the_gears_of_both_pulls_are_found_and_reduce_to_the_logged_power() {
    let run = run();
    let found = reduction(&run);
    let force = all(&run, Channel::WheelForce);
    let speed = all(&run, Channel::RoadSpeed);
    let time = all(&run, Channel::Time);
    for (pull, stretches) in [(1, 3), (2, 4)] {
        let own: Vec<_> = found
            .pulls
            .iter()
            .filter(|p| p.stretch.pull == pull)
            .collect();
        assert_eq!(own.len(), stretches);
        let (last, shifted) = own.split_last().expect("stretches");
        assert!(
            shifted
                .iter()
                .all(|p| matches!(p.stretch.end, End::Shift { ratio: Some(r), .. } if r < 0.8))
        );
        assert!(!matches!(last.stretch.end, End::Shift { .. }));
    }
    // Inertia alone, with the stated drag of the rolls added, against force times speed as logged: the mean of each gear's curve
    // from 60 km/h on within the stated doubt of the force, times speed.
    let mut compared = 0;
    for pull in found.pulls.iter().filter(|p| p.stretch.speed_m_s.0 > 15.0) {
        let curve = &pull.outcome.as_ref().expect("a curve").curve;
        let mut error_n = 0.0;
        for p in &curve.points {
            let row = time.partition_point(|&t| t < p.time_s - 1e-6);
            error_n += p.force_n + drag_n(&BALANCE, p.speed_m_s) - force[row];
            assert!((speed[row] / p.speed_m_s - 1.0).abs() < 0.02);
        }
        error_n /= curve.points.len() as f64;
        // The second gear of the first pull lasts 1.3 s of a force that falls by a fifth; with force and speed not read at one
        // instant, it is 127 N off, 2.7 %.
        let allowed_n = if pull.stretch.speed_m_s.0 < 20.0 {
            0.03 * 4700.0
        } else {
            BALANCE_RMS_N
        };
        assert!(error_n.abs() < allowed_n, "{error_n} N");
        compared += 1;
    }
    assert_eq!(compared, 5);
}

#[test]
fn peak_power_and_repeatability_are_those_of_the_logged_force() {
    let run = run();
    let found = reduction(&run);
    // 86.13 and 89.23 kW by NumPy from force times speed; in this balance the force is known to 79.84 N, at 31 m/s 2.5 kW.
    for (pull, expected_kw) in [(1, 86.13), (2, 89.23)] {
        let highest = found
            .pulls
            .iter()
            .filter(|p| p.stretch.pull == pull && p.stretch.speed_m_s.0 > 15.0)
            .filter_map(|p| p.outcome.as_ref().ok())
            .flat_map(|reduced| &reduced.curve.points)
            .map(|p| p.power_w + drag_n(&BALANCE, p.speed_m_s) * p.speed_m_s)
            .fold(0.0, f64::max);
        assert!(
            (highest / 1e3 - expected_kw).abs() < 2.5,
            "{highest} W, expected {expected_kw} kW"
        );
    }
    // The second pull is 3.6 % stronger by those peaks; gear by gear the reduction finds 3.2 to 3.9 %.
    assert_eq!(found.agreements.len(), 3);
    for (_, _, agreement) in &found.agreements {
        assert!((0.03..0.042).contains(&agreement.mean), "{agreement:?}");
    }
}

#[test]
fn the_smoothed_pulls_take_the_time_numpy_finds() {
    let run = run();
    let smoothed = state_space(&signal(&run, 0..run.row_count()), None, &[]).expect("a smooth log");
    for (pull, expected_s) in pulls(all(&run, Channel::RoadSpeed))
        .into_iter()
        .zip([9.8328, 9.4966])
    {
        let at = |km_h: f64| {
            crossing_s(
                &smoothed.time_s[pull.clone()],
                &smoothed.speed_m_s[pull.clone()],
                km_h / 3.6,
            )
        };
        let taken_s = at(120.0) - at(60.0);
        // Single readings stray 0.003 m/s at 0.8 m/s² and more: 4 ms at each end.
        assert!((taken_s - expected_s).abs() < 0.008, "{taken_s} s");
    }
}

/// The car's weight on the rig and its road load, as set for the test (`meta.json`): kg, then N, N s/m, N s²/m².
const SET: [f64; 4] = [1_727.279_744_96, 100.689_944, 12.332_909, 0.042_936];
/// What the tests of that sheet leave to the car itself on the rolls, tyres and driveline: about 180 to 200 N (`README.md` of the source).
const CARS_OWN_N: f64 = 190.0;

/// Rows of a part of the log, reduced on rolls that simulate a car, by the recorded force or by mass and load alone.
fn simulated(run: &RunFile, rows: Range<usize>, force: bool, load: RoadLoad) -> Reduction {
    let rig = Rig {
        road_load: Some(load),
        ..rolls()
    };
    reduced(run, rows, force, rig)
}

fn as_set() -> RoadLoad {
    RoadLoad {
        mass_kg: SET[0],
        mass_doubt: 0.0,
        drag: Drag {
            f0_n: SET[1] - CARS_OWN_N,
            f1_n_s_m: SET[2],
            f2_n_s2_m2: SET[3],
        },
    }
}

#[test]
fn the_recorded_force_is_told_to_be_all_of_it_and_gives_back_the_mass_and_load_that_were_set() {
    let run = run();
    let found = simulated(&run, 0..run.row_count(), true, as_set());
    let force = found.force.expect("a force");
    assert_eq!(
        (force.sense.reads, force.sense.reversed),
        (Reads::All, false)
    );
    assert_eq!(force.told, Told::ByTheLog);
    let balance = force.balance.expect("a balance");
    // Two standard errors, of 1.6 kg: 0.2 %.
    let off = balance.mass_kg - SET[0];
    eprintln!(
        "mass {:.1} ± {:.1} kg, lag {:.3} ± {:.3} s, load {:?} N at 5, 15, 25, 35 m/s, set {:?}",
        balance.mass_kg,
        balance.mass_se_kg,
        balance.lag_s,
        balance.lag_se_s,
        [5.0, 15.0, 25.0, 35.0].map(|v| balance.drag.at_n(v).round()),
        [5.0, 15.0, 25.0, 35.0].map(|v| as_set().drag.at_n(v).round())
    );
    assert!(off.abs() < 2.0 * balance.mass_se_kg, "{balance:?}");
    assert!(balance.mass_se_kg < 4.0, "{balance:?}");
    assert_eq!(force.agrees(), Some(true));
    // The rig pushes at low speed, where the car's own drag is more than the road's: below zero, and several hundred newton at the top.
    for v in [5.0, 15.0, 25.0, 35.0] {
        let error = balance.drag.at_n(v) - as_set().drag.at_n(v);
        // The load is known there to what its own fit leaves over.
        assert!(error.abs() < BALANCE_RMS_N, "{error} N at {v} m/s");
    }
    assert!(balance.drag.at_n(2.0) < -40.0 && balance.drag.at_n(37.0) > 300.0);
    // NumPy, the same force shifted against a five-point slope of speed: least is left over between 0.15 and 0.20 s.
    assert!((0.15..0.22).contains(&force.lag_s()), "{}", force.lag_s());
}

#[test]
fn peak_power_by_the_recorded_force_is_numpys() {
    let run = run();
    let found = simulated(&run, 0..run.row_count(), true, as_set());
    for (pull, expected_kw) in [(1, 86.13), (2, 89.23)] {
        let highest = found
            .pulls
            .iter()
            .filter(|p| p.stretch.pull == pull && p.stretch.speed_m_s.0 > 15.0)
            .filter_map(|p| p.outcome.as_ref().ok())
            .flat_map(|reduced| &reduced.curve.points)
            .max_by(|a, b| a.power_w.total_cmp(&b.power_w))
            .expect("points");
        // NumPy's has the force where it was logged, 0.19 s late: by the speed gained meanwhile, under 2 m/s² at 28 to 31 m/s, it is
        // up to 1.2 % too high; and it is the highest of rows, this of bands of 50 rpm.
        let ratio = highest.power_w / 1e3 / expected_kw;
        assert!((0.98..1.003).contains(&ratio), "{ratio}: {highest:?}");
    }
}

#[test]
fn a_curve_by_mass_and_load_holds_the_recorded_force_of_the_other_pull_as_often_as_it_says() {
    let run = run();
    let speed = all(&run, Channel::RoadSpeed);
    let found = pulls(speed);
    let middle = usize::midpoint(found[0].end, found[1].start);
    let halves = [0..middle, middle..run.row_count()];
    let (mut one, mut two, mut trials) = (0.0, 0.0, 0.0);
    for (own, other) in [(0, 1), (1, 0)] {
        // Mass, load and how far a rig strays from them, from the other pull alone.
        let told = simulated(&run, halves[other].clone(), true, as_set());
        let balance = told.force.and_then(|f| f.balance).expect("a balance");
        let load = RoadLoad {
            mass_kg: balance.mass_kg,
            mass_doubt: 0.0,
            drag: balance.drag,
        };
        let by_force = simulated(&run, halves[own].clone(), true, as_set());
        let by_load = simulated(&run, halves[own].clone(), false, load);
        for (force, load) in by_force.pulls.iter().zip(&by_load.pulls) {
            let (Ok(force), Ok(load)) = (&force.outcome, &load.outcome) else {
                continue;
            };
            for q in &load.curve.points {
                let beside = force
                    .curve
                    .points
                    .iter()
                    .find(|p| (p.rpm - q.rpm).abs() < 15.0);
                let Some(p) = beside else { continue };
                let rate = (q.force_n - balance.drag.at_n(q.speed_m_s)) / balance.mass_kg;
                let se = [
                    p.force_se_n,
                    q.force_se_n,
                    balance.force_se_n(rate, q.speed_m_s),
                    balance.residual_n,
                ]
                .into_iter()
                .fold(0.0, f64::hypot);
                let z = (q.force_n - p.force_n) / se;
                one += f64::from(u8::from(z.abs() < 1.0));
                two += f64::from(u8::from(z.abs() < 1.96));
                trials += 1.0;
            }
        }
    }
    let (one, two) = (one / trials, two / trials);
    eprintln!("{one:.3} and {two:.3} of {trials} points");
    // Seven stretches, each of some three independent pieces: three standard deviations of the binomial of twenty.
    let within = |share: f64| 3.0 * (share * (1.0 - share) / 20.0_f64).sqrt();
    assert!((one - 0.683).abs() < within(0.683), "{one}");
    assert!((two - 0.95).abs() < within(0.95), "{two}");
}
