//! One damped Gauss-Newton step inside a box. The tall Jacobian is reduced once per point to a small triangle; every
//! trial damping then costs only that triangle. A parameter that the step would carry past its bound is put on the
//! bound and the others are solved again, so the step never leaves the box and never needs clipping afterwards.

use nalgebra::{DMatrix, DVector, Dyn, QR};

/// Damping above which a step is shorter than rounding in every scaled direction.
pub(super) const LARGEST_DAMPING: f64 = 1e32;
/// Damping below which a step is a plain Gauss-Newton step to rounding, whatever the scale remembers.
pub(super) const LEAST_DAMPING: f64 = 1e-200;
/// The whitened, weighted problem linearised at one point: cost ≈ ½‖R s + c‖² + constant.
pub(super) struct Linear {
    qr: QR<f64, Dyn, Dyn>,
    triangle: DMatrix<f64>,
    reduced: DVector<f64>,
    /// Slope of the cost for each parameter, Jᵀr.
    pub(super) gradient: DVector<f64>,
    /// Length of each column of J.
    pub(super) column_norms: DVector<f64>,
    /// Length of the residual.
    pub(super) residual_norm: f64,
}

/// A step inside the box and what the linear model expects of it.
pub(super) struct Step {
    pub(super) change: DVector<f64>,
    /// Parameters that no bound stopped.
    pub(super) free: Vec<usize>,
    pub(super) predicted_reduction: f64,
}

impl Linear {
    /// `jacobian` and `residuals` already multiplied by the square roots of the weights.
    pub(super) fn new(jacobian: DMatrix<f64>, mut residuals: DVector<f64>) -> Self {
        let columns = jacobian.ncols();
        let gradient = jacobian.tr_mul(&residuals);
        let column_norms = DVector::from_fn(columns, |j, _| jacobian.column(j).norm());
        let residual_norm = residuals.norm();
        let rows = jacobian.nrows().min(columns);
        let qr = jacobian.qr();
        qr.q_tr_mul(&mut residuals);
        Self {
            triangle: qr.r(),
            reduced: residuals.rows(0, rows).into_owned(),
            gradient,
            column_norms,
            residual_norm,
            qr,
        }
    }

    /// The bend of the path: the change of the free parameters that undoes `curvature`, the half second derivative of
    /// the weighted residuals along the step.
    /// Equation (8.2).
    pub(super) fn bend(
        &self,
        damping: f64,
        scale: &DVector<f64>,
        step: &Step,
        mut curvature: DVector<f64>,
    ) -> Option<DVector<f64>> {
        self.qr.q_tr_mul(&mut curvature);
        let target = -curvature.rows(0, self.reduced.len());
        let solved = self.solve(damping, scale, &step.free, &target)?;
        let mut bend = DVector::zeros(scale.len());
        for (&j, &s) in step.free.iter().zip(solved.iter()) {
            bend[j] = s;
        }
        Some(bend)
    }

    /// The step that minimises ½‖R s + c‖² + ½ λ‖D s‖² with `least ≤ s ≤ most`; parameters marked `held` stay.
    /// `None` when the system is singular at this damping, or the step promises nothing.
    /// Equation (8.2).
    pub(super) fn step(
        &self,
        damping: f64,
        scale: &DVector<f64>,
        least: &[f64],
        most: &[f64],
        held: &[bool],
    ) -> Option<Step> {
        let n = scale.len();
        let mut change = DVector::zeros(n);
        let mut free: Vec<usize> = (0..n).filter(|&j| !held[j]).collect();
        let mut target = -&self.reduced;
        while !free.is_empty() {
            let solved = self.solve(damping, scale, &free, &target)?;
            let crossing = |&(&j, &s): &(&usize, &f64)| s < least[j] || s > most[j];
            let crossed: Vec<(usize, f64)> = free
                .iter()
                .zip(solved.iter())
                .filter(crossing)
                .map(|(&j, &s)| (j, if s < least[j] { least[j] } else { most[j] }))
                .collect();
            if crossed.is_empty() {
                for (&j, &s) in free.iter().zip(solved.iter()) {
                    change[j] = s;
                }
                break;
            }
            for (j, s) in crossed {
                change[j] = s;
                target.axpy(-s, &self.triangle.column(j), 1.0);
                free.retain(|&k| k != j);
            }
        }
        let moved = &self.triangle * &change;
        let predicted_reduction = -(moved.dot(&self.reduced) + 0.5 * moved.norm_squared());
        let useful = predicted_reduction > 0.0 && predicted_reduction.is_finite();
        useful.then_some(Step {
            change,
            free,
            predicted_reduction,
        })
    }

