//! How far the crank-angle cycle moved the work of a part inside the cylinder.
//!
//! One line among what a quote rests on, with its points for programs. It refuses to tell a power: the factor is on the
//! indicated work, before friction.

use super::number::{Units, What};
use crate::car::WorkByCycle;
use serde::Serialize;

/// Factor on the indicated work over engine speed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByCycle {
    /// From the lowest engine speed asked about up.
    pub points: Vec<ByCyclePoint>,
}

/// At one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ByCyclePoint {
    /// Engine speed.
    pub rpm: f64,
    /// Work per kilogram of air, new over old, by the crank-angle cycle.
    pub cycle: f64,
    /// The same by the mean-value cylinder.
    pub mean_value: f64,
    /// Factor on its indicated work.
    pub factor: f64,
}

impl ByCycle {
    /// Of what was asked of the cycle.
    pub fn new(work: &WorkByCycle) -> Self {
        let points = work.ratios().iter().map(|asked| ByCyclePoint {
            rpm: asked.rpm,
            cycle: asked.cycle,
            mean_value: asked.mean_value,
            factor: asked.factor,
        });
        Self {
            points: points.collect(),
        }
    }

    /// The line.
    pub(super) fn line(&self, units: Units) -> String {
        let told = |point: Option<&ByCyclePoint>| {
            point.map_or_else(String::new, |p| {
                let percent = (1000.0 * (p.factor - 1.0)).round() / 10.0;
                // No minus before a zero.
                format!(
                    "{:+.1} % at {}",
                    percent + 0.0,
                    units.show(What::Rpm, p.rpm)
                )
            })
        };
        format!(
            "what the plan changes inside the cylinder rests on the crank-angle cycle, which moves the indicated work by {} and {} against the formulas",
            told(self.points.first()),
            told(self.points.last())
        )
    }
}
