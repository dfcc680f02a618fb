//! The tables `engine` and `fuel` of a car file.

use nalgebra::DMatrix;

use super::super::belief::{self, KEY_CONFLICT, Place, Stated};
use super::super::diagnostic::Code;
use super::super::fuel::{self, FuelKind};
use super::super::table::Table;
use crate::belief::parameter;
use crate::belief::prior::Prior;
use crate::belief::sheet::{Correlation, Origin, Sheet};
use crate::car::Fuelling;
use crate::units::{Dimension, find, show};

/// Doubt on bore over stroke where only the displacement is known, as standard deviation of the logarithm: road engines
/// run from 0.85 to 1.2 (common practice, no source).
pub const SQUARE_DOUBT: f64 = 0.10;
/// Displacement, bore and stroke that are all given must agree within this share; catalogues round to it.
const AGREEMENT: f64 = 0.02;
/// Correlation of bore and stroke at a known displacement. At −1 the displacement would be exact; this leaves it 0.4 % and
/// the matrix safely positive definite.
const BORE_STROKE_CORRELATION: f64 = -0.998;

/// What the engine table says beside the catalogue.
pub(super) struct EngineFacts {
    pub(super) cylinders: u32,
    pub(super) inlet_valves: u32,
    pub(super) fuelling: Fuelling,
    pub(super) reference_flow_kg_s: Option<f64>,
    pub(super) square: bool,
}

/// Ways in which fuel meets the air, by their words.
const FUELLINGS: &[(&str, Fuelling)] = &[
    ("injection", Fuelling::Injection),
    ("carburettor", Fuelling::Carburettor),
];

pub(super) fn engine(table: &mut Table<'_>, stated: &mut Stated) -> Option<EngineFacts> {
    stated.read(table, &["compression_ratio", "redline"]);
    let cylinders = table.integer("cylinders", 1..=16);
    let inlet_valves = table.found("inlet_valves", |t| {
        t.optional_integer("inlet_valves", 1..=3)
    });
    let fuelling = if table.has("fuelling") {
        table.choice("fuelling", FUELLINGS)
    } else {
        Some(Fuelling::Injection)
    };
    let reference_flow_kg_s =
        belief::plain(table, "reference_flow", Dimension::MassFlow, 0.005..=5.0);
    let displacement = belief::plain(table, "displacement", Dimension::Volume, 5e-5..=2e-2);
    let cylinders = u32::try_from(cylinders?).ok()?;
    let square = size(table, stated, f64::from(cylinders), displacement)?;
    let inlet_valves = u32::try_from(inlet_valves.or(2)?).ok()?;
    Some(EngineFacts {
        cylinders,
        inlet_valves,
        fuelling: fuelling?,
        reference_flow_kg_s,
        square,
    })
}

/// Holds a bore and stroke taken equal to the ranges of both, with the displacements that would be taken.
fn square_within(table: &mut Table<'_>, cylinders: f64, side_m: f64) -> Option<()> {
    let bounds = |path| parameter::find(path).map(parameter::Parameter::bounds);
    let (bore, stroke) = (bounds("engine.bore")?, bounds("engine.stroke")?);
    let (low, high) = (bore.0.max(stroke.0), bore.1.min(stroke.1));
    if low < side_m && side_m < high {
        return Some(());
    }
    let litre = find("L", Dimension::Volume).ok()?;
    let mm = find("mm", Dimension::Length).ok()?;
    let volume = |side: f64| {
        show(
            0.25 * std::f64::consts::PI * cylinders * side.powi(3),
            litre,
        )
    };
    let cylinders = if cylinders > 1.0 {
        format!("{cylinders} cylinders")
    } else {
        "one cylinder".to_owned()
    };
    let message = format!(
        "'displacement' in {cylinders} makes bore and stroke {} each; the model knows {} to {}",
        show(side_m, mm),
        show(low, mm),
        show(high, mm)
    );
    let (low, high) = (volume(low), volume(high));
    let expected = format!("above {low} and below {high} in {cylinders}, or bore and stroke");
    table.error("displacement", Code::OUT_OF_RANGE, message, expected);
    None
}

