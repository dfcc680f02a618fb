//! A range told by three percentiles.

use serde::Serialize;

/// Fifth, fiftieth and ninety-fifth percentile of draws.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Range {
    /// One draw in twenty lies below.
    pub p5: f64,
    /// Half lie below.
    pub p50: f64,
    /// One draw in twenty lies above.
    pub p95: f64,
}

impl Range {
    /// Percentiles of draws, by linear interpolation between order statistics; NaN of an empty list.
    pub fn of(mut draws: Vec<f64>) -> Self {
        draws.sort_unstable_by(f64::total_cmp);
        Self {
            p5: quantile(&draws, 0.05),
            p50: quantile(&draws, 0.50),
            p95: quantile(&draws, 0.95),
        }
    }

    /// Whether a value lies between the outer percentiles.
    pub fn holds(&self, value: f64) -> bool {
        (self.p5..=self.p95).contains(&value)
    }

    /// The same with the other sign: a gain as a loss.
    #[must_use]
    pub fn turned(self) -> Self {
        Self {
            p5: -self.p95,
            p50: -self.p50,
            p95: -self.p5,
        }
    }

    /// The same range in another unit.
    #[must_use]
    pub fn map(&self, convert: impl Fn(f64) -> f64) -> Self {
        Self {
            p5: convert(self.p5),
            p50: convert(self.p50),
            p95: convert(self.p95),
        }
    }
}

/// The same with both quartiles: what a curve with its ribbons is drawn from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Fan {
    /// The outer percentiles and the middle.
    #[serde(flatten)]
    pub range: Range,
    /// One draw in four lies below.
    pub p25: f64,
    /// One draw in four lies above.
    pub p75: f64,
}

impl Fan {
    /// Percentiles of draws; NaN of an empty list.
    pub(super) fn of(mut draws: Vec<f64>) -> Self {
        draws.sort_unstable_by(f64::total_cmp);
        Self {
            range: Range {
                p5: quantile(&draws, 0.05),
                p50: quantile(&draws, 0.50),
                p95: quantile(&draws, 0.95),
            },
            p25: quantile(&draws, 0.25),
            p75: quantile(&draws, 0.75),
        }
    }

    /// The same fan in another unit that grows with this one.
    #[must_use]
    pub fn map(&self, convert: impl Fn(f64) -> f64) -> Self {
        Self {
            range: self.range.map(&convert),
            p25: convert(self.p25),
            p75: convert(self.p75),
        }
    }
}

/// Quantile of sorted values: `x[(n − 1) p]`, interpolated (Hyndman and Fan 1996, definition 7, from memory).
pub(super) fn quantile(sorted: &[f64], p: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    let place = p * last as f64;
    // Walk to the rung at or below the place; a few hundred draws at most.
    let low = (0..last)
        .take_while(|&rung| (rung + 1) as f64 <= place)
        .count();
    let high = (low + 1).min(last);
    sorted[low] + (place - low as f64) * (sorted[high] - sorted[low])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_of_a_ladder_are_its_rungs() {
        let range = Range::of((0..=100).rev().map(f64::from).collect());
        assert_eq!((range.p5, range.p50, range.p95), (5.0, 50.0, 95.0));
        assert!(range.holds(5.0) && !range.holds(4.9));
    }
}
