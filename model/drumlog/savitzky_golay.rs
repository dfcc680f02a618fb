//! Local polynomials by least squares: value and rates at a point from its neighbours, the simple alternative to the
//! state-space smoother.
//!
//! On an even grid they are the coefficients of Savitzky and Golay; here sampling may be uneven and the window may reach past
//! an end, for the polynomial is fitted where the samples are. It refuses windows that do not hold enough of them.
//! Source: A. Savitzky & M. J. E. Golay, Anal. Chem. 36 (1964) 1627 (from memory).

use nalgebra::{Cholesky, DMatrix, DVector};

/// Why a window cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WindowError {
    /// An even or too small window.
    #[error("a window of {window} points cannot carry a polynomial of degree {degree}")]
    Window {
        /// Points.
        window: usize,
        /// Degree.
        degree: usize,
    },
    /// A derivative that the polynomial does not have.
    #[error("a polynomial of degree {degree} has no derivative of order {derivative}")]
    Derivative {
        /// Degree.
        degree: usize,
        /// Order asked for.
        derivative: usize,
    },
}

/// Coefficients on an even grid of unit step: the sum of coefficient times sample is the derivative at the middle.
///
/// ```text
/// quadratic, first derivative: c_i = 3 i / [M (M + 1) (2M + 1)],  i = −M … M
/// ```
///
/// Holds for any odd window larger than the degree. Worked: 5 points, degree 2, first derivative: −0.2, −0.1, 0, 0.1, 0.2.
///
/// ```
/// use pullcast::drumlog::savitzky_golay::coefficients;
/// let slope = coefficients(5, 2, 1).expect("a window");
/// for (found, expected) in slope.iter().zip([-0.2, -0.1, 0.0, 0.1, 0.2]) {
///     assert!((found - expected).abs() < 1e-15);
/// }
/// ```
pub fn coefficients(
    window: usize,
    degree: usize,
    derivative: usize,
) -> Result<Vec<f64>, WindowError> {
    if derivative > degree {
        return Err(WindowError::Derivative { degree, derivative });
    }
    if window.is_multiple_of(2) || window <= degree {
        return Err(WindowError::Window { window, degree });
    }
    let half = (window / 2) as f64;
    let at: Vec<f64> = (0..window).map(|i| i as f64 - half).collect();
    weights(&at, degree, derivative).ok_or(WindowError::Window { window, degree })
}

/// Weights that give a derivative at zero of the polynomial through samples at these places; `None` if too many places
/// coincide.
/// Equation (6.22).
pub fn weights(at: &[f64], degree: usize, derivative: usize) -> Option<Vec<f64>> {
    let scale = at.iter().fold(0.0_f64, |s, x| s.max(x.abs()));
    if scale <= 0.0 || at.len() <= degree || derivative > degree {
        return None;
    }
    let powers = DMatrix::from_fn(at.len(), degree + 1, |i, k| {
        (0..k).fold(1.0, |p, _| p * at[i] / scale)
    });
    let mut unit = DVector::<f64>::zeros(degree + 1);
    unit[derivative] = (1..=derivative).fold(1.0, |p, k| p * k as f64 / scale);
    let solved = Cholesky::new(powers.tr_mul(&powers))?.solve(&unit);
    Some((powers * solved).iter().copied().collect())
}

/// Rows of a window about a row: as many as lie within `half` of its time, more if they are fewer than `least`.
pub fn window(time_s: &[f64], row: usize, half_s: f64, least: usize) -> std::ops::Range<usize> {
    let centre = time_s[row];
    let mut low = time_s.partition_point(|&t| t < centre - half_s);
    let mut high = time_s.partition_point(|&t| t <= centre + half_s);
    while high - low < least.min(time_s.len()) {
        let before = (low > 0).then(|| centre - time_s[low - 1]);
        let after = (high < time_s.len()).then(|| time_s[high] - centre);
        match (before, after) {
            (Some(b), Some(a)) if b <= a => low -= 1,
            (Some(_), None) => low -= 1,
            (_, Some(_)) => high += 1,
            (None, None) => break,
        }
    }
    low..high
}

/// One derivative at every row, from windows of `half_s` to each side.
pub fn rates(
    time_s: &[f64],
    values: &[f64],
    half_s: f64,
    degree: usize,
    derivative: usize,
) -> Vec<f64> {
    (0..time_s.len())
        .map(|row| {
            let rows = window(time_s, row, half_s, degree + 2);
            let at: Vec<f64> = time_s[rows.clone()]
                .iter()
                .map(|t| t - time_s[row])
                .collect();
            weights(&at, degree, derivative).map_or(0.0, |weights| {
                weights.iter().zip(&values[rows]).map(|(w, v)| w * v).sum()
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_of_the_degree_comes_back_from_uneven_samples() {
        let time: Vec<f64> = (0..40)
            .map(|i| 0.1 * f64::from(i) + if i % 3 == 0 { 0.03 } else { 0.0 })
            .collect();
        let values: Vec<f64> = time.iter().map(|t| 2.0 + 3.0 * t - 0.5 * t * t).collect();
        for (t, rate) in time.iter().zip(rates(&time, &values, 0.5, 2, 1)) {
            assert!((rate - (3.0 - t)).abs() < 1e-10, "{t}: {rate}");
        }
    }

    #[test]
    fn windows_that_cannot_be_are_refused() {
        for (window, degree, derivative) in [(4, 2, 1), (3, 3, 1), (1, 1, 0), (7, 2, 3)] {
            assert!(coefficients(window, degree, derivative).is_err());
        }
    }
}
