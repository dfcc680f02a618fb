//! The smoothers of drum logs against SciPy, statsmodels and dense least squares on one series, and against the worked rows of
//! textbooks' formulas.
//!
//! Source of the numbers: `data/smoothing/README.md`. A tolerance of 1e-9 relative is rounding through some hundred steps.

use std::path::Path;

use pullcast::drumlog::savitzky_golay::{coefficients, weights};
use pullcast::drumlog::smoother::state_space;
use pullcast::drumlog::{Choice, Force, Measured, Signal};

const STEP_S: f64 = 0.02;
const SIGMA: f64 = 0.03;

fn table(name: &str) -> Vec<Vec<String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("validation/data/smoothing")
        .join(name);
    let text = std::fs::read_to_string(path).expect("the table");
    text.lines()
        .skip(1)
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse().expect("a number")
}

fn series(all: bool) -> Signal {
    let rows: Vec<_> = table("series.csv")
        .into_iter()
        .filter(|row| all || row[2] == "1")
        .collect();
    let column = |c: usize| rows.iter().map(|row| number(&row[c])).collect();
    Signal::even(Measured::Speed, column(0), column(1))
}

fn close(found: f64, expected: f64, relative: f64) {
    let scale = expected.abs().max(1e-3);
    assert!(
        (found - expected).abs() < relative * scale,
        "{found} {expected}"
    );
}

#[test]
fn savitzky_golay_derivative_of_five_points_is_the_printed_one() {
    // Row 41 of the worked rows.
    let found = coefficients(5, 2, 1).expect("a window");
    for (c, expected) in found.iter().zip([-0.2, -0.1, 0.0, 0.1, 0.2]) {
        assert!((c - expected).abs() < 1e-15);
    }
}

#[test]
fn savitzky_golay_noise_gains_are_the_closed_form() {
    // Row 42: 15, 31, 61 points, quadratic then cubic; printed to six decimals.
    for (window, quadratic, cubic) in [
        (15, 0.059761, 0.151809),
        (31, 0.020080, 0.050385),
        (61, 0.007272, 0.018197),
    ] {
        for (degree, expected) in [(2, quadratic), (3, cubic)] {
            let c = coefficients(window, degree, 1).expect("a window");
            let gain = c.iter().map(|c| c * c).sum::<f64>().sqrt();
            assert!((gain - expected).abs() < 5e-7, "{window} {degree}: {gain}");
        }
        let m = (window / 2) as f64;
        let closed = (3.0 / (m * (m + 1.0) * (2.0 * m + 1.0))).sqrt();
        assert!((closed - quadratic).abs() < 5e-7);
    }
}

#[test]
fn savitzky_golay_agrees_with_scipy() {
    let signal = series(true);
    let mut rows = 0;
    for row in table("savgol.csv") {
        let (window, degree, derivative) = (
            row[0].parse().expect("points"),
            row[1].parse().expect("degree"),
            row[2].parse().expect("order"),
        );
        let c = coefficients(window, degree, derivative).expect("a window");
        let found = match row[3].parse::<usize>() {
            Err(_) => c.iter().map(|c| c * c).sum::<f64>().sqrt(),
            Ok(at) => {
                let values = &signal.values[at - window / 2..];
                let sum: f64 = c.iter().zip(values).map(|(c, v)| c * v).sum();
                sum / STEP_S.powf(derivative as f64)
            }
        };
        // SciPy solves on powers that are not scaled: at degree 4 over 61 points it keeps eight digits (orthogonal polynomials
        // agree with ours to eleven).
        close(
            found,
            number(&row[4]),
            if degree == 4 { 3e-7 } else { 1e-9 },
        );
        rows += 1;
    }
    assert_eq!(rows, 65);
}

#[test]
fn uneven_sampling_fits_the_polynomial_where_the_samples_are() {
    // A cubic through uneven places has the slope of the cubic: 3 + 2·0.4·t − 3·0.1·t² at t = 0 is 3.
    let at = [-1.0, -0.7, -0.1, 0.0, 0.35, 0.8, 1.3];
    let w = weights(&at, 3, 1).expect("a window");
    let slope: f64 = at
        .iter()
        .zip(&w)
        .map(|(t, w)| w * (5.0 + 3.0 * t + 0.4 * t * t - 0.1 * t * t * t))
        .sum();
    assert!((slope - 3.0).abs() < 1e-12, "{slope}");
}

#[test]
fn the_state_space_smoother_agrees_with_statsmodels_and_with_dense_least_squares() {
    let mut rows = 0;
    for row in table("smoother.csv") {
        let how = row[0].as_str();
        if how == "maximum" {
            continue;
        }
        let force = if row[1] == "2" {
            Force::Wanders
        } else {
            Force::Smooth
        };
        let mut signal = series(how == "statsmodels");
        if how == "dense" {
            signal.time_s.truncate(60);
            signal.values.truncate(60);
            signal.weight.truncate(60);
        }
        let step_s = signal.step_s();
        let choice = Choice::of_levels(
            Measured::Speed,
            force,
            number(&row[2]),
            SIGMA * SIGMA,
            step_s,
        );
        let smoothed = state_space(&signal, Some(choice), &[]).expect("a smoothed series");
        assert_eq!(smoothed.inflation, 1.0);
        let at: usize = row[3].parse().expect("a row");
        close(smoothed.speed_m_s[at], number(&row[4]), 1e-9);
        close(smoothed.acceleration_m_s2[at], number(&row[6]), 1e-8);
        // The reference is told the noise of a reading, the smoother estimates it; only the scale differs.
        let scale = (smoothed.noise / SIGMA).powi(2);
        let variance = |of| smoothed.variance_of(&[(at, of)]) / scale;
        close(variance([1.0, 0.0]), number(&row[5]), 1e-7);
        close(variance([0.0, 1.0]), number(&row[7]), 1e-7);
        close(
            smoothed.acceleration_se[at].powi(2) / scale,
            number(&row[7]),
            1e-7,
        );
        rows += 1;
    }
    assert_eq!(rows, 68);
}

#[test]
fn noise_levels_are_those_of_the_highest_diffuse_likelihood() {
    for row in table("smoother.csv")
        .iter()
        .filter(|row| row[0] == "maximum")
    {
        let force = if row[1] == "2" {
            Force::Wanders
        } else {
            Force::Smooth
        };
        let (drive, sigma) = (number(&row[2]), number(&row[4]));
        let signal = series(true);
        let best = Choice::of_levels(Measured::Speed, force, drive, sigma * sigma, STEP_S);
        let found = state_space(&signal, Some(best), &[]).expect("a smoothed series");
        // At the same ratio the scale that maximises is the estimate: equal to the optimiser's tolerance.
        close(found.noise, sigma, 1e-5);
        let free = state_space(&signal, None, &[]).expect("a smoothed series");
        if let pullcast::drumlog::Method::StateSpace(choice) = free.method
            && choice.force == force
        {
            // The search stops at 2 % of the span, where the likelihood is flat.
            close(choice.span_s, best.span_s, 0.02);
        }
    }
}
