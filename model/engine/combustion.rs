//! Indicated work per kilogram of dry air: from the ideal fuel-air cycle to a real engine.
//!
//! Exists to hold the three corrections that keep the ideal cycle from flattering a plan: a level, a weaker gain with
//! compression, and the burn being fastest a little rich. Phasing is apart ([`super::phasing`]), and so is the work
//! lost by gas exchange and rubbing.
//!
//! Source: ideal work from the equilibrium fuel-air cycle ([`super::fuel_air`]); the three corrections carry their basis in the
//! table of [`Combustion`].

use super::fuel_air::MixtureCurve;
use crate::fuel::Fuel;
use crate::numeric::Real;

/// Compression ratio at which the level is stated.
pub const LEVEL_COMPRESSION_RATIO: f64 = 10.0;
/// Mixture at which the level is stated and the compression effect is taken.
pub const LEVEL_LAMBDA: f64 = 0.88;

/// Gas constant of a fresh charge with fuel vapour and residual, J/(kg K); 272 to 275 for petrol (computed with Cantera 3.2).
pub const CHARGE_GAS_CONSTANT: f64 = 273.0;

/// The real engine against the ideal cycle.
///
/// | field | basis |
/// |---|---|
/// | `level` | derived: 275 to 310 g/kWh at full load |
/// | `compression_exponent` | measured engines gain less than ideal (from memory) |
/// | `best_lambda` | fastest, coolest burn (from memory) |
/// | `mixture_curvature` | set so that λ = 1 loses 2..4 % (from memory) |
/// | `late_evaporation_share` | no source; see the field |
///
/// The default is a worked set, 1.08 MJ per kg of air at r = 10, λ = 0.88. What is believed of a car stands in
/// [`crate::belief::parameter`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Combustion {
    /// Real over ideal work at [`LEVEL_COMPRESSION_RATIO`] and [`LEVEL_LAMBDA`], best phasing, full load.
    pub level: f64,
    /// Exponent on the ideal ratio of efficiencies between compression ratios.
    pub compression_exponent: f64,
    /// Mixture of the fastest burn.
    pub best_lambda: f64,
    /// Loss per squared distance in λ from it.
    pub mixture_curvature: f64,
    /// Share of the fuel that evaporates after the inlet valve has shut, 0..1. Its latent heat is then taken from the charge
    /// instead of from walls or intake air, and the work falls by that share of the heating value. No source.
    pub late_evaporation_share: f64,
}

/// Indicated work against mixture, prepared for one fuel and one compression ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndicatedWork {
    curve: MixtureCurve,
    scale: f64,
    best_lambda: f64,
    mixture_curvature: f64,
}

impl Combustion {
    /// Gain of compression, `E(r)/E(10) = [η_fa(r)/η_fa(10)]^0.8`, at [`LEVEL_LAMBDA`].
    ///
    /// About +2.4 % per unit near 10. Worked (petrol surrogate): 10 to 11: +2.4 %.
    /// Equation (3.1).
    pub fn compression_gain(&self, fuel: &Fuel, compression_ratio: f64) -> f64 {
        let at = |ratio: f64| MixtureCurve::new(fuel, ratio).efficiency(LEVEL_LAMBDA);
        (at(compression_ratio) / at(LEVEL_COMPRESSION_RATIO))
            .max(0.0)
            .powf(self.compression_exponent)
    }

    /// What of the work a cycle of well-mixed vapour cannot see: fuel that evaporates late, and the best mixture being richer than the
    /// equilibrium's because a real charge is uneven.
    ///
    /// ```text
    /// (1 − late · h_fg/LHV) · [1 − c (λ − λ_best)²] / [1 − c (0.88 − λ_best)²]
    /// ```
    ///
    /// Source: the same two factors of [`IndicatedWork::work_j_kg_air`].
    /// Equation (9.14).
    pub fn beyond_a_cycle(&self, fuel: &Fuel, lambda: f64) -> f64 {
        let work = self.unshaped(fuel);
        self.late_factor(fuel) * work.burn_factor(lambda) / work.burn_factor(LEVEL_LAMBDA)
    }

