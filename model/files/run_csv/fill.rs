//! Readings that are not there: rows left out, columns drawn between their readings, errors where too much is missing.

use std::sync::Arc;

use super::Column;
use super::channel::Channel;
use super::gaps::ONE_IN;
use super::read::{BadCell, Raw, Sheet};
use crate::files::diagnostic::{Code, Excerpt, Problem, Problems};
use crate::files::digest::few;
use crate::files::shown::clipped;

/// Fewest readings of a channel on a clock of its own.
const LEAST_READINGS: usize = 10;
/// Bad columns told in full.
const MOST_COLUMNS: usize = 1;

/// Whether a curve hangs on a channel.
fn essential(channel: Channel) -> bool {
    matches!(
        channel,
        Channel::Time
            | Channel::EngineSpeed
            | Channel::DrumSpeed
            | Channel::RoadSpeed
            | Channel::Counts
            | Channel::WheelTorque
            | Channel::WheelPower
            | Channel::WheelForce
            | Channel::BrakeForce
            | Channel::DrumTorque
            | Channel::CorrectedWheelPower
            | Channel::WheelPowerError
            | Channel::SmoothingSpan
    )
}

/// Gaps filled where a channel has a slower clock, rows left out where readings are missing, errors where too many are.
pub(super) fn fill(
    sheet: &Sheet<'_>,
    columns: &mut Vec<Column>,
    kept: &mut [bool],
    problems: &mut Problems,
) {
    let rows = kept.len();
    let holes = |column: &Column| column.values_si.iter().filter(|v| v.is_nan()).count();
    let time: Option<Vec<f64>> = columns
        .iter()
        .find(|c| c.channel == Channel::Time && holes(c) == 0)
        .map(|c| c.values_si.clone());
    let sparse = |column: &Column| {
        let present = rows - holes(column);
        let words = raw_of(sheet, column).map_or(0, |raw| raw.words);
        time.is_some() && words == 0 && present >= LEAST_READINGS && 10 * holes(column) >= 3 * rows
    };
    // The rarest of what a curve hangs on sets the rows.
    let base: Option<Vec<bool>> = columns
        .iter()
        .filter(|c| essential(c.channel) && sparse(c))
        .max_by_key(|c| holes(c))
        .map(|c| c.values_si.iter().map(|v| !v.is_nan()).collect());
    let (mut drawn, mut dropped) = (Vec::new(), Vec::new());
    let mut bad: Vec<(usize, usize)> = Vec::new();
    let mut left_out = 0;
    for (at, column) in columns.iter_mut().enumerate() {
        let missing = holes(column);
        if missing == 0 {
            continue;
        }
        if let (true, Some(time)) = (sparse(column), &time) {
            draw_between(time, &mut column.values_si);
            drawn.push(column.header.clone());
            continue;
        }
        let used = essential(column.channel) || column.channel.is_used();
        let few = missing * ONE_IN <= rows;
        if used && few {
            for (keep, value) in kept.iter_mut().zip(&column.values_si) {
                if *keep && value.is_nan() {
                    *keep = false;
                    left_out += 1;
                }
            }
            bad.push((at, 0));
        } else if essential(column.channel) {
            bad.push((at, missing));
        } else {
            dropped.push((at, column.header.clone()));
        }
    }
    if let Some(base) = base {
        for (keep, base) in kept.iter_mut().zip(base) {
            *keep &= base;
        }
    }
    let out = LeftOut {
        bad,
        rows: left_out,
        drawn,
        dropped,
    };
    tell(sheet, columns, &out, problems);
    for (at, _) in out.dropped.iter().rev() {
        columns.remove(*at);
    }
}

/// What became of columns with gaps.
struct LeftOut {
    /// Columns whose readings are missing, and how many where they are too many.
    bad: Vec<(usize, usize)>,
    /// Rows left out for that.
    rows: usize,
    /// Heads of columns drawn between their readings.
    drawn: Vec<String>,
    /// Columns with too few numbers.
    dropped: Vec<(usize, String)>,
}

fn raw_of<'s>(sheet: &'s Sheet<'_>, column: &Column) -> Option<&'s Raw> {
    let mut columns = sheet.columns.iter();
    columns.find(|raw| raw.head == column.header && raw.first.is_some())
}

