//! One draw of a spread: a car, its work, the rig's strays, and the hours it is driven in.
//!
//! Each cause has a stream of its own, so that one may be taken from another draw while the others stay: that is how the shares of
//! the variance are told.

use super::hours::Hour;
use super::surface::{Design, PULLS, Reading, Surface};
use super::{Question, SpreadError};
use crate::air::Day;
use crate::ask::draws::{AtCentre, anchored, built, car, complete, relevel, stray, stream, work};
use crate::ask::miss::{Doubts, Missed};
use crate::car::Car;
use crate::dyno::pull::AxleStart;
use crate::dyno::{Conditions, Pull, Setup};
use crate::parts::Plan;
use rand::RngExt;

/// Engine speeds at which pulls are simulated.
const POINTS: usize = 28;
/// Charge at which a pull of a car with an electric axle starts, where it is not stated: mean and standard deviation, held within
/// [`CHARGE_RANGE`]. No source, assumed.
const CHARGE: (f64, f64) = (0.80, 0.05);
const CHARGE_RANGE: (f64, f64) = (0.3, 1.0);
/// A second visit comes within so many days of the first. Common practice, no source.
pub(super) const DAYS_BETWEEN: i64 = 14;
/// Pulls of a draw that take no part in its surface and are held against it.
pub(super) const HELD_OUT: usize = 2;
/// Largest error of a surface's peak power, relative, with which it stands for pulls.
/// Equation (12.2).
pub const BOUND: f64 = 3e-4;

/// Causes that have a stream each.
const WEATHER: u64 = 0;
const CAR: u64 = 1;
const WORK: u64 = 2;
const RIG: u64 = 3;
const CAUSES: u64 = 4;

/// What all draws of a question share.
#[derive(Debug)]
pub(super) struct Ground<'q> {
    pub(super) question: &'q Question<'q>,
    pub(super) hours: &'q [Hour],
    pub(super) design: Design,
    /// The air in the middle of the hours.
    pub(super) middle: Day,
    pub(super) at_centre: AtCentre,
    /// The fitted car at the centre in the middle air; none for a car that was not fitted.
    pub(super) anchor: Option<Pull>,
    /// Hours that every draw is driven in.
    pub(super) per_draw: usize,
    /// Whether surfaces are tried at all.
    pub(super) surfaces: bool,
}

/// Numbers of a draw that are the rig's.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rig {
    /// Reading over the car's own power, before and after.
    pub(super) scale: (f64, f64),
    charge: f64,
}

/// A car, its work and how it starts.
#[derive(Debug)]
pub(super) struct Machine {
    before: Setup,
    after: Option<Setup>,
    /// This car in the middle air, and the stray of the visit it was calibrated on; none for a car that was not fitted.
    level: Option<(Pull, f64)>,
    missed: Missed,
    charge: f64,
}

/// The numbers of one draw, cause by cause.
#[derive(Debug)]
pub(super) struct Numbers {
    before: Setup,
    /// What the calibration's visit strayed.
    old_visit: f64,
    plan: Option<Plan<f64>>,
    missed: Missed,
    pub(super) rig: Rig,
    /// Places of the hours, and of those of the second reading.
    pub(super) hours: Vec<(usize, usize)>,
    /// Which of them stands for the draw in the shares of the variance.
    pub(super) picked: usize,
}

impl Machine {
    /// The cars before and after the work.
    pub(super) fn cars(&self) -> (&Car, &Car) {
        (
            &self.before.car,
            self.after
                .as_ref()
                .map_or(&self.before.car, |after| &after.car),
        )
    }
}

