//! Reading a TOML file as a list of fields.
//!
//! A reader of cars, plans or runs asks a [`Table`] for its keys; the table records what is wrong instead of stopping, so
//! that one run shows every mistake, each at its place in the text. Keys nobody asked for are refused with the nearest
//! known one, because a misspelt key would otherwise be a default taken in silence.
//!
//! ```
//! use pullcast::files::TomlFile;
//! use pullcast::units::Dimension;
//!
//! struct Engine { bore_m: f64, stroke_m: f64, cylinders: u32 }
//!
//! let file = TomlFile::parse("car.toml", "[engine]\nbore = \"92.7 mm\"\nstroke = \"81 mm\"\ncylinders = 8\n")?;
//! let (engine, _warnings) = file.read(|car| {
//!     car.subtable("engine", |engine| {
//!         let bore = engine.quantity("bore", Dimension::Length);
//!         let stroke = engine.quantity("stroke", Dimension::Length);
//!         let cylinders = engine.integer("cylinders", 1..=16);
//!         Some(Engine { bore_m: bore?.value_si, stroke_m: stroke?.value_si, cylinders: cylinders?.try_into().ok()? })
//!     })
//! })?;
//! assert_eq!((engine.bore_m, engine.stroke_m, engine.cylinders), (0.0927, 0.081, 8));
//! # Ok::<(), pullcast::files::Problems>(())
//! ```
//!
//! Ask for every key first, use `?` only when building: a `?` on the way would hide the mistakes behind it.

pub mod asked;
mod fields;
mod nested;
mod synonyms;
#[cfg(test)]
mod tests;

pub(in crate::files) use fields::usual_unit;

use std::collections::HashSet;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::diagnostic::{Code, Excerpt, Problem, Problems};
use super::digest::MOST_SHOWN;
use super::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use super::shown::clipped;

/// A TOML file whose syntax is sound.
#[derive(Debug)]
pub struct TomlFile {
    excerpt: Arc<Excerpt>,
}

impl TomlFile {
    /// Reads a file from disk.
    pub fn open(path: &Path) -> Result<Self, Problems> {
        let name = path.display().to_string();
        let bytes = read_bytes(path, TOML_LIMIT_BYTES).map_err(|problems| {
            let mut told = Problems::new();
            for problem in problems.iter().cloned() {
                // No description is that large; a long recording is.
                let large = problem.code == Code::FILE_TOO_LARGE;
                told.push(if large {
                    problem.help(DESCRIBE)
                } else {
                    problem
                });
            }
            told
        })?;
        Self::parse(&name, &decode_utf8(&name, bytes)?)
    }

    /// Reads text that is already here; `name` is what problems call it.
    pub fn parse(name: &str, text: &str) -> Result<Self, Problems> {
        let excerpt = Arc::new(Excerpt::whole(name, text));
        if text.trim().is_empty() {
            return Err(
                Problem::of_file(Code::FILE_EMPTY, name, "the file is empty")
                    .expected("content")
                    .into(),
            );
        }
        if let Some(problem) = recording(&excerpt) {
            return Err(problem.into());
        }
        let (_, errors) = DeTable::parse_recoverable(text);
        if errors.is_empty() {
            return Ok(Self { excerpt });
        }
        let mut problems = Problems::new();
        for error in errors.iter().take(MOST_SYNTAX_PROBLEMS) {
            problems.push(syntax_problem(&excerpt, error));
        }
        if errors.len() > MOST_SYNTAX_PROBLEMS {
            let more = errors.len() - MOST_SYNTAX_PROBLEMS;
            let message = format!("{more} more places are not valid TOML; they are not shown");
            problems.push(
                Problem::of_file(Code::SYNTAX, name, message).expected(
                    "TOML: key = value lines under [table] headers, texts in double quotes",
                ),
            );
        }
        Err(problems)
    }

