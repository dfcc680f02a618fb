//! What a shop's own closed jobs say of the misses of the model: of each mechanism a bias that all its jobs share and a spread from job to job, and of
//! each kind of work what its parts do alike.
//!
//! Every closed job tells one number: by how much its reading lay off the middle that was quoted for it. Which mechanism missed it stands in none of
//! them, but jobs differ in what goes through each, so many jobs tell. Sizes of biases and of spreads are pooled: a mechanism that few jobs went through
//! is believed to err about as much as the others do. What is in doubt of car and parts strays from job to job or is alike in the jobs of one kind (one maker's claims,
//! one fuel, one law of knock); how much of it is alike is not believed beforehand, the jobs tell. Drawn by Gibbs sampling, so a quote made from it carries
//! what is still unknown. It refuses to judge from fewer than [`FEWEST`] jobs, and it knows no car: what a job would show without a miss comes with it.

mod closed_job;
mod slice;

pub use closed_job::ClosedJob;

use crate::belief::sheet::standard_normal;
use crate::belief::{Mechanism, Miss};
use nalgebra::{Cholesky, DMatrix, DVector, SVector};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use slice::slice;

/// Fewest closed jobs that anything is learned from.
pub const FEWEST: usize = 5;
/// Draws of bias and spread that are kept.
pub const KEPT: usize = 500;
/// Sweeps before the first that is kept.
const BURN_IN: usize = 500;
/// Sweeps from one that is kept to the next.
const APART: usize = 4;
/// Doubt of a shop's common size, in ln: a factor of two, as that of the general size (`belief::Miss`). No source, assumed.
const SHOP_DOUBT: f64 = 0.7;
/// Doubt of one mechanism's spread about the shop's, in ln: a factor of two. No source, assumed.
const MECHANISM_DOUBT: f64 = 0.7;
/// Mechanisms that are learned of; waves are not: what they do has no sign.
pub const LEARNED_OF: usize = Mechanism::ALL.len() - 1;
/// Its random numbers stand apart from the numbered draws of a quote.
const STREAM: u64 = u64::MAX;

/// What jobs of the same kinds had alike: of the part of a quote's doubt that car, parts and waves bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alike {
    /// Share of its square.
    pub share: f64,
    /// Where that share lies, in its standard deviations.
    pub shift: f64,
}

/// What was learned: draws of the shop's misses.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// Jobs it was learned from.
    pub jobs: usize,
    /// Draws of biases and spreads.
    misses: Vec<Miss>,
    /// Kinds of work among the jobs, in the order of their first.
    kinds: Vec<String>,
    /// Draws of the share that is alike, and of where it lies by kind.
    alike: Vec<(f64, Vec<f64>)>,
}

impl Learned {
    /// From closed jobs, beginning with what is missed in general; nothing from too few of them. The same seed gives the same draws.
    pub fn of(jobs: &[ClosedJob], general: &Miss, seed: u64) -> Option<Self> {
        let jobs: Vec<&ClosedJob> = jobs.iter().filter(|job| job.tells()).collect();
        (jobs.len() >= FEWEST).then(|| Self::sampled(&jobs, general, seed))
    }

    fn sampled(jobs: &[&ClosedJob], general: &Miss, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(STREAM);
        let mut kinds: Vec<String> = Vec::new();
        for kind in jobs
            .iter()
            .filter(|job| job.parts > 0.0)
            .flat_map(|job| &job.kinds)
        {
            if !kinds.contains(kind) {
                kinds.push(kind.clone());
            }
        }
        let jobs: Vec<Job> = jobs
            .iter()
            .map(|job| Job::of(job, &kinds, general))
            .collect();
        let mut state = State::new(kinds.len());
        let (mut misses, mut alike) = (Vec::with_capacity(KEPT), Vec::with_capacity(KEPT));
        for sweep in 0..BURN_IN + KEPT * APART {
            state.sweep(&jobs, &mut rng);
            if sweep >= BURN_IN && (sweep - BURN_IN).is_multiple_of(APART) {
                misses.push(state.miss(general));
                alike.push((state.alike, state.of_kinds().to_vec()));
            }
        }
        Self {
            jobs: jobs.len(),
            misses,
            kinds,
            alike,
        }
    }

