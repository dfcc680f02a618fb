//! Traction motor with its inverter: what torque it can give, what it loses, how warm it gets.
//!
//! Exists to give the axle its envelope and efficiency from the few numbers a maker prints. It refuses generator mode: a
//! power pull only drives.
//!
//! Source: loss terms from memory, held against seven measured machines in `validation/motor_maps.rs`; two-node heat balance
//! derived.

/// Losses of motor and inverter together.
///
/// ```text
/// P = k₀ + k_c T² + k_i ω + k_w ω² + k_x ω T
/// ```
///
/// Source of the form: copper ∝ T², iron ∝ ω to ω², the rest constant (from memory). Fitted to seven machines in
/// `validation/motor_maps.rs`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotorLosses {
    /// k₀, W.
    pub constant_w: f64,
    /// `k_c`, W/(N m)².
    pub torque_squared_w: f64,
    /// `k_i`, W s/rad.
    pub speed_w: f64,
    /// `k_w`, W (s/rad)².
    pub speed_squared_w: f64,
    /// `k_x`, per unit of mechanical power: inverter and load-dependent iron loss.
    pub cross: f64,
}

/// Temperatures and their limits; two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotorHeat {
    /// Heat capacity of the windings, J/K.
    pub winding_j_k: f64,
    /// Heat capacity of iron and case, J/K.
    pub case_j_k: f64,
    /// Conductance winding to case, W/K; with `winding_j_k` a time constant of 10 to 60 s.
    pub winding_to_case_w_k: f64,
    /// Conductance case to coolant, W/K.
    pub case_to_coolant_w_k: f64,
    /// Coolant temperature, K.
    pub coolant_k: f64,
    /// Winding temperature at which the derating is complete, K.
    pub limit_k: f64,
    /// Width of the derating below the limit, K.
    pub derate_span_k: f64,
    /// Torque left at the limit, as a fraction; 0.5 to 0.7.
    pub derate_floor: f64,
}

impl MotorHeat {
    /// A water-jacketed machine of the given peak power (sizes assumed in proportion, common practice, no source).
    pub fn typical(peak_power_w: f64) -> Self {
        let size = peak_power_w / 100_000.0;
        Self {
            winding_j_k: 4_000.0 * size,
            case_j_k: 20_000.0 * size,
            winding_to_case_w_k: 130.0 * size,
            case_to_coolant_w_k: 250.0 * size,
            coolant_k: 323.15,
            limit_k: 433.15,
            derate_span_k: 20.0,
            derate_floor: 0.6,
        }
    }

    /// Torque left by the winding's temperature: 1 until `limit − span`, then a straight line to the floor.
    /// Equation (6.7).
    pub fn derating(&self, winding_k: f64) -> f64 {
        let over = ((winding_k - (self.limit_k - self.derate_span_k)) / self.derate_span_k)
            .clamp(0.0, 1.0);
        1.0 - (1.0 - self.derate_floor) * over
    }

    /// Share of the time for which a motor above its limit is left switched on: 1 at the limit, a straight line to 0 at the cut-out. The
    /// hotter of winding and case decides, so neither rises above the cut-out by heat of its own.
    /// Equation (6.7).
    pub fn on_share(&self, winding_k: f64, case_k: f64) -> f64 {
        let over = (winding_k.max(case_k) - self.limit_k) / self.derate_span_k;
        1.0 - over.clamp(0.0, 1.0)
    }

    /// Rates of winding and case temperature, K/s.
    /// Equation (6.8).
    pub fn rates_k_s(
        &self,
        winding_k: f64,
        case_k: f64,
        winding_w: f64,
        case_w: f64,
    ) -> (f64, f64) {
        let across = self.winding_to_case_w_k * (winding_k - case_k);
        let out = self.case_to_coolant_w_k * (case_k - self.coolant_k);
        (
            (winding_w - across) / self.winding_j_k,
            (case_w + across - out) / self.case_j_k,
        )
    }

