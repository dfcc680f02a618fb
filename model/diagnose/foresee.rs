//! What a log would show at sizes not tried, foreseen from those that were.
//!
//! Exists because a climb asks for hundreds of sizes and a pull of a turbocharged car costs a millisecond: a spline through the sizes tried is
//! climbed instead, and only where it ends is a pull simulated, until the spline knows the place. The covariances are held, so that residuals of
//! the spline are sums of residuals at its knots and a look costs no more than the products of those. It refuses to be an answer: a peak is
//! what a pull says of it.
//!
//! ```text
//! shown(z) = Σ w_k(z) shown_k,   w from K w' = (|z − z_k|³, 1, z)
//! ```
//!
//! K holds `|z_i − z_k|³` and the columns 1 and `z_i`: along one size the natural cubic spline. Source: J. Duchon, Splines minimizing
//! rotation-invariant semi-norms in Sobolev spaces, 1977 (from memory).

use super::disturb::ExpectedLog;
use super::doubted::{WhitePart, log_mean};
use super::judge::{Factors, Judge};
use super::rival::{Rival, belief};
use super::size::Size;
use nalgebra::{DMatrix, DVector};

/// Places nearer to each other than this, in standardised sizes, are one.
const ONE_PLACE: f64 = 1e-7;
/// Step of a slope in standardised sizes.
const SLOPE_STEP: f64 = 0.02;

/// A spline through what was tried, held against a log under covariances that stay.
pub(super) struct Foresight<'a> {
    rival: &'a Rival<'a>,
    sizes: &'a [Size],
    factors: &'a Factors,
    spline: Spline,
    /// Of every curve in every way of doubt, and of the facts: what lies between knots is a sum of these.
    parts: Vec<Vec<Residuals>>,
    facts: Residuals,
}

/// A spline through knots: what share of each there is in what lies between.
struct Spline {
    /// How many sizes a place has.
    sizes: usize,
    places: Vec<Vec<f64>>,
    /// Inverse of K; nothing before there are knots enough.
    inverse: Option<DMatrix<f64>>,
}

impl Spline {
    const fn of(sizes: usize) -> Self {
        Self {
            sizes,
            places: Vec::new(),
            inverse: None,
        }
    }

    fn holds(&self, z: &[f64]) -> bool {
        self.places.iter().any(|place| apart(place, z) < ONE_PLACE)
    }

    /// Makes the spline of its knots.
    fn settle(&mut self) {
        let (n, d) = (self.places.len(), self.sizes);
        let k = DMatrix::from_fn(n + d + 1, n + d + 1, |i, j| match (i < n, j < n) {
            (true, true) => apart(&self.places[i], &self.places[j]).powi(3),
            (true, false) => tail(&self.places[i], j - n),
            (false, true) => tail(&self.places[j], i - n),
            (false, false) => 0.0,
        });
        self.inverse = (n > d + 1).then_some(k).and_then(DMatrix::try_inverse);
    }

    /// Share of every knot in what lies at a place.
    /// Equation (10.4).
    fn weights(&self, z: &[f64]) -> Option<Vec<f64>> {
        let inverse = self.inverse.as_ref()?;
        let (n, d) = (self.places.len(), self.sizes);
        let here = DVector::from_fn(n + d + 1, |i, _| {
            if i < n {
                apart(&self.places[i], z).powi(3)
            } else {
                tail(z, i - n)
            }
        });
        Some(inverse.columns(0, n).tr_mul(&here).as_slice().to_vec())
    }
}

/// Whitened residuals at the knots, and their products with each other.
#[derive(Default)]
struct Residuals {
    /// Log-density where there is no residual.
    level: f64,
    columns: Vec<DVector<f64>>,
    products: Vec<Vec<f64>>,
}

impl Residuals {
    fn push(&mut self, part: WhitePart) {
        self.level = part.level;
        let mut row: Vec<f64> = self.columns.iter().map(|c| c.dot(&part.white)).collect();
        row.push(part.white.norm_squared());
        self.columns.push(part.white);
        self.products.push(row);
    }

    /// `Σ a_i b_k r_i·r_k`.
    fn product(&self, a: &[f64], b: &[f64]) -> f64 {
        let mut sum = 0.0;
        for (i, row) in self.products.iter().enumerate() {
            let (before, own) = row.split_at(i);
            for (k, product) in before.iter().enumerate() {
                sum += product * (a[i] * b[k] + a[k] * b[i]);
            }
            sum += own[0] * a[i] * b[i];
        }
        sum
    }

    fn log(&self, weights: &[f64]) -> f64 {
        self.level - 0.5 * self.product(weights, weights)
    }
}

impl<'a> Foresight<'a> {
    /// Through nothing yet.
    pub(super) fn new(rival: &'a Rival<'a>, sizes: &'a [Size], factors: &'a Factors) -> Self {
        Self {
            rival,
            sizes,
            factors,
            spline: Spline::of(sizes.len()),
            parts: Vec::new(),
            facts: Residuals::default(),
        }
    }

