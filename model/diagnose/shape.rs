//! How wide a peak of the search is, side by side, and how much of it the bounds of a size leave.
//!
//! Exists because traces have kinks and sizes have bounds: a paraboloid through the top of a peak tells neither where it has a cliff on one
//! side nor that half of it is cut off. A peak is taken for a normal as wide as the mean of its sides where they have fallen by one.
//!
//! ```text
//! σ = w/√(2 f) for a fall f at a distance w,   inside a bound at D: σ erf(D/(σ √2))
//! ```
//!
//! Source: derived.

use super::judge::Factors;
use super::rival::{AtSizes, Search};
use nalgebra::DMatrix;
use statrs::function::erf::erf;
use std::f64::consts::SQRT_2;

/// The shape of a peak in standardised sizes.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    /// Inverse of the covariance as if there were no bounds.
    pub(super) curvature: DMatrix<f64>,
    /// Logarithm of the part of it that lies inside the bounds.
    pub(super) inside: f64,
}

/// One side of a peak along an axis.
struct Side {
    /// The point where it has fallen by about one, or that at the bound.
    point: AtSizes,
    sd: f64,
    /// Standard deviation of a normal without a bound that holds as much.
    kept: f64,
}

/// Distance over the standard deviation at which a paraboloid has fallen by one: the first look.
const WIDTH: f64 = SQRT_2;
/// Falls between which a look tells the width, and by what it is widened or narrowed outside them, so often at most.
const TELLS: (f64, f64) = (0.5, 2.0);
const WIDER: f64 = 1.6;
const NARROWER: f64 = 0.6;
const MORE_LOOKS: usize = 5;
/// Less of a fall is rounding: a side as high as that is level, and one that much higher is where the peak is.
const LEVEL: f64 = 0.05;
/// Room to a bound that is none, in standardised sizes.
const NO_ROOM: f64 = 1e-6;
/// Times the peak is moved to a higher side before what Gauss–Newton saw must do.
const MOVES: usize = 3;
/// A log does not widen a belief.
const WIDEST: f64 = 1.0;
/// Largest correlation: a paraboloid must close.
const MOST_ALIKE: f64 = 0.99;

impl Shape {
    /// A paraboloid away from all bounds.
    pub(super) const fn of(curvature: DMatrix<f64>) -> Self {
        Self {
            curvature,
            inside: 0.0,
        }
    }
}

impl Search<'_> {
    /// Looks around a peak, starting from a curvature, and moves it where a side turns out to be higher.
    pub(super) fn shape(&self, best: &mut AtSizes, seen: DMatrix<f64>, factors: &Factors) -> Shape {
        for _ in 0..MOVES {
            match self.around(best, &seen, factors) {
                Ok(shape) => return shape,
                Err(higher) => *best = *higher,
            }
        }
        Shape::of(seen)
    }

    fn around(
        &self,
        best: &AtSizes,
        seen: &DMatrix<f64>,
        factors: &Factors,
    ) -> Result<Shape, Box<AtSizes>> {
        let mut shape = Shape::of(seen.clone());
        let mut sides = Vec::new();
        for axis in 0..self.sizes.len() {
            let first = WIDTH * seen[(axis, axis)].max(WIDEST).powf(-0.5);
            let up = self.side(best, axis, first, factors)?;
            let down = self.side(best, axis, -first, factors)?;
            if let Some((sd, kept)) = mean_width(up.as_ref(), down.as_ref()) {
                shape.curvature[(axis, axis)] = sd.powi(-2);
                shape.inside += (kept / sd).ln();
            }
            sides.push([up, down]);
        }
        if let [first, second] = &sides[..] {
            let h = &mut shape.curvature;
            let scale = (h[(0, 0)] * h[(1, 1)]).sqrt();
            let mixed: Vec<f64> = first
                .iter()
                .zip(second)
                .filter_map(|(a, b)| self.mixed(best, a.as_ref()?, b.as_ref()?, factors))
                .collect();
            let alike = if mixed.is_empty() {
                seen[(0, 1)] / (seen[(0, 0)] * seen[(1, 1)]).sqrt()
            } else {
                -mixed.iter().sum::<f64>() / mixed.len() as f64 / scale
            };
            h[(0, 1)] = scale * alike.clamp(-MOST_ALIKE, MOST_ALIKE);
            h[(1, 0)] = h[(0, 1)];
        }
        Ok(shape)
    }

    /// Mixed slope of the log-probability: `f(a, b) − f(a, 0) − f(0, b) + f(0, 0) = a b f_xy` for a paraboloid.
    fn mixed(&self, best: &AtSizes, a: &Side, b: &Side, factors: &Factors) -> Option<f64> {
        let corner = self.at(&[a.point.z[0], b.point.z[1]], Some(factors))?;
        let area = (a.point.z[0] - best.z[0]) * (b.point.z[1] - best.z[1]);
        Some((corner.log_p - a.point.log_p - b.point.log_p + best.log_p) / area)
    }

    /// The side of a peak that a first look points to; none where there is no room, and the point itself where it is higher.
    /// Equation (10.4).
    fn side(
        &self,
        best: &AtSizes,
        axis: usize,
        first: f64,
        factors: &Factors,
    ) -> Result<Option<Side>, Box<AtSizes>> {
        let (low, high) = self.sizes[axis].prior.z_bounds();
        let from = best.z[axis];
        let room = if first > 0.0 { high - from } else { from - low };
        if room < NO_ROOM {
            return Ok(None);
        }
        let mut width = first.abs().min(room);
        let mut found = None;
        for _ in 0..=MORE_LOOKS {
            let mut z = best.z.clone();
            z[axis] = (from + width * first.signum()).clamp(low, high);
            let Some(point) = self.at(&z, Some(factors)) else {
                // The car cannot make the pull there.
                width *= NARROWER;
                continue;
            };
            let fallen = best.log_p - point.log_p;
            if fallen < -LEVEL {
                return Err(Box::new(point));
            }
            let sd = (width / (2.0 * fallen.max(LEVEL)).sqrt()).min(WIDEST);
            let kept = sd * erf(room / (sd * SQRT_2));
            found = Some(Side { point, sd, kept });
            width = if fallen < TELLS.0 && width < room {
                (WIDER * width).min(room)
            } else if fallen > TELLS.1 {
                NARROWER * width
            } else {
                break;
            };
        }
        Ok(found)
    }
}

/// Mean of both sides' standard deviations, and of what their bounds leave; a side without room leaves nothing.
fn mean_width(up: Option<&Side>, down: Option<&Side>) -> Option<(f64, f64)> {
    match (up, down) {
        (Some(a), Some(b)) => Some((0.5 * (a.sd + b.sd), 0.5 * (a.kept + b.kept))),
        (Some(side), None) | (None, Some(side)) => Some((side.sd, 0.5 * side.kept)),
        (None, None) => None,
    }
}
