//! The whole way from a drum log to its curves, as one question and one answer.
//!
//! Every pull is looked at by itself: its noise levels, its run-out, its lag. What cannot be reduced says why and leaves the
//! rest alone. It refuses a log in which nothing is driven, and a curve without any engine speed to draw it over.

use super::align::{AlignError, Alignment, Trace, align, refine};
use super::bad_readings::{BadReadings, holes};
use super::coast_down::{self, CoastDown, CoastError, State};
use super::counts::{CountError, way};
use super::curve::{Agreement, Rig, WheelCurve, agreement, curve};
use super::engine_speed::EngineSpeed;
use super::local_polynomial::local_polynomial;
use super::pulls::{Finds, Stretch, find};
use super::run_out::{self, RunOut};
use super::signal::{Measured, Method, Signal, whole};
use super::smoothed::{SmoothError, Smoothed};
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

/// One stretch reduced.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduced {
    /// The curve.
    pub curve: WheelCurve,
    /// How it was smoothed.
    pub method: Method,
    /// Standard deviation of a row, m/s or m.
    pub noise: f64,
    /// Rows of the stretch that were smoothed, each the mean of [`Reduced::block`] readings.
    pub rows: usize,
    /// Readings averaged before smoothing; 1 where a log is no finer than 250 Hz.
    pub block: usize,
    /// Typical time between smoothed rows, s.
    pub step_s: f64,
    /// Range of the smoothing span, s.
    pub span_s: (f64, f64),
    /// Factor by which standard errors were raised because neighbouring readings err alike.
    pub inflation: f64,
    /// Rows of the log whose readings stand out.
    pub outliers: Vec<usize>,
    /// Times without readings that the curve bridges: the rows on either side.
    pub holes: Vec<(usize, usize)>,
    /// Run-out of the drum.
    pub run_out: RunOut,
    /// Lag of the engine log in this stretch alone.
    pub lag: Option<Alignment>,
}

/// One stretch and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Pull {
    /// Where it is, in rows of the log.
    pub stretch: Stretch,
    /// Its curve, or why there is none.
    pub outcome: Result<Reduced, PullRefusal>,
}

/// What a log holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduction {
    /// Stretches at full throttle, in time.
    pub pulls: Vec<Pull>,
    /// Stretches that were driven, but too short or too weak.
    pub left_out: usize,
    /// Readings that no drum can have made, left out before all else.
    pub bad: BadReadings,
    /// Where engine speed came from.
    pub engine_source: EngineSource,
    /// Engine log against drum log, over both.
    pub alignment: Option<Alignment>,
    /// Agreement of pulls in the same gear, by their places in [`Reduction::pulls`].
    pub agreements: Vec<(usize, usize, Agreement)>,
    /// The run-down, if asked for.
    pub coast: Option<Result<CoastDown, CoastError>>,
}

/// Reduces a log.
pub fn reduce(question: &Question<'_>) -> Result<Reduction, ReduceError> {
    let log = question.log;
    let (signal, rows) = match &log.reading {
        Reading::Speed(speed) => (
            Signal::even(Measured::Speed, log.time_s.clone(), speed.clone()),
            (0..log.time_s.len()).collect(),
        ),
        Reading::Counts { counts, teeth } => {
            way(&log.time_s, counts, *teeth, question.rig.drums.radius_m)
                .map_err(ReduceError::Counts)?
        }
    };
    let bad = BadReadings::of(&signal);
    let kept: Vec<usize> = (0..rows.len())
        .filter(|row| !bad.leaves_out(*row))
        .collect();
    let signal = signal.only(&kept);
    let rows: Vec<usize> = kept.iter().map(|&row| rows[row]).collect();
    let engine: Option<Vec<f64>> = log
        .engine_rpm
        .as_ref()
        .map(|rpm| rows.iter().map(|&row| rpm[row]).collect());
    let (signal, blocks) = signal.thinned(FINEST_HZ);
    let block = whole(rows.len() as f64 / blocks.len().max(1) as f64);
    let engine = engine.map(|rpm| means(&rpm, &blocks));
    let rows: Vec<usize> = blocks.iter().map(|block| rows[block.start]).collect();
    let finds = find(&signal, engine.as_deref());
    let alone = finds.stretches.is_empty();
    if alone && question.coast.is_none() {
        return Err(ReduceError::NoPull {
            left_out: finds.left_out,
        });
    }
    let engine_source = if alone {
        EngineSource::NotNeeded
    } else if engine.is_some() {
        EngineSource::DrumLog
    } else if question.engine.is_some() {
        EngineSource::EngineLog
    } else if question.gearing_rpm_s_m.is_some() {
        EngineSource::Gearing
    } else {
        return Err(ReduceError::NoEngineSpeed);
    };
    let seen = Seen {
        question,
        signal: &signal,
        engine: engine.as_deref(),
        engine_source,
        block,
    };
    let alignment = match question.engine {
        Some(other) if !alone => Some(seen.align(other, &finds).map_err(ReduceError::Align)?),
        _ => None,
    };
    let pulls: Vec<Pull> = finds
        .stretches
        .iter()
        .map(|stretch| {
            let outcome = seen.pull(stretch, alignment.as_ref());
            let mut stretch = stretch.clone();
            // Up to the first row of the block after, or the log's last.
            let end = rows.get(stretch.rows.end).copied();
            stretch.rows = rows[stretch.rows.start]..end.unwrap_or(log.time_s.len());
            let outcome = outcome.map(|mut reduced| {
                for row in &mut reduced.outliers {
                    *row = rows[*row];
                }
                for (before, after) in &mut reduced.holes {
                    (*before, *after) = (rows[*before], rows[*after]);
                }
                reduced
            });
            Pull { stretch, outcome }
        })
        .collect();
    let coast = question.coast.map(|ask| seen.coast(&ask, &finds));
    if alone && let Some(Err(error)) = coast {
        return Err(ReduceError::NeitherPullNorDrag(error));
    }
    Ok(Reduction {
        agreements: agreements(&pulls),
        bad,
        pulls,
        left_out: finds.left_out,
        engine_source,
        alignment,
        coast,
    })
}