/// Settles bore and stroke; true if they were taken equal.
fn size(
    table: &mut Table<'_>,
    stated: &mut Stated,
    cylinders: f64,
    displacement_m3: Option<f64>,
) -> Option<bool> {
    let area = |bore_m: f64| 0.25 * std::f64::consts::PI * bore_m * bore_m * cylinders;
    let (has_bore, has_stroke, has_displacement) = (
        table.has("bore"),
        table.has("stroke"),
        table.has("displacement"),
    );
    let place = Place::of(table, "displacement");
    let (bore, stroke) = (stated.centre("engine.bore"), stated.centre("engine.stroke"));
    let mut imply = |table: &mut Table<'_>, path: &str, value: f64, doubt: f64| {
        let (lower, upper) = parameter::find(path).map(parameter::Parameter::bounds)?;
        let (made, origin) = if doubt > 0.0 {
            (
                Prior::log_normal(value, doubt, lower, upper),
                Origin::Default,
            )
        } else {
            (Prior::fixed(value), Origin::Given)
        };
        match stated.imply(path, made, origin, &place) {
            Ok(()) => Some(()),
            Err(problem) => {
                table.push(*problem);
                None
            }
        }
    };
    match (has_bore, has_stroke, has_displacement) {
        (true, true, false) => (bore.is_some() && stroke.is_some()).then_some(false),
        (true, true, true) => {
            let (bore, stroke, written) = (bore?, stroke?, displacement_m3?);
            let computed = area(bore) * stroke;
            if (written / computed - 1.0).abs() > AGREEMENT {
                let litre = find("L", Dimension::Volume).ok()?;
                let message = format!(
                    "bore, stroke and {cylinders} cylinders make {}, not {}",
                    show(computed, litre),
                    show(written, litre)
                );
                let expected = format!("{} within 2 %, or no displacement", show(computed, litre));
                table.error("displacement", KEY_CONFLICT, message, expected);
                return None;
            }
            Some(false)
        }
        (true, false, true) => {
            imply(table, "engine.stroke", displacement_m3? / area(bore?), 0.0).map(|()| false)
        }
        (false, true, true) => {
            let bore = (displacement_m3? / (area(1.0) * stroke?)).sqrt();
            imply(table, "engine.bore", bore, 0.0).map(|()| false)
        }
        (false, false, true) => {
            let side = (displacement_m3? / area(1.0)).cbrt();
            square_within(table, cylinders, side)?;
            // At constant displacement ln bore moves by a third of ln(bore/stroke), ln stroke by two thirds.
            imply(table, "engine.bore", side, SQUARE_DOUBT / 3.0)?;
            imply(table, "engine.stroke", side, SQUARE_DOUBT * 2.0 / 3.0)?;
            Some(true)
        }
        _ => {
            table.error(
                "displacement",
                Code::KEY_MISSING,
                "the size of the engine is missing",
                "bore and stroke, or displacement = \"... L\" alone or with one of them",
            );
            None
        }
    }
}

/// Bore and stroke that only the displacement ties: together they hold it.
pub(super) fn square_correlation(sheet: &Sheet) -> Option<Correlation> {
    let at = |path: &str| {
        sheet
            .free()
            .position(|belief| belief.parameter.path == path)
    };
    let (bore, stroke) = (at("engine.bore")?, at("engine.stroke")?);
    let n = sheet.free_count();
    let mut matrix = DMatrix::identity(n, n);
    matrix[(bore, stroke)] = BORE_STROKE_CORRELATION;
    matrix[(stroke, bore)] = BORE_STROKE_CORRELATION;
    Correlation::new(matrix).ok()
}

pub(in crate::files) fn fuel(table: &mut Table<'_>, stated: &mut Stated) -> Option<FuelKind> {
    let kind = fuel::kind(table, "kind");
    let required: &[&str] = if kind.is_none_or(FuelKind::needs_octane) {
        &["research_octane"]
    } else {
        &[]
    };
    stated.read(table, required);
    kind
}
