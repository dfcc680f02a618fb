//! A chain of integrators driven by white noise: the prior of the state-space smoother, and one filter-and-smoother pass over it.
//!
//! The first state is what the drum log measures, every further state is the rate of the one before, and the last one
//! wanders. The pass carries several *columns* through the same gains: the data, the unknown start of every state, and
//! regressors such as run-out. So the start needs no invented covariance, and what the regressors leave in doubt is
//! counted. It refuses to choose the noise levels: that is [`super::smoother`].

use nalgebra::{Cholesky, DMatrix, DVector, SMatrix, SVector};

/// Transition over a step.
///
/// ```text
/// F_ij = Δt^(j−i) / (j−i)!   for j ≥ i;      N = 2: F = [[1, Δt], [0, 1]]
/// ```
///
/// Source: Taylor series of the states (derived).
/// Equation (6.17).
pub(super) fn transition<const N: usize>(step: f64) -> SMatrix<f64, N, N> {
    SMatrix::from_fn(|i, j| {
        if j < i {
            0.0
        } else {
            power(step, j - i) / factorial(j - i)
        }
    })
}

/// Covariance that white noise of unit density at the end of the chain adds over a step.
///
/// ```text
/// Q_ij = Δt^(2N−1−i−j) / [(2N−1−i−j) (N−1−i)! (N−1−j)!]      N = 2: Q = [[Δt³/3, Δt²/2], [Δt²/2, Δt]]
/// ```
///
/// Source: integral of the chain's impulse responses over the step (derived); the case N = 2 is the textbook's integrated
/// Wiener process.
/// Equation (6.17).
pub(super) fn process<const N: usize>(step: f64) -> SMatrix<f64, N, N> {
    SMatrix::from_fn(|i, j| {
        let order = 2 * N - 1 - i - j;
        power(step, order) / (order as f64 * factorial(N - 1 - i) * factorial(N - 1 - j))
    })
}

fn power(base: f64, exponent: usize) -> f64 {
    (0..exponent).fold(1.0, |product, _| product * base)
}

fn factorial(n: usize) -> f64 {
    (1..=n).fold(1.0, |product, k| product * k as f64)
}

/// What a pass runs over.
#[derive(Debug, Clone, Copy)]
pub(super) struct Input<'a> {
    /// Time, in any unit, strictly increasing.
    pub(super) time: &'a [f64],
    /// The measured first state.
    pub(super) data: &'a [f64],
    /// Variance of each measurement, relative to a common one that is estimated.
    pub(super) weight: &'a [f64],
    /// Density of the driving noise over the step up to each row, relative to a common one.
    pub(super) drive: &'a [f64],
    /// Regressors of the measurement, each as long as the data.
    pub(super) effects: &'a [Vec<f64>],
}

/// The filter's verdict on a noise ratio.
#[derive(Debug, Clone)]
pub(super) struct Verdict {
    /// Restricted log-likelihood, up to a constant that depends on the design alone.
    pub(super) restricted: f64,
    /// Profile log-likelihood at the same ratio, for comparing chains of different length.
    pub(super) profile: f64,
    /// Variance of a measurement of weight one.
    pub(super) variance: f64,
    /// Start of the states and regressors' coefficients.
    pub(super) coefficients: DVector<f64>,
    /// Their covariance, relative to [`Verdict::variance`].
    pub(super) coefficient_covariance: DMatrix<f64>,
    /// Innovations divided by their standard deviation.
    pub(super) innovations: Vec<f64>,
}

/// Number of data rows needed beyond the coefficients.
const SPARE: usize = 2;

/// Row by row of the filter, kept for the way back.
struct Kept<const N: usize> {
    filtered: Vec<SMatrix<f64, N, N>>,
    columns: Vec<SVector<f64, N>>,
}

