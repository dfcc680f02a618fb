//! Drum logs of a known drum, reduced: what comes back, how far off, and whether the standard errors say so.

#[path = "../../tests/drum_log_maker.rs"]
mod drum_log_maker;
mod errors;
mod forces;

use std::f64::consts::PI;

use pullcast::drumlog::Rig;
use pullcast::drumlog::coast_down::State;
use pullcast::drumlog::pulls::End;
use pullcast::drumlog::reduction::{
    Ask, CoastAsk, EngineLog, Log, Question, Reading, ReduceError, Reduced,
};
use pullcast::drumlog::{Reduction, reduce};
use pullcast::dyno::{Coupling, Drums};

use drum_log_maker::{Phase, Seen, Sensor, Truth, World, look};

const RADIUS_M: f64 = 0.6;
const MASS_KG: f64 = 1200.0;
const GEAR: f64 = 108.0;

fn rig() -> Rig {
    Rig {
        drums: Drums {
            inertia_kg_m2: MASS_KG * RADIUS_M * RADIUS_M,
            radius_m: RADIUS_M,
            drag_n: 0.0,
            drag_n_s_m: 0.0,
            machine: pullcast::dyno::drums::Machine::default(),
            drag_n_s2_m2: 0.0,
            drag_added_back: false,
            coupling: Coupling::Single,
        },
        inertia_doubt: 0.0,
        radius_doubt: 0.0,
        reads_turning: false,
        road_load: None,
    }
}

fn log(seen: &Seen) -> Log {
    Log {
        time_s: seen.time_s.clone(),
        reading: Reading::Speed(seen.speed_m_s.clone()),
        engine_rpm: Some(seen.rpm.clone()),
        force: None,
    }
}

fn counted(seen: &Seen, teeth: f64) -> Log {
    Log {
        reading: Reading::Counts {
            counts: seen.counts.clone(),
            teeth,
        },
        ..log(seen)
    }
}

fn question(log: &Log) -> Question<'_> {
    Question {
        log,
        engine: None,
        rig: rig(),
        gearing_rpm_s_m: None,
        ask: Ask::StateSpace,
        band_rpm: 50.0,
        coast: None,
    }
}

fn reduced(reduction: &Reduction, pull: usize) -> &Reduced {
    match &reduction.pulls[pull].outcome {
        Ok(reduced) => reduced,
        Err(refusal) => panic!("pull {pull}: {refusal}"),
    }
}

/// Force of an engine with two humps, N.
fn engine(v: f64, rpm: f64) -> f64 {
    let torque = 380.0 * (1.0 - 0.25 * ((rpm - 4300.0) / 2600.0).powi(2))
        + 14.0 * (-((rpm - 3300.0) / 450.0).powi(2)).exp()
        + 10.0 * (-((rpm - 5300.0) / 400.0).powi(2)).exp();
    torque * rpm * PI / 30.0 / v
}

fn constant_power(v: f64, _rpm: f64) -> f64 {
    300e3 / v
}

fn constant_force(_v: f64, _rpm: f64) -> f64 {
    4500.0
}

const fn one_pull(force_n: fn(f64, f64) -> f64) -> World {
    World {
        force_n,
        mass_kg: MASS_KG,
        turning_kg: 0.0,
        drag: [0.0; 3],
        start_m_s: 19.0,
        tip_in_s: 0.03,
        phases: &[
            Phase::Pull {
                gear: GEAR,
                to_rpm: 6600.0,
            },
            Phase::Brake { to_m_s: 40.0 },
        ],
    }
}

/// True power at an engine speed of a phase, W.
fn true_power(truth: &Truth, phase: usize, rpm: f64) -> f64 {
    let begin = truth.begins[phase];
    let end = truth
        .begins
        .get(phase + 1)
        .map_or(truth.rpm.len(), |&next| next);
    let row = begin + truth.rpm[begin..end].partition_point(|&r| r < rpm);
    truth.power_w[row.min(end - 1)]
}

/// All of the truth.
const WHOLE: (f64, f64) = (0.0, 1e6);

