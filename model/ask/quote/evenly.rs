//! Draws shared out evenly along what moves a reading most, and how many of them the ends of its range need.
//!
//! Luck moves the ends of a range less where none is left along the direction in which car, or work, move the reading most. So each draw takes its place
//! along both from a sequence that fills them evenly, however many draws there are, and all that lies across is left to chance. A car that was
//! fitted on drums has its level from the fitted curve: there only the work has such a direction. It refuses to change what a single draw may be.
//!
//! Source: stratified sampling; the sequence of J. H. Halton, its start drawn (P. Cranley and T. N. L. Patterson; all from memory).

use super::draw::{built, complete, peak_w};
use super::{MOST_TURBO_DRAWS, MOST_USUAL_DRAWS, POINTS, Question, USUAL_DRAWS};
use crate::ask::draws::{Along, AtCentre, stream};
use crate::belief::prior::Prior;
use crate::belief::sheet::share_below;
use crate::car::Car;
use crate::dyno::Setup;
use crate::numeric::side_by_side;
use crate::parts::Plan;
use rand::RngExt;
use rand::distr::Open01;

/// Doubt that luck may leave in an end of a range: a standard deviation, as a share of the power. Ten seeds then spread over some three of them.
const LUCK: f64 = 0.0025;
/// Standard deviation of an end of the range over that of the cars drawn, times the root of their number: 2.1 for draws at random of a normal
/// distribution (its density at the fifth percentile); 0.8 to 1.4 over 20 seeds of the demo cars, shared out evenly.
const OF_AN_END: f64 = 1.4;

/// Shares between nothing and all that numbered draws take, one after the other.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Shares {
    base: usize,
    start: f64,
}

/// Bases of the shares for cars, works and strays: without a common factor, they fill a cube evenly.
const BASES: [usize; 3] = [2, 3, 5];

impl Shares {
    fn new(seed: u64, base: usize) -> Self {
        // A stream that no draw has.
        let start = stream(seed, u64::MAX - base as u64).sample(Open01);
        Self { base, start }
    }

    /// For what strays from reading to reading.
    pub(super) fn of_strays(seed: u64) -> Self {
        Self::new(seed, BASES[2])
    }

    /// That of a draw.
    pub(super) fn of(self, index: usize) -> f64 {
        let share = (radical_inverse(self.base, index + 1) + self.start).fract();
        // A share of nothing would stand infinitely far.
        share.max(f64::EPSILON)
    }
}

/// Where each draw stands along a direction; by default in no direction anywhere.
#[derive(Debug, Clone, Default)]
pub(super) struct Evenly {
    along: Option<Along>,
    shares: Shares,
}

impl Evenly {
    /// What a numbered draw is told.
    pub(super) fn told(&self, index: usize) -> Option<(&Along, f64)> {
        let along = self.along.as_ref()?;
        Some((along, self.shares.of(index)))
    }
}

/// A number's digits behind the point in reverse: 1, 2, 3 in base 2 are 0.1, 0.01, 0.11.
fn radical_inverse(base: usize, mut number: usize) -> f64 {
    let (mut value, mut digit) = (0.0, 1.0);
    while number > 0 {
        digit /= base as f64;
        value += digit * (number % base) as f64;
        number /= base;
    }
    value
}

/// Logarithms of peak power one standard deviation of each number below the centre and above it.
type Ends = Vec<[Option<f64>; 2]>;

/// Change with one standard deviation; none where a pull cannot be made.
fn slopes(ends: &Ends) -> Vec<f64> {
    let slope = |[low, high]: &[Option<f64>; 2]| high.zip(*low).map_or(0.0, |(h, l)| 0.5 * (h - l));
    ends.iter().map(slope).collect()
}

