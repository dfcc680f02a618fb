//! From settled columns to rows in SI: gaps, doubled rows, clocks that tick slowly, and the division into pulls.
//!
//! A reading that is not there takes its row with it, where they are few; a channel on a slower clock of its own is drawn straight between its readings. Nothing
//! else is put in the place of a reading, and what was left out is said once.

use super::channel::Channel;
use super::fill::fill;
use super::header::{Meaning, Reading};
use super::pulls::{Disorder, divide};
use super::read::{Odd, Sheet};
use super::{Column, Lines, Pull, RunFile, RunOptions, climbs};
use crate::files::diagnostic::{Code, Excerpt, Problem, Problems};
use crate::files::encoding::Encoding;
use crate::files::shown::clipped;
use crate::numeric::upper_median;
use crate::units::show_number;
use std::sync::Arc;

/// One row in so many may lack a reading.
pub(super) const ONE_IN: usize = 20;

/// The file, from a sheet whose columns are settled.
pub(super) fn complete(
    mut sheet: Sheet<'_>,
    warnings: Problems,
    options: &RunOptions,
    encoding: Encoding,
) -> Result<RunFile, Problems> {
    let mut problems = warnings;
    let rows = sheet.lines.len();
    if let Some(problem) = ragged(&sheet, rows) {
        let fatal = problem.severity == crate::files::Severity::Error;
        problems.push(problem);
        if fatal {
            return Err(problems.errors());
        }
    }
    if rows == 0 {
        let message = "the file has a header and no rows";
        let problem = Problem::of_file(Code::ROWS_NONE, &sheet.name, message);
        problems.push(problem.expected(format!("at least {} rows", options.minimum_rows)));
        return Err(problems.errors());
    }
    let mut columns: Vec<Column> = Vec::new();
    for raw in &mut sheet.columns {
        let Meaning::Numbers(Reading {
            channel,
            unit,
            scale,
            ..
        }) = raw.meaning
        else {
            continue;
        };
        let mut values_si = std::mem::take(&mut raw.values);
        for value in &mut values_si {
            *value = unit.to_si(*value * scale);
        }
        columns.push(Column {
            channel,
            header: raw.head.clone(),
            unit,
            scale,
            values_si,
        });
    }
    let mut kept = vec![true; rows];
    fill(&sheet, &mut columns, &mut kept, &mut problems);
    if problems.has_errors() {
        return Err(problems.errors());
    }
    let doubled = doubled(&columns, &mut kept);
    tell_rows(&sheet, doubled, &mut problems);
    let unknown = std::mem::take(&mut sheet.unknown);
    let mut table = Rows {
        name: &sheet.name,
        columns,
        blocks: std::mem::take(&mut sheet.blocks),
        lines: std::mem::take(&mut sheet.lines),
    };
    table.keep(&kept);
    table.turn_backward(&mut problems);
    table.drop_summary(&mut problems);
    table.spread_ticks(&mut problems);
    let pulls = table.pulls(options, &mut problems);
    let mut lines = Lines::default();
    for (row, &line) in table.lines.iter().enumerate() {
        lines.record(row, line as usize);
    }
    let file = RunFile {
        name: sheet.name.clone(),
        encoding,
        separator: sheet.table.written,
        decimal: sheet.mark,
        columns: table.columns,
        ignored: unknown.into_iter().map(|(_, head)| head).collect(),
        pulls,
        warnings: Problems::new(),
        heads: sheet.heads(),
        turned: sheet.table.turned,
        lines,
    };
    if problems.has_errors() {
        // What was settled on the way is of no use beside what stands in the way.
        return Err(problems.errors());
    }
    let (mut file, warnings) = problems.unless_errors(Some(file))?;
    file.warnings = warnings;
    Ok(file)
}

/// Rows with another number of fields: few are left out, many are refused.
fn ragged(sheet: &Sheet<'_>, rows: usize) -> Option<Problem> {
    let (odd, fields) = sheet.ragged.as_ref()?;
    let width = sheet.table.header.len();
    let last = odd.count == 1 && odd.rows_before == rows;
    let few = odd.count * ONE_IN <= rows;
    let excerpt = Arc::new(Excerpt::line(&sheet.name, &odd.text, odd.first_line));
    let length = odd.text.lines().next().unwrap_or_default().len();
    let more = match odd.count - 1 {
        0 => String::new(),
        n => format!(", and {n} more such rows"),
    };
    let message = format!("{fields} fields, but the header has {width}{more}");
    if few || (last && rows >= ONE_IN) {
        let message = format!("line {}: {message}; left out", odd.first_line);
        let mut problem = Problem::of_file(Code::FIELD_COUNT, &sheet.name, message)
            .value(format!("{fields} fields"));
        problem.line = Some(odd.first_line);
        return Some(problem.warning());
    }
    let mut problem = Problem::at(Code::FIELD_COUNT, &excerpt, 0..length, message)
        .value(format!("{fields} fields"))
        .expected(format!(
            "{width} fields separated by {}",
            separator_text(sheet.table.written)
        ));
    if sheet.table.separator == b',' && *fields > width {
        problem =
            problem.help("if the numbers have decimal commas, separate the fields with semicolons");
    }
    Some(problem)
}

