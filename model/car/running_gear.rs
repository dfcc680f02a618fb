//! What stands between the crank, or the motor, and the drum: gears, turning parts and tyres.

use crate::driveline::{GearOil, GearTrain, TurningParts, TyreOnDrum};
use crate::electric::axle::ElectricAxle;

/// Driveline of the axle (or axles) the engine turns.
#[derive(Debug, Clone, PartialEq)]
pub struct Driveline {
    /// Gearbox first, final drive last.
    pub train: GearTrain,
    /// Gear-oil temperature, K.
    pub oil_k: f64,
    /// Turning parts.
    pub parts: TurningParts,
    /// The driven tyres together; the drum's radius is filled in by the rig.
    pub tyre: TyreOnDrum,
    /// Tyre temperature, K.
    pub tyre_k: f64,
}

impl Driveline {
    /// Ratio of the gear used on the drums.
    pub fn gear_ratio(&self) -> f64 {
        self.train.stages.first().map_or(1.0, |s| s.ratio)
    }

    /// Final-drive ratio.
    pub fn final_ratio(&self) -> f64 {
        self.train.stages.iter().skip(1).map(|s| s.ratio).product()
    }

    /// Factor of the oil's temperature on gear drag.
    pub fn oil_factor(&self) -> f64 {
        GearOil::SAE_75W90.spin_factor(self.oil_k)
    }
}

/// The electric axle with its own wheels.
#[derive(Debug, Clone, PartialEq)]
pub struct ElectricDrive {
    /// Motor, reduction and battery.
    pub axle: ElectricAxle,
    /// Its tyres together; the drum's radius is filled in by the rig.
    pub tyre: TyreOnDrum,
    /// Wheels, tyres, discs and the rotor referred to the wheels, kg m².
    pub inertia_kg_m2: f64,
}
