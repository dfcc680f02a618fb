//! Encoder counts to the way of the drum's surface, with what the counter leaves open.
//!
//! A counter shows whole teeth. When it has just advanced, the drum has turned past the tooth by no more than what it turns
//! between two samples, and by less than a tooth; a row on which it has not advanced only repeats the last. So rows of an
//! advance are kept, each placed in the middle of what is possible, with the variance of that width. It refuses a
//! counter that runs backwards.

use super::signal::{Measured, Signal};

/// Smallest width, teeth: below this a timer's jitter is what is left. Common practice, no source.
const LEAST_WIDTH: f64 = 0.05;
/// Advances over which the rate is taken.
const NEAR: usize = 8;

/// Why counts are no way.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CountError {
    /// The counter falls.
    #[error("the counter goes from {from} to {to}")]
    Backwards {
        /// Row, from 0.
        row: usize,
        /// Count before.
        from: f64,
        /// Count there.
        to: f64,
    },
}

/// The way of a surface from counts, and the row of the log that each of its rows comes from.
///
/// ```text
/// s_i = 2π R/n · (N_i + w_i/2),   w_i = min(1, teeth between samples),   variance ∝ w_i²/12
/// ```
///
/// Holds where the drum turns one way. Derived: an angle evenly spread over what the counter leaves open. Worked: 60 teeth, R =
/// 0.61 m, 50 m/s at 1000 Hz: 0.783 teeth between samples, 14.4 mm standard deviation.
/// Equation (6.25).
pub fn way(
    time_s: &[f64],
    counts: &[f64],
    teeth: f64,
    radius_m: f64,
) -> Result<(Signal, Vec<usize>), CountError> {
    if let Some(row) = (1..counts.len()).find(|&row| counts[row] < counts[row - 1]) {
        return Err(CountError::Backwards {
            row,
            from: counts[row - 1],
            to: counts[row],
        });
    }
    let advances: Vec<usize> = (1..counts.len())
        .filter(|&row| counts[row] > counts[row - 1])
        .collect();
    let pitch_m = std::f64::consts::TAU * radius_m / teeth;
    let mut signal = Signal::even(Measured::Way, Vec::new(), Vec::new());
    for (i, &row) in advances.iter().enumerate() {
        let (a, b) = (
            advances[i.saturating_sub(NEAR)],
            advances[(i + NEAR).min(advances.len() - 1)],
        );
        let rate = if b > a {
            (counts[b] - counts[a]) / (time_s[b] - time_s[a])
        } else {
            0.0
        };
        let width = (rate * (time_s[row] - time_s[row - 1])).clamp(LEAST_WIDTH, 1.0);
        signal.time_s.push(time_s[row]);
        signal.values.push(pitch_m * (counts[row] + 0.5 * width));
        signal.weight.push(width * width);
    }
    Ok((signal, advances))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_drum_is_placed_within_what_the_counter_leaves_open() {
        // 0.37 teeth between samples: most rows repeat the count.
        let time: Vec<f64> = (0..400).map(|i| 0.001 * f64::from(i)).collect();
        let counts: Vec<f64> = time.iter().map(|t| (370.0 * t + 0.2).floor()).collect();
        let (signal, rows) = way(&time, &counts, 60.0, 0.3).expect("a way");
        assert_eq!(rows.len(), 148 - usize::from(counts[399] < 147.5));
        let pitch = std::f64::consts::TAU * 0.3 / 60.0;
        for (t, s) in signal.time_s.iter().zip(&signal.values) {
            let truth = pitch * (370.0 * t + 0.2);
            // Half of what lies between two samples, and the error of the rate from 16 advances (a tooth in 16, halved).
            assert!(
                (s - truth).abs() < pitch * (0.185 + 0.02),
                "{t}: {s} {truth}"
            );
        }
    }

    #[test]
    fn a_counter_that_falls_is_refused_with_its_row() {
        let error = way(&[0.0, 0.1, 0.2], &[5.0, 9.0, 0.0], 60.0, 0.3).expect_err("a fall");
        assert_eq!(
            error,
            CountError::Backwards {
                row: 2,
                from: 9.0,
                to: 0.0
            }
        );
    }
}
