//! The engine of one particular car: its geometry, and the few numbers that calibrate the mean-value model to it.
//!
//! The formulas live in `crate::engine`; this file only says which numbers a car carries into them. Every number here is one
//! a fit may move, so each is a plain public field.

use super::work_by_cycle::WorkByCycle;
use crate::engine::EngineGeometry;
use crate::engine::breathing::InletValves;
use crate::engine::combustion::{Combustion, WallLoss};
use crate::engine::friction::{Accessories, Friction};
use crate::engine::knock_map::{KnockMap, KnockMapInput};
use crate::engine::knock_maps::KnockMaps;
use crate::engine::phasing::Phasing;
use crate::engine::tuning::{Hump, MOST_HUMPS};
use crate::engine::wiebe::BurnScaling;
use crate::numeric::Real;
use std::sync::Arc;

/// How fuel meets the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fuelling {
    /// Injectors, wherever they sit.
    Injection,
    /// Carburettors: a venturi in the way of the air, and a heated manifold.
    Carburettor,
}

/// An engine and its mean-value calibration.
#[derive(Debug, Clone)]
pub struct Engine {
    /// Bore, stroke, rod, compression ratio and number of cylinders.
    pub geometry: EngineGeometry,
    /// Highest engine speed of a pull, rpm.
    pub redline_rpm: f64,
    /// Inlet valves and their cam.
    pub valves: InletValves,
    /// How fuel meets the air; only what is believed of an engine that nobody measured asks for it.
    pub fuelling: Fuelling,
    /// How much later another camshaft closes them, deg; the breathing numbers belong to the closing as described.
    pub closing_later_deg: f64,
    /// Overlap factor of inlet and exhaust valves, deg/m.
    pub overlap_deg_m: f64,
    /// How the cylinder fills.
    pub breathing: Breathing,
    /// How the charge turns into work.
    pub combustion: Combustion,
    /// Phasing of best torque and the cost of leaving it.
    pub phasing: Phasing,
    /// Heat lost in the cylinder.
    pub wall_loss: WallLoss,
    /// Burn duration and how it moves.
    pub burn: BurnScaling,
    /// Where knock holds the spark back.
    pub knock: Knock,
    /// Rubbing friction.
    pub friction: Friction,
    /// Oil temperature, K.
    pub oil_k: f64,
    /// Belt-driven parts.
    pub accessories: Accessories,
    /// Pumping loss of the valves at inlet Mach index 0.5, Pa.
    pub valve_pumping_pa: f64,
    /// What the crank-angle cycle makes of work inside the cylinder that a plan has done, against what the formulas here make
    /// of it; none for an engine as described.
    pub work_by_cycle: Option<Arc<WorkByCycle>>,
}

/// Filling of the cylinder at full load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breathing {
    /// Volumetric efficiency at low inlet Mach index, relative to port density.
    pub level: f64,
    /// Relative change of filling per 2500 rpm, from two thirds of the redline.
    pub tilt: f64,
    /// Ratio of the Mach index at which the inlet chokes to its bound from the open period.
    pub choking_ratio: f64,
    /// Sharpness of the bend toward choking.
    pub choking_exponent: f64,
    /// Effectiveness of heating by the manifold walls, at the reference flow.
    pub manifold_heating: f64,
    /// Effectiveness of heating by port and valve, at the reference flow.
    pub port_heating: f64,
    /// Temperature of those walls, K.
    pub wall_k: f64,
    /// Share of the fuel that evaporates in the charge before the valve closes, taking its heat from it.
    pub evaporation: f64,
    /// Engine speed, over the redline, from which ram makes up for a late closing inlet valve.
    pub ram_speed: f64,
    /// Engine speed, over the redline, past which the filling falls: what cam and pipes are made for.
    pub fade_speed: f64,
    /// Ram and resonance tuning.
    pub humps: [Hump; MOST_HUMPS],
}

/// Where knock holds the spark back.
#[derive(Debug, Clone)]
pub struct Knock {
    /// Multiplier on the autoignition delay.
    pub delay_multiplier: f64,
    /// Weight of the octane sensitivity in the octane index (the K of OI = RON − K (RON − MON)).
    pub octane_weight: f64,
    /// Knock integral tabulated for this engine and fuel.
    pub map: Arc<KnockMap>,
    /// What that table was made for.
    pub made_for: KnockMapInput,
    /// Such tables around it, which cars drawn from this one share.
    pub maps: Arc<KnockMaps>,
}

