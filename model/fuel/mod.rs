//! Fuels: how much energy a kilogram carries, how much air it needs, how much it cools, how well it resists knock.
//!
//! Exists because nearly every change a shop quotes ends in a mixture: the same air with another fuel gives other
//! work, other cooling and another knock limit. A fuel here is a blend of a petrol with ethanol and methanol; the
//! blending rules are in [`Fuel::blend`]. The file refuses to guess the ethanol in a pump fuel sold by name: what
//! is sold as "E85" holds 51-83 % ethanol by season (from memory), so the measured content is an argument.

mod kind;
pub mod supply;

pub use kind::{FuelKind, MOTOR_OCTANE_DOUBT};

use crate::numeric::Real;

/// Fresh air of combustion: kilograms of dry air that carry one kilogram of oxygen.
///
/// 23.144 % oxygen by mass. The equilibrium tables (Cantera 3.2: O₂ 0.2095, N₂ 0.7808, Ar 0.0093 by mole) leave out
/// carbon dioxide and so have air-fuel ratios 0.06 % lower.
pub const AIR_PER_OXYGEN: f64 = 1.0 / 0.231_44;
/// Molar mass of oxygen, kg/kmol (from memory, agrees with Cantera 3.2 to its last digit).
pub const OXYGEN_KG_KMOL: f64 = 31.998;
/// Latent heat of petrol per kilogram of stoichiometric air, J/kg.
const PETROL_COOLING_J_KG_AIR: f64 = 24e3;
const CARBON_KG_KMOL: f64 = 12.011;
const HYDROGEN_KG_KMOL: f64 = 1.008;
const OXYGEN_ATOM_KG_KMOL: f64 = 15.999;

/// Coefficients of the laminar burning velocity against mixture, at 298 K and 1 atm.
///
/// ```text
/// S_L0 = peak + curvature · (φ − richest)²      m/s
/// ```
///
/// Source: Metghalchi & Keck 1982 form, coefficients from memory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlameSpeed {
    /// Highest laminar burning velocity, m/s.
    pub peak_m_s: f64,
    /// Second-order fall on either side (negative), m/s.
    pub curvature_m_s: f64,
    /// Equivalence ratio φ = 1/λ of the peak.
    pub peak_equivalence: f64,
}

/// Laminar flame coefficients of petrol.
pub const PETROL_FLAME: FlameSpeed = FlameSpeed {
    peak_m_s: 0.305,
    curvature_m_s: -0.549,
    peak_equivalence: 1.21,
};
/// Laminar flame coefficients of iso-octane.
pub const ISO_OCTANE_FLAME: FlameSpeed = FlameSpeed {
    peak_m_s: 0.263,
    curvature_m_s: -0.847,
    peak_equivalence: 1.13,
};
/// Laminar flame coefficients of methanol.
pub const METHANOL_FLAME: FlameSpeed = FlameSpeed {
    peak_m_s: 0.369,
    curvature_m_s: -1.405,
    peak_equivalence: 1.11,
};
/// Laminar flame of ethanol: petrol's, 10 % faster (range 5..15 %; from memory).
pub const ETHANOL_FLAME: FlameSpeed = FlameSpeed {
    peak_m_s: 0.3355,
    curvature_m_s: -0.549,
    peak_equivalence: 1.21,
};

/// Standard deviations of a fuel's numbers, for priors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuelDoubt {
    /// Of the liquid's lower heating value, J/kg.
    pub lower_heating_value_j_kg: f64,
    /// Of the stoichiometric air-fuel ratio.
    pub stoichiometric_air_fuel: f64,
    /// Of the latent heat, J/kg.
    pub latent_heat_j_kg: f64,
    /// Of the density at 15 °C, kg/m³.
    pub density_kg_m3: f64,
    /// Of research and motor octane number.
    pub octane: f64,
}

/// What the part of a fuel that is not alcohol consists of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hydrocarbon {
    /// Petrol: a mixture of many.
    Petrol,
    /// Iso-octane alone.
    IsoOctane,
}

