//! Changes to injectors, fuel pump and rail.

use super::super::belief::{self, CLAIM_DOUBT, FACTOR_DOUBT};
use super::super::diagnostic::Code;
use super::super::rated;
use super::super::table::Table;
use super::usual;
use crate::belief::prior::Prior;
use crate::build::{Change, InjectorChoice, PumpChoice, RailChoice};
use crate::fuel::supply::{DEAD_TIME_S, DUTY_LIMIT, PUMP_FALL, USUAL_RAIL_PA};
use crate::units::Dimension as D;

/// Pressures of rails and ratings, Pa.
const PRESSURES: std::ops::RangeInclusive<f64> = 100e3..=1500e3;

/// Read if it is there, else as given; a mistake in it is not covered by the default.
fn or(
    table: &mut Table<'_>,
    key: &str,
    read: Option<Prior>,
    usual: Option<Prior>,
) -> Option<Prior> {
    if table.has(key) { read } else { usual }
}

fn rated_pressure(table: &mut Table<'_>) -> Option<Prior> {
    let dimension = D::PressureDifference;
    let read = belief::optional_number(table, "rated_pressure", dimension, PRESSURES, 0.0);
    or(
        table,
        "rated_pressure",
        read,
        Prior::fixed(USUAL_RAIL_PA).ok(),
    )
}

pub(super) fn injectors(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let flow = rated::flow(table, "injectors.flow", CLAIM_DOUBT);
    let rated_pressure = rated_pressure(table);
    let dead = belief::optional_number(table, "dead_time", D::Time, 0.0..=3e-3, 0.0);
    let dead = or(
        table,
        "dead_time",
        dead,
        usual(DEAD_TIME_S.0, DEAD_TIME_S.1, 0.0, 3e-3),
    );
    let duty = belief::optional_number(table, "duty_limit", D::Ratio, 0.5..=1.0, 0.0);
    let duty = or(
        table,
        "duty_limit",
        duty,
        usual(DUTY_LIMIT.0, DUTY_LIMIT.1, 0.5, 1.0),
    );
    let had = table.has("count");
    let count = table.optional_integer("count", 1..=32);
    if had && count.is_none() {
        return None;
    }
    Some(Change::Injectors(InjectorChoice {
        count: count.and_then(|count| u32::try_from(count).ok()),
        flow_m3_s: flow?,
        rated_pressure_pa: rated_pressure?,
        dead_time_s: dead?,
        duty_limit: duty?,
    }))
}

/// A pump's flow hangs on the voltage it has in the car, so a printed one is doubted as a factor nobody measured.
pub(super) fn fuel_pump(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let flow = rated::flow(table, "fuel_pump.flow", FACTOR_DOUBT);
    let rated_pressure = rated_pressure(table);
    let fall = belief::optional_number(table, "fall", D::Ratio, 0.0..=0.5, 0.0);
    let fall = or(
        table,
        "fall",
        fall,
        usual(PUMP_FALL.0, PUMP_FALL.1, 0.0, 0.5),
    );
    Some(Change::FuelPump(PumpChoice {
        flow_m3_s: flow?,
        rated_pressure_pa: rated_pressure?,
        fall: fall?,
    }))
}

pub(super) fn fuel_rail(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let dimension = D::PressureDifference;
    let pressure = belief::optional_number(table, "pressure", dimension, PRESSURES, 0.0);
    let reference = table.optional_choice("reference", rated::REFERENCES);
    let (told_pressure, told_reference) = (table.has("pressure"), table.has("reference"));
    if !(told_pressure || told_reference) {
        let message = "this change of the fuel rail changes nothing";
        let expected = "pressure, reference, or both";
        table.error("pressure", Code::KEY_MISSING, message, expected);
        return None;
    }
    let read = pressure.is_some() == told_pressure && reference.is_some() == told_reference;
    read.then_some(Change::FuelRail(RailChoice {
        pressure_pa: pressure,
        reference,
    }))
}
