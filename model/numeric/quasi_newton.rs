//! Several equations at once, by steps that learn their own slope.
//!
//! Exists for balances that are nearly fixed points: taking what was found as the next guess all but settles them, and the little that is
//! missing is learned from the steps taken. What was learned at one balance serves its neighbour. It refuses to converge from anywhere:
//! its caller watches the gap.
//!
//! Source: C. G. Broyden, A class of methods for solving nonlinear simultaneous equations, Math. Comp. 19 (1965), the first ("good")
//! update in its inverse form.

use super::Real;

/// Steps `x ← x + B g(x)` toward `g(x) = 0`, B an estimate of `−(∂g/∂x)⁻¹`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Broyden<const N: usize, R = f64> {
    inverse: [[R; N]; N],
}

impl<const N: usize> Default for Broyden<N> {
    fn default() -> Self {
        Self::fixed_point(0.0)
    }
}

impl<const N: usize, R: Real> Broyden<N, R> {
    /// The fixed-point iteration, `x ← x + g(x)`, of numbers like this one.
    #[inline(always)]
    pub(crate) fn fixed_point(like: R) -> Self {
        let mut inverse = [[like.of(0.0); N]; N];
        for (k, row) in inverse.iter_mut().enumerate() {
            row[k] = like.of(1.0);
        }
        Self { inverse }
    }

    /// A slope known beforehand.
    #[inline(always)]
    pub(crate) fn known(like: R, inverse: &[[f64; N]; N]) -> Self {
        Self::made(like, |_, row, column| inverse[row][column])
    }

    /// Each of several slopes taken from one of others.
    #[inline(always)]
    pub(crate) fn gathered(like: R, from: &[&Broyden<N>]) -> Self {
        Self::made(like, |k, row, column| from[k].inverse[row][column])
    }

    /// One of several slopes.
    #[inline(always)]
    pub(crate) fn one(&self, k: usize) -> Broyden<N> {
        let mut slope = Broyden::fixed_point(0.0);
        for (row, own) in slope.inverse.iter_mut().zip(&self.inverse) {
            for (b, own) in row.iter_mut().zip(own) {
                *b = own.one(k);
            }
        }
        slope
    }

    #[inline(always)]
    fn made(like: R, from: impl Fn(usize, usize, usize) -> f64) -> Self {
        let mut slope = Self::fixed_point(like);
        for (row, own) in slope.inverse.iter_mut().enumerate() {
            for (column, b) in own.iter_mut().enumerate() {
                *b = like.made(|k| from(k, row, column));
            }
        }
        slope
    }

    /// The step that would close a gap, were the slope as it was learned.
    #[inline(always)]
    pub(crate) fn step(&self, gap: &[R; N]) -> [R; N] {
        let mut step = *gap;
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
    #[inline(always)]
    pub(crate) fn learn(&mut self, step: &[R; N], before: &[R; N], after: &[R; N]) {
        let mut change = *after;
        for (c, b) in change.iter_mut().zip(before) {
            *c = *c - *b;
        }
        let moved = self.step(&change);
        let told = -dot(step, &moved);
        let telling = (dot(step, step) * LEAST_TOLD).below(told);
        if !R::any(telling) {
            return;
        }
        let mut across = [told.of(0.0); N];
        for (s, row) in step.iter().zip(&self.inverse) {
            for (a, b) in across.iter_mut().zip(row) {
                *a = *a + *s * *b;
            }
        }
        for ((row, s), m) in self.inverse.iter_mut().zip(step).zip(&moved) {
            let share = R::choose(telling, (*s + *m) / told, told.of(0.0));
            for (b, a) in row.iter_mut().zip(&across) {
                *b = *b + share * *a;
            }
        }
    }
}

/// A step teaches where the estimate foresaw at least this share of it.
const LEAST_TOLD: f64 = 0.1;

#[inline(always)]
fn dot<const N: usize, R: Real>(a: &[R; N], b: &[R; N]) -> R {
    let products = a.iter().zip(b).map(|(a, b)| *a * *b);
    products.fold(a[0].of(0.0), |sum, product| sum + product)
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
