//! What numbers cannot be: engine speed of a few turns, a mixture that no engine burns, a clock of an absurd rate, a drum that runs like an engine, torque of an axle.
//!
//! A factor or a name that is wrong makes a number wrong by ten or a thousand, which no engine is; such a column is asked about and never read as it stands. Where
//! a factor may be meant either way, the numbers decide by the same measure. What a person has answered is not asked again.

use super::answers::suffix_of;
use super::cell::{Marks, is_missing};
use super::channel::Channel;
use super::header::{Meaning, Question, Reading};
use super::infer::{median_step, time_fits};
use super::read::{Raw, Sheet};
use super::settle::{Asked, Settling};
use crate::files::diagnostic::{Code, Problem};
use crate::files::shown::clipped;
use crate::numeric::upper_median;
use crate::units::{Dimension, UNITS, Unit, rpm, show_number};

// All bounds here are common practice, without a source: wide enough for what shops measure, and a tenth or a thousandth of it lies outside.

/// What engines reach on a rig, rpm.
const ENGINE_RPM: std::ops::RangeInclusive<f64> = 500.0..=30_000.0;
/// Torque at engine speed beyond which a head that does not say so may mean the axle, N m: few engines reach it, in a lower gear every axle does.
const AXLE_NM: f64 = 550.0;
/// Mass that torque over acceleration shows and no inertia rig has, kg.
const AXLE_KG: f64 = 3500.0;

/// Rows of which something is said.
const FEWEST: usize = 20;

/// Values in SI by a reading.
fn si(raw: &Raw, reading: Reading) -> Vec<f64> {
    let finite = raw.values.iter().copied().filter(|v| v.is_finite());
    finite
        .map(|v| reading.unit.to_si(v * reading.scale))
        .collect()
}

fn top(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

fn low(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::INFINITY, f64::min)
}

/// The value that a share of all lie below.
fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let below = share * sorted.len().saturating_sub(1) as f64;
    let at = (0..sorted.len()).find(|&at| at as f64 + 0.5 > below);
    at.map_or(f64::NAN, |at| sorted[at])
}

/// Whether a channel can have such values; nothing is said where it can have any.
fn possible(channel: Channel, values: &[f64]) -> Option<bool> {
    if values.is_empty() {
        return None;
    }
    Some(match (channel, channel.dimension()?) {
        // One reading that jumps is the row's mistake.
        // An engine that stands still is another mistake.
        (Channel::EngineSpeed, _) => {
            top(values) <= 0.0
                || ENGINE_RPM.start() <= &rpm(top(values))
                    && ENGINE_RPM.end() >= &rpm(quantile(values, 0.98))
        }
        // Behind a closed throttle the gauge shows air.
        (Channel::Lambda, _) => quantile(values, 0.25) <= 3.0 && quantile(values, 0.5) >= 0.4,
        (Channel::Time, _) => {
            let step_s = median_step(values);
            step_s <= 0.0 || (1e-5..=4.0).contains(&step_s)
        }
        (_, Dimension::Power) => (3e3..3e6).contains(&top(values)),
        (_, Dimension::Torque) => (10.0..2e4).contains(&top(values)),
        (_, Dimension::Force) => (100.0..5e4).contains(&top(values)),
        (_, Dimension::Speed) => (3.0..150.0).contains(&top(values)),
        (_, Dimension::Temperature) => low(values) > 220.0 && top(values) < 1600.0,
        (_, Dimension::Pressure | Dimension::BarometricPressure) => {
            low(values) > 8e3 && top(values) < 8e5
        }
        (Channel::ThrottlePosition, _) => (0.05..=1.15).contains(&top(values)),
        _ => return None,
    })
}

/// The name under which a column of a unit and a factor is read.
fn named(channel: Channel, unit: &Unit, times: f64) -> String {
    let name = channel.name().replace(' ', "_");
    let plain = (times - 1.0).abs() < 1e-9;
    match (unit.symbol, plain) {
        ("1", true) => name,
        ("1", false) => format!("{name}_{times}"),
        (symbol, true) => format!("{name}_{}", suffix_of(symbol)),
        (symbol, false) => format!("{name}_{times}_{}", suffix_of(symbol)),
    }
}

/// The clean inverse of a power of ten.
fn inverse(times: f64) -> f64 {
    let power = (1.0 / times).log10().round();
    format!("1e{power}").parse().unwrap_or(1.0 / times)
}

