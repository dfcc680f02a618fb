//! The answer of a fit: where it ended, why it stopped there, and everything needed to judge it (residuals, weights,
//! slopes). It refuses to be a bare vector: a parameter held by a bound, and a stop that is no optimum, are part of it.

use nalgebra::DMatrix;
use serde::Serialize;

/// Why the fitter stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stop {
    /// The residual is at right angles to every parameter that may still move.
    GradientSmall,
    /// The last step changed the parameters by less than the tolerance.
    StepSmall,
    /// The last step changed the cost by less than the tolerance.
    CostSmall,
    /// The cost can no longer be told apart from its rounding, and steps no longer shrink.
    Rounding,
    /// Every parameter is held by a bound that the data push against, or there is none to move.
    AllOnBounds,
    /// No step lowers the cost, however short, or the last ones lowered it by less than counts: slopes and model disagree (a kink, or noise above
    /// `relative_noise`).
    NoProgress,
    /// The model refused every neighbour of the point, so there are no slopes.
    NoSlopes,
    /// The iterations ran out.
    IterationLimit,
}

impl Stop {
    /// All reasons.
    pub const ALL: [Self; 8] = [
        Self::GradientSmall,
        Self::StepSmall,
        Self::CostSmall,
        Self::Rounding,
        Self::AllOnBounds,
        Self::NoProgress,
        Self::NoSlopes,
        Self::IterationLimit,
    ];

    /// True when the point is an optimum as far as the settings ask.
    pub const fn converged(self) -> bool {
        !matches!(
            self,
            Self::NoProgress | Self::NoSlopes | Self::IterationLimit
        )
    }
}

/// Where a parameter ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Inside its bounds, or on one without being pushed against it.
    Free,
    /// On the lower bound; the data would have it lower.
    OnLower,
    /// On the upper bound; the data would have it higher.
    OnUpper,
}

/// The whole answer of a fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// Best parameters.
    pub x: Vec<f64>,
    /// Whitened residuals there.
    pub residuals: Vec<f64>,
    /// Weight of each row from its loss: 1 is fully believed.
    pub weights: Vec<f64>,
    /// ∂residual/∂x there, unweighted.
    pub jacobian: DMatrix<f64>,
    /// Σρ(residual): half the sum of squares under plain least squares.
    pub cost: f64,
    /// Points at which the Jacobian was taken.
    pub iterations: u32,
    /// Calls of the model, those for differences included.
    pub evaluations: u32,
    /// Why it stopped.
    pub stop: Stop,
    /// Which parameters are held by a bound.
    pub places: Vec<Place>,
}
