//! Heat capacities of moist air.
//!
//! Two levels, because they serve different loops: [`MoistAir`] follows the heat capacity with
//! temperature (for checks and for anything outside the hot path), [`PerfectGas`] freezes it at one
//! temperature (for the operating-point solve). Burned gas is the engine's own affair.

use super::moist::{DRY_AIR_J_KG_K, WATER_TO_AIR_MASS, gas_constant_j_kg_k};
use crate::numeric::Real;

/// NASA seven-coefficient polynomial: two ranges that meet at 1000 K.
///
/// ```text
/// c_p/R = a₁ + a₂T + a₃T² + a₄T³ + a₅T⁴
/// h/(RT) = a₁ + a₂T/2 + a₃T²/3 + a₄T³/4 + a₅T⁴/5 + a₆/T
/// s/R = a₁ ln T + a₂T + a₃T²/2 + a₄T³/3 + a₅T⁴/4 + a₇
/// ```
///
/// Holds for: 200 to 6000 K. Enthalpy includes the heat of formation. Source: NASA TM-4513 form.
/// Equation (1.6).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nasa7 {
    /// Coefficients up to 1000 K.
    pub low: [f64; 7],
    /// Coefficients above 1000 K.
    pub high: [f64; 7],
}

/// Temperature where the two ranges of every polynomial here meet, K.
const MIDDLE_K: f64 = 1000.0;

/// Nitrogen. Source (all five): NASA TM-4513 as in Cantera 3.2.0 `nasa_gas.yaml`, seven digits.
pub const NITROGEN: Nasa7 = Nasa7 {
    low: [
        3.531005e0,
        -1.236610e-4,
        -5.029994e-7,
        2.435306e-9,
        -1.408812e-12,
        -1.046976e3,
        2.967475e0,
    ],
    high: [
        2.952576e0,
        1.396901e-3,
        -4.926317e-7,
        7.860104e-11,
        -4.607553e-15,
        -9.239486e2,
        5.871893e0,
    ],
};
/// Oxygen.
pub const OXYGEN: Nasa7 = Nasa7 {
    low: [
        3.782456e0,
        -2.996734e-3,
        9.847302e-6,
        -9.681295e-9,
        3.243728e-12,
        -1.063944e3,
        3.657676e0,
    ],
    high: [
        3.660961e0,
        6.563655e-4,
        -1.411495e-7,
        2.057977e-11,
        -1.299132e-15,
        -1.215977e3,
        3.415362e0,
    ],
};
/// Argon.
pub const ARGON: Nasa7 = Nasa7 {
    low: [2.5, 0.0, 0.0, 0.0, 0.0, -7.453750e2, 4.379675e0],
    high: [2.5, 0.0, 0.0, 0.0, 0.0, -7.453750e2, 4.379675e0],
};
/// Carbon dioxide.
pub const CARBON_DIOXIDE: Nasa7 = Nasa7 {
    low: [
        2.356774e0,
        8.984597e-3,
        -7.123563e-6,
        2.459190e-9,
        -1.436995e-13,
        -4.837197e4,
        9.901052e0,
    ],
    high: [
        4.636595e0,
        2.741320e-3,
        -9.958285e-7,
        1.603730e-10,
        -9.161035e-15,
        -4.902493e4,
        -1.935349e0,
    ],
};
/// Water vapour.
pub const WATER: Nasa7 = Nasa7 {
    low: [
        4.198641e0,
        -2.036434e-3,
        6.520402e-6,
        -5.487971e-9,
        1.771978e-12,
        -3.029373e4,
        -8.490322e-1,
    ],
    high: [
        2.677038e0,
        2.973183e-3,
        -7.737697e-7,
        9.443367e-11,
        -4.269010e-15,
        -2.988589e4,
        6.882556e0,
    ],
};

/// Dry air by mole: nitrogen, oxygen, argon, carbon dioxide at 400 ppm. Source: common composition,
/// as used with Cantera 3.2.0 for `validation/data/compression`; sums to 1.
/// Equation (1.6).
const DRY_AIR: [(f64, Nasa7); 4] = [
    (0.780848, NITROGEN),
    (0.209390, OXYGEN),
    (0.009362, ARGON),
    (0.0004, CARBON_DIOXIDE),
];

impl Nasa7 {
    fn at(&self, temperature_k: f64) -> &[f64; 7] {
        if temperature_k > MIDDLE_K {
            &self.high
        } else {
            &self.low
        }
    }

    /// Molar heat capacity over the gas constant.
    pub fn cp_over_r(&self, temperature_k: f64) -> f64 {
        let (a, t) = (self.at(temperature_k), temperature_k);
        a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4])))
    }

    /// Molar enthalpy over gas constant, K.
    pub fn enthalpy_over_r_k(&self, temperature_k: f64) -> f64 {
        let (a, t) = (self.at(temperature_k), temperature_k);
        a[5] + t * (a[0] + t * (a[1] / 2.0 + t * (a[2] / 3.0 + t * (a[3] / 4.0 + t * a[4] / 5.0))))
    }

    /// Molar entropy at the reference pressure over the gas constant.
    pub fn entropy_over_r(&self, temperature_k: f64) -> f64 {
        let (a, t) = (self.at(temperature_k), temperature_k);
        a[6] + a[0] * t.ln() + t * (a[1] + t * (a[2] / 2.0 + t * (a[3] / 3.0 + t * a[4] / 4.0)))
    }

    /// Mole-weighted mixture; without the entropy of mixing, which a fixed composition never
    /// notices.
    fn mixed(parts: impl IntoIterator<Item = (f64, Self)>) -> Self {
        let mut sum = Self {
            low: [0.0; 7],
            high: [0.0; 7],
        };
        for (share, part) in parts {
            for i in 0..7 {
                sum.low[i] += share * part.low[i];
                sum.high[i] += share * part.high[i];
            }
        }
        sum
    }
}

