//! Where the table of a file is: what separates its fields, which line heads it, which one holds units, where its rows begin.
//!
//! Exports put a sheet's worth of remarks above the table, name the separator in a line of its own, split heads over two lines, or have units above the heads.
//! So nothing is looked for at a fixed place: the rows of numbers are found first, by what a row of the same table must have in common with the next, and the
//! head among the lines above them by the names that are known. It reads no numbers.

use super::RunOptions;
use super::cell::{is_missing, looks_like_number};
use super::header::{Meaning, is_unit, understand};
use super::lexicon::Lexicon;

/// Lines looked at.
const LINES: usize = 400;
/// Bytes looked at: taken apart they are some twenty times as many in memory, and no table of a car puts its head further down.
const BYTES: usize = 1 << 20;
/// Lines above the rows among which the head is looked for.
const ABOVE: usize = 12;
/// A stretch of rows counts as the table when it is at least this share of the longest.
const SHARE: f64 = 0.3;

/// What separates fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Separator {
    /// One sign.
    Sign(u8),
    /// Any number of blanks.
    Blanks,
}

/// A line of the file that holds something.
#[derive(Debug, Clone)]
pub(super) struct Line<'t> {
    /// From 1.
    pub(super) number: usize,
    /// Where it begins in the text.
    pub(super) start: usize,
    pub(super) text: &'t str,
}

/// Where the table is.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    pub(super) separator: Separator,
    /// Heads of the columns; empty where the table has none.
    pub(super) header: Vec<String>,
    /// Line of the head, from 1; that of the first row where there is none.
    pub(super) header_line: usize,
    pub(super) header_start: usize,
    pub(super) units: Option<Vec<String>>,
    /// Where the rows begin, and their first line.
    pub(super) rows_start: usize,
    pub(super) rows_line: usize,
    /// The first rows, taken apart.
    pub(super) sample: Vec<(usize, Vec<String>)>,
    /// What stands above the table.
    pub(super) preamble: Vec<String>,
}

/// The lines at the beginning of a text, remarks included, blank ones left out. A line that opens a quote goes on to where it is closed.
fn first_lines(text: &str) -> Vec<Line<'_>> {
    let mut lines = Vec::new();
    let (mut at, mut number) = (0, 1);
    while at < text.len().min(BYTES) && lines.len() < LINES {
        let end_of = |from: usize| text[from..].find('\n').map_or(text.len(), |end| from + end);
        let mut end = end_of(at);
        let mut taken = 1;
        let open = |end: usize| text[at..end].matches('"').count() % 2 == 1;
        // Only a head is written over several lines; a quote left open in a row is the row's mistake.
        while open(end) && end < text.len() && taken < 4 {
            end = end_of(end + 1);
            taken += 1;
        }
        if open(end) || (taken > 1 && text[at..end].bytes().filter(u8::is_ascii_digit).count() > 12)
        {
            end = end_of(at);
            taken = 1;
        }
        let line = text[at..end].trim_end_matches('\r');
        if !line.trim().is_empty() {
            lines.push(Line {
                number,
                start: at,
                text: line,
            });
        }
        number += taken;
        at = end + 1;
    }
    lines
}

/// Fields of a line, blanks and quotes left out.
pub(super) fn cells(line: &str, separator: Separator) -> Vec<String> {
    let Separator::Sign(sign) = separator else {
        return line.split_whitespace().map(str::to_owned).collect();
    };
    let mut cells = Vec::new();
    let mut cell = String::new();
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                cell.push('"');
            }
            '"' => quoted = !quoted,
            letter if letter == char::from(sign) && !quoted => {
                cells.push(tidied(&std::mem::take(&mut cell)));
            }
            letter => cell.push(letter),
        }
    }
    cells.push(tidied(&cell));
    if sign == b'|' {
        // A ruled table has its signs at the edges too.
        if cells.first().is_some_and(String::is_empty) {
            cells.remove(0);
        }
        if cells.last().is_some_and(String::is_empty) {
            cells.pop();
        }
    }
    cells
}

fn tidied(cell: &str) -> String {
    cell.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Number,
    Missing,
    Words,
}

fn kind(cell: &str) -> Kind {
    if is_missing(cell) {
        Kind::Missing
    } else if looks_like_number(cell)
        || matches!(cell.to_ascii_lowercase().as_str(), "nan" | "inf" | "-inf")
        || super::cell::unit_behind(cell).is_some_and(is_unit)
    {
        Kind::Number
    } else {
        Kind::Words
    }
}

/// A stretch of lines that can be rows of one table.
struct Stretch {
    lines: std::ops::Range<usize>,
    width: usize,
    score: f64,
}

