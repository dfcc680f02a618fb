//! One draw: the car's numbers, the plan's, two pulls, and the readings that strays make of them.
//!
//! What it takes from its stream of random numbers, and in which order, stands in `ask::draws`.

use super::evenly::{Evenly, Shares};
use super::next::{Shown, shown};
use super::strays::{Slopes, Strays};
use super::{POINTS, Question};
use crate::ask::draws::{AtCentre, Levelled, anchored, car, relevel, stream, work};
pub(super) use crate::ask::draws::{built, complete};
use crate::ask::miss::{Doubts, Effects, Turns};
use crate::belief::prior::Prior;
use crate::belief::{Mechanism, Miss};
use crate::car::Car;
use crate::car::limit::Limits;
use crate::dyno::{Conditions, Pull, PullPoint, Setup, reading};
use crate::numeric::straight_between;
use crate::parts::{BuildError, Plan};
use crate::units;
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;

/// One draw while it is made: its pulls at the level that the fit left them, and the strays that make readings of them.
pub(super) struct Draw {
    index: usize,
    z: Vec<f64>,
    plan_z: Vec<f64>,
    before: Pull,
    /// The car before, in the air of the pull after.
    same_day: Pull,
    after: Pull,
    /// Whether the level is the fitted curve's.
    fitted: bool,
    /// What goes through each mechanism, point by point of the pull after.
    effects: Vec<Effects>,
    /// What the model may miss of it.
    doubts: Doubts,
    /// The same with the sizes that hold in general.
    general: Doubts,
    /// Pulls that the reading before is the mean of.
    pulls_before: f64,
    strays: Vec<Strays>,
}

/// What all readings of a drawn car share.
pub(super) struct DrawnCar {
    /// Its number among the draws.
    pub(super) index: usize,
    pub(super) z: Vec<f64>,
    pub(super) plan_z: Vec<f64>,
    pub(super) before: Gauges,
    pub(super) after: Gauges,
    /// Limits met after.
    pub(super) limits: Limits,
    /// What logs of the car before would show.
    pub(super) logs: Shown,
}

/// What gauges show at the engine speeds of the curve.
pub(super) struct Gauges {
    /// Absolute manifold pressure, Pa.
    pub(super) manifold_pa: Vec<f64>,
    /// Temperature of the intake air in the manifold, K.
    pub(super) charge_k: Vec<f64>,
}

/// One reading of a drawn car: what an answer needs of it, a fiftieth of the pulls it is taken from.
pub(super) struct Drawn {
    pub(super) car: Arc<DrawnCar>,
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
}

/// The cars of some readings, each once: the readings of one car stand together.
pub(super) fn cars(draws: &[Drawn]) -> impl Iterator<Item = &DrawnCar> + Clone {
    draws
        .chunk_by(|a, b| Arc::ptr_eq(&a.car, &b.car))
        .map(|readings| readings[0].car.as_ref())
}

/// A figure's mean over the readings of each car.
pub(super) fn means_of_cars(draws: &[Drawn], of: impl Fn(&Drawn) -> f64) -> Vec<f64> {
    let mean = |readings: &[Drawn]| readings.iter().map(&of).sum::<f64>() / readings.len() as f64;
    draws
        .chunk_by(|a, b| Arc::ptr_eq(&a.car, &b.car))
        .map(mean)
        .collect()
}

/// One pull of a draw, the car's own, and the scale of its reading.
pub(super) struct Side {
    pub(super) scale: f64,
    pub(super) peak: Peak,
    /// Power at the engine speeds of the curve, W.
    pub(super) curve_w: Vec<f64>,
    /// The same at the crankshaft.
    pub(super) crank_w: Vec<f64>,
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

/// One engine speed of a pull as far as strays move it.
#[derive(Clone, Copy)]
struct Figures {
    rpm: f64,
    power_w: f64,
    torque_nm: f64,
    crank_w: f64,
    electric_w: f64,
}

impl From<&PullPoint> for Figures {
    fn from(point: &PullPoint) -> Self {
        Self {
            rpm: point.rpm,
            power_w: point.power_w,
            torque_nm: point.torque_nm,
            crank_w: point.crank_w,
            electric_w: point.electric_w,
        }
    }
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

fn figures(pull: &Pull) -> Vec<Figures> {
    pull.points.iter().map(Figures::from).collect()
}

/// Place of the highest power.
fn at_peak(points: &[Figures]) -> Option<usize> {
    let powers = points.iter().map(|p| p.power_w).enumerate();
    powers.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
}

impl Peak {
    pub(super) fn of(pull: &Pull) -> Self {
        Self::among(&figures(pull))
    }

