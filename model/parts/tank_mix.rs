//! Fuel poured on top of what is left in the tank, for a tank is seldom empty.

use super::fuel::{ETHANOL_CONTENT, FUEL, FuelChoice, MOTOR_OCTANE, RESEARCH_OCTANE};
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::MustBeGiven;
use super::row::{self, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::Fact;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::fuel::Fuel;

numbers! {
    /// Fuel poured on top of what is left in the tank.
    TankMix {
        /// Left in the tank, m³.
        left_m3: T => number("left"),
        /// Poured in, m³.
        added_m3: T => number("added"),
        /// What is poured in.
        fuel: FuelChoice<T> => inner,
    }
}

rows! {
    LEFT = row::number("left", Measure::L, (0.0, 500.0), 0.0, MustBeGiven, "what is left in the tank, as the car file has it", Fact),
    ADDED = row::number("added", Measure::L, (0.1, 500.0), 0.0, MustBeGiven, "what is poured on it", Fact),
    KIND_OF_FUEL = FUEL,
    ETHANOL_IN_IT = ETHANOL_CONTENT,
    RESEARCH = RESEARCH_OCTANE,
    MOTOR = MOTOR_OCTANE,
}

impl<T> Part for TankMix<T> {
    const KIND: &'static Kind =
        &Kind::new("tank mix", "tank_mix", "fuel mixed in the tank", ROWS).adds_up();
}

impl Written for TankMix<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (left, added) = (form.number(&LEFT), form.number(&ADDED));
        let fuel = FuelChoice::read(form)?;
        Some(Self {
            left_m3: left?,
            added_m3: added?,
            fuel,
        })
    }
}

impl Work for TankMix<f64> {
    /// Equation (11.6).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.fuel = mixed(car.fuel, self.left_m3, self.fuel.poured(), self.added_m3);
        Ok(())
    }
}

/// Two fuels poured together, by volume.
///
/// Equation (11.6).
fn mixed(left: Fuel, left_m3: f64, poured: Fuel, added_m3: f64) -> Fuel {
    let (a, b) = (
        left_m3 * left.density_kg_m3,
        added_m3 * poured.density_kg_m3,
    );
    if b == 0.0 || left == poured {
        left
    } else {
        Fuel::blend(left, poured, b / (a + b))
    }
}
