//! What a compressor does to the air: outlet temperature and work, and the corrected flow and speed
//! a map is drawn in.
//!
//! It exists once so that every kind of blower shares one thermodynamics. Pressure ratios are of
//! total pressures at the machine's flanges: loss before and after belongs to its neighbours. It
//! does not know any machine's efficiency.

use super::gas::{MoistAir, PerfectGas};

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
pub fn isentropic_temperature_ratio(pressure_ratio: f64, gamma: f64) -> f64 {
    pressure_ratio.powf((gamma - 1.0) / gamma)
}

/// Pressure ratio that a loss-free temperature ratio belongs to: `π = (T₂/T₁)^(γ/(γ−1))`.
pub fn isentropic_pressure_ratio(temperature_ratio: f64, gamma: f64) -> f64 {
    temperature_ratio.powf(gamma / (gamma - 1.0))
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

/// Compression with heat capacities that follow temperature: `s°(T₂ₛ) − s°(T₁) = R ln π`,
/// `w = (h(T₂ₛ) − h(T₁))/η`, `h(T₂) = h(T₁) + w`.
///
/// Holds for: as [`compress`]. Against real moist air (`CoolProp` 8.0.0): 0.2 K in outlet
/// temperature, 0.06 % in work.
pub fn compress_moist(
    inlet_k: f64,
    pressure_ratio: f64,
    efficiency: f64,
    air: &MoistAir,
) -> Compressed {
    let isentropic_k = air.isentropic_k(inlet_k, pressure_ratio);
    let ideal_j_kg = air.enthalpy_j_kg(isentropic_k) - air.enthalpy_j_kg(inlet_k);
    let work_j_kg = with_efficiency(ideal_j_kg, efficiency);
    Compressed {
        isentropic_k,
        outlet_k: air.after_work_k(inlet_k, work_j_kg),
        work_j_kg,
    }
}

/// Isentropic (adiabatic) efficiency that a measured outlet temperature shows, constant heat
/// capacities.
///
/// ```text
/// η = T₁ (π^((γ−1)/γ) − 1)/(T₂ − T₁)
/// ```
///
/// `None` when the air was not both compressed and warmed: no efficiency can be read from such a
/// point.
/// Source: definition (derived from constant heat capacities).
pub fn efficiency_from_temperatures(
    inlet_k: f64,
    outlet_k: f64,
    pressure_ratio: f64,
    gamma: f64,
) -> Option<f64> {
    let ideal_k = inlet_k * (isentropic_temperature_ratio(pressure_ratio, gamma) - 1.0);
    let rise_k = outlet_k - inlet_k;
    (ideal_k > 0.0 && rise_k > 0.0).then(|| ideal_k / rise_k)
}

/// Exponent n of `p vⁿ = const` for a polytropic efficiency: `n = γη_p/(1 − γ(1 − η_p))`.
///
/// Holds for: `η_p > 1 − 1/γ`; below, no finite exponent exists and the result is `None`.
/// Source: `fluids` 1.3.1, `polytropic_exponent`. Worked: γ 1.4 and `η_p` 0.78 give 1.578035.
pub fn polytropic_exponent(gamma: f64, polytropic_efficiency: f64) -> Option<f64> {
    let denominator = 1.0 - gamma * (1.0 - polytropic_efficiency);
    (denominator > 0.0).then(|| gamma * polytropic_efficiency / denominator)
}

/// Isentropic efficiency of a machine whose every small step has the polytropic efficiency: always
/// the lower of the two.
///
/// ```text
/// η = (π^((γ−1)/γ) − 1)/(π^((γ−1)/(γη_p)) − 1)
/// ```
///
/// Holds for: compression; towards π = 1 it tends to `η_p`, which is returned there. Source:
/// standard textbook relation, from memory.
pub fn isentropic_from_polytropic(
    pressure_ratio: f64,
    polytropic_efficiency: f64,
    gamma: f64,
) -> f64 {
    let exponent = pressure_ratio.ln() * (gamma - 1.0) / gamma;
    if exponent.abs() < 1e-12 {
        return polytropic_efficiency;
    }
    exponent.exp_m1() / (exponent / polytropic_efficiency).exp_m1()
}

/// The inlet state that a compressor map's axes refer to. Maps differ: the reference is stored with
/// the map, never assumed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapReference {
    /// Reference inlet temperature, K.
    pub temperature_k: f64,
    /// Reference inlet pressure, Pa.
    pub pressure_pa: f64,
}

