//! What a shop's own closed jobs say of the misses of the model: of each mechanism a bias that all its jobs share and a spread from job to job.
//!
//! Every closed job tells one number: by how much its reading lay off the middle that was quoted for it. Which mechanism missed it stands in none of
//! them, but jobs differ in what goes through each, so many jobs tell. Sizes of biases and of spreads are pooled: a mechanism that few jobs went through
//! is believed to err about as much as the others do. Drawn by Gibbs sampling, so a quote made from it carries what is still unknown. It refuses to
//! judge from fewer than [`FEWEST`] jobs, and it knows no car: what a job would show without a miss comes with it.

use crate::belief::sheet::standard_normal;
use crate::belief::{Mechanism, Miss};
use nalgebra::{Cholesky, SMatrix, SVector};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

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
/// A job through whose mechanisms less of the power goes than this tells nothing.
const LEAST_EFFECT: f64 = 1e-3;
/// Its random numbers stand apart from the numbered draws of a quote.
const STREAM: u64 = u64::MAX;

/// What one closed job tells.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClosedJob {
    /// Logarithm of the peak read over the middle quoted for it without anything learned.
    pub missed: f64,
    /// Standard deviation of that from everything but the mechanisms: drums, car, parts, waves.
    pub own: f64,
    /// Shares of the peak that go through each mechanism, in the order of [`crate::belief::Mechanism::ALL`], as far as they are learned of.
    pub effects: [f64; LEARNED_OF],
}

impl ClosedJob {
    /// Whether anything can be learned from it.
    pub fn tells(&self) -> bool {
        let numbers = [self.missed, self.own];
        numbers.iter().chain(&self.effects).all(|x| x.is_finite())
            && self.own > 0.0
            && self.effects.iter().any(|x| x.abs() > LEAST_EFFECT)
    }
}

/// What was learned: draws of the shop's misses.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// Jobs it was learned from.
    pub jobs: usize,
    /// Draws of biases and spreads.
    misses: Vec<Miss>,
}

impl Learned {
    /// From closed jobs, beginning with what is missed in general; nothing from too few of them. The same seed gives the same draws.
    pub fn of(jobs: &[ClosedJob], general: &Miss, seed: u64) -> Option<Self> {
        let jobs: Vec<ClosedJob> = jobs.iter().copied().filter(ClosedJob::tells).collect();
        (jobs.len() >= FEWEST).then(|| Self::sampled(&jobs, general, seed))
    }

