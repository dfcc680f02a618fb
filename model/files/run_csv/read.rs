//! From bytes to a [`RunFile`]: header, rows, pulls, with all problems collected.

use std::borrow::Cow;
use std::collections::HashSet;
use std::sync::Arc;

use csv::ByteRecord;

use super::channel::Channel;
use super::dialect::{DecimalMark, MarksSeen, separator};
use super::header::{Meaning, understand};
use super::pulls::{Disorder, divide};
use super::rows::{Place, Rows};
use super::unit_row::{holds_units, texts, without_brackets};
use super::{Column, Lines, RunFile, RunOptions};
use crate::files::diagnostic::{Code, Excerpt, Problem, Problems};
use crate::files::encoding::decode_recording;
use crate::files::shown::clipped;
use crate::files::told::{MOST_TOLD, few};
use crate::units::show_number;

/// Problems listed one by one before the rest is only counted: as many as are told, the count among them.
const LISTED: usize = MOST_TOLD - 1;

pub(super) fn read(name: &str, bytes: &[u8], options: &RunOptions) -> Result<RunFile, Problems> {
    let (text, encoding) = decode_recording(name, bytes)?;
    // Line ends of a carriage return alone, as very old systems wrote them.
    let text = if text.contains('\r') && !text.contains('\n') {
        Cow::Owned(text.replace('\r', "\n"))
    } else {
        text
    };
    let header_line = text
        .lines()
        .find(|line| !line.trim().is_empty() && !line.trim_start().starts_with('#'));
    let Some(header_line) = header_line else {
        return Err(
            Problem::of_file(Code::FILE_EMPTY, name, "the file has no table")
                .expected("a header row and rows of numbers")
                .into(),
        );
    };
    let separator = separator(header_line);
    let mut reading = Reading {
        name,
        options,
        separator,
        rows: Rows::new(&text, separator),
        problems: Problems::new(),
        unlisted: 0,
        listed: 0,
        marks: MarksSeen::default(),
        header: Vec::new(),
        unit_row: None,
        roles: Vec::new(),
        columns: Vec::new(),
        ignored: Vec::new(),
        blocks: Vec::new(),
        lines: Lines::default(),
        row_count: 0,
        scratch: String::new(),
    };
    let mut record = ByteRecord::new();
    let header_place = reading.rows.next(&mut record);
    let first_row = reading.read_header(header_place, &record)?;
    reading.read_rows(first_row);
    reading.finish(encoding)
}

/// What is done with a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    /// Goes to this column.
    Column(usize),
    /// Is the label of the pull.
    Label,
    /// Is skipped.
    Skip,
    /// Is skipped, and the person told: nobody knows the name.
    Unknown,
}

struct Reading<'t> {
    name: &'t str,
    options: &'t RunOptions,
    separator: u8,
    rows: Rows<'t>,
    problems: Problems,
    listed: usize,
    unlisted: usize,
    marks: MarksSeen,
    header: Vec<String>,
    unit_row: Option<Vec<String>>,
    roles: Vec<Role>,
    columns: Vec<Column>,
    ignored: Vec<String>,
    /// First rows of stretches known to be apart, with their labels.
    blocks: Vec<(usize, Option<String>)>,
    lines: Lines,
    row_count: usize,
    scratch: String,
}

type FirstRow = Option<(Place, ByteRecord)>;