    fn late_factor(&self, fuel: &Fuel) -> f64 {
        1.0 - self.late_evaporation_share * fuel.latent_heat_j_kg
            / fuel.lower_heating_value_vapour_j_kg
    }

    fn unshaped(&self, fuel: &Fuel) -> IndicatedWork {
        IndicatedWork {
            curve: MixtureCurve::new(fuel, LEVEL_COMPRESSION_RATIO),
            scale: 1.0,
            best_lambda: self.best_lambda,
            mixture_curvature: self.mixture_curvature,
        }
    }

    /// Prepares the work curve of a fuel at a compression ratio.
    /// Equation (3.1).
    pub fn prepare(&self, fuel: &Fuel, compression_ratio: f64) -> IndicatedWork {
        let unshaped = self.unshaped(fuel);
        let shape = unshaped.burn_factor(LEVEL_LAMBDA);
        let scale =
            self.level * self.late_factor(fuel) * self.compression_gain(fuel, compression_ratio)
                / shape;
        IndicatedWork { scale, ..unshaped }
    }
}

impl IndicatedWork {
    fn burn_factor(&self, lambda: f64) -> f64 {
        let off = lambda - self.best_lambda;
        (1.0 - self.mixture_curvature * off * off).max(0.0)
    }

    /// Gross indicated work per kilogram of dry air at best phasing, J/kg.
    ///
    /// ```text
    /// w = level · w_fa(10, λ) · [1 − c (λ − λ_best)²]/[1 − c (0.88 − λ_best)²] · E(r)/E(10) · (1 − late · h_fg/LHV)
    /// ```
    ///
    /// Worked: petrol, r = 10, λ = 0.88: 1.08 MJ/kg.
    /// Source: product form derived here; each factor carries its basis in the table of [`Combustion`].
    /// Equation (3.1).
    pub fn work_j_kg_air(&self, lambda: f64) -> f64 {
        self.scale * self.curve.work_j_kg_air(lambda) * self.burn_factor(lambda)
    }

    /// Work relative to another mixture. Worked (iso-octane, to λ = 1): 0.89 gives 1.027, 0.80 gives 0.997.
    pub fn relative(&self, lambda: f64, to_lambda: f64) -> f64 {
        self.work_j_kg_air(lambda) / self.work_j_kg_air(to_lambda)
    }
}

/// Share of the heat released that the walls take, and how it moves.
///
/// ```text
/// q = q₀ · (S_p/S_p0)^a · (ρ/ρ₀)^b · [1 − 0.42 (1 − exp(−x/19))] · multiplier,   x = CA50 − 8 deg
/// ```
///
/// a = −0.49 and b = −0.19 are least squares through this package's own closed cycles with Woschni
/// (1500..7000 rpm, 0.6..2.5 bar, r = 10, CA50 8 deg; recomputed in `validation/closed_cycle.rs`). The similarity argument gives
/// −0.2 for both; on speed it is steeper because Woschni's combustion term does not grow with piston speed.
/// Source: derived, as said, by least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallLoss {
    /// Share at the reference condition.
    pub reference_share: f64,
    /// Mean piston speed of the reference, m/s.
    pub reference_piston_speed_m_s: f64,
    /// Charge density at inlet closing of the reference, kg/m³.
    pub reference_density_kg_m3: f64,
    /// Exponent on piston speed.
    pub speed_exponent: f64,
    /// Exponent on density.
    pub density_exponent: f64,
    /// CA50 of the reference, deg.
    pub reference_ca50_deg: f64,
    /// Multiplier, lognormal 1.0 with sd 0.25 (0.5..2).
    pub multiplier: f64,
    /// Relative work lost per unit of share: `1 − k (q − q₀)`.
    pub work_per_share: f64,
}

impl Default for WallLoss {
    /// Reference: 9 m/s (3000 rpm at 90 mm stroke), 1 bar and 350 K at closing, r = 10, petrol at λ = 0.88.
    fn default() -> Self {
        Self {
            reference_share: 0.1245,
            reference_piston_speed_m_s: 9.0,
            reference_density_kg_m3: 1.047,
            speed_exponent: -0.49,
            density_exponent: -0.19,
            reference_ca50_deg: 8.0,
            multiplier: 1.0,
            work_per_share: 0.64,
        }
    }
}

