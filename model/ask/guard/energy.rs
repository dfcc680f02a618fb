//! Three energies of a pull held against each other: that of the recorded power, of the force logged beside it, and of the drum.
//!
//! Two that agree leave the third as the mistaken one. It refuses to name a unit, a correction or an inertia that the other two bear out.

use super::{
    Candidate, Contradiction, Finding, LEAST, Mistake, Question, STOPS, SURE, Severity,
    units_that_make,
};
use crate::dyno::PowerFrom;
use crate::dyno::recording_check::{Energy, Held};

/// A force that gives less than this share of the energy misses what the drums' inertia takes: no cell is so far off (no source).
const BRAKE_ALONE: f64 = 0.75;
/// Share of the stated drag that a rig's own may be: its default doubt, twice.
const DRAG: f64 = 2.0;

impl Question<'_> {
    /// Equation (6.29).
    pub(super) fn energy(&self, held: Held, energy: &Energy) -> Option<Finding> {
        let kind = Contradiction::EnergyOfTheDrum;
        let ln = held.ratio.ln();
        let near = LEAST[0].max(SURE * held.sd);
        let drums = &self.sheet.centre.drums;
        // Of three energies two that agree leave the third: what the force bears out is not the mistake.
        let force = energy.over_force();
        let borne_out = force.is_some_and(|force| !differs(force));
        let of_the_drum = force.is_some_and(|force| {
            !differs(Held {
                ratio: held.ratio / force.ratio,
                sd: held.sd.hypot(force.sd),
            })
        });
        let mut candidates = if borne_out {
            Vec::new()
        } else {
            units_that_make(energy.power_from, ln, near)
        };
        let unit = !candidates.is_empty();
        let mut drag = false;
        if !unit {
            let from_force = energy.power_from == PowerFrom::Force;
            if !borne_out && !from_force {
                candidates.extend(self.corrections_that_make(ln, near));
            }
            if from_force && held.ratio < BRAKE_ALONE {
                candidates.push(Candidate {
                    mistake: Mistake::BrakeForceAlone,
                    value_that_would_agree: held.ratio,
                });
            }
            if let Some(share) = energy.drag_j(drums).map(|j| j / energy.work_j) {
                drag =
                    (0.0..DRAG * share + near).contains(&(ln * drums_sign(drums.drag_added_back)));
                if drag {
                    candidates.push(Candidate {
                        mistake: Mistake::DragAddedBack,
                        value_that_would_agree: f64::from(u8::from(!drums.drag_added_back)),
                    });
                }
            }
            if !of_the_drum || candidates.is_empty() {
                candidates.push(self.inertia(held.ratio));
            }
            if from_force {
                candidates.push(Candidate {
                    mistake: Mistake::ForceCell,
                    value_that_would_agree: held.ratio,
                });
            }
        }
        self.finding(kind, held, candidates, !drag)
    }

    /// The recorded power held against a force logged beside it, where the drum does not tell the same already.
    /// Equation (6.37).
    pub(super) fn beside_the_force(&self, drum: Option<Held>, energy: &Energy) -> Option<Finding> {
        let held = energy.over_force()?;
        let ln = held.ratio.ln();
        let (near, off) = (SURE * held.sd, ln.abs());
        let drum_is_off = |drum: Held| drum.ratio.ln().abs() > LEAST[0].max(SURE * drum.sd);
        // A power that the drum bears out stands; a force that misses half of it is then a brake's.
        let brake = held.ratio.recip() < BRAKE_ALONE;
        if !differs(held) || drum.is_some_and(drum_is_off) || (drum.is_some() && brake) {
            return None;
        }
        let mut candidates = Vec::new();
        if drum.is_none() {
            candidates.extend(units_that_make(energy.power_from, ln, near));
            candidates.extend(self.corrections_that_make(ln, near));
        }
        let unit = !candidates.is_empty();
        // The same mistakes of the force make the inverse ratio.
        candidates.extend(units_that_make(PowerFrom::Force, -ln, near));
        if candidates.is_empty() {
            let mistake = if brake {
                Mistake::BrakeForceAlone
            } else {
                Mistake::ForceCell
            };
            candidates.push(Candidate {
                mistake,
                value_that_would_agree: held.ratio.recip(),
            });
        }
        let stops = unit && off > STOPS[0] && !self.trusted;
        Some(Finding {
            finding: Contradiction::PowerOfTheForce,
            ratio: held.ratio,
            within: near.exp_m1(),
            candidates,
            severity: if stops {
                Severity::Stops
            } else {
                Severity::Warns
            },
        })
    }
}

/// Whether a ratio to a force's energy is off by more than is known of the cell.
fn differs(held: Held) -> bool {
    held.ratio.ln().abs() > SURE * held.sd
}

/// Drag that is added back and not described makes the recorded energy more, the other way about less.
fn drums_sign(added_back: bool) -> f64 {
    if added_back { -1.0 } else { 1.0 }
}
