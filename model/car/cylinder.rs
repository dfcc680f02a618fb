//! What the cylinders make of a charge: residual, knock limit, work, peak pressure and exhaust temperature.
//!
//! The mean-value cylinder is a chain of ratios around a level that a fit calibrates. Given the flow and the
//! pressures around it, everything here is explicit: no iteration happens below this line.

use super::added::{Added, COLDEST_K, per};
use super::on_a_day::OnADay;
use crate::engine::burn_law::BurnCharge;
use crate::engine::combustion::{CHARGE_GAS_CONSTANT, IndicatedWork};
use crate::engine::enriched;
use crate::engine::exhaust::{EnergyLedger, ExhaustInput, energy_ledger};
use crate::engine::fuel_air;
use crate::engine::knock_limit::beyond_table;
use crate::engine::knock_map::{KnockConditions, LATEST_CA50_DEG};
use crate::engine::products::{Products, REFERENCE_K};
use crate::engine::pumping::pumping_pa;
use crate::engine::residual;
use crate::fuel::{Fuel, NITROUS_LATENT_J_KG};
use crate::numeric::Real;

/// The charge offered to the cylinders.
#[derive(Debug, Clone, Copy)]
pub(super) struct Feed<R = f64> {
    pub(super) rpm: R,
    pub(super) lambda: R,
    /// Moist air, kg/s.
    pub(super) air_kg_s: R,
    pub(super) manifold_pa: R,
    pub(super) manifold_k: R,
    pub(super) port_k: R,
    pub(super) exhaust_pa: R,
    /// Pressure behind the exhaust valve around top dead centre, Pa.
    pub(super) overlap_pa: R,
    pub(super) added: Added,
    /// Gas temperature behind the exhaust valve, of the pass before, K.
    pub(super) residual_k: R,
    pub(super) mach_index: R,
    /// Factor of an inlet valve closing late on the charge's temperature.
    pub(super) late_cooling: R,
    /// Where knock held the burn last, deg: the search for its limit begins there.
    pub(super) near_ca50_deg: R,
    /// What the tank's fuel burns to at the mixture asked for.
    pub(super) asked: Asked<R>,
}

/// A mixture, and what the tank's fuel burns to with it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<R = f64> {
    pub(super) lambda: R,
    pub(super) products: Products<R>,
    /// Work of the ideal cycle at the engine's level, per dry air, J/kg.
    pub(super) work_j_kg_air: R,
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
pub(super) struct Closing<R = f64> {
    residual: R,
    kelvin: R,
    pascal: R,
    density_kg_m3: R,
    /// Logarithms of temperature, pressure and density.
    kelvin_ln: R,
    pascal_ln: R,
    density_ln: R,
    /// Residual and sprayed water over charge: what slows the flame.
    diluent: R,
}

/// What a pass must know of the burn: all that the exhaust's temperature hangs on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Burned<R = f64> {
    closing: Closing<R>,
    /// Fuel of the tank, kg/s.
    pub(super) fuel_kg_s: R,
    duration_deg: R,
    octane_index: f64,
    /// Pressure of the burn over that without water and nitrous oxide.
    pressure_factor: R,
    /// Temperature at closing that the knock table is asked for, K.
    end_gas_k: R,
    /// Earliest half of the burn that knock allows, deg after top dead centre, within the table.
    pub(super) knock_ca50_deg: R,
    /// Angle of half the burn, deg after top dead centre.
    ca50_deg: R,
    wall_share: R,
    phasing_factor: R,
    indicated_w: R,
    pumping_pa: R,
    /// Where the heat went.
    pub(super) heat: EnergyLedger<R>,
}

/// What burns, at a flow.
struct Charge<'a, R = f64> {
    /// Fuel of the tank, kg/s.
    fuel_kg_s: R,
    /// It, with what is sprayed beside it.
    fuel: &'a Fuel,
    /// Work of the ideal cycle at the engine's level, per dry air, J/kg.
    work_j_kg_air: R,
    products: Products<R>,
}

/// The burn of a charge, and the exhaust it leaves.
/// Equation (3.1).
pub(super) fn burn(day: &OnADay<'_>, feed: &Feed) -> Burned {
    let added = &feed.added;
    let dry_kg_s = feed.air_kg_s / (1.0 + day.day.humidity_ratio());
    let fuel_kg_s = added.tank_fuel_kg_s(&day.car.fuel, feed.lambda, dry_kg_s);
    let as_asked = feed.lambda == feed.asked.lambda && added.methanol_kg_s == 0.0;
    let fuel = added.burned(&day.car.fuel, fuel_kg_s);
    let (work_j_kg_air, products) = if as_asked {
        (feed.asked.work_j_kg_air, feed.asked.products)
    } else {
        let work = work_of(day, added, fuel_kg_s, &fuel).work_j_kg_air(feed.lambda);
        (work, Products::burned(&fuel, feed.lambda))
    };
    let charge = Charge {
        fuel_kg_s,
        fuel: &fuel,
        work_j_kg_air,
        products: products.with_nitrous(added.nitrous_per_air(dry_kg_s)),
    };
    burn_charge(day, feed, &charge)
}

