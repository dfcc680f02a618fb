//! What a late (or early) spark costs: torque against the crank angle of half burned.
//!
//! Exists because knock limits, safe calibrations and retard events all act through the phasing. Spark itself is not
//! modelled: a degree of retard moves CA50 by 1.1..1.4 deg (from memory).
//!
//! Source: cubic fitted to the crank-angle cycle like [`super::closed_cycle`] (Wiebe burn, Woschni walls); levels from memory.

use crate::numeric::Real;

/// CA50 of best torque, deg after top dead centre: 8 ± 1.5 (4..13), from memory.
pub const USUAL_MBT_CA50_DEG: f64 = 8.0;

const SQUARE: f64 = 3.05e-4;
const CUBE: f64 = 2.65e-6;
/// Inflection of the cubic: beyond it the curve runs on straight.
const STRAIGHT_FROM_DEG: f64 = SQUARE / (3.0 * CUBE);

/// Phasing of an engine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phasing {
    /// CA50 of best torque, deg after top dead centre.
    pub mbt_ca50_deg: f64,
    /// Multiplier on the loss 1 − τ: 1.05 ± 0.15 (0.5..1.8).
    pub retard_multiplier: f64,
}

/// Torque relative to best phasing, before the multiplier.
///
/// ```text
/// τ = 1 − 3.05e-4 x² + 2.65e-6 x³,   x = CA50 − CA50_MBT, deg
/// ```
///
/// Fitted to a crank-angle cycle over −10..30 deg; beyond the inflection at x = 38.4 it runs on along its tangent
/// (C2, falling), held at 0. Worked: 10 deg 0.972, 20 deg 0.899.
/// Source: derived by least squares.
/// Equation (3.4).
#[inline(always)]
pub fn retard_factor<R: Real>(late_deg: R) -> R {
    let x = late_deg.at_most(STRAIGHT_FROM_DEG);
    let cubic = (x * x * (x * CUBE).taken_from(SQUARE)).taken_from(1.0);
    let tangent = x * (x * (3.0 * CUBE) - 2.0 * SQUARE);
    (cubic + tangent * (late_deg - x)).at_least(0.0)
}

impl Phasing {
    /// Torque relative to best phasing at a CA50: `1 − multiplier · (1 − τ)`, held at 0.
    /// Equation (3.4).
    #[inline(always)]
    pub fn relative_work<R: Real>(&self, ca50_deg: R) -> R {
        let loss = retard_factor(ca50_deg - self.mbt_ca50_deg).taken_from(1.0);
        (loss * self.retard_multiplier)
            .taken_from(1.0)
            .at_least(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn best_phasing_loses_nothing() {
        let phasing = Phasing {
            mbt_ca50_deg: 8.0,
            retard_multiplier: 1.05,
        };
        assert_eq!(phasing.relative_work(8.0), 1.0);
    }

    #[test]
    fn the_straight_part_joins_without_a_corner() {
        let (h, at) = (1e-4, STRAIGHT_FROM_DEG);
        let before = (retard_factor(at) - retard_factor(at - h)) / h;
        let after = (retard_factor(at + h) - retard_factor(at)) / h;
        assert!((before - after).abs() < 1e-7);
        assert!(retard_factor(45.0) < retard_factor(40.0));
    }
}
