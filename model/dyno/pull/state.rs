//! What moves with a pull: its states by name, each divided by its scale so that one tolerance fits all of them.

use crate::electric::axle::AxleState;
use ode_solvers::SVector;

/// Time since the start, s.
pub(super) const TIME_S: usize = 0;
/// Charge-cooler core or water, K.
pub(super) const CORE_K: usize = 1;
/// Charge-temperature sensor, K.
pub(super) const SENSOR_K: usize = 2;
/// Charge of the battery, 0 to 1.
pub(super) const CHARGE: usize = 3;
/// Battery, K.
pub(super) const BATTERY_K: usize = 4;
/// Motor winding, K.
pub(super) const WINDING_K: usize = 5;
/// Motor case, K.
pub(super) const CASE_K: usize = 6;
/// Surface speed of a second drum that turns apart, m/s.
pub(super) const SECOND_M_S: usize = 7;
/// Shaft speed of the turbochargers, rad/s.
pub(super) const WHEEL_RAD_S: usize = 8;
/// Angle of half the burn that their control has heard of, deg.
pub(super) const CONTROL_CA50_DEG: usize = 9;
/// States that move with the pull, each divided by its scale.
pub(super) const STATES: usize = 10;
pub(super) type State = SVector<f64, STATES>;
pub(super) const SCALE: [f64; STATES] =
    [1.0, 100.0, 100.0, 0.1, 100.0, 100.0, 100.0, 10.0, 1e4, 10.0];

/// A state in its own unit.
pub(super) fn value(y: &State, which: usize) -> f64 {
    y[which] * SCALE[which]
}

/// Temperatures of core, motor and battery that the devices are asked about, K. A trial step of the integrator may leave
/// them; it is then turned down for its error, which must be a number for that.
const CREDIBLE_K: (f64, f64) = (150.0, 900.0);

pub(super) fn axle_state(y: &State) -> AxleState {
    AxleState {
        charge: value(y, CHARGE).clamp(0.0, 1.0),
        battery_k: credible(value(y, BATTERY_K)),
        winding_k: credible(value(y, WINDING_K)),
        case_k: credible(value(y, CASE_K)),
        engaged_s: value(y, TIME_S).max(0.0),
    }
}

pub(super) fn credible(temperature_k: f64) -> f64 {
    temperature_k.clamp(CREDIBLE_K.0, CREDIBLE_K.1)
}
