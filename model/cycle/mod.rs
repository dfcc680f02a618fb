//! The crank-angle layer: one cylinder through a whole four-stroke cycle, valves and all, until it repeats itself.
//!
//! Exists for parts that the mean-value layer cannot judge from its own numbers: a cam, a head, a compression ratio, a header.
//! It is run for the engine as it stands and for the engine as planned, and only the [`Ratios`] between the two are used;
//! it refuses to be trusted for the level of anything. Angles are radians of crank, 0 at firing top dead centre, 2π at the top dead
//! centre of gas exchange. All cylinders are alike; manifolds are large; waves in pipes are left out.
//!
//! The layer stands on `engine`, `air` and `fuel` and knows no car: `car::crank_angle` makes its inputs.
//!
//! Source: each file names the origin of its own equations.

pub mod closed;
pub mod equilibrium;
pub mod gas;
mod input;
pub mod open;
mod point;
mod ratios;
mod spark;
mod species;
mod step;
pub mod valve;

pub use input::{CycleInput, CycleInputError, Spark, USUAL_BURNING_SHARE};
pub use point::{CyclePoint, CylinderCycle};
pub use ratios::{Ratios, over_speed, ratios_over_speed};
pub use spark::LATEST_DEG;
