//! A fuel as a shop names it, before its octane: kind and ethanol by volume.
//!
//! Octane is a property of what is in the tank, so it is asked for where it decides the knock limit; only pure alcohols bring their own.

use super::Fuel;

/// Doubt on a motor octane number that follows from the research one: sensitivities of pump petrol scatter by this much
/// (common practice, no source).
pub const MOTOR_OCTANE_DOUBT: f64 = 1.0;

/// What is in the tank, before its octane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FuelKind {
    /// Petrol without alcohol.
    Petrol,
    /// Petrol with ethanol.
    PetrolWithEthanol {
        /// Ethanol by volume, 0 to 1.
        ethanol_volume_fraction: f64,
    },
    /// Ethanol alone.
    Ethanol,
    /// Methanol alone.
    Methanol,
}

impl FuelKind {
    /// The words for it in files.
    pub const WORDS: [&str; 4] = ["petrol", "petrol with ethanol", "ethanol", "methanol"];

    /// The word for it in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Petrol => "petrol",
            Self::PetrolWithEthanol { .. } => "petrol with ethanol",
            Self::Ethanol => "ethanol",
            Self::Methanol => "methanol",
        }
    }

    /// Whether its octane must be given.
    pub fn needs_octane(self) -> bool {
        matches!(self, Self::Petrol | Self::PetrolWithEthanol { .. })
    }

    /// The fuel at an octane; what is not given follows from the kind.
    pub fn fuel(self, research_octane: Option<f64>, motor_octane: Option<f64>) -> Fuel {
        let named = |fuel: Fuel| Fuel {
            research_octane: research_octane.unwrap_or(fuel.research_octane),
            motor_octane: motor_octane.unwrap_or(fuel.motor_octane),
            ..fuel
        };
        match self {
            Self::Petrol => Fuel::petrol(research_octane.unwrap_or(95.0), motor_octane),
            Self::PetrolWithEthanol {
                ethanol_volume_fraction,
            } => {
                // The blend's composition does not depend on the octane of its petrol; its sensitivity hardly does.
                let blend =
                    Fuel::petrol_with_ethanol(Fuel::petrol(95.0, None), ethanol_volume_fraction);
                let research = research_octane.unwrap_or(blend.research_octane);
                let sensitivity = blend.research_octane - blend.motor_octane;
                Fuel {
                    research_octane: research,
                    motor_octane: motor_octane.unwrap_or(research - sensitivity),
                    ..blend
                }
            }
            Self::Ethanol => named(Fuel::ethanol()),
            Self::Methanol => named(Fuel::methanol()),
        }
    }
}
