//! A tune of the spark: what the factory held back beside best torque and knock limit is taken back, but for a rest.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Usual;
use super::row::{self, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::Guess::Normal;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// The factory tune's margin taken back.
    Retune {
        /// Share of the margin that the tuner leaves.
        margin_left: T => number("margin_left"),
    }
}

rows! {
    MARGIN_LEFT = row::number("margin_left", Measure::RATIO, (0.0, 1.0), 0.0, Usual(Normal(0.15, 0.10)),
        "share of the factory tune's margin (`tune.margin`) that the tuner leaves", CommonPractice),
}

impl<T> Part for Retune<T> {
    const KIND: &'static Kind = &Kind::new("tune", "tune", "tune", ROWS).adds_up();
}

impl Written for Retune<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let margin_left = form.number(&MARGIN_LEFT)?;
        Some(Self { margin_left })
    }
}

impl Work for Retune<f64> {
    /// A share, so that a tune that had no margin gains nothing.
    ///
    /// Equation (11.9).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.tune.margin_deg *= self.margin_left;
        Ok(())
    }
}
