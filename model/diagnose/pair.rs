//! Two causes at once: one at the rig with one in the car, or any with a spark that is held back.
//!
//! Exists because a pull that nobody understands often has two faults, and because the harmless one may hide the dangerous one. Of the many
//! pairs only those are searched whose changes, added to each other, come near the log; their evidence is then found as that of a single
//! cause. It refuses three, and two faults of the car other than spark: they would explain anything.

use super::cause::{Cause, Origin};
use super::disturb::Fault;
use super::judge::Judge;
use super::rival::{AtSizes, Rival, Search};
use super::shape::Shape;
use super::suspect::Explained;
use nalgebra::DVector;

/// A cause that has been looked at alone: the changes it makes at sizes over its range.
pub(super) struct Looked {
    pub(super) fault: Fault,
    /// Standardised sizes, the logarithm of what was believed of them, and what is then seen, whitened.
    changes: Vec<(Vec<f64>, f64, DVector<f64>)>,
}

impl Looked {
    /// Of the places at which a cause was looked at.
    pub(super) fn of(rival: &Rival<'_>, grid: &[AtSizes], judge: &Judge) -> Self {
        let changes = grid
            .iter()
            .filter_map(|at| {
                let belief = -0.5 * at.z.iter().map(|z| z * z).sum::<f64>();
                Some((
                    at.z.clone(),
                    belief,
                    judge.whitened_change(rival.scene, &at.shown)?,
                ))
            })
            .collect();
        Self {
            fault: rival.first(),
            changes,
        }
    }
}

/// Whether two causes are weighed together.
fn goes_with(a: Fault, b: Fault) -> bool {
    let place = |f: Fault| f.cause.place();
    let apart = a.cause != b.cause;
    let rig_and_car = place(a) == Origin::Rig && place(b) == Origin::Car;
    // The clutch's trace and a lift's stand on what the engine gives; a pair with them is one with what is left.
    let spark = b.cause == Cause::KnockRetard && place(a) == Origin::Car;
    apart && (rig_and_car || spark)
}

/// Most pairs searched.
const MOST: usize = 6;
/// Last step of their climb in standardised sizes.
const LAST_STEP: f64 = 0.1;
/// How much of the log two causes must explain beyond the better of them, as a fall of half the squared residual, to be searched.
const GAINS: f64 = 4.0;

/// The pairs whose changes added to each other come nearest to the log, with the sizes.
pub(super) fn nearest(looked: &[&Looked], seen: &DVector<f64>) -> Vec<([Fault; 2], Vec<f64>)> {
    let left = |off: &DVector<f64>, belief: f64| belief - 0.5 * off.norm_squared();
    let alone: Vec<f64> = looked
        .iter()
        .map(|one| {
            let each = one.changes.iter();
            each.map(|(_, belief, change)| left(&(seen - change), *belief))
                .fold(f64::NEG_INFINITY, f64::max)
        })
        .collect();
    let mut found: Vec<(f64, [Fault; 2], Vec<f64>)> = Vec::new();
    for (i, a) in looked.iter().enumerate() {
        for (j, b) in looked.iter().enumerate() {
            if !goes_with(a.fault, b.fault) {
                continue;
            }
            let mut best = (f64::NEG_INFINITY, Vec::new());
            for (z, belief, change) in &a.changes {
                let rest = seen - change;
                for (y, other, more) in &b.changes {
                    let value = left(&(&rest - more), belief + other);
                    if value > best.0 {
                        best = (value, z.iter().chain(y).copied().collect());
                    }
                }
            }
            if best.0 > alone[i].max(alone[j]) + GAINS {
                found.push((best.0, [a.fault, b.fault], best.1));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    // One form of two causes is enough.
    let mut kept: Vec<([Fault; 2], Vec<f64>)> = Vec::new();
    for (_, faults, z) in found {
        let known = |k: &([Fault; 2], Vec<f64>)| {
            k.0[0].cause == faults[0].cause && k.0[1].cause == faults[1].cause
        };
        if !kept.iter().any(known) && kept.len() < MOST {
            kept.push((faults, z));
        }
    }
    kept
}

impl Rival<'_> {
    /// As [`Rival::explain`], of two causes from sizes that come near: one climb, and one step of Gauss–Newton for the shape.
    pub(super) fn explain_from(&self, z: &[f64]) -> Option<Explained> {
        let sizes = self.sizes();
        let search = Search::of(self, &sizes);
        let mut best = search.at(z, None)?;
        let mut shape = None;
        for _ in 0..2 {
            let factors = self.factors(&best)?;
            best = search.at(&best.z, Some(&factors))?;
            search.climb(&mut best, &factors, LAST_STEP);
            if let Some((next, curvature)) = search.step(&best, &factors) {
                shape = Some(Shape::of(curvature));
                if next.log_p > best.log_p {
                    best = next;
                }
            }
        }
        let best = search.at(&best.z, None)?;
        self.told(&sizes, best, shape?, search.trials())
    }
}
