//! What every figure rests on, in words: the air of the day and the correction, each said in full.
//!
//! A standard goes by its number and its reference air, never by a nickname.

use super::number::{Units, What};
pub use crate::ask::basis::{AirSource, Corrected, ElectricStart, Weather, subject_of};
use crate::dyno::correction::Breach;
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
            match &self.source {
                AirSource::Reference => units.constants(&self.source.to_string()),
                named => named.to_string(),
            }
        )
    }
}

impl ElectricStart {
    /// In one line.
    pub fn line(&self, units: Units) -> String {
        if self.on {
            format!(
                "on, battery level {} at the start of the pull",
                units.show(What::Percent, self.charge)
            )
        } else {
            "off".to_owned()
        }
    }
}

impl Corrected {
    /// Name, reference air and factor in one line.
    pub fn line(&self, units: Units) -> String {
        format!(
            "{} (reference: {}), factor {:.4}",
            self.standard.name(),
            units.constants(self.standard.reference()),
            self.factor
        )
    }

    /// Name and factor alone, and whether the day is outside what the standard was made for.
    pub(super) fn brief(&self) -> String {
        let outside = if self.breaches.is_empty() {
            ""
        } else {
            ", outside its stated range"
        };
        let name = self.standard.name();
        format!("Corrected: {name}, factor {:.4}{outside}.", self.factor)
    }

    /// One point per limit of the standard that is exceeded.
    pub fn breach_points(&self, units: Units) -> Vec<String> {
        let told = |breach| {
            format!(
                "outside what the standard states: {}",
                breached(breach, units)
            )
        };
        self.breaches.iter().map(told).collect()
    }
}

/// A limit of a standard that is exceeded.
pub(super) fn breached(breach: &Breach, units: Units) -> String {
    let outside = |what, name, value, (low, high): (f64, f64)| {
        format!(
            "{name} {} is outside the stated {} to {}",
            units.show(what, value),
            units.cell(what, low),
            units.show(what, high)
        )
    };
    match *breach {
        Breach::Temperature {
            temperature_k,
            range_k,
        } => outside(What::Temperature, "air temperature", temperature_k, range_k),
        Breach::DryPressure { dry_pa, range_pa } => {
            outside(What::Pressure, "dry pressure", dry_pa, range_pa)
        }
        other => other.to_string(),
    }
}
