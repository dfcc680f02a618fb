//! The Wiebe burn curve: which share of the charge has burned at a crank angle, and how its length scales.
//!
//! Exists to give the closed cycle its heat release. The curve is empirical; it refuses to say why a burn has a
//! duration, only how the duration moves from a known condition ([`BurnScaling`]).

use crate::numeric::Real;

/// Burn curve `x_b = 1 − exp(−a z^(m+1))`, z = (θ − θ₀)/D.
///
/// Not cut off at z = 1 (where a = 5 leaves 0.7 % unburned): it runs on to 1, so all heat given is released.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wiebe {
    /// Start of burning θ₀, rad.
    pub start_rad: f64,
    /// Duration D, rad.
    pub duration_rad: f64,
    /// Efficiency factor a (5: 99.3 % burned at z = 1).
    pub efficiency_factor: f64,
    /// Form exponent m (2 is usual, ± 0.4; from memory).
    pub form: f64,
}

/// Usual efficiency factor a (from memory).
pub const USUAL_EFFICIENCY_FACTOR: f64 = 5.0;
/// Usual form exponent m (from memory).
pub const USUAL_FORM: f64 = 2.0;

impl Wiebe {
    /// Usual curve (a = 5, m = 2) from its start and duration.
    pub fn new(start_rad: f64, duration_rad: f64) -> Self {
        Self {
            start_rad,
            duration_rad,
            efficiency_factor: USUAL_EFFICIENCY_FACTOR,
            form: USUAL_FORM,
        }
    }

    /// Usual curve placed so that half the charge has burned at `ca50_rad`.
    pub fn centred(ca50_rad: f64, duration_rad: f64) -> Self {
        let unplaced = Self::new(0.0, duration_rad);
        let offset = unplaced.angle_of_fraction(0.5);
        Self {
            start_rad: ca50_rad - offset,
            ..unplaced
        }
    }

    /// Burned share at a crank angle; 0 before the start, rising towards 1.
    /// Equation (3.11).
    pub fn burned_fraction(&self, angle_rad: f64) -> f64 {
        let z = (angle_rad - self.start_rad) / self.duration_rad;
        if z <= 0.0 {
            return 0.0;
        }
        let power = if self.form == 2.0 {
            z * z * z
        } else {
            z.powf(self.form + 1.0)
        };
        1.0 - (-self.efficiency_factor * power).exp()
    }

    /// Burned share and its rate, 1/rad, sharing one exponential.
    /// Equation (3.11).
    pub fn fraction_and_rate(&self, angle_rad: f64) -> (f64, f64) {
        let z = (angle_rad - self.start_rad) / self.duration_rad;
        if z <= 0.0 {
            return (0.0, 0.0);
        }
        let lower = if self.form == 2.0 {
            z * z
        } else {
            z.powf(self.form)
        };
        let left = (-self.efficiency_factor * lower * z).exp();
        let rate = self.efficiency_factor * (self.form + 1.0) * lower * left / self.duration_rad;
        (1.0 - left, rate)
    }

    /// Crank angle at which a share (0 < x < 1) has burned, rad.
    ///
    /// ```text
    /// θ = θ₀ + D · [−ln(1 − x)/a]^(1/(m+1))
    /// ```
    ///
    /// Worked (a = 5, m = 2): 10, 50, 90 % at z = 0.276208, 0.517549, 0.772233.
    /// Source: derived, the inverse of the Wiebe function.
    pub fn angle_of_fraction(&self, fraction: f64) -> f64 {
        let z = (-(1.0 - fraction).ln() / self.efficiency_factor).powf(1.0 / (self.form + 1.0));
        self.start_rad + self.duration_rad * z
    }
}

/// Scaling of the burn duration from a base condition of the same engine.
///
/// ```text
/// D/D₀ = (N/N₀)^n · (S_L/S_L0)^(−2/3) · (ρ/ρ₀)^(−1/3)
/// ```
///
/// Source: form of Hires and Tabaczynski, from memory. Base duration prior 50 ± 6 deg at 3000 rpm (35..80).
/// Equation (3.5).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BurnScaling {
    /// Duration D₀ at the base condition, deg of crank.
    pub base_duration_deg: f64,
    /// Speed of the base condition, rpm.
    pub base_rpm: f64,
    /// Exponent n on speed: 0.33 ± 0.12.
    pub speed_exponent: f64,
}

/// Burn duration at 3000 rpm, deg: usual value and standard deviation; from memory of Heywood, chapter 9.
pub const BASE_DURATION_DEG: (f64, f64) = (50.0, 6.0);
/// Exponent of burn duration on engine speed, likewise; from memory of Hires, Tabaczynski and Novak 1978.
pub const SPEED_EXPONENT: (f64, f64) = (1.0 / 3.0, 0.12);

impl Default for BurnScaling {
    fn default() -> Self {
        Self {
            base_duration_deg: BASE_DURATION_DEG.0,
            base_rpm: 3000.0,
            speed_exponent: SPEED_EXPONENT.0,
        }
    }
}

impl BurnScaling {
    /// Burn duration, deg, at a speed and at flame speed and density ratios to the base condition.
    /// Equation (3.5).
    #[inline(always)]
    pub fn duration_deg<R: Real>(&self, rpm: R, flame_speed_ratio: R, density_ratio: R) -> R {
        self.duration_of_ln(rpm, flame_speed_ratio.ln(), density_ratio.ln())
    }

    /// The same of the logarithms of both ratios.
    /// Equation (3.5).
    #[inline(always)]
    pub(super) fn duration_of_ln<R: Real>(
        &self,
        rpm: R,
        flame_speed_ratio_ln: R,
        density_ratio_ln: R,
    ) -> R {
        let faster = (rpm / self.base_rpm).ln();
        let fiercer = flame_speed_ratio_ln * 2.0 + density_ratio_ln;
        (faster * self.speed_exponent - fiercer / 3.0).exp() * self.base_duration_deg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_is_burned_where_the_curve_was_centred() {
        let burn = Wiebe::centred(0.2, 0.9);
        assert!((burn.burned_fraction(0.2) - 0.5).abs() < 1e-12);
        assert_eq!(burn.burned_fraction(burn.start_rad), 0.0);
    }

    #[test]
    fn rate_is_the_slope_of_the_burned_share() {
        let burn = Wiebe {
            form: 1.7,
            ..Wiebe::new(-0.3, 0.9)
        };
        for angle in [-0.2, 0.0, 0.3, 0.7] {
            let difference =
                (burn.burned_fraction(angle + 1e-6) - burn.burned_fraction(angle - 1e-6)) / 2e-6;
            assert!((difference - burn.fraction_and_rate(angle).1).abs() < 1e-8);
        }
    }

    #[test]
    fn duration_at_the_base_condition_is_the_base_duration() {
        assert!((BurnScaling::default().duration_deg(3000.0, 1.0, 1.0) - 50.0).abs() < 1e-12);
        assert!(BurnScaling::default().duration_deg(6000.0, 1.0, 1.0) > 60.0);
    }
}
