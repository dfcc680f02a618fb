//! Pumping: what it costs (or pays) to push the gas through the engine.
//!
//! Exists apart from friction because a blower changes its sign: inlet pressure above exhaust pressure drives the piston.
//!
//! Source: the difference of mean pressures is common practice, the valve term has no source.

use crate::numeric::Real;

/// Air density that the valve term is scaled from, kg/m³ (25 °C, 101.325 kPa).
pub const PUMPING_REFERENCE_DENSITY_KG_M3: f64 = 1.184;

/// Pumping mean effective pressure, Pa, positive when it costs.
///
/// ```text
/// PMEP = (p_e − p_im) + k_v · (ρ_im/ρ₀) · (Z/0.5)²
/// ```
///
/// `k_v` = 20 ± 8 kPa (0..60): loss through the valves, grows with the square of the inlet Mach index Z.
/// First term: common practice, no source; the second: no source, assumed. Worked: `p_e` = `p_im`, Z = 0.5, ρ₀: 20 kPa.
/// Equation (4.2).
#[inline(always)]
pub fn pumping_pa<R: Real>(
    manifold_pa: R,
    exhaust_pa: R,
    manifold_density_kg_m3: R,
    mach_index: R,
    valve_loss_pa: f64,
) -> R {
    let index = mach_index / 0.5;
    exhaust_pa - manifold_pa
        + manifold_density_kg_m3 * valve_loss_pa / PUMPING_REFERENCE_DENSITY_KG_M3 * index * index
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_blower_is_paid_back_through_the_inlet_stroke() {
        let loss = pumping_pa(1.47e5, 1.12e5, 1.5, 0.0, 20e3);
        assert!((loss + 35e3).abs() < 1e-9);
        assert!((pumping_pa(1e5, 1e5, 1.184, 0.5, 20e3) - 20e3).abs() < 1e-9);
    }
}
