//! How likely a log is if a cause were so: the honest straying of readings, and the model's doubt about what a cause changes.
//!
//! The doubt goes by the change a cause makes, but by no more than what was seen. Held against its own large changes alone, a cause
//! would excuse itself by being wrong in a large way. It refuses correlations between channels.

use super::cause::{Cause, Origin};
use super::disturb::{ExpectedLog, Scene};
use super::expect::{Channel, Fact};
use super::noise::{self, Straying, kinked_likeness, likeness};
use super::suspect::Explained;
use crate::numeric::straight_held;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::f64::consts::TAU;

/// Doubt about what a fault of the car makes of a channel, as a share of the change: what a mean-value model says of a change errs
/// by a fifth (the recorded builds), and more where boost feeds back on itself; no source.
const MODEL_DOUBT: f64 = 0.25;
/// The same for the power of a burn held back and of a changed mixture, which hang on how far knock holds the spark back
/// already: a log without a spark channel hardly tells; no source.
const KNOCK_DOUBT: f64 = 0.50;
/// The same for what follows by arithmetic: settings, corrections, and a channel that is the fault itself.
const ARITHMETIC_DOUBT: f64 = 0.02;

/// Doubt of a cause in a channel.
/// Equation (10.3).
pub(super) fn doubt(cause: Cause, channel: Channel) -> f64 {
    match (cause, channel) {
        (cause, _) if cause.place() == Origin::Rig => ARITHMETIC_DOUBT,
        (Cause::Lean | Cause::Rich, Channel::Lambda) | (Cause::BeltSlip, Channel::BlowerRatio) => {
            ARITHMETIC_DOUBT
        }
        (Cause::Lean | Cause::Rich | Cause::KnockRetard, Channel::Power) => KNOCK_DOUBT,
        _ => MODEL_DOUBT,
    }
}

/// Charge temperature strays by this for every pascal by which the boost has moved, K: how much of the blower's heat reaches the
/// sensor is hardly known (common practice, no source).
const CHARGE_PER_BOOST: f64 = 1.2e-4;
/// Variance of that doubt which wanders over a curve, and which has kinks, over that common to all of it: the model knows the
/// shape of a change better than its size.
const WANDERS: f64 = 0.06;
const KINKS: f64 = 0.01;
/// How far a fact about the rig is off if anything may be wrong: pressure by that of 700 m of altitude, what is typed or implied by a
/// tenth (common practice, no source).
const ANY_PRESSURE_PA: f64 = 8e3;
const ANY_SHARE: f64 = 0.1;
/// Bands over which a change that is seen is smoothed, to be a measure of doubt.
const SMOOTHED: usize = 5;
/// The log against which causes are held.
#[derive(Debug)]
pub(super) struct Judge {
    /// How an honest reading strays, and something that is none of the causes, smooth or broken; one per curve of the scene.
    honest: Vec<DMatrix<f64>>,
    anything: Vec<[DMatrix<f64>; 2]>,
    /// How the doubt of a change strays from the shape of the change, over the doubt's variance; one per curve.
    bent: Vec<DMatrix<f64>>,
    /// The curves of a sound pull, and what was seen less those, smoothed.
    sound: Vec<DVector<f64>>,
    seen: Vec<DVector<f64>>,
    /// Which curve is manifold pressure.
    boost: Option<usize>,
    /// Log-probability of the log if none of the causes is at work.
    pub(super) unexplained: f64,
}

/// Covariances of a curve for a cause, factored: where the change has the shape that the model gives it and is doubted in size alone,
/// and where its shape is doubted too.
#[derive(Debug)]
pub(super) struct Doubted {
    shaped: Cholesky<f64, Dyn>,
    bent: Cholesky<f64, Dyn>,
}

/// Those of all curves.
pub(super) type Factors = Vec<Doubted>;