/// Readings finer than this are averaged first, Hz: no force of a car changes within 4 ms.
const FINEST_HZ: f64 = 250.0;

fn means(values: &[f64], blocks: &[std::ops::Range<usize>]) -> Vec<f64> {
    blocks
        .iter()
        .map(|block| values[block.clone()].iter().sum::<f64>() / block.len() as f64)
        .collect()
}

/// A log being looked at.
struct Seen<'a> {
    question: &'a Question<'a>,
    signal: &'a Signal,
    engine: Option<&'a [f64]>,
    engine_source: EngineSource,
    block: usize,
}

/// How far the lag of one pull may be from that of the log, s: clocks that drift.
const DRIFT_S: f64 = 0.25;

fn part(signal: &Signal, rows: std::ops::Range<usize>) -> Signal {
    Signal {
        measured: signal.measured,
        time_s: signal.time_s[rows.clone()].to_vec(),
        values: signal.values[rows.clone()].to_vec(),
        weight: signal.weight[rows].to_vec(),
    }
}

impl Seen<'_> {
    /// Speed by which the drum log can be compared: the engine's, or else the surface's about a stretch.
    fn comparable(&self, within_s: (f64, f64)) -> (Vec<f64>, Vec<f64>) {
        let (from, to) = within_s;
        let low = self.signal.time_s.partition_point(|&t| t < from);
        let high = self.signal.time_s.partition_point(|&t| t <= to);
        let time = self.signal.time_s[low..high].to_vec();
        let speed = match (self.engine, self.signal.measured) {
            (Some(engine), _) => engine[low..high].to_vec(),
            (None, Measured::Speed) => self.signal.values[low..high].to_vec(),
            (None, Measured::Way) => {
                super::savitzky_golay::rates(&time, &self.signal.values[low..high], 0.05, 2, 1)
            }
        };
        (time, speed)
    }

    fn align(&self, other: &EngineLog, finds: &Finds) -> Result<Alignment, AlignError> {
        let all = (f64::NEG_INFINITY, f64::INFINITY);
        let within = if self.engine.is_some() {
            all
        } else {
            // One gear only, with the clutch in: the longest stretch.
            finds
                .stretches
                .iter()
                .map(|s| s.time_s)
                .max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
                .unwrap_or(all)
        };
        let (time, speed) = self.comparable(within);
        let drum = Trace {
            time_s: &time,
            speed: &speed,
        };
        let found = align(&drum, &trace(other), self.engine.is_none())?;
        if self.engine.is_none() {
            return Ok(found);
        }
        // Where engine speed jumps, samples of different clocks disagree whatever the lag: the pulls alone settle it.
        let (mut time, mut speed) = (Vec::new(), Vec::new());
        for stretch in &finds.stretches {
            let (t, v) = self.comparable(stretch.time_s);
            time.extend(t);
            speed.extend(v);
        }
        let pulls = Trace {
            time_s: &time,
            speed: &speed,
        };
        let fine = refine(&pulls, &trace(other), false, found.lag_s, DRIFT_S);
        Ok(fine.unwrap_or(found))
    }

    fn pull(
        &self,
        stretch: &Stretch,
        alignment: Option<&Alignment>,
    ) -> Result<Reduced, PullRefusal> {
        let signal = part(self.signal, stretch.rows.clone());
        let radius_m = self.question.rig.drums.radius_m;
        let (first, cleaned, run_out) =
            run_out::smooth(&signal, radius_m, None).map_err(PullRefusal::Smooth)?;
        let lag = match (self.question.engine, alignment) {
            (Some(other), Some(whole)) => self.own_lag(stretch, other, whole),
            _ => None,
        };
        let lag_s = lag.or(alignment.copied()).map(|found| found.lag_s);
        let engine = self.engine_speed(stretch, &first, lag_s)?;
        let smoothed = match self.question.ask {
            Ask::StateSpace => first,
            Ask::LocalPolynomial { span_rpm } => {
                local_polynomial(&cleaned, &engine.rpm, span_rpm, 2).map_err(PullRefusal::Smooth)?
            }
        };
        let curve = curve(
            &smoothed,
            &engine,
            &self.question.rig,
            self.question.band_rpm,
        )
        .ok_or(PullRefusal::NoCurve)?;
        let span_s = smoothed
            .span_s
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(low, high), s| {
                (low.min(*s), high.max(*s))
            });
        Ok(Reduced {
            curve,
            method: smoothed.method,
            noise: smoothed.noise,
            rows: signal.len(),
            block: self.block,
            step_s: signal.step_s(),
            span_s,
            inflation: smoothed.inflation,
            outliers: smoothed
                .outliers
                .iter()
                .map(|row| stretch.rows.start + row)
                .collect(),
            holes: holes(&self.signal.time_s, stretch.rows.clone()),
            run_out,
            lag,
        })
    }

    /// The lag within one stretch: clocks drift, and the whole log's lag is their mean.
    fn own_lag(
        &self,
        stretch: &Stretch,
        other: &EngineLog,
        whole: &Alignment,
    ) -> Option<Alignment> {
        let (from, to) = stretch.time_s;
        let (time, speed) = self.comparable((from, to));
        let drum = Trace {
            time_s: &time,
            speed: &speed,
        };
        refine(
            &drum,
            &trace(other),
            self.engine.is_none(),
            whole.lag_s,
            DRIFT_S,
        )
    }

    /// Engine speed row by row, from where the question says it comes.
    fn engine_speed(
        &self,
        stretch: &Stretch,
        smoothed: &Smoothed,
        lag_s: Option<f64>,
    ) -> Result<EngineSpeed, PullRefusal> {
        let rows = stretch.rows.clone();
        let time_s = &self.signal.time_s[rows.clone()];
        let speed = match self.engine_source {
            EngineSource::DrumLog => match self.engine {
                Some(engine) => {
                    Some(EngineSpeed::beside(time_s, &engine[rows]).map_err(PullRefusal::Smooth)?)
                }
                None => None,
            },
            EngineSource::EngineLog => match self.question.engine.zip(lag_s) {
                Some((log, lag_s)) => {
                    let log = (log.time_s.as_slice(), log.engine_rpm.as_slice());
                    EngineSpeed::from_log(log, time_s, stretch.time_s, lag_s)
                        .map_err(PullRefusal::Smooth)?
                }
                None => None,
            },
            EngineSource::Gearing => self
                .question
                .gearing_rpm_s_m
                .map(|ratio| EngineSpeed::geared(ratio, &smoothed.speed_m_s)),
            EngineSource::NotNeeded => None,
        };
        speed.ok_or(PullRefusal::NoEngineSpeed)
    }

    fn coast(&self, ask: &CoastAsk, finds: &Finds) -> Result<CoastDown, CoastError> {
        let rows = match ask.between_s {
            Some((from, to)) => {
                let low = self.signal.time_s.partition_point(|&t| t < from);
                let high = self.signal.time_s.partition_point(|&t| t <= to);
                low..high.max(low)
            }
            None => finds
                .run_downs
                .iter()
                .map(|found| found.rows.clone())
                .max_by_key(std::iter::ExactSizeIterator::len)
                .unwrap_or(0..0),
        };
        let drums = &self.question.rig.drums;
        let mass = drums.mass_kg();
        let doubt = self
            .question
            .rig
            .inertia_doubt
            .hypot(2.0 * self.question.rig.radius_doubt);
        coast_down::fit(
            &part(self.signal, rows),
            mass + ask.turning_kg,
            (doubt * mass).hypot(ask.turning_sd_kg),
        )
    }
}

