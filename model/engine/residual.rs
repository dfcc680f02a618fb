//! Burned gas left in the cylinder, and the charge it mixes with: it heats the fresh charge, displaces air and slows the flame.
//!
//! Exists for the charge temperature that knock needs. What is left is what fills the clearance volume when the exhaust valve
//! closes; a correlation made for throttled engines leaves twice that at full load. It refuses to know of valve overlap.
//!
//! Source: mass and energy balance of the inlet stroke (Heywood, chapter 5, from memory); its numbers are those of the crank-angle
//! layer, held in `validation/gas_exchange.rs`.

use super::pumping::PUMPING_REFERENCE_DENSITY_KG_M3;
use crate::numeric::Real;

/// Specific-heat ratio of burned gas around 1000 K. From memory of equilibrium products (1.28 to 1.32).
const BURNED_GAMMA: f64 = 1.30;
/// Specific heat of burned gas over that of fresh charge. From memory.
const BURNED_OVER_FRESH_HEAT: f64 = 1.1;
/// Temperature of the cylinder's walls, K. From memory (heads and pistons 400 to 500 K).
const WALL_K: f64 = 450.0;
/// Share of the gas's excess over the walls that is left when the exhaust valve closes. By the crank-angle layer.
const HEAT_KEPT: f64 = 0.5;
/// Share of the difference to the walls that the charge picks up in the cylinder until its valve closes, with what the inlet
/// valve's gap turns into heat. By the crank-angle layer.
const CHARGE_HEATING: f64 = 0.2;
/// Density's exponent on temperature in a charge that expands or is compressed: γ − 1 of fresh charge (3.18 at 350 K).
const COMPRESSION_EXPONENT: f64 = 0.35;

/// Pressure in the cylinder when the exhaust valve closes, Pa: that behind the valve and what its narrow gap holds back at speed.
///
/// ```text
/// p_c = p_o + k_v (ρ_im/ρ₀) (Z/0.5)⁴
/// ```
///
/// `k_v` and ρ₀ as in [`super::pumping`]; the fourth power is the crank-angle layer's. Source: derived. Worked: 100 kPa, 20 kPa, ρ₀, Z = 0.5: 120 kPa.
/// Equation (2.9).
#[inline(always)]
pub fn at_exhaust_closing_pa<R: Real>(
    behind_valve_pa: R,
    valve_loss_pa: f64,
    manifold_density_kg_m3: R,
    mach_index: R,
) -> R {
    let index = mach_index / 0.5;
    behind_valve_pa
        + manifold_density_kg_m3 * valve_loss_pa / PUMPING_REFERENCE_DENSITY_KG_M3
            * index.squared().squared()
}

/// Temperature of the gas left behind, K, from that of the gas behind the exhaust valve: the walls have cooled it.
///
/// ```text
/// T_r = 450 + 0.5 (T_valve − 450)
/// ```
///
/// Source: form derived, numbers by the crank-angle layer.
/// Equation (2.9).
#[inline(always)]
pub fn left_k<R: Real>(valve_k: R) -> R {
    (valve_k - WALL_K) * HEAT_KEPT + WALL_K
}

/// Mass of the burned gas in the clearance volume when the exhaust valve closes, kg.
///
/// ```text
/// m_r = p_c V_c/(R_b T_r)
/// ```
///
/// Source: ideal gas. Worked: 100 kPa, 1000 K, 295 J/(kg K), 0.05 l: 16.95 mg.
/// Equation (2.9).
#[inline(always)]
pub fn left_kg<R: Real>(closing_pa: R, left_k: R, gas_constant_j_kg_k: R, clearance_m3: f64) -> R {
    closing_pa * clearance_m3 / (gas_constant_j_kg_k * left_k)
}

/// Temperature with which the gas left behind mixes at constant pressure, K: the charge coming in compresses it from exhaust to
/// inlet pressure, or lets it expand.
///
/// ```text
/// T_r′ = T_r [1/γ_b + (1 − 1/γ_b) p_im/p_c]
/// ```
///
/// Source: the first law over the inlet stroke, `m c_p T = m_f c_p T_f + m_r T_r (c_v + R p_im/p_c)`.
/// Worked: `p_im` = 1.5 `p_c`, 1000 K: 1115 K.
/// Equation (3.7).
#[inline(always)]
pub fn worked_on_k<R: Real>(left_k: R, inlet_pa: R, closing_pa: R) -> R {
    let own = 1.0 / BURNED_GAMMA;
    left_k * (inlet_pa / closing_pa * (1.0 - own) + own)
}

/// Fresh charge and what was left mixed by heat capacity, and warmed by the cylinder's walls, K.
///
/// ```text
/// T_m = [(1 − x) T_port + 1.1 x T_r′]/(1 − x + 1.1 x),   T = T_m + 0.2 (450 − T_m)
/// ```
///
/// Source: mixing derived; the walls' share by the crank-angle layer.
/// Equation (3.7).
#[inline(always)]
pub fn mixed_charge_k<R: Real>(port_k: R, residual_fraction: R, residual_k: R) -> R {
    let weight = residual_fraction * BURNED_OVER_FRESH_HEAT;
    let fresh = residual_fraction.taken_from(1.0);
    let mixed = (fresh * port_k + weight * residual_k) / (fresh + weight);
    mixed + mixed.taken_from(WALL_K) * CHARGE_HEATING
}

/// Factor on the temperature of a charge of which an inlet valve closing late keeps a share, seen as filling the whole cylinder.
///
/// What goes back through the open valve leaves the rest as warm as it was, in a smaller cylinder; in the whole one it would have expanded.
/// Equation (3.7).
#[inline(always)]
pub fn late_closing_cooling<R: Real>(share_kept: R) -> R {
    share_kept.powf(COMPRESSION_EXPONENT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clearance_holds_what_an_ideal_gas_would() {
        let kg = left_kg(1e5, 1000.0, 295.0, 50e-6);
        assert!((kg - 16.949e-6).abs() < 1e-9);
        let narrow = at_exhaust_closing_pa(1e5, 20e3, PUMPING_REFERENCE_DENSITY_KG_M3, 0.5);
        assert!((narrow - 120e3).abs() < 1e-9);
    }

    #[test]
    fn boost_warms_what_was_left_and_throttling_cools_it() {
        assert!((worked_on_k(1000.0, 1.5e5, 1e5) - 1115.385).abs() < 1e-3);
        assert!((worked_on_k(1000.0, 1e5, 1e5) - 1000.0).abs() < 1e-9);
        assert!(worked_on_k(1000.0, 0.5e5, 1e5) < 1000.0);
    }

    #[test]
    fn without_residual_the_charge_is_the_ports_and_a_fifth_of_the_way_to_the_walls() {
        assert!((mixed_charge_k(320.0, 0.0, 1200.0) - 346.0).abs() < 1e-9);
    }
}
