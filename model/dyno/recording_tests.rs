//! Made-up recordings, reduced: what the bands keep of a pull, and what is refused.

use super::recording::*;
use crate::units;

fn pull(noise: impl Fn(usize) -> f64) -> Recording {
    let rows = 500;
    let time_s: Vec<f64> = (0..rows).map(|i| 0.02 * f64::from(i)).collect();
    let engine_rpm: Vec<f64> = time_s.iter().map(|t| 2000.0 + 450.0 * t).collect();
    let power_w = engine_rpm
        .iter()
        .enumerate()
        .map(|(i, rpm)| (40.0 * rpm - 2e-3 * rpm * rpm) * (1.0 + noise(i)))
        .collect();
    Recording {
        time_s,
        engine_rpm,
        power_w,
        ..Recording::default()
    }
}

#[test]
fn a_clean_pull_is_reproduced_by_its_bands() {
    let curve = pull(|_| 0.0).reduce(100.0).expect("a clean pull");
    for band in &curve.bands {
        let truth = 40.0 * band.rpm - 2e-3 * band.rpm * band.rpm;
        // The mean of a parabola over a 100 rpm band lies c·w²/12 below its value at the mean: 1.7 W.
        assert!(
            (band.power_w - truth).abs() < 2.0,
            "{} {}",
            band.power_w,
            truth
        );
    }
}

#[test]
fn white_noise_has_no_correlation_and_its_own_standard_error() {
    // A fixed pseudo-random ±1 % square: sd exactly 1 %.
    let noise = |i: usize| {
        if (i * 2_654_435_761) >> 7 & 1 == 0 {
            0.01
        } else {
            -0.01
        }
    };
    let curve = pull(noise).reduce(100.0).expect("a noisy pull");
    assert!(
        curve.correlated_samples < 2.0,
        "{}",
        curve.correlated_samples
    );
    assert!((curve.noise - 0.01).abs() < 0.001, "{}", curve.noise);
}

#[test]
fn a_smoothed_curve_keeps_its_own_errors_and_its_end() {
    let mut recording = pull(|_| 0.0);
    recording.power_se_w = Some(vec![300.0; recording.len()]);
    recording.span_rpm = Some(vec![400.0; recording.len()]);
    let curve = recording.reduce(100.0).expect("a pull");
    // 300 W · √(400/100).
    assert!(
        curve
            .bands
            .iter()
            .all(|b| (b.power_se_w - 600.0).abs() < 1e-9)
    );
    assert_eq!(curve.dropped_end, 0);
}

#[test]
fn a_shift_in_the_middle_is_refused_with_its_row() {
    let mut recording = pull(|_| 0.0);
    for rpm in &mut recording.engine_rpm[300..] {
        *rpm *= 0.7;
    }
    let error = recording.reduce(100.0).expect_err("engine speed falls");
    assert!(
        matches!(error, RecordingError::FallsBack { row: 300, .. }),
        "{error}"
    );
}

#[test]
fn speeds_logged_beside_the_engines_become_ratios() {
    let mut recording = pull(|_| 0.0);
    let times = |ratio: f64| {
        let of = |rpm: &f64| units::rad_s(ratio * rpm);
        Some(recording.engine_rpm.iter().map(of).collect::<Vec<f64>>())
    };
    (recording.drum_rad_s, recording.blower_rad_s) = (times(0.125), times(2.5));
    let curve = recording.reduce(100.0).expect("a pull");
    for band in &curve.bands {
        let (drum, blower) = (band.engine_per_drum, band.blower_per_engine);
        assert!(drum.is_some_and(|r| (r - 8.0).abs() < 1e-9), "{drum:?}");
        assert!(blower.is_some_and(|r| (r - 2.5).abs() < 1e-9), "{blower:?}");
    }
}

#[test]
fn the_time_of_a_pull_is_told_wherever_its_clock_began() {
    let mut recording = pull(|_| 0.0);
    for time_s in &mut recording.time_s {
        *time_s += 1000.0;
    }
    let curve = recording.reduce(100.0).expect("a pull");
    let rows = recording.len() - curve.dropped_start - curve.dropped_end;
    let expected_s = 0.02 * (rows - 1) as f64;
    // Times of some 1000 s keep 1e-13 s.
    let told = |of: Option<f64>, expected: f64| of.is_some_and(|s| (s - expected).abs() < 1e-9);
    let rig = &curve.rig;
    assert!(told(rig.duration_s, expected_s), "{:?}", rig.duration_s);
    assert!(told(rig.interval_s, 0.02), "{:?}", rig.interval_s);
}
