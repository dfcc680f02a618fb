//! From a header cell to a channel and a unit.
//!
//! `wheel power (kW)`, `wheel power [kW]`, `wheel_power_kw` and a unit row below say the same. A known name whose unit is
//! absent or has two readings becomes a question that names the column and the answers; a name nobody knows is left out
//! and said so. It refuses to infer a unit from the size of the numbers.

use super::channel::{Channel, meanings};
use super::words::{reference_word, spellings, split_bracket, take_reference, words_of};
use super::{PressureReference, RunOptions};
use crate::files::diagnostic::Code;
use crate::units::{Dimension, LookupError, Unit, accepted, find, find_any};

/// A header cell understood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Meaning {
    /// A column of numbers.
    Numbers(Channel, &'static Unit),
    /// The label of the pull.
    Label,
    /// Not a name in the table.
    Unknown,
}

/// Why a header cell of a known name cannot be used.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Question {
    pub(super) code: Code,
    pub(super) message: String,
    pub(super) expected: String,
    pub(super) help: String,
}

/// Understands one header cell, with the cell below it if there is a unit row.
pub(super) fn understand(
    cell: &str,
    unit_cell: Option<&str>,
    options: &RunOptions,
) -> Result<Meaning, Question> {
    let answer = options
        .units
        .iter()
        .find(|(header, _)| header == cell)
        .map(|(_, unit)| unit.as_str());
    let (mut name, mut bracketed) = split_bracket(cell);
    if bracketed.is_some_and(|word| reference_word(&word.to_lowercase()).is_some()) {
        // `manifold_pressure_kpa (absolute)`: the bracket holds no unit but belongs to the name.
        (name, bracketed) = (cell, None);
    }
    let mut words: Vec<String> = words_of(name);
    let reference = take_reference(&mut words);
    let below = unit_cell.map(str::trim).filter(|unit| !unit.is_empty());
    let written = answer.or(bracketed).or(below);

    // The whole name first, then with one to three words at its end taken as the unit.
    let borrowed: Vec<&str> = words.iter().map(String::as_str).collect();
    for unit_words in 0..borrowed.len().min(4) {
        let (name, suffix) = borrowed.split_at(borrowed.len() - unit_words);
        let found = meanings(name);
        if found.is_empty() {
            continue;
        }
        if found.iter().any(|(channel, _)| *channel == Channel::Pull) {
            return Ok(if suffix.is_empty() {
                Meaning::Label
            } else {
                Meaning::Unknown
            });
        }
        let header = reference.or((name == ["map"]).then_some(PressureReference::Absolute));
        let references = References {
            header,
            answered: options.manifold_pressure,
        };
        let suffixes = spellings(suffix);
        let suffix_is_unit = || {
            suffixes
                .iter()
                .any(|unit| is_unit_of(unit, &found, name.len()))
        };
        let units = match (suffix.is_empty(), answer, written) {
            (false, _, _) if !suffix_is_unit() => continue,
            // The caller's answer outranks a unit in the name.
            (true, _, Some(unit)) | (false, Some(unit), _) => vec![unit.to_owned()],
            // The name alone, and nothing says the unit unless the name does (`rpm`, `lambda`).
            (true, _, None) => return implied(&found).ok_or_else(|| no_unit(cell, &found)),
            (false, None, None) => suffixes,
            // Two units: judged below.
            (false, None, Some(_)) => continue,
        };
        return resolve(cell, &found, &units, references);
    }
    match written {
        Some(written) => stated_twice(cell, name, written, options),
        None => Ok(Meaning::Unknown),
    }
}

/// `engine_rpm (rpm)`: a unit in the name and another beside it, which must agree.
fn stated_twice(
    cell: &str,
    name: &str,
    written: &str,
    options: &RunOptions,
) -> Result<Meaning, Question> {
    let (bare, _) = split_bracket(name);
    let with_units = |units| RunOptions {
        units,
        ..options.clone()
    };
    let (meaning, channel, unit) = match understand(bare, None, &with_units(Vec::new())) {
        Ok(meaning @ Meaning::Numbers(channel, unit)) => (meaning, channel, unit),
        Ok(_) => return Ok(Meaning::Unknown),
        // The name alone left a question, such as gauge or absolute, that the unit beside it may answer.
        Err(_) => {
            let units = vec![(bare.to_owned(), written.to_owned())];
            return understand(bare, None, &with_units(units));
        }
    };
    let is_pressure = matches!(
        unit.dimension,
        Dimension::Pressure | Dimension::GaugePressure
    );
    let bare_pressure = || find(written, Dimension::PressureDifference);
    if find(written, unit.dimension).is_ok_and(|again| again == unit)
        || (is_pressure && bare_pressure().is_ok_and(|again| again.factor() == unit.factor()))
    {
        return Ok(meaning);
    }
    Err(Question {
        code: Code::UNIT_AMBIGUOUS,
        message: format!(
            "column '{cell}' gives two units: '{}' and '{written}'",
            unit.symbol
        ),
        expected: "one unit".to_owned(),
        help: format!("write the header as '{} (unit)'", channel.name()),
    })
}

