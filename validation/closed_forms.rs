//! Closed forms of single steps, which the model does not compute with: its laws are held against them, and they against worked numbers.

use pullcast::air::compression::isentropic_temperature_ratio;
use std::f64::consts::PI;

/// Share of the net power that a drum without credit for the car's own parts reads: `m_d/(m_d + m_v)`.
pub(crate) fn drum_share(drum_mass_kg: f64, car_mass_kg: f64) -> f64 {
    drum_mass_kg / (drum_mass_kg + car_mass_kg)
}

/// Force at the tyre's surface from engine torque, N: `T η i_g i_f/r`.
pub(crate) fn surface_force_n(
    torque_nm: f64,
    efficiency: f64,
    overall_ratio: f64,
    tyre_radius_m: f64,
) -> f64 {
    torque_nm * efficiency * overall_ratio / tyre_radius_m
}

/// Time to accelerate a mass between two speeds under constant power, s: `t = m (v₂² − v₁²)/(2P)`.
pub(crate) fn constant_power_time_s(mass_kg: f64, power_w: f64, from_m_s: f64, to_m_s: f64) -> f64 {
    mass_kg * (to_m_s * to_m_s - from_m_s * from_m_s) / (2.0 * power_w)
}

/// Rim speed needed for a pressure ratio, m/s.
///
/// ```text
/// U₂ = √(cp T₁ (π^((γ−1)/γ) − 1)/(η μ)),   μ = work coefficient
/// ```
///
/// Source: definitions of efficiency and work coefficient. π = 2, η = 0.75, μ = 0.75, cp = 1005, 298.15 K → 341.56 m/s.
pub(crate) fn tip_speed_for_m_s(
    pressure_ratio: f64,
    efficiency: f64,
    work_coefficient: f64,
    cp_j_kg_k: f64,
    inlet_temperature_k: f64,
    gamma: f64,
) -> f64 {
    let rise = isentropic_temperature_ratio(pressure_ratio, gamma) - 1.0;
    let head = cp_j_kg_k * inlet_temperature_k * rise;
    (head / (efficiency * work_coefficient)).sqrt()
}

/// Effective pull from power, N: `T_e = P/v`. 60 kW on a 75 mm pulley at 14 000 rpm (55.0 m/s): 1091.3 N.
pub(crate) fn effective_pull_n(power_w: f64, belt_speed_m_s: f64) -> f64 {
    power_w / belt_speed_m_s
}

/// Time to spin up under constant net power, s: `t = J (ω₂² − ω₁²)/(2 P)`.
///
/// 5e-5 kg m², 5 kW, 50 000 → 100 000 rpm: 0.4112 s.
pub(crate) fn spool_time_s(
    net_power_w: f64,
    inertia_kg_m2: f64,
    from_rad_s: f64,
    to_rad_s: f64,
) -> f64 {
    0.5 * inertia_kg_m2 * (to_rad_s * to_rad_s - from_rad_s * from_rad_s) / net_power_w
}

/// Rated injector flow that a power needs, kg/s: `P · BSFC/(n · duty)`, BSFC in kg/J.
///
/// Worked: 400 kW at 300 g/kWh from 8 injectors at duty 0.85: 294.1 g/min.
pub(crate) fn required_injector_kg_s(
    power_w: f64,
    specific_kg_j: f64,
    injectors: u32,
    duty: f64,
) -> f64 {
    power_w * specific_kg_j / (f64::from(injectors) * duty)
}

/// Speed at which one cylinder and its runner resonate with the intake stroke, rpm (Engelman).
///
/// ```text
/// f_H = a/(2π) · √(A_r/(L_r V_e)),   V_e = (V_d/n)(r + 1)/(2(r − 1)),   N = 60 f_H/K,   K = 2.1 ± 0.2
/// ```
///
/// From memory; the algebra agrees with the printed imperial constant 162. Worked: 45 mm runner 0.40 m long, 637.94 cm³, r = 10,
/// a = 340 m/s: 172.8 Hz, 4938 rpm.
pub(crate) fn helmholtz_rpm(
    runner_area_m2: f64,
    runner_length_m: f64,
    cylinder_swept_m3: f64,
    compression_ratio: f64,
    sound_speed_m_s: f64,
) -> f64 {
    60.0 / 2.1
        * helmholtz_hz(
            runner_area_m2,
            runner_length_m,
            cylinder_swept_m3,
            compression_ratio,
            sound_speed_m_s,
        )
}

/// Speed at which the q-th quarter-wave of a pipe returns favourably, rpm: `N = 120 a/(4 L q)`, q = 2.5, 3.5, 4.5.
///
/// From memory. Worked: 0.40 m, 340 m/s: 10200, 7286, 5667 rpm.
pub(crate) fn quarter_wave_rpm(length_m: f64, sound_speed_m_s: f64, order: f64) -> f64 {
    30.0 * sound_speed_m_s / (length_m * order)
}

/// Mean exhaust temperature after ideal blowdown, K: `T₄ [1/γ + ((γ−1)/γ) p_e/p₄]`.
///
/// A cross-check of the energy ledger only (from memory). At `p_e` = p₄ nothing blows down and T = T₄.
pub(crate) fn blowdown_k(release_k: f64, release_pa: f64, exhaust_pa: f64, gamma: f64) -> f64 {
    release_k * (1.0 / gamma + (gamma - 1.0) / gamma * exhaust_pa / release_pa)
}

/// Exponent n of `p vⁿ = const` for a polytropic efficiency: `n = γη_p/(1 − γ(1 − η_p))`.
///
/// Holds for: `η_p > 1 − 1/γ`; below, no finite exponent exists and the result is `None`.
/// Source: `fluids` 1.3.1, `polytropic_exponent`. Worked: γ 1.4 and `η_p` 0.78 give 1.578035.
pub(crate) fn polytropic_exponent(gamma: f64, polytropic_efficiency: f64) -> Option<f64> {
    let denominator = 1.0 - gamma * (1.0 - polytropic_efficiency);
    (denominator > 0.0).then(|| gamma * polytropic_efficiency / denominator)
}

/// Resonance of runner and half-filled cylinder, Hz: the `f_H` of [`helmholtz_rpm`].
pub(crate) fn helmholtz_hz(
    runner_area_m2: f64,
    runner_length_m: f64,
    cylinder_swept_m3: f64,
    compression_ratio: f64,
    sound_speed_m_s: f64,
) -> f64 {
    let effective_m3 =
        cylinder_swept_m3 * (compression_ratio + 1.0) / (2.0 * (compression_ratio - 1.0));
    sound_speed_m_s / (2.0 * PI) * (runner_area_m2 / (runner_length_m * effective_m3)).sqrt()
}
