//! Tables of another shape, turned into one row per sample with one sign between fields.
//!
//! Three kinds of export are not that: one reading per row (time, name, value, unit), channels as rows, and pulls side by side as groups of columns. Blanks or
//! ruled lines between fields, and decimal commas among commas, are another sign only. Every number stays as written: what is moved is where it stands.

use std::borrow::Cow;
use std::collections::HashMap;
use std::fmt::Write as _;

use super::RunOptions;
use super::cell::{Cell, is_missing, looks_like_number};
use super::dialect::DecimalMark;
use super::header::{Meaning, is_unit, understand};
use super::layout::{Layout, Separator, cells};
use super::lexicon::{Lexicon, words_of};

/// A table with one row per sample.
#[derive(Debug)]
pub(super) struct Table<'t> {
    pub(super) header: Vec<String>,
    pub(super) units: Option<Vec<String>>,
    /// Line of the head, from 1, and its text.
    pub(super) header_line: usize,
    pub(super) header_text: String,
    pub(super) separator: u8,
    /// What separates fields in the file: of a table that was turned, another sign than of its rows here.
    pub(super) written: char,
    /// The rows.
    pub(super) body: Cow<'t, str>,
    /// Line of the first, from 1.
    pub(super) body_line: usize,
    /// What stands above the table.
    pub(super) preamble: Vec<String>,
    /// The first rows.
    pub(super) sample: Vec<(usize, Vec<String>)>,
    /// What was turned.
    pub(super) turned: Option<Turned>,
}

/// What a table was before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turned {
    /// One reading per row.
    Readings,
    /// Channels as rows.
    Rows,
    /// Pulls as groups of columns.
    Groups,
}

/// Rows from all over a table that are looked at.
const SPREAD: usize = 1000;
/// Most names of channels that a column of names holds.
const MOST_NAMES: usize = 300;

/// The table in one shape.
pub(super) fn straight<'t>(
    text: &'t str,
    layout: Layout,
    options: &RunOptions,
    lexicon: &Lexicon,
) -> Table<'t> {
    let body = &text[layout.rows_start.min(text.len())..];
    let header_text = text[layout.header_start.min(text.len())..]
        .lines()
        .next()
        .unwrap_or_default()
        .to_owned();
    let mut table = Table {
        separator: match layout.separator {
            Separator::Sign(b'|') | Separator::Blanks => b'\t',
            Separator::Sign(sign) => sign,
        },
        written: char::from(sign_of(layout.separator)),
        header: layout.header,
        units: layout.units,
        header_line: layout.header_line,
        header_text,
        body: Cow::Borrowed(body),
        body_line: layout.rows_line,
        preamble: layout.preamble,
        sample: layout.sample,
        turned: None,
    };
    if table.separator != sign_of(layout.separator) {
        table.body = Cow::Owned(with_tabs(body, layout.separator));
    }
    if table.separator == b',' && split_decimals(&table) {
        join_decimals(&mut table);
    }
    transposed(&mut table, text, layout.separator, options, lexicon);
    readings(&mut table, options, lexicon);
    side_by_side(&mut table, lexicon);
    let width = table
        .sample
        .iter()
        .map(|(_, cells)| cells.len())
        .max()
        .unwrap_or(0);
    if table.header.is_empty() {
        table.header = (1..=width).map(|column| format!("#{column}")).collect();
    }
    table
}

fn sign_of(separator: Separator) -> u8 {
    match separator {
        Separator::Sign(sign) => sign,
        Separator::Blanks => b' ',
    }
}

fn with_tabs(body: &str, separator: Separator) -> String {
    let mut out = String::with_capacity(body.len());
    for line in body.lines() {
        out.push_str(&cells(line, separator).join("\t"));
        out.push('\n');
    }
    out
}

/// Whether every number of a table between commas is split at its decimal comma: twice as many fields as heads, every second one digits alone.
fn split_decimals(table: &Table<'_>) -> bool {
    let heads = table.header.len();
    let digits = |cell: &String| !cell.is_empty() && cell.bytes().all(|byte| byte.is_ascii_digit());
    heads > 1
        && !table.sample.is_empty()
        && table.sample.iter().all(|(_, cells)| {
            cells.len() == 2 * heads && cells.iter().skip(1).step_by(2).all(digits)
        })
}

fn join_decimals(table: &mut Table<'_>) {
    let joined = |line: &str| {
        let fields: Vec<&str> = line.split(',').collect();
        let pairs = fields.chunks(2).map(|pair| pair.join("."));
        pairs.collect::<Vec<_>>().join("\t")
    };
    let body: Vec<String> = table.body.lines().map(joined).collect();
    for (_, cells) in &mut table.sample {
        *cells = cells.chunks(2).map(|pair| pair.join(".")).collect();
    }
    table.body = Cow::Owned(body.join("\n"));
    table.separator = b'\t';
}

