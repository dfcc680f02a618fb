//! The Jacobian by finite differences, inside the box. It exists because a pull is an integrated ODE with no
//! closed-form slope. It never evaluates outside the bounds, and tries the other side where the model refuses a point.

use nalgebra::DMatrix;

use super::problem::{Bounds, Infeasible, Problem};

/// How slopes are taken when the problem brings none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Difference {
    /// One extra call per parameter, step ε^(1/2), error about ε^(1/2).
    Forward,
    /// Two calls, step ε^(1/3), error about ε^(2/3).
    Central,
    /// Four calls, step ε^(1/5), error about ε^(4/5): for a smooth model and many digits.
    FivePoint,
}

/// Steps (in units of the step size) and weights of a one-sided or two-sided rule; the point itself has the last weight.
struct Rule {
    at: &'static [f64],
    weights: &'static [f64],
    centre_weight: f64,
}

const FORWARD: Rule = Rule {
    at: &[1.0],
    weights: &[1.0],
    centre_weight: -1.0,
};
const CENTRAL: Rule = Rule {
    at: &[-1.0, 1.0],
    weights: &[-0.5, 0.5],
    centre_weight: 0.0,
};
const CENTRAL_ONE_SIDED: Rule = Rule {
    at: &[1.0, 2.0],
    weights: &[2.0, -0.5],
    centre_weight: -1.5,
};
const FIVE_POINT: Rule = Rule {
    at: &[-2.0, -1.0, 1.0, 2.0],
    weights: &[1.0 / 12.0, -2.0 / 3.0, 2.0 / 3.0, -1.0 / 12.0],
    centre_weight: 0.0,
};
const FIVE_POINT_ONE_SIDED: Rule = Rule {
    at: &[1.0, 2.0, 3.0, 4.0],
    weights: &[4.0, -3.0, 4.0 / 3.0, -0.25],
    centre_weight: -25.0 / 12.0,
};

impl Difference {
    /// Two-sided rule if the scheme has one, then the one-sided rule of the same order.
    fn rules(self) -> (Option<&'static Rule>, &'static Rule) {
        match self {
            Self::Forward => (None, &FORWARD),
            Self::Central => (Some(&CENTRAL), &CENTRAL_ONE_SIDED),
            Self::FivePoint => (Some(&FIVE_POINT), &FIVE_POINT_ONE_SIDED),
        }
    }

    /// Step as a share of the parameter's size, for residuals that carry a relative noise.
    ///
    /// ```text
    /// h = ε^(1/(k+1))     for a rule whose error falls as h^k: truncation and noise are then alike
    /// ```
    ///
    /// Source: common practice; derived by minimising h^k + ε/h.
    fn share(self, relative_noise: f64) -> f64 {
        match self {
            Self::Forward => relative_noise.sqrt(),
            Self::Central => relative_noise.cbrt(),
            Self::FivePoint => relative_noise.powf(0.2),
        }
    }
}

/// Fills `out` with ∂(residual)/∂x at `x`, where the residuals are `here`; returns the calls spent.
pub(super) fn jacobian<P: Problem>(
    problem: &P,
    bounds: &Bounds,
    (difference, relative_noise): (Difference, f64),
    x: &[f64],
    here: &[f64],
    out: &mut DMatrix<f64>,
) -> (u32, Result<(), Infeasible>) {
    let share = difference.share(relative_noise);
    let (two_sided, one_sided) = difference.rules();
    let mut moved = x.to_vec();
    let mut there = vec![0.0; here.len()];
    let mut calls = 0;
    for j in 0..x.len() {
        let (low, high) = (bounds.lower()[j], bounds.upper()[j]);
        if low == high {
            // No room to differ: the parameter is pinned, and its slope is of no use to anyone.
            out.column_mut(j).fill(0.0);
            continue;
        }
        let size = x[j].abs().max(problem.typical_size(j));
        // A shrinking step helps where the box is thinner than the stencil or the model refuses a neighbour.
        let found = (0..3).find_map(|attempt| {
            let h = share * size * 0.1_f64.powi(attempt);
            let towards_room = if high - x[j] >= x[j] - low { h } else { -h };
            let tries = [
                two_sided.map(|r| (r, h)),
                Some((one_sided, towards_room)),
                Some((one_sided, -towards_room)),
            ];
            tries.into_iter().flatten().find(|(rule, h)| {
                let fits = rule
                    .at
                    .iter()
                    .all(|k| (low..=high).contains(&(x[j] + k * h)));
                fits && column(
                    problem,
                    (*rule, *h),
                    j,
                    &mut moved,
                    here,
                    &mut there,
                    out,
                    &mut calls,
                )
            })
        });
        moved[j] = x[j];
        if found.is_none() {
            return (calls, Err(Infeasible));
        }
    }
    (calls, Ok(()))
}

