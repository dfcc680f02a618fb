//! What has gone wrong with a car: a hole, a slipping belt, a burn held back, hot air at the intake.
//!
//! Exists so that a pull of an ailing car is simulated by the same equations as that of a sound one: each number here is one
//! physical thing, and zero of it changes nothing. It refuses to say why a thing has gone wrong, and what a better part would do:
//! that is a plan's.

use crate::numeric::Real;

/// A defect that sets in at an engine speed and grows to its full size: `size · clamp((N − N₀)/ΔN, 0, 1)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Full size, in the unit of the defect.
    pub size: f64,
    /// Engine speed at which it sets in, rpm.
    pub from_rpm: f64,
    /// Speeds over which it grows, rpm.
    pub over_rpm: f64,
}

impl Onset {
    /// None of it.
    pub const NONE: Self = Self {
        size: 0.0,
        from_rpm: 0.0,
        over_rpm: 1.0,
    };

    /// Its size at an engine speed.
    /// Equation (10.10).
    #[inline(always)]
    pub fn at<R: Real>(&self, rpm: R) -> R {
        ((rpm - self.from_rpm) / self.over_rpm).within(0.0, 1.0) * self.size
    }
}

/// Everything that may have gone wrong between air filter and crank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Defects {
    /// Effective area of a hole between charge cooler and inlet valves, m². It leaks while the charge is above the room's
    /// pressure; without boost it does nothing.
    pub leak_m2: f64,
    /// How much warmer the air at the intake is than the room's, K.
    pub inlet_rise_k: f64,
    /// Share of a belt-driven blower's speed that is lost beside what the drive itself loses.
    pub lost_drive: Onset,
    /// Half the burn later than the controller would have it, deg.
    pub late_burn: Onset,
}

impl Default for Defects {
    /// A sound car.
    fn default() -> Self {
        Self {
            leak_m2: 0.0,
            inlet_rise_k: 0.0,
            lost_drive: Onset::NONE,
            late_burn: Onset::NONE,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_defect_sets_in_grows_and_stays() {
        let onset = Onset {
            size: 0.2,
            from_rpm: 4000.0,
            over_rpm: 1000.0,
        };
        let at = [3000.0, 4000.0, 4500.0, 5000.0, 7000.0].map(|rpm| onset.at(rpm));
        assert_eq!(at, [0.0, 0.0, 0.1, 0.2, 0.2]);
        assert_eq!(Onset::NONE.at(6000.0), 0.0);
    }
}
