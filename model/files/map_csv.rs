//! The plain table in which maps of blowers and turbines come: comment lines that state what the map refers to, a header with
//! units, rows of numbers.
//!
//! It exists so that both kinds of map are written alike, and so that a number found impossible later is still shown in its
//! row. It refuses columns it does not know, rows longer or shorter than the header (a decimal comma makes such), and a
//! statement made twice; comments that state nothing are left alone.

use std::ops::{Range, RangeInclusive};
use std::path::Path;
use std::sync::Arc;

use super::belief::KEY_CONFLICT;
use super::diagnostic::{Code, Excerpt, Problem, Problems};
use super::encoding::{TOML_LIMIT_BYTES, decode_recording, read_bytes};
use super::quantity::parse;
use crate::units::{Dimension, Unit, find, show};

/// A column of a kind of map.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) dimension: Dimension,
    pub(super) required: bool,
}

/// What a kind of map looks like.
#[derive(Debug)]
pub(super) struct Layout<const N: usize> {
    pub(super) columns: [Column; N],
    /// A header as it should be.
    pub(super) header: &'static str,
    /// A row in words.
    pub(super) row: &'static str,
    /// Rows in words.
    pub(super) rows: &'static str,
}

/// A row, SI; a column left out of the table is `None`.
#[derive(Debug, Clone)]
pub(super) struct Row<const N: usize> {
    pub(super) values: [Option<f64>; N],
    units: [Option<&'static Unit>; N],
    cells: [Range<usize>; N],
    excerpt: Arc<Excerpt>,
}

impl<const N: usize> Row<N> {
    /// A problem of the whole row.
    pub(super) fn problem(&self, code: Code, message: impl Into<String>) -> Problem {
        Problem::at(code, &self.excerpt, 0..self.excerpt.text().len(), message)
    }

    /// The value of a column if it lies within limits (SI); else a problem at its cell.
    pub(super) fn within(
        &self,
        layout: &Layout<N>,
        column: usize,
        limits: &RangeInclusive<f64>,
        problems: &mut Problems,
    ) -> Option<f64> {
        let (value, unit) = (self.values[column]?, self.units[column]?);
        if limits.contains(&value) {
            return Some(value);
        }
        let name = layout.columns[column].name;
        let message = format!("{name} {} makes no sense", show(value, unit));
        let span = self.cells[column].clone();
        let expected = format!(
            "{} to {}",
            show(*limits.start(), unit),
            show(*limits.end(), unit)
        );
        problems
            .push(Problem::at(Code::OUT_OF_RANGE, &self.excerpt, span, message).expected(expected));
        None
    }
}

/// A comment line of the form `# key: value`.
#[derive(Debug, Clone)]
struct Comment {
    key: String,
    value: String,
    excerpt: Arc<Excerpt>,
}

impl Comment {
    fn problem(&self, code: Code, message: impl Into<String>) -> Problem {
        Problem::at(code, &self.excerpt, 0..self.excerpt.text().len(), message)
    }
}

/// A table as read.
#[derive(Debug, Clone)]
pub(super) struct Sheet<const N: usize> {
    pub(super) rows: Vec<Row<N>>,
    name: String,
    comments: Vec<Comment>,
}

impl<const N: usize> Sheet<N> {
    fn comment(&self, key: &str, problems: &mut Problems) -> Option<&Comment> {
        let mut found = self.comments.iter().filter(|comment| comment.key == key);
        let first = found.next()?;
        for again in found {
            let message = format!("the {key} is given twice");
            problems.push(
                again
                    .problem(KEY_CONFLICT, message)
                    .expected("one statement"),
            );
        }
        Some(first)
    }

