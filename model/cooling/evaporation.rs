//! Cooling of the charge by a liquid evaporating in it: sprayed water and methanol, or the fuel itself.
//!
//! Exists because a sprayed liquid cools only while the air can still hold its vapour. The water that is left is carried
//! into the cylinder; this file says how much. It refuses droplet kinetics: the evaporated share that time allows is given
//! by the caller.

/// A liquid that may evaporate in the charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liquid {
    /// Latent heat at 25 °C, J/kg.
    pub latent_heat_j_kg: f64,
    /// Specific heat of the vapour, J/(kg K).
    pub vapour_cp_j_kg_k: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_mol: f64,
}

impl Liquid {
    /// Water. Latent heat of `CoolProp` 8.0 at 25 °C; vapour heat capacity of NASA polynomials at 300 K.
    pub const WATER: Self = Self {
        latent_heat_j_kg: 2.442e6,
        vapour_cp_j_kg_k: 1865.0,
        molar_mass_kg_mol: 0.018015,
    };
    /// Methanol; same sources.
    pub const METHANOL: Self = Self {
        latent_heat_j_kg: 1.169e6,
        vapour_cp_j_kg_k: 1370.0,
        molar_mass_kg_mol: 0.032042,
    };
    /// Ethanol; same sources.
    pub const ETHANOL: Self = Self {
        latent_heat_j_kg: 0.921e6,
        vapour_cp_j_kg_k: 1420.0,
        molar_mass_kg_mol: 0.046068,
    };
    /// Gasoline, typical (common practice, no source).
    pub const GASOLINE: Self = Self {
        latent_heat_j_kg: 0.350e6,
        vapour_cp_j_kg_k: 1650.0,
        molar_mass_kg_mol: 0.105,
    };
}

/// Temperature at which the liquid enters and its latent heat is stated, K.
const LIQUID_K: f64 = 298.15;

/// Molar mass of dry air, kg/mol.
const AIR_MOLAR_MASS: f64 = 0.028960;

/// Air that takes up the vapour, per kilogram of dry air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistStream {
    /// Temperature before evaporation, K.
    pub temperature_k: f64,
    /// Absolute pressure, Pa.
    pub pressure_pa: f64,
    /// Water vapour carried before, kg per kg of dry air.
    pub humidity_ratio: f64,
}

/// What evaporation did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evaporation {
    /// Temperature after, K.
    pub temperature_k: f64,
    /// Liquid evaporated, kg per kg of dry air.
    pub evaporated: f64,
    /// Liquid left, kg per kg of dry air.
    pub left: f64,
    /// Volume of the stream's air left for air: `1/(1 + x M_air/M)`; the vapour takes the rest.
    pub air_share: f64,
    /// Whether saturation stopped it.
    pub saturated: bool,
}

/// Saturation pressure of water vapour, Pa: `611.2 exp(17.62 t/(243.12 + t))`, t in °C.
///
/// Source: Magnus form as printed by WMO and ISO (from memory); within 0.5 % from −20 to 60 °C, 2 % low at 100 °C. The
/// argument is held at −60 °C below.
/// Equation (5.9).
pub fn saturation_pressure_pa(temperature_k: f64) -> f64 {
    let t = (temperature_k - 273.15).max(-60.0);
    611.2 * (17.62 * t / (243.12 + t)).exp()
}

/// Water vapour that air can hold, kg per kg dry air: `0.622 p_s/(p − p_s)`; unbounded once the water boils.
pub fn saturation_humidity_ratio(temperature_k: f64, pressure_pa: f64) -> f64 {
    let ps = saturation_pressure_pa(temperature_k);
    if ps >= pressure_pa {
        f64::INFINITY
    } else {
        Liquid::WATER.molar_mass_kg_mol / AIR_MOLAR_MASS * ps / (pressure_pa - ps)
    }
}

impl MoistStream {
    /// Heat capacity of the stream at constant pressure, J/K per kilogram of dry air.
    pub fn capacity_j_kg_k(self) -> f64 {
        const DRY_AIR_CP: f64 = 1006.0;
        DRY_AIR_CP + self.humidity_ratio * Liquid::WATER.vapour_cp_j_kg_k
    }

