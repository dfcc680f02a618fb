//! Reads a recorded case as the simulator wrote it: what the shop knows, the planned work, the pulls and their weather.
//!
//! This is the only place that knows the case format. It turns a case into the project's own types, with the doubts a shop
//! would state: makers' claims a few per cent, the load on the drums from the car's mass, everything else left to
//! the catalogue's defaults.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::belief::Prior;
use pullcast::belief::parameter;
use pullcast::belief::sheet::{Belief, Origin, Sheet};
use pullcast::belief::typical;
use pullcast::boost::{
    BeltDrive, BoostControl, CentrifugalCompressor, CompressorMap, Holds, MakerClaims, MapPoint,
    MapReference, PositiveDisplacement, RotorKind, Turbocharger,
};
use pullcast::car::{Blower, Car, ElectricDrive, Facts};
use pullcast::cooling::HeatSink;
use pullcast::driveline::TyreOnDrum;
use pullcast::driveline::gears::{Drive, Gearbox};
use pullcast::dyno::{Conditions, Coupling, Drums, Recording, Setup};
use pullcast::electric::axle::ElectricAxle;
use pullcast::electric::battery::Battery;
use pullcast::electric::motor::Motor;
use pullcast::fit::observation::{MeasuredPull, Visit};
use pullcast::fuel::Fuel;
use pullcast::parts::{
    CentrifugalBlower, Change, CompressionRatio, CoolerChoice, DisplacementBlower, Exhaust,
    FuelChoice, Gearing, Intake, Mixture, Plan, Pulley, TurbineSize, TurboChoice, Wheels,
};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Band of engine speed in which the pulls are averaged, rpm.
pub(crate) const BAND_RPM: f64 = 100.0;
/// Doubt on a maker's efficiency claims, and on sizes stated by the maker; relative.
const CLAIM: f64 = 0.03;
const SIZE: f64 = 0.005;

/// A case with its answer.
pub(crate) struct Case {
    pub(crate) sheet: Sheet,
    pub(crate) plan: Plan<Prior>,
    pub(crate) baseline: Visit,
    pub(crate) after: Visit,
    pub(crate) true_before_w: f64,
    pub(crate) true_after_w: f64,
}

/// Folder of the recorded cases.
pub(crate) fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/recorded_pulls")
}

/// Names of the cases in a folder, in order.
pub(crate) fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the recorded pulls are part of the repository")
        .filter_map(Result::ok)
        .filter(|entry| entry.path().is_dir())
        .filter_map(|entry| entry.file_name().into_string().ok())
        .collect();
    names.sort();
    names
}

pub(crate) fn json(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("{key} is missing in {value}"))
}

/// Doubt relative to the value.
fn about(value: f64, relative: f64) -> Prior {
    Prior::normal(
        value,
        relative * value.abs(),
        value - value.abs() * 0.5,
        value + value.abs() * 0.5,
    )
    .expect("a positive spread")
}

fn exact(value: f64) -> Prior {
    Prior::fixed(value).expect("a finite number")
}

/// Reads one case.
pub(crate) fn case(name: &str) -> Case {
    let dir = folder().join(name);
    let car = json(&dir.join("car.json"));
    let mods = json(&dir.join("mods.json"));
    let answer = json(&dir.join("answer.json"));
    let peak = &answer["noise_free_peak_drum_kw"];
    Case {
        sheet: sheet(name, &car, &mods),
        plan: plan(&car, &mods),
        baseline: visit(&dir, "baseline"),
        after: visit(&dir, "after"),
        true_before_w: 1e3 * number(peak, "before"),
        true_after_w: 1e3 * number(peak, "after"),
    }
}

/// Beliefs about numbers the shop knows; paths as in the catalogue.
fn given(list: &[(&str, Prior)]) -> Vec<Belief> {
    list.iter()
        .map(|(path, prior)| Belief {
            parameter: parameter::find(path).unwrap_or_else(|| panic!("no number {path}")),
            prior: *prior,
            origin: Origin::Given,
        })
        .collect()
}