    /// What goes with a numbered draw of a quote for work of some kinds; a kind that no job had leaves its part as it was.
    /// Equation (8.15).
    pub fn alike(&self, draw: usize, kinds: &[&str]) -> Alike {
        let (share, of_kinds) = &self.alike[draw % self.alike.len()];
        let each = weight(kinds.len());
        let known: Vec<f64> = kinds
            .iter()
            .filter_map(|kind| self.kinds.iter().position(|known| known == kind))
            .map(|place| each * of_kinds[place])
            .collect();
        Alike {
            share: share * each * each * known.len() as f64,
            shift: share.sqrt() * known.iter().sum::<f64>(),
        }
    }

    /// Mean and standard deviation of where work of some kinds lies, in standard deviations of what its car, parts and waves bring; none of kinds that no
    /// job had.
    pub fn told_of_kinds(&self, kinds: &[&str]) -> Option<(f64, f64)> {
        kinds
            .iter()
            .find(|kind| self.kinds.iter().any(|known| known == *kind))?;
        let shifts: Vec<f64> = (0..self.alike.len())
            .map(|draw| self.alike(draw, kinds).shift)
            .collect();
        let n = shifts.len() as f64;
        let mean = shifts.iter().sum::<f64>() / n;
        let square = shifts.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
        Some((mean, square.sqrt()))
    }

    /// The misses that go with a numbered draw.
    pub fn miss(&self, draw: usize) -> Miss {
        self.misses[draw % self.misses.len()]
    }

    /// Mean of the biases, with the general size of everything else.
    pub fn middle(&self, general: &Miss) -> Miss {
        Miss {
            bias: std::array::from_fn(|m| self.mean(|miss| miss.bias[m])),
            ..general.of_bias_alone()
        }
    }

    /// Bias of a mechanism with its standard deviation, and spread from job to job (root of the mean square); none of one that is not learned of.
    pub fn told(&self, mechanism: Mechanism) -> Option<(f64, f64, f64)> {
        if mechanism as usize >= LEARNED_OF {
            return None;
        }
        let bias = self.mean(|miss| miss.bias_of(mechanism));
        let strays = self.mean(|miss| (miss.bias_of(mechanism) - bias).powi(2));
        let spread = self.mean(|miss| miss.of(mechanism).powi(2));
        Some((bias, strays.sqrt(), spread.sqrt()))
    }

    fn mean(&self, of: impl Fn(&Miss) -> f64) -> f64 {
        self.misses.iter().map(of).sum::<f64>() / self.misses.len() as f64
    }
}

/// Weight of each of so many kinds of a job: their squares add up to one.
fn weight(kinds: usize) -> f64 {
    1.0 / (kinds.max(1) as f64).sqrt()
}

/// A job in units of the general sizes.
struct Job {
    missed: f64,
    /// Variance of what the drums bring, and all of it if its kinds have nothing alike.
    drums: f64,
    /// Variance that its kinds may have alike.
    parts: f64,
    /// What goes with the biases, then with what each kind has alike (if all of it is).
    slopes: DVector<f64>,
}

impl Job {
    fn of(job: &ClosedJob, kinds: &[String], general: &Miss) -> Self {
        // Both are read off the same few hundred draws, so the part may come out a little above the whole.
        let parts = if job.kinds.is_empty() {
            0.0
        } else {
            job.parts.clamp(0.0, job.own).powi(2)
        };
        let mut slopes = DVector::zeros(LEARNED_OF + kinds.len());
        for (m, effect) in job.effects.iter().enumerate() {
            slopes[m] = effect * general.change[m];
        }
        for (k, kind) in kinds.iter().enumerate() {
            if job.kinds.contains(kind) {
                slopes[LEARNED_OF + k] = weight(job.kinds.len()) * parts.sqrt();
            }
        }
        Self {
            missed: job.missed,
            drums: job.own * job.own - parts,
            parts,
            slopes,
        }
    }

