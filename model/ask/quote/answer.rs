//! The answer of a quote: ranges over the draws, what they rest on, and what stands beside them.

use super::account::{self, Driver};
use super::draw::{Drawn, DrawnCar, Gauges, Side, Speeds, cars, means_of_cars};
use super::learned::{self, Faultless, OwnJobs};
use super::next::{self, Narrowing};
use super::range::{Fan, quantile};
use super::{Interactions, MOST_FAILED, Question, Range, ReadOn};
use crate::ask::basis::{Corrected, Weather};
use crate::ask::cautions::{Caution, NotIncluded, cautions, not_included};
use crate::ask::limits::{LimitLine, caps};
use crate::ask::miss::effects;
use crate::belief::{MeasuredSpeeds, Mechanism};
use crate::car::{Car, Limit, WorkRatios};
use crate::dyno::Pull;
use crate::dyno::correction::{Correction, Standard};
use crate::units;
use serde::Serialize;

/// A quote.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// What to tell the customer.
    pub promise: Promise,
    /// The peak somebody hopes for, and the chance to miss it; none where nobody named one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hoped: Option<Hoped>,
    /// What it was computed from.
    pub basis: Basis,
    /// Correction on the day before.
    pub correction_before: Corrected,
    /// Correction on the day after.
    pub correction_after: Corrected,
    /// Peaks before the work.
    pub before: Peaks,
    /// Peaks after it.
    pub after: Peaks,
    /// What gauges and logger should show at the peak after the work.
    pub expected: Expected,
    /// Peak power of the car itself without the work, in the air of the pull after, W.
    pub same_day_w: Range,
    /// Gain in peak power of the car itself, both pulls in the air of the pull after, W.
    pub gain_w: Range,
    /// The same, relative.
    pub gain: Range,
    /// Gain in peak torque of the car itself, N m.
    pub gain_nm: Range,
    /// Gain in peak power that the drums will show against the reading before, relative: another visit, its own air. The reading is that of the
    /// fitted car, of a first pull; where it ends short of the peak, the gain is that of the powers up to there.
    pub shown_gain: Range,
    /// Highest engine speed up to which that gain is told; none where the reading before reached the peak.
    pub shown_up_to_rpm: Option<f64>,
    /// Peaks that nobody measured near; none where the pulls reached them.
    pub extrapolated: Option<Extrapolated>,
    /// What the model may misjudge of this work, at the peak after, by mechanism.
    pub misjudged: Vec<Misjudged>,
    /// What the changes gain together and one by one; none for a plan of one change.
    pub interactions: Option<Interactions>,
    /// Power over engine speed.
    pub curve: Vec<CurvePoint>,
    /// Numbers whose doubt widens the gain most, widest first.
    pub drivers: Vec<Driver>,
    /// Logs of the car before the work that would narrow the gain, most first.
    pub next: Vec<Narrowing>,
    /// Limits met after the work.
    pub limits: Vec<LimitLine>,
    /// What was not looked at.
    pub not_included: Vec<NotIncluded>,
    /// What to mind.
    pub cautions: Vec<Caution>,
    /// Lowest speed of the pull after, rpm, where its torque is highest there: full load is still coming in then, and drums read less of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub torque_peaks_at_start_rpm: Option<f64>,
    /// What closed jobs of the shop changed of all this; none where nothing was learned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_jobs: Option<OwnJobs>,
    /// Why the ranges must not be promised all the same; none where they may.
    pub gate: Option<Gate>,
    /// Peak after the work in every reading of every draw, W, from the lowest up: what a reading is held against later.
    #[serde(skip)]
    pub peaks_w: Vec<f64>,
    /// What a reading of the finished work tells of the model.
    #[serde(skip)]
    pub faultless: Faultless,
}

/// Peaks beyond the speeds that were measured, rpm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Extrapolated {
    /// Where the car was measured.
    pub measured: MeasuredSpeeds,
    /// The peak before, where it lies beyond.
    pub before_rpm: Option<f64>,
    /// The peak after, where it lies beyond.
    pub after_rpm: Option<f64>,
}

impl Extrapolated {
    fn of(measured: MeasuredSpeeds, before: &Pull, after: &Pull) -> Option<Self> {
        let beyond = |pull: &Pull| {
            let peak = pull.peak_power()?.rpm;
            measured.ends_before(peak).then_some(peak)
        };
        let (before_rpm, after_rpm) = (beyond(before), beyond(after));
        (before_rpm.or(after_rpm).is_some()).then_some(Self {
            measured,
            before_rpm,
            after_rpm,
        })
    }
}

