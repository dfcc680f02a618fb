//! From the room to the crank: air, duct, blower, cooler, manifold, port, cylinder, exhaust, friction.

use super::{Section, Share, Step, by_cycle, step, supply};
use crate::air::Day;
use crate::boost::ShaftPoint;
use crate::car::{Added, Car, Ledger, OnADay, OperatingPoint};
use crate::dyno::PullPoint;
use crate::engine::breathing::PortHeating;
use crate::report::number::What;
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
        "Air in the room",
        vec![
            step(
                "station pressure",
                What::Pressure,
                day.station().pa(),
                "given, absolute",
            ),
            step(
                "temperature",
                What::Temperature,
                day.temperature_k(),
                "given",
            ),
            step(
                "vapour pressure",
                What::Pressure,
                day.vapour_pa(),
                "from the humidity reading",
            ),
            step(
                "water per dry air",
                What::Ratio,
                day.humidity_ratio(),
                "0.622 p_v/(p − p_v)",
            ),
            step(
                "density",
                What::Density,
                day.density_kg_m3(),
                "ideal gas, moist",
            ),
        ],
    )
}

fn inlet(point: &OperatingPoint) -> Section {
    section(
        "Inlet",
        vec![
            step(
                "air flow",
                What::MassFlow,
                point.air_kg_s,
                "root of: pressure delivered = pressure the cylinders need",
            ),
            step(
                "pressure behind the duct",
                What::Pressure,
                point.inlet_pa,
                "turbulent duct loss, ∝ flow²/density",
            ),
        ],
    )
}

fn blower(point: &OperatingPoint) -> Section {
    let b = &point.blower;
    section(
        "Blower",
        vec![
            step(
                "shaft speed",
                What::Rpm,
                units::rpm(b.speed_rad_s),
                "engine speed · drive ratio · (1 − slip)",
            ),
            step(
                "belt slip",
                What::Percent,
                b.slip,
                "belt creep and Euler-Eytelwein capacity",
            ),
            step(
                "pressure ratio",
                What::Ratio,
                b.pressure_ratio,
                "swept flow less leakage, or the map, at this flow",
            ),
            step(
                "adiabatic efficiency",
                What::Ratio,
                b.efficiency,
                "the machine's loss model or map",
            ),
            step(
                "outlet temperature",
                What::Temperature,
                b.outlet_k,
                "T₂ = T₁ [1 + (π^((γ−1)/γ) − 1)/η]",
            ),
            step(
                "power into the air",
                What::Power,
                b.gas_w,
                "flow · c_p · (T₂ − T₁)",
            ),
            step(
                "power at its shaft",
                What::Power,
                b.shaft_w,
                "with bearings and gears",
            ),
            step(
                "power from the crank",
                What::Power,
                b.crank_w,
                "with belt loss and slip",
            ),
        ],
    )
}

fn turbocharger(point: &OperatingPoint, shaft: &ShaftPoint) -> Section {
    let b = &point.blower;
    section(
        "Turbocharger",
        vec![
            step(
                "shaft speed",
                What::Rpm,
                units::rpm(b.speed_rad_s),
                "integrated over the pull: (η_m P_t − P_c)/(J ω), or as the control wants",
            ),
            step(
                "boost asked for",
                What::Pressure,
                shaft.target_pa,
                "absolute, at the compressor's outlet",
            ),
            step(
                "pressure ratio",
                What::Ratio,
                b.pressure_ratio,
                "the map at this flow and speed",
            ),
            step("adiabatic efficiency", What::Ratio, b.efficiency, "the map"),
            step(
                "outlet temperature",
                What::Temperature,
                b.outlet_k,
                "T₂ = T₁ [1 + (π^((γ−1)/γ) − 1)/η]",
            ),
            step(
                "power into the air",
                What::Power,
                b.gas_w,
                "flow · c_p · (T₂ − T₁)",
            ),
            step(
                "power of the turbine",
                What::Power,
                shaft.turbine.power_w,
                "ṁ c_p T₃ η [1 − (p₄/p₃)^((γ−1)/γ)]",
            ),
            step(
                "gas past the turbine",
                What::Percent,
                shaft.gate_share,
                "what the control does not need",
            ),
            step(
                "pressure before the turbine",
                What::Pressure,
                shaft.turbine.inlet_pa,
                "orifice of the turbine's area, absolute",
            ),
        ],
    )
}

