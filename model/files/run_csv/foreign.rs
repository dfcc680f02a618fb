//! Files of another format under the name of a table: named in one sentence, because questions about their brackets help nobody.

use crate::files::diagnostic::{Code, Problem};

/// What a text is that is no table, and what to do about it.
pub(super) fn format_of(text: &str) -> Option<&'static str> {
    let start = text.trim_start();
    let lower: String = start.chars().take(64).collect::<String>().to_lowercase();
    let after = |sign: char| start.strip_prefix(sign).map(str::trim_start);
    if lower.starts_with("{\\rtf") {
        return Some("RTF, a word processor's document");
    }
    if lower.starts_with("%pdf") {
        return Some("PDF");
    }
    if ["<!doctype html", "<html", "<table", "<head", "<body"]
        .iter()
        .any(|of| lower.starts_with(of))
    {
        return Some("HTML");
    }
    if after('<').is_some_and(|rest| rest.starts_with(|c: char| c.is_alphabetic() || c == '?'))
        && start.lines().take(3).any(|line| line.contains('>'))
        && start.contains("</")
    {
        return Some("XML");
    }
    let json = after('{').is_some_and(|rest| rest.starts_with('"'))
        || after('[').is_some_and(|rest| rest.starts_with(['{', '[', '"']));
    if json {
        return Some("JSON");
    }
    let lines = || {
        start
            .lines()
            .filter(|line| !line.trim().is_empty())
            .take(60)
    };
    let section = |line: &str| {
        let line = line.trim();
        let name = line
            .strip_prefix('[')
            .and_then(|line| line.strip_suffix(']'));
        name.is_some_and(|name| !name.contains([',', ';', '\t', '[']))
    };
    let pairs = lines().filter(|line| line.contains('=')).count();
    if lines().next().is_some_and(section) && 4 * pairs > 3 * lines().count() {
        return Some("settings (INI), sections of names with values");
    }
    // Names repeated in every line: `t=0.05 rpm=1966`.
    let named = lines().filter(|line| {
        let words = || {
            line.split([' ', '\t', ',', ';'])
                .filter(|word| !word.is_empty())
        };
        words().count() > 1 && words().all(|word| word.find('=').is_some_and(|at| at > 0))
    });
    (lines().count() > 4 && 4 * named.count() > 3 * lines().count())
        .then_some("lines of names with values ('name=value')")
}

/// The refusal.
pub(super) fn refused(name: &str, format: &str) -> Problem {
    let message = format!("the file is {format}, not a table");
    Problem::of_file(Code::FILE_NOT_A_TABLE, name, message)
        .expected("a table: export it as CSV, one row per sample")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_formats_are_named_and_tables_are_not() {
        for (text, format) in [
            ("{\"t\": 0.0, \"rpm\": 1953}\n", "JSON"),
            ("[\n {\n  \"t\": 0.0", "JSON"),
            (
                "<?xml version=\"1.0\"?>\n<log>\n<s t=\"0\"/>\n</log>",
                "XML",
            ),
            ("<html><head></head><table>", "HTML"),
            ("{\\rtf1\\ansi Time (s)\\tab RPM", "RTF"),
            (
                "[Info]\nName=Coupe\nFactor=1\nColumns=Time;RPM\n0=0.00;1953\n",
                "settings",
            ),
            (
                "t=0.0 rpm=1\nt=1 rpm=2\nt=2 rpm=3\nt=3 rpm=4\nt=4 rpm=5\n",
                "lines of names",
            ),
        ] {
            let found = format_of(text).unwrap_or_default();
            assert!(found.starts_with(format), "{text}: {found}");
        }
        for text in [
            "[s];[1/min];[kW]\n0;1953;25\n",
            "Time <s>,RPM\n0,1\n",
            "sep=;\nTime;RPM\n0;1\n",
            "Rig = 4\nCar = coupe\nTime;RPM\n0;1\n1;2\n2;3\n3;4\n",
        ] {
            assert_eq!(format_of(text), None, "{text}");
        }
    }
}