/// Largest relative error of power over the points, leaving out `ends` at each end.
fn worst(reduced: &Reduced, truth: &Truth, phase: usize, ends: usize) -> f64 {
    let points = &reduced.curve.points;
    points[ends..points.len() - ends]
        .iter()
        .map(|p| (p.power_w / true_power(truth, phase, p.rpm) - 1.0).abs())
        .fold(0.0, f64::max)
}

#[test]
fn constant_power_comes_back_to_half_a_per_cent() {
    // 300 kW exactly, from 19 to 61 m/s, whatever the rate, and whether speed or the counts of a coarse wheel are read.
    let mut world = one_pull(constant_power);
    world.tip_in_s = 0.0;
    let truth = world.run();
    for (hz, noise, step_m_s, teeth) in [
        (1000.0, 0.005, 0.0, 0.0),
        (200.0, 0.002, 0.0, 0.0),
        (200.0, 0.005, 0.0, 0.0),
        (100.0, 0.002, 0.0, 0.0),
        (50.0, 0.002, 0.0, 0.0),
        (100.0, 0.0, 0.01, 0.0),
        (1000.0, 0.0, 0.0, 60.0),
        (1000.0, 0.0, 0.0, 600.0),
        (10.0, 0.001, 0.0, 0.0),
        (10.0, 0.0, 0.01, 0.0),
    ] {
        let sensor = Sensor {
            jitter: 0.3,
            step_m_s,
            ..Sensor::at(hz, noise, 5)
        };
        let seen = look(&truth, &sensor, teeth, WHOLE);
        let log = if teeth > 0.0 {
            counted(&seen, teeth)
        } else {
            log(&seen)
        };
        let found = reduce(&question(&log)).expect("a pull");
        assert_eq!(found.pulls.len(), 1, "{hz} Hz");
        let reduced = reduced(&found, 0);
        let points = &reduced.curve.points;
        for (i, p) in points.iter().enumerate() {
            let error = (p.power_w / 300e3 - 1.0).abs();
            // A smoother has neighbours on one side only at its ends, and says so: past 0.5 % a point must lie there, and within
            // three of its own standard errors.
            let end = i < 4 || i + 4 > points.len();
            assert!(
                error < 0.005 || (end && error < 3.0 * p.power_se_w / p.power_w),
                "{hz} Hz, {teeth} teeth: {error} {p:?}"
            );
        }
        assert!(points[points.len() - 1].rpm - points[0].rpm > 3800.0);
    }
}

#[test]
fn constant_force_comes_back_to_half_a_per_cent() {
    let truth = one_pull(constant_force).run();
    let seen = look(&truth, &Sensor::at(100.0, 0.01, 6), 60.0, WHOLE);
    let log = log(&seen);
    let found = reduce(&question(&log)).expect("a pull");
    for p in &reduced(&found, 0).curve.points {
        assert!((p.force_n / 4500.0 - 1.0).abs() < 0.005, "{p:?}");
    }
}

#[test]
fn quantised_counts_of_a_coarse_wheel_with_jitter_are_enough() {
    let truth = one_pull(engine).run();
    let sensor = Sensor {
        jitter: 0.5,
        ..Sensor::at(1000.0, 0.0, 7)
    };
    let seen = look(&truth, &sensor, 60.0, WHOLE);
    let log = counted(&seen, 60.0);
    let found = reduce(&question(&log)).expect("a pull");
    let reduced = reduced(&found, 0);
    // 60 teeth, less than one between samples.
    let error = worst(reduced, &truth, 0, 1);
    assert!(error < 0.005, "{error}");
}

#[test]
fn a_log_of_ten_samples_a_second_gives_a_curve_and_its_doubt() {
    let truth = one_pull(engine).run();
    let seen = look(&truth, &Sensor::at(10.0, 0.02, 8), 60.0, WHOLE);
    let log = log(&seen);
    let found = reduce(&question(&log)).expect("a pull");
    let reduced = reduced(&found, 0);
    let points = &reduced.curve.points;
    let mean = points
        .iter()
        .map(|p| ((p.power_w - true_power(&truth, 0, p.rpm)) / p.power_se_w).powi(2))
        .sum::<f64>()
        / points.len() as f64;
    // Squares of errors over their stated variance: one on average; fewer than ten independent values stand behind it.
    assert!((0.2..2.5).contains(&mean), "{mean}");
    assert!(worst(reduced, &truth, 0, 2) < 0.02);
}