fn is_known(name: &str, options: &RunOptions, lexicon: &Lexicon) -> bool {
    understand(name, None, options, lexicon) != Meaning::Unknown
}

/// Channels as rows: every row begins with a name of its own, and most of the names are known.
fn transposed(
    table: &mut Table<'_>,
    text: &str,
    separator: Separator,
    options: &RunOptions,
    lexicon: &Lexicon,
) {
    let named = |cells: &[String]| {
        cells
            .first()
            .is_some_and(|cell| !looks_like_number(cell) && is_known(cell, options, lexicon))
    };
    let rows: Vec<Vec<String>> = text
        .lines()
        .take(400)
        .map(|line| cells(line, separator))
        .filter(|cells| {
            cells.len() > 4
                && cells.iter().filter(|cell| looks_like_number(cell)).count() * 2 > cells.len()
        })
        .collect();
    let known = rows.iter().filter(|cells| named(cells)).count();
    let mut names: Vec<&String> = rows.iter().filter_map(|cells| cells.first()).collect();
    names.sort();
    let distinct = names.windows(2).all(|pair| pair[0] != pair[1]);
    if rows.len() < 2
        || known < 2
        || 2 * known < rows.len()
        || !distinct
        || table.sample.len() > rows.len()
    {
        return;
    }
    let has_units = rows.iter().all(|cells| {
        cells
            .get(1)
            .is_some_and(|cell| cell.is_empty() || is_unit(cell))
    });
    let first = if has_units { 2 } else { 1 };
    table.header = rows.iter().map(|cells| cells[0].clone()).collect();
    table.units = has_units.then(|| rows.iter().map(|cells| cells[1].clone()).collect());
    let length = rows.iter().map(Vec::len).max().unwrap_or(0);
    let mut out = String::new();
    let mut sample = Vec::new();
    for at in first..length {
        let cells: Vec<String> = rows
            .iter()
            .map(|cells| cells.get(at).cloned().unwrap_or_default())
            .collect();
        out.push_str(&cells.join("\t"));
        out.push('\n');
        if sample.len() < 400 {
            sample.push((at, cells));
        }
    }
    table.body = Cow::Owned(out);
    table.separator = b'\t';
    table.sample = sample;
    table.turned = Some(Turned::Rows);
}

/// One reading per row: a column of names, most of them known and each there many times, and beside it one column of numbers that is no time.
fn readings(table: &mut Table<'_>, options: &RunOptions, lexicon: &Lexicon) {
    let width = table
        .header
        .len()
        .max(table.sample.first().map_or(0, |(_, cells)| cells.len()));
    let names_first = |(_, cells): &(usize, Vec<String>)| {
        let named = |cell: &String| !looks_like_number(cell) && is_known(cell, options, lexicon);
        cells.iter().any(named)
    };
    if !table.sample.first().is_some_and(names_first) {
        return;
    }
    // One channel may fill the first rows; rows from all over tell more.
    let every = table.body.lines().count() / SPREAD + 1;
    let separator = Separator::Sign(table.separator);
    let spread: Vec<Vec<String>> = table
        .body
        .lines()
        .step_by(every)
        .map(|line| cells(line, separator))
        .collect();
    let column = |at: usize| spread.iter().filter_map(move |cells| cells.get(at));
    let names_at = (0..width).find(|&at| {
        let mut names: Vec<&String> = column(at).collect();
        let rows = names.len();
        names.sort();
        names.dedup();
        let known = names
            .iter()
            .filter(|name| !looks_like_number(name) && is_known(name, options, lexicon))
            .count();
        known >= 2
            && 2 * known >= names.len()
            && 2 * names.len() <= rows
            && names.len() <= MOST_NAMES
    });
    let Some(names_at) = names_at else {
        return;
    };
    let numeric = |at: usize| {
        10 * column(at).filter(|cell| looks_like_number(cell)).count() >= 6 * spread.len()
    };
    let units_at = (0..width).find(|&at| {
        at != names_at
            && column(at).all(|cell| cell.is_empty() || is_unit(cell))
            && column(at).any(|cell| is_unit(cell))
    });
    let numbers: Vec<usize> = (0..width)
        .filter(|&at| at != names_at && Some(at) != units_at && numeric(at))
        .collect();
    let is_time = |at: &usize| {
        let head = table.header.get(*at).map_or("", String::as_str);
        lexicon
            .named(&words_of(head))
            .channels
            .contains(&super::Channel::Time)
            || head_is_time(head, options, lexicon)
    };
    let Some(time_at) = numbers
        .iter()
        .copied()
        .find(|at| is_time(at))
        .or_else(|| (numbers.len() == 2).then(|| numbers[0]))
    else {
        return;
    };
    let rest: Vec<usize> = numbers.into_iter().filter(|at| *at != time_at).collect();
    let value = |at: &&usize| {
        let head = words_of(table.header.get(**at).map_or("", String::as_str));
        head.iter().any(|word| {
            [
                "value", "wert", "valeur", "valor", "valore", "waarde", "varde", "wartosc",
                "reading",
            ]
            .contains(&word.as_str())
        })
    };
    let Some(&value_at) = rest
        .iter()
        .find(value)
        .or_else(|| rest.first().filter(|_| rest.len() == 1))
    else {
        return;
    };
    pivot(table, (time_at, names_at, value_at, units_at));
}