    fn among(points: &[Figures]) -> Self {
        let peak = at_peak(points).map(|k| points[k]);
        let highest = |of: fn(&Figures) -> f64| points.iter().map(of).fold(f64::NAN, f64::max);
        Self {
            power_w: peak.map_or(f64::NAN, |p| p.power_w),
            electric_w: peak.map_or(0.0, |p| p.electric_w),
            rpm: peak.map_or(f64::NAN, |p| p.rpm),
            torque_nm: highest(|p| p.torque_nm),
            crank_w: highest(|p| p.crank_w),
            crank_nm: highest(|p| p.crank_w / units::rad_s(p.rpm)),
        }
    }
}

impl Gauges {
    fn of(pull: &Pull, speeds: &[f64]) -> Self {
        let at = |of: fn(&PullPoint) -> f64| -> Vec<f64> {
            speeds.iter().map(|&rpm| pull.reading(rpm, of)).collect()
        };
        Self {
            manifold_pa: at(|p| p.engine.manifold_pa),
            charge_k: at(|p| p.engine.charge_k),
        }
    }
}

impl Side {
    fn of(points: &[Figures], scale: f64, speeds: &[f64]) -> Self {
        let at = |of: fn(&Figures) -> f64| -> Vec<f64> {
            speeds
                .iter()
                .map(|&rpm| reading(points, rpm, |p| p.rpm, of))
                .collect()
        };
        Self {
            scale,
            peak: Peak::among(points),
            curve_w: at(|p| p.power_w),
            crank_w: at(|p| p.crank_w),
        }
    }

    /// Multiplies what the car makes.
    pub(super) fn level(&mut self, factor: f64) {
        let curves = self.curve_w.iter_mut().chain(&mut self.crank_w);
        curves.for_each(|w| *w *= factor);
        let peak = &mut self.peak;
        for figure in [
            &mut peak.power_w,
            &mut peak.torque_nm,
            &mut peak.crank_w,
            &mut peak.crank_nm,
        ] {
            *figure *= factor;
        }
    }

    /// Highest power up to an engine speed, W, before the scale of the reading.
    pub(super) fn highest_up_to_w(&self, speeds: &[f64], rpm: f64) -> f64 {
        let below = speeds.partition_point(|&at| at <= rpm);
        let there = straight_between(speeds, &self.curve_w, rpm);
        let within = self.curve_w[..below].iter().copied();
        within.chain(there).fold(f64::NAN, f64::max)
    }
}

impl Draw {
    /// What an answer needs of each of its readings, curves at given engine speeds.
    pub(super) fn kept(self, speeds: &Speeds) -> Vec<Drawn> {
        let pulls = [&self.before, &self.same_day, &self.after].map(figures);
        let car = Arc::new(DrawnCar {
            index: self.index,
            before: Gauges::of(&self.before, &speeds.before),
            after: Gauges::of(&self.after, &speeds.after),
            limits: self.after.limits,
            logs: shown(&self.before),
            z: self.z.clone(),
            plan_z: self.plan_z.clone(),
        });
        let read = |strays: &Strays| self.read(strays, &car, &pulls, speeds);
        self.strays.iter().map(read).collect()
    }

    /// One reading.
    /// Equation (8.6).
    fn read(
        &self,
        strays: &Strays,
        car: &Arc<DrawnCar>,
        [before, same_day, after]: &[Vec<Figures>; 3],
        speeds: &Speeds,
    ) -> Drawn {
        let missed = &strays.missed;
        // The fitted curve is what the drums showed on the old visit: the car's own is less that visit's stray.
        let level = if self.fitted {
            (-strays.old_visit).exp()
        } else {
            1.0
        };
        let own = |points: &[Figures]| {
            let mut points = points.to_vec();
            relevel(&mut points, |_| level);
            points
        };
        let unchanged = |points: &[Figures]| {
            let mut points = own(points);
            missed.beyond(&mut points, &self.doubts);
            points
        };
        let changed = |doubts: &Doubts| {
            let mut points = own(after);
            for (point, effects) in points.iter_mut().zip(&self.effects) {
                point.change_engine(missed.of_effects(effects, &doubts.sizes));
            }
            missed.beyond(&mut points, doubts);
            points
        };
        let after = changed(&self.doubts);
        let waves_alone = Doubts {
            sizes: self.general.sizes.of_waves_alone(),
            ..self.general
        };
        let peak = at_peak(&after);
        let turns = Turns::at(peak.map_or(1.0, |k| after[k].rpm));
        let engine = peak.map(|k| &self.after.points[k].engine);
        let visits = (strays.old_visit, strays.new_visit);
        let before_scale = (visits.0 + strays.old_pull / self.pulls_before.sqrt()).exp();
        Drawn {
            car: Arc::clone(car),
            general_w: Peak::among(&changed(&self.general)).power_w,
            faultless_w: Peak::among(&changed(&waves_alone)).power_w,
            missed: Mechanism::ALL.map(|m| missed.of(m, &turns, &self.doubts.sizes)),
            before: Side::of(&unchanged(before), before_scale, &speeds.before),
            same_day: Peak::among(&unchanged(same_day)),
            after: Side::of(&after, (visits.1 + strays.new_pull).exp(), &speeds.after),
            manifold_pa: engine.map_or(f64::NAN, |e| e.manifold_pa),
            charge_k: engine.map_or(f64::NAN, |e| e.charge_k),
            injector_duty: engine.and_then(|e| e.injector_duty),
        }
    }
}

impl Levelled for Figures {
    fn rpm(&self) -> f64 {
        self.rpm
    }

