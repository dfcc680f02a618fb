//! Intake, exhaust, fuel and rev limit as changes to a car.

use crate::car::Car;
use crate::fuel::Fuel;

/// A larger intake loses less: at equal flow the loss of the parts replaced falls with the square of their flow area.
pub(super) fn enlarge_intake(car: &mut Car, area_factor: f64, share: f64) {
    car.intake.loss_pa *= 1.0 - share + share / (area_factor * area_factor);
}

/// Another fuel in the tank, at its measured octane.
pub(super) fn change_fuel(car: &mut Car, fuel: &Fuel, research_octane: f64, motor_octane: f64) {
    car.fuel = Fuel {
        research_octane,
        motor_octane,
        ..*fuel
    };
}

/// Another end of the pull. Mixture and breathing keep the course they had over engine speed.
pub(super) fn move_redline(car: &mut Car, rpm: f64) {
    let tune = &mut car.tune;
    let old = car.engine.redline_rpm;
    // offset + tilt (2N/N_r − 1) is the same line over N for any N_r.
    let new_tilt = tune.lambda_tilt * rpm / old;
    tune.lambda_offset += new_tilt - tune.lambda_tilt;
    tune.lambda_tilt = new_tilt;
    // 1 + tilt (N − N_r/1.5)/2500 is, but for a factor on the level, the same line for any N_r.
    let breathing = &mut car.engine.breathing;
    breathing.ram_speed *= old / rpm;
    let pivot = 1.0 + breathing.tilt * (rpm - old) / (1.5 * 2500.0);
    breathing.level *= pivot;
    breathing.tilt /= pivot;
    car.engine.redline_rpm = rpm;
}
