//! A tyre on a steel drum: rolling loss, slip, grip and growth.
//!
//! Exists because the drum bends the tyre more than a road does, and because slip is power that turns the wheel and never
//! reaches the drum. Grip is a limit with a name, not a wall the solver runs into. It refuses lateral forces and transient
//! tread temperature; the tyre's temperature is given.

use crate::numeric::Real;

/// Slip stiffness per unit of load on a steel drum, and the standard deviation of its logarithm (from memory).
pub const SLIP_STIFFNESS: (f64, f64) = (12.0, 0.3);
/// Rolling coefficient on the flat, and its standard deviation (from memory).
pub const ROLLING_COEFFICIENT: (f64, f64) = (0.011, 0.002);
/// Growth of the effective radius at 60 m/s, and its standard deviation (common practice, no source).
pub const GROWTH_AT_60_M_S: (f64, f64) = (0.010, 0.004);
/// Greatest force over load on a drum; 0.9 to 1.1 (common practice, no source).
pub const GRIP: (f64, f64) = (1.0, 0.07);
/// Fall of rolling force per kelvin of tyre temperature, about 25 °C, for car tyres (UN R117).
pub const ROLLING_PER_K: f64 = 0.008;
/// Rise of rolling force at 60 m/s, as a fraction (common practice, no source).
pub const ROLLING_SPEED_RISE: f64 = 0.15;

const REFERENCE_SPEED_M_S: f64 = 60.0;
const REFERENCE_TEMPERATURE_K: f64 = 298.15;

/// One axle's tyres on a drum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TyreOnDrum {
    /// Effective rolling radius at low speed, m.
    pub radius_m: f64,
    /// Drum radius, m; infinity is a flat road.
    pub drum_radius_m: f64,
    /// Load of all tyres together, straps included, N.
    pub load_n: f64,
    /// Rolling coefficient on the flat at 25 °C.
    pub rolling_coefficient: f64,
    /// Slip stiffness per unit of load.
    pub slip_stiffness: f64,
    /// Greatest force over load.
    pub grip: f64,
    /// Growth of the effective radius at 60 m/s, as a fraction.
    pub growth_at_60_m_s: f64,
}

/// The tyres have reached their grip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GripLimit {
    /// The wheel turns up faster than the drum follows.
    Spinning,
}

/// Slip under a tractive force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TyreSlip {
    /// Surface speed of the tyre over that of the drum, minus 1.
    pub slip: f64,
    /// Force that reaches the drum, N.
    pub transmitted_n: f64,
    /// The limit met, if any.
    pub limit: Option<GripLimit>,
}

/// Rolling force on a drum over that on the flat: `√(1 + r/R)`.
///
/// Source: Clark's formula, in ISO and SAE practice (from memory); flat-track tests show about 5 % scatter about it
/// (Freudenmann, Unrau and El-Haji, Tire Sci. Tech. 37(4) 2009, abstract). r 0.335, R 0.61: 1.24466.
pub fn curvature_factor(tyre_radius_m: f64, drum_radius_m: f64) -> f64 {
    (1.0 + tyre_radius_m / drum_radius_m).sqrt()
}

/// `(1 + x)^(−1/16)`; for small x, as it is far below the grip, by its series, to 3e-14.
#[inline(always)]
fn inverse_sixteenth_root<R: Real>(x: R) -> R {
    let large = x.of(1e-4).below(x);
    let series = (x / 16.0 * (x * (17.0 / 32.0)).taken_from(1.0)).taken_from(1.0);
    if !R::any(large) {
        return series;
    }
    let root = (x + 1.0).sqrt().sqrt().sqrt().sqrt().dividing(1.0);
    R::choose(large, root, series)
}

/// Rolling force at a speed over that at standstill.
/// Equation (6.3).
#[inline(always)]
pub fn rolling_rise<R: Real>(speed_m_s: R) -> R {
    let u = speed_m_s / REFERENCE_SPEED_M_S;
    u * u * ROLLING_SPEED_RISE + 1.0
}

impl TyreOnDrum {
    /// Tyres of known radius and load, everything else at the defaults of this file.
    pub fn typical(radius_m: f64, drum_radius_m: f64, load_n: f64) -> Self {
        Self {
            radius_m,
            drum_radius_m,
            load_n,
            rolling_coefficient: ROLLING_COEFFICIENT.0,
            slip_stiffness: SLIP_STIFFNESS.0,
            grip: GRIP.0,
            growth_at_60_m_s: GROWTH_AT_60_M_S.0,
        }
    }

