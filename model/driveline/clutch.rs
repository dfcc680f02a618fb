//! Friction clutch and torque converter: what they can carry and what they lose.
//!
//! Exists so that a build's torque can be held against the clutch, and an automatic with an open converter can be told from
//! a locked one. It refuses the engagement transient.

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
    pub fn capacity_nm(self) -> f64 {
        let (o, i) = (self.outer_radius_m, self.inner_radius_m);
        // (o³ − i³)/(o² − i²) written without the common factor, so equal radii give their limit.
        let mean = 2.0 / 3.0 * (o * o + o * i + i * i) / (o + i);
        self.faces * self.friction * self.clamp_n * mean
    }

    /// Torque that passes, N m, and whether the clutch slips.
    pub fn transmitted_nm(self, torque_nm: f64) -> (f64, bool) {
        let capacity = self.capacity_nm();
        (
            torque_nm.clamp(-capacity, capacity),
            torque_nm.abs() > capacity,
        )
    }
}

/// A hydrodynamic converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorqueConverter {
    /// Torque ratio at stall; 1.8 to 2.5 (common practice, no source).
    pub stall_torque_ratio: f64,
    /// Speed ratio at which the torque ratio has fallen to 1; 0.85 to 0.9.
    pub coupling_speed_ratio: f64,
    /// Whether the lock-up clutch is closed.
    pub locked: bool,
}

impl TorqueConverter {
    /// Turbine over impeller torque at a speed ratio; falls in a straight line to 1 at coupling.
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
        let open = TorqueConverter {
            stall_torque_ratio: 2.0,
            coupling_speed_ratio: 0.87,
            locked: false,
        };
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
}