    /// Winding and case temperature after a rest without torque, K: the exact answer of [`Self::rates_k_s`] without loss.
    ///
    /// ```text
    /// x(t) = e^(m t) [cosh(q t) I + sinh(q t)/q (M − m I)] x(0),   m = −(a + b + d)/2,   q² = m² − a d
    /// ```
    ///
    /// x: both temperatures over the coolant's; M = [−a, a; b, −(b + d)] with `a = G/C_winding`, `b = G/C_case`,
    /// `d = G_coolant/C_case`.
    /// Derived: the matrix exponential of a 2 × 2 matrix. q is real for any positive numbers.
    /// Equation (6.11).
    pub fn after_rest_k(&self, winding_k: f64, case_k: f64, duration_s: f64) -> (f64, f64) {
        let a = self.winding_to_case_w_k / self.winding_j_k;
        let b = self.winding_to_case_w_k / self.case_j_k;
        let d = self.case_to_coolant_w_k / self.case_j_k;
        let mean = -0.5 * (a + b + d);
        let q = (mean * mean - a * d).max(0.0).sqrt();
        let (slow, fast) = (
            ((mean + q) * duration_s).exp(),
            ((mean - q) * duration_s).exp(),
        );
        let even = 0.5 * (slow + fast);
        // Both rates are alike only where heat does not move at all.
        let odd = if q > 0.0 {
            0.5 * (slow - fast) / q
        } else {
            0.0
        };
        let (x, y) = (winding_k - self.coolant_k, case_k - self.coolant_k);
        (
            self.coolant_k + even * x + odd * ((-a - mean) * x + a * y),
            self.coolant_k + even * y + odd * (b * x + (-b - d - mean) * y),
        )
    }
}

/// What bounds the motor's torque at a speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MotorLimit {
    /// Peak torque (current).
    PeakTorque,
    /// Peak power.
    PeakPower,
    /// Power falling with speed once the field must be weakened.
    FieldWeakening,
    /// Taper towards the top speed.
    TopSpeed,
}

/// A motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motor {
    /// Peak torque, N m.
    pub peak_torque_nm: f64,
    /// Peak power at the shaft, W; a rating of 5 to 30 s.
    pub peak_power_w: f64,
    /// Speed above which power falls, rad/s; infinity if it never does.
    pub weakening_speed_rad_s: f64,
    /// Exponent k of that fall: `P ∝ (ω_fw/ω)^k`, 0 to 1.
    pub weakening_exponent: f64,
    /// Highest speed, rad/s.
    pub top_speed_rad_s: f64,
    /// Last fraction of the speed range over which torque runs to zero; 0.05 to 0.10.
    pub top_taper: f64,
    /// Losses.
    pub losses: MotorLosses,
    /// Heat.
    pub heat: MotorHeat,
}

impl MotorLosses {
    /// A modern permanent-magnet machine of given peak torque and power: peak efficiency near 0.94 with its inverter (shape
    /// assumed, common practice, no source).
    pub fn typical(peak_torque_nm: f64, peak_power_w: f64) -> Self {
        let base = peak_power_w / peak_torque_nm;
        Self {
            constant_w: 0.002 * peak_power_w,
            torque_squared_w: 0.045 * peak_power_w / (peak_torque_nm * peak_torque_nm),
            speed_w: 0.004 * peak_power_w / base,
            speed_squared_w: 0.002 * peak_power_w / (base * base),
            cross: 0.02,
        }
    }

    /// Loss, W, for driving torque at a speed.
    /// Equation (6.8).
    pub fn loss_w(&self, torque_nm: f64, speed_rad_s: f64) -> f64 {
        self.idle_w(speed_rad_s)
            + torque_nm * (self.torque_squared_w * torque_nm + self.cross * speed_rad_s)
    }

    fn idle_w(&self, speed_rad_s: f64) -> f64 {
        self.constant_w + speed_rad_s * (self.speed_w + self.speed_squared_w * speed_rad_s)
    }

    /// Part of the loss that heats the windings, W: the copper term.
    pub fn winding_loss_w(&self, torque_nm: f64) -> f64 {
        self.torque_squared_w * torque_nm * torque_nm
    }

    /// Efficiency when driving; 0 at no torque or standstill.
    pub fn efficiency(&self, torque_nm: f64, speed_rad_s: f64) -> f64 {
        let out = torque_nm * speed_rad_s;
        if out <= 0.0 {
            0.0
        } else {
            out / (out + self.loss_w(torque_nm, speed_rad_s))
        }
    }

    /// Greatest torque that electric power allows, N m: the root of `Tω + loss(T, ω) = P`; 0 when losses alone exceed P.
    /// Equation (6.8).
    pub fn torque_for_electric_power_nm(&self, power_w: f64, speed_rad_s: f64) -> f64 {
        let left = power_w - self.idle_w(speed_rad_s);
        if left <= 0.0 {
            return 0.0;
        }
        let b = speed_rad_s * (1.0 + self.cross);
        // The stable form of the quadratic's root; also right for no copper loss.
        let denominator = b + (b * b + 4.0 * self.torque_squared_w * left).sqrt();
        if denominator > 0.0 {
            2.0 * left / denominator
        } else {
            f64::INFINITY
        }
    }
}

