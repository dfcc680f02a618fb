//! Readings of drum speed that no drum can have made: single ones that jump away and back, and a sensor that stood still.
//!
//! One such reading would part a pull in two, because a drum that is slower an instant later looks like a throttle closed. They are
//! found by what inertia forbids, left out, and told with their rows; nothing is put in their place. It refuses to judge more than
//! two readings in a row that differ from each other: that may be a wheel that slipped.

use super::signal::{Measured, Signal};
use crate::numeric::{MAD_TO_SD, upper_median};
use std::ops::Range;

/// Pairs of neighbours, one before and one after, that foretell a reading: two bad ones in a row spoil two of them.
const PAIRS: usize = 5;
/// Most readings in a row that are called single.
const LONGEST: usize = 2;
/// Change of acceleration beyond which no car or brake moves a drum's surface, m/s²: one and a half g, more than tyres hold. No
/// source, assumed.
const MOST_M_S2: f64 = 15.0;
/// Deviation that noise does not make, in standard deviations of the log about the place.
const CLEAR: f64 = 8.0;
/// Rows on either side from which that noise is taken.
const NOISE_ROWS: usize = 60;
/// A sensor is called stuck from here, s and rows.
const STUCK: (f64, usize) = (0.2, 8);
/// Jump that ends it, m/s and in smallest steps of the log: a coarse log repeats itself too.
const JUMP: (f64, f64) = (0.4, 3.0);
/// Time without readings within a stretch that is told, s, and in typical steps.
const HOLE: (f64, f64) = (0.25, 5.0);

/// What was found in a log.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BadReadings {
    /// Rows of single readings that jump away and back, each with what its neighbours foretell, m/s.
    pub single: Vec<(usize, f64)>,
    /// Rows over which the sensor stood still before it jumped on; the first of them may be true.
    pub stuck: Vec<Range<usize>>,
}

impl BadReadings {
    /// Looks through a log of speed; counts are left alone, they cannot fall back.
    pub fn of(signal: &Signal) -> Self {
        if signal.measured != Measured::Speed {
            return Self::default();
        }
        let stuck = stuck(signal);
        let mut single = single(signal);
        single.retain(|(row, _)| !stuck.iter().any(|range| range.contains(row)));
        Self { single, stuck }
    }

    /// Whether a row is left out.
    pub fn leaves_out(&self, row: usize) -> bool {
        self.single.iter().any(|(bad, _)| *bad == row)
            || self
                .stuck
                .iter()
                .any(|range| range.contains(&row) && row != range.start)
    }
}

/// Equation (6.23).
fn single(signal: &Signal) -> Vec<(usize, f64)> {
    let (time, speed) = (&signal.time_s, &signal.values);
    let n = speed.len();
    if n < 2 * PAIRS + 1 {
        return Vec::new();
    }
    let predicted = |i: usize| {
        let mut pairs: Vec<f64> = (1..=PAIRS)
            .map(|k| {
                let (a, b) = (i - k, i + k);
                let share = (time[i] - time[a]) / (time[b] - time[a]);
                speed[a] + share * (speed[b] - speed[a])
            })
            .collect();
        pairs.sort_by(f64::total_cmp);
        pairs[PAIRS / 2]
    };
    let inner = PAIRS..n - PAIRS;
    let expected: Vec<f64> = inner.clone().map(predicted).collect();
    let off = |i: usize| speed[i] - expected[i - PAIRS];
    let mut found: Vec<usize> = Vec::new();
    for i in inner {
        // A corner between two accelerations strays so far from the straight line between the middle pair.
        let reach_s = 0.5 * (time[i + PAIRS / 2 + 1] - time[i - PAIRS / 2 - 1]);
        let corner = 0.5 * MOST_M_S2 * reach_s;
        if off(i).abs() <= corner {
            continue;
        }
        let low = i.saturating_sub(NOISE_ROWS).max(PAIRS);
        let high = (i + NOISE_ROWS + 1).min(n - PAIRS);
        let stray = upper_median((low..high).map(|j| off(j).abs())).unwrap_or(f64::NAN);
        if off(i).abs() > CLEAR * MAD_TO_SD * stray {
            found.push(i);
        }
    }
    // Longer runs are no single readings.
    let runs = found.chunk_by(|a, b| a + 1 == *b);
    runs.filter(|run| run.len() <= LONGEST)
        .flatten()
        .map(|&i| (i, expected[i - PAIRS]))
        .collect()
}

