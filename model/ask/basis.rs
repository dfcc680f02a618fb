//! What every answer rests on: the air of the day, and the car as a weather standard sees it.

use crate::air::Day;
use crate::car::{Blower, Car};
use crate::dyno::correction::Subject;
use crate::dyno::correction::engine::{Charging, EngineKind, Ignition};
use serde::Serialize;

/// The air of a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weather {
    /// Where it came from: a file, or an assumption in words.
    pub source: String,
    /// Absolute pressure where the car stands.
    pub station_pressure_pa: f64,
    /// Air temperature.
    pub temperature_k: f64,
    /// 0 to 1.
    pub relative_humidity: f64,
    /// Pressure of the water vapour.
    pub vapour_pressure_pa: f64,
    /// Dew point; none in dry air.
    pub dew_point_k: Option<f64>,
    /// Density of the moist air.
    pub density_kg_m3: f64,
}

impl Weather {
    /// Of a day.
    pub fn of(day: &Day, source: impl Into<String>) -> Self {
        Self {
            source: source.into(),
            station_pressure_pa: day.station().pa(),
            temperature_k: day.temperature_k(),
            relative_humidity: day.relative_humidity(),
            vapour_pressure_pa: day.vapour_pa(),
            dew_point_k: day.dew_point_k(),
            density_kg_m3: day.density_kg_m3(),
        }
    }
}

/// The car as a weather standard sees it. The model's engines are lit by spark; a blower turned by the crank follows the
/// ambient.
pub fn subject_of(car: &Car, mechanical_efficiency: Option<f64>) -> Subject {
    let charging = match car.blower {
        Blower::None => Charging::Unboosted,
        Blower::Displacement { .. } | Blower::Centrifugal { .. } => Charging::Mechanical,
        // Coolers of this model give their heat to the air outside, directly or through a water circuit of their own.
        Blower::Turbo(_) => Charging::Turbo,
    };
    Subject {
        mechanical_efficiency,
        ..Subject::of(EngineKind {
            ignition: Ignition::Spark,
            charging,
        })
    }
}
