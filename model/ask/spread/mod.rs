//! Weather spread: what a car will read through the hours of a place, with everything else that is in doubt drawn beside.
//!
//! Each draw is a car, its work and the rig's strays, driven in hours of the station; each cause has a stream of random numbers of its own, so
//! that shares of the variance can be told by cause. A response surface (`surface`) stands for a draw's pulls where pulls held out
//! of it agree. Draws are numbered and the same seed gives the same answer on any number of threads.

mod answer;
mod block;
mod centre;
mod draw;
mod hours;
mod part;
mod shares;
mod surface;
mod tally;

pub use answer::{
    Answer, Basis, Causes, Cell, CurvePoint, Figures, LimitShare, Method, Promise, Quantiles,
    Slopes, StandardLine,
};
pub use block::{Sample, Shown};
pub use draw::BOUND;
pub use hours::{Choice, Hour};
pub use part::{Part, PartError, Ready, Shard};
pub use shares::{Share, Swapped, shares};

use crate::air::DayError;
use crate::ask::Progress;
use crate::ask::draws::AtCentre;
use crate::ask::quote::Range;
use crate::belief::Noise;
use crate::belief::prior::Prior;
use crate::belief::sheet::Sheet;
use crate::car::Limit;
use crate::dyno::correction::{CorrectionError, Standard};
use crate::parts::{BuildError, Plan};
use draw::{Ground, Machine};
use surface::Design;
use tally::{Factors, Tally};

/// Fewest draws from which shares of the variance are told.
pub const LEAST_DRAWS: usize = 100;
/// Draws made where nothing else is asked.
pub const USUAL_DRAWS: usize = 400;
/// Hours of each draw where surfaces stand for its pulls.
pub const USUAL_HOURS: usize = 48;
/// The same where every hour costs a pull.
pub const USUAL_PULLED_HOURS: usize = 4;
/// Fewest hours that make a spread.
pub const LEAST_HOURS: usize = 24;
/// Blocks worked out at a time: what they came to is counted before the next are begun, so memory does not grow with the draws.
const WAVE: usize = 8;

/// Hours of each draw.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoursPerDraw {
    /// [`USUAL_HOURS`], or [`USUAL_PULLED_HOURS`] where each costs a pull.
    Usual,
    /// So many.
    Count(usize),
    /// Every one.
    All,
}

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// The car, fitted or not.
    pub sheet: &'a Sheet,
    /// Work planned for it, if any.
    pub plan: Option<&'a Plan<Prior>>,
    /// Hours of the station, in order.
    pub station: &'a [Hour],
    /// Which of them.
    pub choice: Choice,
    /// Repeatability of the drums.
    pub noise: Noise,
    /// Mechanical efficiency that a standard may ask for, where it is known.
    pub mechanical_efficiency: Option<f64>,
    /// Before and after are read on two days; in one hour otherwise.
    pub two_days: bool,
    /// Charge at which the battery of an electric axle starts, 0 to 1; in doubt where it is not stated.
    pub charge: Option<f64>,
    /// Peak power promised, W.
    pub promise_w: Option<f64>,
    /// Chance with which the number to promise has to be read.
    pub chance: f64,
    /// Further quantiles, as shares below.
    pub quantiles: Vec<f64>,
    /// Number of draws.
    pub draws: usize,
    /// Hours of each.
    pub hours_per_draw: HoursPerDraw,
    /// Whether surfaces may stand for pulls.
    pub surfaces: bool,
    /// Seed of the draws.
    pub seed: u64,
}

