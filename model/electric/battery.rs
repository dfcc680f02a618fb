//! Traction battery: how far its voltage sags, what power it can give, what a pull takes out of it.
//!
//! Exists because the axle's power is the battery's before it is the motor's, and a battery cold, old or half empty gives
//! less. One resistance, no diffusion: pulls are shorter than that. It refuses to predict ageing.
//!
//! Source: Ohm's law at the terminals (derived); resistance, open-circuit curve and heat capacities from memory; the fade
//! with charge is common practice, no source.

/// A battery.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Battery {
    /// Open-circuit voltage at 0, 25, 50, 75 and 100 % charge, V; rising.
    pub open_circuit_v: [f64; 5],
    /// Internal resistance at 25 °C and half charge, contacts and cables included, Ω.
    pub resistance_ohm: f64,
    /// Resistance at 0 °C over that at 25 °C; 2 to 3 (from memory).
    pub cold_factor: f64,
    /// Voltage the management does not go below, V.
    pub min_voltage_v: f64,
    /// Power the management allows, W; infinity if only voltage limits.
    pub max_power_w: f64,
    /// Charge content, C (ampere-seconds).
    pub charge_c: f64,
    /// Heat capacity of the cells, J/K.
    pub heat_capacity_j_k: f64,
}

/// The battery under a power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatteryLoad {
    /// Power at the terminals, W.
    pub power_w: f64,
    /// Current, A.
    pub current_a: f64,
    /// Voltage at the terminals, V.
    pub voltage_v: f64,
    /// Power turned into heat inside, W.
    pub heat_w: f64,
}

/// Charge above which the management allows everything, and the share it allows at a tenth (common practice, no source).
const FADE_FROM: f64 = 0.40;
const FADE_TO: f64 = 0.10;
const FADE_SHARE: f64 = 0.6;

/// Power at which voltage has sagged to `min_voltage_v`, W: `V_min (OCV − V_min)/R`. 350 V, 0.10 Ω, 280 V: 196 kW.
pub fn power_at_voltage_w(open_circuit_v: f64, resistance_ohm: f64, min_voltage_v: f64) -> f64 {
    min_voltage_v * (open_circuit_v - min_voltage_v).max(0.0) / resistance_ohm
}

/// Greatest power a source can ever give, W: `OCV²/(4R)`. 350 V, 0.10 Ω: 306.25 kW.
pub fn power_ceiling_w(open_circuit_v: f64, resistance_ohm: f64) -> f64 {
    open_circuit_v * open_circuit_v / (4.0 * resistance_ohm)
}

/// Open-circuit voltage at half charge over nominal (from memory, see [`Battery::typical`]).
const NOMINAL_SHARE: f64 = 3.68 / 3.65;

impl Battery {
    /// A lithium-ion pack by its nominal voltage, resistance and energy.
    ///
    /// Open-circuit curve of a nickel-rich cell, 3.0, 3.52, 3.68, 3.90 and 4.17 V at five charges against a nominal 3.65 V;
    /// least voltage 2.8 V per cell; 1 kJ/(kg K) and 140 Wh/kg (all from memory).
    pub fn typical(nominal_v: f64, resistance_ohm: f64, energy_j: f64) -> Self {
        let cell = nominal_v / 3.65;
        Self {
            open_circuit_v: [3.0, 3.52, 3.68, 3.90, 4.17].map(|v| v * cell),
            resistance_ohm,
            cold_factor: 2.5,
            min_voltage_v: 2.8 * cell,
            max_power_w: f64::INFINITY,
            charge_c: energy_j / nominal_v,
            heat_capacity_j_k: energy_j / (140.0 * 3600.0) * 1000.0,
        }
    }

    /// Nominal voltage, V: that of half charge on the curve of [`Self::typical`].
    pub fn nominal_v(&self) -> f64 {
        self.open_circuit_v[2] / NOMINAL_SHARE
    }

    /// Energy content, J.
    pub fn energy_j(&self) -> f64 {
        self.charge_c * self.nominal_v()
    }

    /// More or fewer cells in a row, of the same energy together: open-circuit and least voltage follow.
    /// Equation (11.8).
    pub fn set_nominal_v(&mut self, nominal_v: f64) {
        let factor = nominal_v / self.nominal_v();
        self.open_circuit_v = self.open_circuit_v.map(|v| v * factor);
        self.min_voltage_v *= factor;
        self.charge_c /= factor;
    }

    /// Larger or smaller cells at the same voltage: charge and heat capacity follow.
    /// Equation (11.8).
    pub fn set_energy_j(&mut self, energy_j: f64) {
        let factor = energy_j / self.energy_j();
        self.charge_c *= factor;
        self.heat_capacity_j_k *= factor;
    }

    /// Open-circuit voltage, V; charge held between 0 and 1.
    pub fn open_circuit_at_v(&self, charge: f64) -> f64 {
        let x = 4.0 * charge.clamp(0.0, 1.0);
        let pairs = [(0.0, 0, 1), (1.0, 1, 2), (2.0, 2, 3), (3.0, 3, 4)];
        let (from, a, b) = pairs
            .into_iter()
            .rev()
            .find(|p| x >= p.0)
            .unwrap_or(pairs[0]);
        self.open_circuit_v[a] + (x - from) * (self.open_circuit_v[b] - self.open_circuit_v[a])
    }

