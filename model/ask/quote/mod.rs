//! The range to promise: what a car will read after a planned build, and how much it gains.
//!
//! Before and after are drawn together: one draw of the car's numbers, one of the plan's, two pulls. What is uncertain
//! about the car and common to both pulls so cancels in the gain, as it will on the drums. What does not cancel, the
//! repeatability of another visit, is added to what the drums will show. A fitted car's draws are anchored: each keeps
//! its own ratio of after to before, and takes its level from the fitted curve, because a straight approximation
//! of a bent posterior knows ratios better than levels. Draws are numbered, so the same seed gives the same quote.

mod account;
pub mod dial;
pub mod interactions;
mod range;
pub mod reach;

pub use account::{Driver, Kind, LimitSeen};
pub use dial::{Dial, DialError};
pub use interactions::{Interactions, Together};
pub use range::Range;
pub use reach::{Answer, Reach, Reached};

use crate::air::Day;
use crate::belief::Noise;
use crate::belief::prior::Prior;
use crate::belief::sheet::{Sheet, standard_normal};
use crate::build::{BuildError, Plan};
use crate::car::WorkByCycle;
use crate::dyno::correction::{Correction, CorrectionError, Standard, Subject};
use crate::dyno::{Conditions, Pull, PullError, Setup};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;

/// Engine speeds at which pulls are simulated.
const POINTS: usize = 28;
/// Fewest draws from which fifth and ninety-fifth percentiles are told.
pub const LEAST_DRAWS: usize = 50;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// The car, fitted or not.
    pub sheet: &'a Sheet,
    /// The planned work.
    pub plan: &'a Plan<Prior>,
    /// The air of the pull before.
    pub before_day: Day,
    /// The air of the pull after.
    pub after_day: Day,
    /// How both pulls are started.
    pub conditions: Conditions,
    /// Peak power that was read before, W, where there is a reading; the model's own otherwise.
    pub read_before_w: Option<f64>,
    /// Repeatability of the drums.
    pub noise: Noise,
    /// Correction in which the figures are also stated.
    pub standard: Standard,
    /// Engine as the standard sees it before and after.
    pub subjects: (Subject, Subject),
    /// Number of draws.
    pub draws: usize,
    /// Seed of the draws.
    pub seed: u64,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Quote {
    /// Peaks before the work.
    pub before: Peaks,
    /// Peaks after the work.
    pub after: Peaks,
    /// Gain in peak power of the car itself, both pulls in the air of the pull after, W.
    pub gain_w: Range,
    /// The same, relative.
    pub gain: Range,
    /// Gain in peak torque of the car itself, N m.
    pub gain_nm: Range,
    /// Gain in peak power that the drums will show against the reading before, relative: another visit, its own air.
    pub shown_gain: Range,
    /// Power over engine speed after the work: engine speed, and the range of readings, W.
    pub curve: Vec<(f64, Range)>,
    /// Power over engine speed before the work.
    pub curve_before: Vec<(f64, Range)>,
    /// Numbers whose doubt widens the gain most, widest first.
    pub drivers: Vec<Driver>,
    /// Limits met after the work.
    pub limits: Vec<LimitSeen>,
    /// Correction on the two days.
    pub corrections: (Correction, Correction),
    /// Draws that could be used.
    pub used: usize,
    /// Draws in which the car could not make the pull.
    pub failed: usize,
    /// The pull after at the centre of all beliefs.
    pub centre: Pull,
    /// What the crank-angle cycle says of the plan's change inside the cylinder; none where there is no such change.
    pub by_cycle: Option<Arc<WorkByCycle>>,
}

/// Peak figures of one pull.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peaks {
    /// Peak power as the drums will read it, W.
    pub power_w: Range,
    /// The same in the named correction; electric power is not corrected.
    pub corrected_w: Range,
    /// What the standard would have added to the electric share, W, at the centre.
    pub electric_not_added_w: f64,
    /// Electric share of that reading, W.
    pub electric_w: Range,
    /// Peak torque at engine speed, N m.
    pub torque_nm: Range,
    /// Engine speed of peak power, rpm.
    pub rpm: Range,
}

/// Why there is no quote.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuoteError {
    /// The plan does not fit the car.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// The car cannot make the pull at the centre of its beliefs.
    #[error(transparent)]
    Pull(#[from] PullError),
    /// The standard does not say what to do with this engine.
    #[error(transparent)]
    Correction(#[from] CorrectionError),
    /// Too many draws failed to tell a range.
    #[error(
        "{failed} of {draws} draws could not make the pull; at least {LEAST_DRAWS} are needed for a range"
    )]
    TooFewDraws {
        /// Draws that failed.
        failed: usize,
        /// Draws made.
        draws: usize,
    },
}