/// Moist air of fixed composition with a heat capacity that follows temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoistAir {
    polynomial: Nasa7,
    gas_constant_j_kg_k: f64,
}

impl MoistAir {
    /// From the mass of water per mass of dry air (0 for dry air; must not be negative).
    pub fn new(humidity_ratio: f64) -> Self {
        let water_moles = humidity_ratio / (WATER_TO_AIR_MASS + humidity_ratio);
        let dry = DRY_AIR.map(|(share, species)| (share * (1.0 - water_moles), species));
        let polynomial = Nasa7::mixed(dry.into_iter().chain([(water_moles, WATER)]));
        Self {
            polynomial,
            gas_constant_j_kg_k: gas_constant_j_kg_k(humidity_ratio),
        }
    }

    /// Gas constant, J/(kg K).
    pub const fn gas_constant_j_kg_k(&self) -> f64 {
        self.gas_constant_j_kg_k
    }

    /// Heat capacity at constant pressure, J/(kg K). Worked: dry, 273.15 K gives 1003.5.
    pub fn cp_j_kg_k(&self, temperature_k: f64) -> f64 {
        self.gas_constant_j_kg_k * self.polynomial.cp_over_r(temperature_k)
    }

    /// Ratio of heat capacities. Worked: dry, 273.15 K gives 1.4006.
    pub fn gamma(&self, temperature_k: f64) -> f64 {
        let cp = self.polynomial.cp_over_r(temperature_k);
        cp / (cp - 1.0)
    }

    /// Specific enthalpy with heat of formation, J/kg. Only differences mean anything to a machine.
    pub fn enthalpy_j_kg(&self, temperature_k: f64) -> f64 {
        self.gas_constant_j_kg_k * self.polynomial.enthalpy_over_r_k(temperature_k)
    }

    /// Temperature after an isentropic change of pressure, K: `s°(T₂) − s°(T₁) = R ln π`.
    ///
    /// Newton's step, from the constant-gamma answer; kept within 150 to 4000 K, where the
    /// polynomials mean something.
    /// Equation (1.6).
    pub fn isentropic_k(&self, inlet_k: f64, pressure_ratio: f64) -> f64 {
        let target = self.polynomial.entropy_over_r(inlet_k) + pressure_ratio.ln();
        let mut t = within(inlet_k * pressure_ratio.powf(1.0 / self.polynomial.cp_over_r(inlet_k)));
        for _ in 0..20 {
            let error = self.polynomial.entropy_over_r(t) - target;
            let next = within(t * (-error / self.polynomial.cp_over_r(t)).exp());
            let step = (next - t).abs();
            t = next;
            if step < 1e-9 * t {
                break;
            }
        }
        t
    }
}

fn within(temperature_k: f64) -> f64 {
    temperature_k.clamp(150.0, 4000.0)
}

/// A gas with constant heat capacities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PerfectGas {
    /// Ratio of heat capacities, above 1.
    pub gamma: f64,
    /// Gas constant, J/(kg K).
    pub gas_constant_j_kg_k: f64,
}

impl PerfectGas {
    /// Dry air near room temperature: gamma 1.4.
    pub const AIR: Self = Self {
        gamma: 1.4,
        gas_constant_j_kg_k: DRY_AIR_J_KG_K,
    };

    /// Heat capacity at constant pressure, J/(kg K): `c_p = γR/(γ−1)`.
    /// Equation (1.12).
    pub fn cp_j_kg_k(&self) -> f64 {
        self.gamma * self.gas_constant_j_kg_k / (self.gamma - 1.0)
    }

    /// Speed of sound, m/s: `a = √(γRT)`. Worked: air at 298.15 K gives 346.1.
    /// Equation (1.12).
    #[inline(always)]
    pub fn sound_m_s<R: Real>(&self, temperature_k: R) -> R {
        (temperature_k * (self.gamma * self.gas_constant_j_kg_k)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn enthalpy_and_entropy_are_integrals_of_the_heat_capacity() {
        let air = MoistAir::new(0.02);
        for t in [250.0, 400.0, 900.0, 1500.0] {
            let h = 0.01;
            let cp = (air.enthalpy_j_kg(t + h) - air.enthalpy_j_kg(t - h)) / (2.0 * h);
            let entropy = |t| air.polynomial.entropy_over_r(t) * air.gas_constant_j_kg_k;
            let cp_over_t = (entropy(t + h) - entropy(t - h)) / (2.0 * h);
            // Rounding of an enthalpy near 1e6 J/kg over 0.02 K: about 1e-8 of cp.
            assert!((cp / air.cp_j_kg_k(t) - 1.0).abs() < 1e-6);
            assert!((cp_over_t * t / air.cp_j_kg_k(t) - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn the_two_ranges_meet_at_1000_k() {
        let air = MoistAir::new(0.01);
        // The published polynomials are printed to seven digits and matched there.
        assert!((air.cp_j_kg_k(1000.0) / air.cp_j_kg_k(1000.001) - 1.0).abs() < 1e-5);
    }

    #[test]
    fn no_pressure_change_leaves_the_temperature() {
        let air = MoistAir::new(0.0);
        assert!((air.isentropic_k(300.0, 1.0) - 300.0).abs() < 1e-9);
        assert!((PerfectGas::AIR.sound_m_s(298.15) - 346.14).abs() < 0.01);
    }
}