/// Equation (6.23).
#[expect(
    clippy::float_cmp,
    reason = "a stuck sensor repeats its reading to the last digit"
)]
fn stuck(signal: &Signal) -> Vec<Range<usize>> {
    let (time, speed) = (&signal.time_s, &signal.values);
    let steps = speed.windows(2).map(|v| (v[1] - v[0]).abs());
    let smallest = steps.filter(|d| *d > 0.0).fold(f64::INFINITY, f64::min);
    let mut found = Vec::new();
    let mut start = 0;
    for i in 1..speed.len() {
        if speed[i] == speed[i - 1] {
            continue;
        }
        let long = i - start >= STUCK.1 && time[i - 1] - time[start] >= STUCK.0;
        let jump = (speed[i] - speed[i - 1]).abs();
        let forbidden =
            jump > MOST_M_S2 * (time[i] - time[i - 1]) && jump > JUMP.0.max(JUMP.1 * smallest);
        if long && forbidden {
            found.push(start..i);
        }
        start = i;
    }
    found
}

/// Holes in time among the rows of a stretch, as the rows on either side.
pub fn holes(time_s: &[f64], rows: Range<usize>) -> Vec<(usize, usize)> {
    let steps = time_s[rows.clone()].windows(2).map(|t| t[1] - t[0]);
    let step_s = upper_median(steps).unwrap_or(0.0);
    let longest = HOLE.0.max(HOLE.1 * step_s);
    (rows.start + 1..rows.end)
        .filter(|&i| time_s[i] - time_s[i - 1] > longest)
        .map(|i| (i - 1, i))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A drum at 50 readings a second that gathers speed, is let go at ten seconds and strays by a little in no order.
    fn log() -> Signal {
        let time: Vec<f64> = (0..1000).map(|i| 0.02 * f64::from(i)).collect();
        let speed = time
            .iter()
            .enumerate()
            .map(|(i, t)| {
                let course = if *t < 10.0 {
                    10.0 + 3.0 * t
                } else {
                    40.0 - 1.5 * (t - 10.0)
                };
                course + 0.01 * ((i * 7919) % 101) as f64 / 101.0
            })
            .collect();
        Signal::even(Measured::Speed, time, speed)
    }

    #[test]
    fn a_sound_log_with_its_corner_is_left_alone() {
        assert_eq!(BadReadings::of(&log()), BadReadings::default());
    }

    #[test]
    fn single_readings_that_jump_are_found_with_what_was_due() {
        for size in [0.0, 0.5, 0.95, 1.05, 1.5] {
            let mut log = log();
            log.values[300] *= size;
            log.values[301] *= size;
            log.values[700] *= size;
            let found = BadReadings::of(&log);
            let rows: Vec<usize> = found.single.iter().map(|(row, _)| *row).collect();
            assert_eq!(rows, [300, 301, 700], "times {size}");
            // Row 300 is at six seconds: 28 m/s.
            assert!((found.single[0].1 - 28.0).abs() < 0.1, "{found:?}");
            assert!(found.stuck.is_empty());
        }
    }

    #[test]
    fn a_sensor_that_stands_still_is_stuck_and_a_drum_at_rest_is_not() {
        let mut log = log();
        for row in 200..240 {
            log.values[row] = log.values[200];
        }
        let found = BadReadings::of(&log);
        assert_eq!(found.stuck, std::iter::once(200..240).collect::<Vec<_>>());
        assert!(!found.leaves_out(200) && found.leaves_out(239) && !found.leaves_out(240));
        // At rest for four seconds, then driven.
        let mut rest = self::log();
        for (row, value) in rest.values.iter_mut().enumerate() {
            *value = (0.06 * (row as f64 - 200.0)).max(0.0);
        }
        assert_eq!(BadReadings::of(&rest), BadReadings::default());
    }

    #[test]
    fn a_hole_is_a_step_far_longer_than_the_others() {
        let mut time = log().time_s;
        time.drain(400..500);
        assert_eq!(holes(&time, 0..time.len()), [(399, 400)]);
        assert_eq!(holes(&time, 0..300), []);
    }
}