/// The facts of the car.
fn facts(name: &str, car: &Value) -> Facts {
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

fn drums(car: &Value) -> Drums {
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
    if let Some(back) = mods.get("back_pressure_kpa_gauge_near_power_peak") {
        list.push((
            "exhaust.back_pressure",
            about(1e3 * number(back, "before_measured"), 0.10),
        ));
    }
    let mut built = typical(facts);
    fit_parts(car, &mut built, &mut list);
    if built.electric.is_some() {
        list.push(("electric_axle.load", about(0.5 * weight_n, 0.15)));
    }
    Sheet::new(Setup { car: built, drums }, &given(&list)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Blower, cooler and electric axle that the car has already.
fn fit_parts(car: &Value, built: &mut Car, list: &mut Vec<(&'static str, Prior)>) {
    let hardware = &car["induction_hardware"];
    match hardware["part"].as_str() {
        Some("positive-displacement blower") => {
            let machine = displacement_machine(hardware);
            let size = about(machine.displacement_m3_rev, SIZE);
            let leak = Prior::log_normal(machine.leak_area_m2, 0.25, 0.0, 1e-3);
            list.extend([
                ("blower.displacement", size),
                ("blower.leak_area", leak.expect("a leak")),
            ]);
            let drive = BeltDrive::of_overall_ratio(number(hardware, "drive_ratio"), PULLEY_M);
            built.blower = Blower::Displacement { machine, drive };
        }
        Some("centrifugal blower") => {
            let map = compressor_map(&hardware["compressor_map"]);
            let mut machine = Box::new(CentrifugalCompressor::of_map(map));
            machine.gear_efficiency = number(hardware, "gear_efficiency_claim");
            let drive = number(hardware, "overall_drive_ratio");
            let drive = BeltDrive::of_overall_ratio(drive, PULLEY_M);
            built.blower = Blower::Centrifugal { machine, drive };
        }
        Some("turbocharger") => fit_turbo(hardware, built, list),
        _ => {}
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
        let power = about(1e3 * number(axle, "peak_power_kw"), CLAIM);
        let torque = about(number(axle, "peak_motor_torque_nm"), CLAIM);
        let reduction = exact(number(axle, "reduction_ratio"));
        list.push(("electric_axle.peak_power", power));
        list.push(("electric_axle.peak_torque", torque));
        list.push(("electric_axle.reduction", reduction));
    }
}

fn fit_turbo(hardware: &Value, built: &mut Car, list: &mut Vec<(&'static str, Prior)>) {
    let compressor = CentrifugalCompressor::of_map(compressor_map(&hardware["compressor_map"]));
    let flow_kg_s = built.engine.reference_flow_kg_s();
    let turbo = Turbocharger::usual(compressor, 1, boost_control(hardware), flow_kg_s);
    list.push(("blower.turbine_area", turbine_area(hardware)));
    list.push(("blower.turbine_efficiency", turbine_efficiency(hardware)));
    built.blower = Blower::Turbo(Box::new(turbo));
}

fn turbine_area(hardware: &Value) -> Prior {
    about(1e-6 * number(hardware, "turbine_effective_area_mm2"), CLAIM)
}

fn turbine_efficiency(hardware: &Value) -> Prior {
    about(number(hardware, "turbine_efficiency_claim"), 2.0 * CLAIM)
}

/// The boost asked for, at the compressor's outlet.
fn boost_control(hardware: &Value) -> BoostControl {
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
const PULLEY_M: f64 = 0.080;

fn claims(hardware: &Value) -> MakerClaims {
    let claim = &hardware["maker_claims"];
    MakerClaims {
        pressure_ratio: number(claim, "at_pressure_ratio"),
        speed_rad_s: number(claim, "at_rotor_rpm") * std::f64::consts::TAU / 60.0,
        volumetric_efficiency: number(claim, "volumetric_efficiency"),
        isentropic_efficiency: number(claim, "isentropic_efficiency"),
    }
}

fn rotor_kind(hardware: &Value) -> RotorKind {
    if hardware["style"] == "screw" {
        RotorKind::Screw
    } else {
        RotorKind::TwistedLobe
    }
}

fn displacement_machine(hardware: &Value) -> PositiveDisplacement {
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
fn max_speed_rad_s(hardware: &Value) -> f64 {
    18_000.0 * (2.0 / number(hardware, "displacement_l_per_rev")).cbrt() * std::f64::consts::TAU
        / 60.0
}

/// Built-in volume ratio from the internal pressure ratio the maker states.
fn volume_ratio(hardware: &Value) -> f64 {
    number(hardware, "internal_pressure_ratio").powf(1.0 / 1.4)
}

fn cooler_choice(cooler: &Value) -> CoolerChoice<Prior> {
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

fn centre(choice: &CoolerChoice<Prior>) -> CoolerChoice<f64> {
    CoolerChoice {
        kind: choice.kind,
        effectiveness: choice.effectiveness.centre(),
        reference_flow_kg_s: choice.reference_flow_kg_s.centre(),
        pressure_drop_pa: choice.pressure_drop_pa.centre(),
        heat_capacity_j_k: choice.heat_capacity_j_k.centre(),
        rejection_w_k: choice.rejection_w_k.centre(),
    }
}

fn electric_axle(axle: &Value, car: &Car) -> ElectricDrive {
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

/// The planned work.
fn plan(car: &Value, mods: &Value) -> Plan<Prior> {
    let mut changes = Vec::new();
    for change in mods["changes"].as_array().expect("a list of changes") {
        match change["type"].as_str().expect("a kind of change") {
            "add_blower" if change["part"] == "positive-displacement blower" => {
                let claims = claims(change);
                changes.push(Change::from(DisplacementBlower {
                    kind: rotor_kind(change),
                    displacement_m3_rev: about(
                        1e-3 * number(change, "displacement_l_per_rev"),
                        SIZE,
                    ),
                    drive_ratio: about(number(change, "drive_ratio"), SIZE),
                    built_in_volume_ratio: exact(volume_ratio(change)),
                    volumetric_efficiency: Prior::normal(
                        claims.volumetric_efficiency,
                        CLAIM * claims.volumetric_efficiency,
                        0.5,
                        0.995,
                    )
                    .expect("a spread"),
                    isentropic_efficiency: about(claims.isentropic_efficiency, CLAIM),
                    filling_loss: Prior::normal(0.05, 0.03, 0.0, 0.25).expect("a spread"),
                    claim_pressure_ratio: claims.pressure_ratio,
                    claim_speed_rad_s: claims.speed_rad_s,
                    max_speed_rad_s: max_speed_rad_s(change),
                    pulley_m: exact(PULLEY_M),
                }));
            }
            "add_blower" => changes.push(Change::from(CentrifugalBlower {
                map: compressor_map(&change["compressor_map"]),
                drive_ratio: about(number(change, "overall_drive_ratio"), SIZE),
                flow_factor: about(1.0, CLAIM),
                efficiency_factor: about(1.0, CLAIM),
                gear_efficiency: about(number(change, "gear_efficiency_claim"), 0.01),
                pulley_m: exact(PULLEY_M),
                tip_speed_limit_m_s: 530.0,
            })),
            "add_turbo" => changes.push(Change::from(turbo_choice(change))),
            "fuel_change" => {
                let blend = Fuel::petrol_with_ethanol(Fuel::petrol(95.0, None), 0.82);
                changes.push(Change::from(FuelChoice {
                    fuel: blend,
                    research_octane: about(107.0, 0.02),
                    motor_octane: about(90.0, 0.02),
                }));
            }
            "add_intercooler" => changes.push(Change::from(cooler_choice(change))),
            "intercooler_change" => {
                changes.push(Change::from(cooler_choice(&change["new"])));
            }
            "pulley_change" => {
                let from = number(change, "blower_pulley_mm_from");
                changes.push(Change::from(Pulley {
                    ratio_factor: about(from / number(change, "blower_pulley_mm_to"), SIZE),
                }));
            }
            "intake_duct" => changes.push(Change::from(Intake {
                area_factor: about(1.7, 0.1),
                place: None,
                share: about(0.8, 0.15),
            })),
            "headers" | "venue" | "none" => {}
            "exhaust" => {
                let factor = match mods.get("back_pressure_kpa_gauge_near_power_peak") {
                    Some(back) => number(back, "after_claimed") / number(back, "before_measured"),
                    None => 1.0 / (1.6 * 1.6),
                };
                changes.push(Change::from(Exhaust {
                    back_pressure_factor: about(factor, 0.15),
                }));
            }
            "retune" => changes.push(Change::from(Mixture {
                lambda: exact(number(change, "lambda_target")),
            })),
            "compression_ratio" => changes.push(Change::from(CompressionRatio {
                ratio: exact(number(change, "cr_to")),
            })),
            "final_drive" => changes.push(Change::from(Gearing {
                gear: None,
                final_drive: Some(exact(number(change, "ratio_to"))),
            })),
            "wheels_tyres" => changes.push(Change::from(Wheels {
                inertia_kg_m2: about(
                    2.0 * change["inertia_each_kgm2"][1].as_f64().expect("an inertia"),
                    0.05,
                ),
                radius_m: change["tyre_radius_m"][1].as_f64().map(exact),
            })),
            other => panic!("unknown change {other} for {}", car["induction"]),
        }
    }
    Plan {
        name: mods["summary"]
            .as_str()
            .unwrap_or("planned work")
            .to_owned(),
        changes,
    }
}

fn turbo_choice(change: &Value) -> TurboChoice<Prior> {
    TurboChoice {
        map: compressor_map(&change["compressor_map"]),
        count: 1,
        control: boost_control(change),
        flow_factor: about(1.0, CLAIM),
        efficiency_factor: about(1.0, CLAIM),
        turbine: TurbineSize::Area(turbine_area(change)),
        turbine_efficiency: turbine_efficiency(change),
        inertia_factor: Prior::log_normal(1.0, 0.5, 0.2, 5.0).expect("an inertia"),
        boost_factor: about(1.0, 0.02),
        start_boost_pa: Prior::normal(3e3, 3e3, 0.0, 60e3).expect("a boost"),
        tip_speed_limit_m_s: 530.0,
    }
}

fn compressor_map(map: &Value) -> CompressorMap {
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

/// The pulls of one visit.
pub(crate) fn visit(dir: &Path, name: &str) -> Visit {
    let mut pulls = Vec::new();
    for index in 1.. {
        let table = dir.join(name).join(format!("run{index}.csv"));
        if !table.exists() {
            break;
        }
        let head = json(&table.with_extension("json"));
        let weather = &head["weather"];
        let day = Day::from_relative_humidity(
            StationPressure::from_pa(1e3 * number(weather, "station_pressure_kpa")),
            273.15 + number(weather, "temperature_c"),
            1e-2 * number(weather, "relative_humidity_pct"),
        )
        .expect("a possible day");
        let recording = recording(&table);
        let curve = recording
            .reduce(BAND_RPM)
            .unwrap_or_else(|e| panic!("{}: {e}", table.display()));
        let mut conditions = Conditions::rested(7000.0);
        if let Some(charge) = head["battery_state_of_charge_pct_start"].as_f64() {
            conditions.axle.charge = 1e-2 * charge;
        }
        let rest_s = head["minutes_since_previous_run"]
            .as_f64()
            .map(|m| 60.0 * m);
        pulls.push(MeasuredPull {
            name: format!("{name} {index}"),
            day,
            conditions,
            rest_s,
            curve,
        });
    }
    Visit {
        name: name.to_owned(),
        pulls,
    }
}

pub(crate) fn recording(path: &Path) -> Recording {
    let mut reader =
        csv::Reader::from_path(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let header = reader.headers().expect("a header").clone();
    let mut columns: Vec<Vec<f64>> = vec![Vec::new(); header.len()];
    for row in reader.records() {
        let row = row.expect("a row");
        for (column, cell) in columns.iter_mut().zip(row.iter()) {
            column.push(cell.parse().expect("a number"));
        }
    }
    let take = |name: &str, factor: f64, shift: f64| -> Option<Vec<f64>> {
        let index = header.iter().position(|h| h == name)?;
        Some(columns[index].iter().map(|x| x * factor + shift).collect())
    };
    Recording {
        time_s: take("time_s", 1.0, 0.0).expect("time"),
        engine_rpm: take("engine_rpm", 1.0, 0.0).expect("engine speed"),
        power_w: take("wheel_power_kw", 1e3, 0.0).expect("power"),
        manifold_pa: take("manifold_pressure_kpa", 1e3, 0.0),
        charge_k: take("charge_temp_c", 1.0, 273.15),
        lambda: take("lambda", 1.0, 0.0),
        spark_deg: take("spark_deg_btdc", 1.0, 0.0),
        drum_rad_s: take("drum_speed_rpm", std::f64::consts::TAU / 60.0, 0.0),
        corrected_w: take("wheel_power_corrected_kw", 1e3, 0.0),
        ..Recording::default()
    }
}
