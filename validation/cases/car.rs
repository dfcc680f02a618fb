//! The car of a case, as the shop knows it: its sheet of beliefs, and the hardware that plans state in the same words.

use super::read::{CLAIM, SIZE, about, exact, number};
use pullcast::belief::Prior;
use pullcast::belief::parameter;
use pullcast::belief::sheet::{Belief, Origin, Sheet};
use pullcast::belief::typical;
use pullcast::boost::{
    BeltDrive, BoostControl, CentrifugalCompressor, CompressorMap, Holds, MakerClaims, MapPoint,
    MapReference, PositiveDisplacement, RotorKind, Turbocharger,
};
use pullcast::car::{Blower, Car, ElectricDrive, Exhaust, Facts};
use pullcast::cooling::HeatSink;
use pullcast::driveline::TyreOnDrum;
use pullcast::driveline::gears::{Drive, Gearbox};
use pullcast::dyno::{Coupling, Drums, Setup};
use pullcast::electric::axle::ElectricAxle;
use pullcast::electric::battery::Battery;
use pullcast::electric::motor::Motor;
use pullcast::fuel::Fuel;
use pullcast::parts::CoolerChoice;
use serde_json::Value;

/// Beliefs about numbers the shop knows; paths as in the catalogue.
pub(super) fn given(list: &[(&str, Prior)]) -> Vec<Belief> {
    list.iter()
        .map(|(path, prior)| Belief {
            parameter: parameter::find(path).unwrap_or_else(|| panic!("no number {path}")),
            prior: *prior,
            origin: Origin::Given,
        })
        .collect()
}

/// The facts of the car.
pub(super) fn facts(name: &str, car: &Value) -> Facts {
    let count = |key: &str| {
        car[key]
            .as_u64()
            .and_then(|n| u32::try_from(n).ok())
            .unwrap_or_else(|| panic!("{key}"))
    };
    Facts {
        name: name.to_owned(),
        cylinders: count("cylinders"),
        bore_m: 1e-3 * number(car, "bore_mm"),
        stroke_m: 1e-3 * number(car, "stroke_mm"),
        compression_ratio: number(car, "compression_ratio"),
        inlet_valves: count("valves_per_cylinder") / 2,
        fuelling: pullcast::car::Fuelling::Injection,
        redline_rpm: number(car, "redline_rpm"),
        fuel: Fuel::petrol(number(&car["fuel"], "ron"), car["fuel"]["mon"].as_f64()),
        drive: if car["driven_wheels"] == "front" {
            Drive::Transaxle
        } else {
            Drive::Rear
        },
        gearbox: Gearbox::Manual,
        gear_ratio: number(car, "gear_ratio"),
        final_ratio: number(car, "final_drive"),
        tyre_radius_m: number(car, "tyre_radius_m"),
    }
}

pub(super) fn drums(car: &Value) -> Drums {
    let linked = car["driven_wheels"]
        .as_str()
        .is_some_and(|d| d.contains("linked"));
    Drums {
        inertia_kg_m2: number(&car["dyno"], "drum_inertia_kgm2"),
        radius_m: number(&car["dyno"], "drum_radius_m"),
        drag_n: 35.0,
        drag_n_s2_m2: 0.014,
        drag_added_back: false,
        coupling: if linked {
            Coupling::Linked
        } else {
            Coupling::Single
        },
        drag_n_s_m: 0.0,
        machine: pullcast::dyno::drums::Machine::default(),
    }
}

