//! The state-space smoother: speed and acceleration of the drum from its log, with a standard error at every row.
//!
//! It knows no knob: how far single samples stray and how fast the force can change are both estimated from the log
//! (`choice`). Uneven sampling, the ends of a stretch and the unknown start need no special care. It refuses logs that
//! are too short for the numbers asked of them.

use nalgebra::SVector;

use super::chain::{Input, Path};
use super::choice::Scaled;
use super::signal::{Choice, Force, Measured, Method, Signal};
use super::smoothed::{Bound, LEAST_ROWS, OUTLIER, SmoothError, Smoothed, trapezoid};

/// Smooths by state space; `choice` is estimated unless given, `effects` are regressors of the readings, such as run-out.
///
/// The noise of a reading and the drive of the chain maximise the restricted likelihood of the innovations; the start of the
/// states is unknown and estimated with them. Source: A. C. Harvey, Forecasting, Structural Time Series Models and the
/// Kalman Filter (1989), and P. de Jong, Ann. Stat. 19 (1991) 1073, for the unknown start (both from memory).
/// Equation (6.18).
pub fn state_space(
    signal: &Signal,
    choice: Option<Choice>,
    effects: &[Vec<f64>],
) -> Result<Smoothed, SmoothError> {
    state_space_driven(signal, choice, effects, &vec![1.0; signal.len()])
}

/// The same with a drive that is not the same all along: relative density of the driving noise up to each row.
pub fn state_space_driven(
    signal: &Signal,
    choice: Option<Choice>,
    effects: &[Vec<f64>],
    drive: &[f64],
) -> Result<Smoothed, SmoothError> {
    if signal.len() < LEAST_ROWS + effects.len() {
        return Err(SmoothError::TooShort {
            rows: signal.len(),
            needed: LEAST_ROWS + effects.len(),
        });
    }
    let scaled = Scaled::new(signal, drive);
    let choice = match choice {
        Some(choice) => choice,
        None => scaled.choose(signal, effects)?,
    };
    let weight = scaled.weight(signal, choice.stray);
    let input = Input {
        time: &scaled.time,
        data: &signal.values,
        weight: &weight,
        drive,
        effects,
    };
    let made = match (signal.measured, choice.force) {
        (Measured::Speed, Force::Wanders) => finish::<2>(signal, &input, &scaled, choice),
        (Measured::Speed, Force::Smooth) | (Measured::Way, Force::Wanders) => {
            finish::<3>(signal, &input, &scaled, choice)
        }
        (Measured::Way, Force::Smooth) => finish::<4>(signal, &input, &scaled, choice),
    };
    made.ok_or(SmoothError::Lifeless)
}

/// Smoothed states of a chain, with the unit of time that they are in.
struct Chained<const N: usize> {
    path: Path<N>,
    /// Place of the speed in the chain.
    speed: usize,
    step_s: f64,
}

impl<const N: usize> std::fmt::Debug for Chained<N> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "chain of {N} states over {} rows", self.path.state.len())
    }
}

impl<const N: usize> Chained<N> {
    /// Factor from a state in steps to SI.
    fn unit(&self, state: usize) -> f64 {
        self.step_s.powf(-(state as f64))
    }

    fn weights(&self, of: [f64; 2]) -> SVector<f64, N> {
        SVector::from_fn(|i, _| {
            if i == self.speed {
                of[0] * self.unit(i)
            } else if i == self.speed + 1 {
                of[1] * self.unit(i)
            } else {
                0.0
            }
        })
    }
}

impl<const N: usize> Bound for Chained<N> {
    fn variance_of(&self, weights: &[(usize, [f64; 2])]) -> f64 {
        let weights: Vec<_> = weights
            .iter()
            .map(|&(row, of)| (row, self.weights(of)))
            .collect();
        self.path.variance_of(&weights) * self.path.verdict.variance
    }
}

fn finish<const N: usize>(
    signal: &Signal,
    input: &Input<'_>,
    scaled: &Scaled,
    choice: Choice,
) -> Option<Smoothed> {
    let ratio = scaled.ratio(signal.measured, N, choice.span_s);
    let path = Path::<N>::new(input, ratio)?;
    let chained = Chained {
        speed: usize::from(signal.measured == Measured::Way),
        step_s: scaled.step_s,
        path,
    };
    let (path, speed) = (&chained.path, chained.speed);
    let state =
        |i: usize| -> Vec<f64> { path.state.iter().map(|x| x[i] * chained.unit(i)).collect() };
    let variance = path.verdict.variance;
    let inflation = correlation(&path.verdict.innovations).sqrt();
    let acceleration_se = (0..signal.len())
        .map(|row| {
            let p = path.covariance_at(row)[(speed + 1, speed + 1)] * variance;
            inflation * p.max(0.0).sqrt() * chained.unit(speed + 1)
        })
        .collect();
    let speed_m_s = state(speed);
    let way_m = match signal.measured {
        Measured::Way => {
            let way = state(0);
            way.iter().map(|s| s - way[0]).collect()
        }
        Measured::Speed => trapezoid(&signal.time_s, &speed_m_s),
    };
    let verdict = &path.verdict;
    let count = input.effects.len();
    let effects = (
        verdict.coefficients.iter().skip(N).copied().collect(),
        (0..count)
            .map(|i| {
                (0..count)
                    .map(|j| variance * verdict.coefficient_covariance[(N + i, N + j)])
                    .collect()
            })
            .collect(),
    );
    let outliers = (0..signal.len())
        .filter(|&row| verdict.innovations[row].abs() > OUTLIER)
        .collect();
    Some(Smoothed {
        time_s: signal.time_s.clone(),
        acceleration_m_s2: state(speed + 1),
        speed_m_s,
        way_m,
        acceleration_se,
        span_s: input
            .drive
            .iter()
            .map(|drive| choice.span_s * drive.powf(-0.5 / N as f64))
            .collect(),
        method: Method::StateSpace(choice),
        noise: variance.sqrt(),
        inflation,
        outliers,
        effects,
        bound: Box::new(chained),
    })
}

/// Lags over which correlation is looked for.
const LAGS: usize = 20;
/// 99.9th percentile of χ² with 20 degrees of freedom (tables of the distribution).
const SUSPICIOUS: f64 = 45.31;

/// Integrated correlation of what should be white, 1 unless it is clearly more.
///
/// ```text
/// Q = n (n + 2) Σ ρ_k²/(n − k) against χ²(20);     τ = 1 + 2 Σ ρ_k up to the first negative
/// ```
///
/// Source: G. M. Ljung & G. E. P. Box, Biometrika 65 (1978) 297 (from memory).
/// Equation (6.18).
pub(super) fn correlation(innovations: &[f64]) -> f64 {
    let n = innovations.len() as f64;
    let total: f64 = innovations.iter().map(|v| v * v).sum();
    if innovations.len() <= 2 * LAGS || total <= 0.0 {
        return 1.0;
    }
    let rho: Vec<f64> = (1..=LAGS)
        .map(|lag| {
            let pairs = innovations.iter().zip(&innovations[lag..]);
            pairs.map(|(a, b)| a * b).sum::<f64>() / total
        })
        .collect();
    let q: f64 = rho
        .iter()
        .enumerate()
        .map(|(k, r)| r * r / (n - (k + 1) as f64))
        .sum::<f64>()
        * n
        * (n + 2.0);
    if q < SUSPICIOUS {
        return 1.0;
    }
    let sum: f64 = rho.iter().take_while(|r| **r > 0.0).sum();
    1.0 + 2.0 * sum
}
