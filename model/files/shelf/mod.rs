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
use std::fs::File;
use std::path::{Path, PathBuf};

use super::diagnostic::{Code, Problem, Problems};
use super::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use super::inputs::nearest_above;
use super::plan;
use super::table::TomlFile;
use super::write::{Overwrite, write_atomic};

mod taken;

pub use taken::{FromShelf, Taken, open_plan};

/// What is locked while parts are taken in; empty, and left where it is.
const LOCK: &str = ".shelf.lock";
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

    /// Takes the rows of a table into the shelf that lies there, or into a new one: columns `name`, `kind` and keys of kinds of work. A row that says
    /// something new of a part is its next version. Nothing is written unless every row is sound.
    ///
    /// Who comes while another import is at work waits for it, so that neither writes over what the other took in.
    pub fn import(table: &Path, to: &Path) -> Result<(Self, Vec<Imported>), Problems> {
        let _held = held(to)?;
        let mut shelf = if to.is_file() {
            Self::open(to)?.0
        } else {
            Self::default()
        };
        let done = shelf.take_in(table, to)?;
        Ok((shelf, done))
    }

    fn take_in(&mut self, table: &Path, to: &Path) -> Result<Vec<Imported>, Problems> {
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

/// The lock of a shelf's folder, held as long as this stands: a file of its own, because the shelf is replaced by every import.
fn held(shelf: &Path) -> Result<File, Problems> {
    let path = shelf.with_file_name(LOCK);
    let open = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path);
    let locked = open.and_then(|file| file.lock().map(|()| file));
    locked.map_err(|error| {
        let message = format!("the shelf cannot be locked: {error}");
        Problem::of_file(Code::FILE_NOT_WRITTEN, path.display().to_string(), message)
            .expected("a folder that this user may write to")
            .into()
    })
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

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::files::shelf) fn shelf() -> (tempfile::TempDir, Shelf) {
        let folder = tempfile::tempdir().expect("a folder");
        let table = "name,kind,rotors,displacement,drive_ratio,note\nscrew,displacement blower,screw,1.7 L/rev,2.1,\"own, measured\"\n";
        std::fs::write(folder.path().join("parts.csv"), table).expect("a table");
        let to = folder.path().join(NAME);
        let (shelf, done) =
            Shelf::import(&folder.path().join("parts.csv"), &to).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(done.len(), 1);
        (folder, shelf)
    }

    #[test]
    fn what_is_imported_is_read_back_and_the_same_again_is_no_new_version() {
        let (folder, shelf) = shelf();
        let to = folder.path().join(NAME);
        let (read, _) = Shelf::open(&to).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(read, shelf);
        let again = Shelf::import(&folder.path().join("parts.csv"), &to);
        let (_, again) = again.unwrap_or_else(|p| panic!("{p}"));
        assert_eq!((again[0].version, again[0].new), (1, false));
        let other = "name,kind,rotors,displacement,drive_ratio\nscrew,displacement blower,screw,1.7 L/rev,2.2\n";
        std::fs::write(folder.path().join("next.csv"), other).expect("a table");
        let next = Shelf::import(&folder.path().join("next.csv"), &to);
        let (shelf, next) = next.unwrap_or_else(|p| panic!("{p}"));
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
        let (folder, _) = shelf();
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
            let found = Shelf::import(&folder.path().join("wrong.csv"), &folder.path().join(NAME));
            let found = found.expect_err(table).to_string();
            assert!(found.contains(words), "{words} in {found}");
        }
        assert_eq!(
            std::fs::read(folder.path().join(NAME)).expect("a shelf"),
            before
        );
    }
}