/// What the model may misjudge of a change through one mechanism.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Misjudged {
    /// Which.
    pub mechanism: Mechanism,
    /// What goes through it at the peak, as a share of power (a logarithm).
    pub effect: f64,
    /// Standard deviation of what is missed of it, likewise.
    pub doubt: f64,
}

/// What a customer is told first: the peak after the work as the drums will read it, and what it gains over the car without
/// the work on the same day. The same numbers stand in the tables.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Promise {
    /// The number to promise: nine pulls in ten reach it.
    pub sure: Sure,
    /// Peak power, uncorrected; the middle is the likeliest.
    pub power_w: Range,
    /// In the named correction.
    pub corrected_power_w: Range,
    /// The correction.
    pub correction: Standard,
    /// Gain in peak power.
    pub gain_w: Range,
    /// The same, relative.
    pub gain: Range,
    /// What caps the peak, at the middle of what is believed.
    pub capped_by: Vec<Limit>,
}

/// A reading reached with a stated chance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sure {
    /// The chance, 0 to 1.
    pub chance: f64,
    /// Peak power, uncorrected, W.
    pub power_w: f64,
    /// In the named correction, W.
    pub corrected_power_w: f64,
}

/// Effects on power below this are not told.
pub(super) const LEAST_EFFECT: f64 = 1e-4;

/// Chance with which a promise is kept.
const SURE: f64 = 0.9;

impl Sure {
    fn of(draws: &[Drawn], correction: &Correction) -> Self {
        let reached = |of: &dyn Fn(&Drawn) -> f64| {
            let mut drawn: Vec<f64> = draws.iter().map(of).collect();
            drawn.sort_by(f64::total_cmp);
            quantile(&drawn, 1.0 - SURE)
        };
        let read = |d: &Drawn| {
            let Side { scale, peak, .. } = &d.after;
            (scale * peak.power_w, scale * peak.electric_w)
        };
        Self {
            chance: SURE,
            power_w: reached(&|d| read(d).0),
            corrected_power_w: reached(&|d| {
                let (power, electric) = read(d);
                correction.apply(power - electric, electric).total_w
            }),
        }
    }
}

/// A peak that somebody hopes for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Hoped {
    /// Peak power, uncorrected, W.
    pub power_w: f64,
    /// Chance that the drums read less, 0 to 1.
    pub missed: f64,
    /// Its standard error, from the draws.
    pub missed_error: f64,
}

impl Hoped {
    /// Share of the readings below, with the standard error of a mean over cars: `√(Σ (pᵢ − p)²/n)/√n`, `pᵢ` the share of the readings of one.
    fn of(draws: &[Drawn], power_w: f64) -> Self {
        let below = |d: &Drawn| f64::from(u8::from(d.after.scale * d.after.peak.power_w < power_w));
        let of_cars = means_of_cars(draws, below);
        let count = of_cars.len() as f64;
        let missed = of_cars.iter().sum::<f64>() / count;
        let squares: f64 = of_cars.iter().map(|p| (p - missed).powi(2)).sum();
        Self {
            power_w,
            missed,
            missed_error: squares.sqrt() / count,
        }
    }
}

/// What the quote was computed from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Basis {
    /// The car's name.
    pub car: String,
    /// The plan's name.
    pub plan: String,
    /// The kinds of its changes, in an order that does not depend on that of the plan.
    pub changes: Vec<&'static str>,
    /// Whether the car's numbers come from a fit.
    pub fitted: bool,
    /// Peak power that was read before, uncorrected.
    pub read_before_w: Option<f64>,
    /// Where that was read.
    pub read_on: Option<ReadOn>,
    /// Air of the pull before.
    pub weather_before: Weather,
    /// Air of the pull after.
    pub weather_after: Weather,
    /// Repeatability from visit to visit, relative standard deviation.
    pub visit_repeatability: f64,
    /// Repeatability from pull to pull.
    pub pull_repeatability: f64,
    /// What the crank-angle cycle says of a part inside the cylinder; none where the plan has none.
    pub by_cycle: Option<ByCycle>,
    /// Draws used.
    pub draws: usize,
    /// Draws in which the car could not make the pull.
    pub draws_failed: usize,
    /// Seed of the draws.
    pub seed: u64,
}

/// How far the crank-angle cycle moved the indicated work of the plan's parts inside the cylinder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByCycle {
    /// From the lowest engine speed asked about up.
    pub points: Vec<WorkRatios>,
}