/// Runs the filter with process noise `ratio` times measurement noise; `None` if the numbers do not carry it.
/// Equation (6.18).
fn filter<const N: usize>(
    input: &Input<'_>,
    ratio: f64,
    mut kept: Option<&mut Kept<N>>,
) -> Option<Verdict> {
    let rows = input.data.len();
    let unknown = N + input.effects.len();
    let width = 1 + unknown;
    if rows < unknown + SPARE {
        return None;
    }
    // Column 0 is the data from a start of zero; column 1 + j answers to the start of state j, with its sign turned so
    // that its innovation is a regressor; the rest are the effects.
    let mut x: Vec<SVector<f64, N>> = (0..width)
        .map(|c| SVector::from_fn(|i, _| if c == i + 1 { -1.0 } else { 0.0 }))
        .collect();
    let mut covariance = SMatrix::<f64, N, N>::zeros();
    let mut gram = DMatrix::<f64>::zeros(width, width);
    let mut logs = 0.0;
    let mut innovation = vec![0.0; width];
    let mut all = Vec::with_capacity(rows * width);
    for row in 0..rows {
        if row > 0 {
            let step = input.time[row] - input.time[row - 1];
            let f = transition::<N>(step);
            for column in &mut x {
                *column = f * *column;
            }
            covariance =
                f * covariance * f.transpose() + process::<N>(step) * (ratio * input.drive[row]);
        }
        let noise = input.weight[row];
        let spread = covariance[(0, 0)] + noise;
        logs += spread.ln();
        let gain: SVector<f64, N> = covariance.column(0) / spread;
        let root = spread.sqrt();
        for (c, column) in x.iter_mut().enumerate() {
            let measured = match c {
                0 => input.data[row],
                c if c > N => input.effects[c - N - 1][row],
                _ => 0.0,
            };
            let error = measured - column[0];
            *column += gain * error;
            innovation[c] = error / root;
        }
        for i in 0..width {
            for j in 0..=i {
                gram[(i, j)] += innovation[i] * innovation[j];
            }
        }
        all.extend_from_slice(&innovation);
        // Joseph's form stays symmetric and never loses its sign.
        let mut rest = SMatrix::<f64, N, N>::identity();
        for i in 0..N {
            rest[(i, 0)] -= gain[i];
        }
        covariance = rest * covariance * rest.transpose() + gain * gain.transpose() * noise;
        if let Some(kept) = kept.as_deref_mut() {
            kept.filtered.push(covariance);
            kept.columns.extend_from_slice(&x);
        }
    }
    let normal = DMatrix::from_fn(unknown, unknown, |i, j| gram[(i.max(j) + 1, i.min(j) + 1)]);
    let right = DVector::from_fn(unknown, |i, _| gram[(i + 1, 0)]);
    let cholesky = Cholesky::new(normal)?;
    let coefficients = cholesky.solve(&right);
    let innovations: Vec<f64> = all
        .chunks(width)
        .map(|v| {
            v[0] - (0..unknown)
                .map(|i| v[i + 1] * coefficients[i])
                .sum::<f64>()
        })
        .collect();
    let squares: f64 = innovations.iter().map(|v| v * v).sum();
    let free = (rows - unknown) as f64;
    let n = rows as f64;
    let variance = squares / free;
    let log_determinant: f64 = cholesky
        .l_dirty()
        .diagonal()
        .iter()
        .map(|d| 2.0 * d.ln())
        .sum();
    let verdict = Verdict {
        restricted: -0.5 * (free * variance.ln() + logs + log_determinant),
        profile: -0.5 * (n * (squares / n).ln() + logs),
        variance,
        coefficients,
        coefficient_covariance: cholesky.inverse(),
        innovations: innovations.iter().map(|v| v / variance.sqrt()).collect(),
    };
    verdict.restricted.is_finite().then_some(verdict)
}

/// The filter's verdict alone.
pub(super) fn judge<const N: usize>(input: &Input<'_>, ratio: f64) -> Option<Verdict> {
    filter::<N>(input, ratio, None)
}

/// States smoothed over the whole series, with what binds them together.
pub(super) struct Path<const N: usize> {
    /// Smoothed states.
    pub(super) state: Vec<SVector<f64, N>>,
    /// Their covariance given the coefficients, relative to the variance of a measurement.
    pub(super) covariance: Vec<SMatrix<f64, N, N>>,
    /// Smoother gains; `cov(x_i, x_j) = G_i G_(i+1) … G_(j−1) P_j` for i < j.
    gain: Vec<SMatrix<f64, N, N>>,
    /// Smoothed answer to every coefficient, row by row.
    columns: Vec<SVector<f64, N>>,
    /// What the filter said.
    pub(super) verdict: Verdict,
}

impl<const N: usize> Path<N> {
    /// Filter and backward pass.
    ///
    /// ```text
    /// G = P F' (P⁻)⁻¹      x_s = x + G (x_s⁺ − x⁻)      P_s = (I − G F) P (I − G F)' + G (P_s⁺ + Q) G'
    /// ```
    ///
    /// Source: the fixed-interval smoother of H. E. Rauch, F. Tung & C. T. Striebel, AIAA Journal 3 (1965) 1445 (from
    /// memory); the last form equals `P + G (P_s⁺ − P⁻) G'` and cannot lose its sign (derived).
    /// Equation (6.18).
    pub(super) fn new(input: &Input<'_>, ratio: f64) -> Option<Self> {
        let rows = input.data.len();
        let mut kept = Kept {
            filtered: Vec::with_capacity(rows),
            columns: Vec::new(),
        };
        let verdict = filter::<N>(input, ratio, Some(&mut kept))?;
        let unknown = verdict.coefficients.len();
        let width = unknown + 1;
        let mut covariance = kept.filtered;
        let mut x = kept.columns;
        let mut gain = vec![SMatrix::<f64, N, N>::zeros(); rows];
        for row in (0..rows - 1).rev() {
            let step = input.time[row + 1] - input.time[row];
            let f = transition::<N>(step);
            let q = process::<N>(step) * (ratio * input.drive[row + 1]);
            let p = covariance[row];
            let predicted = f * p * f.transpose() + q;
            let g = Cholesky::new(predicted)?.solve(&(f * p)).transpose();
            for c in 0..width {
                let ahead = x[(row + 1) * width + c] - f * x[row * width + c];
                x[row * width + c] += g * ahead;
            }
            let rest = SMatrix::<f64, N, N>::identity() - g * f;
            covariance[row] =
                rest * p * rest.transpose() + g * (covariance[row + 1] + q) * g.transpose();
            gain[row] = g;
        }
        let state = x
            .chunks(width)
            .map(|columns| {
                (0..unknown).fold(columns[0], |sum, i| {
                    sum - columns[i + 1] * verdict.coefficients[i]
                })
            })
            .collect();
        let columns = x
            .chunks(width)
            .flat_map(|columns| columns[1..].iter().copied())
            .collect();
        Some(Self {
            state,
            covariance,
            gain,
            columns,
            verdict,
        })
    }

