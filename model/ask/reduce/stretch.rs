//! One stretch at full throttle: its curve and how that came to be, or why there is none.

use super::{Gap, Question};
use crate::drumlog::curve::{Peak, Point};
use crate::drumlog::pulls::End;
use crate::drumlog::reduction::{Pull, PullRefusal, Reading, Reduced};
use crate::drumlog::run_out::Harmonic;
use crate::drumlog::{Force, Method, Stray};
use serde::Serialize;

/// A stretch at full throttle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stretch {
    /// Pull it belongs to; stretches parted by shifts share one.
    pub pull: usize,
    /// First time.
    pub from_s: f64,
    /// Last time.
    pub to_s: f64,
    /// First line of the log's file.
    pub first_line: usize,
    /// Last line.
    pub last_line: usize,
    /// What ended it.
    #[serde(flatten)]
    pub end: End,
    /// Why there is no curve.
    pub refused: Option<PullRefusal>,
    /// The curve.
    pub curve: Option<Curve>,
}

/// A curve with how it came to be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// Smoothing span, shortest and longest, s.
    pub smoothing_span_s: (f64, f64),
    /// The same in engine speed, rpm.
    pub smoothing_span_rpm: (f64, f64),
    /// By what it was smoothed.
    pub smoothing: Smoothing,
    /// Rows a second that were smoothed.
    pub rate_hz: f64,
    /// Readings of the log averaged in such a row.
    pub readings_averaged: usize,
    /// Standard deviation of a row.
    pub noise: f64,
    /// Its unit.
    pub noise_unit: NoiseUnit,
    /// Standard deviation of a row of the logged force, where it is used.
    pub force_noise_n: Option<f64>,
    /// Factor by which standard errors were raised because neighbouring readings err alike; 1 if they do not.
    pub error_raised: f64,
    /// Engine speed over surface speed in the middle of the curve.
    pub ratio_rpm_s_m: f64,
    /// Lines of readings that stand out.
    pub outlier_lines: Vec<usize>,
    /// Times without readings that the curve bridges.
    pub holes: Vec<Gap>,
    /// Run-out removed.
    pub run_out: Vec<Harmonic>,
    /// Harmonics looked for and not found.
    pub run_out_absent: Vec<usize>,
    /// Harmonics that the samples are too far apart to show.
    pub run_out_unseen: Vec<usize>,
    /// Lag of the engine log in this pull.
    pub lag_s: Option<f64>,
    /// Readings left out at the start, where the force had not settled.
    pub dropped_start: usize,
    /// Highest power.
    pub peak_power: Peak,
    /// Highest torque.
    pub peak_torque: Peak,
    /// The curve.
    pub points: Vec<Point>,
}

/// By what a curve was smoothed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "method", rename_all = "snake_case")]
pub enum Smoothing {
    /// By state space, as the log's own noise levels make it.
    StateSpace {
        /// What is taken of the force between samples.
        force: Force,
        /// How samples stray.
        stray: Stray,
    },
    /// By local polynomials.
    LocalPolynomial {
        /// Degree of the speed in time.
        degree: usize,
    },
}

/// What a standard deviation of a row is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum NoiseUnit {
    /// Speed of the drum's surface was read.
    #[serde(rename = "m/s")]
    Speed,
    /// Counts were read: the way of the surface.
    #[serde(rename = "m")]
    Way,
}

impl NoiseUnit {
    /// Its symbol.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Speed => "m/s",
            Self::Way => "m",
        }
    }
}

impl Question<'_> {
    pub(super) fn stretch(&self, pull: &Pull) -> Stretch {
        let stretch = &pull.stretch;
        Stretch {
            pull: stretch.pull,
            from_s: stretch.time_s.0,
            to_s: stretch.time_s.1,
            first_line: (self.line)(stretch.rows.start),
            last_line: (self.line)(stretch.rows.end - 1),
            end: stretch.end,
            refused: pull.outcome.as_ref().err().copied(),
            curve: pull.outcome.as_ref().ok().map(|found| self.curve(found)),
        }
    }

    fn curve(&self, found: &Reduced) -> Curve {
        let points = found.curve.points.clone();
        let span_rpm = points
            .iter()
            .map(|p| p.span_rpm)
            .fold((f64::INFINITY, 0.0_f64), |(low, high), s| {
                (low.min(s), high.max(s))
            });
        Curve {
            smoothing_span_s: found.span_s,
            smoothing_span_rpm: span_rpm,
            smoothing: match found.method {
                Method::StateSpace(choice) => Smoothing::StateSpace {
                    force: choice.force,
                    stray: choice.stray,
                },
                Method::LocalPolynomial { degree, .. } => Smoothing::LocalPolynomial { degree },
            },
            rate_hz: 1.0 / found.step_s,
            readings_averaged: found.block,
            noise: found.noise,
            noise_unit: match self.log.log.reading {
                Reading::Speed(_) => NoiseUnit::Speed,
                Reading::Counts { .. } => NoiseUnit::Way,
            },
            force_noise_n: found.force_noise_n,
            error_raised: found.inflation,
            ratio_rpm_s_m: found.ratio_rpm_s_m(),
            holes: found.holes.iter().map(|(a, b)| self.gap(*a, *b)).collect(),
            outlier_lines: found.outliers.iter().map(|&row| (self.line)(row)).collect(),
            run_out: found.run_out.removed.clone(),
            run_out_absent: found.run_out.absent.clone(),
            run_out_unseen: found.run_out.unseen.clone(),
            lag_s: found.lag.map(|lag| lag.lag_s),
            dropped_start: found.curve.dropped_start,
            peak_power: found.curve.peak_power,
            peak_torque: found.curve.peak_torque,
            points,
        }
    }
}
