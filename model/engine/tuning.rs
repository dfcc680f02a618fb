//! Humps of the volumetric efficiency against speed that pipe lengths put there.
//!
//! Exists so that a wheel curve's bumps have a physical place. The anchors give the speed of a hump within
//! 12 %; they refuse to give its height, which a pull must tell.
//!
//! Source: H. W. Engelman's resonance (from memory) and the quarter wave of an open pipe (from memory); the shape of a hump has
//! no source.

use crate::numeric::Real;

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
#[inline(always)]
pub fn tuning_factor<R: Real>(humps: &[Hump], rpm: R, intake_temperature_ratio: R) -> R {
    let speed_ln = rpm.ln() - intake_temperature_ratio.ln() * 0.5;
    let mut sum = rpm.of(1.0);
    for hump in humps.iter().filter(|hump| hump.height != 0.0) {
        let away = (speed_ln - hump.rpm.ln()) / hump.log_width;
        sum = sum + (away * -0.5 * away).exp() * hump.height;
    }
    sum.at_least(0.3)
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
