//! When the fitter stops and how it takes slopes. The defaults suit a calibration in standardised coordinates; a check
//! that wants every digit sets the tolerances to rounding.

use super::difference::Difference;

/// When to stop, and how slopes are taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Stop when a step lowers the cost, and was expected to lower it, by less than this share.
    pub cost_tolerance: f64,
    /// The same fall must also be below this, in units of the cost, and so must what an undamped step promises at any stop but that of the
    /// gradient; infinity where the cost has no unit of its own.
    pub cost_fall: f64,
    /// Stop when a step is shorter than this share of the parameters, measured in the columns' scale.
    pub step_tolerance: f64,
    /// Stop when no column of the Jacobian makes an angle with the residual whose cosine exceeds this.
    pub gradient_tolerance: f64,
    /// Points at which the Jacobian may be taken.
    pub max_iterations: u32,
    /// Damping at the start, relative to the columns' scale squared.
    pub first_damping: f64,
    /// Whether a step whose bend is refused is tried straight: where a model has corners, a second difference is no bend, and a search that only shortens its
    /// steps stands before them.
    pub corners: bool,
    /// Steps in succession that lower the cost by less than `cost_fall`, though the slopes promise more, after which the search gives up: it stands before a
    /// corner of the model, or in its noise.
    pub most_idle: u32,
    /// Difference scheme for problems without their own Jacobian.
    pub difference: Difference,
    /// Relative noise of the residuals as computed (rounding, or the tolerance of an inner solver).
    pub relative_noise: f64,
}

impl Default for Settings {
    /// Enough for a calibration: parameters far finer than their doubt.
    fn default() -> Self {
        Self {
            cost_tolerance: 1e-9,
            cost_fall: f64::INFINITY,
            step_tolerance: 1e-8,
            gradient_tolerance: 1e-9,
            max_iterations: 100,
            first_damping: 1e-3,
            corners: false,
            most_idle: u32::MAX,
            difference: Difference::Central,
            relative_noise: f64::EPSILON,
        }
    }
}
