//! Air box, ducts or throttle with another flow area.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Usual};
use super::row::{self, FACTOR_DOUBT, rows};
use super::{BuildError, Change, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::Guess::Normal;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Air box, ducts or throttle.
    Intake {
        /// New over old flow area of the parts replaced.
        area_factor: T => number("area_factor"),
        /// Share of the intake's loss that those parts cause.
        share: T => number("share"),
    }
}

/// Share of the intake's loss that air box, ducts and throttle cause: mean, sd. Common practice, no source.
const USUAL_SHARE: (f64, f64) = (0.8, 0.12);

rows! {
    AREA_FACTOR = row::number("area_factor", Measure::RATIO, (0.2, 5.0), FACTOR_DOUBT, MustBeGiven,
        "new over old flow area of the parts replaced", CommonPractice),
    SHARE = row::number("share", Measure::RATIO, (0.0, 1.0), 0.15, Usual(Normal(USUAL_SHARE.0, USUAL_SHARE.1)),
        "share of the intake's loss that those parts cause", CommonPractice),
}

/// What nobody computes of another duct.
pub(super) const NO_TUNING: &str =
    "pulse tuning of the new intake or exhaust: only its loss of pressure is computed";

impl<T> Part for Intake<T> {
    const KIND: &'static Kind = &Kind {
        not_computed: Some(NO_TUNING),
        ..Kind::new("intake", "intake", "new intake", ROWS).adds_up()
    };
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "intake",
    help: "Flow area of the intake, new over old",
    words: "intake, new over old flow area",
    shown: Shown::Plain,
    rows: &[("intake", AREA_FACTOR)],
    refused: never,
    own: |_| Ok(1.0),
    number: |change| match change {
        Change::Intake(intake) => Some(&mut intake.area_factor),
        _ => None,
    },
    follow: None,
    work: |_, area_factor| {
        let (low, high) = SHARE.bounds();
        let share = Prior::normal(USUAL_SHARE.0, USUAL_SHARE.1, low, high)?;
        Ok(Intake { area_factor, share }.into())
    },
});

impl Written for Intake<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (area_factor, share) = (form.number(&AREA_FACTOR), form.number(&SHARE));
        Some(Self {
            area_factor: area_factor?,
            share: share?,
        })
    }
}

impl Work for Intake<f64> {
    /// At equal flow the loss of the parts replaced falls with the square of their flow area.
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let (area_factor, share) = (self.area_factor, self.share);
        car.intake.loss_pa *= 1.0 - share + share / (area_factor * area_factor);
        Ok(())
    }
}
