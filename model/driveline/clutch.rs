//! Friction clutch and torque converter: what they can carry and what they lose.
//!
//! Exists so that a build's torque can be held against the clutch, and an automatic with an open converter can be told from
//! a locked one. It refuses the engagement transient, and the flare of an engine that has broken its clutch loose.

/// A dry or wet friction clutch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrictionClutch {
    /// Friction faces: 2 per driven plate.
    pub faces: f64,
    /// Coefficient of friction; 0.25 to 0.35 dry organic (common practice, no source).
    pub friction: f64,
    /// Clamp force, N.
    pub clamp_n: f64,
    /// Outer radius of the facing, m.
    pub outer_radius_m: f64,
    /// Inner radius of the facing, m.
    pub inner_radius_m: f64,
}

impl FrictionClutch {
    /// Torque before it slips, N m: `n μ F (2/3)(r_o³ − r_i³)/(r_o² − r_i²)`, uniform pressure.
    ///
    /// Source: any machine elements text (from memory). 2 faces, 0.3, 12 kN, 0.12/0.08 m: 729.6 N m.
    /// Equation (6.13).
    pub fn capacity_nm(self) -> f64 {
        let (o, i) = (self.outer_radius_m, self.inner_radius_m);
        // (o³ − i³)/(o² − i²) written without the common factor, so equal radii give their limit.
        let mean = 2.0 / 3.0 * (o * o + o * i + i * i) / (o + i);
        self.faces * self.friction * self.clamp_n * mean
    }
}

/// Torque that a clutch of a capacity passes, N m, and whether it slips.
/// Equation (6.13).
pub fn held_nm(torque_nm: f64, capacity_nm: f64) -> (f64, bool) {
    (
        torque_nm.clamp(-capacity_nm, capacity_nm),
        torque_nm.abs() > capacity_nm,
    )
}

/// A hydrodynamic converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorqueConverter {
    /// Engine speed at which it holds the stall torque with the output standing, rad/s.
    pub stall_speed_rad_s: f64,
    /// That torque at its input, N m. Speed over the root of torque is the converter's K at stall.
    pub stall_torque_nm: f64,
    /// Torque ratio at stall; 1.8 to 2.5 (common practice, no source).
    pub stall_torque_ratio: f64,
    /// Speed ratio at which the torque ratio has fallen to 1; 0.85 to 0.9.
    pub coupling_speed_ratio: f64,
    /// Whether the lock-up clutch is closed.
    pub locked: bool,
}

/// Exponent of the speed ratio in the torque a converter takes: it takes 0.83 of its stall torque at a ratio of 0.8 and 0.34
/// at 0.95. Shape assumed, common practice, no source.
const TAKES_EXPONENT: i32 = 8;
/// Lowest speed ratio that is computed; below it the engine would stand at its stall speed and the wheels hardly turn.
const LEAST_RATIO: f64 = 0.5;

/// A converter carrying a torque at an engine speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConverterPoint {
    /// Output speed over input speed.
    pub speed_ratio: f64,
    /// Torque it takes at its input, N m.
    pub input_nm: f64,
    /// Torque at the output, N m.
    pub torque_nm: f64,
    /// Acceleration of the output over that of the input under a steady torque.
    pub follow: f64,
    /// Whether it cannot hold the engine at this speed.
    pub overrun: bool,
}

impl TorqueConverter {
    /// An open converter known by its stall point: torque ratio 2.0 at stall, coupling at 0.87 (from memory).
    pub const fn stalling_at(stall_speed_rad_s: f64, stall_torque_nm: f64) -> Self {
        Self {
            stall_speed_rad_s,
            stall_torque_nm,
            stall_torque_ratio: 2.0,
            coupling_speed_ratio: 0.87,
            locked: false,
        }
    }

