//! The shop's shelf: parts it has used, each in its versions, put into a plan by name.
//!
//! ```text
//! kind = "shelf"
//! version = 1
//! [[part]]
//! name = "screw 1.7"
//! version = 1
//! [part.change]
//! kind = "displacement blower"
//! rotors = "screw"
//! displacement = "1.7 L/rev"
//! drive_ratio = 2.1
//! note = "measured on the estate, March"
//! ```
//!
//! It lies under the name [`NAME`] beside the shop's profile, or in the working folder or one above it. A change of a plan that says `part = "screw 1.7"` is
//! filled from the newest version, or from the one that `part_version` names; keys of its own go before the shelf's. A version is never changed: what is
//! imported anew under a known name is the next one. What a plan takes is put into its text, so that a kept plan stands alone. It refuses parts that
//! name files: they would not be there where the plan is.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::diagnostic::{Code, Excerpt, Problem, Problems};
use super::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use super::inputs::nearest_above;
use super::plan::{self, PlanFile};
use super::table::{TomlFile, nearest};
use super::write::{Overwrite, write_atomic};

/// Its name.
pub const NAME: &str = "shelf.toml";
/// A plan names a part that the shelf does not hold.
pub const NOT_ON_THE_SHELF: Code = Code::new("not_on_the_shelf");
/// A version of a part stands twice.
pub const VERSION_REPEATED: Code = Code::new("version_repeated");
/// A part of the shelf names a file.
pub const PART_NAMES_FILE: Code = Code::new("part_names_file");

/// Keys of a change that name a file.
const FILES: [&str; 2] = ["map", "turbine_map"];

/// One version of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What the shop calls it.
    pub name: String,
    /// Which version, from 1.
    pub version: u32,
    /// Kind of work, as a plan names it.
    pub kind: String,
    /// Its other keys, each with its value as TOML.
    pub keys: Vec<(String, String)>,
}

/// The shelf.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shelf {
    /// Where it lies; none where there is none.
    pub path: Option<PathBuf>,
    /// Its text.
    text: String,
    /// Its parts, in the order of the file.
    pub parts: Vec<Part>,
}

/// What an import did with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imported {
    /// The part.
    pub name: String,
    /// Its newest version now.
    pub version: u32,
    /// Whether that is new.
    pub new: bool,
}

/// The shelf of a folder: in it, or in the nearest one above; none where there is none.
pub fn find(folder: &Path) -> Option<PathBuf> {
    nearest_above(folder, NAME)
}

impl Shelf {
    /// Reads a shelf from disk.
    pub fn open(path: &Path) -> Result<(Self, Problems), Problems> {
        let name = path.display().to_string();
        let text = decode_utf8(&name, read_bytes(path, TOML_LIMIT_BYTES)?)?;
        let (parts, problems) = read(&name, &text)?;
        let path = Some(path.to_owned());
        Ok((Self { path, text, parts }, problems))
    }

    /// A part by its name: the newest version unless one is named.
    pub fn part(&self, name: &str, version: Option<u32>) -> Option<&Part> {
        let named = self.parts.iter().filter(|part| part.name == name);
        let wanted = named.filter(|part| version.is_none_or(|version| part.version == version));
        wanted.max_by_key(|part| part.version)
    }