/// A plain engine with one top, 5883 rpm by the formula of its torque.
fn single_top(v: f64, rpm: f64) -> f64 {
    let x = (rpm - 4300.0) / 2600.0;
    380.0 * (1.0 - 0.32 * x * x) * rpm * PI / 30.0 / v
}

#[test]
fn peak_engine_speed_moves_less_than_50_rpm_at_any_setting() {
    // d/dN of N (1 − 0.32 ((N − 4300)/2600)²) = 0.
    let top = {
        let (k, c) = (0.32 / (2600.0 * 2600.0), 4300.0);
        // 1 − k (N − c)² − 2 k N (N − c) = 0, the larger root of 3 k N² − 4 k c N + k c² − 1 = 0.
        let (a, b, d) = (3.0 * k, -4.0 * k * c, k * c * c - 1.0);
        (-b + f64::sqrt(b * b - 4.0 * a * d)) / (2.0 * a)
    };
    let truth = one_pull(single_top).run();
    let sharp = Sensor {
        jitter: 0.3,
        ..Sensor::at(1000.0, 0.01, 9)
    };
    let fine = look(&truth, &sharp, 3600.0, WHOLE);
    let usual = look(&truth, &Sensor::at(100.0, 0.002, 10), 60.0, WHOLE);
    for (name, log) in [
        ("1000 Hz", log(&fine)),
        ("counts", counted(&fine, 3600.0)),
        ("100 Hz", log(&usual)),
    ] {
        let mut peaks = Vec::new();
        let spans = [50.0, 60.0, 80.0, 100.0, 125.0, 150.0];
        let asks = spans.map(|span_rpm| Ask::LocalPolynomial { span_rpm });
        for ask in [&[Ask::StateSpace], &asks[..]].concat() {
            for band_rpm in [10.0, 50.0, 500.0] {
                let found = reduce(&Question {
                    ask,
                    band_rpm,
                    ..question(&log)
                })
                .expect("a pull");
                // A window that holds too few samples is refused, which is no setting.
                if let Ok(reduced) = &found.pulls[0].outcome {
                    peaks.push(reduced.curve.peak_power.rpm);
                }
            }
        }
        assert!(peaks.len() >= 15, "{name}: {} settings", peaks.len());
        let (low, high) = peaks
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(l, h), p| (l.min(*p), h.max(*p)));
        assert!(high - low < 50.0, "{name}: {low} to {high}");
        assert!(
            (low - top).abs() < 50.0 && (high - top).abs() < 50.0,
            "{name}: {low} to {high}, true {top}"
        );
    }
}

#[test]
fn run_out_is_found_and_removed() {
    let truth = one_pull(engine).run();
    let sensor = Sensor {
        run_out: [0.004, 0.0015],
        ..Sensor::at(200.0, 0.01, 11)
    };
    let seen = look(&truth, &sensor, 600.0, WHOLE);
    for log in [log(&seen), counted(&seen, 600.0)] {
        for ask in [Ask::StateSpace, Ask::LocalPolynomial { span_rpm: 150.0 }] {
            let found = reduce(&Question {
                ask,
                ..question(&log)
            })
            .expect("a pull");
            let reduced = reduced(&found, 0);
            let orders: Vec<usize> = reduced.run_out.removed.iter().map(|h| h.order).collect();
            assert_eq!(orders, [1, 2], "{:?}", reduced.run_out);
            for (harmonic, expected) in reduced.run_out.removed.iter().zip(sensor.run_out) {
                // Four standard errors: a chance of 6 in 100 000 each.
                let error = (harmonic.amplitude - expected).abs();
                assert!(error < 4.0 * harmonic.se + 1e-5, "{harmonic:?}");
            }
            // With 0.4 % of a swing at 50 m/s left in, acceleration would swing by 16 m/s².
            let allowed = if ask == Ask::StateSpace { 0.01 } else { 0.12 };
            let error = worst(reduced, &truth, 0, 2);
            assert!(error < allowed, "{ask:?}: {error}");
        }
    }
}

