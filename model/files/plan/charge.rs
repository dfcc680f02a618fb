//! Changes to what is burned and how it is lit: tank mixture, octane, spark, water-methanol, nitrous oxide.

use super::super::belief::{self, FACTOR_DOUBT, KEY_CONFLICT};
use super::super::table::Table;
use super::breathing::{know, or_usual};
use super::{DEG_PER_RAD, scaled};
use crate::belief::prior::Prior;
use crate::build::{Change, Charge, RATED_BOTTLE_K};
use crate::fuel::Fuel;
use crate::units::Dimension as D;

/// Share of a spray that evaporates before the inlet valve closes: mean, sd. Common practice, no source: fine droplets have a few
/// hundredths of a second.
const SPRAY_EVAPORATED: (f64, f64) = (0.5, 0.15);
/// Share of nitrous oxide that is gas before the inlet valve closes: mean, sd. It boils at −88 °C; no source for the rest.
const NITROUS_EVAPORATED: (f64, f64) = (0.9, 0.05);
/// Doubt on a bottle's temperature that nobody read, K; common practice, no source.
const BOTTLE_DOUBT_K: f64 = 4.0;
/// Engine speed from which nitrous oxide flows where the plan does not say, rpm. Common practice, no source.
const NITROUS_FROM_RPM: f64 = 3000.0;
/// Density of water, kg/m³, at 20 °C; from memory.
const WATER_KG_M3: f64 = 998.0;

pub(super) fn tank_mix(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let most_m3 = 0.5;
    let left = belief::number(table, "left", D::Volume, 0.0..=most_m3, 0.0);
    let added = belief::number(table, "added", D::Volume, 1e-4..=most_m3, 0.0);
    let (fuel, research_octane, motor_octane) = super::named_fuel(table)?;
    Some(Change::Charge(Charge::TankMix {
        left_m3: left?,
        added_m3: added?,
        fuel: Box::new(fuel),
        research_octane,
        motor_octane,
    }))
}

pub(super) fn octane(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let research = belief::number(table, "research_octane", D::Ratio, 60.0..=130.0, 0.0);
    let motor_octane = belief::optional_number(table, "motor_octane", D::Ratio, 50.0..=120.0, 0.0);
    Some(Change::Charge(Charge::Octane {
        research_octane: research?,
        motor_octane,
    }))
}

pub(super) fn spark(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let has_retard = table.has("retard");
    let to_limit = table.optional_boolean("to_limit");
    if has_retard && to_limit.is_some() {
        let message = "'retard' and 'to_limit' are both given";
        let expected = "retard, or to_limit = true";
        table.error("retard", KEY_CONFLICT, message, expected);
        return None;
    }
    let retard = if to_limit == Some(true) {
        Prior::fixed(0.0).ok()
    } else {
        let limits = 0.0..=25.0 / DEG_PER_RAD;
        belief::number(table, "retard", D::Angle, limits, 0.0)
            .and_then(|prior| scaled(prior, DEG_PER_RAD))
    };
    Some(Change::Charge(Charge::Spark {
        retard_deg: retard?,
    }))
}

pub(super) fn water_methanol(table: &mut Table<'_>) -> Option<Change<Prior>> {
    know(table, &["methanol", "evaporated"]);
    let (has_flow, has_share) = (table.has("flow"), table.has("share_of_fuel"));
    if has_flow && has_share {
        let message = "'flow' and 'share_of_fuel' are both given";
        let expected = "flow of a constant nozzle, or share_of_fuel of a metered one";
        table.error("flow", KEY_CONFLICT, message, expected);
        return None;
    }
    let methanol = belief::required_plain(table, "methanol", D::Ratio, 0.0..=1.0);
    let by_volume = methanol.unwrap_or(0.0);
    let (alcohol, water) = (
        by_volume * Fuel::methanol().density_kg_m3,
        (1.0 - by_volume) * WATER_KG_M3,
    );
    let rate = if has_share {
        belief::number(table, "share_of_fuel", D::Ratio, 0.0..=0.4, FACTOR_DOUBT)
    } else {
        let limits = 1e-7..=1e-4;
        belief::number(table, "flow", D::VolumeFlow, limits, FACTOR_DOUBT)
            .and_then(|prior| scaled(prior, alcohol + water))
    };
    let evaporated = or_usual(table, "evaporated", D::Ratio, (0.0, 1.0), SPRAY_EVAPORATED);
    methanol?;
    Some(Change::Charge(Charge::WaterMethanol {
        rate: rate?,
        of_fuel: has_share,
        methanol_mass_fraction: Prior::fixed(alcohol / (alcohol + water)).ok()?,
        evaporated_share: evaporated?,
    }))
}

pub(super) fn nitrous(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let flow = belief::number(table, "flow", D::MassFlow, 1e-3..=0.25, FACTOR_DOUBT);
    let bottle = {
        let had = table.has("bottle_temperature");
        let limits = 258.15..=309.15;
        let stated = belief::optional_number(
            table,
            "bottle_temperature",
            D::Temperature,
            limits.clone(),
            0.0,
        );
        if had {
            stated
        } else {
            let (low, high) = (*limits.start(), *limits.end());
            super::usual(RATED_BOTTLE_K, BOTTLE_DOUBT_K, low, high)
        }
    };
    let evaporated = or_usual(
        table,
        "evaporated",
        D::Ratio,
        (0.0, 1.0),
        NITROUS_EVAPORATED,
    );
    let per_rpm = std::f64::consts::PI / 30.0;
    let had = table.has("from_speed");
    let from = belief::plain(
        table,
        "from_speed",
        D::RotationalSpeed,
        0.0..=15_000.0 * per_rpm,
    );
    if had && from.is_none() {
        return None;
    }
    Some(Change::Charge(Charge::Nitrous {
        flow_kg_s: flow?,
        bottle_k: bottle?,
        evaporated_share: evaporated?,
        from_rpm: from.map_or(NITROUS_FROM_RPM, |speed| speed / per_rpm),
    }))
}
