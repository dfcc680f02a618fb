//! What is known after the fit, and what the data could not tell. Near its optimum the cost is a bowl; its curvature
//! gives the spread of every parameter and of every combination of them. The reason to have it is the usual outcome
//! on a dynamometer: a product of three numbers pinned to a percent, each of the three as unknown as before. It refuses
//! to invert a singular curvature silently: a direction without information has an infinite spread.

use std::fmt;

use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng, distr::Open01};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ContinuousCDF, Normal};

use super::outcome::Report;
use super::problem::Bounds;

/// Shrinkage below which a parameter counts as not informed by the data. A tenth off the spread is worth about a
/// quarter of one measurement as good as the prior (1/0.9² − 1), and the Laplace approximation is no better than that.
pub const LEAST_SHRINKAGE: f64 = 0.10;

/// Draws outside the bounds that are thrown away before one is folded back at the bound. With k parameters on their
/// bounds about one draw in 2^k is inside, so 64 is enough for four of them.
const TRIES: u32 = 64;

/// Normal approximation around the optimum, in the coordinates of the fit (standardised ones for [`super::Stacked`]).
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    centre: Vec<f64>,
    bounds: Bounds,
    covariance: DMatrix<f64>,
    /// Covariance = factor · factorᵀ.
    factor: DMatrix<f64>,
    combinations: Vec<Combination>,
    /// Parameters with a part in a direction without any information.
    unbounded: Vec<bool>,
}

/// A straight combination of parameters that the data know alone, apart from the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Combination {
    /// Share of each parameter; the squares add up to one, the largest share is positive.
    pub shares: Vec<f64>,
    /// Standard deviation along it. In standardised coordinates: as a share of the prior's; 1 is nothing learnt.
    pub sd: f64,
}

/// Why there is no posterior.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum PosteriorError {
    /// A slope is NaN or infinite.
    SlopesNotFinite,
    /// The singular value decomposition did not settle.
    NotDecomposed,
}

impl fmt::Display for PosteriorError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SlopesNotFinite => {
                "a slope of the model is not a finite number, so nothing can be said of its spread"
            }
            Self::NotDecomposed => "the slopes of the model could not be decomposed",
        })
    }
}

impl std::error::Error for PosteriorError {}

impl Posterior {
    /// Normal approximation at the end of a fit.
    ///
    /// ```text
    /// C = (Jᵀ W J)⁻¹
    /// ```
    ///
    /// from the singular values of √W J with its columns brought to unit length, so that units do not matter.
    /// Holds for: a cost that is nearly a bowl over the spread; for a robust loss, W is the reweighting at the
    /// optimum. A parameter held by its bound keeps the curvature it would have without the bound: its spread is then
    /// too wide on the inner side, and draws are cut at the bound.
    /// Source: Laplace's approximation with the Gauss-Newton curvature (textbook; from memory).
    /// Equation (8.3).
    pub fn laplace(report: &Report, bounds: &Bounds) -> Result<Self, PosteriorError> {
        let mut rows = report.jacobian.clone();
        for (mut row, w) in rows.row_iter_mut().zip(&report.weights) {
            row *= w.sqrt();
        }
        if !rows.iter().all(|v| v.is_finite()) {
            return Err(PosteriorError::SlopesNotFinite);
        }
        let n = rows.ncols();
        let short = rows.nrows().min(n);
        let mut triangle = DMatrix::zeros(n, n);
        triangle.rows_mut(0, short).copy_from(&rows.qr().unpack_r());

        let norms = DVector::from_fn(n, |j, _| match triangle.column(j).norm() {
            norm if norm > 0.0 => norm,
            _ => 1.0,
        });
        let scaled = DMatrix::from_fn(n, n, |i, j| triangle[(i, j)] / norms[j]);
        let (values, vectors) = decompose(scaled)?;
        let largest = values.max();
        let least = n as f64 * f64::EPSILON * largest;
        let known: Vec<usize> = (0..n).filter(|&k| values[k] > least).collect();
        let factor = DMatrix::from_fn(n, known.len(), |j, c| {
            vectors[(j, known[c])] / (values[known[c]] * norms[j])
        });
        let unbounded = (0..n)
            .map(|j| (0..n).any(|k| values[k] <= least && vectors[(j, k)].abs() > 1e-8))
            .collect();

        let (values, vectors) = decompose(triangle)?;
        let mut combinations: Vec<Combination> = (0..n)
            .map(|k| combination(&vectors.column(k).clone_owned(), values[k]))
            .collect();
        combinations.sort_by(|a, b| a.sd.total_cmp(&b.sd));
        let covariance = &factor * factor.transpose();
        Ok(Self {
            centre: report.x.clone(),
            bounds: bounds.clone(),
            covariance,
            factor,
            combinations,
            unbounded,
        })
    }

    /// The optimum.
    pub fn centre(&self) -> &[f64] {
        &self.centre
    }

