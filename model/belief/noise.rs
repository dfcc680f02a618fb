//! How far measurements stray from what they measure, and how far the model is trusted: the doubts that belong to no part of the car.
//!
//! The fit weighs its residuals by them, the quote strays by them, the comparison and the diagnosis judge by them; so they stand
//! once. Nothing here knows a recording.

use super::miss::Miss;
use crate::dyno::recording_check::{BAND, RADIUS};

/// How far measurements stray, and how far the model is trusted. Standard deviations; relative unless a unit is named.
///
/// | field | default | basis |
/// |---|---|---|
/// | `visit` | 0.015 | day-to-day repeatability of an inertia drum, common practice, no source |
/// | `pull` | 0.007 | repeatability within a day, common practice, no source |
/// | `shape` | 0.010 | what a mean-value model may miss of a curve's shape, no source |
/// | `miss` | [`Miss`] | what the model may misjudge of a change |
/// | `manifold` | 1000 Pa, 400 Pa | shop-grade sensor, common practice, no source |
/// | `charge` | 3 K, 2.5 K | sensor and its place, common practice, no source |
/// | `lambda` | 0.01, 0.006 | wideband sensor, common practice, no source |
/// | `spark` | 10 deg, 6 deg | timing mark and cycle: from the spark to half the burn is known no better; no source, see below |
/// | `spark_tilt` | 8 deg | the same, growing from the lowest to the highest speed; no source |
/// | `fuel_flow` | 0.08, 0.03 | injectors' flow as typed into a controller; common practice, no source, see below |
/// | `air_flow` | 0.05, 0.03 | air meter, common practice, no source |
/// | `drum_ratio` | 0.01, 0.002 | a stated rolling radius; lag of the pick-up and run-out: see [`crate::dyno::recording_check`] |
///
/// A calibrated fuel flow is good to 2 %. Fitted as well as that, though, it makes quotes of recorded builds worse: what the law of
/// knock gets wrong at high speed and boost no longer hides in the filling, and shows in the gain (new displacement blowers +9 points in the mean, +6 without). So these logs speak softly until that law agrees with them.
///
/// Equation (8.1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Common scale of a visit.
    pub visit: f64,
    /// Scale of a pull about its visit.
    pub pull: f64,
    /// Shape of the power curve that the model cannot follow.
    pub shape: f64,
    /// What the model may misjudge of a change.
    pub miss: Miss,
    /// Manifold pressure, Pa.
    pub manifold: SensorError,
    /// Charge temperature, K.
    pub charge: SensorError,
    /// Relative air-fuel ratio.
    pub lambda: SensorError,
    /// Spark angle, deg.
    pub spark: SensorError,
    /// Spark angle: offset that grows from the lowest speed of a pull to its highest, deg.
    pub spark_tilt: f64,
    /// Fuel flow, relative.
    pub fuel_flow: SensorError,
    /// Air flow, relative.
    pub air_flow: SensorError,
    /// Engine over drum speed, relative.
    pub drum_ratio: SensorError,
}

/// Error of a logged channel, in its own SI unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorError {
    /// Offset, the same all through a visit.
    pub offset: f64,
    /// Smooth error over engine speed, the model's included.
    pub shape: f64,
}

impl Default for Noise {
    fn default() -> Self {
        Self {
            visit: 0.015,
            pull: 0.007,
            shape: 0.010,
            miss: Miss::default(),
            manifold: SensorError {
                offset: 1000.0,
                shape: 400.0,
            },
            charge: SensorError {
                offset: 3.0,
                shape: 2.5,
            },
            lambda: SensorError {
                offset: 0.01,
                shape: 0.006,
            },
            spark: SensorError {
                offset: 10.0,
                shape: 6.0,
            },
            spark_tilt: 8.0,
            fuel_flow: SensorError {
                offset: 0.08,
                shape: 0.03,
            },
            air_flow: SensorError {
                offset: 0.05,
                shape: 0.03,
            },
            drum_ratio: SensorError {
                offset: RADIUS,
                shape: BAND,
            },
        }
    }
}

/// Independent pieces in a channel's error over one pull. Sensor bias and model error are smooth over engine speed; some
/// five bends fit into a pull, so forty bands of one pull hold no more than five independent errors of that kind.
pub const INDEPENDENT_PIECES: u32 = 5;
