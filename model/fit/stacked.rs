//! Beliefs as residual rows: data rows first, then one row `z` for every parameter that is not fixed. With this the most
//! probable car is plain least squares in standardised coordinates, where every parameter has size one and its
//! bounds are a box. It is the only place where `x` and `z` meet, and it hides fixed parameters from the fitter.

use nalgebra::DMatrix;

use super::problem::{Bounds, FitError, Infeasible, Problem};
use super::robust::Loss;
use crate::belief::prior::Prior;

/// A data problem in natural parameters `x`, together with the beliefs about them, as a problem in `z`.
#[derive(Debug)]
pub struct Stacked<'a, P> {
    data: &'a P,
    priors: &'a [Prior],
    free: Vec<usize>,
}

impl<'a, P: Problem> Stacked<'a, P> {
    /// One belief per parameter of `data`.
    pub fn new(data: &'a P, priors: &'a [Prior]) -> Result<Self, FitError> {
        if priors.len() != data.parameters() {
            return Err(FitError::LengthMismatch {
                expected: data.parameters(),
                found: priors.len(),
            });
        }
        let free = (0..priors.len())
            .filter(|&j| !priors[j].is_fixed())
            .collect();
        Ok(Self { data, priors, free })
    }

    /// Which parameter each `z` belongs to.
    pub fn free(&self) -> &[usize] {
        &self.free
    }

    /// The bounds of the free parameters in `z`.
    pub fn bounds(&self) -> Bounds {
        // A belief is made with its centre between its bounds, so these are in order.
        let (lower, upper) = self.free.iter().map(|&j| self.priors[j].z_bounds()).unzip();
        Bounds { lower, upper }
    }

    /// The centre of the beliefs: where a fit starts.
    pub fn start(&self) -> Vec<f64> {
        vec![0.0; self.free.len()]
    }

    /// All natural parameters, fixed ones included, at `z`.
    pub fn natural(&self, z: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = self.priors.iter().map(Prior::centre).collect();
        for (&j, &z) in self.free.iter().zip(z) {
            x[j] = self.priors[j].from_z(z);
        }
        x
    }
}

impl<P: Problem> Problem for Stacked<'_, P> {
    fn parameters(&self) -> usize {
        self.free.len()
    }

    fn rows(&self) -> usize {
        self.data.rows() + self.free.len()
    }

    fn residuals(&self, z: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
        let (data, beliefs) = out.split_at_mut(self.data.rows());
        beliefs.copy_from_slice(z);
        self.data.residuals(&self.natural(z), data)
    }

    fn jacobian(&self, z: &[f64], out: &mut DMatrix<f64>) -> bool {
        let rows = self.data.rows();
        let mut natural = DMatrix::zeros(rows, self.data.parameters());
        if !self.data.jacobian(&self.natural(z), &mut natural) {
            return false;
        }
        out.fill(0.0);
        for (column, (&j, &z)) in self.free.iter().zip(z).enumerate() {
            let slope = self.priors[j].dx_dz(z);
            out.view_mut((0, column), (rows, 1))
                .copy_from(&(natural.column(j) * slope));
            out[(rows + column, column)] = 1.0;
        }
        true
    }

    fn loss(&self, row: usize) -> Loss {
        if row < self.data.rows() {
            self.data.loss(row)
        } else {
            Loss::LeastSquares
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Posterior, Settings, minimise};
    use super::*;

    /// Measurements of a product a·b, and nothing about a and b alone.
    struct Product {
        measured: f64,
        sd: f64,
    }

    impl Problem for Product {
        fn parameters(&self) -> usize {
            3
        }
        fn rows(&self) -> usize {
            1
        }
        fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
            out[0] = (x[0] * x[1] * x[2] - self.measured) / self.sd;
            Ok(())
        }
    }

    fn beliefs() -> [Prior; 3] {
        [
            Prior::log_normal(2.0, 0.1, 0.5, 8.0).expect("valid belief"),
            Prior::fixed(3.0).expect("valid belief"),
            Prior::log_normal(1.0, 0.2, 0.1, 9.0).expect("valid belief"),
        ]
    }

    #[test]
    fn a_measured_product_is_shared_out_by_the_beliefs_variances() {
        let data = Product {
            measured: 9.0,
            sd: 1e-6,
        };
        let priors = beliefs();
        let stacked = Stacked::new(&data, &priors).expect("one belief per parameter");
        let report = minimise(
            &stacked,
            &stacked.start(),
            &stacked.bounds(),
            &Settings::default(),
        )
        .expect("the start is feasible");
        let x = stacked.natural(&report.x);
        // In logs the problem is linear: ln 1.5 is split 0.01 : 0.04 between a and b.
        let expected = [2.0 * 1.5_f64.powf(0.2), 3.0, 1.5_f64.powf(0.8)];
        for (found, expected) in x.iter().zip(expected) {
            assert!((found / expected - 1.0).abs() < 1e-6, "{x:?}");
        }
        // One combination is pinned; the other keeps its whole prior doubt.
        let posterior = Posterior::laplace(&report, &stacked.bounds()).expect("finite slopes");
        assert!(posterior.best().expect("two parameters").sd < 1e-5);
        assert!((posterior.worst().expect("two parameters").sd - 1.0).abs() < 1e-9);
        // sd of ln a given the product: 0.1·0.2/√(0.1² + 0.2²), in units of its prior 0.1.
        assert!((posterior.sd(0) - 0.2 / 0.05_f64.sqrt()).abs() < 1e-6);
    }

    #[test]
    fn without_information_the_fit_returns_the_centre() {
        let data = Product {
            measured: 9.0,
            sd: 1e12,
        };
        let priors = beliefs();
        let stacked = Stacked::new(&data, &priors).expect("one belief per parameter");
        let report = minimise(
            &stacked,
            &[1.0, -0.5],
            &stacked.bounds(),
            &Settings::default(),
        )
        .expect("the start is feasible");
        assert!(report.stop.converged());
        assert!(report.x.iter().all(|z| z.abs() < 1e-8), "{report:?}");
    }
}
