//! Finds the pulls in a long drum log: where the drum gathers speed at full throttle in one gear, and what ends each stretch.
//!
//! Driving up to speed, shifts, the limiter, lift-off, braking and coasting all stand in the same log. A rough acceleration
//! over short windows tells them apart; the corners are then placed by two straight lines. It does not judge whether
//! the throttle was open: the strongest stretches set the measure, and weaker ones are left out and counted.

use serde::Serialize;
use std::ops::Range;

use super::savitzky_golay::rates;
use super::signal::{Measured, Signal, whole};

/// What ended a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "ended_by", rename_all = "snake_case")]
pub enum End {
    /// The throttle was closed; the drum runs down.
    LiftOff,
    /// The engine was held at a speed, then let go.
    Limiter {
        /// For how long it was held, s.
        held_s: f64,
    },
    /// Another gear follows.
    Shift {
        /// Engine turns per drum turn after over before, where engine speed is logged.
        ratio: Option<f64>,
        /// Time until the drum is driven again, s.
        gap_s: f64,
    },
    /// The log ends.
    LogEnds,
}

/// A stretch in which the drum is driven in one gear.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Rows of the log.
    pub rows: Range<usize>,
    /// First and last time, s.
    pub time_s: (f64, f64),
    /// Speed of the surface there, m/s.
    pub speed_m_s: (f64, f64),
    /// What ended it.
    pub end: End,
    /// Number of the pull it belongs to, from 1; stretches parted by shifts share one.
    pub pull: usize,
}

impl Stretch {
    /// Top speed over first speed.
    pub fn climb(&self) -> f64 {
        self.speed_m_s.1 / self.speed_m_s.0.max(0.1)
    }
}

/// Where the drum runs down by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct RunDown {
    /// Rows of the log.
    pub rows: Range<usize>,
    /// First and last speed, m/s.
    pub speed_m_s: (f64, f64),
}

/// What a log holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Finds {
    /// Stretches at full throttle, in time.
    pub stretches: Vec<Stretch>,
    /// Stretches that were driven, but too short or too weak for a curve.
    pub left_out: usize,
    /// Run-downs, in time.
    pub run_downs: Vec<RunDown>,
}

/// A stretch climbs at least so much: below, a curve would hold a corner of the engine's range. The same as for recorded pulls.
const LEAST_CLIMB: f64 = 1.15;
/// A stretch lasts at least so long, s. Common practice, no source.
const LEAST_S: f64 = 1.0;
/// Fewest rows of a stretch.
const LEAST_ROWS: usize = 12;
/// Share of the log's high power below which the drum is not driven at all. No source, assumed.
const DRIVEN: f64 = 0.12;
/// Share of the log's high power that a full-throttle stretch reaches. No source, assumed.
const FULL: f64 = 0.5;
/// A shift is over within this time, s. Common practice, no source.
const SHIFT_S: f64 = 2.0;
/// Sudden rise of force, relative to what follows, that is the throttle opening and not the engine. No source, assumed.
const OPENING: f64 = 0.3;
/// Shortest hold that is a limiter and not the slack of a throttle closing, s. No source, assumed.
const HELD_S: f64 = 0.25;
/// Deceleration beyond which the drum is braked, m/s². No source, assumed: three times what strong drag makes.
pub(super) const BRAKED_M_S2: f64 = 2.5;
/// Shortest run-down, s, and the share of its speed that it loses at least.
const RUN_DOWN: (f64, f64) = (2.0, 0.2);
/// Time after the throttle has opened in which the force comes up, s. Common practice, no source.
const GRACE_S: f64 = 0.15;
/// Half of the window in which a run-down is looked for, s.
const CALM_S: f64 = 0.75;
/// Rough series are no finer than this, s.
const ROUGH_STEP_S: f64 = 0.02;

