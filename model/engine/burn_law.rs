//! How long a given charge takes to burn: the scaling of [`super::wiebe`] fed with the state at inlet closing.
//!
//! Exists because the mean-value cylinder and the crank-angle cycle must burn alike. It refuses to know where the
//! charge came from.
//!
//! Source: scaling as in [`BurnScaling`]; the reference states from memory, as said at each.

use super::wiebe::BurnScaling;
use crate::fuel::Fuel;
use crate::numeric::Real;

/// State of the charge at closing at which burn duration is stated.
const REFERENCE_K: f64 = 350.0;
const REFERENCE_PA: f64 = 1e5;
const REFERENCE_RESIDUAL: f64 = 0.06;
/// Mixture at which burn duration is stated.
const REFERENCE_LAMBDA: f64 = 0.88;
/// State near half the burn that a charge of the reference closing state reaches; scales flame speed. Isentropic
/// compression to 13 times the closing pressure, from memory of the usual petrol engine.
const FLAME_K: f64 = 620.0;
const FLAME_PA: f64 = 15e5;

/// A charge about to burn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BurnCharge<R = f64> {
    /// Engine speed, rpm.
    pub rpm: R,
    /// Relative air-fuel ratio.
    pub lambda: R,
    /// Temperature at inlet closing, K.
    pub temperature_k: R,
    /// Pressure at inlet closing, Pa.
    pub pressure_pa: R,
    /// Residual gas and other diluents over charge, by mass.
    pub residual_fraction: R,
}

/// Burn duration of one engine on one fuel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BurnLaw {
    scaling: BurnScaling,
    fuel: Fuel,
    reference_flame_ln: f64,
}

impl BurnLaw {
    /// Prepares the law.
    pub fn new(scaling: BurnScaling, fuel: Fuel) -> Self {
        let reference_flame_m_s =
            fuel.laminar_flame_speed_m_s(REFERENCE_LAMBDA, FLAME_K, FLAME_PA, REFERENCE_RESIDUAL);
        Self {
            scaling,
            fuel,
            reference_flame_ln: reference_flame_m_s.ln(),
        }
    }

    /// Burn duration (Wiebe), deg: scaled from 3000 rpm and the reference state with flame speed and density.
    pub fn duration_deg(&self, charge: &BurnCharge) -> f64 {
        self.duration_deg_of(&self.fuel, charge)
    }

    /// The same of what burns in fact: the tank's fuel with whatever is sprayed beside it.
    /// Equations (3.5) and (9.13).
    #[inline(always)]
    pub fn duration_deg_of<R: Real>(&self, burned: &Fuel, charge: &BurnCharge<R>) -> R {
        let logarithms = (charge.temperature_k.ln(), charge.pressure_pa.ln());
        self.duration_deg_of_ln(burned, charge, logarithms)
    }

    /// The same with the logarithms of the charge's temperature and pressure at hand.
    /// Equations (3.5) and (9.13).
    #[inline(always)]
    pub(crate) fn duration_deg_of_ln<R: Real>(
        &self,
        burned: &Fuel,
        charge: &BurnCharge<R>,
        (temperature_ln, pressure_ln): (R, R),
    ) -> R {
        let warm_ln = temperature_ln - REFERENCE_K.ln();
        let dense_ln = pressure_ln - REFERENCE_PA.ln();
        let here_ln = burned.laminar_flame_ln(
            charge.lambda,
            warm_ln + FLAME_K.ln(),
            dense_ln + FLAME_PA.ln(),
            charge.residual_fraction,
        );
        let faster_ln = here_ln - self.reference_flame_ln;
        (self.scaling).duration_of_ln(charge.rpm, faster_ln, dense_ln - warm_ln)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_charge_burns_in_the_stated_duration() {
        let law = BurnLaw::new(BurnScaling::default(), Fuel::petrol(95.0, None));
        let charge = BurnCharge {
            rpm: 3000.0,
            lambda: 0.88,
            temperature_k: 350.0,
            pressure_pa: 1e5,
            residual_fraction: 0.06,
        };
        assert!((law.duration_deg(&charge) - 50.0).abs() < 1e-12);
        let diluted = BurnCharge {
            residual_fraction: 0.12,
            ..charge
        };
        assert!(law.duration_deg(&diluted) > 50.0);
    }
}
