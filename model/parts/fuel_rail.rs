//! Another pressure regulator of the fuel rail.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, rows, words};
use super::{BuildError, Fault, Form};
use crate::belief::parameter::Basis::Fact;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::fuel::supply::RailReference;

numbers! {
    /// Another pressure regulator.
    RailChoice {
        /// Pressure above the reference, Pa, if it changes.
        pressure_pa: Option<T> => maybe("pressure"),
        /// What it is held above, if that changes.
        reference: Option<RailReference> => kept,
    }
}

/// What the rail is held above, by its words.
pub const REFERENCES: &[(&str, RailReference)] = &[
    ("manifold", RailReference::Manifold),
    ("outside", RailReference::Outside),
];

rows! {
    PRESSURE = row::of_car("pressure", "fuel_rail.pressure", 0.0, Stays, Fact),
    REFERENCE = row::other("reference", words!(REFERENCES), Stays, "what it is held above; boost takes from a rail held above the air outside"),
}

impl<T> Part for RailChoice<T> {
    const KIND: &'static Kind = &Kind::new("fuel rail", "fuel_rail", "new rail pressure", ROWS);
}

impl Written for RailChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let pressure_pa = form.number(&PRESSURE);
        let reference = form.word(&REFERENCE, REFERENCES, false);
        if !form.has_any(ROWS) {
            let message = "this change of the fuel rail changes nothing";
            let expected = "pressure, reference, or both";
            form.error(PRESSURE.key, Fault::Missing, message, expected);
            return None;
        }
        let read = pressure_pa.is_some() == form.has(PRESSURE.key)
            && reference.is_some() == form.has(REFERENCE.key);
        read.then_some(Self {
            pressure_pa,
            reference,
        })
    }
}

impl Work for RailChoice<f64> {
    /// Where neither injectors nor pump are known yet the pressure waits for them: a plan may name them after.
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let rail = &mut car.fuel_supply.rail;
        rail.pressure_pa = self.pressure_pa.unwrap_or(rail.pressure_pa);
        rail.reference = self.reference.unwrap_or(rail.reference);
        Ok(())
    }
}