/// The car as the shop knows it.
pub(crate) fn sheet(name: &str, car: &Value, mods: &Value) -> Sheet {
    let (facts, drums) = (facts(name, car), drums(car));
    let axle_share = if facts.drive == Drive::Transaxle {
        0.60
    } else {
        0.50
    };
    let weight_n = number(car, "mass_kg") * 9.80665;
    let mut list = vec![
        ("engine.bore", exact(facts.bore_m)),
        ("engine.stroke", exact(facts.stroke_m)),
        ("engine.compression_ratio", exact(facts.compression_ratio)),
        ("engine.redline", exact(facts.redline_rpm)),
        ("fuel.research_octane", exact(facts.fuel.research_octane)),
        ("fuel.motor_octane", exact(facts.fuel.motor_octane)),
        ("tune.lambda", exact(number(car, "lambda_target"))),
        ("driveline.gear", exact(facts.gear_ratio)),
        ("driveline.final_drive", exact(facts.final_ratio)),
        ("wheels.tyre_radius", exact(facts.tyre_radius_m)),
        (
            "wheels.inertia",
            about(2.0 * number(car, "wheel_tyre_inertia_each_kgm2"), 0.05),
        ),
        ("wheels.load", about(axle_share * weight_n, 0.15)),
        ("drums.inertia", exact(drums.inertia_kg_m2)),
        ("drums.radius", exact(drums.radius_m)),
    ];
    let mut built = typical(facts);
    if let Some(back) = mods.get("back_pressure_kpa_gauge_near_power_peak") {
        let pa = back_pressure_pa(back, number(car, "lambda_target"), &built.exhaust);
        list.push(("exhaust.back_pressure", about(pa, 0.10)));
    }
    fit_parts(car, &mut built, &mut list);
    if built.electric.is_some() {
        list.push(("electric_axle.load", about(0.5 * weight_n, 0.15)));
    }
    Sheet::new(Setup { car: built, drums }, &given(&list)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Back pressure at the car's reference flow from what was measured at a flow of exhaust gas; where that is not told, as if measured there.
///
/// Turbulent loss: `p² − p₀ p` goes with the square of the flow (the program's own law of an exhaust).
fn back_pressure_pa(back: &Value, lambda: f64, exhaust: &Exhaust) -> f64 {
    const STOICHIOMETRIC: f64 = 14.6;
    let measured_pa = 1e3 * number(back, "before_measured");
    let Some(at) = back.get("before_at") else {
        return measured_pa;
    };
    let air_kg_s = 1e-3 * number(at, "exhaust_flow_g_s") / (1.0 + 1.0 / (STOICHIOMETRIC * lambda));
    let outside_pa = 101_325.0;
    let share = exhaust.reference_flow_kg_s / air_kg_s;
    let squared = share * share * measured_pa * (measured_pa + outside_pa);
    0.5 * ((outside_pa * outside_pa + 4.0 * squared).sqrt() - outside_pa)
}

/// Blower, cooler and electric axle that the car has already.
pub(super) fn fit_parts(car: &Value, built: &mut Car, list: &mut Vec<(&'static str, Prior)>) {
    if let Some(hardware) = car
        .get("induction_hardware")
        .filter(|h| h["part"] == "positive-displacement blower")
    {
        let machine = displacement_machine(hardware);
        list.push((
            "blower.displacement",
            about(machine.displacement_m3_rev, SIZE),
        ));
        list.push((
            "blower.leak_area",
            Prior::log_normal(machine.leak_area_m2, 0.25, 0.0, 1e-3).expect("a leak"),
        ));
        let drive = BeltDrive::of_overall_ratio(number(hardware, "drive_ratio"), PULLEY_M);
        built.blower = Blower::Displacement { machine, drive };
    }
    if let Some(hardware) = car
        .get("induction_hardware")
        .filter(|h| h["part"] == "centrifugal blower")
    {
        let machine = CentrifugalCompressor::of_map(compressor_map(&hardware["compressor_map"]));
        built.blower = Blower::Centrifugal {
            machine: Box::new(machine),
            drive: BeltDrive::of_geared_ratio(number(hardware, "overall_drive_ratio"), PULLEY_M),
        };
        list.push((
            "blower.gear_efficiency",
            about(number(hardware, "gear_efficiency_claim"), 0.01),
        ));
    }
    if let Some(hardware) = car
        .get("induction_hardware")
        .filter(|h| h["part"] == "turbocharger")
    {
        fit_turbo(hardware, built, list);
    }
    if let Some(cooler) = car.get("intercooler") {
        let choice = cooler_choice(cooler);
        list.push(("cooler.effectiveness", choice.effectiveness));
        list.push(("cooler.reference_flow", choice.reference_flow_kg_s));
        list.push(("cooler.pressure_drop", choice.pressure_drop_pa));
        list.push(("cooler.heat_capacity", choice.heat_capacity_j_k));
        list.push(("cooler.rejection", choice.rejection_w_k));
        built.cooler = Some(centre(&choice).device());
    }
    if let Some(axle) = car.get("electric_axle") {
        built.electric = Some(electric_axle(axle, built));
        list.push((
            "electric_axle.peak_power",
            about(1e3 * number(axle, "peak_power_kw"), CLAIM),
        ));
        list.push((
            "electric_axle.peak_torque",
            about(number(axle, "peak_motor_torque_nm"), CLAIM),
        ));
        list.push((
            "electric_axle.reduction",
            exact(number(axle, "reduction_ratio")),
        ));
    }
}

pub(super) fn fit_turbo(hardware: &Value, built: &mut Car, list: &mut Vec<(&'static str, Prior)>) {
    let compressor = CentrifugalCompressor::of_map(compressor_map(&hardware["compressor_map"]));
    let flow_kg_s = built.engine.reference_flow_kg_s();
    let turbo = Turbocharger::usual(compressor, 1, boost_control(hardware), flow_kg_s);
    list.push(("blower.turbine_area", turbine_area(hardware)));
    list.push(("blower.turbine_efficiency", turbine_efficiency(hardware)));
    built.blower = Blower::Turbo(Box::new(turbo));
}

pub(super) fn turbine_area(hardware: &Value) -> Prior {
    about(1e-6 * number(hardware, "turbine_effective_area_mm2"), CLAIM)
}

pub(super) fn turbine_efficiency(hardware: &Value) -> Prior {
    about(number(hardware, "turbine_efficiency_claim"), 2.0 * CLAIM)
}

/// The boost asked for, at the compressor's outlet.
pub(super) fn boost_control(hardware: &Value) -> BoostControl {
    let asked = hardware["boost_target_kpa_gauge"]
        .as_array()
        .expect("a boost curve");
    BoostControl {
        holds: Holds::Gauge,
        asked: asked
            .iter()
            .map(|point| {
                let at = |i: usize| point[i].as_f64().expect("a number");
                (at(0), 1e3 * at(1))
            })
            .collect(),
        factor: 1.0,
    }
}

/// Blower pulley where the case does not state one, m.
pub(super) const PULLEY_M: f64 = 0.080;

pub(super) fn claims(hardware: &Value) -> MakerClaims {
    let claim = &hardware["maker_claims"];
    MakerClaims {
        pressure_ratio: number(claim, "at_pressure_ratio"),
        speed_rad_s: number(claim, "at_rotor_rpm") * std::f64::consts::TAU / 60.0,
        volumetric_efficiency: number(claim, "volumetric_efficiency"),
        isentropic_efficiency: number(claim, "isentropic_efficiency"),
    }
}

pub(super) fn rotor_kind(hardware: &Value) -> RotorKind {
    if hardware["style"] == "screw" {
        RotorKind::Screw
    } else {
        RotorKind::TwistedLobe
    }
}

pub(super) fn displacement_machine(hardware: &Value) -> PositiveDisplacement {
    let mut machine = PositiveDisplacement::typical(
        rotor_kind(hardware),
        1e-3 * number(hardware, "displacement_l_per_rev"),
        max_speed_rad_s(hardware),
    );
    machine.built_in_volume_ratio = volume_ratio(hardware);
    machine
        .calibrated(claims(hardware))
        .expect("claims of a possible machine")
}

/// Highest speed of a rotor of this size, rad/s: 18 000 rpm at two litres, rim speeds alike (common practice, no source).
pub(super) fn max_speed_rad_s(hardware: &Value) -> f64 {
    18_000.0 * (2.0 / number(hardware, "displacement_l_per_rev")).cbrt() * std::f64::consts::TAU
        / 60.0
}

/// Built-in volume ratio from the internal pressure ratio the maker states.
pub(super) fn volume_ratio(hardware: &Value) -> f64 {
    number(hardware, "internal_pressure_ratio").powf(1.0 / 1.4)
}

pub(super) fn cooler_choice(cooler: &Value) -> CoolerChoice<Prior> {
    let kind = if cooler["kind"] == "air-to-air" {
        HeatSink::Air
    } else {
        HeatSink::Water
    };
    let effectiveness = number(cooler, "effectiveness");
    let (rejection_w_k, sd_ln) = kind.usual().rejection_w_k;
    CoolerChoice {
        kind,
        effectiveness: Prior::normal(effectiveness, 0.04, 0.2, 0.95).expect("a spread"),
        reference_flow_kg_s: exact(number(cooler, "at_flow_kgps")),
        pressure_drop_pa: about(1e3 * number(cooler, "pressure_drop_kpa"), 0.10),
        heat_capacity_j_k: about(1e3 * number(cooler, "core_heat_capacity_kj_per_k"), 0.10),
        rejection_w_k: Prior::log_normal(rejection_w_k, sd_ln, 1.0, 5000.0).expect("a conductance"),
    }
}

pub(super) fn centre(choice: &CoolerChoice<Prior>) -> CoolerChoice<f64> {
    CoolerChoice {
        kind: choice.kind,
        effectiveness: choice.effectiveness.centre(),
        reference_flow_kg_s: choice.reference_flow_kg_s.centre(),
        pressure_drop_pa: choice.pressure_drop_pa.centre(),
        heat_capacity_j_k: choice.heat_capacity_j_k.centre(),
        rejection_w_k: choice.rejection_w_k.centre(),
    }
}

pub(super) fn electric_axle(axle: &Value, car: &Car) -> ElectricDrive {
    let power = 1e3 * number(axle, "peak_power_kw");
    let motor = Motor::typical(number(axle, "peak_motor_torque_nm"), power, 2200.0);
    let energy_j = 3.6e6 * number(axle, "battery_kwh");
    ElectricDrive {
        axle: ElectricAxle {
            motor,
            battery: Battery {
                max_power_w: 1.15 * power,
                ..Battery::typical(350.0, 0.10, energy_j)
            },
            reduction_ratio: number(axle, "reduction_ratio"),
            reduction_efficiency: 0.975,
            cut_speed_rad_s: f64::INFINITY,
            cut_taper: 0.07,
            ramp_s: 0.0,
            assist: 1.0,
        },
        tyre: TyreOnDrum {
            ..car.driveline.tyre
        },
        inertia_kg_m2: 4.0,
    }
}

pub(super) fn compressor_map(map: &Value) -> CompressorMap {
    let points: Vec<MapPoint> = map["points"]
        .as_array()
        .expect("map points")
        .iter()
        .map(|p| MapPoint {
            speed_rad_s: number(p, "speed_rpm") * std::f64::consts::TAU / 60.0,
            flow_kg_s: number(p, "corrected_flow_kgps"),
            pressure_ratio: number(p, "pressure_ratio"),
            efficiency: number(p, "efficiency"),
        })
        .collect();
    let reference = MapReference {
        pressure_pa: 1e3 * number(map, "reference_pressure_kpa"),
        temperature_k: 273.15 + number(map, "reference_temperature_c"),
    };
    CompressorMap::from_points(&points, reference, 1e-3 * number(map, "wheel_diameter_mm"))
        .expect("a map")
}
