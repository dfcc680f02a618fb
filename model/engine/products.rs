//! What comes out of the burn: composition, energy released, and the warmth the gas carries away.
//!
//! Exists for the exhaust's first law and for the heat given to the closed cycle. A rich charge cannot release all its
//! fuel's energy, the oxygen is short; what is left sits in carbon monoxide and hydrogen in the ratio of the water-gas
//! reaction frozen near 1740 K. It refuses to give dissociated gas above 2000 K and unburned hydrocarbons.
//!
//! Source: atom balance (derived) with the frozen water-gas reaction, J. B. Heywood, Internal Combustion Engine Fundamentals,
//! ch. 4 (from memory); enthalpies fitted to the NASA polynomials of Cantera 3.2.

use crate::fuel::{
    AIR_PER_OXYGEN, Fuel, NITROUS_AIR, NITROUS_DECOMPOSITION_J_KG, NITROUS_KG_KMOL,
    molar_mass_per_carbon,
};
use crate::numeric::Real;

/// Equilibrium constant (H₂O·CO)/(CO₂·H₂) of the water-gas reaction at 1740 K (Heywood, from memory).
pub const WATER_GAS_CONSTANT: f64 = 3.5;
/// Heat of combustion of carbon monoxide, J/kmol at 25 °C (NASA polynomials, Cantera 3.2).
pub const CARBON_MONOXIDE_J_KMOL: f64 = 282.98e6;
/// Lower heat of combustion of hydrogen, J/kmol at 25 °C (NASA polynomials, Cantera 3.2).
pub const HYDROGEN_J_KMOL: f64 = 241.82e6;
/// Temperature of the enthalpy zero, K.
pub const REFERENCE_K: f64 = 298.15;
/// Mean molar mass of nitrogen with argon, kg/kmol: 0.7808 N₂ and 0.0093 Ar.
const NITROGEN_KG_KMOL: f64 = 28.155;

/// Sensible enthalpy of a species above 298.15 K: `a (T − T₀) + b (T² − T₀²)`, J/kmol.
///
/// Least squares on the NASA polynomials over 600..1600 K; largest relative error there: CO₂ 1.9 %, O₂ 0.8 %, H₂ 0.6 %,
/// CO 0.4 %, H₂O 0.3 %, N₂ 0.2 %. Argon is counted with nitrogen (its lower heat capacity costs 0.2 %).
const CO2: [f64; 2] = [35_513.7, 8.9779];
const H2O: [f64; 2] = [29_275.1, 6.0252];
const CO: [f64; 2] = [27_007.3, 2.9652];
const H2: [f64; 2] = [27_948.2, 1.2318];
const O2: [f64; 2] = [27_899.2, 3.3248];
const N2: [f64; 2] = [26_961.9, 2.7753];

/// Burned gas of one fuel at one mixture; amounts are per kilogram of dry air that went in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Products<R = f64> {
    /// Carbon dioxide, kmol per kg air.
    pub carbon_dioxide_kmol: R,
    /// Carbon monoxide, kmol per kg air.
    pub carbon_monoxide_kmol: R,
    /// Water vapour, kmol per kg air.
    pub water_kmol: R,
    /// Hydrogen, kmol per kg air.
    pub hydrogen_kmol: R,
    /// Oxygen left over, kmol per kg air.
    pub oxygen_kmol: R,
    /// Nitrogen with argon, kmol per kg air.
    pub nitrogen_kmol: R,
    /// Mass of products, kg per kg air.
    pub mass_kg: R,
    /// Energy released (fuel as vapour at 25 °C, products back at 25 °C), J per kg air.
    pub released_j: R,
    enthalpy: [R; 2],
}

