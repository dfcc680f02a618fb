//! What the cylinders make of a charge: residual, knock limit, work, peak pressure and exhaust temperature.
//!
//! The mean-value cylinder is a chain of ratios around a level that a fit calibrates. Given the flow and the
//! pressures around it, everything here is explicit: no iteration happens below this line.

use super::added::{Added, COLDEST_K};
use super::on_a_day::OnADay;
use crate::engine::burn_law::BurnCharge;
use crate::engine::combustion::{CHARGE_GAS_CONSTANT, IndicatedWork};
use crate::engine::enriched;
use crate::engine::exhaust::{EnergyLedger, ExhaustInput, energy_ledger};
use crate::engine::fuel_air;
use crate::engine::knock_map::{KnockConditions, KnockLimit};
use crate::engine::products::{Products, REFERENCE_K};
use crate::engine::pumping::pumping_pa;
use crate::engine::residual;
use crate::fuel::{Fuel, NITROUS_LATENT_J_KG};

/// The charge offered to the cylinders.
#[derive(Debug, Clone, Copy)]
pub(super) struct Feed {
    pub(super) rpm: f64,
    pub(super) lambda: f64,
    /// Moist air, kg/s.
    pub(super) air_kg_s: f64,
    pub(super) manifold_pa: f64,
    pub(super) manifold_k: f64,
    pub(super) port_k: f64,
    pub(super) exhaust_pa: f64,
    /// Pressure behind the exhaust valve around top dead centre, Pa.
    pub(super) overlap_pa: f64,
    pub(super) added: Added,
    /// Gas temperature behind the exhaust valve, of the pass before, K.
    pub(super) residual_k: f64,
    pub(super) mach_index: f64,
    /// Factor of an inlet valve closing late on the charge's temperature.
    pub(super) late_cooling: f64,
    /// Where knock held the burn last, deg: the search for its limit begins there.
    pub(super) near_ca50_deg: f64,
    /// What the tank's fuel burns to at the mixture asked for.
    pub(super) asked: Asked,
}

/// A mixture, and what the tank's fuel burns to with it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked {
    pub(super) lambda: f64,
    pub(super) products: Products,
}

/// The cylinders at one operating point; powers and mean pressures are for the whole engine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderPoint {
    /// Relative air-fuel ratio.
    pub lambda: f64,
    /// Fuel of the tank, kg/s.
    pub fuel_kg_s: f64,
    /// Residual gas over charge.
    pub residual_fraction: f64,
    /// Charge temperature at inlet closing, K.
    pub closing_k: f64,
    /// Charge pressure at inlet closing, Pa.
    pub closing_pa: f64,
    /// Burn duration (Wiebe), deg.
    pub burn_duration_deg: f64,
    /// Octane index of the fuel in this engine.
    pub octane_index: f64,
    /// Angle of half the burn, deg after top dead centre.
    pub ca50_deg: f64,
    /// Whether knock sets that angle.
    pub knock_limited: bool,
    /// Whether the knock table was left.
    pub beyond_knock_table: bool,
    /// Work left by late phasing, relative to best.
    pub phasing_factor: f64,
    /// Share of the released heat lost to the walls.
    pub wall_share: f64,
    /// Gross indicated power, W.
    pub indicated_w: f64,
    /// Pumping mean effective pressure, Pa; negative where the charge pushes.
    pub pumping_pa: f64,
    /// Friction mean effective pressure, Pa.
    pub friction_pa: f64,
    /// Peak cylinder pressure, Pa.
    pub peak_pa: f64,
    /// Heat released, W.
    pub released_w: f64,
    /// Heat to the cylinder walls, W.
    pub wall_w: f64,
    /// Sensible enthalpy of the gas behind the exhaust valve above 25 °C, W.
    pub exhaust_w: f64,
    /// Gas temperature behind the exhaust valve, K.
    pub valve_k: f64,
    /// Gas temperature in the exhaust system, K.
    pub exhaust_k: f64,
}

/// The charge when the inlet valve closes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Closing {
    residual: f64,
    kelvin: f64,
    pascal: f64,
    density_kg_m3: f64,
    /// Residual and sprayed water over charge: what slows the flame.
    diluent: f64,
}

