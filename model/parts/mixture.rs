//! Full-load mixture; spark is set to best torque or the knock limit, whichever is later.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::MustBeGiven;
use super::row::{self, rows};
use super::{BuildError, Change, Form};
use crate::belief::parameter::Basis::Fact;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Full-load mixture.
    Mixture {
        /// Relative air-fuel ratio asked for.
        lambda: T => number("lambda"),
    }
}

rows! {
    LAMBDA = row::of_car("lambda", "tune.lambda", 0.0, MustBeGiven, Fact),
}

impl<T> Part for Mixture<T> {
    const KIND: &'static Kind = &Kind::new("mixture", "mixture", "new mixture", ROWS);
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "mixture",
    help: "Relative air-fuel ratio",
    words: "relative air-fuel ratio",
    shown: Shown::Plain,
    rows: &[("mixture", LAMBDA)],
    refused: never,
    own: |after| Ok(after.tune.lambda),
    number: |change| match change {
        Change::Mixture(mixture) => Some(&mut mixture.lambda),
        _ => None,
    },
    follow: None,
    work: |_, lambda| Ok(Mixture { lambda }.into()),
});

impl Written for Mixture<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let lambda = form.number(&LAMBDA)?;
        Some(Self { lambda })
    }
}

impl Work for Mixture<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.tune.lambda = self.lambda;
        Ok(())
    }
}
