//! From bytes to a [`RunFile`]: the table found, its columns understood, its rows read, with all problems collected.
//!
//! Rows are read before columns are settled, because numbers may show what a header leaves open. A line of words between or behind the rows is no row; a cell
//! of words in a row is a reading that is not there.

use std::borrow::Cow;
use std::collections::HashSet;
use std::sync::Arc;

use csv::ByteRecord;

use super::cell::{self, Cell, Marks};
use super::channel::Channel;
use super::dialect::DecimalMark;
use super::header::{Meaning, same_head, understand_as};
use super::lexicon::Lexicon;
use super::rows::{Place, Rows};
use super::shapes::{Table, straight};
use super::{RunFile, RunOptions, foreign, layout};
use crate::files::diagnostic::{Code, Excerpt, Problem, Problems};
use crate::files::encoding::{Encoding, OTHER_PAGES, decode_page, decode_recording, unmangled};
use crate::files::shown::clipped;

pub(super) fn read(
    name: &str,
    bytes: &[u8],
    options: &RunOptions,
    lexicon: &Lexicon,
) -> Result<RunFile, Problems> {
    let (text, encoding) = decode_recording(name, bytes)?;
    let (text, encoding) = match encoding {
        Encoding::Windows1252 => in_best_page(text, bytes, options, lexicon),
        _ => (text, encoding),
    };
    let text = unmangled(&text).map_or(text, Cow::Owned);
    // Line ends of a carriage return alone, as very old systems wrote them.
    let text = if text.contains('\r') && !text.contains('\n') {
        Cow::Owned(text.replace('\r', "\n"))
    } else {
        text
    };
    if let Some(format) = foreign::format_of(&text) {
        return Err(foreign::refused(name, format).into());
    }
    let text = unquoted(&text).map_or(text, Cow::Owned);
    let Some(layout) = layout::find(&text, options, lexicon) else {
        return Err(
            Problem::of_file(Code::FILE_EMPTY, name, "the file has no table")
                .expected("a header row and rows of numbers")
                .into(),
        );
    };
    let stated;
    let options = match stated_ratio(&layout.preamble) {
        Some(ratio) if options.stoichiometric.is_none() => {
            stated = RunOptions {
                stoichiometric: Some(ratio),
                ..options.clone()
            };
            &stated
        }
        _ => options,
    };
    let table = straight(&text, layout, options, lexicon);
    let mut sheet = Sheet::of(name, table, options, lexicon);
    sheet.read_rows();
    super::settle::finish(sheet, options, encoding)
}

/// Bytes by which code pages are told apart.
const PAGE_BYTES: usize = 1 << 18;

/// The text in the code page under which most heads are names that are known; the western one of equals.
fn in_best_page<'t>(
    text: Cow<'t, str>,
    bytes: &'t [u8],
    options: &RunOptions,
    lexicon: &Lexicon,
) -> (Cow<'t, str>, Encoding) {
    let known = |text: &str| {
        layout::find(text, options, lexicon).map_or(0, |layout| {
            layout::known(&layout.header, layout.units.as_deref(), options, lexicon)
        })
    };
    // The head tells; the rows are figures in every page.
    let start = &bytes[..bytes.len().min(PAGE_BYTES)];
    let end = start.iter().rposition(|&byte| byte == b'\n');
    let start = end.map_or(start, |end| &start[..end]);
    let known_in = |encoding| decode_page(start, encoding).map_or(0, |text| known(&text));
    let mut best = (Encoding::Windows1252, known_in(Encoding::Windows1252));
    for encoding in OTHER_PAGES {
        let count = known_in(encoding);
        if count > best.1 {
            best = (encoding, count);
        }
    }
    match decode_page(bytes, best.0).filter(|_| best.0 != Encoding::Windows1252) {
        Some(text) => (text, best.0),
        None => (text, Encoding::Windows1252),
    }
}

/// The text without quotes around every whole line, where each has those two and no others.
fn unquoted(text: &str) -> Option<String> {
    let inner = |line: &str| {
        let inner = line.trim().strip_prefix('"')?.strip_suffix('"')?.to_owned();
        (!inner.contains('"') && inner.contains([',', ';', '\t', '|'])).then_some(inner)
    };
    let filled = text.lines().filter(|line| !line.trim().is_empty());
    let lines: Option<Vec<String>> = filled.map(inner).collect();
    lines.filter(|lines| lines.len() > 1).map(|_| {
        let lines = text.lines().map(|line| inner(line).unwrap_or_default());
        lines.collect::<Vec<_>>().join("\n")
    })
}

