//! The evidence for a cause, and its sizes with their intervals.
//!
//! Sizes are standardised by their beliefs; the evidence is Laplace's approximation at the peak:
//!
//! ```text
//! ln Z ≈ ln p(log | ẑ) + ln p(ẑ) + (d/2) ln 2π − ½ ln det H + ln(part inside the bounds)
//! ```
//!
//! H, in place of −∂² ln p/∂z², from the widths of the peak ([`super::shape`]). The likelihood's covariance is that of the cause at its peak,
//! so causes are compared as models each with its own error, not under one noise; because it goes by the smaller of change made and change
//! seen, it costs a fault up to 0.1 for every channel it changes. Source: D. J. C. `MacKay`, Information Theory, Inference, and Learning
//! Algorithms, ch. 27 (from memory). [`super::evidence_by_sampling`] checks the integral with the covariance of the peak. An interval is never
//! narrower than what the model knows of the size: a change it predicts to within a quarter tells a size no better.

use super::cause::Cause;
use super::clutch;
use super::disturb::Fault;
use super::expect::Channel;
use super::form::Form;
use super::judge::doubt_of;
use super::rival::{AtSizes, Rival, Search, Trials, unstandardised};
use super::shape::Shape;
use super::size::{self, Size, SizeMeasure};
use super::suspect::Explained;
use crate::belief::prior::HALF_WIDTH_90;
use nalgebra::{DMatrix, DVector};
use std::sync::Arc;

/// Step in a standardised size over which the loudness of a cause is looked at.
const LOUDER: f64 = 0.1;
/// A size that moves the loudness by less per unit is no measure of it.
const QUIET: f64 = 0.2;

impl Rival<'_> {
    /// The sizes the log asks for, and the evidence; nothing where no size lets the car make the pull.
    /// Equation (10.4).
    pub(super) fn explain(&self) -> Option<(Explained, Vec<AtSizes>)> {
        let sizes = self.sizes();
        let search = Search::of(self, &sizes);
        let (best, shape) = search.peak()?;
        let explained = self.told(&sizes, best, shape, search.trials())?;
        Some((explained, search.into_grid()))
    }

    /// What a peak and its shape say of the causes.
    pub(super) fn told(
        &self,
        sizes: &[Size],
        best: AtSizes,
        shape: Shape,
        trials: Trials,
    ) -> Option<Explained> {
        let d = sizes.len();
        let doubts = &self.scene.doubts;
        let temper = doubts.temper(self.scene.misfit.count(Channel::Power));
        // A peak of no shape is as wide as the belief.
        let (covariance, log_det) =
            inverse(shape.curvature).or_else(|| inverse(DMatrix::identity(d, d)))?;
        let log_evidence =
            best.log_p + 0.5 * d as f64 * std::f64::consts::TAU.ln() - 0.5 * log_det + shape.inside;
        let values = unstandardised(sizes, &best.z);
        let intervals: Vec<(f64, f64)> = sizes
            .iter()
            .enumerate()
            .map(|(i, size)| {
                let least = self.least_sd(sizes, &best.z, i);
                let of_log = (covariance[(i, i)] / temper).sqrt();
                let half = HALF_WIDTH_90 * doubts.size * of_log.min(WIDEST).max(least);
                let (low, high) = size.prior.z_bounds();
                let end = |z: f64| size.prior.from_z(z.clamp(low, high));
                (end(best.z[i] - half), end(best.z[i] + half))
            })
            .collect();
        let derived = self.derived(&values, &intervals);
        let Fault { cause, form } = self.first();
        Some(Explained {
            cause,
            form,
            with: self.faults.get(1).map(|f| (f.cause, f.form)),
            own: self.counts()[0],
            sizes: sizes.to_vec(),
            derived,
            trials,
            intervals,
            log_evidence,
            parts: best.parts,
            by_rig: self.by_rig(&values).map(Arc::new),
            shown: best.shown,
            values,
            peak: (best.z, covariance),
        })
    }

    /// What follows from the numbers of a cause: of a clutch, how much it held.
    fn derived(&self, values: &[f64], intervals: &[(f64, f64)]) -> Vec<(Size, f64, (f64, f64))> {
        let Fault { cause, form } = self.first();
        if (cause, form) != (Cause::ClutchSlip, Form::Plain) {
            return Vec::new();
        }
        let (Some(from), Some((low, high))) = (values.first(), intervals.first()) else {
            return Vec::new();
        };
        let scene = self.scene;
        let held = |rpm: f64| clutch::held(scene.setup, &scene.sound, rpm);
        let size = size::clutch_held();
        let least = HALF_WIDTH_90 * size.least_sd;
        let value = held(*from);
        let between =
            (0..=HELD_LOOKS).map(|k| low + (high - low) * f64::from(k) / f64::from(HELD_LOOKS));
        let (least_held, most_held) = between
            .map(held)
            .fold((value, value), |(a, b), h| (a.min(h), b.max(h)));
        let interval = (
            least_held.min(value - least),
            most_held.max(value + least).min(1.0),
        );
        vec![(size, value, interval)]
    }

    /// The least standard deviation of a standardised size: what the model knows of it, however sharp the log.
    ///
    /// A doubt of a share of the change is a doubt of that share over the elasticity of the change in the size. Source: derived,
    /// propagation of errors; the channel that speaks loudest decides.
    /// Equation (10.5).
    fn least_sd(&self, sizes: &[Size], z: &[f64], index: usize) -> f64 {
        let own = sizes[index].least_sd / sizes[index].prior.sd();
        if sizes[index].measure == SizeMeasure::Rpm {
            return own;
        }
        let (low, high) = sizes[index].prior.z_bounds();
        let (below, above) = ((z[index] - LOUDER).max(low), (z[index] + LOUDER).min(high));
        let loud = |at: f64| {
            let mut z = z.to_vec();
            z[index] = at;
            let shown = self.shown_at(&unstandardised(sizes, &z))?;
            Some(self.judge.loudness(&shown))
        };
        let (Some(less), Some(more)) = (loud(below), loud(above)) else {
            return own;
        };
        let loudest = (0..less.len()).max_by(|a, b| less[*a].0.total_cmp(&less[*b].0));
        let Some(k) = loudest.filter(|k| less[*k].1 > 0.0 && more[*k].1 > 0.0) else {
            return own;
        };
        let elasticity = (more[k].1 / less[k].1).ln().abs() / (above - below);
        let of_model = if elasticity > QUIET {
            doubt_of(
                &self.faults,
                self.scene.curves[k].channel,
                &self.scene.doubts,
            ) / elasticity
        } else {
            0.0
        };
        own.max(of_model)
    }
}

