//! How far an honest pull strays from what is expected of it: a covariance for every curve.
//!
//! Three parts: a shift of the whole curve, a smooth wander over engine speed, and scatter from band to band that is
//! measured in the log itself. Where a curve is steep, as where boost arrives, a small difference in engine speed is a large one in
//! the channel; the start of a pull, where the throttle has just opened, strays most. The sizes are those of good pulls of
//! recorded cars and of shop-grade sensors (common practice, no source).
//!
//! ```text
//! C_ij = (1 + 1/good) [s² + (w² + e_i e_j + j² slope_i slope_j) k(ln N_i/N_j)] + (1 + 1/visits) v² + δ_ij n²
//! k(r) = (1 + √3|r|/l) exp(−√3|r|/l)
//! ```

use super::expect::Channel;
use crate::belief::Noise;
use crate::numeric::{MAD_TO_SD, upper_median};
use nalgebra::DMatrix;

/// Standard deviations of one channel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Straying {
    /// Shift of the whole curve from pull to pull.
    pub(super) shift: f64,
    /// The same from visit to visit.
    pub(super) visit: f64,
    /// Smooth wander.
    pub(super) wander: f64,
    /// Further wander in the first moments of a pull.
    pub(super) start: f64,
    /// Least scatter from band to band.
    pub(super) scatter: f64,
}

/// Reach of the smooth wander in the logarithm of engine speed: some four bends in a pull.
pub(super) const REACH: f64 = 0.25;
/// Engine speeds over which the start of a pull quietens, rpm.
const START_RPM: f64 = 200.0;
/// Share by which the engine speed at which things happen strays from pull to pull.
const SPEED_SHARE: f64 = 0.008;

impl Straying {
    /// That of a channel, about good pulls of the same car. `boost_pa` is the highest boost above the room.
    /// Equation (10.2).
    pub(super) fn about_good(channel: Channel, boost_pa: f64) -> Self {
        let boost = boost_pa.max(0.0);
        let (shift, wander, start, scatter) = match channel {
            Channel::Power => (0.008, 0.0030, 0.02, 0.0008),
            Channel::Manifold => (150.0 + 0.012 * boost, 120.0 + 0.010 * boost, 600.0, 60.0),
            Channel::Charge => (2.5, 1.0, 1.5, 0.1),
            Channel::Lambda => (0.010, 0.003, 0.006, 0.001),
            // Knock control moves the spark by a degree or two from pull to pull.
            Channel::Spark => (1.2, 0.7, 1.0, 0.15),
            Channel::DrumRatio => (0.0025, 0.0012, 0.006, 0.0008),
            Channel::BlowerRatio => (0.002, 0.002, 0.005, 0.001),
        };
        Self {
            shift,
            visit: 0.0,
            wander,
            start,
            scatter,
        }
    }

    /// The same where the car was strapped down anew since: a visit to the drums strays as a whole.
    pub(super) fn of_another_visit(self, channel: Channel) -> Self {
        let noise = Noise::default();
        let visit = match channel {
            Channel::Power => noise.visit,
            Channel::Manifold => noise.manifold.offset,
            Channel::Charge => noise.charge.offset,
            Channel::Lambda => noise.lambda.offset,
            Channel::Spark => 0.5,
            // Another pressure in the tyres.
            Channel::DrumRatio => 0.005,
            Channel::BlowerRatio => 0.0,
        };
        Self { visit, ..self }
    }

    /// The same where the model alone has to say what is expected: its own errors come on top.
    /// Equation (10.2).
    pub(super) fn about_model(channel: Channel, boost_pa: f64) -> Self {
        let here = Self::about_good(channel, boost_pa);
        let (shift, wander) = match channel {
            Channel::Power => (0.02, 0.012),
            Channel::Manifold => (1_200.0, 700.0),
            Channel::Charge => (4.0, 2.5),
            Channel::Lambda => (0.015, 0.008),
            // The angle between spark and half the burn is not in the model.
            Channel::Spark => (15.0, 5.0),
            Channel::DrumRatio => (0.02, 0.006),
            Channel::BlowerRatio => (0.01, 0.005),
        };
        Self {
            shift: here.shift.hypot(shift),
            wander: here.wander.hypot(wander),
            ..here
        }
    }
}

/// Likeness of two engine speeds for something smooth: Matérn's with smoothness 3/2.
/// Equation (10.2).
pub(super) fn likeness(a_rpm: f64, b_rpm: f64) -> f64 {
    let r = 3.0_f64.sqrt() * (a_rpm / b_rpm).ln().abs() / REACH;
    (1.0 + r) * (-r).exp()
}