    /// Takes in places tried that it does not hold; whether it can then foresee.
    pub(super) fn learn<'p>(
        &mut self,
        tried: impl IntoIterator<Item = (&'p [f64], &'p ExpectedLog)>,
    ) -> bool {
        let mut more = false;
        for (z, shown) in tried {
            if self.spline.holds(z) {
                continue;
            }
            let Some((curves, facts)) = Judge::white_parts(self.rival.scene, shown, self.factors)
            else {
                continue;
            };
            self.parts.resize_with(curves.len(), Default::default);
            for (ways, whites) in self.parts.iter_mut().zip(curves) {
                ways.resize_with(whites.len(), Residuals::default);
                for (way, white) in ways.iter_mut().zip(whites) {
                    way.push(white);
                }
            }
            self.facts.push(facts);
            self.spline.places.push(z.to_vec());
            more = true;
        }
        if more {
            self.spline.settle();
        }
        self.spline.inverse.is_some()
    }

    /// Log-probability foreseen at standardised sizes inside their bounds.
    pub(super) fn log_p(&self, z: &[f64]) -> Option<f64> {
        let inside = self.sizes.iter().zip(z).all(|(size, z)| {
            let (low, high) = size.prior.z_bounds();
            (low..=high).contains(z)
        });
        let weights = self.spline.weights(z).filter(|_| inside)?;
        let curves = self.parts.iter().map(|ways| {
            let each: Vec<f64> = ways.iter().map(|way| way.log(&weights)).collect();
            log_mean(&each)
        });
        let beliefs = self.sizes.iter().zip(z).map(|(s, z)| belief(s, *z));
        let log_p = curves.sum::<f64>() + self.facts.log(&weights) + beliefs.sum::<f64>();
        log_p.is_finite().then_some(log_p)
    }

    /// Curvature of Gauss–Newton at standardised sizes, each curve under the doubt that makes it likeliest.
    pub(super) fn curvature(&self, z: &[f64]) -> Option<DMatrix<f64>> {
        let here = self.spline.weights(z)?;
        let slopes = (0..z.len())
            .map(|axis| {
                let at = |step: f64| {
                    let mut z = z.to_vec();
                    z[axis] += step;
                    self.spline.weights(&z)
                };
                let (less, more) = (at(-SLOPE_STEP)?, at(SLOPE_STEP)?);
                let both = more.iter().zip(&less);
                Some(both.map(|(m, l)| (m - l) / (2.0 * SLOPE_STEP)).collect())
            })
            .collect::<Option<Vec<Vec<f64>>>>()?;
        let curves = self.parts.iter().filter_map(|ways| {
            let each = ways.iter().map(|way| (way.log(&here), way));
            each.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, way)| way)
        });
        let all: Vec<&Residuals> = curves.chain([&self.facts]).collect();
        let d = z.len();
        Some(DMatrix::from_fn(d, d, |a, b| {
            let of_log: f64 = all.iter().map(|r| r.product(&slopes[a], &slopes[b])).sum();
            of_log + if a == b { 1.0 } else { 0.0 }
        }))
    }
}

/// Distance of two places.
fn apart(a: &[f64], b: &[f64]) -> f64 {
    let square: f64 = a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum();
    square.sqrt()
}

/// The straight part of the spline: 1, then the sizes.
fn tail(z: &[f64], place: usize) -> f64 {
    if place == 0 { 1.0 } else { z[place - 1] }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(places: &[&[f64]]) -> Spline {
        let mut spline = Spline::of(places[0].len());
        spline.places = places.iter().map(|place| place.to_vec()).collect();
        spline.settle();
        spline
    }

    #[test]
    fn along_one_size_it_is_the_natural_cubic_spline() {
        let spline = through(&[&[0.0], &[1.0], &[2.0]]);
        let at = |z: f64| {
            let weights = spline.weights(&[z]).expect("three knots");
            // Values 0, 1, 0.
            weights[1]
        };
        // By hand: 1.5 z − 0.5 z³ up to the middle knot, straight on beyond the ends.
        for (z, expected) in [(0.5, 0.6875), (1.0, 1.0), (2.0, 0.0), (3.0, -1.5)] {
            assert!((at(z) - expected).abs() < 1e-12, "{z}: {}", at(z));
        }
    }

    #[test]
    fn what_is_straight_in_two_sizes_is_foreseen_exactly() {
        let places: [&[f64]; 5] = [
            &[-1.0, -1.0],
            &[1.0, -0.5],
            &[0.2, 0.9],
            &[-0.7, 1.1],
            &[0.0, 0.0],
        ];
        let spline = through(&places);
        let straight = |z: &[f64]| 0.3 + 2.0 * z[0] - 0.7 * z[1];
        let z = [0.6, -2.0];
        let weights = spline.weights(&z).expect("five knots");
        let foreseen = weights.iter().zip(places).map(|(w, p)| w * straight(p));
        assert!((foreseen.sum::<f64>() - straight(&z)).abs() < 1e-9);
    }

    #[test]
    fn products_at_knots_are_those_of_the_sums() {
        let columns = [[1.0, 2.0], [0.5, -1.0], [3.0, 0.0]].map(|c| DVector::from_column_slice(&c));
        let mut residuals = Residuals::default();
        for white in columns.clone() {
            residuals.push(WhitePart { level: -0.7, white });
        }
        let (a, b) = ([0.2, 0.5, 0.3], [1.5, -1.0, 0.5]);
        let sum = |w: &[f64; 3]| {
            columns
                .iter()
                .zip(w)
                .map(|(c, w)| c * *w)
                .sum::<DVector<f64>>()
        };
        assert!((residuals.product(&a, &b) - sum(&a).dot(&sum(&b))).abs() < 1e-12);
        assert!((residuals.log(&a) + 0.7 + 0.5 * sum(&a).norm_squared()).abs() < 1e-12);
    }
}
