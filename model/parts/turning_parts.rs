//! Lighter or heavier turning parts.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::MustBeGiven;
use super::row::{self, Row, rows, words};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

/// Where turning parts sit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turning {
    /// At the crank: flywheel, clutch, crank pulley.
    Crank,
    /// At the gearbox's input.
    GearboxInput,
    /// At the final drive's input: propeller shaft.
    Shaft,
    /// At the wheels: wheels, tyres, discs.
    Wheels,
}

/// Where turning parts sit, by their words.
const PLACES: &[(&str, Turning)] = &[
    ("crank", Turning::Crank),
    ("gearbox input", Turning::GearboxInput),
    ("shaft", Turning::Shaft),
    ("wheels", Turning::Wheels),
];

numbers! {
    /// Lighter or heavier turning parts.
    TurningChange {
        /// Where they sit.
        at: Turning => kept,
        /// Their moment of inertia before, kg m².
        before_kg_m2: T => number("inertia_before"),
        /// And after.
        after_kg_m2: T => number("inertia_after"),
    }
}

/// Doubt on a moment of inertia that nobody measured, relative; common practice, no source.
pub(super) const INERTIA_DOUBT: f64 = 0.05;

pub(super) const INERTIA_BEFORE: Row = row::number(
    "inertia_before",
    Measure::KG_M2,
    (1e-4, 16.0),
    INERTIA_DOUBT,
    MustBeGiven,
    "moment of inertia of the parts there",
    CommonPractice,
);
pub(super) const INERTIA_AFTER: Row = Row {
    key: "inertia_after",
    meaning: "of those in their place",
    ..INERTIA_BEFORE
};

rows! {
    AT = row::other("at", words!(PLACES), MustBeGiven, "where they turn"),
    BEFORE = INERTIA_BEFORE,
    AFTER = INERTIA_AFTER,
}

impl<T> Part for TurningChange<T> {
    const KIND: &'static Kind =
        &Kind::new("turning parts", "turning_parts", "new turning parts", ROWS).adds_up();
}

impl Written for TurningChange<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let at = form.word(&AT, PLACES, true);
        let (before, after) = (form.number(&BEFORE), form.number(&AFTER));
        Some(Self {
            at: at?,
            before_kg_m2: before?,
            after_kg_m2: after?,
        })
    }
}

impl Work for TurningChange<f64> {
    /// Equation (11.8).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let parts = &mut car.driveline.parts;
        let inertia = match self.at {
            Turning::Crank => &mut parts.engine_kg_m2,
            Turning::GearboxInput => &mut parts.gearbox_input_kg_m2,
            Turning::Shaft => &mut parts.shaft_kg_m2,
            Turning::Wheels => &mut parts.wheels_kg_m2,
        };
        let left = *inertia + (self.after_kg_m2 - self.before_kg_m2);
        if left <= 0.0 {
            return Err(BuildError::NothingLeft {
                what: "moment of inertia",
                there: format!("{:.3} kg m²", *inertia),
                taken: format!("{:.3} kg m²", self.before_kg_m2 - self.after_kg_m2),
            });
        }
        *inertia = left;
        Ok(())
    }
}