/// The meaning of a name that states its own unit.
fn implied(found: &Found) -> Option<Meaning> {
    let &[(channel, Some(unit))] = found else {
        return None;
    };
    let unit = find(unit, channel.dimension()?).ok()?;
    Some(Meaning::Numbers(channel, unit))
}

/// Against what a pressure is measured: what the header says, and what the caller answers where it is silent.
#[derive(Debug, Clone, Copy)]
struct References {
    header: Option<PressureReference>,
    answered: Option<PressureReference>,
}

type Found = [(Channel, Option<&'static str>)];

fn dimensions(found: &Found) -> Vec<Dimension> {
    found
        .iter()
        .filter_map(|(channel, _)| channel.dimension())
        .collect()
}

/// Whether trailing words are meant as a unit at all. A unit of something else counts only after a name of several words:
/// `wheel_power_nm` is a mistake, `fuel_l` another column.
fn is_unit_of(written: &str, found: &Found, name_words: usize) -> bool {
    match find_any(written, &dimensions(found)) {
        Err(LookupError::Unknown { .. }) => false,
        Err(LookupError::WrongDimension { .. }) => name_words > 1,
        Ok(_) | Err(_) => true,
    }
}

fn resolve(
    cell: &str,
    found: &Found,
    spellings: &[String],
    references: References,
) -> Result<Meaning, Question> {
    let allowed = dimensions(found);
    let mut first_error = None;
    for written in spellings {
        let error = match find_any(written, &allowed) {
            Ok(unit) => {
                let stated = match unit.dimension {
                    Dimension::Pressure | Dimension::BarometricPressure => {
                        Some(PressureReference::Absolute)
                    }
                    Dimension::GaugePressure => Some(PressureReference::Gauge),
                    _ => None,
                };
                if let (Some(stated), Some(reference)) = (stated, references.header)
                    && stated != reference
                {
                    return Err(Question {
                        code: Code::UNIT_AMBIGUOUS,
                        message: format!("column '{cell}' is labelled both gauge and absolute"),
                        expected: "gauge or absolute".to_owned(),
                        help: format!("write the header as 'manifold pressure ({})'", unit.symbol),
                    });
                }
                return channel_of(found, unit).ok_or_else(|| no_unit(cell, found));
            }
            // A bare pressure unit: the name, the header's words or the caller may say what it is measured against.
            Err(error @ LookupError::GaugeOrAbsolute { .. }) => {
                let by_name =
                    (allowed == [Dimension::GaugePressure]).then_some(PressureReference::Gauge);
                let reference = references.header.or(by_name).or(references.answered);
                let word = match reference {
                    Some(PressureReference::Gauge) => "gauge",
                    Some(PressureReference::Absolute) => "absolute",
                    None => "",
                };
                if let Ok(unit) = find_any(&format!("{written} {word}"), &allowed) {
                    return channel_of(found, unit).ok_or_else(|| no_unit(cell, found));
                }
                error
            }
            Err(error) => error,
        };
        first_error.get_or_insert(error);
    }
    Err(match first_error {
        None => no_unit(cell, found),
        Some(error) => {
            let code = match error {
                LookupError::Unknown { .. } => Code::UNIT_UNKNOWN,
                LookupError::WrongDimension { .. } => Code::UNIT_WRONG,
                _ => Code::UNIT_AMBIGUOUS,
            };
            Question {
                code,
                message: format!("column '{cell}': {error}"),
                expected: error.candidates(),
                help: how_to_answer(found),
            }
        }
    })
}

fn channel_of(found: &Found, unit: &'static Unit) -> Option<Meaning> {
    found
        .iter()
        .find(|(channel, _)| channel.dimension() == Some(unit.dimension))
        .map(|(channel, _)| Meaning::Numbers(*channel, unit))
}

fn no_unit(cell: &str, found: &Found) -> Question {
    let candidates: Vec<String> = dimensions(found)
        .into_iter()
        .map(|dimension| match dimension {
            Dimension::Ratio => "% (0 to 100) or 1 (0 to 1)".to_owned(),
            other => accepted(other),
        })
        .collect();
    Question {
        code: Code::UNIT_MISSING,
        message: format!("column '{cell}' has no unit"),
        expected: candidates.join(", "),
        help: how_to_answer(found),
    }
}

fn how_to_answer(found: &Found) -> String {
    let channel = found.first().map_or(Channel::Pull, |(channel, _)| *channel);
    let symbol = match channel.dimension() {
        Some(Dimension::Ratio) => "%",
        Some(Dimension::Power) => "kW",
        Some(Dimension::Pressure) => "kPa absolute",
        Some(Dimension::GaugePressure) => "kPa gauge",
        Some(Dimension::BarometricPressure) => "kPa",
        Some(Dimension::RotationalSpeed) => "rpm",
        Some(Dimension::Speed) => "km/h",
        Some(Dimension::Temperature) => "°C",
        Some(Dimension::MassFlow) => "g/s",
        Some(Dimension::Angle) => "deg",
        Some(other) => other.si_unit().symbol,
        None => "",
    };
    format!(
        "put the unit in the header, such as '{} ({symbol})'",
        channel.name()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(cell: &str) -> Result<Meaning, Question> {
        understand(cell, None, &RunOptions::default())
    }

    fn numbers(cell: &str) -> (Channel, &'static str) {
        match read(cell) {
            Ok(Meaning::Numbers(channel, unit)) => (channel, unit.symbol),
            other => panic!("{cell}: {other:?}"),
        }
    }

    #[test]
    #[expect(clippy::too_many_lines, reason = "a table of cases")]
    fn one_meaning_in_many_spellings() {
        for (cells, channel, symbol) in [
            (
                &[
                    "time_s",
                    "Time (s)",
                    "time [s]",
                    "TIME_S",
                    "t_s",
                    "seconds",
                    "elapsed time (s)",
                ][..],
                Channel::Time,
                "s",
            ),
            (
                &[
                    "engine_rpm",
                    "engine speed (rpm)",
                    "Engine Speed [1/min]",
                    "rpm",
                    "engine_speed_rpm",
                    "RPM",
                    "engine_rpm (rpm)",
                ],
                Channel::EngineSpeed,
                "rpm",
            ),
            (
                &["drum_speed_rpm", "drum speed (rpm)"],
                Channel::DrumSpeed,
                "rpm",
            ),
            (&["drum_speed_rad_s"], Channel::DrumSpeed, "rad/s"),
            (
                &["speed_m_s", "road speed (m/s)", "drum speed [m/s]"],
                Channel::RoadSpeed,
                "m/s",
            ),
            (
                &["speed (km/h)", "road_speed_kmh", "speed_km_h"],
                Channel::RoadSpeed,
                "km/h",
            ),
            (
                &["wheel_torque_nm", "wheel torque (N·m)", "wheel_torque_n_m"],
                Channel::WheelTorque,
                "N m",
            ),
            (
                &[
                    "wheel torque (lb-ft)",
                    "wheel_torque_lb_ft",
                    "wheel_torque_lbft",
                ],
                Channel::WheelTorque,
                "lb ft",
            ),
            (
                &["wheel_power_kw", "wheel power (kW)", "Wheel Power [KW]"],
                Channel::WheelPower,
                "kW",
            ),
            (
                &["wheel_power_corrected_kw", "corrected wheel power (kW)"],
                Channel::CorrectedWheelPower,
                "kW",
            ),
            (&["wheel_power_hp"], Channel::WheelPower, "hp"),
            (
                &[
                    "manifold_pressure_kpa_abs",
                    "manifold_pressure_abs_kpa",
                    "manifold pressure (kPa abs)",
                    "manifold absolute pressure (kPa)",
                    "map_kpa",
                    "manifold_pressure_kpa (absolute)",
                    "manifold_pressure_kpa (kPa abs)",
                    "manifold_pressure_kpa_abs (kPa)",
                    "MAP (kPa)",
                    "manifold pressure absolute [kPa]",
                ],
                Channel::ManifoldPressure,
                "kPa absolute",
            ),
            (
                &[
                    "boost_psi",
                    "boost (psi)",
                    "boost (psig)",
                    "manifold pressure (psi gauge)",
                    "manifold_pressure_gauge_psi",
                ],
                Channel::Boost,
                "psi gauge",
            ),
            (
                &[
                    "charge_temp_c",
                    "charge temperature (°C)",
                    "charge_temperature_degc",
                    "charge temp [C]",
                    "plenum_temp_deg_c",
                ],
                Channel::ChargeTemperature,
                "°C",
            ),
            (&["lambda", "Lambda (-)"], Channel::Lambda, "1"),
            (
                &["throttle (%)", "throttle_position_pct"],
                Channel::ThrottlePosition,
                "%",
            ),
            (
                &["fuel_flow_g_s", "fuel flow (g/s)", "fuel_g_s"],
                Channel::FuelFlow,
                "g/s",
            ),
            (&["roll_force_N"], Channel::WheelForce, "N"),
            (&["barometer (inHg)"], Channel::AirPressure, "inHg"),
            (&["state of charge (%)"], Channel::StateOfCharge, "%"),
        ] {
            for cell in cells {
                assert_eq!(numbers(cell), (channel, symbol), "{cell}");
            }
        }
        assert_eq!(read("pull"), Ok(Meaning::Label));
        assert_eq!(read("Run number"), Ok(Meaning::Label));
        for cell in ["flux_capacitor", "wheel", "gear", "", "roll_force_sd_N"] {
            assert_eq!(read(cell), Ok(Meaning::Unknown), "{cell}");
        }
    }

    #[test]
    fn a_missing_or_double_meaning_becomes_a_question() {
        for (cell, code, message, expected) in [
            (
                "time",
                Code::UNIT_MISSING,
                "column 'time' has no unit",
                "s, ms, min",
            ),
            (
                "wheel_power",
                Code::UNIT_MISSING,
                "column 'wheel_power'",
                "W, kW, MW, hp, PS",
            ),
            (
                "throttle",
                Code::UNIT_MISSING,
                "column 'throttle'",
                "% (0 to 100) or 1 (0 to 1)",
            ),
            (
                "manifold_pressure_kpa",
                Code::UNIT_AMBIGUOUS,
                "gauge or absolute",
                "kPa gauge or kPa absolute",
            ),
            (
                "manifold pressure (psi)",
                Code::UNIT_AMBIGUOUS,
                "gauge or absolute",
                "psi gauge or psi absolute",
            ),
            (
                "charge temp (deg)",
                Code::UNIT_AMBIGUOUS,
                "'deg' has more than one meaning",
                "°C or °F or K",
            ),
            (
                "wheel power (Nm)",
                Code::UNIT_WRONG,
                "'Nm' is a torque, but a power is expected",
                "W, kW",
            ),
            ("wheel_power_nm", Code::UNIT_WRONG, "a torque", "W, kW"),
            (
                "wheel power (kWW)",
                Code::UNIT_UNKNOWN,
                "did you mean 'kW'?",
                "W, kW",
            ),
            (
                "boost (kPa absolute)",
                Code::UNIT_WRONG,
                "an absolute pressure",
                "kPa gauge",
            ),
            (
                "manifold pressure gauge (kPa abs)",
                Code::UNIT_AMBIGUOUS,
                "both gauge and absolute",
                "gauge or absolute",
            ),
            (
                "engine_rpm (rad/s)",
                Code::UNIT_AMBIGUOUS,
                "two units",
                "one unit",
            ),
        ] {
            let question = read(cell).expect_err(cell);
            assert_eq!(question.code, code, "{question:?}");
            assert!(question.message.contains(message), "{question:?}");
            assert!(question.expected.contains(expected), "{question:?}");
            assert!(!question.help.is_empty());
        }
    }

    #[test]
    fn the_caller_can_answer() {
        let options = RunOptions {
            manifold_pressure: Some(PressureReference::Absolute),
            units: vec![("wheel_power".to_owned(), "PS".to_owned())],
            ..RunOptions::default()
        };
        let answered = |cell| match understand(cell, None, &options) {
            Ok(Meaning::Numbers(channel, unit)) => (channel, unit.symbol),
            other => panic!("{other:?}"),
        };
        assert_eq!(
            answered("manifold_pressure_kpa"),
            (Channel::ManifoldPressure, "kPa absolute")
        );
        assert_eq!(answered("wheel_power"), (Channel::WheelPower, "PS"));
        let answer = ("manifold_pressure_kpa".to_owned(), "kPa gauge".to_owned());
        let options = RunOptions {
            units: vec![answer],
            ..RunOptions::default()
        };
        let read = understand("manifold_pressure_kpa", None, &options);
        assert!(
            matches!(read, Ok(Meaning::Numbers(Channel::Boost, _))),
            "{read:?}"
        );
        // Boost is gauge by its name, whatever was answered for the manifold.
        assert_eq!(answered("boost_psi"), (Channel::Boost, "psi gauge"));
    }
}
