//! Gears, turning parts, tyres, electric axle and drums: what is in doubt about them.

use super::Basis::{CommonPractice, Fact, FromMemory};
use super::Guess::{Exact, LogNormal, Normal};
use super::Unstated::OfCar;
use super::{Measure, Parameter, REQUIRED, always, entry};
use crate::driveline::StageLoss;
use crate::driveline::tyre::{GROWTH_AT_60_M_S, ROLLING_COEFFICIENT, SLIP_STIFFNESS};
use crate::dyno::{Coupling, Setup};

/// The first stage's losses, as the layout's defaults set them.
fn gearbox(setup: &Setup) -> Option<StageLoss> {
    setup.car.driveline.train.stages.first().map(|s| s.loss)
}

/// The last stage's.
fn final_drive(setup: &Setup) -> Option<StageLoss> {
    setup.car.driveline.train.stages.last().map(|s| s.loss)
}

/// Shorthand for a field of the first or last stage.
macro_rules! stage {
    ($end:ident, $($field:tt)+) => { |s| s.car.driveline.train.stages.$end().map(|x| &mut x.$($field)+) };
}
/// Shorthand for the path into the electric axle.
macro_rules! electric {
    ($($field:tt)+) => { |s| s.car.electric.as_mut().map(|e| &mut e.$($field)+) };
}