fn cooler(point: &OperatingPoint, core_k: f64) -> Option<Section> {
    let c = point.cooler.as_ref()?;
    Some(section(
        "Charge cooler",
        vec![
            step(
                "core or water",
                What::Temperature,
                core_k,
                "integrated over the pull: heat in less heat rejected",
            ),
            step(
                "pressure drop",
                What::Pressure,
                c.pressure_drop_pa,
                "turbulent loss, ∝ flow²/density",
            ),
            step(
                "outlet temperature",
                What::Temperature,
                c.outlet_temperature_k,
                "effectiveness of the core at this flow",
            ),
            step(
                "heat taken",
                What::Power,
                c.heat_w,
                "flow · c_p · (T_in − T_out)",
            ),
            step(
                "heat rejected",
                What::Power,
                c.rejected_w,
                "conductance to the outside air",
            ),
        ],
    ))
}

/// Spray and nitrous oxide, where there is any.
fn additions(added: &Added) -> Option<Section> {
    let flow =
        |name, kg_s, equation| (kg_s > 0.0).then(|| step(name, What::MassFlow, kg_s, equation));
    let (water, methanol) = if added.held_back {
        (
            "held back to half of the fuel's flow with the methanol",
            "held back likewise; the tank's fuel is cut back for it",
        )
    } else {
        (
            "as metered",
            "as metered; the tank's fuel is cut back for it",
        )
    };
    let mut steps: Vec<Step> = [
        flow("water", added.water_kg_s, water),
        flow("methanol", added.methanol_kg_s, methanol),
        flow(
            "nitrous oxide",
            added.nitrous_kg_s,
            "nozzle, ∝ √ bottle pressure; burns with fuel of its own",
        ),
    ]
    .into_iter()
    .flatten()
    .collect();
    if steps.is_empty() {
        return None;
    }
    steps.push(step(
        "fall of the charge temperature",
        What::TemperatureDifference,
        added.cooling_k,
        if added.saturated {
            "evaporation, stopped by saturated air"
        } else {
            "evaporation ahead of the manifold"
        },
    ));
    steps.push(step(
        "fall under compression",
        What::TemperatureDifference,
        added.late_cooling_k,
        "what is still liquid evaporates in the cylinder",
    ));
    Some(section("Spray and nitrous oxide", steps))
}

fn manifold(car: &Car, point: &OperatingPoint) -> Section {
    let swept_m3_s = car.engine.geometry.displacement_m3() * point.rpm / 120.0;
    let density = point.air_kg_s / (point.volumetric_efficiency * swept_m3_s);
    section(
        "Manifold",
        vec![
            step(
                "pressure",
                What::Pressure,
                point.manifold_pa,
                "absolute; delivered = needed",
            ),
            step(
                "temperature",
                What::Temperature,
                point.charge_k,
                "warmed by the manifold wall, NTU ∝ flow^(−1/4)",
            ),
            step("density", What::Density, density, "ideal gas"),
            step(
                "volumetric efficiency",
                What::Ratio,
                point.volumetric_efficiency,
                "flow over density · swept volume · N/2",
            ),
        ],
    )
}

fn port(car: &Car, day: &Day, point: &OperatingPoint) -> Section {
    let breathing = &car.engine.breathing;
    let heating = PortHeating {
        reference_share: breathing.port_heating,
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
        "Port and inlet valve",
        vec![
            step(
                "share of the way to the wall",
                What::Ratio,
                heating.share(point.air_kg_s),
                "1 − exp(−NTU)",
            ),
            step(
                "drop if all fuel evaporated",
                What::TemperatureDifference,
                drop_k,
                "latent heat over heat capacity",
            ),
            step(
                "charge behind the valve",
                What::Temperature,
                heating.port_k(point.charge_k, point.air_kg_s, drop_k),
                "wall heating less evaporation",
            ),
            step(
                "inlet Mach index",
                What::Ratio,
                point.mach_index,
                "Taylor: piston speed · area ratio/(C · sound speed)",
            ),
            step(
                "index at choking",
                What::Ratio,
                breathing.choking_ratio * car.engine.valves.choking_index(),
                "valve choked for its whole open period",
            ),
        ],
    )
}

fn charge(point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    section(
        "Charge in the cylinder",
        vec![
            step(
                "relative air-fuel ratio",
                What::Ratio,
                c.lambda,
                supply::mixture_words(point),
            ),
            step(
                "fuel flow",
                What::MassFlow,
                c.fuel_kg_s,
                "dry air over (λ · stoichiometric ratio)",
            ),
            step(
                "residual share",
                What::Percent,
                c.residual_fraction,
                "Fox, Cheng and Heywood 1993, less scavenging",
            ),
            step(
                "temperature at inlet closing",
                What::Temperature,
                c.closing_k,
                "fresh charge mixed with residual",
            ),
            step(
                "pressure at inlet closing",
                What::Pressure,
                c.closing_pa,
                "ideal gas on trapped mass",
            ),
        ],
    )
}

