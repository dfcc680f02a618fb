//! `reduce`: what a drum log holds, pull by pull, with a standard error at every point and the smoothing stated.
//!
//! The errors printed beside a number are those of noise. What inertia and radius leave in doubt moves a curve as a whole, so it
//! stands apart and is not mixed in. It refuses to print a curve without saying over which span it was smoothed.

mod text;

use super::Report;
use super::number::Units;
use crate::ask::compare::gearing::SHIFTED;
use crate::drumlog::coast_down::CoastDown;
use crate::drumlog::curve::Peak;
use crate::drumlog::pulls::End;
use crate::drumlog::reduction::{EngineSource, Pull, Reading, Reduced};
use crate::drumlog::{Point, Reduction};
use crate::files::DrumLogFile;
use crate::files::drum_log::Extra;
use serde::Serialize;

/// A reduced log.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReduceReport {
    /// What the shop calls it.
    pub name: String,
    /// The log's file.
    pub log: String,
    /// Rows of the log.
    pub rows: usize,
    /// Smoothing of every curve, in words.
    pub method: String,
    /// Width of the bands of engine speed.
    pub band_rpm: f64,
    /// Where engine speed came from.
    pub engine_speed_from: &'static str,
    /// Radius of the drums.
    pub drum_radius_m: f64,
    /// Equivalent mass of the drums at their surface.
    pub drum_mass_kg: f64,
    /// Whether the drums' own drag is in the reading.
    pub drag_added_back: bool,
    /// One standard deviation by which inertia and radius may move all power and torque alike, relative.
    pub power_doubt: f64,
    /// The same of force.
    pub force_doubt: f64,
    /// The engine log's clock.
    pub engine_log: Option<ClockReport>,
    /// Readings that jump away and back, left out.
    pub left_out_readings: Vec<LeftOutReport>,
    /// Times at which the drum's sensor stood still; but for the first reading left out.
    pub stuck: Vec<GapReport>,
    /// Stretches at full throttle in one gear.
    pub pulls: Vec<PullReport>,
    /// Stretches that were driven, but too short or too weak for a curve.
    pub left_out: usize,
    /// Pulls of one gear against each other.
    pub repeatability: Vec<RepeatReport>,
    /// The run-down.
    pub coast_down: Option<CoastReport>,
    /// Why the run-down gives no drag.
    pub coast_down_refused: Option<String>,
}

/// One clock against another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ClockReport {
    /// Time of the drum log = time of the engine log + lag.
    pub lag_s: f64,
    /// Its standard error.
    pub lag_se_s: f64,
    /// Drum log's speed over engine log's; 1 where both are the engine's.
    pub scale: f64,
    /// Root mean square of what is left, rpm, or m/s where the drum's own speed was compared.
    pub residual: f64,
    /// Unit of it.
    pub residual_unit: &'static str,
    /// Time that both logs cover.
    pub overlap_s: f64,
}

/// A reading left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LeftOutReport {
    /// Its line.
    pub line: usize,
    /// Speed of the surface that it claims.
    pub speed_m_s: f64,
    /// What its neighbours foretell.
    pub foretold_m_s: f64,
}

/// A time without readings, or without true ones.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GapReport {
    /// First line of it; of a hole, the last line before.
    pub first_line: usize,
    /// Last line of it; of a hole, the first line after.
    pub last_line: usize,
    /// When it begins.
    pub from_s: f64,
    /// How long it lasts.
    pub duration_s: f64,
}

/// A stretch at full throttle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullReport {
    /// Pull it belongs to; stretches parted by shifts share one.
    pub pull: usize,
    /// First and last time.
    pub from_s: f64,
    /// Last time.
    pub to_s: f64,
    /// First line of the log's file.
    pub first_line: usize,
    /// Last line.
    pub last_line: usize,
    /// What ended it.
    pub ended_by: &'static str,
    /// The same in words, with its numbers.
    pub end: String,
    /// Why there is no curve.
    pub refused: Option<String>,
    /// The curve.
    pub curve: Option<CurveReport>,
}

