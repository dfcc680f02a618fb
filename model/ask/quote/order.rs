//! The order in which a quote takes the changes of a plan: one of its own, so that a plan listed in another order is the same quote to the last byte.
//!
//! A list of parts is not a history. Only where a later change speaks of what an earlier one left (fuels, blowers, a setting made twice) does
//! the file's order carry meaning, and there it stays.

use crate::belief::prior::Prior;
use crate::parts::{Change, Plan};

/// The plan with its changes in that order.
pub fn canonical(plan: &Plan<Prior>) -> Plan<Prior> {
    let mut changes = plan.changes.clone();
    changes.sort_by_cached_key(key);
    Plan {
        name: plan.name.clone(),
        changes,
    }
}

/// What is sorted by: the kind, and among changes of a kind that add up what they say.
fn key(change: &Change<Prior>) -> (&'static str, String) {
    let id = change.kind().id;
    match change {
        Change::DisplacementBlower(_) | Change::CentrifugalBlower(_) | Change::TurboChoice(_) => {
            ("blower", String::new())
        }
        Change::FuelChoice(_) | Change::Octane(_) | Change::TankMix(_) => ("fuel", String::new()),
        change if change.replaces() => (id, String::new()),
        change => (id, format!("{change:?}")),
    }
}
