//! The range to promise: what a car will read after a planned build, and how much it gains.
//!
//! Before and after are drawn together: one draw of the car's numbers, one of the plan's, two pulls. What is uncertain
//! about the car and common to both pulls so cancels in the gain, as it will on the drums. What does not cancel, the
//! repeatability of another visit, is added to what the drums will show. A fitted car's draws are anchored where it was measured: each
//! keeps its own ratio of after to before, and takes its level from the fitted curve, because a straight approximation
//! of a bent posterior knows ratios better than levels. Outside the measured speeds draws go their own ways. Draws are numbered, so the same seed gives the same quote.

mod account;
mod answer;
mod bases;
mod before;
mod centred;
mod draw;
mod evenly;
pub mod interactions;
mod learned;
mod next;
pub mod order;
mod range;
pub mod reach;
mod strays;

pub use crate::parts::{Dial, DialError};
pub use account::{Driver, DriverOrigin};
pub use answer::{
    Answer, Basis, ByCycle, CurvePoint, Expected, Extrapolated, Gate, Hoped, Misjudged, Peaks,
    Promise, Sure,
};
pub use bases::Bases;
pub use before::{Before, ReadOn};
pub use interactions::{Interactions, Together};
pub use learned::{Faultless, OwnJobs, OwnKinds, OwnMiss};
pub use next::{Log, Narrowing};
pub use range::{Fan, Range};
pub use reach::{Outcome, Reach, Reached};

use crate::ask::basis::{Air, subject_of};
use crate::ask::draws::{AtCentre, relevel};
use crate::belief::Noise;
use crate::belief::prior::Prior;
use crate::belief::sheet::Sheet;
use crate::car::Car;
use crate::dyno::PullError;
use crate::dyno::correction::{Correction, CorrectionError, Standard};
use crate::fit::observation::Visit;
use crate::fit::own_jobs::Learned;
use crate::numeric::Progress;
use crate::parts::{BuildError, Plan};
use std::sync::Arc;

/// Engine speeds at which pulls are simulated.
const POINTS: usize = 28;
/// Fewest draws that may be asked for.
pub const LEAST_DRAWS: usize = 50;
/// Fewest draws that made the pull from which fifth and ninety-fifth percentiles are told: two lie beyond each. Above [`MOST_FAILED`] the
/// range is told and not to be promised.
pub const LEAST_USED: usize = 40;
/// Fewest draws made where their number is not asked for: the outer percentiles then rest on thirty draws each.
/// Equation (8.6).
pub const USUAL_DRAWS: usize = 600;
/// Most draws made where their number is not asked for.
/// Equation (8.6).
pub const MOST_USUAL_DRAWS: usize = 3000;
/// The same with a turbocharger, before or after: its pulls take three times as long, and a page waits for them.
/// Equation (8.6).
pub const MOST_TURBO_DRAWS: usize = 1800;
/// Share of failed draws above which the range no longer speaks for the car.
pub const MOST_FAILED: f64 = 0.05;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// The car, fitted or not.
    pub sheet: &'a Sheet,
    /// The planned work.
    pub plan: &'a Plan<Prior>,
    /// The pull before: its air, how it is started as the pull after is, and what was read.
    pub before: Before,
    /// The air of the pull after.
    pub after: Air,
    /// Repeatability of the drums.
    pub noise: Noise,
    /// Correction in which the figures are also stated.
    pub standard: Standard,
    /// Mechanical efficiency that the standard may ask for, where it is known.
    pub mechanical_efficiency: Option<f64>,
    /// What the shop's own closed jobs say of the misses; none, and what is missed in general stands.
    pub learned: Option<Arc<Learned>>,
    /// Peak power as read that somebody hopes for, W; the chance to miss it is told.
    pub hoped_w: Option<f64>,
    /// Number of draws; none, and as many are made as leave little luck in the ends of the range, [`USUAL_DRAWS`] to [`MOST_USUAL_DRAWS`].
    pub draws: Option<usize>,
    /// Seed of the draws.
    pub seed: u64,
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
        "{failed} of {draws} draws could not make the pull; at least {LEAST_USED} are needed for a range"
    )]
    TooFewDraws {
        /// Draws that failed.
        failed: usize,
        /// Draws made.
        draws: usize,
    },
    /// Whoever asked wants no answer any more.
    #[error("the question was taken back")]
    Over,
}

