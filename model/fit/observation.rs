//! What was measured: pulls with the day they were made on, grouped into visits to the drums.
//!
//! Everything that strays with the visit (straps, tyre temperature, the rig's own calibration that day) is shared by its pulls;
//! everything that strays with the pull is its own. The fit keeps the two apart, because repeating a pull averages
//! only the second.

use crate::air::Day;
use crate::dyno::{Conditions, Curve};

/// One measured pull.
#[derive(Debug, Clone)]
pub struct MeasuredPull {
    /// What the shop calls it.
    pub name: String,
    /// The air it was made in.
    pub day: Day,
    /// How it was started. Start and end speed are taken from the curve; the core temperature, where not stated, from
    /// the pull before.
    pub conditions: Conditions,
    /// Time since the end of the pull before, s; `None` for the first of a visit or a rested car.
    pub rest_s: Option<f64>,
    /// The curve.
    pub curve: Curve,
}

/// Pulls made without taking the car off the drums.
#[derive(Debug, Clone)]
pub struct Visit {
    /// What the shop calls it.
    pub name: String,
    /// The pulls, in the order made.
    pub pulls: Vec<MeasuredPull>,
}

impl Visit {
    /// The pulls as the car is driven: with the electric axle on or, if there is none, all of them.
    pub fn as_driven(&self) -> Vec<&MeasuredPull> {
        let on: Vec<_> = self.pulls.iter().filter(|p| p.conditions.axle.on).collect();
        if on.is_empty() {
            self.pulls.iter().collect()
        } else {
            on
        }
    }

    /// Peak power read in this visit, W: the mean over those pulls; `None` without a reading.
    pub fn read_w(&self) -> Option<f64> {
        let peaks: Vec<f64> = self
            .as_driven()
            .into_iter()
            .filter_map(|pull| {
                pull.curve
                    .bands
                    .iter()
                    .map(|b| b.power_w)
                    .max_by(f64::total_cmp)
            })
            .collect();
        (!peaks.is_empty()).then(|| peaks.iter().sum::<f64>() / peaks.len() as f64)
    }
}

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
