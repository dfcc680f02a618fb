//! What stands behind an engine that is looked at by its crank alone: a car needs gears, tyres and drums, and none of them is read.

use pullcast::belief::Prior;
use pullcast::belief::parameter;
use pullcast::belief::sheet::{Belief, Origin, Sheet, SheetError};
use pullcast::car::Car;
use pullcast::driveline::gears::{Drive, Gearbox};
use pullcast::dyno::drums::Machine;
use pullcast::dyno::{Coupling, Drums, Setup};

pub(crate) const DRIVE: Drive = Drive::Transaxle;
pub(crate) const GEARBOX: Gearbox = Gearbox::Manual;
pub(crate) const GEAR: f64 = 1.0;
pub(crate) const FINAL_DRIVE: f64 = 3.8;
pub(crate) const TYRE_RADIUS_M: f64 = 0.3;
const DRUM_INERTIA_KG_M2: f64 = 200.0;
const DRUM_RADIUS_M: f64 = 0.5;

/// A car of which something is given, on drums.
pub(crate) fn sheet(
    car: Car,
    given: impl IntoIterator<Item = (&'static str, Prior)>,
) -> Result<Sheet, SheetError> {
    let behind = [
        ("driveline.gear", GEAR),
        ("driveline.final_drive", FINAL_DRIVE),
        ("wheels.tyre_radius", TYRE_RADIUS_M),
        ("drums.inertia", DRUM_INERTIA_KG_M2),
        ("drums.radius", DRUM_RADIUS_M),
    ]
    .map(|(path, value)| (path, Prior::fixed(value).expect("a finite number")));
    let given: Vec<Belief> = given
        .into_iter()
        .chain(behind)
        .map(|(path, prior)| Belief {
            parameter: parameter::find(path).unwrap_or_else(|| panic!("no number {path}")),
            prior,
            origin: Origin::Given,
        })
        .collect();
    let drums = Drums {
        inertia_kg_m2: DRUM_INERTIA_KG_M2,
        radius_m: DRUM_RADIUS_M,
        drag_n: 0.0,
        drag_n_s_m: 0.0,
        drag_n_s2_m2: 0.0,
        drag_added_back: false,
        coupling: Coupling::Single,
        machine: Machine::default(),
    };
    Sheet::new(Setup { car, drums }, &given)
}
