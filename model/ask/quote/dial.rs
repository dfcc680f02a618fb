//! The one number of a plan that a search may turn: where it stands, how far it goes, and the plan with it set.
//!
//! A dial belongs to a kind of work. Where the plan has that work, its last change of the kind is turned; where it has not, the
//! work is put at the plan's end, as a plan file would have it. It refuses parts the car will not have.

use crate::belief::Shape;
use crate::belief::prior::{Prior, PriorError};
use crate::boost::turbocharger::BOOST_DOUBT;
use crate::build::{Change, Plan};
use crate::car::Car;
use crate::fuel::Fuel;
use serde::Serialize;

/// A number that can be turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Dial {
    /// New over old drive ratio of the blower's pulleys.
    Pulley,
    /// New over old boost of the turbocharger.
    Boost,
    /// Drive ratio of a blower that the plan adds.
    DriveRatio,
    /// Research octane number; the motor octane number keeps its distance.
    Octane,
    /// Ethanol mixed into what is in the tank, by volume.
    Ethanol,
    /// Compression ratio.
    CompressionRatio,
    /// New over old flow area of the intake's parts.
    IntakeArea,
    /// New over old back pressure of the exhaust.
    BackPressure,
    /// Relative air-fuel ratio.
    Mixture,
    /// Engine speed at which the pull ends, rpm.
    Redline,
    /// Ratio of the gear.
    Gear,
    /// Final-drive ratio.
    FinalDrive,
}

/// Why a dial cannot be turned.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DialError {
    /// No blower on a belt, so no pulley.
    #[error("the car has no blower on a belt after this plan, so no pulley can be changed")]
    NoBlower,
    /// No turbocharger, so no boost to set.
    #[error("the car has no turbocharger after this plan, so no boost can be set")]
    NoTurbocharger,
    /// The plan adds no blower.
    #[error(
        "the plan adds no blower whose drive ratio could be chosen; a pulley changes that of a blower already there"
    )]
    NoNewBlower,
    /// A value that is no belief.
    #[error(transparent)]
    Value(#[from] PriorError),
}

/// Doubt of a size or ratio as made, relative, as in a plan file (common practice, no source).
const SIZE_DOUBT: f64 = 0.005;
/// Doubt of a factor of flow area or back pressure, as in a plan file (common practice, no source).
const FACTOR_DOUBT: f64 = 0.10;
/// Share of the intake's loss that air box, ducts and throttle cause, and its doubt, as in a plan file.
const INTAKE_SHARE: (f64, f64) = (0.8, 0.12);

impl Dial {
    /// Every dial.
    pub const ALL: [Self; 12] = [
        Self::Pulley,
        Self::Boost,
        Self::DriveRatio,
        Self::Octane,
        Self::Ethanol,
        Self::CompressionRatio,
        Self::IntakeArea,
        Self::BackPressure,
        Self::Mixture,
        Self::Redline,
        Self::Gear,
        Self::FinalDrive,
    ];