/// What a pass must know of the burn: all that the exhaust's temperature hangs on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Burned {
    closing: Closing,
    /// Fuel of the tank, kg/s.
    pub(super) fuel_kg_s: f64,
    duration_deg: f64,
    octane_index: f64,
    /// Pressure of the burn over that without water and nitrous oxide.
    pressure_factor: f64,
    pub(super) knock: KnockLimit,
    /// Angle of half the burn, deg after top dead centre.
    ca50_deg: f64,
    wall_share: f64,
    phasing_factor: f64,
    indicated_w: f64,
    pumping_pa: f64,
    /// Where the heat went.
    pub(super) heat: EnergyLedger,
}

/// The burn of a charge, and the exhaust it leaves.
/// Equation (3.1).
pub(super) fn burn(day: &OnADay<'_>, feed: &Feed) -> Burned {
    let car = day.car;
    let (engine, fuel) = (&car.engine, &car.fuel);
    let cylinder = &engine.geometry.cylinder;
    let dry_kg_s = feed.air_kg_s / (1.0 + day.day.humidity_ratio());
    let added = &feed.added;
    let fuel_kg_s = added.tank_fuel_kg_s(fuel, feed.lambda, dry_kg_s);
    let burned = added.burned(fuel, fuel_kg_s);
    let closing = close(day, feed, fuel_kg_s + added.methanol_kg_s);

    let duration_deg = burn_duration_deg(day, feed, &burned, &closing);
    let octane_index = burned.chemical_octane_index(engine.knock.octane_weight);
    // Nearly all of the end gas's delay passes near its highest pressure, so the knock table is asked for the charge that
    // would reach the same there.
    let (nitrous, water) = (
        added.nitrous_per_air(dry_kg_s),
        added.water_per_air(dry_kg_s),
    );
    let pressure_factor = enriched::burn_pressure_factor(nitrous, water);
    let conditions = KnockConditions {
        pressure_pa: closing.pascal * pressure_factor,
        temperature_k: closing.kelvin * enriched::end_gas_factor(water),
        rpm: feed.rpm,
        octane: octane_index,
        burn_duration_deg: duration_deg,
        delay_multiplier: engine.knock.delay_multiplier,
    };
    let map = &engine.knock.map;
    let knock = map.knock_limit_near(&conditions, f64::NEG_INFINITY, feed.near_ca50_deg);
    let ca50_deg = later_of(engine.phasing.mbt_ca50_deg, knock.ca50_deg)
        + car.tune.late_deg()
        + car.defects.late_burn.at(feed.rpm);

    let piston_speed = cylinder.mean_piston_speed_m_s(feed.rpm);
    let walls = engine.wall_loss.level(piston_speed, closing.density_kg_m3);
    let wall_share = walls.share(ca50_deg - engine.wall_loss.reference_ca50_deg);
    // The loss of late phasing was found with walls, so its smaller wall loss is in it already: work asks for the share at the
    // phasing to which that loss refers.
    let reference_wall_share = walls.share(0.0);
    let phasing_factor = engine.phasing.relative_work(ca50_deg);
    let condition = fuel_air::condition_factor(
        feed.lambda,
        closing.kelvin,
        closing.pascal,
        closing.residual,
    );
    let work_j_kg = work_of(day, added, fuel_kg_s, &burned).work_j_kg_air(feed.lambda)
        * phasing_factor
        * engine.wall_loss.relative_work(reference_wall_share)
        * condition
        * enriched::nitrous_work_factor(feed.lambda, nitrous)
        * engine
            .work_by_cycle
            .as_ref()
            .map_or(1.0, |by_cycle| by_cycle.at(feed.rpm));
    let indicated_w = dry_kg_s * work_j_kg;

    let manifold_density = feed.manifold_pa / (day.gas.gas_constant_j_kg_k * feed.manifold_k);
    let pumping_pa = pumping_pa(
        feed.manifold_pa,
        feed.exhaust_pa,
        manifold_density,
        feed.mach_index,
        engine.valve_pumping_pa,
    );
    let pumping_w = engine
        .geometry
        .power_of_mean_pressure_w(pumping_pa, feed.rpm);
    let heat = leave(
        day,
        feed,
        &burned,
        fuel_kg_s,
        indicated_w - pumping_w,
        wall_share,
    );
    Burned {
        closing,
        fuel_kg_s,
        duration_deg,
        octane_index,
        pressure_factor,
        knock,
        ca50_deg,
        wall_share,
        phasing_factor,
        indicated_w,
        pumping_pa,
        heat,
    }
}