    /// Covariance, without the directions that have no information (see [`Self::sd`]).
    pub const fn covariance(&self) -> &DMatrix<f64> {
        &self.covariance
    }

    /// Standard deviation of a parameter; infinite if it has a part in a direction without information.
    pub fn sd(&self, parameter: usize) -> f64 {
        if self.unbounded[parameter] {
            f64::INFINITY
        } else {
            self.covariance[(parameter, parameter)].sqrt()
        }
    }

    /// Correlation of two parameters; zero where either has no spread.
    pub fn correlation(&self, a: usize, b: usize) -> f64 {
        let size = (self.covariance[(a, a)] * self.covariance[(b, b)]).sqrt();
        if size > 0.0 {
            (self.covariance[(a, b)] / size).clamp(-1.0, 1.0)
        } else {
            0.0
        }
    }

    /// How much of the prior's spread the data took away: 1 − posterior sd / prior sd, for standardised coordinates (prior
    /// sd = 1). Zero: nothing learnt; one: exactly known.
    /// Equation (8.3).
    pub fn shrinkage(&self, parameter: usize) -> f64 {
        1.0 - self.sd(parameter).min(1.0)
    }

    /// Whether the data said anything worth reporting about a parameter, for standardised coordinates.
    pub fn informed(&self, parameter: usize) -> bool {
        self.shrinkage(parameter) >= LEAST_SHRINKAGE
    }

    /// The combinations the data know independently, best known first.
    pub fn combinations(&self) -> &[Combination] {
        &self.combinations
    }

    /// The best known combination.
    pub fn best(&self) -> Option<&Combination> {
        self.combinations.first()
    }

    /// The least known combination.
    pub fn worst(&self) -> Option<&Combination> {
        self.combinations.last()
    }

    /// Draw number `index` of the stream `seed`, inside the bounds. The draw depends on nothing else, so draws can be
    /// shared among threads or resumed. Directions without information stay at the optimum.
    pub fn draw(&self, seed: u64, index: u64) -> Vec<f64> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(index);
        let unit = Normal::standard();
        let mut tries = 0;
        loop {
            let xi = DVector::from_fn(self.factor.ncols(), |_, _| {
                let u: f64 = rng.sample(Open01);
                unit.inverse_cdf(u)
            });
            let moved = &self.factor * xi;
            let mut x: Vec<f64> = self
                .centre
                .iter()
                .zip(moved.iter())
                .map(|(c, m)| c + m)
                .collect();
            tries += 1;
            if (0..x.len()).all(|j| self.bounds.contains(j, x[j])) {
                return x;
            }
            if tries >= TRIES {
                for (j, x) in x.iter_mut().enumerate() {
                    *x = folded(*x, self.bounds.lower()[j], self.bounds.upper()[j]);
                }
                return x;
            }
        }
    }

    /// Draws 0 to `count` − 1 of the stream `seed`.
    pub fn draws(&self, count: u64, seed: u64) -> Vec<Vec<f64>> {
        (0..count).map(|index| self.draw(seed, index)).collect()
    }
}

fn combination(direction: &DVector<f64>, value: f64) -> Combination {
    let lead = direction
        .iter()
        .fold(0.0_f64, |a, &b| if b.abs() > a.abs() { b } else { a });
    Combination {
        shares: direction.iter().map(|s| s * lead.signum()).collect(),
        sd: 1.0 / value,
    }
}

/// Singular values and right singular vectors (as columns), in no order.
fn decompose(matrix: DMatrix<f64>) -> Result<(DVector<f64>, DMatrix<f64>), PosteriorError> {
    if matrix.is_empty() {
        return Ok((DVector::zeros(0), DMatrix::zeros(0, 0)));
    }
    // Each pass costs n³ at most; a bidiagonal matrix settles in a few passes per value, 200 n is far beyond.
    let passes = 200 * matrix.ncols();
    let svd = nalgebra::SVD::try_new_unordered(matrix, false, true, f64::EPSILON, passes)
        .ok_or(PosteriorError::NotDecomposed)?;
    let v_t = svd.v_t.ok_or(PosteriorError::NotDecomposed)?;
    Ok((svd.singular_values, v_t.transpose()))
}

/// `x` reflected at the bounds until it lies between them.
fn folded(x: f64, lower: f64, upper: f64) -> f64 {
    let width = upper - lower;
    if x >= lower && x <= upper {
        x
    } else if width.is_finite() {
        let around = (x - lower).rem_euclid(2.0 * width.max(f64::MIN_POSITIVE));
        (lower + around.min(2.0 * width - around)).clamp(lower, upper)
    } else if x < lower {
        2.0 * lower - x
    } else {
        2.0 * upper - x
    }
}

#[cfg(test)]
mod tests {
    use super::super::outcome::{Place, Stop};
    use super::*;

