//! Closed forms of single steps, which the model does not compute with: its laws are held against them, and they against worked numbers.

use pullcast::air::compression::{Compressed, isentropic_temperature_ratio};
use pullcast::air::gas::{MoistAir, PerfectGas};
use pullcast::boost::turbine::TurbineInlet;
use pullcast::driveline::TurningParts;
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

/// The compressor on the same shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CompressorSide {
    /// Mass flow of charge, kg/s.
    pub(crate) flow_kg_s: f64,
    /// Total temperature at the inlet, K.
    pub(crate) inlet_temperature_k: f64,
    /// Specific heat at constant pressure of the charge, J/(kg K).
    pub(crate) cp_j_kg_k: f64,
    /// Ratio of specific heats of the charge.
    pub(crate) gamma: f64,
    /// Isentropic efficiency.
    pub(crate) efficiency: f64,
    /// Mechanical efficiency of the shaft; 0.94 to 0.98 (from memory).
    pub(crate) mechanical_efficiency: f64,
}

/// Compressor pressure ratio that a turbine can hold when the shaft speed is steady.
///
/// ```text
/// π_c = {1 + (ṁ_t cp_g T₃)/(ṁ_c cp T₁) · η_c η_t η_m · [1 − ER^(−(γg−1)/γg)]}^(γ/(γ−1))
/// ```
///
/// Source: Isermann, Combustion Engine Diagnosis, section 5.4.
pub(crate) fn steady_pressure_ratio(
    turbine: TurbineInlet,
    expansion_ratio: f64,
    efficiency: f64,
    compressor: CompressorSide,
) -> f64 {
    let shaft_w = turbine.power_w(expansion_ratio, efficiency) * compressor.mechanical_efficiency;
    let rise = shaft_w * compressor.efficiency
        / (compressor.flow_kg_s * compressor.cp_j_kg_k * compressor.inlet_temperature_k);
    (1.0 + rise).powf(compressor.gamma / (compressor.gamma - 1.0))
}

/// Expansion ratio needed to hold a compressor pressure ratio: the inverse of [`steady_pressure_ratio`].
///
/// `None` when the exhaust does not carry the energy at any expansion ratio.
pub(crate) fn expansion_ratio_for(
    turbine: TurbineInlet,
    pressure_ratio: f64,
    efficiency: f64,
    compressor: CompressorSide,
) -> Option<f64> {
    let rise = pressure_ratio.powf((compressor.gamma - 1.0) / compressor.gamma) - 1.0;
    let shaft_w =
        compressor.flow_kg_s * compressor.cp_j_kg_k * compressor.inlet_temperature_k * rise
            / (compressor.efficiency * compressor.mechanical_efficiency);
    let drop =
        shaft_w / (turbine.flow_kg_s * turbine.cp_j_kg_k * turbine.temperature_k * efficiency);
    (drop < 1.0).then(|| (1.0 - drop).powf(-turbine.gamma / (turbine.gamma - 1.0)))
}

/// Equivalent mass of a car's turning parts at the tyre's surface, kg.
///
/// ```text
/// m_v = [(I_e + I_in) i_g² i_f² + I_ds i_f² + I_w]/r²
/// ```
///
/// Source: kinetic energy (derived). `i_f` 3.73, r 0.335, I 0.32/0.03/3.2: 71.90 kg direct, 152.34 kg in 1.74.
pub(crate) fn equivalent_mass_kg(
    parts: &TurningParts,
    gear_ratio: f64,
    final_ratio: f64,
    tyre_radius_m: f64,
) -> f64 {
    let f2 = final_ratio * final_ratio;
    (parts.at_crank_kg_m2() * gear_ratio * gear_ratio * f2
        + parts.shaft_kg_m2 * f2
        + parts.wheels_kg_m2)
        / (tyre_radius_m * tyre_radius_m)
}

