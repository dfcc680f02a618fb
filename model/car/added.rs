//! What enters the charge besides air and the tank's fuel: water with methanol from a spray, nitrous oxide from a bottle.
//!
//! Exists as one place where the flows are decided, because balance, cylinder and ledger must agree on them to the last
//! joule. Both are given ahead of the manifold: what evaporates before the inlet valve cools the charge and takes room from
//! the air, what is left evaporates under compression. The controller holds the mixture asked for: sprayed
//! methanol replaces fuel of the tank, nitrous oxide gets its own. It refuses pumps, nozzles and droplets: the flow and the
//! share that evaporates in time are numbers of the kit.

use super::Car;
use super::on_a_day::OnADay;
use crate::air::moist::WATER_VAPOUR_J_KG_K;
use crate::cooling::evaporation::{Liquid, MoistStream};
use crate::engine::GAS_CONSTANT_J_KMOL_K;
use crate::fuel::{
    Fuel, NITROUS_AIR, NITROUS_CP_J_KG_K, NITROUS_DECOMPOSITION_J_KG, NITROUS_KG_KMOL,
    NITROUS_LATENT_J_KG,
};
use crate::numeric::Real;

/// How a spray is metered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SprayRate {
    /// A pump and nozzle of constant flow, kg/s of liquid; held back to [`MOST_SPRAY`] of the fuel where that is less.
    Constant(f64),
    /// In proportion to the fuel, kg of liquid per kg of fuel the mixture asks for.
    OfFuel(f64),
}

/// A spray of water and methanol ahead of the manifold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterMethanol {
    /// How much.
    pub rate: SprayRate,
    /// Methanol, kg per kg of liquid.
    pub methanol_mass_fraction: f64,
    /// Share that has the time to evaporate before the inlet valve closes; water also needs room in the air.
    pub evaporated_share: f64,
}

/// Nitrous oxide fed ahead of the manifold, with the fuel that its oxygen asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nitrous {
    /// Flow, kg/s.
    pub flow_kg_s: f64,
    /// Engine speed from which it flows, rpm; opened over the next [`OPENING_RPM`].
    pub from_rpm: f64,
    /// Share that is gas before the inlet valve closes.
    pub evaporated_share: f64,
}

/// Most liquid sprayed per fuel, kg/kg. Common practice, no source: kits are set to 0.1 to 0.3, and flood above.
pub const MOST_SPRAY: f64 = 0.5;
/// Most nitrous oxide per dry air, kg/kg. Twice what the largest kits feed; common practice, no source.
pub const MOST_NITROUS: f64 = 0.5;
/// Speed over which a nitrous valve opens, rpm, so that a pull has no step. No source.
pub const OPENING_RPM: f64 = 200.0;
/// Gas constants of the vapours, J/(kg K).
const NITROUS_J_KG_K: f64 = GAS_CONSTANT_J_KMOL_K / NITROUS_KG_KMOL;
const METHANOL_J_KG_K: f64 = GAS_CONSTANT_J_KMOL_K / (1e3 * Liquid::METHANOL.molar_mass_kg_mol);
/// Coldest charge evaporation is let cool to, K. A liquid that would cool it further stays liquid until the flame.
pub(super) const COLDEST_K: f64 = 200.0;

/// What enters besides air and the tank's fuel, at one operating point. All zero without a kit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Added {
    /// Water sprayed, kg/s.
    pub water_kg_s: f64,
    /// Methanol sprayed, kg/s.
    pub methanol_kg_s: f64,
    /// Nitrous oxide, kg/s.
    pub nitrous_kg_s: f64,
    /// Fall of the charge temperature ahead of the manifold, K.
    pub cooling_k: f64,
    /// Fall of the temperature that the liquid left causes under compression, K.
    pub late_cooling_k: f64,
    /// Flow times gas constant of what is vapour in the port, W/K: the room it takes from the air.
    pub vapour_w_k: f64,
    /// Whether the air was too damp for all the water that had the time.
    pub saturated: bool,
    /// Whether more is metered than [`MOST_SPRAY`] of the fuel.
    pub held_back: bool,
}

