//! One draw: the car's numbers, the plan's, two pulls and the drums' strays.
//!
//! What it takes from its stream of random numbers, and in which order, stands in `ask::draws`.

use super::{POINTS, Question};
pub(super) use crate::ask::draws::{built, complete};
use crate::ask::draws::{car, miss, relevel, stray, stream, work};
use crate::belief::prior::Prior;
use crate::build::{BuildError, Plan};
use crate::car::WorkByCycle;
use crate::dyno::{Conditions, Pull, Setup};
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
        let mut rng = stream(self.seed, index);
        let (z, setup) = car(self.sheet, &mut rng);
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
        let (plan, plan_z) = work(plan, &mut rng);
        let mut strayed = |sd: f64| stray(&mut rng, sd);
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
        miss(&mut after, &same_day, transfer);
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

pub(super) fn peak_w(pull: &Pull) -> f64 {
    pull.peak_power().map_or(f64::NAN, |p| p.power_w)
}

pub(super) fn peak_nm(pull: &Pull) -> f64 {
    pull.peak_torque().map_or(f64::NAN, |p| p.torque_nm)
}