/// What the engine controller is told to do at full load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tune {
    /// Relative air-fuel ratio asked for.
    pub lambda: f64,
    /// Measured minus asked.
    pub lambda_offset: f64,
    /// Change of the mixture from the middle of the speed range to the redline.
    pub lambda_tilt: f64,
    /// Half the burn held this much later than best torque or the knock limit, deg.
    pub retard_deg: f64,
    /// The factory's margin: later still by this, deg.
    pub margin_deg: f64,
}

impl Tune {
    /// How much later than best torque or the knock limit half the burn is held, deg.
    pub fn late_deg(&self) -> f64 {
        self.retard_deg + self.margin_deg
    }

    /// Relative air-fuel ratio at an engine speed.
    ///
    /// ```text
    /// λ = λ₀ + offset + tilt (2N/N_r − 1)
    /// ```
    ///
    /// Held in 0.6 to 1.3, outside which the engine would not fire at full load.
    /// Common practice, no source: full-load mixtures drift steadily with air flow.
    /// Equation (2.18).
    #[inline(always)]
    pub fn lambda_at<R: Real>(&self, rpm: R, redline_rpm: f64) -> R {
        let lambda =
            (rpm * 2.0 / redline_rpm - 1.0) * self.lambda_tilt + (self.lambda + self.lambda_offset);
        lambda.within(0.6, 1.3)
    }

    /// Holds half the burn this much later than best torque or the knock limit, deg; what is told against the limit knows no margin.
    pub fn hold_late(&mut self, deg: f64) {
        (self.retard_deg, self.margin_deg) = (deg, 0.0);
    }

    /// Brings half the burn this much forward, deg, or back where it is negative: the margin first, and no further than the limit.
    ///
    /// ```text
    /// late' = max(0, late − advance)
    /// ```
    pub fn advance(&mut self, deg: f64) {
        let from_margin = deg.clamp(0.0, self.margin_deg);
        self.margin_deg -= from_margin;
        self.retard_deg = (self.retard_deg - (deg - from_margin)).max(0.0);
    }

    /// This spark with the mixture of another tune.
    #[must_use]
    pub fn with_mixture_of(&self, other: &Self) -> Self {
        Self {
            lambda: other.lambda,
            lambda_offset: other.lambda_offset,
            lambda_tilt: other.lambda_tilt,
            ..*self
        }
    }

    /// The same mixture over engine speed, told for another redline.
    /// Equation (11.7).
    pub fn retell(&mut self, old_redline_rpm: f64, redline_rpm: f64) {
        let tilt = self.lambda_tilt * redline_rpm / old_redline_rpm;
        self.lambda_offset += tilt - self.lambda_tilt;
        self.lambda_tilt = tilt;
    }
}

/// Engine speed over which [`Breathing::tilt`] is told, rpm.
const TILT_RPM: f64 = 2500.0;

impl Breathing {
    /// Filling at an engine speed over that at two thirds of the redline, but for chokes and humps.
    ///
    /// ```text
    /// 1 + tilt (N − N_r/1.5)/2500,   not below 0.2
    /// ```
    ///
    /// Common practice, no source: a straight line for what the other terms leave.
    /// Equation (2.8).
    #[inline(always)]
    pub fn tilt_at<R: Real>(&self, rpm: R, redline_rpm: f64) -> R {
        ((rpm - redline_rpm / 1.5) * self.tilt / TILT_RPM + 1.0).at_least(0.2)
    }

    /// The same filling over engine speed, told for another redline: the line keeps its course, its pivot goes into the level.
    /// Equation (11.7).
    pub fn retell(&mut self, old_redline_rpm: f64, redline_rpm: f64) {
        self.ram_speed *= old_redline_rpm / redline_rpm;
        self.fade_speed *= old_redline_rpm / redline_rpm;
        let pivot = 1.0 + self.tilt * (redline_rpm - old_redline_rpm) / (1.5 * TILT_RPM);
        self.level *= pivot;
        self.tilt /= pivot;
    }
}

impl Engine {
    /// Air the engine would swallow at its redline, 0.95 of its displacement, at 100 kPa and 25 °C, kg/s.
    ///
    /// A yardstick at which losses and heat-transfer numbers are stated; it is taken once, when a car is described, and does
    /// not move with later changes to the engine.
    /// Equation (2.1).
    pub fn reference_flow_kg_s(&self) -> f64 {
        0.95 * self.geometry.displacement_m3() * self.redline_rpm / 120.0
            * super::induction::REFERENCE_DENSITY_KG_M3
    }
}
