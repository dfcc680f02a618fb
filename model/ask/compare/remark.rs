//! What to mind of a comparison that was made: what the pulls themselves give to mind, and what was done to them first.

use super::axle::{self, CHARGE_WINDOW};
use super::gate::Gate;
use super::gearing::{ANOTHER_GEAR, Geared};
use super::side::{self, Side};
use super::spread::Spread;
use crate::dyno::correction::Standard;
use serde::Serialize;

/// Scatter of repeats beyond which a rig is remarked on: the upper end of what is usual on one day, 0.4 to 1.2 % (common practice, no
/// source).
const ROUGH: f64 = 0.012;

/// Something to mind.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "remark", rename_all = "snake_case")]
pub enum Remark {
    /// Engines turn differently on the drums, though not by another gear.
    OtherGearing(Geared),
    /// Start charges lie further apart than usual, within a window asked for.
    ChargesApart(Gate),
    /// Pulls hold electric power, and nobody says how much: nothing is corrected.
    ElectricShareUnknown,
    /// Pulls with the electric axle off are left out beside others with it on.
    AxleOffLeftOut {
        /// How many.
        pulls: usize,
        /// Of which visit.
        visit: String,
    },
    /// The engine is boosted, and nobody says by what.
    BoostedUnknown,
    /// Recordings held corrected power, which was undone.
    CorrectionsUndone {
        /// By which standards, in the order of their ids.
        standards: Vec<Standard>,
        /// Whether others held power as read.
        some_as_read: bool,
    },
    /// Repeats stray more than is usual.
    RepeatsStray {
        /// Their scatter, relative, one standard deviation.
        seen: f64,
    },
}

/// What the pulls themselves give to mind; `known` says whether the engine's share of power is.
pub(super) fn of_pulls(sides: &[Side<'_>; 2], known: bool, charge_window: f64) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let geared = side::geared(sides).filter(|found| found.apart() <= ANOTHER_GEAR);
    remarks.extend(geared.map(Remark::OtherGearing));
    // A window asked for wider than the usual lets pass what a reader must still know.
    if charge_window > CHARGE_WINDOW {
        let apart = axle::apart(&side::starts(sides), CHARGE_WINDOW).into_iter();
        let charges = apart.filter(|gate| matches!(gate, Gate::StartCharges { .. }));
        remarks.extend(charges.map(Remark::ChargesApart));
    }
    if !known {
        remarks.push(Remark::ElectricShareUnknown);
    }
    let left_out = sides.iter().filter(|side| side.left_out() > 0);
    remarks.extend(left_out.map(|side| Remark::AxleOffLeftOut {
        pulls: side.left_out(),
        visit: side.name().to_owned(),
    }));
    if sides.iter().any(Side::boosted_unknown) {
        remarks.push(Remark::BoostedUnknown);
    }
    remarks
}

/// What became of recordings that held corrected power.
pub(super) fn of_corrections(sides: &[Side<'_>; 2]) -> Option<Remark> {
    let all = || sides.iter().flat_map(Side::tags).map(|tags| tags.undone);
    let mut standards: Vec<Standard> = all().flatten().map(|undone| undone.0).collect();
    standards.sort_unstable_by_key(|standard| standard.id());
    standards.dedup();
    (!standards.is_empty()).then(|| Remark::CorrectionsUndone {
        standards,
        some_as_read: all().any(|undone| undone.is_none()),
    })
}

/// What the repeats say of the rig.
pub(super) fn of_spread(spread: &Spread) -> Option<Remark> {
    let seen = spread.scale_seen.filter(|seen| *seen > ROUGH)?;
    Some(Remark::RepeatsStray { seen })
}