/// A liquid fuel as it enters the engine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fuel {
    /// Lower heating value of the liquid at 25 °C, J/kg.
    pub lower_heating_value_j_kg: f64,
    /// Lower heating value of the vapour, J/kg: the liquid's plus the latent heat.
    pub lower_heating_value_vapour_j_kg: f64,
    /// Kilograms of dry air that burn a kilogram of fuel completely.
    pub stoichiometric_air_fuel: f64,
    /// Latent heat of evaporation at 25 °C, J/kg.
    pub latent_heat_j_kg: f64,
    /// Density of the liquid at 15 °C, kg/m³.
    pub density_kg_m3: f64,
    /// Molar mass, kg/kmol (the vapour displaces air by its moles).
    pub molar_mass_kg_kmol: f64,
    /// Hydrogen atoms per carbon atom.
    pub hydrogen_per_carbon: f64,
    /// Oxygen atoms per carbon atom.
    pub oxygen_per_carbon: f64,
    /// Research octane number.
    pub research_octane: f64,
    /// Motor octane number.
    pub motor_octane: f64,
    /// Kind of the part that is not alcohol (petrol when there is none).
    pub hydrocarbon: Hydrocarbon,
    /// Ethanol, kg per kg of fuel.
    pub ethanol_mass_fraction: f64,
    /// Methanol, kg per kg of fuel.
    pub methanol_mass_fraction: f64,
    /// Laminar flame coefficients.
    pub flame: FlameSpeed,
    /// Standard deviations of the above.
    pub doubt: FuelDoubt,
}

/// Stoichiometric air-fuel ratio of C `H_h` `O_o`, kg of dry air per kg of fuel.
///
/// ```text
/// AFR = (1 + h/4 − o/2) · M_O2 · (air per oxygen) / M_fuel
/// ```
///
/// Source: atom balance. Worked: CH₁.₈₇ gives 14.60, C₈H₁₈ 15.13, C₂H₆O 9.00, CH₄O 6.47.
/// Equation (3.17).
pub fn stoichiometric_air_fuel(hydrogen_per_carbon: f64, oxygen_per_carbon: f64) -> f64 {
    (1.0 + hydrogen_per_carbon / 4.0 - oxygen_per_carbon / 2.0) * OXYGEN_KG_KMOL * AIR_PER_OXYGEN
        / molar_mass_per_carbon(hydrogen_per_carbon, oxygen_per_carbon)
}

/// Molar mass per carbon atom of C `H_h` `O_o`, kg/kmol.
/// Equation (3.17).
pub fn molar_mass_per_carbon(hydrogen_per_carbon: f64, oxygen_per_carbon: f64) -> f64 {
    CARBON_KG_KMOL
        + HYDROGEN_KG_KMOL * hydrogen_per_carbon
        + OXYGEN_ATOM_KG_KMOL * oxygen_per_carbon
}

impl Fuel {
    /// Petrol without oxygenates, by its research octane and, when known, its motor octane.
    ///
    /// Composition CH₁.₈₇, 43.4 MJ/kg (US DOE AFDC range 41.9..44.2), latent heat 350 kJ/kg, 745 kg/m³; molar mass
    /// 105 kg/kmol (from memory). Missing motor octane: RON − 10 between 95 and up, RON − 9 at 91 (from memory).
    pub fn petrol(research_octane: f64, motor_octane: Option<f64>) -> Self {
        let hydrogen_per_carbon = 1.87;
        let sensitivity = (9.0 + (research_octane - 91.0) / 4.0).clamp(8.0, 10.0);
        Self {
            lower_heating_value_j_kg: 43.4e6,
            lower_heating_value_vapour_j_kg: 43.75e6,
            stoichiometric_air_fuel: stoichiometric_air_fuel(hydrogen_per_carbon, 0.0),
            latent_heat_j_kg: 350e3,
            density_kg_m3: 745.0,
            molar_mass_kg_kmol: 105.0,
            hydrogen_per_carbon,
            oxygen_per_carbon: 0.0,
            research_octane,
            motor_octane: motor_octane.unwrap_or(research_octane - sensitivity),
            hydrocarbon: Hydrocarbon::Petrol,
            ethanol_mass_fraction: 0.0,
            methanol_mass_fraction: 0.0,
            flame: PETROL_FLAME,
            doubt: FuelDoubt {
                lower_heating_value_j_kg: 0.4e6,
                stoichiometric_air_fuel: 0.15,
                latent_heat_j_kg: 20e3,
                density_kg_m3: 12.0,
                octane: 0.7,
            },
        }
    }