    fn solve(
        &self,
        damping: f64,
        scale: &DVector<f64>,
        free: &[usize],
        target: &DVector<f64>,
    ) -> Option<DVector<f64>> {
        let (rows, columns) = (self.triangle.nrows(), free.len());
        let mut stacked = DMatrix::zeros(rows + columns, columns);
        for (column, &j) in free.iter().enumerate() {
            stacked
                .view_mut((0, column), (rows, 1))
                .copy_from(&self.triangle.column(j));
            stacked[(rows + column, column)] = damping.sqrt() * scale[j];
        }
        let mut right = DVector::zeros(rows + columns);
        right.rows_mut(0, rows).copy_from(target);
        let qr = stacked.qr();
        qr.q_tr_mul(&mut right);
        let solution = qr
            .unpack_r()
            .solve_upper_triangular(&right.rows(0, columns))?;
        solution.iter().all(|s| s.is_finite()).then_some(solution)
    }
}

/// Marquardt's λ and how fast it grows after repeated failures.
pub(super) struct Damping {
    pub(super) value: f64,
    growth: f64,
}

impl Damping {
    pub(super) const fn from(value: f64) -> Self {
        Self { value, growth: 2.0 }
    }

    pub(super) fn raise(&mut self) {
        self.value = (self.value * self.growth).max(f64::MIN_POSITIVE);
        self.growth *= 2.0;
    }

    pub(super) fn lower(&mut self, gain: f64) {
        self.value *= (1.0 - (2.0 * gain - 1.0).powi(3)).clamp(1.0 / 3.0, 2.0);
        self.value = self.value.max(LEAST_DAMPING);
        self.growth = 2.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_undamped_step_in_a_wide_box_solves_the_linear_problem() {
        // Straight line through (0, 1), (1, 3), (2, 5): intercept 1, slope 2, from (0, 0).
        let jacobian = DMatrix::from_row_slice(3, 2, &[1.0, 0.0, 1.0, 1.0, 1.0, 2.0]);
        let linear = Linear::new(jacobian, DVector::from_vec(vec![-1.0, -3.0, -5.0]));
        let scale = DVector::from_vec(vec![1.0, 1.0]);
        let wide = [1e3, 1e3];
        let step = linear
            .step(0.0, &scale, &wide.map(|w| -w), &wide, &[false, false])
            .expect("regular system");
        assert!((step.change - DVector::from_vec(vec![1.0, 2.0])).norm() < 1e-13);
        assert!((step.predicted_reduction - 17.5).abs() < 1e-12);
    }

    #[test]
    fn a_bound_in_the_way_is_met_exactly_and_the_rest_solved_again() {
        let jacobian = DMatrix::from_row_slice(3, 2, &[1.0, 0.0, 1.0, 1.0, 1.0, 2.0]);
        let linear = Linear::new(jacobian, DVector::from_vec(vec![-1.0, -3.0, -5.0]));
        let scale = DVector::from_vec(vec![1.0, 1.0]);
        let step = linear
            .step(0.0, &scale, &[-9.0, -9.0], &[9.0, 1.5], &[false, false])
            .expect("regular system");
        // Slope held at 1.5: the best intercept is the mean of 1, 1.5, 2.
        assert_eq!(step.change[1], 1.5);
        assert!((step.change[0] - 1.5).abs() < 1e-13);
    }
}
