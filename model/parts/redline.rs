//! Another engine speed at which the pull ends.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, NotComputed, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::MustBeGiven;
use super::row::{self, rows};
use super::{BuildError, Change, Form};
use crate::belief::parameter::Basis::Fact;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Another engine speed at which the pull ends.
    Redline {
        /// The new limit, rpm.
        rpm: T => number("rpm"),
    }
}

rows! {
    SPEED = row::of_car("speed", "engine.redline", 0.0, MustBeGiven, Fact),
}

impl<T> Part for Redline<T> {
    const KIND: &'static Kind = &Kind {
        not_computed: Some(NotComputed::ValveTrain),
        ..Kind::new("redline", "redline", "new redline", ROWS)
    };
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "redline",
    help: "Engine speed at which the pull ends",
    words: "redline",
    shown: Shown::Rpm,
    rows: &[("redline", SPEED)],
    refused: never,
    own: |after| Ok(after.engine.redline_rpm),
    number: |change| match change {
        Change::Redline(redline) => Some(&mut redline.rpm),
        _ => None,
    },
    follow: None,
    work: |_, rpm| Ok(Redline { rpm }.into()),
});

impl Written for Redline<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let rpm = form.number(&SPEED)?;
        Some(Self { rpm })
    }
}

impl Work for Redline<f64> {
    /// Mixture and breathing keep the course they had over engine speed.
    ///
    /// Equation (11.7).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let old = car.engine.redline_rpm;
        car.tune.retell(old, self.rpm);
        car.engine.breathing.retell(old, self.rpm);
        car.engine.redline_rpm = self.rpm;
        Ok(())
    }
}