/// One draw: both pulls and the repeatability that goes with them.
struct Draw {
    z: Vec<f64>,
    plan_z: Vec<f64>,
    /// What the model misses of the change, in powers of it.
    transfer: f64,
    before: Pull,
    /// The car before, in the air of the pull after.
    same_day: Pull,
    after: Pull,
    /// Reading over the car's own power, before and after.
    before_scale: f64,
    after_scale: f64,
}

/// What a draw of the car is before any plan: its random numbers from there on, its pulls without the work.
#[derive(Clone)]
struct Base {
    rng: ChaCha8Rng,
    z: Vec<f64>,
    setup: Setup,
    before: Pull,
    same_day: Pull,
}

impl Question<'_> {
    /// Answers the question.
    pub fn answer(&self) -> Result<Quote, QuoteError> {
        let centre_plan = self.plan.map(|_, _, prior| prior.centre());
        let built = self.centre_built(&centre_plan)?;
        let by_cycle = built.car.engine.work_by_cycle.clone();
        let centre = built.pull(&self.after_day, &self.ends(&built), POINTS)?;
        let before =
            self.sheet
                .centre
                .pull(&self.before_day, &self.ends(&self.sheet.centre), POINTS)?;
        let anchor = self.sheet.is_fitted().then_some(&before);
        let corrections = (
            Correction::new(self.standard, self.before_day, &self.subjects.0)?,
            Correction::new(self.standard, self.after_day, &self.subjects.1)?,
        );
        let draws: Vec<Draw> = (0..self.draws as u64)
            .filter_map(|index| self.draw(index, anchor, by_cycle.as_ref()))
            .collect();
        let failed = self.draws - draws.len();
        if draws.len() < LEAST_DRAWS {
            return Err(QuoteError::TooFewDraws {
                failed,
                draws: self.draws,
            });
        }
        let range = |of: &dyn Fn(&Draw) -> f64| Range::of(draws.iter().map(of).collect());
        let before_w = |d: &Draw| d.before_scale * peak_w(&d.before);
        let after_w = |d: &Draw| d.after_scale * peak_w(&d.after);
        let gain = |d: &Draw| peak_w(&d.after) / peak_w(&d.same_day) - 1.0;
        Ok(Quote {
            before: peaks(&draws, &|d| (&d.before, d.before_scale), &corrections.0),
            after: peaks(&draws, &|d| (&d.after, d.after_scale), &corrections.1),
            gain_w: range(&|d| peak_w(&d.after) - peak_w(&d.same_day)),
            gain: range(&gain),
            gain_nm: range(&|d| peak_nm(&d.after) - peak_nm(&d.same_day)),
            shown_gain: range(&|d| {
                after_w(d) / self.read_before_w.unwrap_or_else(|| before_w(d)) - 1.0
            }),
            curve: curve(&draws, &|d| (&d.after, d.after_scale)),
            curve_before: curve(&draws, &|d| (&d.before, d.before_scale)),
            drivers: account::drivers(self.sheet, self.plan, &draws, &gain),
            limits: account::limits(&centre, &draws),
            corrections,
            used: draws.len(),
            failed,
            centre,
            by_cycle,
        })
    }

    /// The car at the centre of its beliefs after a plan, what the plan changes inside the cylinder asked of the crank-angle cycle.
    fn centre_built(&self, plan: &Plan<f64>) -> Result<Setup, BuildError> {
        let before = &self.sheet.centre;
        Ok(Setup {
            car: plan.apply_by_cycle(&before.car, self.after_day)?,
            drums: before.drums,
        })
    }

    /// The pull's start, ended at the car's own redline.
    fn ends(&self, setup: &Setup) -> Conditions {
        Conditions {
            to_rpm: setup.car.engine.redline_rpm,
            ..self.conditions
        }
    }

    fn draw(
        &self,
        index: u64,
        anchor: Option<&Pull>,
        by_cycle: Option<&Arc<WorkByCycle>>,
    ) -> Option<Draw> {
        self.finish(self.base(index)?, self.plan, anchor, by_cycle)
    }

    /// The part of a draw that does not depend on the plan.
    fn base(&self, index: u64) -> Option<Base> {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(index);
        let z = self.sheet.draw(&mut rng);
        let mut setup = self.sheet.setup_at(&z);
        // Made anew on both sides of the work, or the table alone would move the gain.
        setup.car.retabulate_knock();
        let before = complete(setup.pull(&self.before_day, &self.ends(&setup), POINTS))?;
        let same_day = complete(setup.pull(&self.after_day, &self.ends(&setup), POINTS))?;
        Some(Base {
            rng,
            z,
            setup,
            before,
            same_day,
        })
    }

    /// The rest of it: the plan's own numbers, the drums' strays, the pull after. What the crank-angle cycle says of the plan's
    /// centre stands for all draws.
    /// Equation (8.6).
    fn finish(
        &self,
        base: Base,
        plan: &Plan<Prior>,
        anchor: Option<&Pull>,
        by_cycle: Option<&Arc<WorkByCycle>>,
    ) -> Option<Draw> {
        let Base {
            mut rng,
            z,
            setup,
            mut before,
            mut same_day,
        } = base;
        let mut plan_z = Vec::new();
        let plan = plan.map(|_, _, prior| {
            let x = prior.sample(&mut rng);
            plan_z.push(prior.to_z(x));
            x
        });
        let mut strayed = |sd: f64| sd * standard_normal(&mut rng);
        let (old_visit, new_visit) = (strayed(self.noise.visit), strayed(self.noise.visit));
        let (old_pull, new_pull) = (strayed(self.noise.pull), strayed(self.noise.pull));
        let transfer = strayed(self.noise.transfer);
        let mut built = built(&setup, &plan).ok()?;
        built.car.engine.work_by_cycle = by_cycle.cloned();
        let mut after = complete(built.pull(&self.after_day, &self.ends(&built), POINTS))?;
        if let Some(anchor) = anchor {
            let drawn = before.clone();
            // The fitted curve is what the drums showed on the old visit: the car's own is less that visit's stray.
            let level = |rpm: f64| {
                let power = |pull: &Pull| pull.reading(rpm, |p| p.power_w);
                power(anchor) / power(&drawn) * (-old_visit).exp()
            };
            for pull in [&mut before, &mut same_day, &mut after] {
                relevel(pull, level);
            }
        }
        // What the model may miss of the step from before to after, wherever there is a step.
        let drawn = after.clone();
        relevel(&mut after, |rpm| {
            let power = |pull: &Pull| pull.reading(rpm, |p| p.power_w);
            (power(&drawn) / power(&same_day)).powf(transfer)
        });
        Some(Draw {
            before_scale: (old_visit + old_pull).exp(),
            after_scale: (new_visit + new_pull).exp(),
            z,
            plan_z,
            transfer,
            before,
            same_day,
            after,
        })
    }
}

