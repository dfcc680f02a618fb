//! How far measurements stray from what they measure, and how far the model is trusted: the doubts that belong to no part of the car.
//!
//! The fit weighs its residuals by them, the quote strays by them, the comparison and the diagnosis judge by them; so they stand
//! once. Nothing here knows a recording.

/// How far measurements stray, and how far the model is trusted. Standard deviations; relative unless a unit is named.
///
/// | field | default | basis |
/// |---|---|---|
/// | `visit` | 0.015 | day-to-day repeatability of an inertia drum, common practice, no source |
/// | `pull` | 0.007 | repeatability within a day, common practice, no source |
/// | `shape` | 0.010 | what a mean-value model may miss of a curve's shape, no source |
/// | `transfer` | 0.20 | what the model may miss of a gain, as a share of it; no source: half of the 40 % (root mean square) by which the recorded builds miss, for the other half is a bias |
/// | `manifold` | 1000 Pa, 400 Pa | shop-grade sensor, common practice, no source |
/// | `charge` | 3 K, 2.5 K | sensor and its place, common practice, no source |
/// | `lambda` | 0.01, 0.006 | wideband sensor, common practice, no source |
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
    /// Error of a predicted change of power, as a share of the change.
    pub transfer: f64,
    /// Manifold pressure, Pa.
    pub manifold: SensorError,
    /// Charge temperature, K.
    pub charge: SensorError,
    /// Relative air-fuel ratio.
    pub lambda: SensorError,
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
            transfer: 0.20,
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
        }
    }
}

/// Independent pieces in a channel's error over one pull. Sensor bias and model error are smooth over engine speed; some
/// five bends fit into a pull, so forty bands of one pull hold no more than five independent errors of that kind.
pub const INDEPENDENT_PIECES: u32 = 5;