    /// `v = drums² + (1 − α) parts² + Σ (x s)²`
    fn variance(&self, ln_spread: &[f64; LEARNED_OF], alike: f64) -> f64 {
        let missed: f64 = self
            .slopes
            .iter()
            .zip(ln_spread)
            .map(|(x, u)| (x * u.exp()).powi(2))
            .sum();
        self.drums + (1.0 - alike) * self.parts + missed
    }

    /// What is left of its miss without its mechanisms' biases, and what its kinds have alike if all of it is.
    fn left(&self, common: &DVector<f64>) -> (f64, f64) {
        let (slopes, common) = (self.slopes.as_slice(), common.as_slice());
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let of_biases = dot(&slopes[..LEARNED_OF], &common[..LEARNED_OF]);
        let of_kinds = dot(&slopes[LEARNED_OF..], &common[LEARNED_OF..]);
        (self.missed - of_biases, of_kinds)
    }
}

/// Where the sampler stands; everything in units of the general sizes.
struct State {
    /// Biases of the mechanisms, then what each kind has alike, N(0, 1).
    common: DVector<f64>,
    ln_spread: [f64; LEARNED_OF],
    /// Logarithm of the shop's common size.
    ln_size: f64,
    /// Share of its square that all jobs have in common.
    share: f64,
    /// Share of the parts' square that jobs of one kind have alike.
    alike: f64,
}

impl State {
    fn new(kinds: usize) -> Self {
        Self {
            common: DVector::zeros(LEARNED_OF + kinds),
            ln_spread: [-0.5; LEARNED_OF],
            ln_size: 0.0,
            share: 0.5,
            alike: 0.5,
        }
    }

    fn bias(&self) -> SVector<f64, LEARNED_OF> {
        self.common.fixed_rows::<LEARNED_OF>(0).into()
    }

    fn of_kinds(&self) -> &[f64] {
        &self.common.as_slice()[LEARNED_OF..]
    }

    /// One sweep: biases and kinds together from their normal, the rest one by one from slices.
    ///
    /// ```text
    /// y_j = Σ x_jm (β_m + s_m ξ_jm) + p_j {√α Σ w_jk γ_k + √(1 − α) ζ_j} + e_j,   e_j N(0, own_j² − p_j²)
    /// β_m N(0, ρ g²)    ln s_m N(ln g + ½ ln(1 − ρ) − κ², κ²)    ln g N(−κ², κ²)    γ_k N(0, 1)    ρ, α even from 0 to 1
    /// ```
    ///
    /// in units of the general size of m; the means are such that `β² + s²` is one in the mean before the first job, and `Σ w²` of a job is one.
    /// Equation (8.15).
    fn sweep<R: Rng + ?Sized>(&mut self, jobs: &[Job], rng: &mut R) {
        self.draw_common(jobs, rng);
        let left: Vec<(f64, f64)> = jobs.iter().map(|job| job.left(&self.common)).collect();
        let root_alike = self.alike.sqrt();
        for m in 0..LEARNED_OF {
            let middle = self.spread_middle();
            // Of each job what the slice does not move: variance, effect's square, what is left.
            let (at, alike) = (&self.ln_spread, self.alike);
            let still: Vec<(f64, f64, f64)> = jobs
                .iter()
                .zip(&left)
                .map(|(job, (left, of_kinds))| {
                    let effect = job.slopes[m].powi(2);
                    let others = job.variance(at, alike) - effect * (2.0 * at[m]).exp();
                    // A difference of two nearly equal numbers may come out below zero.
                    (others.max(0.0), effect, left - root_alike * of_kinds)
                })
                .collect();
            let density = |u: f64| {
                let size = (2.0 * u).exp();
                let data: f64 = still
                    .iter()
                    .map(|(others, effect, left)| told(others + effect * size, *left))
                    .sum();
                -0.5 * (data + ((u - middle) / MECHANISM_DOUBT).powi(2))
            };
            let around = (self.ln_spread[m] - 10.0, self.ln_spread[m] + 10.0);
            self.ln_spread[m] = slice(self.ln_spread[m], 1.0, around, density, rng);
        }
        let of_share = |share: f64, state: &Self| state.pooled(state.ln_size, share);
        self.share = slice(self.share, 1.0, (0.0, 1.0), |x| of_share(x, self), rng);
        let of_size = |ln_size: f64| {
            self.pooled(ln_size, self.share)
                - 0.5 * ((ln_size + SHOP_DOUBT.powi(2)) / SHOP_DOUBT).powi(2)
        };
        self.ln_size = slice(self.ln_size, 1.0, (-10.0, 10.0), of_size, rng);
        if !self.of_kinds().is_empty() {
            let of_alike = |alike: f64| {
                if alike <= 0.0 || alike >= 1.0 {
                    return f64::NEG_INFINITY;
                }
                let root_alike = alike.sqrt();
                let data: f64 = jobs
                    .iter()
                    .zip(&left)
                    .map(|(job, (left, of_kinds))| {
                        let v = job.variance(&self.ln_spread, alike);
                        told(v, left - root_alike * of_kinds)
                    })
                    .sum();
                -0.5 * data
            };
            self.alike = slice(self.alike, 1.0, (0.0, 1.0), of_alike, rng);
        }
    }

