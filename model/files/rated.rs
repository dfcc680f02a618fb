//! Fuel flows that car and plan files state alike: by volume or by mass.

use super::belief;
use super::table::Table;
use crate::belief::parameter;
use crate::belief::prior::Prior;
use crate::fuel::supply::RATING_DENSITY_KG_M3;
use crate::units::Dimension as D;

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
