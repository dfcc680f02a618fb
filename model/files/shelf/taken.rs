//! What a plan takes from the shelf: parts named in it are put into its text, which then stands alone.

use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::{NAME, NOT_ON_THE_SHELF, Shelf, toml_key};
use crate::files::belief::KEY_CONFLICT;
use crate::files::diagnostic::{Code, Excerpt, Problem, Problems};
use crate::files::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use crate::files::plan::{self, PlanFile};
use crate::files::table::{TomlFile, nearest};

/// What a plan took from the shelf.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// Name of the part.
    pub name: String,
    /// Its version.
    pub version: u32,
}

/// Reads a plan file from disk, what it names of the shelf put in; the shelf is asked for only where a change names a part.
pub fn open_plan(
    path: &Path,
    shelf: impl FnOnce() -> Result<Shelf, Problems>,
) -> Result<(PlanFile, Problems), Problems> {
    let name = path.display().to_string();
    let text = decode_utf8(&name, read_bytes(path, TOML_LIMIT_BYTES)?)?;
    if !names_parts(&text) {
        return plan::open(path);
    }
    let (whole, taken) = completed(&name, &text, &shelf()?)?;
    let file = TomlFile::parse(&format!("{name}, with its parts put in"), &whole)?;
    let (mut plan, problems) = plan::read(&file, path.parent().unwrap_or(Path::new("")))?;
    plan.from_shelf = Some(FromShelf { taken, text: whole });
    Ok((plan, problems))
}

/// What a plan took from the shelf, and its text with that put in: it stands alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FromShelf {
    /// What it took.
    pub taken: Vec<Taken>,
    /// The text.
    pub text: String,
}

/// Whether a change of a plan names a part.
fn names_parts(text: &str) -> bool {
    let (root, _) = DeTable::parse_recoverable(text);
    let Some(DeValue::Array(changes)) = root.get_ref().get("change").map(toml::Spanned::get_ref)
    else {
        return false;
    };
    let names = |change: &DeValue<'_>| matches!(change, DeValue::Table(change) if change.contains_key("part"));
    changes.iter().any(|change| names(change.get_ref()))
}

/// The text of a plan with the lines of the parts it names below their names, which become remarks.
fn completed(name: &str, text: &str, shelf: &Shelf) -> Result<(String, Vec<Taken>), Problems> {
    let (root, errors) = DeTable::parse_recoverable(text);
    let changes = root.get_ref().get("change").map(toml::Spanned::get_ref);
    let Some(DeValue::Array(changes)) = changes.filter(|_| errors.is_empty()) else {
        return Ok((text.to_owned(), Vec::new()));
    };
    let excerpt = Arc::new(Excerpt::whole(name, text));
    let mut problems = Problems::new();
    let mut taken = Vec::new();
    // Places and what is put there, from the top down.
    let mut edits: Vec<(usize, String)> = Vec::new();
    for change in changes {
        let DeValue::Table(change) = change.get_ref() else {
            continue;
        };
        let entry = |wanted: &str| change.iter().find(|(key, _)| key.get_ref() == wanted);
        let Some((key, value)) = entry("part") else {
            continue;
        };
        let fault = |code, message: String| Problem::at(code, &excerpt, value.span(), message);
        let DeValue::String(wanted) = value.get_ref() else {
            let problem = fault(Code::WRONG_TYPE, "'part' is no text".to_owned());
            problems.push(problem.expected("the name of a part on the shelf"));
            continue;
        };
        let line_start = text[..key.span().start].rfind('\n').map_or(0, |at| at + 1);
        if !text[line_start..key.span().start].trim().is_empty() {
            let problem = fault(
                Code::SYNTAX,
                "'part' does not stand in a line of its own".to_owned(),
            );
            problems.push(problem.expected("a [[change]] with part = \"...\" in its first line"));
            continue;
        }
        let version_entry = entry("part_version");
        let version = match version_entry {
            None => None,
            Some((_, value)) => {
                let number = match value.get_ref() {
                    DeValue::Integer(number) => number.to_string().parse::<u32>().ok(),
                    _ => None,
                };
                if number.is_none() {
                    let message = "'part_version' is no version of a part".to_owned();
                    let problem = Problem::at(Code::WRONG_TYPE, &excerpt, value.span(), message);
                    problems.push(problem.expected("a whole number from 1 on, without quotes"));
                    continue;
                }
                number
            }
        };
        let Some(part) = shelf.part(wanted, version) else {
            problems.push(missing(shelf, wanted, version, fault));
            continue;
        };
        let own = |key: &str| entry(key).is_some();
        if let Some((_, kind)) = entry("kind")
            && !matches!(kind.get_ref(), DeValue::String(word) if **word == part.kind)
        {
            let message = format!("'{}' of the shelf is another kind of work", part.name);
            let problem = Problem::at(KEY_CONFLICT, &excerpt, kind.span(), message);
            problems.push(problem.expected(format!("kind = \"{}\", or no kind", part.kind)));
            continue;
        }
        let line_end = text[value.span().end..].find('\n');
        let line_end = line_end.map_or(text.len(), |at| value.span().end + at + 1);
        let mut lines = String::new();
        if !text[..line_end].ends_with('\n') {
            lines.push('\n');
        }
        let _ = writeln!(lines, "# version {} of the shelf:", part.version);
        if !own("kind") {
            let _ = writeln!(lines, "kind = {}", toml::Value::String(part.kind.clone()));
        }
        for (key, value) in part.keys.iter().filter(|(key, _)| !own(key)) {
            let _ = writeln!(lines, "{} = {value}", toml_key(key));
        }
        edits.push((key.span().start, "# ".to_owned()));
        edits.push((line_end, lines));
        edits.extend(version_entry.map(|(key, _)| (key.span().start, "# ".to_owned())));
        taken.push(Taken {
            name: part.name.clone(),
            version: part.version,
        });
    }
    if problems.has_errors() {
        return Err(problems);
    }
    // Of two at one place the lines come before the sign of a remark that begins behind them.
    edits.sort_by_key(|(at, _)| *at);
    let mut whole = text.to_owned();
    for (at, what) in edits.iter().rev() {
        whole.insert_str(*at, what);
    }
    Ok((whole, taken))
}