    fn spread_middle(&self) -> f64 {
        spread_middle(self.ln_size, self.share)
    }

    /// Logarithm of the density of biases and spreads about a shop's size and share.
    fn pooled(&self, ln_size: f64, share: f64) -> f64 {
        if share <= 0.0 || share >= 1.0 {
            return f64::NEG_INFINITY;
        }
        let variance = share * (2.0 * ln_size).exp();
        let middle = spread_middle(ln_size, share);
        let biases = LEARNED_OF as f64 * variance.ln() + self.bias().norm_squared() / variance;
        let spreads: f64 = self
            .ln_spread
            .iter()
            .map(|u| ((u - middle) / MECHANISM_DOUBT).powi(2))
            .sum();
        -0.5 * (biases + spreads)
    }

    /// `(β, γ) ~ N(A⁻¹ Σ x y/v, A⁻¹)`, `A = diag(1/(ρ g²), 1) + Σ x xᵀ/v`.
    fn draw_common<R: Rng + ?Sized>(&mut self, jobs: &[Job], rng: &mut R) {
        let variance = self.share * (2.0 * self.ln_size).exp();
        let size = self.common.len();
        let of_place = |k: usize, bias: f64, kind: f64| if k < LEARNED_OF { bias } else { kind };
        let mut precision = DMatrix::from_diagonal(&DVector::from_fn(size, |k, _| {
            of_place(k, 1.0 / variance, 1.0)
        }));
        let mut pull = DVector::zeros(size);
        let root_alike = self.alike.sqrt();
        for job in jobs {
            let v = job.variance(&self.ln_spread, self.alike);
            let slopes =
                DVector::from_fn(size, |k, _| job.slopes[k] * of_place(k, 1.0, root_alike));
            precision.ger(1.0 / v, &slopes, &slopes, 1.0);
            pull.axpy(job.missed / v, &slopes, 1.0);
        }
        // A sum of squares on a positive diagonal has a root but for numbers past those of the machine; then all stays.
        let Some(root) = Cholesky::new(precision) else {
            return;
        };
        let strays = DVector::from_fn(size, |_, _| standard_normal(rng));
        let strays = root.l().transpose().solve_upper_triangular(&strays);
        self.common = root.solve(&pull) + strays.unwrap_or_else(|| DVector::zeros(size));
    }

    fn miss(&self, general: &Miss) -> Miss {
        Miss {
            bias: std::array::from_fn(|m| general.change[m] * self.common[m]),
            change: std::array::from_fn(|m| general.change[m] * self.ln_spread[m].exp()),
            ..*general
        }
    }
}

/// Twice the negative logarithm of a normal density, but for a constant.
fn told(variance: f64, left: f64) -> f64 {
    variance.ln() + left * left / variance
}

fn spread_middle(ln_size: f64, share: f64) -> f64 {
    ln_size + 0.5 * (1.0 - share).ln() - MECHANISM_DOUBT.powi(2)
}

#[cfg(test)]
mod tests;