/// A curve with how it came to be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurveReport {
    /// Smoothing span, shortest and longest, s.
    pub smoothing_span_s: (f64, f64),
    /// The same in engine speed, rpm.
    pub smoothing_span_rpm: (f64, f64),
    /// Smoothing in words.
    pub smoothing: String,
    /// Rows a second that were smoothed.
    pub rate_hz: f64,
    /// Readings of the log averaged in such a row.
    pub readings_averaged: usize,
    /// Standard deviation of a row.
    pub noise: f64,
    /// Its unit: m/s of the drum's surface, or m where counts were read.
    pub noise_unit: &'static str,
    /// Factor by which standard errors were raised because neighbouring readings err alike; 1 if they do not.
    pub error_raised: f64,
    /// Engine speed over surface speed in the middle of the curve.
    pub ratio_rpm_s_m: f64,
    /// Lines of readings that stand out.
    pub outlier_lines: Vec<usize>,
    /// Times without readings that the curve bridges.
    pub holes: Vec<GapReport>,
    /// Run-out removed.
    pub run_out: Vec<RunOutReport>,
    /// Harmonics looked for and not found.
    pub run_out_absent: Vec<usize>,
    /// Harmonics that the samples are too far apart to show.
    pub run_out_unseen: Vec<usize>,
    /// Lag of the engine log in this pull.
    pub lag_s: Option<f64>,
    /// Readings left out at the start, where the force had not settled.
    pub dropped_start: usize,
    /// Highest power.
    pub peak_power: PeakReport,
    /// Highest torque.
    pub peak_torque: PeakReport,
    /// The curve.
    pub points: Vec<PointReport>,
}

/// A harmonic of the drum's turn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RunOutReport {
    /// Swings in a turn.
    pub order: usize,
    /// Amplitude as a share of speed.
    pub amplitude: f64,
    /// Its standard error.
    pub se: f64,
}

/// A top.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PeakReport {
    /// Engine speed.
    pub rpm: f64,
    /// Its standard error; none where the curve is highest at an end.
    pub rpm_se: Option<f64>,
    /// Power in W or torque in N m.
    pub value: f64,
    /// Standard error.
    pub se: f64,
}

/// A point of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PointReport {
    /// Engine speed.
    pub rpm: f64,
    /// Time.
    pub time_s: f64,
    /// Speed of the drum's surface.
    pub speed_m_s: f64,
    /// Force there.
    pub force_n: f64,
    /// Standard error.
    pub force_se_n: f64,
    /// Power, uncorrected.
    pub power_w: f64,
    /// Standard error.
    pub power_se_w: f64,
    /// Power over engine speed.
    pub torque_nm: f64,
    /// Standard error.
    pub torque_se_nm: f64,
    /// Correlation of the power's error with the next point's.
    pub shared_with_next: f64,
    /// Smoothing span here.
    pub smoothing_span_rpm: f64,
}

/// Two pulls of one gear.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RepeatReport {
    /// Place of the first among the pulls, from 1.
    pub first: usize,
    /// Place of the second.
    pub second: usize,
    /// Mean of second over first power, less one.
    pub mean: f64,
    /// Standard deviation of that over the points.
    pub scatter: f64,
    /// Scatter that the standard errors lead one to expect.
    pub expected: f64,
    /// Points compared.
    pub points: usize,
}

/// Drag from a run-down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoastReport {
    /// What turned.
    pub state: &'static str,
    /// What the drag contains.
    pub contains: &'static str,
    /// Mass that ran down.
    pub mass_kg: f64,
    /// First and last speed.
    pub speed_m_s: (f64, f64),
    /// Duration.
    pub duration_s: f64,
    /// F0 in N, F1 in N s/m, F2 in N s²/m², none where the run-down does not tell them apart.
    pub coefficients: Option<[f64; 3]>,
    /// Their 95 % half widths.
    pub half_widths_95: Option<[f64; 3]>,
    /// Drag at speeds within the run-down: (m/s, N, half width of the 95 % interval).
    pub drag: Vec<(f64, f64, f64)>,
    /// Root mean square of what the fit leaves over.
    pub residual: f64,
}

