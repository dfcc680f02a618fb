//! Answers that are given once: the logger file, and a shop's own names.
//!
//! What a person says of one export holds for the next of the same make-up: the same heads, with the same units below them. So the answers stand in a file
//! `*.logger.toml` beside the recordings or in a folder above, and are found there by the make-up; nobody has to name it. A file `names.toml` beside it adds words
//! to the program's table. Neither is ever needed, and a logger file of another make-up changes nothing.
//!
//! ```text
//! kind = "logger"
//! version = 1
//! heads = ["Time", "RPM", "Power"]
//! columns = ["Power = wheel_power_hp"]
//! ```

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use super::header::same_head;
use super::lexicon::Lexicon;
use super::{DecimalMark, RunFile, RunOptions};
use crate::files::diagnostic::{Code, Problem, Problems};
use crate::files::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use crate::files::table::TomlFile;

/// How far up files are looked for: the recording's folder and as many above.
const FOLDERS: usize = 4;
/// What the name of a logger file ends with.
const ENDING: &str = ".logger.toml";
/// A shop's own names.
const NAMES: &str = "names.toml";

/// Answers for files of one make-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Logger {
    /// Heads of the columns with the units below them.
    pub heads: Vec<String>,
    /// (header, name it should have had).
    pub columns: Vec<(String, String)>,
    /// The decimal sign, where the numbers do not show it.
    pub decimal: Option<DecimalMark>,
}

/// Where the answers for a recording are written unless a name is given: beside it, under its own name.
pub fn file_name(recording: &Path) -> PathBuf {
    let stem = recording
        .file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    recording.with_file_name(format!("{stem}{ENDING}"))
}

impl Logger {
    /// Whether a file has this make-up, whatever the order of its columns.
    pub fn fits(&self, heads: &[String]) -> bool {
        let has = |all: &[String], head: &String| all.iter().any(|other| same_head(other, head));
        self.heads.len() == heads.len()
            && self.heads.iter().all(|head| has(heads, head))
            && heads.iter().all(|head| has(&self.heads, head))
    }

    /// Answers given before, each kept unless the column is answered anew.
    #[must_use]
    pub fn and_before(mut self, before: Self) -> Self {
        let anew = |head: &String| self.columns.iter().any(|(other, _)| same_head(other, head));
        let mut columns: Vec<_> = before
            .columns
            .into_iter()
            .filter(|(head, _)| !anew(head))
            .collect();
        columns.append(&mut self.columns);
        Self {
            columns,
            decimal: self.decimal.or(before.decimal),
            ..self
        }
    }

    /// The first answer for a column that no file of this make-up has.
    pub fn stray(&self) -> Option<&str> {
        let known = |head: &str| self.heads.iter().any(|other| same_head(other, head));
        let mut heads = self.columns.iter().map(|(head, _)| head.as_str());
        heads.find(|head| !known(head))
    }

    /// The text of its file.
    pub fn text(&self) -> String {
        let list = |texts: Vec<String>| {
            let mut out = "[\n".to_owned();
            for text in texts {
                let _ = writeln!(out, "    {},", toml::Value::String(text));
            }
            out.push(']');
            out
        };
        let columns = self
            .columns
            .iter()
            .map(|(head, name)| format!("{head} = {name}"))
            .collect();
        let mut out = "# Answers for recordings with these heads, in this folder and those below it.\nkind = \"logger\"\nversion = 1\n".to_owned();
        let _ = writeln!(out, "heads = {}", list(self.heads.clone()));
        let _ = writeln!(out, "columns = {}", list(columns));
        if let Some(mark) = self.decimal {
            let word = match mark {
                DecimalMark::Point => "point",
                DecimalMark::Comma => "comma",
            };
            let _ = writeln!(out, "decimal = \"{word}\"");
        }
        out
    }

    /// Reads a logger file.
    pub fn open(path: &Path) -> Result<Self, Problems> {
        let file = TomlFile::open(path)?;
        let (logger, _) = file.read(|root| {
            crate::files::car::head(root, "logger")?;
            let heads = root.optional_texts("heads");
            let answers = root.optional_texts("columns").unwrap_or_default();
            let marks = [("point", DecimalMark::Point), ("comma", DecimalMark::Comma)];
            let decimal = root.optional_choice("decimal", &marks);
            let mut columns = Vec::new();
            for answer in answers {
                if let Some(column) = parted(&answer) {
                    columns.push(column);
                } else {
                    let message = format!("'{answer}' does not name a column and what it is");
                    let expected = "texts such as \"header as written = wheel_power_hp\"";
                    root.error("columns", Code::WRONG_TYPE, message, expected);
                }
            }
            Some(Self {
                heads: heads.unwrap_or_default(),
                columns,
                decimal,
            })
        })?;
        Ok(logger)
    }
}

