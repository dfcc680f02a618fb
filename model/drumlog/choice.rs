//! How far single samples stray and how fast the force can change, both from the log itself.
//!
//! The restricted likelihood of what the filter did not expect decides on the ratio of the two, and with it on the smoothing
//! span; the profile likelihood decides between descriptions of different length. There is no knob.

use super::chain::{Input, Verdict, judge};
use super::signal::{Choice, Force, Measured, Signal, Stray};
use super::smoothed::SmoothError;
use crate::numeric::lowest;

/// By how much a richer description must raise twice the log-likelihood beyond its own numbers before it is taken.
const WORTH: f64 = 6.0;

/// Chain length of a description.
pub(super) fn order(measured: Measured, force: Force) -> usize {
    let speed = match force {
        Force::Wanders => 2,
        Force::Smooth => 3,
    };
    match measured {
        Measured::Speed => speed,
        Measured::Way => speed + 1,
    }
}

/// Span of a least-squares polynomial whose acceleration is as uncertain as the smoother's, times the smoother's corner
/// frequency.
///
/// ```text
/// var a = R ω₀^s/(2π) · ∫ x^(s−1)/(1 + x^n)² dx = R ω₀^s/π · (1 − s/n)/n · π/sin(π s/n),  n = 2 · states
/// speed read, s = 3: slope of a line, 12 R/T³;   way read, s = 5: curvature of a parabola, 720 R/T⁵
/// ```
///
/// R is the noise variance of a reading times the time between readings; ω₀^n = drive/R. Derived: smoother's transfer function
/// 1/(1 + (ω/ω₀)^n) in the middle of a long log. Worked: three states and speed read, T ω₀ = 144^(1/3) = 5.2415.
/// Equation (6.20).
fn span_constant(measured: Measured, states: usize) -> f64 {
    let n = 2.0 * states as f64;
    let (s, line) = match measured {
        Measured::Speed => (3.0, 12.0),
        Measured::Way => (5.0, 720.0),
    };
    let gain = (1.0 - s / n) / n / (std::f64::consts::PI * s / n).sin();
    f64::powf(line / gain, 1.0 / s)
}

impl Choice {
    /// The choice that stands for given noise levels: `drive` of the last state (its random walk's variance in a second) and
    /// variance of a reading, read every `step_s`.
    /// Equation (6.20).
    pub fn of_levels(
        measured: Measured,
        force: Force,
        drive: f64,
        variance: f64,
        step_s: f64,
    ) -> Self {
        let states = order(measured, force);
        let corner = (drive / (variance * step_s)).powf(0.5 / states as f64);
        Self {
            force,
            stray: Stray::Constant,
            span_s: span_constant(measured, states) / corner,
        }
    }
}

/// Time in steps, so that the numbers of a chain keep one size.
pub(super) struct Scaled<'a> {
    pub(super) step_s: f64,
    pub(super) time: Vec<f64>,
    /// Relative density of the driving noise.
    drive: &'a [f64],
    /// Rough speed relative to its mean, for noise that grows with it.
    relative_speed: Vec<f64>,
}

impl<'a> Scaled<'a> {
    pub(super) fn new(signal: &Signal, drive: &'a [f64]) -> Self {
        let step_s = signal.step_s();
        let start = signal.time_s.first().copied().unwrap_or(0.0);
        let time = signal.time_s.iter().map(|t| (t - start) / step_s).collect();
        let speed = match signal.measured {
            Measured::Speed => moving_mean(&signal.values),
            Measured::Way => vec![1.0; signal.len()],
        };
        let mean = speed.iter().map(|v| v.abs()).sum::<f64>() / speed.len() as f64;
        let relative_speed = speed
            .iter()
            .map(|v| (v.abs() / mean.max(f64::MIN_POSITIVE)).max(0.05))
            .collect();
        Self {
            step_s,
            time,
            drive,
            relative_speed,
        }
    }

    /// Relative variances, with a mean of one.
    pub(super) fn weight(&self, signal: &Signal, stray: Stray) -> Vec<f64> {
        let raw: Vec<f64> = signal
            .weight
            .iter()
            .zip(&self.relative_speed)
            .map(|(w, v)| w * v.powi(stray.power()))
            .collect();
        let mean = raw.iter().sum::<f64>() / raw.len() as f64;
        raw.iter().map(|w| w / mean).collect()
    }

