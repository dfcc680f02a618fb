//! The covariances of a curve for a cause: one for every way in which its change may be doubted, one as likely as the others.
//!
//! Exists so that a likelihood is asked of all of them in one place. It refuses to make them: how much is doubted is [`super::judge`]'s.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::f64::consts::TAU;

/// Covariances of a curve, factored. Where the change has the shape that the model gives it and is doubted in size alone, and where its shape is
/// doubted too; of slip at any load, the courses it may take.
#[derive(Debug)]
pub(super) struct Doubted(Vec<Cholesky<f64, Dyn>>);

/// A residual in its standard deviations, and the log-density where there is none.
pub(super) struct WhitePart {
    pub(super) level: f64,
    pub(super) white: DVector<f64>,
}

impl Doubted {
    /// From covariances; nothing where one of them is none.
    pub(super) fn of(covariances: impl IntoIterator<Item = DMatrix<f64>>) -> Option<Self> {
        let factored = covariances.into_iter().map(DMatrix::cholesky);
        factored.collect::<Option<Vec<_>>>().map(Self)
    }

    /// Log-likelihood of a residual.
    pub(super) fn log(&self, off: &DVector<f64>) -> f64 {
        let each: Vec<f64> = self.0.iter().map(|c| log_normal(c, off)).collect();
        log_mean(&each)
    }

    /// The way that makes a residual likeliest.
    pub(super) fn likeliest(&self, off: &DVector<f64>) -> Option<&Cholesky<f64, Dyn>> {
        let each = self.0.iter().map(|c| (log_normal(c, off), c));
        each.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, c)| c)
    }

    /// A residual in standard deviations, in every way.
    pub(super) fn white(&self, off: &DVector<f64>) -> Option<Vec<WhitePart>> {
        let of = |c: &Cholesky<f64, Dyn>| {
            Some(WhitePart {
                level: log_level(c, off.len()),
                white: c.l_dirty().solve_lower_triangular(off)?,
            })
        };
        self.0.iter().map(of).collect()
    }

    /// Standard deviations of the bands, where most is doubted.
    pub(super) fn standard_deviations(&self) -> Vec<f64> {
        let widest = self.0.last().map(Cholesky::l);
        widest.map_or_else(Vec::new, |l| l.row_iter().map(|row| row.norm()).collect())
    }
}

/// Logarithm of the mean of likelihoods.
pub(super) fn log_mean(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| (log - most).exp()).sum();
    most + (sum / logs.len() as f64).ln()
}

/// Log-density of a normal at an offset from its mean.
pub(super) fn log_normal_of_one(off: f64, sd: f64) -> f64 {
    -0.5 * (off / sd).powi(2) - 0.5 * (TAU * sd * sd).ln()
}

/// Log-density of a multivariate normal at an offset from its mean.
pub(super) fn log_normal(factor: &Cholesky<f64, Dyn>, off: &DVector<f64>) -> f64 {
    let white = factor.l_dirty().solve_lower_triangular(off);
    let square = white.map_or(f64::INFINITY, |w| w.norm_squared());
    log_level(factor, off.len()) - 0.5 * square
}

/// Log-density of a multivariate normal at its mean.
fn log_level(factor: &Cholesky<f64, Dyn>, count: usize) -> f64 {
    let l = factor.l_dirty();
    let log_det: f64 = (0..count).map(|i| l[(i, i)].ln()).sum();
    -log_det - 0.5 * count as f64 * TAU.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_likelihood_is_the_mean_over_its_ways_and_the_likeliest_speaks() {
        let wide = DMatrix::identity(2, 2) * 4.0;
        let both = Doubted::of([DMatrix::identity(2, 2), wide]).expect("covariances");
        let off = DVector::from_column_slice(&[3.0, 0.0]);
        // Densities of two independent normals each, by hand: exp(−9/2)/τ and exp(−9/8)/(4 τ).
        let by_hand = 0.5 * ((-4.5_f64).exp() + 0.25 * (-1.125_f64).exp()) / TAU;
        assert!((both.log(&off) - by_hand.ln()).abs() < 1e-12);
        let likeliest = both.likeliest(&off).expect("one of them");
        assert!((likeliest.l()[(0, 0)] - 2.0).abs() < 1e-12);
        let parts = both.white(&off).expect("both");
        assert!((parts[1].white[0] - 1.5).abs() < 1e-12);
    }
}