#[expect(
    clippy::too_many_arguments,
    reason = "scratch space lent by the caller so that a column allocates nothing"
)]
fn column<P: Problem>(
    problem: &P,
    (rule, h): (&Rule, f64),
    j: usize,
    moved: &mut [f64],
    here: &[f64],
    there: &mut [f64],
    out: &mut DMatrix<f64>,
    calls: &mut u32,
) -> bool {
    let x = moved[j];
    for (row, r) in here.iter().enumerate() {
        out[(row, j)] = rule.centre_weight * r;
    }
    let mut reached = true;
    for (k, weight) in rule.at.iter().zip(rule.weights) {
        moved[j] = x + k * h;
        *calls += 1;
        reached = problem.residuals(moved, there).is_ok() && there.iter().all(|r| r.is_finite());
        if !reached {
            break;
        }
        for (row, r) in there.iter().enumerate() {
            out[(row, j)] += weight * r;
        }
    }
    // The step actually taken, after rounding of x + h.
    let taken = (x + h) - x;
    moved[j] = x;
    for slope in &mut out.column_mut(j) {
        *slope /= taken;
    }
    reached && taken != 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Exponential;

    impl Problem for Exponential {
        fn parameters(&self) -> usize {
            1
        }
        fn rows(&self) -> usize {
            1
        }
        fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
            if !(0.0..=2.0).contains(&x[0]) {
                return Err(Infeasible);
            }
            out[0] = x[0].exp();
            Ok(())
        }
    }

    fn slope(difference: Difference, x: f64) -> f64 {
        let mut out = DMatrix::zeros(1, 1);
        let bounds = Bounds::none(1);
        let (_, done) = jacobian(
            &Exponential,
            &bounds,
            (difference, f64::EPSILON),
            &[x],
            &[x.exp()],
            &mut out,
        );
        done.expect("a feasible neighbour exists");
        out[(0, 0)]
    }

    #[test]
    fn each_scheme_reaches_its_order_inside_and_at_the_edge_of_the_model() {
        // Expected error: a few times ε^(1/2), ε^(2/3), ε^(4/5) with ε = 2.2e-16 and derivatives of size e^x.
        for (difference, error) in [
            (Difference::Forward, 1e-7),
            (Difference::Central, 1e-9),
            (Difference::FivePoint, 1e-11),
        ] {
            for x in [0.0, 1.0, 2.0] {
                let relative = (slope(difference, x) / x.exp() - 1.0).abs();
                assert!(relative < error, "{difference:?} at {x}: {relative}");
            }
        }
    }

    #[test]
    fn at_a_bound_the_model_is_asked_inside_the_box_alone() {
        /// Answers anywhere, and is wrong outside 0 to 2.
        struct Boxed;
        impl Problem for Boxed {
            fn parameters(&self) -> usize {
                1
            }
            fn rows(&self) -> usize {
                1
            }
            fn residuals(&self, x: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
                assert!((0.0..=2.0).contains(&x[0]), "asked at {}", x[0]);
                out[0] = x[0].exp();
                Ok(())
            }
        }
        let bounds = Bounds::new(vec![0.0], vec![2.0]).expect("bounds");
        for difference in [
            Difference::Forward,
            Difference::Central,
            Difference::FivePoint,
        ] {
            for x in [0.0_f64, 2.0] {
                let mut out = DMatrix::zeros(1, 1);
                let taken = (difference, f64::EPSILON);
                let (_, done) = jacobian(&Boxed, &bounds, taken, &[x], &[x.exp()], &mut out);
                done.expect("room on one side");
                // As above: the coarsest scheme errs by some ε^(1/2).
                assert!(
                    (out[(0, 0)] / x.exp() - 1.0).abs() < 1e-7,
                    "{difference:?} at {x}"
                );
            }
        }
    }
}