impl Settling<'_, '_> {
    fn ask(
        &mut self,
        at: usize,
        code: Code,
        message: String,
        expected: &str,
        answers: Vec<String>,
    ) {
        let raw = &self.sheet.columns[at];
        self.asked.push(Asked {
            index: raw.index,
            head: raw.head.clone(),
            question: Question {
                code,
                message,
                expected: expected.to_owned(),
                answers,
            },
        });
    }

    fn numbers(&self, at: usize) -> Option<Reading> {
        match self.sheet.columns[at].meaning {
            Meaning::Numbers(reading) => Some(reading),
            _ => None,
        }
    }

    /// Factors that may be left to take or taken already: the numbers show which, or a person does.
    pub(super) fn settle_factors(&mut self) {
        let mut dropped = Vec::new();
        for at in 0..self.sheet.columns.len() {
            let Some(reading) = self.numbers(at).filter(|reading| reading.either) else {
                continue;
            };
            let raw = &self.sheet.columns[at];
            let turned = Reading {
                scale: inverse(reading.scale),
                ..reading
            };
            let fits = |reading: Reading| possible(reading.channel, &si(raw, reading));
            let settled = match (fits(reading), fits(turned)) {
                (Some(true), Some(false)) => Some(reading),
                (Some(false), Some(true)) => Some(turned),
                _ => None,
            };
            if let Some(reading) = settled {
                self.sheet.columns[at].meaning = Meaning::Numbers(reading);
            } else if reading.channel.is_used() {
                let message = format!(
                    "column '{}' states a factor of {}, and its numbers do not show whether it is taken already",
                    clipped(&raw.head),
                    reading.scale
                );
                let names = [reading.scale, turned.scale, 1.0];
                let names = names.map(|times| named(reading.channel, reading.unit, times));
                let expected = "a unit with the factor before it, such as '0.1 kW'";
                self.ask(at, Code::UNIT_AMBIGUOUS, message, expected, names.to_vec());
            } else {
                dropped.push(raw.index);
            }
        }
        for index in dropped {
            self.remove(index, "its factor is in doubt");
        }
    }

    /// Engine speed, mixture and time that cannot be.
    pub(super) fn ask_impossible(&mut self) {
        let mut dead = Vec::new();
        for at in 0..self.sheet.columns.len() {
            let raw = &self.sheet.columns[at];
            let Some(reading) = self.numbers(at).filter(|_| !raw.answered) else {
                continue;
            };
            let values = si(raw, reading);
            let written: Vec<f64> = raw
                .values
                .iter()
                .copied()
                .filter(|v| v.is_finite())
                .collect();
            if values.len() < FEWEST
                || self.asked.iter().any(|of| of.index == raw.index)
                || possible(reading.channel, &values) != Some(false)
            {
                continue;
            }
            let head = clipped(&raw.head).into_owned();
            let from = show_number(low(&written), 4);
            let to = show_number(top(&written), 4);
            match reading.channel {
                // What lies beyond every engine is told with its line where it is used.
                Channel::EngineSpeed if rpm(top(&values)) > *ENGINE_RPM.end() => {}
                Channel::EngineSpeed => {
                    let thousands = ENGINE_RPM.contains(&rpm(1000.0 * top(&values)));
                    let what = if thousands {
                        "is it thousands?"
                    } else {
                        "what is it?"
                    };
                    let message = format!(
                        "column '{head}' reaches {to} {}, which no engine turns: {what}",
                        reading.unit.symbol
                    );
                    let mut names = Vec::new();
                    if thousands {
                        names.push("engine_speed_1000_rpm".to_owned());
                    }
                    if (20.0..=300.0).contains(&top(&written)) {
                        names.extend(["engine_speed_rev_s", "road_speed_km_h"].map(str::to_owned));
                    }
                    names.push("skip".to_owned());
                    self.ask(
                        at,
                        Code::UNIT_AMBIGUOUS,
                        message,
                        "engine speed that engines reach",
                        names,
                    );
                }
                // A gauge that was not plugged in.
                Channel::Lambda if written.iter().all(|v| *v == 0.0) => dead.push(raw.index),
                Channel::Lambda => {
                    let (what, names) = mixture(quantile(&written, 0.5));
                    let message = format!(
                        "column '{head}' runs from {from} to {to}, which no engine burns as {}: {what}",
                        if reading.scale < 0.5 {
                            "air over fuel"
                        } else {
                            "lambda"
                        }
                    );
                    let names = names.iter().map(|name| (*name).to_owned()).collect();
                    self.ask(
                        at,
                        Code::UNIT_AMBIGUOUS,
                        message,
                        "a mixture that engines burn",
                        names,
                    );
                }
                Channel::Time => self.ask_time(at, &written, &values),
                _ => {}
            }
        }
        for index in dead {
            self.remove(index, "all zeros");
        }
    }