/// Peak figures of one pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peaks {
    /// Peak power as the drums will read it, W.
    pub power_w: Range,
    /// The same in the named correction; electric power is not corrected.
    pub corrected_power_w: Range,
    /// Electric share of that reading, W.
    pub electric_power_w: Range,
    /// What the standard would have added to the electric share, W, at the centre.
    pub electric_not_added_w: f64,
    /// Peak torque at engine speed, N m.
    pub torque_nm: Range,
    /// Engine speed of peak power, rpm.
    pub rpm: Range,
    /// Peak power of the engine at its crankshaft through the pull, W: no rig reads it.
    pub crank_power_w: Range,
    /// Peak torque there, N m.
    pub crank_torque_nm: Range,
}

/// What can be read beside the power at its peak after the work, to hold the car against while it is set up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Expected {
    /// Manifold pressure above the air outside; below zero on an engine without a blower.
    pub boost_pa: Range,
    /// Temperature of the intake air in the manifold.
    pub charge_k: Range,
    /// Share of a cycle for which the injectors are told to open; none where they are not known.
    pub injector_duty: Option<Range>,
}

/// One engine speed of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Engine speed.
    pub rpm: f64,
    /// Power before, where the pull before reaches it.
    pub before_w: Option<Fan>,
    /// Power after.
    pub after_w: Fan,
    /// Torque before, at engine speed.
    pub before_nm: Option<Fan>,
    /// Torque after, at engine speed.
    pub after_nm: Fan,
    /// Manifold pressure above the air outside, before.
    pub before_boost_pa: Option<Fan>,
    /// The same after; below zero on an engine without a blower.
    pub after_boost_pa: Fan,
    /// Temperature of the intake air in the manifold, before.
    pub before_charge_k: Option<Fan>,
    /// The same after.
    pub after_charge_k: Fan,
    /// Power at the crankshaft, before.
    pub before_crank_w: Option<Fan>,
    /// The same after.
    pub after_crank_w: Fan,
}

/// Why a quote must not pass for one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "gate")]
pub enum Gate {
    /// More than [`MOST_FAILED`] of the draws could not make the pull: those left speak for another car.
    DrawsFailed {
        /// Share of the draws, 0 to 1.
        share: f64,
    },
}

impl Answer {
    /// From the draws; `built` is the car after the work at the centre of all beliefs, with the pulls of the car before, of the same in the air after,
    /// of the car after, and of the same with nothing learned.
    pub(super) fn new(
        question: &Question<'_>,
        (built, [old, same_day, centre, general]): (&Car, [&Pull; 4]),
        (speeds, draws, made): (&Speeds, &[Drawn], usize),
        corrections: &(Correction, Correction),
        interactions: Option<Interactions>,
    ) -> Self {
        let range = |of: &dyn Fn(&Drawn) -> f64| Range::of(draws.iter().map(of).collect());
        let shown_w = |side: &Side| side.scale * side.peak.power_w;
        let before_w = |d: &Drawn| shown_w(&d.before);
        let after_w = |d: &Drawn| shown_w(&d.after);
        let gain = |d: &Drawn| d.after.peak.power_w / d.same_day.power_w - 1.0;
        let logs: Vec<_> = cars(draws).map(|car| car.logs).collect();
        let gains: Vec<f64> = draws.iter().map(gain).collect();
        let after = peaks(draws, |d| &d.after, &corrections.1);
        let gain_w = range(&|d| d.after.peak.power_w - d.same_day.power_w);
        let read_w = question.before.read_w;
        let up_to = question
            .before
            .read_over
            .filter(|read| read.ends_before(peak_rpm(old)))
            .map(|read| read.to_rpm);
        // The fitted curve is the reading with the noise of its peak and the heat of pulls in a row taken out; a car that was not fitted is
        // held against the reading itself. Against one that ends short of the peak only what was read can be held.
        let reading = read_w.filter(|_| !question.sheet.is_fitted());
        let shown = |d: &Drawn| {
            let (before, after) = up_to.map_or_else(
                || (before_w(d), after_w(d)),
                |rpm| {
                    let up_to = |side: &Side, speeds: &[f64]| {
                        side.scale * side.highest_up_to_w(speeds, rpm)
                    };
                    (
                        up_to(&d.before, &speeds.before),
                        up_to(&d.after, &speeds.after),
                    )
                },
            );
            after / reading.unwrap_or(before) - 1.0
        };
        let (before_pa, after_pa) = (
            question.before.air.day.station().pa(),
            question.after.day.station().pa(),
        );
        let basis = basis(question, built, (made, cars(draws).count()));
        let waves = question
            .doubts(question.noise.miss, question.plan, built)
            .waves;
        let faultless = learned::faultless(draws, (question.plan, waves), [same_day, general]);
        let own_jobs = question.learned.as_deref().map(|learned| {
            let without = learned::without(draws, super::draw::peak_w(general));
            learned::own_jobs(learned, &faultless, (after.power_w, without))
        });
        let failed = basis.draws_failed as f64 / made as f64;
        Self {
            promise: Promise {
                sure: Sure::of(draws, &corrections.1),
                power_w: after.power_w,
                corrected_power_w: after.corrected_power_w,
                correction: question.standard,
                gain_w,
                gain: range(&gain),
                capped_by: centre.peak_power().map(caps).unwrap_or_default(),
            },
            hoped: question.hoped_w.map(|hoped_w| Hoped::of(draws, hoped_w)),
            basis,
            correction_before: (&corrections.0).into(),
            correction_after: (&corrections.1).into(),
            before: peaks(draws, |d| &d.before, &corrections.0),
            after,
            expected: expected(draws, after_pa),
            same_day_w: range(&|d| d.same_day.power_w),
            gain_w,
            gain: range(&gain),
            gain_nm: range(&|d| d.after.peak.torque_nm - d.same_day.torque_nm),
            shown_gain: range(&shown),
            shown_up_to_rpm: up_to,
            extrapolated: question
                .sheet
                .measured
                .and_then(|measured| Extrapolated::of(measured, old, centre)),
            misjudged: misjudged(question, built, centre, same_day),
            interactions,
            curve: before_and_after(
                &curve(
                    (&speeds.before, before_pa),
                    draws,
                    |d| &d.before,
                    |car| &car.before,
                ),
                &curve(
                    (&speeds.after, after_pa),
                    draws,
                    |d| &d.after,
                    |car| &car.after,
                ),
            ),
            drivers: account::drivers(question.sheet, question.plan, draws, &gain),
            next: next::narrowings(&logs, &gains, &question.noise, &question.before.logged),
            limits: account::limits(centre, draws),
            not_included: not_included(question.plan, &question.sheet.centre.car, built),
            torque_peaks_at_start_rpm: account::torque_peaks_at_start(centre),
            cautions: cautions(centre, built),
            gate: (failed > MOST_FAILED).then_some(Gate::DrawsFailed { share: failed }),
            own_jobs,
            peaks_w: peaks_w(draws),
            faultless,
        }
    }
}

