//! What nitrous oxide and water in the charge do to its work and its pressure.
//!
//! Exists because neither is counted by the fuel-air table: nitrous oxide brings oxygen with less nitrogen and heat of its own,
//! water brings heat capacity. Every factor is exactly 1 for none of either. It refuses their effect on flame speed and on the
//! chemistry of the end gas.
//!
//! Source: fitted to the equilibrium fuel-air cycle with both in the charge, computed with Cantera 3.2
//! (`validation/data/additives`).

use crate::fuel::NITROUS_AIR;
use crate::numeric::Real;

/// Work per kilogram of dry air over that without nitrous oxide, at equal mixture and state.
///
/// ```text
/// w/w₀ = 1 + x (1.571 + κ),   κ = 0.51 − 0.85 (λ − 0.88),   x = nitrous oxide per dry air
/// ```
///
/// κ is the work of its decomposition, 0.28 to 0.43 of that heat: with less nitrogen the gas is hotter and dissociates. Within
/// 3.5 % of the gain for compression 9 and 11, λ 0.80 to 1.0, x to 0.2, petrol, iso-octane and ethanol. Water moves the work
/// by 0.3 % at 0.04 kg/kg and is left out.
/// Source: fitted by hand to the computed cycle.
/// Equation (3.13).
#[inline(always)]
pub fn nitrous_work_factor<R: Real>(lambda: R, nitrous_per_air: R) -> R {
    let decomposition = ((lambda - 0.88) * 0.85).taken_from(0.51);
    (decomposition + NITROUS_AIR) * nitrous_per_air + 1.0
}

/// Pressure after the burn over that of the same charge without nitrous oxide and water.
///
/// ```text
/// f = (1 + 1.9 x)/(1 + x) · 1/(1 + 1.18 y),   y = water per dry air
/// ```
///
/// Within 1.5 % of the constant-volume pressures of the computed cycle, same range, y to 0.04.
/// Source: fitted by hand to the computed cycle.
/// Equation (3.14).
#[inline(always)]
pub fn burn_pressure_factor<R: Real>(nitrous_per_air: R, water_per_air: R) -> R {
    let x = nitrous_per_air;
    (x * 1.9 + 1.0) / (x + 1.0) * dilution(water_per_air)
}

/// End-gas temperature over that of the same charge without water: it falls with the pressure, `f^((γ−1)/γ)`. Nitrous oxide
/// leaves it: its own heat capacity offsets the greater pressure (same cycle).
///
/// γ of fresh charge near 800 K is 1.27 (computed with Cantera 3.2).
/// Equation (3.14).
#[inline(always)]
pub fn end_gas_factor<R: Real>(water_per_air: R) -> R {
    if !R::any(water_per_air.of(0.0).below(water_per_air)) {
        return water_per_air.of(1.0);
    }
    dilution(water_per_air).powf(0.21)
}

#[inline(always)]
fn dilution<R: Real>(water_per_air: R) -> R {
    (water_per_air * 1.18 + 1.0).dividing(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn none_of_either_changes_nothing() {
        assert_eq!(nitrous_work_factor(0.88, 0.0), 1.0);
        assert_eq!(burn_pressure_factor(0.0, 0.0), 1.0);
        assert_eq!(end_gas_factor(0.0), 1.0);
    }

    #[test]
    fn oxygen_raises_the_pressure_and_water_lowers_it() {
        assert!(burn_pressure_factor(0.1, 0.0) > 1.05);
        assert!(burn_pressure_factor(0.0, 0.02) < 0.98 && end_gas_factor(0.02) < 1.0);
    }
}