impl<R: Real> Products<R> {
    /// Complete burning as far as the oxygen reaches; λ is held at 0.5 or more.
    /// Equation (3.19).
    #[inline(always)]
    pub fn burned(fuel: &Fuel, lambda: R) -> Self {
        let lambda = lambda.at_least(0.5);
        let (h, o) = (fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon);
        let demand = 1.0 + h / 4.0 - o / 2.0;
        let fuel_kg = fuel.fuel_per_air(lambda);
        let carbon_kmol = fuel_kg / molar_mass_per_carbon(h, o);
        let short = (lambda.taken_from(1.0) * (2.0 * demand)).at_least(0.0);
        // H2O·CO = K·CO2·H2 with CO = c, H2 = short − c per carbon.
        let k = WATER_GAS_CONSTANT;
        let linear = short.taken_from(h / 2.0) + k + short * k;
        let root = (linear * linear + short * (4.0 * (1.0 - k) * k))
            .at_least(0.0)
            .sqrt();
        let monoxide = (short * (2.0 * k) / (linear + root)).at_most(1.0);
        let hydrogen = short - monoxide;
        let oxygen_in = lambda * demand;
        let per_air = |per_carbon: R| carbon_kmol * per_carbon;
        let mut products = Self {
            carbon_dioxide_kmol: per_air(monoxide.taken_from(1.0)),
            carbon_monoxide_kmol: per_air(monoxide),
            water_kmol: per_air(hydrogen.taken_from(h / 2.0)),
            hydrogen_kmol: per_air(hydrogen),
            oxygen_kmol: per_air((oxygen_in - demand).at_least(0.0)),
            nitrogen_kmol: lambda.of((1.0 - 1.0 / AIR_PER_OXYGEN) / NITROGEN_KG_KMOL),
            mass_kg: fuel_kg + 1.0,
            released_j: fuel_kg * fuel.lower_heating_value_vapour_j_kg
                - per_air(monoxide * CARBON_MONOXIDE_J_KMOL + hydrogen * HYDROGEN_J_KMOL),
            enthalpy: [lambda.of(0.0); 2],
        };
        products.add_enthalpies();
        products
    }

    /// One of several side by side.
    #[inline(always)]
    #[must_use]
    pub fn one(&self, k: usize) -> Products {
        Products {
            carbon_dioxide_kmol: self.carbon_dioxide_kmol.one(k),
            carbon_monoxide_kmol: self.carbon_monoxide_kmol.one(k),
            water_kmol: self.water_kmol.one(k),
            hydrogen_kmol: self.hydrogen_kmol.one(k),
            oxygen_kmol: self.oxygen_kmol.one(k),
            nitrogen_kmol: self.nitrogen_kmol.one(k),
            mass_kg: self.mass_kg.one(k),
            released_j: self.released_j.one(k),
            enthalpy: self.enthalpy.map(|e| e.one(k)),
        }
    }

    #[inline(always)]
    fn add_enthalpies(&mut self) {
        for power in 0..2 {
            self.enthalpy[power] = self.carbon_dioxide_kmol * CO2[power]
                + self.carbon_monoxide_kmol * CO[power]
                + self.water_kmol * H2O[power]
                + self.hydrogen_kmol * H2[power]
                + self.oxygen_kmol * O2[power]
                + self.nitrogen_kmol * N2[power];
        }
    }

    /// Sensible enthalpy above 25 °C, J per kg of air that went in. Range 300..1700 K, about 0.5 %.
    #[inline(always)]
    pub fn sensible_enthalpy_j(&self, temperature_k: R) -> R {
        let [a, b] = self.enthalpy;
        a * (temperature_k - REFERENCE_K)
            + b * (temperature_k * temperature_k - REFERENCE_K * REFERENCE_K)
    }

    /// Temperature at a sensible enthalpy (J per kg air), K: the positive root of the quadratic.
    #[inline(always)]
    pub fn temperature_k(&self, sensible_enthalpy_j: R) -> R {
        let [a, b] = self.enthalpy;
        let constant = sensible_enthalpy_j + a * REFERENCE_K + b * REFERENCE_K * REFERENCE_K;
        constant * 2.0 / (a + (a * a + b * 4.0 * constant).at_least(0.0).sqrt())
    }

    /// Specific heat at constant pressure, J/K per kg of air that went in.
    #[inline(always)]
    pub fn heat_capacity_j_k(&self, temperature_k: R) -> R {
        self.enthalpy[0] + self.enthalpy[1] * 2.0 * temperature_k
    }

