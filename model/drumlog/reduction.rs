//! The whole way from a drum log to its curves, as one question and one answer.
//!
//! Every pull is looked at by itself: its noise levels, its run-out, its lag. What cannot be reduced says why and leaves the
//! rest alone. It refuses a log in which nothing is driven, and a curve without any engine speed to draw it over.

use super::align::{AlignError, Alignment, Trace, align, refine};
use super::bad_readings::{BadReadings, holes};
use super::coast_down::{self, CoastDown, CoastError};
use super::counts::way;
use super::curve::{Agreement, Logged, WheelCurve, agreement, curve};
use super::engine_speed::EngineSpeed;
use super::local_polynomial::local_polynomial;
use super::pulls::{Finds, Stretch, find};
use super::roll_force::{self, ForceError, ForceLog, Reads, RollForce};
use super::run_out::{self, RunOut};
use super::signal::{Measured, Method, Signal, whole};
use super::smoothed::{SmoothError, Smoothed};
use super::smoother::state_space_driven;

pub use super::question::{
    Ask, CoastAsk, EngineLog, EngineSource, Log, PullRefusal, Question, Reading, ReduceError,
};

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
    /// Standard deviation of a row of the logged force, N, where it is used.
    pub force_noise_n: Option<f64>,
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
    /// The force at the drums, where logged.
    pub force: Option<RollForce>,
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
    let raw = raw_force(log, &rows);
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
    let force = match (&log.force, &raw) {
        (Some(logged), Some(raw)) if !alone => {
            let beside = laid_beside(question, (logged, raw), &signal, &blocks, &finds);
            Some(beside.map_err(|error| ReduceError::Force(error.at(|row| rows[row])))?)
        }
        _ => None,
    };
    let seen = Seen {
        question,
        signal: &signal,
        engine: engine.as_deref(),
        engine_source,
        block,
        force: force
            .as_ref()
            .map(|(used, beside)| (used, beside.as_slice())),
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
        force: force.map(|(used, _)| used),
    })
}

/// Time and logged force of these rows: the force is laid beside the speed before readings are averaged.
fn raw_force(log: &Log, rows: &[usize]) -> Option<(Vec<f64>, Vec<f64>)> {
    let force_n = &log.force.as_ref()?.force_n;
    let of = |values: &[f64]| rows.iter().map(|&row| values[row]).collect();
    Some((of(&log.time_s), of(force_n)))
}

/// What a logged force is, and the force laid beside the speed; time and force are those of single readings, averaged in blocks as the speed is.
fn laid_beside(
    question: &Question<'_>,
    (logged, (time_s, force_n)): (&ForceLog, &(Vec<f64>, Vec<f64>)),
    signal: &Signal,
    blocks: &[std::ops::Range<usize>],
    finds: &Finds,
) -> Result<(RollForce, Vec<f64>), ForceError> {
    let thin = ForceLog {
        force_n: means(force_n, blocks),
        ..logged.clone()
    };
    let pulls: Vec<(f64, f64)> = finds.stretches.iter().map(|s| s.time_s).collect();
    let speed = surface_m_s(signal);
    let used = RollForce::of(&thin, &question.rig, &signal.time_s, &speed, &pulls)?;
    let beside = means(&used.beside(time_s, force_n), blocks);
    Ok((used, beside))
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
    /// The logged force, laid beside the speed.
    force: Option<(&'a RollForce, &'a [f64])>,
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

/// Speed of the surface, m/s, roughly.
fn surface_m_s(signal: &Signal) -> Vec<f64> {
    match signal.measured {
        Measured::Speed => signal.values.clone(),
        Measured::Way => super::savitzky_golay::rates(&signal.time_s, &signal.values, 0.05, 2, 1),
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
            (None, _) => surface_m_s(&part(self.signal, low..high)),
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
        let stretch = &self.until_the_force_falls(stretch);
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
        let logged = self.logged(stretch, &smoothed, &engine)?;
        let curve = curve(
            &smoothed,
            &engine,
            &self.question.rig,
            logged.as_ref(),
            self.question.band_rpm,
        )
        .ok_or(PullRefusal::NoCurve)?;
        let shape = match &logged {
            Some(logged) if logged.reads == Reads::All => &logged.smoothed,
            _ => &smoothed,
        };
        let span_s = shape
            .span_s
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(low, high), s| {
                (low.min(*s), high.max(*s))
            });
        Ok(Reduced {
            curve,
            method: shape.method,
            noise: smoothed.noise,
            rows: signal.len(),
            block: self.block,
            step_s: signal.step_s(),
            span_s,
            inflation: shape.inflation,
            outliers: smoothed
                .outliers
                .iter()
                .map(|row| stretch.rows.start + row)
                .collect(),
            holes: holes(&self.signal.time_s, stretch.rows.clone()),
            run_out,
            lag,
            force_noise_n: logged.map(|logged| logged.smoothed.noise),
        })
    }

    /// The stretch without its last rows if the logged force, brought to the speed's time, already falls there with the throttle.
    fn until_the_force_falls(&self, stretch: &Stretch) -> Stretch {
        let Some((_, beside)) = self.force else {
            return stretch.clone();
        };
        let (time_s, rows) = (&self.signal.time_s, stretch.rows.clone());
        let kept = roll_force::before_the_fall(&time_s[rows.clone()], &beside[rows.clone()]);
        let end = rows.start + kept;
        Stretch {
            rows: rows.start..end,
            time_s: (stretch.time_s.0, stretch.time_s.1.min(time_s[end - 1])),
            ..stretch.clone()
        }
    }

    /// The logged force over the rows of a stretch, smoothed as the speed is.
    fn logged(
        &self,
        stretch: &Stretch,
        speed: &Smoothed,
        engine: &EngineSpeed,
    ) -> Result<Option<Logged>, PullRefusal> {
        let Some((used, beside)) = self.force else {
            return Ok(None);
        };
        let part = part(self.signal, stretch.rows.clone());
        let signal = Signal {
            measured: Measured::Speed,
            values: beside[stretch.rows.clone()].to_vec(),
            ..part
        };
        let smoothed = match self.question.ask {
            Ask::StateSpace => state_space_driven(&signal, None, &[], &run_out::drive(speed)),
            Ask::LocalPolynomial { span_rpm } => {
                local_polynomial(&signal, &engine.rpm, span_rpm, 2)
            }
        };
        match smoothed {
            Ok(smoothed) => Ok(Some(Logged {
                reads: used.sense.reads,
                smoothed,
                lag_se_s: used.lag_se_s(),
            })),
            // A brake that rests reads the same all along, and adds nothing.
            Err(SmoothError::Lifeless) if used.sense.reads == Reads::BrakeAlone => Ok(None),
            Err(error) => Err(PullRefusal::Smooth(error)),
        }
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
        let (mass, doubt) = self.question.rig.mass_felt_kg(Reads::All);
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