impl MapReference {
    /// 298 K and 100 kPa (in use; from memory).
    pub const K298_KPA100: Self = Self {
        temperature_k: 298.0,
        pressure_pa: 100_000.0,
    };
    /// 288.15 K and 101.325 kPa, the standard atmosphere (in use; from memory).
    pub const STANDARD_ATMOSPHERE: Self = Self {
        temperature_k: 288.15,
        pressure_pa: 101_325.0,
    };
    /// 545 °R and 28.4 inHg: 302.8 K and 96.17 kPa (in use; from memory).
    pub const R545_INHG28_4: Self = Self {
        temperature_k: 545.0 / 1.8,
        pressure_pa: 28.4 * 3386.389,
    };

    /// Corrected flow, kg/s: `W_c = W √(T₀₁/T_ref)/(p₀₁/p_ref)`.
    ///
    /// Source: NASA Glenn, Corrected Airflow per Area. Worked: 0.5 kg/s at 310 K, 95 kPa gives
    /// 0.53681 against 298 K, 100 kPa.
    pub fn corrected_flow_kg_s(&self, flow_kg_s: f64, inlet_k: f64, inlet_pa: f64) -> f64 {
        flow_kg_s * (inlet_k / self.temperature_k).sqrt() * self.pressure_pa / inlet_pa
    }

    /// Actual flow, kg/s, of a corrected one.
    pub fn actual_flow_kg_s(&self, corrected_kg_s: f64, inlet_k: f64, inlet_pa: f64) -> f64 {
        corrected_kg_s * (self.temperature_k / inlet_k).sqrt() * inlet_pa / self.pressure_pa
    }

    /// Corrected speed in the unit given: `N_c = N/√(T₀₁/T_ref)`.
    ///
    /// Worked: 100 000 rpm at 310 K gives 98 045 against 298 K.
    pub fn corrected_speed_rad_s(&self, speed_rad_s: f64, inlet_k: f64) -> f64 {
        speed_rad_s * (self.temperature_k / inlet_k).sqrt()
    }

    /// Actual speed of a corrected one.
    pub fn actual_speed_rad_s(&self, corrected_rad_s: f64, inlet_k: f64) -> f64 {
        corrected_rad_s * (inlet_k / self.temperature_k).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_pressure_ratio_costs_no_work() {
        let fast = compress(300.0, 1.0, 0.6, &PerfectGas::AIR);
        assert_eq!((fast.outlet_k, fast.work_j_kg), (300.0, 0.0));
        let moist = compress_moist(300.0, 1.0, 0.6, &MoistAir::new(0.01));
        assert!((moist.outlet_k - 300.0).abs() < 1e-6 && moist.work_j_kg.abs() < 1e-3);
    }

    #[test]
    fn polytropic_and_isentropic_agree_for_small_steps_and_part_for_large() {
        assert_eq!(isentropic_from_polytropic(1.0, 0.78, 1.4), 0.78);
        assert!((isentropic_from_polytropic(1.0001, 0.78, 1.4) - 0.78).abs() < 1e-5);
        assert!(isentropic_from_polytropic(2.0, 0.78, 1.4) < 0.78);
        assert_eq!(polytropic_exponent(1.4, 0.2), None);
    }

    #[test]
    fn efficiency_comes_back_from_the_temperatures_it_made() {
        let out = compress(298.15, 1.8, 0.7, &PerfectGas::AIR);
        let back = efficiency_from_temperatures(298.15, out.outlet_k, 1.8, 1.4)
            .expect("compressed and warmed");
        assert!((back - 0.7).abs() < 1e-12);
        assert_eq!(efficiency_from_temperatures(298.15, 290.0, 1.8, 1.4), None);
    }
}
