//! The electric axle through a predicted pull: engine and motor apart and summed, charge, temperatures, and what cuts the torque.
//!
//! Drums read one number for both; here it is taken apart. On linked drums the shares are those of the force at the
//! surface, before a drag that no split can assign. Reported only for an axle that helps.

use super::super::number::{Units, What};
use super::super::table::TextTable;
use super::{Point, nearest};
use crate::dyno::{Coupling, Pull, PullPoint};
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
            held_by: nearest(pull, rpm).map_or("nothing", |p| words(p.axle_limit)),
        }
    }
}

fn words(limit: Option<AxleLimit>) -> &'static str {
    match limit {
        None => "nothing",
        Some(AxleLimit::Battery) => "battery",
        Some(AxleLimit::Heat) => "winding's heat",
        Some(AxleLimit::Taper) => "fade before the shift point",
        Some(AxleLimit::Ramp) => "ramp",
        Some(AxleLimit::Motor(limit)) => match limit {
            MotorLimit::PeakTorque => "motor's torque",
            MotorLimit::PeakPower => "motor's power",
            MotorLimit::FieldWeakening => "motor's field weakening",
            MotorLimit::TopSpeed => "motor's top speed",
        },
    }
}

/// What the split between the axles rests on.
pub(super) fn split(coupling: Coupling) -> &'static str {
    match coupling {
        Coupling::Linked => {
            "On linked drums the rig knows one speed and one force: it reads the sum, and how the axles share it is the model's word \
             (motor, battery, charge), before the drums' drag. Only battery volts times amperes would measure the split; force that \
             circulates between tyres of unequal radius is in neither share."
        }
        Coupling::Separate { .. } => {
            "On separate drums each axle is read by its own, and its drum's inertia counts for that axle alone."
        }
        Coupling::Single => {
            "These drums carry one axle: the electric one stands still and is not read."
        }
    }
}

/// The table below the curve; nothing without an axle that helps.
pub(super) fn text(points: &[Point], units: Units) -> String {
    let mut table = TextTable::new("rrrrrrrrrl");
    let (power, temperature) = (units.symbol(What::Power), units.symbol(What::Temperature));
    let percent = units.symbol(What::Percent);
    table.row([
        "rpm",
        "engine",
        "motor",
        "sum",
        "charge",
        "battery",
        "winding",
        "case",
        "derated to",
        "held by",
    ]);
    table.row([
        "",
        power,
        power,
        power,
        percent,
        temperature,
        temperature,
        temperature,
        percent,
        "",
    ]);
    let mut any = false;
    for point in points {
        let Some(axle) = &point.electric_axle else {
            continue;
        };
        any = true;
        let d = &point.drums;
        table.row([
            units.cell(What::Rpm, d.rpm),
            units.cell(What::Power, d.engine_power_w),
            units.cell(What::Power, d.electric_power_w),
            units.cell(What::Power, d.power_w),
            units.cell(What::Percent, axle.charge),
            units.cell(What::Temperature, axle.battery_k),
            units.cell(What::Temperature, axle.winding_k),
            units.cell(What::Temperature, axle.case_k),
            units.cell(What::Percent, axle.derating),
            axle.held_by.to_owned(),
        ]);
    }
    if !any {
        return String::new();
    }
    format!(
        "\nElectric axle through the pull, uncorrected at the drums\n{}",
        table.render()
    )
}
