//! Whether the standard errors of a reduced log hold the truth as often as they say, over some hundred logs each.
//!
//! Source of the expected shares: what one and 1.96 standard deviations of a normal distribution mean.

use pullcast::drumlog::smoother::state_space;
use pullcast::drumlog::{Measured, Signal, coast_down, reduce};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::drum_log_maker::{Sensor, look, normal};
use super::{WHOLE, engine, log, one_pull, question, reduced, true_power};

/// How many of `n` independent trials may lie off the expected share: three standard deviations of the binomial.
fn binomial(n: f64, share: f64) -> f64 {
    3.0 * (share * (1.0 - share) / n).sqrt()
}

#[test]
fn standard_errors_cover_a_force_that_wanders_as_often_as_they_say() {
    // 200 logs of a force drawn anew each time: its rate is a random walk, as the smoother takes it to be. Three rows of each,
    // two smoothing spans and more apart.
    let (step_s, sigma, drive) = (0.05, 0.02, 0.5_f64);
    let mut rng = ChaCha8Rng::seed_from_u64(21);
    let (mut one, mut two, mut trials) = (0.0, 0.0, 0.0);
    for _ in 0..200 {
        let (mut v, mut a, mut rate) = (20.0, 3.0, 0.0);
        let mut signal = Signal::even(Measured::Speed, Vec::new(), Vec::new());
        let mut truth = Vec::new();
        for row in 0..240 {
            signal.time_s.push(step_s * f64::from(row));
            signal.values.push(v + sigma * normal(&mut rng));
            signal.weight.push(1.0);
            truth.push(a);
            // Fine steps stand for the walk between samples.
            for _ in 0..10 {
                let h: f64 = step_s / 10.0;
                v += a * h + 0.5 * rate * h * h;
                a += rate * h;
                rate += (drive * h).sqrt() * normal(&mut rng);
            }
        }
        let smoothed = state_space(&signal, None, &[]).expect("a log");
        for row in [40, 120, 200] {
            let z = (smoothed.acceleration_m_s2[row] - truth[row]) / smoothed.acceleration_se[row];
            one += f64::from(u8::from(z.abs() < 1.0));
            two += f64::from(u8::from(z.abs() < 1.96));
            trials += 1.0;
        }
    }
    let (one, two) = (one / trials, two / trials);
    assert!((one - 0.683).abs() < binomial(trials, 0.683), "{one}");
    assert!((two - 0.95).abs() < binomial(trials, 0.95), "{two}");
}

#[test]
fn standard_errors_of_an_engines_curve_are_not_too_small() {
    // 200 logs of one engine, which is smoother than what the smoother must be ready for: the errors may be too large, not too
    // small.
    let truth = one_pull(engine).run();
    let (mut one, mut two, mut trials) = (0.0, 0.0, 0.0);
    for seed in 0..200 {
        let seen = look(&truth, &Sensor::at(50.0, 0.02, 1000 + seed), 60.0, WHOLE);
        let log = log(&seen);
        let found = reduce(&question(&log)).expect("a pull");
        let points = &reduced(&found, 0).curve.points;
        // Points far enough apart to be nearly independent.
        for p in points.iter().skip(5).step_by(points.len() / 5) {
            let z = (p.power_w - true_power(&truth, 0, p.rpm)) / p.power_se_w;
            one += f64::from(u8::from(z.abs() < 1.0));
            two += f64::from(u8::from(z.abs() < 1.96));
            trials += 1.0;
        }
    }
    let (one, two) = (one / trials, two / trials);
    assert!(one > 0.683 - binomial(trials, 0.683), "{one}");
    assert!(two > 0.95 - binomial(trials, 0.95), "{two}");
    // Nor so large that they say nothing.
    assert!(one < 0.85, "{one}");
}

#[test]
fn intervals_of_drag_hold_the_truth_as_often_as_they_say() {
    let mut rng = ChaCha8Rng::seed_from_u64(22);
    let mass = 1235.0;
    let drag = |v: f64| 150.0 + 1.5 * v + 0.02 * v * v;
    let speeds = [22.0, 40.0, 58.0];
    let mut held = [0.0; 3];
    for _ in 0..200 {
        let mut v = 60.0;
        let mut signal = Signal::even(Measured::Speed, Vec::new(), Vec::new());
        while v > 20.0 {
            signal.time_s.push(0.2 * signal.len() as f64);
            signal.values.push(v + 0.05 * normal(&mut rng));
            signal.weight.push(1.0);
            for _ in 0..4 {
                let half = v - 0.025 * drag(v) / mass;
                v -= 0.05 * drag(half) / mass;
            }
        }
        let found = coast_down::fit(&signal, mass, 0.0).expect("a run-down");
        for (held, v) in held.iter_mut().zip(speeds) {
            let error = (found.drag.at_n(v) - drag(v)).abs();
            *held += f64::from(u8::from(error < found.t95() * found.se_n(v))) / 200.0;
        }
    }
    for share in held {
        assert!((share - 0.95).abs() < binomial(200.0, 0.95), "{held:?}");
    }
}
