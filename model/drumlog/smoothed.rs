//! What smoothing gives, whatever the method: speed and acceleration with their errors, and how the rows hang together.
//!
//! Neighbouring rows share samples, so their errors are not independent; [`Smoothed::variance_of`] gives the error of any
//! weighted sum of rows, and nothing else should be used to average them.

use super::signal::Method;
use serde::Serialize;

/// Binds the rows of a smoothed stretch together.
pub(super) trait Bound: std::fmt::Debug {
    /// Variance of Σ (weight of speed · speed + weight of acceleration · acceleration), rows increasing.
    fn variance_of(&self, weights: &[(usize, [f64; 2])]) -> f64;
}

/// A stretch of a drum log, smoothed.
#[derive(Debug)]
pub struct Smoothed {
    /// Time, s.
    pub time_s: Vec<f64>,
    /// Speed of the drum's surface, m/s.
    pub speed_m_s: Vec<f64>,
    /// Its acceleration, m/s².
    pub acceleration_m_s2: Vec<f64>,
    /// Way since the first row, m: what the drum's angle follows from.
    pub way_m: Vec<f64>,
    /// Standard error of the acceleration, m/s².
    pub acceleration_se: Vec<f64>,
    /// Smoothing span at every row, s: that of a straight line through samples of the same number and noise, whose slope is as uncertain.
    pub span_s: Vec<f64>,
    /// How.
    pub method: Method,
    /// Standard deviation of single readings, in their own unit (m/s or m), at the mean weight.
    pub noise: f64,
    /// Factor by which standard errors were raised because neighbouring readings err alike.
    pub inflation: f64,
    /// Readings that stand out by more than [`OUTLIER`] standard deviations.
    pub outliers: Vec<usize>,
    /// Coefficients of the regressors with their covariance, in the unit of the readings.
    pub effects: (Vec<f64>, Vec<Vec<f64>>),
    pub(super) bound: Box<dyn Bound>,
}

impl Smoothed {
    /// Variance of a weighted sum of speeds and accelerations at rows that increase: `(row, [of speed, of acceleration])`.
    /// Equation (6.21).
    pub fn variance_of(&self, weights: &[(usize, [f64; 2])]) -> f64 {
        self.inflation * self.inflation * self.bound.variance_of(weights)
    }
}

/// Why a stretch cannot be smoothed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error, Serialize)]
#[serde(tag = "refusal", rename_all = "snake_case")]
#[non_exhaustive]
pub enum SmoothError {
    /// Too few rows.
    #[error("{rows} rows; at least {needed} are needed")]
    TooShort {
        /// Rows there.
        rows: usize,
        /// Rows needed.
        needed: usize,
    },
    /// The samples are too far apart for the window.
    #[error(
        "samples are {step_rpm:.0} rpm apart, so {span_rpm:.0} rpm hold fewer than the {needed} that a local polynomial of degree {degree} needs"
    )]
    TooCoarse {
        /// Engine speed between samples, rpm.
        step_rpm: f64,
        /// Window, rpm.
        span_rpm: f64,
        /// Samples needed.
        needed: usize,
        /// Degree.
        degree: usize,
    },
    /// The likelihood has no maximum: the readings do not vary.
    #[error("the readings show neither noise nor motion, so there is nothing to smooth")]
    Lifeless,
}

/// Fewest rows of a stretch.
pub const LEAST_ROWS: usize = 12;
/// A reading further off than this many standard deviations stands out.
pub const OUTLIER: f64 = 6.0;
/// Integral from the first row on.
pub(super) fn trapezoid(time_s: &[f64], values: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = Vec::with_capacity(values.len());
    for row in 0..values.len() {
        if row > 0 {
            sum += 0.5 * (values[row] + values[row - 1]) * (time_s[row] - time_s[row - 1]);
        }
        out.push(sum);
    }
    out
}
