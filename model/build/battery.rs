//! Another battery for the electric axle.

use super::BuildError;
use crate::car::Car;

/// What changes about the battery; what is not named stays.
#[derive(Debug, Clone, PartialEq)]
pub struct BatteryChoice<T> {
    /// Internal resistance at 25 °C and half charge, cables included, Ω.
    pub resistance_ohm: Option<T>,
    /// Energy content, J.
    pub energy_j: Option<T>,
    /// Nominal voltage, V.
    pub voltage_v: Option<T>,
    /// Power its management allows, W.
    pub power_w: Option<T>,
}

impl<T> BatteryChoice<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> BatteryChoice<U> {
        let mut of = |name, x: &Option<T>| x.as_ref().map(|x| convert(name, x));
        BatteryChoice {
            resistance_ohm: of("resistance", &self.resistance_ohm),
            energy_j: of("energy", &self.energy_j),
            voltage_v: of("voltage", &self.voltage_v),
            power_w: of("power", &self.power_w),
        }
    }
}

impl BatteryChoice<f64> {
    /// Voltage keeps the energy and energy the voltage, so that the two may be changed in either order.
    pub(super) fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let drive = car.electric.as_mut().ok_or(BuildError::PartMissing {
            part: "electric axle",
        })?;
        let battery = &mut drive.axle.battery;
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
