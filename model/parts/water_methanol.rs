//! A spray of water and methanol ahead of the manifold. The mixture asked for stands: methanol replaces fuel of the tank.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Described, Usual};
use super::row::{self, FACTOR_DOUBT, rows};
use super::{BuildError, Fault, Form, exactly};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Guess::Normal;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::{Car, SprayRate, WaterMethanol};
use crate::fuel::Fuel;

/// How much is sprayed.
#[derive(Debug, Clone, PartialEq)]
pub enum Sprayed<T> {
    /// Liquid from a nozzle of constant flow, kg/s.
    Constant(T),
    /// Liquid per fuel, kg/kg.
    OfFuel(T),
}

impl<T> Sprayed<T> {
    fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> Sprayed<U> {
        match self {
            Self::Constant(rate) => Sprayed::Constant(convert("flow", rate)),
            Self::OfFuel(rate) => Sprayed::OfFuel(convert("share_of_fuel", rate)),
        }
    }
}

numbers! {
    /// A spray of water and methanol ahead of the manifold.
    WaterMethanolKit {
        /// How much.
        rate: Sprayed<T> => inner,
        /// Methanol, kg per kg of liquid.
        methanol_mass_fraction: T => number("methanol"),
        /// Share that has the time to evaporate before the inlet valve closes.
        evaporated_share: T => number("evaporated"),
    }
}

/// Density of water, kg/m³, at 20 °C; from memory.
const WATER_KG_M3: f64 = 998.0;

rows! {
    METHANOL = row::plain("methanol", Measure::RATIO, (0.0, 1.0), MustBeGiven, "methanol in the liquid, by volume", Fact),
    FLOW = row::number("flow", Measure::CM3_MIN, (6.0, 6000.0), FACTOR_DOUBT, Described("`share_of_fuel`"),
        "a nozzle of constant flow, held back to half of the fuel's mass", CommonPractice),
    SHARE = row::number("share_of_fuel", Measure::RATIO, (0.0, 0.4), FACTOR_DOUBT, Described("`flow`"),
        "liquid by mass over fuel, for a metered kit", CommonPractice),
    // Fine droplets have a few hundredths of a second.
    EVAPORATED = row::number("evaporated", Measure::RATIO, (0.0, 1.0), FACTOR_DOUBT, Usual(Normal(0.5, 0.15)),
        "share with time to evaporate before the inlet valve closes", CommonPractice),
}

impl<T> Part for WaterMethanolKit<T> {
    const KIND: &'static Kind =
        &Kind::new("water-methanol", "water_methanol", "water-methanol", ROWS);
}

impl Written for WaterMethanolKit<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (has_flow, has_share) = (form.has(FLOW.key), form.has(SHARE.key));
        if has_flow && has_share {
            let message = "'flow' and 'share_of_fuel' are both given";
            let expected = "flow of a constant nozzle, or share_of_fuel of a metered one";
            form.error(FLOW.key, Fault::Conflict, message, expected);
            return None;
        }
        let methanol = form.required_plain(&METHANOL);
        let by_volume = methanol.unwrap_or(0.0);
        let (alcohol, water) = (
            by_volume * Fuel::methanol().density_kg_m3,
            (1.0 - by_volume) * WATER_KG_M3,
        );
        let rate = if has_share {
            form.required(&SHARE).map(Sprayed::OfFuel)
        } else {
            let flow = form.required(&FLOW);
            let mass_flow = flow.and_then(|flow| flow.scaled(alcohol + water).ok());
            mass_flow.map(Sprayed::Constant)
        };
        let evaporated = form.number(&EVAPORATED);
        methanol?;
        Some(Self {
            rate: rate?,
            methanol_mass_fraction: exactly(alcohol / (alcohol + water))?,
            evaporated_share: evaporated?,
        })
    }
}

impl Work for WaterMethanolKit<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.water_methanol = Some(WaterMethanol {
            rate: match self.rate {
                Sprayed::OfFuel(rate) => SprayRate::OfFuel(rate),
                Sprayed::Constant(rate) => SprayRate::Constant(rate),
            },
            methanol_mass_fraction: self.methanol_mass_fraction,
            evaporated_share: self.evaporated_share,
        });
        Ok(())
    }
}
