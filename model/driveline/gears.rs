//! Gear stages in a row, from the clutch to the driven wheels.
//!
//! Exists to carry torque and speed through the stages a car has and to hand back where power went, and to know which
//! stages a layout has when nobody says. It refuses to shift: the gear is given.
//!
//! Source: derived, power in is power out plus losses, stage by stage; the losses carry theirs in [`super::losses`].

use super::losses::StageLoss;
use crate::numeric::Real;

/// One stage of a train.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// Input speed over output speed.
    pub ratio: f64,
    /// Its losses.
    pub loss: StageLoss,
}

/// Torque and speed after a train, and what it cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShaftFlow<R = f64> {
    /// Torque at the output, N m.
    pub torque_nm: R,
    /// Speed at the output, rad/s.
    pub speed_rad_s: R,
    /// Power lost in meshes, W.
    pub mesh_loss_w: R,
    /// Power lost to spinning, W.
    pub spin_loss_w: R,
}

/// Stages in the order the torque passes them.
#[derive(Debug, Clone, PartialEq)]
pub struct GearTrain {
    /// The stages.
    pub stages: Vec<Stage>,
}

/// Which wheels are driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drive {
    /// Rear wheels by a propeller shaft and hypoid axle.
    Rear,
    /// Front (or mid-engined rear) wheels by a transaxle.
    Transaxle,
    /// All wheels from one engine.
    All,
}

/// Kind of gearbox.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gearbox {
    /// Manual, or automated with the same shafts.
    Manual,
    /// Planetary automatic with its converter locked.
    Automatic,
}

impl GearTrain {
    /// The stages a layout usually has, with the default losses of [`StageLoss`].
    ///
    /// Rear drive: gearbox, hypoid. Manual transaxle: gear and spur final that together lose what a transaxle does; automatic:
    /// gearbox, spur final. All-wheel drive: gearbox, transfer case, hypoid (both axles as one).
    pub fn typical(drive: Drive, gearbox: Gearbox, gear_ratio: f64, final_ratio: f64) -> Self {
        let of = |ratio, loss| Stage { ratio, loss };
        let direct = (gear_ratio - 1.0).abs() < 0.005;
        let stages = match (drive, gearbox) {
            (Drive::Transaxle, Gearbox::Manual) => {
                let (first, last) = StageLoss::transaxle_in_two(gear_ratio);
                vec![of(gear_ratio, first), of(final_ratio, last)]
            }
            (Drive::Transaxle, Gearbox::Automatic) => {
                vec![
                    of(gear_ratio, StageLoss::AUTOMATIC),
                    of(final_ratio, StageLoss::SPUR_FINAL),
                ]
            }
            (Drive::Rear | Drive::All, _) => {
                let first = match gearbox {
                    Gearbox::Automatic => StageLoss::AUTOMATIC,
                    Gearbox::Manual if direct => StageLoss::DIRECT_GEAR,
                    Gearbox::Manual => StageLoss::INDIRECT_GEAR,
                };
                let mut stages = vec![of(gear_ratio, first)];
                if drive == Drive::All {
                    stages.push(of(1.0, StageLoss::TRANSFER));
                }
                stages.push(of(final_ratio, StageLoss::HYPOID));
                stages
            }
        };
        Self { stages }
    }

    /// Overall ratio, input over output speed.
    pub fn ratio(&self) -> f64 {
        self.stages.iter().map(|s| s.ratio).product()
    }

    /// Product of the mesh efficiencies.
    pub fn mesh_efficiency(&self) -> f64 {
        self.stages.iter().map(|s| s.loss.mesh_efficiency).product()
    }

    /// Torque, speed and losses behind the train.
    ///
    /// ```text
    /// per stage: T_out = i (T_in − (1 − η)|T_in| − T_spin(ω_in)),   ω_out = ω_in/i
    /// ```
    ///
    /// Loss is positive on overrun too. Energy closes exactly: in = out + mesh + spin.
    /// Source: derived from the power balance of a stage.
    /// Equation (6.1).
    #[inline(always)]
    pub fn through<R: Real>(&self, torque_nm: R, speed_rad_s: R, oil_factor: f64) -> ShaftFlow<R> {
        let mut flow = ShaftFlow {
            torque_nm,
            speed_rad_s,
            mesh_loss_w: torque_nm.of(0.0),
            spin_loss_w: torque_nm.of(0.0),
        };
        for stage in &self.stages {
            let mesh = stage.loss.mesh_nm(flow.torque_nm);
            let spin = stage.loss.spin_nm(flow.speed_rad_s, oil_factor);
            flow.mesh_loss_w = flow.mesh_loss_w + mesh * flow.speed_rad_s;
            flow.spin_loss_w = flow.spin_loss_w + spin * flow.speed_rad_s;
            flow.torque_nm = (flow.torque_nm - mesh - spin) * stage.ratio;
            flow.speed_rad_s = flow.speed_rad_s / stage.ratio;
        }
        flow
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn power_in_is_power_out_plus_losses() {
        let train = GearTrain::typical(Drive::All, Gearbox::Automatic, 1.7, 3.7);
        for torque in [-80.0, 0.0, 400.0] {
            let f = train.through(torque, 500.0, 1.2);
            let balance =
                torque * 500.0 - f.torque_nm * f.speed_rad_s - f.mesh_loss_w - f.spin_loss_w;
            assert!(balance.abs() < 1e-9, "{balance}");
            assert!(f.mesh_loss_w >= 0.0 && f.spin_loss_w > 0.0);
        }
    }

    #[test]
    fn the_direct_gear_is_the_best_of_a_rear_drive() {
        let eta = |r| GearTrain::typical(Drive::Rear, Gearbox::Manual, r, 3.73).mesh_efficiency();
        assert!((eta(1.0) - 0.985 * 0.965).abs() < 1e-12 && eta(1.3) < eta(1.0));
    }
}