    /// Runs a reader over the file. The value comes back with the warnings, unless anything was wrong.
    pub fn read<T>(
        &self,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Result<(T, Problems), Problems> {
        // The parsed tree borrows its text, so it is built where it is used; `parse` has proven that it is sound.
        let (root, _) = DeTable::parse_recoverable(self.excerpt.text());
        let mut table = Table::new(root.get_ref(), 0..0, String::new(), &self.excerpt);
        let value = reader(&mut table);
        let mut problems = table.finish();
        if value.is_none() && !problems.has_errors() {
            // A reader that gives up owes a reason; without one the file as a whole is named.
            let message = "the file could not be used";
            problems.push(Problem::of_file(
                Code::WRONG_TYPE,
                self.excerpt.file(),
                message,
            ));
        }
        problems.unless_errors(value)
    }

    /// The text with its name, for problems found later.
    pub fn excerpt(&self) -> &Arc<Excerpt> {
        &self.excerpt
    }
}

/// Syntax errors told of one file: a text with more is not a slip here and there.
const MOST_SYNTAX_PROBLEMS: usize = 8;
/// Lines looked at to tell a recording from a description, and fewest that must look like rows.
const LOOKED_AT: usize = 20;
const LEAST_LINES: usize = 3;

/// What to do with a recording.
const DESCRIBE: &str = "a recording is named by a description: 'pullcast new visit visit.toml' writes one for recorded pulls, \
     'pullcast new drum-log log.toml' one for a raw drum log. Write the recording's name into it, then name that file here";

/// The problem of a recording, or another table of rows, where its description is expected: lines of equally many fields, most of
/// them numbers, where TOML would have keys.
fn recording(excerpt: &Arc<Excerpt>) -> Option<Problem> {
    let lines: Vec<&str> = excerpt
        .text()
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .take(LOOKED_AT)
        .collect();
    let is_number = |field: &str| field.trim().replace(',', ".").parse::<f64>().is_ok();
    let rows = |separator: char| {
        let numeric = |line: &&&str| {
            let fields: Vec<&str> = line.split(separator).collect();
            fields.len() > 1 && fields.iter().filter(|f| is_number(f)).count() * 2 > fields.len()
        };
        lines.iter().filter(numeric).count()
    };
    let found = [',', ';', '\t'].into_iter().map(rows).max()?;
    // Rows of a list in TOML are numbers too, but the file around them has keys.
    let has_keys = lines
        .iter()
        .any(|line| line.contains('=') || line.starts_with('['));
    if has_keys || found < LEAST_LINES || found * 2 < lines.len() {
        return None;
    }
    let message = "this is a recording or another table of rows, not the description that names it";
    Some(
        Problem::of_file(Code::FILE_IS_RECORDING, excerpt.file(), message)
            .expected("a TOML file")
            .help(DESCRIBE),
    )
}

fn syntax_problem(excerpt: &Arc<Excerpt>, error: &toml::de::Error) -> Problem {
    let end = excerpt.text().len();
    let span = error.span().unwrap_or(end..end);
    let (message, expected) = match error.message().split_once(", expected ") {
        Some((message, expected)) => (message, Some(expected.to_owned())),
        None => (error.message(), None),
    };
    if message.contains("duplicate key") {
        return Problem::at(
            Code::KEY_DUPLICATE,
            excerpt,
            span,
            "this key is already set in the same table",
        )
        .expected("every key once");
    }
    if message.contains("must be quoted") {
        let quoted = excerpt.text().get(span.clone()).unwrap_or_default().trim();
        return Problem::at(
            Code::SYNTAX,
            excerpt,
            span.clone(),
            "a text, and so a number with a unit, needs quotes",
        )
        .expected(format!("\"{quoted}\""));
    }
    let problem = Problem::at(
        Code::SYNTAX,
        excerpt,
        span,
        format!("not valid TOML: {message}"),
    );
    match expected {
        Some(expected) => problem.expected(expected),
        None => problem
            .expected("TOML: key = value lines under [table] headers, texts in double quotes"),
    }
}

/// One table being read: hands out values, remembers which keys were asked for, and collects problems.
#[derive(Debug)]
pub struct Table<'a> {
    entries: &'a DeTable<'a>,
    /// Where the table is announced, for keys that are missing.
    header: Range<usize>,
    /// Dotted name, empty for the root.
    path: String,
    excerpt: &'a Arc<Excerpt>,
    /// Keys asked for, in order, and the same to look them up.
    known: Vec<String>,
    is_known: HashSet<String>,
    /// What was asked for, where that is the question.
    asked: Option<asked::Sample>,
    problems: Problems,
}