    /// What a shop would call the number.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Pulley => "pulley, new over old drive ratio",
            Self::Boost => "boost, new over old",
            Self::DriveRatio => "drive ratio of the new blower",
            Self::Octane => "research octane number of the fuel",
            Self::Ethanol => "ethanol mixed into the fuel, by volume",
            Self::CompressionRatio => "compression ratio",
            Self::IntakeArea => "intake, new over old flow area",
            Self::BackPressure => "exhaust, new over old back pressure",
            Self::Mixture => "relative air-fuel ratio",
            Self::Redline => "redline",
            Self::Gear => "gear ratio",
            Self::FinalDrive => "final-drive ratio",
        }
    }

    /// Least and greatest value, as a plan file admits them.
    pub const fn range(self) -> (f64, f64) {
        match self {
            Self::Pulley | Self::Boost => (0.3, 3.0),
            // Of either kind of blower.
            Self::DriveRatio => (0.3, 60.0),
            Self::Octane => (60.0, 130.0),
            Self::Ethanol => (0.0, 1.0),
            Self::CompressionRatio => (5.0, 18.0),
            Self::IntakeArea => (0.2, 5.0),
            Self::BackPressure => (0.02, 10.0),
            Self::Mixture => (0.65, 1.10),
            Self::Redline => (2000.0, 15_000.0),
            Self::Gear => (0.3, 6.0),
            Self::FinalDrive => (1.5, 8.0),
        }
    }

    /// The range for this plan: a drive ratio's depends on the kind of blower.
    pub fn range_in(self, plan: &Plan<Prior>) -> (f64, f64) {
        match (self, plan.changes.iter().rev().find(|c| is_blower(c))) {
            (Self::DriveRatio, Some(Change::CentrifugalBlower(_))) => (1.0, 60.0),
            (Self::DriveRatio, Some(_)) => (0.3, 10.0),
            _ => self.range(),
        }
    }

    /// Where the plan leaves the number; `after` is the car after it.
    pub fn own(self, plan: &Plan<Prior>, after: &Car) -> Result<f64, DialError> {
        if self == Self::Pulley && after.blower.drive().is_none() {
            return Err(DialError::NoBlower);
        }
        if self == Self::Boost && after.blower.turbo().is_none() {
            return Err(DialError::NoTurbocharger);
        }
        if let Some(prior) = plan.changes.iter().rev().find_map(|c| self.number(c)) {
            return Ok(prior.centre());
        }
        Ok(match self {
            Self::DriveRatio => return Err(DialError::NoNewBlower),
            Self::Pulley | Self::Boost | Self::IntakeArea | Self::BackPressure => 1.0,
            Self::Ethanol => 0.0,
            Self::Octane => after.fuel.research_octane,
            Self::CompressionRatio => after.engine.geometry.cylinder.compression_ratio,
            Self::Mixture => after.tune.lambda,
            Self::Redline => after.engine.redline_rpm,
            Self::Gear => after.driveline.gear_ratio(),
            Self::FinalDrive => after.driveline.final_ratio(),
        })
    }

    /// The plan with the number set; its doubt stays in proportion. `after` is the car after the plan as it stands.
    pub fn set(
        self,
        plan: &Plan<Prior>,
        after: &Car,
        value: f64,
    ) -> Result<Plan<Prior>, DialError> {
        let mut turned = plan.clone();
        if self == Self::Ethanol {
            turned.changes.push(mixed(&after.fuel, value)?);
            return Ok(turned);
        }
        let place = turned
            .changes
            .iter()
            .rposition(|change| self.number(change).is_some());
        match place {
            Some(place) => self.turn(&mut turned.changes[place], value)?,
            None => turned.changes.push(self.change(after, value)?),
        }
        Ok(turned)
    }

    /// The number in a change of this dial's kind.
    fn number(self, change: &Change<Prior>) -> Option<&Prior> {
        match (self, change) {
            (Self::Pulley, Change::Pulley { ratio_factor }) => Some(ratio_factor),
            (
                Self::Boost,
                Change::Boost {
                    control: None,
                    factor,
                },
            ) => Some(factor),
            (Self::DriveRatio, Change::DisplacementBlower(blower)) => Some(&blower.drive_ratio),
            (Self::DriveRatio, Change::CentrifugalBlower(blower)) => Some(&blower.drive_ratio),
            (
                Self::Octane,
                Change::Fuel {
                    research_octane, ..
                },
            ) => Some(research_octane),
            (Self::CompressionRatio, Change::CompressionRatio { ratio }) => Some(ratio),
            (Self::IntakeArea, Change::Intake { area_factor, .. }) => Some(area_factor),
            (
                Self::BackPressure,
                Change::Exhaust {
                    back_pressure_factor,
                },
            ) => Some(back_pressure_factor),
            (Self::Mixture, Change::Mixture { lambda }) => Some(lambda),
            (Self::Redline, Change::Redline { rpm }) => Some(rpm),
            (Self::Gear, Change::Gearing { gear, .. }) => gear.as_ref(),
            (Self::FinalDrive, Change::Gearing { final_drive, .. }) => final_drive.as_ref(),
            _ => None,
        }
    }

    fn turn(self, change: &mut Change<Prior>, value: f64) -> Result<(), DialError> {
        match change {
            Change::Pulley { ratio_factor: x }
            | Change::CompressionRatio { ratio: x }
            | Change::Boost { factor: x, .. }
            | Change::Intake { area_factor: x, .. }
            | Change::Exhaust {
                back_pressure_factor: x,
            }
            | Change::Mixture { lambda: x }
            | Change::Redline { rpm: x } => *x = moved(x, value)?,
            Change::DisplacementBlower(blower) => {
                blower.drive_ratio = moved(&blower.drive_ratio, value)?;
            }
            Change::CentrifugalBlower(blower) => {
                blower.drive_ratio = moved(&blower.drive_ratio, value)?;
            }
            Change::Fuel {
                research_octane,
                motor_octane,
                ..
            } => {
                let motor = motor_octane.centre() + value - research_octane.centre();
                *motor_octane = moved(motor_octane, motor)?;
                *research_octane = moved(research_octane, value)?;
            }
            Change::Gearing { gear, final_drive } => {
                let ratio = if self == Self::Gear {
                    gear
                } else {
                    final_drive
                };
                *ratio = ratio.as_ref().map(|x| moved(x, value)).transpose()?;
            }
            _ => {}
        }
        Ok(())
    }

    /// A change that does nothing but set the number.
    fn change(self, after: &Car, value: f64) -> Result<Change<Prior>, DialError> {
        let exact = Prior::fixed;
        let doubted = |share: f64| believed(value, share * value);
        Ok(match self {
            Self::Pulley => Change::Pulley {
                ratio_factor: doubted(SIZE_DOUBT)?,
            },
            Self::Boost => Change::Boost {
                control: None,
                factor: doubted(BOOST_DOUBT)?,
            },
            Self::DriveRatio => return Err(DialError::NoNewBlower),
            Self::Octane => {
                let sensitivity = after.fuel.research_octane - after.fuel.motor_octane;
                Change::Fuel {
                    fuel: Box::new(after.fuel),
                    research_octane: exact(value)?,
                    motor_octane: exact(value - sensitivity)?,
                }
            }
            Self::Ethanol => mixed(&after.fuel, value)?,
            Self::CompressionRatio => Change::CompressionRatio {
                ratio: doubted(SIZE_DOUBT)?,
            },
            Self::IntakeArea => Change::Intake {
                area_factor: doubted(FACTOR_DOUBT)?,
                share: Prior::normal(INTAKE_SHARE.0, INTAKE_SHARE.1, 0.0, 1.0)?,
            },
            Self::BackPressure => Change::Exhaust {
                back_pressure_factor: doubted(FACTOR_DOUBT)?,
            },
            Self::Mixture => Change::Mixture {
                lambda: exact(value)?,
            },
            Self::Redline => Change::Redline { rpm: exact(value)? },
            Self::Gear => Change::Gearing {
                gear: Some(exact(value)?),
                final_drive: None,
            },
            Self::FinalDrive => Change::Gearing {
                gear: None,
                final_drive: Some(exact(value)?),
            },
        })
    }
}