    /// Drive of the chain over noise of a reading, in steps, for a span.
    pub(super) fn ratio(&self, measured: Measured, states: usize, span_s: f64) -> f64 {
        (span_constant(measured, states) * self.step_s / span_s).powf(2.0 * states as f64)
    }

    fn verdict(
        &self,
        signal: &Signal,
        choice: Choice,
        weight: &[f64],
        effects: &[Vec<f64>],
    ) -> Option<Verdict> {
        let input = Input {
            time: &self.time,
            data: &signal.values,
            weight,
            drive: self.drive,
            effects,
        };
        let states = order(signal.measured, choice.force);
        let ratio = self.ratio(signal.measured, states, choice.span_s);
        match states {
            2 => judge::<2>(&input, ratio),
            3 => judge::<3>(&input, ratio),
            _ => judge::<4>(&input, ratio),
        }
    }

    /// The span with the highest restricted likelihood, and twice the profile likelihood there.
    fn best_span(
        &self,
        signal: &Signal,
        force: Force,
        stray: Stray,
        effects: &[Vec<f64>],
        near: Option<f64>,
    ) -> Option<(Choice, f64)> {
        let weight = self.weight(signal, stray);
        let at = |log_span: f64| Choice {
            force,
            stray,
            span_s: log_span.exp(),
        };
        let cost = |log_span: f64| {
            self.verdict(signal, at(log_span), &weight, effects)
                .map_or(f64::INFINITY, |v| -v.restricted)
        };
        let (low, high) = match near {
            Some(span_s) => ((span_s / 2.0).ln(), (2.0 * span_s).ln()),
            None => ((3.0 * self.step_s).ln(), (10.0 * signal.duration_s()).ln()),
        };
        let steps = if near.is_some() { 4 } else { 11 };
        let grid: Vec<f64> = (0..=steps)
            .map(|i| low + (high - low) * f64::from(i) / f64::from(steps))
            .collect();
        let costs: Vec<f64> = grid.iter().map(|&x| cost(x)).collect();
        let best = (0..costs.len()).min_by(|&a, &b| costs[a].total_cmp(&costs[b]))?;
        let bracket = (
            grid[best.saturating_sub(1)],
            grid[(best + 1).min(grid.len() - 1)],
        );
        let choice = at(lowest(cost, bracket, 0.02));
        let verdict = self.verdict(signal, choice, &weight, effects)?;
        Some((choice, 2.0 * verdict.profile))
    }

    /// The simplest description that the likelihood does not clearly reject.
    /// Equation (6.18).
    pub(super) fn choose(
        &self,
        signal: &Signal,
        effects: &[Vec<f64>],
    ) -> Result<Choice, SmoothError> {
        let of = |force, stray, near| self.best_span(signal, force, stray, effects, near);
        let wanders = of(Force::Wanders, Stray::Constant, None);
        let smooth = of(Force::Smooth, Stray::Constant, None);
        let mut best = match (wanders, smooth) {
            // One number more for the start of the third state.
            (Some(w), Some(s)) if w.1 > s.1 - 2.0 => w,
            (_, Some(s)) => s,
            (Some(w), None) => w,
            (None, None) => return Err(SmoothError::Lifeless),
        };
        if signal.measured == Measured::Speed {
            for stray in [Stray::WithSpeed, Stray::WithSpeedSquared] {
                if let Some(other) = of(best.0.force, stray, Some(best.0.span_s))
                    && other.1 > best.1 + WORTH
                {
                    best = other;
                }
            }
        }
        Ok(best.0)
    }
}

/// Mean over a fiftieth of the rows about each, which is enough for a weight.
fn moving_mean(values: &[f64]) -> Vec<f64> {
    let half = values.len() / 100 + 2;
    let mut sums = vec![0.0];
    for value in values {
        sums.push(sums[sums.len() - 1] + value);
    }
    (0..values.len())
        .map(|row| {
            let (low, high) = (row.saturating_sub(half), (row + half + 1).min(values.len()));
            (sums[high] - sums[low]) / (high - low) as f64
        })
        .collect()
}
