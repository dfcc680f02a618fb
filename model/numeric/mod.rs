//! Numerical tools that no device should write for itself: a scalar root between two ends, the lowest point of a valley, a curve through
//! knots that does not overshoot them, several equations at once, straight lines between points, a median, how far residuals in a row err alike, and quantiles of more
//! numbers than are kept. A root that is not there is an answer
//! ([`RootStop::NoSignChange`]), not a panic. Nothing here knows a unit.

mod autocorrelation;
mod golden_section;
mod greatest;
mod histogram;
mod median;
mod monotone_cubic;
mod progress;
mod quasi_newton;
mod real;
mod root;
mod side_by_side;
mod straight;

pub(crate) use autocorrelation::correlation_length;
pub(crate) use golden_section::{Bracket, lowest};
pub(crate) use greatest::greatest;
pub use histogram::Histogram;
pub(crate) use median::{MAD_TO_SD, median, upper_median};
pub(crate) use monotone_cubic::MonotoneCubic;
pub use progress::Progress;
pub(crate) use quasi_newton::Broyden;
pub use real::Real;
#[cfg(test)]
pub(crate) use real::on_each_unit;
pub(crate) use real::{LANES, Vectors, on_this_machine};
pub use root::{Root, RootSettings, RootStop, find_root, find_root_near};
pub use side_by_side::side_by_side;
pub(crate) use straight::{straight, straight_between, straight_held};
