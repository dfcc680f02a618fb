//! Air box, ducts or throttle with another flow area, ahead of a blower or behind it.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, NotComputed, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Described, Usual};
use super::row::{self, FACTOR_DOUBT, rows, words};
use super::{BuildError, Change, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::Guess::Normal;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

/// Where parts of the intake stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Ahead of the blower.
    Ahead,
    /// Behind blower and charge cooler.
    Behind,
}

/// Where parts of the intake stand, by their words.
const PLACES: &[(&str, Place)] = &[
    ("ahead of the blower", Place::Ahead),
    ("behind the blower", Place::Behind),
];

numbers! {
    /// Air box, ducts or throttle.
    Intake {
        /// New over old flow area of the parts replaced.
        area_factor: T => number("area_factor"),
        /// Which part of the intake's loss they stand in; `None` for the whole.
        place: Option<Place> => kept,
        /// Share of that loss that those parts cause.
        share: T => number("share"),
    }
}

/// Share of the intake's loss that air box, ducts and throttle cause: mean, sd. Common practice, no source.
const USUAL_SHARE: (f64, f64) = (0.8, 0.12);

rows! {
    AREA_FACTOR = row::number("area_factor", Measure::RATIO, (0.2, 5.0), FACTOR_DOUBT, MustBeGiven,
        "new over old flow area of the parts replaced", CommonPractice),
    SHARE = row::number("share", Measure::RATIO, (0.0, 1.0), 0.15, Usual(Normal(USUAL_SHARE.0, USUAL_SHARE.1)),
        "share of the intake's loss, or of the loss at `place`, that those parts cause", CommonPractice),
    PLACE = row::other("place", words!(PLACES), Described("the whole loss, wherever it lies"), "where they stand"),
}

impl<T> Part for Intake<T> {
    const KIND: &'static Kind = &Kind {
        not_computed: Some(NotComputed::PulseTuning),
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
        let place = None;
        Ok(Intake {
            area_factor,
            place,
            share,
        }
        .into())
    },
});

impl Written for Intake<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (area_factor, share) = (form.number(&AREA_FACTOR), form.number(&SHARE));
        let place = form.word(&PLACE, PLACES, false);
        if form.has(PLACE.key) && place.is_none() {
            return None;
        }
        Some(Self {
            area_factor: area_factor?,
            place,
            share: share?,
        })
    }
}

impl Work for Intake<f64> {
    /// At equal flow the loss of the parts replaced falls with the square of their flow area.
    ///
    /// ```text
    /// Δp' = Δp [1 − s + s/f²]
    /// ```
    ///
    /// With a place it is the loss there that does, and the shares of the sum follow. Derived from equation 2.1.
    ///
    /// Equation (11.2).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let (area_factor, share) = (self.area_factor, self.share);
        let left = 1.0 - share + share / (area_factor * area_factor);
        let intake = &mut car.intake;
        let Some(place) = self.place else {
            intake.loss_pa *= left;
            return Ok(());
        };
        let behind = intake.share_behind;
        let (there, part) = match place {
            Place::Ahead => (1.0 - behind, "intake loss ahead of the blower"),
            Place::Behind => (behind, "intake loss behind the blower"),
        };
        if there <= 0.0 {
            return Err(BuildError::PartMissing { part });
        }
        let sum = 1.0 - there * (1.0 - left);
        intake.loss_pa *= sum;
        intake.share_behind = match place {
            Place::Ahead => behind / sum,
            Place::Behind => behind * left / sum,
        };
        Ok(())
    }
}