impl Ground<'_> {
    /// The numbers of one draw.
    pub(super) fn numbers(&self, index: u64) -> Numbers {
        let question = self.question;
        let cause = |number: u64| stream(question.seed, CAUSES * index + number);
        let mut rng = cause(CAR);
        let (_, before) = car(question.sheet, &mut rng, None);
        let old_visit = stray(&mut rng, question.noise.visit);
        let mut rng = cause(WORK);
        let plan = question.plan.map(|plan| work(plan, &mut rng, None).0);
        let missed = Missed::draw(&mut rng);
        let mut rng = cause(RIG);
        let mut strayed = |sd: f64| stray(&mut rng, sd);
        let (visit, next_visit) = (strayed(question.noise.visit), strayed(question.noise.visit));
        let (pull, next_pull) = (strayed(question.noise.pull), strayed(question.noise.pull));
        let charge = CHARGE.0 + strayed(CHARGE.1);
        let second = if question.two_days { next_visit } else { visit };
        let (hours, picked) = self.hours_of(&mut cause(WEATHER));
        Numbers {
            before,
            old_visit,
            plan,
            missed,
            rig: Rig {
                scale: ((visit + pull).exp(), (second + next_pull).exp()),
                charge: question
                    .charge
                    .unwrap_or(charge.clamp(CHARGE_RANGE.0, CHARGE_RANGE.1)),
            },
            hours,
            picked,
        }
    }

    /// Hours spread evenly over all of them, each drawn within its stretch; or all.
    fn hours_of(&self, rng: &mut impl rand::Rng) -> (Vec<(usize, usize)>, usize) {
        let (all, count) = (self.hours.len(), self.per_draw);
        let mut uniform = |below: usize| rng.random_range(0..below.max(1));
        let hours = (0..count).map(|k| {
            let (from, to) = (k * all / count, (k + 1) * all / count);
            let first = from + uniform(to - from);
            let second = if self.question.two_days {
                let later = self.later(first);
                later.start + uniform(later.len())
            } else {
                first
            };
            (first, second)
        });
        let hours: Vec<(usize, usize)> = hours.collect();
        let picked = uniform(count);
        (hours, picked)
    }

    /// Hours in which the second of two visits may be: of the days after, or where the record ends, of those before.
    fn later(&self, first: usize) -> std::ops::Range<usize> {
        let day = self.hours[first].day_number;
        let place = |day: i64| self.hours.partition_point(|hour| hour.day_number < day);
        let after = place(day + 1)..place(day + DAYS_BETWEEN + 1);
        let before = place(day - DAYS_BETWEEN)..place(day);
        if !after.is_empty() {
            after
        } else if !before.is_empty() {
            before
        } else {
            first..first + 1
        }
    }

    fn ends(&self, setup: &Setup, charge: f64) -> Conditions {
        let rested = Conditions::rested(self.question.sheet.centre.car.engine.redline_rpm);
        Conditions {
            to_rpm: setup.car.engine.redline_rpm,
            axle: AxleStart {
                charge,
                ..rested.axle
            },
            ..rested
        }
    }

    /// The car of one draw with the work of another on the rig of a third.
    pub(super) fn machine(&self, car: &Numbers, work: &Numbers, rig: &Numbers) -> Option<Machine> {
        let after = match &work.plan {
            None => None,
            Some(plan) => Some(built(&car.before, plan, &self.at_centre).ok()?),
        };
        let level = if self.anchor.is_some() {
            let ends = self.ends(&car.before, AxleStart::RESTED.charge);
            let drawn = complete(car.before.pull(&self.middle, &ends, POINTS))?;
            Some((drawn, car.old_visit))
        } else {
            None
        };
        Some(Machine {
            before: car.before.clone(),
            after,
            level,
            missed: work.missed,
            charge: rig.rig.charge,
        })
    }

    /// The car at the centre of all beliefs, with the plan's middle.
    pub(super) fn centre(&self, plan: Option<&Plan<f64>>) -> Result<Machine, SpreadError> {
        let before = &self.question.sheet.centre;
        let after = match plan {
            None => None,
            Some(plan) => Some(built(before, plan, &self.at_centre)?),
        };
        Ok(Machine {
            before: before.clone(),
            after,
            level: None,
            missed: Missed::default(),
            charge: self.question.charge.unwrap_or(CHARGE.0),
        })
    }

    /// The pulls before and after the work in some air; the same twice without work.
    pub(super) fn pulls(&self, machine: &Machine, air: &Day) -> Option<(Pull, Pull)> {
        let pull =
            |setup: &Setup| complete(setup.pull(air, &self.ends(setup, machine.charge), POINTS));
        let mut before = pull(&machine.before)?;
        let measured = self.question.sheet.measured;
        let level =
            self.anchor
                .as_ref()
                .zip(machine.level.as_ref())
                .map(|(anchor, (drawn, old_visit))| {
                    let fitted = anchored(anchor, drawn, measured);
                    move |rpm: f64| fitted(rpm) * (-old_visit).exp()
                });
        let levelled = |pull: &mut Pull| {
            if let Some(level) = &level {
                relevel(&mut pull.points, level);
            }
        };
        levelled(&mut before);
        let (sizes, plan) = (self.question.noise.miss, self.question.plan);
        let doubts = Doubts::of(sizes, plan, machine.cars().1, measured);
        let missed = &machine.missed;
        let Some(setup) = &machine.after else {
            missed.beyond(&mut before.points, &doubts);
            let after = before.clone();
            return Some((before, after));
        };
        let mut after = pull(setup)?;
        levelled(&mut after);
        missed.of_change(&mut after, &before, &doubts);
        missed.beyond(&mut before.points, &doubts);
        missed.beyond(&mut after.points, &doubts);
        Some((before, after))
    }

    /// How a machine answers for its hours: by a surface that its own held-out pulls bear out, or by pulls. Of the hours held out it also
    /// gives the pulls.
    pub(super) fn way(&self, machine: &Machine, held_out: &[usize]) -> Option<(Way, Held)> {
        let in_hour = |place: &usize| self.pulls(machine, &self.hours[*place].air);
        let held: Vec<(Pull, Pull)> = held_out.iter().map(in_hour).collect::<Option<_>>()?;
        let mut account = Held {
            errors: Vec::new(),
            pulls: Vec::new(),
        };
        let mut way = Way::Pulls;
        if self.surfaces && self.design.hours.len() == PULLS {
            let pulls: Vec<(Pull, Pull)> = self
                .design
                .hours
                .iter()
                .map(in_hour)
                .collect::<Option<_>>()?;
            let (before, after): (Vec<Pull>, Vec<Pull>) = pulls.into_iter().unzip();
            let electric = machine.before.car.electric.is_some();
            let surface = |pulls: &[Pull]| Surface::new(&self.design, pulls, electric);
            if let (Some(own), Some(worked)) = (surface(&before), surface(&after)) {
                let (fitted, before, after) = ([before, after], own, worked);
                for (place, (own, worked)) in held_out.iter().zip(&held) {
                    let terms = &self.design.terms[*place];
                    account.errors.push(before.error(terms, own));
                    account.errors.push(after.error(terms, worked));
                }
                let worst = account
                    .errors
                    .iter()
                    .fold(0.0, |worst: f64, e| worst.max(e.abs()));
                // A bend among the hours of the design shows in what the fit leaves of them.
                let left = |surface: &Surface, pulls: &[Pull]| {
                    let places = self.design.hours.iter().zip(pulls);
                    places
                        .map(|(place, pull)| surface.error(&self.design.terms[*place], pull).abs())
                        .fold(0.0, f64::max)
                };
                let left = left(&before, &fitted[0]).max(left(&after, &fitted[1]));
                if worst.max(left) <= BOUND {
                    way = Way::Surfaces(Box::new((before, after)));
                }
            }
        }
        account.pulls = held.into_iter().map(|pair| pair.1).collect();
        Some((way, account))
    }

    /// What a machine reads in an hour, before and after, by its own way.
    pub(super) fn readings(
        &self,
        machine: &Machine,
        way: &Way,
        place: usize,
    ) -> Option<(Reading, Reading)> {
        match way {
            Way::Surfaces(both) => {
                let terms = &self.design.terms[place];
                Some((both.0.reading(terms), both.1.reading(terms)))
            }
            Way::Pulls => {
                let (before, after) = self.pulls(machine, &self.hours[place].air)?;
                Some((Reading::of(&before)?, Reading::of(&after)?))
            }
        }
    }

    /// Power over engine speed in an hour, before and after.
    pub(super) fn curves(&self, machine: &Machine, way: &Way, place: usize) -> Option<[Curve; 2]> {
        match way {
            Way::Surfaces(both) => {
                let terms = &self.design.terms[place];
                Some([both.0.curve(terms), both.1.curve(terms)])
            }
            Way::Pulls => {
                let (before, after) = self.pulls(machine, &self.hours[place].air)?;
                let curve = |pull: Pull| pull.points.iter().map(|p| (p.rpm, p.power_w)).collect();
                Some([curve(before), curve(after)])
            }
        }
    }
}

/// Engine speeds and powers.
pub(super) type Curve = Vec<(f64, f64)>;

/// How a machine answers for its hours.
#[derive(Debug)]
pub(super) enum Way {
    /// By surfaces before and after the work.
    Surfaces(Box<(Surface, Surface)>),
    /// By a pull in each.
    Pulls,
}

/// What was held against a surface.
#[derive(Debug)]
pub(super) struct Held {
    /// Errors of the peak power, relative; none where no surface was made.
    pub(super) errors: Vec<f64>,
    /// The pulls after the work that were held out.
    pub(super) pulls: Vec<Pull>,
}
