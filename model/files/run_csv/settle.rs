//! What the columns of a table are, settled together: units that numbers show, the one column of several, and what is left to ask.
//!
//! A header alone often does not say enough, and what it leaves open is settled only where the numbers allow one reading: time by its steps, engine speed by
//! what an engine turns, power by torque and speed. Everything else is asked, all at once and in one message, and only of columns that something is computed
//! from.

use super::channel::Channel;
use super::gaps::complete;
use super::header::{Meaning, Open, Question, Reading};
use super::plausible::thousands_in_doubt;
use super::question::{nothing_known, question};
use super::read::{Raw, Sheet};
use super::{RunFile, RunOptions};
use crate::files::diagnostic::{Code, Problems};
use crate::files::digest::few;
use crate::files::encoding::Encoding;
use crate::files::shown::clipped;
use crate::units::{Dimension, find};

/// Settles a table that was read.
pub(super) fn finish(
    mut sheet: Sheet<'_>,
    options: &RunOptions,
    encoding: Encoding,
) -> Result<RunFile, Problems> {
    if sheet.problems.has_errors() {
        let mut problems = std::mem::take(&mut sheet.problems);
        let asked = asked_by_heads(&sheet);
        if !asked.is_empty() {
            problems.push(question(&sheet, &asked));
        }
        return Err(problems);
    }
    if sheet.lines.is_empty() && sheet.ragged.is_none() && !sheet.columns.is_empty() {
        // Of a head alone nothing is asked: the readings decide what has to be.
        return complete(sheet, Problems::new(), options, encoding);
    }
    let mut settling = Settling {
        asked: Vec::new(),
        left_out: Vec::new(),
        warnings: Problems::new(),
        sheet: &mut sheet,
    };
    settling.drop_empty();
    settling.read_clocks();
    settling.turn_richness();
    settling.tell_speeds_apart();
    settling.close();
    if options.decimal.is_none()
        && let Some(problem) = thousands_in_doubt(settling.sheet)
    {
        return Err(problem.into());
    }
    settling.settle_factors();
    settling.join_sides();
    settling.choose();
    settling.ask_impossible();
    settling.ask_drum();
    settling.compare_power();
    settling.ask_axle();
    settling.ask_correction();
    settling.ask_guesses();
    settling.state_conventions();
    settling.tell_left_out();
    let asked = settling.asked;
    let warnings = settling.warnings;
    if !asked.is_empty() {
        let mut problems = Problems::from(question(&sheet, &asked));
        // What is wrong in the other columns is told with the question, so that nobody answers it to be turned away all the same.
        sheet
            .columns
            .retain(|raw| !asked.iter().any(|of| of.index == raw.index));
        if let Err(others) = complete(sheet, warnings, options, encoding) {
            problems.append(others);
        }
        return Err(problems);
    }
    if sheet.columns.is_empty() {
        return Err(nothing_known(&sheet).into());
    }
    complete(sheet, warnings, options, encoding)
}

/// Questions that a head leaves whatever stands below it: of numbers that cannot be read yet, nothing else is known.
fn asked_by_heads(sheet: &Sheet<'_>) -> Vec<Asked> {
    let open = |raw: &Raw| match &raw.meaning {
        Meaning::Open(open) if !open.unit_missing => Some(Asked {
            index: raw.index,
            head: raw.head.clone(),
            question: open.question.clone(),
        }),
        _ => None,
    };
    sheet.columns.iter().filter_map(open).collect()
}

/// Why a column that says the same as another is not read, which is nothing to tell.
pub(super) const SAME: &str = "another column is the same";

/// One question of one column.
pub(super) struct Asked {
    pub(super) index: usize,
    pub(super) head: String,
    pub(super) question: Question,
}

pub(super) struct Settling<'s, 't> {
    pub(super) sheet: &'s mut Sheet<'t>,
    pub(super) asked: Vec<Asked>,
    /// Heads of columns that are known and not read, with the reason.
    left_out: Vec<(usize, String, &'static str)>,
    pub(super) warnings: Problems,
}

impl Settling<'_, '_> {
    pub(super) fn reading(&self, channel: Channel) -> Option<(&Raw, Reading)> {
        self.sheet.columns.iter().find_map(|raw| match raw.meaning {
            Meaning::Numbers(reading) if reading.channel == channel => Some((raw, reading)),
            _ => None,
        })
    }

    pub(super) fn has(&self, channel: Channel) -> bool {
        self.reading(channel).is_some()
    }

