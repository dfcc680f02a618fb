//! Another spark: half the burn held later than best torque or the knock limit, or moved against where it is today.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Described;
use super::row::{self, Holds, rows};
use super::{BuildError, Fault, Form, exactly};
use crate::belief::parameter::Basis::Fact;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

/// A spark against the limit or against today's.
#[derive(Debug, Clone, PartialEq)]
pub enum Timing<T> {
    /// Half the burn this much later than best torque or the knock limit, deg; 0 goes to the limit.
    Held(T),
    /// Half the burn this much earlier than today, deg; later where it is negative.
    Advanced(T),
}

impl<T> Timing<T> {
    fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> Timing<U> {
        match self {
            Self::Held(deg) => Timing::Held(convert("retard", deg)),
            Self::Advanced(deg) => Timing::Advanced(convert("advance", deg)),
        }
    }
}

numbers! {
    /// Another spark.
    Spark {
        /// Where half the burn is held.
        timing: Timing<T> => inner,
    }
}

rows! {
    RETARD = row::of_car("retard", "tune.retard", 0.0, Described("`to_limit` or `advance`"), Fact),
    TO_LIMIT = row::other("to_limit", Holds::Switch, Described("`retard` or `advance`"), "holds nothing back"),
    ADVANCE = row::number("advance", Measure::DEG, (-25.0, 25.0), 0.0, Described("`retard` or `to_limit`"),
        "half the burn this much earlier than today, later where it is negative; never earlier than best torque or the knock limit", Fact),
}

impl<T> Part for Spark<T> {
    const KIND: &'static Kind = &Kind::new("spark", "spark", "new spark", ROWS);

    fn replaces(&self) -> bool {
        matches!(self.timing, Timing::Held(_))
    }
}

impl Written for Spark<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let has_retard = form.has(RETARD.key);
        let has_advance = form.has(ADVANCE.key);
        let to_limit = form.read_switch(TO_LIMIT.key);
        if has_retard && to_limit.is_some() {
            let message = "'retard' and 'to_limit' are both given";
            let expected = "retard, or to_limit = true";
            form.error(RETARD.key, Fault::Conflict, message, expected);
            return None;
        }
        if has_advance && (has_retard || to_limit.is_some()) {
            let message = "'advance' against today's spark and a spark held against the limit are both given";
            let expected = "advance alone, or one of retard and to_limit";
            form.error(ADVANCE.key, Fault::Conflict, message, expected);
            return None;
        }
        let timing = if has_advance {
            form.required(&ADVANCE).map(Timing::Advanced)
        } else if to_limit == Some(true) {
            exactly(0.0).map(Timing::Held)
        } else {
            form.required(&RETARD).map(Timing::Held)
        };
        Some(Self { timing: timing? })
    }
}

impl Work for Spark<f64> {
    /// Equation (11.9).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let tune = &mut car.tune;
        match self.timing {
            Timing::Held(deg) => tune.hold_late(deg),
            Timing::Advanced(deg) => tune.advance(deg),
        }
        Ok(())
    }
}
