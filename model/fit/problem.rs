//! The question put to the fitter: residuals as a function of parameters, and the box the parameters live in. It is
//! apart from the fitter so that a model, its beliefs and its slopes can be written without knowing how they are used.

use std::fmt;

use nalgebra::DMatrix;

use super::robust::Loss;

/// The model cannot be evaluated at this point; the fitter takes a shorter step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Infeasible;

/// What is fitted: residuals already divided by their standard deviations, as a function of the parameters.
pub trait Problem {
    /// Count of parameters.
    fn parameters(&self) -> usize;

    /// Count of residuals.
    fn rows(&self) -> usize;

    /// Fills `out` with the whitened residuals at `x`; a value that is not finite counts as [`Infeasible`].
    fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible>;

    /// Fills `out` (rows × parameters) with ∂residual/∂x and returns true, if the problem has its own slopes.
    fn jacobian(&self, _x: &[f64], _out: &mut DMatrix<f64>) -> bool {
        false
    }

    /// How much the residual in this row may pull.
    fn loss(&self, _row: usize) -> Loss {
        Loss::LeastSquares
    }

    /// Size below which a change of this parameter is small: sets the difference step near zero. One suits
    /// standardised coordinates.
    fn typical_size(&self, _parameter: usize) -> f64 {
        1.0
    }
}

/// Lower and upper bound of each parameter.
#[derive(Clone, Debug, PartialEq)]
pub struct Bounds {
    pub(super) lower: Vec<f64>,
    pub(super) upper: Vec<f64>,
}

impl Bounds {
    /// No bounds on `parameters` parameters.
    pub fn none(parameters: usize) -> Self {
        Self {
            lower: vec![f64::NEG_INFINITY; parameters],
            upper: vec![f64::INFINITY; parameters],
        }
    }

    /// Bounds with `lower ≤ upper` everywhere.
    pub fn new(lower: Vec<f64>, upper: Vec<f64>) -> Result<Self, FitError> {
        if lower.len() != upper.len() {
            return Err(FitError::LengthMismatch {
                expected: lower.len(),
                found: upper.len(),
            });
        }
        // Not `lower > upper`: a bound that is not a number must be caught too.
        match lower
            .iter()
            .zip(&upper)
            .position(|(l, u)| !matches!(l.partial_cmp(u), Some(o) if o.is_le()))
        {
            Some(index) => Err(FitError::BoundsCrossed {
                index,
                lower: lower[index],
                upper: upper[index],
            }),
            None => Ok(Self { lower, upper }),
        }
    }

    /// Lower bounds.
    pub fn lower(&self) -> &[f64] {
        &self.lower
    }

    /// Upper bounds.
    pub fn upper(&self) -> &[f64] {
        &self.upper
    }

    pub(super) fn contains(&self, index: usize, x: f64) -> bool {
        x >= self.lower[index] && x <= self.upper[index]
    }
}

/// Why a fit could not start.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum FitError {
    /// Start, bounds and problem disagree about the count of parameters.
    LengthMismatch {
        /// Count needed.
        expected: usize,
        /// Count given.
        found: usize,
    },
    /// A lower bound above its upper bound, or not a number.
    BoundsCrossed {
        /// Parameter.
        index: usize,
        /// Lower bound given.
        lower: f64,
        /// Upper bound given.
        upper: f64,
    },
    /// The start lies outside the bounds, or is not finite.
    StartOutsideBounds {
        /// Parameter.
        index: usize,
        /// Start given.
        start: f64,
    },
    /// The model cannot be evaluated at the start.
    StartInfeasible,
}

impl fmt::Display for FitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::LengthMismatch { expected, found } => {
                write!(f, "the fit has {expected} parameters, {found} were given")
            }
            Self::BoundsCrossed {
                index,
                lower,
                upper,
            } => {
                write!(
                    f,
                    "bounds of parameter {} are crossed: {lower} to {upper}",
                    index + 1
                )
            }
            Self::StartOutsideBounds { index, start } => {
                write!(
                    f,
                    "parameter {} starts at {start}, outside its bounds",
                    index + 1
                )
            }
            Self::StartInfeasible => {
                write!(f, "the model cannot be evaluated at the start of the fit")
            }
        }
    }
}

impl std::error::Error for FitError {}
