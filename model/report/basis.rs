//! What every figure rests on: the air of the day and the correction, each said in full.
//!
//! A corrected number without its standard, or a standard without the air it was worked out for, is no number. The standard
//! goes by its number and its reference air, never by a nickname.

use super::number::{Units, What};
use super::table::bullet;
use crate::car::Car;
use crate::dyno::correction::Correction;
use crate::dyno::pull::AxleStart;
use serde::Serialize;

pub use crate::ask::basis::Weather;

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

/// A correction and whether it holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corrected {
    /// Stable word of the standard.
    pub standard: &'static str,
    /// Full name.
    pub name: &'static str,
    /// Its reference air.
    pub reference: &'static str,
    /// Multiplies uncorrected engine power and torque.
    pub factor: f64,
    /// Where the standard's own limits are exceeded.
    pub breaches: Vec<String>,
}

impl From<&Correction> for Corrected {
    fn from(correction: &Correction) -> Self {
        Self {
            standard: correction.standard.id(),
            name: correction.standard.name(),
            reference: correction.standard.reference(),
            factor: correction.factor,
            breaches: correction
                .breaches
                .iter()
                .map(ToString::to_string)
                .collect(),
        }
    }
}

impl Corrected {
    /// Name, reference air and factor in one line.
    pub fn line(&self) -> String {
        format!(
            "{} (reference: {}), factor {:.4}",
            self.name, self.reference, self.factor
        )
    }

    /// Whether the factor, as printed, is another than one.
    pub fn changes_power(&self) -> bool {
        (self.factor - 1.0).abs() > 5e-5
    }

    /// One bullet per limit of the standard that is exceeded.
    pub fn breaches_text(&self) -> String {
        self.breaches
            .iter()
            .map(|b| bullet(&format!("outside what the standard states: {b}")))
            .collect()
    }
}
