//! One draw: the car's numbers, the plan's, two pulls and the drums' strays.
//!
//! Draws are numbered and each has its own stream of random numbers, so one more draw changes none of the others.

use super::{POINTS, Question};
use crate::belief::prior::Prior;
use crate::belief::sheet::standard_normal;
use crate::car::WorkByCycle;
use crate::dyno::{Conditions, Pull, PullError, Setup};
use crate::parts::{BuildError, Plan};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;

/// One draw: both pulls and the repeatability that goes with them.
pub(super) struct Draw {
    pub(super) z: Vec<f64>,
    pub(super) plan_z: Vec<f64>,
    /// What the model misses of the change, in powers of it.
    pub(super) transfer: f64,
    pub(super) before: Pull,
    /// The car before, in the air of the pull after.
    pub(super) same_day: Pull,
    pub(super) after: Pull,
    /// Reading over the car's own power, before and after.
    pub(super) before_scale: f64,
    pub(super) after_scale: f64,
}

/// What a draw of the car is before any plan: its random numbers from there on, its pulls without the work.
#[derive(Clone)]
pub(super) struct Base {
    pub(super) rng: ChaCha8Rng,
    pub(super) z: Vec<f64>,
    pub(super) setup: Setup,
    pub(super) before: Pull,
    pub(super) same_day: Pull,
}

impl Question<'_> {
    /// The car at the centre of its beliefs after a plan, what the plan changes inside the cylinder asked of the crank-angle cycle.
    pub(super) fn centre_built(&self, plan: &Plan<f64>) -> Result<Setup, BuildError> {
        let before = &self.sheet.centre;
        Ok(Setup {
            car: plan.apply_by_cycle(&before.car, self.after.day)?,
            drums: before.drums,
        })
    }

    /// The pull's start, ended at the car's own redline.
    pub(super) fn ends(&self, setup: &Setup) -> Conditions {
        Conditions {
            to_rpm: setup.car.engine.redline_rpm,
            ..self.before.conditions
        }
    }

    pub(super) fn draw(
        &self,
        index: u64,
        anchor: Option<&Pull>,
        by_cycle: Option<&Arc<WorkByCycle>>,
    ) -> Option<Draw> {
        self.finish(self.base(index)?, self.plan, anchor, by_cycle)
    }

    /// The part of a draw that does not depend on the plan.
    pub(super) fn base(&self, index: u64) -> Option<Base> {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(index);
        let z = self.sheet.draw(&mut rng);
        let mut setup = self.sheet.setup_at(&z);
        // Made anew on both sides of the work, or the table alone would move the gain.
        setup.car.retabulate_knock();
        let before = complete(setup.pull(&self.before.air.day, &self.ends(&setup), POINTS))?;
        let same_day = complete(setup.pull(&self.after.day, &self.ends(&setup), POINTS))?;
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
    pub(super) fn finish(
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
        let mut after = complete(built.pull(&self.after.day, &self.ends(&built), POINTS))?;
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
pub(super) fn built(before: &Setup, plan: &Plan<f64>) -> Result<Setup, BuildError> {
    Ok(Setup {
        car: plan.apply(&before.car)?,
        drums: before.drums,
    })
}

/// A pull with points enough to speak of peaks.
pub(super) fn complete(pull: Result<Pull, PullError>) -> Option<Pull> {
    pull.ok().filter(|p| p.points.len() >= 4)
}

pub(super) fn peak_w(pull: &Pull) -> f64 {
    pull.peak_power().map_or(f64::NAN, |p| p.power_w)
}

pub(super) fn peak_nm(pull: &Pull) -> f64 {
    pull.peak_torque().map_or(f64::NAN, |p| p.torque_nm)
}
