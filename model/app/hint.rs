//! The right call, spelt out where a wrong one can be mended: a slip in an option, files in each other's place.

use clap::error::{ContextKind, ContextValue, ErrorKind};
use pullcast::files::schema::FileKind;
use std::path::PathBuf;

/// The call of a verb with the files that were named, each where its kind belongs; a file that is lacking stands in capitals.
pub(crate) fn call(verb: &str, found: &[(&PathBuf, FileKind, FileKind)]) -> String {
    let named = |kind: FileKind| {
        let of_kind = found.iter().filter(move |(_, _, is)| *is == kind);
        of_kind.map(|(path, ..)| quoted(&path.display().to_string()))
    };
    let first = |kind, lacking: &str| named(kind).next().unwrap_or_else(|| lacking.to_owned());
    let option = |word: &str, kind: FileKind, skip: usize| {
        let files: Vec<_> = named(kind).skip(skip).collect();
        (!files.is_empty()).then(|| format!("{word} {}", files.join(" ")))
    };
    let car = || Some(first(FileKind::Car, "CAR.toml"));
    let mut parts = vec![Some(format!("pullcast {verb}"))];
    parts.extend(match verb {
        "quote" => vec![
            car(),
            Some(first(FileKind::Plan, "PLAN.toml")),
            option("--visit", FileKind::Visit, 0),
            option("--weather", FileKind::Weather, 0),
        ],
        "predict" | "trace" => vec![
            car(),
            named(FileKind::Plan).next(),
            option("--weather", FileKind::Weather, 0),
            (verb == "trace").then(|| "--rpm RPM".to_owned()),
        ],
        "fit" => vec![
            car(),
            Some(
                option("", FileKind::Visit, 0)
                    .map_or("VISIT.toml".to_owned(), |v| v.trim().to_owned()),
            ),
        ],
        "diagnose" => vec![
            car(),
            Some(first(FileKind::Visit, "ODD_VISIT.toml")),
            option("--good", FileKind::Visit, 1),
        ],
        "compare" => vec![
            Some(first(FileKind::Visit, "VISIT_BEFORE.toml")),
            Some(
                named(FileKind::Visit)
                    .nth(1)
                    .unwrap_or_else(|| "VISIT_AFTER.toml".to_owned()),
            ),
            option("--car", FileKind::Car, 0),
            option("--plan", FileKind::Plan, 0),
        ],
        "rules" => vec![
            Some(first(FileKind::Class, "CLASS.toml")),
            Some(first(FileKind::Visit, "VISIT.toml")),
        ],
        "correct" => vec![Some(first(FileKind::Weather, "WEATHER.toml"))],
        "reduce" => vec![Some(first(FileKind::DrumLog, "DRUM_LOG.toml"))],
        _ => vec![Some("--help".to_owned())],
    });
    let parts: Vec<_> = parts.into_iter().flatten().collect();
    format!("call it as: {}", parts.join(" "))
}

/// Likeness from which on a word is a slip of another: half of its letters. Below it the parser's own tip is a guess, and a call made of it misleads.
const LIKE: f64 = 0.5;

/// The call with what was most likely meant in the place of a word that is unknown.
pub(crate) fn mended(error: &clap::Error, words: &[String]) -> Option<String> {
    let (wrong, meant) = match error.kind() {
        ErrorKind::UnknownArgument => (ContextKind::InvalidArg, ContextKind::SuggestedArg),
        ErrorKind::InvalidSubcommand => (
            ContextKind::InvalidSubcommand,
            ContextKind::SuggestedSubcommand,
        ),
        ErrorKind::InvalidValue => (ContextKind::InvalidValue, ContextKind::SuggestedValue),
        _ => return None,
    };
    let wrong = one(error.get(wrong)?)?;
    let meant = one(error.get(meant)?)?;
    let letters = |word: &str| word.trim_start_matches('-').to_lowercase();
    if strsim::normalized_damerau_levenshtein(&letters(wrong), &letters(meant)) < LIKE {
        return None;
    }
    let mut changed = false;
    let call: Vec<String> = words
        .iter()
        .map(|word| {
            let (name, value) = match word.split_once('=') {
                Some((name, value)) => (name, Some(value)),
                None => (word.as_str(), None),
            };
            if changed || name != wrong {
                return quoted(word);
            }
            changed = true;
            quoted(&value.map_or_else(|| meant.to_owned(), |value| format!("{meant}={value}")))
        })
        .collect();
    changed.then(|| format!("call it as: pullcast {}", call.join(" ")))
}

fn one(value: &ContextValue) -> Option<&str> {
    match value {
        ContextValue::String(word) => Some(word),
        ContextValue::Strings(words) => words.first().map(String::as_str),
        _ => None,
    }
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./=+,:%@".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::args::Cli;
    use clap::Parser;

    #[test]
    fn a_slip_is_answered_with_the_call_that_was_meant() {
        for (words, call) in [
            (
                &["quote", "c", "p", "--wheather", "w x"][..],
                "pullcast quote c p --weather 'w x'",
            ),
            (
                &["quote", "c", "p", "--wheather=w"],
                "pullcast quote c p --weather=w",
            ),
            (&["qoute", "c", "p"], "pullcast quote c p"),
            (
                &["quote", "c", "p", "--units", "shp"],
                "pullcast quote c p --units shop",
            ),
        ] {
            let words: Vec<String> = words.iter().map(|&w| w.to_owned()).collect();
            let all = std::iter::once("pullcast".to_owned()).chain(words.iter().cloned());
            let error = Cli::try_parse_from(all).expect_err("a slip");
            assert_eq!(mended(&error, &words), Some(format!("call it as: {call}")));
        }
    }

    #[test]
    fn a_word_that_is_no_slip_of_another_makes_no_call() {
        let words = ["trace", "c", "--at", "5000"].map(str::to_owned);
        let all = std::iter::once("pullcast".to_owned()).chain(words.iter().cloned());
        let error = Cli::try_parse_from(all).expect_err("no such flag");
        assert_eq!(mended(&error, &words), None);
    }

    #[test]
    fn files_in_each_others_place_are_put_right() {
        let [a, b, c] = ["a.toml", "b.toml", "c c.toml"].map(PathBuf::from);
        let found = [
            (&a, FileKind::Car, FileKind::Plan),
            (&b, FileKind::Plan, FileKind::Car),
            (&c, FileKind::Weather, FileKind::Visit),
        ];
        let right = "call it as: pullcast quote b.toml a.toml --visit 'c c.toml'";
        assert_eq!(call("quote", &found), right);
        let alone = [(&a, FileKind::Car, FileKind::Plan)];
        assert_eq!(
            call("predict", &alone),
            "call it as: pullcast predict CAR.toml a.toml"
        );
        assert_eq!(
            call("fit", &alone),
            "call it as: pullcast fit CAR.toml VISIT.toml"
        );
    }
}
