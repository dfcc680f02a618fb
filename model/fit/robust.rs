//! How much a residual may pull. A recorded run has wheelspin, a slipping clutch, a mis-read sensor; under plain
//! least squares one such point outvotes a hundred good ones. The residuals are already divided by their standard
//! deviation, so every constant here is in standard deviations. It refuses to guess that scale.

/// Cost ρ(r) of a whitened residual r; the fit minimises Σρ.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Loss {
    /// ρ = r²/2. Right when the noise is normal and nothing else happens; prior rows always use it.
    #[default]
    LeastSquares,
    /// ρ = (ν+1)/2 · ln(1 + s²r²/ν)/s²: minus the log density of Student's t, each row counted 1/s² times. With rows that
    /// stray together r is taken with a standard deviation s times the row's own, so that all of them weigh as few; whether
    /// a row is far is still asked of its own.
    /// Source: density of Student's t; K. L. Lange et al., J. American Statistical Association 84 (1989) 881 (from memory).
    StudentT {
        /// ν, degrees of freedom; 4 is the usual choice (from memory), infinity is the normal.
        dof: f64,
        /// s, 1 for independent rows.
        spread: f64,
    },
}

impl Loss {
    /// ρ(r), the formula of the variant.
    /// Equation (8.1).
    pub fn cost(self, r: f64) -> f64 {
        match self {
            Self::LeastSquares => 0.5 * r * r,
            Self::StudentT { dof, spread: s } => {
                0.5 * (dof + 1.0) * ((s * r).powi(2) / dof).ln_1p() / (s * s)
            }
        }
    }

    /// Weight w = ρ'(r)/r by which the squared residual counts in a reweighted least-squares step.
    /// Equation (8.1).
    pub fn weight(self, r: f64) -> f64 {
        match self {
            Self::LeastSquares => 1.0,
            Self::StudentT { dof, spread: s } => (dof + 1.0) / (dof + (s * r).powi(2)),
        }
    }
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Continuous, StudentsT};

    use super::*;

    const ALL: [Loss; 3] = [
        Loss::LeastSquares,
        Loss::StudentT {
            dof: 4.0,
            spread: 1.0,
        },
        Loss::StudentT {
            dof: 4.0,
            spread: 3.0,
        },
    ];

    #[test]
    fn weight_times_residual_is_the_slope_of_the_cost() {
        for loss in ALL {
            for r in [-9.0, -1.3, -0.2, 0.4, 1.4, 6.0] {
                let h = 1e-5;
                let slope = (loss.cost(r + h) - loss.cost(r - h)) / (2.0 * h);
                // Central difference: h² ρ'''/6 plus rounding ε ρ/h, both below 1e-9.
                assert!((slope - r * loss.weight(r)).abs() < 1e-8, "{loss:?} at {r}");
            }
        }
    }

    #[test]
    fn student_t_cost_is_minus_the_log_density() {
        let t = StudentsT::new(0.0, 1.0, 4.0).expect("valid distribution");
        let loss = Loss::StudentT {
            dof: 4.0,
            spread: 1.0,
        };
        for r in [0.5, 2.0, 8.0] {
            let expected = t.ln_pdf(0.0) - t.ln_pdf(r);
            assert!((loss.cost(r) - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn large_residuals_count_less_and_without_tails_it_is_least_squares() {
        for loss in &ALL[1..] {
            assert!(loss.weight(10.0) < 0.2 && loss.cost(10.0) < 50.0);
        }
        // ln(1 + r²/ν) leaves r⁴/4ν.
        assert!(
            (Loss::StudentT {
                dof: 1e9,
                spread: 1.0
            }
            .cost(3.0)
                - 4.5)
                .abs()
                < 1e-6
        );
    }
}
