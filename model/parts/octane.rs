//! The same fuel with another octane.

use super::fuel::RESEARCH_OCTANE;
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Described};
use super::row::{self, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::Fact;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// The same fuel with another octane.
    Octane {
        /// Research octane number.
        research_octane: T => number("research_octane"),
        /// Motor octane number; the sensitivity stays where it is not given.
        motor_octane: Option<T> => maybe("motor_octane"),
    }
}

rows! {
    RESEARCH = row::of_car(RESEARCH_OCTANE.key, "fuel.research_octane", 0.0, MustBeGiven, Fact),
    MOTOR = row::of_car("motor_octane", "fuel.motor_octane", 0.0, Described("as far below the research octane number as now"), Fact),
}

impl<T> Part for Octane<T> {
    const KIND: &'static Kind = &Kind::new("octane", "octane", "new octane", ROWS);
}

impl Written for Octane<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (research, motor_octane) = (form.number(&RESEARCH), form.number(&MOTOR));
        Some(Self {
            research_octane: research?,
            motor_octane,
        })
    }
}

impl Work for Octane<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let fuel = &mut car.fuel;
        let sensitivity = fuel.research_octane - fuel.motor_octane;
        let kept = if self.research_octane == fuel.research_octane {
            fuel.motor_octane
        } else {
            self.research_octane - sensitivity
        };
        fuel.motor_octane = self.motor_octane.unwrap_or(kept);
        fuel.research_octane = self.research_octane;
        Ok(())
    }
}