/// The stoichiometric ratio that a line above the table states.
fn stated_ratio(preamble: &[String]) -> Option<f64> {
    let line = preamble
        .iter()
        .find(|line| line.to_lowercase().contains("stoich"))?;
    let number = |word: &str| {
        word.trim_end_matches(":1")
            .replace(',', ".")
            .parse::<f64>()
            .ok()
    };
    line.split([' ', '=', ':', ';', '\t', ','])
        .filter_map(number)
        .find(|ratio| (5.5..=16.0).contains(ratio))
}

/// A column as read, before it is known what it is.
#[derive(Debug)]
pub(super) struct Raw {
    /// Place in the row.
    pub(super) index: usize,
    pub(super) head: String,
    /// Whether an earlier column is headed alike.
    pub(super) repeated: bool,
    pub(super) meaning: Meaning,
    /// As written; not a number where a cell holds none.
    pub(super) values: Vec<f64>,
    /// Whether its cells are times of day.
    pub(super) clock: bool,
    /// Whether an answer named it.
    pub(super) answered: bool,
    /// What every cell carries behind its number.
    suffix: Option<String>,
    /// Cells without a value, and cells of words.
    pub(super) missing: usize,
    pub(super) words: usize,
    /// The first of either kind.
    pub(super) first: Option<BadCell>,
}

/// A cell that holds no number.
#[derive(Debug, Clone)]
pub(super) struct BadCell {
    pub(super) code: Code,
    pub(super) line: usize,
    pub(super) raw: String,
    pub(super) span: std::ops::Range<usize>,
    pub(super) text: String,
}

/// Rows that are no rows.
#[derive(Debug, Clone)]
pub(super) struct Odd {
    pub(super) first_line: usize,
    pub(super) text: String,
    pub(super) count: usize,
    /// Rows read before the latest of them.
    pub(super) rows_before: usize,
}

/// A table read, its columns not settled.
pub(super) struct Sheet<'t> {
    pub(super) name: String,
    pub(super) table: Table<'t>,
    pub(super) mark: DecimalMark,
    pub(super) columns: Vec<Raw>,
    label: Option<usize>,
    /// Headers nobody knows, and empty ones.
    pub(super) unknown: Vec<(usize, String)>,
    /// What some of those may be, were it not for words that nobody knows.
    pub(super) guesses: Vec<(usize, Vec<Channel>)>,
    pub(super) problems: Problems,
    /// First rows of stretches known to be apart, with their labels.
    pub(super) blocks: Vec<(usize, Option<String>)>,
    /// Line of each row.
    pub(super) lines: Vec<u32>,
    /// Lines of words.
    pub(super) odd: Option<Odd>,
    /// Rows with another number of fields.
    pub(super) ragged: Option<(Odd, usize)>,
}

impl<'t> Sheet<'t> {
    fn of(name: &str, table: Table<'t>, options: &RunOptions, lexicon: &Lexicon) -> Self {
        let mut sheet = Self {
            name: name.to_owned(),
            mark: DecimalMark::Point,
            columns: Vec::new(),
            label: None,
            unknown: Vec::new(),
            guesses: Vec::new(),
            problems: Problems::new(),
            blocks: Vec::new(),
            lines: Vec::new(),
            odd: None,
            ragged: None,
            table,
        };
        let mut seen = HashSet::new();
        for index in 0..sheet.table.header.len() {
            let head = sheet.table.header[index].clone();
            if head.is_empty() {
                continue;
            }
            let repeated = !seen.insert(head.to_lowercase());
            let suffix = sheet.suffix(index);
            let below = sheet
                .table
                .units
                .as_ref()
                .and_then(|units| units.get(index));
            let below = below
                .filter(|unit| !unit.is_empty())
                .or(suffix.as_ref())
                .cloned();
            let number = format!("#{}", index + 1);
            let named = options
                .columns
                .iter()
                .find(|(h, _)| *h == number || same_head(h, &head));
            let named = named.map(|(_, name)| name.as_str());
            let meaning = understand_as(&head, named, below.as_deref(), options, lexicon);
            match meaning {
                Meaning::Label if sheet.label.is_none() => sheet.label = Some(index),
                Meaning::Label | Meaning::LeftOut => {}
                Meaning::Unknown => {
                    let name = super::words::head(&head).humps.join(" ");
                    let guess = lexicon.loosely(&super::lexicon::words_of(&name));
                    if !guess.is_empty() {
                        sheet.guesses.push((index, guess));
                    }
                    sheet.unknown.push((index, head));
                }
                meaning => {
                    let answered = named.is_some() || options.units.iter().any(|(h, _)| *h == head);
                    sheet.columns.push(Raw {
                        index,
                        repeated,
                        head,
                        meaning,
                        values: Vec::new(),
                        clock: false,
                        answered,
                        suffix,
                        missing: 0,
                        words: 0,
                        first: None,
                    });
                }
            }
        }
        sheet.decide_mark(options);
        sheet
    }

