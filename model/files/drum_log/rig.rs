//! Drums of a drum log, what its force is, and the car on the road that its rig may simulate.

use super::super::belief::{self, Place};
use super::super::table::Table;
use crate::drumlog::coast_down::Drag;
use crate::drumlog::rig::LARGEST_DRAG_N;
use crate::drumlog::{Rig, RoadLoad, Sense};
use crate::dyno::{Coupling, Drums};
use crate::units::Dimension;

/// What `[drums]` says.
pub(super) struct Described {
    pub(super) rig: Rig,
    /// Counts in a turn, and where that stands.
    pub(super) teeth: Option<(f64, Place)>,
    pub(super) force: Force,
}

/// What is said of a logged force.
pub(super) struct Force {
    pub(super) sense: Option<Sense>,
    /// Standard deviation of its scale, relative.
    pub(super) doubt: f64,
    /// Where that stands, if anything is said.
    pub(super) place: Option<Place>,
}

pub(super) fn drums(table: &mut Table<'_>) -> Option<Described> {
    let inertia = table.quantity("inertia", Dimension::Inertia);
    let inertia = table.within("inertia", inertia, 5.0..=5000.0);
    let radius = table.quantity("radius", Dimension::Length);
    let radius = table.within("radius", radius, 0.1..=1.5);
    let teeth = table.optional_integer("pulses_per_turn", 1..=100_000);
    let own = 0.0..=LARGEST_DRAG_N;
    let drag = belief::plain(table, "drag", Dimension::Force, own.clone());
    let bearing = belief::plain(table, "bearing_drag", Dimension::Force, own.clone());
    let air = belief::plain(table, "air_drag", Dimension::Force, own);
    let added = table.optional_boolean("drag_added_back");
    let said = ["force", "force_doubt"]
        .into_iter()
        .find(|key| table.has(key));
    let place = said.map(|key| Place::of(table, key));
    let stated = table.found("force", |t| t.optional_choice("force", &Sense::NAMED));
    let doubt = belief::plain(table, "force_doubt", Dimension::Ratio, 0.0..=0.2);
    let road_load = table.optional_subtable("road_load", road_load);
    let teeth = teeth.map(|teeth| (teeth as f64, Place::of(table, "pulses_per_turn")));
    let sense = stated.optional()?;
    let (inertia, radius) = (inertia?, radius?);
    let rig = Rig {
        drums: Drums {
            inertia_kg_m2: inertia.value_si,
            radius_m: radius.value_si,
            drag_n: drag.unwrap_or(0.0),
            // Both stated at 50 m/s, as in a car file.
            drag_n_s_m: bearing.unwrap_or(0.0) / 50.0,
            drag_n_s2_m2: air.unwrap_or(0.0) / 2500.0,
            drag_added_back: added.unwrap_or(false),
            coupling: Coupling::Single,
            machine: crate::dyno::drums::Machine::default(),
        },
        inertia_doubt: inertia.sd_si() / inertia.value_si,
        radius_doubt: radius.sd_si() / radius.value_si,
        reads_turning: true,
        road_load,
    };
    Some(Described {
        rig,
        teeth,
        force: Force {
            sense,
            doubt: doubt.unwrap_or(0.0),
            place,
        },
    })
}

/// A road load simulated may be large; a rig that makes up for drags of the car on it pushes (no source: lorries and gradients lie within).
const LOAD_N: std::ops::RangeInclusive<f64> = -5000.0..=10_000.0;

fn road_load(table: &mut Table<'_>) -> Option<RoadLoad> {
    let mass = table.quantity("mass", Dimension::Mass);
    let mass = table.within("mass", mass, 100.0..=20_000.0);
    let load = |table: &mut Table<'_>, key| {
        belief::plain(table, key, Dimension::Force, LOAD_N).unwrap_or(0.0)
    };
    let level = load(table, "drag");
    let with_speed = load(table, "bearing_drag");
    let with_square = load(table, "air_drag");
    let mass = mass?;
    Some(RoadLoad {
        mass_kg: mass.value_si,
        mass_doubt: mass.sd_si() / mass.value_si,
        drag: Drag {
            f0_n: level,
            f1_n_s_m: with_speed / 50.0,
            f2_n_s2_m2: with_square / 2500.0,
        },
    })
}
