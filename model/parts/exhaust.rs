//! Another exhaust, headers included.

use super::dial::{Dial, Shown, Turn, never};
use super::kind::{Kind, NotComputed, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Described;
use super::row::{self, FACTOR_DOUBT, rows};
use super::{BuildError, Change, Fault, Form, usual};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Exhaust system, headers included.
    Exhaust {
        /// New over old back pressure at equal flow.
        back_pressure_factor: T => number("back_pressure_factor"),
    }
}

rows! {
    FACTOR = row::number("back_pressure_factor", Measure::RATIO, (0.02, 10.0), FACTOR_DOUBT, Described("the two pressures"),
        "new over old back pressure at equal flow", CommonPractice),
    BEFORE = row::plain("back_pressure_before", Measure::KPA, (0.5, 150.0), Described("`back_pressure_factor`"),
        "back pressure there; the ratio of the two is doubted as a factor", Fact),
    AFTER = row::plain("back_pressure_after", Measure::KPA, (0.5, 150.0), Described("`back_pressure_factor`"),
        "back pressure to come, at the same flow", Fact),
}

impl<T> Part for Exhaust<T> {
    const KIND: &'static Kind = &Kind {
        not_computed: Some(NotComputed::PulseTuning),
        ..Kind::new("exhaust", "exhaust", "new exhaust", ROWS).adds_up()
    };
}

pub(super) const DIAL: Dial = Dial::new(&Turn {
    id: "exhaust",
    help: "Back pressure of the exhaust, new over old",
    words: "exhaust, new over old back pressure",
    shown: Shown::Plain,
    rows: &[("exhaust", FACTOR)],
    refused: never,
    own: |_| Ok(1.0),
    number: |change| match change {
        Change::Exhaust(exhaust) => Some(&mut exhaust.back_pressure_factor),
        _ => None,
    },
    follow: None,
    work: |_, back_pressure_factor| {
        Ok(Exhaust {
            back_pressure_factor,
        }
        .into())
    },
});

impl Written for Exhaust<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let has_factor = form.has(FACTOR.key);
        let has_readings = form.has_any(&[BEFORE, AFTER]);
        if has_factor && has_readings {
            let message = "'back_pressure_factor' and back pressures are both given";
            let expected =
                "back_pressure_before and back_pressure_after, or back_pressure_factor alone";
            form.error(FACTOR.key, Fault::Conflict, message, expected);
            return None;
        }
        let factor = if has_readings {
            let (before, after) = (form.required_plain(&BEFORE), form.required_plain(&AFTER));
            let factor = after? / before?;
            let (low, high) = FACTOR.bounds();
            usual(factor, FACTOR_DOUBT * factor, low, high)
        } else {
            form.required(&FACTOR)
        };
        Some(Self {
            back_pressure_factor: factor?,
        })
    }
}

impl Work for Exhaust<f64> {
    /// Equation (11.2).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.exhaust.back_pressure_pa *= self.back_pressure_factor;
        Ok(())
    }
}
