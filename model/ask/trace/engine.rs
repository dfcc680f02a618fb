//! From the room to the crank: air, duct, blower, cooler, manifold, port, cylinder, exhaust, friction.

use super::{Section, Share, Step, by_cycle, step, supply};
use crate::air::Day;
use crate::boost::ShaftPoint;
use crate::car::{Added, Car, Ledger, OnADay, OperatingPoint};
use crate::dyno::PullPoint;
use crate::engine::breathing::PortHeating;
use crate::units;

pub(super) fn sections(car: &Car, day: &Day, pull: &PullPoint) -> Vec<Section> {
    let point = &pull.engine;
    let mut list = vec![air(day), inlet(point)];
    if let Some(shaft) = &point.shaft {
        list.push(turbocharger(point, shaft));
    } else if point.blower.speed_rad_s > 0.0 {
        list.push(blower(point));
    }
    if let Some(section) = cooler(point, pull.core_k) {
        list.push(section);
    }
    list.extend(additions(&point.added));
    list.extend([manifold(car, point), port(car, day, point)]);
    list.extend(supply::section(car, day, point));
    list.extend([
        charge(point),
        burn(car, point),
        exhaust(point),
        crank(car, point),
    ]);
    list
}

fn section(part: &'static str, steps: Vec<Step>) -> Section {
    Section { part, steps }
}

fn air(day: &Day) -> Section {
    section(
        "air",
        vec![
            step(
                "station_pressure",
                "Pa",
                day.station().pa(),
                "given_absolute",
            ),
            step("temperature", "K", day.temperature_k(), "given"),
            step("vapour_pressure", "Pa", day.vapour_pa(), "humidity_reading"),
            step(
                "humidity_ratio",
                "1",
                day.humidity_ratio(),
                "humidity_ratio",
            ),
            step("density", "kg/m³", day.density_kg_m3(), "moist_ideal_gas"),
        ],
    )
}

fn inlet(point: &OperatingPoint) -> Section {
    section(
        "inlet",
        vec![
            step("air_flow", "kg/s", point.air_kg_s, "air_balance"),
            step("inlet_pressure", "Pa", point.inlet_pa, "duct_loss"),
        ],
    )
}

fn blower(point: &OperatingPoint) -> Section {
    let b = &point.blower;
    section(
        "blower",
        vec![
            step(
                "shaft_speed",
                "rpm",
                units::rpm(b.speed_rad_s),
                "belt_drive",
            ),
            step("belt_slip", "1", b.slip, "belt_capacity"),
            step("pressure_ratio", "1", b.pressure_ratio, "blower_flow"),
            step("adiabatic_efficiency", "1", b.efficiency, "blower_losses"),
            step("outlet_temperature", "K", b.outlet_k, "compression"),
            step("air_power", "W", b.gas_w, "compression_power"),
            step("shaft_power", "W", b.shaft_w, "bearings_and_gears"),
            step("crank_power", "W", b.crank_w, "belt_loss"),
        ],
    )
}

fn turbocharger(point: &OperatingPoint, shaft: &ShaftPoint) -> Section {
    let b = &point.blower;
    section(
        "turbocharger",
        vec![
            step(
                "shaft_speed",
                "rpm",
                units::rpm(b.speed_rad_s),
                "shaft_balance",
            ),
            step("boost_asked", "Pa", shaft.target_pa, "boost_control"),
            step("pressure_ratio", "1", b.pressure_ratio, "compressor_map"),
            step(
                "adiabatic_efficiency",
                "1",
                b.efficiency,
                "compressor_map_efficiency",
            ),
            step("outlet_temperature", "K", b.outlet_k, "compression"),
            step("air_power", "W", b.gas_w, "compression_power"),
            step("turbine_power", "W", shaft.turbine.power_w, "turbine_power"),
            step("gate_share", "1", shaft.gate_share, "gate"),
            step(
                "turbine_inlet_pressure",
                "Pa",
                shaft.turbine.inlet_pa,
                "turbine_orifice",
            ),
        ],
    )
}