    /// Values in SI.
    pub(super) fn values_si(&self, channel: Channel) -> Option<Vec<f64>> {
        let (raw, reading) = self.reading(channel)?;
        Some(
            raw.values
                .iter()
                .map(|v| reading.unit.to_si(v * reading.scale))
                .collect(),
        )
    }

    pub(super) fn remove(&mut self, index: usize, why: &'static str) {
        if let Some(at) = self.sheet.columns.iter().position(|raw| raw.index == index) {
            let raw = self.sheet.columns.remove(at);
            self.left_out.push((raw.index, raw.head, why));
        }
    }

    /// A column that never holds a number is none.
    fn drop_empty(&mut self) {
        let rows = self.sheet.lines.len();
        let mut empty: Vec<(usize, bool)> = Vec::new();
        for raw in &self.sheet.columns {
            if rows > 1
                && raw.missing + raw.words == rows
                && raw
                    .first
                    .as_ref()
                    .is_none_or(|bad| bad.code != Code::NUMBER_NOT_FINITE)
            {
                empty.push((raw.index, raw.words > 0));
            }
        }
        for (index, words) in empty {
            self.remove(index, if words { "no numbers" } else { "empty" });
        }
    }

    /// Times of day are seconds, and go on past midnight.
    fn read_clocks(&mut self) {
        let Ok(second) = find("s", Dimension::Time) else {
            return;
        };
        for raw in &mut self.sheet.columns {
            let channels = match &raw.meaning {
                Meaning::Open(open) => open.channels.clone(),
                Meaning::Numbers(reading) => vec![reading.channel],
                _ => continue,
            };
            if !raw.clock || !channels.contains(&Channel::Time) {
                continue;
            }
            raw.meaning = Meaning::Numbers(Reading {
                channel: Channel::Time,
                unit: second,
                scale: 1.0,
                either: false,
                inverse: false,
                placed: true,
            });
            let mut days = 0.0;
            let mut before = f64::NAN;
            for value in &mut raw.values {
                if *value + days < before - 43_200.0 {
                    days += 86_400.0;
                }
                *value += days;
                before = *value;
            }
        }
    }

    /// Richness is one over lambda.
    fn turn_richness(&mut self) {
        let Ok(plain) = find("1", Dimension::Ratio) else {
            return;
        };
        for raw in &mut self.sheet.columns {
            let Meaning::Numbers(reading) = &mut raw.meaning else {
                continue;
            };
            if !reading.inverse {
                continue;
            }
            for value in &mut raw.values {
                let lambda = 1.0 / reading.unit.to_si(*value * reading.scale);
                *value = if lambda.is_finite() { lambda } else { f64::NAN };
            }
            (reading.unit, reading.scale, reading.inverse) = (plain, 1.0, false);
        }
    }

    /// `Speed` without a unit is that of the road where another column is engine speed, or where no engine turns so slowly.
    fn tell_speeds_apart(&mut self) {
        let both = |open: &Open| {
            [Channel::EngineSpeed, Channel::RoadSpeed]
                .iter()
                .all(|of| open.channels.contains(of))
        };
        let engine = |raw: &Raw| match &raw.meaning {
            Meaning::Numbers(reading) => reading.channel == Channel::EngineSpeed,
            Meaning::Open(open) => open.channels.contains(&Channel::EngineSpeed) && !both(open),
            _ => false,
        };
        let known = self.sheet.columns.iter().any(engine);
        for raw in &mut self.sheet.columns {
            let Meaning::Open(open) = &mut raw.meaning else {
                continue;
            };
            let top = raw.values.iter().copied().fold(0.0, f64::max) * open.scale;
            if both(open) && open.unit_missing && (known || (15.0..500.0).contains(&top)) {
                open.channels = vec![Channel::RoadSpeed];
                "km/h, mph or m/s".clone_into(&mut open.question.expected);
                open.question.answers = super::answers::answers(&open.channels);
            }
        }
    }

