//! The electric axle through a predicted pull: charge, temperatures, and what cuts the torque.
//!
//! Drums read one number for engine and motor; here the motor's side is told. Only for an axle that helps.

use super::nearest;
use crate::dyno::{Pull, PullPoint};
use crate::electric::axle::AxleLimit;
use crate::electric::motor::MotorLimit;
use serde::Serialize;

/// The axle at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AxlePoint {
    /// Charge of the battery, 0 to 1.
    pub charge: f64,
    /// Power at the battery's terminals.
    pub battery_power_w: f64,
    /// Battery temperature.
    pub battery_k: f64,
    /// Temperature of the motor's winding.
    pub winding_k: f64,
    /// Temperature of its case.
    pub case_k: f64,
    /// Share of the motor's torque that the winding's temperature leaves.
    pub derating: f64,
    /// What holds the torque where it is.
    pub held_by: &'static str,
}

impl AxlePoint {
    pub(super) fn at(pull: &Pull, rpm: f64) -> Self {
        let at = |of: fn(&PullPoint) -> f64| pull.reading(rpm, of);
        Self {
            charge: at(|p| p.charge).clamp(0.0, 1.0),
            battery_power_w: at(|p| p.battery_power_w),
            battery_k: at(|p| p.battery_k),
            winding_k: at(|p| p.winding_k),
            case_k: at(|p| p.case_k),
            derating: at(|p| p.derating).clamp(0.0, 1.0),
            // A limit holds or not, there is nothing between.
            held_by: nearest(pull, rpm).map_or("nothing", |p| held_by(p.axle_limit)),
        }
    }
}

/// Stable word for what holds the motor's torque where it is.
fn held_by(limit: Option<AxleLimit>) -> &'static str {
    match limit {
        None => "nothing",
        Some(AxleLimit::Battery) => "battery",
        Some(AxleLimit::Heat) => "heat",
        Some(AxleLimit::Taper) => "taper",
        Some(AxleLimit::Ramp) => "ramp",
        Some(AxleLimit::Motor(limit)) => match limit {
            MotorLimit::PeakTorque => "motor_torque",
            MotorLimit::PeakPower => "motor_power",
            MotorLimit::FieldWeakening => "field_weakening",
            MotorLimit::TopSpeed => "top_speed",
        },
    }
}