    /// Speed ratio and output torque for a torque at the input at an engine speed.
    ///
    /// ```text
    /// T_in = (ω/K)² (1 − ν⁸),   T_out = TR(ν) T_in,   dω_out/dω = ν + ω dν/dω at constant T_in
    /// ```
    ///
    /// On overrun and at no torque ν is 1. Locked it passes everything. More than it takes at ν = 0.5 cannot be held:
    /// that much passes, and the point says so. Source: K and torque ratio as in any text on converters (from memory);
    /// the shape in ν is assumed.
    /// Equation (6.14).
    pub fn at(self, torque_nm: f64, speed_rad_s: f64) -> ConverterPoint {
        if self.locked || torque_nm <= 0.0 {
            return ConverterPoint {
                speed_ratio: 1.0,
                input_nm: torque_nm,
                torque_nm,
                follow: 1.0,
                overrun: false,
            };
        }
        let relative = speed_rad_s / self.stall_speed_rad_s;
        let at_stall_nm = self.stall_torque_nm * relative * relative;
        let most = 1.0 - LEAST_RATIO.powi(TAKES_EXPONENT);
        let wanted = torque_nm / at_stall_nm;
        let taken = wanted.min(most);
        let n = f64::from(TAKES_EXPONENT);
        let speed_ratio = (1.0 - taken).powf(1.0 / n);
        ConverterPoint {
            speed_ratio,
            input_nm: taken * at_stall_nm,
            torque_nm: self.torque_ratio(speed_ratio) * taken * at_stall_nm,
            follow: speed_ratio + 2.0 * taken / (n * speed_ratio.powi(TAKES_EXPONENT - 1)),
            overrun: wanted > most,
        }
    }

    /// Turbine over impeller torque at a speed ratio; falls in a straight line to 1 at coupling.
    /// Equation (6.14).
    pub fn torque_ratio(self, speed_ratio: f64) -> f64 {
        if self.locked {
            return 1.0;
        }
        let left = (1.0 - speed_ratio.max(0.0) / self.coupling_speed_ratio).max(0.0);
        1.0 + (self.stall_torque_ratio - 1.0) * left
    }

    /// Power efficiency: torque ratio times speed ratio; 1 when locked.
    pub fn efficiency(self, speed_ratio: f64) -> f64 {
        if self.locked {
            1.0
        } else {
            self.torque_ratio(speed_ratio) * speed_ratio.clamp(0.0, 1.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_locked_converter_adds_no_slip() {
        let open = TorqueConverter::stalling_at(250.0, 400.0);
        assert_eq!(
            TorqueConverter {
                locked: true,
                ..open
            }
            .efficiency(0.93),
            1.0
        );
        assert_eq!(open.torque_ratio(0.0), 2.0);
        assert!((open.efficiency(0.93) - 0.93).abs() < 1e-15);
    }

    #[test]
    fn an_open_converter_takes_the_torque_its_k_says_and_follows_its_own_slope() {
        let open = TorqueConverter::stalling_at(250.0, 400.0);
        let point = open.at(400.0, 500.0);
        // A quarter of what it takes at stall at twice the speed: ν = 0.75^(1/8).
        assert!((point.speed_ratio - 0.75_f64.powf(0.125)).abs() < 1e-12);
        assert_eq!((point.torque_nm, point.overrun), (400.0, false));
        let out = |w: f64| w * open.at(400.0, w).speed_ratio;
        // Central difference over 0.02 rad/s: its error is of the order of 1e-9.
        let slope = (out(500.01) - out(499.99)) / 0.02;
        assert!(
            (slope / point.follow - 1.0).abs() < 1e-6,
            "{slope} {point:?}"
        );
        // Never more power out than in.
        for torque in [50.0, 400.0, 1200.0] {
            let p = open.at(torque, 500.0);
            assert!(p.torque_nm * p.speed_ratio <= torque, "{p:?}");
        }
        assert!(open.at(500.0, 250.0).overrun);
        let locked = TorqueConverter {
            locked: true,
            ..open
        }
        .at(400.0, 500.0);
        assert_eq!(
            (locked.speed_ratio, locked.torque_nm, locked.follow),
            (1.0, 400.0, 1.0)
        );
    }

    #[test]
    fn a_clutch_never_passes_more_than_its_capacity() {
        assert_eq!(held_nm(500.0, 450.0), (450.0, true));
        assert_eq!(held_nm(-500.0, 450.0), (-450.0, true));
        assert_eq!(held_nm(450.0, 450.0), (450.0, false));
    }
}
