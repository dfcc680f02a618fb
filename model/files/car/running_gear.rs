//! The tables `driveline`, `electric_axle` and `drums` of a car file.

use super::super::belief::{self, Stated};
use super::super::diagnostic::Code;
use super::super::form::TableForm;
use super::super::table::Table;
use super::parts::{CouplingKind, MachineParts};
use crate::driveline::GearOil;
use crate::driveline::gears::{Drive, Gearbox};
use crate::dyno::{Brake, Contact};
use crate::parts::AxleFacts;
use crate::units::Dimension;
use std::path::Path;

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
    let oil = table.found("oil", |t| t.optional_choice("oil", GearOil::GRADES));
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
pub(in crate::files) struct RigFacts {
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

pub(in crate::files) fn drums(table: &mut Table<'_>, stated: &mut Stated) -> Option<RigFacts> {
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

pub(super) fn axle(table: &mut Table<'_>, stated: &mut Stated) -> Option<AxleFacts> {
    stated.read(table, &["peak_power", "peak_torque", "reduction"]);
    let (power_w, torque_nm) = (
        stated.centre("electric_axle.peak_power"),
        stated.centre("electric_axle.peak_torque"),
    );
    let folder = Path::new("");
    AxleFacts::read(&mut TableForm { table, folder }, power_w, torque_nm)
}
