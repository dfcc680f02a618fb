//! From a header cell to a channel and a unit.
//!
//! `wheel power (kW)`, `Power WHEELS [kW]`, `wheel_power_kw`, `kW Rad` and a unit row below say the same. A known name whose unit has two readings becomes a
//! question that names the column and the answers; one without a unit is left open, for the numbers to show or a person to say; a name nobody knows is left
//! out and said so. It refuses to settle two units by taking one.

use super::answers::{answers, pressures, suffix_of};
use super::channel::Channel;
use super::factor::Factor;
use super::lexicon::{self, Lexicon, Named};
use super::words::{head, spellings};
use super::{PressureReference, RunOptions};
use crate::files::diagnostic::Code;
use crate::units::{Dimension, LookupError, Unit, accepted, find, find_any};

/// A header cell understood.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Meaning {
    /// A column of numbers.
    Numbers(Reading),
    /// A column of numbers without a unit, or of which only the numbers may tell what they are.
    Open(Open),
    /// Numbers of one side or axle, and which.
    Part(Reading, Vec<String>),
    /// The label of the pull.
    Label,
    /// Not a name that is known.
    Unknown,
    /// Left out because a person said so.
    LeftOut,
}

/// What the numbers of a column are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    pub(super) channel: Channel,
    pub(super) unit: &'static Unit,
    /// Taken times the number before the unit is.
    pub(super) scale: f64,
    /// Whether the inverse of that may be meant.
    pub(super) either: bool,
    /// Whether the value is one over it: richness is one over lambda.
    pub(super) inverse: bool,
    /// Whether the name says where power or torque was measured.
    pub(super) placed: bool,
}

/// A column that waits for a unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Open {
    /// What it may be.
    pub(super) channels: Vec<Channel>,
    pub(super) scale: f64,
    pub(super) either: bool,
    pub(super) placed: bool,
    /// What is asked where the numbers do not show it.
    pub(super) question: Question,
    /// Whether only the unit is missing, which numbers may show.
    pub(super) unit_missing: bool,
}

/// Why a header cell of a known name cannot be used.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Question {
    pub(super) code: Code,
    pub(super) message: String,
    pub(super) expected: String,
    /// Names under which the column would be read, the likeliest first.
    pub(super) answers: Vec<String>,
}

/// Understands one header cell, with the cell below it if there is a unit row.
pub(super) fn understand(
    cell: &str,
    unit_cell: Option<&str>,
    options: &RunOptions,
    lexicon: &Lexicon,
) -> Meaning {
    understand_as(cell, None, unit_cell, options, lexicon)
}

/// The same with the name that a person says the column should have.
pub(super) fn understand_as(
    cell: &str,
    named: Option<&str>,
    unit_cell: Option<&str>,
    options: &RunOptions,
    lexicon: &Lexicon,
) -> Meaning {
    let text = named.unwrap_or(cell);
    if named.is_some() && LEFT_OUT.contains(&text.trim().to_lowercase().as_str()) {
        return Meaning::LeftOut;
    }
    let meaning = understand_head(cell, named, &head(text), unit_cell, options, lexicon);
    let unsettled = match &meaning {
        Meaning::Unknown => true,
        Meaning::Open(open) => open.unit_missing,
        _ => false,
    };
    if let (true, Some((name, unit))) = (unsettled, over_unit(text)) {
        let mut head = head(name);
        head.unit = Some(unit.to_owned());
        let other = understand_head(cell, named, &head, unit_cell, options, lexicon);
        if other != Meaning::Unknown {
            return other;
        }
    }
    meaning
}

/// A name over its unit, as physicists write: `Zeit/s`, `n/min-1`, `omega/(rad/s)`.
fn over_unit(text: &str) -> Option<(&str, &str)> {
    text.match_indices('/').find_map(|(at, _)| {
        let (name, written) = (text[..at].trim(), text[at + 1..].trim());
        let unit = super::unit_row::without_brackets(written);
        let last = name.rsplit([' ', '_']).next().unwrap_or(name);
        // `v km/h` has one unit, with its own sign in it.
        let whole = is_unit(&format!("{last}/{written}"));
        (!name.is_empty() && is_unit(unit) && !whole).then_some((name, unit))
    })
}

