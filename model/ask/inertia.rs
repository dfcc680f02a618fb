//! `inertia`: the drums' moment of inertia as checked, beside the one stated.
//!
//! What a shop wants to know is what its readings are worth: a stated inertia that is too high by a per cent makes every reading too high by
//! one. It refuses to correct readings already made.

use crate::dyno::inertia_check::{Check, InertiaError, Known};
use serde::Serialize;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question<'a> {
    /// What was done.
    pub check: Check<'a>,
    /// The inertia the rig is set to, where stated.
    pub stated: Option<Known>,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refusal {
    /// The numbers cannot be those of such a check.
    Impossible(InertiaError),
    /// They can, but tell no inertia.
    Undecided(InertiaError),
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct Answer {
    /// What was done.
    pub method: Method,
    /// Moment of inertia at the drum.
    pub inertia_kg_m2: f64,
    /// Lower end of what holds nine times in ten.
    pub low_kg_m2: f64,
    /// Upper end.
    pub high_kg_m2: f64,
    /// Drag of the bearings while masses fell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drag_nm: Option<f64>,
    /// One standard deviation of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drag_sd_nm: Option<f64>,
    /// Relative standard deviation of a single time.
    pub timing: f64,
    /// Whether repeats are in that.
    pub repeated: bool,
    /// What to mind while doing it.
    pub cautions: [Caution; 1],
    /// The inertia stated, beside it; none where none was.
    pub stated: Option<Stated>,
}

/// A way of checking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Times between the same two speeds, bare and with a known inertia on.
    CoastDownPair,
    /// Times of two masses on a rope, falling from rest through the same height.
    FallingMasses,
}

/// What to mind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// A mass bolted to the drum turns with it.
    BoltedMass,
    /// A mass hangs, falls and lands.
    HangingMass,
}

/// A stated inertia against the one found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stated {
    /// As stated.
    pub inertia_kg_m2: f64,
    /// By how much readings made with it are too high, relative; below zero, too low.
    pub reads_high: f64,
    /// Lower end of that, nine times in ten, the doubt of the statement included.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether that leaves out zero.
    pub contradicted: bool,
}

impl Question<'_> {
    /// Works the check out.
    pub fn answer(&self) -> Result<Answer, Refusal> {
        let checked = self.check.inertia().map_err(refusal)?;
        let found = checked.inertia_kg_m2;
        let half = checked.half_width_kg_m2(0.0);
        let (method, caution) = match self.check {
            Check::CoastDownPair { .. } => (Method::CoastDownPair, Caution::BoltedMass),
            Check::FallingMasses { .. } => (Method::FallingMasses, Caution::HangingMass),
        };
        Ok(Answer {
            method,
            inertia_kg_m2: found,
            low_kg_m2: found - half,
            high_kg_m2: found + half,
            drag_nm: checked.drag_nm,
            drag_sd_nm: checked.drag_sd_nm,
            timing: checked.timing,
            repeated: checked.repeated,
            cautions: [caution],
            stated: self.stated.map(|known| {
                let share = known.value / found - 1.0;
                let wide = checked.half_width_kg_m2(known.sd) / found;
                Stated {
                    inertia_kg_m2: known.value,
                    reads_high: share,
                    low: share - wide,
                    high: share + wide,
                    contradicted: share.abs() > wide,
                }
            }),
        })
    }
}

fn refusal(error: InertiaError) -> Refusal {
    match error {
        InertiaError::Unresolved { .. }
        | InertiaError::BearingsDrive { .. }
        | InertiaError::Outlier { .. }
        | InertiaError::Apart { .. } => Refusal::Undecided(error),
        _ => Refusal::Impossible(error),
    }
}

impl Answer {
    /// Whether the stated inertia is contradicted.
    pub fn contradicted(&self) -> bool {
        self.stated.is_some_and(|stated| stated.contradicted)
    }
}
