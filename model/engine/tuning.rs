//! Humps of the volumetric efficiency against speed that pipe lengths put there.
//!
//! Exists so that a wheel curve's bumps have a physical place. The anchors give the speed of a hump within
//! 12 %; they refuse to give its height, which a pull must tell.
//!
//! Source: H. W. Engelman's resonance (from memory) and the quarter wave of an open pipe (from memory); the shape of a hump has
//! no source.

use std::f64::consts::PI;

/// One hump, `A · exp(−(ln(N/N_k))²/(2 s²))`. A negative height is a hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hump {
    /// Height A; a few hundredths in road engines (from memory).
    pub height: f64,
    /// Speed of its top, rpm.
    pub rpm: f64,
    /// Width s in ln N: 0.12..0.25.
    pub log_width: f64,
}

/// Most humps an engine may have.
pub const MOST_HUMPS: usize = 3;

/// Factor on volumetric efficiency, `1 + Σ humps`, held above 0.3.
///
/// `intake_temperature_ratio` is `T_im` over that at which the humps were found: their speed follows the sound speed,
/// its square root; their relative height stays.
/// Equation (2.4).
pub fn tuning_factor(humps: &[Hump], rpm: f64, intake_temperature_ratio: f64) -> f64 {
    let ln_speed = rpm.ln() - 0.5 * intake_temperature_ratio.ln();
    let mut sum = 1.0;
    for hump in humps.iter().filter(|hump| hump.height != 0.0) {
        let away = (ln_speed - hump.rpm.ln()) / hump.log_width;
        sum += hump.height * (-0.5 * away * away).exp();
    }
    sum.max(0.3)
}

/// Speed at which one cylinder and its runner resonate with the intake stroke, rpm (Engelman).
///
/// ```text
/// f_H = a/(2π) · √(A_r/(L_r V_e)),   V_e = (V_d/n)(r + 1)/(2(r − 1)),   N = 60 f_H/K,   K = 2.1 ± 0.2
/// ```
///
/// From memory; the algebra agrees with the printed imperial constant 162. Worked: 45 mm runner 0.40 m long, 637.94 cm³, r = 10,
/// a = 340 m/s: 172.8 Hz, 4938 rpm.
pub fn helmholtz_rpm(
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

/// Resonance of runner and half-filled cylinder, Hz: the `f_H` of [`helmholtz_rpm`].
pub fn helmholtz_hz(
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

/// Speed at which the q-th quarter-wave of a pipe returns favourably, rpm: `N = 120 a/(4 L q)`, q = 2.5, 3.5, 4.5.
///
/// From memory. Worked: 0.40 m, 340 m/s: 10200, 7286, 5667 rpm.
pub fn quarter_wave_rpm(length_m: f64, sound_speed_m_s: f64, order: f64) -> f64 {
    30.0 * sound_speed_m_s / (length_m * order)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_humps_no_tuning_and_the_top_is_the_height() {
        assert_eq!(tuning_factor(&[], 4000.0, 1.0), 1.0);
        let hump = Hump {
            height: 0.05,
            rpm: 4800.0,
            log_width: 0.2,
        };
        assert!((tuning_factor(&[hump], 4800.0, 1.0) - 1.05).abs() < 1e-12);
        assert!((tuning_factor(&[hump], 4800.0 * 1.1, 1.21) - 1.05).abs() < 1e-12);
    }
}