/// Why there is no spread.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SpreadError {
    /// The plan does not fit the car.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// The cell cannot have that air.
    #[error(transparent)]
    Cell(#[from] DayError),
    /// A standard does not say what to do with this engine.
    #[error(transparent)]
    Correction(#[from] CorrectionError),
    /// Too few hours are left of the station.
    #[error("{left} hours are left of the station; at least {LEAST_HOURS} make a spread")]
    TooFewHours {
        /// Hours left.
        left: usize,
    },
    /// The centre cannot make its pulls.
    #[error("the car at the middle of all that is believed cannot make a pull in every hour")]
    CentreFails,
    /// Too many draws failed, or too few were asked for.
    #[error("{left} draws are left; at least {LEAST_DRAWS} tell a spread")]
    TooFewDraws {
        /// Draws left.
        left: usize,
    },
}

impl<'a> Question<'a> {
    /// A question with the usual draws, drums and quantiles, over every hour of a station.
    pub fn new(sheet: &'a Sheet, plan: Option<&'a Plan<Prior>>, station: &'a [Hour]) -> Self {
        Self {
            sheet,
            plan,
            station,
            choice: Choice::ALL,
            noise: Noise::default(),
            mechanical_efficiency: None,
            two_days: false,
            charge: None,
            promise_w: None,
            chance: 0.9,
            quantiles: Vec::new(),
            draws: USUAL_DRAWS,
            hours_per_draw: HoursPerDraw::Usual,
            surfaces: true,
            seed: 1,
        }
    }

    /// Answers the question. Every sample goes to `each` with the two hours it was read in; `progress` hears how many draws are done.
    pub fn answer(
        &self,
        each: &mut dyn FnMut(&Sample, (&Hour, &Hour)),
        progress: Progress<'_>,
    ) -> Result<Answer, SpreadError> {
        self.ready(|ready| {
            let mut whole = ready.part(Shard::WHOLE);
            ready.work(&mut whole, each, &mut |_| true, progress);
            ready.answer(vec![whole])
        })
    }

    /// Makes ready what all draws share, and goes on from there: to one part of them, or to all.
    pub fn ready<T, E: From<SpreadError>>(
        &self,
        then: impl FnOnce(&Ready<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let (hours, condensing) = self.choice.of(self.station).map_err(SpreadError::from)?;
        if hours.len() < LEAST_HOURS {
            return Err(SpreadError::TooFewHours { left: hours.len() }.into());
        }
        if self.draws < LEAST_DRAWS {
            return Err(SpreadError::TooFewDraws { left: self.draws }.into());
        }
        let plan = self.plan.map(|plan| plan.map(|_, _, prior| prior.centre()));
        let mut ground = self.ground(&hours, plan.as_ref())?;
        let machine = ground.centre(plan.as_ref())?;
        let centre = ground.through(&machine)?;
        ground.surfaces &= centre.by_surface;
        ground.per_draw = match self.hours_per_draw {
            HoursPerDraw::Usual if ground.surfaces => USUAL_HOURS,
            HoursPerDraw::Usual => USUAL_PULLED_HOURS,
            HoursPerDraw::Count(count) => count.max(1),
            HoursPerDraw::All => hours.len(),
        }
        .min(hours.len());
        let standards = self.standards(&ground, &machine)?;
        then(&Ready {
            question: self,
            ground,
            centre,
            standards,
            condensing,
            name: self.name(),
        })
    }

    fn ground<'q>(
        &'q self,
        hours: &'q [Hour],
        plan: Option<&Plan<f64>>,
    ) -> Result<Ground<'q>, SpreadError> {
        let middle = hours::middle(hours)?;
        let car = &self.sheet.centre.car;
        let at_centre = match plan {
            Some(plan) => AtCentre::of(&plan.apply_by_cycle(car, middle)?),
            None => AtCentre::of(car),
        };
        let mut ground = Ground {
            question: self,
            hours,
            design: Design::new(hours),
            middle,
            at_centre,
            anchor: None,
            per_draw: 1,
            surfaces: self.surfaces,
        };
        if self.sheet.is_fitted_on_drums() {
            let centre = ground.centre(None)?;
            let pulls = ground
                .pulls(&centre, &middle)
                .ok_or(SpreadError::CentreFails)?;
            ground.anchor = Some(pulls.0);
        }
        Ok(ground)
    }

    /// Every usable standard with its factors, and the share of the hours outside it.
    fn standards(
        &self,
        ground: &Ground<'_>,
        machine: &Machine,
    ) -> Result<Vec<(Standard, Factors, Option<f64>)>, SpreadError> {
        let (before, after) = machine.cars();
        centre::standards(self, after, &ground.middle)
            .into_iter()
            .map(|standard| {
                let (of_before, _) = centre::factors(ground, standard, before)?;
                let (of_after, outside) = centre::factors(ground, standard, after)?;
                Ok((
                    standard,
                    Factors {
                        before: of_before,
                        after: of_after,
                    },
                    outside,
                ))
            })
            .collect()
    }

    /// What is told of the draws counted; `left` of them made their pulls.
    fn told(&self, ready: &Ready<'_>, tally: &Tally, left: usize) -> Answer {
        let Ready {
            ground,
            centre,
            standards,
            ..
        } = ready;
        let more = &self.quantiles;
        let (worked, twice) = (self.plan.is_some(), self.plan.is_some() || self.two_days);
        let (gain, gains) = tally.gains(more);
        let lines = standards.iter().zip(gains).enumerate();
        let lines = lines.map(|(k, ((standard, factors, outside), gain))| {
            let (weather_left, taken_out, added) = centre::effect(centre, &factors.after);
            let after = &tally.after.corrected[k];
            StandardLine {
                standard: *standard,
                power_w: tally::quantiles(after, more),
                power_before_w: worked.then(|| tally::quantiles(&tally.before.corrected[k], more)),
                gain: twice.then_some(gain),
                promise_w: after.quantile(1.0 - self.chance),
                weather_left,
                taken_out,
                added,
                outside: *outside,
            }
        });
        let (miss, miss_error) = tally.miss();
        Answer {
            basis: self.basis(ready, tally, left),
            after: Tally::figures(&tally.after, more),
            before: worked.then(|| Tally::figures(&tally.before, more)),
            gain: twice.then_some(gain),
            power_error_w: Range {
                p5: tally.error_w(0.05),
                p50: tally.error_w(0.50),
                p95: tally.error_w(0.95),
            },
            promise: Promise {
                chance: self.chance,
                power_w: tally.after.power.quantile(1.0 - self.chance),
                asked_w: self.promise_w,
                miss: self.promise_w.map(|_| miss),
                miss_error: self.promise_w.map(|_| miss_error),
            },
            causes: causes(tally),
            slopes: ground.slopes(centre),
            standards: lines.collect(),
            limits: limits(tally),
            by_month_and_hour: tally.cells(),
            curve: tally.curve(&centre.rpm.1, worked.then_some(&centre.rpm.0)),
            method: method(centre, tally),
        }
    }

    fn basis(&self, ready: &Ready<'_>, tally: &Tally, left: usize) -> Basis {
        let (ground, condensing) = (&ready.ground, ready.condensing);
        let range = |of: &dyn Fn(&Hour) -> f64| Range::of(ground.hours.iter().map(of).collect());
        Basis {
            car: self.sheet.centre.car.name.clone(),
            plan: self.plan.map(|plan| plan.name.clone()),
            fitted: self.sheet.is_fitted(),
            choice: self.choice,
            hours: ground.hours.len(),
            condensing,
            station_pressure_pa: range(&|hour| hour.air.station().pa()),
            temperature_k: range(&|hour| hour.air.temperature_k()),
            humidity_ratio: range(&|hour| hour.air.humidity_ratio()),
            two_days: self.two_days,
            visit_repeatability: self.noise.visit,
            pull_repeatability: self.noise.pull,
            draws: left,
            draws_failed: tally.failed,
            hours_per_draw: ground.per_draw,
            seed: self.seed,
        }
    }
}

