//! The few gas relations the machines of this folder share: compression work and the signed orifice.
//!
//! It exists so that every machine of the folder uses one temperature rise, one work and one orifice. It is a stand-in
//! for the same relations of the air folder and holds nothing specific to a blower; it refuses to grow.

/// Gas as the machines see it: constant heat capacities, valid within 0.1 % of work up to a pressure ratio of 3 in air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Specific gas constant, J/(kg K).
    pub r_j_kg_k: f64,
    /// Ratio of specific heats.
    pub gamma: f64,
}

impl Gas {
    /// Dry air: R = 287.05 J/(kg K) from M = 28.96 g/mol, γ = 1.4 (NASA polynomials give 1.400 at 300 K).
    pub const DRY_AIR: Self = Self {
        r_j_kg_k: 287.05,
        gamma: 1.4,
    };

    /// Specific heat at constant pressure, J/(kg K): `cp = R γ/(γ−1)`.
    pub fn cp_j_kg_k(self) -> f64 {
        self.r_j_kg_k * self.gamma / (self.gamma - 1.0)
    }
}

/// Total state at the inlet flange of a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet {
    /// Absolute total pressure, Pa.
    pub pressure_pa: f64,
    /// Total temperature, K.
    pub temperature_k: f64,
    /// The gas itself.
    pub gas: Gas,
}

impl Inlet {
    /// Density, kg/m³: `ρ = p/(R T)`.
    pub fn density_kg_m3(self) -> f64 {
        self.pressure_pa / (self.gas.r_j_kg_k * self.temperature_k)
    }
}

/// Temperature of the charge leaving a compressor, K.
///
/// ```text
/// T₂ = T₁ · [1 + (π^((γ−1)/γ) − 1) / η]
/// ```
///
/// Holds for: constant heat capacity, no heat to the surroundings. Source: definition of the adiabatic (isentropic)
/// efficiency; the `fluids` 1.3.1 handbook library states the same work. π = 1.5, η = 1, 298.15 K → 334.770 K.
pub fn outlet_temperature_k(
    inlet_temperature_k: f64,
    pressure_ratio: f64,
    efficiency: f64,
    gamma: f64,
) -> f64 {
    inlet_temperature_k * (1.0 + isentropic_rise(pressure_ratio, gamma) / efficiency)
}

/// Relative temperature rise of the loss-free compression: `π^((γ−1)/γ) − 1`. π = 2, γ = 1.4 → 0.219014.
pub fn isentropic_rise(pressure_ratio: f64, gamma: f64) -> f64 {
    pressure_ratio.powf((gamma - 1.0) / gamma) - 1.0
}

/// Square of the orifice flow function, Ψ², without any smoothing; choked below the critical ratio.
///
/// ```text
/// Ψ² = 2γ/(γ−1) · x^(2/γ) · (1 − x^((γ−1)/γ)),   x = p_down/p_up ≤ 1
/// ```
///
/// Smooth and of finite slope −2 at x = 1, which is why inversions work with the square.
/// Source: derived, the square of the orifice equation of this file.
pub fn psi_squared(pressure_ratio_down: f64, gamma: f64) -> f64 {
    let x = pressure_ratio_down
        .clamp(0.0, 1.0)
        .max(critical_ratio(gamma));
    let a = x.powf(1.0 / gamma);
    2.0 * gamma / (gamma - 1.0) * a * (a - x)
}

/// Pressure ratio at which the throat reaches the speed of sound: `(2/(γ+1))^(γ/(γ−1))`; 0.52828 at γ = 1.4.
pub fn critical_ratio(gamma: f64) -> f64 {
    (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0))
}

/// Ψ² at and below the critical ratio x*: `γ (2/(γ+1))^((γ+1)/(γ−1))`, which is `γ (γ+1)/2 · x*²`; Ψ = 0.68473 at γ = 1.4.
pub fn choked_psi_squared(gamma: f64) -> f64 {
    0.5 * gamma * (gamma + 1.0) * critical_ratio(gamma).powi(2)
}

/// Width of the smoothing of Ψ around equal pressures, in units of Ψ². Ψ is replaced by Ψ²/√(Ψ²+δ): finite slope at
/// x = 1 where the exact one is infinite, 0.05 % low at x = 0.98, less than 0.003 % low when choked.
pub const PSI_SMOOTHING: f64 = 4.0e-5;

/// Smoothed flow function from its exact square.
pub fn smooth_psi(psi_squared: f64) -> f64 {
    psi_squared / (psi_squared + PSI_SMOOTHING).sqrt()
}

/// Exact square whose smoothed flow function is `psi`: the inverse of [`smooth_psi`].
pub fn square_of_smooth_psi(psi: f64) -> f64 {
    let s = psi * psi;
    0.5 * (s + (s * s + 4.0 * PSI_SMOOTHING * s).sqrt())
}

/// Mass flow through an orifice from side a to side b, kg/s; negative when b pushes back.
///
/// ```text
/// ṁ = CdA · p_up/√(R T_up) · Ψ(p_down/p_up)
/// ```
///
/// Holds for: ideal gas, area already multiplied by the discharge coefficient. Source: de Saint-Venant and Wantzel; the
/// form of NASA Glenn's "mass flow choking" page rewritten for a pressure ratio. 1 cm², 101 325 Pa, 288.15 K into
/// vacuum → 0.024124 kg/s.
pub fn signed_orifice_kg_s(
    area_m2: f64,
    a_pa: f64,
    a_k: f64,
    b_pa: f64,
    b_k: f64,
    gas: Gas,
) -> f64 {
    let (sign, up_pa, up_k, down_pa) = if a_pa >= b_pa {
        (1.0, a_pa, a_k, b_pa)
    } else {
        (-1.0, b_pa, b_k, a_pa)
    };
    sign * area_m2 * up_pa / (gas.r_j_kg_k * up_k).sqrt()
        * smooth_psi(psi_squared(down_pa / up_pa, gas.gamma))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choked_air_reaches_the_handbook_flow() {
        let m = signed_orifice_kg_s(1e-4, 101_325.0, 288.15, 1e3, 288.15, Gas::DRY_AIR);
        // 0.1 %: five printed digits, and the smoothing costs 0.004 %.
        assert!((m / 0.024124 - 1.0).abs() < 1e-3, "{m}");
    }

    #[test]
    fn smoothing_and_its_inverse_agree() {
        for f in [1e-9, 1e-6, 1e-4, 0.01, 0.4] {
            assert!((square_of_smooth_psi(smooth_psi(f)) / f - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn the_flow_changes_sign_with_the_pressures() {
        let m = |a, b| signed_orifice_kg_s(1e-4, a, 300.0, b, 300.0, Gas::DRY_AIR);
        assert_eq!(m(1e5, 1e5), 0.0);
        assert!((m(1.2e5, 1e5) + m(1e5, 1.2e5)).abs() < 1e-15);
    }
}