/// The same of the tank's fuel alone, as rich as asked for.
/// Equation (3.1).
#[inline(always)]
pub(super) fn burn_as_asked<R: Real>(day: &OnADay<'_>, feed: &Feed<R>) -> Burned<R> {
    let fuel = &day.car.fuel;
    let dry_kg_s = feed.air_kg_s / (1.0 + day.day.humidity_ratio());
    let charge = Charge {
        fuel_kg_s: feed.added.tank_fuel_kg_s(fuel, feed.lambda, dry_kg_s),
        fuel,
        work_j_kg_air: feed.asked.work_j_kg_air,
        products: feed.asked.products,
    };
    burn_charge(day, feed, &charge)
}

/// Equation (3.1).
#[inline(always)]
fn burn_charge<R: Real>(day: &OnADay<'_>, feed: &Feed<R>, charge: &Charge<'_, R>) -> Burned<R> {
    let car = day.car;
    let engine = &car.engine;
    let cylinder = &engine.geometry.cylinder;
    let dry_kg_s = feed.air_kg_s / (1.0 + day.day.humidity_ratio());
    let (added, fuel_kg_s) = (&feed.added, charge.fuel_kg_s);
    let closing = close(day, feed, fuel_kg_s + added.methanol_kg_s);

    let duration_deg = burn_duration_deg(day, feed, charge.fuel, &closing);
    let octane_index = charge
        .fuel
        .chemical_octane_index(engine.knock.octane_weight);
    // Nearly all of the end gas's delay passes near its highest pressure, so the knock table is asked for the charge that
    // would reach the same there.
    let (nitrous, water) = (
        added.nitrous_per_air(dry_kg_s),
        added.water_per_air(dry_kg_s),
    );
    let plain = added.inert_kg_s() == 0.0;
    let (pressure_factor, end_gas_k, knock_pressure_ln) = if plain {
        (dry_kg_s.of(1.0), closing.kelvin, closing.pascal_ln)
    } else {
        let factor = enriched::burn_pressure_factor(nitrous, water);
        (
            factor,
            closing.kelvin * enriched::end_gas_factor(water),
            closing.pascal_ln + factor.ln(),
        )
    };
    let conditions = KnockConditions {
        pressure_pa: closing.pascal * pressure_factor,
        temperature_k: end_gas_k,
        rpm: feed.rpm,
        octane: octane_index,
        burn_duration_deg: duration_deg,
        delay_multiplier: engine.knock.delay_multiplier,
    };
    let map = &engine.knock.map;
    let knock_ca50_deg = map
        .knock_ca50_deg(&conditions, knock_pressure_ln, feed.near_ca50_deg)
        .at_most(LATEST_CA50_DEG);
    let ca50_deg = later_of(engine.phasing.mbt_ca50_deg, knock_ca50_deg)
        + car.tune.late_deg()
        + car.defects.late_burn.at(feed.rpm);

    let piston_speed = cylinder.mean_piston_speed_m_s(feed.rpm);
    let walls = engine
        .wall_loss
        .level_of_ln(piston_speed, closing.density_ln);
    let wall_share = walls.share(ca50_deg - engine.wall_loss.reference_ca50_deg);
    // The loss of late phasing was found with walls, so its smaller wall loss is in it already: work asks for the share at the
    // phasing to which that loss refers.
    let reference_wall_share = walls.at_reference();
    let phasing_factor = engine.phasing.relative_work(ca50_deg);
    let condition = fuel_air::condition_factor_of_ln(
        feed.lambda,
        closing.kelvin,
        closing.pascal_ln,
        closing.residual,
    );
    let mut work_j_kg = charge.work_j_kg_air
        * phasing_factor
        * engine.wall_loss.relative_work(reference_wall_share)
        * condition;
    if added.nitrous_kg_s > 0.0 {
        work_j_kg = work_j_kg * enriched::nitrous_work_factor(feed.lambda, nitrous);
    }
    if let Some(by_cycle) = &engine.work_by_cycle {
        work_j_kg = work_j_kg * feed.rpm.made(|k| by_cycle.at(feed.rpm.one(k)));
    }
    let indicated_w = dry_kg_s * work_j_kg;

    let manifold_density = feed.manifold_pa / (feed.manifold_k * day.gas.gas_constant_j_kg_k);
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
    let heat = leave(day, feed, charge, indicated_w - pumping_w, wall_share);
    Burned {
        closing,
        fuel_kg_s,
        duration_deg,
        octane_index,
        pressure_factor,
        end_gas_k,
        knock_ca50_deg,
        ca50_deg,
        wall_share,
        phasing_factor,
        indicated_w,
        pumping_pa,
        heat,
    }
}