/// Peak pressure, friction and the rest, which no pass needs.
/// Equation (3.1).
pub(super) fn finish(day: &OnADay<'_>, feed: &Feed, burned: &Burned) -> CylinderPoint {
    let engine = &day.car.engine;
    let closing = &burned.closing;
    let dry_kg_s = feed.air_kg_s / (1.0 + day.day.humidity_ratio());
    let peak_pa = closing.pascal
        * engine.knock.map.peak_pressure_ratio(
            closing.kelvin,
            burned.duration_deg,
            burned.ca50_deg,
        )
        * burned.pressure_factor;
    let piston_speed = engine.geometry.cylinder.mean_piston_speed_m_s(feed.rpm);
    let friction_pa = engine
        .friction
        .mean_pressure_pa(piston_speed, peak_pa, day.oil_factor);
    let heat = &burned.heat;
    CylinderPoint {
        lambda: feed.lambda,
        fuel_kg_s: burned.fuel_kg_s,
        residual_fraction: closing.residual,
        closing_k: closing.kelvin,
        closing_pa: closing.pascal,
        burn_duration_deg: burned.duration_deg,
        octane_index: burned.octane_index,
        ca50_deg: burned.ca50_deg,
        knock_limited: burned.knock.ca50_deg > engine.phasing.mbt_ca50_deg,
        beyond_knock_table: burned.knock.beyond_table,
        phasing_factor: burned.phasing_factor,
        wall_share: burned.wall_share,
        indicated_w: burned.indicated_w,
        pumping_pa: burned.pumping_pa,
        friction_pa,
        peak_pa,
        released_w: dry_kg_s * heat.released_j_kg_air,
        wall_w: dry_kg_s * heat.wall_heat_j_kg_air,
        exhaust_w: dry_kg_s * heat.exhaust_j_kg_air,
        valve_k: heat.valve_k,
        exhaust_k: heat.manifold_k,
    }
}

/// Work curve of what is burned. Only the tank's fuel may evaporate late at the cost of work: the sprayed methanol's latent heat is
/// taken from the charge before the burn.
fn work_of(day: &OnADay<'_>, added: &Added, fuel_kg_s: f64, burned: &Fuel) -> IndicatedWork {
    if added.methanol_kg_s > 0.0 {
        let tank_share = fuel_kg_s / (fuel_kg_s + added.methanol_kg_s);
        let fuel = Fuel {
            latent_heat_j_kg: tank_share * day.car.fuel.latent_heat_j_kg,
            ..*burned
        };
        let ratio = day.car.engine.geometry.cylinder.compression_ratio;
        day.car.engine.combustion.prepare(&fuel, ratio)
    } else {
        day.work
    }
}

/// Fresh charge and residual mixed in the cylinder when the inlet valve closes.
/// Equations (2.9) and (3.7).
fn close(day: &OnADay<'_>, feed: &Feed, fuel_kg_s: f64) -> Closing {
    let geometry = &day.car.engine.geometry;
    let cylinder = &geometry.cylinder;
    let (manifold_pa, exhaust_pa, rpm) = (feed.manifold_pa, feed.overlap_pa, feed.rpm);
    let ratio = cylinder.compression_ratio;
    let manifold_density = feed.manifold_pa / (day.gas.gas_constant_j_kg_k * feed.manifold_k);
    let closing_pa = residual::at_exhaust_closing_pa(
        exhaust_pa,
        day.car.engine.valve_pumping_pa,
        manifold_density,
        feed.mach_index,
    );
    let left_k = residual::left_k(feed.residual_k);
    let gas_constant = feed.asked.products.gas_constant_j_kg_k();
    let clearance_m3 = cylinder.clearance_volume_m3();
    let left_kg = residual::left_kg(closing_pa, left_k, gas_constant, clearance_m3)
        * (1.0 - day.overlap.renewed(manifold_pa, exhaust_pa, rpm, ratio));
    let cycles_per_s = rpm / 120.0 * f64::from(geometry.cylinders);
    let fresh_kg_s = feed.air_kg_s + fuel_kg_s + feed.added.inert_kg_s();
    let fresh_kg = fresh_kg_s / cycles_per_s;
    let back_flow = day.overlap.back_flow(manifold_pa, exhaust_pa, rpm);
    let residual = (left_kg / (left_kg + fresh_kg) + back_flow).min(MOST_RESIDUAL);
    let worked_on_k = residual::worked_on_k(left_k, manifold_pa, closing_pa);
    let mixed_k = residual::mixed_charge_k(feed.port_k, residual, worked_on_k) * feed.late_cooling;
    // A mixture that is cold by itself is left so.
    let kelvin = (mixed_k - feed.added.late_cooling_k).max(mixed_k.min(COLDEST_K));
    let charge_kg = fresh_kg / (1.0 - residual);
    let density_kg_m3 = charge_kg / (cylinder.swept_volume_m3() + clearance_m3);
    Closing {
        residual,
        kelvin,
        pascal: density_kg_m3
            * (CHARGE_GAS_CONSTANT
                + feed
                    .added
                    .gas_constant_excess(CHARGE_GAS_CONSTANT, fresh_kg_s))
            * kelvin,
        density_kg_m3,
        diluent: residual + feed.added.water_kg_s / fresh_kg_s,
    }
}