/// `header = name`, parted at the last sign of equality.
pub(in crate::files) fn parted(answer: &str) -> Option<(String, String)> {
    let (head, name) = answer.rsplit_once('=')?;
    let (head, name) = (head.trim(), name.trim());
    (!head.is_empty()).then(|| (head.to_owned(), name.to_owned()))
}

/// The folders in which files for a recording are looked for, the nearest first.
fn folders(recording: &Path) -> Vec<PathBuf> {
    let full = std::path::absolute(recording).unwrap_or_else(|_| recording.to_owned());
    full.ancestors()
        .skip(1)
        .take(FOLDERS)
        .map(Path::to_owned)
        .collect()
}

/// Logger files that may hold answers for a recording, the nearest folder first, in order of their names.
fn loggers(recording: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for folder in folders(recording) {
        let Ok(entries) = std::fs::read_dir(&folder) else {
            continue;
        };
        let mut here: Vec<PathBuf> = entries
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.to_string_lossy().ends_with(ENDING))
            .collect();
        here.sort();
        found.extend(here);
    }
    found
}

/// What may have answered for a recording: logger files and names near it, by paths that begin as its own does.
pub fn beside(recording: &Path) -> Vec<PathBuf> {
    let mut folder = recording.parent().unwrap_or(Path::new("")).to_owned();
    let mut found = Vec::new();
    for _ in 0..FOLDERS {
        let here = if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            &folder
        };
        let entries = std::fs::read_dir(here).into_iter().flatten();
        let counts = |name: &str| name == NAMES || name.ends_with(ENDING);
        let mut names: Vec<String> = entries
            .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
            .filter(|name| counts(name))
            .collect();
        names.sort();
        let paths = names.into_iter().map(|name| folder.join(name));
        found.extend(paths.filter(|path| path.is_file()));
        folder.push("..");
    }
    found
}

/// The program's names, with those of every `names.toml` near the recording.
pub(super) fn lexicon_for(recording: &Path) -> Result<Lexicon, Problems> {
    let mut lexicon = Lexicon::default();
    for folder in folders(recording).into_iter().rev() {
        let path = folder.join(NAMES);
        if !path.is_file() {
            continue;
        }
        let name = path.display().to_string();
        let text = decode_utf8(&name, read_bytes(&path, TOML_LIMIT_BYTES)?)?;
        // Another program may call a file so; ours says what it is.
        if !text
            .lines()
            .any(|line| line.replace(' ', "").starts_with("kind=\"names\""))
        {
            continue;
        }
        lexicon.add(&text).map_err(|message| {
            Problem::of_file(Code::SYNTAX, name, message.trim().to_owned())
                .expected("tables [words], [shorthand], [names] and [channels], as docs/files.md describes them")
        })?;
    }
    Ok(lexicon)
}

/// The answers that are remembered near a recording for files of a make-up.
pub fn remembered(recording: &Path, heads: &[String]) -> Result<Option<Logger>, Problems> {
    for path in loggers(recording) {
        let logger = Logger::open(&path)?;
        if !heads.is_empty() && logger.fits(heads) {
            return Ok(Some(logger));
        }
    }
    Ok(None)
}

/// Reads with a logger file's answers where one has the make-up of the recording; what the caller answers comes first.
pub(super) fn with_answers(
    recording: &Path,
    options: &RunOptions,
    read: impl Fn(&RunOptions) -> Result<RunFile, Problems>,
) -> Result<RunFile, Problems> {
    let first = read(options);
    let heads = match &first {
        Ok(run) => run.heads.clone(),
        Err(problems) => problems.heads().to_vec(),
    };
    let Some(logger) = remembered(recording, &heads)? else {
        return first;
    };
    let mut answered = options.clone();
    answered.columns.extend(logger.columns);
    answered.decimal = answered.decimal.or(logger.decimal);
    read(&answered)
}