    /// Iso-octane, the reference fuel of octane 100 (Cantera 3.2 NASA polynomials, latent heat CRC).
    pub fn iso_octane() -> Self {
        Self {
            lower_heating_value_j_kg: 44_342_522.0,
            lower_heating_value_vapour_j_kg: 44_650_141.0,
            stoichiometric_air_fuel: stoichiometric_air_fuel(2.25, 0.0),
            latent_heat_j_kg: 307_619.0,
            density_kg_m3: 692.0,
            molar_mass_kg_kmol: 114.232,
            hydrogen_per_carbon: 2.25,
            oxygen_per_carbon: 0.0,
            research_octane: 100.0,
            motor_octane: 100.0,
            hydrocarbon: Hydrocarbon::IsoOctane,
            ethanol_mass_fraction: 0.0,
            methanol_mass_fraction: 0.0,
            flame: ISO_OCTANE_FLAME,
            doubt: PURE_DOUBT,
        }
    }

    /// Ethanol (heating values and latent heat Cantera 3.2 and `CoolProp` 8.0; octane US DOE AFDC).
    pub fn ethanol() -> Self {
        Self {
            lower_heating_value_j_kg: 26_810_376.0,
            lower_heating_value_vapour_j_kg: 27_731_028.0,
            stoichiometric_air_fuel: stoichiometric_air_fuel(3.0, 0.5),
            latent_heat_j_kg: 920_652.0,
            density_kg_m3: 792.0,
            molar_mass_kg_kmol: 46.069,
            hydrogen_per_carbon: 3.0,
            oxygen_per_carbon: 0.5,
            research_octane: 108.0,
            motor_octane: 92.0,
            hydrocarbon: Hydrocarbon::Petrol,
            ethanol_mass_fraction: 1.0,
            methanol_mass_fraction: 0.0,
            flame: ETHANOL_FLAME,
            doubt: PURE_DOUBT,
        }
    }

    /// Methanol (heating values and latent heat Cantera 3.2 and `CoolProp` 8.0; octane US DOE AFDC).
    pub fn methanol() -> Self {
        Self {
            lower_heating_value_j_kg: 19_935_109.0,
            lower_heating_value_vapour_j_kg: 21_104_118.0,
            stoichiometric_air_fuel: stoichiometric_air_fuel(4.0, 1.0),
            latent_heat_j_kg: 1_169_009.0,
            density_kg_m3: 794.0,
            molar_mass_kg_kmol: 32.042,
            hydrogen_per_carbon: 4.0,
            oxygen_per_carbon: 1.0,
            research_octane: 107.0,
            motor_octane: 92.0,
            hydrocarbon: Hydrocarbon::Petrol,
            ethanol_mass_fraction: 0.0,
            methanol_mass_fraction: 1.0,
            flame: METHANOL_FLAME,
            doubt: PURE_DOUBT,
        }
    }

    /// Petrol with a measured share of ethanol by volume (0.10 for E10, 0.85 for a full-strength E85).
    pub fn petrol_with_ethanol(petrol: Self, ethanol_volume_fraction: f64) -> Self {
        let ethanol = Self::ethanol();
        let share = ethanol_volume_fraction.clamp(0.0, 1.0);
        let ethanol_kg = share * ethanol.density_kg_m3;
        let petrol_kg = (1.0 - share) * petrol.density_kg_m3;
        Self::blend(petrol, ethanol, ethanol_kg / (ethanol_kg + petrol_kg))
    }