/// The stretches by one separator.
fn stretches(lines: &[Line<'_>], separator: Separator) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    let mut before: Option<Vec<Kind>> = None;
    for (index, line) in lines.iter().enumerate() {
        if line.text.trim_start().starts_with('#') {
            continue;
        }
        let mut kinds: Vec<Kind> = cells(line.text, separator)
            .iter()
            .map(|cell| kind(cell))
            .collect();
        while kinds.last() == Some(&Kind::Missing) && kinds.len() > 1 {
            kinds.pop();
        }
        let numbers = kinds.iter().filter(|k| **k == Kind::Number).count();
        let words = kinds.iter().filter(|k| **k == Kind::Words).count();
        if numbers == 0 || (numbers < 2 && numbers < words) {
            before = None;
            continue;
        }
        let score = numbers as f64 - 0.25 * words as f64;
        let goes_on = before.as_ref().is_some_and(|before| {
            let alike = before.iter().zip(&kinds).filter(|(a, b)| a == b).count();
            let near = before.len().abs_diff(kinds.len()) <= 1 + before.len() / 4;
            near && 2 * alike >= before.len().min(kinds.len())
        });
        match found.last_mut().filter(|_| goes_on) {
            Some(stretch) => {
                stretch.lines.end = index + 1;
                stretch.width = stretch.width.max(kinds.len());
                stretch.score += score;
            }
            None => found.push(Stretch {
                lines: index..index + 1,
                width: kinds.len(),
                score,
            }),
        }
        before = Some(kinds);
    }
    found
}

const SEPARATORS: [Separator; 5] = [
    Separator::Sign(b'\t'),
    Separator::Sign(b';'),
    Separator::Sign(b'|'),
    Separator::Sign(b','),
    Separator::Blanks,
];

/// The separator that a first line such as `sep=;` names.
fn named_separator(lines: &[Line<'_>]) -> Option<Separator> {
    let line = lines
        .first()?
        .text
        .trim()
        .trim_matches('"')
        .to_ascii_lowercase();
    let sign = line.strip_prefix("sep=")?;
    match sign.as_bytes() {
        [] | [b'\t'] => Some(Separator::Sign(b'\t')),
        [sign] => Some(Separator::Sign(*sign)),
        _ => None,
    }
}

/// Finds the table; none where the text has no row that could be one.
pub(super) fn find(text: &str, options: &RunOptions, lexicon: &Lexicon) -> Option<Layout> {
    let lines = first_lines(text);
    let named = named_separator(&lines);
    let candidates = named.map_or_else(|| SEPARATORS.to_vec(), |named| vec![named]);
    let mut best: Option<(Separator, Vec<Stretch>, f64)> = None;
    for separator in candidates {
        let found = stretches(&lines, separator);
        let most = found.iter().map(|s| s.score).fold(0.0, f64::max);
        if found.is_empty() {
            continue;
        }
        // On a tie the sign that comes first in the list.
        if best
            .as_ref()
            .is_none_or(|(_, _, score)| most > score + 1e-9)
        {
            best = Some((separator, found, most));
        }
    }
    let Some((separator, found, most)) = best else {
        return without_rows(&lines, options, lexicon);
    };
    let table = found.iter().find(|stretch| stretch.score >= SHARE * most)?;
    let head = Head::above(&lines, table, separator, options, lexicon);
    let first = &lines[table.lines.start];
    let sample = lines[table.lines.clone()]
        .iter()
        .filter(|line| !line.text.trim_start().starts_with('#'))
        .map(|line| (line.number, cells(line.text, separator)))
        .collect();
    let used = head.used.clone();
    let preamble = lines[..table.lines.start].iter().enumerate();
    let preamble = preamble
        .filter(|(index, _)| !used.contains(index))
        .map(|(_, line)| line.text.to_owned())
        .collect();
    Some(Layout {
        separator,
        header: head.cells,
        header_line: head.line.map_or(first.number, |at| lines[at].number),
        header_start: head.line.map_or(first.start, |at| lines[at].start),
        units: head.units,
        rows_start: first.start,
        rows_line: first.number,
        sample,
        preamble,
    })
}

/// A head without rows, so that its mistakes can be told.
fn without_rows(lines: &[Line<'_>], options: &RunOptions, lexicon: &Lexicon) -> Option<Layout> {
    let plain = lines
        .iter()
        .filter(|line| !line.text.trim_start().starts_with('#'));
    let (line, separator, header) = plain
        .flat_map(|line| {
            let of = super::dialect::separator(line.text);
            [Separator::Sign(of), Separator::Blanks].map(|by| (line, by, cells(line.text, by)))
        })
        .filter(|(_, _, cells)| known(cells, None, options, lexicon) > 0 || lines.len() <= 2)
        .max_by_key(|(_, by, cells)| {
            (
                known(cells, None, options, lexicon),
                *by != Separator::Blanks,
            )
        })?;
    let end = line.start + line.text.len();
    Some(Layout {
        separator,
        header,
        header_line: line.number,
        header_start: line.start,
        units: None,
        rows_start: end,
        rows_line: line.number,
        sample: Vec::new(),
        preamble: Vec::new(),
    })
}

/// How many cells are names that are known.
pub(super) fn known(
    cells: &[String],
    units: Option<&[String]>,
    options: &RunOptions,
    lexicon: &Lexicon,
) -> usize {
    let below = |index: usize| units.and_then(|units| units.get(index)).map(String::as_str);
    cells
        .iter()
        .enumerate()
        .filter(|(index, cell)| {
            !cell.is_empty()
                && understand(cell, below(*index), options, lexicon) != Meaning::Unknown
        })
        .count()
}

/// Whether a row names units: no numbers but `1`, the unit of a plain number, and mostly units where it is not empty.
pub(super) fn holds_units(cells: &[String]) -> bool {
    let filled: Vec<&String> = cells
        .iter()
        .filter(|cell| !cell.is_empty() && *cell != "1" && *cell != "-")
        .collect();
    let units = filled.iter().filter(|cell| is_unit(cell)).count();
    let numbers = filled.iter().any(|cell| looks_like_number(cell));
    !numbers && units > 0 && 2 * units >= filled.len()
}

#[derive(Debug, Default)]
struct Head {
    cells: Vec<String>,
    units: Option<Vec<String>>,
    /// Index of its line.
    line: Option<usize>,
    /// Indices of all lines that belong to it.
    used: Vec<usize>,
    /// Names in it that are known.
    known: usize,
}

impl Head {
    /// The best head among the lines above the rows: the one with the most known names, the nearest of equals.
    fn above(
        lines: &[Line<'_>],
        table: &Stretch,
        separator: Separator,
        options: &RunOptions,
        lexicon: &Lexicon,
    ) -> Self {
        let first = lines[table.lines.start].text;
        let from = table.lines.start.saturating_sub(ABOVE);
        let rows: Vec<(usize, Vec<String>)> = (from..table.lines.start)
            .map(|at| {
                (
                    at,
                    head_cells(lines[at].text, separator, table.width, first),
                )
            })
            .collect();
        let units = rows
            .iter()
            .rev()
            .find(|(_, cells)| holds_units(cells) && cells.len() > 1);
        let unit_cells = units.map(|(_, cells)| cells.clone());
        let mut best = Self::default();
        let mut offer =
            |cells: Vec<String>, units: Option<&Vec<String>>, at: usize, used: Vec<usize>| {
                let count = known(&cells, units.map(Vec::as_slice), options, lexicon);
                if count > best.known {
                    best = Self {
                        cells,
                        units: units.cloned(),
                        line: Some(at),
                        used,
                        known: count,
                    };
                }
            };
        let remark = |at: usize| lines[at].text.trim_start().starts_with('#');
        let fits = |cells: &[String]| cells.len() >= 2 || table.width == 1;
        // Lines that are no remarks come first, and the nearest.
        for remarks in [false, true] {
            for (at, cells) in rows.iter().rev().filter(|(at, _)| remark(*at) == remarks) {
                let is_units = units.is_some_and(|(unit_at, _)| unit_at == at);
                if is_units || !fits(cells) {
                    continue;
                }
                let mut used = vec![*at];
                used.extend(units.map(|(at, _)| *at));
                offer(cells.clone(), unit_cells.as_ref(), *at, used.clone());
                // A head over two lines.
                if let Some((above, upper)) = rows.iter().rev().find(|(above, _)| above < at)
                    && units.is_none_or(|(unit_at, _)| unit_at != above)
                    && upper.len().abs_diff(cells.len()) <= 1
                    && fits(upper)
                {
                    let joined = (0..upper.len().max(cells.len())).map(|i| {
                        let part = |row: &[String]| row.get(i).cloned().unwrap_or_default();
                        format!("{} {}", part(upper), part(cells)).trim().to_owned()
                    });
                    used.push(*above);
                    offer(joined.collect(), unit_cells.as_ref(), *above, used);
                }
            }
        }
        // A row of units alone heads the table by itself, `s;rpm;kW`, unless names stand above it of which one is known: the others are other columns.
        if let Some((at, cells)) = units {
            let only_units = cells.iter().all(|cell| cell.is_empty() || is_unit(cell));
            let names_above =
                only_units && best.known > 0 && best.cells.len().abs_diff(cells.len()) <= 1;
            let count = known(cells, None, options, lexicon);
            if !names_above && count > best.known {
                best = Self {
                    cells: cells.clone(),
                    units: None,
                    line: Some(*at),
                    used: vec![*at],
                    known: count,
                };
            }
        }
        if best.line.is_some() {
            best.take_groups(lines, &rows, options, lexicon);
            return best;
        }
        // Nobody knows a name: the nearest line of as many words.
        let nearest = rows
            .iter()
            .rev()
            .filter(|(at, _)| !remark(*at))
            .find(|(_, cells)| cells.len() == table.width || cells.len() == table.width + 1);
        match nearest {
            Some((at, cells)) => Self {
                cells: cells.clone(),
                units: None,
                line: Some(*at),
                used: vec![*at],
                known: 0,
            },
            None => Self::default(),
        }
    }
}

impl Head {
    /// Groups named above the heads, each over the columns up to the next: `Corrected` over `Power` and `Torque`. Only what makes of a power or torque one of another
    /// kind is taken; `Rig` and `ECU` over their columns say nothing.
    fn take_groups(
        &mut self,
        lines: &[Line<'_>],
        rows: &[(usize, Vec<String>)],
        options: &RunOptions,
        lexicon: &Lexicon,
    ) {
        let first = self.used.iter().min().copied().unwrap_or(0);
        let Some((at, groups)) = rows.iter().rev().find(|(at, _)| *at < first) else {
            return;
        };
        let filled = groups.iter().filter(|cell| !cell.is_empty()).count();
        let merged = filled > 0 && filled < groups.len();
        if !merged
            || groups.len() > self.cells.len() + 1
            || lines[*at].text.trim_start().starts_with('#')
        {
            return;
        }
        let channels = |cell: &str, at: usize| {
            let below = self.units.as_ref().and_then(|units| units.get(at));
            match understand(cell, below.map(String::as_str), options, lexicon) {
                Meaning::Numbers(reading) => vec![reading.channel],
                Meaning::Open(open) => open.channels,
                _ => Vec::new(),
            }
        };
        let mut group = "";
        let mut named = Vec::new();
        for (column, cell) in self.cells.iter().enumerate() {
            if let Some(next) = groups.get(column).filter(|cell| !cell.is_empty()) {
                group = next;
            }
            let with = format!("{group} {cell}");
            let plain = channels(cell, column);
            let is_power = plain.iter().any(|of| {
                matches!(
                    of.dimension(),
                    Some(crate::units::Dimension::Power | crate::units::Dimension::Torque)
                )
            });
            if !group.is_empty() && is_power && !channels(&with, column).is_empty() {
                named.push((column, with));
            }
        }
        if named.is_empty() {
            return;
        }
        for (column, with) in named {
            self.cells[column] = with;
        }
        self.used.push(*at);
    }
}

/// Fields of a line that may be a head: by the table's separator, or by another one where that gives as many fields as the rows have.
fn head_cells(line: &str, separator: Separator, width: usize, row: &str) -> Vec<String> {
    let line = line.trim_start().trim_start_matches('#');
    let own = cells(line, separator);
    if separator == Separator::Blanks
        && own.len() != width
        && let Some(apart) = under_edges(line, row, width)
    {
        return apart;
    }
    if own.len() >= width.min(2) && own.len() + 1 >= width {
        return own;
    }
    let mut others = SEPARATORS.into_iter().filter(|other| *other != separator);
    others
        .find_map(|other| Some(cells(line, other)).filter(|cells| cells.len() == width))
        .unwrap_or(own)
}

/// Names of several words over columns of blanks: parted where two blanks stand, or else where the fields of a row end, or begin.
fn under_edges(line: &str, row: &str, width: usize) -> Option<Vec<String>> {
    let filled = |cells: Vec<String>| {
        (cells.len() == width && cells.iter().all(|cell| !cell.is_empty())).then_some(cells)
    };
    let apart = line.split("  ").map(tidied);
    if let Some(cells) = filled(apart.filter(|cell| !cell.is_empty()).collect()) {
        return Some(cells);
    }
    let letters: Vec<char> = line.chars().collect();
    let row: Vec<char> = row.chars().collect();
    let is_blank = |of: &[char], at: usize| of.get(at).is_none_or(|letter| letter.is_whitespace());
    let edge = |at: usize, ends: bool| {
        let (own, next) = (is_blank(&row, at), is_blank(&row, at + 1));
        if ends { !own && next } else { own && !next }
    };
    [true, false].into_iter().find_map(|ends| {
        let edges: Vec<usize> = (0..row.len())
            .filter(|&at| edge(at, ends))
            .map(|at| at + 1)
            .collect();
        let whole = edges
            .iter()
            .all(|&at| is_blank(&letters, at) || is_blank(&letters, at - 1));
        let mut cells = Vec::new();
        let mut from = 0;
        for &at in edges.iter().chain([&letters.len().max(row.len())]) {
            let cell: String = letters.iter().take(at).skip(from).collect();
            from = at;
            cells.push(tidied(&cell));
        }
        cells.retain(|cell| !cell.is_empty());
        whole.then_some(cells).and_then(filled)
    })
}