fn is_blower<T>(change: &Change<T>) -> bool {
    matches!(
        change,
        Change::DisplacementBlower(_) | Change::CentrifugalBlower(_)
    )
}

/// Ethanol mixed into what is in the tank, octane as the blend has it.
fn mixed(tank: &Fuel, share: f64) -> Result<Change<Prior>, PriorError> {
    let fuel = if share > 0.0 {
        Fuel::petrol_with_ethanol(*tank, share)
    } else {
        *tank
    };
    Ok(Change::Fuel {
        research_octane: Prior::fixed(fuel.research_octane)?,
        motor_octane: Prior::fixed(fuel.motor_octane)?,
        fuel: Box::new(fuel),
    })
}

/// A belief about a positive number, cut where nobody would look for it.
fn believed(value: f64, sd: f64) -> Result<Prior, PriorError> {
    Prior::normal(value, sd, 0.5 * value, 2.0 * value)
}

/// The belief moved to another value, its doubt in proportion.
fn moved(prior: &Prior, value: f64) -> Result<Prior, PriorError> {
    if prior.is_fixed() {
        return Prior::fixed(value);
    }
    match prior.shape() {
        Shape::Normal => believed(value, prior.sd() * value / prior.centre()),
        Shape::LogNormal => Prior::log_normal(value, prior.sd(), 0.5 * value, 2.0 * value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moved_belief_keeps_its_relative_doubt() {
        let prior = Prior::normal(2.0, 0.02, 0.3, 10.0).expect("a belief");
        let there = moved(&prior, 3.0).expect("a belief");
        assert!((there.centre() - 3.0).abs() < 1e-15 && (there.sd() - 0.03).abs() < 1e-15);
        let fixed = moved(&Prior::fixed(0.88).expect("a number"), 0.85).expect("a number");
        assert!(fixed.is_fixed() && fixed.centre() == 0.85);
    }
}