impl<'a> Question<'a> {
    /// A question with the usual number of draws, drums and correction: a car, fitted to the visits named or not, the planned work, and the air
    /// expected for the pull after it.
    ///
    /// The last visit is the reading before. What is not given is taken from the other side: without a day after, the pull after is made
    /// in the air of that visit; without a visit, the pull before is made in the air of the day after; with neither, both are made in
    /// reference air.
    pub fn new(
        sheet: &'a Sheet,
        plan: &'a Plan<Prior>,
        visits: &[Visit],
        day_after: Option<Air>,
    ) -> Self {
        let (before, after) = Before::and_after(&sheet.centre.car, visits, day_after);
        Self {
            sheet,
            plan,
            before,
            after,
            noise: Noise::default(),
            standard: Standard::SaeJ1349,
            mechanical_efficiency: None,
            learned: None,
            hoped_w: None,
            draws: None,
            seed: 1,
        }
    }

    /// Answers the question, the same for any order of the plan's parts.
    pub fn answer(&self) -> Result<Answer, QuoteError> {
        self.answer_telling(Progress::SILENT)
    }

    /// As [`Self::answer`], telling how many draws are made.
    pub fn answer_telling(&self, progress: Progress<'_>) -> Result<Answer, QuoteError> {
        self.answer_on(None, progress)
    }

    /// The same answer, of draws whose part without the plan may be known; those that are not of this question are made anew.
    pub fn answer_on(
        &self,
        known: Option<&Bases>,
        progress: Progress<'_>,
    ) -> Result<Answer, QuoteError> {
        let plan = order::canonical(self.plan);
        let ordered = Question {
            plan: &plan,
            ..self.clone()
        };
        ordered.answer_in_order(known, progress)
    }

    fn answer_in_order(
        &self,
        known: Option<&Bases>,
        progress: Progress<'_>,
    ) -> Result<Answer, QuoteError> {
        let centre_plan = self.plan.map(|_, _, prior| prior.centre());
        let built = self.centre_built(&centre_plan)?;
        let general = built.pull(&self.after.day, &self.ends(&built), POINTS)?;
        let before =
            self.sheet
                .centre
                .pull(&self.before.air.day, &self.ends(&self.sheet.centre), POINTS)?;
        let same_day =
            self.sheet
                .centre
                .pull(&self.after.day, &self.ends(&self.sheet.centre), POINTS)?;
        let mut centre = general.clone();
        self.moved(&mut centre, &same_day, &centre_plan, &built.car);
        let anchor = self.sheet.is_fitted_on_drums().then_some(&before);
        let corrections = (
            self.correction(&self.before.air, &self.sheet.centre.car)?,
            self.correction(&self.after, &built.car)?,
        );
        let at_centre = AtCentre::of(&built.car);
        let work = self.work_sways(self.plan, &at_centre);
        let (made, car) = self.draws.map_or_else(
            || {
                let car = self.car_sways();
                let made = self.enough_draws((&car, &work), &built.car, &at_centre);
                (made, Some(car))
            },
            |draws| (draws, None),
        );
        let (speeds, mut draws) =
            self.drawn((known, made), (car, &work), anchor, &at_centre, progress)?;
        enough(draw::cars(&draws).count(), made)?;
        let alike = self.alike(&mut draws);
        relevel(&mut centre.points, |_| alike);
        centred::centred(&mut draws, &speeds, [&before, &same_day, &centre]);
        Ok(Answer::new(
            self,
            (&built.car, [&before, &same_day, &centre, &general]),
            (&speeds, &draws, made),
            &corrections,
            self.interactions()?,
        ))
    }

    /// The question's correction of a car in some air.
    fn correction(&self, air: &Air, car: &Car) -> Result<Correction, CorrectionError> {
        let subject = subject_of(car, self.mechanical_efficiency);
        Correction::new(self.standard, air.day, &subject)
    }

    /// Whether the car's numbers come from a fit.
    fn fitted(&self) -> bool {
        self.sheet.is_fitted() || self.before.read_on.is_some()
    }
}

/// Whether so many used of the draws made tell a range.
fn enough(used: usize, draws: usize) -> Result<(), QuoteError> {
    if used < LEAST_USED {
        let failed = draws - used;
        return Err(QuoteError::TooFewDraws { failed, draws });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_the_fewest_draws_some_may_fail() {
        assert_eq!(enough(LEAST_DRAWS - 1, LEAST_DRAWS), Ok(()));
        assert_eq!(enough(LEAST_USED, LEAST_DRAWS), Ok(()));
        let short = enough(LEAST_USED - 1, LEAST_DRAWS).expect_err("too few");
        assert_eq!(
            short.to_string(),
            "11 of 50 draws could not make the pull; at least 40 are needed for a range"
        );
    }
}