impl Motor {
    /// A motor by its two ratings and top speed: constant power to the top, taper over the last 7 %.
    pub fn typical(peak_torque_nm: f64, peak_power_w: f64, top_speed_rad_s: f64) -> Self {
        Self {
            peak_torque_nm,
            peak_power_w,
            weakening_speed_rad_s: f64::INFINITY,
            weakening_exponent: 0.0,
            top_speed_rad_s,
            top_taper: 0.07,
            losses: MotorLosses::typical(peak_torque_nm, peak_power_w),
            heat: MotorHeat::typical(peak_power_w),
        }
    }

    /// Greatest torque at a speed, N m, cold and with any supply, and what bounds it.
    /// Equation (6.7).
    pub fn envelope_nm(&self, speed_rad_s: f64) -> (f64, MotorLimit) {
        let w = speed_rad_s.max(0.0);
        let (mut torque, mut limit) = (self.peak_torque_nm, MotorLimit::PeakTorque);
        let weak = w > self.weakening_speed_rad_s;
        let power = if weak {
            self.peak_power_w * (self.weakening_speed_rad_s / w).powf(self.weakening_exponent)
        } else {
            self.peak_power_w
        };
        if torque * w > power {
            torque = power / w;
            limit = if weak {
                MotorLimit::FieldWeakening
            } else {
                MotorLimit::PeakPower
            };
        }
        let taper = taper(w, self.top_speed_rad_s, self.top_taper);
        if taper < 1.0 {
            limit = MotorLimit::TopSpeed;
        }
        (torque * taper, limit)
    }
}

/// 1 until `(1 − share)·end`, then a straight line to 0 at `end` and 0 beyond.
/// Equation (6.7).
pub(crate) fn taper(speed: f64, end: f64, share: f64) -> f64 {
    if speed >= end {
        return 0.0;
    }
    ((end - speed) / (share.max(1e-9) * end)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn supply_limited_torque_takes_exactly_the_supply() {
        let losses = MotorLosses::typical(200.0, 100_000.0);
        for (p, w) in [(60_000.0, 500.0), (20_000.0, 1200.0), (5_000.0, 0.0)] {
            let t = losses.torque_for_electric_power_nm(p, w);
            assert!((t * w + losses.loss_w(t, w) - p).abs() < 1e-6, "{t}");
        }
        assert_eq!(losses.torque_for_electric_power_nm(0.0, 700.0), 0.0);
    }

    #[test]
    fn the_exact_rest_is_what_small_steps_of_the_rates_come_to() {
        let heat = MotorHeat::typical(80_000.0);
        let (mut winding, mut case) = (420.0, 350.0);
        let (step, steps) = (1e-3, 40_000);
        for _ in 0..steps {
            let (w, c) = heat.rates_k_s(winding, case, 0.0, 0.0);
            (winding, case) = (winding + step * w, case + step * c);
        }
        let exact = heat.after_rest_k(420.0, 350.0, step * f64::from(steps));
        // Euler's steps of 1 ms stray by half a step of a rate that fades with 25 s: 70 K · 1e-3/50.
        assert!((exact.0 - winding).abs() < 2e-3 && (exact.1 - case).abs() < 2e-3);
        let long = heat.after_rest_k(420.0, 350.0, f64::INFINITY);
        assert_eq!(long, (heat.coolant_k, heat.coolant_k));
    }

    #[test]
    fn the_typical_machine_peaks_near_the_stated_efficiency() {
        let losses = MotorLosses::typical(200.0, 100_000.0);
        let best = (1..=100)
            .flat_map(|i| (1..=100).map(move |j| (2.0 * f64::from(i), 12.0 * f64::from(j))))
            .filter(|(t, w)| t * w <= 100_000.0)
            .map(|(t, w)| losses.efficiency(t, w))
            .fold(0.0, f64::max);
        assert!((0.93..0.96).contains(&best), "{best}");
    }

    #[test]
    fn derating_runs_from_one_to_the_floor() {
        let heat = MotorHeat::typical(100_000.0);
        assert_eq!(heat.derating(heat.limit_k - 20.0), 1.0);
        assert!((heat.derating(heat.limit_k - 10.0) - 0.8).abs() < 1e-12);
        assert_eq!(heat.derating(heat.limit_k + 50.0), 0.6);
    }

    #[test]
    fn above_the_limit_nothing_is_left_by_the_cut_out() {
        let heat = MotorHeat::typical(100_000.0);
        let (limit, cold) = (heat.limit_k, 330.0);
        assert!(((heat.limit_k + heat.derate_span_k) - 453.15).abs() < 1e-9);
        for (winding, case, share) in [
            (limit, cold, 1.0),
            (limit + 10.0, cold, 0.5),
            (cold, limit + 10.0, 0.5),
            ((heat.limit_k + heat.derate_span_k), cold, 0.0),
            (limit + 500.0, limit + 900.0, 0.0),
        ] {
            assert!((heat.on_share(winding, case) - share).abs() < 1e-12);
        }
    }
}
