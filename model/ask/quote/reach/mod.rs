//! The inverse question: which value of one number of the plan reaches a power with a stated chance and no limit crossed?
//!
//! Every trial value is drawn with the same cars, works and drums, so the power that a share of the draws reaches is a
//! continuous function of the value and its root a root of the model. First the centre of the beliefs is looked at over the
//! whole range of the number, one pull each: where it crosses a limit, a border is closed in on by halving. Between the borders
//! the draws are asked, from where the plan stands outwards, so the answer is the smallest change that does it, whatever
//! the course of the power. Where none does, the answer is what stands in the way and how far one gets without it.
//! It refuses to turn two numbers at once.

mod search;

use super::order::canonical;
use super::{Dial, DialError, POINTS, Question, QuoteError, Range};
use crate::ask::basis::{Corrected, Weather};
use crate::ask::cautions::Caution;
use crate::ask::limits::{LimitLine, Met, speeds};
use crate::car::Limit;
use crate::dyno::{Pull, PullPoint};
use crate::numeric::{Progress, side_by_side};
use crate::parts::{NewPulley, Shown};
use crate::units;
use search::{Made, Search};
use serde::{Serialize, Serializer};
use std::cell::RefCell;

/// Most draws of the inverse question: each is kept in memory for all values.
pub const MOST_DRAWS: usize = 5000;
/// Draws of every trial where their number is not asked for.
const DRAWS: usize = 300;
/// Chance asked for where nothing else is said.
pub const USUAL_CHANCE: f64 = 0.9;

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
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bar {
    /// A limit of the car, or a car that cannot accelerate any further.
    pub limit: Met,
    /// Lowest engine speed, rpm; none where the car does not start.
    pub from_rpm: Option<f64>,
    /// Highest, rpm.
    pub to_rpm: Option<f64>,
}

impl Bar {
    fn of(limit: Limit, rpm: (f64, f64)) -> Self {
        Self {
            limit: Met::Limit(limit),
            from_rpm: Some(rpm.0),
            to_rpm: Some(rpm.1),
        }
    }

    const fn stalled(rpm: Option<f64>) -> Self {
        Self {
            limit: Met::Stalled,
            from_rpm: rpm,
            to_rpm: rpm,
        }
    }
}

/// One value tried with all draws.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trial {
    /// The value.
    pub value: f64,
    /// Power reached with the stated chance, W; none where a limit is crossed.
    pub sure_w: Option<f64>,
    /// The limit crossed.
    pub limit: Option<Bar>,
}

/// One value in full.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spot {
    /// The value.
    pub value: f64,
    /// Power reached with the stated chance, W.
    pub sure_w: f64,
    /// What that is short of the target, W; below zero where it is more.
    #[serde(skip)]
    pub short_w: f64,
    /// Share of the draws that reach the target.
    pub chance: f64,
    /// The range of the power, W.
    pub power_w: Range,
    /// The peak at the centre of the beliefs.
    #[serde(flatten)]
    pub peak: AtPeak,
    /// The pulley to make or to buy, where that is what was turned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pulley: Option<NewPulley>,
    /// Limits met at the centre or in some draws.
    pub limits: Vec<LimitLine>,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

/// What goes on in the car where its power peaks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AtPeak {
    /// Engine speed of peak power.
    pub rpm: f64,
    /// Manifold pressure above the air outside.
    pub boost_pa: f64,
    /// Temperature of the intake air in the manifold.
    pub charge_k: f64,
    /// Blower speed over engine speed; none without a blower on a belt.
    pub blower_ratio: Option<f64>,
}

impl AtPeak {
    fn of(pull: &Pull, ambient_pa: f64) -> Self {
        let peak = pull.peak_power();
        let at = |of: fn(&PullPoint) -> f64| peak.map_or(f64::NAN, of);
        let turbo = peak.is_some_and(|p| p.engine.shaft.is_some());
        let turns = at(|p| p.engine.blower.speed_rad_s / units::rad_s(p.rpm));
        Self {
            rpm: at(|p| p.rpm),
            boost_pa: at(|p| p.engine.manifold_pa) - ambient_pa,
            charge_k: at(|p| p.engine.charge_k),
            blower_ratio: (turns > 0.0 && !turbo).then_some(turns),
        }
    }
}

/// Whether it is reached, and where or why not.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
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

impl Outcome {
    /// Whether the power is reached with no limit crossed.
    pub const fn reachable(&self) -> bool {
        matches!(self, Self::AsPlanned(_) | Self::At(_))
    }

    /// The value, or the best one where it is not reachable; none if every value crosses a limit.
    pub const fn best(&self) -> Option<&Spot> {
        match self {
            Self::AsPlanned(best)
            | Self::At(best)
            | Self::OutOfRange { best }
            | Self::Levels { best, .. }
            | Self::Turns { best } => Some(best),
            Self::Barred { best, .. } => best.as_ref(),
        }
    }

    const fn id(&self) -> &'static str {
        match self {
            Self::AsPlanned(_) => "as_planned",
            Self::At(_) => "at",
            Self::Barred { .. } => "limit",
            Self::OutOfRange { .. } => "end_of_range",
            Self::Levels { .. } => "plateau",
            Self::Turns { .. } => "crest",
        }
    }
}