impl<'a> Table<'a> {
    fn new(
        entries: &'a DeTable<'a>,
        header: Range<usize>,
        path: String,
        excerpt: &'a Arc<Excerpt>,
    ) -> Self {
        Self {
            entries,
            header,
            path,
            excerpt,
            known: Vec::new(),
            is_known: HashSet::new(),
            asked: None,
            problems: Problems::new(),
        }
    }

    /// The dotted name of this table, empty for the root.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// The file this table stands in.
    pub fn excerpt(&self) -> &Arc<Excerpt> {
        self.excerpt
    }

    /// Whether the key is written. The key counts as known from then on.
    pub fn has(&mut self, key: &str) -> bool {
        self.look(key).is_some()
    }

    /// Whether any of these keys is there; all of them count as known.
    pub fn has_any(&mut self, keys: &[&str]) -> bool {
        keys.iter().filter(|key| self.has(key)).count() > 0
    }

    /// Asks for no key and refuses none: the table belongs to a reader other than this one.
    pub fn disregard(&mut self) {
        let keys = self.entries.keys().map(|key| key.get_ref().to_string());
        self.is_known.extend(keys);
    }

    /// Records an error of the reader's own at a key's value, or at the table if the key is absent.
    pub fn error(
        &mut self,
        key: &str,
        code: Code,
        message: impl Into<String>,
        expected: impl Into<String>,
    ) {
        let problem = self.problem(key, code, message).expected(expected);
        self.problems.push(problem);
    }

    /// Records a warning of the reader's own at a key's value, or at the table if the key is absent.
    pub fn warning(
        &mut self,
        key: &str,
        code: Code,
        message: impl Into<String>,
        expected: impl Into<String>,
    ) {
        let problem = self
            .problem(key, code, message)
            .expected(expected)
            .warning();
        self.problems.push(problem);
    }

    /// A problem at a key's value, to be completed and pushed by the reader.
    pub fn problem(&self, key: &str, code: Code, message: impl Into<String>) -> Problem {
        match self.entries.get(key) {
            Some(value) => Problem::at(code, self.excerpt, value.span(), message),
            None => Problem::at(code, self.excerpt, self.header.clone(), message),
        }
    }