fn head_is_time(head: &str, options: &RunOptions, lexicon: &Lexicon) -> bool {
    match understand(head, None, options, lexicon) {
        Meaning::Numbers(reading) => reading.channel == super::Channel::Time,
        Meaning::Open(open) => open.channels.contains(&super::Channel::Time),
        _ => false,
    }
}

/// Rows of one time together. A name whose time goes back begins the next pull.
fn pivot(
    table: &mut Table<'_>,
    (time_at, names_at, value_at, units_at): (usize, usize, usize, Option<usize>),
) {
    let separator = Separator::Sign(table.separator);
    let mut names: Vec<(String, String)> = Vec::new();
    let mut index: HashMap<(String, String), usize> = HashMap::new();
    // The latest time and the pull of each name.
    let mut last: Vec<(f64, usize)> = Vec::new();
    let mut kept: Vec<(usize, f64, usize, String, String)> = Vec::new();
    let mut marks = super::cell::Marks::default();
    for (_, cells) in &table.sample {
        for at in [time_at, value_at] {
            marks.note(cells.get(at).map_or("", String::as_str), 0);
        }
    }
    let mark = marks.decided().unwrap_or(DecimalMark::Point);
    for line in table.body.lines() {
        let fields = cells(line, separator);
        let field = |at: usize| fields.get(at).map_or("", String::as_str);
        let (Cell::Number(time) | Cell::Clock(time)) =
            super::cell::read(field(time_at), mark, None)
        else {
            continue;
        };
        let name = (
            field(names_at).to_owned(),
            units_at.map_or(String::new(), |at| field(at).to_owned()),
        );
        if is_missing(field(value_at)) {
            continue;
        }
        let of = *index.entry(name.clone()).or_insert_with(|| {
            names.push(name);
            last.push((f64::NEG_INFINITY, 0));
            names.len() - 1
        });
        let (before, pull) = &mut last[of];
        if time < *before {
            *pull += 1;
        }
        *before = time;
        kept.push((
            *pull,
            time,
            of,
            field(time_at).to_owned(),
            field(value_at).to_owned(),
        ));
    }
    kept.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let several = last.iter().any(|(_, pull)| *pull > 0);
    let time_head = table
        .header
        .get(time_at)
        .cloned()
        .unwrap_or_else(|| "time".to_owned());
    let mut header = vec![time_head];
    header.extend(names.iter().map(|(name, _)| name.clone()));
    let mut units = vec![
        table
            .units
            .as_ref()
            .and_then(|u| u.get(time_at))
            .cloned()
            .unwrap_or_default(),
    ];
    units.extend(names.iter().map(|(_, unit)| unit.clone()));
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut before: Option<(usize, f64)> = None;
    for (pull, time, of, time_text, value) in kept {
        if before != Some((pull, time)) {
            let mut row = vec![String::new(); header.len()];
            row[0] = time_text;
            if several {
                row.push((pull + 1).to_string());
            }
            rows.push(row);
            before = Some((pull, time));
        }
        if let Some(row) = rows.last_mut() {
            row[of + 1] = value;
        }
    }
    if several {
        header.push("pull".to_owned());
        units.push(String::new());
    }
    let mut out = String::new();
    for row in &rows {
        let _ = writeln!(out, "{}", row.join("\t"));
    }
    table.header = header;
    table.units = Some(units);
    table.sample = rows.into_iter().take(400).enumerate().collect();
    table.body = Cow::Owned(out);
    table.separator = b'\t';
    table.turned = Some(Turned::Readings);
}

