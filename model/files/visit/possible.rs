//! What the readings of a pull can be: a range for every channel that is used, a range for how long a pull lasts, and single readings
//! that stand far off their neighbours.
//!
//! The ranges are wide: what lies outside them is another unit, a broken sensor or a number that was never measured, never a car.
//! They are common practice, without a source. Rows that are not used, before a pull has settled and at its end, may hold anything.
//! It refuses to put a value in the place of one that it leaves out, and to leave out many.

use std::ops::Range;

use super::super::diagnostic::{Code, Problem, Problems};
use super::super::run_csv::{Channel, Pull, RunFile};
use super::recording::at_row;
use crate::dyno::Recording;
use crate::units::{self, show_number};

/// A single reading far off its neighbours was left out.
pub const READING_LEFT_OUT: Code = Code::new("reading_left_out");

/// How long a pull can last, from its first to its last used row, s.
const LASTS_S: (f64, f64) = (0.5, 600.0);

/// Below this share of its peak no pull's power falls, not even where the throttle is shut: what brakes so is the brake.
const LEAST_POWER_SHARE: f64 = -0.30;
/// More power than any car has, W.
const MOST_W: f64 = 5e6;

/// 0 °C in K, by definition.
const ICE_K: f64 = 273.15;
const CELSIUS: &str = "°C";

/// Rows on each side that are a reading's neighbours.
const NEIGHBOURS: usize = 4;
/// A reading above this many times the median of its neighbours is none. Between two levels, as where boost arrives, the median
/// lies half way, and the reading stays below twice of it: no step is taken for a lone reading.
const TIMES: f64 = 3.0;
/// The same of a temperature, whose sensor is slow, K.
const APART_K: f64 = 60.0;
/// Where more than one reading in so many stands apart, it is the sensor and not a reading.
const ONE_IN: usize = 20;

/// One channel as it is used.
struct Reading<'a> {
    name: &'static str,
    /// The columns it may come from.
    from: &'static [Channel],
    values: &'a [f64],
    /// What is possible, in the unit shown; the lower end itself is not, where it says so.
    low: f64,
    above_low: bool,
    high: f64,
    /// SI to the unit shown: factor and offset.
    shown: (f64, f64),
    unit: &'static str,
}

impl Reading<'_> {
    fn in_shown(&self, si: f64) -> f64 {
        si * self.shown.0 + self.shown.1
    }

    fn possible(&self, si: f64) -> bool {
        let value = self.in_shown(si);
        value <= self.high && (value > self.low || (value >= self.low && !self.above_low))
    }

    fn show(&self, si: f64) -> String {
        let number = show_number(self.in_shown(si), 4);
        if self.unit.is_empty() {
            number
        } else {
            format!("{number} {}", self.unit)
        }
    }

    fn range(&self) -> String {
        let blank = if self.unit.is_empty() { "" } else { " " };
        let least = if self.above_low {
            "more than"
        } else {
            "at least"
        };
        // Only power may fall below zero by a share of its own peak; a person reads the number with its reason.
        let why = if self.unit == "kW" {
            format!(" ({:.0} % of the pull's peak)", 100.0 * LEAST_POWER_SHARE)
        } else {
            String::new()
        };
        format!(
            "{least} {}{why} and at most {}{blank}{}",
            show_number(self.low, 4),
            show_number(self.high, 4),
            self.unit
        )
    }

    /// The column as headed in the file.
    fn column(&self, run: &RunFile) -> String {
        let mut columns = self.from.iter().filter_map(|c| run.column(*c));
        columns
            .next()
            .map_or_else(String::new, |c| format!(", column '{}'", c.header))
    }

    /// What is most likely mistaken about an impossible reading.
    fn doubt(&self, row: usize) -> &'static str {
        // Nothing lies below no pressure but what is counted from the room's.
        let gauge = self.from.contains(&Channel::ManifoldPressure) && self.values[row] <= 0.0;
        if gauge {
            "is it gauge pressure, 'boost', and not absolute?"
        } else {
            "is the unit right?"
        }
    }

    /// Whether a reading stands far off its neighbours' median.
    fn apart(&self, row: usize) -> Option<f64> {
        let half = NEIGHBOURS.min(row).min(self.values.len() - 1 - row);
        if half == 0 {
            return None;
        }
        let mut near: Vec<f64> = self.values[row - half..row]
            .iter()
            .chain(&self.values[row + 1..=row + half])
            .copied()
            .collect();
        near.sort_by(f64::total_cmp);
        let median = f64::midpoint(near[half - 1], near[half]);
        let value = self.values[row];
        let apart = if self.unit == CELSIUS {
            (value - median).abs() > APART_K
        } else {
            median > 0.0 && value > TIMES * median
        };
        apart.then_some(median)
    }
}