/// Understands a head taken apart.
fn understand_head(
    cell: &str,
    named: Option<&str>,
    head: &super::words::Head,
    unit_cell: Option<&str>,
    options: &RunOptions,
    lexicon: &Lexicon,
) -> Meaning {
    let answer = options.units.iter().find(|(header, _)| header == cell);
    // A unit in the answer outranks the one below the column.
    let below = unit_cell
        .map(str::trim)
        .filter(|unit| is_unit(unit) && !(named.is_some() && says_unit(head, lexicon)));
    let written = answer
        .map(|(_, unit)| unit.as_str())
        .or(head.unit.as_deref())
        .or(below);
    let twice = match (answer, &head.unit, below) {
        (None, Some(unit), Some(below)) => Some((unit.as_str(), below)),
        _ => None,
    };
    let ask = Asking {
        cell,
        head,
        options,
        answered: answer.is_some(),
    };
    for tokens in [&head.tokens, &head.humps] {
        let meaning = ask.by_tail(tokens, written, lexicon);
        if meaning != Meaning::Unknown {
            if let (Some((unit, below)), Meaning::Numbers(reading)) = (twice, &meaning)
                && !says(below, reading.unit)
            {
                return ask.two_units(unit, below, reading.channel);
            }
            return meaning;
        }
    }
    Meaning::Unknown
}

/// Names a person gives to a column that is to be left out.
const LEFT_OUT: &[&str] = &["", "-", "skip", "ignore", "none"];

/// Whether two heads are one, whatever their case and blanks.
pub(super) fn same_head(meant: &str, cell: &str) -> bool {
    let plain = |text: &str| {
        text.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .to_lowercase()
    };
    plain(meant) == plain(cell)
}

/// Whether a name states a unit by itself.
fn says_unit(head: &super::words::Head, lexicon: &Lexicon) -> bool {
    head.unit.is_some()
        || lexicon
            .named(&lexicon::words_of(&head.tokens.join(" ")))
            .channels
            .is_empty()
        || lexicon
            .named(&lexicon::words_of(&head.tokens.join(" ")))
            .unit
            .is_some()
}

/// Whether a text is a unit of anything.
pub(super) fn is_unit(text: &str) -> bool {
    let bare = super::unit_row::without_brackets(text);
    let (bare, _) = super::factor::multiplier(bare);
    matches!(
        find(bare.trim(), Dimension::Length),
        Ok(_)
            | Err(LookupError::WrongDimension { .. }
                | LookupError::Ambiguous { .. }
                | LookupError::CaseMatters { .. })
    ) || find_any(
        bare.trim(),
        &[Dimension::Pressure, Dimension::GaugePressure],
    )
    .is_ok()
        || find(bare.trim(), Dimension::Temperature)
            .is_err_and(|e| matches!(e, LookupError::Ambiguous { .. }))
}

/// Whether a written unit is this unit, a pressure with or without its reference.
fn says(written: &str, unit: &'static Unit) -> bool {
    let is_pressure = matches!(
        unit.dimension,
        Dimension::Pressure | Dimension::GaugePressure
    );
    let bare = super::unit_row::without_brackets(written);
    let (bare, _) = super::factor::multiplier(bare);
    find(bare, unit.dimension).is_ok_and(|again| again == unit)
        || (is_pressure
            && find(bare, Dimension::PressureDifference)
                .is_ok_and(|again| again.factor() == unit.factor()))
}

/// What is known while one cell is understood.
struct Asking<'a> {
    cell: &'a str,
    head: &'a super::words::Head,
    options: &'a RunOptions,
    answered: bool,
}

