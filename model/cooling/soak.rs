//! Heat stored in metal and water during a pull, and given back between pulls.
//!
//! Exists because the first pull flatters: a cold core takes more heat than it can reject. One lumped mass per cooler with
//! a rate of heating linear in its temperature, so that constant conditions have an exact answer and the pull's integrator
//! gets a derivative. It refuses to resolve temperatures inside the core.
//!
//! Source: derived, the energy balance of one lumped mass and its exact solution.

/// Rate of heating of a lumped mass, linear in its own temperature: `C dT/dt = G (T_end − T)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatBalance {
    /// Temperature at which heat in and heat out agree, K.
    pub settled_temperature_k: f64,
    /// Total conductance pulling the mass there, W/K.
    pub conductance_w_k: f64,
    /// Heat capacity of the mass, J/K; infinity is a mass that never warms.
    pub heat_capacity_j_k: f64,
}

impl HeatBalance {
    /// Balance of a mass between two streams, each given as conductance and temperature.
    pub fn between(heat_capacity_j_k: f64, hot: (f64, f64), cold: (f64, f64)) -> Self {
        let conductance_w_k = hot.0 + cold.0;
        let settled_temperature_k = if conductance_w_k > 0.0 {
            (hot.0 * hot.1 + cold.0 * cold.1) / conductance_w_k
        } else {
            cold.1
        };
        Self {
            settled_temperature_k,
            conductance_w_k,
            heat_capacity_j_k,
        }
    }

    /// Rate of change of temperature, K/s.
    /// Equation (5.8).
    pub fn rate_k_s(self, temperature_k: f64) -> f64 {
        self.conductance_w_k * (self.settled_temperature_k - temperature_k) / self.heat_capacity_j_k
    }

    /// Time constant, s: `C/G`.
    pub fn time_constant_s(self) -> f64 {
        self.heat_capacity_j_k / self.conductance_w_k
    }

    /// Temperature after constant conditions for `duration_s`, K: the exact exponential.
    ///
    /// 10 L of water and glycol (37.8 kJ/K) under 23.7 kW rise by 0.63 K/s at first.
    /// Equation (5.8).
    pub fn after_k(self, temperature_k: f64, duration_s: f64) -> f64 {
        let left = (-duration_s * self.conductance_w_k / self.heat_capacity_j_k).exp();
        self.settled_temperature_k + (temperature_k - self.settled_temperature_k) * left
    }
}

/// A sensor or wall that follows a temperature with one time constant: `dT/dt = (T_true − T)/τ`.
///
/// Intake-air sensors: τ 0.5 to 3 s (common practice, no source); open elements are faster.
/// Equation (5.8).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstOrderLag {
    /// Time constant, s.
    pub time_constant_s: f64,
}

impl FirstOrderLag {
    /// Rate of the reading, K/s.
    pub fn rate_k_s(self, reading_k: f64, true_k: f64) -> f64 {
        (true_k - reading_k) / self.time_constant_s
    }

    /// Reading after the true value was held for a time, K.
    pub fn after_k(self, reading_k: f64, true_k: f64, duration_s: f64) -> f64 {
        true_k + (reading_k - true_k) * (-duration_s / self.time_constant_s).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exact_step_starts_with_the_derivative_and_composes() {
        let b = HeatBalance::between(38_000.0, (340.0, 380.0), (200.0, 300.0));
        let slope = (b.after_k(310.0, 1e-3) - 310.0) / 1e-3;
        assert!((slope / b.rate_k_s(310.0) - 1.0).abs() < 1e-5);
        let twice = b.after_k(b.after_k(310.0, 4.0), 6.0);
        assert!((twice - b.after_k(310.0, 10.0)).abs() < 1e-9);
    }

    #[test]
    fn an_infinite_mass_never_warms() {
        let b = HeatBalance::between(f64::INFINITY, (340.0, 380.0), (200.0, 300.0));
        assert_eq!((b.rate_k_s(305.0), b.after_k(305.0, 1e4)), (0.0, 305.0));
    }
}
