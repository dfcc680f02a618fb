//! Changes to throttle, headers, camshaft, cylinder head, bore and stroke.

use super::super::belief::{self, CLAIM_DOUBT, FACTOR_DOUBT, KEY_CONFLICT};
use super::super::diagnostic::Code;
use super::super::table::Table;
use super::{DEG_PER_RAD, scaled, usual};
use crate::belief::prior::Prior;
use crate::build::{Breathing, Camshaft, Change};
use crate::units::Dimension as D;

/// Discharge of an open throttle, its shaft included: mean, sd, range; from memory.
const THROTTLE_DISCHARGE: (f64, f64, f64, f64) = (0.88, 0.04, 0.75, 0.96);
/// Share of the back pressure that a cast exhaust manifold causes, catalysts and silencers causing the rest: mean, sd.
/// Common practice, no source.
const MANIFOLD_SHARE: (f64, f64) = (0.35, 0.10);
/// Fall of pressure behind the closing valve that road headers give, mean over speed, Pa: mean, sd. A third of what racing
/// headers show at their tuned speed (0.6 to 0.8 bar absolute, from memory).
const SCAVENGING_PA: (f64, f64) = (10e3, 4e3);
/// Doubt on an angle of a camshaft that nobody measured in the engine, deg; common practice, no source.
const CAM_ANGLE_DOUBT_DEG: f64 = 2.0;

pub(super) fn throttle(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let size = 0.02..=0.25;
    let from = belief::required_plain(table, "bore_from", D::Length, size.clone());
    let to = belief::required_plain(table, "bore_to", D::Length, size);
    let (mean, sd, lower, upper) = THROTTLE_DISCHARGE;
    Some(Change::Breathing(Breathing::Throttle {
        bore_from_m: from?,
        bore_to_m: to?,
        discharge: usual(mean, sd, lower, upper)?,
    }))
}

/// Counts keys as known, so that a reader that stops early does not call them unknown.
pub(super) fn know(table: &mut Table<'_>, keys: &[&str]) {
    for key in keys {
        table.has(key);
    }
}

pub(super) fn headers(table: &mut Table<'_>) -> Option<Change<Prior>> {
    know(
        table,
        &[
            "area_factor",
            "primary_from",
            "primary_to",
            "share",
            "scavenging",
        ],
    );
    let has_factor = table.has("area_factor");
    let has_sizes = table.has("primary_from") || table.has("primary_to");
    if has_factor && has_sizes {
        let message = "'area_factor' and primary diameters are both given";
        let expected = "primary_from and primary_to, or area_factor alone";
        table.error("area_factor", KEY_CONFLICT, message, expected);
        return None;
    }
    let area_factor = if has_sizes {
        let size = 0.015..=0.15;
        let from = belief::required_plain(table, "primary_from", D::Length, size.clone());
        let to = belief::required_plain(table, "primary_to", D::Length, size);
        let factor = (to? / from?).powi(2);
        usual(factor, FACTOR_DOUBT * factor, 0.01, 100.0)
    } else {
        belief::number(table, "area_factor", D::Ratio, 0.2..=5.0, FACTOR_DOUBT)
    };
    let share = or_usual(table, "share", D::Ratio, (0.0, 1.0), MANIFOLD_SHARE);
    let scavenging = or_usual(
        table,
        "scavenging",
        D::PressureDifference,
        (0.0, 40e3),
        SCAVENGING_PA,
    );
    Some(Change::Breathing(Breathing::Headers {
        area_factor: area_factor?,
        share: share?,
        scavenging_pa: scavenging?,
    }))
}

/// A number, or its usual belief where the key is left out.
pub(super) fn or_usual(
    table: &mut Table<'_>,
    key: &str,
    dimension: D,
    (lower, upper): (f64, f64),
    (mean, sd): (f64, f64),
) -> Option<Prior> {
    if !table.has(key) {
        return usual(mean, sd, lower, upper);
    }
    let stated = belief::optional_number(table, key, dimension, lower..=upper, 0.0)?;
    let centre = stated.centre();
    // On the edge of its range a number stands as it is written.
    if stated.is_fixed() && centre > lower && centre < upper {
        usual(centre, FACTOR_DOUBT * centre, lower, upper)
    } else {
        Some(stated)
    }
}

/// A change of angle, deg, as written or as it follows; `None` only where what is written is wrong.
fn angle(table: &mut Table<'_>, key: &str, otherwise_deg: f64) -> Option<f64> {
    let had = table.has(key);
    let limit = 80.0 / DEG_PER_RAD;
    let written = belief::plain(table, key, D::Angle, -limit..=limit);
    if had {
        written.map(|rad| rad * DEG_PER_RAD)
    } else {
        Some(otherwise_deg)
    }
}

