//! The gas path outside the cylinders: intake duct, exhaust system and the blower with its drive.
//!
//! Losses are stated at the engine's reference flow (the air it would swallow at the redline at standard density), because
//! that is where a shop measures them; the coefficient of the quadratic law follows from it.

use crate::air::flow::{DuctLoss, Side};
use crate::air::moist::DRY_AIR_J_KG_K;
use crate::boost::{BeltDrive, CentrifugalCompressor, PositiveDisplacement, Turbocharger};
use crate::engine::exhaust::PortLoss;
use crate::numeric::Real;

/// Density of air at 100 kPa and 25 °C, kg/m³; the state at which duct losses are stated. Derived from the ideal gas law.
pub const REFERENCE_DENSITY_KG_M3: f64 = 100_000.0 / (DRY_AIR_J_KG_K * 298.15);

/// Filter, ducts, meter and throttle, ahead of the blower and behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intake {
    /// Pressure loss at the reference flow and density, Pa.
    pub loss_pa: f64,
    /// Share of that loss that lies behind blower and charge cooler: a throttle there. The rest lies ahead of them.
    pub share_behind: f64,
    /// What another throttle takes off that loss, Pa; the shares stay.
    pub throttle_relief_pa: f64,
    /// Flow at which the loss is stated, kg/s.
    pub reference_flow_kg_s: f64,
}

/// Share of an intake's loss that no throttle can take away: filter and ducts. No source, assumed.
const LEAST_LOSS_SHARE: f64 = 0.1;

impl Intake {
    /// Pressure loss at the reference flow with the throttle as it is now, Pa.
    /// Equations (2.1) and (2.10).
    pub fn loss_now_pa(&self) -> f64 {
        (self.loss_pa - self.throttle_relief_pa).max(LEAST_LOSS_SHARE * self.loss_pa)
    }

    /// Pressure behind what lies ahead of a blower, Pa.
    ///
    /// A blower draws on it, so a loss here raises the pressure ratio it works at.
    #[inline(always)]
    pub fn ahead_of_blower_pa<R: Real>(
        &self,
        room_pa: f64,
        room_density_kg_m3: f64,
        flow_kg_s: R,
    ) -> R {
        self.outlet_pa(
            1.0 - self.share_behind,
            flow_kg_s.of(room_pa),
            flow_kg_s.of(room_density_kg_m3),
            flow_kg_s,
        )
    }

    /// Pressure behind what lies behind blower and charge cooler, Pa: a plain loss, smaller in the denser charge.
    #[inline(always)]
    pub fn behind_blower_pa<R: Real>(
        &self,
        charge_pa: R,
        charge_density_kg_m3: R,
        flow_kg_s: R,
    ) -> R {
        self.outlet_pa(
            self.share_behind,
            charge_pa,
            charge_density_kg_m3,
            flow_kg_s,
        )
    }

    /// Pressure behind a duct that causes a share of the loss, Pa.
    ///
    /// ```text
    /// p₁ = p₀ − s Δp_ref (ṁ/ṁ_ref)² (ρ_ref/ρ₀)
    /// ```
    ///
    /// Never below a tenth of the upstream pressure: past that the duct is choked and the flow cannot be had.
    /// Source: turbulent loss scaled with dynamic pressure; from memory of standard texts.
    /// Equation (2.1).
    #[inline(always)]
    fn outlet_pa<R: Real>(
        &self,
        share: f64,
        upstream_pa: R,
        upstream_density_kg_m3: R,
        flow_kg_s: R,
    ) -> R {
        if share == 0.0 {
            return upstream_pa;
        }
        let x = flow_kg_s / self.reference_flow_kg_s;
        let stated_pa = share * self.loss_now_pa();
        let loss = x * x * (stated_pa * REFERENCE_DENSITY_KG_M3 / 0.9);
        // p₀ (1 − s) for small s, smoothly held above 0.1 p₀ so that a solver may ask for any flow.
        let share = loss / (upstream_density_kg_m3 * upstream_pa);
        upstream_pa * ((share + 1.0 + share.squared()).dividing(0.9) + 0.1)
    }
}

/// Everything behind the exhaust valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exhaust {
    /// Back pressure above one atmosphere at the reference flow, Pa, with gas at [`Exhaust::REFERENCE_K`].
    pub back_pressure_pa: f64,
    /// How far tubular headers lower the pressure behind the valve while it closes, Pa at the reference flow.
    pub scavenging_pa: f64,
    /// Flow at which the back pressure is stated, kg/s.
    pub reference_flow_kg_s: f64,
    /// Cooling of the gas in port and manifold.
    pub port: PortLoss,
}

