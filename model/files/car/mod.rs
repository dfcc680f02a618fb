//! A car file: what a shop knows of a car and its drums, turned into a [`Sheet`] of beliefs.
//!
//! ```text
//! kind = "car"
//! version = 1
//! name = "estate"
//! [engine]
//! cylinders = 6
//! displacement = "2.98 L"
//! compression_ratio = 10.2
//! redline = "6500 rpm"
//! [fuel]
//! research_octane = 95
//! [driveline]
//! gear = 1.0
//! final_drive = 3.46
//! [wheels]
//! tyre_radius = "0.318 m"
//! [drums]
//! inertia = "240 kg m2"
//! radius = "0.35 m"
//! ```
//!
//! Every other number has the catalogue's default with its doubt ([`crate::belief::parameter`]); any of them may be written
//! in the table of its path. Beside them stand the few keys that describe what the car is made of ([`Parts`]). The file
//! refuses keys it does not know and numbers outside what makes sense, all at once, each at its place.

mod boost;
mod engine;
mod parts;
mod running_gear;
mod supply;
mod turbo;

use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use boost::CLAIMS_INVALID;
pub use engine::SQUARE_DOUBT;
pub(super) use engine::fuel;
pub use parts::{BlowerParts, CouplingKind, KnockTable, MachineParts, Parts};
pub use running_gear::TWO_RAMPS;
pub(super) use running_gear::drums;
pub use supply::SupplyParts;
pub(super) use turbo::boost;

use super::belief::{KEY_UNUSED, Place, Stated};
use super::diagnostic::{Code, Excerpt, Problem, Problems};
use super::posterior::{self, PosteriorTable};
use super::table::{Table, TomlFile};
use crate::belief::sheet::{Sheet, SheetError};
use crate::parts::SHORTEST_ROD;

/// Version of the format this program reads and writes.
pub const VERSION: i64 = 1;
/// The octane number is lower than any pump fuel's.
pub const OCTANE_LOW: Code = Code::new("octane_low");
/// The drums' mass at their surface is far from any chassis dynamometer's.
pub const DRUM_MASS_ODD: Code = Code::new("drum_mass_odd");
/// An electric axle stands on drums of one axle.
pub const AXLE_NOT_ON_DRUMS: Code = Code::new("axle_not_on_drums");
/// A default does not fit the car.
pub const DEFAULT_UNFIT: Code = Code::new("default_unfit");

/// The connecting rod is too short for the stroke.
pub const ROD_SHORT: Code = Code::new("rod_short");

/// Octane below which a person should look, research number. Common practice, no source.
const LOW_OCTANE: f64 = 80.0;
/// Equivalent mass of ordinary inertia drums, kg. Common practice, no source.
const DRUM_MASS_KG: (f64, f64) = (300.0, 4000.0);

/// A car file read: the beliefs, and what the car is made of.
#[derive(Debug, Clone)]
pub struct CarFile {
    /// Every number with its doubt.
    pub sheet: Sheet,
    /// What the car is made of.
    pub parts: Parts,
    /// The file as the shop wrote it, kept for writing the car again.
    pub text: Arc<Excerpt>,
    /// The folder that its paths are told from.
    pub folder: PathBuf,
}

/// Reads a car file from disk; warnings come beside the car.
pub fn open(path: &Path) -> Result<(CarFile, Problems), Problems> {
    let file = TomlFile::open(path)?;
    read(&file, path.parent().unwrap_or(Path::new("")))
}

/// Reads a car file whose text is here; `folder` is where a blower map it names is looked for.
pub fn read(file: &TomlFile, folder: &Path) -> Result<(CarFile, Problems), Problems> {
    file.read(|root| car(root, folder))
}

