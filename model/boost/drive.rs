//! Belt drive of a blower: ratio, creep, slip beyond its capacity, and what it costs.
//!
//! Exists because the blower's speed is not the crank's times the ratio: a belt creeps in proportion to its load and, past
//! what wrap and tension can hold, lets the blower fall back. The blower's demand belongs to the caller; this file says
//! what speed the belt leaves it. It refuses to model dynamic belt flap and temperature.

use crate::numeric::Real;

/// Speed lost to creep at full capacity, and its standard deviation (from memory).
pub const CREEP: (f64, f64) = (0.010, 0.005);
/// Efficiency of a V-ribbed drive, and its standard deviation (from memory).
pub const BELT_EFFICIENCY: (f64, f64) = (0.96, 0.015);
/// Effective friction of a V-ribbed belt, wedge included, and the standard deviation of its logarithm (from memory).
pub const BELT_FRICTION: (f64, f64) = (1.0, 0.2);

/// Pulley ratio of a centrifugal blower with its own step-up gear (common practice, no source).
/// Equation (11.5).
pub const USUAL_PULLEY_RATIO: f64 = 2.0;

/// Relative overload at which the belt would slip by 100 %, extrapolated: beyond capacity the pull hardly grows.
const OVERLOAD_PER_SLIP: f64 = 0.1;

/// A belt that its own speed has thrown holds this much, N: as good as nothing.
const NO_CAPACITY_N: f64 = 1e-9;

/// Crank and blower pulley.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PulleyPair {
    /// Effective diameter on the crankshaft, m.
    pub crank_diameter_m: f64,
    /// Effective diameter on the blower, m.
    pub blower_diameter_m: f64,
}

impl PulleyPair {
    /// Turns of the blower pulley per turn of the crank, without slip.
    pub fn ratio(self) -> f64 {
        self.crank_diameter_m / self.blower_diameter_m
    }

    /// Pair with a given blower pulley and overall pulley ratio.
    pub fn from_ratio(blower_diameter_m: f64, ratio: f64) -> Self {
        Self {
            crank_diameter_m: blower_diameter_m * ratio,
            blower_diameter_m,
        }
    }
}

/// The drive from crank to blower shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeltDrive {
    /// The two pulleys.
    pub pulleys: PulleyPair,
    /// Turns of the blower per turn of its pulley: 1, or the step-up gear of a centrifugal blower.
    pub gear_ratio: f64,
    /// Efficiency of that gear; 1 without one.
    pub gear_efficiency: f64,
    /// Belt efficiency apart from slip: bending and bearings.
    pub belt_efficiency: f64,
    /// Creep at full capacity.
    pub creep: f64,
    /// Highest tension in the tight strand, N.
    pub max_tension_n: f64,
    /// Mass of the belt per length, kg/m.
    pub belt_mass_kg_m: f64,
    /// Effective coefficient of friction.
    pub friction: f64,
    /// Angle of wrap on the blower pulley, rad.
    pub wrap_rad: f64,
}

/// What limits a drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BeltLimit {
    /// The blower asks for more pull than wrap and tension hold: the belt slips.
    Slip,
}

/// The drive at one speed and load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriveState {
    /// Blower speed lost, as a fraction.
    pub slip: f64,
    /// Speed of the blower shaft, rad/s.
    pub blower_speed_rad_s: f64,
    /// Power the blower takes at that speed, W.
    pub blower_power_w: f64,
    /// Power taken from the crank, W: slip, belt and gear losses included.
    pub crank_power_w: f64,
    /// Effective pull (tight minus slack strand), N.
    pub pull_n: f64,
    /// Greatest pull before gross slip, N.
    pub capacity_n: f64,
    /// The limit met, if any.
    pub limit: Option<BeltLimit>,
}

/// Greatest ratio of tight to slack tension, centrifugal part removed: `e^(μθ)` (Euler, Eytelwein). μ 0.8, 150°: 8.1205.
pub fn tension_ratio(friction: f64, wrap_rad: f64) -> f64 {
    (friction * wrap_rad).exp()
}

/// Greatest effective pull, N.
///
/// ```text
/// T_e,max = (T₁,max − m′ v²)(1 − e^(−μθ))
/// ```
///
/// Falls to 0 at v = √(T₁,max/m′) and is held there. Source: Euler-Eytelwein with centrifugal tension (any machine
/// elements text, from memory).
/// Equation (5.4).
#[inline(always)]
pub fn pull_capacity_n<R: Real>(
    max_tension_n: f64,
    belt_mass_kg_m: f64,
    belt_speed_m_s: R,
    friction: f64,
    wrap_rad: f64,
) -> R {
    let left = (belt_speed_m_s * belt_mass_kg_m * belt_speed_m_s).taken_from(max_tension_n);
    left.at_least(0.0) * (1.0 - 1.0 / tension_ratio(friction, wrap_rad))
}

impl BeltDrive {
    /// A drive known by its overall ratio only: a belt strong enough not to slip at the powers of a road car.
    ///
    /// Tension, mass, friction and wrap of an eight-rib belt at 3 kN (common practice, no source). The step-up of a
    /// centrifugal blower is part of `overall_ratio` and its loss of the blower.
    pub fn of_overall_ratio(overall_ratio: f64, blower_pulley_diameter_m: f64) -> Self {
        Self {
            pulleys: PulleyPair::from_ratio(blower_pulley_diameter_m, overall_ratio),
            gear_ratio: 1.0,
            gear_efficiency: 1.0,
            belt_efficiency: BELT_EFFICIENCY.0,
            creep: CREEP.0,
            max_tension_n: 3_000.0,
            belt_mass_kg_m: 0.16,
            friction: BELT_FRICTION.0,
            wrap_rad: 150.0_f64.to_radians(),
        }
    }

