//! Drum logs with a force at the drums, made of a known one: power by it, its standard errors, the mass that it feels, and a brake's alone.
//!
//! Source of the expected shares: what one and 1.96 standard deviations of a normal distribution mean.

use pullcast::drumlog::coast_down::Drag;
use pullcast::drumlog::reduction::{Log, ReduceError};
use pullcast::drumlog::{ForceError, ForceLog, Reads, Rig, RoadLoad, Sense, Told, reduce};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::drum_log_maker::{Phase, Seen, Sensor, Truth, World, look, normal};
use super::{GEAR, MASS_KG, WHOLE, engine, log, question, reduced, rig};

/// A pull and its run-down in neutral; the drums' own drag is in the force.
const DRIVE: World = World {
    force_n: engine,
    mass_kg: MASS_KG,
    turning_kg: 0.0,
    drag: [60.0, 0.0, 0.02],
    start_m_s: 19.0,
    tip_in_s: 0.03,
    phases: &[
        Phase::Pull {
            gear: GEAR,
            to_rpm: 6600.0,
        },
        Phase::Coast { to_m_s: 40.0 },
    ],
};
const LATE_S: f64 = 0.1;
const NOISE_N: f64 = 30.0;

fn drag_n(v: f64) -> f64 {
    DRIVE.drag[0] + v * (DRIVE.drag[1] + v * DRIVE.drag[2])
}

/// All of the force at the drums at a fine row, N.
fn all_n(truth: &Truth, row: usize) -> f64 {
    truth.power_w[row] / truth.speed_m_s[row] + drag_n(truth.speed_m_s[row])
}

/// Fine row at an engine speed of the pull.
fn row_at(truth: &Truth, rpm: f64) -> usize {
    truth.rpm[..truth.begins[1]].partition_point(|&r| r < rpm)
}

/// A log with the force of a cell that comes late and strays.
fn with_force(seen: &Seen, truth: &Truth, of: impl Fn(usize) -> f64, seed: u64) -> Log {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let force_n = seen.time_s.iter().map(|t| {
        let row = truth.time_s.partition_point(|fine| *fine < t - LATE_S);
        of(row) + NOISE_N * normal(&mut rng)
    });
    Log {
        force: Some(ForceLog {
            force_n: force_n.collect(),
            stated: None,
            doubt: 0.0,
            by_torque: false,
        }),
        ..log(seen)
    }
}

/// How many of `n` independent trials may lie off the expected share: three standard deviations of the binomial.
fn binomial(n: f64, share: f64) -> f64 {
    3.0 * (share * (1.0 - share) / n).sqrt()
}

#[test]
fn power_by_a_logged_force_and_the_mass_it_feels_hold_the_truth_as_often_as_they_say() {
    let truth = DRIVE.run();
    let (mut one, mut two, mut trials) = (0.0, 0.0, 0.0);
    let (mut masses, mut lags) = ([0.0; 2], 0.0);
    let logs = 200;
    for seed in 0..logs {
        // Each log begins at another moment, so that the throttle closes anywhere between two rows.
        let within = (1e-4 * seed as f64, WHOLE.1);
        let seen = look(&truth, &Sensor::at(50.0, 0.02, 3000 + seed), 60.0, within);
        let log = with_force(&seen, &truth, |row| all_n(&truth, row), 7000 + seed);
        let found = reduce(&question(&log)).expect("a pull");
        let force = found.force.as_ref().expect("a force");
        assert_eq!(
            (force.sense.reads, force.told),
            (Reads::All, Told::ByTheLog)
        );
        let balance = force.balance.expect("a balance");
        let z = (balance.mass_kg - MASS_KG) / balance.mass_se_kg;
        masses[0] += f64::from(u8::from(z.abs() < 1.0)) / logs as f64;
        masses[1] += f64::from(u8::from(z.abs() < 1.96)) / logs as f64;
        lags += (balance.lag_s - LATE_S) / logs as f64;
        let points = &reduced(&found, 0).curve.points;
        // Points far enough apart to be nearly independent.
        for p in points.iter().skip(5).step_by(points.len() / 5) {
            let row = row_at(&truth, p.rpm);
            let power = all_n(&truth, row) * truth.speed_m_s[row];
            let z = (p.power_w - power) / p.power_se_w;
            one += f64::from(u8::from(z.abs() < 1.0));
            two += f64::from(u8::from(z.abs() < 1.96));
            trials += 1.0;
        }
    }
    let (one, two) = (one / trials, two / trials);
    eprintln!(
        "power {one:.3} {two:.3} of {trials}; mass {masses:?}; lag off by {lags:.4} s on average"
    );
    // One engine, smoother than what the smoother must be ready for: errors may be too large, not too small, nor say nothing.
    assert!(one > 0.683 - binomial(trials, 0.683), "{one}");
    assert!(two > 0.95 - binomial(trials, 0.95), "{two}");
    assert!(one < 0.85, "{one}");
    // Windows share the ends of their momentum, pieces of them less: the mass is known better than its error says, never worse.
    let n = logs as f64;
    assert!(masses[0] > 0.683 - binomial(n, 0.683), "{masses:?}");
    assert!(masses[1] > 0.95 - binomial(n, 0.95), "{masses:?}");
    assert!(masses[0] < 0.97, "{masses:?}");
    // On average the lag is right to a fraction of the 20 ms between rows.
    assert!(lags.abs() < 0.004, "{lags}");
}

