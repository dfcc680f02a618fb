//! The air the engine breathes: a day in the workshop, moist air, the atmosphere, gas properties,
//! flow and compression.
//!
//! It exists so that weather enters the model once, checked: a [`Day`] cannot hold a humidity of
//! 140 % or a sea-level pressure passed off as another type, and nothing after it checks again.
//!
//! Source: definitions of humid air as ASHRAE Fundamentals 2017 ch. 1 prints them; the relations stand in [`moist`]
//! with their equation numbers. The ranges of a [`Day`] are common practice, no source.

pub mod atmosphere;
pub mod compression;
pub mod flow;
pub mod gas;
pub mod moist;

use atmosphere::StationPressure;
use thiserror::Error;

/// Air temperatures a [`Day`] may have, K (−60 to 70 °C).
pub const TEMPERATURE_RANGE_K: (f64, f64) = (213.15, 343.15);
/// Station pressures a [`Day`] may have, Pa.
pub const PRESSURE_RANGE_PA: (f64, f64) = (40_000.0, 120_000.0);

/// The air at the engine's inlet: station pressure, temperature, vapour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    station: StationPressure,
    temperature_k: f64,
    vapour_pa: f64,
}

/// Why a set of readings is no possible air.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum DayError {
    /// Relative humidity outside 0 to 1, or not a number.
    #[error("relative humidity {:.1} % is outside 0 to 100 %", relative_humidity * 100.0)]
    RelativeHumidity {
        /// The value given, as a ratio.
        relative_humidity: f64,
    },
    /// Dew point above the air temperature: the air would hold more water than it can.
    #[error("dew point {:.1} °C is above the air temperature {:.1} °C", dew_point_k - 273.15, temperature_k - 273.15)]
    DewPointAboveAir {
        /// Dew point given, K.
        dew_point_k: f64,
        /// Air temperature given, K.
        temperature_k: f64,
    },
    /// Wet bulb above the air temperature.
    #[error("wet bulb {:.1} °C is above the air temperature {:.1} °C", wet_bulb_k - 273.15, temperature_k - 273.15)]
    WetBulbAboveAir {
        /// Wet bulb given, K.
        wet_bulb_k: f64,
        /// Air temperature given, K.
        temperature_k: f64,
    },
    /// Wet bulb colder than in perfectly dry air of this temperature.
    #[error("wet bulb {:.1} °C is colder than perfectly dry air at {:.1} °C allows", wet_bulb_k - 273.15, temperature_k - 273.15)]
    WetBulbTooCold {
        /// Wet bulb given, K.
        wet_bulb_k: f64,
        /// Air temperature given, K.
        temperature_k: f64,
    },
    /// Vapour pressure negative, above saturation, or not a number.
    #[error("vapour pressure {:.3} kPa is outside 0 to saturation, {:.3} kPa", vapour_pa / 1000.0, saturation_pa / 1000.0)]
    Vapour {
        /// Vapour pressure given, Pa.
        vapour_pa: f64,
        /// Saturation pressure at the air temperature, Pa.
        saturation_pa: f64,
    },
    /// Vapour pressure not below the total pressure.
    #[error("vapour pressure {:.3} kPa is not below the total pressure {:.3} kPa", vapour_pa / 1000.0, pressure_pa / 1000.0)]
    VapourAboveTotal {
        /// Vapour pressure, Pa.
        vapour_pa: f64,
        /// Total pressure, Pa.
        pressure_pa: f64,
    },
    /// Air temperature outside [`TEMPERATURE_RANGE_K`], or not a number.
    #[error("air temperature {:.1} °C is outside -60 to 70 °C", temperature_k - 273.15)]
    Temperature {
        /// Air temperature given, K.
        temperature_k: f64,
    },
    /// Station pressure outside [`PRESSURE_RANGE_PA`], or not a number.
    #[error("station pressure {:.2} kPa is outside 40 to 120 kPa", pressure_pa / 1000.0)]
    Pressure {
        /// Pressure given, Pa.
        pressure_pa: f64,
    },
}

impl Day {
    /// Dry air of 99 kPa at 25 °C, to which most correction standards refer.
    pub const fn reference() -> Self {
        Self {
            station: StationPressure::from_pa(99_000.0),
            temperature_k: 298.15,
            vapour_pa: 0.0,
        }
    }