/// Time to coast from one speed down to another, s.
///
/// ```text
/// t = m ∫ dv/(F₀ + F₁ v + F₂ v²)
/// ```
///
/// Closed form: arctangent when the quadratic has no real root, logarithms otherwise. All coefficients ≥ 0 and not all 0.
/// 1232.2 kg, 150 + 1.5 v + 0.02 v², 60 → 20 m/s: 205.84 s.
/// Source: derived from Newton's law.
pub(crate) fn coast_down_time_s(mass_kg: f64, drag: [f64; 3], from_m_s: f64, to_m_s: f64) -> f64 {
    let [f0, f1, f2] = drag;
    let small = 1e-14;
    if f2 * from_m_s * from_m_s <= small * (f0 + f1 * from_m_s) {
        if f1 * from_m_s <= small * f0 {
            return mass_kg * (from_m_s - to_m_s) / f0;
        }
        return mass_kg / f1 * ((f0 + f1 * from_m_s) / (f0 + f1 * to_m_s)).ln();
    }
    let discriminant = 4.0 * f2 * f0 - f1 * f1;
    let slope = |v: f64| 2.0 * f2 * v + f1;
    if discriminant > small * f1 * f1 {
        let root = discriminant.sqrt();
        return mass_kg * 2.0 / root
            * ((slope(from_m_s) / root).atan() - (slope(to_m_s) / root).atan());
    }
    if discriminant < -small * f1 * f1 {
        let root = (-discriminant).sqrt();
        let part = |v: f64| ((slope(v) - root) / (slope(v) + root)).ln();
        return mass_kg / root * (part(from_m_s) - part(to_m_s));
    }
    mass_kg * (2.0 / slope(to_m_s) - 2.0 / slope(from_m_s))
}

/// Compression of moist air with heat capacities that follow temperature: `s°(T₂ₛ) − s°(T₁) = R ln π`,
/// `w = (h(T₂ₛ) − h(T₁))/η`, `h(T₂) = h(T₁) + w`.
pub(crate) fn compress_moist(
    inlet_k: f64,
    pressure_ratio: f64,
    efficiency: f64,
    air: &MoistAir,
) -> Compressed {
    let isentropic_k = air.isentropic_k(inlet_k, pressure_ratio);
    let ideal_j_kg = air.enthalpy_j_kg(isentropic_k) - air.enthalpy_j_kg(inlet_k);
    let work_j_kg = if ideal_j_kg > 0.0 {
        ideal_j_kg / efficiency
    } else {
        ideal_j_kg * efficiency
    };
    Compressed {
        isentropic_k,
        outlet_k: after_work_k(air, inlet_k, work_j_kg),
        work_j_kg,
    }
}

/// Temperature after adding work or heat at fixed composition, K: `h(T₂) = h(T₁) + w` by Newton's method, whose slope is `c_p`.
fn after_work_k(air: &MoistAir, inlet_k: f64, work_j_kg: f64) -> f64 {
    let target = air.enthalpy_j_kg(inlet_k) + work_j_kg;
    let mut t = inlet_k;
    for _ in 0..30 {
        t -= (air.enthalpy_j_kg(t) - target) / air.cp_j_kg_k(t);
    }
    t
}

/// Moist air with its heat capacity frozen at one temperature.
pub(crate) fn frozen_at(air: &MoistAir, temperature_k: f64) -> PerfectGas {
    PerfectGas {
        gamma: air.gamma(temperature_k),
        gas_constant_j_kg_k: air.gas_constant_j_kg_k(),
    }
}

/// Power at 60 °F, 29.92 inHg dry over power by SAE J1349, from the ratio `D` of 99 kPa dry air to the test air:
/// `r D/(1.18 D − 0.18)`, `r = (29.92 inHg/99 kPa) √(536.7/519.7)`. It depends on D alone.
///
/// Holds for: D above 0.1525, where the J1349 factor is positive. Source: derived from the two formulas.
pub(crate) fn dry_60f_over_j1349(density_ratio: f64) -> f64 {
    let r = 29.92 * 3386.389 / 99_000.0 * (536.7_f64 / 519.7).sqrt();
    r * density_ratio / (1.18 * density_ratio - 0.18)
}

/// `D` from the two numbers on a sheet, `R = P(60 °F)/P(J1349)`: `D = 0.18 R/(1.18 R − r)`, r the ratio's own value at D = 1.
///
/// `None` when R is below r/1.18, which no air gives.
pub(crate) fn density_ratio_from_both(dry_60f_over_sae_j1349: f64) -> Option<f64> {
    let denominator = 1.18 * dry_60f_over_sae_j1349 - dry_60f_over_j1349(1.0);
    (denominator > 0.0).then(|| 0.18 * dry_60f_over_sae_j1349 / denominator)
}