impl Reading<'_> {
    fn excerpt(&self, place: &Place) -> Arc<Excerpt> {
        Arc::new(Excerpt::line(self.name, self.rows.raw(place), place.line))
    }

    fn at_field(&self, code: Code, place: &Place, field: usize, message: String) -> Problem {
        Problem::at(
            code,
            &self.excerpt(place),
            self.rows.field(place, field),
            message,
        )
    }

    fn at_row(&self, code: Code, place: &Place, message: String) -> Problem {
        let length = self
            .rows
            .raw(place)
            .lines()
            .next()
            .unwrap_or_default()
            .len();
        Problem::at(code, &self.excerpt(place), 0..length, message)
    }

    /// Understands the header, and the row below it when that holds units; gives back the first row of data.
    fn read_header(
        &mut self,
        place: Option<Place>,
        record: &ByteRecord,
    ) -> Result<FirstRow, Problems> {
        let Some(place) = place else {
            return Err(
                Problem::of_file(Code::FILE_EMPTY, self.name, "the file has no table").into(),
            );
        };
        self.header = texts(record);
        let mut next = ByteRecord::new();
        let mut first_row = self.rows.next(&mut next).map(|place| (place, next));
        if let Some((_, row)) = &first_row
            && holds_units(row)
        {
            self.unit_row = Some(texts(row));
            let mut next = ByteRecord::new();
            first_row = self.rows.next(&mut next).map(|place| (place, next));
        }
        let mut seen: HashSet<String> = HashSet::new();
        let mut unknown = Vec::new();
        for index in 0..self.header.len() {
            let cell = self.header[index].clone();
            if !cell.is_empty() && !seen.insert(cell.to_lowercase()) {
                self.list(|reading| {
                    let message = format!("two columns are headed '{}'", clipped(&cell));
                    let problem = reading.at_field(Code::COLUMN_DUPLICATE, &place, index, message);
                    problem.expected("each header once")
                });
                self.roles.push(Role::Skip);
                continue;
            }
            let role = self.understand_cell(&place, index, &cell);
            if role == Role::Unknown {
                unknown.push(index);
                self.ignored.push(cell);
            }
            self.roles.push(role);
        }
        self.leave_out(&place, &unknown);
        if self.columns.is_empty() && !self.problems.has_errors() {
            let message = "no column has a known name".to_owned();
            let names = [
                Channel::Time,
                Channel::EngineSpeed,
                Channel::DrumSpeed,
                Channel::WheelPower,
                Channel::WheelTorque,
            ];
            let expected: Vec<&str> = names.into_iter().map(Channel::name).collect();
            let problem = self
                .at_row(Code::COLUMNS_UNKNOWN, &place, message)
                .expected(format!(
                    "headers such as '{}' with a unit in brackets",
                    expected.join("', '")
                ));
            self.problems.push(problem);
        }
        // Rows cannot be judged by a header that is not understood.
        if self.problems.has_errors() {
            self.count_unlisted("columns");
            Err(std::mem::take(&mut self.problems))
        } else {
            Ok(first_row)
        }
    }

    /// Says once which columns are not read.
    fn leave_out(&mut self, place: &Place, unknown: &[usize]) {
        let Some(&first) = unknown.first() else {
            return;
        };
        let message = match self.ignored.as_slice() {
            [cell] => format!(
                "column '{}' is not read: its name is not known",
                clipped(cell)
            ),
            cells => format!(
                "{} columns are not read, their names are not known: {}",
                cells.len(),
                few(cells)
            ),
        };
        let problem = self.at_field(Code::COLUMN_IGNORED, place, first, message);
        self.problems.push(problem.warning());
    }

    fn understand_cell(&mut self, place: &Place, index: usize, cell: &str) -> Role {
        let unit_cell = self
            .unit_row
            .as_ref()
            .and_then(|row| row.get(index))
            .map(|cell| without_brackets(cell));
        match understand(cell, unit_cell, self.options) {
            Ok(Meaning::Label) => Role::Label,
            Ok(Meaning::Numbers(channel, unit)) => {
                if let Some(earlier) = self.columns.iter().find(|column| column.channel == channel)
                {
                    let (name, earlier) = (channel.name(), earlier.header.clone());
                    self.list(|reading| {
                        let (earlier, cell) = (clipped(&earlier), clipped(cell));
                        let message = format!("columns '{earlier}' and '{cell}' are both {name}");
                        let problem = reading.at_field(Code::CHANNEL_TWICE, place, index, message);
                        problem.expected(format!("one column for {name}"))
                    });
                    return Role::Skip;
                }
                if channel == Channel::WheelTorque && !cell.to_lowercase().contains("engine") {
                    let message =
                        format!("'{}' is taken as wheel power / engine speed", clipped(cell));
                    let problem = self
                        .at_field(Code::COLUMN_CONVENTION, place, index, message)
                        .expected("torque referred to engine speed; torque at the wheels themselves is headed 'hub torque'");
                    self.problems.push(problem.warning());
                }
                self.columns.push(Column {
                    channel,
                    header: cell.to_owned(),
                    unit,
                    values_si: Vec::new(),
                });
                Role::Column(self.columns.len() - 1)
            }
            Ok(Meaning::Unknown) if cell.is_empty() => Role::Skip,
            Ok(Meaning::Unknown) => Role::Unknown,
            Err(question) => {
                self.list(|reading| {
                    let problem = reading.at_field(question.code, place, index, question.message);
                    let problem = problem.value(cell).expected(question.expected);
                    problem.help(question.help)
                });
                Role::Skip
            }
        }
    }

    fn read_rows(&mut self, first_row: FirstRow) {
        let Some((place, mut record)) = first_row else {
            return;
        };
        let mut place = Some(place);
        let mut new_block = true;
        while let Some(at) = place.take() {
            if self.repeats_header(&record) {
                new_block = true;
            } else if !self.read_row(&at, &record, &mut new_block) {
                return;
            }
            place = self.rows.next(&mut record);
        }
    }

    fn repeats_header(&self, record: &ByteRecord) -> bool {
        let same = |cells: &[String]| {
            cells.len() == record.len()
                && cells
                    .iter()
                    .zip(record)
                    .all(|(cell, field)| cell.as_bytes() == field.trim_ascii())
        };
        same(&self.header) || self.unit_row.as_deref().is_some_and(same)
    }

    /// Reads one row; false when what follows cannot be trusted.
    fn read_row(&mut self, place: &Place, record: &ByteRecord, new_block: &mut bool) -> bool {
        if self.rows.raw(place).contains('\n') {
            let problem = self
                .at_row(
                    Code::QUOTE_OPEN,
                    place,
                    "a quote opened on this line is not closed on it".to_owned(),
                )
                .expected("quotes in pairs, each field on one line");
            self.problems.push(problem);
            return false;
        }
        let width = self.header.len();
        let trailing_separator = record.len() == width + 1
            && record
                .get(width)
                .is_some_and(|last| last.trim_ascii().is_empty());
        if record.len() != width && !trailing_separator {
            let message = format!("{} fields, but the header has {width}", record.len());
            let mut problem = self
                .at_row(Code::FIELD_COUNT, place, message)
                .value(format!("{} fields", record.len()))
                .expected(format!(
                    "{width} fields separated by '{}'",
                    separator_text(self.separator)
                ));
            if self.separator == b',' && record.len() > width {
                problem = problem.help(
                    "if the numbers have decimal commas, separate the fields with semicolons",
                );
            }
            self.report(problem);
            return true;
        }
        for index in 0..width {
            let field = record.get(index).unwrap_or_default();
            match self.roles[index] {
                Role::Skip | Role::Unknown => {}
                Role::Label => {
                    let label = String::from_utf8_lossy(field.trim_ascii());
                    let current = self.blocks.last().and_then(|(_, label)| label.as_deref());
                    if *new_block || current != Some(label.as_ref()) {
                        self.blocks.push((self.row_count, Some(label.into_owned())));
                        *new_block = false;
                    }
                }
                Role::Column(column) => {
                    // A bad cell keeps its place, so that the columns stay equally long; the file is refused anyway.
                    let value = self.number(place, index, field).unwrap_or(0.0);
                    let column = &mut self.columns[column];
                    column.values_si.push(column.unit.to_si(value));
                }
            }
        }
        if *new_block {
            self.blocks.push((self.row_count, None));
            *new_block = false;
        }
        self.lines.record(self.row_count, place.line);
        self.row_count += 1;
        true
    }

    fn number(&mut self, place: &Place, index: usize, field: &[u8]) -> Option<f64> {
        let written = std::str::from_utf8(field).unwrap_or_default().trim();
        let mut parsed = written.parse::<f64>().ok();
        if self.separator != b',' {
            if parsed.is_none() && written.contains(',') && !written.contains('.') {
                self.scratch.clear();
                self.scratch.extend(
                    written
                        .chars()
                        .map(|letter| if letter == ',' { '.' } else { letter }),
                );
                parsed = self.scratch.parse().ok();
                if parsed.is_some() || written.matches(',').count() > 1 {
                    self.marks.note_comma(written, place.line);
                }
            } else if !self.marks.point && written.contains('.') && parsed.is_some() {
                self.marks.point = true;
            }
        }
        if let Some(value) = parsed
            && value.is_finite()
        {
            return Some(value);
        }
        let header = &self.header[index];
        let (code, message) = match parsed {
            Some(_) => (
                Code::NUMBER_NOT_FINITE,
                format!("column '{header}': '{written}' is not a finite number"),
            ),
            None if written.is_empty() => (
                Code::VALUE_MISSING,
                format!("column '{header}' has no value here"),
            ),
            None => (
                Code::NUMBER_INVALID,
                format!("column '{header}': '{written}' is not a number"),
            ),
        };
        if self.listed < LISTED {
            let problem = self
                .at_field(code, place, index, message)
                .value(written)
                .expected("a number");
            self.report(problem);
        } else {
            self.unlisted += 1;
        }
        None
    }

    /// Lists a problem, or counts it once enough are listed.
    fn report(&mut self, problem: Problem) {
        self.list(|_| problem);
    }

    /// As [`Self::report`], for a problem that costs something to make.
    fn list(&mut self, problem: impl FnOnce(&Self) -> Problem) {
        if self.listed < LISTED {
            self.listed += 1;
            let problem = problem(self);
            self.problems.push(problem);
        } else {
            self.unlisted += 1;
        }
    }

    /// Counts the problems that were not listed.
    fn count_unlisted(&mut self, place: &str) {
        if self.unlisted > 0 {
            let message = format!("and {} more problems in the {place}", self.unlisted);
            self.problems
                .push(Problem::of_file(Code::MORE_OF_THE_SAME, self.name, message));
        }
    }

    fn finish(mut self, encoding: crate::files::Encoding) -> Result<RunFile, Problems> {
        self.count_unlisted("rows");
        let decimal = self.judge_decimals();
        if self.row_count == 0 && !self.problems.has_errors() {
            let problem = Problem::of_file(
                Code::ROWS_NONE,
                self.name,
                "the file has a header and no rows",
            );
            self.problems
                .push(problem.expected(format!("at least {} rows", self.options.minimum_rows)));
        }
        let mut pulls = Vec::new();
        // With cells missing, time would only repeat the same complaint.
        if !self.problems.has_errors() {
            let time_s = self
                .columns
                .iter()
                .find(|column| column.channel == Channel::Time);
            let time_s = time_s.map(|column| column.values_si.as_slice());
            let (divided, disorders) = divide(
                self.row_count,
                &self.blocks,
                time_s,
                self.options.minimum_rows,
            );
            pulls = divided;
            let total = disorders.len();
            for disorder in disorders.iter().take(LISTED) {
                let problem = self.disorder(disorder);
                self.problems.push(problem);
            }
            if total > LISTED {
                let message = format!("and {} more problems with time and pulls", total - LISTED);
                self.problems
                    .push(Problem::of_file(Code::MORE_OF_THE_SAME, self.name, message));
            }
        }
        let file = RunFile {
            name: self.name.to_owned(),
            encoding,
            separator: char::from(self.separator),
            decimal,
            columns: self.columns,
            ignored: self.ignored,
            pulls,
            warnings: Problems::new(),
            lines: self.lines,
        };
        let (mut file, warnings) = self.problems.unless_errors(Some(file))?;
        file.warnings = warnings;
        Ok(file)
    }

    fn judge_decimals(&mut self) -> DecimalMark {
        let Some((line, number)) = self.marks.comma.clone() else {
            return DecimalMark::Point;
        };
        let answered = self.options.decimal == Some(DecimalMark::Comma);
        let question = if self.marks.point {
            Some(format!(
                "line {line} has '{number}', other numbers have a decimal point"
            ))
        } else if !self.marks.comma_proven && !answered {
            Some(format!(
                "does '{number}' (line {line}) have decimals, or is the comma grouping thousands?"
            ))
        } else {
            None
        };
        if let Some(message) = question {
            let mut problem = Problem::of_file(Code::DECIMAL_AMBIGUOUS, self.name, message)
                .value(number)
                .expected("one decimal sign in all numbers, and no grouping of thousands");
            problem.line = Some(line);
            self.problems.push(problem);
        }
        DecimalMark::Comma
    }

    fn disorder(&self, disorder: &Disorder) -> Problem {
        let (code, row, message, value, expected) = match disorder {
            Disorder::Time { row, before_s } => {
                let time = self
                    .columns
                    .iter()
                    .find(|column| column.channel == Channel::Time);
                let written = |value_si: f64| match time {
                    Some(column) => format!(
                        "{} {}",
                        show_number(column.unit.from_si(value_si), 6),
                        column.unit.symbol
                    ),
                    None => show_number(value_si, 6),
                };
                let now_s = time
                    .and_then(|column| column.values_si.get(*row))
                    .copied()
                    .unwrap_or_default();
                let message = format!(
                    "time goes from {} to {}",
                    written(*before_s),
                    written(now_s)
                );
                (
                    Code::TIME_NOT_INCREASING,
                    *row,
                    message,
                    written(now_s),
                    format!("more than {}", written(*before_s)),
                )
            }
            Disorder::LabelReturns { row, label } => (
                Code::PULL_SPLIT,
                *row,
                format!("pull '{label}' comes back after another pull"),
                label.clone(),
                "all rows of a pull together".to_owned(),
            ),
            Disorder::TooFew { first_row, rows } => (
                Code::ROWS_TOO_FEW,
                *first_row,
                match rows {
                    1 => "a pull of one row".to_owned(),
                    _ => format!("a pull of {rows} rows"),
                },
                rows.to_string(),
                format!("at least {} rows", self.options.minimum_rows),
            ),
        };
        let mut problem = Problem::of_file(
            code,
            self.name,
            format!("line {}: {message}", self.lines.of(row)),
        );
        problem.line = Some(self.lines.of(row));
        problem.value(value).expected(expected)
    }
}

fn separator_text(separator: u8) -> &'static str {
    match separator {
        b'\t' => "tab",
        b';' => ";",
        _ => ",",
    }
}
