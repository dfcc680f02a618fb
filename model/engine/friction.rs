//! Mechanical friction of the engine and the power of what it drives.
//!
//! Exists because friction does not grow with boost as work does, which is why a blower's gain at the crank exceeds its
//! gain in air. It refuses to split a sum into bearings and rings: one pull cannot see them apart.
//!
//! Source: form of S. K. Chen & P. F. Flynn, SAE 650733 (from memory).

/// Friction mean effective pressure, `A + B p_max + (C S_p + D S_p²) · oil factor`.
///
/// Form of Chen & Flynn; the default is a worked set for petrol engines (from memory; the textbook set is for heavy diesels).
/// What is believed of a car stands in [`crate::belief::parameter`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    /// A, Pa.
    pub constant_pa: f64,
    /// B.
    pub per_peak_pressure: f64,
    /// C, Pa per m/s.
    pub per_speed_pa_s_m: f64,
    /// D, Pa per (m/s)².
    pub per_speed_squared_pa_s2_m2: f64,
    /// Exponent of the speed-dependent part on oil viscosity (0.2..0.3, from memory).
    pub oil_exponent: f64,
}

/// Exponent of friction on oil viscosity, of the order of published engines; from memory.
pub const OIL_EXPONENT: f64 = 0.22;

/// Temperature at which the friction numbers hold, K (90 °C oil).
pub const WARM_OIL_K: f64 = 363.15;

impl Friction {
    /// Friction mean effective pressure, Pa; `oil_factor` from [`Oil::factor`], 1 with warm oil.
    ///
    /// Worked: 18 m/s, 60 bar, warm: 45 + 30 + 99 + 29 = 203 kPa.
    /// Equation (4.1).
    pub fn mean_pressure_pa(
        &self,
        piston_speed_m_s: f64,
        peak_pressure_pa: f64,
        oil_factor: f64,
    ) -> f64 {
        self.constant_pa
            + self.per_peak_pressure * peak_pressure_pa
            + piston_speed_m_s
                * (self.per_speed_pa_s_m + self.per_speed_squared_pa_s2_m2 * piston_speed_m_s)
                * oil_factor
    }
}

/// Kinematic viscosity of an oil by its two rated values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Oil {
    /// At 40 °C, mm²/s.
    pub viscosity_40c_mm2_s: f64,
    /// At 100 °C, mm²/s.
    pub viscosity_100c_mm2_s: f64,
}

impl Default for Oil {
    /// A multigrade of hot class 40 (common practice, no source).
    fn default() -> Self {
        Self {
            viscosity_40c_mm2_s: 95.0,
            viscosity_100c_mm2_s: 14.5,
        }
    }
}

impl Oil {
    /// Kinematic viscosity, mm²/s, by the Walther equation `lg lg(ν + 0.7) = A − B lg T`.
    ///
    /// Form of ASTM D341, from memory; passes through both rated values.
    /// Equation (4.9).
    pub fn viscosity_mm2_s(&self, temperature_k: f64) -> f64 {
        let double = |viscosity: f64| (viscosity + 0.7).log10().log10();
        let (cold, hot) = (
            double(self.viscosity_40c_mm2_s),
            double(self.viscosity_100c_mm2_s),
        );
        let (cold_t, hot_t) = (313.15_f64.log10(), 373.15_f64.log10());
        let slope = (hot - cold) / (hot_t - cold_t);
        let exponent = cold + slope * (temperature_k.max(233.15).log10() - cold_t);
        10_f64.powf(10_f64.powf(exponent)) - 0.7
    }

    /// Factor on the speed-dependent part of friction, `(ν/ν_90°C)^n`: 1 at [`WARM_OIL_K`], above 1 when colder.
    ///
    /// With n = 0.22, 60 °C oil adds about 12 % to total friction at 18 m/s (8..15 % expected, from memory).
    /// Equation (4.1).
    pub fn factor(&self, temperature_k: f64, exponent: f64) -> f64 {
        (self.viscosity_mm2_s(temperature_k) / self.viscosity_mm2_s(WARM_OIL_K)).powf(exponent)
    }
}

/// Power of alternator, steering pump and other belt-driven parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accessories {
    /// Power at 6000 rpm, W: lognormal 2 kW, sd 0.5. The water pump is inside friction.
    pub power_at_6000_w: f64,
    /// Share of it that does not depend on speed (electric load on the alternator).
    pub constant_share: f64,
}

/// Share of the accessories' power that does not grow with speed; common practice, no source.
pub const CONSTANT_SHARE: f64 = 0.3;

impl Accessories {
    /// Power, W: `P₆₀₀₀ · [share + (1 − share)(N/6000)²]`. Common practice, no source.
    /// Equation (4.3).
    pub fn power_w(&self, rpm: f64) -> f64 {
        let speed = rpm / 6000.0;
        self.power_at_6000_w * (self.constant_share + (1.0 - self.constant_share) * speed * speed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn friction_at_eighteen_metres_per_second() {
        let friction = Friction {
            constant_pa: 45e3,
            per_peak_pressure: 0.005,
            per_speed_pa_s_m: 5.5e3,
            per_speed_squared_pa_s2_m2: 90.0,
            oil_exponent: OIL_EXPONENT,
        };
        let pressure = friction.mean_pressure_pa(18.0, 60e5, 1.0);
        assert!((pressure - 203.16e3).abs() < 1.0, "{pressure}");
    }

    #[test]
    fn warm_oil_is_the_reference_and_rated_viscosities_are_met() {
        let oil = Oil::default();
        assert_eq!(oil.factor(WARM_OIL_K, OIL_EXPONENT), 1.0);
        assert!((oil.viscosity_mm2_s(313.15) - 95.0).abs() < 1e-9);
        assert!((oil.viscosity_mm2_s(373.15) - 14.5).abs() < 1e-9);
    }

    #[test]
    fn accessories_reach_their_rated_power_at_6000() {
        let accessories = Accessories {
            power_at_6000_w: 2e3,
            constant_share: CONSTANT_SHARE,
        };
        assert_eq!(accessories.power_w(6000.0), 2e3);
    }
}
