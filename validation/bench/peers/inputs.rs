//! What peers of the pull in another language need to solve the same equations, and the library's own pulls beside them: constants, tables and
//! curve of a car as one JSON document, or so many pulls on one core for a clock that stands outside.
//!
//!     cargo run --release --example pull_peers -- inputs scenarios/manual_coupe/car.toml > coupe.json
//!     cargo run --release --example pull_peers -- pulls scenarios/manual_coupe/car.toml 3000
//!
//! It refuses cars with anything that the peers leave out: a blower, a charge cooler, an electric axle, sprays, a fuel supply, a clutch or a converter
//! that slips.

#![expect(clippy::print_stdout, reason = "its document goes to standard output")]

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::car::Blower;
use pullcast::dyno::{Conditions, Pull, Setup};
use pullcast::files;
use serde_json::{Value, json};
use std::error::Error;
use std::hint::black_box;
use std::path::Path;

/// Engine speeds of a pull of a draw.
const POINTS: usize = 28;
/// Nodes of the fuel-air curve: λ from 0.70 in steps of 0.05.
const MIXTURES: u32 = 15;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let (what, path) = (words.first(), words.get(1));
    let (Some(what), Some(path)) = (what, path) else {
        return Err("expected: inputs CAR, or pulls CAR COUNT".into());
    };
    let setup = files::car::open(Path::new(path))?.0.sheet.centre;
    let day = Day::from_relative_humidity(StationPressure::from_pa(98_950.0), 294.15, 0.55)?;
    let conditions = Conditions::rested(setup.car.engine.redline_rpm);
    match what.as_str() {
        "inputs" => {
            let pull = setup.pull(&day, &conditions, POINTS)?;
            println!("{}", inputs(&setup, &day, &conditions, &pull)?);
        }
        "pulls" => {
            let count: usize = words.get(2).ok_or("how many pulls?")?.parse()?;
            for _ in 0..count {
                black_box(setup.pull(black_box(&day), &conditions, POINTS)?);
            }
        }
        other => return Err(format!("'{other}': expected inputs or pulls").into()),
    }
    Ok(())
}

