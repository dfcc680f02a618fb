//! The electric axle through a predicted pull, in words: engine and motor apart and summed, charge, temperatures, and what cuts the torque.
//!
//! On linked drums the shares are those of the force at the surface, before a drag that no split can assign.

use super::super::number::{Units, What};
use super::super::table::TextTable;
use crate::ask::predict::{Coupled, Point};

/// What holds the motor's torque where it is.
pub(crate) fn held_by(id: &str) -> Option<&'static str> {
    Some(match id {
        "nothing" => "nothing",
        "battery" => "battery",
        "heat" => "winding heat",
        "taper" => "fade before the shift",
        "ramp" => "ramp",
        "motor_torque" => "motor's torque",
        "motor_power" => "motor's power",
        "field_weakening" => "motor's field weakening",
        "top_speed" => "motor's top speed",
        _ => return None,
    })
}

/// What the split between the axles rests on.
pub(super) fn split(coupling: Coupled) -> &'static str {
    match coupling {
        Coupled::Linked => {
            "Linked drums read the sum of both axles; the split is computed (motor, battery level), before the drag of the drums. Only battery \
             volts times amps would measure it; force that circulates between tyres of unequal radius is in neither share."
        }
        Coupled::Separate => {
            "On separate drums each axle is read on its own, with its own drum's inertia."
        }
        Coupled::Single => {
            "These drums carry one axle; the electric one stands still and is not read."
        }
    }
}

/// The table below the curve; nothing without an axle that helps.
pub(super) fn table(points: &[Point], units: Units) -> Option<TextTable> {
    let mut table = TextTable::new("rrrrrrrrrl");
    let (power, temperature) = (units.symbol(What::Power), units.symbol(What::Temperature));
    let percent = units.symbol(What::Percent);
    table.row([
        "rpm",
        "engine",
        "motor",
        "sum",
        "level",
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
            held_by(axle.held_by).unwrap_or_default().to_owned(),
        ]);
    }
    any.then_some(table)
}