impl Judge {
    pub(super) fn new(scene: &Scene<'_>, sound: &ExpectedLog) -> Self {
        let boost_pa = scene
            .sound
            .points
            .iter()
            .map(|p| p.engine.manifold_pa - scene.day.station().pa())
            .fold(0.0, f64::max);
        let (mut honest, mut anything) = (Vec::new(), Vec::new());
        let (mut bent, mut seen) = (Vec::new(), Vec::new());
        for (curve, expected) in scene.curves.iter().zip(&sound.curves) {
            let more = |count: usize| if count > 0 { 1.0 / count as f64 } else { 0.0 };
            let good = scene.misfit.count(curve.channel);
            let doubled = (
                1.0 + more(good),
                1.0 + more(scene.misfit.visits(curve.channel)),
            );
            let alone = Straying::about_model(curve.channel, boost_pa);
            let mut straying = if good > 0 {
                Straying::about_good(curve.channel, boost_pa)
            } else {
                alone
            };
            if !scene.same_visit {
                straying = straying.of_another_visit(curve.channel);
            }
            let off = residual(&curve.measured, expected);
            let scatter = noise::scatter(off.as_slice());
            let mut c = noise::covariance(&straying, &curve.rpm, expected, scatter, doubled);
            // Beyond the speeds of the good pulls nothing is known of what the model misses.
            let covered = scene.misfit.range(curve.channel);
            let bare: Vec<f64> = curve
                .rpm
                .iter()
                .map(|rpm| {
                    let inside = covered.is_none_or(|(low, high)| (low..=high).contains(rpm));
                    if inside { 0.0 } else { alone.wander }
                })
                .collect();
            for i in 0..bare.len() {
                for j in 0..bare.len() {
                    c[(i, j)] += bare[i] * bare[j] * likeness(curve.rpm[i], curve.rpm[j]);
                }
            }
            anything
                .push(noise::of_anything(curve.channel, boost_pa, &curve.rpm).map(|any| any + &c));
            honest.push(c);
            bent.push(DMatrix::from_fn(bare.len(), bare.len(), |i, j| {
                let (a, b) = (curve.rpm[i], curve.rpm[j]);
                WANDERS * likeness(a, b) + KINKS * kinked_likeness(a, b)
            }));
            seen.push(smoothed(&off));
        }
        let mut judge = Self {
            honest,
            anything,
            bent,
            sound: sound
                .curves
                .iter()
                .map(|c| DVector::from_column_slice(c))
                .collect(),
            seen,
            boost: scene
                .curves
                .iter()
                .position(|c| c.channel == Channel::Manifold),
            unexplained: f64::NEG_INFINITY,
        };
        if let Some(parts) = judge.parts_of_anything(scene, sound) {
            judge.unexplained = parts.iter().sum();
        }
        judge
    }

    /// The covariances about what a cause shows. Its doubt goes by what it changes, but by no more than what was seen: a cause
    /// is not excused for changing what stayed, nor for leaving what has changed.
    /// Equation (10.3).
    pub(super) fn factors(
        &self,
        scene: &Scene<'_>,
        cause: Cause,
        shown: &ExpectedLog,
    ) -> Option<Factors> {
        let change = |index: usize| {
            let made = DVector::from_column_slice(&shown.curves[index]) - &self.sound[index];
            // Its sign stays: a change made too large is too large on both sides of where it turns.
            made.zip_map(&self.seen[index], |made, seen| {
                made.signum() * made.abs().min(seen.abs())
            })
        };
        let boost = self.boost.map(|index| {
            let rpm = scene.curves[index].rpm.iter().copied();
            rpm.zip(change(index).iter().copied())
                .collect::<Vec<(f64, f64)>>()
        });
        scene
            .curves
            .iter()
            .enumerate()
            .map(|(index, curve)| {
                let share = doubt(cause, curve.channel);
                let mut doubts = vec![change(index) * share];
                if let (Channel::Charge, Some(moved)) = (curve.channel, &boost)
                    && share > ARITHMETIC_DOUBT
                {
                    let here = curve.rpm.iter().map(|rpm| straight_held(moved, *rpm));
                    doubts.push(DVector::from_iterator(curve.rpm.len(), here) * CHARGE_PER_BOOST);
                }
                let mut shaped = self.honest[index].clone();
                for size in &doubts {
                    shaped.ger(1.0, size, size, 1.0);
                }
                let mut bent = shaped.clone();
                for size in &doubts {
                    add_bent(&mut bent, size, &self.bent[index]);
                }
                Some(Doubted {
                    shaped: shaped.cholesky()?,
                    bent: bent.cholesky()?,
                })
            })
            .collect()
    }

    /// Log-likelihood of every curve, and of the facts together, if the log should show this.
    pub(super) fn parts(scene: &Scene<'_>, shown: &ExpectedLog, factors: &Factors) -> Vec<f64> {
        let mut parts: Vec<f64> = scene
            .curves
            .iter()
            .zip(&shown.curves)
            .zip(factors)
            .map(|((curve, expected), doubted)| {
                let off = residual(&curve.measured, expected);
                log_mean(&[
                    log_normal(&doubted.shaped, &off),
                    log_normal(&doubted.bent, &off),
                ])
            })
            .collect();
        let facts = scene
            .facts
            .iter()
            .zip(&shown.facts)
            .map(|((_, value, sd), expected)| log_normal_of_one(value - expected, *sd))
            .sum();
        parts.push(facts);
        parts
    }

    /// The same if none of the causes is at work: each curve and each fact is as in a sound pull, or it is anything smooth or broken,
    /// one as likely as the other.
    pub(super) fn parts_of_anything(
        &self,
        scene: &Scene<'_>,
        sound: &ExpectedLog,
    ) -> Option<Vec<f64>> {
        let mut parts = Vec::new();
        for (index, curve) in scene.curves.iter().enumerate() {
            let off = residual(&curve.measured, &sound.curves[index]);
            let [smooth, broken] = &self.anything[index];
            let log = |c: &DMatrix<f64>| Some(log_normal(&c.clone().cholesky()?, &off));
            parts.push(log_mean(&[
                log(&self.honest[index])?,
                log(smooth)?,
                log(broken)?,
            ]));
        }
        let facts = scene
            .facts
            .iter()
            .map(|(fact, value, sd)| Self::fact_of_anything(*fact, *value, *sd))
            .sum();
        parts.push(facts);
        Some(parts)
    }