    /// Internal resistance, Ω.
    ///
    /// ```text
    /// R = R₂₅ · exp[B (1/T − 1/298.15)] · [1 + 0.5 (0.5 − s)₊²/0.25]
    /// ```
    ///
    /// B from the cold factor. The rise to 1.5 times at empty is assumed. Temperature held above 233 K.
    /// Arrhenius form from memory.
    /// Equation (6.9).
    pub fn resistance_at_ohm(&self, charge: f64, temperature_k: f64) -> f64 {
        let inverse = |t: f64| 1.0 / t - 1.0 / 298.15;
        let b = self.cold_factor.ln() / inverse(273.15);
        let low = (0.5 - charge.clamp(0.0, 1.0)).max(0.0);
        self.resistance_ohm
            * (b * inverse(temperature_k.max(233.0))).exp()
            * (1.0 + 2.0 * low * low)
    }

    /// Share of the power the management allows at a charge: 1 above 0.4, 0.6 at 0.1, 0 when empty.
    /// Equation (6.9).
    pub fn fade(charge: f64) -> f64 {
        let s = charge.clamp(0.0, 1.0);
        if s >= FADE_FROM {
            1.0
        } else if s >= FADE_TO {
            FADE_SHARE + (1.0 - FADE_SHARE) * (s - FADE_TO) / (FADE_FROM - FADE_TO)
        } else {
            FADE_SHARE * s / FADE_TO
        }
    }

    /// Greatest power at the terminals, W: by least voltage, by the ceiling, by the management, with the fade.
    /// Equation (6.9).
    pub fn power_limit_w(&self, charge: f64, temperature_k: f64) -> f64 {
        let ocv = self.open_circuit_at_v(charge);
        let r = self.resistance_at_ohm(charge, temperature_k);
        // Below half the open-circuit voltage more current gives less power.
        let least = self.min_voltage_v.max(0.5 * ocv);
        Self::fade(charge) * power_at_voltage_w(ocv, r, least).min(self.max_power_w.max(0.0))
    }

    /// Current, voltage and heat at a power, W; more than the ceiling is answered by the ceiling.
    ///
    /// ```text
    /// I = (OCV − √(OCV² − 4 R P))/(2R)
    /// ```
    ///
    /// Source: derived from Ohm's law, the root on the side of low current.
    /// Equation (6.9).
    pub fn load(&self, power_w: f64, charge: f64, temperature_k: f64) -> BatteryLoad {
        let ocv = self.open_circuit_at_v(charge);
        let r = self.resistance_at_ohm(charge, temperature_k);
        let power = power_w.min(power_ceiling_w(ocv, r));
        let root = (ocv * ocv - 4.0 * r * power).max(0.0).sqrt();
        // The form without cancellation at small power.
        let current_a = 2.0 * power / (ocv + root);
        BatteryLoad {
            power_w: power,
            current_a,
            voltage_v: ocv - r * current_a,
            heat_w: r * current_a * current_a,
        }
    }

    /// Rate of charge (fraction of full) under a current, 1/s.
    /// Equation (6.9).
    pub fn charge_rate_per_s(&self, current_a: f64) -> f64 {
        -current_a / self.charge_c
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_holds_the_least_voltage() {
        let pack = Battery::typical(350.0, 0.10, 8e6);
        let limit = pack.power_limit_w(0.8, 298.15);
        let load = pack.load(limit, 0.8, 298.15);
        assert!(
            (load.voltage_v - pack.min_voltage_v).abs() < 1e-9,
            "{load:?}"
        );
        assert!((load.power_w - load.voltage_v * load.current_a).abs() < 1e-6);
    }

    #[test]
    fn voltage_and_energy_are_set_in_either_order_to_what_a_new_pack_would_be() {
        let (mut a, mut b) = (
            Battery::typical(350.0, 0.10, 8e6),
            Battery::typical(350.0, 0.10, 8e6),
        );
        a.set_nominal_v(400.0);
        a.set_energy_j(12e6);
        b.set_energy_j(12e6);
        b.set_nominal_v(400.0);
        let new = Battery::typical(400.0, 0.10, 12e6);
        for pack in [a, b] {
            // Rounding of a handful of products.
            for (found, wanted) in [
                (pack.charge_c, new.charge_c),
                (pack.heat_capacity_j_k, new.heat_capacity_j_k),
                (pack.min_voltage_v, new.min_voltage_v),
                (pack.open_circuit_v[4], new.open_circuit_v[4]),
                (pack.energy_j(), 12e6),
            ] {
                assert!((found / wanted - 1.0).abs() < 1e-12, "{found} {wanted}");
            }
        }
    }

    #[test]
    fn cold_and_low_charge_take_power() {
        let pack = Battery::typical(350.0, 0.10, 8e6);
        assert!((pack.resistance_at_ohm(0.6, 273.15) / 0.10 - 2.5).abs() < 1e-12);
        assert!(pack.power_limit_w(0.8, 273.15) < 0.5 * pack.power_limit_w(0.8, 298.15));
        assert_eq!((Battery::fade(0.4), Battery::fade(0.0)), (1.0, 0.0));
        assert!((Battery::fade(0.1) - 0.6).abs() < 1e-12);
    }
}
