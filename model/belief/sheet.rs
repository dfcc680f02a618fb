//! A car on its drums with every number's doubt: what a car file says, before or after a fit.
//!
//! A [`Sheet`] is the one thing all questions are asked of. `predict` takes its centre, `fit` takes its doubts as the prior
//! and returns another sheet, the Monte Carlo draws from it. Numbers in doubt are addressed by standardised coordinates
//! `z`, one per free number: independent N(0, 1) before a fit, correlated after it.

use super::parameter::{self, Parameter};
use super::prior::Prior;
use crate::dyno::Setup;
use nalgebra::{DMatrix, DVector};
use rand::Rng;
use rand::RngExt;

/// Where a number of the sheet came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Written in the car file.
    Given,
    /// The catalogue's default.
    Default,
    /// Left by a fit.
    Fitted,
}

/// One number of the setup, with its doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Belief {
    /// Which number.
    pub parameter: &'static Parameter,
    /// Its value and doubt, SI.
    pub prior: Prior,
    /// Where it came from.
    pub origin: Origin,
}

/// A setup with its beliefs.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// The setup at the centre of every belief.
    pub centre: Setup,
    /// One belief per number the setup has, in catalogue order.
    pub beliefs: Vec<Belief>,
    /// Correlation of the free numbers, in the order of [`Sheet::free`]; `None` when they are independent.
    pub correlation: Option<Correlation>,
    /// Engine speeds over which a fit saw the car; `None` where none did.
    pub measured: Option<MeasuredSpeeds>,
}

/// Engine speeds over which a car was measured, rpm.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct MeasuredSpeeds {
    /// Lowest.
    pub from_rpm: f64,
    /// Highest.
    pub to_rpm: f64,
}

/// How far past the last band of a pull its curve still speaks: a band is a mean, and the end of a log is cut. No source, assumed.
const REACH: f64 = 0.03;

impl MeasuredSpeeds {
    /// The speeds that either covers.
    #[must_use]
    pub fn with(self, other: Option<Self>) -> Self {
        other.map_or(self, |other| Self {
            from_rpm: self.from_rpm.min(other.from_rpm),
            to_rpm: self.to_rpm.max(other.to_rpm),
        })
    }

    /// The nearest measured speed.
    pub fn nearest(&self, rpm: f64) -> f64 {
        rpm.max(self.from_rpm).min(self.to_rpm)
    }

    /// How far a speed lies above what was measured (positive) or below (negative), as a logarithm; zero inside.
    pub fn outside(&self, rpm: f64) -> f64 {
        (rpm / self.nearest(rpm)).ln()
    }

    /// Whether a speed lies farther above the measured ones than the end of a pull reaches.
    pub fn ends_before(&self, rpm: f64) -> bool {
        self.outside(rpm) > REACH
    }
}

/// A correlation matrix with its Cholesky factor.
#[derive(Debug, Clone, PartialEq)]
pub struct Correlation {
    matrix: DMatrix<f64>,
    lower: DMatrix<f64>,
}

/// A matrix that cannot be a correlation.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CorrelationError {
    /// Not square, or its diagonal is not 1, or it is not symmetric.
    #[error("entry ({row}, {column}) makes it no correlation matrix")]
    Entry {
        /// Row, from 0.
        row: usize,
        /// Column, from 0.
        column: usize,
    },
    /// Some combination of the numbers would have a negative variance.
    #[error("the correlations contradict each other: the matrix is not positive definite")]
    NotPositiveDefinite,
}

impl Correlation {
    /// Checks and factors a matrix.
    pub fn new(matrix: DMatrix<f64>) -> Result<Self, CorrelationError> {
        for row in 0..matrix.nrows() {
            for column in 0..matrix.ncols() {
                let value = matrix[(row, column)];
                let good = if row == column {
                    (value - 1.0).abs() < 1e-6
                } else {
                    value.abs() < 1.0
                };
                let symmetric = row < matrix.ncols()
                    && column < matrix.nrows()
                    && (value - matrix[(column, row)]).abs() < 1e-6;
                if !(good && symmetric) {
                    return Err(CorrelationError::Entry { row, column });
                }
            }
        }
        let lower = matrix
            .clone()
            .cholesky()
            .ok_or(CorrelationError::NotPositiveDefinite)?
            .unpack();
        Ok(Self { matrix, lower })
    }

    /// The matrix itself.
    pub fn matrix(&self) -> &DMatrix<f64> {
        &self.matrix
    }

    /// Correlated coordinates from independent ones.
    /// Equation (8.10).
    pub fn colour(&self, independent: &DVector<f64>) -> DVector<f64> {
        &self.lower * independent
    }

    /// Independent coordinates from correlated ones.
    pub fn whiten(&self, coloured: &DVector<f64>) -> DVector<f64> {
        let mut out = coloured.clone();
        // The factor of a checked matrix has a positive diagonal, so the substitution cannot fail.
        let solved = self.lower.solve_lower_triangular_mut(&mut out);
        debug_assert!(solved, "a Cholesky factor is never singular");
        out
    }

    /// The Cholesky factor.
    pub fn lower(&self) -> &DMatrix<f64> {
        &self.lower
    }
}

