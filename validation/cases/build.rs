//! A recorded build: the car before the work, what was planned, and what came of it.

use super::car::sheet;
use super::plan::plan;
use super::read::{json, number, start, visit};
use pullcast::air::Day;
use pullcast::belief::Prior;
use pullcast::belief::sheet::Sheet;
use pullcast::dyno::pull::AxleStart;
use pullcast::fit::observation::Visit;
use pullcast::parts::Plan;
use std::path::Path;

/// A case with its answer.
pub(crate) struct Case {
    pub(crate) sheet: Sheet,
    pub(crate) plan: Plan<Prior>,
    pub(crate) baseline: Visit,
    pub(crate) day_after: Day,
    pub(crate) axle_after: AxleStart,
    pub(crate) true_before_w: f64,
    pub(crate) true_after_w: f64,
}

/// Reads the case in a folder.
pub(crate) fn read(dir: &Path) -> Case {
    let name = dir
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let car = json(&dir.join("car.json"));
    let mods = json(&dir.join("mods.json"));
    let answer = json(&dir.join("answer.json"));
    let peak = &answer["noise_free_peak_drum_kw"];
    let sheet = sheet(&name, &car, &mods);
    let (day_after, axle_after) = start(&json(&dir.join("after/run1.json")));
    Case {
        plan: plan(&car, &mods, &sheet.centre.car),
        sheet,
        baseline: visit(dir, "baseline"),
        day_after,
        axle_after,
        true_before_w: 1e3 * number(peak, "before"),
        true_after_w: 1e3 * number(peak, "after"),
    }
}
