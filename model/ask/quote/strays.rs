//! What strays between one reading of a drawn car and the next: the drums from visit to visit and pull to pull, and what the model misses.
//!
//! None of it needs a pull. So each drawn car, whose pulls take nearly all of a draw's time, is read several times over: with as many sets of
//! strays, each drawn for itself but for one thing. The strays add up to one shift of the reading, of known standard deviation, and the shifts of one
//! car are drawn from as many equal shares of its normal distribution, one from each. Every reading by itself strays as it would alone; together
//! they leave little to luck. It refuses to touch what a pull is made from.
//!
//! Source: stratified sampling (W. G. Cochran, Sampling Techniques, ch. 5; from memory).

use crate::ask::draws::Along;
use crate::ask::miss::{Missed, NUMBERS};
use crate::belief::Noise;
use crate::belief::sheet::standard_normal;
use rand::Rng;
use std::array;

/// Readings that a quote is told from, at least.
const READINGS: usize = 2400;
/// Readings of one car, at most: with more, what the cars themselves stray is all that is left.
const MOST_OF_A_CAR: usize = 8;

/// How often each car of so many draws is read.
/// Equation (8.6).
pub(super) fn readings_of_a_car(draws: usize) -> usize {
    READINGS.div_ceil(draws.max(1)).clamp(1, MOST_OF_A_CAR)
}

/// Strays of one reading after the work, and of the one before that it is held against.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strays {
    /// Of the visits before and after, relative.
    pub(super) old_visit: f64,
    pub(super) new_visit: f64,
    /// Of the pulls before and after within their visits.
    pub(super) old_pull: f64,
    pub(super) new_pull: f64,
    /// What the model misses.
    pub(super) missed: Missed,
}

/// Numbers N(0, 1) of a set: the drums' four and what is missed.
const DRUMS: usize = 4;
const ALL: usize = DRUMS + NUMBERS;

/// How the logarithm of a reading goes with each number of a set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slopes([f64; ALL]);

impl Slopes {
    /// Of the reading at one engine speed after the work. A fitted curve is what the old visit read, so a car that was fitted reads less by its stray.
    pub(super) fn new(noise: &Noise, fitted: bool, missed: &[f64; NUMBERS]) -> Self {
        let old_visit = if fitted { -noise.visit } else { 0.0 };
        let drums = [old_visit, noise.visit, 0.0, noise.pull];
        Self(array::from_fn(|k| {
            drums.get(k).copied().unwrap_or_else(|| missed[k - DRUMS])
        }))
    }
}

impl Strays {
    /// So many sets of strays of one car, whose shifts along the slopes share out their normal distribution evenly.
    ///
    /// ```text
    /// Φ(n·g/|g|) = (k + u)/count,   k = 0, 1, 2, ...
    /// ```
    ///
    /// n: the numbers of set k, N(0, 1); g: the slopes; u: the car's own share, from 0 to 1.
    /// Equation (8.6).
    pub(super) fn sets<R: Rng + ?Sized>(
        rng: &mut R,
        noise: &Noise,
        Slopes(slopes): &Slopes,
        (count, within): (usize, f64),
    ) -> Vec<Self> {
        let mut sets: Vec<[f64; ALL]> = (0..count)
            .map(|_| array::from_fn(|_| standard_normal(rng)))
            .collect();
        if let Some(shift) = Along::rising(slopes) {
            for (k, numbers) in sets.iter_mut().enumerate() {
                shift.place(numbers, (k as f64 + within) / count as f64);
            }
        }
        sets.iter()
            .map(|numbers| Self::of(numbers, noise))
            .collect()
    }

    fn of(numbers: &[f64; ALL], noise: &Noise) -> Self {
        Self {
            old_visit: noise.visit * numbers[0],
            new_visit: noise.visit * numbers[1],
            old_pull: noise.pull * numbers[2],
            new_pull: noise.pull * numbers[3],
            missed: Missed::of_numbers(&array::from_fn(|k| numbers[DRUMS + k])),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::evenly::Shares;
    use super::*;
    use crate::ask::draws::stream;
    use crate::belief::sheet::normal_at;

    #[test]
    fn every_share_of_a_shift_is_drawn_from_once_and_other_strays_are_left_alone() {
        let noise = Noise {
            visit: 0.03,
            pull: 0.04,
            ..Noise::default()
        };
        let slopes = Slopes::new(&noise, false, &[0.0; NUMBERS]);
        let (cars, count) = (500, 8);
        let (mut shifts, mut others) = (Vec::new(), Vec::new());
        for car in 0..cars {
            let share = Shares::of_strays(3).of(car);
            let rng = &mut stream(3, car as u64);
            let sets = Strays::sets(rng, &noise, &slopes, (count, share));
            for (k, set) in sets.iter().enumerate() {
                // Three and four make five.
                let shift = (set.new_visit + set.new_pull) / 0.05;
                let (low, high) = (k as f64 / count as f64, (k as f64 + 1.0) / count as f64);
                assert!(shift > normal_at(low) && shift < normal_at(high));
                shifts.push(shift);
                // Across the shift, and what has no part in it.
                let across = (
                    0.8 * set.new_visit / 0.03 - 0.6 * set.new_pull / 0.04,
                    set.old_visit / 0.03,
                );
                others.extend([across.0, across.1]);
            }
        }
        let mean_and_sd = |values: &[f64]| {
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            let squares = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
            (mean, (squares / n).sqrt())
        };
        // One number a car is left to luck along the shift: within a share of a quarter of a standard deviation, so three errors of the mean of 500
        // are 0.03. Across it all 8000 are: three standard errors are 0.034 and 0.024.
        let (mean, sd) = mean_and_sd(&shifts);
        assert!(mean.abs() < 0.03 && (sd - 1.0).abs() < 0.03, "{mean} {sd}");
        let (mean, sd) = mean_and_sd(&others);
        assert!(
            mean.abs() < 0.034 && (sd - 1.0).abs() < 0.024,
            "{mean} {sd}"
        );
    }

    #[test]
    fn few_draws_are_read_often_and_many_once() {
        let readings: Vec<usize> = [50, 300, 700, 2400, 10_000].map(readings_of_a_car).into();
        assert_eq!(readings, [8, 8, 4, 1, 1]);
    }
}