impl WallLoss {
    /// Share of the released heat lost to the walls at a CA50, held in 0..0.6.
    /// Equation (3.10).
    pub fn share(&self, piston_speed_m_s: f64, density_kg_m3: f64, ca50_deg: f64) -> f64 {
        self.level(piston_speed_m_s, density_kg_m3)
            .share(ca50_deg - self.reference_ca50_deg)
    }

    /// The same before phasing: `q₀ (S_p/S_p0)^a (ρ/ρ₀)^b`.
    /// Equation (3.10).
    #[inline(always)]
    pub fn level<R: Real>(&self, piston_speed_m_s: R, density_kg_m3: R) -> WallLevel<R> {
        self.level_of_ln(piston_speed_m_s, density_kg_m3.ln())
    }

    /// The same of the density's logarithm.
    #[inline(always)]
    pub(crate) fn level_of_ln<R: Real>(&self, piston_speed_m_s: R, density_ln: R) -> WallLevel<R> {
        let faster = (piston_speed_m_s / self.reference_piston_speed_m_s).ln();
        let denser = density_ln - self.reference_density_kg_m3.ln();
        let exponent = faster * self.speed_exponent + denser * self.density_exponent;
        WallLevel(exponent.exp() * (self.reference_share * self.multiplier))
    }

    /// Indicated work relative to the reference condition: `1 − k (q − q₀)`.
    ///
    /// k = 0.64 from the same closed cycles (0.60 at 7000 rpm to 0.69 at 1500 rpm).
    /// Equation (3.1).
    #[inline(always)]
    pub fn relative_work<R: Real>(&self, share: R) -> R {
        ((share - self.reference_share) * self.work_per_share)
            .taken_from(1.0)
            .at_least(0.0)
    }

    /// Density of the charge at inlet closing, kg/m³, ideal gas with [`CHARGE_GAS_CONSTANT`].
    pub fn charge_density_kg_m3(pressure_pa: f64, temperature_k: f64) -> f64 {
        pressure_pa / (CHARGE_GAS_CONSTANT * temperature_k)
    }
}

/// Share of the heat that the walls take at one speed and density, whatever the phasing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallLevel<R = f64>(R);

impl<R: Real> WallLevel<R> {
    /// The same at the phasing at which the level is stated.
    #[inline(always)]
    pub fn at_reference(self) -> R {
        self.0.within(0.0, 0.6)
    }

    /// The share with half of the charge burned this much later than in the reference, deg; held in 0..0.6.
    /// Equation (3.10).
    #[inline(always)]
    pub fn share(self, late_deg: R) -> R {
        let fallen = (-late_deg.at_least(-15.0) / 19.0).exp().taken_from(1.0);
        (self.0 * (fallen * 0.42).taken_from(1.0)).within(0.0, 0.6)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_level_is_reached_where_it_is_stated() {
        let fuel = Fuel::petrol(95.0, None);
        let combustion = Combustion {
            level: 0.78,
            compression_exponent: 0.8,
            best_lambda: 0.89,
            mixture_curvature: 1.8,
            late_evaporation_share: 0.0,
        };
        let work = combustion.prepare(&fuel, 10.0).work_j_kg_air(LEVEL_LAMBDA);
        let ideal = MixtureCurve::new(&fuel, 10.0).work_j_kg_air(LEVEL_LAMBDA);
        assert!((work / ideal - 0.78).abs() < 1e-12);
        assert!((work / 1.08e6 - 1.0).abs() < 0.01, "{work}");
    }

    #[test]
    fn at_the_reference_the_walls_change_nothing() {
        let walls = WallLoss::default();
        let share = walls.share(9.0, 1.047, 8.0);
        assert_eq!(walls.relative_work(share), 1.0);
        assert!(walls.share(18.0, 1.047, 8.0) < share && walls.share(9.0, 2.1, 8.0) < share);
    }
}
