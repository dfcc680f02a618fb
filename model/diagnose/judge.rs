//! How likely a log is if a cause were so: the honest straying of readings, and the model's doubt about what a cause changes.
//!
//! The doubt goes by the change a cause makes, but by no more than what was seen. Held against its own large changes alone, a cause
//! would excuse itself by being wrong in a large way. It refuses correlations between channels.

use super::cause::{Cause, Origin};
use super::disturb::{ExpectedLog, Fault, Scene};
use super::doubted::{Doubted, WhitePart, log_mean, log_normal, log_normal_of_one};
use super::doubts::Doubts;
use super::expect::{Channel, Curve, Fact};
use super::form::Form;
use super::noise::{self, Straying, kinked_likeness, likeness};
use super::suspect::Explained;
use crate::numeric::straight_held;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// Doubt about what follows by arithmetic: settings, corrections, and a channel that is the fault itself.
const ARITHMETIC_DOUBT: f64 = 0.02;

/// Doubt of causes at work together in a channel: that of the one doubted most.
/// Equation (10.3).
pub(super) fn doubt_of(faults: &[Fault], channel: Channel, doubts: &Doubts) -> f64 {
    let each = faults.iter().map(|f| doubt(f.cause, channel, doubts));
    each.fold(ARITHMETIC_DOUBT, f64::max)
}

/// Doubt of a cause in a channel.
/// Equation (10.3).
pub(super) fn doubt(cause: Cause, channel: Channel, doubts: &Doubts) -> f64 {
    match (cause, channel) {
        (cause, _) if cause.place() == Origin::Rig => ARITHMETIC_DOUBT,
        (Cause::Lean | Cause::Rich, Channel::Lambda) | (Cause::BeltSlip, Channel::BlowerRatio) => {
            ARITHMETIC_DOUBT
        }
        // A degree of half the burn is about one of spark.
        (Cause::KnockRetard, Channel::Spark) => SPARK_DOUBT,
        (Cause::Lean | Cause::Rich | Cause::KnockRetard, Channel::Power)
        | (Cause::TyreSlip, Channel::DrumRatio) => doubts.burn,
        _ => doubts.model,
    }
}

/// The same for how far half the burn follows the spark (common practice, no source).
const SPARK_DOUBT: f64 = 0.1;
/// Charge temperature strays by this for every pascal by which the boost has moved, K: how much of the blower's heat reaches the
/// sensor is hardly known (common practice, no source).
const CHARGE_PER_BOOST: f64 = 1.2e-4;
/// Variance of that doubt which has kinks, over that which wanders.
const KINKS: f64 = 0.2;
/// How far a fact about the rig is off if anything may be wrong: pressure by that of 700 m of altitude, what is typed or implied by a
/// tenth (common practice, no source).
const ANY_PRESSURE_PA: f64 = 8e3;
const ANY_SHARE: f64 = 0.1;
/// Bands over which a change that is seen is smoothed, to be a measure of doubt.
const SMOOTHED: usize = 5;
/// How far slip at any load wanders about its mean, as a share of it: where it keeps still, as of a tyre that is worn, wet or too soft all along,
/// and where it takes any course (no source).
const KEEPS_STILL: f64 = 0.05;
const SLIDES: f64 = 0.7;
/// Change of the logarithm of power from which a fault moves where boost arrives by the whole doubt of its speed (no source).
const STIRRED: f64 = 0.05;
/// Honest standard deviations of a point within which a pull repeats, and of a fact; engine speeds at the start that are not asked, rpm.
const INSIDE: f64 = 2.0;
const FACT_INSIDE: f64 = 3.0;
const QUIET_RPM: f64 = 300.0;
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

