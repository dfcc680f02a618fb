//! A foot that comes up during a pull: power and manifold pressure fall, and may come back.
//!
//! Written down on a sound pull, since the engine is simulated at full throttle alone. It refuses mixture and spark of part load.

use super::form::Form;
use crate::dyno::Setup;

/// A throttle that closes during a pull.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lift {
    /// Share of power lost at its deepest.
    lost: f64,
    /// Engine speed from which it closes, rpm.
    from_rpm: f64,
    /// Speeds over which it closes, and opens again, rpm.
    over_rpm: f64,
    /// Speeds over which it stays closed, rpm.
    lasts_rpm: f64,
}

/// Engine speeds over which a throttle closes, and over which a foot that comes back stays up, as shares of the redline: a tenth and a third
/// of a second of a pull of some six (common practice, no source).
const LIFT_GROWS: f64 = 0.02;
const LIFT_LASTS: f64 = 0.05;
/// Share of manifold pressure that goes for a share of power lost to a closing throttle: friction and pumping stay (common practice, no
/// source).
pub(super) const LIFT_MANIFOLD: f64 = 0.8;

impl Lift {
    /// None.
    pub(super) const NONE: Self = Self {
        lost: 0.0,
        from_rpm: 0.0,
        over_rpm: 1.0,
        lasts_rpm: f64::INFINITY,
    };

    /// A throttle that closes from an engine speed on, or for a moment.
    /// Equation (10.10).
    pub(super) fn of(setup: &Setup, form: Form, lost: f64, from_rpm: f64) -> Self {
        let redline = setup.car.engine.redline_rpm;
        Self {
            lost,
            from_rpm,
            over_rpm: LIFT_GROWS * redline,
            lasts_rpm: if form == Form::Passing {
                LIFT_LASTS * redline
            } else {
                f64::INFINITY
            },
        }
    }

    /// Share of power lost at an engine speed.
    pub(super) fn at(&self, rpm: f64) -> f64 {
        let ramp = |from: f64| ((rpm - from) / self.over_rpm).clamp(0.0, 1.0);
        let reopened = if self.lasts_rpm.is_finite() {
            ramp(self.from_rpm + self.over_rpm + self.lasts_rpm)
        } else {
            0.0
        };
        self.lost * (ramp(self.from_rpm) - reopened)
    }
}
