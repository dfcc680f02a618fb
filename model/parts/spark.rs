//! Another spark: half the burn held later than best torque or the knock limit.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Told;
use super::row::{self, Holds, rows};
use super::{BuildError, Fault, Form, exactly};
use crate::belief::parameter::Basis::Fact;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Another spark: half the burn held this much later than best torque or the knock limit.
    Spark {
        /// Retard, deg; 0 goes to the limit.
        retard_deg: T => number("retard"),
    }
}

rows! {
    RETARD = row::of_car("retard", "tune.retard", 0.0, Told("`to_limit`"), Fact),
    TO_LIMIT = row::other("to_limit", Holds::Switch, Told("`retard`"), "holds nothing back"),
}

impl<T> Part for Spark<T> {
    const KIND: &'static Kind = &Kind::new("spark", "spark", "new spark", ROWS);
}

impl Written for Spark<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let has_retard = form.has(RETARD.key);
        let to_limit = form.read_switch(TO_LIMIT.key);
        if has_retard && to_limit.is_some() {
            let message = "'retard' and 'to_limit' are both given";
            let expected = "retard, or to_limit = true";
            form.error(RETARD.key, Fault::Conflict, message, expected);
            return None;
        }
        let retard = if to_limit == Some(true) {
            exactly(0.0)
        } else {
            form.required(&RETARD)
        };
        Some(Self {
            retard_deg: retard?,
        })
    }
}

impl Work for Spark<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.tune.retard_deg = self.retard_deg;
        Ok(())
    }
}
