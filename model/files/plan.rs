//! A plan file: the planned work, change by change, in the order it is made.
//!
//! ```text
//! kind = "plan"
//! version = 1
//! name = "screw blower with water cooling"
//! [[change]]
//! kind = "displacement blower"
//! rotors = "screw"
//! displacement = "1.7 L/rev"
//! drive_ratio = 2.1
//! ```
//!
//! A plan of no change is one too: the car as it stands. What a change may say stands with its kind in [`crate::parts`], a number's range, its doubt where none is written and its default
//! among it. The file does not know the car; [`PlanFile::check`] says whether the work can be done on one.

use std::path::Path;

use super::belief::Place;
use super::car::AXLE_NOT_ON_DRUMS;
use super::diagnostic::{Code, Problem, Problems};
use super::form::TableForm;
use super::shelf::{FromShelf, NOT_ON_THE_SHELF};
use super::table::{Table, TomlFile};
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::dyno::{Coupling, Setup};
use crate::parts::{self, Change, Plan};

/// A change that cannot be made to this car.
pub const PLAN_UNFIT: Code = Code::new("plan_unfit");
/// A later change of the plan sets the same thing again.
pub const CHANGE_REPLACED: Code = Code::new("change_replaced");

/// A plan read, with the place of every change.
#[derive(Debug, Clone)]
pub struct PlanFile {
    /// The plan, its numbers as beliefs.
    pub plan: Plan<Prior>,
    places: Vec<Place>,
    /// What it took from the shop's shelf; none where it names nothing of it.
    pub from_shelf: Option<FromShelf>,
}

/// Reads a plan file from disk; warnings come beside the plan.
pub fn open(path: &Path) -> Result<(PlanFile, Problems), Problems> {
    let file = TomlFile::open(path)?;
    read(&file, path.parent().unwrap_or(Path::new("")))
}

/// Reads a plan file whose text is here; `folder` is where a blower map it names is looked for.
pub fn read(file: &TomlFile, folder: &Path) -> Result<(PlanFile, Problems), Problems> {
    file.read(|root| plan(root, folder))
}

/// Reads the changes of a plan file.
pub(super) fn plan(root: &mut Table<'_>, folder: &Path) -> Option<PlanFile> {
    super::car::head(root, "plan")?;
    let name = root.text("name");
    let changes = root.tables("change", |table| {
        let place = Place::of(table, "kind");
        change(table, folder).map(|change| (change, place))
    });
    let (changes, places): (Vec<_>, Vec<_>) = changes?.into_iter().unzip();
    for problem in replaced(&changes, &places) {
        root.push(problem);
    }
    Some(PlanFile {
        plan: Plan {
            name: name?,
            changes,
        },
        places,
        from_shelf: None,
    })
}

/// A warning for every change of which a later one leaves nothing.
fn replaced(changes: &[Change<Prior>], places: &[Place]) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, (change, place)) in changes.iter().zip(places).enumerate() {
        let later = changes
            .iter()
            .skip(index + 1)
            .position(|later| later.same_part(change) && later.replaces());
        if let Some(further) = later {
            let message = format!(
                "change {} sets again what this one sets: this one counts for nothing",
                index + further + 2
            );
            let expected = "one change for each part or setting";
            problems.push(
                place
                    .problem(CHANGE_REPLACED, message)
                    .expected(expected)
                    .warning(),
            );
        }
    }
    problems
}

impl PlanFile {
    /// What to mind of the work on a rig: an electric axle that the plan adds stands still on drums of one axle.
    pub fn remarks(&self, setup: &Setup) -> Problems {
        let mut problems = Problems::new();
        if setup.drums.coupling == Coupling::Single {
            let adds = |change: &Change<Prior>| matches!(change, Change::AddedAxle(_));
            let added = self.plan.changes.iter().position(adds);
            if let Some(place) = added.and_then(|index| self.places.get(index)) {
                let message = "the plan adds an electric axle, but the drums carry one axle only: it stands still and is not read";
                let problem = place.problem(AXLE_NOT_ON_DRUMS, message).warning();
                problems.push(
                    problem.expected("drums.coupling = \"linked\" or \"separate\" in the car file"),
                );
            }
        }
        problems
    }

    /// Whether every change can be made to a car, in the order of [`Plan::order`]; each one that cannot is a problem at its line.
    pub fn check(&self, car: &Car) -> Result<(), Problems> {
        let centre = self.plan.map(|_, _, prior| prior.centre());
        let mut problems = Problems::new();
        let mut built = car.clone();
        for index in centre.order() {
            let place = &self.places[index];
            let step = Plan {
                name: String::new(),
                changes: vec![centre.changes[index].clone()],
            };
            match step.apply(&built) {
                Ok(next) => built = next,
                Err(error) => {
                    let expected = error.expected();
                    problems.push(
                        place
                            .problem(PLAN_UNFIT, error.to_string())
                            .expected(expected),
                    );
                }
            }
        }
        if problems.is_empty() {
            Ok(())
        } else {
            Err(problems)
        }
    }
}

/// Reads one change.
pub(super) fn change(table: &mut Table<'_>, folder: &Path) -> Option<Change<Prior>> {
    table.optional_integer("part_version", 1..=100_000);
    if table.optional_text("part").is_some() {
        // Where there is a shelf, its part stands here in place of its name.
        let message = "a part of the shelf is named where none is put in";
        table.error("part", NOT_ON_THE_SHELF, message, "the part's own keys");
    }
    let words: Vec<(&str, usize)> = parts::kinds().map(|kind| kind.word).zip(0..).collect();
    let Some(kind) = table.choice("kind", &words) else {
        // A change of unknown kind has no keys to hold it to: every key of any kind passes, only the kind is reported.
        table.has("note");
        for row in parts::kinds().flat_map(|kind| kind.rows) {
            table.has(row.key);
        }
        return None;
    };
    table.optional_text("note");
    Change::read(kind, &mut TableForm { table, folder })
}
