//! Why one pull of a visit looks wrong: the causes with their chances, what each makes of the log, and the next measurement.
//!
//! The inference is [`crate::diagnose`]; here stands which pull is asked about, what it is held against, and when nothing may be said. It
//! refuses to name one cause where two are left standing.

mod account;

pub use account::{
    Answer, IN_FULL, LEAST_TOLD, NextLine, Of, SignLine, SizeLine, SuspectLine, TraceLine,
    TrialsLine, Verdict,
};

use crate::belief::Sheet;
use crate::diagnose::{self, DiagnoseError, Entered, Remark, Trial};
use crate::fit::observation::Visit;
use crate::numeric::Progress;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The car on its drums, as it is known; best a fitted one.
    pub sheet: &'a Sheet,
    /// Visits with good pulls, each with what was entered for its pulls. May be empty with a fitted car.
    pub good: &'a [(Visit, Vec<Entered>)],
    /// The visit of the odd pull. What comes before that pull leaves the car warm.
    pub odd: &'a Visit,
    /// What was entered for its pulls.
    pub entered: &'a [Entered],
    /// Which of its pulls, counted from 0; may be left out where there is one alone.
    pub pull: Option<usize>,
    /// Whether the car stood on the drums unmoved since the good pulls.
    pub same_strapping: bool,
    /// Whether the air of the room is that of the good pulls.
    pub same_air: bool,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// The car is no fitted one, and no good pulls are named.
    #[error("there is nothing to judge the odd pull against: no fitted car and no good pulls")]
    NothingToHoldAgainst,
    /// The visit holds several pulls, and none is named.
    #[error("the visit holds {pulls} pulls; say which of them looks wrong")]
    WhichPull {
        /// How many.
        pulls: usize,
    },
    /// The visit does not hold the pull named.
    #[error("the visit holds {pulls} pulls, none numbered {pull} from 0")]
    NoSuchPull {
        /// The one named, counted from 0.
        pull: usize,
        /// How many there are.
        pulls: usize,
    },
    /// The good pulls are another car's, or the file is.
    #[error("the good pulls differ from the car file by {by:+.2} of its power")]
    AnotherCar {
        /// Power of the good pulls over the file's, less one.
        by: f64,
    },
    /// The pull cannot be weighed.
    #[error(transparent)]
    Diagnose(#[from] DiagnoseError),
}

impl Question<'_> {
    /// Weighs all causes.
    pub fn answer(&self) -> Result<Answer, Refusal> {
        self.answer_telling(Progress::SILENT)
    }

    /// As [`Self::answer`], telling how many causes are weighed.
    pub fn answer_telling(&self, progress: Progress<'_>) -> Result<Answer, Refusal> {
        let fitted = self.sheet.is_fitted();
        if self.good.is_empty() && !fitted {
            return Err(Refusal::NothingToHoldAgainst);
        }
        let pulls = &self.odd.pulls;
        let index = match self.pull {
            Some(index) => index,
            None if pulls.len() == 1 => 0,
            None => return Err(Refusal::WhichPull { pulls: pulls.len() }),
        };
        let (Some(pull), Some(entered)) = (pulls.get(index), self.entered.get(index)) else {
            return Err(Refusal::NoSuchPull {
                pull: index,
                pulls: pulls.len(),
            });
        };
        let setup = &self.sheet.centre;
        let question = diagnose::Question {
            setup,
            good: self.good,
            odd: Trial {
                pull,
                entered: *entered,
            },
            before: &pulls[..index],
            same_strapping: self.same_strapping,
            same_air: self.same_air,
            doubts: diagnose::Doubts::CHOSEN,
        };
        let diagnosis = question.answer_telling(progress)?;
        let forbids = diagnosis.remarks.iter().find(|r| r.forbids_an_answer());
        if let Some(Remark::GoodPullsAreAnotherCar { by }) = forbids {
            return Err(Refusal::AnotherCar { by: *by });
        }
        Ok(Answer::new(&diagnosis, &setup.car, fitted, pull))
    }
}
