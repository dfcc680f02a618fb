//! What is wrong in a file, said so that a person can fix it and a program can act on it.
//!
//! One [`Problem`] carries a stable code, the place, the value found and what was expected; [`Problems`] collects them so that a reader reports everything at once.
//! The same list renders for a terminal, as plain text, or as records for `--json`. It refuses to be the place where decisions are made: a problem is an error or a
//! warning, and nothing here turns one into the other.

use std::fmt;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use miette::{LabeledSpan, MietteSpanContents, SourceCode, SourceSpan};
use serde::{Serialize, Serializer};

pub use super::asked::Asked;

/// The stable name of a kind of problem, shown as `pullcast::name`; scripts may rely on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Code(&'static str);

/// Declares the codes of this folder's own readers, one line each.
macro_rules! codes {
    ($($(#[$doc:meta])* $constant:ident = $name:literal;)*) => {
        impl Code { $($(#[$doc])* pub const $constant: Self = Self::new($name);)* }
    };
}

codes! {
    /// No file at that path.
    FILE_MISSING = "file_missing";
    /// The path is a folder.
    FILE_IS_FOLDER = "file_is_folder";
    /// The file has no content.
    FILE_EMPTY = "file_empty";
    /// The file is larger than any sensible one of its kind.
    FILE_TOO_LARGE = "file_too_large";
    /// The system refused to read the file.
    FILE_UNREADABLE = "file_unreadable";
    /// The bytes are not text in the expected encoding.
    FILE_NOT_TEXT = "file_not_text";
    /// Text of another format than a table: JSON, HTML.
    FILE_NOT_A_TABLE = "file_not_a_table";
    /// The file could not be written.
    FILE_NOT_WRITTEN = "file_not_written";
    /// A file is already there and overwriting was not asked for.
    FILE_EXISTS = "file_exists";
    /// The file to be written is one that this run reads.
    FILE_IS_INPUT = "file_is_input";
    /// A recording where a description is expected.
    FILE_IS_RECORDING = "file_is_recording";
    /// The text is not TOML.
    SYNTAX = "syntax";
    /// The same key twice in one table.
    KEY_DUPLICATE = "key_duplicate";
    /// A key no reader asked for.
    KEY_UNKNOWN = "key_unknown";
    /// A key that must be there is not.
    KEY_MISSING = "key_missing";
    /// A text where a number is expected, and the like.
    WRONG_TYPE = "wrong_type";
    /// Not one of the choices.
    CHOICE_UNKNOWN = "choice_unknown";
    /// Outside the range that makes sense.
    OUT_OF_RANGE = "out_of_range";
    /// A number without the unit it needs.
    UNIT_MISSING = "unit_missing";
    /// A unit not in the table.
    UNIT_UNKNOWN = "unit_unknown";
    /// A unit of another dimension.
    UNIT_WRONG = "unit_wrong";
    /// A unit with more than one reading.
    UNIT_AMBIGUOUS = "unit_ambiguous";
    /// Not a number.
    NUMBER_INVALID = "number_invalid";
    /// NaN or infinite.
    NUMBER_NOT_FINITE = "number_not_finite";
    /// A comma where the decimal point belongs.
    DECIMAL_COMMA = "decimal_comma";
    /// The part after ± (or the range) makes no sense.
    DOUBT_INVALID = "doubt_invalid";
    /// No column of the recording is known.
    COLUMNS_UNKNOWN = "columns_unknown";
    /// Two columns with the same header.
    COLUMN_DUPLICATE = "column_duplicate";
    /// Two columns that measure the same thing.
    CHANNEL_TWICE = "channel_twice";
    /// A column that is kept out of the reading.
    COLUMN_IGNORED = "column_ignored";
    /// What a column means was settled by a documented convention.
    COLUMN_CONVENTION = "column_convention";
    /// A column that can mean two things.
    COLUMN_QUESTION = "column_question";
    /// Rows that are no readings, or the same ones again.
    ROWS_LEFT_OUT = "rows_left_out";
    /// A row with more or fewer fields than the header.
    FIELD_COUNT = "field_count";
    /// A quote that never ends.
    QUOTE_OPEN = "quote_open";
    /// An empty field in a column that is read.
    VALUE_MISSING = "value_missing";
    /// Further problems of the kind above were counted, not listed.
    MORE_OF_THE_SAME = "more_of_the_same";
    /// Decimal point and decimal comma in one file, or a comma that may group thousands.
    DECIMAL_AMBIGUOUS = "decimal_ambiguous";
    /// Headers without rows.
    ROWS_NONE = "rows_none";
    /// Too few rows for a pull.
    ROWS_TOO_FEW = "rows_too_few";
    /// Time stands still or goes back inside a pull.
    TIME_NOT_INCREASING = "time_not_increasing";
    /// The label of a pull comes back after another pull.
    PULL_SPLIT = "pull_split";
}

impl Code {
    /// A code from its bare name (`unit_missing`), without the `pullcast::` prefix.
    pub const fn new(name: &'static str) -> Self {
        Self(name)
    }

    /// The bare name.
    pub fn name(self) -> &'static str {
        self.0
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "pullcast::{}", self.0)
    }
}

impl Serialize for Code {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Whether the file can be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The file cannot be used.
    Error,
    /// The file can be used; a person should look.
    Warning,
}

/// The text a problem points into: a whole small file, or the one line of a large one.
#[derive(Debug)]
pub struct Excerpt {
    file: String,
    text: String,
    first_line: usize,
    /// Column of the first character on the first line, less one; below zero where characters were written longer than they are.
    left_out: isize,
    /// Where each line begins, found when first asked.
    lines: OnceLock<Vec<usize>>,
}

impl Excerpt {
    /// The whole text of a file.
    pub fn whole(file: impl Into<String>, text: impl Into<String>) -> Self {
        Self::line(file, text, 1)
    }

    /// One line of a file too large to keep.
    pub fn line(file: impl Into<String>, text: impl Into<String>, line: usize) -> Self {
        Self {
            file: file.into(),
            text: text.into(),
            first_line: line.max(1),
            left_out: 0,
            lines: OnceLock::new(),
        }
    }

    /// A part of one line, in which `before` characters stand before the place at `line` and `column`.
    pub(super) fn window(
        file: &str,
        text: String,
        (line, column): (usize, usize),
        before: usize,
    ) -> Self {
        Self {
            left_out: column.cast_signed() - 1 - before.cast_signed(),
            ..Self::line(file, text, line)
        }
    }

    /// The file's name as given by the user.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The text itself.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Line and column, both from 1, of a byte offset; columns count characters.
    pub fn position(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..offset).unwrap_or(&self.text);
        let starts = self.lines.get_or_init(|| {
            let ends = self.text.match_indices('\n').map(|(at, _)| at + 1);
            std::iter::once(0).chain(ends).collect()
        });
        let line = starts
            .partition_point(|&start| start <= before.len())
            .max(1)
            - 1;
        let column = before[starts[line]..].chars().count() + 1;
        let column = match line {
            0 => column.saturating_add_signed(self.left_out).max(1),
            _ => column,
        };
        (self.first_line + line, column)
    }
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        context_lines_before: usize,
        context_lines_after: usize,
    ) -> Result<Box<dyn miette::SpanContents<'a> + 'a>, miette::MietteError> {
        let inner =
            self.text
                .as_str()
                .read_span(span, context_lines_before, context_lines_after)?;
        Ok(Box::new(MietteSpanContents::new_named(
            self.file.clone(),
            inner.data(),
            *inner.span(),
            inner.line() + self.first_line - 1,
            // The place printed above the excerpt: characters, as everywhere else, where miette counts bytes.
            if context_lines_before == 0 {
                self.position(span.offset()).1 - 1
            } else {
                inner.column()
            },
            inner.line_count(),
        )))
    }
}

/// One thing wrong in one file.
#[derive(Debug, Clone, Serialize)]
pub struct Problem {
    /// Stable name of the kind.
    pub code: Code,
    /// Error or warning.
    pub severity: Severity,
    /// The file as the user named it.
    pub file: String,
    /// Line from 1, when the problem has a place.
    pub line: Option<usize>,
    /// Column from 1 in characters, when the problem has a place.
    pub column: Option<usize>,
    /// What was found there.
    pub value: Option<String>,
    /// What is wrong, in a sentence.
    pub message: String,
    /// What would be taken.
    pub expected: Option<String>,
    /// What to do.
    pub help: Option<String>,
    /// Questions that a person may answer on the spot.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub asked: Vec<Asked>,
    /// Heads of the recording that leaves the questions, by which a logger file knows it.
    #[serde(skip)]
    pub(super) heads: Vec<String>,
    #[serde(skip)]
    place: Option<(Arc<Excerpt>, Range<usize>)>,
}

impl Problem {
    /// An error of a file as a whole.
    pub fn of_file(code: Code, file: impl Into<String>, message: impl Into<String>) -> Self {
        Self {
            code,
            severity: Severity::Error,
            file: file.into(),
            line: None,
            column: None,
            value: None,
            message: message.into(),
            expected: None,
            help: None,
            asked: Vec::new(),
            heads: Vec::new(),
            place: None,
        }
    }

    /// An error at a byte range of a text; the text there becomes the value found.
    pub fn at(
        code: Code,
        excerpt: &Arc<Excerpt>,
        span: Range<usize>,
        message: impl Into<String>,
    ) -> Self {
        let (line, column) = excerpt.position(span.start);
        let found = excerpt
            .text
            .get(span.clone())
            .map(str::trim)
            .unwrap_or_default();
        let value = (!found.is_empty() && !found.contains('\n')).then(|| found.to_owned());
        Self {
            line: Some(line),
            column: Some(column),
            value,
            place: Some((Arc::clone(excerpt), span)),
            ..Self::of_file(code, excerpt.file(), message)
        }
    }

    /// Says what would have been taken.
    #[must_use]
    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = Some(expected.into());
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Adds questions of a recording that is known by its heads.
    #[must_use]
    pub(super) fn asking(self, heads: Vec<String>, asked: Vec<Asked>) -> Self {
        Self {
            asked,
            heads,
            ..self
        }
    }

    /// Heads of the recording that leaves the questions, by which a logger file knows it.
    pub fn heads(&self) -> &[String] {
        &self.heads
    }

    /// Replaces the value found, where the text at the place is not the value.
    #[must_use]
    pub fn value(mut self, value: impl Into<String>) -> Self {
        self.value = Some(value.into());
        self
    }

    /// With another excerpt and place where `other` gives one.
    pub(super) fn with_excerpt(
        mut self,
        other: impl FnOnce(&Excerpt, Range<usize>) -> Option<(Excerpt, Range<usize>)>,
    ) -> Self {
        let changed = self
            .place
            .as_ref()
            .and_then(|(excerpt, span)| other(excerpt, span.clone()));
        if let Some((excerpt, span)) = changed {
            self.place = Some((Arc::new(excerpt), span));
        }
        self
    }

    /// Makes it a warning: the file stays usable.
    #[must_use]
    pub fn warning(mut self) -> Self {
        self.severity = Severity::Warning;
        self
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.place.is_none() {
            write!(f, "{}: ", self.file)?;
        }
        f.write_str(&self.message)
    }
}

impl std::error::Error for Problem {}

impl miette::Diagnostic for Problem {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(self.code))
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.severity {
            Severity::Error => miette::Severity::Error,
            Severity::Warning => miette::Severity::Warning,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        let expected = self
            .expected
            .as_ref()
            .map(|expected| format!("expected: {expected}"));
        let lines: Vec<String> = expected.into_iter().chain(self.help.clone()).collect();
        (!lines.is_empty()).then(|| Box::new(lines.join("\n")) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.place
            .as_ref()
            .map(|(excerpt, _)| excerpt.as_ref() as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let (_, span) = self.place.as_ref()?;
        Some(Box::new(std::iter::once(
            LabeledSpan::new_primary_with_span(Some("here".to_owned()), span.clone()),
        )))
    }
}

/// Everything found wrong, in the order found.
#[derive(Debug, Clone, Default, Serialize)]
#[serde(transparent)]
pub struct Problems {
    pub(super) list: Vec<Problem>,
}

impl Problems {
    /// None yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Heads of the recording whose questions these are; none where nothing is asked.
    pub fn heads(&self) -> &[String] {
        let of = self.list.iter().find(|problem| !problem.heads.is_empty());
        of.map_or(&[], |problem| &problem.heads)
    }

    /// The errors alone.
    #[must_use]
    pub(super) fn errors(mut self) -> Self {
        self.list
            .retain(|problem| problem.severity == Severity::Error);
        self
    }

    /// Adds one.
    pub fn push(&mut self, problem: Problem) {
        self.list.push(problem);
    }

    /// Adds another reader's findings.
    pub fn append(&mut self, other: Self) {
        self.list.extend(other.list);
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Problem> {
        self.list.iter()
    }

    /// How many, warnings included.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Whether nothing at all was found.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The first one found.
    pub fn first(&self) -> Option<&Problem> {
        self.list.first()
    }

    /// Whether any of them is an error.
    pub fn has_errors(&self) -> bool {
        self.list
            .iter()
            .any(|problem| problem.severity == Severity::Error)
    }

    /// The problems with a given code.
    pub fn with_code(&self, code: Code) -> impl Iterator<Item = &Problem> {
        self.list.iter().filter(move |problem| problem.code == code)
    }

    /// The value together with the warnings, or all problems when one is an error (or the value is absent).
    pub fn unless_errors<T>(self, value: Option<T>) -> Result<(T, Self), Self> {
        match value {
            Some(value) if !self.has_errors() => Ok((value, self)),
            _ => Err(self),
        }
    }
}

#[cfg(test)]
impl Problems {
    /// The one problem there is.
    pub(crate) fn only(mut self) -> Problem {
        assert_eq!(self.list.len(), 1, "{self}");
        self.list.remove(0)
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self {
            list: vec![problem],
        }
    }
}

impl std::error::Error for Problems {}

#[cfg(test)]
mod tests {
    use super::super::digest::Look;
    use super::*;

    fn example() -> Problems {
        let excerpt = Arc::new(Excerpt::whole("car.toml", "[engine]\nbore = \"92.7\"\n"));
        let mut problems = Problems::new();
        problems.push(
            Problem::at(Code::UNIT_MISSING, &excerpt, 16..22, "'92.7' has no unit")
                .expected("a length: m, mm")
                .help("write \"92.7 mm\""),
        );
        let line = Arc::new(Excerpt::line("pull.csv", "0.02;°;x", 1204));
        problems
            .push(Problem::at(Code::NUMBER_INVALID, &line, 8..9, "'x' is not a number").warning());
        problems.push(Problem::of_file(
            Code::FILE_MISSING,
            "weather.toml",
            "there is no such file",
        ));
        problems
    }

    #[test]
    fn records_for_programs_carry_place_value_and_expectation() {
        let records = serde_json::to_value(example()).expect("plain data");
        assert_eq!(
            records[0],
            serde_json::json!({
                "code": "pullcast::unit_missing", "severity": "error", "file": "car.toml", "line": 2, "column": 8,
                "value": "\"92.7\"", "message": "'92.7' has no unit", "expected": "a length: m, mm",
                "help": "write \"92.7 mm\"",
            })
        );
        // Columns count characters: the degree sign is two bytes and one column.
        assert_eq!(
            (&records[1]["line"], &records[1]["column"]),
            (&1204.into(), &8.into())
        );
        assert_eq!(records[1]["severity"], "warning");
        assert_eq!(records[2]["line"], serde_json::Value::Null);
    }

    #[test]
    fn the_plain_look_is_ascii_frame_with_place_code_and_expectation() {
        let text = example().render(Look::Plain, 100);
        for part in [
            "car.toml:2:8",
            "pullcast::unit_missing",
            "bore = \"92.7\"",
            "expected: a length: m, mm",
            "write \"92.7 mm\"",
            "pull.csv:1204:8",
            "1204 |",
            "weather.toml: there is no such file",
        ] {
            assert!(text.contains(part), "{part} in\n{text}");
        }
        assert!(!text.contains('\u{1b}'), "no colours in a pipe");
        assert!(
            example().render(Look::Terminal, 100).contains('\u{1b}'),
            "colours on a terminal"
        );
    }

    #[test]
    fn warnings_do_not_stop_a_file() {
        let mut warnings = Problems::new();
        let ignored = Problem::of_file(Code::COLUMN_IGNORED, "a.csv", "column 'x' is not read");
        warnings.push(ignored.warning());
        assert!(warnings.clone().unless_errors(Some(1)).is_ok());
        warnings.push(Problem::of_file(Code::FILE_EMPTY, "a.csv", "empty"));
        assert_eq!(
            warnings.unless_errors(Some(1)).expect_err("an error").len(),
            2
        );
    }
}
