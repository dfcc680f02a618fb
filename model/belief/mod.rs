//! What is believed: one number with its doubt ([`Prior`]), every number of a car on its drums ([`Sheet`], whose entries the
//! catalogue [`parameter`] names), how far measurements stray ([`Noise`])
//! and what the model may misjudge of a change ([`Miss`]).
//!
//! A car file is such a belief, a fitted car file another, and every question of the program is asked of one. Nothing here fits,
//! reads a file or prints.

mod learned;
pub mod miss;
pub mod noise;
pub mod parameter;
pub mod prior;
pub mod sheet;
mod typical;

pub use miss::{Mechanism, Miss};
pub use noise::{Noise, SensorError};
pub use parameter::Parameter;
pub use prior::{Prior, PriorError, Shape};
pub use sheet::{Belief, MeasuredSpeeds, Origin, Sheet};
pub use typical::typical;
