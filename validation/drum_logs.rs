//! Drum logs of a known drum, reduced: what comes back, how far off, and whether the standard errors say so.

use std::f64::consts::PI;

use pullcast::drumlog::curve::Rig;
use pullcast::drumlog::pulls::End;
use pullcast::drumlog::reduction::{Ask, CoastAsk, EngineLog, Log, Question, Reading, Reduced};
use pullcast::drumlog::{Reduction, reduce};
use pullcast::dyno::{Coupling, Drums};

use crate::drum_log_maker::{Phase, Seen, Sensor, Truth, World, look};

const RADIUS_M: f64 = 0.6;
const MASS_KG: f64 = 1200.0;
const GEAR: f64 = 108.0;

fn rig() -> Rig {
    Rig {
        drums: Drums {
            inertia_kg_m2: MASS_KG * RADIUS_M * RADIUS_M,
            radius_m: RADIUS_M,
            drag_n: 0.0,
            drag_n_s2_m2: 0.0,
            drag_added_back: false,
            coupling: Coupling::Single,
        },
        inertia_doubt: 0.0,
        radius_doubt: 0.0,
        reads_turning: false,
    }
}

fn log(seen: &Seen) -> Log {
    Log {
        time_s: seen.time_s.clone(),
        reading: Reading::Speed(seen.speed_m_s.clone()),
        engine_rpm: Some(seen.rpm.clone()),
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
    200e3 / v
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
        phases: &[
            Phase::Pull {
                gear: GEAR,
                to_rpm: 6600.0,
            },
            Phase::Coast { to_m_s: 55.0 },
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

#[test]
fn look_at_it() {
    for (hz, noise) in [
        (1000.0, 0.05),
        (100.0, 0.01),
        (50.0, 0.05),
        (20.0, 0.02),
        (10.0, 0.02),
    ] {
        let mut world = one_pull(engine);
        world.drag = [60.0, 0.0, 0.03];
        let truth = world.run();
        let seen = look(&truth, &Sensor::at(hz, noise, 3), 60.0, WHOLE);
        for (name, log) in [("speed", log(&seen)), ("counts", counted(&seen, 60.0))] {
            let start = std::time::Instant::now();
            let found = match reduce(&question(&log)) {
                Ok(f) => f,
                Err(e) => {
                    println!("{hz} {name}: {e}");
                    continue;
                }
            };
            println!(
                "{hz} {noise} {name} {:?} pulls {} left {}",
                start.elapsed(),
                found.pulls.len(),
                found.left_out
            );
            for pull in &found.pulls {
                println!("  {:?}", pull.stretch);
                match &pull.outcome {
                    Err(e) => println!("   {e}"),
                    Ok(r) => {
                        println!(
                            "   {:?} noise {} infl {} span {:?} runout {:?} peak {:?}",
                            r.method, r.noise, r.inflation, r.span_s, r.run_out, r.curve.peak_power
                        );
                        let mut worst = 0.0_f64;
                        let mut z2 = 0.0;
                        for p in &r.curve.points {
                            let e = p.power_w / true_power(&truth, 0, p.rpm) - 1.0;
                            worst = worst.max(e.abs());
                            z2 += (e * p.power_w / p.power_se_w).powi(2);
                        }
                        let p = r.curve.points[r.curve.points.len() / 2];
                        println!(
                            "   worst {worst:.5} rms z {:.2} n {} se {:.5} {:?}",
                            (z2 / r.curve.points.len() as f64).sqrt(),
                            r.curve.points.len(),
                            p.power_se_w / p.power_w,
                            p
                        );
                    }
                }
            }
        }
    }
}
