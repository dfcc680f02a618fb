//! Another battery for the electric axle.

use super::electric_axle::axle_of;
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, CLAIM_DOUBT, FACTOR_DOUBT, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// What changes about the battery; what is not named stays.
    BatteryChoice {
        /// Internal resistance at 25 °C and half charge, cables included, Ω.
        resistance_ohm: Option<T> => maybe("resistance"),
        /// Energy content, J.
        energy_j: Option<T> => maybe("energy"),
        /// Nominal voltage, V.
        voltage_v: Option<T> => maybe("voltage"),
        /// Power its management allows, W.
        power_w: Option<T> => maybe("power"),
    }
}

rows! {
    RESISTANCE = row::of_car("resistance", "electric_axle.battery_resistance", FACTOR_DOUBT, Stays, CommonPractice),
    ENERGY = row::number("energy", Measure::MJ, (0.1, 1000.0), CLAIM_DOUBT, Stays, "energy content", CommonPractice),
    VOLTAGE = row::number("voltage", Measure::V, (30.0, 1200.0), 0.0, Stays, "nominal voltage", Fact),
    POWER = row::number("power", Measure::KW, (1.0, 2000.0), CLAIM_DOUBT, Stays, "power its management allows", CommonPractice),
}

impl<T> Part for BatteryChoice<T> {
    const KIND: &'static Kind = &Kind::new("battery", "battery", "new battery", ROWS);
}

impl Written for BatteryChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (resistance_ohm, energy_j) = (form.number(&RESISTANCE), form.number(&ENERGY));
        let (voltage_v, power_w) = (form.number(&VOLTAGE), form.number(&POWER));
        let read = [
            (&RESISTANCE, resistance_ohm.is_some()),
            (&ENERGY, energy_j.is_some()),
            (&VOLTAGE, voltage_v.is_some()),
            (&POWER, power_w.is_some()),
        ];
        form.some("battery", &read)?;
        Some(Self {
            resistance_ohm,
            energy_j,
            voltage_v,
            power_w,
        })
    }
}

impl Work for BatteryChoice<f64> {
    /// Voltage keeps the energy and energy the voltage, so that the two may be changed in either order.
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let battery = &mut axle_of(car)?.axle.battery;
        if let Some(voltage_v) = self.voltage_v {
            battery.set_nominal_v(voltage_v);
        }
        if let Some(energy_j) = self.energy_j {
            battery.set_energy_j(energy_j);
        }
        battery.resistance_ohm = self.resistance_ohm.unwrap_or(battery.resistance_ohm);
        battery.max_power_w = self.power_w.unwrap_or(battery.max_power_w);
        Ok(())
    }
}