/// The channels that are used; `used` are the rows.
fn readings<'a>(recording: &'a Recording, used: &Range<usize>) -> Vec<Reading<'a>> {
    let kw = |name, from, values: &'a [f64]| {
        // What cannot be is no peak either.
        let readings = values[used.clone()].iter().copied();
        let peak = readings.filter(|w| *w <= MOST_W).fold(0.0, f64::max);
        Reading {
            name,
            from,
            values,
            low: LEAST_POWER_SHARE * peak / 1e3,
            above_low: false,
            high: MOST_W / 1e3,
            shown: (1e-3, 0.0),
            unit: "kW",
        }
    };
    let mut list = vec![kw(
        "power",
        &[
            Channel::WheelPower,
            Channel::WheelTorque,
            Channel::WheelForce,
            Channel::DrumTorque,
            Channel::CorrectedWheelPower,
        ],
        &recording.power_w,
    )];
    if let Some(values) = &recording.corrected_w {
        list.push(kw(
            "corrected power",
            &[Channel::CorrectedWheelPower],
            values,
        ));
    }
    let mut push = |name, from, values: &'a Option<Vec<f64>>, range: (f64, bool, f64), shown| {
        let ((factor, offset), unit) = shown;
        if let Some(values) = values {
            list.push(Reading {
                name,
                from,
                values,
                low: range.0,
                above_low: range.1,
                high: range.2,
                shown: (factor, offset),
                unit,
            });
        }
    };
    push(
        "absolute manifold pressure",
        &[Channel::ManifoldPressure, Channel::Boost],
        &recording.manifold_pa,
        (0.0, true, 600.0),
        ((1e-3, 0.0), "kPa"),
    );
    push(
        "charge temperature",
        &[Channel::ChargeTemperature],
        &recording.charge_k,
        (-60.0, false, 300.0),
        ((1.0, -ICE_K), CELSIUS),
    );
    push(
        "lambda",
        &[Channel::Lambda],
        &recording.lambda,
        (0.0, true, 5.0),
        ((1.0, 0.0), ""),
    );
    push(
        "drum speed",
        &[Channel::DrumSpeed],
        &recording.drum_rad_s,
        (0.0, true, 10_000.0),
        ((units::RPM_PER_RAD_S, 0.0), "rpm"),
    );
    // A blower whose belt is gone stands still.
    push(
        "blower speed",
        &[Channel::BlowerSpeed],
        &recording.blower_rad_s,
        (0.0, false, 300_000.0),
        ((units::RPM_PER_RAD_S, 0.0), "rpm"),
    );
    list
}

/// Refuses a pull that lasts as long as none can, rows given.
pub(super) fn duration(
    run: &RunFile,
    pull: &Pull,
    time_s: &[f64],
    used: Range<usize>,
) -> Result<(), Box<Problem>> {
    let rows = &time_s[used.clone()];
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return Ok(());
    };
    let lasts_s = last - first;
    if (LASTS_S.0..=LASTS_S.1).contains(&lasts_s) {
        return Ok(());
    }
    let value = format!("{} s", show_number(lasts_s, 4));
    let header = run
        .column(Channel::Time)
        .map_or_else(String::new, |c| format!(" by column '{}'", c.header));
    let message = format!("the pull lasts {value} from its first to its last used row{header}");
    Err(Box::new(
        at_row(run, pull, used.start, Code::OUT_OF_RANGE, &message)
            .value(value)
            .expected(format!(
                "{} s to {} s; is the unit right?",
                LASTS_S.0, LASTS_S.1
            )),
    ))
}

/// Refuses readings that no car makes; the rows, none or a few, whose reading stands alone far off its neighbours, each with a warning.
pub(super) fn apart(
    run: &RunFile,
    pull: &Pull,
    recording: &Recording,
    used: &Range<usize>,
    warnings: &mut Problems,
) -> Result<Vec<usize>, Box<Problem>> {
    let readings = readings(recording, used);
    for reading in &readings {
        let impossible = |row: &usize| !reading.possible(reading.values[*row]);
        let mut rows = used.clone().filter(impossible);
        if let Some(row) = rows.next() {
            let value = reading.show(reading.values[row]);
            let more = match rows.count() {
                0 => String::new(),
                1 => ", and one more row is out of range".to_owned(),
                n => format!(", and {n} more rows are out of range"),
            };
            let message = format!("{} is {value}{}{more}", reading.name, reading.column(run));
            return Err(Box::new(
                at_row(run, pull, row, Code::OUT_OF_RANGE, &message)
                    .value(value)
                    .expected(format!("{}; {}", reading.range(), reading.doubt(row))),
            ));
        }
    }
    let mut out = Vec::new();
    for reading in &readings {
        let alone: Vec<(usize, f64)> = used
            .clone()
            .filter_map(|row| Some((row, reading.apart(row)?)))
            .collect();
        for &(row, median) in &alone {
            let value = reading.show(reading.values[row]);
            let message = format!(
                "{} jumps to {value} between neighbours of {}{}",
                reading.name,
                reading.show(median),
                reading.column(run)
            );
            let problem = at_row(run, pull, row, READING_LEFT_OUT, &message).value(value);
            if alone.len() * ONE_IN > used.len() {
                return Err(Box::new(problem.expected(format!(
                    "a signal without jumps; {} of {} rows jump",
                    alone.len(),
                    used.len()
                ))));
            }
            warnings.push(
                problem
                    .expected(
                        "readings like their neighbours; the row was left out and not replaced",
                    )
                    .warning(),
            );
            out.push(row);
        }
    }
    out.sort_unstable();
    out.dedup();
    Ok(out)
}