    /// From a vapour pressure, Pa.
    pub fn from_vapour(
        station: StationPressure,
        temperature_k: f64,
        vapour_pa: f64,
    ) -> Result<Self, DayError> {
        check_range(station, temperature_k)?;
        let pressure_pa = station.pa();
        if vapour_pa >= pressure_pa {
            return Err(DayError::VapourAboveTotal {
                vapour_pa,
                pressure_pa,
            });
        }
        let saturation_pa = moist::saturation_pa(temperature_k);
        // Rounding of the way here and back must not turn a saturated day into an error.
        if !(0.0..=saturation_pa * (1.0 + 1e-9)).contains(&vapour_pa) {
            return Err(DayError::Vapour {
                vapour_pa,
                saturation_pa,
            });
        }
        Ok(Self {
            station,
            temperature_k,
            vapour_pa,
        })
    }

    /// From a relative humidity, 0 to 1, measured where the temperature is.
    pub fn from_relative_humidity(
        station: StationPressure,
        temperature_k: f64,
        relative_humidity: f64,
    ) -> Result<Self, DayError> {
        check_range(station, temperature_k)?;
        if !(0.0..=1.0).contains(&relative_humidity) {
            return Err(DayError::RelativeHumidity { relative_humidity });
        }
        let vapour_pa = moist::vapour_from_relative_humidity_pa(temperature_k, relative_humidity);
        Self::from_vapour(station, temperature_k, vapour_pa)
    }

    /// From a dew point, K: the preferred humidity reading, as it does not depend on where the air
    /// was warmed.
    pub fn from_dew_point(
        station: StationPressure,
        temperature_k: f64,
        dew_point_k: f64,
    ) -> Result<Self, DayError> {
        check_range(station, temperature_k)?;
        // Written so that a dew point that is not a number fails too.
        if !(dew_point_k > 0.0 && dew_point_k <= temperature_k) {
            return Err(DayError::DewPointAboveAir {
                dew_point_k,
                temperature_k,
            });
        }
        Self::from_vapour(
            station,
            temperature_k,
            moist::vapour_from_dew_point_pa(dew_point_k),
        )
    }

    /// From a thermodynamic wet bulb, K.
    pub fn from_wet_bulb(
        station: StationPressure,
        temperature_k: f64,
        wet_bulb_k: f64,
    ) -> Result<Self, DayError> {
        check_range(station, temperature_k)?;
        if !(wet_bulb_k > 0.0 && wet_bulb_k <= temperature_k) {
            return Err(DayError::WetBulbAboveAir {
                wet_bulb_k,
                temperature_k,
            });
        }
        let vapour_pa = moist::vapour_from_wet_bulb_pa(temperature_k, wet_bulb_k, station.pa());
        if vapour_pa < 0.0 {
            return Err(DayError::WetBulbTooCold {
                wet_bulb_k,
                temperature_k,
            });
        }
        Self::from_vapour(station, temperature_k, vapour_pa)
    }

    /// Total pressure at the engine's inlet.
    pub const fn station(&self) -> StationPressure {
        self.station
    }

    /// Air temperature, K.
    pub const fn temperature_k(&self) -> f64 {
        self.temperature_k
    }

    /// Pressure of the water vapour, Pa.
    pub const fn vapour_pa(&self) -> f64 {
        self.vapour_pa
    }

    /// Pressure of the dry air, Pa.
    pub fn dry_pa(&self) -> f64 {
        self.station.pa() - self.vapour_pa
    }

    /// Share of dry air in the moles and in the pressure.
    pub fn dry_fraction(&self) -> f64 {
        moist::dry_fraction(self.station.pa(), self.vapour_pa)
    }

    /// Mole fraction of oxygen.
    pub fn oxygen_mole_fraction(&self) -> f64 {
        moist::oxygen_mole_fraction(self.station.pa(), self.vapour_pa)
    }

    /// Density of the moist air, kg/m³.
    pub fn density_kg_m3(&self) -> f64 {
        moist::density_kg_m3(self.station.pa(), self.temperature_k, self.vapour_pa)
    }