    /// Rolling force at the drum's surface, N.
    ///
    /// ```text
    /// F = C_rr F_z √(1 + r/R) (1 + 0.15 (v/60)²)/(1 + 0.008 (t − 25))
    /// ```
    ///
    /// Source of the temperature term: UN R117 (force at 25 °C = force · [1 + 0.008 (t − 25)]). The denominator is held
    /// above one half, reached at −37 °C.
    /// Curvature: [`curvature_factor`]; the speed term is common practice, no source.
    /// Equation (6.3).
    pub fn rolling_force_n(&self, speed_m_s: f64, tyre_k: f64) -> f64 {
        self.rolling_at_rest_n(tyre_k) * rolling_rise(speed_m_s)
    }

    /// The same at standstill, N: what does not change through a pull.
    /// Equation (6.3).
    pub fn rolling_at_rest_n(&self, tyre_k: f64) -> f64 {
        let warm = (1.0 + ROLLING_PER_K * (tyre_k - REFERENCE_TEMPERATURE_K)).max(0.5);
        self.rolling_coefficient * self.load_n * curvature_factor(self.radius_m, self.drum_radius_m)
            / warm
    }

    /// Slip and force that reaches the drum under a force at the tyre's surface.
    ///
    /// ```text
    /// κ = F/(C_k F_z) · [1 + (f/μ)^12],   F_drum = F/[1 + (f/μ)^16]^(1/16),   f = F/F_z
    /// ```
    ///
    /// The linear law (5 % at f = 0.6, `C_k` = 12) holds within 1 % up to 0.68 of the grip; beyond, the force saturates at
    /// `μ F_z` while slip runs away, smoothly (shape assumed). Slip is held at 1, twice the drum's speed.
    /// Linear law: common practice, no source.
    /// Equation (6.4).
    pub fn slip(&self, force_n: f64) -> TyreSlip {
        let (slip, transmitted_n) = self.slip_and_force_n(force_n);
        TyreSlip {
            slip,
            transmitted_n,
            limit: self.grip_limit(force_n),
        }
    }

    /// Whether a force at the surface meets the grip.
    pub fn grip_limit(&self, force_n: f64) -> Option<GripLimit> {
        (force_n.abs() > 0.95 * self.grip * self.load_n).then_some(GripLimit::Spinning)
    }

    /// The same as two numbers: slip, and the force that reaches the drum, N.
    /// Equation (6.4).
    #[inline(always)]
    pub fn slip_and_force_n<R: Real>(&self, force_n: R) -> (R, R) {
        let f = force_n / self.load_n;
        // Far beyond the grip the sixteenth power would only lose digits: there the grip is reached to the last of them.
        let u4 = (f / self.grip).squared().squared().at_most(1e9);
        let u8 = u4 * u4;
        let slip = (f / self.slip_stiffness * (u8 * u4 + 1.0)).within(-1.0, 1.0);
        let transmitted_n = force_n * inverse_sixteenth_root(u8 * u8);
        let most_n = self.grip * self.load_n;
        (slip, transmitted_n.within(-most_n, most_n))
    }

    /// Effective radius at speed, m: `r₀ (1 + c v²)`.
    /// Equation (6.4).
    #[inline(always)]
    pub fn radius_at_m<R: Real>(&self, speed_m_s: R) -> R {
        let u = speed_m_s / REFERENCE_SPEED_M_S;
        (u * u * self.growth_at_60_m_s + 1.0) * self.radius_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slip_is_five_percent_at_six_tenths_of_the_load() {
        let s = TyreOnDrum::typical(0.335, 0.61, 8_000.0).slip(4_800.0);
        // 0.5 %: the stated 5 % is the linear law; the grip term adds 0.6^12 = 0.2 %.
        assert!((s.slip / 0.05 - 1.0).abs() < 0.005, "{s:?}");
        assert_eq!(s.limit, None);
    }

    #[test]
    fn force_saturates_at_the_grip_and_says_so() {
        let tyre = TyreOnDrum::typical(0.335, 0.61, 8_000.0);
        for force in [12_000.0, 1e5, 1e9] {
            let s = tyre.slip(force);
            assert!(
                s.transmitted_n <= 8_000.0 && s.transmitted_n > 7_999.0,
                "{s:?}"
            );
            assert_eq!(s.limit, Some(GripLimit::Spinning));
        }
    }

    #[test]
    fn a_warm_tyre_rolls_easier() {
        let tyre = TyreOnDrum::typical(0.335, f64::INFINITY, 8_000.0);
        assert!((tyre.rolling_force_n(0.0, 298.15) - 88.0).abs() < 1e-12);
        assert!((tyre.rolling_force_n(0.0, 313.15) - 88.0 / 1.12).abs() < 1e-12);
    }
}