    /// A clock of an absurd rate.
    fn ask_time(&mut self, at: usize, written: &[f64], values: &[f64]) {
        let counts = [
            ("s", 0.1),
            ("s", 0.01),
            ("ms", 1.0),
            ("µs", 1.0),
            ("s", 1.0),
            ("min", 1.0),
        ];
        let of = |(symbol, times): (&str, f64)| {
            let is = |unit: &&Unit| unit.symbol == symbol && unit.dimension == Dimension::Time;
            let unit = UNITS.iter().find(is)?;
            time_fits(written, unit.factor() * times)
                .then(|| named(Channel::Time, unit, times).replace('µ', "u"))
        };
        let mut names: Vec<String> = counts.into_iter().filter_map(of).collect();
        names.push("skip".to_owned());
        let unit = self.numbers(at).map_or("s", |reading| reading.unit.symbol);
        let message = format!(
            "column '{}' runs from {} to {} {unit}, a row each {} s: in what is it counted?",
            clipped(&self.sheet.columns[at].head),
            show_number(low(written), 4),
            show_number(top(written), 4),
            show_number(median_step(values), 3)
        );
        self.ask(at, Code::UNIT_AMBIGUOUS, message, "time of a log", names);
    }

    /// A drum that runs like an engine: left out beside engine speed, asked about where it would be the only speed.
    pub(super) fn ask_drum(&mut self) {
        let is_drum = |raw: &Raw| matches!(raw.meaning, Meaning::Numbers(r) if r.channel == Channel::DrumSpeed);
        let Some(at) = self.sheet.columns.iter().position(is_drum) else {
            return;
        };
        let (Some(reading), false) = (self.numbers(at), self.sheet.columns[at].answered) else {
            return;
        };
        let raw = &self.sheet.columns[at];
        let drum = si(raw, reading);
        // `drum speed` says what it is, `RPM (from rollers)` does not.
        let plain = super::lexicon::words_of(&raw.head).contains(&"speed".to_owned());
        if let Some(engine) = self.values_si(Channel::EngineSpeed) {
            let own = raw
                .values
                .iter()
                .map(|v| reading.unit.to_si(v * reading.scale));
            let ratios = own.zip(engine).map(|(drum, engine)| drum / engine);
            let ratio = upper_median(ratios.filter(|ratio| ratio.is_finite()));
            if ratio.is_some_and(|ratio| (ratio - 1.0).abs() < 0.05) {
                self.remove(raw.index, "it runs like engine speed, not like a drum");
            }
            return;
        }
        if plain || self.has(Channel::RoadSpeed) || drum.len() < FEWEST {
            return;
        }
        let (from, to) = (rpm(low(&drum)), rpm(top(&drum)));
        if (700.0..4000.0).contains(&from) && (4000.0..9500.0).contains(&to) {
            let message = format!(
                "is '{}' the speed of the drum or of the engine? It runs from {from:.0} to {to:.0} rpm, as engines do",
                clipped(&raw.head)
            );
            let names = ["engine_speed_rpm", "drum_speed_rpm"].map(str::to_owned);
            self.ask(
                at,
                Code::COLUMN_QUESTION,
                message,
                "engine speed or drum speed",
                names.to_vec(),
            );
        }
    }