fn separator_text(written: char) -> String {
    match written {
        '\t' => "tabs".to_owned(),
        ' ' => "blanks".to_owned(),
        sign => format!("'{sign}'"),
    }
}

/// Marks rows that repeat the row before; how many.
fn doubled(columns: &[Column], kept: &mut [bool]) -> usize {
    if !columns.iter().any(|c| c.channel == Channel::Time) {
        return 0;
    }
    let same = |a: f64, b: f64| a == b || (a.is_nan() && b.is_nan());
    let mut count = 0;
    let mut before: Option<usize> = None;
    for (row, keep) in kept.iter_mut().enumerate().filter(|(_, keep)| **keep) {
        let alike = |before| {
            let mut all = columns.iter();
            all.all(|c| same(c.values_si[before], c.values_si[row]))
        };
        if before.is_some_and(alike) {
            *keep = false;
            count += 1;
        } else {
            before = Some(row);
        }
    }
    count
}

/// Says which rows were passed over.
fn tell_rows(sheet: &Sheet<'_>, doubled: usize, problems: &mut Problems) {
    if doubled > 0 {
        let message = format!("{doubled} rows repeat the row before and are left out");
        problems.push(Problem::of_file(Code::ROWS_LEFT_OUT, &sheet.name, message).warning());
    }
    if let Some(Odd {
        first_line,
        text,
        count,
        ..
    }) = &sheet.odd
    {
        let what = if *count == 1 {
            "a line holds words".to_owned()
        } else {
            format!("{count} lines hold words")
        };
        let message = format!(
            "{what} instead of readings, not used: line {first_line}, '{}'",
            clipped(text)
        );
        let mut problem = Problem::of_file(Code::ROWS_LEFT_OUT, &sheet.name, message);
        problem.line = Some(*first_line);
        problems.push(problem.warning());
    }
}

/// Columns with their rows.
struct Rows<'a> {
    name: &'a str,
    columns: Vec<Column>,
    blocks: Vec<(usize, Option<String>)>,
    lines: Vec<u32>,
}