#[rustfmt::skip]
pub(super) const ENTRIES: &[Parameter] = &[
    entry("driveline.gear", Measure::RATIO, (0.3, 6.0), REQUIRED,
        stage!(first_mut, ratio),
        "ratio of the gear used on the drums", Fact),
    entry("driveline.final_drive", Measure::RATIO, (1.5, 8.0), REQUIRED,
        stage!(last_mut, ratio),
        "final-drive ratio", Fact),
    entry("driveline.gearbox_efficiency", Measure::RATIO, (0.85, 0.999),
        OfCar(|s| gearbox(s).map(|l| Normal(l.mesh_efficiency, l.mesh_efficiency_sd))),
        stage!(first_mut, loss.mesh_efficiency),
        "torque that survives the gearbox's meshes", FromMemory("reviewed values of gear stages")),
    entry("driveline.gearbox_drag", Measure::NM, (0.2, 40.0),
        OfCar(|s| gearbox(s).map(|l| LogNormal(l.spin_torque_nm, l.spin_torque_sd_nm / l.spin_torque_nm))),
        stage!(first_mut, loss.spin_torque_nm),
        "drag of the gearbox at its input at 6000 rpm", FromMemory("manual and automatic gearboxes")),
    entry("driveline.final_drive_efficiency", Measure::RATIO, (0.85, 0.999),
        OfCar(|s| final_drive(s).map(|l| Normal(l.mesh_efficiency, l.mesh_efficiency_sd))),
        stage!(last_mut, loss.mesh_efficiency),
        "torque that survives the final drive's mesh", FromMemory("reviewed values of gear stages")),
    entry("driveline.final_drive_drag", Measure::NM, (0.2, 20.0),
        OfCar(|s| final_drive(s).map(|l| LogNormal(l.spin_torque_nm, l.spin_torque_sd_nm / l.spin_torque_nm))),
        stage!(last_mut, loss.spin_torque_nm),
        "drag of the final drive at its input at 6000 rpm", FromMemory("hypoid and spur final drives")),
    entry("driveline.oil_temperature", Measure::DEG_C, (-10.0, 150.0), always!(Normal(80.0, 10.0)),
        |s| Some(&mut s.car.driveline.oil_k),
        "gear-oil temperature", CommonPractice),
    entry("driveline.shaft_inertia", Measure::KG_M2, (0.0, 0.3), always!(Normal(0.04, 0.01)),
        |s| Some(&mut s.car.driveline.parts.shaft_kg_m2),
        "inertia turning with the final drive's input", FromMemory("propeller shafts of road cars")),
    entry("driveline.gearbox_inertia", Measure::KG_M2, (0.0, 0.2), always!(Normal(0.02, 0.006)),
        |s| Some(&mut s.car.driveline.parts.gearbox_input_kg_m2),
        "inertia of the gearbox at its input", FromMemory("gearboxes of road cars")),

    entry("wheels.inertia", Measure::KG_M2, (0.5, 16.0),
        OfCar(|s| {
            // Two driven wheels; twice that where one engine drives both axles.
            let axles = if s.car.driveline.train.stages.len() > 2 { 2.0 } else { 1.0 };
            Some(LogNormal(3.2 * axles, 0.15))
        }),
        |s| Some(&mut s.car.driveline.parts.wheels_kg_m2),
        "inertia of all wheels the engine drives, with tyres and discs", FromMemory("wheels of road cars")),
    entry("wheels.tyre_radius", Measure::M, (0.2, 0.5), REQUIRED,
        |s| Some(&mut s.car.driveline.tyre.radius_m),
        "rolling radius of the driven tyres", Fact),
    entry("wheels.load", Measure::N, (1000.0, 40000.0), always!(Normal(7500.0, 1100.0)),
        |s| Some(&mut s.car.driveline.tyre.load_n),
        "load on all the tyres the engine drives, straps included", CommonPractice),
    entry("wheels.rolling_coefficient", Measure::RATIO, (0.006, 0.020), always!(Normal(ROLLING_COEFFICIENT.0, ROLLING_COEFFICIENT.1)),
        |s| Some(&mut s.car.driveline.tyre.rolling_coefficient),
        "rolling resistance on the flat at 25 °C", FromMemory("car tyres")),
    entry("wheels.slip_stiffness", Measure::RATIO, (5.0, 30.0), always!(LogNormal(SLIP_STIFFNESS.0, SLIP_STIFFNESS.1)),
        |s| Some(&mut s.car.driveline.tyre.slip_stiffness),
        "slip stiffness per unit of load", FromMemory("car tyres on steel drums")),
    entry("wheels.growth", Measure::RATIO, (0.0, 0.03), always!(Normal(GROWTH_AT_60_M_S.0, GROWTH_AT_60_M_S.1)),
        |s| Some(&mut s.car.driveline.tyre.growth_at_60_m_s),
        "growth of the rolling radius at 60 m/s", CommonPractice),
    entry("wheels.temperature", Measure::DEG_C, (-20.0, 120.0), always!(Normal(45.0, 10.0)),
        |s| Some(&mut s.car.driveline.tyre_k),
        "tyre temperature during a pull", CommonPractice),

    entry("electric_axle.peak_power", Measure::KW, (5.0, 600.0), REQUIRED,
        electric!(axle.motor.peak_power_w),
        "peak power at the motor's shaft", Fact),
    entry("electric_axle.peak_torque", Measure::NM, (20.0, 2000.0), REQUIRED,
        electric!(axle.motor.peak_torque_nm),
        "peak torque at the motor's shaft", Fact),
    entry("electric_axle.reduction", Measure::RATIO, (1.0, 20.0), REQUIRED,
        electric!(axle.reduction_ratio),
        "motor turns per turn of the axle", Fact),
    entry("electric_axle.efficiency", Measure::RATIO, (0.90, 0.99), always!(Normal(0.975, 0.008)),
        electric!(axle.reduction_efficiency),
        "efficiency of the reduction", FromMemory("single-speed reductions")),
    entry("electric_axle.battery_resistance", Measure::OHM, (0.005, 0.60), always!(LogNormal(0.10, 0.3)),
        electric!(axle.battery.resistance_ohm),
        "internal resistance of the battery at 25 °C and half charge, cables included", FromMemory("traction batteries")),
    entry("electric_axle.assist", Measure::RATIO, (0.0, 1.0), always!(Exact(1.0)),
        electric!(axle.assist),
        "share of its torque that the calibration asks for", CommonPractice),
    entry("electric_axle.wheels_inertia", Measure::KG_M2, (0.5, 16.0), always!(LogNormal(4.0, 0.2)),
        electric!(inertia_kg_m2),
        "inertia of that axle's wheels with the rotor referred to them", FromMemory("wheels of road cars")),
    entry("electric_axle.load", Measure::N, (1000.0, 20000.0), always!(Normal(7500.0, 1100.0)),
        electric!(tyre.load_n),
        "load on that axle's tyres, straps included", CommonPractice),

    entry("drums.inertia", Measure::KG_M2, (0.5, 5000.0), REQUIRED,
        |s| Some(&mut s.drums.inertia_kg_m2),
        "moment of inertia of the drums, or of a rig bolted to the hubs", Fact),
    entry("drums.radius", Measure::M, (0.1, 1.5), REQUIRED,
        |s| Some(&mut s.drums.radius_m),
        "radius of the drums", Fact),
    entry("drums.drag", Measure::N, (0.0, 400.0), always!(Normal(35.0, 20.0)),
        |s| Some(&mut s.drums.drag_n),
        "drag of the drums at rest, at their surface", CommonPractice),
    entry("drums.air_drag", Measure::N_AT_50_M_S, (0.0, 400.0), always!(Normal(35.0, 20.0)),
        |s| Some(&mut s.drums.drag_n_s2_m2),
        "drag of the drums that grows with speed squared, at 50 m/s", CommonPractice),
    entry("drums.bearing_drag", Measure::N_AT_50_M_S_IN_PROPORTION, (0.0, 400.0), always!(Exact(0.0)),
        |s| Some(&mut s.drums.drag_n_s_m),
        "drag of the drums that grows with speed, at 50 m/s", CommonPractice),
    entry("drums.second_inertia", Measure::KG_M2, (0.5, 5000.0), REQUIRED,
        |s| match &mut s.drums.coupling {
            Coupling::Separate { second_inertia_kg_m2 } => Some(second_inertia_kg_m2),
            Coupling::Single | Coupling::Linked => None,
        },
        "moment of inertia of the second axle's drum where it turns apart", Fact),
    entry("drums.geared_inertia", Measure::KG_M2, (0.001, 1000.0), REQUIRED,
        |s| s.drums.machine.geared.as_mut().map(|g| &mut g.inertia_kg_m2),
        "moment of inertia of what turns behind a gear on the drums", Fact),
    entry("drums.geared_ratio", Measure::RATIO, (0.05, 50.0), REQUIRED,
        |s| s.drums.machine.geared.as_mut().map(|g| &mut g.ratio),
        "its turns per turn of the drums", Fact),
];