    /// Log-likelihood of a fact if none of the causes is at work.
    pub(super) fn fact_of_anything(fact: Fact, value: f64, sd: f64) -> f64 {
        let wide = if fact == Fact::Pressure {
            ANY_PRESSURE_PA
        } else {
            ANY_SHARE
        };
        log_mean(&[
            log_normal_of_one(value, sd),
            log_normal_of_one(value, sd.hypot(wide)),
        ])
    }

    /// Standard deviations of the bands of every curve about what a cause shows.
    pub(super) fn standard_deviations(
        &self,
        scene: &Scene<'_>,
        explained: &Explained,
    ) -> Vec<Vec<f64>> {
        let factors = self.factors(scene, explained.cause, &explained.shown);
        scene
            .curves
            .iter()
            .enumerate()
            .map(|(index, curve)| {
                factors.as_ref().map_or_else(
                    || vec![f64::INFINITY; curve.rpm.len()],
                    |factors| {
                        let l = factors[index].bent.l();
                        l.row_iter().map(|row| row.norm()).collect()
                    },
                )
            })
            .collect()
    }

    /// How far what a cause shows is from a sound pull, channel by channel: in honest standard deviations, and in its own unit.
    pub(super) fn loudness(&self, shown: &ExpectedLog) -> Vec<(f64, f64)> {
        self.honest
            .iter()
            .zip(&shown.curves)
            .zip(&self.sound)
            .map(|((c, shown), sound)| {
                let made = DVector::from_column_slice(shown) - sound;
                let white = c
                    .clone()
                    .cholesky()
                    .and_then(|f| f.l_dirty().solve_lower_triangular(&made));
                (white.map_or(0.0, |w| w.norm()), made.norm())
            })
            .collect()
    }

    /// For every curve, which of the two doubts makes what is seen likelier.
    pub(super) fn likelier<'f>(
        scene: &Scene<'_>,
        shown: &ExpectedLog,
        factors: &'f Factors,
    ) -> Vec<&'f Cholesky<f64, Dyn>> {
        let curves = scene.curves.iter().zip(&shown.curves).zip(factors);
        curves
            .map(|((curve, expected), doubted)| {
                let off = residual(&curve.measured, expected);
                let shaped = log_normal(&doubted.shaped, &off);
                if shaped > log_normal(&doubted.bent, &off) {
                    &doubted.shaped
                } else {
                    &doubted.bent
                }
            })
            .collect()
    }

    /// Whitened residuals of everything, for the slope of the search.
    pub(super) fn whitened(
        scene: &Scene<'_>,
        shown: &ExpectedLog,
        factors: &[&Cholesky<f64, Dyn>],
    ) -> Option<DVector<f64>> {
        let mut all = Vec::new();
        for ((curve, expected), factor) in scene.curves.iter().zip(&shown.curves).zip(factors) {
            let off = residual(&curve.measured, expected);
            all.extend(factor.l_dirty().solve_lower_triangular(&off)?.iter());
        }
        for ((_, value, sd), expected) in scene.facts.iter().zip(&shown.facts) {
            all.push((value - expected) / sd);
        }
        Some(DVector::from_vec(all))
    }
}

/// Adds to a covariance what a doubt of these sizes strays by, `s_i s_j b_ij`.
fn add_bent(c: &mut DMatrix<f64>, size: &DVector<f64>, bent: &DMatrix<f64>) {
    for (j, mut column) in c.column_iter_mut().enumerate() {
        for (i, value) in column.iter_mut().enumerate() {
            *value += size[i] * size[j] * bent[(i, j)];
        }
    }
}

/// Logarithm of the mean of likelihoods.
fn log_mean(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| (log - most).exp()).sum();
    most + (sum / logs.len() as f64).ln()
}

/// Running mean over a few neighbours.
pub(super) fn smoothed(values: &DVector<f64>) -> DVector<f64> {
    let half = SMOOTHED / 2;
    DVector::from_fn(values.len(), |i, _| {
        let (low, high) = (i.saturating_sub(half), (i + half + 1).min(values.len()));
        values.rows_range(low..high).mean()
    })
}

fn residual(measured: &[f64], expected: &[f64]) -> DVector<f64> {
    DVector::from_iterator(
        measured.len(),
        measured.iter().zip(expected).map(|(m, e)| m - e),
    )
}

/// Log-density of a normal at an offset from its mean.
pub(super) fn log_normal_of_one(off: f64, sd: f64) -> f64 {
    -0.5 * (off / sd).powi(2) - 0.5 * (TAU * sd * sd).ln()
}

/// Log-density of a multivariate normal at an offset from its mean.
fn log_normal(factor: &Cholesky<f64, Dyn>, off: &DVector<f64>) -> f64 {
    let l = factor.l_dirty();
    let white = l.solve_lower_triangular(off);
    let square = white.map_or(f64::INFINITY, |w| w.norm_squared());
    let log_det: f64 = (0..off.len()).map(|i| l[(i, i)].ln()).sum();
    -0.5 * square - log_det - 0.5 * off.len() as f64 * TAU.ln()
}
