//! From the crank to the drum, step by step: what turning parts take, what gears lose, what the tyre rolls away and lets slip.
//!
//! Written once, because a pull asks it for the force that reaches the drum, heat soak for what stays in oil and tyre, and the
//! working for every number between. It refuses to find the acceleration: that is the pull's own equation.
//!
//! ```text
//! F = [(T_e − T_I) i η − T_drag − I_w α]/r(ω) − F_roll,      v = ω r(ω)/(1 + κ)
//! ```

use super::Setup;
use crate::car::{Coupled, Driveline};
use crate::driveline::{ShaftFlow, TyreOnDrum, TyreSlip, rolling_rise};
use crate::numeric::Real;

/// Least slip that is followed: the wheel's surface at half the drum's speed. At −1 the wheel stands and the drum's speed would
/// not follow from it.
const LEAST_SLIP: f64 = -0.5;

/// The engine's driveline on its drum: what does not change while a car stands in one gear.
#[derive(Debug, Clone, Copy)]
pub struct EngineAxle<'a> {
    /// The driveline.
    pub line: &'a Driveline,
    /// Its tyres on this rig.
    pub tyre: TyreOnDrum,
    /// Crank speed over wheel speed.
    pub ratio: f64,
    /// Drag of the gear oil over that at its reference temperature.
    oil_factor: f64,
    /// Rolling force of the tyres at standstill, N.
    rolling_at_rest_n: f64,
    /// Inertia of shafts and wheels at the wheels, kg m².
    turning_kg_m2: f64,
}

/// How the axle turns at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rolling<R = f64> {
    /// Crank speed, rad/s.
    pub engine_rad_s: R,
    /// Speed of the gearbox's input, rad/s; the crank's but for an open converter.
    pub shaft_rad_s: R,
    /// Surface speed of the tyre over that of the drum, minus 1.
    pub slip: R,
    /// Effective radius at this speed, m.
    pub radius_m: R,
    /// Surface speed of the drum, m/s.
    pub speed_m_s: R,
}

/// Every step between crank and drum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrankToDrum {
    /// Clutch or converter: torque taken to spin up the engine, torque into the gearbox.
    pub coupled: Coupled,
    /// Crank speed over wheel speed.
    pub ratio: f64,
    /// Torque behind the gears, and the power they lose.
    pub shaft: ShaftFlow,
    /// Torque that shafts and wheels take to gather speed, N m at the wheels.
    pub turning_nm: f64,
    /// Effective radius at this speed, m.
    pub radius_m: f64,
    /// Rolling force, N.
    pub rolling_n: f64,
    /// Slip, and the force that reaches the drum.
    pub passed: TyreSlip,
}

impl<'a> EngineAxle<'a> {
    /// The axle of a car on its drums.
    pub fn of(setup: &'a Setup) -> Self {
        let line = &setup.car.driveline;
        let tyre = setup.drums.under(&line.tyre);
        Self {
            line,
            rolling_at_rest_n: tyre.rolling_at_rest_n(line.tyre_k),
            tyre,
            ratio: line.train.ratio(),
            oil_factor: line.oil_factor(),
            turning_kg_m2: line.parts.shaft_kg_m2 * line.final_ratio() * line.final_ratio()
                + line.parts.wheels_kg_m2 * setup.drums.wheels_share(),
        }
    }

    /// How it turns at a crank speed; `speed_ratio` is an open converter's, 1 without one.
    #[inline(always)]
    pub fn rolling<R: Real>(&self, engine_rad_s: R, speed_ratio: R, slip: R) -> Rolling<R> {
        let slip = slip.at_least(LEAST_SLIP);
        let shaft_rad_s = engine_rad_s * speed_ratio;
        let wheel_rad_s = shaft_rad_s / self.ratio;
        let radius_m = self.tyre.radius_at_m(wheel_rad_s * self.tyre.radius_m);
        Rolling {
            engine_rad_s,
            shaft_rad_s,
            slip,
            radius_m,
            speed_m_s: wheel_rad_s * radius_m / (slip + 1.0),
        }
    }

