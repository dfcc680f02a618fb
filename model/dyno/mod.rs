//! The rig: drums, the pull in time, its record, and the weather corrections.
//!
//! An inertia drum knows only its own mass and how fast it gathers speed. [`drums`] says what it credits, [`crank_to_drum`] what
//! of the crank's torque arrives there, [`pull`] integrates a car against it, [`engine_dyno`] holds its engine at one speed after another, [`sequence`] strings pulls together and [`soak`]
//! says what stays warm between them, [`recording`] turns a logged pull into a curve with standard errors, [`correction`] holds
//! the standards' factors, [`inertia_check`] weighs the drums, [`recording_check`] holds a pull's numbers against each other. The rig never looks inside the car; it asks it for torque, and
//! where its heat goes.

pub mod correction;
pub mod crank_to_drum;
pub mod drums;
pub mod engine_dyno;
pub mod inertia_check;
pub mod pull;
pub mod recording;
pub mod recording_check;
#[cfg(test)]
mod recording_tests;
pub mod sequence;
pub mod soak;

pub use drums::{Brake, Contact, Coupling, Drums};
pub(crate) use pull::reading;
pub use pull::{Conditions, Pull, PullError, PullPoint};
pub use recording::{Band, Curve, Recording, RecordingError, RigTrace};
pub use recording_check::PowerFrom;
pub use sequence::{Recovery, Runs, Sequence};
pub use soak::{Bodies, Warmth};

use crate::car::Car;

/// A car on its drums.
#[derive(Debug, Clone)]
pub struct Setup {
    /// The car.
    pub car: Car,
    /// The drums it stands on.
    pub drums: Drums,
}
