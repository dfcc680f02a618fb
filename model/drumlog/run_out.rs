//! Run-out of the drum: what repeats with every turn, found and removed.
//!
//! A drum that is not round, or an encoder that is not centred or has teeth of uneven pitch, shows a speed that swings with every turn although
//! the surface does not. Its harmonics are regressors of the smoother, so they are judged against the noise and the
//! force's own changes at once; those that the log does not clearly hold are left alone. It refuses harmonics that the
//! samples are too far apart to show.

use super::signal::{Choice, Measured, Method, Signal};
use super::smoothed::{SmoothError, Smoothed};
use super::smoother::{state_space, state_space_driven};
use serde::Serialize;

/// Harmonics looked for.
pub const HARMONICS: usize = 4;
/// 99.9th percentile of χ² with two degrees of freedom: 2 ln 1000.
const CLEAR: f64 = 13.816;
/// Most of a sample rate that a harmonic may take; one half would be the edge of what samples can tell.
const SHARE_OF_RATE: f64 = 0.4;
/// Share of the rows on which a harmonic must lie below that.
const ROWS_NEEDED: f64 = 0.7;
/// Turns without which nothing is said to repeat.
const TURNS: f64 = 4.0;

/// A harmonic of the drum's turn that was found and removed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Harmonic {
    /// Swings in a turn.
    pub order: usize,
    /// Amplitude, as a share of speed.
    pub amplitude: f64,
    /// Standard error of the amplitude.
    pub se: f64,
}

/// What was found of run-out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunOut {
    /// Harmonics removed.
    pub removed: Vec<Harmonic>,
    /// Harmonics looked for and not found.
    pub absent: Vec<usize>,
    /// Harmonics too fast for the samples.
    pub unseen: Vec<usize>,
}

/// Smooths a stretch with its run-out; also gives the readings without it.
///
/// ```text
/// speed read: v = v_drum (1 + Σ a_k cos kθ + b_k sin kθ)      way read: s = s_drum + Σ A_k cos kθ + B_k sin kθ
/// ```
///
/// θ is the way divided by the radius. Derived: a Fourier series over one turn.
/// Equation (6.24).
pub fn smooth(
    signal: &Signal,
    radius_m: f64,
    choice: Option<Choice>,
) -> Result<(Smoothed, Signal, RunOut), SmoothError> {
    let even = state_space(signal, choice, &[])?;
    let drive = drive(&even);
    let first = state_space_driven(signal, choice, &[], &drive)?;
    let angle: Vec<f64> = first.way_m.iter().map(|s| s / radius_m).collect();
    let turns = angle.last().copied().unwrap_or(0.0) / std::f64::consts::TAU;
    let rate_hz = 1.0 / signal.step_s();
    let mut found = RunOut::default();
    let mut looked_for = Vec::new();
    for order in 1..=HARMONICS {
        let visible = |v: &f64| {
            order as f64 * v.abs() / (std::f64::consts::TAU * radius_m) < SHARE_OF_RATE * rate_hz
        };
        let rows = first.speed_m_s.iter().filter(|v| visible(v)).count();
        if turns >= TURNS && rows as f64 >= ROWS_NEEDED * signal.len() as f64 {
            looked_for.push(order);
        } else {
            found.unseen.push(order);
        }
    }
    let turning = Turning {
        measured: signal.measured,
        radius_m,
        angle: &angle,
        speed_m_s: &first.speed_m_s,
    };
    if looked_for.is_empty() {
        return Ok((first, signal.clone(), found));
    }
    // A log too short for regressors keeps its run-out.
    let Ok(with_all) = state_space_driven(signal, choice, &turning.waves(&looked_for), &drive)
    else {
        found.unseen.extend(looked_for);
        return Ok((first, signal.clone(), found));
    };
    let kept: Vec<usize> = looked_for
        .iter()
        .enumerate()
        .filter(|(i, _)| harmonic(&with_all, *i, 0).1 > CLEAR)
        .map(|(_, order)| *order)
        .collect();
    found
        .absent
        .extend(looked_for.iter().filter(|order| !kept.contains(order)));
    if kept.is_empty() {
        return Ok((first, signal.clone(), found));
    }
    let waves = turning.waves(&kept);
    let again = match with_all.method {
        Method::StateSpace(choice) => Some(choice),
        Method::LocalPolynomial { .. } => choice,
    };
    let smoothed = state_space_driven(signal, again, &waves, &drive)?;
    found.removed = kept
        .iter()
        .enumerate()
        .map(|(i, &order)| harmonic(&smoothed, i, order).0)
        .collect();
    let mut cleaned = signal.clone();
    for (wave, size) in waves.iter().zip(&smoothed.effects.0) {
        for (value, part) in cleaned.values.iter_mut().zip(wave) {
            *value -= size * part;
        }
    }
    Ok((smoothed, cleaned, found))
}