fn peaks_w(draws: &[Drawn]) -> Vec<f64> {
    let peak = |d: &Drawn| d.after.scale * d.after.peak.power_w;
    let mut peaks: Vec<f64> = draws.iter().map(peak).collect();
    peaks.sort_by(f64::total_cmp);
    peaks
}

fn basis(question: &Question<'_>, built: &Car, (made, used): (usize, usize)) -> Basis {
    let (plan, noise) = (question.plan, &question.noise);
    let by_cycle = built.engine.work_by_cycle.as_deref();
    Basis {
        car: question.sheet.centre.car.name.clone(),
        plan: plan.name.clone(),
        changes: plan.changes.iter().map(|change| change.kind().id).collect(),
        fitted: question.fitted(),
        read_before_w: question.before.read_w,
        read_on: question.before.read_on.clone(),
        weather_before: (&question.before.air).into(),
        weather_after: (&question.after).into(),
        visit_repeatability: noise.visit,
        pull_repeatability: noise.pull,
        by_cycle: by_cycle.map(|work| ByCycle {
            points: work.ratios().to_vec(),
        }),
        draws: used,
        draws_failed: made - used,
        seed: question.seed,
    }
}

fn peak_rpm(pull: &Pull) -> f64 {
    pull.peak_power().map_or(f64::NAN, |p| p.rpm)
}

/// What goes through each mechanism at the centre's peak, and what may be missed of it; those without a part are left out.
fn misjudged(question: &Question<'_>, built: &Car, after: &Pull, before: &Pull) -> Vec<Misjudged> {
    let doubts = question.doubts(question.noise.miss, question.plan, built);
    let learned = question.learned.as_deref();
    let doubt = |mechanism: Mechanism| {
        let told = learned.and_then(|learned| learned.told(mechanism));
        told.map_or(doubts.sizes.of(mechanism), |(_, bias, spread)| {
            bias.hypot(spread)
        })
    };
    let Some(peak) = after.peak_power() else {
        return Vec::new();
    };
    let effects = effects(before, peak, doubts.waves);
    Mechanism::ALL
        .into_iter()
        .map(|mechanism| {
            let effect = effects[mechanism as usize];
            Misjudged {
                mechanism,
                effect,
                doubt: doubt(mechanism) * effect.abs(),
            }
        })
        .filter(|line| line.effect.abs() > LEAST_EFFECT)
        .collect()
}