/// Multiplies the readings of a pull by a factor of engine speed. The electric share stays: neither an engine's misfit nor
/// work on it moves a motor. Where a power is not positive there is no ratio, and the reading stays too.
fn relevel(pull: &mut Pull, level: impl Fn(f64) -> f64) {
    for point in &mut pull.points {
        let factor = Some(level(point.rpm))
            .filter(|factor| factor.is_finite() && *factor > 0.0)
            .unwrap_or(1.0);
        point.power_w *= factor;
        point.torque_nm *= factor;
    }
}

/// The car on its drums after the planned work.
fn built(before: &Setup, plan: &Plan<f64>) -> Result<Setup, BuildError> {
    Ok(Setup {
        car: plan.apply(&before.car)?,
        drums: before.drums,
    })
}

/// A pull with points enough to speak of peaks.
fn complete(pull: Result<Pull, PullError>) -> Option<Pull> {
    pull.ok().filter(|p| p.points.len() >= 4)
}

fn peak_w(pull: &Pull) -> f64 {
    pull.peak_power().map_or(f64::NAN, |p| p.power_w)
}

fn peak_nm(pull: &Pull) -> f64 {
    pull.peak_torque().map_or(f64::NAN, |p| p.torque_nm)
}

/// A draw's pull and the scale of its reading.
type Side<'a> = &'a dyn Fn(&Draw) -> (&Pull, f64);

fn peaks(draws: &[Draw], side: Side<'_>, correction: &Correction) -> Peaks {
    let at_peak = |d: &Draw| {
        let (pull, scale) = side(d);
        let point = pull.peak_power();
        (
            point.map_or(f64::NAN, |p| scale * p.power_w),
            point.map_or(0.0, |p| scale * p.electric_w),
            point.map_or(f64::NAN, |p| p.rpm),
        )
    };
    let range = |of: &dyn Fn(&Draw) -> f64| Range::of(draws.iter().map(of).collect());
    let electric_w = range(&|d| at_peak(d).1);
    let power_w = range(&|d| at_peak(d).0);
    Peaks {
        power_w,
        corrected_w: range(&|d| {
            let (power, electric, _) = at_peak(d);
            correction.apply(power - electric, electric).total_w
        }),
        electric_not_added_w: correction
            .apply(power_w.p50 - electric_w.p50, electric_w.p50)
            .electric_not_added_w,
        electric_w,
        torque_nm: range(&|d| {
            let (pull, scale) = side(d);
            scale * peak_nm(pull)
        }),
        rpm: range(&|d| at_peak(d).2),
    }
}

fn curve(draws: &[Draw], side: Side<'_>) -> Vec<(f64, Range)> {
    let Some((first, _)) = draws.first().map(side) else {
        return Vec::new();
    };
    first
        .points
        .iter()
        .map(|point| {
            let at = |d: &Draw| {
                let (pull, scale) = side(d);
                scale * pull.reading(point.rpm, |p| p.power_w)
            };
            (point.rpm, Range::of(draws.iter().map(at).collect()))
        })
        .collect()
}