    /// Temperature after `evaporated` kg of a liquid per kg of dry air have evaporated adiabatically, K.
    ///
    /// ```text
    /// ΔT = m_v [h_fg + cp_v (T − 298.15)]/(cp_a + w cp_w + m_v cp_v)
    /// ```
    ///
    /// Latent heat at 25 °C and liquid entering at 25 °C; heat capacities constant. Water at 0.2 of the fuel, λ 0.88, into
    /// air of 25 °C: 37 K.
    /// Source: derived from the enthalpy balance of air, vapour and liquid.
    /// Equation (5.9).
    pub fn cooled_k(self, liquid: Liquid, evaporated: f64) -> f64 {
        let warming = liquid.vapour_cp_j_kg_k * (self.temperature_k - LIQUID_K);
        self.temperature_k
            - evaporated * (liquid.latent_heat_j_kg + warming)
                / (self.capacity_j_kg_k() + evaporated * liquid.vapour_cp_j_kg_k)
    }

    /// Evaporation of a liquid other than water, or of water without a saturation limit: `share` of it evaporates.
    ///
    /// Source of the share: port-injected fuel evaporates 0.2 to 0.4 into the charge, the walls supply the rest (from
    /// memory); direct injection about 0.7 of the maximum (Kasseris and Heywood, SAE 2012-01-1275, abstract).
    pub fn evaporate(self, liquid: Liquid, liquid_per_dry_air: f64, share: f64) -> Evaporation {
        let evaporated = liquid_per_dry_air.max(0.0) * share.clamp(0.0, 1.0);
        self.outcome(liquid, liquid_per_dry_air, evaporated, false)
    }

    /// Evaporation of water until the air is saturated: the smaller of `share` of the water and what the cooled air holds.
    ///
    /// Solves `w + m_v = 0.622 p_s(T)/(p − p_s(T))` with T at that very `m_v`, by bisection (both sides are monotone).
    /// Equation (5.9).
    pub fn evaporate_water(self, water_per_dry_air: f64, share: f64) -> Evaporation {
        let liquid = Liquid::WATER;
        let wanted = water_per_dry_air.max(0.0) * share.clamp(0.0, 1.0);
        let room = |m: f64| {
            saturation_humidity_ratio(self.cooled_k(liquid, m), self.pressure_pa)
                - self.humidity_ratio
                - m
        };
        if room(wanted) >= 0.0 {
            return self.outcome(liquid, water_per_dry_air, wanted, false);
        }
        let (mut low, mut high) = (0.0, wanted);
        for _ in 0..60 {
            let m = 0.5 * (low + high);
            if room(m) >= 0.0 { low = m } else { high = m }
        }
        self.outcome(liquid, water_per_dry_air, low, true)
    }

    fn outcome(self, liquid: Liquid, given: f64, evaporated: f64, saturated: bool) -> Evaporation {
        Evaporation {
            temperature_k: self.cooled_k(liquid, evaporated),
            evaporated,
            left: given.max(0.0) - evaporated,
            air_share: 1.0 / (1.0 + evaporated * AIR_MOLAR_MASS / liquid.molar_mass_kg_mol),
            saturated,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_already_saturated_takes_no_water() {
        let w = saturation_humidity_ratio(300.0, 1e5);
        let stream = MoistStream {
            temperature_k: 300.0,
            pressure_pa: 1e5,
            humidity_ratio: w,
        };
        let e = stream.evaporate_water(0.02, 1.0);
        assert!(e.saturated && e.evaporated < 1e-12 && (e.temperature_k - 300.0).abs() < 1e-8);
    }

    #[test]
    fn hot_charge_takes_all_the_water_a_kit_sprays() {
        let stream = MoistStream {
            temperature_k: 400.0,
            pressure_pa: 1.6e5,
            humidity_ratio: 0.008,
        };
        let e = stream.evaporate_water(0.0156, 1.0);
        assert!(!e.saturated && e.left == 0.0);
        // By hand: 0.0156 (2.442e6 + 1865·101.85)/(1006 + 0.008·1865 + 0.0156·1865) = 39.1 K.
        assert!((400.0 - e.temperature_k - 39.1).abs() < 0.05, "{e:?}");
    }
}