/// Rough speed and acceleration on a coarser clock.
struct Rough {
    /// Row of the log of every rough row.
    row: Vec<usize>,
    time_s: Vec<f64>,
    speed: Vec<f64>,
    rate: Vec<f64>,
    /// Half of the window in which rates were taken, s.
    half_s: f64,
    /// Rough rate of the engine's speed, where logged.
    engine_rate: Option<Vec<f64>>,
    engine: Option<Vec<f64>>,
}

impl Rough {
    fn new(signal: &Signal, engine: Option<&[f64]>) -> Option<Self> {
        let step_s = signal.step_s();
        let block = whole(ROUGH_STEP_S / step_s).max(1);
        let row: Vec<usize> = (0..signal.len()).step_by(block).collect();
        if row.len() < LEAST_ROWS {
            return None;
        }
        let mean = |values: &[f64]| -> Vec<f64> {
            row.iter()
                .map(|&r| {
                    let (low, high) = (
                        r.saturating_sub(block / 2),
                        (r + block / 2 + 1).min(values.len()),
                    );
                    values[low..high].iter().sum::<f64>() / (high - low) as f64
                })
                .collect()
        };
        let time_s: Vec<f64> = row.iter().map(|&r| signal.time_s[r]).collect();
        let values = match signal.measured {
            Measured::Speed => mean(&signal.values),
            Measured::Way => row.iter().map(|&r| signal.values[r]).collect(),
        };
        let (degree, order) = match signal.measured {
            Measured::Speed => (1, 1),
            Measured::Way => (2, 2),
        };
        // The shortest window whose acceleration is calm beside that of a pull.
        let mut half_s = (2.0 * step_s).max(0.06);
        let mut rate;
        loop {
            rate = rates(&time_s, &values, half_s, degree, order);
            let calm = jitter(&rate) < 0.05 * high(&rate);
            if calm || half_s > 0.6 {
                break;
            }
            half_s *= 1.5;
        }
        let speed = rates(&time_s, &values, half_s, degree, order - 1);
        let engine = engine.map(mean);
        let engine_rate = engine
            .as_ref()
            .map(|engine| rates(&time_s, engine, half_s.max(0.1), 1, 1));
        Some(Self {
            row,
            time_s,
            speed,
            rate,
            half_s,
            engine_rate,
            engine,
        })
    }

    fn power(&self, i: usize) -> f64 {
        self.speed[i] * self.rate[i]
    }

    fn seconds(&self, i: usize, further_s: f64) -> usize {
        let to = self.time_s[i] + further_s;
        self.time_s
            .partition_point(|&t| t < to)
            .min(self.time_s.len() - 1)
    }

    /// Where two straight lines through the speed meet best, near a row.
    fn corner(&self, near: usize, within: Range<usize>) -> usize {
        let reach = (2.5 * self.half_s).max(0.3);
        let low = self.seconds(near, -reach).max(within.start);
        let high = self.seconds(near, reach).min(within.end - 1);
        if high < low + 6 {
            return near.clamp(within.start, within.end - 1);
        }
        let best = (low + 2..high - 1)
            .min_by(|&a, &b| self.bent(low, a, high).total_cmp(&self.bent(low, b, high)));
        best.unwrap_or(near)
    }

    /// Squares left by a line that bends at `at`, over rows `low..=high`.
    fn bent(&self, low: usize, at: usize, high: usize) -> f64 {
        let mut normal = nalgebra::Matrix3::<f64>::zeros();
        let mut right = nalgebra::Vector3::<f64>::zeros();
        let mut squares = 0.0;
        for i in low..=high {
            let t = self.time_s[i] - self.time_s[at];
            let x = nalgebra::Vector3::new(1.0, t.min(0.0), t.max(0.0));
            normal += x * x.transpose();
            right += x * self.speed[i];
            squares += self.speed[i] * self.speed[i];
        }
        normal
            .cholesky()
            .map_or(f64::INFINITY, |c| squares - right.dot(&c.solve(&right)))
    }
}