impl ReduceReport {
    /// Takes over what a reduction found.
    pub fn new(file: &DrumLogFile, reduction: &Reduction) -> Self {
        let (coast_down, coast_down_refused) = match (&reduction.coast, file.coast) {
            (Some(Ok(found)), Some(ask)) => {
                let mass = file.rig.drums.mass_kg() + ask.turning_kg;
                (Some(coast(found, ask.state, mass)), None)
            }
            (Some(Err(error)), _) => (None, Some(error.to_string())),
            _ => (None, None),
        };
        Self {
            name: file.name.clone(),
            log: file.file.clone(),
            rows: file.log.time_s.len(),
            method: match file.ask {
                crate::drumlog::reduction::Ask::StateSpace => {
                    "state space, noise levels from the log".to_owned()
                }
                crate::drumlog::reduction::Ask::LocalPolynomial { span_rpm } => {
                    format!("local parabolas (Savitzky-Golay) over {span_rpm:.0} rpm")
                }
            },
            band_rpm: file.band_rpm,
            engine_speed_from: match reduction.engine_source {
                EngineSource::DrumLog => "the drum log",
                EngineSource::EngineLog => "the engine log",
                EngineSource::Gearing => "gearing and tyre, without slip",
                EngineSource::NotNeeded => "nowhere: no curve is drawn",
            },
            drum_radius_m: file.rig.drums.radius_m,
            drum_mass_kg: file.rig.drums.mass_kg(),
            drag_added_back: file.rig.drums.drag_added_back,
            power_doubt: file.rig.power_doubt(),
            force_doubt: file.rig.force_doubt(),
            engine_log: reduction.alignment.map(|found| ClockReport {
                lag_s: found.lag_s,
                lag_se_s: found.lag_se_s,
                scale: found.scale,
                residual: found.residual,
                residual_unit: if file.log.engine_rpm.is_some() {
                    "rpm"
                } else {
                    "m/s"
                },
                overlap_s: found.overlap_s,
            }),
            left_out_readings: left_out_readings(file, reduction),
            stuck: reduction
                .bad
                .stuck
                .iter()
                .map(|rows| gap(file, rows.start, rows.end - 1))
                .collect(),
            pulls: reduction
                .pulls
                .iter()
                .map(|pull| pull_report(file, pull))
                .collect(),
            left_out: reduction.left_out,
            repeatability: reduction
                .agreements
                .iter()
                .map(|(first, second, found)| RepeatReport {
                    first: first + 1,
                    second: second + 1,
                    mean: found.mean,
                    scatter: found.scatter,
                    expected: found.expected,
                    points: found.points,
                })
                .collect(),
            coast_down,
            coast_down_refused,
        }
    }

    /// Stretches that turn the engine otherwise than the first one with a curve does: their places, from 1, and their ratio over the
    /// first one's.
    fn other_ratios(&self) -> Option<(usize, Vec<(usize, f64)>)> {
        let mut ratios =
            self.pulls.iter().enumerate().filter_map(|(number, pull)| {
                Some((number + 1, pull.curve.as_ref()?.ratio_rpm_s_m))
            });
        let (first, one) = ratios.next()?;
        let others: Vec<(usize, f64)> = ratios
            .map(|(number, ratio)| (number, ratio / one))
            .filter(|(_, share)| (share - 1.0).abs() > SHIFTED)
            .collect();
        (!others.is_empty()).then_some((first, others))
    }

    /// The same in words.
    fn gearing(&self) -> Option<String> {
        let (first, others) = self.other_ratios()?;
        let told: Vec<String> = others
            .iter()
            .map(|(number, share)| format!("{share:.2} times as fast in stretch {number}"))
            .collect();
        Some(format!(
            "At one drum speed the engine turns {} as in stretch {first}: another gear or tyre, or slip. Do not compare or fit \
             these stretches as pulls of one gear",
            told.join(", ")
        ))
    }