fn trace(log: &EngineLog) -> Trace<'_> {
    Trace {
        time_s: &log.time_s,
        speed: &log.engine_rpm,
    }
}

/// Pulls whose engine turns at about the same speed on the drum: one gear.
pub const SAME_GEAR: f64 = 0.05;

impl Reduced {
    /// Engine speed over surface speed in the middle of the curve, rpm per m/s.
    pub fn ratio_rpm_s_m(&self) -> f64 {
        let points = &self.curve.points;
        let middle = &points[points.len() / 2];
        middle.rpm / middle.speed_m_s
    }
}

fn agreements(pulls: &[Pull]) -> Vec<(usize, usize, Agreement)> {
    let ratio = Reduced::ratio_rpm_s_m;
    let mut found = Vec::new();
    for (i, first) in pulls.iter().enumerate() {
        let Ok(a) = &first.outcome else { continue };
        // Each with the next of its gear.
        let next = pulls.iter().enumerate().skip(i + 1).find_map(|(j, other)| {
            let b = other.outcome.as_ref().ok()?;
            let same = (ratio(b) / ratio(a) - 1.0).abs() < SAME_GEAR;
            same.then(|| Some((j, agreement(&a.curve, &b.curve)?)))?
        });
        found.extend(next.map(|(j, agreement)| (i, j, agreement)));
    }
    found
}
