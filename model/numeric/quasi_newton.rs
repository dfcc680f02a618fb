//! Several equations at once, by steps that learn their own slope.
//!
//! Exists for balances that are nearly fixed points: taking what was found as the next guess all but settles them, and the little that is
//! missing is learned from the steps taken. What was learned at one balance serves its neighbour. It refuses to converge from anywhere:
//! its caller watches the gap.
//!
//! Source: C. G. Broyden, A class of methods for solving nonlinear simultaneous equations, Math. Comp. 19 (1965), the first ("good")
//! update in its inverse form.

/// Steps `x ← x + B g(x)` toward `g(x) = 0`, B an estimate of `−(∂g/∂x)⁻¹`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Broyden<const N: usize> {
    inverse: [[f64; N]; N],
}

impl<const N: usize> Default for Broyden<N> {
    /// The fixed-point iteration, `x ← x + g(x)`.
    fn default() -> Self {
        let mut inverse = [[0.0; N]; N];
        for (k, row) in inverse.iter_mut().enumerate() {
            row[k] = 1.0;
        }
        Self { inverse }
    }
}

impl<const N: usize> Broyden<N> {
    /// The step that would close a gap, were the slope as it was learned.
    pub(crate) fn step(&self, gap: &[f64; N]) -> [f64; N] {
        let mut step = [0.0; N];
        for (step, row) in step.iter_mut().zip(&self.inverse) {
            *step = dot(row, gap);
        }
        step
    }

    /// Learns from a step and how it changed the gap: the least change of the slope that explains it.
    ///
    /// ```text
    /// B ← B + (s + B y)(sᵀ B)/(−sᵀ B y),      y = change of the gap over the step s
    /// ```
    ///
    /// A step that tells next to nothing, or against which the gap stood still, teaches nothing.
    pub(crate) fn learn(&mut self, step: &[f64; N], before: &[f64; N], after: &[f64; N]) {
        let mut change = *after;
        for (c, b) in change.iter_mut().zip(before) {
            *c -= b;
        }
        let moved = self.step(&change);
        let told = -dot(step, &moved);
        let length = dot(step, step);
        let telling = told > LEAST_TOLD * length;
        if !telling {
            return;
        }
        let mut across = [0.0; N];
        for (s, row) in step.iter().zip(&self.inverse) {
            for (a, b) in across.iter_mut().zip(row) {
                *a += s * b;
            }
        }
        for ((row, s), m) in self.inverse.iter_mut().zip(step).zip(&moved) {
            let share = (s + m) / told;
            for (b, a) in row.iter_mut().zip(&across) {
                *b += share * a;
            }
        }
    }
}

/// A step teaches where the estimate foresaw at least this share of it.
const LEAST_TOLD: f64 = 0.1;

fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A linear balance of N numbers is met within 2 N steps (D. M. Gay, SIAM J. Numer. Anal. 16 (1979)), and so is its neighbour from what
    /// was learned; without learning twenty steps do not do.
    #[test]
    fn a_linear_balance_is_learned() {
        let gap = |x: &[f64; 3], shift: f64| {
            [
                shift - x[0] + 0.5 * x[1],
                1.0 - x[1] + 0.3 * x[0] - 0.4 * x[2],
                2.0 - x[2] + 0.6 * x[1],
            ]
        };
        let mut slope = Broyden::<3>::default();
        let mut x = [0.0; 3];
        let mut settle = |shift: f64, most: usize| {
            let mut here = gap(&x, shift);
            for steps in 0..most {
                if here.iter().all(|g| g.abs() < 1e-12) {
                    return steps;
                }
                let step = slope.step(&here);
                for (x, s) in x.iter_mut().zip(&step) {
                    *x += s;
                }
                let after = gap(&x, shift);
                slope.learn(&step, &here, &after);
                here = after;
            }
            most
        };
        assert!(settle(1.0, 20) <= 6);
        assert!(settle(1.3, 20) <= 6);
    }
}
