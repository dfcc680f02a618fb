//! What planned work gains together against what each piece would gain alone.
//!
//! Work interacts: a pulley is worth more on a fuel that does not knock, an exhaust more behind a blower. So the pieces' gains do
//! not add up, and a customer who drops one should know. Each piece is put alone on the car as it is, in the order of the
//! plan. A piece that needs another of the plan (the pulley of a blower the plan adds, a charge cooler behind it, another blower in
//! place of that, the removal of what the plan fitted, a part or setting put in twice) counts with it as one. Centre values, one pull each; it refuses a range.

use super::draw::peak_w;
use super::{POINTS, Question, QuoteError};
use crate::car::{Blower, Car};
use crate::parts::{Plan, Role};
use serde::Serialize;

/// Gains in peak power at the centre of all beliefs, uncorrected, in the air of the pull after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Interactions {
    /// Of the whole plan, W.
    pub together_w: f64,
    /// Sum of the gains of the pieces alone, W; `None` where one of them cannot make the pull.
    pub one_by_one_w: Option<f64>,
    /// Of each piece alone.
    pub pieces: Vec<Together>,
}

/// Changes that only work together, or one alone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Together {
    /// Their kinds.
    pub changes: Vec<&'static str>,
    /// Their places in the plan as it was asked about, from 1: nothing to print, another order has others.
    #[serde(skip)]
    pub places: Vec<usize>,
    /// Their gain alone, W; `None` where the car cannot make the pull so.
    pub gain_w: Option<f64>,
}

impl Question<'_> {
    /// The plan's pieces apart and together; `None` for a plan of one change.
    /// Equation (8.8).
    pub fn interactions(&self) -> Result<Option<Interactions>, QuoteError> {
        let plan = self.plan.map(|_, _, prior| prior.centre());
        if plan.changes.len() < 2 {
            return Ok(None);
        }
        let centre = &self.sheet.centre;
        let pulled_w = |plan: &Plan<f64>| -> Result<f64, QuoteError> {
            let built = self.centre_built(plan)?;
            let pull = built.pull(&self.after.day, &self.ends(&built), POINTS)?;
            Ok(peak_w(&pull))
        };
        let part = |places: &[usize]| Plan {
            name: plan.name.clone(),
            changes: places.iter().map(|i| plan.changes[i - 1].clone()).collect(),
        };
        let before_w = pulled_w(&part(&[]))?;
        let pieces: Vec<Together> = groups(&plan, &centre.car)
            .into_iter()
            .map(|places| Together {
                gain_w: pulled_w(&part(&places)).ok().map(|w| w - before_w),
                changes: places
                    .iter()
                    .map(|i| plan.changes[i - 1].kind().id)
                    .collect(),
                places,
            })
            .collect();
        Ok(Some(Interactions {
            together_w: pulled_w(&plan)? - before_w,
            one_by_one_w: pieces.iter().map(|piece| piece.gain_w).sum(),
            pieces,
        }))
    }
}

/// Places of changes, from 1, that only work together, in the order of the plan; found in the order in which parts are put together.
fn groups(plan: &Plan<f64>, car: &Car) -> Vec<Vec<usize>> {
    let changes = &plan.changes;
    let mut groups: Vec<Vec<usize>> = Vec::new();
    // The group that fitted the blower, or the cooler, that is in place; none for the car's own.
    let (mut blower, mut cooler) = (None, None);
    let blown_before = !matches!(car.blower, Blower::None);

    for i in plan.order() {
        let change = &changes[i];
        // A setting made twice is made once: the later stands.
        let earlier = groups
            .iter()
            .position(|group| {
                group
                    .iter()
                    .any(|place| changes[place - 1].same_part(change))
            })
            .filter(|_| change.replaces());
        let role = change.kind().role;
        let needs = match role {
            Role::Blower(_) | Role::NoBlower | Role::OnBlower => blower,
            // Without a blower of the plan they are settings of the car's own.
            Role::SetsBlower => blower.or(earlier),
            // Without a blower a cooler has nothing to cool, so it belongs to the one the plan fits.
            Role::Cooler => cooler.or(blower.filter(|_| !blown_before)),
            Role::NoCooler => cooler,
            Role::Other => earlier,
        };
        let group = needs.unwrap_or_else(|| {
            groups.push(Vec::new());
            groups.len() - 1
        });
        groups[group].push(i + 1);
        match role {
            Role::Blower(_) => {
                blower = Some(group);
                // A cooler that was waiting for it.
                if let Some(waiting) = cooler.filter(|c| *c != group && !blown_before) {
                    let moved = std::mem::take(&mut groups[waiting]);
                    groups[group].extend(moved);
                    groups[group].sort_unstable();
                    cooler = Some(group);
                }
            }
            // What comes in its place counts with it.
            Role::NoBlower => blower = Some(group),
            Role::Cooler | Role::NoCooler => cooler = Some(group),
            Role::OnBlower | Role::SetsBlower | Role::Other => {}
        }
    }
    groups.retain(|group| !group.is_empty());
    for group in &mut groups {
        group.sort_unstable();
    }
    groups.sort_by_key(|group| group[0]);
    groups
}