/// The problem of a part that is not there.
fn missing(
    shelf: &Shelf,
    wanted: &str,
    version: Option<u32>,
    fault: impl Fn(Code, String) -> Problem,
) -> Problem {
    let names = shelf.names();
    let versions: Vec<String> = shelf
        .parts
        .iter()
        .filter(|part| part.name == wanted)
        .map(|part| part.version.to_string())
        .collect();
    if let (Some(version), false) = (version, versions.is_empty()) {
        let message = format!("the shelf has no version {version} of '{wanted}'");
        return fault(NOT_ON_THE_SHELF, message)
            .expected(format!("one of: {}", versions.join(", ")));
    }
    let Some(path) = &shelf.path else {
        let message = format!("there is no shelf to take '{wanted}' from");
        return fault(NOT_ON_THE_SHELF, message).expected(format!(
            "a file {NAME} beside the shop's profile, in this folder or above it; `pullcast shelf import` makes one"
        ));
    };
    let message = format!("{} has no part '{wanted}'", path.display());
    let near = nearest(wanted, names.iter().copied());
    fault(NOT_ON_THE_SHELF, message).expected(match near {
        Some(near) => format!("'{near}'?"),
        None => format!("one of: {}", names.join(", ")),
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::shelf;
    use super::*;

    #[test]
    fn a_plan_is_filled_and_its_own_keys_come_first() {
        let (_folder, shelf) = shelf();
        let plan = "kind = \"plan\"\nversion = 1\nname = \"p\"\n[[change]]\npart = \"screw\" # the usual one\ndrive_ratio = 2.4\n";
        let (whole, taken) = completed("plan.toml", plan, &shelf).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(
            taken,
            [Taken {
                name: "screw".to_owned(),
                version: 1
            }]
        );
        let table: toml::Table = whole.parse().expect("TOML");
        let change = table["change"][0].as_table().expect("a table");
        assert_eq!(change["drive_ratio"].as_float(), Some(2.4));
        assert_eq!(change["displacement"].as_str(), Some("1.7 L/rev"));
        assert!(change.get("part").is_none());
        // Filled, it needs no shelf and is filled no more.
        let (again, none) =
            completed("plan.toml", &whole, &Shelf::default()).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!((again, none.len()), (whole, 0));
    }

    #[test]
    fn what_the_shelf_does_not_hold_is_told_at_its_place() {
        let (_folder, shelf) = shelf();
        let of = |change: &str, shelf: &Shelf| {
            let plan =
                format!("kind = \"plan\"\nversion = 1\nname = \"p\"\n[[change]]\n{change}\n");
            completed("plan.toml", &plan, shelf)
                .expect_err(change)
                .to_string()
        };
        assert!(of("part = \"screws\"", &shelf).contains("'screw'?"));
        assert!(of("part = \"screw\"\npart_version = 7", &shelf).contains("no version 7"));
        for wrong in ["-1", "5000000000", "\"1\"", "1.0"] {
            let change = format!("part = \"screw\"\npart_version = {wrong}");
            assert!(
                of(&change, &shelf).contains("is no version of a part"),
                "{wrong}"
            );
        }
        assert!(of("part = \"screw\"\nkind = \"pulley\"", &shelf).contains("another kind of work"));
        assert!(of("part = \"screw\"", &Shelf::default()).contains("there is no shelf"));
    }
}