    /// A quantity that must be stated in a comment line, within limits (SI).
    pub(super) fn stated(
        &self,
        key: &str,
        example: &str,
        dimension: Dimension,
        limits: &RangeInclusive<f64>,
        problems: &mut Problems,
    ) -> Option<f64> {
        let Some(comment) = self.comment(key, problems) else {
            let message = format!("the map does not give its {key}");
            let problem = Problem::of_file(Code::KEY_MISSING, &self.name, message);
            problems.push(problem.expected(format!("a line '# {key}: {example}'")));
            return None;
        };
        match parse(&comment.value, dimension) {
            Ok(quantity) if limits.contains(&quantity.value_si) => Some(quantity.value_si),
            Ok(quantity) => {
                let message = format!(
                    "the {key} is {}, which makes no sense",
                    show(quantity.value_si, quantity.unit)
                );
                let expected = format!(
                    "{} to {}",
                    show(*limits.start(), quantity.unit),
                    show(*limits.end(), quantity.unit)
                );
                problems.push(
                    comment
                        .problem(Code::OUT_OF_RANGE, message)
                        .expected(expected),
                );
                None
            }
            Err(fault) => {
                problems.push(
                    comment
                        .problem(fault.code, fault.message)
                        .expected(fault.expected),
                );
                None
            }
        }
    }

