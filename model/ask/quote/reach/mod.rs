//! The inverse question: which value of one number of the plan reaches a power with a stated chance and no limit crossed?
//!
//! Every trial value is drawn with the same cars, works and drums, so the power that a share of the draws reaches is a
//! continuous function of the value and its root a root of the model. First the centre of the beliefs is looked at over the
//! whole range of the number, one pull each: where it crosses a limit, a border is closed in on by halving. Between the borders
//! the draws are asked, from where the plan stands outwards, so the answer is the smallest change that does it, whatever
//! the course of the power. Where none does, the answer is what stands in the way and how far one gets without it.
//! It refuses to turn two numbers at once.

mod search;

use super::{Base, Dial, DialError, LimitSeen, POINTS, Question, QuoteError, Range, built};
use crate::car::Limit;
use crate::dyno::Pull;
use crate::dyno::correction::Correction;
use search::Search;
use std::cell::RefCell;

/// The question.
#[derive(Debug, Clone, Copy)]
pub struct Reach<'a> {
    /// Car, plan, air, drums, draws and seed.
    pub question: &'a Question<'a>,
    /// The number that may be turned.
    pub dial: Dial,
    /// Peak power to be read, W.
    pub target_w: f64,
    /// Chance with which it has to be reached, 0 to 1.
    pub chance: f64,
    /// Whether the power is meant in the question's correction, or as read.
    pub corrected: bool,
}

/// What stands in the way at a value, at the centre of the beliefs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bar {
    /// A limit of the car, from one engine speed to another, rpm.
    Limit {
        /// Which.
        limit: Limit,
        /// Engine speeds.
        rpm: (f64, f64),
    },
    /// The car cannot accelerate further than to this engine speed, or not at all, rpm.
    Stalled {
        /// Engine speed; none if it does not start.
        rpm: Option<f64>,
    },
}

/// One value tried with all draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trial {
    /// The value.
    pub value: f64,
    /// Power reached with the stated chance, W; none where a limit is crossed.
    pub power_w: Option<f64>,
    /// The limit crossed.
    pub bar: Option<Bar>,
}

