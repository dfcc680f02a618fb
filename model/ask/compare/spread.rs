//! How far the same car's pulls stray, and how large a difference must be to stand out of that.
//!
//! Two or three repeats tell little about their own spread, and one tells nothing; so what is usual on inertia drums stands
//! beside them as so many imagined repeats, and real ones weigh in as they come. What the visit adds cannot be seen in
//! the repeats at all. Nothing is rejected as an outlier: a pull that stands apart widens the ranges.

use super::curve::Smooth;
use crate::belief::noise::{INDEPENDENT_PIECES, Noise};
use crate::belief::sheet::standard_normal;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// Chance with which all ranges of a comparison hold together.
///
/// What is promised is 95 in 100. A rule set exactly there is seen to fail in half of all counts of 200 unchanged cars, by chance
/// alone; one set at 97.5 in 100 passes such a count 987 times in 1000 (binomial: at most 10 of 200 at 2.5 %).
pub const LEVEL: f64 = 0.975;

/// Imagined repeats behind the usual scale of a pull. Six give the logarithm of the standard deviation a spread of 0.31, that of the
/// usual 0.4 to 1.2 % about 0.7 % (common practice, no source).
const SCALE_DEGREES: usize = 6;
/// Usual bend of a pull against its repeats, relative: half of the usual scale, and worth four imagined repeats (no source; of
/// the fourteen recorded builds most come out at 0.2 to 0.3 % and one at 0.9, `validation/compare.rs`).
const BEND: f64 = 0.0035;
const BEND_DEGREES: usize = 4;
/// Draws behind the common factor: its quantile is then known to 0.3 % of chance.
const DRAWS: usize = 4000;

/// Spread of repeats, relative, standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Scale of a pull about its set: what is usual and what was seen, together.
    pub scale: f64,
    /// The same as seen alone; none without repeats.
    pub scale_seen: Option<f64>,
    /// Bend of a pull's curve about its set's.
    pub bend: f64,
    /// Degrees of freedom of both: imagined repeats and real ones.
    pub degrees: (usize, usize),
}

impl Spread {
    /// From the repeats of both sets: the mean of a pull's departure over the grid is its scale, the rest its bend.
    ///
    /// ```text
    /// s² = (ν₀ σ₀² + Σ d²)/(ν₀ + ν)
    /// ```
    ///
    /// ν counts pulls less sets, for the bend four times as many: five independent pieces in a pull, one of them its scale.
    /// Source: the scaled inverse chi-square as prior of a variance, in any text on Bayesian inference.
    /// Equation (8.9).
    pub(super) fn of(sets: &[Vec<Smooth>; 2], grid: &[f64]) -> Self {
        let (mut scales, mut bends, mut repeats) = (0.0, 0.0, 0);
        let pieces = INDEPENDENT_PIECES as usize - 1;
        let points = grid.len() as f64;
        for set in sets {
            let curves: Vec<Vec<(f64, f64)>> = set
                .iter()
                .map(|pull| {
                    let at = grid.iter().filter_map(|rpm| pull.at(*rpm));
                    at.map(|r| (r.ln_corrected, r.noise_var)).collect()
                })
                .collect();
            let n = curves.len() as f64;
            let mean: Vec<f64> = (0..grid.len())
                .map(|g| curves.iter().map(|c| c[g].0).sum::<f64>() / n)
                .collect();
            for curve in &curves {
                let off: Vec<f64> = curve.iter().zip(&mean).map(|(r, m)| r.0 - m).collect();
                let scale = off.iter().sum::<f64>() / points;
                scales += scale * scale;
                bends += off.iter().map(|d| (d - scale).powi(2)).sum::<f64>() / points;
                // A departure from a mean of n keeps (n − 1)/n of the noise; that of the bands is counted on its own.
                let noise = curve.iter().map(|r| r.1).sum::<f64>() / points;
                bends -= noise * (1.0 - 1.0 / n);
            }
            repeats += set.len() - 1;
        }
        let usual = Noise::default().pull;
        let degrees = (SCALE_DEGREES + repeats, BEND_DEGREES + pieces * repeats);
        let scale_var = SCALE_DEGREES as f64 * usual * usual + scales;
        // A mean of squares over the grid is a sum over the pieces but for their number.
        let bend_seen = bends.max(0.0) * f64::from(INDEPENDENT_PIECES);
        let bend_var = BEND_DEGREES as f64 * BEND * BEND + bend_seen;
        Self {
            scale: (scale_var / degrees.0 as f64).sqrt(),
            scale_seen: (repeats > 0).then(|| (scales / repeats as f64).sqrt()),
            bend: (bend_var / degrees.1 as f64).sqrt(),
            degrees,
        }
    }
}

/// Errors of the gains at all places of a comparison, with what they share.
pub(super) struct Errors<'a> {
    spread: &'a Spread,
    /// Standard deviation common to all places that no repeat shows.
    common: f64,
    /// `1/n_before + 1/n_after`.
    means: f64,
    /// Engine speeds of the places, rpm.
    rpm: &'a [f64],
    /// Standard deviation of the bands' noise in each gain.
    noise: &'a [f64],
}

impl<'a> Errors<'a> {
    pub(super) fn new(
        spread: &'a Spread,
        common: f64,
        (before, after): (usize, usize),
        rpm: &'a [f64],
        noise: &'a [f64],
    ) -> Self {
        Self {
            spread,
            common,
            means: 1.0 / before as f64 + 1.0 / after as f64,
            rpm,
            noise,
        }
    }

