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
pub struct Rolling {
    /// Crank speed, rad/s.
    pub engine_rad_s: f64,
    /// Speed of the gearbox's input, rad/s; the crank's but for an open converter.
    pub shaft_rad_s: f64,
    /// Surface speed of the tyre over that of the drum, minus 1.
    pub slip: f64,
    /// Effective radius at this speed, m.
    pub radius_m: f64,
    /// Surface speed of the drum, m/s.
    pub speed_m_s: f64,
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
    pub fn rolling(&self, engine_rad_s: f64, speed_ratio: f64, slip: f64) -> Rolling {
        let slip = slip.max(LEAST_SLIP);
        let shaft_rad_s = engine_rad_s * speed_ratio;
        let wheel_rad_s = shaft_rad_s / self.ratio;
        let radius_m = self.tyre.radius_at_m(wheel_rad_s * self.tyre.radius_m);
        Rolling {
            engine_rad_s,
            shaft_rad_s,
            slip,
            radius_m,
            speed_m_s: wheel_rad_s * radius_m / (1.0 + slip),
        }
    }

    /// What becomes of the crank's torque while the drum's surface accelerates, m/s².
    pub fn passes(&self, engine_nm: f64, rolling: &Rolling, acceleration_m_s2: f64) -> CrankToDrum {
        let (line, radius_m) = (self.line, rolling.radius_m);
        // v = ω r(ω)/(1 + κ) with r = r₀ (1 + g), g ∝ ω²: dv/dω = r₀ (1 + 3g)/(1 + κ). How slip itself drifts through
        // the pull is left out; it moves the clock by about a per cent and readings by a tenth of one.
        let growing_m = radius_m + 2.0 * (radius_m - self.tyre.radius_m);
        let wheel_rad_s2 = acceleration_m_s2 * (1.0 + rolling.slip) / growing_m;
        let coupled = line.coupled(engine_nm, rolling.engine_rad_s, wheel_rad_s2);
        let (into_nm, at_rad_s) = (coupled.gearbox_nm, rolling.shaft_rad_s);
        let shaft = line.train.through(into_nm, at_rad_s, self.oil_factor);
        let turning_nm = self.turning_kg_m2 * wheel_rad_s2;
        let rolling_n = self.rolling_at_rest_n * rolling_rise(rolling.speed_m_s);
        let surface_n = (shaft.torque_nm - turning_nm) / radius_m - rolling_n;
        CrankToDrum {
            coupled,
            ratio: self.ratio,
            shaft,
            turning_nm,
            radius_m,
            rolling_n,
            passed: self.tyre.slip(surface_n),
        }
    }
}
