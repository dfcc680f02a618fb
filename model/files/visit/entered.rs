//! What was typed into the rig for a pull, as the pull's table `entered` says it.
//!
//! ```text
//! [pull.entered]
//! drum_inertia = "157.7 kg m²"
//! gear = 1.322
//! final_drive = 4.055
//! correction = "sae-j1349"      # what the corrected column claims
//! engine_speed = "measured"     # or "from drums": computed from drum speed and the ratios above
//! ```
//!
//! Nothing of it changes how a recording is read; a diagnosis holds it against the log.

use super::super::belief;
use super::super::table::Table;
use crate::diagnose::{Entered, SpeedSource};
use crate::dyno::correction::Standard;
use crate::units::Dimension;

/// Reads the table, where there is one.
pub(super) fn table(
    pull: &mut Table<'_>,
    (altitude_m, charge): (Option<f64>, Option<f64>),
) -> Option<Entered> {
    let bare = Entered {
        altitude_m,
        charge,
        ..Entered::default()
    };
    if !pull.has("entered") {
        return Some(bare);
    }
    pull.optional_subtable("entered", |table| {
        let inertia = Dimension::Inertia;
        let drum_inertia_kg_m2 = belief::plain(table, "drum_inertia", inertia, 0.1..=1e5);
        let gear = belief::plain(table, "gear", Dimension::Ratio, 0.2..=10.0);
        let last = belief::plain(table, "final_drive", Dimension::Ratio, 0.5..=10.0);
        let ids: Vec<(&str, Standard)> = Standard::all()
            .filter(|s| *s != Standard::None)
            .map(|s| (s.id(), s))
            .collect();
        let standard = table.optional_choice("correction", &ids);
        let sources = [
            ("measured", SpeedSource::Own),
            ("from drums", SpeedSource::FromDrum),
        ];
        let speed_source = table.optional_choice("engine_speed", &sources);
        Some(Entered {
            drum_inertia_kg_m2,
            overall_ratio: gear.zip(last).map(|(gear, last)| gear * last),
            standard,
            speed_source: speed_source.unwrap_or_default(),
            ..bare
        })
    })
}