    /// What becomes of the crank's torque while the drum's surface accelerates, m/s².
    pub fn passes(&self, engine_nm: f64, rolling: &Rolling, acceleration_m_s2: f64) -> CrankToDrum {
        let wheel_rad_s2 = self.wheel_rad_s2(rolling, acceleration_m_s2);
        let coupled = (self.line).coupled(engine_nm, rolling.engine_rad_s, wheel_rad_s2);
        let onto = self.onto_drum(coupled.gearbox_nm, rolling, wheel_rad_s2);
        CrankToDrum {
            coupled,
            ratio: self.ratio,
            shaft: onto.shaft,
            turning_nm: onto.turning_nm,
            radius_m: rolling.radius_m,
            rolling_n: onto.rolling_n,
            passed: self.tyre.slip(onto.surface_n),
        }
    }

    /// The same as far as the search for the acceleration goes, with neither clutch nor converter slipping.
    #[inline(always)]
    pub(super) fn passes_rigidly<R: Real>(
        &self,
        engine_nm: R,
        rolling: &Rolling<R>,
        acceleration_m_s2: R,
    ) -> Rigid<R> {
        let wheel_rad_s2 = self.wheel_rad_s2(rolling, acceleration_m_s2);
        let spinning_up_nm = self.line.spinning_up_nm(wheel_rad_s2);
        let onto = self.onto_drum(engine_nm - spinning_up_nm, rolling, wheel_rad_s2);
        let (slip, transmitted_n) = self.tyre.slip_and_force_n(onto.surface_n);
        Rigid {
            engine_rad_s2: wheel_rad_s2 * self.ratio,
            spinning_up_nm,
            surface_n: onto.surface_n,
            slip,
            transmitted_n,
        }
    }

    /// How fast the wheels gather speed while the drum's surface does, rad/s².
    #[inline(always)]
    fn wheel_rad_s2<R: Real>(&self, rolling: &Rolling<R>, acceleration_m_s2: R) -> R {
        // v = ω r(ω)/(1 + κ) with r = r₀ (1 + g), g ∝ ω²: dv/dω = r₀ (1 + 3g)/(1 + κ). How slip itself drifts through
        // the pull is left out; it moves the clock by about a per cent and readings by a tenth of one.
        let growing_m = rolling.radius_m * 3.0 - 2.0 * self.tyre.radius_m;
        acceleration_m_s2 * (rolling.slip + 1.0) / growing_m
    }

    /// What becomes of the torque behind clutch or converter on its way to the tyre's surface.
    #[inline(always)]
    fn onto_drum<R: Real>(
        &self,
        gearbox_nm: R,
        rolling: &Rolling<R>,
        wheel_rad_s2: R,
    ) -> OntoDrum<R> {
        let train = &self.line.train;
        let shaft = train.through(gearbox_nm, rolling.shaft_rad_s, self.oil_factor);
        let turning_nm = wheel_rad_s2 * self.turning_kg_m2;
        let rolling_n = rolling_rise(rolling.speed_m_s) * self.rolling_at_rest_n;
        OntoDrum {
            shaft,
            turning_nm,
            rolling_n,
            surface_n: (shaft.torque_nm - turning_nm) / rolling.radius_m - rolling_n,
        }
    }
}

/// The way from gearbox to surface.
struct OntoDrum<R> {
    shaft: ShaftFlow<R>,
    turning_nm: R,
    rolling_n: R,
    /// Force at the tyre's surface, N.
    surface_n: R,
}

/// What passes with neither clutch nor converter slipping.
pub(super) struct Rigid<R> {
    /// Acceleration of the crank, rad/s².
    pub(super) engine_rad_s2: R,
    /// Torque that the parts at the crank take to gather speed, N m.
    pub(super) spinning_up_nm: R,
    /// Force at the tyre's surface, N.
    pub(super) surface_n: R,
    /// Its slip.
    pub(super) slip: R,
    /// Force that reaches the drum, N.
    pub(super) transmitted_n: R,
}
