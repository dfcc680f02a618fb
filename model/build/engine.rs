//! Intake, exhaust, fuel and rev limit as changes to a car.

use crate::car::Car;
use crate::fuel::Fuel;

/// A larger intake loses less: at equal flow the loss of the parts replaced falls with the square of their flow area.
/// Equation (11.2).
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
/// Equation (11.7).
pub(super) fn move_redline(car: &mut Car, rpm: f64) {
    let old = car.engine.redline_rpm;
    car.tune.retell(old, rpm);
    car.engine.breathing.retell(old, rpm);
    car.engine.redline_rpm = rpm;
}