    /// Names, each once, in the order of the file.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        for part in &self.parts {
            if !names.contains(&part.name.as_str()) {
                names.push(&part.name);
            }
        }
        names
    }

    /// Takes in the rows of a table with columns `name`, `kind` and keys of kinds of work: a row that says something new of a part is its next version.
    /// Nothing is written unless every row is sound.
    pub fn import(&mut self, table: &Path, to: &Path) -> Result<Vec<Imported>, Problems> {
        let file = table.display().to_string();
        let bytes = read_bytes(table, TOML_LIMIT_BYTES)?;
        let text = decode_utf8(&file, bytes)?;
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let broken = |error: &csv::Error| {
            let line = error.position().map_or(1, csv::Position::line);
            Problem::of_file(
                Code::SYNTAX,
                format!("{file}, line {line}"),
                error.to_string(),
            )
            .expected("a table with commas, and as many fields in each row as there are heads")
        };
        let heads = reader.headers().map_err(|error| broken(&error))?.clone();
        let place = |head: &str| heads.iter().position(|name| name == head);
        let (Some(name_at), Some(kind_at)) = (place("name"), place("kind")) else {
            let message = "the table has no columns 'name' and 'kind'";
            let problem = Problem::of_file(Code::KEY_MISSING, file, message);
            return Err(problem
                .expected("columns name, kind and keys of a plan's change, such as drive_ratio")
                .into());
        };
        let mut problems = Problems::new();
        let mut added = String::new();
        let mut done = Vec::new();
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    problems.push(broken(&error));
                    continue;
                }
            };
            let line = record.position().map_or(0, csv::Position::line);
            let name = record.get(name_at).unwrap_or_default().to_owned();
            let kind = record.get(kind_at).unwrap_or_default().to_owned();
            let keys: Vec<(String, String)> = heads
                .iter()
                .zip(&record)
                .enumerate()
                .filter(|(at, (_, cell))| ![name_at, kind_at].contains(at) && !cell.is_empty())
                .map(|(_, (head, cell))| (head.to_owned(), value(cell)))
                .collect();
            let newest = self.part(&name, None);
            let version = newest.map_or(1, |part| part.version + 1);
            let part = Part {
                name,
                version,
                kind,
                keys,
            };
            let lines = part.lines();
            // The row alone, so that what is wrong is told with its line.
            match read(&format!("{file}, line {line}"), &format!("{HEAD}{lines}")) {
                Err(found) => problems.append(found),
                Ok((read, _)) => {
                    let Some(part) = read.into_iter().next() else {
                        continue;
                    };
                    let same = newest
                        .is_some_and(|old| (&old.kind, &old.keys) == (&part.kind, &part.keys));
                    done.push(Imported {
                        name: part.name.clone(),
                        version: if same { part.version - 1 } else { part.version },
                        new: !same,
                    });
                    if !same {
                        added.push_str(&lines);
                        self.parts.push(part);
                    }
                }
            }
        }
        if problems.has_errors() {
            return Err(problems);
        }
        if !added.is_empty() {
            let mut text = if self.text.is_empty() {
                HEAD.to_owned()
            } else {
                self.text.clone()
            };
            if !text.ends_with('\n') {
                text.push('\n');
            }
            text.push_str(&added);
            write_atomic(to, text.as_bytes(), Overwrite::Allow)?;
            self.text = text;
        }
        self.path = Some(to.to_owned());
        Ok(done)
    }
}

/// How a shelf begins.
const HEAD: &str = "# Parts this shop has used. A version is never changed; `pullcast shelf import` adds the next one.\nkind = \"shelf\"\nversion = 1\n";

/// A cell as a value of TOML: numbers, switches, lists and tables as they are, everything else as text.
fn value(cell: &str) -> String {
    let plain = cell.parse::<f64>().is_ok_and(f64::is_finite) || ["true", "false"].contains(&cell);
    let list = cell.starts_with(['[', '{']);
    // What is no value of TOML after all is a text, which its reader then refuses.
    if (plain || list) && format!("x = {cell}").parse::<toml::Table>().is_ok() {
        cell.to_owned()
    } else {
        toml::Value::String(cell.to_owned()).to_string()
    }
}

impl Part {
    /// Its lines in the file.
    fn lines(&self) -> String {
        let text = |text: &str| toml::Value::String(text.to_owned());
        let mut lines = format!(
            "\n[[part]]\nname = {}\nversion = {}\n[part.change]\nkind = {}\n",
            text(&self.name),
            self.version,
            text(&self.kind)
        );
        for (key, value) in &self.keys {
            // Writing to a String cannot fail.
            let _ = writeln!(lines, "{} = {value}", toml_key(key));
        }
        lines
    }
}

/// A key as TOML writes it.
fn toml_key(key: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if !key.is_empty() && key.chars().all(bare) {
        key.to_owned()
    } else {
        toml::Value::String(key.to_owned()).to_string()
    }
}

