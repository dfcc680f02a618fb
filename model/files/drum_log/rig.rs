//! Drums of a drum log, what its force is, and the car on the road that its rig may simulate.

use super::super::belief::{self, Place};
use super::super::diagnostic::Problems;
use super::super::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use super::super::table::Table;
use super::super::write::{Overwrite, write_atomic};
use crate::drumlog::coast_down::Drag;
use crate::drumlog::rig::LARGEST_DRAG_N;
use crate::drumlog::{Rig, RoadLoad, Sense};
use crate::dyno::{Coupling, Drums};
use crate::units::Dimension;
use std::path::Path;

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

/// Writes what a force is into the description of a log; whether it has a table of drums to hold it.
pub fn keep_force(description: &Path, word: &str) -> Result<bool, Problems> {
    let name = description.display().to_string();
    let text = decode_utf8(&name, read_bytes(description, TOML_LIMIT_BYTES)?)?;
    let Some(text) = with_force(&text, word) else {
        return Ok(false);
    };
    write_atomic(description, text.as_bytes(), Overwrite::Allow)?;
    Ok(true)
}

/// The description with its answer; none where it has no table of drums.
fn with_force(description: &str, word: &str) -> Option<String> {
    let mut document: toml_edit::DocumentMut = description.parse().ok()?;
    let drums = document.get_mut("drums")?.as_table_like_mut()?;
    drums.insert("force", toml_edit::value(word));
    Some(document.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_is_written_where_the_drums_stand_and_nothing_else_moves() {
        let kept = with_force(
            "# ours\n[drums]\nradius = \"0.6 m\" # measured\n",
            "brake alone",
        );
        assert_eq!(
            kept.as_deref(),
            Some("# ours\n[drums]\nradius = \"0.6 m\" # measured\nforce = \"brake alone\"\n")
        );
        assert_eq!(with_force("name = \"cell\"\n", "all"), None);
    }
}