    /// Blend of two fuels by the mass share of the second, clamped to 0..1.
    ///
    /// Rules: energy, air demand and latent heat add by mass (exact for a mixture, heat of mixing neglected, below
    /// 0.1 %); volumes add (real petrol-ethanol swells by up to 0.3 %); atoms add; octane and flame coefficients add
    /// by mole (octane: from memory of the molar rule for alcohols in petrol, ± 2 numbers: the rule puts E85 at 107
    /// where 102..106 is usually printed, so [`Fuel::octane_index`] must not be read closer than that).
    /// Equation (3.17).
    pub fn blend(first: Self, second: Self, second_mass_fraction: f64) -> Self {
        let w = second_mass_fraction.clamp(0.0, 1.0);
        let by_mass = |a: f64, b: f64| a + w * (b - a);
        let moles_first = (1.0 - w) / first.molar_mass_kg_kmol;
        let moles_second = w / second.molar_mass_kg_kmol;
        let moles = moles_first + moles_second;
        let x = moles_second / moles;
        let by_mole = |a: f64, b: f64| a + x * (b - a);
        let carbons = |fuel: &Self, mass: f64| {
            mass / molar_mass_per_carbon(fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon)
        };
        let (c1, c2) = (carbons(&first, 1.0 - w), carbons(&second, w));
        let per_carbon = |a: f64, b: f64| (c1 * a + c2 * b) / (c1 + c2);
        let mixed = x * (1.0 - x) * 4.0;
        let other = |fuel: &Self| 1.0 - fuel.ethanol_mass_fraction - fuel.methanol_mass_fraction;
        let first_hydrocarbon = (1.0 - w) * other(&first) >= w * other(&second);
        Self {
            lower_heating_value_j_kg: by_mass(
                first.lower_heating_value_j_kg,
                second.lower_heating_value_j_kg,
            ),
            lower_heating_value_vapour_j_kg: by_mass(
                first.lower_heating_value_vapour_j_kg,
                second.lower_heating_value_vapour_j_kg,
            ),
            stoichiometric_air_fuel: by_mass(
                first.stoichiometric_air_fuel,
                second.stoichiometric_air_fuel,
            ),
            latent_heat_j_kg: by_mass(first.latent_heat_j_kg, second.latent_heat_j_kg),
            density_kg_m3: 1.0 / by_mass(1.0 / first.density_kg_m3, 1.0 / second.density_kg_m3),
            molar_mass_kg_kmol: 1.0 / moles,
            hydrogen_per_carbon: per_carbon(first.hydrogen_per_carbon, second.hydrogen_per_carbon),
            oxygen_per_carbon: per_carbon(first.oxygen_per_carbon, second.oxygen_per_carbon),
            research_octane: by_mole(first.research_octane, second.research_octane),
            motor_octane: by_mole(first.motor_octane, second.motor_octane),
            hydrocarbon: if first_hydrocarbon {
                first.hydrocarbon
            } else {
                second.hydrocarbon
            },
            ethanol_mass_fraction: by_mass(
                first.ethanol_mass_fraction,
                second.ethanol_mass_fraction,
            ),
            methanol_mass_fraction: by_mass(
                first.methanol_mass_fraction,
                second.methanol_mass_fraction,
            ),
            flame: FlameSpeed {
                peak_m_s: by_mole(first.flame.peak_m_s, second.flame.peak_m_s),
                curvature_m_s: by_mole(first.flame.curvature_m_s, second.flame.curvature_m_s),
                peak_equivalence: by_mole(
                    first.flame.peak_equivalence,
                    second.flame.peak_equivalence,
                ),
            },
            doubt: FuelDoubt {
                lower_heating_value_j_kg: by_mass(
                    first.doubt.lower_heating_value_j_kg,
                    second.doubt.lower_heating_value_j_kg,
                ),
                stoichiometric_air_fuel: by_mass(
                    first.doubt.stoichiometric_air_fuel,
                    second.doubt.stoichiometric_air_fuel,
                ),
                latent_heat_j_kg: by_mass(
                    first.doubt.latent_heat_j_kg,
                    second.doubt.latent_heat_j_kg,
                ),
                density_kg_m3: by_mass(first.doubt.density_kg_m3, second.doubt.density_kg_m3),
                octane: by_mole(first.doubt.octane, second.doubt.octane).hypot(2.0 * mixed),
            },
        }
    }

    /// Octane index that an engine sees, `OI = RON − K · (RON − MON)`.
    ///
    /// `severity` K: 0 ± 0.3 without boost, −0.3..−0.5 boosted (from memory of the octane-index literature).
    /// Worked: RON 95, MON 85, K 0.5 gives 90.
    /// Equation (3.16).
    pub fn octane_index(&self, severity: f64) -> f64 {
        self.research_octane - severity * (self.research_octane - self.motor_octane)
    }

    /// Octane index less the share that the rating test itself owes to charge cooling.
    ///
    /// Use this where the model already lowers the charge temperature by evaporation, otherwise the cooling of an
    /// alcohol is counted twice. Deduction: 0.064 numbers per kJ of latent heat per kg of stoichiometric air above
    /// petrol's, i.e. 5 for ethanol. No source for the slope: it is set so that E85 made from RON 95 lands at
    /// 103, inside the 100..104 recommended for its chemical octane. Doubt of the deduction: 40 %.
    /// Equation (3.16).
    pub fn chemical_octane_index(&self, severity: f64) -> f64 {
        let cooling = self.latent_heat_j_kg / self.stoichiometric_air_fuel;
        self.octane_index(severity) - 0.064e-3 * (cooling - PETROL_COOLING_J_KG_AIR).max(0.0)
    }