/// Likeness for something about which nothing is known but that it is smooth: a handful of bends in a pull.
fn smooth_likeness(a_rpm: f64, b_rpm: f64) -> f64 {
    (-0.5 * ((a_rpm / b_rpm).ln() / REACH).powi(2)).exp()
}

/// What anything smooth adds to a covariance, and what anything broken does. The sizes are those of faults that bring a car back to the drums:
/// a tenth of power, a sixth of the boost, 15 K, 0.06 of mixture, a few per cent of slip (common practice, no source).
/// Equation (10.3).
pub(super) fn of_anything(channel: Channel, boost_pa: f64, rpm: &[f64]) -> [DMatrix<f64>; 2] {
    let boost = boost_pa.max(0.0);
    let (shift, wander) = match channel {
        Channel::Power => (0.08, 0.06),
        Channel::Manifold => (1_500.0 + 0.15 * boost, 1_000.0 + 0.15 * boost),
        Channel::Charge => (15.0, 5.0),
        Channel::Lambda => (0.06, 0.04),
        Channel::Spark => (5.0, 4.0),
        Channel::DrumRatio => (0.03, 0.03),
        Channel::BlowerRatio => (0.05, 0.05),
    };
    [smooth_likeness, kinked_likeness].map(|like| {
        DMatrix::from_fn(rpm.len(), rpm.len(), |i, j| {
            shift * shift + wander * wander * like(rpm[i], rpm[j])
        })
    })
}

/// Likeness for something that may have kinks and steps, as the trace of an onset or of a cut: Matérn's with smoothness 1/2.
pub(super) fn kinked_likeness(a_rpm: f64, b_rpm: f64) -> f64 {
    (-(a_rpm / b_rpm).ln().abs() / REACH).exp()
}

/// Covariance of a curve at its engine speeds. `expected` are the values expected there; `scatter` is that seen from band to band;
/// `doubled` is 1 plus the share that the mean of good pulls adds, and of their visits: the pulls of a visit share how it strays.
/// Equation (10.2).
pub(super) fn covariance(
    straying: &Straying,
    rpm: &[f64],
    expected: &[f64],
    scatter: f64,
    doubled: (f64, f64),
) -> DMatrix<f64> {
    let n = rpm.len();
    let slope: Vec<f64> = (0..n)
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(n - 1));
            (expected[b] - expected[a]) / (rpm[b] / rpm[a]).ln() * SPEED_SHARE
        })
        .collect();
    let early: Vec<f64> = rpm
        .iter()
        .map(|r| straying.start * (-(r - rpm[0]) / START_RPM).exp())
        .collect();
    let scatter = scatter.max(straying.scatter);
    DMatrix::from_fn(n, n, |i, j| {
        let like = likeness(rpm[i], rpm[j]);
        let own = if i == j { scatter * scatter } else { 0.0 };
        // The scatter is that seen between this pull and the good ones, so it holds theirs already.
        own + doubled.1 * straying.visit.powi(2)
            + doubled.0
                * (straying.shift.powi(2)
                    + (straying.wander.powi(2) + slope[i] * slope[j] + early[i] * early[j]) * like)
    })
}

/// Scatter from band to band about a smooth curve: from second differences, by their median, so that a step does not count.
///
/// `σ = 1.4826 median|d₋ − 2d + d₊|/√6`; normal consistency of the median absolute deviation, any text on robust statistics.
/// Equation (10.2).
pub(super) fn scatter(residual: &[f64]) -> f64 {
    let bends = residual
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]).abs());
    upper_median(bends).map_or(0.0, |bend| MAD_TO_SD * bend / 6.0_f64.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scatter_is_that_of_white_noise_and_blind_to_a_ramp() {
        // Sums of twelve uniform numbers of a fixed congruence: nearly normal, standard deviation 1; plus a straight line.
        let mut seed = 1_u64;
        let mut uniform = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let noise: Vec<f64> = (0..2000)
            .map(|i| (0..12).map(|_| uniform() - 0.5).sum::<f64>() + 3.0 * f64::from(i))
            .collect();
        // A median of 2000 correlated bends strays by some 2.5 %: three times that.
        let found = scatter(&noise);
        assert!((found - 1.0).abs() < 0.08, "{found}");
    }

    #[test]
    fn covariance_can_be_factored_for_any_curve() {
        let rpm: Vec<f64> = (0..50).map(|i| 1500.0 + 100.0 * f64::from(i)).collect();
        let expected: Vec<f64> = rpm.iter().map(|r| 1e5 + 4e4 * (r / 900.0).tanh()).collect();
        for channel in Channel::ALL {
            let straying = Straying::about_good(channel, 6e4);
            let c = covariance(&straying, &rpm, &expected, 0.0, (1.3, 2.0));
            assert!(c.cholesky().is_some(), "{channel:?}");
        }
    }
}
