//! Ratings that car and plan files state alike: fuel flows by volume or by mass, a clutch by its capacity or its sizes.
//!
//! Exists so that both kinds of file accept the same words. It refuses two statements of one thing.

use std::ops::RangeInclusive;

use super::belief::{self, FACTOR_DOUBT, KEY_CONFLICT};
use super::table::Table;
use crate::belief::parameter;
use crate::belief::prior::Prior;
use crate::driveline::{FrictionClutch, GearOil};
use crate::fuel::supply::{RATING_DENSITY_KG_M3, RailReference};
use crate::units::Dimension as D;

/// What the rail is held above, by its words.
pub(super) const REFERENCES: &[(&str, RailReference)] = &[
    ("manifold", RailReference::Manifold),
    ("outside", RailReference::Outside),
];

/// A gear oil by its grade.
pub(super) fn oil_grade(table: &mut Table<'_>, key: &str) -> Option<GearOil> {
    table.optional_choice(key, GearOil::GRADES)
}

/// A fuel flow in m³/s of petrol, written by volume or by mass; the catalogue's range of `path` holds.
pub(super) fn flow(table: &mut Table<'_>, path: &str, bare: f64) -> Option<Prior> {
    let quantity = table.quantity_of("flow", &[D::VolumeFlow, D::MassFlow]);
    let (lower, upper) = parameter::find(path).map(parameter::Parameter::bounds)?;
    let by_mass = quantity
        .as_ref()
        .is_some_and(|q| q.unit.dimension == D::MassFlow);
    let density = if by_mass { RATING_DENSITY_KG_M3 } else { 1.0 };
    let quantity = table.within("flow", quantity, lower * density..=upper * density)?;
    let made = belief::prior(&quantity, 1.0 / density, (lower, upper), bare);
    belief::accepted(table, "flow", made)
}

/// Keys of a clutch stated by its sizes.
pub(super) const CLUTCH_SIZES: [&str; 5] =
    ["faces", "friction", "clamp", "outer_radius", "inner_radius"];

/// Torque that a clutch carries, N m: as stated, or from its sizes with the doubt of its friction.
pub(super) fn clutch_nm(table: &mut Table<'_>, bare: f64) -> Option<Prior> {
    let bounds = parameter::find("clutch.capacity").map(parameter::Parameter::bounds)?;
    let range = bounds.0..=bounds.1;
    let stated = table.has("capacity");
    let sized = table.has_any(&CLUTCH_SIZES);
    if stated && sized {
        let message = "both 'capacity' and the clutch's dimensions are given";
        let expected = "capacity alone, or faces, friction, clamp, outer_radius and inner_radius";
        table.error("capacity", KEY_CONFLICT, message, expected);
        return None;
    }
    if !sized {
        return belief::number(table, "capacity", D::Torque, range, bare);
    }
    let faces = table.integer("faces", 1..=12);
    let mut of = |key, dimension, limits: RangeInclusive<f64>| {
        belief::required_plain(table, key, dimension, limits)
    };
    let friction = of("friction", D::Ratio, 0.05..=0.8);
    let clamp_n = of("clamp", D::Force, 500.0..=60e3);
    let outer = of("outer_radius", D::Length, 0.04..=0.25);
    let inner = of("inner_radius", D::Length, 0.02..=0.24);
    let (outer_radius_m, inner_radius_m) = (outer?, inner?);
    if inner_radius_m >= outer_radius_m {
        let message = "the facing's inner radius is not smaller than its outer";
        table.error(
            "inner_radius",
            KEY_CONFLICT,
            message,
            "less than outer_radius",
        );
        return None;
    }
    let clutch = FrictionClutch {
        // At most twelve: nothing is lost.
        faces: u32::try_from(faces?).map(f64::from).ok()?,
        friction: friction?,
        clamp_n: clamp_n?,
        outer_radius_m,
        inner_radius_m,
    };
    let capacity = clutch.capacity_nm();
    let made = Prior::normal(capacity, FACTOR_DOUBT * capacity, bounds.0, bounds.1);
    belief::accepted(table, "clamp", made)
}
