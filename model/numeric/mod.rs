//! Numerical tools that no device should write for itself: a scalar root between two ends, and a curve through knots
//! that does not overshoot them. A root that is not there is an answer ([`RootStop::NoSignChange`]), not a panic.
//! Nothing here knows a unit or allocates while evaluating.

mod monotone_cubic;
mod root;
mod side_by_side;

pub(crate) use monotone_cubic::MonotoneCubic;
pub use root::{Root, RootSettings, RootStop, find_root, find_root_near};
pub(crate) use side_by_side::side_by_side;
