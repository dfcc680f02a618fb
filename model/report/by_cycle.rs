//! How far the crank-angle cycle moved the work of a part inside the cylinder, as one line among what a quote rests on.
//!
//! It refuses to tell a power: the factor is on the indicated work, before friction.

use super::number::{Units, What};
use crate::ask::quote::ByCycle;
use crate::car::WorkRatios;

impl ByCycle {
    pub(super) fn line(&self, units: Units) -> String {
        let told = |point: Option<&WorkRatios>| {
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