/// Those of all curves.
pub(super) type Factors = Vec<Doubted>;
/// Covariances of all curves for a first look, factored.
pub(super) type Rough = Vec<Cholesky<f64, Dyn>>;

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
            if !scene.same_strapping {
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
            // What the model makes of another day is doubted as what it makes of a fault is.
            if let Some(weather) = scene.weather.get(honest.len()) {
                let doubted = DVector::from_column_slice(weather) * scene.doubts.weather;
                c.ger(1.0, &doubted, &doubted, 1.0);
            }
            anything
                .push(noise::of_anything(curve.channel, boost_pa, &curve.rpm).map(|any| any + &c));
            honest.push(c);
            bent.push(DMatrix::from_fn(bare.len(), bare.len(), |i, j| {
                let (a, b) = (curve.rpm[i], curve.rpm[j]);
                scene.doubts.shape * (likeness(a, b) + KINKS * kinked_likeness(a, b))
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
    /// is not excused for changing what stayed, nor for leaving what has changed. Of a fault at the rig and one in the car each is doubted by what
    /// it changes itself: `by_rig` is what the log would show of the first alone.
    /// Equation (10.3).
    pub(super) fn factors(
        &self,
        scene: &Scene<'_>,
        faults: &[Fault],
        shown: &ExpectedLog,
        by_rig: Option<&ExpectedLog>,
    ) -> Option<Factors> {
        let excuse = scene.doubts.excuse;
        let sound: Vec<DVector<f64>> = by_rig.map_or_else(
            || self.sound.clone(),
            |rig| {
                rig.curves
                    .iter()
                    .map(|c| DVector::from_column_slice(c))
                    .collect()
            },
        );
        let of_rig: Vec<DVector<f64>> = sound.iter().zip(&self.sound).map(|(a, b)| a - b).collect();
        let seen: Vec<DVector<f64>> = self.seen.iter().zip(&of_rig).map(|(s, r)| s - r).collect();
        let made = |index: usize| DVector::from_column_slice(&shown.curves[index]) - &sound[index];
        let change = |index: usize| excused(&made(index), &seen[index], excuse);
        let in_car = if by_rig.is_some() {
            &faults[1..]
        } else {
            faults
        };
        // Where boost arrives hangs on everything: a fault that changes much moves it.
        let spools = scene.setup.car.blower.turbo().is_some();
        let stirred = scene
            .curves
            .iter()
            .position(|c| c.channel == Channel::Power);
        let stirred = stirred.map_or(0.0, |index| (change(index).amax() / STIRRED).min(1.0));
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
                let share = doubt_of(in_car, curve.channel, &scene.doubts);
                let changed = change(index);
                let mut doubts = vec![&changed * share];
                if by_rig.is_some() {
                    let own = excused(&of_rig[index], &self.seen[index], excuse);
                    doubts.push(own * ARITHMETIC_DOUBT);
                }
                if share > ARITHMETIC_DOUBT {
                    let most = seen[index].amax();
                    doubts.push(moved_in_speed(
                        &curve.rpm,
                        &changed,
                        scene.doubts.speed,
                        most,
                    ));
                    if spools {
                        let by = scene.doubts.speed * stirred;
                        doubts.push(moved_in_speed(&curve.rpm, &sound[index], by, f64::INFINITY));
                    }
                }
                if let (Channel::Charge, Some(moved)) = (curve.channel, &boost)
                    && share > ARITHMETIC_DOUBT
                {
                    let here = curve.rpm.iter().map(|rpm| straight_held(moved, *rpm));
                    doubts.push(DVector::from_iterator(curve.rpm.len(), here) * CHARGE_PER_BOOST);
                }
                let slides = |f: &Fault| f.cause == Cause::TyreSlip && f.form == Form::AnyLoad;
                if curve.channel == Channel::DrumRatio && faults.iter().any(slides) {
                    // Slip at any load may keep still, or take any course about its mean.
                    let mean = made(index).mean();
                    let wanders = |share: f64, like: fn(f64, f64) -> f64| {
                        let rpm = &curve.rpm;
                        let mut c = self.honest[index].clone();
                        for (j, mut column) in c.column_iter_mut().enumerate() {
                            for (i, value) in column.iter_mut().enumerate() {
                                *value += (share * mean).powi(2) * like(rpm[i], rpm[j]);
                            }
                        }
                        c
                    };
                    return Doubted::of([
                        wanders(KEEPS_STILL, likeness),
                        wanders(SLIDES, likeness),
                        wanders(SLIDES, kinked_likeness),
                    ]);
                }
                let mut shaped = self.honest[index].clone();
                for size in &doubts {
                    shaped.ger(1.0, size, size, 1.0);
                }
                let mut bent = shaped.clone();
                for size in &doubts {
                    add_bent(&mut bent, size, &self.bent[index]);
                }
                Doubted::of([shaped, bent])
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
            .map(|((curve, expected), doubted)| doubted.log(&residual(&curve.measured, expected)))
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
        let (faults, shown) = (explained.faults(), &explained.shown);
        let factors = self.factors(scene, &faults, shown, explained.by_rig.as_deref());
        scene
            .curves
            .iter()
            .enumerate()
            .map(|(index, curve)| {
                factors.as_ref().map_or_else(
                    || vec![f64::INFINITY; curve.rpm.len()],
                    |factors| factors[index].standard_deviations(),
                )
            })
            .collect()
    }

    /// Whether every curve lies within what honest pulls stray by, point by point, and every fact too.
    /// Equation (10.4).
    pub(super) fn inside(&self, scene: &Scene<'_>) -> bool {
        let curves = self.honest.iter().zip(&self.seen).zip(&scene.curves);
        let quiet = |((c, seen), curve): ((&DMatrix<f64>, &DVector<f64>), &Curve)| {
            (0..seen.len())
                .filter(|i| curve.rpm[*i] > curve.rpm[0] + QUIET_RPM)
                .all(|i| seen[i].abs() <= INSIDE * c[(i, i)].sqrt())
        };
        curves.into_iter().all(quiet)
            && scene
                .facts
                .iter()
                .all(|(_, value, sd)| value.abs() <= FACT_INSIDE * sd)
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

    /// Covariances that hold the doubt of what was seen, and of that alone which a fault at the rig leaves, factored: for a first look at pairs.
    pub(super) fn rough(&self, scene: &Scene<'_>, by_rig: Option<&ExpectedLog>) -> Option<Rough> {
        let curves = self.honest.iter().zip(&scene.curves).enumerate();
        let factored = curves.map(|(index, (honest, curve))| {
            let of_rig = by_rig
                .map(|rig| DVector::from_column_slice(&rig.curves[index]) - &self.sound[index]);
            let rest = of_rig.map_or_else(|| self.seen[index].clone(), |r| &self.seen[index] - r);
            let doubt = rest * scene.doubts.model;
            let mut c = honest.clone();
            for (j, mut column) in c.column_iter_mut().enumerate() {
                for (i, value) in column.iter_mut().enumerate() {
                    *value += doubt[i] * doubt[j] * likeness(curve.rpm[i], curve.rpm[j]);
                }
            }
            c.cholesky()
        });
        factored.collect()
    }

    /// A change whitened, curve by curve and fact by fact.
    pub(super) fn whitened_change(
        &self,
        scene: &Scene<'_>,
        shown: &ExpectedLog,
        rough: &Rough,
    ) -> Option<DVector<f64>> {
        let made = shown.curves.iter().zip(&self.sound);
        let made: Vec<DVector<f64>> = made
            .map(|(shown, sound)| DVector::from_column_slice(shown) - sound)
            .collect();
        whitened_of(scene, &made, &shown.facts, rough)
    }

    /// Whether what a log would show leaves half of the power's change somewhere: two causes that do, each large and against the other, explain
    /// nothing, however wide their own doubts are.
    /// Equation (10.4).
    pub(super) fn leaves_half(&self, scene: &Scene<'_>, shown: &ExpectedLog) -> bool {
        let power = |(index, curve): (usize, &Curve)| {
            let made = DVector::from_column_slice(&shown.curves[index]) - &self.sound[index];
            let left = (&self.seen[index] - made).amax();
            curve.channel == Channel::Power && left > (LEFT * self.seen[index].amax()).max(STRAYS)
        };
        scene.curves.iter().enumerate().any(power)
    }

    /// What was seen, in the same way.
    pub(super) fn whitened_seen(&self, scene: &Scene<'_>, rough: &Rough) -> Option<DVector<f64>> {
        let seen: Vec<DVector<f64>> = scene
            .curves
            .iter()
            .zip(&self.sound)
            .map(|(curve, sound)| DVector::from_column_slice(&curve.measured) - sound)
            .collect();
        let facts: Vec<f64> = scene.facts.iter().map(|f| f.1).collect();
        whitened_of(scene, &seen, &facts, rough)
    }

    /// For every curve, the doubt that makes what is seen likeliest.
    pub(super) fn likeliest<'f>(
        scene: &Scene<'_>,
        shown: &ExpectedLog,
        factors: &'f Factors,
    ) -> Option<Vec<&'f Cholesky<f64, Dyn>>> {
        let curves = scene.curves.iter().zip(&shown.curves).zip(factors);
        let each = curves.map(|((curve, expected), doubted)| {
            doubted.likeliest(&residual(&curve.measured, expected))
        });
        each.collect()
    }

    /// Whitened residuals of every curve in every way of doubt, and of the facts together; each with its log-density where there is none.
    pub(super) fn white_parts(
        scene: &Scene<'_>,
        shown: &ExpectedLog,
        factors: &Factors,
    ) -> Option<(Vec<Vec<WhitePart>>, WhitePart)> {
        let curves = scene.curves.iter().zip(&shown.curves).zip(factors);
        let curves = curves
            .map(|((curve, expected), doubted)| doubted.white(&residual(&curve.measured, expected)))
            .collect::<Option<Vec<_>>>()?;
        let facts = scene.facts.iter().zip(&shown.facts);
        let white = facts.map(|((_, value, sd), expected)| (value - expected) / sd);
        let levels = scene
            .facts
            .iter()
            .map(|(_, _, sd)| log_normal_of_one(0.0, *sd));
        let facts = WhitePart {
            level: levels.sum(),
            white: DVector::from_iterator(scene.facts.len(), white),
        };
        Some((curves, facts))
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

/// The part of a change that doubts it, by what was seen. Its sign stays: a change made too large is too large on both sides of where it turns.
/// Equation (10.3).
fn excused(made: &DVector<f64>, seen: &DVector<f64>, excuse: f64) -> DVector<f64> {
    made.zip_map(seen, |made, seen| {
        let less = made.abs().min(seen.abs());
        let excused = (made.abs() / less.max(f64::MIN_POSITIVE)).powf(excuse);
        made.signum() * (less * excused).min(made.abs())
    })
}

/// What a change moves by where it happens at another engine speed, a share of the speed away; by no more than the most that was seen.
/// Equation (10.3).
fn moved_in_speed(rpm: &[f64], change: &DVector<f64>, share: f64, most: f64) -> DVector<f64> {
    let n = rpm.len();
    DVector::from_fn(n, |i, _| {
        let (a, b) = (i.saturating_sub(2), (i + 2).min(n - 1));
        let slope = (change[b] - change[a]) / (rpm[b] / rpm[a]).ln();
        (share * slope).clamp(-most, most)
    })
}

/// Adds to a covariance what a doubt of these sizes strays by, `s_i s_j b_ij`.
fn add_bent(c: &mut DMatrix<f64>, size: &DVector<f64>, bent: &DMatrix<f64>) {
    for (j, mut column) in c.column_iter_mut().enumerate() {
        for (i, value) in column.iter_mut().enumerate() {
            *value += size[i] * size[j] * bent[(i, j)];
        }
    }
}

fn whitened_of(
    scene: &Scene<'_>,
    curves: &[DVector<f64>],
    facts: &[f64],
    rough: &Rough,
) -> Option<DVector<f64>> {
    let mut all = Vec::new();
    for (factor, change) in rough.iter().zip(curves) {
        all.extend(factor.l_dirty().solve_lower_triangular(change)?.iter());
    }
    let facts = scene.facts.iter().zip(facts);
    all.extend(facts.map(|((_, _, sd), value)| value / sd));
    Some(DVector::from_vec(all))
}

/// Share of the greatest change of power that no pair may leave: of half of it nothing is explained.
/// Equation (10.4).
const LEFT: f64 = 0.5;
/// What a smoothed reading of power may stray by without a cause, logarithm (common practice, no source).
const STRAYS: f64 = 0.03;

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