    /// Variance of a weighted sum of states, relative to that of a measurement. Rows must increase.
    ///
    /// ```text
    /// var Σ w_j x_j = Σ w_j P_j w_j' + 2 Σ c_j P_j w_j'      c_(j+1) = (c_j + w_j) G_j
    /// ```
    ///
    /// Source: P. de Jong & M. J. Mackinnon, Biometrika 75 (1988) 601 for the covariance between times (from memory); the
    /// recursion is derived from it. What the coefficients leave in doubt is added.
    /// Equation (6.21).
    pub(super) fn variance_of(&self, weights: &[(usize, SVector<f64, N>)]) -> f64 {
        let unknown = self.verdict.coefficients.len();
        let mut answer = DVector::<f64>::zeros(unknown);
        let mut carried = SVector::<f64, N>::zeros();
        let mut total = 0.0;
        let mut at = weights.first().map_or(0, |(row, _)| *row);
        for (row, weight) in weights {
            while at < *row {
                carried = self.gain[at].transpose() * carried;
                at += 1;
            }
            let p = &self.covariance[*row];
            total += weight.dot(&(p * weight)) + 2.0 * carried.dot(&(p * weight));
            carried += weight;
            for i in 0..unknown {
                answer[i] += weight.dot(&self.columns[row * unknown + i]);
            }
        }
        total + answer.dot(&(&self.verdict.coefficient_covariance * &answer))
    }

    /// Covariance of a row's own states, relative to that of a measurement, coefficients included.
    pub(super) fn covariance_at(&self, row: usize) -> SMatrix<f64, N, N> {
        let unknown = self.verdict.coefficients.len();
        let answers = &self.columns[row * unknown..(row + 1) * unknown];
        let mut sum = self.covariance[row];
        for (i, a) in answers.iter().enumerate() {
            for (j, b) in answers.iter().enumerate() {
                sum += a * b.transpose() * self.verdict.coefficient_covariance[(i, j)];
            }
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_steps_make_one() {
        let f = transition::<3>(0.3) * transition::<3>(0.5);
        assert!((f - transition::<3>(0.8)).amax() < 1e-15);
        let f = transition::<3>(0.5);
        let q = f * process::<3>(0.3) * f.transpose() + process::<3>(0.5);
        assert!((q - process::<3>(0.8)).amax() < 1e-15);
    }

    #[test]
    fn two_states_are_the_textbooks() {
        let dt: f64 = 0.2;
        let q = process::<2>(dt);
        for ((i, j), expected) in [
            ((0, 0), dt.powi(3) / 3.0),
            ((0, 1), dt * dt / 2.0),
            ((1, 0), dt * dt / 2.0),
            ((1, 1), dt),
        ] {
            assert!((q[(i, j)] - expected).abs() < 1e-16);
        }
    }

    #[test]
    fn without_process_noise_the_smoother_is_a_straight_line_by_least_squares() {
        let time: Vec<f64> = (0..9).map(f64::from).collect();
        let data = [1.0, 3.5, 4.0, 7.5, 8.0, 12.0, 12.5, 15.0, 17.5];
        let weight = [1.0; 9];
        let input = Input {
            time: &time,
            data: &data,
            weight: &weight,
            drive: &weight,
            effects: &[],
        };
        let path = Path::<2>::new(&input, 1e-12).expect("a line");
        // Least squares by hand: Σt = 36, Σt² = 204, Σy = 81, Σty = 446, slope (9·446 − 36·81)/(9·204 − 36²) = 2.033333.
        assert!(
            (path.state[4][1] - 2.033_333_333).abs() < 1e-6,
            "{}",
            path.state[4]
        );
        // Variance of a slope: 1/Σ(t − t̄)² = 1/60.
        assert!((path.covariance_at(4)[(1, 1)] - 1.0 / 60.0).abs() < 1e-8);
        // The rate is the same at every row, so its mean has the variance of one.
        let mean: Vec<_> = (0..9)
            .map(|row| (row, SVector::<f64, 2>::new(0.0, 1.0 / 9.0)))
            .collect();
        assert!((path.variance_of(&mean) - 1.0 / 60.0).abs() < 1e-8);
    }
}
