//! Heat-capacity ratio of the gas in the cylinder, before and after it burns.
//!
//! Exists so that the closed cycle and the knock integral need no chemistry while they run: two short polynomials in
//! temperature, prepared once for a fuel and a mixture. It refuses to give enthalpies: see [`super::products`].
//!
//! Source: least-squares fits to equilibrium and frozen gas computed with Cantera 3.2 (`nasa_gas.yaml`, NASA TM-4513).

use super::GAS_CONSTANT_J_KMOL_K;
use crate::fuel::Fuel;

/// Heat-capacity ratio model of a closed cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GasModel {
    /// The same ratio before and after burning (for closed forms).
    Constant {
        /// Heat-capacity ratio.
        gamma: f64,
    },
    /// Fresh and burned gas mixed by the burned share.
    Mixture(ChargeGas),
}

/// Heat-capacity ratios of a fuel-air mixture, prepared for one fuel and λ.
///
/// - Unburned, frozen, 300..1000 K: least-squares polynomial in T, 1/λ and ethanol share through the equilibrium
///   tables (Cantera 3.2, iso-octane and ethanol, λ 0.75..1.2): largest error 1.2e-3.
/// - Burned, shifting equilibrium at 40 bar, `1 + R/(du/dT)`: cubics at λ = 1 and 0.88 (Cantera 3.2, iso-octane,
///   1000..2900 K, largest error 5e-3), linear in λ between 0.75 and 1, held outside. A lean charge gets λ = 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeGas {
    unburned: [f64; 3],
    burned: [f64; 4],
    /// Gas constant of the fresh charge, fuel as vapour, J/kg K.
    pub gas_constant_j_kg_k: f64,
}

const BURNED_STOICHIOMETRIC: [f64; 4] = [1.28086, 0.04633, -0.03755, 0.00105];
const BURNED_RICH: [f64; 4] = [1.48495, -0.37882, 0.22801, -0.04775];

impl ChargeGas {
    /// Prepares the gas for a fuel at a mixture λ.
    /// Equation (3.18).
    pub fn new(fuel: &Fuel, lambda: f64) -> Self {
        let rich = 1.0 / lambda - 1.0;
        let alcohol = fuel.ethanol_mass_fraction + fuel.methanol_mass_fraction;
        let unburned = [
            1.41800 - 0.01086 * rich + 0.01240 * alcohol + 0.00299 * alcohol * rich,
            -0.23135 - 0.11462 * rich - 0.03273 * alcohol,
            0.07567 + 0.07155 * rich + 0.01881 * alcohol,
        ];
        let toward_rich = (1.0 - lambda.clamp(0.75, 1.0)) / 0.12;
        let mut burned = BURNED_STOICHIOMETRIC;
        for (value, end) in burned.iter_mut().zip(BURNED_RICH) {
            *value += toward_rich * (end - *value);
        }
        let air_kg = fuel.stoichiometric_air_fuel * lambda;
        let moles = air_kg / 28.96 + 1.0 / fuel.molar_mass_kg_kmol;
        Self {
            unburned,
            burned,
            gas_constant_j_kg_k: GAS_CONSTANT_J_KMOL_K * moles / (1.0 + air_kg),
        }
    }

    /// Heat-capacity ratio of the fresh charge; the temperature is held in 250..1150 K.
    /// Equation (3.18).
    pub fn unburned_gamma(&self, temperature_k: f64) -> f64 {
        let t = temperature_k.clamp(250.0, 1150.0) * 1e-3;
        let [a, b, c] = self.unburned;
        a + t * (b + t * c)
    }

    /// Effective heat-capacity ratio of burned gas; the temperature is held in 1000..2900 K.
    /// Equation (3.18).
    pub fn burned_gamma(&self, temperature_k: f64) -> f64 {
        let t = temperature_k.clamp(1000.0, 2900.0) * 1e-3;
        let [a, b, c, d] = self.burned;
        a + t * (b + t * (c + t * d))
    }
}

impl GasModel {
    /// Heat-capacity ratio of the whole cylinder.
    ///
    /// The fresh share is taken at the end gas' temperature, the burned share at the mean temperature (the single
    /// zone knows no other), mixed linearly by mass.
    pub fn gamma(&self, burned_fraction: f64, end_gas_k: f64, mean_k: f64) -> f64 {
        match self {
            Self::Constant { gamma } => *gamma,
            Self::Mixture(gas) => {
                let unburned = gas.unburned_gamma(end_gas_k);
                if burned_fraction <= 0.0 {
                    return unburned;
                }
                unburned + burned_fraction * (gas.burned_gamma(mean_k) - unburned)
            }
        }
    }

    /// Heat-capacity ratio of the end gas.
    pub fn end_gas_gamma(&self, temperature_k: f64) -> f64 {
        match self {
            Self::Constant { gamma } => *gamma,
            Self::Mixture(gas) => gas.unburned_gamma(temperature_k),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_richer_charge_has_a_lower_ratio() {
        let fuel = Fuel::petrol(95.0, None);
        let (rich, lean) = (ChargeGas::new(&fuel, 0.8), ChargeGas::new(&fuel, 1.0));
        assert!(rich.unburned_gamma(700.0) < lean.unburned_gamma(700.0));
        assert!((lean.gas_constant_j_kg_k - 273.8).abs() < 1.0);
    }

    #[test]
    fn the_mixture_runs_from_fresh_to_burned() {
        let gas = ChargeGas::new(&Fuel::iso_octane(), 0.9);
        let model = GasModel::Mixture(gas);
        assert_eq!(model.gamma(0.0, 600.0, 600.0), gas.unburned_gamma(600.0));
        assert!((model.gamma(1.0, 900.0, 2200.0) - gas.burned_gamma(2200.0)).abs() < 1e-12);
    }
}
