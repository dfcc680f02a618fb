//! Why pulls must not be compared, though each of them is sound.

use super::gearing::Geared;
use serde::Serialize;

/// What a pull states: a charge from 0 to 1, or engine turns in a drum turn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stated {
    /// What the shop calls the pull, with its set.
    pub pull: String,
    /// What it states.
    pub value: f64,
}

/// Why pulls must not be compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "gate", rename_all = "snake_case")]
pub enum Gate {
    /// The electric axle helped in one and not in the other.
    AxleOnAndOff {
        /// A pull with the axle on.
        on: String,
        /// A pull with it off.
        off: String,
    },
    /// Start charges lie further apart than the window.
    StartCharges {
        /// Pull with the least charge.
        least: Stated,
        /// Pull with the most.
        most: Stated,
        /// Window, in charge.
        window: f64,
    },
    /// A start charge is not stated where others are.
    StartChargeUnknown {
        /// Pulls without a stated charge.
        pulls: Vec<String>,
    },
    /// Engines turn in another gear.
    AnotherGear(Geared),
}