    /// Share of this fuel that evaporates from the air's heat where a third of petrol would, relative to that third.
    ///
    /// ```text
    /// f = √(h_petrol/h),   h = latent heat per kilogram of stoichiometric air
    /// ```
    ///
    /// An alcohol asks for several times petrol's heat, and the film evaporates as far as heat and time allow: a constant share
    /// would give it all in proportion, a constant heat nothing more than petrol. No source: the square root is halfway
    /// between, and gives engines without boost the 2 to 6 % that E85 is held to gain (common practice, no source).
    /// Equation (2.5).
    pub fn relative_evaporation(&self) -> f64 {
        let own = self.latent_heat_j_kg / self.stoichiometric_air_fuel;
        (PETROL_COOLING_J_KG_AIR / own).sqrt().min(1.0)
    }

    /// Fuel burned with a kilogram of dry air at a mixture λ, kg.
    #[inline(always)]
    pub fn fuel_per_air<R: Real>(&self, lambda: R) -> R {
        (lambda * self.stoichiometric_air_fuel).dividing(1.0)
    }

    /// Heating value of the vapour that a kilogram of air can burn at λ = 1, J/kg of air.
    pub fn energy_per_air_j_kg(&self) -> f64 {
        self.lower_heating_value_vapour_j_kg / self.stoichiometric_air_fuel
    }

    /// Temperature drop of the charge if all fuel evaporates from the air's own heat, K.
    ///
    /// ```text
    /// ΔT = (fuel per air) · h_fg / c
    /// ```
    ///
    /// c = 1030 J/kgK per kg of air, which lumps the vapour's own warmth; an upper bound: walls supply most of the
    /// heat in port injection. Worked: ethanol at λ = 0.88 gives 113 K, methanol 199 K, petrol 26 K
    /// (200 K for methanol with `CoolProp` latent heat, computed elsewhere).
    /// Equation (2.5).
    #[inline(always)]
    pub fn full_evaporation_drop_k<R: Real>(&self, lambda: R) -> R {
        self.fuel_per_air(lambda) * self.latent_heat_j_kg / 1030.0
    }

    /// Laminar burning velocity of the fresh charge, m/s.
    ///
    /// ```text
    /// S_L = S_L0(φ) · (T_u/298)^α · (p/1 atm)^β · (1 − 2.1 Y),   α = 2.18 − 0.8(φ−1),  β = −0.16 + 0.22(φ−1)
    /// ```
    ///
    /// Holds for 0.4..50 atm, 298..700 K, diluent mass fraction Y ≤ 0.2, within 10 % (Metghalchi & Keck 1982,
    /// abstract read; coefficients from memory). Not below 2 cm/s, so that ratios stay finite at the mixture limits.
    /// Equation (3.6).
    #[inline(always)]
    pub fn laminar_flame_speed_m_s<R: Real>(
        &self,
        lambda: R,
        temperature_k: R,
        pressure_pa: R,
        diluent_mass_fraction: R,
    ) -> R {
        let (temperature_ln, pressure_ln) = (temperature_k.ln(), pressure_pa.ln());
        self.laminar_flame_ln(lambda, temperature_ln, pressure_ln, diluent_mass_fraction)
            .exp()
    }

    /// Its logarithm, of those of temperature, K, and pressure, Pa.
    /// Equation (3.6).
    #[inline(always)]
    pub(crate) fn laminar_flame_ln<R: Real>(
        &self,
        lambda: R,
        temperature_ln: R,
        pressure_ln: R,
        diluent_mass_fraction: R,
    ) -> R {
        let phi = lambda.dividing(1.0);
        let off_peak = phi - self.flame.peak_equivalence;
        let bend = off_peak * self.flame.curvature_m_s * off_peak;
        let base = (bend + self.flame.peak_m_s).at_least(0.02);
        let richer = phi - 1.0;
        let (alpha, beta) = ((richer * 0.8).taken_from(2.18), richer * 0.22 - 0.16);
        let dilution = (diluent_mass_fraction * 2.1).taken_from(1.0).at_least(0.1);
        (base * dilution).ln()
            + alpha * (temperature_ln - 298_f64.ln())
            + beta * (pressure_ln - 101_325_f64.ln())
    }
}

