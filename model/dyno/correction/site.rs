//! ISO 3046-1 power adjustment: from reference power to the power at a site.
//!
//! It runs opposite to every other standard here, so its result is a [`SiteAdjustment`] that
//! multiplies *reference* power and cannot be handed to anything that expects a correction factor.
//! For comparison only. Exponents are from memory but for the turbocharged, charge-cooled row's 0.7
//! and 1.2, which were read in GOST 10150-2014, p. 34.

use super::engine::{Charging, EngineKind, Ignition};
use crate::air::{Day, moist};
use serde::Serialize;

/// Which row of the standard's table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SiteEngine {
    /// Compression ignition, unboosted, limited by excess air.
    DieselUnboostedAirLimited,
    /// Compression ignition, unboosted, limited by temperature.
    DieselUnboostedThermallyLimited,
    /// Compression ignition, turbocharged, not charge cooled.
    DieselTurbo,
    /// Compression ignition, turbocharged and charge cooled.
    DieselTurboCooled,
    /// Spark-ignition gas engine, unboosted.
    GasUnboosted,
    /// Spark-ignition gas engine, turbocharged and charge cooled.
    GasTurboCooled,
}

/// Exponents of one row: humidity factor a, pressure m, temperature n, charge coolant s.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Row {
    a: f64,
    m: f64,
    n: f64,
    s: f64,
}

impl SiteEngine {
    /// All rows.
    pub const ALL: [Self; 6] = [
        Self::DieselUnboostedAirLimited,
        Self::DieselUnboostedThermallyLimited,
        Self::DieselTurbo,
        Self::DieselTurboCooled,
        Self::GasUnboosted,
        Self::GasTurboCooled,
    ];

    /// The rows that may be an engine of this kind; none for a blower turned by the crank, which the table does not name.
    pub fn rows_of(kind: EngineKind) -> &'static [Self] {
        match (kind.ignition, kind.charging) {
            (Ignition::Spark, Charging::Unboosted) => &[Self::GasUnboosted],
            (Ignition::Spark, Charging::Turbo | Charging::TurboCoolantCooled) => {
                &[Self::GasTurboCooled]
            }
            (Ignition::Compression, Charging::Unboosted) => &[
                Self::DieselUnboostedAirLimited,
                Self::DieselUnboostedThermallyLimited,
            ],
            (Ignition::Compression, Charging::Turbo) => {
                &[Self::DieselTurbo, Self::DieselTurboCooled]
            }
            (Ignition::Compression, Charging::TurboCoolantCooled) => &[Self::DieselTurboCooled],
            (_, Charging::Mechanical) => &[],
        }
    }

    /// The row in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::DieselUnboostedAirLimited => "unboosted diesel, limited by its air",
            Self::DieselUnboostedThermallyLimited => "unboosted diesel, limited by its heat",
            Self::DieselTurbo => "turbocharged diesel, charge not cooled",
            Self::DieselTurboCooled => "turbocharged diesel, charge cooled",
            Self::GasUnboosted => "unboosted spark-ignition engine",
            Self::GasTurboCooled => "turbocharged spark-ignition engine, charge cooled",
        }
    }

    /// Whether the row asks for the temperature of the charge coolant.
    pub fn is_charge_cooled(self) -> bool {
        self.row().s > 0.0
    }

    fn row(self) -> Row {
        let row = |a, m, n, s| Row { a, m, n, s };
        match self {
            Self::DieselUnboostedAirLimited => row(1.0, 1.0, 0.75, 0.0),
            Self::DieselUnboostedThermallyLimited => row(0.0, 1.0, 1.0, 0.0),
            Self::DieselTurbo => row(0.0, 0.7, 2.0, 0.0),
            Self::DieselTurboCooled => row(0.0, 0.7, 1.2, 1.0),
            Self::GasUnboosted => row(1.0, 0.86, 0.55, 0.0),
            Self::GasTurboCooled => row(0.0, 0.57, 0.55, 1.75),
        }
    }
}

/// Mechanical efficiency to use when none is stated (from memory).
pub const UNSTATED_MECHANICAL_EFFICIENCY: f64 = 0.8;
/// Reference temperature of air and of charge coolant, K, counted as t + 273 (from memory).
pub const REFERENCE_K: f64 = 298.0;
/// Reference total pressure, Pa (from memory).
pub const REFERENCE_PA: f64 = 100_000.0;
/// Reference relative humidity (from memory).
pub const REFERENCE_HUMIDITY: f64 = 0.3;

/// Site power over reference power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SiteAdjustment {
    /// Ratio of indicated power, site over reference.
    pub indicated_ratio: f64,
    /// Ratio of brake power, site over reference.
    pub alpha: f64,
}

impl SiteAdjustment {
    /// From the ratio of indicated powers.
    ///
    /// ```text
    /// α = k − 0.7 (1 − k)(1/η_m − 1)
    /// ```
    ///
    /// Source: ISO 3046-1, from memory. Worked: k 1.056 and `η_m` 0.85 give 1.0629, so 991 kW
    /// becomes 1053 kW (read in GOST 10150-2014).
    /// Equation (7.6).
    pub fn from_indicated_ratio(indicated_ratio: f64, mechanical_efficiency: f64) -> Self {
        let alpha =
            indicated_ratio - 0.7 * (1.0 - indicated_ratio) * (1.0 / mechanical_efficiency - 1.0);
        Self {
            indicated_ratio,
            alpha,
        }
    }

    /// For an engine on a day, with its charge coolant at a temperature (ignored by rows without a
    /// cooler).
    ///
    /// ```text
    /// k = ((p_x − a φ_x p_sat,x)/(p_r − a φ_r p_sat,r))^m (T_r/T_x)^n (T_c,r/T_c,x)^s
    /// ```
    ///
    /// Temperatures count as t + 273, as in the published factors.
    /// Equation (7.6).
    pub fn new(engine: SiteEngine, day: &Day, coolant_k: f64, mechanical_efficiency: f64) -> Self {
        let Row { a, m, n, s } = engine.row();
        let reference_vapour_pa = REFERENCE_HUMIDITY * moist::saturation_pa(298.15);
        let pressure =
            (day.station().pa() - a * day.vapour_pa()) / (REFERENCE_PA - a * reference_vapour_pa);
        let printed = |kelvin: f64| kelvin - 0.15;
        let indicated_ratio = pressure.powf(m)
            * (REFERENCE_K / printed(day.temperature_k())).powf(n)
            * (REFERENCE_K / printed(coolant_k)).powf(s);
        Self::from_indicated_ratio(indicated_ratio, mechanical_efficiency)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_printed_line_of_gost_10150_comes_out() {
        let site = SiteAdjustment::from_indicated_ratio(1.056, 0.85);
        // Printed 1.063 and 1053 kW: half of the last digit.
        assert!((site.alpha - 1.063).abs() < 5e-4);
        assert!((site.alpha * 991e3 - 1053e3).abs() < 500.0);
    }

    #[test]
    fn no_change_of_air_is_no_adjustment() {
        assert_eq!(SiteAdjustment::from_indicated_ratio(1.0, 0.8).alpha, 1.0);
    }
}