    /// The curves as a recording that a visit can name, every pull with its label; further channels at the points' times.
    pub fn csv(&self, extras: &[Extra]) -> String {
        let mut out = format!("# reduced from {}: {}\n", self.log, self.method);
        for (number, pull) in self.pulls.iter().enumerate() {
            if let Some(curve) = &pull.curve {
                add!(out, "# pull {}: {}\n", number + 1, curve.smoothing);
            }
        }
        if let Some(gearing) = self.gearing() {
            add!(out, "# {gearing}\n");
        }
        out.push_str(
            "pull,time (s),engine speed (rpm),wheel power (kW),wheel power standard error (kW),wheel torque at engine speed (N m),\
             wheel force (N),drum surface speed (m/s),drum speed (rpm),smoothing span (rpm)",
        );
        let named: Vec<(&Extra, &'static str)> = extras
            .iter()
            .filter_map(|extra| Some((extra, extra.channel.dimension()?.si_unit().symbol)))
            .collect();
        for (extra, symbol) in &named {
            match *symbol {
                "1" => add!(out, ",{}", extra.channel.name()),
                symbol => add!(out, ",{} ({symbol})", extra.channel.name()),
            }
        }
        out.push('\n');
        let lag_s = self.engine_log.map_or(0.0, |found| found.lag_s);
        for (number, pull) in self.pulls.iter().enumerate() {
            let Some(curve) = &pull.curve else { continue };
            let lag_s = curve.lag_s.unwrap_or(lag_s);
            for p in &curve.points {
                add!(
                    out,
                    "{},{:.4},{:.2},{:.4},{:.4},{:.4},{:.2},{:.4},{:.3},{:.1}",
                    number + 1,
                    p.time_s,
                    p.rpm,
                    p.power_w / 1e3,
                    p.power_se_w / 1e3,
                    p.torque_nm,
                    p.force_n,
                    p.speed_m_s,
                    p.speed_m_s / self.drum_radius_m * 30.0 / std::f64::consts::PI,
                    p.smoothing_span_rpm
                );
                for (extra, _) in &named {
                    let shift = if extra.on_engine_clock { lag_s } else { 0.0 };
                    add!(out, ",{:.5}", between(extra, p.time_s - shift));
                }
                out.push('\n');
            }
        }
        out
    }
}

/// A channel at a time, straight between its rows and level beyond them.
fn between(extra: &Extra, time_s: f64) -> f64 {
    let after = extra.time_s.partition_point(|&t| t < time_s);
    let last = extra.values_si.len() - 1;
    if after == 0 || after > last {
        return extra.values_si[after.min(last)];
    }
    let (t0, t1) = (extra.time_s[after - 1], extra.time_s[after]);
    let (a, b) = (extra.values_si[after - 1], extra.values_si[after]);
    a + (b - a) * (time_s - t0) / (t1 - t0)
}

fn gap(file: &DrumLogFile, first: usize, last: usize) -> GapReport {
    let time_s = &file.log.time_s;
    GapReport {
        first_line: file.line(first),
        last_line: file.line(last),
        from_s: time_s[first],
        duration_s: time_s[last] - time_s[first],
    }
}

fn left_out_readings(file: &DrumLogFile, reduction: &Reduction) -> Vec<LeftOutReport> {
    let Reading::Speed(speed) = &file.log.reading else {
        return Vec::new();
    };
    let told = reduction
        .bad
        .single
        .iter()
        .map(|&(row, foretold_m_s)| LeftOutReport {
            line: file.line(row),
            speed_m_s: speed[row],
            foretold_m_s,
        });
    told.collect()
}

fn pull_report(file: &DrumLogFile, pull: &Pull) -> PullReport {
    let stretch = &pull.stretch;
    let (ended_by, end) = ending(&stretch.end);
    PullReport {
        pull: stretch.pull,
        from_s: stretch.time_s.0,
        to_s: stretch.time_s.1,
        first_line: file.line(stretch.rows.start),
        last_line: file.line(stretch.rows.end - 1),
        ended_by,
        end,
        refused: pull.outcome.as_ref().err().map(ToString::to_string),
        curve: pull.outcome.as_ref().ok().map(|found| curve(file, found)),
    }
}

fn ending(end: &End) -> (&'static str, String) {
    match end {
        End::LiftOff => ("lift-off", "ended by the throttle closing".to_owned()),
        End::Limiter { held_s } => (
            "limiter",
            format!("ended by the limiter, held for {held_s:.1} s"),
        ),
        End::Shift { ratio, gap_s } => (
            "shift",
            match ratio {
                Some(ratio) => format!(
                    "ended by a shift: driven again {gap_s:.2} s later, the engine at {ratio:.2} of its speed before"
                ),
                None => format!("ended by a shift: driven again {gap_s:.2} s later"),
            },
        ),
        End::LogEnds => ("end of log", "still driven where the log ends".to_owned()),
    }
}

fn curve(file: &DrumLogFile, found: &Reduced) -> CurveReport {
    let points: Vec<PointReport> = found.curve.points.iter().map(point).collect();
    let span_rpm = points
        .iter()
        .map(|p| p.smoothing_span_rpm)
        .fold((f64::INFINITY, 0.0_f64), |(low, high), s| {
            (low.min(s), high.max(s))
        });
    let noise_unit = match file.log.reading {
        crate::drumlog::Reading::Speed(_) => "m/s",
        crate::drumlog::Reading::Counts { .. } => "m",
    };
    let peak = |peak: &Peak| PeakReport {
        rpm: peak.rpm,
        rpm_se: peak.rpm_se,
        value: peak.value,
        se: peak.se,
    };
    CurveReport {
        smoothing_span_s: found.span_s,
        smoothing_span_rpm: span_rpm,
        smoothing: text::smoothing(&found.method, found.span_s, span_rpm),
        rate_hz: 1.0 / found.step_s,
        readings_averaged: found.block,
        noise: found.noise,
        noise_unit,
        error_raised: found.inflation,
        ratio_rpm_s_m: found.ratio_rpm_s_m(),
        holes: found.holes.iter().map(|(a, b)| gap(file, *a, *b)).collect(),
        outlier_lines: found.outliers.iter().map(|&row| file.line(row)).collect(),
        run_out: found
            .run_out
            .removed
            .iter()
            .map(|h| RunOutReport {
                order: h.order,
                amplitude: h.amplitude,
                se: h.se,
            })
            .collect(),
        run_out_absent: found.run_out.absent.clone(),
        run_out_unseen: found.run_out.unseen.clone(),
        lag_s: found.lag.map(|lag| lag.lag_s),
        dropped_start: found.curve.dropped_start,
        peak_power: peak(&found.curve.peak_power),
        peak_torque: peak(&found.curve.peak_torque),
        points,
    }
}

fn point(p: &Point) -> PointReport {
    PointReport {
        rpm: p.rpm,
        time_s: p.time_s,
        speed_m_s: p.speed_m_s,
        force_n: p.force_n,
        force_se_n: p.force_se_n,
        power_w: p.power_w,
        power_se_w: p.power_se_w,
        torque_nm: p.torque_nm,
        torque_se_nm: p.torque_se_nm,
        shared_with_next: p.shared_with_next,
        smoothing_span_rpm: p.span_rpm,
    }
}

/// Speeds at which drag is told, shares of the way from the slowest to the fastest.
const TOLD: [f64; 3] = [0.1, 0.5, 0.9];

fn coast(found: &CoastDown, state: crate::drumlog::coast_down::State, mass_kg: f64) -> CoastReport {
    let (t, tells) = (found.t95(), found.tells_coefficients());
    let (high, low) = found.speed_m_s;
    CoastReport {
        state: state.words(),
        contains: state.contains(),
        mass_kg,
        speed_m_s: found.speed_m_s,
        duration_s: found.duration_s,
        coefficients: tells.then_some([
            found.drag.f0_n,
            found.drag.f1_n_s_m,
            found.drag.f2_n_s2_m2,
        ]),
        half_widths_95: tells.then(|| found.coefficient_se().map(|se| t * se)),
        drag: TOLD
            .iter()
            .map(|share| {
                let v = low + share * (high - low);
                (v, found.drag.at_n(v), t * found.se_n(v))
            })
            .collect(),
        residual: found.residual,
    }
}

impl Report for ReduceReport {
    const SCHEMA: &'static str = "pullcast/reduce/1";

    fn text(&self, units: Units) -> String {
        text::text(self, units)
    }
}
