//! Short starter files: what has to be filled in, and nothing else.
//!
//! Each is one text in which a value stands in both sets of units, `{metric|shop}`.

use super::FileKind;

/// Units in which a short file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WrittenIn {
    /// Metres, kilograms, pascals.
    Metric,
    /// Inches, pounds, inches of mercury.
    Shop,
}

/// The short starter of a kind of file.
pub fn short(kind: FileKind, units: WrittenIn) -> String {
    let text = match kind {
        FileKind::Car => include_str!("short/car.toml"),
        FileKind::Plan => include_str!("short/plan.toml"),
        FileKind::Visit => include_str!("short/visit.toml"),
        FileKind::Weather => include_str!("short/weather.toml"),
        FileKind::DrumLog => include_str!("short/drum_log.toml"),
        FileKind::Shop => include_str!("short/shop.toml"),
        FileKind::Class => include_str!("short/class.toml"),
    };
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{')
        && let Some((values, after)) = after.split_once('}')
        && let Some((metric, shop)) = values.split_once('|')
    {
        out.push_str(before);
        out.push_str(match units {
            WrittenIn::Metric => metric,
            WrittenIn::Shop => shop,
        });
        rest = after;
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::quote::Question;
    use crate::files::{TomlFile, car, plan, weather};
    use std::path::Path;

    const KINDS: [FileKind; 6] = [
        FileKind::Car,
        FileKind::Plan,
        FileKind::Visit,
        FileKind::Weather,
        FileKind::DrumLog,
        FileKind::Class,
    ];
    const BOTH: [WrittenIn; 2] = [WrittenIn::Metric, WrittenIn::Shop];

    fn parse(kind: FileKind, units: WrittenIn) -> TomlFile {
        TomlFile::parse("short.toml", &short(kind, units)).unwrap_or_else(|p| panic!("{p}"))
    }

    #[test]
    fn a_short_file_is_short_and_in_one_set_of_units() {
        for kind in KINDS {
            for units in BOTH {
                let text = short(kind, units);
                assert!(text.lines().count() <= 20, "{text}");
                assert!(!text.contains(['{', '|', '}']), "{text}");
            }
            let shop = short(kind, WrittenIn::Shop);
            for metric in [" mm", " m\"", " kg", " L", " °C", "Pa", " g/s"] {
                assert!(!shop.contains(metric), "{metric} in {shop}");
            }
        }
    }

    #[test]
    fn a_quote_can_be_made_of_the_short_files_as_they_are() {
        let mut gains = Vec::new();
        for units in BOTH {
            let (car, warnings) = car::read(&parse(FileKind::Car, units), Path::new(""))
                .unwrap_or_else(|p| panic!("{p}"));
            assert!(warnings.is_empty(), "{warnings}");
            let (plan, warnings) = plan::read(&parse(FileKind::Plan, units), Path::new(""))
                .unwrap_or_else(|p| panic!("{p}"));
            assert!(warnings.is_empty(), "{warnings}");
            let (air, warnings) =
                weather::read(&parse(FileKind::Weather, units)).unwrap_or_else(|p| panic!("{p}"));
            assert!(warnings.is_empty(), "{warnings}");
            let day = crate::ask::basis::Air::stated(air.day, "a day");
            let question = Question {
                draws: Some(crate::ask::quote::LEAST_DRAWS),
                ..Question::new(&car.sheet, &plan.plan, &[], Some(day))
            };
            let answer = question.answer().expect("a quote");
            assert!(answer.gate.is_none());
            gains.push(answer.gain.p50);
        }
        // The same car in other units, to the digits written.
        assert!((gains[0] / gains[1] - 1.0).abs() < 0.02, "{gains:?}");
    }
}