    /// The unit that every cell of a column carries.
    fn suffix(&self, index: usize) -> Option<String> {
        let mut of = None;
        for (_, cells) in &self.table.sample {
            let cell = cells.get(index).map_or("", String::as_str);
            if cell::is_missing(cell) || cell.parse::<f64>().is_ok() {
                continue;
            }
            let unit = cell::unit_behind(cell)?;
            if of.get_or_insert(unit) != &unit {
                return None;
            }
        }
        of.filter(|unit| super::header::is_unit(unit))
            .map(str::to_owned)
    }

    /// Which sign marks decimals: shown by the first rows, or answered, or asked.
    fn decide_mark(&mut self, options: &RunOptions) {
        let mut marks = Marks::default();
        for (line, cells) in &self.table.sample {
            for raw in &self.columns {
                let cell = cells.get(raw.index).map_or("", String::as_str);
                let cell = raw.suffix.as_ref().map_or(cell, |unit| {
                    cell.strip_suffix(unit.as_str()).unwrap_or(cell)
                });
                if !cell.contains(':') {
                    marks.note(cell, *line);
                }
            }
        }
        let either = marks.comma_either.clone();
        self.mark = match (marks.decided(), options.decimal) {
            // `6.500` alone is taken with decimals, unless a person says that it groups.
            (Some(_), Some(answer)) if !marks.shown() => answer,
            (Some(mark), _) => mark,
            (None, Some(mark))
                if marks.comma_decimal.is_none() || marks.point_decimal.is_none() =>
            {
                mark
            }
            (None, _) => {
                let (line, number) = marks.comma_decimal.clone().or(either).unwrap_or_default();
                let message = if marks.point_decimal.is_some() {
                    format!("line {line} has '{number}', other numbers have a decimal point")
                } else {
                    format!(
                        "does '{number}' (line {line}) have decimals, or is the comma grouping thousands?"
                    )
                };
                let mut problem = Problem::of_file(Code::DECIMAL_AMBIGUOUS, &self.name, message)
                    .value(number)
                    .expected("one decimal sign in all numbers, and no grouping of thousands")
                    .help("settle it with --decimal comma or --decimal point of 'pullcast read', or decimal = \"comma\" beside the file's name");
                problem.line = Some(line);
                self.problems.push(problem.asking(self.heads(), Vec::new()));
                DecimalMark::Comma
            }
        };
    }

    /// A problem at a place of the head.
    pub(super) fn at_head(&self, code: Code, index: usize, message: String) -> Problem {
        let text = &self.table.header_text;
        let head = self.table.header.get(index).map_or("", String::as_str);
        let mut problem = Problem::of_file(code, &self.name, message).value(head);
        // The nth field of the same text, where heads repeat.
        let earlier = self.table.header[..index]
            .iter()
            .filter(|h| *h == head)
            .count();
        let place = text
            .match_indices(head)
            .nth(earlier)
            .or_else(|| text.match_indices(head).next());
        problem.line = Some(self.table.header_line);
        problem.column = place
            .map(|(at, _)| text[..at].chars().count() + 1)
            .or(Some(1));
        problem
    }

    /// Heads with the units below them, which tell one logger's files from another's.
    pub(super) fn heads(&self) -> Vec<String> {
        let below = |at: usize| {
            let units = self.table.units.as_ref()?;
            units.get(at).filter(|unit| !unit.is_empty())
        };
        let filled = self
            .table
            .header
            .iter()
            .enumerate()
            .filter(|(_, head)| !head.is_empty());
        filled
            .map(|(at, head)| match below(at) {
                Some(unit) => format!("{head} | {unit}"),
                None => head.clone(),
            })
            .collect()
    }

    fn read_rows(&mut self) {
        let body = std::mem::replace(&mut self.table.body, Cow::Borrowed(""));
        let mut rows = Rows::new(&body, self.table.separator, self.table.body_line);
        let mut record = ByteRecord::new();
        let mut new_block = true;
        while let Some(place) = rows.next(&mut record) {
            if self.repeats_head(&record) {
                new_block = true;
            } else if !self.read_row(&rows, &place, &record, &mut new_block) {
                break;
            }
        }
        drop(rows);
        self.table.body = body;
    }