fn peaks(draws: &[Drawn], side: fn(&Drawn) -> &Side, correction: &Correction) -> Peaks {
    let range = |of: &dyn Fn(&Side) -> f64| {
        let drawn = draws.iter().map(|d| of(side(d)));
        Range::of(drawn.collect())
    };
    let power = |s: &Side| s.scale * s.peak.power_w;
    let electric = |s: &Side| s.scale * s.peak.electric_w;
    let (power_w, electric_power_w) = (range(&power), range(&electric));
    Peaks {
        power_w,
        corrected_power_w: range(&|s| {
            let electric = electric(s);
            correction.apply(power(s) - electric, electric).total_w
        }),
        electric_not_added_w: correction
            .apply(power_w.p50 - electric_power_w.p50, electric_power_w.p50)
            .electric_not_added_w,
        electric_power_w,
        torque_nm: range(&|s| s.scale * s.peak.torque_nm),
        rpm: range(&|s| s.peak.rpm),
        crank_power_w: range(&|s| s.peak.crank_w),
        crank_torque_nm: range(&|s| s.peak.crank_nm),
    }
}

fn expected(draws: &[Drawn], ambient_pa: f64) -> Expected {
    let range = |of: &dyn Fn(&Drawn) -> f64| Range::of(draws.iter().map(of).collect());
    let metered = draws.first().is_some_and(|d| d.injector_duty.is_some());
    Expected {
        boost_pa: range(&|d| d.manifold_pa - ambient_pa),
        charge_k: range(&|d| d.charge_k),
        injector_duty: metered.then(|| range(&|d| d.injector_duty.unwrap_or(f64::NAN))),
    }
}

/// One side of the curve at one of its own engine speeds.
struct Half {
    rpm: f64,
    power_w: Fan,
    boost_pa: Fan,
    charge_k: Fan,
    crank_w: Fan,
}

impl Half {
    /// Torque at engine speed, `P / ω`.
    fn torque_nm(&self) -> Fan {
        let speed_rad_s = units::rad_s(self.rpm);
        self.power_w.map(|w| w / speed_rad_s)
    }
}

/// Fans at the engine speeds of a curve; power as the drums read it, pressure above that of the air outside.
fn curve(
    (speeds, ambient_pa): (&[f64], f64),
    draws: &[Drawn],
    side: fn(&Drawn) -> &Side,
    gauges: fn(&DrawnCar) -> &Gauges,
) -> Vec<Half> {
    let fan = |of: &dyn Fn(&Side) -> f64| Fan::of(draws.iter().map(|d| of(side(d))).collect());
    let gauge =
        |of: &dyn Fn(&Gauges) -> f64| Fan::of(cars(draws).map(|car| of(gauges(car))).collect());
    let at = |(i, &rpm): (usize, &f64)| Half {
        rpm,
        power_w: fan(&|s| s.scale * s.curve_w[i]),
        boost_pa: gauge(&|g| g.manifold_pa[i] - ambient_pa),
        charge_k: gauge(&|g| g.charge_k[i]),
        crank_w: fan(&|s| s.crank_w[i]),
    };
    speeds.iter().enumerate().map(at).collect()
}

/// The curve after, with what is before at the nearest of its own engine speeds.
fn before_and_after(before: &[Half], after: &[Half]) -> Vec<CurvePoint> {
    let spacing = before
        .windows(2)
        .map(|pair| pair[1].rpm - pair[0].rpm)
        .fold(0.0, f64::max);
    let near = |rpm: f64| {
        before
            .iter()
            .min_by(|a, b| (a.rpm - rpm).abs().total_cmp(&(b.rpm - rpm).abs()))
            .filter(|half| (half.rpm - rpm).abs() <= 0.5 * spacing + 1e-9)
    };
    let point = |half: &Half| {
        let before = near(half.rpm);
        CurvePoint {
            rpm: half.rpm,
            before_w: before.map(|b| b.power_w),
            after_w: half.power_w,
            before_nm: before.map(Half::torque_nm),
            after_nm: half.torque_nm(),
            before_boost_pa: before.map(|b| b.boost_pa),
            after_boost_pa: half.boost_pa,
            before_charge_k: before.map(|b| b.charge_k),
            after_charge_k: half.charge_k,
            before_crank_w: before.map(|b| b.crank_w),
            after_crank_w: half.crank_w,
        }
    };
    after.iter().map(point).collect()
}
