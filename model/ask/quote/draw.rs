//! One draw: the car's numbers, the plan's, two pulls and the drums' strays.
//!
//! What it takes from its stream of random numbers, and in which order, stands in `ask::draws`.

use super::next::{Shown, shown};
use super::{POINTS, Question};
use crate::ask::draws::{AtCentre, anchored, car, relevel, stray, stream, work};
pub(super) use crate::ask::draws::{built, complete};
use crate::ask::miss::{Doubts, Missed};
use crate::belief::prior::Prior;
use crate::belief::{Mechanism, Miss};
use crate::car::Car;
use crate::car::limit::Limits;
use crate::dyno::{Conditions, Pull, PullPoint, Setup};
use crate::numeric::straight_between;
use crate::parts::{BuildError, Plan};
use crate::units;
use rand_chacha::ChaCha8Rng;

/// One draw while it is made: both pulls and the repeatability that goes with them.
pub(super) struct Draw {
    pub(super) z: Vec<f64>,
    pub(super) plan_z: Vec<f64>,
    /// What the model misses.
    pub(super) missed: Missed,
    pub(super) before: Pull,
    /// The car before, in the air of the pull after.
    pub(super) same_day: Pull,
    pub(super) after: Pull,
    /// How much of it.
    pub(super) sizes: Miss,
    /// Highest power after with what is missed in general, and with mechanisms that miss nothing, W.
    pub(super) general_w: f64,
    pub(super) faultless_w: f64,
    /// Reading over the car's own power: before, of the mean of what was read, and after.
    pub(super) before_scale: f64,
    pub(super) after_scale: f64,
}

/// What an answer needs of a draw, a fiftieth of the pulls it is taken from.
pub(super) struct Drawn {
    pub(super) z: Vec<f64>,
    pub(super) plan_z: Vec<f64>,
    /// Highest power after with what is missed in general, and with mechanisms that miss nothing, W.
    pub(super) general_w: f64,
    pub(super) faultless_w: f64,
    /// What the model misses at the peak after, by mechanism, as a share of its effect.
    pub(super) missed: [f64; Mechanism::ALL.len()],
    pub(super) before: Side,
    /// Peaks of the car before, in the air of the pull after.
    pub(super) same_day: Peak,
    pub(super) after: Side,
    /// At the peak after: manifold pressure, temperature there, share of the cycle for which injectors open.
    pub(super) manifold_pa: f64,
    pub(super) charge_k: f64,
    pub(super) injector_duty: Option<f64>,
    /// Limits met after.
    pub(super) limits: Limits,
    /// What logs of the car before would show.
    pub(super) logs: Shown,
}

/// One pull of a draw, the car's own, and the scale of its reading.
pub(super) struct Side {
    pub(super) scale: f64,
    pub(super) peak: Peak,
    /// Power at the engine speeds of the curve, W.
    pub(super) curve_w: Vec<f64>,
    /// The same at the crankshaft.
    pub(super) crank_w: Vec<f64>,
    /// Absolute manifold pressure there, Pa.
    pub(super) manifold_pa: Vec<f64>,
    /// Temperature of the intake air in the manifold there, K.
    pub(super) charge_k: Vec<f64>,
}

/// What a pull peaks at.
#[derive(Clone, Copy)]
pub(super) struct Peak {
    pub(super) power_w: f64,
    pub(super) electric_w: f64,
    pub(super) rpm: f64,
    pub(super) torque_nm: f64,
    /// Highest power and torque at the crankshaft, W and N m.
    pub(super) crank_w: f64,
    pub(super) crank_nm: f64,
}

/// Engine speeds of the curves before and after, rpm: those of the first draw.
#[derive(Default)]
pub(super) struct Speeds {
    pub(super) before: Vec<f64>,
    pub(super) after: Vec<f64>,
}

impl Speeds {
    pub(super) fn of(draw: &Draw) -> Self {
        let speeds = |pull: &Pull| pull.points.iter().map(|p| p.rpm).collect();
        Self {
            before: speeds(&draw.before),
            after: speeds(&draw.after),
        }
    }
}

impl Peak {
    pub(super) fn of(pull: &Pull) -> Self {
        let point = pull.peak_power();
        let highest =
            |of: fn(&PullPoint) -> f64| pull.points.iter().map(of).fold(f64::NAN, f64::max);
        Self {
            power_w: point.map_or(f64::NAN, |p| p.power_w),
            electric_w: point.map_or(0.0, |p| p.electric_w),
            rpm: point.map_or(f64::NAN, |p| p.rpm),
            torque_nm: pull.peak_torque().map_or(f64::NAN, |p| p.torque_nm),
            crank_w: highest(|p| p.crank_w),
            crank_nm: highest(|p| p.crank_w / units::rad_s(p.rpm)),
        }
    }
}

impl Side {
    fn of(pull: &Pull, scale: f64, speeds: &[f64]) -> Self {
        let at = |of: fn(&PullPoint) -> f64| -> Vec<f64> {
            speeds.iter().map(|&rpm| pull.reading(rpm, of)).collect()
        };
        Self {
            scale,
            peak: Peak::of(pull),
            curve_w: at(|p| p.power_w),
            crank_w: at(|p| p.crank_w),
            manifold_pa: at(|p| p.engine.manifold_pa),
            charge_k: at(|p| p.engine.charge_k),
        }
    }
}