/// Ninety-fifth percentile of what is positive.
fn high(values: &[f64]) -> f64 {
    let mut up: Vec<f64> = values.iter().copied().filter(|v| *v > 0.0).collect();
    up.sort_by(f64::total_cmp);
    up.get(up.len() * 19 / 20).copied().unwrap_or(0.0)
}

/// Typical step of a rough rate against the mean of its neighbours.
fn jitter(values: &[f64]) -> f64 {
    let mut steps: Vec<f64> = values
        .windows(3)
        .map(|w| (w[1] - 0.5 * (w[0] + w[2])).abs())
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() * 3 / 4).copied().unwrap_or(0.0)
}

/// Runs of rows for which something holds.
fn runs(n: usize, holds: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    for i in 0..n {
        if holds(i) {
            match found.last_mut() {
                Some(last) if last.end == i => last.end = i + 1,
                _ => found.push(i..i + 1),
            }
        }
    }
    found
}

/// Looks through a log; `engine` is the engine's speed at every row, in any unit, where logged on the same clock.
pub fn find(signal: &Signal, engine: Option<&[f64]>) -> Finds {
    let Some(rough) = Rough::new(signal, engine) else {
        return Finds::default();
    };
    let n = rough.time_s.len();
    let power: Vec<f64> = (0..n).map(|i| rough.power(i)).collect();
    let strong = high(&power);
    if strong <= 0.0 {
        return Finds {
            run_downs: run_downs(&rough),
            ..Finds::default()
        };
    }
    let driven = |i: usize| {
        power[i] > DRIVEN * strong
            && rough
                .engine_rate
                .as_ref()
                .is_none_or(|engine_rate| engine_rate[i] > 0.0)
    };
    let mut finds = Finds::default();
    let mut kept: Vec<Range<usize>> = Vec::new();
    for run in runs(n, driven) {
        let run = opened(&rough, run);
        let (first, last) = (run.start, run.end - 1);
        let long = rough.time_s[last] - rough.time_s[first] >= LEAST_S
            && rough.row[last] - rough.row[first] + 1 >= LEAST_ROWS;
        let climbs = rough.speed[last] >= LEAST_CLIMB * rough.speed[first];
        let peak = power[run.clone()].iter().fold(0.0, |m: f64, p| m.max(*p));
        if long && climbs && peak >= FULL * strong {
            kept.push(run);
        } else if long {
            finds.left_out += 1;
        }
    }
    let mut pull = 0;
    let mut corners: Vec<(usize, usize)> = Vec::new();
    for (i, run) in kept.iter().enumerate() {
        let next = kept.get(i + 1);
        let after = next.map_or(n, |next| next.start);
        let earlier = i
            .checked_sub(1)
            .and_then(|i| finds.stretches.get(i))
            .is_some_and(|before| matches!(before.end, End::Shift { .. }));
        pull += usize::from(!earlier);
        let before = i.checked_sub(1).map_or(0, |i| kept[i].end);
        // The corner of a shift lies between the stretches, that of the throttle before or after them.
        let start = rough.corner(run.start, before..run.end);
        let stop = if run.end == n {
            n - 1
        } else {
            rough.corner(run.end - 1, run.start..after)
        };
        corners.push((start, stop));
        let end = ending(&rough, run.start..stop + 1, next);
        // The force takes a moment to come up; at its end one rough row of grace is enough.
        let last = if run.end == n {
            stop
        } else {
            stop.saturating_sub(1).max(start)
        };
        let first = rough.seconds(start, GRACE_S).max(start + 1).min(last);
        let rows = rough.row[first]..rough.row[last] + 1;
        finds.stretches.push(Stretch {
            time_s: (signal.time_s[rows.start], signal.time_s[rows.end - 1]),
            speed_m_s: (rough.speed[first], rough.speed[last]),
            rows,
            end,
            pull,
        });
    }
    for i in 1..corners.len() {
        let gap = rough.time_s[corners[i].0] - rough.time_s[corners[i - 1].1];
        if let End::Shift { gap_s, .. } = &mut finds.stretches[i - 1].end {
            *gap_s = gap.max(0.0);
        }
    }
    finds.run_downs = run_downs(&rough);
    finds
}

