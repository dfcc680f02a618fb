//! The tables `driveline`, `electric_axle` and `drums` of a car file.

use super::super::belief::{self, Stated};
use super::super::diagnostic::Code;
use super::super::rated;
use super::super::table::Table;
use super::parts::{AxleParts, CouplingKind, MachineParts};
use crate::driveline::GearOil;
use crate::driveline::gears::{Drive, Gearbox};
use crate::dyno::{Brake, Contact};
use crate::units::Dimension;

/// A brake is told two ramps.
pub const TWO_RAMPS: Code = Code::new("two_ramps");

/// Driven wheels by their words.
pub(super) const DRIVES: &[(&str, Drive)] = &[
    ("rear", Drive::Rear),
    ("front", Drive::Transaxle),
    ("all", Drive::All),
];
/// Gearboxes by their words.
pub(super) const GEARBOXES: &[(&str, Gearbox)] = &[
    ("manual", Gearbox::Manual),
    ("automatic", Gearbox::Automatic),
];
/// How drums are joined, by their words.
pub(super) const COUPLINGS: &[(&str, CouplingKind)] = &[
    ("single", CouplingKind::Single),
    ("linked", CouplingKind::Linked),
    ("separate", CouplingKind::Separate),
];

/// What the table `driveline` says beside its numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct LineFacts {
    pub(super) drive: Drive,
    pub(super) gearbox: Gearbox,
    pub(super) oil: Option<GearOil>,
}

pub(super) fn driveline(table: &mut Table<'_>, stated: &mut Stated) -> Option<LineFacts> {
    stated.read(table, &["gear", "final_drive"]);
    let drive = table.found("drive", |t| t.optional_choice("drive", DRIVES));
    let gearbox = table.found("gearbox", |t| t.optional_choice("gearbox", GEARBOXES));
    let oil = table.found("oil", |t| rated::oil_grade(t, "oil"));
    Some(LineFacts {
        drive: drive.or(Drive::Rear)?,
        gearbox: gearbox.or(Gearbox::Manual)?,
        oil: oil.optional()?,
    })
}

/// How the car meets the rig, by their words.
pub(super) const CONTACTS: &[(&str, Contact)] =
    &[("tyres", Contact::Tyres), ("hubs", Contact::Hubs)];

/// What the table `drums` says beside its numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct RigFacts {
    pub(super) coupling: CouplingKind,
    pub(super) drag_added_back: bool,
    pub(super) machine: MachineParts,
}

/// A brake's ramp, by at most one of its three keys; a mistake in them has the file refused.
fn brake(table: &mut Table<'_>) -> Option<Brake> {
    let keys = ["ramp_per_second", "surface_ramp_per_second", "sweep_time"];
    let given: Vec<&str> = keys.into_iter().filter(|key| table.has(key)).collect();
    let rad_s = std::f64::consts::PI / 30.0;
    let (speed, surface) = (Dimension::RotationalSpeed, Dimension::Speed);
    // Slower, a pull takes more than five minutes; faster, no brake has anything to hold.
    let ramp = belief::plain(table, keys[0], speed, 20.0 * rad_s..=5000.0 * rad_s);
    let even = belief::plain(table, keys[1], surface, 0.05..=30.0);
    let sweep = belief::plain(table, keys[2], Dimension::Time, 1.0..=300.0);
    if let [_, second, ..] = given[..] {
        let message = "a brake can follow only one ramp";
        let expected = format!("one of {}", keys.join(", "));
        table.error(second, TWO_RAMPS, message, expected);
        return None;
    }
    ramp.map(|r| Brake::EngineRamp {
        rpm_per_s: r / rad_s,
    })
    .or(even.map(|m_s2| Brake::SurfaceRamp { m_s2 }))
    .or(sweep.map(|seconds| Brake::Sweep { seconds }))
}

pub(super) fn drums(table: &mut Table<'_>, stated: &mut Stated) -> Option<RigFacts> {
    let contact = table.found("contact", |t| t.optional_choice("contact", CONTACTS));
    let contact = contact.or(Contact::Tyres);
    let brake = brake(table);
    let geared = table.has("geared_inertia") || table.has("geared_ratio");
    let coupling = table.found("coupling", |t| t.optional_choice("coupling", COUPLINGS));
    let coupling = coupling.or(CouplingKind::Single);
    let mut required = vec!["inertia"];
    if contact != Some(Contact::Hubs) {
        required.push("radius");
    }
    if coupling == Some(CouplingKind::Separate) {
        required.push("second_inertia");
    }
    if geared {
        required.extend(["geared_inertia", "geared_ratio"]);
    }
    stated.read(table, &required);
    let added = table.found("drag_added_back", |t| t.optional_boolean("drag_added_back"));
    let added = added.or(false);
    Some(RigFacts {
        coupling: coupling?,
        drag_added_back: added?,
        machine: MachineParts {
            contact: contact?,
            brake,
            geared,
        },
    })
}

/// Defaults, all common practice without a source: 350 V; a tenth of an hour at peak power in the battery; 1.15 of peak
/// power allowed by its management; a motor that turns 21 000 rpm; no cut; a taper of 7 %; no ramp.
pub(super) fn axle(table: &mut Table<'_>, stated: &mut Stated) -> Option<AxleParts> {
    stated.read(table, &["peak_power", "peak_torque", "reduction"]);
    let (power, torque) = (
        stated.centre("electric_axle.peak_power"),
        stated.centre("electric_axle.peak_torque"),
    );
    let voltage = Dimension::ElectricPotential;
    let battery_v = belief::plain(table, "battery_voltage", voltage, 30.0..=1200.0);
    let battery_j = belief::plain(table, "battery_energy", Dimension::Energy, 1e5..=1e9);
    let battery_w = belief::plain(table, "battery_power", Dimension::Power, 1e3..=2e6);
    let speed = Dimension::RotationalSpeed;
    let top = belief::plain(table, "motor_top_speed", speed, 100.0..=4000.0);
    let tyre_radius_m = belief::plain(table, "tyre_radius", Dimension::Length, 0.2..=0.5);
    let cut_speed = belief::plain(table, "cut_speed", speed, 1.0..=1000.0);
    let cut_taper = belief::plain(table, "cut_taper", Dimension::Ratio, 0.001..=1.0);
    let ramp_s = belief::plain(table, "ramp", Dimension::Time, 0.0..=10.0);
    let rated_power = belief::plain(table, "rated_power", Dimension::Power, 1e3..=2e6);
    let rated_torque = belief::plain(table, "rated_torque", Dimension::Torque, 5.0..=5000.0);
    let (power_w, torque_nm) = (power?, torque?);
    let rated_power_w = rated_power.unwrap_or(power_w);
    Some(AxleParts {
        battery_v: battery_v.unwrap_or(350.0),
        battery_j: battery_j.unwrap_or(360.0 * rated_power_w),
        battery_w: battery_w.unwrap_or(1.15 * rated_power_w),
        top_speed_rad_s: top.unwrap_or(2200.0),
        cut_speed_rad_s: cut_speed.unwrap_or(f64::INFINITY),
        cut_taper: cut_taper.unwrap_or(0.07),
        ramp_s: ramp_s.unwrap_or(0.0),
        tyre_radius_m,
        rated_power_w,
        rated_torque_nm: rated_torque.unwrap_or(torque_nm),
    })
}