/// One value in full.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// The value.
    pub value: f64,
    /// Power reached with the stated chance, W.
    pub sure_w: f64,
    /// The range of that power, W.
    pub power_w: Range,
    /// Share of the draws that reach the target.
    pub chance: f64,
    /// Limits met at the centre or in some draws.
    pub limits: Vec<LimitSeen>,
    /// The pull at the centre of the beliefs.
    pub centre: Pull,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// The plan as it stands does it.
    AsPlanned(Spot),
    /// This value does it; no value nearer to the plan's does.
    At(Spot),
    /// A limit is in the way.
    Barred {
        /// The best value on this side of it; none if no value is free of limits.
        best: Option<Spot>,
        /// Value at which the limit is met.
        from: f64,
        /// The limit.
        bar: Bar,
    },
    /// The number ends before it is reached.
    OutOfRange {
        /// The end of its range.
        best: Spot,
    },
    /// Power levels off before it is reached: over these values it stays what it is, and elsewhere it is less.
    Levels {
        /// The value of the stretch nearest to the plan's.
        best: Spot,
        /// The level stretch, ascending.
        over: (f64, f64),
    },
    /// Power turns before it is reached: both more and less give less.
    Turns {
        /// The best value.
        best: Spot,
    },
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Reached {
    /// The answer.
    pub answer: Answer,
    /// Where the plan stands.
    pub own: f64,
    /// Range of the number.
    pub range: (f64, f64),
    /// Values tried, ascending.
    pub trials: Vec<Trial>,
    /// Correction of the power, on the day of the pull after.
    pub correction: Correction,
    /// Draws made, and of these the ones that cannot make a pull without the work.
    pub draws: (usize, usize),
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReachError {
    /// The number cannot be turned.
    #[error(transparent)]
    Dial(#[from] DialError),
    /// No quote could be made either.
    #[error(transparent)]
    Quote(#[from] QuoteError),
    /// The plan stands outside the number's range.
    #[error(
        "the plan puts the {words} at {own}, outside {low} to {high}, where it can be searched"
    )]
    OutsideRange {
        /// The number.
        words: &'static str,
        /// Where the plan puts it.
        own: f64,
        /// Least.
        low: f64,
        /// Greatest.
        high: f64,
    },
}

/// Limits that hold the power back but harm nothing, and thresholds that only advise: the figure stands, and they are told beside it.
const TOLD: [Limit; 15] = [
    Limit::BoostHeldBack,
    Limit::ExhaustTemperature,
    Limit::PeakPressure,
    Limit::PistonSpeed,
    Limit::AxleBattery,
    Limit::AxleHeat,
    Limit::AxleTaper,
    Limit::AxleRamp,
    Limit::AxleTopSpeed,
    Limit::Knock,
    Limit::BoostShort,
    Limit::BlowerBypass,
    Limit::BlowerChoked,
    Limit::MapEfficiency,
    Limit::InletMach,
];

impl Reach<'_> {
    /// Answers the question.
    /// Equation (8.7).
    pub fn answer(&self) -> Result<Reached, ReachError> {
        let question = self.question;
        let centre_plan = question.plan.map(|_, _, prior| prior.centre());
        let after = question
            .centre_built(&centre_plan)
            .map_err(QuoteError::from)?
            .car;
        let own = self.dial.own(question.plan, &after)?;
        let range = self.dial.range_in(question.plan);
        if !(range.0..=range.1).contains(&own) {
            return Err(ReachError::OutsideRange {
                words: self.dial.words(),
                own,
                low: range.0,
                high: range.1,
            });
        }
        let centre = &question.sheet.centre;
        let before = centre
            .pull(&question.before_day, &question.ends(centre), POINTS)
            .map_err(QuoteError::from)?;
        let correction =
            Correction::new(question.standard, question.after_day, &question.subjects.1)
                .map_err(QuoteError::from)?;
        let bases: Vec<_> = (0..question.draws as u64)
            .map(|i| question.base(i).map(|base| self.with_knock_table(base)))
            .collect();
        let failed = bases.iter().filter(|base| base.is_none()).count();
        let mut centre = centre.clone();
        centre.car.engine.knock = after.engine.knock.clone();
        let search = Search {
            reach: self,
            centre,
            after,
            range,
            bases,
            anchor: question.sheet.is_fitted().then_some(before),
            correction: correction.clone(),
            by_cycle: RefCell::default(),
        };
        let (answer, trials) = search.answer(own)?;
        Ok(Reached {
            answer,
            own,
            range,
            trials,
            correction,
            draws: (question.draws, failed),
        })
    }

    /// The draw with the knock table that it needs after the plan as it stands. Most values ask for the same one, and making it anew
    /// for each would take longer than the pulls.
    fn with_knock_table(&self, mut base: Base) -> Base {
        let mut rng = base.rng.clone();
        let plan = self.question.plan.map(|_, _, prior| prior.sample(&mut rng));
        if let Ok(planned) = built(&base.setup, &plan) {
            base.setup.car.engine.knock = planned.car.engine.knock;
        }
        base
    }

    /// Whether the number is spaced in its logarithm.
    fn logarithmic(&self) -> bool {
        self.dial.range().0 > 0.0
    }

    /// Value to the coordinate in which it is spaced.
    fn coordinate(&self, value: f64) -> f64 {
        if self.logarithmic() {
            value.ln()
        } else {
            value
        }
    }

    fn value(&self, coordinate: f64) -> f64 {
        if self.logarithmic() {
            coordinate.exp()
        } else {
            coordinate
        }
    }
}

/// The first thing in a pull that must not be, by engine speed.
fn bar_of(pull: &Pull) -> Option<Bar> {
    let stretch = |met: &dyn Fn(&crate::dyno::PullPoint) -> bool| {
        let mut rpm = pull.points.iter().filter(|p| met(p)).map(|p| p.rpm);
        let first = rpm.next()?;
        Some((first, rpm.next_back().unwrap_or(first)))
    };
    let limits = Limit::ALL
        .iter()
        .filter(|limit| !TOLD.contains(limit))
        .filter_map(|&limit| {
            let rpm = stretch(&|p| p.limits.contains(limit))?;
            Some((rpm.0, Bar::Limit { limit, rpm }))
        });
    let stalled = pull
        .stalled_rpm
        .map(|rpm| (rpm, Bar::Stalled { rpm: Some(rpm) }));
    limits
        .chain(stalled)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, bar)| bar)
}