    /// Torque without power, so large that it may be the axle's.
    pub(super) fn ask_axle(&mut self) {
        let is_torque = |raw: &Raw| matches!(raw.meaning, Meaning::Numbers(r) if r.channel == Channel::WheelTorque);
        let Some(at) = self.sheet.columns.iter().position(is_torque) else {
            return;
        };
        let others = [
            Channel::WheelPower,
            Channel::CorrectedWheelPower,
            Channel::CrankPower,
            Channel::WheelForce,
        ];
        let raw = &self.sheet.columns[at];
        let words = super::lexicon::words_of(&raw.head).join(" ");
        let says = ["engine", "mot", "moteur"]
            .iter()
            .any(|word| words.contains(word));
        let (Some(reading), Some(nm)) = (self.numbers(at), self.values_si(Channel::WheelTorque))
        else {
            return;
        };
        if raw.answered || says || others.iter().any(|of| self.has(*of)) {
            return;
        }
        let finite: Vec<f64> = nm.iter().copied().filter(|v| v.is_finite()).collect();
        let heavy = self.mass_kg(&nm).is_some_and(|mass_kg| mass_kg > AXLE_KG);
        if !self.has(Channel::EngineSpeed) || !(heavy || quantile(&finite, 0.95) > AXLE_NM) {
            return;
        }
        let message = format!(
            "'{}' reaches {} {}: is it wheel power over engine speed, or the torque of the axle?",
            clipped(&raw.head),
            show_number(reading.unit.from_si(top(&finite)), 3),
            reading.unit.symbol
        );
        let unit = suffix_of(reading.unit.symbol);
        let names = vec![format!("wheel_torque_{unit}"), format!("hub_torque_{unit}")];
        let expected = "torque referred to engine speed, or the axle's under the name 'hub torque'";
        self.ask(at, Code::COLUMN_QUESTION, message, expected, names);
    }

    /// Mass that torque at engine speed would have sped up, where road speed and time are there.
    fn mass_kg(&self, nm: &[f64]) -> Option<f64> {
        let engine = self.values_si(Channel::EngineSpeed)?;
        let road = self.values_si(Channel::RoadSpeed)?;
        let time = self.values_si(Channel::Time)?;
        let last = nm.len().min(time.len()).checked_sub(1)?;
        // Over half a second, or so many rows as the pull has.
        let far = |row: &usize| time[*row] - time[0] >= 0.5;
        let rows = (1..=last).find(far).unwrap_or(last.max(1));
        let masses = (0..last.saturating_sub(rows)).filter_map(|row| {
            let gained = (road[row + rows] - road[row]) / (time[row + rows] - time[row]);
            let force = nm[row] * engine[row] / road[row];
            (gained > 0.05 && force > 0.0).then_some(force / gained)
        });
        upper_median(masses.filter(|mass| mass.is_finite()))
    }
}

/// What a mixture that cannot be lambda may be, and the names for it.
fn mixture(middle: f64) -> (&'static str, &'static [&'static str]) {
    match middle {
        m if (5.0..=25.0).contains(&m) => (
            "is it air over fuel?",
            &["afr 14.7", "afr 14.1", "afr 9.8", "skip"],
        ),
        m if (300.0..=3000.0).contains(&m) => ("is it thousandths?", &["lambda_0.001", "skip"]),
        m if (30.0..=250.0).contains(&m) => ("is it per cent?", &["lambda_%", "skip"]),
        m if (0.4..=3.0).contains(&m) => ("is it lambda?", &["lambda", "skip"]),
        _ => ("what is it?", &["skip"]),
    }
}

/// Whether points in engine speed group thousands: a question of the whole table, where no other number settles it.
pub(super) fn thousands_in_doubt(sheet: &Sheet<'_>) -> Option<Problem> {
    let raw = sheet.columns.iter().find(|raw| {
        let speed = matches!(raw.meaning, Meaning::Numbers(r) if r.channel == Channel::EngineSpeed && (r.scale - 1.0).abs() < 1e-9);
        speed && !raw.answered && top(&raw.values) < 50.0
    })?;
    let mut marks = Marks::default();
    let mut written = None;
    for (line, cells) in &sheet.table.sample {
        for raw in &sheet.columns {
            marks.note(cells.get(raw.index).map_or("", String::as_str), *line);
        }
        let cell = cells.get(raw.index).map_or("", String::as_str);
        if is_missing(cell) {
            continue;
        }
        let (whole, rest) = cell.split_once('.')?;
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if whole.len() > 3 || rest.len() != 3 || !digits(whole) || !digits(rest) {
            return None;
        }
        written.get_or_insert((*line, cell.to_owned()));
    }
    let (line, number) = written.filter(|_| marks.point_decimal.is_none())?;
    let message = format!(
        "does '{number}' (line {line}) in '{}' have decimals, or is the point grouping thousands?",
        clipped(&raw.head)
    );
    let mut problem = Problem::of_file(Code::DECIMAL_AMBIGUOUS, &sheet.name, message)
        .value(number)
        .expected("engine speed that engines reach")
        .help("settle it with --decimal comma where it groups thousands, or --decimal point, of 'pullcast read'; or decimal = \"comma\" beside the file's name");
    problem.line = Some(line);
    Some(problem.asking(sheet.heads(), Vec::new()))
}