    fn sampled(jobs: &[ClosedJob], general: &Miss, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(STREAM);
        let jobs: Vec<Job> = jobs.iter().map(|job| Job::of(job, general)).collect();
        let mut state = State::default();
        let mut misses = Vec::with_capacity(KEPT);
        for sweep in 0..BURN_IN + KEPT * APART {
            state.sweep(&jobs, &mut rng);
            if sweep >= BURN_IN && (sweep - BURN_IN).is_multiple_of(APART) {
                misses.push(state.miss(general));
            }
        }
        Self {
            jobs: jobs.len(),
            misses,
        }
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

/// A job in units of the general sizes.
struct Job {
    missed: f64,
    own: f64,
    effects: SVector<f64, LEARNED_OF>,
}

impl Job {
    fn of(job: &ClosedJob, general: &Miss) -> Self {
        Self {
            missed: job.missed,
            own: job.own,
            effects: SVector::from_fn(|m, _| job.effects[m] * general.change[m]),
        }
    }

    /// `v = own² + Σ (x s)²`
    fn variance(&self, ln_spread: &[f64; LEARNED_OF]) -> f64 {
        let missed: f64 = self
            .effects
            .iter()
            .zip(ln_spread)
            .map(|(x, u)| (x * u.exp()).powi(2))
            .sum();
        self.own * self.own + missed
    }
}

/// Where the sampler stands; everything in units of the general sizes.
struct State {
    bias: SVector<f64, LEARNED_OF>,
    ln_spread: [f64; LEARNED_OF],
    /// Logarithm of the shop's common size.
    ln_size: f64,
    /// Share of its square that all jobs have in common.
    share: f64,
}

impl Default for State {
    fn default() -> Self {
        Self {
            bias: SVector::zeros(),
            ln_spread: [-0.5; LEARNED_OF],
            ln_size: 0.0,
            share: 0.5,
        }
    }
}

impl State {
    /// One sweep: biases together from their normal, the rest one by one from slices.
    ///
    /// ```text
    /// y_j = Σ x_jm (β_m + s_m ξ_jm) + e_j,   e_j N(0, own_j²)
    /// β_m N(0, ρ g²)    ln s_m N(ln g + ½ ln(1 − ρ) − κ², κ²)    ln g N(−κ², κ²)    ρ even from 0 to 1
    /// ```
    ///
    /// in units of the general size of m; the means are such that `β² + s²` is one in the mean before the first job.
    /// Equation (8.15).
    fn sweep<R: Rng + ?Sized>(&mut self, jobs: &[Job], rng: &mut R) {
        self.draw_bias(jobs, rng);
        for m in 0..LEARNED_OF {
            let (middle, others) = (self.spread_middle(), self.ln_spread);
            let bias = self.bias;
            let left = |job: &Job| job.missed - job.effects.dot(&bias);
            let density = |u: f64| {
                let mut spread = others;
                spread[m] = u;
                let of = |job: &Job| {
                    let v = job.variance(&spread);
                    v.ln() + left(job).powi(2) / v
                };
                let data: f64 = jobs.iter().map(of).sum();
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
        let biases = LEARNED_OF as f64 * variance.ln() + self.bias.norm_squared() / variance;
        let spreads: f64 = self
            .ln_spread
            .iter()
            .map(|u| ((u - middle) / MECHANISM_DOUBT).powi(2))
            .sum();
        -0.5 * (biases + spreads)
    }

    /// `β ~ N(A⁻¹ Σ x y/v, A⁻¹)`, `A = 1/(ρ g²) + Σ x xᵀ/v`.
    fn draw_bias<R: Rng + ?Sized>(&mut self, jobs: &[Job], rng: &mut R) {
        let variance = self.share * (2.0 * self.ln_size).exp();
        let mut precision = SMatrix::<f64, LEARNED_OF, LEARNED_OF>::identity() / variance;
        let mut pull = SVector::<f64, LEARNED_OF>::zeros();
        for job in jobs {
            let v = job.variance(&self.ln_spread);
            precision += job.effects * job.effects.transpose() / v;
            pull += job.effects * (job.missed / v);
        }
        // A sum of squares on a positive diagonal has a root but for numbers past those of the machine; then the biases stay.
        let Some(root) = Cholesky::new(precision) else {
            return;
        };
        let strays = SVector::<f64, LEARNED_OF>::from_fn(|_, _| standard_normal(rng));
        let strays = root.l().transpose().solve_upper_triangular(&strays);
        self.bias = root.solve(&pull) + strays.unwrap_or_default();
    }

    fn miss(&self, general: &Miss) -> Miss {
        Miss {
            bias: std::array::from_fn(|m| general.change[m] * self.bias[m]),
            change: std::array::from_fn(|m| general.change[m] * self.ln_spread[m].exp()),
            ..*general
        }
    }
}

fn spread_middle(ln_size: f64, share: f64) -> f64 {
    ln_size + 0.5 * (1.0 - share).ln() - MECHANISM_DOUBT.powi(2)
}

/// Steps by which a slice is widened to each side, at most.
const MOST_STEPS: usize = 20;

/// A number drawn from a density known but for its scale (as a logarithm), from where it stands: slice sampling with stepping out and shrinking (Neal 2003,
/// Ann. Stat. 31, figures 3 and 5; from memory).
fn slice<R: Rng + ?Sized>(
    from: f64,
    step: f64,
    (low, high): (f64, f64),
    ln_density: impl Fn(f64) -> f64,
    rng: &mut R,
) -> f64 {
    let mut uniform = || -> f64 { rng.sample(rand::distr::Open01) };
    let level = ln_density(from) + uniform().ln();
    let mut left = from - step * uniform();
    let mut right = left + step;
    for _ in 0..MOST_STEPS {
        if left <= low || ln_density(left) < level {
            break;
        }
        left -= step;
    }
    for _ in 0..MOST_STEPS {
        if right >= high || ln_density(right) < level {
            break;
        }
        right += step;
    }
    (left, right) = (left.max(low), right.min(high));
    // Each try that misses halves the interval in the mean: sixty leave nothing of it.
    for _ in 0..60 {
        let x = left + (right - left) * uniform();
        if ln_density(x) >= level {
            return x;
        }
        if x < from {
            left = x;
        } else {
            right = x;
        }
    }
    from
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::side_by_side;

    fn rng(number: u64) -> ChaCha8Rng {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        rng.set_stream(number);
        rng
    }

    /// Effects as those of a shop's work: much air, less of the rest.
    fn effects<R: Rng + ?Sized>(rng: &mut R) -> [f64; LEARNED_OF] {
        [0.4, 0.15, 0.15, 0.05, 0.1, 0.05].map(|size| size * standard_normal(rng))
    }

    fn job<R: Rng + ?Sized>(miss: &Miss, own: f64, rng: &mut R) -> ClosedJob {
        let effects = effects(rng);
        let mut missed = own * standard_normal(rng);
        for (m, effect) in effects.iter().enumerate() {
            missed += effect * (miss.bias[m] + miss.change[m] * standard_normal(rng));
        }
        ClosedJob {
            missed,
            own,
            effects,
        }
    }

    #[test]
    fn jobs_that_tell_nothing_leave_the_general_size() {
        // So doubtful that nothing is learned: what comes back is what was believed, as large in the mean square as the general size.
        let general = Miss::default();
        let of_seed = |seed: usize| {
            let mut rng = rng(seed as u64);
            let jobs: Vec<ClosedJob> = (0..FEWEST).map(|_| job(&general, 1e3, &mut rng)).collect();
            let learned = Learned::of(&jobs, &general, seed as u64).expect("enough");
            let mean = |of: &dyn Fn(&Miss) -> f64| learned.mean(of);
            let square = mean(&|miss| miss.bias.iter().map(|b| b * b).sum::<f64>())
                + mean(&|miss| miss.change.iter().map(|s| s * s).sum::<f64>());
            square / LEARNED_OF as f64 / general.change[0].powi(2)
        };
        let seeds = side_by_side(40, of_seed);
        let mean = seeds.iter().sum::<f64>() / seeds.len() as f64;
        let scatter = seeds.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 39.0;
        // Three standard errors of the mean of forty chains.
        let error = (scatter / 40.0).sqrt();
        assert!((mean - 1.0).abs() < 3.0 * error, "{mean} ± {error}");
        assert!(error < 0.15, "{error}");
    }

    #[test]
    fn a_planted_bias_is_found_where_work_goes_through_it() {
        let general = Miss::default();
        let mut shop = Miss {
            change: [0.005; LEARNED_OF],
            ..general
        };
        shop.bias[0] = 0.09;
        shop.bias[2] = -0.06;
        let mut rng = rng(3);
        let jobs: Vec<ClosedJob> = (0..40).map(|_| job(&shop, 0.005, &mut rng)).collect();
        let learned = Learned::of(&jobs, &general, 1).expect("enough");
        for mechanism in Mechanism::ALL {
            let Some((bias, doubt, spread)) = learned.told(mechanism) else {
                assert_eq!(mechanism, Mechanism::Waves);
                continue;
            };
            let truth = shop.bias_of(mechanism);
            assert!(
                (bias - truth).abs() < 3.0 * doubt,
                "{mechanism:?}: {bias} ± {doubt} for {truth}"
            );
            assert!(spread < general.change[0], "{mechanism:?}: {spread}");
        }
        let (_, doubt, _) = learned.told(Mechanism::Air).expect("learned of");
        assert!(doubt < 0.01, "{doubt}");
    }

    /// Shops drawn from the very belief the sampler begins with: their biases must lie in its ranges as often as those say, or the sampler draws from
    /// something else. Source of the demand: Cook, Gelman and Rubin, J. Comput. Graph. Stat. 15 (2006), from memory.
    #[test]
    fn shops_drawn_from_the_belief_lie_in_the_ranges_as_often_as_they_say() {
        const SHOPS: usize = 80;
        let general = Miss::default();
        let inside = side_by_side(SHOPS, |shop| {
            let mut rng = rng(100 + shop as u64);
            let square = SHOP_DOUBT * SHOP_DOUBT;
            let ln_size = -square + SHOP_DOUBT * standard_normal(&mut rng);
            let share: f64 = rng.sample(rand::distr::Open01);
            let middle = spread_middle(ln_size, share);
            let scale = general.change[0];
            let truth = Miss {
                bias: std::array::from_fn(|_| {
                    scale * share.sqrt() * ln_size.exp() * standard_normal(&mut rng)
                }),
                change: std::array::from_fn(|_| {
                    scale * (middle + MECHANISM_DOUBT * standard_normal(&mut rng)).exp()
                }),
                ..general
            };
            let jobs: Vec<ClosedJob> = (0..15).map(|_| job(&truth, 0.01, &mut rng)).collect();
            let learned = Learned::of(&jobs, &general, shop as u64).expect("enough");
            let held = |truth: f64, of: &dyn Fn(&Miss) -> f64| {
                let below = learned
                    .misses
                    .iter()
                    .filter(|miss| of(miss) < truth)
                    .count();
                let share = below as f64 / learned.misses.len() as f64;
                u32::from((0.1..=0.9).contains(&share))
            };
            let biases: u32 = (0..LEARNED_OF)
                .map(|m| held(truth.bias[m], &|miss| miss.bias[m]))
                .sum();
            let spreads: u32 = (0..LEARNED_OF)
                .map(|m| held(truth.change[m], &|miss| miss.change[m]))
                .sum();
            (biases, spreads)
        });
        let count = (SHOPS * LEARNED_OF) as f64;
        // Four in five; six mechanisms of a shop share its size, so they count as two: three standard errors of 160.
        let error = (0.8_f64 * 0.2 / (2.0 * SHOPS as f64)).sqrt();
        let (biases, spreads) = inside.iter().fold((0, 0), |(a, b), (x, y)| (a + x, b + y));
        for (what, held) in [("bias", biases), ("spread", spreads)] {
            let share = f64::from(held) / count;
            assert!((share - 0.8).abs() < 3.0 * error, "{what}: {share}");
        }
    }

    #[test]
    fn one_seed_gives_one_answer_and_too_few_jobs_none() {
        let general = Miss::default();
        let mut rng = rng(9);
        let mut jobs: Vec<ClosedJob> = (0..FEWEST).map(|_| job(&general, 0.02, &mut rng)).collect();
        let learned = Learned::of(&jobs, &general, 1);
        assert!(learned.is_some());
        assert_eq!(learned, Learned::of(&jobs, &general, 1));
        assert_ne!(learned, Learned::of(&jobs, &general, 2));
        // Work that goes through no mechanism tells nothing, and neither does a number that is none.
        jobs[0].effects = [0.0; LEARNED_OF];
        assert_eq!(Learned::of(&jobs, &general, 1), None);
        jobs[0] = jobs[1];
        jobs[0].missed = f64::NAN;
        assert_eq!(Learned::of(&jobs, &general, 1), None);
    }
}