/// First law over the cylinder, per kilogram of dry air: what enters and is neither work nor lost to the walls leaves
/// with the gas.
/// Equation (4.6).
fn leave(
    day: &OnADay<'_>,
    feed: &Feed,
    burned: &Fuel,
    fuel_kg_s: f64,
    net_work_w: f64,
    wall_share: f64,
) -> EnergyLedger {
    let fuel = &day.car.fuel;
    let humidity_ratio = day.day.humidity_ratio();
    let dry_kg_s = feed.air_kg_s / (1.0 + humidity_ratio);
    let added = &feed.added;
    let drop_k = day.full_evaporation_drop_k(added, feed.lambda, feed.air_kg_s);
    let cooling_k = day.port.evaporated_share * drop_k;
    let unsprayed_k = feed.port_k + cooling_k + added.cooling_k;
    let air_w = feed.air_kg_s * day.gas.cp_j_kg_k() * (unsprayed_k - REFERENCE_K);
    let methanol_w = if added.methanol_kg_s > 0.0 {
        added.methanol_kg_s * Fuel::methanol().latent_heat_j_kg
    } else {
        0.0
    };
    let sprayed_w = methanol_w + added.water_latent_w() + added.nitrous_kg_s * NITROUS_LATENT_J_KG;
    let input = ExhaustInput {
        completeness: COMPLETENESS,
        work_j_kg_air: net_work_w / dry_kg_s,
        wall_share,
        inlet_j_kg_air: (air_w - fuel_kg_s * fuel.latent_heat_j_kg - sprayed_w) / dry_kg_s,
        humidity_ratio: humidity_ratio + added.water_kg_s / dry_kg_s,
        flow_kg_s: feed.air_kg_s + fuel_kg_s + added.methanol_kg_s + added.inert_kg_s(),
    };
    let products = if feed.lambda == feed.asked.lambda && added.methanol_kg_s == 0.0 {
        feed.asked.products
    } else {
        Products::burned(burned, feed.lambda)
    };
    let products = products.with_nitrous(added.nitrous_per_air(dry_kg_s));
    energy_ledger(&products, &input, &day.car.exhaust.port)
}

/// Spread of half the burn from cycle to cycle, deg, over which the passage from best torque to the knock limit is smeared.
/// From memory of cyclic dispersion at full load (1 to 2 deg).
const CYCLIC_SPREAD_DEG: f64 = 1.0;

/// The later of two angles, passing smoothly from one to the other: `a + s ln(1 + e^((b − a)/s))`.
/// Equation (3.9).
fn later_of(best_deg: f64, limit_deg: f64) -> f64 {
    let x = (limit_deg - best_deg) / CYCLIC_SPREAD_DEG;
    // Beyond thirty spreads the exponential is all there is, or nothing.
    best_deg + CYCLIC_SPREAD_DEG * if x > 30.0 { x } else { x.exp().ln_1p() }
}

/// Most residual that the laws of the cylinder are asked about, by mass.
const MOST_RESIDUAL: f64 = 0.4;

/// Share of the releasable energy that appears before the exhaust valve; the rest stays in blow-by, crevices and quench
/// layers. From memory of the usual petrol engine. More than [`crate::engine::knock_map::BURN_COMPLETENESS`]: what burns too
/// late to raise the pressure still warms the exhaust.
/// Equation (3.10).
const COMPLETENESS: f64 = 0.96;

/// Burn duration at this charge: scaled from 3000 rpm and the reference state with flame speed and density.
fn burn_duration_deg(day: &OnADay<'_>, feed: &Feed, burned: &Fuel, closing: &Closing) -> f64 {
    let charge = BurnCharge {
        rpm: feed.rpm,
        lambda: feed.lambda,
        temperature_k: closing.kelvin,
        pressure_pa: closing.pascal,
        residual_fraction: closing.diluent,
    };
    day.burn.duration_deg_of(burned, &charge)
}
