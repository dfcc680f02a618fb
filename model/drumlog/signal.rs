//! A stretch of a drum log, and the words for how it may be smoothed.
//!
//! It refuses nothing: what reads the log has checked it.

use crate::numeric::upper_median;
use serde::Serialize;

/// What the log measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Speed of the drum's surface, m/s.
    Speed,
    /// Way of the drum's surface, m, from encoder counts.
    Way,
}

/// A stretch of a drum log.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// What it measures.
    pub measured: Measured,
    /// Time, s, strictly increasing.
    pub time_s: Vec<f64>,
    /// Readings, m/s or m.
    pub values: Vec<f64>,
    /// Variance of each reading relative to the others; 1 where nothing is known.
    pub weight: Vec<f64>,
}

impl Signal {
    /// Readings of equal weight.
    pub fn even(measured: Measured, time_s: Vec<f64>, values: Vec<f64>) -> Self {
        let weight = vec![1.0; values.len()];
        Self {
            measured,
            time_s,
            values,
            weight,
        }
    }

    /// These rows of it.
    #[must_use]
    pub fn only(&self, rows: &[usize]) -> Self {
        let of = |values: &[f64]| rows.iter().map(|&row| values[row]).collect();
        Self {
            measured: self.measured,
            time_s: of(&self.time_s),
            values: of(&self.values),
            weight: of(&self.weight),
        }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// Median time between rows, s.
    pub fn step_s(&self) -> f64 {
        let steps = self.time_s.windows(2).map(|t| t[1] - t[0]);
        upper_median(steps).unwrap_or(0.0)
    }

    /// Means of as many neighbouring readings as bring the rate down to `finest_hz`, and the rows that each stands for. A gap in time
    /// parts them.
    pub fn thinned(&self, finest_hz: f64) -> (Self, Vec<std::ops::Range<usize>>) {
        let step_s = self.step_s();
        let most = whole(1.0 / (finest_hz * step_s)).max(1);
        let mut blocks: Vec<std::ops::Range<usize>> = Vec::with_capacity(self.len() / most + 1);
        for row in 0..self.len() {
            match blocks.last_mut() {
                Some(block)
                    if block.len() < most
                        && self.time_s[row] - self.time_s[row - 1] < 3.0 * step_s =>
                {
                    block.end = row + 1;
                }
                _ => blocks.push(row..row + 1),
            }
        }
        let mut thin = Self::even(self.measured, Vec::new(), Vec::new());
        for block in &blocks {
            let (mut total, mut time, mut value) = (0.0, 0.0, 0.0);
            for row in block.clone() {
                let share = 1.0 / self.weight[row];
                total += share;
                time += share * self.time_s[row];
                value += share * self.values[row];
            }
            thin.time_s.push(time / total);
            thin.values.push(value / total);
            thin.weight.push(1.0 / total);
        }
        (thin, blocks)
    }

    /// Time from the first row to the last, s.
    pub fn duration_s(&self) -> f64 {
        match (self.time_s.first(), self.time_s.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        }
    }
}

/// What is taken of the force on the drum between samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Force {
    /// It wanders: states speed and acceleration, the acceleration a random walk.
    Wanders,
    /// It changes smoothly: its rate is a third state, and wanders in its place.
    Smooth,
}

impl Force {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Wanders, Self::Smooth];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Wanders => "the force wanders",
            Self::Smooth => "the force changes smoothly",
        }
    }
}

/// How single samples stray.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stray {
    /// By the same amount at every speed: electrical noise, quantised counts.
    Constant,
    /// In proportion to speed: teeth of uneven pitch.
    WithSpeed,
    /// With speed squared: jitter of the timer that measures a tooth.
    WithSpeedSquared,
}

impl Stray {
    /// All.
    pub const ALL: [Self; 3] = [Self::Constant, Self::WithSpeed, Self::WithSpeedSquared];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Constant => "equally at all speeds",
            Self::WithSpeed => "in proportion to speed",
            Self::WithSpeedSquared => "with speed squared",
        }
    }

    /// Power of speed with which the variance grows.
    pub(super) fn power(self) -> i32 {
        match self {
            Self::Constant => 0,
            Self::WithSpeed => 2,
            Self::WithSpeedSquared => 4,
        }
    }
}

/// What the likelihood has chosen for a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// What is taken of the force.
    pub force: Force,
    /// How samples stray.
    pub stray: Stray,
    /// Equivalent smoothing span, s.
    pub span_s: f64,
}

/// How a curve was smoothed, for every output.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// State-space smoother, its noise levels from the log.
    StateSpace(Choice),
    /// Local polynomials of this degree over this span of engine speed, rpm.
    LocalPolynomial {
        /// Degree of the speed in time.
        degree: usize,
        /// Span, rpm.
        span_rpm: f64,
    },
}

/// The nearest whole number of rows.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rows of a log are few and not negative"
)]
pub(super) fn whole(rows: f64) -> usize {
    rows.round() as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_averages_neighbours_and_stops_at_a_gap() {
        // 1000 Hz with a hole of 50 ms after the sixth reading.
        let time: Vec<f64> = (0..12)
            .map(|i| 0.001 * f64::from(i) + if i < 6 { 0.0 } else { 0.05 })
            .collect();
        let values: Vec<f64> = time.iter().map(|t| 20.0 + 5.0 * t).collect();
        let (thin, blocks) = Signal::even(Measured::Speed, time, values).thinned(250.0);
        assert_eq!(blocks, [0..4, 4..6, 6..10, 10..12]);
        // A straight line stays one, and a mean of four strays half as much as one reading.
        for (t, v) in thin.time_s.iter().zip(&thin.values) {
            assert!((v - 20.0 - 5.0 * t).abs() < 1e-12);
        }
        assert_eq!(thin.weight, [0.25, 0.5, 0.25, 0.5]);
        let (same, blocks) = thin.thinned(250.0);
        assert_eq!((same.values, blocks.len()), (thin.values, 4));
    }
}