    /// Mass of water per mass of dry air.
    pub fn humidity_ratio(&self) -> f64 {
        moist::humidity_ratio(self.station.pa(), self.vapour_pa)
    }

    /// Vapour pressure over saturation pressure (over ice below the triple point).
    pub fn relative_humidity(&self) -> f64 {
        self.vapour_pa / moist::saturation_pa(self.temperature_k)
    }

    /// Dew point, K; `None` for perfectly dry air.
    pub fn dew_point_k(&self) -> Option<f64> {
        moist::dew_point_k(self.vapour_pa)
    }

    /// Gas constant of the moist air, J/(kg K).
    pub fn gas_constant_j_kg_k(&self) -> f64 {
        moist::gas_constant_j_kg_k(self.humidity_ratio())
    }

    /// Heat capacities of this air at any temperature.
    pub fn gas(&self) -> gas::MoistAir {
        gas::MoistAir::new(self.humidity_ratio())
    }
}

fn check_range(station: StationPressure, temperature_k: f64) -> Result<(), DayError> {
    if !(TEMPERATURE_RANGE_K.0..=TEMPERATURE_RANGE_K.1).contains(&temperature_k) {
        return Err(DayError::Temperature { temperature_k });
    }
    if !(PRESSURE_RANGE_PA.0..=PRESSURE_RANGE_PA.1).contains(&station.pa()) {
        return Err(DayError::Pressure {
            pressure_pa: station.pa(),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SEA: StationPressure = StationPressure::from_pa(101_325.0);

    #[test]
    fn impossible_readings_are_named() {
        let day = |rh| Day::from_relative_humidity(SEA, 293.15, rh);
        assert_eq!(
            day(1.4),
            Err(DayError::RelativeHumidity {
                relative_humidity: 1.4
            })
        );
        assert!(
            day(1.4)
                .is_err_and(|e| e.to_string() == "relative humidity 140.0 % is outside 0 to 100 %")
        );
        assert!(matches!(
            day(f64::NAN),
            Err(DayError::RelativeHumidity { .. })
        ));
        assert!(matches!(
            Day::from_dew_point(SEA, 293.15, 294.0),
            Err(DayError::DewPointAboveAir { .. })
        ));
        assert!(matches!(
            Day::from_wet_bulb(SEA, 293.15, 294.0),
            Err(DayError::WetBulbAboveAir { .. })
        ));
        assert!(matches!(
            Day::from_wet_bulb(SEA, 313.15, 278.15),
            Err(DayError::WetBulbTooCold { .. })
        ));
        assert!(matches!(
            Day::from_vapour(SEA, 293.15, 5000.0),
            Err(DayError::Vapour { .. })
        ));
        assert!(matches!(
            Day::from_vapour(SEA, 293.15, 2e5),
            Err(DayError::VapourAboveTotal { .. })
        ));
        assert!(matches!(
            Day::from_vapour(SEA, 20.0, 0.0),
            Err(DayError::Temperature { .. })
        ));
        let inches = StationPressure::from_pa(2_992.0);
        assert!(matches!(
            Day::from_vapour(inches, 293.15, 0.0),
            Err(DayError::Pressure { .. })
        ));
    }

    #[test]
    fn the_four_humidity_readings_describe_one_day() {
        let day = Day::from_relative_humidity(SEA, 303.15, 0.6).expect("an ordinary day");
        let dew = day.dew_point_k().expect("moist air has a dew point");
        let wet = moist::wet_bulb_k(303.15, day.vapour_pa(), SEA.pa()).expect("below saturation");
        for other in [
            Day::from_dew_point(SEA, 303.15, dew),
            Day::from_wet_bulb(SEA, 303.15, wet),
        ] {
            let other = other.expect("the same day");
            // Both inversions stop at 1e-9 K, 6e-11 of the vapour pressure per nanokelvin.
            assert!((other.vapour_pa() / day.vapour_pa() - 1.0).abs() < 1e-8);
        }
        assert!(
            (day.density_kg_m3() * day.gas_constant_j_kg_k() * 303.15 / SEA.pa() - 1.0).abs()
                < 1e-12
        );
    }
}