    fn repeats_head(&self, record: &ByteRecord) -> bool {
        let same = |cells: &[String]| {
            let filled = cells
                .iter()
                .rposition(|cell| !cell.is_empty())
                .map_or(0, |at| at + 1);
            record.len() >= filled
                && filled > 0
                && record.iter().enumerate().all(|(at, field)| {
                    let field = String::from_utf8_lossy(field);
                    field
                        .split_whitespace()
                        .eq(cells.get(at).map_or("", String::as_str).split_whitespace())
                })
        };
        // Rows begin with a figure nearly always, heads never.
        let figure = record
            .get(0)
            .is_some_and(|field| field.trim_ascii().first().is_some_and(u8::is_ascii_digit));
        !figure && (same(&self.table.header) || self.table.units.as_deref().is_some_and(same))
    }

    /// Reads one row; false when what follows cannot be trusted.
    fn read_row(
        &mut self,
        rows: &Rows<'_>,
        place: &Place,
        record: &ByteRecord,
        new_block: &mut bool,
    ) -> bool {
        if rows.raw(place).contains('\n') {
            let line = rows.raw(place).lines().next().unwrap_or_default();
            let excerpt = Arc::new(Excerpt::line(&self.name, line, place.line));
            let message = "a quote opened on this line is not closed on it";
            let problem = Problem::at(Code::QUOTE_OPEN, &excerpt, 0..line.len(), message);
            self.problems
                .push(problem.expected("quotes in pairs, each field on one line"));
            return false;
        }
        let width = self.table.header.len();
        let mut cells: Vec<Cell> = Vec::with_capacity(self.columns.len());
        let mut numbers = 0;
        for raw in &self.columns {
            let field = record.get(raw.index).unwrap_or_default();
            let text = std::str::from_utf8(field).unwrap_or_default();
            let cell = cell::read(text, self.mark, raw.suffix.as_deref());
            numbers += usize::from(
                matches!(cell, Cell::Number(n) if n.is_finite()) || matches!(cell, Cell::Clock(_)),
            );
            cells.push(cell);
        }
        let words = cells.iter().filter(|cell| **cell == Cell::Text).count();
        if numbers == 0 || (words > 0 && 2 * numbers < self.columns.len() && words >= numbers) {
            self.note_odd(place.line, rows.raw(place), words > 0 || numbers == 0);
            return true;
        }
        let beyond = record
            .iter()
            .skip(width)
            .any(|field| !field.trim_ascii().is_empty());
        let last = self.columns.iter().map(|raw| raw.index).max().unwrap_or(0);
        if beyond || record.len() <= last {
            let before = self.lines.len();
            let (odd, _) = self.ragged.get_or_insert_with(|| {
                let text = rows.raw(place).to_owned();
                let odd = Odd {
                    first_line: place.line,
                    text,
                    count: 0,
                    rows_before: before,
                };
                (odd, record.len())
            });
            odd.count += 1;
            odd.rows_before = before;
            return true;
        }
        if let Some(label) = self.label {
            let label = String::from_utf8_lossy(record.get(label).unwrap_or_default().trim_ascii());
            let current = self.blocks.last().and_then(|(_, label)| label.as_deref());
            if *new_block || current != Some(label.as_ref()) {
                self.blocks
                    .push((self.lines.len(), Some(label.into_owned())));
                *new_block = false;
            }
        } else if *new_block {
            self.blocks.push((self.lines.len(), None));
            *new_block = false;
        }
        for (raw, cell) in self.columns.iter_mut().zip(cells) {
            let value = match cell {
                Cell::Number(value) if value.is_finite() => value,
                Cell::Clock(value) => {
                    raw.clock = true;
                    value
                }
                bad => {
                    let code = match bad {
                        Cell::Number(_) => Code::NUMBER_NOT_FINITE,
                        Cell::Missing => Code::VALUE_MISSING,
                        _ => Code::NUMBER_INVALID,
                    };
                    if bad == Cell::Text {
                        raw.words += 1;
                    } else {
                        raw.missing += 1;
                    }
                    if raw.first.is_none() {
                        let span = rows.field(place, raw.index);
                        let line = rows.raw(place);
                        raw.first = Some(BadCell {
                            code,
                            line: place.line,
                            text: line.get(span.clone()).unwrap_or_default().to_owned(),
                            raw: line.to_owned(),
                            span,
                        });
                    }
                    f64::NAN
                }
            };
            raw.values.push(value);
        }
        self.lines
            .push(u32::try_from(place.line).unwrap_or(u32::MAX));
        true
    }

    fn note_odd(&mut self, line: usize, text: &str, counts: bool) {
        if !counts {
            return;
        }
        let before = self.lines.len();
        let odd = self.odd.get_or_insert_with(|| Odd {
            first_line: line,
            text: clipped(text).into_owned(),
            count: 0,
            rows_before: before,
        });
        odd.count += 1;
        odd.rows_before = before;
    }
}