impl Question<'_> {
    /// How the peak before the work goes with each number of the car.
    pub(super) fn car_sways(&self) -> Vec<f64> {
        slopes(&self.over_cars(|car| self.peak_ln(car)))
    }

    /// How the peak after it goes with each number of the work.
    pub(super) fn work_sways(&self, plan: &Plan<Prior>, at_centre: &AtCentre) -> Vec<f64> {
        slopes(&self.over_works(plan, at_centre))
    }

    /// How draws of the car are shared out, by its sways, where they are known already.
    pub(super) fn cars_evenly(&self, sways: Option<Vec<f64>>) -> Evenly {
        if self.sheet.is_fitted_on_drums() {
            return Evenly::default();
        }
        self.evenly(&sways.unwrap_or_else(|| self.car_sways()), BASES[0])
    }

    /// How draws of the work are shared out.
    pub(super) fn works_evenly(&self, sways: &[f64]) -> Evenly {
        self.evenly(sways, BASES[1])
    }

    fn evenly(&self, slopes: &[f64], base: usize) -> Evenly {
        Evenly {
            along: Along::rising(slopes),
            shares: Shares::new(self.seed, base),
        }
    }

    /// How many draws leave so little luck in the ends of the range, and in those of the gain.
    ///
    /// ```text
    /// (1.4 sd/0.25 %)²
    /// ```
    ///
    /// Equation (8.6).
    pub(super) fn enough_draws(
        &self,
        (before, work): (&[f64], &[f64]),
        built_car: &Car,
        at_centre: &AtCentre,
    ) -> usize {
        let turbo = [&self.sheet.centre.car, built_car]
            .iter()
            .any(|car| car.blower.turbo().is_some());
        let most = if turbo {
            MOST_TURBO_DRAWS
        } else {
            MOST_USUAL_DRAWS
        };
        let plan = self.plan.map(|_, _, prior| prior.centre());
        let after =
            slopes(&self.over_cars(|car| self.peak_ln(&built(car, &plan, at_centre).ok()?)));
        let squares = |slopes: &[f64]| slopes.iter().map(|slope| slope * slope).sum::<f64>();
        let gain: Vec<f64> = after.iter().zip(before).map(|(a, b)| a - b).collect();
        let mut moved = squares(&gain);
        if !self.sheet.is_fitted_on_drums() {
            moved = moved.max(squares(&after));
        }
        let sd = (moved + squares(work)).sqrt();
        let left = |draws: usize| OF_AN_END * sd / (draws as f64).sqrt();
        let mut counts = (USUAL_DRAWS..most).step_by(100);
        counts.find(|&draws| left(draws) <= LUCK).unwrap_or(most)
    }

    fn over_cars(&self, figure: impl Fn(&Setup) -> Option<f64> + Sync) -> Ends {
        side_by_side(self.sheet.free_count(), |number| {
            [-1.0, 1.0].map(|by| {
                let mut setup = self.sheet.setup_off_centre(number, by);
                setup.car.retabulate_knock();
                figure(&setup)
            })
        })
    }

    fn over_works(&self, plan: &Plan<Prior>, at_centre: &AtCentre) -> Ends {
        let mut count = 0;
        plan.map(|_, _, _| count += 1);
        side_by_side(count, |number| {
            [-1.0, 1.0].map(|by| {
                let mut next = 0;
                let moved = plan.map(|_, _, prior| {
                    next += 1;
                    if next == number + 1 {
                        prior.quantile(share_below(by))
                    } else {
                        prior.centre()
                    }
                });
                self.peak_ln(&built(&self.sheet.centre, &moved, at_centre).ok()?)
            })
        })
    }

    /// Logarithm of the highest power in the air of the pull after.
    fn peak_ln(&self, setup: &Setup) -> Option<f64> {
        let pull = complete(setup.pull(&self.after.day, &self.ends(setup), POINTS))?;
        Some(peak_w(&pull).ln()).filter(|ln| ln.is_finite())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_fills_evenly_however_far_it_goes() {
        // Digits in reverse, by hand.
        let first: Vec<f64> = (1..6).map(|k| radical_inverse(2, k)).collect();
        assert_eq!(first, [0.5, 0.25, 0.75, 0.125, 0.625]);
        let third: Vec<f64> = (1..5).map(|k| 9.0 * radical_inverse(3, k)).collect();
        for (found, expected) in third.iter().zip([3.0, 6.0, 1.0, 4.0]) {
            assert!((found - expected).abs() < 1e-12);
        }
        // Of the first n, any tenth holds n/10 within three.
        for count in [50, 300, 1234] {
            for tenth in 0..10 {
                let (low, high) = (0.1 * f64::from(tenth), 0.1 * f64::from(tenth + 1));
                let inside = (1..=count)
                    .filter(|&k| (low..high).contains(&radical_inverse(3, k)))
                    .count();
                assert!(inside.abs_diff(count / 10) <= 3, "{count} {tenth} {inside}");
            }
        }
    }
}
