//! The orifice of a displacement blower's clearances, smoothed so that it can be turned around.
//!
//! Exists beside [`crate::air::flow`] because the operating point asks for the pressure that makes a given leak, which
//! needs a flow function whose *square* is smooth through equal pressures and has a closed inverse. Elsewhere the two
//! agree to the error stated at `PSI_SMOOTHING`. It holds no machine and refuses to grow.

use crate::air::flow::critical_ratio;
use crate::air::gas::PerfectGas;
use crate::numeric::Real;

/// Square of the orifice flow function, Ψ², without any smoothing; choked below the critical ratio.
///
/// ```text
/// Ψ² = 2γ/(γ−1) · x^(2/γ) · (1 − x^((γ−1)/γ)),   x = p_down/p_up ≤ 1
/// ```
///
/// Smooth and of finite slope −2 at x = 1, which is why inversions work with the square.
/// Source: derived, the square of the orifice equation of this file.
/// Equations (1.7) and (1.8).
#[inline(always)]
pub(crate) fn psi_squared<R: Real>(pressure_ratio_down: R, gamma: f64) -> R {
    let x = pressure_ratio_down.within(critical_ratio(gamma), 1.0);
    let a = x.powf(1.0 / gamma);
    a * (2.0 * gamma / (gamma - 1.0)) * (a - x)
}

/// Ψ² at and below the critical ratio x*: `γ (2/(γ+1))^((γ+1)/(γ−1))`, which is `γ (γ+1)/2 · x*²`; Ψ = 0.68473 at γ = 1.4.
pub(crate) fn choked_psi_squared(gamma: f64) -> f64 {
    0.5 * gamma * (gamma + 1.0) * critical_ratio(gamma).powi(2)
}

/// Width of the smoothing of Ψ around equal pressures, in units of Ψ². Ψ is replaced by Ψ²/√(Ψ²+δ): finite slope at
/// x = 1 where the exact one is infinite, 0.05 % low at x = 0.98, less than 0.003 % low when choked.
pub(crate) const PSI_SMOOTHING: f64 = 4.0e-5;

/// Smoothed flow function from its exact square.
/// Equation (1.11).
#[inline(always)]
pub(crate) fn smooth_psi<R: Real>(psi_squared: R) -> R {
    psi_squared / (psi_squared + PSI_SMOOTHING).sqrt()
}

/// Exact square whose smoothed flow function is `psi`: the inverse of [`smooth_psi`].
pub(crate) fn square_of_smooth_psi(psi: f64) -> f64 {
    let s = psi * psi;
    0.5 * (s + (s * s + 4.0 * PSI_SMOOTHING * s).sqrt())
}

/// Mass flow of a gas at rest through an orifice into a lower pressure, kg/s.
///
/// ```text
/// ṁ = CdA · p_up/√(R T_up) · Ψ(p_down/p_up)
/// ```
///
/// Holds for: ideal gas, area already multiplied by the discharge coefficient; 0 when the pressure does not fall.
/// Source: de Saint-Venant and Wantzel; the form of NASA Glenn's "mass flow choking" page rewritten for a pressure ratio.
/// 1 cm², 101 325 Pa, 288.15 K into vacuum → 0.024124 kg/s.
/// Equation (1.8).
#[inline(always)]
pub(crate) fn leak_kg_s<R: Real>(
    area_m2: f64,
    up_pa: R,
    up_k: R,
    down_pa: R,
    gas: PerfectGas,
) -> R {
    up_pa * area_m2 / (up_k * gas.gas_constant_j_kg_k).sqrt()
        * smooth_psi(psi_squared(down_pa / up_pa, gas.gamma))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choked_air_reaches_the_handbook_flow() {
        let m = leak_kg_s(1e-4, 101_325.0, 288.15, 1e3, PerfectGas::AIR);
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
    fn equal_pressures_drive_nothing() {
        assert_eq!(leak_kg_s(1e-4, 1e5, 300.0, 1e5, PerfectGas::AIR), 0.0);
    }
}