impl Car {
    /// Whether a kit of it adds anything at all.
    pub(super) fn adds(&self) -> bool {
        let sprays = |spray: &WaterMethanol| {
            let (SprayRate::Constant(rate) | SprayRate::OfFuel(rate)) = spray.rate;
            rate != 0.0
        };
        self.water_methanol.as_ref().is_some_and(sprays)
            || self.nitrous.as_ref().is_some_and(|n| n.flow_kg_s != 0.0)
    }
}

/// A flow over another; without it nothing is divided.
#[inline(always)]
pub(super) fn per<R: Real>(flow: f64, other: R) -> R {
    if flow == 0.0 {
        return other.of(0.0);
    }
    other.dividing(flow)
}

impl Added {
    /// Nitrous oxide per dry air.
    #[inline(always)]
    pub(super) fn nitrous_per_air<R: Real>(&self, dry_kg_s: R) -> R {
        per(self.nitrous_kg_s, dry_kg_s)
    }

    /// Oxygen for the fuel, over that of the air alone; exactly 1 without nitrous oxide.
    #[inline(always)]
    pub(super) fn oxygen_factor<R: Real>(&self, dry_kg_s: R) -> R {
        if self.nitrous_kg_s == 0.0 {
            return dry_kg_s.of(1.0);
        }
        self.nitrous_per_air(dry_kg_s) * NITROUS_AIR + 1.0
    }

    /// Fuel of the tank that the mixture asks for, kg/s: with the oxygen of the nitrous oxide, less what methanol brings.
    /// Equation (2.15).
    #[inline(always)]
    pub(super) fn tank_fuel_kg_s<R: Real>(&self, fuel: &Fuel, lambda: R, dry_kg_s: R) -> R {
        dry_kg_s * fuel.fuel_per_air(lambda) * self.oxygen_factor(dry_kg_s)
            - self.replaced_kg_s(fuel)
    }

    /// Fuel of the tank that sprayed methanol stands in for, kg/s.
    pub(super) fn replaced_kg_s(&self, fuel: &Fuel) -> f64 {
        if self.methanol_kg_s == 0.0 {
            return 0.0;
        }
        self.methanol_kg_s * Fuel::methanol().stoichiometric_air_fuel / fuel.stoichiometric_air_fuel
    }

    /// Heat that evaporates what is sprayed, but for methanol, which the fuel's balance counts, W.
    /// Equation (4.8).
    pub(super) fn water_latent_w(&self) -> f64 {
        self.water_kg_s * Liquid::WATER.latent_heat_j_kg
    }

    /// Heat that nitrous oxide releases falling apart, W.
    pub(super) fn decomposition_w(&self) -> f64 {
        self.nitrous_kg_s * NITROUS_DECOMPOSITION_J_KG
    }

    /// The same less what warmed it from the bottle, W.
    /// Equation (4.8).
    pub(super) fn nitrous_w(&self) -> f64 {
        self.decomposition_w() - self.nitrous_kg_s * NITROUS_LATENT_J_KG
    }

    /// Mass flow that is neither air nor fuel, kg/s.
    pub(super) fn inert_kg_s(&self) -> f64 {
        self.water_kg_s + self.nitrous_kg_s
    }

    /// What the tank and the spray burn together.
    pub(super) fn burned(&self, tank: &Fuel, tank_kg_s: f64) -> Fuel {
        if self.methanol_kg_s > 0.0 {
            let share = self.methanol_kg_s / (self.methanol_kg_s + tank_kg_s);
            Fuel::blend(*tank, Fuel::methanol(), share)
        } else {
            *tank
        }
    }

    /// Water per dry air.
    #[inline(always)]
    pub(super) fn water_per_air<R: Real>(&self, dry_kg_s: R) -> R {
        per(self.water_kg_s, dry_kg_s)
    }

    /// Gas constant of the trapped charge with what was added, less that without, J/(kg K).
    #[inline(always)]
    pub(super) fn gas_constant_excess<R: Real>(&self, own: f64, charge_kg_s: R) -> R {
        let water = self.water_kg_s * (WATER_VAPOUR_J_KG_K - own);
        let nitrous = self.nitrous_kg_s * (NITROUS_J_KG_K - own);
        per(water + nitrous, charge_kg_s)
    }
}

