//! Changes to turning parts, gear oil, clutch, converter, belt, battery, tyres and the mass on the drums.

use super::super::belief::{self, CLAIM_DOUBT, FACTOR_DOUBT, KEY_CONFLICT, SIZE_DOUBT};
use super::super::diagnostic::Code;
use super::super::rated;
use super::super::table::Table;
use super::usual;
use crate::belief::prior::Prior;
use crate::build::{
    BatteryChoice, BeltChoice, Change, ConverterChoice, MassChange, OilChoice, Turning,
    TurningChange, TyreChoice,
};
use crate::units::Dimension as D;

/// Where turning parts sit, by their words.
const PLACES: &[(&str, Turning)] = &[
    ("crank", Turning::Crank),
    ("gearbox input", Turning::GearboxInput),
    ("shaft", Turning::Shaft),
    ("wheels", Turning::Wheels),
];
/// Doubt on a moment of inertia that nobody measured, relative; common practice, no source.
const INERTIA_DOUBT: f64 = 0.05;
/// Doubt on the viscosity of an oil known by its grade, relative: makers differ by it (from memory).
const VISCOSITY_DOUBT: f64 = 0.08;
/// Share of a load in the car that the driven axle carries where the plan does not say, and its standard deviation. Common
/// practice, no source: halfway between the axles.
const MASS_SHARE: (f64, f64) = (0.5, 0.1);

/// Keys of which at least one must be there; each that is there must have been read.
fn some(table: &mut Table<'_>, what: &str, read: &[(&str, bool)]) -> Option<()> {
    let keys: Vec<&str> = read.iter().map(|(key, _)| *key).collect();
    if !table.has_any(&keys) {
        let first = read.first().map_or("", |(key, _)| *key);
        let message = format!("this change of the {what} changes nothing");
        let expected = format!("one or more of {}", keys.join(", "));
        table.error(first, Code::KEY_MISSING, message, expected);
        return None;
    }
    read.iter()
        .all(|(key, read)| *read || !table.has(key))
        .then_some(())
}

/// At the crank for a flywheel; where the plan says for any other part.
pub(super) fn turning_parts(table: &mut Table<'_>, at: Option<Turning>) -> Option<Change<Prior>> {
    let at = at.or_else(|| table.choice("at", PLACES));
    let mut inertia = |key| belief::number(table, key, D::Inertia, 1e-4..=16.0, INERTIA_DOUBT);
    let (before, after) = (inertia("inertia_before"), inertia("inertia_after"));
    Some(Change::TurningParts(TurningChange {
        at: at?,
        before_kg_m2: before?,
        after_kg_m2: after?,
    }))
}

pub(super) fn oil(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let oil = rated::oil_grade(table, "oil");
    let range = 253.15..=423.15;
    let temperature = belief::optional_number(table, "temperature", D::Temperature, range, 0.0);
    let read = [
        ("oil", oil.is_some()),
        ("temperature", temperature.is_some()),
    ];
    some(table, "driveline oil", &read)?;
    let factor = if oil.is_some() {
        usual(1.0, VISCOSITY_DOUBT, 0.7, 1.4)
    } else {
        Prior::fixed(1.0).ok()
    };
    Some(Change::DrivelineOil(OilChoice {
        oil,
        viscosity_factor: factor?,
        temperature_k: temperature,
    }))
}

pub(super) fn clutch(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let capacity_nm = rated::clutch_nm(table, FACTOR_DOUBT)?;
    Some(Change::Clutch { capacity_nm })
}

/// Torque ratio and coupling as in a car file where the maker prints none.
pub(super) fn converter(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let had = table.has("locked");
    let locked = table.optional_boolean("locked");
    let open = ["stall_speed", "stall_torque", "torque_ratio", "coupling"];
    let locked = locked.or((!had).then_some(false));
    if locked == Some(true) {
        if table.has_any(&open) {
            let message = "a locked converter does not slip, so its stall point changes nothing";
            table.error(
                "locked",
                KEY_CONFLICT,
                message,
                "locked alone, or the stall point",
            );
            return None;
        }
        return Some(Change::Converter(ConverterChoice::Locked));
    }
    let per_rpm = std::f64::consts::PI / 30.0;
    let speed = D::RotationalSpeed;
    let range = 800.0 * per_rpm..=8000.0 * per_rpm;
    let stall_speed = belief::number(table, "stall_speed", speed, range, CLAIM_DOUBT);
    let torque = D::Torque;
    let stall_torque = belief::number(table, "stall_torque", torque, 30.0..=3000.0, CLAIM_DOUBT);
    let ratio = belief::optional_number(table, "torque_ratio", D::Ratio, 1.0..=4.0, CLAIM_DOUBT);
    let ratio = if table.has("torque_ratio") {
        ratio
    } else {
        usual(2.0, 0.15, 1.0, 4.0)
    };
    let coupling = belief::optional_number(table, "coupling", D::Ratio, 0.6..=0.98, 0.0);
    let coupling = if table.has("coupling") {
        coupling
    } else {
        usual(0.87, 0.02, 0.6, 0.98)
    };
    locked?;
    Some(Change::Converter(ConverterChoice::Open {
        stall_speed_rad_s: stall_speed?,
        stall_torque_nm: stall_torque?,
        torque_ratio: ratio?,
        coupling: coupling?,
    }))
}

