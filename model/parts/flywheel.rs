//! Flywheel and clutch: turning parts at the crank.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::rows;
use super::turning_parts::{INERTIA_AFTER, INERTIA_BEFORE, Turning, TurningChange};
use super::{BuildError, Form};
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// A lighter or heavier flywheel with its clutch.
    Flywheel {
        /// Their moment of inertia before, kg m².
        before_kg_m2: T => number("inertia_before"),
        /// And after.
        after_kg_m2: T => number("inertia_after"),
    }
}

rows! {
    BEFORE = INERTIA_BEFORE,
    AFTER = INERTIA_AFTER,
}

impl<T> Part for Flywheel<T> {
    const KIND: &'static Kind =
        &Kind::new("flywheel", "flywheel", "new turning parts", ROWS).adds_up();
}

impl Written for Flywheel<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (before, after) = (form.number(&BEFORE), form.number(&AFTER));
        Some(Self {
            before_kg_m2: before?,
            after_kg_m2: after?,
        })
    }
}

impl Work for Flywheel<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        TurningChange {
            at: Turning::Crank,
            before_kg_m2: self.before_kg_m2,
            after_kg_m2: self.after_kg_m2,
        }
        .apply(car)
    }
}