impl Exhaust {
    /// Gas temperature at which back pressure is stated, K. Common practice, no source.
    pub const REFERENCE_K: f64 = 1100.0;

    /// The system as one turbulent loss, stated against 101.325 kPa outside.
    /// Equation (4.7).
    pub fn loss(&self) -> DuctLoss {
        let upstream = Side {
            pressure_pa: 101_325.0 + self.back_pressure_pa,
            temperature_k: Self::REFERENCE_K,
        };
        DuctLoss::from_reference(self.reference_flow_kg_s, upstream, self.back_pressure_pa)
    }

    /// Pressure behind the exhaust valve around top dead centre, Pa, from its mean over the exhaust stroke.
    ///
    /// ```text
    /// p = p_e − Δp (ṁ/ṁ_ref)²,   not below 0.7 p_e
    /// ```
    ///
    /// It decides what is left in the cylinder and what the overlap does; pumping goes by the mean. Pulses grow with the gas's
    /// dynamic pressure. From memory: racing headers show 0.6 to 0.8 bar there at their tuned speed. It refuses tuned lengths:
    /// the fall is spread over all speeds.
    /// Equation (2.14).
    #[inline(always)]
    pub fn overlap_pa<R: Real>(&self, exhaust_pa: R, flow_kg_s: R) -> R {
        let x = flow_kg_s / self.reference_flow_kg_s;
        exhaust_pa - (x * self.scavenging_pa * x).min(exhaust_pa * 0.3)
    }
}

/// The machine that raises the charge pressure.
#[derive(Debug, Clone)]
pub enum Blower {
    /// Naturally aspirated.
    None,
    /// Roots or screw machine on a belt.
    Displacement {
        /// The machine.
        machine: PositiveDisplacement,
        /// Its belt and pulleys.
        drive: BeltDrive,
    },
    /// Centrifugal compressor on a belt with a step-up gear.
    Centrifugal {
        /// The machine and its map.
        machine: Box<CentrifugalCompressor>,
        /// Its belt, pulleys and gear.
        drive: BeltDrive,
    },
    /// Turbochargers, one or several alike side by side.
    Turbo(Box<Turbocharger>),
}

impl Blower {
    /// The positive-displacement machine, if that is what is fitted.
    pub fn displacement(&self) -> Option<(&PositiveDisplacement, &BeltDrive)> {
        match self {
            Self::Displacement { machine, drive } => Some((machine, drive)),
            _ => None,
        }
    }

    /// The positive-displacement machine, to be changed.
    pub fn displacement_mut(&mut self) -> Option<(&mut PositiveDisplacement, &mut BeltDrive)> {
        match self {
            Self::Displacement { machine, drive } => Some((machine, drive)),
            _ => None,
        }
    }

    /// The step-up gear and wheel of a belt-driven centrifugal machine, to be changed.
    pub fn centrifugal_mut(&mut self) -> Option<&mut CentrifugalCompressor> {
        match self {
            Self::Centrifugal { machine, .. } => Some(machine.as_mut()),
            _ => None,
        }
    }

    /// The wheel that throws the air outward, whatever turns it, to be changed.
    pub fn compressor_mut(&mut self) -> Option<&mut CentrifugalCompressor> {
        match self {
            Self::Centrifugal { machine, .. } => Some(machine.as_mut()),
            Self::Turbo(turbo) => Some(&mut turbo.compressor),
            _ => None,
        }
    }

    /// The turbochargers, if that is what is fitted.
    pub fn turbo(&self) -> Option<&Turbocharger> {
        match self {
            Self::Turbo(turbo) => Some(turbo),
            _ => None,
        }
    }

    /// The turbochargers, to be changed.
    pub fn turbo_mut(&mut self) -> Option<&mut Turbocharger> {
        match self {
            Self::Turbo(turbo) => Some(turbo),
            _ => None,
        }
    }

    /// Belt and pulleys of whichever machine a belt turns.
    pub fn drive(&self) -> Option<&BeltDrive> {
        match self {
            Self::None | Self::Turbo(_) => None,
            Self::Displacement { drive, .. } | Self::Centrifugal { drive, .. } => Some(drive),
        }
    }

    /// The same, to be changed.
    pub fn drive_mut(&mut self) -> Option<&mut BeltDrive> {
        match self {
            Self::None | Self::Turbo(_) => None,
            Self::Displacement { drive, .. } | Self::Centrifugal { drive, .. } => Some(drive),
        }
    }
}