impl Rows<'_> {
    fn time(&self) -> Option<&[f64]> {
        let time = self.columns.iter().find(|c| c.channel == Channel::Time)?;
        Some(&time.values_si)
    }

    /// Keeps some rows; stretches begin where their first kept row is.
    fn keep(&mut self, kept: &[bool]) {
        if kept.iter().all(|keep| *keep) {
            return;
        }
        let before: Vec<usize> = std::iter::once(0)
            .chain(kept.iter().scan(0, |count, keep| {
                *count += usize::from(*keep);
                Some(*count)
            }))
            .collect();
        for (start, _) in &mut self.blocks {
            *start = before.get(*start).copied().unwrap_or(*start);
        }
        self.blocks.dedup_by_key(|(start, _)| *start);
        let left = |row: &mut usize| {
            let keep = kept.get(*row).copied().unwrap_or(true);
            *row += 1;
            keep
        };
        for column in &mut self.columns {
            let mut row = 0;
            column.values_si.retain(|_| left(&mut row));
        }
        let mut row = 0;
        self.lines.retain(|_| left(&mut row));
        let rows = self.lines.len();
        self.blocks.retain(|(start, _)| *start < rows);
    }

    /// A table with the latest reading first.
    fn turn_backward(&mut self, problems: &mut Problems) {
        let Some(time) = self.time() else {
            return;
        };
        if time.len() < 3 || self.blocks.len() > 1 || !time.windows(2).all(|t| t[1] < t[0]) {
            return;
        }
        for column in &mut self.columns {
            column.values_si.reverse();
        }
        self.lines.reverse();
        let message = "time runs backwards from the first row to the last: the rows are read from the last to the first";
        problems.push(Problem::of_file(Code::ROWS_LEFT_OUT, self.name, message).warning());
    }

    /// One row behind the last pull, where time starts again: the highest of every column, or the like, and no pull.
    fn drop_summary(&mut self, problems: &mut Problems) {
        let Some(last) = self
            .lines
            .len()
            .checked_sub(1)
            .filter(|last| *last >= ONE_IN)
        else {
            return;
        };
        let of_pull = self.blocks.last().is_none_or(|(start, _)| *start < last);
        let starts_again = self
            .time()
            .is_some_and(|time| time[last] < time[last - 1] && time[last] <= time[0]);
        // Each value lies at an end of what its column holds, or is left at zero.
        let at_an_end = |values: &[f64]| {
            let before = values[..last].iter().copied();
            let (low, high) = before.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            });
            let near = |end: f64| (values[last] - end).abs() <= 2e-3 * end.abs();
            near(high) || near(low) || values[last] == 0.0
        };
        let others = || self.columns.iter().filter(|c| c.channel != Channel::Time);
        if !of_pull || !starts_again || !others().all(|column| at_an_end(&column.values_si)) {
            return;
        }
        let message = format!(
            "the last row (line {}) stands alone and holds the ends of the columns: it is left out",
            self.lines[last]
        );
        let mut kept = vec![true; last];
        kept.push(false);
        self.keep(&kept);
        problems.push(Problem::of_file(Code::ROWS_LEFT_OUT, self.name, message).warning());
    }

    /// Rows that share a tick of a slow clock, spread evenly over it.
    fn spread_ticks(&mut self, problems: &mut Problems) {
        let Some(time) = self.time() else {
            return;
        };
        let still = time.windows(2).filter(|t| t[1] == t[0]).count();
        let back = time.windows(2).any(|t| t[1] < t[0]);
        let speed = self.columns.iter().find(|c| {
            matches!(
                c.channel,
                Channel::EngineSpeed | Channel::DrumSpeed | Channel::RoadSpeed
            )
        });
        // A row that is new under an old time is of a faster clock.
        let moved = speed.is_some_and(|c| {
            let pairs = c.values_si.windows(2).zip(time.windows(2));
            2 * pairs.filter(|(v, t)| t[1] == t[0] && v[1] != v[0]).count() > still
        });
        if time.len() < 20 || 3 * still < time.len() || back || !moved {
            return;
        }
        let mut spread = time.to_vec();
        let mut starts: Vec<usize> = (0..time.len())
            .filter(|&at| at == 0 || time[at] != time[at - 1])
            .collect();
        starts.push(time.len());
        let ticks: Vec<f64> = starts
            .windows(2)
            .filter(|s| s[1] < time.len())
            .map(|s| time[s[1]] - time[s[0]])
            .collect();
        let per_tick = starts.windows(2).map(|s| s[1] - s[0]).max().unwrap_or(1);
        let Some(&tick_s) = ticks.first() else {
            return;
        };
        for (at, pair) in starts.windows(2).enumerate() {
            let (from, to) = (pair[0], pair[1]);
            let step = ticks.get(at).copied().unwrap_or(tick_s);
            // The first and the last tick are seldom whole.
            let whole = if at == 0 || at + 2 == starts.len() {
                per_tick
            } else {
                to - from
            };
            let skip = if at == 0 { whole - (to - from) } else { 0 };
            for row in from..to {
                spread[row] = time[row] + step * (row - from + skip) as f64 / whole.max(1) as f64;
            }
        }
        if let Some(column) = self.columns.iter_mut().find(|c| c.channel == Channel::Time) {
            column.values_si = spread;
        }
        let message = format!(
            "the clock ticks every {} s with up to {per_tick} rows to a tick, which are spread evenly over it",
            show_number(tick_s, 3)
        );
        problems.push(Problem::of_file(Code::COLUMN_CONVENTION, self.name, message).warning());
    }

    /// A head that is printed again while time goes on begins no pull.
    fn join_pages(&mut self) {
        let Some(time) = self.time() else {
            return;
        };
        let step_s = upper_median(time.windows(2).map(|t| t[1] - t[0])).unwrap_or(0.0);
        let goes_on = |start: usize| {
            start > 0
                && time[start] > time[start - 1]
                && time[start] - time[start - 1] < 2.0 * step_s
        };
        let joined: Vec<bool> = self
            .blocks
            .iter()
            .map(|(start, label)| label.is_none() && goes_on(*start))
            .collect();
        let mut at = 0;
        self.blocks.retain(|_| {
            at += 1;
            !joined[at - 1]
        });
    }

    fn pulls(&mut self, options: &RunOptions, problems: &mut Problems) -> Vec<Pull> {
        self.join_pages();
        let (pulls, disorders) = divide(
            self.lines.len(),
            &self.blocks,
            self.time(),
            options.minimum_rows,
        );
        if let Some(disorder) = disorders.first() {
            problems.push(self.disorder(disorder, disorders.len() - 1, options));
            return pulls;
        }
        climbs::of(&self.columns, pulls, options.minimum_rows)
    }

    fn disorder(&self, disorder: &Disorder, more: usize, options: &RunOptions) -> Problem {
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
                format!("pull '{}' comes back after another pull", clipped(label)),
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
                format!("at least {} rows", options.minimum_rows),
            ),
        };
        let line = self.lines.get(row).map_or(0, |line| *line as usize);
        let more = match more {
            0 => String::new(),
            n => format!(", and {n} more places like it"),
        };
        let mut problem =
            Problem::of_file(code, self.name, format!("line {line}: {message}{more}"));
        problem.line = Some(line);
        problem.value(value).expected(expected)
    }
}
