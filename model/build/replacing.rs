//! Which changes of a plan are about the same thing, and which of them leave nothing of the earlier one.

use super::{Breathing, Change, Charge};
use std::mem::discriminant;

impl<T> Change<T> {
    /// Whether it puts a part or a setting in the place of what was there, whatever that was; others (a factor, a mass, a lighter
    /// flywheel) add up.
    pub fn replaces(&self) -> bool {
        match self {
            // More ribs are a factor on the belt that is there.
            Self::Belt(belt) => belt.rib_factor.is_none(),
            Self::Charge(charge) => !matches!(charge, Charge::TankMix { .. }),
            Self::Breathing(breathing) => matches!(breathing, Breathing::BoreStroke { .. }),
            _ => self.sets_outright(),
        }
    }

    fn sets_outright(&self) -> bool {
        matches!(
            self,
            Self::CompressionRatio { .. }
                | Self::Injectors(_)
                | Self::FuelPump(_)
                | Self::FuelRail(_)
                | Self::DrivelineOil(_)
                | Self::Clutch { .. }
                | Self::Converter(_)
                | Self::Battery(_)
                | Self::Tyres(_)
                | Self::Fuel { .. }
                | Self::Mixture { .. }
                | Self::Redline { .. }
                | Self::Gearing { .. }
                | Self::Wheels { .. }
                | Self::ElectricAxle { .. }
                | Self::Boost {
                    control: Some(_),
                    ..
                }
        )
    }

    /// Whether it is about the same part or setting as another.
    pub fn same_part(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Charge(one), Self::Charge(other)) => discriminant(one) == discriminant(other),
            (Self::Breathing(one), Self::Breathing(other)) => {
                discriminant(one) == discriminant(other)
            }
            _ => discriminant(self) == discriminant(other),
        }
    }
}