impl<R: Real> Feed<R> {
    /// One of several side by side.
    #[inline(always)]
    pub(super) fn one(&self, k: usize) -> Feed {
        Feed {
            rpm: self.rpm.one(k),
            lambda: self.lambda.one(k),
            air_kg_s: self.air_kg_s.one(k),
            manifold_pa: self.manifold_pa.one(k),
            manifold_k: self.manifold_k.one(k),
            port_k: self.port_k.one(k),
            exhaust_pa: self.exhaust_pa.one(k),
            overlap_pa: self.overlap_pa.one(k),
            added: self.added,
            residual_k: self.residual_k.one(k),
            mach_index: self.mach_index.one(k),
            late_cooling: self.late_cooling.one(k),
            near_ca50_deg: self.near_ca50_deg.one(k),
            asked: Asked {
                lambda: self.asked.lambda.one(k),
                products: self.asked.products.one(k),
                work_j_kg_air: self.asked.work_j_kg_air.one(k),
            },
        }
    }
}

impl<R: Real> Burned<R> {
    /// One of several side by side.
    #[inline(always)]
    pub(super) fn one(&self, k: usize) -> Burned {
        let closing = &self.closing;
        Burned {
            closing: Closing {
                residual: closing.residual.one(k),
                kelvin: closing.kelvin.one(k),
                pascal: closing.pascal.one(k),
                density_kg_m3: closing.density_kg_m3.one(k),
                kelvin_ln: closing.kelvin_ln.one(k),
                pascal_ln: closing.pascal_ln.one(k),
                density_ln: closing.density_ln.one(k),
                diluent: closing.diluent.one(k),
            },
            fuel_kg_s: self.fuel_kg_s.one(k),
            duration_deg: self.duration_deg.one(k),
            octane_index: self.octane_index,
            pressure_factor: self.pressure_factor.one(k),
            end_gas_k: self.end_gas_k.one(k),
            knock_ca50_deg: self.knock_ca50_deg.one(k),
            ca50_deg: self.ca50_deg.one(k),
            wall_share: self.wall_share.one(k),
            phasing_factor: self.phasing_factor.one(k),
            indicated_w: self.indicated_w.one(k),
            pumping_pa: self.pumping_pa.one(k),
            heat: self.heat.one(k),
        }
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
        knock_limited: burned.knock_ca50_deg > engine.phasing.mbt_ca50_deg,
        beyond_knock_table: beyond_table(
            burned.end_gas_k,
            burned.duration_deg,
            burned.knock_ca50_deg,
        ),
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
#[inline(always)]
fn close<R: Real>(day: &OnADay<'_>, feed: &Feed<R>, fuel_kg_s: R) -> Closing<R> {
    let geometry = &day.car.engine.geometry;
    let cylinder = &geometry.cylinder;
    let (manifold_pa, exhaust_pa, rpm) = (feed.manifold_pa, feed.overlap_pa, feed.rpm);
    let ratio = cylinder.compression_ratio;
    let manifold_density = feed.manifold_pa / (feed.manifold_k * day.gas.gas_constant_j_kg_k);
    let closing_pa = residual::at_exhaust_closing_pa(
        exhaust_pa,
        day.car.engine.valve_pumping_pa,
        manifold_density,
        feed.mach_index,
    );
    let left_k = residual::left_k(feed.residual_k);
    let gas_constant = feed.asked.products.gas_constant_j_kg_k();
    let clearance_m3 = cylinder.clearance_volume_m3();
    let renewed = day.overlap.renewed(manifold_pa, exhaust_pa, rpm, ratio);
    let left_kg =
        residual::left_kg(closing_pa, left_k, gas_constant, clearance_m3) * renewed.taken_from(1.0);
    let cycles_per_s = rpm / 120.0 * f64::from(geometry.cylinders);
    let fresh_kg_s = feed.air_kg_s + fuel_kg_s + feed.added.inert_kg_s();
    let fresh_kg = fresh_kg_s / cycles_per_s;
    let back_flow = day.overlap.back_flow(manifold_pa, exhaust_pa, rpm);
    let residual = (left_kg / (left_kg + fresh_kg) + back_flow).at_most(MOST_RESIDUAL);
    let worked_on_k = residual::worked_on_k(left_k, manifold_pa, closing_pa);
    let mixed_k = residual::mixed_charge_k(feed.port_k, residual, worked_on_k) * feed.late_cooling;
    // A mixture that is cold by itself is left so.
    let kelvin = (mixed_k - feed.added.late_cooling_k).max(mixed_k.at_most(COLDEST_K));
    let charge_kg = fresh_kg / residual.taken_from(1.0);
    let density_kg_m3 = charge_kg / (cylinder.swept_volume_m3() + clearance_m3);
    let excess = feed
        .added
        .gas_constant_excess(CHARGE_GAS_CONSTANT, fresh_kg_s);
    let gas_j_kg_k = excess + CHARGE_GAS_CONSTANT;
    let gas_ln = if feed.added.inert_kg_s() == 0.0 {
        kelvin.of(CHARGE_GAS_CONSTANT.ln())
    } else {
        gas_j_kg_k.ln()
    };
    let (kelvin_ln, density_ln) = (kelvin.ln(), density_kg_m3.ln());
    Closing {
        residual,
        kelvin,
        pascal: density_kg_m3 * gas_j_kg_k * kelvin,
        density_kg_m3,
        kelvin_ln,
        pascal_ln: density_ln + gas_ln + kelvin_ln,
        density_ln,
        diluent: residual + per(feed.added.water_kg_s, fresh_kg_s),
    }
}

/// First law over the cylinder, per kilogram of dry air: what enters and is neither work nor lost to the walls leaves
/// with the gas.
/// Equation (4.6).
#[inline(always)]
fn leave<R: Real>(
    day: &OnADay<'_>,
    feed: &Feed<R>,
    charge: &Charge<'_, R>,
    net_work_w: R,
    wall_share: R,
) -> EnergyLedger<R> {
    let (fuel, fuel_kg_s) = (&day.car.fuel, charge.fuel_kg_s);
    let humidity_ratio = day.day.humidity_ratio();
    let dry_kg_s = feed.air_kg_s / (1.0 + humidity_ratio);
    let added = &feed.added;
    let drop_k = day.full_evaporation_drop_k(added, feed.lambda, feed.air_kg_s);
    let cooling_k = drop_k * day.port.evaporated_share;
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
        humidity_ratio: added.water_per_air(dry_kg_s) + humidity_ratio,
        flow_kg_s: feed.air_kg_s + fuel_kg_s + added.methanol_kg_s + added.inert_kg_s(),
    };
    energy_ledger(&charge.products, &input, &day.car.exhaust.port)
}

/// Spread of half the burn from cycle to cycle, deg, over which the passage from best torque to the knock limit is smeared.
/// From memory of cyclic dispersion at full load (1 to 2 deg).
const CYCLIC_SPREAD_DEG: f64 = 1.0;

/// The later of two angles, passing smoothly from one to the other: `a + s ln(1 + e^((b − a)/s))`.
/// Equation (3.9).
#[inline(always)]
fn later_of<R: Real>(best_deg: f64, limit_deg: R) -> R {
    let x = (limit_deg - best_deg) / CYCLIC_SPREAD_DEG;
    // Beyond thirty spreads the exponential is all there is.
    let smooth = x.at_most(30.0).exp().ln_1p();
    R::choose(x.of(30.0).below(x), x, smooth) * CYCLIC_SPREAD_DEG + best_deg
}

/// Most residual that the laws of the cylinder are asked about, by mass.
const MOST_RESIDUAL: f64 = 0.4;

/// Share of the releasable energy that appears before the exhaust valve; the rest stays in blow-by, crevices and quench
/// layers. From memory of the usual petrol engine. More than [`crate::engine::knock_map::BURN_COMPLETENESS`]: what burns too
/// late to raise the pressure still warms the exhaust.
/// Equation (3.10).
const COMPLETENESS: f64 = 0.96;

/// Burn duration at this charge: scaled from 3000 rpm and the reference state with flame speed and density.
#[inline(always)]
fn burn_duration_deg<R: Real>(
    day: &OnADay<'_>,
    feed: &Feed<R>,
    burned: &Fuel,
    closing: &Closing<R>,
) -> R {
    let charge = BurnCharge {
        rpm: feed.rpm,
        lambda: feed.lambda,
        temperature_k: closing.kelvin,
        pressure_pa: closing.pascal,
        residual_fraction: closing.diluent,
    };
    let logarithms = (closing.kelvin_ln, closing.pascal_ln);
    day.burn.duration_deg_of_ln(burned, &charge, logarithms)
}