#[test]
fn a_mistyped_inertia_moves_no_power_of_a_logged_force() {
    let truth = DRIVE.run();
    let seen = look(&truth, &Sensor::at(100.0, 0.01, 41), 60.0, WHOLE);
    let log = with_force(&seen, &truth, |row| all_n(&truth, row), 42);
    let mut wrong = rig();
    wrong.drums.inertia_kg_m2 *= 1.1;
    let right = reduce(&question(&log)).expect("a pull");
    let found = reduce(&pullcast::drumlog::Question {
        rig: wrong,
        ..question(&log)
    })
    .expect("a pull");
    assert_eq!(reduced(&right, 0).curve, reduced(&found, 0).curve);
    let (right, found) = (right.force.expect("a force"), found.force.expect("a force"));
    assert_eq!((right.agrees(), found.agrees()), (Some(true), Some(false)));
    let (off, se) = found.off().expect("masses");
    assert!((off - (1.0 / 1.1 - 1.0)).abs() < 3.0 * se, "{off} ± {se}");
}

#[test]
fn a_brakes_force_alone_is_added_to_what_the_inertia_takes() {
    // An eddy-current brake at one current: its force grows with speed.
    let braked = World {
        drag: [400.0, 25.0, 0.0],
        phases: &[
            Phase::Pull {
                gear: GEAR,
                to_rpm: 6400.0,
            },
            Phase::Coast { to_m_s: 35.0 },
        ],
        ..DRIVE
    };
    let truth = braked.run();
    let seen = look(&truth, &Sensor::at(50.0, 0.01, 51), 60.0, WHOLE);
    let brake_n = |row: usize| 400.0 + 25.0 * truth.speed_m_s[row];
    let log = with_force(&seen, &truth, brake_n, 52);
    let found = reduce(&question(&log)).expect("a pull");
    let force = found.force.as_ref().expect("a force");
    assert_eq!(
        (force.sense.reads, force.told),
        (Reads::BrakeAlone, Told::ByTheLog)
    );
    let points = &reduced(&found, 0).curve.points;
    let mut squares = 0.0;
    for p in points {
        let row = row_at(&truth, p.rpm);
        let power = truth.power_w[row] + brake_n(row) * truth.speed_m_s[row];
        squares += ((p.power_w - power) / p.power_se_w).powi(2) / points.len() as f64;
    }
    // One on average, were the points independent; some ten values stand behind a curve.
    assert!(squares < 3.0, "{squares}");
}

#[test]
fn a_brake_that_holds_a_ramp_is_asked_about_and_then_used() {
    // 1.2 m/s² whatever the engine does, until the throttle closes; then the brake lets go.
    let ramp = 1.2;
    let (mut time_s, mut speed, mut rpm, mut force) = (vec![], vec![], vec![], vec![]);
    let mut rng = ChaCha8Rng::seed_from_u64(61);
    let (mut v, mut t) = (20.0, 0.0);
    while v < 58.0 && t < 60.0 {
        time_s.push(t);
        speed.push(v + 0.01 * normal(&mut rng));
        rpm.push(GEAR * v);
        force.push(engine(v, GEAR * v) - MASS_KG * ramp + NOISE_N * normal(&mut rng));
        v += ramp * 0.02;
        t += 0.02;
    }
    for _ in 0..250 {
        time_s.push(t);
        speed.push(v + 0.01 * normal(&mut rng));
        rpm.push(GEAR * v);
        force.push(NOISE_N * normal(&mut rng));
        v -= 0.25 * 0.02;
        t += 0.02;
    }
    let mut log = Log {
        time_s,
        reading: pullcast::drumlog::Reading::Speed(speed),
        engine_rpm: Some(rpm),
        force: Some(ForceLog {
            force_n: force,
            stated: None,
            doubt: 0.0,
            by_torque: false,
        }),
    };
    let asked = reduce(&question(&log));
    assert!(
        matches!(
            asked,
            Err(ReduceError::Force(
                ForceError::NoBalance { .. } | ForceError::AnotherMass { .. }
            ))
        ),
        "{asked:?}"
    );
    let alone = Sense {
        reads: Reads::BrakeAlone,
        reversed: false,
    };
    if let Some(force) = &mut log.force {
        force.stated = Some((alone, Told::Stated));
    }
    let found = reduce(&question(&log)).expect("a pull");
    for p in &reduced(&found, 0).curve.points {
        let power = engine(p.speed_m_s, p.rpm) * p.speed_m_s;
        // Four standard errors: a chance of 6 in 100 000 each.
        assert!(
            (p.power_w - power).abs() < 4.0 * p.power_se_w,
            "{power} {p:?}"
        );
    }
}

#[test]
fn a_simulated_road_load_gives_power_without_a_logged_force() {
    // A rig that makes 1200 kg and a load that pushes at first; seen through speed alone.
    let load = [-120.0, 14.0, 0.04];
    let world = World {
        drag: load,
        ..DRIVE
    };
    let truth = world.run();
    let seen = look(&truth, &Sensor::at(50.0, 0.01, 71), 60.0, WHOLE);
    let log = log(&seen);
    let small = Rig {
        road_load: Some(RoadLoad {
            mass_kg: MASS_KG,
            mass_doubt: 0.0,
            drag: Drag {
                f0_n: load[0],
                f1_n_s_m: load[1],
                f2_n_s2_m2: load[2],
            },
        }),
        ..rig()
    };
    let found = reduce(&pullcast::drumlog::Question {
        rig: small,
        ..question(&log)
    })
    .expect("a pull");
    for p in &reduced(&found, 0).curve.points {
        let power = engine(p.speed_m_s, p.rpm) * p.speed_m_s;
        // Four standard errors, or where those say less the half per cent that holds in the middle of every curve here.
        let allowed = (4.0 * p.power_se_w).max(0.005 * power);
        assert!((p.power_w - power).abs() < allowed, "{power} {p:?}");
    }
}
