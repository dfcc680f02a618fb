//! From the crank to the drums: what turning parts, gears and tyres take, and what the rig makes of the rest.

use super::{Section, Step, step};
use crate::dyno::crank_to_drum::CrankToDrum;
use crate::dyno::{PullPoint, Setup};
use crate::report::number::What;

/// The steps from the crank on at the pull's own acceleration.
pub(super) fn section(setup: &Setup, pull: &PullPoint) -> Section {
    let mut steps = driveline(setup, pull);
    steps.extend(rig(setup, pull));
    Section {
        part: "Driveline and drums",
        steps,
    }
}

fn driveline(setup: &Setup, pull: &PullPoint) -> Vec<Step> {
    let line = &setup.car.driveline;
    let CrankToDrum {
        coupled,
        ratio,
        shaft,
        turning_nm,
        radius_m,
        rolling_n,
        passed,
    } = setup.crank_to_drum(pull);
    let mut steps = vec![step(
        "taken to spin up the engine",
        What::Torque,
        coupled.spinning_up_nm,
        "inertia at the crank · its acceleration",
    )];
    if line.clutch_nm.is_some() || line.converter.is_some() {
        steps.push(step(
            "torque into the gearbox",
            What::Torque,
            coupled.gearbox_nm,
            "what clutch or converter pass",
        ));
    }
    if line.open_converter().is_some() {
        steps.push(step(
            "converter speed ratio",
            What::Percent,
            coupled.speed_ratio,
            "torque over what it takes at stall at this speed",
        ));
    }
    steps.extend([
        step("overall ratio", What::Ratio, ratio, "gear · final drive"),
        step(
            "lost in gear meshes",
            What::Power,
            shaft.mesh_loss_w,
            "share of the torque, stage by stage",
        ),
        step(
            "lost to spinning gears",
            What::Power,
            shaft.spin_loss_w,
            "drag of bearings and oil at its temperature",
        ),
        step(
            "torque at the wheels",
            What::Torque,
            shaft.torque_nm,
            "after the gears",
        ),
        step(
            "taken to spin up the wheels",
            What::Torque,
            turning_nm,
            "shafts and wheels · their acceleration",
        ),
        step("rolling radius", What::Length, radius_m, "grows with speed"),
        step(
            "rolling force",
            What::Force,
            rolling_n,
            "coefficient · load · √(1 + r/R) on the drum",
        ),
        step(
            "tyre slip",
            What::Percent,
            pull.slip,
            "force over stiffness · load",
        ),
        step(
            "force at the drum",
            What::Force,
            passed.transmitted_n,
            "engine's axle",
        ),
    ]);
    steps
}

fn rig(setup: &Setup, pull: &PullPoint) -> Vec<Step> {
    let drums = &setup.drums;
    let mut steps = Vec::new();
    if pull.electric_w != 0.0 {
        steps.push(step(
            "electric share of the reading",
            What::Power,
            pull.electric_w,
            "motor map, battery and reduction; never corrected",
        ));
    }
    if drums.machine.brake.is_some() {
        steps.push(step(
            "taken by the brake",
            What::Force,
            pull.brake_n,
            "what the ramp leaves over",
        ));
    }
    steps.extend([
        step("drums as a mass", What::Mass, drums.mass_kg(), "I/R²"),
        step(
            "drag of the drums",
            What::Force,
            drums.drag_at_n(pull.speed_m_s),
            "constant, ∝ speed and ∝ speed²",
        ),
        step(
            "surface speed",
            What::Speed,
            pull.speed_m_s,
            "wheel speed · radius/(1 + slip)",
        ),
        step(
            "surface acceleration",
            What::Acceleration,
            pull.acceleration_m_s2,
            "net force over the drums' mass, or the brake's ramp",
        ),
        step(
            "reading, power",
            What::Power,
            pull.power_w,
            "(mass · acceleration + brake) · speed, drag added back if the rig does",
        ),
        step(
            "reading, torque at engine speed",
            What::Torque,
            pull.torque_nm,
            "power over engine speed",
        ),
    ]);
    steps
}
