//! Smooth interpolation of several quantities over one axis that never overshoots its knots.
//!
//! Exists because measured parameters (a compressor's speed lines, say) must stay inside their range between the knots,
//! and an ordinary spline does not. Outside the knots it holds the end value: the caller flags that.
//!
//! Source: F. N. Fritsch & J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300 (from memory).

/// Several curves over the same knots.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MonotoneCubic<const N: usize> {
    x: Vec<f64>,
    y: Vec<[f64; N]>,
    slope: Vec<[f64; N]>,
}

impl<const N: usize> MonotoneCubic<N> {
    /// Knots must be strictly increasing in x; at least one.
    ///
    /// Slopes are the harmonic means of Fritsch and Butland (1984, from memory): zero at an extremum, so every piece is
    /// monotone.
    pub(crate) fn new(knots: &[(f64, [f64; N])]) -> Self {
        let x: Vec<f64> = knots.iter().map(|k| k.0).collect();
        let y: Vec<[f64; N]> = knots.iter().map(|k| k.1).collect();
        let n = x.len();
        let chord = |i: usize, j: usize| (y[i + 1][j] - y[i][j]) / (x[i + 1] - x[i]);
        let slope = (0..n)
            .map(|i| {
                std::array::from_fn(|j| {
                    if n == 1 {
                        return 0.0;
                    }
                    if i == 0 || i == n - 1 {
                        // Flat ends: the held value beyond the knots joins without a kink.
                        return 0.0;
                    }
                    let (a, b) = (chord(i - 1, j), chord(i, j));
                    if a * b <= 0.0 {
                        return 0.0;
                    }
                    let (ha, hb) = (x[i] - x[i - 1], x[i + 1] - x[i]);
                    let (wa, wb) = (2.0 * hb + ha, hb + 2.0 * ha);
                    (wa + wb) / (wa / a + wb / b)
                })
            })
            .collect();
        Self { x, y, slope }
    }

    /// The last knot.
    pub(crate) fn last(&self) -> f64 {
        self.x[self.x.len() - 1]
    }

    /// All curves at x.
    pub(crate) fn at(&self, x: f64) -> [f64; N] {
        let last = self.x.len() - 1;
        if x <= self.x[0] {
            return self.y[0];
        }
        if x >= self.x[last] {
            return self.y[last];
        }
        let mut i = 0;
        while i + 2 < self.x.len() && x >= self.x[i + 1] {
            i += 1;
        }
        let h = self.x[i + 1] - self.x[i];
        let t = (x - self.x[i]) / h;
        let (u, v) = (1.0 - t, t * t);
        let (a, b) = (u * u * (1.0 + 2.0 * t), v * (3.0 - 2.0 * t));
        let (c, d) = (h * t * u * u, -h * v * u);
        let (y, z, p, q) = (
            &self.y[i],
            &self.y[i + 1],
            &self.slope[i],
            &self.slope[i + 1],
        );
        std::array::from_fn(|j| a * y[j] + b * z[j] + c * p[j] + d * q[j])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `SciPy` 1.17.1 `PchipInterpolator` on the knots of the test below, where neither end's slope has a say.
    const PCHIP_SCIPY: [(f64, f64); 6] = [
        (1.0, 1.0),
        (1.9, 1.3984827586206896),
        (2.5, 1.5),
        (3.1, 1.3943999999999999),
        (4.0, 1.2),
        (4.45, 1.7097835020242917),
    ];

    #[test]
    fn between_inner_knots_it_is_the_curve_of_the_general_purpose_library() {
        let x = [0.0, 1.0, 2.5, 4.0, 5.0, 7.0];
        let y = [0.0, 1.0, 1.5, 1.2, 3.0, 10.0];
        let knots: Vec<_> = x.into_iter().zip(y.map(|y| [y])).collect();
        let curve = MonotoneCubic::new(&knots);
        for (x, value) in PCHIP_SCIPY {
            // The same formulas in another order of operations: rounding only.
            assert!((curve.at(x)[0] / value - 1.0).abs() < 1e-14, "{x}");
        }
    }

    #[test]
    fn passes_through_knots_and_stays_monotone_between() {
        let c = MonotoneCubic::new(&[(0.0, [1.0]), (1.0, [1.1]), (2.0, [4.0]), (4.0, [4.1])]);
        assert_eq!(c.at(1.0)[0], 1.1);
        let mut before = c.at(0.0)[0];
        for k in 1..=400 {
            let now = c.at(f64::from(k) * 0.01)[0];
            assert!(now >= before, "falls at {k}");
            before = now;
        }
        assert_eq!((c.at(-1.0)[0], c.at(9.0)[0]), (1.0, 4.1));
    }
}
