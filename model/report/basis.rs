//! What every figure rests on, in words: the air of the day and the correction, each said in full.
//!
//! A standard goes by its number and its reference air, never by a nickname.

use super::number::{Units, What};
pub use crate::ask::basis::{AirSource, Corrected, ElectricStart, Weather, subject_of};
use std::fmt;

impl fmt::Display for AirSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stated(name) => f.write_str(name),
            Self::Visit(name) => write!(f, "visit '{name}'"),
            Self::Reference => f.write_str("no weather given: 99 kPa dry, 25 °C"),
        }
    }
}

impl Weather {
    /// In one line.
    pub fn line(&self, units: Units) -> String {
        format!(
            "{} absolute, {}, {} humidity, {} ({})",
            units.show(What::Pressure, self.station_pressure_pa),
            units.show(What::Temperature, self.temperature_k),
            units.show(What::Percent, self.relative_humidity),
            units.show(What::Density, self.density_kg_m3),
            self.source
        )
    }
}

impl ElectricStart {
    /// In one line.
    pub fn line(&self, units: Units) -> String {
        if self.on {
            format!(
                "on, its battery at {} when the pull starts",
                units.show(What::Percent, self.charge)
            )
        } else {
            "off".to_owned()
        }
    }
}

impl Corrected {
    /// Name, reference air and factor in one line.
    pub fn line(&self) -> String {
        format!(
            "{} (reference: {}), factor {:.4}",
            self.standard.name(),
            self.standard.reference(),
            self.factor
        )
    }

    /// One point per limit of the standard that is exceeded.
    pub fn breach_points(&self) -> Vec<String> {
        let told = |breach| format!("outside what the standard states: {breach}");
        self.breaches.iter().map(told).collect()
    }
}
