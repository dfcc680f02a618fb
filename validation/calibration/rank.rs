//! Ranks of truths among draws: level, if what is drawn is what is believed.
//!
//! Source: S. Talts et al., Validating Bayesian inference algorithms with simulation-based calibration, 2018 (from memory): truths drawn from the
//! prior have uniform ranks in the posteriors of their own data.

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Bars of a histogram.
const BARS: usize = 10;
/// Central intervals looked at.
pub(crate) const LEVELS: [f64; 4] = [0.5, 0.8, 0.9, 0.95];

/// Shares of draws that lie below their truths, 0 to 1.
#[derive(Default)]
pub(crate) struct Ranks(pub(crate) Vec<f64>);

impl Ranks {
    /// The share of truths inside the central interval of a level.
    pub(crate) fn inside(&self, level: f64) -> f64 {
        let half = 0.5 * level;
        let held = self.0.iter().filter(|rank| (**rank - 0.5).abs() <= half);
        held.count() as f64 / self.0.len() as f64
    }

    /// How many truths stand in each tenth.
    pub(crate) fn histogram(&self) -> [usize; BARS] {
        let ends: [f64; BARS] = std::array::from_fn(|bar| (bar + 1) as f64 / BARS as f64);
        let mut bars = [0; BARS];
        for rank in &self.0 {
            bars[ends.partition_point(|end| end <= rank).min(BARS - 1)] += 1;
        }
        bars
    }

    /// Chance of a histogram at least as uneven, were the ranks level (Pearson's test). Numbers of one car err together, so for them it is too small.
    pub(crate) fn chance_if_level(&self) -> f64 {
        let expected = self.0.len() as f64 / BARS as f64;
        let uneven: f64 = self
            .histogram()
            .iter()
            .map(|count| (*count as f64 - expected).powi(2) / expected)
            .sum();
        ChiSquared::new(BARS as f64 - 1.0).map_or(f64::NAN, |law| 1.0 - law.cdf(uneven))
    }
}