    fn moved(&mut self) -> [&mut f64; 3] {
        [&mut self.power_w, &mut self.torque_nm, &mut self.crank_w]
    }

    fn electric_w(&self) -> f64 {
        self.electric_w
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
    pub(super) fn base(&self, index: usize, evenly: &Evenly) -> Option<Base> {
        let mut rng = stream(self.seed, index as u64);
        let (z, setup) = car(self.sheet, &mut rng, evenly.told(index));
        let before = complete(setup.pull(&self.before.air.day, &self.ends(&setup), POINTS))?;
        let same_day = if self.after.day == self.before.air.day {
            before.clone()
        } else {
            complete(setup.pull(&self.after.day, &self.ends(&setup), POINTS))?
        };
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
        base: &Base,
        (plan, evenly): (&Plan<Prior>, &Evenly),
        (anchor, at_centre): (Option<&Pull>, &AtCentre),
        (readings, strays): (usize, Shares),
    ) -> Option<Draw> {
        let mut rng = base.rng.clone();
        let (plan, plan_z) = work(plan, &mut rng, evenly.told(base.index));
        let built = built(&base.setup, &plan, at_centre).ok()?;
        let mut after = complete(built.pull(&self.after.day, &self.ends(&built), POINTS))?;
        let (mut before, mut same_day) = (base.before.clone(), base.same_day.clone());
        if let Some(anchor) = anchor {
            let level = anchored(anchor, &base.before, self.sheet.measured);
            for pull in [&mut before, &mut same_day, &mut after] {
                relevel(&mut pull.points, &level);
            }
        }
        let doubts = self.doubts(self.sizes(base.index), &plan, &built.car);
        let through = |point| Effects::of(&same_day, point, doubts.waves);
        let effects: Vec<Effects> = after.points.iter().map(through).collect();
        let fitted = anchor.is_some();
        let general = Doubts {
            sizes: self.noise.miss,
            ..doubts
        };
        // The readings' shift that is shared out is that of the peak, by sizes that hold in general: a quote that has learned strays as one that has not.
        let peak = effects
            .iter()
            .zip(&after.points)
            .max_by(|a, b| a.1.power_w.total_cmp(&b.1.power_w))?;
        let missed = peak.0.slopes(peak.1.rpm, &general);
        let slopes = Slopes::new(&self.noise, fitted, &missed);
        let within = strays.of(base.index);
        let strays = Strays::sets(&mut rng, &self.noise, &slopes, (readings, within));
        let read = self.before.read_on.as_ref().map_or(1, |on| on.pulls.max(1));
        Some(Draw {
            index: base.index,
            z: base.z.clone(),
            plan_z,
            before,
            same_day,
            after,
            fitted,
            effects,
            doubts,
            general,
            pulls_before: read as f64,
            strays,
        })
    }
}

pub(super) fn peak_w(pull: &Pull) -> f64 {
    Peak::of(pull).power_w
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eighty numbers of car and plan and two curves of [`POINTS`] on each side for a car, and as many for each of its readings: less than 4 kB of many
    /// draws, that are read once, where three pulls take some 68 kB.
    #[test]
    fn what_is_kept_of_a_draw_is_small() {
        let lists = (80 + 2 * 4 * POINTS) * size_of::<f64>();
        assert!(size_of::<Drawn>() + size_of::<DrawnCar>() + lists < 4096);
    }
}
