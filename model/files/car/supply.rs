//! The tables `injectors`, `fuel_pump`, `fuel_rail`, `clutch`, `converter` and `limits` of a car file.
//!
//! Each may be left out; then the part is not known and sets no limit.

use super::super::belief::{self, KEY_CONFLICT, Place, Stated};
use super::super::form::TableForm;
use super::super::rated;
use super::super::table::Table;
use crate::belief::prior::Prior;
use crate::belief::sheet::Origin;
use crate::car::{Car, Thresholds};
use crate::driveline::gears::Gearbox;
use crate::driveline::{GearOil, TorqueConverter};
use crate::fuel::supply::{Injectors, Pump, RailReference};
use crate::parts::{self, REFERENCES};
use crate::units::Dimension as D;
use std::path::Path;

/// What a car file says of fuel supply, clutch and converter beside their numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyParts {
    /// Number of injectors, if there are any that are known.
    pub injectors: Option<u32>,
    /// Whether the pump is known.
    pub pump: bool,
    /// What the rail is held above.
    pub rail: RailReference,
    /// Whether the clutch is known.
    pub clutch: bool,
    /// Whether the converter is locked; none where it is not known.
    pub converter_locked: Option<bool>,
    /// Gear oil.
    pub oil: GearOil,
    /// Past which a shop should look.
    pub thresholds: Thresholds,
}

/// Reads all of those tables.
pub(super) fn supply(
    root: &mut Table<'_>,
    stated: &mut Stated,
    cylinders: Option<u32>,
    gearbox: Option<Gearbox>,
    oil: Option<GearOil>,
) -> Option<SupplyParts> {
    let injectors = root.part("injectors", |table| injectors(table, stated, cylinders));
    let pump = root.part("fuel_pump", |table| {
        let made = rated::flow(table, "fuel_pump.flow", 0.0);
        imply(table, stated, "fuel_pump.flow", "flow", made);
        stated.read_but(table, &[], &["flow"]);
        Some(())
    });
    let rail = root.part("fuel_rail", |table| {
        stated.read(table, &[]);
        let reference = table.found("reference", |t| t.optional_choice("reference", REFERENCES));
        reference.or(RailReference::Manifold)
    });
    let clutch = root.part("clutch", |table| {
        let made = clutch(table);
        imply(table, stated, "clutch.capacity", "capacity", made);
        Some(())
    });
    let converter = root.part("converter", |table| converter(table, stated, gearbox));
    let thresholds = root.part("limits", |table| Some(limits(table)));
    Some(SupplyParts {
        injectors: injectors.optional()?,
        pump: pump.optional()?.is_some(),
        rail: rail.or(RailReference::Manifold)?,
        clutch: clutch.optional()?.is_some(),
        converter_locked: converter
            .optional()?
            .filter(|facts| facts.known)
            .map(|facts| facts.locked),
        oil: oil.unwrap_or(GearOil::SAE_75W90),
        thresholds: thresholds.or_else(|| Some(Thresholds::default()))?,
    })
}

/// Torque that a clutch carries; a stated one without doubt is exact, and it names no file.
fn clutch(table: &mut Table<'_>) -> Option<Prior> {
    let folder = Path::new("");
    parts::capacity_nm(&mut TableForm { table, folder }, 0.0)
}

/// Adds a belief that was read in a way of its own.
fn imply(
    table: &mut Table<'_>,
    stated: &mut Stated,
    path: &str,
    key: &str,
    made: Option<Prior>,
) -> Option<()> {
    let place = Place::of(table, key);
    match stated.imply(path, Ok(made?), Origin::Given, &place) {
        Ok(()) => Some(()),
        Err(problem) => {
            table.push(*problem);
            None
        }
    }
}

fn injectors(table: &mut Table<'_>, stated: &mut Stated, cylinders: Option<u32>) -> Option<u32> {
    let made = rated::flow(table, "injectors.flow", 0.0);
    imply(table, stated, "injectors.flow", "flow", made);
    stated.read_but(table, &[], &["flow"]);
    let count = table.found("count", |t| t.optional_integer("count", 1..=32));
    // At most 32: nothing is lost.
    count.map(|count| u32::try_from(count).ok()).or(cylinders)?
}

/// A converter; not known where it is locked and nothing else is stated, for then it changes nothing.
struct ConverterFacts {
    known: bool,
    locked: bool,
}

fn converter(
    table: &mut Table<'_>,
    stated: &mut Stated,
    gearbox: Option<Gearbox>,
) -> Option<ConverterFacts> {
    let locked = table.found("locked", |t| t.optional_boolean("locked"));
    let locked = locked.or(false)?;
    let told = table.has_any(&["stall_speed", "stall_torque"]);
    if locked && !told {
        stated.read(table, &[]);
        return Some(ConverterFacts {
            known: false,
            locked,
        });
    }
    if !locked && gearbox == Some(Gearbox::Manual) {
        let message = "the car has a torque converter and a manual gearbox";
        let expected = "driveline.gearbox = \"automatic\", or no [converter]";
        table.error("stall_speed", KEY_CONFLICT, message, expected);
        return None;
    }
    stated.read(table, &["stall_speed", "stall_torque"]);
    Some(ConverterFacts {
        known: true,
        locked,
    })
}

fn limits(table: &mut Table<'_>) -> Thresholds {
    let usual = Thresholds::default();
    let mut of = |key, dimension, limits, usual: f64| {
        belief::plain(table, key, dimension, limits).unwrap_or(usual)
    };
    Thresholds {
        exhaust_k: of(
            "exhaust_temperature",
            D::Temperature,
            700.0..=1600.0,
            usual.exhaust_k,
        ),
        peak_pa: of(
            "peak_pressure",
            D::PressureDifference,
            2e6..=40e6,
            usual.peak_pa,
        ),
        piston_speed_m_s: of("piston_speed", D::Speed, 5.0..=45.0, usual.piston_speed_m_s),
        tyre_speed_m_s: of("tyre_speed", D::Speed, 20.0..=160.0, usual.tyre_speed_m_s),
    }
}

impl SupplyParts {
    /// Puts the parts into a car, at the centre of what is stated; the sheet fills in the rest.
    pub(super) fn put_into(&self, car: &mut Car, stated: &Stated) -> Option<()> {
        let of = |path: &str| stated.centre(path);
        let supply = &mut car.fuel_supply;
        supply.rail.reference = self.rail;
        if let Some(count) = self.injectors {
            supply.injectors = Some(Injectors::rated(count, of("injectors.flow")?));
        }
        if self.pump {
            supply.pump = Some(Pump::rated(of("fuel_pump.flow")?));
        }
        let line = &mut car.driveline;
        line.oil = self.oil;
        if self.clutch {
            line.clutch_nm = Some(of("clutch.capacity")?);
        }
        if let Some(locked) = self.converter_locked {
            line.converter = Some(TorqueConverter {
                locked,
                ..TorqueConverter::stalling_at(
                    of("converter.stall_speed")?,
                    of("converter.stall_torque")?,
                )
            });
        }
        car.thresholds = self.thresholds;
        Some(())
    }
}