/// Reads the tables of a car file.
pub(super) fn car(root: &mut Table<'_>, folder: &Path) -> Option<CarFile> {
    head(root, "car")?;
    let name = root.text("name");
    let mass_kg = root.optional_subtable("car", |table| {
        Some(super::belief::plain(
            table,
            "mass",
            crate::units::Dimension::Mass,
            // Beyond these no tyre load would follow that the catalogue accepts.
            300.0..=4000.0,
        ))
    });
    let mut stated = Stated::default();
    let facts = root.subtable("engine", |table| engine::engine(table, &mut stated));
    of_the_catalogue_alone(root, &mut stated);
    let fuel = root.subtable("fuel", |table| engine::fuel(table, &mut stated));
    let blower = root.part("blower", |table| boost::blower(table, folder, &mut stated));
    let cooler = root.part("cooler", |table| boost::cooler(table, &mut stated));
    let driveline = root.subtable("driveline", |table| {
        running_gear::driveline(table, &mut stated)
    });
    root.subtable("wheels", |table| {
        stated.read(table, &["tyre_radius"]);
        Some(())
    });
    let axle = root.part("electric_axle", |table| {
        running_gear::axle(table, &mut stated)
    });
    let supply = supply::supply(
        root,
        &mut stated,
        facts.as_ref().map(|facts| facts.cylinders),
        driveline.map(|line| line.gearbox),
        driveline.and_then(|line| line.oil),
    );
    let drums = root.subtable("drums", |table| running_gear::drums(table, &mut stated));
    let posterior = root.part("posterior", posterior::read);

    let (facts, line, rig) = (facts?, driveline?, drums?);
    let parts = Parts {
        cylinders: facts.cylinders,
        inlet_valves: facts.inlet_valves,
        fuelling: facts.fuelling,
        reference_flow_kg_s: facts.reference_flow_kg_s,
        square: facts.square,
        fuel: fuel?,
        blower: blower.or(BlowerParts::None)?,
        cooler: cooler.optional()?,
        drive: line.drive,
        gearbox: line.gearbox,
        axle: axle.optional()?,
        coupling: rig.coupling,
        drag_added_back: rig.drag_added_back,
        machine: rig.machine,
        mass_kg: mass_kg.flatten(),
        supply: supply?,
    };
    let posterior = posterior.optional()?;
    parts.imply(&mut stated);
    let setup = parts.setup(name?, &stated)?;
    let here = Place::of(root, "name");
    let mut sheet = match Sheet::new(setup, &stated.beliefs()) {
        Ok(sheet) => sheet,
        Err(error) => {
            root.push(sheet_problem(&error, &stated, &here));
            return None;
        }
    };
    if let Some(problem) = short_rod(&sheet, &stated, &here) {
        root.push(problem);
        return None;
    }
    match &posterior {
        Some(found) => apply(root, found, &mut sheet),
        None if parts.square => sheet.correlation = engine::square_correlation(&sheet),
        None => {}
    }
    for warning in warnings(&sheet, &stated, &here) {
        root.push(warning);
    }
    Some(CarFile {
        sheet,
        parts,
        text: Arc::clone(root.excerpt()),
        folder: folder.to_owned(),
    })
}

/// Tables that hold nothing but numbers of the catalogue.
fn of_the_catalogue_alone(root: &mut Table<'_>, stated: &mut Stated) {
    for table in [
        "breathing",
        "combustion",
        "friction",
        "tune",
        "intake",
        "exhaust",
    ] {
        root.optional_subtable(table, |table| {
            stated.read(table, &[]);
            Some(())
        });
    }
}

/// A connecting rod that cannot turn the stroke.
fn short_rod(sheet: &Sheet, stated: &Stated, here: &Place) -> Option<Problem> {
    let cylinder = sheet.centre.car.engine.geometry.cylinder;
    if cylinder.rod_m >= SHORTEST_ROD * cylinder.stroke_m {
        return None;
    }
    let place = stated
        .find("engine.rod_length")
        .map_or(here, |given| &given.place);
    let message = format!(
        "a rod of {:.1} mm cannot turn a stroke of {:.1} mm",
        1e3 * cylinder.rod_m,
        1e3 * cylinder.stroke_m
    );
    let expected = format!("{SHORTEST_ROD} strokes or more; road engines have 1.4 to 2");
    Some(place.problem(ROD_SHORT, message).expected(expected))
}