    /// Settles what is open where the numbers show it; asks of what is needed, leaves out the rest.
    fn close(&mut self) {
        // Engine speed and time first, then what is held against them.
        let mut order: Vec<usize> = (0..self.sheet.columns.len()).collect();
        let rank = |raw: &Raw| match &raw.meaning {
            Meaning::Open(open) if open.channels.contains(&Channel::Time) => 0,
            Meaning::Open(open) if open.channels.contains(&Channel::EngineSpeed) => 1,
            Meaning::Open(open) if open.channels.contains(&Channel::WheelPower) => 2,
            _ => 3,
        };
        order.sort_by_key(|&at| rank(&self.sheet.columns[at]));
        let mut dropped: Vec<(usize, &'static str)> = Vec::new();
        for at in order {
            let Meaning::Open(open) = self.sheet.columns[at].meaning.clone() else {
                continue;
            };
            let index = self.sheet.columns[at].index;
            if open.unit_missing
                && let Some((reading, shown)) = self.inferred(at, &open)
            {
                let raw = &mut self.sheet.columns[at];
                raw.meaning = Meaning::Numbers(reading);
                let message = format!(
                    "'{}' has no unit and is taken as {}: {shown}",
                    clipped(&raw.head),
                    reading.unit.symbol
                );
                let problem = self
                    .sheet
                    .at_head(Code::COLUMN_CONVENTION, index, message)
                    .warning();
                self.warnings
                    .push(problem.expected("the unit in the header or below it"));
            } else if self.needed(&open) {
                let head = self.sheet.columns[at].head.clone();
                self.asked.push(Asked {
                    index,
                    head,
                    question: open.question,
                });
            } else {
                dropped.push((
                    index,
                    if open.unit_missing {
                        "no unit"
                    } else {
                        "its unit is in doubt"
                    },
                ));
            }
        }
        for (index, why) in dropped {
            self.remove(index, why);
        }
    }

    /// Whether an open column is worth a question: something is computed from it, and nothing else in the file serves as well.
    fn needed(&self, open: &Open) -> bool {
        let used = open.channels.iter().any(|channel| channel.is_used());
        let first = open.channels.first().copied().unwrap_or(Channel::Pull);
        let power = [
            Channel::WheelPower,
            Channel::CorrectedWheelPower,
            Channel::CrankPower,
        ];
        let has_power = power.iter().any(|channel| self.has(*channel));
        used && !open.channels.iter().any(|channel| self.has(*channel))
            && match first {
                Channel::RoadSpeed
                | Channel::DrumSpeed
                | Channel::Counts
                | Channel::WheelTorque
                | Channel::CrankTorque
                | Channel::CorrectedWheelTorque => {
                    !has_power || (!open.unit_missing && first != Channel::RoadSpeed)
                }
                Channel::CrankPower => !self.has(Channel::WheelPower),
                _ => true,
            }
    }

    /// Power that does not say where it was measured, under a head that speaks of a correction.
    fn ask_correction(&mut self) {
        let Some((raw, reading)) = self.reading(Channel::WheelPower) else {
            return;
        };
        let words = super::lexicon::words_of(&raw.head).join(" ");
        if raw.answered
            || words.contains("uncorr")
            || words.contains("unkorr")
            || self.has(Channel::CorrectedWheelPower)
        {
            return;
        }
        let Some(line) = self
            .sheet
            .table
            .preamble
            .iter()
            .find(|line| speaks_of_correction(line))
        else {
            return;
        };
        let (index, head) = (raw.index, raw.head.clone());
        let unit = super::answers::suffix_of(reading.unit.symbol);
        self.asked.push(Asked {
            index,
            question: Question {
                code: Code::COLUMN_QUESTION,
                message: format!(
                    "is '{}' corrected? The head of the file says '{}'",
                    clipped(&head),
                    clipped(line.trim())
                ),
                expected: "power as measured, or after a weather correction".to_owned(),
                answers: vec![
                    format!("wheel_power_{unit}"),
                    format!("corrected_wheel_power_{unit}"),
                ],
            },
            head,
        });
    }

    /// What a curve hangs on and no column is, but one of a name with unknown words may be.
    fn ask_guesses(&mut self) {
        let powers = [
            Channel::WheelPower,
            Channel::WheelTorque,
            Channel::CorrectedWheelPower,
            Channel::CorrectedWheelTorque,
            Channel::CrankPower,
            Channel::CrankTorque,
            Channel::WheelForce,
            Channel::DrumSpeed,
            Channel::RoadSpeed,
            Channel::Counts,
        ];
        let any = |channels: &[Channel]| channels.iter().any(|channel| self.has(*channel));
        let mut lacking: Vec<Channel> = Vec::new();
        if !any(&[Channel::Time]) {
            lacking.push(Channel::Time);
        }
        if !any(&[Channel::EngineSpeed]) {
            lacking.push(Channel::EngineSpeed);
        }
        if !any(&powers) {
            lacking.extend(powers);
        }
        if !self.asked.is_empty() || lacking.is_empty() || self.sheet.columns.is_empty() {
            return;
        }
        let guess = self.sheet.guesses.iter().find_map(|(index, channels)| {
            let channel = channels.iter().find(|channel| lacking.contains(channel))?;
            Some((*index, *channel))
        });
        let Some((index, channel)) = guess else {
            return;
        };
        let head = self.sheet.table.header[index].clone();
        let below = self
            .sheet
            .table
            .units
            .as_ref()
            .and_then(|units| units.get(index))
            .cloned();
        let unit = super::words::head(&head)
            .unit
            .or(below.filter(|unit| super::header::is_unit(unit)));
        let answers = match unit {
            Some(unit) => {
                let unit = super::answers::suffix_of(super::unit_row::without_brackets(&unit));
                vec![
                    format!("{}_{unit}", channel.name().replace(' ', "_")),
                    "skip".to_owned(),
                ]
            }
            None => super::answers::answers(&[channel]),
        };
        self.asked.push(Asked {
            index,
            question: Question {
                code: Code::COLUMN_QUESTION,
                message: format!(
                    "is '{}' {}? Some of its words are not known, and no other column is",
                    clipped(&head),
                    channel.name()
                ),
                expected: "a name that is known".to_owned(),
                answers,
            },
            head,
        });
    }

    /// Says what was taken without being written.
    fn state_conventions(&mut self) {
        let mut told = Vec::new();
        if let Some((raw, reading)) = self.reading(Channel::WheelPower)
            && !reading.placed
            && !raw.answered
        {
            told.push((
                raw.index,
                format!("'{}' is taken as uncorrected power at the wheels", clipped(&raw.head)),
                "power at the crank is headed 'crank power', after a correction 'corrected wheel power'",
            ));
        }
        if let Some((raw, _)) = self.reading(Channel::WheelTorque)
            && !self.has(Channel::WheelPower)
            && !raw.answered
            && !raw.head.to_lowercase().contains("engine")
        {
            told.push((
                raw.index,
                format!("'{}' is taken as wheel power / engine speed", clipped(&raw.head)),
                "torque referred to engine speed; torque at the wheels themselves is headed 'hub torque'",
            ));
        }
        for (index, message, expected) in told {
            let problem = self
                .sheet
                .at_head(Code::COLUMN_CONVENTION, index, message)
                .warning();
            self.warnings.push(problem.expected(expected));
        }
    }

    /// Says once which columns are not read: those nobody knows, and those known without a use.
    fn tell_left_out(&mut self) {
        let unknown: Vec<&String> = self.sheet.unknown.iter().map(|(_, head)| head).collect();
        if let Some((index, _)) = self.sheet.unknown.first() {
            let message = match unknown.as_slice() {
                [cell] => format!(
                    "column '{}' is not read: its name is not known",
                    clipped(cell)
                ),
                cells => format!(
                    "{} columns are not read, their names are not known: {}",
                    cells.len(),
                    few(cells)
                ),
            };
            let problem = self.sheet.at_head(Code::COLUMN_IGNORED, *index, message);
            self.warnings.push(problem.warning());
        }
        let left: Vec<&(usize, String, &str)> = self
            .left_out
            .iter()
            .filter(|(.., why)| *why != SAME)
            .collect();
        if let Some((index, ..)) = left.first() {
            let named: Vec<String> = left
                .iter()
                .map(|(_, head, why)| format!("'{}' ({why})", clipped(head)))
                .collect();
            let message = match left.len() {
                1 => format!("column {} is not read", named[0]),
                n => format!("{n} columns are not read: {}", few(&named)),
            };
            let problem = self.sheet.at_head(Code::COLUMN_IGNORED, *index, message);
            self.warnings.push(problem.warning());
        }
        let all = self
            .left_out
            .drain(..)
            .map(|(index, head, _)| (index, head));
        self.sheet.unknown.extend(all);
    }
}

/// Whether a line of the head says that a correction was made.
fn speaks_of_correction(line: &str) -> bool {
    let words = super::lexicon::words_of(line);
    let speaks = words.iter().any(|word| {
        [
            "correct",
            "korrekt",
            "korrigiert",
            "corrig",
            "correz",
            "korek",
        ]
        .iter()
        .any(|stem| word.starts_with(stem))
    });
    let refuses = [
        "none",
        "off",
        "no",
        "uncorrected",
        "keine",
        "aus",
        "without",
        "ohne",
        "aucune",
        "sans",
        "sin",
        "nessuna",
        "geen",
        "ingen",
        "brak",
    ];
    let one = line
        .split([' ', ':', '=', ';', ',', '\t'])
        .any(|word| matches!(word.trim(), "1" | "1.0" | "1.00" | "1.000"));
    speaks && !one && !words.iter().any(|word| refuses.contains(&word.as_str()))
}