/// Leaves out what was driven before the throttle opened.
fn opened(rough: &Rough, run: Range<usize>) -> Range<usize> {
    let look = 2.0 * rough.half_s;
    let last = run.start + run.len() * 3 / 5;
    let mut opening: Option<(f64, usize)> = None;
    for i in run.start..last {
        let (before, after) = (rough.seconds(i, -look), rough.seconds(i, look));
        if before < run.start || after >= run.end {
            continue;
        }
        let (a, b) = (rough.rate[before], rough.rate[after]);
        if b - a > OPENING * b.abs() && opening.is_none_or(|(most, _)| b - a > most) {
            opening = Some((b - a, i));
        }
    }
    opening.map_or(run.start, |(_, i)| i)..run.end
}

fn ending(rough: &Rough, run: Range<usize>, next: Option<&Range<usize>>) -> End {
    let n = rough.time_s.len();
    let last = run.end - 1;
    if let Some(next) = next {
        let gap_s = rough.time_s[next.start] - rough.time_s[last];
        let keeps = rough.speed[next.start] > 0.9 * rough.speed[last];
        let ratio = rough.engine.as_ref().map(|engine| {
            let of = |i: usize| engine[i] / rough.speed[i];
            let ahead = rough.seconds(next.start, 0.2).min(next.end - 1);
            let back = rough.seconds(last, -0.2).max(run.start);
            of(ahead) / of(back)
        });
        if gap_s < SHIFT_S && keeps && ratio.is_none_or(|r| (r - 1.0).abs() > 0.03) {
            return End::Shift { ratio, gap_s };
        }
    }
    if rough.seconds(last, 2.0 * rough.half_s) + 2 >= n {
        return End::LogEnds;
    }
    // Held: a line that bends into the run-down, and is much flatter before the bend.
    let stop = next.map_or(n, |next| next.start);
    let horizon = rough.seconds(last, 3.0).min(stop);
    let bend = (last + 2..horizon.saturating_sub(2)).min_by(|&a, &b| {
        rough
            .bent(last, a, horizon - 1)
            .total_cmp(&rough.bent(last, b, horizon - 1))
    });
    let Some(bend) = bend else {
        return End::LiftOff;
    };
    let slope = |from: usize, to: usize| {
        (rough.speed[to] - rough.speed[from]) / (rough.time_s[to] - rough.time_s[from])
    };
    let held_s = rough.time_s[bend] - rough.time_s[last];
    let (before, after) = (slope(last, bend), slope(bend, horizon - 1));
    // The window smears the corner over its own half.
    if held_s > HELD_S + rough.half_s && before > 0.4 * after {
        End::Limiter { held_s }
    } else {
        End::LiftOff
    }
}

fn run_downs(rough: &Rough) -> Vec<RunDown> {
    // Drag is weak beside a pull, so its rate needs a longer look.
    let calm = rates(&rough.time_s, &rough.speed, CALM_S, 1, 1);
    let falling = |i: usize| calm[i] < 0.0 && calm[i] > -BRAKED_M_S2 && rough.speed[i] > 1.0;
    runs(rough.time_s.len(), falling)
        .into_iter()
        .filter_map(|run| {
            // The window smears the corners over its own half.
            let first = rough.seconds(run.start, 2.0 * CALM_S);
            let last = rough.seconds(run.end - 1, -2.0 * CALM_S);
            if last <= first {
                return None;
            }
            let lasts = rough.time_s[last] - rough.time_s[first] >= RUN_DOWN.0;
            let loses = rough.speed[last] < (1.0 - RUN_DOWN.1) * rough.speed[first];
            (lasts && loses).then(|| RunDown {
                rows: rough.row[first]..rough.row[last] + 1,
                speed_m_s: (rough.speed[first], rough.speed[last]),
            })
        })
        .collect()
}
