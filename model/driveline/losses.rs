//! Loss of one gear stage: a share of the torque for the mesh, and a drag that turns with the shaft.
//!
//! Exists to keep the two apart, because a build that doubles the torque doubles only the first; and because the second
//! falls as the oil warms. It refuses to model load-dependent bearing detail below that.

use crate::numeric::Real;
use crate::units;

/// Loss of one stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StageLoss {
    /// Torque that survives the mesh, as a fraction.
    pub mesh_efficiency: f64,
    /// Its standard deviation, for the fit and the spread.
    pub mesh_efficiency_sd: f64,
    /// Drag at the stage's input at the reference speed and with reference oil, N m.
    pub spin_torque_nm: f64,
    /// Its standard deviation, N m.
    pub spin_torque_sd_nm: f64,
}

/// Speed at which spin torques are stated: 6000 rpm, rad/s.
pub const SPIN_REFERENCE_RAD_S: f64 = units::rad_s(6000.0);
/// Share of the spin torque that remains at standstill: seals and preloaded bearings.
pub const SPIN_AT_REST: f64 = 0.4;
/// Exponent of viscosity in the spin torque.
pub const SPIN_VISCOSITY_EXPONENT: f64 = 0.4;
/// Oil temperature at which spin torques are stated, K.
pub const OIL_REFERENCE_K: f64 = 353.15;

/// Values of the usual parts at full load (common practice and reviewed ranges, Joachim, Boerner and Kurz, Gear Technology
/// September 2012; the means themselves from memory).
impl StageLoss {
    /// Gearbox in its direct gear, shafts locked together.
    pub const DIRECT_GEAR: Self = Self::of(0.985, 0.006, 4.0, 2.0);
    /// Gearbox in any other gear.
    pub const INDIRECT_GEAR: Self = Self::of(0.972, 0.008, 4.0, 2.0);
    /// Automatic gearbox with locked converter: planetary sets as good as gears, pump and open clutches as drag.
    pub const AUTOMATIC: Self = Self::of(0.972, 0.008, 14.0, 6.0);
    /// Hypoid axle.
    pub const HYPOID: Self = Self::of(0.965, 0.012, 3.0, 1.5);
    /// Manual transaxle, gear and spur or bevel final drive together; a measured one (see `validation/transaxle.rs`) shows
    /// 0.967 to 0.974 and 2 N m.
    pub const TRANSAXLE: Self = Self::of(0.975, 0.010, 4.0, 2.0);
    /// Final drive of spur gears behind an automatic; a spur set alone has 0.990 to 0.998.
    pub const SPUR_FINAL: Self = Self::of(0.990, 0.004, 1.0, 0.5);
    /// Transfer case or power take-off of an all-wheel drive.
    pub const TRANSFER: Self = Self::of(0.980, 0.010, 2.0, 1.0);

    /// A manual transaxle as gear and final drive: the product of the efficiencies and the sum of the drags are
    /// [`Self::TRANSAXLE`]'s.
    pub fn transaxle_in_two(gear_ratio: f64) -> (Self, Self) {
        let (whole, last) = (Self::TRANSAXLE, Self::SPUR_FINAL);
        let first = Self::of(
            whole.mesh_efficiency / last.mesh_efficiency,
            (whole.mesh_efficiency_sd.powi(2) - last.mesh_efficiency_sd.powi(2)).sqrt(),
            whole.spin_torque_nm - last.spin_torque_nm / gear_ratio.max(0.3),
            whole.spin_torque_sd_nm,
        );
        (first, last)
    }

    const fn of(mesh: f64, mesh_sd: f64, spin: f64, spin_sd: f64) -> Self {
        Self {
            mesh_efficiency: mesh,
            mesh_efficiency_sd: mesh_sd,
            spin_torque_nm: spin,
            spin_torque_sd_nm: spin_sd,
        }
    }

    /// Drag at the stage's input, N m: `T_spin (0.4 + 0.6 ω/ω_ref) · oil`, oil the factor of [`GearOil::spin_factor_against`].
    /// Equation (6.1).
    #[inline(always)]
    pub fn spin_nm<R: Real>(&self, speed_rad_s: R, oil_factor: f64) -> R {
        let relative = speed_rad_s.abs() / SPIN_REFERENCE_RAD_S;
        (relative * (1.0 - SPIN_AT_REST) + SPIN_AT_REST) * self.spin_torque_nm * oil_factor
    }

    /// Torque lost in the mesh, N m; positive whichever way the torque runs.
    /// Equation (6.1).
    #[inline(always)]
    pub fn mesh_nm<R: Real>(&self, torque_nm: R) -> R {
        torque_nm.abs() * (1.0 - self.mesh_efficiency)
    }
}

