//! Quantiles of very many positive numbers in memory that does not grow with them: counts in bins of equal relative width.
//!
//! Counts are whole numbers, so two histograms added give the same in any order. A quantile is off by at most one bin.

use serde::{Deserialize, Serialize};

/// Counts over the logarithm of a positive number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Histogram {
    /// Width of a bin in ln x.
    width: f64,
    /// Number of the first bin held.
    first: i64,
    counts: Vec<u64>,
    total: u64,
}

impl Histogram {
    /// An empty one.
    pub fn new(width: f64) -> Self {
        Self {
            width,
            first: 0,
            counts: Vec::new(),
            total: 0,
        }
    }

    /// Counts one number by its logarithm; one that is not finite is left out.
    pub fn count_ln(&mut self, ln: f64) {
        if !ln.is_finite() {
            return;
        }
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a finite double's logarithm lies within 750 either way"
        )]
        let bin = (ln / self.width).floor() as i64;
        if self.counts.is_empty() {
            self.first = bin;
        }
        if bin < self.first {
            let more = usize::try_from(self.first - bin).unwrap_or(0);
            self.counts.splice(0..0, std::iter::repeat_n(0, more));
            self.first = bin;
        }
        let place = usize::try_from(bin - self.first).unwrap_or(0);
        if place >= self.counts.len() {
            self.counts.resize(place + 1, 0);
        }
        self.counts[place] += 1;
        self.total += 1;
    }

    /// Adds the counts of another of the same width.
    pub fn join(&mut self, other: &Self) {
        if other.counts.is_empty() {
            return;
        }
        if self.counts.is_empty() {
            self.first = other.first;
        }
        let more = usize::try_from(self.first - other.first).unwrap_or(0);
        self.counts.splice(0..0, std::iter::repeat_n(0, more));
        self.first = self.first.min(other.first);
        let shift = usize::try_from(other.first - self.first).unwrap_or(0);
        if self.counts.len() < shift + other.counts.len() {
            self.counts.resize(shift + other.counts.len(), 0);
        }
        for (count, more) in self.counts[shift..].iter_mut().zip(&other.counts) {
            *count += more;
        }
        self.total += other.total;
    }

    /// Whether it can have been counted, and with bins of this width: what was read from a file may not.
    pub fn holds(&self, width: f64) -> bool {
        // ln of the smallest and largest double lies within 750 either way, so a finite number's bin lies within that.
        let most = 750.0 / width;
        self.width == width
            && self.counts.len() as f64 <= 2.0 * most
            && self.first.unsigned_abs() as f64 <= most
            && self
                .counts
                .iter()
                .try_fold(0_u64, |sum, &n| sum.checked_add(n))
                == Some(self.total)
    }

    /// How many were counted.
    pub fn total(&self) -> u64 {
        self.total
    }

    /// Share of them below a number, straight within its bin; NaN of none.
    pub fn share_below(&self, x: f64) -> f64 {
        let place = x.ln() / self.width - self.first as f64;
        let mut below = 0.0;
        for (i, &count) in self.counts.iter().enumerate() {
            below += count as f64 * (place - i as f64).clamp(0.0, 1.0);
        }
        below / self.total as f64
    }

    /// Number below which a share lies, straight within its bin; NaN of none.
    /// Equation (12.3).
    pub fn quantile(&self, share: f64) -> f64 {
        let rank = share * self.total as f64;
        let mut below = 0.0;
        for (i, &count) in self.counts.iter().enumerate() {
            let count = count as f64;
            if count > 0.0 && below + count >= rank {
                let within = ((rank - below) / count).clamp(0.0, 1.0);
                return ((self.first as f64 + i as f64 + within) * self.width).exp();
            }
            below += count;
        }
        f64::NAN
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_joined_in_any_order_are_those_counted_at_once() {
        let numbers = [3.0_f64, 1.0, 2.5, 0.2, 9.0, 2.5];
        let counted = |numbers: &[f64]| {
            let mut histogram = Histogram::new(1e-2);
            for x in numbers {
                histogram.count_ln(x.ln());
            }
            histogram
        };
        let whole = counted(&numbers);
        for cut in 0..=numbers.len() {
            let (mut first, mut last) = (counted(&numbers[..cut]), counted(&numbers[cut..]));
            let other = first.clone();
            first.join(&last);
            last.join(&other);
            assert_eq!((&first, &last), (&whole, &whole), "cut at {cut}");
        }
        assert!(whole.holds(1e-2) && !whole.holds(1e-3));
        assert!(!Histogram { total: 5, ..whole }.holds(1e-2));
    }

    #[test]
    fn quantiles_of_a_ladder_are_off_by_a_bin_at_most() {
        let mut histogram = Histogram::new(1e-4);
        for i in (0..=10_000).rev() {
            histogram.count_ln((100.0 + 0.01 * f64::from(i)).ln());
        }
        for (share, value) in [(0.05, 105.0), (0.5, 150.0), (0.95, 195.0)] {
            let found = histogram.quantile(share);
            assert!((found / value - 1.0).abs() < 2e-4, "{share}: {found}");
            assert!((histogram.share_below(value) - share).abs() < 2e-4);
        }
        histogram.count_ln(f64::NAN);
        assert_eq!(histogram.total(), 10_001);
        assert!(Histogram::new(1e-4).quantile(0.5).is_nan());
    }
}