/// Reads the parts of a shelf, each as a change of a plan.
fn read(name: &str, text: &str) -> Result<(Vec<Part>, Problems), Problems> {
    let file = TomlFile::parse(name, text)?;
    let (named, mut problems) = file.read(|root| {
        super::car::head(root, "shelf")?;
        let mut named: Vec<(String, i64)> = Vec::new();
        root.tables("part", |table| {
            let name = table.text("name");
            let version = table.integer("version", 1..=100_000);
            table.subtable("change", |change| {
                for key in FILES {
                    if change.has(key) {
                        let message = format!("a part of the shelf cannot name a file ('{key}')");
                        let expected = format!("the points themselves, in a table '{key}_points'");
                        change.error(key, PART_NAMES_FILE, message, expected);
                    }
                }
                plan::change(change, Path::new(""))
            });
            let one = (name?, version?);
            if one.0.trim().is_empty() {
                table.error("name", Code::WRONG_TYPE, "the part has no name", "a name");
                return None;
            }
            if named.contains(&one) {
                let message = format!("version {} of '{}' stands twice", one.1, one.0);
                table.error("version", VERSION_REPEATED, message, "each version once");
                return None;
            }
            named.push(one);
            Some(())
        });
        Some(named)
    })?;
    let root: toml::Table = text.parse().unwrap_or_default();
    let entries = root.get("part").and_then(toml::Value::as_array);
    let changes = entries
        .into_iter()
        .flatten()
        .filter_map(|entry| entry.get("change")?.as_table());
    let parts = named
        .into_iter()
        .zip(changes)
        .map(|((name, version), change)| {
            let keys = change.iter().filter(|(key, _)| *key != "kind");
            Part {
                name,
                version: u32::try_from(version).unwrap_or(u32::MAX),
                kind: change
                    .get("kind")
                    .and_then(toml::Value::as_str)
                    .unwrap_or_default()
                    .to_owned(),
                keys: keys
                    .map(|(key, value)| (key.clone(), value.to_string()))
                    .collect(),
            }
        });
    let parts = parts.collect();
    // What a part leaves to a default is told where it is used.
    problems = problems.without_file(name);
    Ok((parts, problems))
}

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
            let problem = Problem::at(super::belief::KEY_CONFLICT, &excerpt, kind.span(), message);
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
    use super::*;

    fn shelf() -> (tempfile::TempDir, Shelf) {
        let folder = tempfile::tempdir().expect("a folder");
        let table = "name,kind,rotors,displacement,drive_ratio,note\nscrew,displacement blower,screw,1.7 L/rev,2.1,\"own, measured\"\n";
        std::fs::write(folder.path().join("parts.csv"), table).expect("a table");
        let mut shelf = Shelf::default();
        let to = folder.path().join(NAME);
        let done = shelf
            .import(&folder.path().join("parts.csv"), &to)
            .unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(done.len(), 1);
        (folder, shelf)
    }

    #[test]
    fn what_is_imported_is_read_back_and_the_same_again_is_no_new_version() {
        let (folder, mut shelf) = shelf();
        let to = folder.path().join(NAME);
        let (read, _) = Shelf::open(&to).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(read, shelf);
        let again = shelf.import(&folder.path().join("parts.csv"), &to);
        let again = again.unwrap_or_else(|p| panic!("{p}"));
        assert_eq!((again[0].version, again[0].new), (1, false));
        let other = "name,kind,rotors,displacement,drive_ratio\nscrew,displacement blower,screw,1.7 L/rev,2.2\n";
        std::fs::write(folder.path().join("next.csv"), other).expect("a table");
        let next = shelf.import(&folder.path().join("next.csv"), &to);
        let next = next.unwrap_or_else(|p| panic!("{p}"));
        assert_eq!((next[0].version, next[0].new), (2, true));
        // The first one stands as it was.
        let ratio = |version| {
            let part = shelf.part("screw", version).expect("a part");
            part.keys
                .iter()
                .find(|(key, _)| key == "drive_ratio")
                .map(|(_, v)| v.clone())
        };
        assert_eq!(ratio(Some(1)).as_deref(), Some("2.1"));
        assert_eq!(ratio(None).as_deref(), Some("2.2"));
    }

    #[test]
    fn a_wrong_row_is_told_with_its_line_and_nothing_is_written() {
        let (folder, mut shelf) = shelf();
        let before = std::fs::read(folder.path().join(NAME)).expect("a shelf");
        for (table, words) in [
            (
                "name,kind,drive_ratio\nx,pulley,\ny,no such work,2\n",
                "line 3",
            ),
            (
                "name,kind,displacement,drive_ratio\nx,displacement blower,1.7 kg,2\n",
                "line 2",
            ),
            ("name,ratio\nx,2\n", "no columns 'name' and 'kind'"),
            (
                "name,kind,map\nx,centrifugal blower,map.csv\n",
                "cannot name a file",
            ),
        ] {
            std::fs::write(folder.path().join("wrong.csv"), table).expect("a table");
            let found = shelf.import(&folder.path().join("wrong.csv"), &folder.path().join(NAME));
            let found = found.expect_err(table).to_string();
            assert!(found.contains(words), "{words} in {found}");
        }
        assert_eq!(
            std::fs::read(folder.path().join(NAME)).expect("a shelf"),
            before
        );
    }

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