impl OnADay<'_> {
    /// What is added to a flow of moist air that comes out of blower and cooler at a state.
    /// Equation (2.15).
    pub(super) fn added(&self, rpm: f64, flow_kg_s: f64, pressure_pa: f64, kelvin: f64) -> Added {
        let car = self.car;
        let mut added = Added::default();
        if car.water_methanol.is_none() && car.nitrous.is_none() {
            return added;
        }
        let dry_kg_s = flow_kg_s / (1.0 + self.day.humidity_ratio());
        let mut stream = MoistStream {
            temperature_k: kelvin,
            pressure_pa,
            humidity_ratio: self.day.humidity_ratio(),
        };
        if let Some(nitrous) = &car.nitrous {
            let open = ((rpm - nitrous.from_rpm) / OPENING_RPM).clamp(0.0, 1.0);
            let per_air = (open * nitrous.flow_kg_s / dry_kg_s).min(MOST_NITROUS);
            added.nitrous_kg_s = per_air * dry_kg_s;
            let vapour = nitrous.evaporated_share * per_air;
            stream.temperature_k = with_nitrous_k(stream, vapour).max(COLDEST_K);
            added.vapour_w_k += vapour * dry_kg_s * NITROUS_J_KG_K;
            let left = per_air - vapour;
            added.late_cooling_k += left * NITROUS_LATENT_J_KG / self.gas.cp_j_kg_k();
        }
        if let Some(spray) = &car.water_methanol {
            let lambda = car.tune.lambda_at(rpm, car.engine.redline_rpm);
            let fuel_kg_s =
                dry_kg_s * car.fuel.fuel_per_air(lambda) * added.oxygen_factor(dry_kg_s);
            let metered_kg_s = match spray.rate {
                SprayRate::Constant(flow) => flow,
                SprayRate::OfFuel(share) => share * fuel_kg_s,
            };
            let liquid_kg_s = metered_kg_s.min(MOST_SPRAY * fuel_kg_s);
            added.held_back = metered_kg_s > liquid_kg_s;
            self.sprayed(spray, liquid_kg_s, dry_kg_s, &mut stream, &mut added);
        }
        added.cooling_k = kelvin - stream.temperature_k;
        added
    }

    /// Methanol evaporates first, being the more volatile; water then finds what room the cooled air has left.
    fn sprayed(
        &self,
        spray: &WaterMethanol,
        liquid_kg_s: f64,
        dry_kg_s: f64,
        stream: &mut MoistStream,
        added: &mut Added,
    ) {
        added.methanol_kg_s = spray.methanol_mass_fraction * liquid_kg_s;
        added.water_kg_s = liquid_kg_s - added.methanol_kg_s;
        let share = spray.evaporated_share;
        let alcohol = stream.evaporate(Liquid::METHANOL, added.methanol_kg_s / dry_kg_s, share);
        stream.temperature_k = alcohol.temperature_k;
        let water = stream.evaporate_water(added.water_kg_s / dry_kg_s, share);
        stream.temperature_k = water.temperature_k.max(COLDEST_K);
        added.saturated = water.saturated;
        added.vapour_w_k += dry_kg_s
            * (alcohol.evaporated * METHANOL_J_KG_K + water.evaporated * WATER_VAPOUR_J_KG_K);
        let late = alcohol.left * Liquid::METHANOL.latent_heat_j_kg
            + water.left * Liquid::WATER.latent_heat_j_kg;
        added.late_cooling_k += late / self.gas.cp_j_kg_k();
    }
}

/// Temperature at which the heat from liquid to gas is stated, K.
const BOTTLE_K: f64 = 298.15;

/// Temperature of air into which nitrous oxide has evaporated, K, `x` kilograms for each of dry air: `c_a (T − T₂) = x [L + c (T₂ − T₀)]`.
/// Equation (2.15).
fn with_nitrous_k(air: MoistStream, per_air: f64) -> f64 {
    if per_air == 0.0 {
        return air.temperature_k;
    }
    let air_w_k = air.capacity_j_kg_k();
    let own = per_air * NITROUS_CP_J_KG_K;
    (air_w_k * air.temperature_k + own * BOTTLE_K - per_air * NITROUS_LATENT_J_KG) / (air_w_k + own)
}