/// The lines every file begins with. `None` for a file of another kind, of which everything else would be a mistake too.
pub(super) fn head(root: &mut Table<'_>, kind: &'static str) -> Option<()> {
    let other = root.has("kind") && root.choice("kind", &[(kind, ())]).is_none();
    if other {
        root.disregard();
        return None;
    }
    if !root.has("kind") {
        root.choice("kind", &[(kind, ())]);
    }
    root.integer("version", 1..=VERSION);
    Some(())
}

fn apply(root: &mut Table<'_>, found: &PosteriorTable, sheet: &mut Sheet) {
    if let Err(problem) = found.apply(sheet) {
        root.push(*problem);
    }
    for warning in found.warnings() {
        root.push(warning);
    }
}

fn sheet_problem(error: &SheetError, stated: &Stated, here: &Place) -> Problem {
    match error {
        SheetError::Missing { path } => here
            .problem(Code::KEY_MISSING, error.to_string())
            .expected(format!("{path} in its table")),
        SheetError::Default { path, .. } => {
            let code = DEFAULT_UNFIT;
            stated
                .find(path)
                .map_or(here, |g| &g.place)
                .problem(code, error.to_string())
        }
    }
}

/// What a person should look at although the file can be used.
fn warnings(sheet: &Sheet, stated: &Stated, here: &Place) -> Vec<Problem> {
    let place = |path: &str| {
        stated
            .find(path)
            .map_or_else(|| here.clone(), |g| g.place.clone())
    };
    let mut found = Vec::new();
    let mut probe = sheet.centre.clone();
    for given in &stated.list {
        let parameter = given.belief.parameter;
        if (parameter.slot)(&mut probe).is_none() {
            let message = format!("'{}' is not used: the car has no such part", parameter.path);
            found.push(given.place.problem(KEY_UNUSED, message).warning());
        }
    }
    let car = &sheet.centre.car;
    if car.fuel.research_octane < LOW_OCTANE {
        let message = format!(
            "a research octane number of {} is lower than that of any pump fuel",
            car.fuel.research_octane
        );
        let problem = place("fuel.research_octane")
            .problem(OCTANE_LOW, message)
            .warning();
        found.push(problem.expected(format!(
            "{LOW_OCTANE} or more; is this the motor octane, or a compression ratio?"
        )));
    }
    let drums = &sheet.centre.drums;
    let mass_kg = drums.mass_kg();
    // A rig bolted to the hubs has no drums to weigh.
    let on_tyres = drums.machine.contact == crate::dyno::Contact::Tyres;
    if on_tyres && !(DRUM_MASS_KG.0..=DRUM_MASS_KG.1).contains(&mass_kg) {
        let message =
            format!("these drums act like {mass_kg:.0} kg at their surface (inertia / radius²)");
        let problem = place("drums.inertia")
            .problem(DRUM_MASS_ODD, message)
            .warning();
        found.push(problem.expected(format!(
            "{} to {} kg; is the radius a diameter, or the inertia in other units?",
            DRUM_MASS_KG.0, DRUM_MASS_KG.1
        )));
    }
    if car.electric.is_some() && drums.coupling == crate::dyno::Coupling::Single {
        let message = "the car has an electric axle, but the drums take only one axle";
        let problem = place("electric_axle.peak_power")
            .problem(AXLE_NOT_ON_DRUMS, message)
            .warning();
        found.push(
            problem.expected("drums.coupling = \"linked\" or \"separate\", or no electric axle"),
        );
    }
    found
}

#[cfg(test)]
mod tests;
