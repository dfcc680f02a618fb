//! What every figure rests on: the air of the day, the correction, and how the electric axle starts.
//!
//! A corrected number without its standard, or a standard without the air it was worked out for, is no number. So every answer
//! carries these, and whoever draws it can say each in full.

use crate::air::Day;
use crate::car::{Blower, Car};
use crate::dyno::correction::engine::{Charging, EngineKind, Ignition};
use crate::dyno::correction::{Breach, Correction, Standard, Subject};
use crate::dyno::pull::AxleStart;
use serde::Serialize;

/// Where the air of a pull came from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind", content = "name")]
pub enum AirSource {
    /// It was stated, in a file or by a caller, under this name.
    Stated(String),
    /// It was read on the visit of this name.
    Visit(String),
    /// Nobody stated any: the reference air of most standards, [`Day::reference`].
    Reference,
}

impl From<String> for AirSource {
    fn from(name: String) -> Self {
        Self::Stated(name)
    }
}

impl From<&str> for AirSource {
    fn from(name: &str) -> Self {
        Self::Stated(name.to_owned())
    }
}

/// The air of a pull, and where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Air {
    /// The air.
    pub day: Day,
    /// Where it came from.
    pub source: AirSource,
}

impl Air {
    /// Stated under a name.
    pub fn stated(day: Day, name: impl Into<String>) -> Self {
        Self {
            day,
            source: AirSource::Stated(name.into()),
        }
    }

    /// The air taken where none is stated.
    pub const fn reference() -> Self {
        Self {
            day: Day::reference(),
            source: AirSource::Reference,
        }
    }
}

/// The air of a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weather {
    /// Where it came from.
    pub source: AirSource,
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
    pub fn of(day: &Day, source: impl Into<AirSource>) -> Self {
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

impl From<&Air> for Weather {
    fn from(air: &Air) -> Self {
        Self::of(&air.day, air.source.clone())
    }
}

/// How the electric axle starts the pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ElectricStart {
    /// Whether it helps.
    pub on: bool,
    /// Charge of its battery, 0 to 1.
    pub charge: f64,
}

impl ElectricStart {
    /// Of a car; none where it has no electric axle.
    pub fn of(car: &Car, start: AxleStart) -> Option<Self> {
        car.electric.as_ref().map(|_| Self {
            on: start.on,
            charge: start.charge,
        })
    }
}

/// A correction and whether it holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corrected {
    /// The standard.
    pub standard: Standard,
    /// Multiplies uncorrected engine power and torque.
    pub factor: f64,
    /// Where the standard's own limits are exceeded.
    pub breaches: Vec<Breach>,
}

impl From<&Correction> for Corrected {
    fn from(correction: &Correction) -> Self {
        Self {
            standard: correction.standard,
            factor: correction.factor,
            breaches: correction.breaches.clone(),
        }
    }
}

impl Corrected {
    /// Whether the factor, to the four decimals in which it is told, is another than one.
    pub fn changes_power(&self) -> bool {
        (self.factor - 1.0).abs() > 5e-5
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