impl Serialize for Outcome {
    /// The same fields whatever the outcome, so that a program need not look at its kind first.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Fields<'a> {
            kind: &'static str,
            reachable: bool,
            best: Option<&'a Spot>,
            short_w: Option<f64>,
            level: Option<[f64; 2]>,
            limit_from: Option<f64>,
            limit: Option<Bar>,
        }
        let short = |best: &&Spot| (!self.reachable()).then_some(best.short_w);
        let mut fields = Fields {
            kind: self.id(),
            reachable: self.reachable(),
            best: self.best(),
            short_w: self.best().as_ref().and_then(short),
            level: None,
            limit_from: None,
            limit: None,
        };
        match self {
            Self::Levels { over, .. } => fields.level = Some([over.0, over.1]),
            Self::Barred { from, bar, .. } => {
                (fields.limit_from, fields.limit) = (Some(*from), Some(*bar));
            }
            _ => {}
        }
        fields.serialize(serializer)
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reached {
    /// The car's name.
    pub car: String,
    /// The plan's name.
    pub plan: String,
    /// The number that was turned.
    pub number: Dial,
    /// Its unit: none but for the redline, in rpm.
    pub number_unit: &'static str,
    /// Its range.
    pub range: (f64, f64),
    /// Where the plan stands.
    pub planned: f64,
    /// Power asked for, W.
    pub target_w: f64,
    /// Whether that is corrected power.
    pub corrected: bool,
    /// Chance asked for.
    pub chance: f64,
    /// What was found.
    pub answer: Outcome,
    /// Values tried, ascending.
    pub trials: Vec<Trial>,
    /// Whether the car's numbers come from a fit.
    pub fitted: bool,
    /// Closed jobs of the shop that its draws learned from; none where nothing was learned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_jobs: Option<usize>,
    /// Air of the pull after.
    pub weather: Weather,
    /// Correction on that day.
    pub correction: Corrected,
    /// Draws made.
    pub draws: usize,
    /// Draws in which the car could not make a pull before the work.
    pub draws_failed: usize,
    /// Seed of the draws.
    pub seed: u64,
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
    /// More draws than [`MOST_DRAWS`].
    #[error("at most {MOST_DRAWS} draws can be kept, not {draws}")]
    TooManyDraws {
        /// Draws asked for.
        draws: usize,
    },
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

impl Reach<'_> {
    /// Answers the question, the same for any order of the plan's parts.
    /// Equation (8.7).
    pub fn answer(&self) -> Result<Reached, ReachError> {
        self.answer_telling(Progress::SILENT)
    }

    /// As [`Self::answer`], telling how many pulls of drawn cars are made; how many the search needs is not known before.
    pub fn answer_telling(&self, progress: Progress<'_>) -> Result<Reached, ReachError> {
        let plan = canonical(self.question.plan);
        let question = Question {
            plan: &plan,
            ..self.question.clone()
        };
        let ordered = Reach {
            question: &question,
            ..*self
        };
        ordered.answer_in_order(progress)
    }

    fn answer_in_order(&self, progress: Progress<'_>) -> Result<Reached, ReachError> {
        let question = self.question;
        let draws = question.draws.unwrap_or(DRAWS);
        if draws > MOST_DRAWS {
            return Err(ReachError::TooManyDraws { draws });
        }
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
            .pull(&question.before.air.day, &question.ends(centre), POINTS)
            .map_err(QuoteError::from)?;
        let correction = question
            .correction(&question.after, &after)
            .map_err(QuoteError::from)?;
        let made = Made::told_to(progress);
        let cars = question.cars_evenly(None);
        let bases = side_by_side(draws, |i| {
            made.one_more();
            question.base(i, &cars)
        });
        let failed = bases.iter().filter(|base| base.is_none()).count();
        let search = Search {
            reach: self,
            after,
            range,
            bases,
            anchor: question.sheet.is_fitted_on_drums().then_some(before),
            correction: correction.clone(),
            at_centres: RefCell::default(),
            latest: RefCell::default(),
            made,
        };
        let (answer, trials) = search.answer(own)?;
        Ok(Reached {
            car: question.sheet.centre.car.name.clone(),
            plan: question.plan.name.clone(),
            number: self.dial,
            number_unit: if self.dial.shown() == Shown::Rpm {
                "rpm"
            } else {
                ""
            },
            range,
            planned: own,
            target_w: self.target_w,
            corrected: self.corrected,
            chance: self.chance,
            answer,
            trials,
            fitted: question.fitted(),
            own_jobs: question.learned.as_ref().map(|learned| learned.jobs),
            weather: (&question.after).into(),
            correction: (&correction).into(),
            draws,
            draws_failed: failed,
            seed: question.seed,
        })
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
    let limits = Limit::ALL
        .iter()
        .filter(|limit| limit.stops_search())
        .filter_map(|&limit| {
            let rpm = speeds(pull, limit)?;
            Some((rpm.0, Bar::of(limit, rpm)))
        });
    let stalled = pull.stalled_rpm.map(|rpm| (rpm, Bar::stalled(Some(rpm))));
    limits
        .chain(stalled)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, bar)| bar)
}