#[test]
fn no_run_out_is_found_where_there_is_none() {
    let truth = one_pull(engine).run();
    let mut found_any = 0;
    for seed in 0..20 {
        let seen = look(&truth, &Sensor::at(100.0, 0.02, 100 + seed), 60.0, WHOLE);
        let log = log(&seen);
        let found = reduce(&question(&log)).expect("a pull");
        found_any += reduced(&found, 0).run_out.removed.len();
    }
    // Three harmonics in each of 20 logs at a level of 0.1 %: 0.06 expected, two or more once in 600.
    assert!(found_any < 2, "{found_any}");
}

/// Two pulls, the second over a shift; a limiter, a lift-off, a run-down in neutral.
const SESSION: World = World {
    force_n: engine,
    mass_kg: MASS_KG,
    turning_kg: 35.0,
    drag: [150.0, 1.5, 0.02],
    start_m_s: 6.0,
    tip_in_s: 0.03,
    phases: &[
        Phase::Gently {
            gear: GEAR,
            to_rpm: 1900.0,
            share: 0.35,
        },
        Phase::Pull {
            gear: GEAR,
            to_rpm: 6600.0,
        },
        Phase::Limiter {
            gear: GEAR,
            seconds: 0.8,
        },
        Phase::Coast { to_m_s: 55.0 },
        Phase::Brake { to_m_s: 14.0 },
        Phase::Gently {
            gear: 150.0,
            to_rpm: 2400.0,
            share: 0.4,
        },
        Phase::Pull {
            gear: 150.0,
            to_rpm: 6500.0,
        },
        Phase::Shift {
            seconds: 0.4,
            to_gear: GEAR,
        },
        Phase::Pull {
            gear: GEAR,
            to_rpm: 6300.0,
        },
        Phase::Coast { to_m_s: 22.0 },
    ],
};

#[test]
fn pulls_shift_limiter_and_lift_off_are_told_apart() {
    let truth = SESSION.run();
    let at = |phase: usize| truth.time_s[truth.begins[phase]];
    for (hz, noise, teeth) in [
        (1000.0, 0.02, 0.0),
        (100.0, 0.01, 0.0),
        (50.0, 0.03, 0.0),
        (20.0, 0.01, 0.0),
        (10.0, 0.01, 0.0),
        (1000.0, 0.0, 60.0),
    ] {
        let seen = look(&truth, &Sensor::at(hz, noise, 12), teeth, WHOLE);
        let with_engine = if teeth > 0.0 {
            counted(&seen, teeth)
        } else {
            log(&seen)
        };
        let found = reduce(&question(&with_engine)).expect("pulls");
        let name = format!("{hz} Hz, {teeth} teeth");
        let stretches: Vec<_> = found.pulls.iter().map(|p| &p.stretch).collect();
        assert_eq!(stretches.len(), 3, "{name}: {stretches:?}");
        let pulls: Vec<usize> = stretches.iter().map(|s| s.pull).collect();
        assert_eq!(pulls, [1, 2, 2], "{name}");
        // Within two samples and the window that finds corners.
        let slack = 0.12 + 2.0 / hz;
        for (stretch, (from, to)) in
            stretches
                .iter()
                .zip([(at(1), at(2)), (at(6), at(7)), (at(8), at(9))])
        {
            assert!(
                (stretch.time_s.0 - from - 0.15).abs() < slack + 0.05
                    && (stretch.time_s.1 - to).abs() < slack,
                "{name}: {stretch:?}, truly {from} to {to}"
            );
        }
        let End::Limiter { held_s } = stretches[0].end else {
            panic!("{name}: {:?}", stretches[0].end);
        };
        assert!((held_s - 0.8).abs() < 0.2 + 2.0 / hz, "{name}: {held_s}");
        let End::Shift {
            ratio: Some(ratio),
            gap_s,
        } = stretches[1].end
        else {
            panic!("{name}: {:?}", stretches[1].end);
        };
        // The engine's own speed falls in proportion to the gears.
        assert!((ratio - GEAR / 150.0).abs() < 0.02, "{name}: {ratio}");
        assert!((gap_s - 0.4).abs() < 0.2 + 2.0 / hz, "{name}: {gap_s}");
        assert_eq!(stretches[2].end, End::LiftOff, "{name}");
    }
}