/// Gear oil by its two catalogue viscosities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GearOil {
    /// Kinematic viscosity at 40 °C, mm²/s.
    pub at_40c_mm2_s: f64,
    /// Kinematic viscosity at 100 °C, mm²/s.
    pub at_100c_mm2_s: f64,
}

impl GearOil {
    /// A 75W-90 gear oil (typical data-sheet values, from memory).
    pub const SAE_75W90: Self = Self {
        at_40c_mm2_s: 100.0,
        at_100c_mm2_s: 15.0,
    };

    /// Gear oils by their grade of SAE J306 with typical data-sheet viscosities at 40 and 100 °C, and automatic transmission
    /// fluid (from memory; makers differ by about 8 %).
    pub const GRADES: &[(&str, Self)] = &[
        ("75W-80", Self::of(52.0, 9.3)),
        ("75W-85", Self::of(68.0, 11.8)),
        ("75W-90", Self::SAE_75W90),
        ("75W-140", Self::of(175.0, 24.7)),
        ("80W-90", Self::of(140.0, 14.5)),
        ("85W-140", Self::of(350.0, 26.0)),
        ("ATF", Self::of(34.0, 7.2)),
    ];

    const fn of(at_40c_mm2_s: f64, at_100c_mm2_s: f64) -> Self {
        Self {
            at_40c_mm2_s,
            at_100c_mm2_s,
        }
    }

    /// The same oil, thicker or thinner by a factor.
    #[must_use]
    pub fn thicker(self, factor: f64) -> Self {
        Self::of(factor * self.at_40c_mm2_s, factor * self.at_100c_mm2_s)
    }

    /// Kinematic viscosity, mm²/s: `lg lg(ν + 0.7) = A − B lg T`, T held between 240 and 450 K.
    ///
    /// Source: Walther's equation as in ASTM D341 (from memory).
    /// Equation (4.9).
    pub fn viscosity_mm2_s(self, temperature_k: f64) -> f64 {
        let double = |v: f64| (v + 0.7).log10().log10();
        let (low, high) = (313.15_f64.log10(), 373.15_f64.log10());
        let slope = (double(self.at_100c_mm2_s) - double(self.at_40c_mm2_s)) / (high - low);
        let t = temperature_k.clamp(240.0, 450.0).log10();
        let inner = double(self.at_40c_mm2_s) + slope * (t - low);
        10.0_f64.powf(10.0_f64.powf(inner)) - 0.7
    }

    /// The same against the drag with another oil at the reference temperature.
    /// Equation (6.15).
    pub fn spin_factor_against(self, temperature_k: f64, stated_with: Self) -> f64 {
        (self.viscosity_mm2_s(temperature_k) / stated_with.viscosity_mm2_s(OIL_REFERENCE_K))
            .powf(SPIN_VISCOSITY_EXPONENT)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_viscosity_line_passes_through_its_two_points() {
        let oil = GearOil::SAE_75W90;
        assert!((oil.viscosity_mm2_s(313.15) - 100.0).abs() < 1e-9);
        assert!((oil.viscosity_mm2_s(373.15) - 15.0).abs() < 1e-9);
        assert_eq!(oil.spin_factor_against(OIL_REFERENCE_K, oil), 1.0);
        assert!(
            oil.spin_factor_against(300.0, oil) > 1.5 && oil.spin_factor_against(370.0, oil) < 1.0
        );
    }

    #[test]
    fn thinner_oil_drags_less_and_the_same_oil_the_same() {
        let factor = |oil: GearOil| oil.spin_factor_against(343.15, GearOil::SAE_75W90);
        assert_eq!(
            factor(GearOil::SAE_75W90),
            GearOil::SAE_75W90.spin_factor_against(343.15, GearOil::SAE_75W90)
        );
        let factors: Vec<f64> = GearOil::GRADES
            .iter()
            .map(|(_, oil)| factor(*oil))
            .collect();
        // From 75W-80 to 75W-140 the first four get thicker.
        assert!(factors[..4].windows(2).all(|w| w[0] < w[1]), "{factors:?}");
        // (1.08)^0.4, but for the 0.7 inside Walther's logarithm.
        let thicker = factor(GearOil::SAE_75W90.thicker(1.08)) / factor(GearOil::SAE_75W90);
        assert!((thicker - 1.08_f64.powf(0.4)).abs() < 2e-3, "{thicker}");
    }

    #[test]
    fn the_reference_speed_shows_the_stated_drag() {
        assert!((StageLoss::HYPOID.spin_nm(SPIN_REFERENCE_RAD_S, 1.0) - 3.0).abs() < 1e-12);
        assert!((StageLoss::HYPOID.spin_nm(0.0, 1.0) - 1.2).abs() < 1e-12);
    }
}