    /// A centrifugal blower's drive known by its overall ratio only: a pulley ratio of [`USUAL_PULLEY_RATIO`], a step-up
    /// gear for the rest.
    pub fn of_geared_ratio(overall_ratio: f64, blower_pulley_diameter_m: f64) -> Self {
        Self {
            gear_ratio: overall_ratio / USUAL_PULLEY_RATIO,
            ..Self::of_overall_ratio(USUAL_PULLEY_RATIO, blower_pulley_diameter_m)
        }
    }

    /// Blower turns per crank turn without slip.
    pub fn overall_ratio(&self) -> f64 {
        self.pulleys.ratio() * self.gear_ratio
    }

    /// Belt speed, m/s.
    #[inline(always)]
    pub fn belt_speed_m_s<R: Real>(&self, crank_speed_rad_s: R) -> R {
        crank_speed_rad_s * (0.5 * self.pulleys.crank_diameter_m)
    }

    /// Greatest effective pull at a crank speed, N.
    #[inline(always)]
    pub fn capacity_n<R: Real>(&self, crank_speed_rad_s: R) -> R {
        let v = self.belt_speed_m_s(crank_speed_rad_s);
        pull_capacity_n(
            self.max_tension_n,
            self.belt_mass_kg_m,
            v,
            self.friction,
            self.wrap_rad,
        )
    }

    /// Slip when the demand is known as power at the speed *without* slip and the torque is taken to follow the speed: `s = s_c T_e/T_e,max` up to
    /// capacity, steep beyond.
    ///
    /// Closed form, monotone in power and below 1 for any power; the joint solution for that demand, without iteration. Source of the shape: speed loss
    /// grows smoothly with torque before gross slip, Balta, Sonmez and Cengiz, Mech. Mach. Theory 86 (2015), abstract; the slope past capacity is
    /// assumed, so steep that the pull saturates.
    /// Equation (5.4).
    #[inline(always)]
    pub fn slip_for_power<R: Real>(&self, crank_speed_rad_s: R, unslipped_power_w: R) -> R {
        let unslipped = crank_speed_rad_s * self.overall_ratio();
        let pull_n = self.pull_n(unslipped_power_w.at_least(0.0) / unslipped);
        let load = pull_n / self.capacity_n(crank_speed_rad_s).at_least(NO_CAPACITY_N);
        // load (1 − s) = s/s_c, else load (1 − s) = 1 + (s − s_c)·k.
        let creeping = load * self.creep / (load * self.creep + 1.0);
        let gross = (load - (1.0 - self.creep * OVERLOAD_PER_SLIP)) / (load + OVERLOAD_PER_SLIP);
        R::choose(load.of(self.creep).below(creeping), gross, creeping)
    }

    /// The drive at a known slip and blower power.
    /// Equation (5.4).
    pub fn state(&self, crank_speed_rad_s: f64, slip: f64, blower_power_w: f64) -> DriveState {
        let blower_speed_rad_s = crank_speed_rad_s * self.overall_ratio() * (1.0 - slip);
        let pull_n = self.pull_n(blower_power_w / blower_speed_rad_s);
        let capacity_n = self.capacity_n(crank_speed_rad_s);
        DriveState {
            slip,
            blower_speed_rad_s,
            blower_power_w,
            crank_power_w: blower_power_w
                / (self.gear_efficiency * self.belt_efficiency * (1.0 - slip)),
            pull_n,
            capacity_n,
            limit: (pull_n > capacity_n || slip > self.creep).then_some(BeltLimit::Slip),
        }
    }

    /// Effective pull at the blower pulley for a torque of the blower shaft, N.
    #[inline(always)]
    fn pull_n<R: Real>(&self, blower_torque_nm: R) -> R {
        blower_torque_nm * self.gear_ratio
            / (self.gear_efficiency * 0.5 * self.pulleys.blower_diameter_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drive() -> BeltDrive {
        BeltDrive {
            max_tension_n: 1_500.0,
            ..BeltDrive::of_overall_ratio(2.2, 0.075)
        }
    }

    #[test]
    fn slip_is_that_of_the_pull_at_the_slipped_speed() {
        let d = drive();
        // The law as 5.4 has it, of a pull over its capacity.
        let law = |load: f64| d.creep * load.min(1.0) + (load - 1.0).max(0.0) / OVERLOAD_PER_SLIP;
        for load in [0.0, 0.1, 0.5, 0.99, 1.05, 1.6, 5.0] {
            let unslipped_w = load * d.capacity_n(650.0) * 0.0375 * 650.0 * 2.2;
            let slip = d.slip_for_power(650.0, unslipped_w);
            assert!(
                (slip - law(load * (1.0 - slip))).abs() < 1e-12,
                "{load} {slip}"
            );
        }
    }

    #[test]
    fn an_overloaded_belt_lets_the_blower_fall_back_and_says_so() {
        let d = drive();
        let unslipped_w = 1.6 * d.capacity_n(650.0) * 0.0375 * 650.0 * 2.2;
        let slip = d.slip_for_power(650.0, unslipped_w);
        let state = d.state(650.0, slip, unslipped_w * (1.0 - slip).powi(2));
        assert_eq!(state.limit, Some(BeltLimit::Slip));
        assert!(
            slip > 0.2 && state.pull_n < 1.05 * state.capacity_n,
            "{state:?}"
        );
    }

    #[test]
    fn the_crank_pays_for_slip_and_losses() {
        let d = drive();
        let s = d.state(600.0, 0.05, 10_000.0);
        assert!((s.crank_power_w * 0.95 * d.belt_efficiency / 10_000.0 - 1.0).abs() < 1e-12);
    }
}
