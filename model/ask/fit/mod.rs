//! Calibrating a car on measured pulls: the fitted car, an account of the fit, and whether anything should be built on it.
//!
//! The inference is [`crate::fit`]; here stands what is asked of it, and the rules by which its answer is held against the car file
//! ([`misfit`]). A fit that may not be built on is an answer like any other, with its [`Gate`]; what to do about it is the caller's.

mod account;
pub mod misfit;

pub use account::{
    BandLine, BestKnown, Bound, ChannelLine, FitAnswer, Gate, KnownPart, LearntLine, PowerPoint,
    PullCurve, PullLine, VisitLine, WorstPoint,
};

use crate::belief::{Noise, Sheet};
use crate::fit::fitted::{CalibrationError, Fitted, calibrate_telling};
use crate::fit::observation::Visit;
use crate::numeric::Progress;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The car on its drums, as believed before.
    pub sheet: &'a Sheet,
    /// The pulls.
    pub visits: &'a [Visit],
    /// How far measurements stray.
    pub noise: Noise,
    /// Whether a file that does not describe the car is taken all the same.
    pub accept_misfit: bool,
}

impl Question<'_> {
    /// Fits, and gives an account of it.
    pub fn answer(&self) -> Result<(Fitted, FitAnswer), CalibrationError> {
        self.answer_telling(Progress::SILENT)
    }

    /// As [`Self::answer`], telling how far the fit is.
    pub fn answer_telling(
        &self,
        progress: Progress<'_>,
    ) -> Result<(Fitted, FitAnswer), CalibrationError> {
        let fitted = calibrate_telling(self.sheet, self.visits, self.noise, progress)?;
        let answer = FitAnswer::new(self.sheet, &fitted, self.visits, self.accept_misfit);
        Ok((fitted, answer))
    }
}
