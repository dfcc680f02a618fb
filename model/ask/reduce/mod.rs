//! `reduce`: what a drum log holds, pull by pull, with a standard error at every point and the smoothing named.
//!
//! The errors beside a number are those of noise. What inertia and radius leave in doubt moves a curve as a whole, so it stands apart and
//! is not mixed in. Rows of a log are told as the lines of its file. It refuses a log none of whose pulls gives a curve.

mod force;
mod stretch;

pub use force::{Feels, Force};
pub use stretch::{Curve, NoiseUnit, Smoothing, Stretch};

use super::compare::gearing::SHIFTED;
use crate::drumlog::bad_readings::BadReadings;
use crate::drumlog::coast_down::{CoastDown, CoastError, State};
use crate::drumlog::curve::Agreement;
use crate::drumlog::reduction::{Ask, EngineSource, Pull, Reading, ReduceError};
use crate::drumlog::{self, Reduction};
use serde::Serialize;

/// What is asked.
pub struct Question<'a> {
    /// What the shop calls the log.
    pub name: &'a str,
    /// The log's file as named.
    pub log_name: &'a str,
    /// The log, the drums, and how to reduce.
    pub log: drumlog::Question<'a>,
    /// Line of the log's file on which a row stands.
    pub line: Box<dyn Fn(usize) -> usize + 'a>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Refusal {
    /// The log gives nothing.
    Log(ReduceError),
    /// It holds these pulls, and none of them gives a curve.
    NoCurve(Vec<Pull>),
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// What the shop calls it.
    pub name: String,
    /// The log's file.
    pub log: String,
    /// Rows of the log.
    pub rows: usize,
    /// Smoothing of every curve.
    #[serde(flatten)]
    pub method: Ask,
    /// Width of the bands of engine speed.
    pub band_rpm: f64,
    /// Where engine speed came from.
    pub engine_speed_from: EngineSource,
    /// Radius of the drums.
    pub drum_radius_m: f64,
    /// Equivalent mass of the drums at their surface.
    pub drum_mass_kg: f64,
    /// Whether the drums' own drag is in the reading.
    pub drag_added_back: bool,
    /// Whether the rig simulates a car on the road.
    pub simulates_a_car: bool,
    /// The force logged at the drums, where it gives the power.
    pub roll_force: Option<Force>,
    /// One standard deviation by which inertia and radius may move all power and torque alike, relative.
    pub power_doubt: f64,
    /// The same of force.
    pub force_doubt: f64,
    /// The engine log's clock.
    pub engine_log: Option<Clock>,
    /// Readings that jump away and back, left out.
    pub left_out_readings: Vec<LeftOut>,
    /// Times at which the drum's sensor stood still; but for the first reading left out.
    pub stuck: Vec<Gap>,
    /// Stretches at full throttle in one gear.
    pub pulls: Vec<Stretch>,
    /// Stretches that were driven, but too short or too weak for a curve.
    pub left_out: usize,
    /// Stretches that turn the engine otherwise than the first one with a curve; none if all turn it alike.
    pub other_gearing: Option<OtherGearing>,
    /// Pulls of one gear against each other.
    pub repeatability: Vec<Repeat>,
    /// The run-down.
    pub coast_down: Option<Coast>,
    /// Why the run-down gives no drag.
    pub coast_down_refused: Option<CoastError>,
}

/// One clock against another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Clock {
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
pub struct LeftOut {
    /// Its line.
    pub line: usize,
    /// Speed of the surface that it claims.
    pub speed_m_s: f64,
    /// What its neighbours foretell.
    #[serde(rename = "foretold_m_s")]
    pub predicted_m_s: f64,
}

/// A time without readings, or without true ones.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Gap {
    /// First line of it; of a hole, the last line before.
    pub first_line: usize,
    /// Last line of it; of a hole, the first line after.
    pub last_line: usize,
    /// When it begins.
    pub from_s: f64,
    /// How long it lasts.
    pub duration_s: f64,
}

/// Stretches in another gear, on other tyres, or with slip: not to be compared or fitted as pulls of one gear.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OtherGearing {
    /// Place of the first stretch with a curve, from 1.
    pub against: usize,
    /// Those that differ from it.
    pub stretches: Vec<OtherRatio>,
}

/// One of them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OtherRatio {
    /// Its place, from 1.
    pub stretch: usize,
    /// Engine speed at one drum speed, over that of the first.
    pub ratio: f64,
}

/// Two pulls of one gear.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Repeat {
    /// Place of the first among the pulls, from 1.
    pub first: usize,
    /// Place of the second.
    pub second: usize,
    /// How they agree.
    #[serde(flatten)]
    pub agreement: Agreement,
}

/// Drag from a run-down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Coast {
    /// What turned, and so what the drag contains.
    pub state: State,
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