fn tell(sheet: &Sheet<'_>, columns: &[Column], out: &LeftOut, problems: &mut Problems) {
    let LeftOut {
        bad,
        rows: left_out,
        drawn,
        dropped,
    } = out;
    let fatal: Vec<&(usize, usize)> = bad.iter().filter(|(_, missing)| *missing > 0).collect();
    for &&(at, missing) in fatal.iter().take(MOST_COLUMNS) {
        if let Some(cell) = raw_of(sheet, &columns[at]).and_then(|raw| raw.first.as_ref()) {
            problems.push(bad_cell(
                sheet,
                &columns[at].header,
                cell,
                missing,
                fatal.len() - 1,
            ));
        }
    }
    if fatal.is_empty() && *left_out > 0 {
        let mut first: Vec<_> = bad
            .iter()
            .filter_map(|(at, _)| {
                let cell = raw_of(sheet, &columns[*at])?.first.as_ref()?;
                Some((&columns[*at].header, cell))
            })
            .collect();
        first.sort_by_key(|(_, cell)| cell.line);
        if let Some((_, cell)) = first.first() {
            let what = if *left_out == 1 {
                "a row is".to_owned()
            } else {
                format!("{left_out} rows are")
            };
            let cells: Vec<String> = first
                .iter()
                .map(|(head, cell)| {
                    format!(
                        "'{}' in column '{}' on line {}",
                        clipped(&cell.text),
                        clipped(head),
                        cell.line
                    )
                })
                .collect();
            let message = format!("{what} left out where a number is missing: {}", few(&cells));
            let mut problem = Problem::of_file(cell.code, &sheet.name, message).value(&cell.text);
            problem.line = Some(cell.line);
            problems.push(problem.expected("a number").warning());
        }
    }
    if !drawn.is_empty() {
        let message = format!(
            "readings rarer than rows are drawn straight in between: {}",
            few(drawn)
        );
        problems.push(Problem::of_file(Code::COLUMN_CONVENTION, &sheet.name, message).warning());
    }
    if !dropped.is_empty() {
        let heads: Vec<&String> = dropped.iter().map(|(_, head)| head).collect();
        let message = format!("too few numbers to be read: {}", few(&heads));
        problems.push(Problem::of_file(Code::COLUMN_IGNORED, &sheet.name, message).warning());
    }
}

fn bad_cell(
    sheet: &Sheet<'_>,
    header: &str,
    cell: &BadCell,
    count: usize,
    columns: usize,
) -> Problem {
    let excerpt = Arc::new(Excerpt::line(&sheet.name, &cell.raw, cell.line));
    let header = clipped(header);
    let more = match (count - 1, columns) {
        (0, 0) => String::new(),
        (n, 0) => format!(", nor are {n} more of the column"),
        (n, c) => format!(", nor are {n} more of the column, and cells of {c} more columns"),
    };
    let message = match cell.code {
        Code::NUMBER_NOT_FINITE => format!(
            "column '{header}': '{}' is not a finite number{more}",
            cell.text
        ),
        Code::VALUE_MISSING if cell.text.is_empty() => format!(
            "column '{header}' has no value here{}",
            more.replace("nor are", "nor in")
        ),
        _ => format!("column '{header}': '{}' is not a number{more}", cell.text),
    };
    Problem::at(cell.code, &excerpt, cell.span.clone(), message)
        .value(&cell.text)
        .expected("a number")
}

/// Straight lines between readings over time; level before the first and after the last.
fn draw_between(time_s: &[f64], values: &mut [f64]) {
    let known: Vec<usize> = (0..values.len())
        .filter(|&at| !values[at].is_nan())
        .collect();
    let (Some(&first), Some(&last)) = (known.first(), known.last()) else {
        return;
    };
    let (head, tail) = (values[first], values[last]);
    values[..first].fill(head);
    values[last..].fill(tail);
    for pair in known.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let (from, to) = (values[a], values[b]);
        let span = time_s[b] - time_s[a];
        for at in a + 1..b {
            let share = if span > 0.0 {
                (time_s[at] - time_s[a]) / span
            } else {
                0.0
            };
            values[at] = from + (to - from) * share;
        }
    }
}