fn cooler(point: &OperatingPoint, core_k: f64) -> Option<Section> {
    let c = point.cooler.as_ref()?;
    Some(section(
        "charge_cooler",
        vec![
            step("core", "K", core_k, "core_balance"),
            step("pressure_drop", "Pa", c.pressure_drop_pa, "core_loss"),
            step(
                "outlet_temperature",
                "K",
                c.outlet_temperature_k,
                "core_effectiveness",
            ),
            step("heat_taken", "W", c.heat_w, "core_heat"),
            step("heat_rejected", "W", c.rejected_w, "core_rejection"),
        ],
    ))
}

/// Spray and nitrous oxide, where there is any.
fn additions(added: &Added) -> Option<Section> {
    let flow = |name, kg_s, equation| (kg_s > 0.0).then(|| step(name, "kg/s", kg_s, equation));
    let (water, methanol) = if added.held_back {
        ("spray_held_back", "methanol_held_back")
    } else {
        ("as_metered", "methanol_as_metered")
    };
    let mut steps: Vec<Step> = [
        flow("water", added.water_kg_s, water),
        flow("methanol", added.methanol_kg_s, methanol),
        flow("nitrous_oxide", added.nitrous_kg_s, "nitrous_nozzle"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if steps.is_empty() {
        return None;
    }
    steps.push(step(
        "charge_cooling",
        "K",
        added.cooling_k,
        if added.saturated {
            "evaporation_saturated"
        } else {
            "evaporation"
        },
    ));
    steps.push(step(
        "late_cooling",
        "K",
        added.late_cooling_k,
        "late_evaporation",
    ));
    Some(section("spray", steps))
}

fn manifold(car: &Car, point: &OperatingPoint) -> Section {
    let swept_m3_s = car.engine.geometry.displacement_m3() * point.rpm / 120.0;
    let density = point.air_kg_s / (point.volumetric_efficiency * swept_m3_s);
    section(
        "manifold",
        vec![
            step("pressure", "Pa", point.manifold_pa, "manifold_balance"),
            step("temperature", "K", point.charge_k, "manifold_wall"),
            step("density", "kg/m³", density, "ideal_gas"),
            step(
                "volumetric_efficiency",
                "1",
                point.volumetric_efficiency,
                "volumetric_efficiency",
            ),
        ],
    )
}

fn port(car: &Car, day: &Day, point: &OperatingPoint) -> Section {
    let breathing = &car.engine.breathing;
    let heating = PortHeating {
        reference_ntu: PortHeating::ntu(breathing.port_heating),
        reference_flow_kg_s: car.intake.reference_flow_kg_s,
        wall_k: breathing.wall_k,
        evaporated_share: car.evaporated_share(),
    };
    let drop_k = OnADay::new(car, *day).full_evaporation_drop_k(
        &point.added,
        point.cylinder.lambda,
        point.air_kg_s,
    );
    section(
        "port",
        vec![
            step(
                "wall_share",
                "1",
                heating.share(point.air_kg_s),
                "wall_transfer",
            ),
            step("full_evaporation_drop", "K", drop_k, "full_evaporation"),
            step(
                "port_temperature",
                "K",
                heating.port_k(point.charge_k, point.air_kg_s, drop_k),
                "port_heating",
            ),
            step("inlet_mach_index", "1", point.mach_index, "taylor_index"),
            step(
                "choking_index",
                "1",
                breathing.choking_ratio * car.engine.valves.choking_index(),
                "choked_valve",
            ),
        ],
    )
}

fn charge(point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    section(
        "charge",
        vec![
            step("lambda", "1", c.lambda, supply::mixture(point)),
            step("fuel_flow", "kg/s", c.fuel_kg_s, "fuel_for_air"),
            step("residual_share", "1", c.residual_fraction, "residual"),
            step("closing_temperature", "K", c.closing_k, "mixing"),
            step("closing_pressure", "Pa", c.closing_pa, "trapped_gas"),
        ],
    )
}

fn burn(car: &Car, point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    let mut steps = vec![
        step("burn_duration", "deg", c.burn_duration_deg, "wiebe"),
        step("octane_index", "1", c.octane_index, "octane_index"),
        step(
            "best_half_burn",
            "deg",
            car.engine.phasing.mbt_ca50_deg,
            "best_torque_phasing",
        ),
        step(
            "half_burn",
            "deg",
            c.ca50_deg,
            phasing(c.knock_limited, car.tune.late_deg() > 0.0),
        ),
        step("phasing_factor", "1", c.phasing_factor, "phasing_loss"),
        step("peak_pressure", "Pa", c.peak_pa, "closed_cycle"),
        step("wall_heat", "1", c.wall_share, "woschni"),
    ];
    let asked = car.engine.work_by_cycle.as_ref();
    if let Some(ratios) = asked.map(|work| work.ratios_at(point.rpm)) {
        steps.extend(by_cycle::steps(&ratios));
    }
    steps.push(step(
        "indicated_power",
        "W",
        c.indicated_w,
        if asked.is_some() {
            "indicated_power_by_cycle"
        } else {
            "indicated_power"
        },
    ));
    section("burn", steps)
}

/// Why half the burn stands where it does; the passage from best torque to the limit is smeared by a degree of cyclic spread.
fn phasing(knock_limited: bool, retarded: bool) -> &'static str {
    match (knock_limited, retarded) {
        (true, false) => "knock",
        (true, true) => "knock_and_retard",
        (false, false) => "best_torque",
        (false, true) => "best_torque_and_retard",
    }
}

fn exhaust(point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    section(
        "exhaust",
        vec![
            step("valve_gas", "K", c.valve_k, "first_law"),
            step("exhaust_gas", "K", c.exhaust_k, "exhaust_cooling"),
            step(
                "exhaust_pressure",
                "Pa",
                point.exhaust_pa,
                if point.shaft.is_some() {
                    "before_turbine"
                } else {
                    "exhaust_loss"
                },
            ),
        ],
    )
}

fn crank(car: &Car, point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    section(
        "friction",
        vec![
            step(
                "piston_speed",
                "m/s",
                car.engine
                    .geometry
                    .cylinder
                    .mean_piston_speed_m_s(point.rpm),
                "mean_piston_speed",
            ),
            step("pumping_pressure", "Pa", c.pumping_pa, "pumping"),
            step("friction_pressure", "Pa", c.friction_pa, "chen_flynn"),
            step(
                "accessories",
                "W",
                point.ledger.accessories_w,
                "accessories",
            ),
            step("crank_torque", "N m", point.torque_nm, "crank_balance"),
        ],
    )
}

/// The crank's balance, then the rest of the fuel's power.
pub(super) fn ledger(ledger: &Ledger) -> Vec<Share> {
    [
        ("fuel", ledger.fuel_w),
        ("nitrous_oxide", ledger.nitrous_w),
        ("indicated", ledger.indicated_w),
        ("pumping", -ledger.pumping_w),
        ("friction", -ledger.friction_w),
        ("accessories", -ledger.accessories_w),
        ("blower", -ledger.blower_w),
        ("crank", ledger.brake_w()),
        ("walls", ledger.wall_w),
        ("cooler", ledger.cooler_w),
        ("sprayed_water", ledger.water_w),
        ("exhaust", ledger.exhaust_w),
        ("turbine", ledger.turbine_w),
        ("unreleased", ledger.unreleased_w),
    ]
    .into_iter()
    .filter(|(_, power_w)| *power_w != 0.0)
    .map(|(entry, power_w)| Share {
        entry,
        power_w,
        share_of_fuel: power_w / ledger.fuel_w,
    })
    .collect()
}