fn burn(car: &Car, point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    let mut steps = vec![
        step(
            "burn duration",
            What::CrankAngle,
            c.burn_duration_deg,
            "Wiebe; ∝ speed, flame speed and density",
        ),
        step(
            "octane index",
            What::Octane,
            c.octane_index,
            "RON − K (RON − MON), less what an alcohol owes to the cooling of the charge",
        ),
        step(
            "half burn for best torque",
            What::CrankAngle,
            car.engine.phasing.mbt_ca50_deg,
            "after top dead centre",
        ),
        step(
            "half burn used",
            What::CrankAngle,
            c.ca50_deg,
            phasing_words(c.knock_limited, car.tune.retard_deg > 0.0),
        ),
        step(
            "work left by its phasing",
            What::Ratio,
            c.phasing_factor,
            "relative to best torque",
        ),
        step(
            "peak pressure",
            What::Pressure,
            c.peak_pa,
            "closed cycle, tabulated ratio",
        ),
        step(
            "heat to the walls",
            What::Percent,
            c.wall_share,
            "Woschni form, share of the heat released",
        ),
    ];
    let asked = car.engine.work_by_cycle.as_ref();
    if let Some(told) = asked.map(|work| work.ratios_at(point.rpm)) {
        steps.extend(by_cycle::steps(&told));
    }
    steps.push(step(
        "gross indicated power",
        What::Power,
        c.indicated_w,
        if asked.is_some() {
            "dry air · fuel-air cycle work · level · mixture · compression · late evaporation · phasing · state · walls at best torque · that factor"
        } else {
            "dry air · fuel-air cycle work · level · mixture · compression · late evaporation · phasing · state · walls at best torque"
        },
    ));
    section("Burn, knock and work", steps)
}

/// Why half the burn stands where it does; the passage from best torque to the limit is smeared by a degree of cyclic spread.
fn phasing_words(knock_limited: bool, retarded: bool) -> &'static str {
    match (knock_limited, retarded) {
        (true, false) => "held back by knock: Livengood-Wu integral of Douaud and Eyzat's delay",
        (true, true) => {
            "held back by knock (Livengood-Wu integral of Douaud and Eyzat's delay) and by the stated retard"
        }
        (false, false) => "best torque, later by the cyclic spread where knock is near",
        (false, true) => "best torque and the stated retard",
    }
}

fn exhaust(point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    section(
        "Exhaust",
        vec![
            step(
                "gas behind the valve",
                What::Temperature,
                c.valve_k,
                "first law over the cylinder",
            ),
            step(
                "gas in the system",
                What::Temperature,
                c.exhaust_k,
                "cooling in port and manifold",
            ),
            step(
                "pressure behind the valve",
                What::Pressure,
                point.exhaust_pa,
                if point.shaft.is_some() {
                    "that before the turbine"
                } else {
                    "turbulent loss of hot gas over ambient, absolute"
                },
            ),
        ],
    )
}

fn crank(car: &Car, point: &OperatingPoint) -> Section {
    let c = &point.cylinder;
    section(
        "Friction and pumping",
        vec![
            step(
                "piston speed",
                What::PistonSpeed,
                car.engine
                    .geometry
                    .cylinder
                    .mean_piston_speed_m_s(point.rpm),
                "mean: 2 · stroke · N",
            ),
            step(
                "pumping mean pressure",
                What::Pressure,
                c.pumping_pa,
                "exhaust less manifold, with valve loss",
            ),
            step(
                "friction mean pressure",
                What::Pressure,
                c.friction_pa,
                "Chen-Flynn form",
            ),
            step(
                "accessories",
                What::Power,
                point.ledger.accessories_w,
                "at 6000 rpm, scaled with speed",
            ),
            step(
                "torque at the crank",
                What::Torque,
                point.torque_nm,
                "indicated less pumping, friction, accessories, blower",
            ),
        ],
    )
}

/// The crank's balance, then the rest of the fuel's power.
pub(super) fn ledger(ledger: &Ledger) -> Vec<Share> {
    [
        ("fuel, lower heating value", ledger.fuel_w),
        ("nitrous oxide, less its evaporation", ledger.nitrous_w),
        ("gross indicated", ledger.indicated_w),
        ("  pumping", -ledger.pumping_w),
        ("  friction", -ledger.friction_w),
        ("  accessories", -ledger.accessories_w),
        ("  blower", -ledger.blower_w),
        ("at the crank", ledger.brake_w()),
        ("heat to the cylinder walls", ledger.wall_w),
        ("heat to the charge cooler", ledger.cooler_w),
        ("evaporation of sprayed water", ledger.water_w),
        ("exhaust heat above 25 °C", ledger.exhaust_w),
        ("  of it to the turbine", ledger.turbine_w),
        (
            "fuel energy unreleased for want of air",
            ledger.unreleased_w,
        ),
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
