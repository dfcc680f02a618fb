//! Blowers, pulleys and charge coolers as changes to a car.

use super::BuildError;
use crate::boost::{
    BeltDrive, CentrifugalCompressor, CompressorMap, MakerClaims, PositiveDisplacement, RotorKind,
};
use crate::car::{Blower, Car};
use crate::cooling::charge_cooler::{ChargeCooler, HeatSink};

/// A Roots or screw blower as its maker describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct DisplacementBlower<T> {
    /// Family of rotors, for what the maker does not say.
    pub kind: RotorKind,
    /// Volume carried per turn of the driven shaft, m³.
    pub displacement_m3_rev: T,
    /// Driven shaft over engine speed.
    pub drive_ratio: T,
    /// Built-in volume ratio; 1 for a Roots machine.
    pub built_in_volume_ratio: T,
    /// Volumetric efficiency the maker claims.
    pub volumetric_efficiency: T,
    /// Isentropic efficiency the maker claims.
    pub isentropic_efficiency: T,
    /// Filling lost to the inlet port at the highest speed.
    pub filling_loss: T,
    /// Pressure ratio of those claims.
    pub claim_pressure_ratio: f64,
    /// Shaft speed of those claims, rad/s.
    pub claim_speed_rad_s: f64,
    /// Highest shaft speed the maker allows, rad/s.
    pub max_speed_rad_s: f64,
    /// Diameter of the pulley on the blower, m.
    pub pulley_m: T,
}

impl<T> DisplacementBlower<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> DisplacementBlower<U> {
        DisplacementBlower {
            kind: self.kind,
            displacement_m3_rev: convert("displacement", &self.displacement_m3_rev),
            drive_ratio: convert("drive_ratio", &self.drive_ratio),
            built_in_volume_ratio: convert("built_in_volume_ratio", &self.built_in_volume_ratio),
            volumetric_efficiency: convert("volumetric_efficiency", &self.volumetric_efficiency),
            isentropic_efficiency: convert("isentropic_efficiency", &self.isentropic_efficiency),
            filling_loss: convert("filling_loss", &self.filling_loss),
            claim_pressure_ratio: self.claim_pressure_ratio,
            claim_speed_rad_s: self.claim_speed_rad_s,
            max_speed_rad_s: self.max_speed_rad_s,
            pulley_m: convert("pulley_diameter", &self.pulley_m),
        }
    }
}

impl DisplacementBlower<f64> {
    pub(super) fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let mut machine = PositiveDisplacement::typical(
            self.kind,
            self.displacement_m3_rev,
            self.max_speed_rad_s,
        );
        machine.built_in_volume_ratio = self.built_in_volume_ratio;
        machine.filling_loss = self.filling_loss;
        let machine = machine.calibrated(MakerClaims {
            pressure_ratio: self.claim_pressure_ratio,
            speed_rad_s: self.claim_speed_rad_s,
            volumetric_efficiency: self.volumetric_efficiency,
            isentropic_efficiency: self.isentropic_efficiency,
        })?;
        car.blower = Blower::Displacement {
            machine,
            drive: BeltDrive::of_overall_ratio(self.drive_ratio, self.pulley_m),
        };
        Ok(())
    }
}

/// A belt-driven centrifugal blower as its maker describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct CentrifugalBlower<T> {
    /// Measured or drawn map.
    pub map: CompressorMap,
    /// Wheel speed over engine speed, belt and step-up gear together.
    pub drive_ratio: T,
    /// Factor on the flow of the map.
    pub flow_factor: T,
    /// Factor on the efficiency of the map.
    pub efficiency_factor: T,
    /// Efficiency of the step-up gear.
    pub gear_efficiency: T,
    /// Diameter of the pulley on the blower, m.
    pub pulley_m: T,
    /// Highest rim speed, m/s.
    pub tip_speed_limit_m_s: f64,
}

impl<T> CentrifugalBlower<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> CentrifugalBlower<U> {
        CentrifugalBlower {
            map: self.map.clone(),
            drive_ratio: convert("drive_ratio", &self.drive_ratio),
            flow_factor: convert("flow_factor", &self.flow_factor),
            efficiency_factor: convert("efficiency_factor", &self.efficiency_factor),
            gear_efficiency: convert("gear_efficiency", &self.gear_efficiency),
            pulley_m: convert("pulley_diameter", &self.pulley_m),
            tip_speed_limit_m_s: self.tip_speed_limit_m_s,
        }
    }
}

impl CentrifugalBlower<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
        let mut machine = CentrifugalCompressor::of_map(self.map.clone());
        machine.flow_factor = self.flow_factor;
        machine.efficiency_factor = self.efficiency_factor;
        machine.gear_efficiency = self.gear_efficiency;
        machine.tip_speed_limit_m_s = self.tip_speed_limit_m_s;
        let drive = BeltDrive::of_geared_ratio(self.drive_ratio, self.pulley_m);
        car.blower = Blower::Centrifugal {
            machine: Box::new(machine),
            drive,
        };
    }
}

pub(super) fn remove_blower(car: &mut Car) -> Result<(), BuildError> {
    if matches!(car.blower, Blower::None) {
        return Err(BuildError::PartMissing { part: "blower" });
    }
    car.blower = Blower::None;
    Ok(())
}

/// A smaller blower pulley turns the blower faster and gives the belt less to hold.
/// Equation (11.5).
pub(super) fn change_pulley(car: &mut Car, ratio_factor: f64) -> Result<(), BuildError> {
    let drive = car.blower.drive_mut().ok_or(BuildError::PartMissing {
        part: "blower on a belt",
    })?;
    drive.pulleys.blower_diameter_m /= ratio_factor;
    Ok(())
}

pub(super) fn remove_charge_cooler(car: &mut Car) -> Result<(), BuildError> {
    car.cooler
        .take()
        .map(|_| ())
        .ok_or(BuildError::PartMissing {
            part: "charge cooler",
        })
}

/// A charge cooler as its maker describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct CoolerChoice<T> {
    /// What it is cooled by.
    pub kind: HeatSink,
    /// Effectiveness at the reference flow: to outside air once settled (air), to the water (water).
    pub effectiveness: T,
    /// Flow at which effectiveness and pressure drop are stated, kg/s.
    pub reference_flow_kg_s: T,
    /// Pressure drop at that flow, Pa.
    pub pressure_drop_pa: T,
    /// Heat capacity of core, or of core and water, J/K.
    pub heat_capacity_j_k: T,
    /// Conductance to outside air at rest (air) or through the radiator (water), W/K.
    pub rejection_w_k: T,
}

impl<T> CoolerChoice<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> CoolerChoice<U> {
        CoolerChoice {
            kind: self.kind,
            effectiveness: convert("effectiveness", &self.effectiveness),
            reference_flow_kg_s: convert("reference_flow", &self.reference_flow_kg_s),
            pressure_drop_pa: convert("pressure_drop", &self.pressure_drop_pa),
            heat_capacity_j_k: convert("heat_capacity", &self.heat_capacity_j_k),
            rejection_w_k: convert("rejection", &self.rejection_w_k),
        }
    }
}

impl CoolerChoice<f64> {
    /// The device described.
    pub fn device(&self) -> ChargeCooler {
        let rated = ChargeCooler::rated(
            self.effectiveness,
            self.reference_flow_kg_s,
            self.heat_capacity_j_k,
            self.kind,
        );
        ChargeCooler {
            pressure_drop_pa: self.pressure_drop_pa,
            rejection_w_k: self.rejection_w_k,
            ..rated
        }
    }

    pub(super) fn apply(&self, car: &mut Car) {
        car.cooler = Some(self.device());
    }
}