    /// Amount of products, kmol per kg air.
    #[inline(always)]
    pub fn total_kmol(&self) -> R {
        self.carbon_dioxide_kmol
            + self.carbon_monoxide_kmol
            + self.water_kmol
            + self.hydrogen_kmol
            + self.oxygen_kmol
            + self.nitrogen_kmol
    }

    /// Gas constant of the products, J/kg K.
    #[inline(always)]
    pub fn gas_constant_j_kg_k(&self) -> R {
        self.total_kmol() * super::GAS_CONSTANT_J_KMOL_K / self.mass_kg
    }

    /// Frozen heat-capacity ratio of the products.
    #[inline(always)]
    pub fn gamma(&self, temperature_k: R) -> R {
        let cp = self.heat_capacity_j_k(temperature_k);
        cp / (cp - self.total_kmol() * super::GAS_CONSTANT_J_KMOL_K)
    }
}

impl Products {
    /// The same with nitrous oxide beside the air, kg per kg air, its oxygen burned at the same mixture.
    ///
    /// Everything of the fuel grows with the oxygen; nitrogen only by what the nitrous oxide leaves, and its heat of
    /// decomposition is released with the rest.
    /// Equation (3.19).
    #[must_use]
    pub fn with_nitrous(mut self, per_air: f64) -> Self {
        if per_air == 0.0 {
            return self;
        }
        let oxygen = 1.0 + NITROUS_AIR * per_air;
        self.carbon_dioxide_kmol *= oxygen;
        self.carbon_monoxide_kmol *= oxygen;
        self.water_kmol *= oxygen;
        self.hydrogen_kmol *= oxygen;
        self.oxygen_kmol *= oxygen;
        self.nitrogen_kmol += per_air / NITROUS_KG_KMOL;
        self.mass_kg = 1.0 + (self.mass_kg - 1.0) * oxygen + per_air;
        self.released_j = self.released_j * oxygen + per_air * NITROUS_DECOMPOSITION_J_KG;
        self.add_enthalpies();
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperature_and_enthalpy_are_inverse() {
        let products = Products::burned(&Fuel::petrol(95.0, None), 0.85);
        for kelvin in [298.15, 700.0, 1250.0, 1900.0] {
            let back = products.temperature_k(products.sensible_enthalpy_j(kelvin));
            assert!((back - kelvin).abs() < 1e-9);
        }
    }

    #[test]
    fn nitrous_oxide_conserves_mass_and_none_of_it_changes_nothing() {
        let plain = Products::burned(&Fuel::petrol(95.0, None), 0.88);
        assert_eq!(plain.with_nitrous(0.0), plain);
        let p = plain.with_nitrous(0.1);
        let mass = 44.009 * p.carbon_dioxide_kmol
            + 28.010 * p.carbon_monoxide_kmol
            + 18.015 * p.water_kmol
            + 2.016 * p.hydrogen_kmol
            + 31.998 * p.oxygen_kmol
            + 28.155 * p.nitrogen_kmol;
        // Molar masses printed to five digits; the nitrogen of the nitrous oxide carries no argon.
        assert!(
            (mass / p.mass_kg - 1.0).abs() < 4e-4,
            "{mass} {}",
            p.mass_kg
        );
    }

    #[test]
    fn atoms_and_mass_are_conserved() {
        let fuel = Fuel::petrol_with_ethanol(Fuel::petrol(95.0, None), 0.5);
        for lambda in [0.7, 0.9, 1.0, 1.3] {
            let p = Products::burned(&fuel, lambda);
            let mass = 44.009 * p.carbon_dioxide_kmol
                + 28.010 * p.carbon_monoxide_kmol
                + 18.015 * p.water_kmol
                + 2.016 * p.hydrogen_kmol
                + 31.998 * p.oxygen_kmol
                + 28.155 * p.nitrogen_kmol;
            // Molar masses printed to five digits.
            assert!(
                (mass / p.mass_kg - 1.0).abs() < 2e-4,
                "{lambda}: {mass} {}",
                p.mass_kg
            );
        }
    }
}