    /// Of the gain at a place.
    /// Equation (8.9).
    pub(super) fn standard_error(&self, place: usize) -> f64 {
        let Spread { scale, bend, .. } = self.spread;
        let repeats = (scale * scale + bend * bend) * self.means;
        (self.common.powi(2) + repeats + self.noise[place].powi(2)).sqrt()
    }

    /// The factor on the standard errors with which all gains' ranges hold together with the chance [`LEVEL`].
    ///
    /// By draws: a scale common to all places, a bend with five independent pieces, the bands' noise at each place, and the two
    /// variances themselves from what is believed of them, so that few repeats ask for more.
    /// Equation (8.9).
    pub(super) fn factor(&self, seed: u64) -> f64 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let errors: Vec<f64> = (0..self.rpm.len())
            .map(|i| self.standard_error(i))
            .collect();
        let mut largest: Vec<f64> = (0..DRAWS).map(|_| self.draw(&errors, &mut rng)).collect();
        largest.sort_by(f64::total_cmp);
        // Within the list by LEVEL below one.
        let rank = largest
            .iter()
            .enumerate()
            .position(|(i, _)| (i + 1) as f64 >= LEVEL * DRAWS as f64);
        rank.map_or(f64::INFINITY, |i| largest[i])
    }

    /// The largest of the standardised errors of one imagined pair of sets of an unchanged car.
    fn draw(&self, errors: &[f64], rng: &mut ChaCha8Rng) -> f64 {
        let mut believed = |sd: f64, degrees: usize| {
            let chi: f64 = (0..degrees).map(|_| standard_normal(rng).powi(2)).sum();
            sd * (degrees as f64 / chi).sqrt()
        };
        let scale = believed(self.spread.scale, self.spread.degrees.0);
        let bend = believed(self.spread.bend, self.spread.degrees.1);
        let root = self.means.sqrt();
        let all = self.common * standard_normal(rng) + scale * root * standard_normal(rng);
        let knots: Vec<f64> = (0..INDEPENDENT_PIECES)
            .map(|_| standard_normal(rng))
            .collect();
        let low = self.rpm.iter().copied().fold(f64::INFINITY, f64::min);
        let high = self.rpm.iter().copied().fold(0.0, f64::max);
        let bent = |rpm: f64| {
            let x = (rpm - low) / (high - low).max(1.0) * (knots.len() - 1) as f64;
            between(&knots, x)
        };
        self.rpm
            .iter()
            .zip(self.noise)
            .zip(errors)
            .map(|((rpm, noise), error)| {
                let off = all + bend * root * bent(*rpm) + noise * standard_normal(rng);
                off.abs() / error
            })
            .fold(0.0, f64::max)
    }
}

/// A process of variance one through independent knots: weights `cos` and `sin` between two neighbours.
fn between(knots: &[f64], x: f64) -> f64 {
    let last = knots.len() - 1;
    let mut left = 0;
    while left + 1 < last && x >= (left + 1) as f64 {
        left += 1;
    }
    let angle = (x - left as f64).clamp(0.0, 1.0) * std::f64::consts::FRAC_PI_2;
    knots[left] * angle.cos() + knots[left + 1] * angle.sin()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factor(spread: &Spread, common: f64, counts: (usize, usize)) -> f64 {
        let rpm: Vec<f64> = (0..20).map(|i| 2000.0 + 250.0 * f64::from(i)).collect();
        let noise = vec![0.0; rpm.len()];
        Errors::new(spread, common, counts, &rpm, &noise).factor(1)
    }

    #[test]
    fn one_error_common_to_all_places_needs_no_more_than_one_statement() {
        let spread = Spread {
            scale: 1e-9,
            scale_seen: None,
            bend: 1e-9,
            degrees: (6, 4),
        };
        // Normal: 97.5 % two-sided at 2.2414. A quantile of 4000 draws: sd √(0.025 · 0.975/4000)/(2 φ(2.24)) = 0.038.
        let found = factor(&spread, 0.02, (3, 3));
        assert!((found - 2.2414).abs() < 3.0 * 0.038, "{found}");
    }

    #[test]
    fn few_repeats_and_many_pieces_ask_for_more() {
        let spread = |degrees| Spread {
            scale: 0.007,
            scale_seen: None,
            bend: 0.0035,
            degrees,
        };
        let (few, many) = (spread((6, 4)), spread((1000, 1000)));
        let (few, many) = (factor(&few, 0.0, (1, 1)), factor(&many, 0.0, (1, 1)));
        // Above the single normal statement, below twenty independent ones (Šidák: 3.22).
        assert!(many > 2.30 && many < 3.22, "{many}");
        assert!(few > many + 0.3, "{few} {many}");
    }

    #[test]
    fn the_bend_has_the_same_size_everywhere() {
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let mut squares = [0.0; 9];
        for _ in 0..20_000 {
            let knots: Vec<f64> = (0..5).map(|_| standard_normal(&mut rng)).collect();
            for (i, s) in squares.iter_mut().enumerate() {
                *s += between(&knots, 0.5 * i as f64).powi(2) / 20_000.0;
            }
        }
        // A variance of 20 000 draws: sd √(2/20 000) = 1 %; nine of them within four.
        assert!(
            squares.iter().all(|s| (s - 1.0).abs() < 0.04),
            "{squares:?}"
        );
    }

    #[test]
    fn the_bend_has_no_step_at_a_knot() {
        let knots = [1.0, -2.0, 3.0, 0.5];
        for (at, knot) in knots.iter().enumerate() {
            // A quarter turn between knots moves by less than π/2 · 3 times the way.
            for off in [-1e-9, 0.0, 1e-9] {
                let read = between(&knots, at as f64 + off);
                assert!((read - knot).abs() < 1e-8, "{read} at knot {at}");
            }
        }
    }
}