pub(super) fn belt(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let ribs = 1..=20;
    let (from, to) = (
        table.optional_integer("ribs_from", ribs.clone()),
        table.optional_integer("ribs_to", ribs),
    );
    let tension = belief::optional_number(table, "tension", D::Force, 200.0..=12e3, FACTOR_DOUBT);
    let angle = 60_f64.to_radians()..=300_f64.to_radians();
    let wrap = belief::optional_number(table, "wrap", D::Angle, angle, 0.0);
    let friction = belief::optional_number(table, "friction", D::Ratio, 0.5..=1.6, FACTOR_DOUBT);
    let (has_from, has_to) = (table.has("ribs_from"), table.has("ribs_to"));
    if has_from != has_to {
        let (there, missing) = if has_from {
            ("ribs_from", "ribs_to")
        } else {
            ("ribs_to", "ribs_from")
        };
        let message = format!("\'{there}\' is given without \'{missing}\'");
        let expected = "ribs_from and ribs_to, the ribs of the belts before and after";
        table.error(there, Code::KEY_MISSING, message, expected);
        return None;
    }
    if has_from && table.has("tension") {
        let message = "\'tension\' and numbers of ribs are both given";
        table.error(
            "tension",
            KEY_CONFLICT,
            message,
            "the tension after, or the ribs",
        );
        return None;
    }
    let read = [
        ("ribs_from", from.is_some()),
        ("ribs_to", to.is_some()),
        ("tension", tension.is_some()),
        ("wrap", wrap.is_some()),
        ("friction", friction.is_some()),
    ];
    some(table, "belt", &read)?;
    let ribs = from.zip(to).and_then(|(from, to)| {
        let whole = |n: i64| u32::try_from(n).map(f64::from).ok();
        Prior::fixed(whole(to)? / whole(from)?).ok()
    });
    Some(Change::Belt(BeltChoice {
        rib_factor: ribs,
        tension_n: tension,
        wrap_rad: wrap,
        friction,
    }))
}

pub(super) fn battery(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let ohm = D::Resistance;
    let resistance = belief::optional_number(table, "resistance", ohm, 0.005..=0.60, FACTOR_DOUBT);
    let energy = belief::optional_number(table, "energy", D::Energy, 1e5..=1e9, CLAIM_DOUBT);
    let volt = D::ElectricPotential;
    let voltage = belief::optional_number(table, "voltage", volt, 30.0..=1200.0, 0.0);
    let power = belief::optional_number(table, "power", D::Power, 1e3..=2e6, CLAIM_DOUBT);
    let read = [
        ("resistance", resistance.is_some()),
        ("energy", energy.is_some()),
        ("voltage", voltage.is_some()),
        ("power", power.is_some()),
    ];
    some(table, "battery", &read)?;
    Some(Change::Battery(BatteryChoice {
        resistance_ohm: resistance,
        energy_j: energy,
        voltage_v: voltage,
        power_w: power,
    }))
}

pub(super) fn tyres(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let radius = belief::optional_number(table, "tyre_radius", D::Length, 0.2..=0.5, SIZE_DOUBT);
    let grip = belief::optional_number(table, "grip", D::Ratio, 0.3..=2.0, FACTOR_DOUBT);
    let rolling = "rolling_coefficient";
    let rolling = belief::optional_number(table, rolling, D::Ratio, 0.006..=0.020, FACTOR_DOUBT);
    let rating = belief::optional_number(table, "speed_rating", D::Speed, 20.0..=160.0, 0.0);
    let read = [
        ("tyre_radius", radius.is_some()),
        ("grip", grip.is_some()),
        ("rolling_coefficient", rolling.is_some()),
        ("speed_rating", rating.is_some()),
    ];
    some(table, "tyres", &read)?;
    Some(Change::Tyres(TyreChoice {
        radius_m: radius,
        grip,
        rolling_coefficient: rolling,
        speed_rating_m_s: rating,
    }))
}

pub(super) fn mass(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let added = belief::number(table, "added", D::Mass, -1500.0..=1500.0, 0.0);
    let share = belief::optional_number(table, "share", D::Ratio, 0.0..=1.0, 0.0);
    let share = if table.has("share") {
        share
    } else {
        usual(MASS_SHARE.0, MASS_SHARE.1, 0.0, 1.0)
    };
    Some(Change::Mass(MassChange {
        added_kg: added?,
        share: share?,
    }))
}
