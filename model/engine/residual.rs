//! Burned gas left in the cylinder: it heats the fresh charge, displaces air and slows the flame.
//!
//! Exists for the charge temperature that knock needs. Correlation of Fox, Cheng and Heywood inside its range; beyond
//! it (boost above exhaust pressure) only the clearance-volume term remains.

use crate::numeric::Real;

/// A residual fraction and whether the correlation was inside its stated range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Mass of residual over mass of charge, 0..0.4.
    pub fraction: f64,
    /// Whether 0.3 < `p_i/p_e` < 1 held.
    pub inside_range: bool,
}

/// Residual fraction.
///
/// ```text
/// x_r = 1.266 (OF/n) (p_i/p_e)^−0.87 √|p_e − p_i| + 0.632 φ (p_i/p_e)^−0.74 / r
/// ```
///
/// OF overlap factor in deg/m, n in rev/s, p in bar, φ = 1/λ. Source: Fox, Cheng & Heywood 1993, from memory; range
/// 0.3 < `p_i/p_e` < 1 and a small difference. When `p_i` ≥ `p_e` the overlap term is left out: flow is then out of the
/// cylinder, not back into it (continuous, the term is 0 at `p_i` = `p_e`).
/// Worked: no overlap, `p_i` = `p_e`, λ = 1, r = 10: 0.0632.
/// Equation (2.9).
pub fn residual_fraction(
    inlet_pa: f64,
    exhaust_pa: f64,
    lambda: f64,
    compression_ratio: f64,
    overlap_factor_deg_m: f64,
    rpm: f64,
) -> Residual {
    let ratio = inlet_pa / exhaust_pa;
    let trapped = trapped_fraction(ratio, lambda, compression_ratio);
    let difference_bar = (exhaust_pa - inlet_pa) * 1e-5;
    let back = if difference_bar > 0.0 && overlap_factor_deg_m > 0.0 {
        1.266 * overlap_factor_deg_m / (rpm / 60.0) * ratio.powf(-0.87) * difference_bar.sqrt()
    } else {
        0.0
    };
    Residual {
        fraction: (trapped + back).clamp(0.0, 0.4),
        inside_range: ratio > 0.3 && ratio < 1.0,
    }
}

/// The part of it that no overlap brings: what is left in the clearance volume, `0.632 φ (p_i/p_e)^−0.74 / r`.
/// Equation (2.9).
#[inline(always)]
pub fn trapped_fraction<R: Real>(inlet_over_exhaust: R, lambda: R, compression_ratio: f64) -> R {
    let fall = (inlet_over_exhaust.ln() * -0.74).exp();
    lambda.dividing(0.632) * fall / compression_ratio
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_overlap_the_residual_is_a_share_of_one_over_compression() {
        let at = |r: f64| residual_fraction(1e5, 1e5, 1.0, r, 0.0, 3000.0).fraction;
        assert!((at(10.0) - 0.0632).abs() < 1e-9);
        assert!((at(8.0) * 8.0 - at(14.0) * 14.0).abs() < 1e-9);
    }

    #[test]
    fn boost_leaves_less_behind() {
        let na = residual_fraction(1.0e5, 1.1e5, 0.9, 10.0, 300.0, 3000.0);
        let blown = residual_fraction(1.5e5, 1.1e5, 0.9, 10.0, 300.0, 3000.0);
        assert!(blown.fraction < na.fraction && !blown.inside_range && na.inside_range);
    }
}