/// Pulls as groups of columns: the same heads again and again, after columns that all share.
fn side_by_side(table: &mut Table<'_>, lexicon: &Lexicon) {
    let plain: Vec<String> = table
        .header
        .iter()
        .map(|head| {
            // Without its unit: volts of a sensor are no speed.
            let words = words_of(&super::words::head(head).humps.join(" "));
            let words = words.into_iter().filter(|word| {
                !word.bytes().all(|b| b.is_ascii_digit())
                    && !["run", "pull", "lauf", "test"].contains(&word.as_str())
            });
            words.collect::<Vec<_>>().join(" ")
        })
        .collect();
    let numbered = |at: usize| {
        words_of(&table.header[at])
            .iter()
            .any(|word| word.bytes().all(|b| b.is_ascii_digit()))
    };
    let width = plain.len();
    let fits = |shared: usize, period: usize| {
        let groups = (width - shared) / period;
        // Asked one after the other, the cheap ones first: a table may have ten thousand columns.
        let alike = || {
            (shared + period..width)
                .all(|at| plain[at] == plain[at - period] && !plain[at].is_empty())
        };
        let marked = || {
            (shared..width).all(numbered)
                || (shared == 0
                    && (shared + period..width)
                        .all(|at| table.header[at] == table.header[at - period]))
        };
        // Four exhaust temperatures are no four pulls.
        let is_power = |at: usize| {
            let words = words_of(&plain[at]);
            let channels = lexicon.named(&words).channels;
            let tail = lexicon
                .named(&words[..words.len().saturating_sub(1)])
                .channels;
            channels.iter().chain(&tail).any(|channel| {
                use super::Channel as C;
                matches!(
                    channel,
                    C::WheelPower
                        | C::CorrectedWheelPower
                        | C::WheelTorque
                        | C::EngineSpeed
                        | C::CrankPower
                        | C::WheelForce
                )
            })
        };
        (width - shared).is_multiple_of(period)
            && groups > 1
            && shared + period > 1
            && alike()
            && marked()
            && (shared..shared + period).any(is_power)
    };
    let found = (0..width.min(4)).find_map(|shared| {
        let period = (1..=(width - shared) / 2).find(|&period| fits(shared, period))?;
        Some((shared, period))
    });
    let Some((shared, period)) = found else {
        return;
    };
    stack(table, shared, period);
}

/// Groups of columns one below the other, each pull with its number.
fn stack(table: &mut Table<'_>, shared: usize, period: usize) {
    let width = table.header.len();
    let numbered = |at: usize| {
        let words = words_of(&table.header[at]);
        words
            .iter()
            .any(|word| word.bytes().all(|b| b.is_ascii_digit()))
    };
    let separator = Separator::Sign(table.separator);
    let groups = (width - shared) / period;
    let rows: Vec<Vec<String>> = table
        .body
        .lines()
        .map(|line| cells(line, separator))
        .collect();
    let mut out = String::new();
    let mut sample = Vec::new();
    for group in 0..groups {
        for (line, fields) in rows.iter().enumerate() {
            let field = |at: usize| fields.get(at).cloned().unwrap_or_default();
            let own: Vec<String> = (0..period)
                .map(|at| field(shared + group * period + at))
                .collect();
            if own.iter().all(|cell| is_missing(cell)) {
                continue;
            }
            let mut row: Vec<String> = (0..shared).map(field).collect();
            row.extend(own);
            row.push((group + 1).to_string());
            let _ = writeln!(out, "{}", row.join("\t"));
            if sample.len() < 400 {
                sample.push((line, row));
            }
        }
    }
    let pick = |cells: &[String], last: &str| {
        let mut kept: Vec<String> = cells.iter().take(shared + period).cloned().collect();
        kept.push(last.to_owned());
        kept
    };
    let mut header = pick(&table.header, "pull");
    // Heads of the first group, without its number.
    for (at, head) in header
        .iter_mut()
        .enumerate()
        .take(shared + period)
        .skip(shared)
    {
        if numbered(at) {
            *head = without_number(head);
        }
    }
    table.header = header;
    table.units = table.units.as_ref().map(|units| pick(units, ""));
    table.body = Cow::Owned(out);
    table.separator = b'\t';
    table.sample = sample;
    table.turned = Some(Turned::Groups);
}

/// A head without the number of its pull: `Run 1 RPM`, `HP #1`, `Power 1 (hp)`.
fn without_number(head: &str) -> String {
    let words = head.split([' ', '_']).filter(|word| {
        let bare = word.trim_matches(['#', ':', '-', '.']);
        let number = !bare.is_empty() && bare.bytes().all(|b| b.is_ascii_digit());
        let pull = ["run", "pull", "lauf", "test"].iter().any(|of| {
            bare.to_lowercase()
                .trim_end_matches(|c: char| c.is_ascii_digit())
                == *of
        });
        !number && !pull
    });
    words.collect::<Vec<_>>().join(" ")
}
