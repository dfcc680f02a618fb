//! Knock: how long the end gas waits before it lights itself, and whether the flame is sooner.
//!
//! Exists because knock, not strength, sets the spark of almost every boosted pump-fuel engine. The delay has the form, the answer to
//! pressure and the level of Douaud and Eyzat; how it answers to octane and temperature follows from what engines were measured
//! to ask (SAE 960497, held in `validation/knock_slopes.rs`). It knows no negative temperature coefficient: refuse to trust its
//! level without calibrating the delay multiplier (lognormal, sd 0.35) on the baseline's own spark.

/// Time constant of the delay, s: at borderline knock of engines without boost the integral is that of Douaud & Eyzat's own
/// numbers (17.68 ms, 3.402, 3800 K; 1978, from memory) to 3 %. Derived; held in `validation/knock.rs`.
pub const DELAY_S: f64 = 1.38e-3;
/// Exponent on octane/100. Derived from measured slopes, see [`delay_rate_per_s`].
pub const OCTANE_EXPONENT: f64 = 5.0;
/// Exponent on pressure, negative in the delay (Douaud & Eyzat 1978, from memory).
pub const PRESSURE_EXPONENT: f64 = 1.7;
/// Activation temperature, K. Derived from measured slopes, see [`delay_rate_per_s`].
pub const ACTIVATION_K: f64 = 6000.0;
const ATMOSPHERE_PA: f64 = 101_325.0;

/// The reciprocal of the ignition delay τ of the end gas, 1/s.
///
/// ```text
/// τ = 1.38 ms · (ON/100)^5 · p^−1.7 · exp(6000/T),   p in atm
/// ```
///
/// Source: form, pressure exponent and level of Douaud & Eyzat 1978, from memory. With their exponent on octane (3.402) and their
/// activation temperature (3800 K) a whole engine asks for half the octane numbers per kelvin of intake air that were measured, for
/// a third too many per kilopascal, and moves its spark by two thirds of what was measured a number. The two numbers here bring it within
/// 30 % of SAE 960497 (abstract): 1 deg of spark a number, 1 number for 7 K, 3 to 4 for 10 kPa, 5 for a unit of compression.
/// Worked: 40 atm, 900 K, ON 95: τ = 1.5860 ms.
/// Equation (3.8).
pub fn delay_rate_per_s(pressure_pa: f64, temperature_k: f64, octane: f64) -> f64 {
    let exponent =
        PRESSURE_EXPONENT * (pressure_pa / ATMOSPHERE_PA).ln() - ACTIVATION_K / temperature_k;
    exponent.exp() / (DELAY_S * (octane / 100.0).powf(OCTANE_EXPONENT))
}

/// Livengood-Wu integral `∫ dt/τ`, gathered along a trace of end-gas states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LivengoodWu {
    octane: f64,
    rate_per_s: f64,
    /// Integral so far; self-ignition at 1.
    pub integral: f64,
}

impl LivengoodWu {
    /// Starts at the first state of the trace.
    pub fn start(pressure_pa: f64, temperature_k: f64, octane: f64) -> Self {
        Self {
            octane,
            rate_per_s: delay_rate_per_s(pressure_pa, temperature_k, octane),
            integral: 0.0,
        }
    }

    /// Adds the stretch to the next state by the trapezoid; returns the integral.
    pub fn advance(&mut self, seconds: f64, pressure_pa: f64, temperature_k: f64) -> f64 {
        let rate = delay_rate_per_s(pressure_pa, temperature_k, self.octane);
        self.integral += 0.5 * (self.rate_per_s + rate) * seconds;
        self.rate_per_s = rate;
        self.integral
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn delay_at_forty_atmospheres() {
        let delay = 1.0 / delay_rate_per_s(40.0 * 101_325.0, 900.0, 95.0);
        assert!((delay * 1e3 - 1.5860).abs() < 1e-4);
    }

    #[test]
    fn a_steady_end_gas_lights_after_one_delay() {
        let (p, t) = (3e6, 780.0);
        let mut integral = LivengoodWu::start(p, t, 98.0);
        let delay = 1.0 / delay_rate_per_s(p, t, 98.0);
        for _ in 0..10 {
            integral.advance(delay / 10.0, p, t);
        }
        assert!((integral.integral - 1.0).abs() < 1e-12);
    }
}
