//! From the crank to the drums: what turning parts, gears and tyres take, and what the rig makes of the rest.

use super::{Section, Step, step};
use crate::dyno::crank_to_drum::CrankToDrum;
use crate::dyno::{PullPoint, Setup};

/// The steps from the crank on at the pull's own acceleration.
pub(super) fn section(setup: &Setup, pull: &PullPoint) -> Section {
    let mut steps = driveline(setup, pull);
    steps.extend(rig(setup, pull));
    Section {
        part: "drums",
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
        "spinning_up_engine",
        "N m",
        coupled.spinning_up_nm,
        "crank_inertia",
    )];
    if line.clutch_nm.is_some() || line.converter.is_some() {
        steps.push(step(
            "gearbox_torque",
            "N m",
            coupled.gearbox_nm,
            "clutch_or_converter",
        ));
    }
    if line.open_converter().is_some() {
        steps.push(step(
            "converter_speed_ratio",
            "1",
            coupled.speed_ratio,
            "converter_capacity",
        ));
    }
    steps.extend([
        step("overall_ratio", "1", ratio, "overall_ratio"),
        step("mesh_loss", "W", shaft.mesh_loss_w, "mesh_loss"),
        step("spin_loss", "W", shaft.spin_loss_w, "spin_loss"),
        step("wheel_torque", "N m", shaft.torque_nm, "after_gears"),
        step("spinning_up_wheels", "N m", turning_nm, "wheel_inertia"),
        step("rolling_radius", "m", radius_m, "growing_radius"),
        step("rolling_force", "N", rolling_n, "rolling_on_drum"),
        step("tyre_slip", "1", pull.slip, "slip_stiffness"),
        step("drum_force", "N", passed.transmitted_n, "engine_axle"),
    ]);
    steps
}

fn rig(setup: &Setup, pull: &PullPoint) -> Vec<Step> {
    let drums = &setup.drums;
    let mut steps = Vec::new();
    if pull.electric_w != 0.0 {
        steps.push(step(
            "electric_share",
            "W",
            pull.electric_w,
            "electric_axle",
        ));
    }
    if drums.machine.brake.is_some() {
        steps.push(step("brake_force", "N", pull.brake_n, "brake_ramp"));
    }
    steps.extend([
        step("drum_mass", "kg", drums.mass_kg(), "drum_mass"),
        step(
            "drum_drag",
            "N",
            drums.drag_at_n(pull.speed_m_s),
            "drum_drag",
        ),
        step("surface_speed", "m/s", pull.speed_m_s, "surface_speed"),
        step(
            "surface_acceleration",
            "m/s²",
            pull.acceleration_m_s2,
            "surface_acceleration",
        ),
        step("reading_power", "W", pull.power_w, "reading"),
        step("reading_torque", "N m", pull.torque_nm, "reading_torque"),
    ]);
    steps
}