/// How the drum turns, row by row.
struct Turning<'a> {
    measured: Measured,
    radius_m: f64,
    angle: &'a [f64],
    speed_m_s: &'a [f64],
}

impl Turning<'_> {
    /// What one unit of each harmonic's cosine and sine adds to the readings.
    fn waves(&self, orders: &[usize]) -> Vec<Vec<f64>> {
        let both = |&order: &usize| [self.wave(order, f64::cos), self.wave(order, f64::sin)];
        orders.iter().flat_map(both).collect()
    }

    fn wave(&self, order: usize, shape: fn(f64) -> f64) -> Vec<f64> {
        let rows = self.angle.iter().zip(self.speed_m_s);
        rows.map(|(&angle, &speed)| self.size(order, speed) * shape(order as f64 * angle))
            .collect()
    }

    /// Of a speed read run-out takes a share; of a way read it is a length.
    fn size(&self, order: usize, speed_m_s: f64) -> f64 {
        match self.measured {
            Measured::Speed => speed_m_s,
            Measured::Way => self.radius_m / order as f64,
        }
    }
}

/// Bounds of the relative acceleration in [`drive`].
const UNEVEN: (f64, f64) = (0.3, 3.0);

/// A force is smooth over engine speed, not over time: where the drum gathers speed faster, its features pass faster.
///
/// ```text
/// d³v/dt³ = a² d²a/dv² + …, white over v and so a times as dense over time:   drive ∝ a⁵
/// ```
///
/// Derived; the smoothing span in engine speed is then nearly the same all along.
/// Equation (6.19).
pub(super) fn drive(even: &Smoothed) -> Vec<f64> {
    let rates = &even.acceleration_m_s2;
    let mean = rates.iter().sum::<f64>() / rates.len() as f64;
    rates
        .iter()
        .map(|a| (a / mean).clamp(UNEVEN.0, UNEVEN.1).powi(5))
        .collect()
}

/// The pair of coefficients at `2 i`: amplitude with its error, and χ² against nothing.
fn harmonic(smoothed: &Smoothed, i: usize, order: usize) -> (Harmonic, f64) {
    let (values, covariance) = &smoothed.effects;
    let (a, b) = (values[2 * i], values[2 * i + 1]);
    let at = |row: usize, column: usize| {
        smoothed.inflation.powi(2) * covariance[2 * i + row][2 * i + column]
    };
    let (aa, ab, bb) = (at(0, 0), at(0, 1), at(1, 1));
    let determinant = aa * bb - ab * ab;
    let chi2 = (a * a * bb - 2.0 * a * b * ab + b * b * aa) / determinant;
    let amplitude = a.hypot(b);
    let variance = (a * a * aa + 2.0 * a * b * ab + b * b * bb) / (amplitude * amplitude);
    let found = Harmonic {
        order,
        amplitude,
        se: variance.max(0.0).sqrt(),
    };
    (found, chi2)
}