impl Question<'_> {
    /// Reduces the log.
    pub fn reduction(&self) -> Result<Reduction, Refusal> {
        let reduction = drumlog::reduce(&self.log).map_err(Refusal::Log)?;
        // A log of a run-down alone holds no pull; its drag was found, or there would be an error.
        let pulls = &reduction.pulls;
        if pulls.is_empty() || pulls.iter().any(|pull| pull.outcome.is_ok()) {
            Ok(reduction)
        } else {
            Err(Refusal::NoCurve(reduction.pulls))
        }
    }

    /// Reduces the log and tells what came of it.
    pub fn answer(&self) -> Result<Answer, Refusal> {
        let reduction = self.reduction()?;
        let (log, rig) = (self.log.log, &self.log.rig);
        let pulls: Vec<Stretch> = reduction.pulls.iter().map(|p| self.stretch(p)).collect();
        let (coast_down, coast_down_refused) = match (&reduction.coast, self.log.coast) {
            (Some(Ok(found)), Some(ask)) => {
                let mass_kg = rig.mass_kg() + ask.turning_kg;
                (Some(Coast::of(found, ask.state, mass_kg)), None)
            }
            (Some(Err(error)), _) => (None, Some(*error)),
            _ => (None, None),
        };
        let (power_doubt, force_doubt) = reduction.force.as_ref().map_or_else(
            || (rig.power_doubt(), rig.force_doubt()),
            |used| used.doubts(rig),
        );
        Ok(Answer {
            name: self.name.to_owned(),
            log: self.log_name.to_owned(),
            rows: log.time_s.len(),
            method: self.log.ask,
            band_rpm: self.log.band_rpm,
            engine_speed_from: reduction.engine_source,
            drum_radius_m: rig.drums.radius_m,
            drum_mass_kg: rig.mass_kg(),
            drag_added_back: rig.drums.drag_added_back,
            simulates_a_car: rig.road_load.is_some(),
            roll_force: reduction.force.as_ref().map(|used| Force::of(used, rig)),
            power_doubt,
            force_doubt,
            engine_log: reduction.alignment.map(|found| Clock {
                lag_s: found.lag_s,
                lag_se_s: found.lag_se_s,
                scale: found.scale,
                residual: found.residual,
                residual_unit: if log.engine_rpm.is_some() {
                    "rpm"
                } else {
                    "m/s"
                },
                overlap_s: found.overlap_s,
            }),
            left_out_readings: self.left_out_readings(&reduction.bad),
            stuck: reduction
                .bad
                .stuck
                .iter()
                .map(|rows| self.gap(rows.start, rows.end - 1))
                .collect(),
            other_gearing: other_gearing(&pulls),
            pulls,
            left_out: reduction.left_out,
            repeatability: reduction
                .agreements
                .iter()
                .map(|&(first, second, agreement)| Repeat {
                    first: first + 1,
                    second: second + 1,
                    agreement,
                })
                .collect(),
            coast_down,
            coast_down_refused,
        })
    }

    fn gap(&self, first: usize, last: usize) -> Gap {
        let time_s = &self.log.log.time_s;
        Gap {
            first_line: (self.line)(first),
            last_line: (self.line)(last),
            from_s: time_s[first],
            duration_s: time_s[last] - time_s[first],
        }
    }

    fn left_out_readings(&self, bad: &BadReadings) -> Vec<LeftOut> {
        let Reading::Speed(speed) = &self.log.log.reading else {
            return Vec::new();
        };
        let left_out = bad.single.iter().map(|&(row, predicted_m_s)| LeftOut {
            line: (self.line)(row),
            speed_m_s: speed[row],
            predicted_m_s,
        });
        left_out.collect()
    }
}

/// Stretches whose ratio of engine to drum speed is another than that of the first one with a curve.
fn other_gearing(pulls: &[Stretch]) -> Option<OtherGearing> {
    let mut ratios = pulls
        .iter()
        .enumerate()
        .filter_map(|(number, pull)| Some((number + 1, pull.curve.as_ref()?.ratio_rpm_s_m)));
    let (against, one) = ratios.next()?;
    let stretches: Vec<OtherRatio> = ratios
        .map(|(stretch, ratio)| OtherRatio {
            stretch,
            ratio: ratio / one,
        })
        .filter(|other| (other.ratio - 1.0).abs() > SHIFTED)
        .collect();
    (!stretches.is_empty()).then_some(OtherGearing { against, stretches })
}

/// Speeds at which drag is told, shares of the way from the slowest to the fastest.
const LEVELS: [f64; 3] = [0.1, 0.5, 0.9];

impl Coast {
    fn of(found: &CoastDown, state: State, mass_kg: f64) -> Self {
        let (t, tells) = (found.t95(), found.tells_coefficients());
        let (high, low) = found.speed_m_s;
        Self {
            state,
            mass_kg,
            speed_m_s: found.speed_m_s,
            duration_s: found.duration_s,
            coefficients: tells.then_some([
                found.drag.f0_n,
                found.drag.f1_n_s_m,
                found.drag.f2_n_s2_m2,
            ]),
            half_widths_95: tells.then(|| found.coefficient_se().map(|se| t * se)),
            drag: LEVELS
                .iter()
                .map(|share| {
                    let v = low + share * (high - low);
                    (v, found.drag.at_n(v), t * found.se_n(v))
                })
                .collect(),
            residual: found.residual,
        }
    }
}