/// A log does not widen a belief: greatest standard deviation of a standardised size.
const WIDEST: f64 = 1.0;
/// Places of an interval at which what follows from it is looked at.
const HELD_LOOKS: u32 = 16;

/// Inverse and log-determinant of a curvature.
fn inverse(h: DMatrix<f64>) -> Option<(DMatrix<f64>, f64)> {
    if h.nrows() == 0 {
        return Some((h, 0.0));
    }
    let factor = h.cholesky()?;
    let log_det = 2.0
        * (0..factor.l().nrows())
            .map(|i| factor.l()[(i, i)].ln())
            .sum::<f64>();
    Some((factor.inverse(), log_det))
}

/// What sampling says of an evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampled {
    /// Logarithm of the evidence.
    pub log_evidence: f64,
    /// Draws that all of it would rest on if each weighed the same.
    pub effective_draws: f64,
    /// By how much the most probable draw beats the peak, logarithm; negative where none does.
    pub above_peak: f64,
}

/// Draws for a check of [`Explained::log_evidence`]: the evidence by importance sampling from a t distribution about the peak.
pub(super) fn by_sampling(
    rival: &Rival<'_>,
    found: &Explained,
    draws: usize,
    seed: u64,
) -> Option<Sampled> {
    use crate::belief::sheet::standard_normal;
    use rand::SeedableRng;
    let d = found.sizes.len();
    let (peak, covariance) = &found.peak;
    if d == 0 {
        return Some(Sampled {
            log_evidence: found.log_evidence,
            effective_draws: draws as f64,
            above_peak: f64::NEG_INFINITY,
        });
    }
    let l = covariance.clone().cholesky()?.l();
    let factors = rival
        .judge
        .factors(rival.scene, &rival.faults, &found.shown, None)?;
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let log_det: f64 = (0..d).map(|i| l[(i, i)].ln()).sum();
    let freedom = FREEDOM as f64;
    let mut logs = Vec::with_capacity(draws);
    let peak_log = rival.at(&found.sizes, peak, Some(&factors))?.log_p;
    let mut above_peak = f64::NEG_INFINITY;
    for _ in 0..draws {
        let normal = DVector::from_fn(d, |_, _| standard_normal(&mut rng));
        let chi: f64 = (0..FREEDOM)
            .map(|_| standard_normal(&mut rng).powi(2))
            .sum();
        let t = normal * (freedom / chi).sqrt();
        let z: Vec<f64> = (&l * &t).iter().zip(peak).map(|(a, b)| a + b).collect();
        let log_q = log_t_density(t.norm_squared(), d, freedom) - log_det;
        let log_p = rival
            .at(&found.sizes, &z, Some(&factors))
            .map_or(f64::NEG_INFINITY, |p| p.log_p);
        above_peak = above_peak.max(log_p - peak_log);
        logs.push(log_p - log_q);
    }
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
    let sum: f64 = weights.iter().sum();
    Some(Sampled {
        log_evidence: most + (sum / draws as f64).ln(),
        effective_draws: sum * sum / weights.iter().map(|w| w * w).sum::<f64>(),
        above_peak,
    })
}

/// Degrees of freedom of the sampler's tails.
const FREEDOM: usize = 4;

/// Log-density of a standard multivariate t.
fn log_t_density(square: f64, d: usize, freedom: f64) -> f64 {
    use statrs::function::gamma::ln_gamma;
    let d = d as f64;
    ln_gamma(0.5 * (freedom + d))
        - ln_gamma(0.5 * freedom)
        - 0.5 * d * (freedom * std::f64::consts::PI).ln()
        - 0.5 * (freedom + d) * (square / freedom).ln_1p()
}