    /// A word that may be stated in a comment line; the first of its choices where it is not.
    pub(super) fn word<T: Copy>(
        &self,
        key: &str,
        choices: &[(&str, T)],
        problems: &mut Problems,
    ) -> Option<T> {
        let Some(comment) = self.comment(key, problems) else {
            return choices.first().map(|(_, choice)| *choice);
        };
        let written = comment.value.to_lowercase();
        let found = choices.iter().find(|(word, _)| *word == written);
        if found.is_none() {
            let words: Vec<String> = choices
                .iter()
                .map(|(word, _)| format!("'{word}'"))
                .collect();
            let message = format!("'{}' is not a known {key}", comment.value);
            problems.push(
                comment
                    .problem(Code::CHOICE_UNKNOWN, message)
                    .expected(words.join(" or ")),
            );
        }
        found.map(|(_, choice)| *choice)
    }
}

/// Reads a table from a file.
pub(super) fn open<const N: usize>(
    path: &Path,
    layout: &Layout<N>,
    problems: &mut Problems,
) -> Option<Sheet<N>> {
    let name = path.display().to_string();
    let mut from_disk = || -> Result<Option<Sheet<N>>, Problems> {
        let bytes = read_bytes(path, TOML_LIMIT_BYTES)?;
        let (text, _) = decode_recording(&name, &bytes)?;
        Ok(read(&name, &text, layout, problems))
    };
    match from_disk() {
        Ok(sheet) => sheet,
        Err(found) => {
            problems.append(found);
            None
        }
    }
}

/// Reads a table; nothing where its header is not one.
pub(super) fn read<const N: usize>(
    name: &str,
    text: &str,
    layout: &Layout<N>,
    problems: &mut Problems,
) -> Option<Sheet<N>> {
    let mut sheet = Sheet {
        rows: Vec::new(),
        name: name.to_owned(),
        comments: Vec::new(),
    };
    let mut header: Option<Header<N>> = None;
    for (index, line) in text.lines().enumerate() {
        let trimmed = line.trim();
        if trimmed.is_empty() {
            continue;
        }
        let excerpt = Arc::new(Excerpt::line(name, line, index + 1));
        if let Some(comment) = trimmed.strip_prefix('#') {
            if let Some((key, value)) = comment.split_once(':') {
                sheet.comments.push(Comment {
                    key: key.trim().to_lowercase(),
                    value: value.trim().to_owned(),
                    excerpt,
                });
            }
            continue;
        }
        let cells = cells(line);
        match &header {
            None => match Header::of(line, &cells, layout) {
                Ok(found) => header = Some(found),
                Err(message) => {
                    let span = 0..line.len();
                    problems.push(
                        Problem::at(Code::COLUMNS_UNKNOWN, &excerpt, span, message)
                            .expected(layout.header),
                    );
                    return None;
                }
            },
            Some(header) => match header.row(line, &cells, &excerpt, layout) {
                Ok(row) => sheet.rows.push(row),
                Err(problem) => problems.push(*problem),
            },
        }
    }
    if sheet.rows.is_empty() && !problems.has_errors() {
        let problem = Problem::of_file(Code::ROWS_NONE, name, "the map has no points");
        problems.push(problem.expected(layout.rows));
    }
    Some(sheet)
}

/// Places of the cells of a line, without the blanks around them.
fn cells(line: &str) -> Vec<Range<usize>> {
    let separator = if line.contains(';') { ';' } else { ',' };
    let mut start = 0;
    line.split(separator)
        .map(|cell| {
            let from = start + (cell.len() - cell.trim_start().len());
            start += cell.len() + separator.len_utf8();
            from..from + cell.trim().len()
        })
        .collect()
}

/// Where the columns stand, and in which units.
#[derive(Debug)]
struct Header<const N: usize> {
    count: usize,
    found: [Option<(usize, &'static Unit)>; N],
}

impl<const N: usize> Header<N> {
    fn of(line: &str, cells: &[Range<usize>], layout: &Layout<N>) -> Result<Self, String> {
        let mut found = [None; N];
        for (index, cell) in cells.iter().enumerate() {
            let cell = &line[cell.clone()];
            let (name, unit) = match cell.split_once(['(', '[']) {
                Some((name, unit)) => (name.trim(), unit.trim_end_matches([')', ']']).trim()),
                None => (cell, ""),
            };
            let name = name.to_lowercase().replace('_', " ");
            let name = if name == "flow" {
                "corrected flow"
            } else {
                &name
            };
            let Some(slot) = layout.columns.iter().position(|column| column.name == name) else {
                return Err(format!("such a map has no column '{cell}'"));
            };
            let dimension = layout.columns[slot].dimension;
            let unit = if unit.is_empty() && dimension == Dimension::Ratio {
                dimension.si_unit()
            } else {
                find(unit, dimension).map_err(|error| format!("'{cell}': {error}"))?
            };
            if found[slot].replace((index, unit)).is_some() {
                return Err(format!("'{cell}' appears twice"));
            }
        }
        for (column, found) in layout.columns.iter().zip(&found) {
            if column.required && found.is_none() {
                return Err(format!("the column '{}' is missing", column.name));
            }
        }
        Ok(Self {
            count: cells.len(),
            found,
        })
    }

    fn row(
        &self,
        line: &str,
        cells: &[Range<usize>],
        excerpt: &Arc<Excerpt>,
        layout: &Layout<N>,
    ) -> Result<Row<N>, Box<Problem>> {
        let at = |code, span: Range<usize>, message: String| {
            Box::new(Problem::at(code, excerpt, span, message).expected(layout.row))
        };
        if cells.len() != self.count {
            let message = format!(
                "{} cells, but the header has {}; numbers take a decimal point",
                cells.len(),
                self.count
            );
            return Err(at(Code::FIELD_COUNT, 0..line.len(), message));
        }
        let mut row = Row {
            values: [None; N],
            units: [None; N],
            cells: std::array::from_fn(|_| 0..0),
            excerpt: Arc::clone(excerpt),
        };
        for (slot, found) in self.found.iter().enumerate() {
            let Some((index, unit)) = found else { continue };
            let span = cells[*index].clone();
            let cell = &line[span.clone()];
            let number: f64 = cell.parse().map_err(|_| {
                let message = format!("'{cell}' is not a number");
                at(Code::NUMBER_INVALID, span.clone(), message)
            })?;
            if !number.is_finite() {
                let message = format!("'{cell}' is not a finite number");
                return Err(at(Code::NUMBER_INVALID, span, message));
            }
            row.values[slot] = Some(unit.to_si(number));
            row.units[slot] = Some(*unit);
            row.cells[slot] = span;
        }
        Ok(row)
    }
}