impl Asking<'_> {
    /// The whole name first, then with one to three words at its end taken as the unit.
    fn by_tail(&self, tokens: &[String], written: Option<&str>, lexicon: &Lexicon) -> Meaning {
        let mut first = Meaning::Unknown;
        for unit_words in 0..tokens.len().min(4) {
            let (name, suffix) = tokens.split_at(tokens.len() - unit_words);
            let suffix: Vec<&str> = suffix.iter().map(String::as_str).collect();
            let mut reference = self.head.reference;
            let mut named = lexicon.named(&lexicon::words_of(&name.join(" ")));
            if named.channels.is_empty() {
                let (without, found) = super::words::take_reference(name);
                if found.is_none() {
                    continue;
                }
                named = lexicon.named(&lexicon::words_of(&without.join(" ")));
                let pressure = |c: &Channel| {
                    matches!(
                        c.dimension(),
                        Some(
                            Dimension::Pressure
                                | Dimension::GaugePressure
                                | Dimension::BarometricPressure
                        )
                    )
                };
                named.channels.retain(pressure);
                reference = found.or(reference);
            }
            if named.channels.is_empty() {
                continue;
            }
            if named.channels.contains(&Channel::Pull) {
                return if suffix.is_empty() && written.is_none() {
                    Meaning::Label
                } else {
                    Meaning::Unknown
                };
            }
            let suffixes = spellings(&suffix);
            if !suffix.is_empty()
                && !suffixes
                    .iter()
                    .any(|unit| is_unit_of(unit, &named, name.len()))
            {
                continue;
            }
            let meaning = self.resolved(&named, &suffixes, written, reference);
            let open =
                |meaning: &Meaning| matches!(meaning, Meaning::Open(open) if open.unit_missing);
            match (&first, &meaning) {
                // A last word that may say nothing or be the unit is the unit: `WheelPower_W`.
                (Meaning::Unknown, _) if unit_words == 0 && open(&meaning) => first = meaning,
                (Meaning::Unknown, _) | (_, Meaning::Numbers(_) | Meaning::Part(..)) => {
                    return meaning;
                }
                _ => {}
            }
        }
        first
    }

    fn resolved(
        &self,
        named: &Named,
        suffixes: &[String],
        written: Option<&str>,
        reference: Option<PressureReference>,
    ) -> Meaning {
        let reference = reference.or_else(|| {
            let map = lexicon::words_of(self.cell)
                .iter()
                .any(|word| word == "map");
            map.then_some(PressureReference::Absolute)
        });
        let implied = named.unit.clone().map(|unit| vec![unit]);
        let by_name = implied.or_else(|| (!suffixes.is_empty()).then(|| suffixes.to_vec()));
        match (by_name, written) {
            (None, None) => self.no_unit(named),
            (None, Some(unit)) => self.resolve(named, &[unit.to_owned()], reference),
            (Some(units), None) => self.resolve(named, &units, reference),
            // A person's answer outranks a unit in the name.
            (Some(_), Some(unit)) if self.answered => {
                self.resolve(named, &[unit.to_owned()], reference)
            }
            (Some(units), Some(unit)) => {
                match self.resolve(named, &units, reference) {
                    Meaning::Numbers(reading) if says(unit, reading.unit) => {
                        Meaning::Numbers(reading)
                    }
                    Meaning::Numbers(reading) => self.two_units(&units[0], unit, reading.channel),
                    // The name alone left a question, such as gauge or absolute, that the unit beside it may answer.
                    _ => self.resolve(named, &[unit.to_owned()], reference),
                }
            }
        }
    }

    fn resolve(
        &self,
        named: &Named,
        spellings: &[String],
        reference: Option<PressureReference>,
    ) -> Meaning {
        let allowed = dimensions(&named.channels);
        let mut first_error = None;
        for written in spellings {
            let written = super::unit_row::without_brackets(written);
            let (written, times) = super::factor::multiplier(written);
            let written = written.trim();
            let factor = Factor {
                times: self.head.scale,
                either: self.head.either,
            };
            let scale = factor.with(times);
            let error = match find_any(written, &allowed) {
                Ok(unit) => {
                    let stated = match unit.dimension {
                        Dimension::Pressure => Some(PressureReference::Absolute),
                        Dimension::GaugePressure => Some(PressureReference::Gauge),
                        _ => None,
                    };
                    if let (Some(stated), Some(reference)) = (stated, reference)
                        && stated != reference
                    {
                        return self.asked(
                            named,
                            Code::UNIT_AMBIGUOUS,
                            format!("column '{}' is labelled both gauge and absolute", self.cell),
                            "gauge or absolute".to_owned(),
                            pressures(written),
                        );
                    }
                    return self.reading(named, unit, scale);
                }
                // A bare pressure unit: the name, the header's words or the caller may say what it is measured against.
                Err(error @ LookupError::GaugeOrAbsolute { .. }) => {
                    let by_name =
                        (allowed == [Dimension::GaugePressure]).then_some(PressureReference::Gauge);
                    let reference = reference.or(by_name).or(self.options.manifold_pressure);
                    let word = match reference {
                        Some(PressureReference::Gauge) => "gauge",
                        Some(PressureReference::Absolute) => "absolute",
                        None => "",
                    };
                    let dimensions = [Dimension::Pressure, Dimension::GaugePressure];
                    if let Ok(unit) = find_any(&format!("{written} {word}"), &dimensions) {
                        return self.reading(named, unit, scale);
                    }
                    error
                }
                Err(error) => error,
            };
            first_error.get_or_insert((error, written.to_owned()));
        }
        let Some((error, written)) = first_error else {
            return self.no_unit(named);
        };
        let code = match error {
            LookupError::Unknown { .. } => Code::UNIT_UNKNOWN,
            LookupError::WrongDimension { .. } => Code::UNIT_WRONG,
            _ => Code::UNIT_AMBIGUOUS,
        };
        let answers = match error {
            LookupError::GaugeOrAbsolute { .. } => pressures(&written),
            _ => answers(&named.channels),
        };
        self.asked(
            named,
            code,
            format!("column '{}': {error}", self.cell),
            error.candidates(),
            answers,
        )
    }

    fn reading(&self, named: &Named, unit: &'static Unit, scale: Factor) -> Meaning {
        let of_dimension = |channel: &&Channel| channel.dimension() == Some(unit.dimension);
        let channel = named
            .channels
            .iter()
            .find(of_dimension)
            .copied()
            .or(match unit.dimension {
                // A boost labelled absolute is a manifold pressure.
                Dimension::Pressure => Some(Channel::ManifoldPressure),
                Dimension::GaugePressure => Some(Channel::Boost),
                _ => None,
            });
        let Some(channel) = channel else {
            return self.no_unit(named);
        };
        if channel == Channel::Lambda && named.air_fuel {
            return self.mixture(named, unit, scale);
        }
        let reading = Reading {
            channel,
            unit,
            scale: scale.times,
            either: scale.either,
            inverse: named.inverse,
            placed: named.placed,
        };
        match named.sides.as_slice() {
            [] => Meaning::Numbers(reading),
            // Of the sides only power and force are a sum.
            _ if matches!(channel, Channel::WheelPower | Channel::WheelForce) => {
                Meaning::Part(reading, named.sides.clone())
            }
            _ => Meaning::Unknown,
        }
    }

    /// Lambda from kilograms of air per kilogram of fuel, by the stoichiometric ratio that the name or the head of the file states.
    fn mixture(&self, named: &Named, unit: &'static Unit, scale: Factor) -> Meaning {
        match self.head.stoichiometric.or(self.options.stoichiometric) {
            Some(ratio) => Meaning::Numbers(Reading {
                channel: Channel::Lambda,
                unit,
                scale: scale.times / ratio,
                either: scale.either,
                inverse: false,
                placed: true,
            }),
            None => self.asked(
                named,
                Code::UNIT_MISSING,
                format!(
                    "column '{}' is air over fuel: of which fuel? Gasoline works with 14.7, with 10 % ethanol 14.1, E85 9.8",
                    self.cell
                ),
                "the stoichiometric ratio that the logger works with".to_owned(),
                ["afr 14.7", "afr 14.1", "afr 9.8", "skip"]
                    .map(str::to_owned)
                    .to_vec(),
            ),
        }
    }

    fn no_unit(&self, named: &Named) -> Meaning {
        if !named.sides.is_empty() {
            return Meaning::Unknown;
        }
        let plain = find("1", Dimension::Ratio).ok();
        let scale = Factor {
            times: self.head.scale,
            either: self.head.either,
        };
        if named.channels == [Channel::Lambda]
            && let Some(plain) = plain
        {
            return self.reading(named, plain, scale);
        }
        if named.channels.contains(&Channel::Counts)
            && let Some(unit) = plain
        {
            return self.reading(named, unit, scale);
        }
        let candidates: Vec<String> = dimensions(&named.channels)
            .into_iter()
            .map(|dimension| match dimension {
                Dimension::Ratio => "% (0 to 100) or 1 (0 to 1)".to_owned(),
                Dimension::Pressure => "absolute, such as 'kPa absolute'".to_owned(),
                Dimension::GaugePressure => "gauge, such as 'psi gauge'".to_owned(),
                other => accepted(other),
            })
            .collect();
        Meaning::Open(Open {
            channels: named.channels.clone(),
            scale: self.head.scale,
            either: self.head.either,
            placed: named.placed,
            unit_missing: true,
            question: Question {
                code: Code::UNIT_MISSING,
                message: format!("column '{}' has no unit", self.cell),
                expected: candidates.join(", "),
                answers: answers(&named.channels),
            },
        })
    }

    fn two_units(&self, one: &str, other: &str, channel: Channel) -> Meaning {
        let name = channel.name().replace(' ', "_");
        let shown = |unit: &str| super::unit_row::without_brackets(unit).to_owned();
        Meaning::Open(Open {
            channels: vec![channel],
            scale: self.head.scale,
            either: self.head.either,
            placed: true,
            unit_missing: false,
            question: Question {
                code: Code::UNIT_AMBIGUOUS,
                message: format!(
                    "column '{}' gives two units: '{}' and '{}'",
                    self.cell,
                    shown(one),
                    shown(other)
                ),
                expected: "one unit".to_owned(),
                answers: [one, other]
                    .map(|unit| format!("{name}_{}", suffix_of(&shown(unit))))
                    .to_vec(),
            },
        })
    }

    fn asked(
        &self,
        named: &Named,
        code: Code,
        message: String,
        expected: String,
        answers: Vec<String>,
    ) -> Meaning {
        if !named.sides.is_empty() {
            return Meaning::Unknown;
        }
        Meaning::Open(Open {
            channels: named.channels.clone(),
            scale: self.head.scale,
            either: self.head.either,
            placed: named.placed,
            unit_missing: false,
            question: Question {
                code,
                message,
                expected,
                answers,
            },
        })
    }
}

fn dimensions(channels: &[Channel]) -> Vec<Dimension> {
    channels
        .iter()
        .filter_map(|channel| channel.dimension())
        .collect()
}

/// Whether trailing words are meant as a unit at all. A unit of something else counts only after a name of several words:
/// `wheel_power_nm` is a mistake, `fuel_l` another column.
fn is_unit_of(written: &str, named: &Named, name_words: usize) -> bool {
    match find_any(written, &dimensions(&named.channels)) {
        Err(LookupError::Unknown { .. }) => false,
        Err(LookupError::WrongDimension { .. }) => name_words > 1,
        Ok(_) | Err(_) => true,
    }
}

#[cfg(test)]
#[path = "header_tests.rs"]
mod tests;