fn causes(tally: &Tally) -> Causes {
    let own: Vec<f64> = tally
        .swapped
        .iter()
        .flatten()
        .map(|draw| draw.own)
        .collect();
    let n = own.len() as f64;
    let mean = own.iter().sum::<f64>() / n;
    let squares: f64 = own.iter().map(|w| (w - mean).powi(2)).sum();
    let [weather, car, work, rig] = shares(&tally.swapped);
    Causes {
        sd_w: (squares / n).sqrt(),
        weather,
        car,
        work,
        rig,
    }
}

/// Limits that any pull met, those met most often first.
fn limits(tally: &Tally) -> Vec<LimitShare> {
    let n = tally.pulls as f64;
    let counted = tally.limits.iter().copied().zip(Limit::ALL);
    let mut met: Vec<LimitShare> = counted
        .filter(|&(count, _)| count > 0)
        .map(|(count, limit)| {
            let share = count as f64 / n;
            LimitShare {
                limit,
                share,
                error: (share * (1.0 - share) / n).sqrt(),
            }
        })
        .collect();
    met.sort_by(|a, b| b.share.total_cmp(&a.share));
    met
}

fn method(centre: &centre::Centre, tally: &Tally) -> Method {
    let (mut held_out, mut worst) = tally.errors;
    let mut squares: f64 = tally.squares.iter().sum();
    let mut refused = tally.refused;
    for error in &centre.errors {
        if centre.by_surface {
            held_out += 1;
            worst = worst.max(error.abs());
            squares += error * error;
        } else {
            refused = refused.max(error.abs());
        }
    }
    Method {
        by_surface: tally.by_surface,
        by_pulls: tally.by_pulls,
        held_out,
        worst,
        rms: if held_out == 0 {
            0.0
        } else {
            (squares / held_out as f64).sqrt()
        },
        worst_refused: (refused > 0.0).then_some(refused),
        bound: BOUND,
    }
}