impl Sheet {
    /// A sheet for a setup whose structure and facts are set: beliefs `given`, in any order, and the catalogue's defaults for
    /// the rest.
    ///
    /// Errors name the first number that must be given and is not, or whose doubt is impossible.
    pub fn new(mut centre: Setup, given: &[Belief]) -> Result<Self, SheetError> {
        let mut beliefs = Vec::new();
        for parameter in parameter::catalogue() {
            if (parameter.slot)(&mut centre).is_none() {
                continue;
            }
            let belief = match given.iter().find(|b| b.parameter == parameter) {
                Some(belief) => *belief,
                None => Belief {
                    parameter,
                    prior: parameter
                        .default_prior(&centre)
                        .ok_or(SheetError::Missing {
                            path: parameter.path,
                        })?
                        .map_err(|source| SheetError::Default {
                            path: parameter.path,
                            source,
                        })?,
                    origin: Origin::Default,
                },
            };
            if let Some(slot) = (parameter.slot)(&mut centre) {
                *slot = belief.prior.centre();
            }
            beliefs.push(belief);
        }
        centre.car.retabulate_knock();
        Ok(Self {
            centre,
            beliefs,
            correlation: None,
            measured: None,
        })
    }

    /// The beliefs that carry doubt, in order.
    pub fn free(&self) -> impl Iterator<Item = &Belief> {
        self.beliefs.iter().filter(|b| !b.prior.is_fixed())
    }

    /// Whether a fit left these beliefs.
    pub fn is_fitted(&self) -> bool {
        self.beliefs.iter().any(|b| b.origin == Origin::Fitted)
    }

    /// Whether that fit rested on pulls on the drums: a curve at the crank says nothing of what lies behind it.
    pub fn is_fitted_on_drums(&self) -> bool {
        self.is_fitted() && self.measured.is_some()
    }

    /// How many numbers carry doubt.
    pub fn free_count(&self) -> usize {
        self.free().count()
    }

    /// The setup at coordinates `z` of the free numbers.
    pub fn setup_at(&self, z: &[f64]) -> Setup {
        let mut setup = self.centre.clone();
        for (belief, z) in self.free().zip(z) {
            if let Some(slot) = (belief.parameter.slot)(&mut setup) {
                *slot = belief.prior.from_z(*z);
            }
        }
        setup
    }

    /// One draw of the coordinates, correlated as the sheet says. A draw past a bound is drawn again, and after
    /// [`MAX_REDRAWS`] times held at the bound.
    /// Equation (8.10).
    pub fn draw<R: Rng + ?Sized>(&self, rng: &mut R) -> Vec<f64> {
        self.draw_moved(rng, |_| {})
    }

    /// The same, the independent numbers N(0, 1) of each try moved before they are correlated.
    pub fn draw_moved<R: Rng + ?Sized>(&self, rng: &mut R, moved: impl Fn(&mut [f64])) -> Vec<f64> {
        let n = self.free_count();
        let bounds: Vec<(f64, f64)> = self.free().map(|b| b.prior.z_bounds()).collect();
        let mut z = DVector::zeros(n);
        for _ in 0..MAX_REDRAWS {
            let mut independent = DVector::from_fn(n, |_, _| standard_normal(rng));
            moved(independent.as_mut_slice());
            z = self.coloured(independent);
            if z.iter()
                .zip(&bounds)
                .all(|(z, (low, high))| (low..=high).contains(&z))
            {
                break;
            }
        }
        z.iter()
            .zip(&bounds)
            .map(|(z, (low, high))| z.clamp(*low, *high))
            .collect()
    }

    /// The setup where one of the independent numbers stands off its centre, and all others on it.
    pub fn setup_off_centre(&self, number: usize, by: f64) -> Setup {
        let mut independent = DVector::zeros(self.free_count());
        independent[number] = by;
        self.setup_at(self.coloured(independent).as_slice())
    }

    /// Coordinates from independent numbers.
    fn coloured(&self, independent: DVector<f64>) -> DVector<f64> {
        match &self.correlation {
            Some(correlation) => correlation.colour(&independent),
            None => independent,
        }
    }
}

/// How often a draw past a bound is drawn again before it is held there. Some forty numbers bounded near three standard
/// deviations leave most draws whole; the rest differ from the cut distribution by less than the doubt in the bounds.
pub const MAX_REDRAWS: usize = 8;

/// One draw from N(0, 1) by inversion: one uniform number per draw, so that draws keep their place in the stream.
pub fn standard_normal<R: Rng + ?Sized>(rng: &mut R) -> f64 {
    normal_at(rng.sample(rand::distr::Open01))
}

/// The quantile of N(0, 1) at a share.
pub(crate) fn normal_at(share: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    Normal::standard().inverse_cdf(share)
}

/// The share of N(0, 1) below a number.
pub(crate) fn share_below(number: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    Normal::standard().cdf(number)
}

/// Why a sheet cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetError {
    /// A number without a default was not given.
    #[error("{path} must be given: it has no default")]
    Missing {
        /// The number.
        path: &'static str,
    },
    /// A default does not fit the car (its centre falls outside the accepted range).
    #[error("the default of {path} does not fit this car: {source}; give it")]
    Default {
        /// The number.
        path: &'static str,
        /// What is wrong with it.
        source: super::prior::PriorError,
    },
}
