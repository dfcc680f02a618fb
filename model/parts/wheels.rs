//! Wheels and tyres of the driven axle.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Stays};
use super::row::{self, rows};
use super::turning_parts::INERTIA_DOUBT;
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Wheels and tyres of the driven axle.
    Wheels {
        /// Rotating inertia of the two wheels together, kg m².
        inertia_kg_m2: T => number("inertia"),
        /// Rolling radius, if it changes, m.
        radius_m: Option<T> => maybe("radius"),
    }
}

rows! {
    INERTIA = row::of_car("inertia", "wheels.inertia", INERTIA_DOUBT, MustBeGiven, CommonPractice),
    RADIUS = row::of_car("tyre_radius", "wheels.tyre_radius", 0.0, Stays, Fact),
}

impl<T> Part for Wheels<T> {
    const KIND: &'static Kind = &Kind::new("wheels", "wheels", "new wheels", ROWS);
}

impl Written for Wheels<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (inertia, radius_m) = (form.number(&INERTIA), form.number(&RADIUS));
        Some(Self {
            inertia_kg_m2: inertia?,
            radius_m,
        })
    }
}

impl Work for Wheels<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.driveline.parts.wheels_kg_m2 = self.inertia_kg_m2;
        let tyre = &mut car.driveline.tyre;
        tyre.radius_m = self.radius_m.unwrap_or(tyre.radius_m);
        Ok(())
    }
}