pub(super) fn camshaft(table: &mut Table<'_>) -> Option<Change<Prior>> {
    know(
        table,
        &[
            "closing_change",
            "centre_change",
            "exhaust_duration_change",
            "exhaust_centre_change",
            "lift_from",
            "lift_to",
        ],
    );
    let limit = 80.0 / DEG_PER_RAD;
    let longer = belief::number(
        table,
        "duration_change",
        D::Angle,
        -limit..=limit,
        FACTOR_DOUBT,
    );
    let longer_deg = longer.map_or(0.0, |prior| prior.centre() * DEG_PER_RAD);
    if table.has("closing_change") && table.has("centre_change") {
        let message = "'closing_change' and 'centre_change' are both given";
        let expected =
            "closing_change or centre_change: each follows from the other and the duration";
        table.error("closing_change", KEY_CONFLICT, message, expected);
        return None;
    }
    let centre_deg = angle(table, "centre_change", 0.0);
    let later_deg = angle(
        table,
        "closing_change",
        0.5 * longer_deg + centre_deg.unwrap_or(0.0),
    );
    let exhaust_deg = angle(table, "exhaust_duration_change", longer_deg);
    let exhaust_centre_deg = angle(table, "exhaust_centre_change", 0.0);
    let lift_m = lift(table);
    centre_deg?;
    let later_deg = later_deg?;
    let overlap_deg = longer_deg - later_deg + 0.5 * exhaust_deg? + exhaust_centre_deg?;
    // A cam that changes no angle is the cam that is there.
    let doubted = |mean: f64| {
        let sd = if longer_deg == 0.0 && mean == 0.0 {
            0.0
        } else {
            CAM_ANGLE_DOUBT_DEG
        };
        belief_of(mean, sd, 120.0)
    };
    Some(Change::Breathing(Breathing::Camshaft(Camshaft {
        longer_deg: scaled(longer?, DEG_PER_RAD)?,
        later_deg: doubted(later_deg)?,
        overlap_deg: doubted(overlap_deg)?,
        lift_m: lift_m?,
    })))
}

fn belief_of(mean: f64, sd: f64, most: f64) -> Option<Prior> {
    if sd == 0.0 {
        Prior::fixed(mean).ok()
    } else {
        usual(mean, sd, -most, most)
    }
}

/// Both lifts or neither: a new lift says little without the old one.
#[allow(
    clippy::option_option,
    reason = "wrongly written and not written are two answers"
)]
fn lift(table: &mut Table<'_>) -> Option<Option<(f64, Prior)>> {
    if !table.has("lift_from") && !table.has("lift_to") {
        return Some(None);
    }
    let range = 0.003..=0.025;
    let from = belief::required_plain(table, "lift_from", D::Length, range.clone());
    let to = belief::number(table, "lift_to", D::Length, range, 0.0);
    Some(Some((from?, to?)))
}

pub(super) fn cylinder_head(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let (has_flow, has_valve) = (table.has("flow_factor"), table.has("inlet_valve_diameter"));
    if !has_flow && !has_valve {
        let message = "this work on the head changes neither flow nor valves";
        let expected = "flow_factor, inlet_valve_diameter, or both";
        table.error("flow_factor", Code::KEY_MISSING, message, expected);
        return None;
    }
    let flow = belief::optional_number(table, "flow_factor", D::Ratio, 0.5..=2.0, CLAIM_DOUBT);
    let flow = flow.or_else(|| Prior::fixed(1.0).ok().filter(|_| !has_flow));
    let valve =
        belief::optional_number(table, "inlet_valve_diameter", D::Length, 0.008..=0.09, 0.0);
    if has_valve && valve.is_none() {
        return None;
    }
    Some(Change::Breathing(Breathing::CylinderHead {
        flow_factor: flow?,
        valve_diameter_m: valve,
    }))
}

pub(super) fn bore_stroke(table: &mut Table<'_>) -> Option<Change<Prior>> {
    know(table, &["rod_length", "compression_ratio"]);
    if !table.has("bore") && !table.has("stroke") {
        let message = "this change of displacement changes neither bore nor stroke";
        let expected = "bore, stroke, or both";
        table.error("bore", Code::KEY_MISSING, message, expected);
        return None;
    }
    let bore_m = belief::optional_number(table, "bore", D::Length, 0.04..=0.2, 0.0);
    let stroke_m = belief::optional_number(table, "stroke", D::Length, 0.03..=0.25, 0.0);
    let rod_m = belief::optional_number(table, "rod_length", D::Length, 0.05..=0.5, 0.0);
    let compression_ratio =
        belief::optional_number(table, "compression_ratio", D::Ratio, 5.0..=18.0, 0.005);
    Some(Change::Breathing(Breathing::BoreStroke {
        bore_m,
        stroke_m,
        rod_m,
        compression_ratio,
    }))
}
