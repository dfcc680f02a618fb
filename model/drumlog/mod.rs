//! From a raw drum log to a wheel curve: what the drum did, and how well that is known.
//!
//! A drum log is time and the drum's speed (or its encoder's counts), jittered and quantised. [`counts`] turns counts into
//! a way, [`pulls`] finds the pulls in a long log, [`run_out`] takes out what repeats with every turn of the drum,
//! [`smoother`] and [`local_polynomial`] give acceleration with its error, [`curve`] makes force, power and torque over engine speed
//! of it, [`balance`] and [`roll_force`] take
//! the force that a rig logs in the place of its inertia's, [`align`] brings an engine log on another clock to the drum's, and [`coast_down`] reads drag from a drum left alone. It
//! refuses to invent: a stretch that is too short, too coarse or crosses a shift gives a reason, not a curve.

pub mod align;
pub mod bad_readings;
pub mod balance;
mod chain;
mod choice;
pub mod coast_down;
pub mod counts;
pub mod curve;
pub mod engine_speed;
pub mod local_polynomial;
pub mod pulls;
mod question;
pub mod reduction;
pub mod rig;
pub mod roll_force;
pub mod run_out;
pub mod savitzky_golay;
pub mod signal;
pub mod smoothed;
pub mod smoother;

pub use balance::Balance;
pub use curve::{Point, WheelCurve};
pub use reduction::{EngineLog, Log, Question, Reading, Reduction, reduce};
pub use rig::{Rig, RoadLoad};
pub use roll_force::{ForceError, ForceLog, Reads, RollForce, Sense, Told};
pub use run_out::{Harmonic, RunOut};
pub use signal::{Choice, Force, Measured, Method, Signal, Stray};
pub use smoothed::{SmoothError, Smoothed};
