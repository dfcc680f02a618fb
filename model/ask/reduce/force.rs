//! The force logged at the drums in an answer: what it is, and whether the stated inertia agrees with it.

use crate::drumlog::rig::LARGEST_DRAG_N;
use crate::drumlog::{Reads, Rig, RollForce, Told};
use serde::Serialize;

/// The logged force.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Force {
    /// What it is.
    #[serde(rename = "force")]
    pub reads: Reads,
    /// Whether it is logged negative while the car drives.
    pub reversed: bool,
    /// By what that is known.
    pub told_by: Told,
    /// Time by which it comes after the speed; taken out.
    pub lag_s: f64,
    /// Its standard error.
    pub lag_se_s: f64,
    /// What it says of the drums; none where it does not go with acceleration and speed.
    pub feels: Option<Feels>,
}

/// What a force says of the drums under it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Feels {
    /// Mass at the surface that the force goes with.
    pub mass_kg: f64,
    /// Its standard error.
    pub mass_se_kg: f64,
    /// The mass that it should go with by what is stated.
    pub stated_kg: f64,
    /// Its standard deviation, the cell's scale included.
    pub stated_sd_kg: f64,
    /// Whether the two agree within what is known of them; none where no mass is to be felt.
    pub agrees: Option<bool>,
    /// The stated inertia that would agree.
    pub inertia_that_would_agree_kg_m2: Option<f64>,
    /// Its standard error.
    pub inertia_se_kg_m2: Option<f64>,
    /// What the force holds beside that mass, at speeds of the log: (m/s, N, standard error).
    pub load: Vec<(f64, f64, f64)>,
    /// Whether no drum has such a drag: it is negative, or large.
    pub load_is_simulated: bool,
    /// What mass and load leave over, N, standard deviation over [`crate::drumlog::balance::WINDOW_S`].
    pub residual_n: f64,
}

/// Speeds at which the load is told, shares of the way from the slowest to the fastest.
const LEVELS: [f64; 3] = [0.1, 0.5, 0.9];

impl Force {
    pub(super) fn of(used: &RollForce, rig: &Rig) -> Self {
        let feels = used.balance.as_ref().map(|balance| {
            let (low, high) = balance.speed_m_s;
            let load: Vec<(f64, f64, f64)> = LEVELS
                .iter()
                .map(|share| {
                    let v = low + share * (high - low);
                    (v, balance.drag.at_n(v), balance.drag_se_n(v))
                })
                .collect();
            let (stated_kg, doubt) = used.expected_kg;
            let square = rig.drums.radius_m.powi(2);
            // Of the stated inertia all but what turns behind a gear.
            let geared = rig.drums.inertia_at_drum_kg_m2() - rig.drums.inertia_kg_m2;
            let inertia = match (used.sense.reads, rig.road_load) {
                (Reads::All, None) => Some(balance.mass_kg * square - geared),
                (Reads::BrakeAlone, Some(load)) => {
                    Some((load.mass_kg - balance.mass_kg) * square - geared)
                }
                (Reads::All, Some(_)) | (Reads::BrakeAlone, None) => None,
            };
            Feels {
                mass_kg: balance.mass_kg,
                mass_se_kg: balance.mass_se_kg,
                stated_kg,
                stated_sd_kg: stated_kg * doubt.hypot(used.doubt),
                agrees: used.agrees(),
                inertia_that_would_agree_kg_m2: inertia,
                inertia_se_kg_m2: inertia.map(|_| balance.mass_se_kg * square),
                load_is_simulated: load
                    .iter()
                    .any(|(_, n, se)| *n < -3.0 * se.max(10.0) || *n - 3.0 * se > LARGEST_DRAG_N),
                load,
                residual_n: balance.residual_n,
            }
        });
        Self {
            reads: used.sense.reads,
            reversed: used.sense.reversed,
            told_by: used.told,
            lag_s: used.lag_s(),
            lag_se_s: used.lag_se_s(),
            feels,
        }
    }
}