/// Oxygen by mass in nitrous oxide (molar masses 15.999 and 44.013).
pub const NITROUS_OXYGEN_FRACTION: f64 = 15.999 / 44.013;
/// Heat that nitrous oxide gives when it falls apart, J/kg at 25 °C (81.6 kJ/mol; NASA polynomials).
/// Equation (3.19).
pub const NITROUS_DECOMPOSITION_J_KG: f64 = 1_853_996.0;

/// Heat that nitrous oxide takes up from liquid in a bottle at 25 °C to gas at 25 °C and low pressure, J/kg (`CoolProp` 8.0;
/// 255 kJ/kg from 20 °C, 223 from 30 °C).
/// Equation (4.8).
pub const NITROUS_LATENT_J_KG: f64 = 240e3;
/// Specific heat of the gas at constant pressure, J/(kg K), at 300 K (`CoolProp` 8.0).
pub const NITROUS_CP_J_KG_K: f64 = 878.0;
/// Molar mass of nitrous oxide, kg/kmol.
pub const NITROUS_KG_KMOL: f64 = 44.013;
/// Dry air that carries the oxygen of a kilogram of nitrous oxide, kg. Worked: 1.571.
/// Equation (3.13).
pub const NITROUS_AIR: f64 = NITROUS_OXYGEN_FRACTION * AIR_PER_OXYGEN;

/// Pressure in a bottle of nitrous oxide, Pa, from its temperature: `exp(22.103 − 1954/T)`.
///
/// Through the saturation pressures at 10 and 30 °C of `CoolProp` 8.0; within 0.3 % at 20 °C. Above the critical point (36.4 °C) a
/// bottle's pressure follows its filling, which this does not know.
/// Equation (3.15).
pub fn nitrous_bottle_pa(temperature_k: f64) -> f64 {
    (22.103 - 1954.0 / temperature_k).exp()
}

/// Mass flow of an injector, kg/s: `q₀ · √(Δp/Δp₀) · duty`.
///
/// Δp is rail less manifold pressure (a rail without manifold reference loses flow under boost). Duty limit 0.85 ± 0.03.
/// Worked: 3 to 4 bar gives 1.155 times the flow.
pub fn injector_flow_kg_s(
    rated_flow_kg_s: f64,
    rated_pressure_pa: f64,
    pressure_pa: f64,
    duty: f64,
) -> f64 {
    rated_flow_kg_s * (pressure_pa.max(0.0) / rated_pressure_pa).sqrt() * duty
}

/// Doubt of a pure substance: heating value and density are known, the octane rating is not so well.
const PURE_DOUBT: FuelDoubt = FuelDoubt {
    lower_heating_value_j_kg: 0.05e6,
    stoichiometric_air_fuel: 0.01,
    latent_heat_j_kg: 8e3,
    density_kg_m3: 2.0,
    octane: 1.5,
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_blend_with_nothing_is_the_fuel_itself() {
        let petrol = Fuel::petrol(95.0, Some(85.0));
        let same = Fuel::blend(petrol, Fuel::ethanol(), 0.0);
        assert_eq!(same.research_octane, petrol.research_octane);
        assert!((same.density_kg_m3 - petrol.density_kg_m3).abs() < 1e-9);
        let all = Fuel::petrol_with_ethanol(petrol, 1.0);
        assert!(
            (all.stoichiometric_air_fuel - Fuel::ethanol().stoichiometric_air_fuel).abs() < 1e-12
        );
    }

    #[test]
    fn air_demand_by_mass_agrees_with_the_atoms_of_the_blend() {
        let e85 = Fuel::petrol_with_ethanol(Fuel::petrol(95.0, None), 0.85);
        let atoms = stoichiometric_air_fuel(e85.hydrogen_per_carbon, e85.oxygen_per_carbon);
        assert!((e85.stoichiometric_air_fuel / atoms - 1.0).abs() < 1e-12);
    }

    #[test]
    fn octane_index_of_a_sensitive_fuel_falls_with_severity() {
        let fuel = Fuel::petrol(95.0, Some(85.0));
        assert_eq!(fuel.octane_index(0.5), 90.0);
        assert_eq!(fuel.octane_index(0.0), 95.0);
    }
}
