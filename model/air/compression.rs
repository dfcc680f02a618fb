//! What compression does to the air: outlet temperature and work.
//!
//! It exists once so that every kind of blower shares one thermodynamics. Pressure ratios are of
//! total pressures at the machine's flanges: loss before and after belongs to its neighbours. It
//! does not know any machine's efficiency, nor the corrected axes of a map.

use super::gas::PerfectGas;

/// The air after a machine, and what it cost per kilogram.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compressed {
    /// Outlet temperature with no losses, K.
    pub isentropic_k: f64,
    /// Outlet temperature, K.
    pub outlet_k: f64,
    /// Work per mass of moist air, J/kg; negative when the air drives the machine.
    pub work_j_kg: f64,
}

/// Temperature ratio of a loss-free change of pressure: `T₂/T₁ = π^((γ−1)/γ)`.
///
/// Worked: π 1.5, γ 1.4 gives 1.12282.
/// Equation (1.9).
pub fn isentropic_temperature_ratio(pressure_ratio: f64, gamma: f64) -> f64 {
    pressure_ratio.powf((gamma - 1.0) / gamma)
}

/// Share of the ideal temperature rise that appears: more than the ideal when compressing, less
/// when the machine lets air down.
fn with_efficiency(ideal: f64, efficiency: f64) -> f64 {
    if ideal > 0.0 {
        ideal / efficiency
    } else {
        ideal * efficiency
    }
}

/// Compression with constant heat capacities, for hot loops.
///
/// ```text
/// T₂ = T₁ [1 + (π^((γ−1)/γ) − 1)/η]        w = c_p (T₂ − T₁)
/// ```
///
/// Holds for: efficiency in (0, 1], no heat through the casing. Below π = 1 the machine is an
/// expander and returns η of the ideal work. Against temperature-dependent heat capacity, gamma
/// taken at the inlet: work within 0.06 %; outlet within 0.73 K up to π 2 and η ≥ 0.6, 3.6 K at π 3
/// and η 0.5 (Cantera 3.2.0).
/// Source: `fluids` 1.3.1, `isentropic_work_compression`. Worked: 298.15 K, π 1.5, η 0.65, γ 1.4
/// gives 354.489 K.
/// Equation (1.9).
pub fn compress(
    inlet_k: f64,
    pressure_ratio: f64,
    efficiency: f64,
    gas: &PerfectGas,
) -> Compressed {
    let isentropic_k = inlet_k * isentropic_temperature_ratio(pressure_ratio, gas.gamma);
    let rise_k = with_efficiency(isentropic_k - inlet_k, efficiency);
    Compressed {
        isentropic_k,
        outlet_k: inlet_k + rise_k,
        work_j_kg: gas.cp_j_kg_k() * rise_k,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_pressure_ratio_costs_no_work() {
        let fast = compress(300.0, 1.0, 0.6, &PerfectGas::AIR);
        assert_eq!((fast.outlet_k, fast.work_j_kg), (300.0, 0.0));
    }
}
