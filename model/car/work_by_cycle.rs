//! Factor on an engine's indicated work over engine speed, as the crank-angle cycle finds it.
//!
//! Exists apart from what asks the cycle, so that an engine can carry it. It refuses to extrapolate.

use crate::numeric::MonotoneCubic;
use serde::Serialize;

/// Factor on the indicated work of a built engine, over engine speed.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkByCycle {
    pub(super) ratios: Vec<WorkRatios>,
    /// The three numbers of [`WorkRatios`].
    pub(super) curve: MonotoneCubic<3>,
}

/// What is found at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WorkRatios {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Indicated work per kilogram of air, new over old, by the crank-angle cycle.
    pub cycle: f64,
    /// The same by the mean-value cylinder, but for what no cycle knows.
    pub mean_value: f64,
    /// The first over the second, times what an earlier change has left.
    pub factor: f64,
}

impl WorkByCycle {
    /// Factor at an engine speed; held beyond the speeds looked at.
    pub fn at(&self, rpm: f64) -> f64 {
        self.ratios_at(rpm).factor
    }

    /// The factor and where it comes from, at an engine speed.
    pub fn ratios_at(&self, rpm: f64) -> WorkRatios {
        let [cycle, mean_value, factor] = self.curve.at(rpm);
        WorkRatios {
            rpm,
            cycle,
            mean_value,
            factor,
        }
    }

    /// What was found, from the lowest engine speed up.
    pub fn ratios(&self) -> &[WorkRatios] {
        &self.ratios
    }
}