#[test]
fn a_log_without_a_pull_and_one_without_engine_speed_are_refused() {
    let truth = SESSION.run();
    let seen = look(&truth, &Sensor::at(50.0, 0.01, 13), 60.0, WHOLE);
    let mut blind = log(&seen);
    blind.engine_rpm = None;
    assert_eq!(reduce(&question(&blind)), Err(ReduceError::NoEngineSpeed));
    // The last run-down alone.
    let begin = truth.time_s[truth.begins[9]] + 1.0;
    let seen = look(&truth, &Sensor::at(50.0, 0.01, 13), 60.0, (begin, 1e6));
    let log = log(&seen);
    assert!(matches!(
        reduce(&question(&log)),
        Err(ReduceError::NoPull { .. })
    ));
}

#[test]
fn gearing_takes_the_place_of_a_logged_engine_speed() {
    let truth = one_pull(engine).run();
    let seen = look(&truth, &Sensor::at(100.0, 0.01, 14), 60.0, WHOLE);
    let mut log = log(&seen);
    log.engine_rpm = None;
    let found = reduce(&Question {
        gearing_rpm_s_m: Some(GEAR),
        ..question(&log)
    })
    .expect("a pull");
    assert!(worst(reduced(&found, 0), &truth, 0, 1) < 0.005);
}

#[test]
fn an_engine_log_on_another_clock_is_brought_to_the_drums() {
    let truth = SESSION.run();
    let lag_s = 12.34;
    let drum = look(&truth, &Sensor::at(100.0, 0.01, 15), 60.0, WHOLE);
    let engine = look(&truth, &Sensor::at(20.0, 0.0, 16), 60.0, (3.0, 1e6));
    let other = EngineLog {
        time_s: engine.time_s.iter().map(|t| t - lag_s).collect(),
        engine_rpm: engine.rpm.clone(),
    };
    for own in [true, false] {
        let mut log = log(&drum);
        if !own {
            log.engine_rpm = None;
        }
        let found = reduce(&Question {
            engine: Some(&other),
            ..question(&log)
        })
        .expect("pulls");
        let alignment = found.alignment.expect("a lag");
        let error = (alignment.lag_s - lag_s).abs();
        // Without engine speed beside the drum, its corners are blurred by the clutch: a sample of the engine log.
        assert!(error < if own { 0.002 } else { 0.05 }, "{alignment:?}");
        assert!(!own || error < 4.0 * alignment.lag_se_s, "{alignment:?}");
        // 5 rpm of noise in both, and the straight line between samples 20 a second.
        assert!(!own || alignment.residual < 12.0, "{alignment:?}");
        let lags: Vec<f64> = found
            .pulls
            .iter()
            .filter_map(|p| Some(p.outcome.as_ref().ok()?.lag?.lag_s))
            .collect();
        assert_eq!(lags.len(), found.pulls.len());
        if own {
            assert!(lags.iter().all(|l| (l - lag_s).abs() < 0.005), "{lags:?}");
        }
    }
}

#[test]
fn drag_comes_back_from_the_run_down_with_its_interval() {
    let truth = SESSION.run();
    let ask = CoastAsk {
        state: State::Neutral,
        turning_kg: 35.0,
        turning_sd_kg: 0.0,
        between_s: None,
    };
    for teeth in [0.0, 60.0] {
        let seen = look(&truth, &Sensor::at(50.0, 0.02, 17), 60.0, WHOLE);
        let log = if teeth > 0.0 {
            counted(&seen, teeth)
        } else {
            log(&seen)
        };
        let found = reduce(&Question {
            coast: Some(ask),
            ..question(&log)
        })
        .expect("pulls");
        let coast = found.coast.expect("asked for").expect("a run-down");
        assert!(coast.speed_m_s.0 > 50.0 && coast.speed_m_s.1 < 25.0);
        for v in [25.0, 40.0, 50.0] {
            let truth = 150.0 + 1.5 * v + 0.02 * v * v;
            let error = coast.drag.at_n(v) - truth;
            // Four standard errors, and 1 %.
            assert!(
                error.abs() < 4.0 * coast.se_n(v) && error.abs() < 0.01 * truth,
                "{teeth} teeth at {v}: {error} N ± {}",
                coast.se_n(v)
            );
        }
    }
}