#[expect(clippy::too_many_lines, reason = "a table: a line for each number")]
fn inputs(
    setup: &Setup,
    day: &Day,
    conditions: &Conditions,
    pull: &Pull,
) -> Result<Value, Box<dyn Error>> {
    let car = &setup.car;
    let (engine, line, fuel) = (&car.engine, &car.driveline, &car.fuel);
    let plain = matches!(car.blower, Blower::None)
        && car.cooler.is_none()
        && car.electric.is_none()
        && car.fuel_supply.injectors.is_none()
        && line.converter.is_none()
        && line.clutch_nm.is_none()
        && line.train.stages.len() == 2
        && engine.closing_later_deg == 0.0;
    if !plain {
        return Err("the peers know nothing of a part that this car has".into());
    }
    let (breathing, cylinder, valves) =
        (&engine.breathing, &engine.geometry.cylinder, &engine.valves);
    let (walls, friction, port) = (&engine.wall_loss, &engine.friction, &car.exhaust.port);
    let (tyre, drums) = (&line.tyre, &setup.drums);
    // Efficiency at the nodes, level and compression ratio in it: the work without its factor of mixture.
    let work = engine.combustion.prepare(fuel, cylinder.compression_ratio);
    let best = engine.combustion.best_lambda;
    let curvature = engine.combustion.mixture_curvature;
    let efficiency: Vec<f64> = (0..MIXTURES)
        .map(|k| {
            let lambda = 0.7 + 0.05 * f64::from(k);
            let shape = 1.0 - curvature * (lambda - best) * (lambda - best);
            work.work_j_kg_air(lambda) * lambda / (fuel.energy_per_air_j_kg() * shape)
        })
        .collect();
    let [integral, peak, slope, motored] = engine.knock.map.entries();
    let humps: Vec<_> = (0..3)
        .map(|k| {
            breathing
                .humps
                .get(k)
                .map_or([0.0, 1.0, 1.0], |h| [h.height, h.rpm, h.log_width])
        })
        .collect();
    let stages = &line.train.stages;
    let kept = 1.0 - port.reference_drop_k / (port.reference_valve_k - port.wall_k).max(1.0);
    let constants = [
        ("ambient_pa", day.station().pa()),
        ("ambient_k", day.temperature_k()),
        ("air_gas_constant", day.gas_constant_j_kg_k()),
        ("air_density", day.density_kg_m3()),
        ("humidity_ratio", day.humidity_ratio()),
        ("cylinders", f64::from(engine.geometry.cylinders)),
        ("bore_m", cylinder.bore_m),
        ("stroke_m", cylinder.stroke_m),
        ("rod_m", cylinder.rod_m),
        ("compression_ratio", cylinder.compression_ratio),
        ("redline_rpm", engine.redline_rpm),
        ("valve_m", valves.diameter_m),
        ("valve_count", f64::from(valves.count)),
        ("valve_flow", valves.mean_flow_coefficient),
        ("valve_open_deg", valves.open_duration_deg),
        ("valve_closing_deg", valves.closing_abdc_deg),
        ("overlap_deg_m", engine.overlap_deg_m),
        ("level", breathing.level),
        ("tilt", breathing.tilt),
        ("fade_rpm", breathing.fade_speed * engine.redline_rpm),
        ("choking_ratio", breathing.choking_ratio),
        ("choking_exponent", breathing.choking_exponent),
        ("manifold_ntu", -(1.0 - breathing.manifold_heating).ln()),
        ("port_ntu", -(1.0 - breathing.port_heating).ln()),
        ("wall_k", breathing.wall_k),
        ("evaporated_share", car.evaporated_share()),
        ("ram_rpm", breathing.ram_speed * engine.redline_rpm),
        ("energy_per_air", fuel.energy_per_air_j_kg()),
        ("best_lambda", best),
        ("mixture_curvature", curvature),
        ("best_ca50_deg", engine.phasing.mbt_ca50_deg),
        ("retard_multiplier", engine.phasing.retard_multiplier),
        ("late_deg", car.tune.late_deg()),
        ("wall_share", walls.reference_share * walls.multiplier),
        ("wall_reference", walls.reference_share),
        ("wall_piston_speed", walls.reference_piston_speed_m_s),
        ("wall_density", walls.reference_density_kg_m3),
        ("wall_speed_exponent", walls.speed_exponent),
        ("wall_density_exponent", walls.density_exponent),
        ("wall_ca50_deg", walls.reference_ca50_deg),
        ("wall_work", walls.work_per_share),
        ("burn_deg", engine.burn.base_duration_deg),
        ("burn_rpm", engine.burn.base_rpm),
        ("burn_exponent", engine.burn.speed_exponent),
        (
            "burn_flame",
            fuel.laminar_flame_speed_m_s(0.88, 620.0, 15e5, 0.06),
        ),
        ("knock_delay", engine.knock.delay_multiplier),
        (
            "octane",
            fuel.chemical_octane_index(engine.knock.octane_weight),
        ),
        ("friction_pa", friction.constant_pa),
        ("friction_peak", friction.per_peak_pressure),
        ("friction_speed", friction.per_speed_pa_s_m),
        (
            "friction_speed_squared",
            friction.per_speed_squared_pa_s2_m2,
        ),
        (
            "oil_factor",
            pullcast::engine::friction::Oil::default().factor(engine.oil_k, friction.oil_exponent),
        ),
        ("accessories_w", engine.accessories.power_at_6000_w),
        ("accessories_constant", engine.accessories.constant_share),
        ("valve_pumping_pa", engine.valve_pumping_pa),
        ("air_fuel", fuel.stoichiometric_air_fuel),
        ("heating_value", fuel.lower_heating_value_vapour_j_kg),
        ("latent_heat", fuel.latent_heat_j_kg),
        ("vapour_molar", fuel.molar_mass_kg_kmol),
        ("hydrogen", fuel.hydrogen_per_carbon),
        ("oxygen", fuel.oxygen_per_carbon),
        ("flame_peak", fuel.flame.peak_m_s),
        ("flame_curvature", fuel.flame.curvature_m_s),
        ("flame_equivalence", fuel.flame.peak_equivalence),
        ("lambda_middle", car.tune.lambda + car.tune.lambda_offset),
        ("lambda_tilt", car.tune.lambda_tilt),
        ("intake_pa", car.intake.loss_now_pa()),
        ("intake_flow", car.intake.reference_flow_kg_s),
        ("intake_behind", car.intake.share_behind),
        ("exhaust_loss", car.exhaust.loss().k),
        ("scavenging_pa", car.exhaust.scavenging_pa),
        ("exhaust_flow", car.exhaust.reference_flow_kg_s),
        ("port_kept_ln", kept.clamp(1e-3, 1.0).ln()),
        ("port_flow", port.reference_flow_kg_s),
        ("port_wall_k", port.wall_k),
        ("first_ratio", stages[0].ratio),
        ("first_mesh", stages[0].loss.mesh_efficiency),
        ("first_spin_nm", stages[0].loss.spin_torque_nm),
        ("last_ratio", stages[1].ratio),
        ("last_mesh", stages[1].loss.mesh_efficiency),
        ("last_spin_nm", stages[1].loss.spin_torque_nm),
        ("gear_oil", line.oil_factor()),
        ("engine_kg_m2", line.parts.at_crank_kg_m2()),
        (
            "turning_kg_m2",
            line.parts.shaft_kg_m2 * line.final_ratio() * line.final_ratio()
                + line.parts.wheels_kg_m2,
        ),
        ("tyre_k", line.tyre_k),
        ("tyre_m", tyre.radius_m),
        ("drum_m", drums.radius_m),
        ("load_n", tyre.load_n),
        ("rolling", tyre.rolling_coefficient),
        ("slip_stiffness", tyre.slip_stiffness),
        ("grip", tyre.grip),
        ("growth", tyre.growth_at_60_m_s),
        ("drum_kg", drums.mass_kg()),
        ("drag_n", drums.drag_n),
        ("drag_n_s_m", drums.drag_n_s_m),
        ("drag_n_s2_m2", drums.drag_n_s2_m2),
        (
            "drag_added_back",
            f64::from(u8::from(drums.drag_added_back)),
        ),
    ];
    Ok(json!({
        "car": car.name,
        "from_rpm": conditions.from_rpm,
        "to_rpm": conditions.to_rpm,
        "constants": serde_json::Map::from_iter(constants.map(|(name, value)| (name.to_owned(), value.into()))),
        "humps": humps,
        "efficiency": efficiency,
        "knock": {"integral": integral, "peak": peak, "slope": slope, "motored": motored},
        "curve": pull.points.iter().map(|p| json!({"rpm": p.rpm, "power_w": p.power_w, "time_s": p.time_s, "sensor_k": p.sensor_k})).collect::<Vec<_>>(),
    }))
}
