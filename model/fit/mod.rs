//! From measured runs to a calibrated car: what is believed beforehand ([`crate::belief`]), what the runs say (whitened
//! residuals behind [`Problem`]), the most probable parameters ([`minimise`]) and how well they are known
//! ([`Posterior`]). A belief is one more residual row, so maximum a posteriori is least squares on stacked rows
//! ([`Stacked`]). Nothing here prints, reads a file or knows the time.
pub mod calibration;
mod damped_step;
mod difference;
pub mod fitted;
pub mod least_squares;
pub mod observation;
pub mod outcome;
pub mod own_jobs;
pub mod posterior;
pub mod problem;
pub mod robust;
pub mod settings;
pub mod simulated;
mod stacked;

pub use difference::Difference;
pub use least_squares::minimise;
pub use outcome::{Place, Report, Stop};
pub use posterior::{Combination, Posterior, PosteriorError};
pub use problem::{Bounds, FitError, Infeasible, Problem};
pub use robust::Loss;
pub use settings::Settings;
pub use stacked::Stacked;
