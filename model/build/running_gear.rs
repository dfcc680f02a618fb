//! Gearing, wheels and the electric axle as changes to a car.

use super::BuildError;
use crate::car::Car;

pub(super) fn change_gearing(car: &mut Car, gear: Option<f64>, final_drive: Option<f64>) {
    let stages = &mut car.driveline.train.stages;
    if let (Some(ratio), Some(stage)) = (gear, stages.first_mut()) {
        stage.ratio = ratio;
    }
    if let (Some(ratio), Some(stage)) = (final_drive, stages.last_mut()) {
        stage.ratio = ratio;
    }
}

pub(super) fn change_wheels(car: &mut Car, inertia_kg_m2: f64, radius_m: Option<f64>) {
    car.driveline.parts.wheels_kg_m2 = inertia_kg_m2;
    if let Some(radius) = radius_m {
        car.driveline.tyre.radius_m = radius;
    }
}

pub(super) fn calibrate_axle(
    car: &mut Car,
    peak_power_w: Option<f64>,
    share: f64,
) -> Result<(), BuildError> {
    let drive = car.electric.as_mut().ok_or(BuildError::PartMissing {
        part: "electric axle",
    })?;
    if let Some(power) = peak_power_w {
        drive.axle.motor.peak_power_w = power;
    }
    drive.axle.assist = share;
    Ok(())
}
