//! Where a standard's own limits are exceeded. A breach is told, never repaired: the factor stands
//! as computed.

use super::engine::{Charging, EngineKind, Ignition, Subject};
use super::standard::Standard;
use crate::air::Day;
use serde::Serialize;
use std::fmt;

/// One limit of a standard that the test exceeds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "breach")]
pub enum Breach {
    /// Air temperature outside the stated range, K.
    Temperature {
        /// At the test.
        temperature_k: f64,
        /// Stated range.
        range_k: (f64, f64),
    },
    /// Dry pressure outside the stated range, Pa.
    DryPressure {
        /// At the test.
        dry_pa: f64,
        /// Stated range.
        range_pa: (f64, f64),
    },
    /// The factor itself outside the stated range.
    Factor {
        /// As computed.
        factor: f64,
        /// Stated range.
        range: (f64, f64),
    },
    /// The temperature's part of the correction is larger than older texts of the standard ask.
    TemperatureShare {
        /// Part due to temperature, as a ratio less one.
        share: f64,
        /// Largest asked.
        limit: f64,
    },
    /// The pressure's part of the correction is larger than older texts of the standard ask.
    PressureShare {
        /// Part due to pressure, as a ratio less one.
        share: f64,
        /// Largest asked.
        limit: f64,
    },
    /// The standard was not written for this kind of engine.
    Engine {
        /// The engine under test.
        engine: EngineKind,
    },
    /// A turbocharged spark-ignition engine: the factor is a reporting convention, not physics. UN
    /// R85, supplement 7 (read in its official summary), drops the factor where the control
    /// compensates ambient conditions, because it would count them twice.
    BoostedConvention,
}

/// All limits of the standard that the test exceeds.
pub(super) fn find(standard: Standard, day: &Day, subject: &Subject, factor: f64) -> Vec<Breach> {
    let validity = standard.validity();
    let outside = |value: f64, range: Option<(f64, f64)>| {
        // A nanokelvin of rounding on a limit is not a breach.
        range.filter(|&(low, high)| value < low * (1.0 - 1e-12) || value > high * (1.0 + 1e-12))
    };
    let mut found = Vec::new();
    if let Some(range_k) = outside(day.temperature_k(), validity.temperature_k) {
        found.push(Breach::Temperature {
            temperature_k: day.temperature_k(),
            range_k,
        });
    }
    if let Some(range_pa) = outside(day.dry_pa(), validity.dry_pa) {
        found.push(Breach::DryPressure {
            dry_pa: day.dry_pa(),
            range_pa,
        });
    }
    if let Some(range) = outside(factor, validity.factor) {
        found.push(Breach::Factor { factor, range });
    }
    if let Some((temperature_limit, pressure_limit)) = validity.temperature_and_pressure_share {
        let (pressure, temperature) = standard.air_parts(day);
        if (temperature - 1.0).abs() > temperature_limit {
            found.push(Breach::TemperatureShare {
                share: temperature - 1.0,
                limit: temperature_limit,
            });
        }
        if (pressure - 1.0).abs() > pressure_limit {
            found.push(Breach::PressureShare {
                share: pressure - 1.0,
                limit: pressure_limit,
            });
        }
    }
    let EngineKind { ignition, charging } = subject.engine;
    if !standard.covers(subject.engine) {
        found.push(Breach::Engine {
            engine: subject.engine,
        });
    } else if standard != Standard::None
        && ignition == Ignition::Spark
        && matches!(charging, Charging::Turbo | Charging::TurboCoolantCooled)
    {
        found.push(Breach::BoostedConvention);
    }
    found
}

impl fmt::Display for EngineKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ignition = match self.ignition {
            Ignition::Spark => "spark ignition",
            Ignition::Compression => "compression ignition",
        };
        let charging = match self.charging {
            Charging::Unboosted => "unboosted",
            Charging::Mechanical => "with a crank-driven blower",
            Charging::Turbo => "turbocharged",
            Charging::TurboCoolantCooled => "turbocharged, intercooled by engine coolant",
        };
        write!(f, "{ignition}, {charging}")
    }
}

impl fmt::Display for Breach {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Temperature {
                temperature_k,
                range_k: (low, high),
            } => write!(
                f,
                "air temperature {:.1} °C is outside {:.0} to {:.0} °C",
                temperature_k - 273.15,
                low - 273.15,
                high - 273.15
            ),
            Self::DryPressure {
                dry_pa,
                range_pa: (low, high),
            } => write!(
                f,
                "dry pressure {:.2} kPa is outside {:.0} to {:.0} kPa",
                dry_pa / 1e3,
                low / 1e3,
                high / 1e3
            ),
            Self::Factor {
                factor,
                range: (low, high),
            } => {
                write!(f, "factor {factor:.4} is outside {low:.2} to {high:.2}")
            }
            Self::TemperatureShare { share, limit } => write!(
                f,
                "the day's temperature alone corrects by {:+.1} %; older editions of the standard allow {:.0} %",
                share * 100.0,
                limit * 100.0
            ),
            Self::PressureShare { share, limit } => write!(
                f,
                "the day's pressure alone corrects by {:+.1} %; older editions of the standard allow {:.0} %",
                share * 100.0,
                limit * 100.0
            ),
            Self::Engine { engine } => write!(f, "does not apply to this engine: {engine}"),
            Self::BoostedConvention => write!(
                f,
                "turbocharged engine: the factor assumes that boost follows the barometer; treat it as a reporting convention"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::StationPressure;

    fn at(pressure_pa: f64, temperature_k: f64) -> Day {
        Day::from_vapour(StationPressure::from_pa(pressure_pa), temperature_k, 0.0)
            .expect("dry air")
    }

    #[test]
    fn a_mountain_day_breaks_what_the_standards_state() {
        let subject = Subject::of(EngineKind::SPARK_UNBOOSTED);
        let day = at(78_000.0, 283.15);
        let found = find(Standard::Iso1585, &day, &subject, 1.2955);
        assert_eq!(found.len(), 3);
        assert_eq!(
            found[2].to_string(),
            "factor 1.2955 is outside 0.93 to 1.07"
        );
        assert!(find(Standard::Din70020, &day, &subject, 1.2764).is_empty());
        assert!(find(Standard::SaeJ1349, &at(99_000.0, 288.15), &subject, 1.0).is_empty());
    }

    #[test]
    fn engines_outside_the_scope_are_named() {
        let boosted = Subject::of(EngineKind {
            ignition: Ignition::Spark,
            charging: Charging::Turbo,
        });
        let diesel = Subject::of(EngineKind {
            ignition: Ignition::Compression,
            charging: Charging::Turbo,
        });
        let day = at(99_000.0, 298.15);
        assert_eq!(
            find(Standard::SaeJ1349, &day, &boosted, 1.0),
            [Breach::BoostedConvention]
        );
        let found = find(Standard::SaeJ1349, &day, &diesel, 1.0);
        assert_eq!(
            found[0].to_string(),
            "does not apply to this engine: compression ignition, turbocharged"
        );
        assert!(find(Standard::None, &day, &boosted, 1.0).is_empty());
    }
}
