//! From a header cell to a channel and a unit.
//!
//! `wheel power (kW)`, `Power WHEELS [kW]`, `wheel_power_kw`, `kW Rad` and a unit row below say the same. A known name whose unit has two readings becomes a
//! question that names the column and the answers; one without a unit is left open, for the numbers to show or a person to say; a name nobody knows is left
//! out and said so. It refuses to settle two units by taking one.

use super::channel::Channel;
use super::lexicon::{self, Lexicon, Named};
use super::words::{head, spellings};
use super::{PressureReference, RunOptions};
use crate::files::diagnostic::Code;
use crate::units::{Dimension, LookupError, UNITS, Unit, accepted, find, find_any};

/// A header cell understood.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Meaning {
    /// A column of numbers.
    Numbers(Reading),
    /// A column of numbers without a unit, or of which only the numbers may tell what they are.
    Open(Open),
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
    /// Whether the name says where power or torque was measured.
    pub(super) placed: bool,
}

/// A column that waits for a unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Open {
    /// What it may be.
    pub(super) channels: Vec<Channel>,
    pub(super) scale: f64,
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
    let answer = options.units.iter().find(|(header, _)| header == cell);
    let text = named.unwrap_or(cell);
    if named.is_some() && LEFT_OUT.contains(&text.trim().to_lowercase().as_str()) {
        return Meaning::LeftOut;
    }
    let head = head(text);
    // A unit in the answer outranks the one below the column.
    let below = unit_cell
        .map(str::trim)
        .filter(|unit| is_unit(unit) && !(named.is_some() && says_unit(&head, lexicon)));
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
        head: &head,
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
    let (bare, _) = super::words::multiplier(bare);
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
    let (bare, _) = super::words::multiplier(bare);
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
            return self.resolved(&named, &suffixes, written, reference);
        }
        Meaning::Unknown
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
            let (written, times) = super::words::multiplier(written);
            let written = written.trim();
            let scale = times.unwrap_or(1.0) * self.head.scale;
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

    fn reading(&self, named: &Named, unit: &'static Unit, scale: f64) -> Meaning {
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
            return self.mixture(named, unit);
        }
        Meaning::Numbers(Reading {
            channel,
            unit,
            scale,
            placed: named.placed,
        })
    }

    /// Lambda from kilograms of air per kilogram of fuel, by the stoichiometric ratio that the name or the head of the file states.
    fn mixture(&self, named: &Named, unit: &'static Unit) -> Meaning {
        match self.head.stoichiometric.or(self.options.stoichiometric) {
            Some(ratio) => Meaning::Numbers(Reading {
                channel: Channel::Lambda,
                unit,
                scale: 1.0 / ratio,
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
        let plain = find("1", Dimension::Ratio).ok();
        if named.channels == [Channel::Lambda]
            && let Some(plain) = plain
        {
            return self.reading(named, plain, 1.0);
        }
        if named.channels.contains(&Channel::Counts)
            && let Some(unit) = plain
        {
            return self.reading(named, unit, 1.0);
        }
        let candidates: Vec<String> = dimensions(&named.channels)
            .into_iter()
            .map(|dimension| match dimension {
                Dimension::Ratio => "% (0 to 100) or 1 (0 to 1)".to_owned(),
                other => accepted(other),
            })
            .collect();
        Meaning::Open(Open {
            channels: named.channels.clone(),
            scale: self.head.scale,
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
        Meaning::Open(Open {
            channels: named.channels.clone(),
            scale: self.head.scale,
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

/// A unit as the end of a name: `lb ft` as `lb_ft`, `m/s` as `m_s`.
pub(super) fn suffix_of(unit: &str) -> String {
    unit.replace([' ', '/'], "_").replace('°', "deg")
}

/// Names under which a column of these channels would be read.
pub(super) fn answers(channels: &[Channel]) -> Vec<String> {
    let mut names = Vec::new();
    for channel in channels {
        let Some(dimension) = channel.dimension() else {
            continue;
        };
        let few: &[&str] = match dimension {
            Dimension::Power => &["hp", "PS", "kW"],
            Dimension::Torque => &["lb ft", "N m"],
            Dimension::Speed => &["mph", "km/h", "m/s"],
            Dimension::RotationalSpeed => &["rpm"],
            Dimension::Temperature => &["°C", "°F"],
            Dimension::Time => &["s", "ms"],
            Dimension::Ratio => &["%", "1"],
            Dimension::Pressure => &["kPa absolute", "psi absolute", "bar absolute"],
            Dimension::GaugePressure => &["kPa gauge", "psi gauge", "bar gauge"],
            Dimension::Force => &["N", "lbf"],
            _ => &[],
        };
        let few = few
            .iter()
            .filter(|symbol| UNITS.iter().any(|u| u.symbol == **symbol));
        let name = channel.name().replace(' ', "_");
        names.extend(few.map(|symbol| match *symbol {
            "1" => name.clone(),
            symbol => format!("{name}_{}", suffix_of(symbol)),
        }));
    }
    names.push("skip".to_owned());
    names
}

fn pressures(written: &str) -> Vec<String> {
    let unit = written.split(' ').next().unwrap_or(written);
    let of = |reference: &str| format!("manifold_pressure_{unit}_{reference}");
    vec![of("absolute"), of("gauge"), "skip".to_owned()]
}

#[cfg(test)]
#[path = "header_tests.rs"]
mod tests;