    fn posterior(jacobian: DMatrix<f64>, x: Vec<f64>, bounds: &Bounds) -> Posterior {
        let report = Report {
            residuals: vec![0.0; jacobian.nrows()],
            weights: vec![1.0; jacobian.nrows()],
            places: vec![Place::Free; x.len()],
            x,
            jacobian,
            cost: 0.0,
            iterations: 1,
            evaluations: 1,
            stop: Stop::GradientSmall,
        };
        Posterior::laplace(&report, bounds).expect("finite slopes")
    }

    #[test]
    fn straight_line_covariance_is_the_textbook_one() {
        // y = a + b x at x = 0..3, σ = 1: var b = 1/Sxx = 1/5, var a = 1/4 + 1.5²/5 = 0.7, cov = −1.5/5 (textbook).
        let jacobian = DMatrix::from_row_slice(4, 2, &[1.0, 0.0, 1.0, 1.0, 1.0, 2.0, 1.0, 3.0]);
        let p = posterior(jacobian, vec![0.0; 2], &Bounds::none(2));
        assert!((p.sd(0).powi(2) - 0.7).abs() < 1e-13);
        assert!((p.sd(1).powi(2) - 0.2).abs() < 1e-13);
        assert!((p.covariance()[(0, 1)] + 0.3).abs() < 1e-13);
        assert!((p.correlation(0, 1) + 0.3 / 0.14_f64.sqrt()).abs() < 1e-13);
    }

    #[test]
    fn a_direction_without_information_is_infinite_not_a_panic() {
        // Only the sum of the first two is seen; the third not at all; the fourth well.
        let jacobian = DMatrix::from_row_slice(2, 4, &[1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1e6]);
        let p = posterior(jacobian, vec![0.0; 4], &Bounds::none(4));
        assert_eq!([p.sd(0), p.sd(1), p.sd(2)], [f64::INFINITY; 3]);
        assert!((p.sd(3) * 1e6 - 1.0).abs() < 1e-12);
        assert_eq!(
            (p.shrinkage(2), p.informed(2), p.informed(3)),
            (0.0, false, true)
        );
        assert!(p.draw(1, 1).iter().all(|x| x.is_finite()));
        assert!(
            posterior(DMatrix::zeros(3, 2), vec![0.0; 2], &Bounds::none(2))
                .sd(0)
                .is_infinite()
        );
    }

    #[test]
    fn a_sum_is_known_and_its_difference_is_not() {
        // Prior rows for two parameters and a sharp measurement of their sum.
        let jacobian = DMatrix::from_row_slice(3, 2, &[10.0, 10.0, 1.0, 0.0, 0.0, 1.0]);
        let p = posterior(jacobian, vec![0.0; 2], &Bounds::none(2));
        let (best, worst) = (p.best().expect("two"), p.worst().expect("two"));
        // Singular values √201 and 1.
        assert!((best.sd - 1.0 / 201.0_f64.sqrt()).abs() < 1e-12 && (worst.sd - 1.0).abs() < 1e-12);
        assert!((best.shares[0] - best.shares[1]).abs() < 1e-12);
        assert!((worst.shares[0] + worst.shares[1]).abs() < 1e-12);
    }

    #[test]
    fn draws_repeat_reproduce_the_covariance_and_stay_inside() {
        let jacobian = DMatrix::from_row_slice(3, 2, &[2.0, 1.0, 1.0, 0.0, 0.0, 1.0]);
        let wide = posterior(jacobian.clone(), vec![1.0, -1.0], &Bounds::none(2));
        let draws = wide.draws(4000, 7);
        assert_eq!(draws[1234], wide.draw(7, 1234));
        assert_ne!(draws[0], wide.draw(8, 0));
        for (a, b) in [(0, 0), (0, 1), (1, 1)] {
            let found: f64 = draws
                .iter()
                .map(|d| (d[a] - wide.centre()[a]) * (d[b] - wide.centre()[b]))
                .sum::<f64>()
                / 4000.0;
            let c = wide.covariance();
            // Four standard deviations of a sample covariance: √((c_ab² + c_aa c_bb)/4000).
            let error = 4.0 * ((c[(a, b)].powi(2) + c[(a, a)] * c[(b, b)]) / 4000.0).sqrt();
            assert!(
                (found - c[(a, b)]).abs() < error,
                "{a}{b}: {found} against {}",
                c[(a, b)]
            );
        }
        let bounds = Bounds::new(vec![1.0, -1.1], vec![9.0, -0.9]).expect("ordered bounds");
        let cut = posterior(jacobian, vec![1.0, -1.0], &bounds);
        for d in cut.draws(500, 3) {
            assert!(d[0] >= 1.0 && (-1.1..=-0.9).contains(&d[1]), "{d:?}");
        }
    }

    #[test]
    fn folding_reflects_and_lands_inside() {
        assert_eq!(folded(-0.25, 0.0, 1.0), 0.25);
        assert_eq!(folded(3.75, 0.0, 1.0), 0.25);
        assert_eq!(folded(-3.0, -1.0, f64::INFINITY), 1.0);
        assert_eq!(folded(7.0, 2.0, 2.0), 2.0);
    }
}