impl Side {
    /// Highest power up to an engine speed, W, before the scale of the reading.
    pub(super) fn highest_up_to_w(&self, speeds: &[f64], rpm: f64) -> f64 {
        let below = speeds.partition_point(|&at| at <= rpm);
        let there = straight_between(speeds, &self.curve_w, rpm);
        let within = self.curve_w[..below].iter().copied();
        within.chain(there).fold(f64::NAN, f64::max)
    }
}

impl Draw {
    /// What an answer needs of it, curves at given engine speeds.
    pub(super) fn kept(self, speeds: &Speeds) -> Drawn {
        let at = self.after.peak_power().map_or(1.0, |p| p.rpm);
        let engine = self.after.peak_power().map(|p| &p.engine);
        Drawn {
            before: Side::of(&self.before, self.before_scale, &speeds.before),
            same_day: Peak::of(&self.same_day),
            after: Side::of(&self.after, self.after_scale, &speeds.after),
            manifold_pa: engine.map_or(f64::NAN, |e| e.manifold_pa),
            charge_k: engine.map_or(f64::NAN, |e| e.charge_k),
            injector_duty: engine.and_then(|e| e.injector_duty),
            limits: self.after.limits,
            logs: shown(&self.before),
            z: self.z,
            plan_z: self.plan_z,
            general_w: self.general_w,
            faultless_w: self.faultless_w,
            missed: Mechanism::ALL.map(|mechanism| self.missed.of(mechanism, at, &self.sizes)),
        }
    }
}

/// What a draw of the car is before any plan: its random numbers from there on, its pulls without the work.
#[derive(Clone)]
pub(super) struct Base {
    pub(super) index: usize,
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

    /// What the model may miss of a plan.
    pub(super) fn doubts<T>(&self, sizes: Miss, plan: &Plan<T>, built: &Car) -> Doubts {
        Doubts::of(sizes, Some(plan), built, self.sheet.measured)
    }

    /// What a numbered draw misses: as the shop's own jobs say, or in general.
    fn sizes(&self, index: usize) -> Miss {
        self.learned
            .as_ref()
            .map_or(self.noise.miss, |learned| learned.miss(index))
    }

    /// The pull's start, ended at the car's own redline.
    pub(super) fn ends(&self, setup: &Setup) -> Conditions {
        Conditions {
            to_rpm: setup.car.engine.redline_rpm,
            ..self.before.conditions
        }
    }

    /// The part of a draw that does not depend on the plan.
    pub(super) fn base(&self, index: usize) -> Option<Base> {
        let mut rng = stream(self.seed, index as u64);
        let (z, setup) = car(self.sheet, &mut rng);
        let before = complete(setup.pull(&self.before.air.day, &self.ends(&setup), POINTS))?;
        let same_day = complete(setup.pull(&self.after.day, &self.ends(&setup), POINTS))?;
        Some(Base {
            index,
            rng,
            z,
            setup,
            before,
            same_day,
        })
    }

    /// The rest of it: the plan's own numbers, the drums' strays, the pull after.
    /// Equation (8.6).
    pub(super) fn finish(
        &self,
        base: Base,
        plan: &Plan<Prior>,
        anchor: Option<&Pull>,
        at_centre: &AtCentre,
    ) -> Option<Draw> {
        let Base {
            index,
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
        let missed = Missed::draw(&mut rng);
        let built = built(&setup, &plan, at_centre).ok()?;
        let sizes = self.sizes(index);
        let doubts = self.doubts(sizes, &plan, &built.car);
        let mut after = complete(built.pull(&self.after.day, &self.ends(&built), POINTS))?;
        if let Some(anchor) = anchor {
            let drawn = before.clone();
            // The fitted curve is what the drums showed on the old visit: the car's own is less that visit's stray.
            let level = anchored(anchor, &drawn, self.sheet.measured, old_visit);
            for pull in [&mut before, &mut same_day, &mut after] {
                relevel(pull, &level);
            }
        }
        let with = |sizes: Miss| {
            let doubts = Doubts { sizes, ..doubts };
            let mut after = after.clone();
            missed.of_change(&mut after, &same_day, &doubts);
            missed.beyond(&mut after, &doubts);
            peak_w(&after)
        };
        let general = self.noise.miss;
        let (general_w, faultless_w) = (with(general), with(general.of_waves_alone()));
        missed.of_change(&mut after, &same_day, &doubts);
        for pull in [&mut before, &mut same_day, &mut after] {
            missed.beyond(pull, &doubts);
        }
        let read = self.before.read_on.as_ref().map_or(1, |on| on.pulls.max(1));
        Some(Draw {
            before_scale: (old_visit + old_pull / (read as f64).sqrt()).exp(),
            after_scale: (new_visit + new_pull).exp(),
            z,
            plan_z,
            missed,
            sizes,
            general_w,
            faultless_w,
            before,
            same_day,
            after,
        })
    }
}

pub(super) fn peak_w(pull: &Pull) -> f64 {
    Peak::of(pull).power_w
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eighty numbers of car and plan, and four curves of [`POINTS`] on each side: less than 4 kB, where three pulls take some 68 kB.
    #[test]
    fn what_is_kept_of_a_draw_is_small() {
        let lists = (80 + 2 * 4 * POINTS) * size_of::<f64>();
        assert!(size_of::<Drawn>() + lists < 4096);
    }
}