    /// Records a problem made by [`Table::problem`].
    pub fn push(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    /// The name of a key as messages give it, with the table it belongs to.
    fn full_name(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    fn look(&mut self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        if !self.is_known.contains(key) {
            self.is_known.insert(key.to_owned());
            self.known.push(key.to_owned());
        }
        self.note(key, || asked::What::Presence);
        self.entries.get(key)
    }

    /// As [`Table::look`], with a problem when the key is absent.
    fn require(&mut self, key: &str, what: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        let found = self.look(key);
        self.note_required(key);
        if found.is_none() {
            let place = if self.path.is_empty() {
                "the file".to_owned()
            } else {
                format!("[{}]", self.path)
            };
            let problem = Problem::at(
                Code::KEY_MISSING,
                self.excerpt,
                self.header.clone(),
                format!("{place} has no '{key}'"),
            )
            .expected(format!("{key} = {what}"));
            self.problems.push(problem);
        }
        found
    }

    fn wrong_type(&mut self, key: &str, value: &Spanned<DeValue<'_>>, expected: String) {
        let message = format!(
            "'{}' is {}",
            self.full_name(key),
            type_words(value.get_ref())
        );
        let problem =
            Problem::at(Code::WRONG_TYPE, self.excerpt, value.span(), message).expected(expected);
        self.problems.push(problem);
    }

    /// Reports the keys nobody asked for and gives the problems up.
    fn finish(mut self) -> Problems {
        let unknown = self.entries.keys();
        let unknown = unknown.filter(|key| !self.is_known.contains(key.get_ref().as_ref()));
        for (place, key) in unknown.enumerate() {
            let name = key.get_ref().as_ref();
            let message = format!("'{}' is not a known key", clipped(&self.full_name(name)));
            let mut problem =
                Problem::at(Code::KEY_UNKNOWN, self.excerpt, key.span(), message).value(name);
            // No more than these are told in full.
            if place < MOST_SHOWN {
                problem = problem.expected(format!("one of: {}", self.known.join(", ")));
                if let Some(answer) = synonyms::answer(name) {
                    problem = problem.help(answer);
                } else if let Some(nearest) = nearest(name, self.known.iter().map(String::as_str)) {
                    problem = problem.help(format!("did you mean '{nearest}'?"));
                }
            }
            self.problems.push(problem);
        }
        self.problems
    }
}

/// What became of a key that may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found<T> {
    /// It is not there.
    Absent,
    /// It is there and cannot be taken; the table holds the problem.
    Wrong,
    /// It is there.
    Given(T),
}

impl<T> Found<T> {
    /// The value, or this one where none is written; none where it is wrong.
    pub fn or(self, absent: T) -> Option<T> {
        self.or_else(|| Some(absent))
    }

    /// The value, or what this gives where none is written.
    pub fn or_else(self, absent: impl FnOnce() -> Option<T>) -> Option<T> {
        match self {
            Self::Absent => absent(),
            Self::Wrong => None,
            Self::Given(value) => Some(value),
        }
    }

    /// The value if there is one; none where it is wrong.
    pub fn optional(self) -> Option<Option<T>> {
        match self {
            Self::Absent => Some(None),
            Self::Wrong => None,
            Self::Given(value) => Some(Some(value)),
        }
    }

    /// Another value in its place.
    pub fn map<U>(self, to: impl FnOnce(T) -> U) -> Found<U> {
        match self {
            Self::Absent => Found::Absent,
            Self::Wrong => Found::Wrong,
            Self::Given(value) => Found::Given(to(value)),
        }
    }
}

impl Table<'_> {
    /// What became of a key, read by a reader that takes absence as `None`.
    pub fn found<T>(&mut self, key: &str, reader: impl FnOnce(&mut Self) -> Option<T>) -> Found<T> {
        match (self.has(key), reader(self)) {
            (false, _) => Found::Absent,
            (true, None) => Found::Wrong,
            (true, Some(value)) => Found::Given(value),
        }
    }

    /// What became of a table that may be left out.
    pub fn part<T>(
        &mut self,
        key: &str,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Found<T> {
        self.found(key, |table| table.optional_subtable(key, reader))
    }
}

/// A value's kind in words.
fn type_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// The candidate closest to a word, when a slip explains the difference: at most a third of its letters.
pub fn nearest<'c>(word: &str, candidates: impl Iterator<Item = &'c str>) -> Option<&'c str> {
    let folded = word.to_lowercase();
    let length = word.chars().count();
    let tolerance = (length / 3).max(1);
    candidates
        // A word that much longer or shorter is further away than that.
        .filter(|candidate| candidate.chars().count().abs_diff(length) <= tolerance)
        .map(|candidate| {
            (
                strsim::damerau_levenshtein(&folded, &candidate.to_lowercase()),
                candidate,
            )
        })
        .filter(|(distance, _)| *distance <= tolerance)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}
