//! What is asked of a drum log, and why it may have no answer.

use super::align::AlignError;
use super::coast_down::{CoastError, State};
use super::counts::CountError;
use super::rig::Rig;
use super::roll_force::{ForceError, ForceLog};
use super::smoothed::SmoothError;
use serde::Serialize;

/// What the drum's sensor logged.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// Speed of the surface, m/s.
    Speed(Vec<f64>),
    /// Encoder counts, and teeth in a turn.
    Counts {
        /// Running count.
        counts: Vec<f64>,
        /// Counts in a turn.
        teeth: f64,
    },
}

/// A drum log.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// Time, s, increasing.
    pub time_s: Vec<f64>,
    /// The drum.
    pub reading: Reading,
    /// Engine speed, rpm, where logged on the same clock.
    pub engine_rpm: Option<Vec<f64>>,
    /// Force at the drums, where logged.
    pub force: Option<ForceLog>,
}

/// An engine log on a clock of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct EngineLog {
    /// Time, s, increasing.
    pub time_s: Vec<f64>,
    /// Engine speed, rpm.
    pub engine_rpm: Vec<f64>,
}

/// How to smooth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "method", rename_all = "snake_case")]
pub enum Ask {
    /// By state space; there is nothing to set.
    StateSpace,
    /// By local parabolas over a span of engine speed, rpm.
    LocalPolynomial {
        /// Span, rpm.
        span_rpm: f64,
    },
}

/// What to do with the run-down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoastAsk {
    /// What turned.
    pub state: State,
    /// Mass at the surface of what turned with the drum, kg.
    pub turning_kg: f64,
    /// Its standard deviation, kg.
    pub turning_sd_kg: f64,
    /// Part of the log, s; left out, the longest run-down.
    pub between_s: Option<(f64, f64)>,
}

/// What is asked of a log.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The log.
    pub log: &'a Log,
    /// An engine log on another clock.
    pub engine: Option<&'a EngineLog>,
    /// The drums.
    pub rig: Rig,
    /// Engine speed over surface speed, rpm per m/s, from gearing and tyre.
    pub gearing_rpm_s_m: Option<f64>,
    /// How to smooth.
    pub ask: Ask,
    /// Width of the bands of engine speed, rpm.
    pub band_rpm: f64,
    /// Whether, and how, to read drag from a run-down.
    pub coast: Option<CoastAsk>,
}

/// Where the engine's speed came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EngineSource {
    /// Logged with the drum.
    DrumLog,
    /// From the engine log.
    EngineLog,
    /// From gearing and tyre, without slip.
    Gearing,
    /// No curve is drawn, so none was needed.
    NotNeeded,
}

/// Why a log gives no curves at all.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReduceError {
    /// The counter is no counter.
    #[error("{0}")]
    Counts(CountError),
    /// Nothing is driven.
    #[error(
        "no pull found: nowhere do the drums gain 15 % of speed at full throttle for at least a second"
    )]
    NoPull {
        /// Stretches that were driven, but too weak or too short.
        left_out: usize,
    },
    /// Nothing is driven, and the run-down asked for gives no drag.
    #[error("no pull found, and the run-down gives no drag: {0}")]
    NeitherPullNorDrag(CoastError),
    /// The force at the drums cannot be used as it stands.
    #[error("{0}")]
    Force(ForceError),
    /// Nothing to draw the curve over.
    #[error("there is no engine speed to plot the curve against")]
    NoEngineSpeed,
    /// The engine log does not fit.
    #[error("the engine log cannot be lined up with the drum log: {0}")]
    Align(AlignError),
}

/// Why one stretch gives no curve.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error, Serialize)]
#[serde(tag = "refusal", rename_all = "snake_case")]
#[non_exhaustive]
pub enum PullRefusal {
    /// The engine log does not cover it.
    #[error("the engine log does not cover it")]
    NoEngineSpeed,
    /// Too few bands hold rows.
    #[error("too few bands of engine speed hold data")]
    NoCurve,
    /// It cannot be smoothed.
    #[error("{0}")]
    #[serde(untagged)]
    Smooth(SmoothError),
}
