//! One cell of a table: a number in any dialect, a time of day, nothing, or words.
//!
//! A number may group its thousands, carry a per cent sign or its unit; a time may be of the clock, with or without a date. Which of comma and point marks
//! decimals is decided for the whole table ([`Marks`]), never cell by cell: `6,500` alone says nothing.

use super::dialect::DecimalMark;

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    /// A number; also one that is not finite.
    Number(f64),
    /// A time of day, with its date where it has one, in seconds from any zero.
    Clock(f64),
    /// Nothing, or a word for it.
    Missing,
    /// Words.
    Text,
}

/// Words for no value, lower case.
const MISSING: &[&str] = &[
    "", "-", "--", "---", "----", "n/a", "na", "#n/a", "n.a.", "null", "none", "?", "*", "...",
    "nil", "#value!", "#div/0!", "no data", "invalid",
];

/// Whether a cell says that it holds no value.
pub(super) fn is_missing(text: &str) -> bool {
    text.len() <= 8 && MISSING.contains(&text.to_ascii_lowercase().as_str())
}

/// Reads a cell; `unit` is what every cell of its column carries behind the number.
pub(super) fn read(text: &str, mark: DecimalMark, unit: Option<&str>) -> Cell {
    let text = text.trim();
    if mark == DecimalMark::Point
        && let Ok(number) = text.parse::<f64>()
    {
        return Cell::Number(number);
    }
    if is_missing(text) {
        return Cell::Missing;
    }
    let bare = unit.map_or(text, |unit| {
        text.strip_suffix(unit).unwrap_or(text).trim_end()
    });
    let bare = bare.strip_suffix('%').unwrap_or(bare).trim_end();
    if let Some(number) = number(bare, mark) {
        return Cell::Number(number);
    }
    clock(text).map_or(Cell::Text, Cell::Clock)
}

/// A number by the table's decimal mark; thousands may be grouped by the other mark, a blank or an apostrophe.
fn number(text: &str, mark: DecimalMark) -> Option<f64> {
    let (decimal, group) = match mark {
        DecimalMark::Point => ('.', ','),
        DecimalMark::Comma => (',', '.'),
    };
    let mut plain = String::with_capacity(text.len());
    let (whole, fraction) = match text.find(decimal) {
        Some(at) => (&text[..at], Some(&text[at + 1..])),
        None => (text, None),
    };
    let is_group =
        |letter: char| letter == group || letter == '\'' || letter == '’' || is_blank(letter);
    let grouped = whole.contains(is_group);
    if grouped && !thousands(whole, is_group) {
        // `1.5e3`, or decimals by the other mark: not a number of this table.
        return None;
    }
    for letter in whole.chars().filter(|&letter| !is_group(letter)) {
        plain.push(if letter == '−' { '-' } else { letter });
    }
    if let Some(fraction) = fraction {
        plain.push('.');
        plain.push_str(fraction);
    }
    plain.parse().ok()
}

fn is_blank(letter: char) -> bool {
    matches!(letter, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}')
}

/// Whether groups stand where thousands do: one to three digits, then threes.
fn thousands(whole: &str, is_group: impl Fn(char) -> bool) -> bool {
    let mut groups = whole.trim_start_matches(['+', '-', '−']).split(is_group);
    let digits = |group: &str| group.bytes().all(|byte| byte.is_ascii_digit());
    let first = groups.next().unwrap_or_default();
    (1..=3).contains(&first.len())
        && digits(first)
        && groups.all(|group| group.len() == 3 && digits(group))
}

/// A time of day: `h:mm:ss`, `mm:ss.s`, with a date before it, a half of the day or an offset behind it.
fn clock(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches(['Z', 'z']);
    let colon = text.find(':')?;
    let start = text[..colon]
        .rfind(|c: char| !c.is_ascii_digit())
        .map_or(0, |at| at + 1);
    let start = text.get(start..).map_or(0, |_| start);
    let day = day(text[..start].trim_end_matches(['T', 't', ' ', ',', ';']))?;
    let mut rest = text[start..].trim();
    let mut half = None;
    for (word, hours) in [("am", 0.0), ("pm", 12.0)] {
        if rest.len() > 2
            && rest.is_char_boundary(rest.len() - 2)
            && rest[rest.len() - 2..].eq_ignore_ascii_case(word)
        {
            rest = rest[..rest.len() - 2].trim_end();
            half = Some(hours);
        }
    }
    // An offset from universal time moves every row alike.
    if let Some(at) = rest.rfind(['+', '-']) {
        rest = rest[..at].trim_end();
    }
    let parts: Vec<f64> = rest
        .split(':')
        .map(|part| {
            let part = part.replace(',', ".");
            let plain = part
                .bytes()
                .all(|byte| byte.is_ascii_digit() || byte == b'.');
            (plain && !part.is_empty())
                .then(|| part.parse().ok())
                .flatten()
        })
        .collect::<Option<_>>()?;
    let seconds = match parts[..] {
        [minutes, seconds] if seconds < 60.0 => 60.0 * minutes + seconds,
        [hours, minutes, seconds] if minutes < 60.0 && seconds < 61.0 => {
            let hours = half.map_or(hours, |half| hours % 12.0 + half);
            3600.0 * hours + 60.0 * minutes + seconds
        }
        // Milliseconds behind a fourth colon.
        [hours, minutes, seconds, thousandths] => {
            3600.0 * hours + 60.0 * minutes + seconds + thousandths / 1e3
        }
        _ => return None,
    };
    Some(86_400.0 * day + seconds)
}

/// Days of a date, such that the days of one month follow each other; nothing is a day of its own.
fn day(text: &str) -> Option<f64> {
    let text = text.trim();
    if text.is_empty() {
        return Some(0.0);
    }
    let parts: Vec<&str> = text
        .split(['-', '.', '/', ' '])
        .filter(|part| !part.is_empty())
        .collect();
    let numbers: Vec<f64> = parts.iter().filter_map(|part| part.parse().ok()).collect();
    if parts.len() < 2 || parts.len() > 4 || numbers.len() < 2 {
        return None;
    }
    // Of year-month-day the last is the day; of the other orders a pull does not last over the end of a month.
    Some(if parts[0].len() == 4 {
        *numbers.last()?
    } else {
        numbers[0]
    })
}

/// A number with words behind it: where they begin.
pub(super) fn unit_behind(text: &str) -> Option<&str> {
    let text = text.trim();
    let mut letters = text.char_indices().peekable();
    let mut digits = false;
    while let Some((at, letter)) = letters.next() {
        let exponent = matches!(letter, 'e' | 'E')
            && digits
            && letters
                .peek()
                .is_some_and(|(_, next)| next.is_ascii_digit() || matches!(next, '+' | '-'));
        if letter.is_ascii_digit() {
            digits = true;
        } else if !exponent
            && !matches!(letter, '+' | '-' | '−' | '.' | ',' | '\'')
            && !is_blank(letter)
        {
            let mut rest = text[at..].trim();
            // The one over which a unit stands is its own: `1953 1/min`.
            if letter == '/'
                && let Some((_, one)) = text[..at].rsplit_once(' ')
                && one == "1"
            {
                rest = text[at - 1..].trim();
            }
            return (digits && !rest.is_empty()).then_some(rest);
        }
    }
    None
}

/// Whether a cell is a number in some dialect, with or without a unit behind it, or a time.
pub(super) fn looks_like_number(text: &str) -> bool {
    let text = text.trim();
    let bare = text.strip_suffix('%').unwrap_or(text).trim_end();
    number(bare, DecimalMark::Point).is_some()
        || number(bare, DecimalMark::Comma).is_some()
        || clock(text).is_some()
}

/// What was seen of points and commas in numbers.
#[derive(Debug, Clone, Default)]
pub(super) struct Marks {
    /// A number whose comma can only mark decimals: its line and text.
    pub(super) comma_decimal: Option<(usize, String)>,
    /// A number whose point can only mark decimals.
    pub(super) point_decimal: Option<(usize, String)>,
    /// A number whose comma may do either.
    pub(super) comma_either: Option<(usize, String)>,
    /// A number whose comma can only group thousands.
    comma_groups: bool,
    /// A number whose point can only group thousands.
    point_groups: bool,
}

impl Marks {
    /// Takes note of one number.
    pub(super) fn note(&mut self, text: &str, line: usize) {
        let text = text.trim();
        let (commas, points) = (text.matches(',').count(), text.matches('.').count());
        if commas == 0 && points == 0 || !looks_like_number(text) || text.contains(':') {
            return;
        }
        let keep = |slot: &mut Option<(usize, String)>| {
            if slot.is_none() {
                *slot = Some((line, text.to_owned()));
            }
        };
        match (commas, points) {
            (1, 1) if text.find(',') > text.find('.') => keep(&mut self.comma_decimal),
            (1, 1) => keep(&mut self.point_decimal),
            (_, 1) if commas > 1 => keep(&mut self.point_decimal),
            (1, _) if points > 1 => keep(&mut self.comma_decimal),
            (0, 1)
                if !thousands(text, |c| c == '.')
                    || text.trim_start_matches(['+', '-']).starts_with('0') =>
            {
                keep(&mut self.point_decimal);
            }
            (1, 0)
                if !thousands(text, |c| c == ',')
                    || text.trim_start_matches(['+', '-']).starts_with('0') =>
            {
                keep(&mut self.comma_decimal);
            }
            (1, 0) => keep(&mut self.comma_either),
            (0, 1) => {}
            (0, _) => self.point_groups = true,
            _ => self.comma_groups = true,
        }
    }

    /// Whether a number of the table shows the mark for certain.
    pub(super) fn shown(&self) -> bool {
        let groups = self.point_groups || self.comma_groups;
        self.comma_decimal.is_some() || self.point_decimal.is_some() || groups
    }

    /// The mark, where the numbers show it; none where they do not.
    pub(super) fn decided(&self) -> Option<DecimalMark> {
        match (&self.comma_decimal, &self.point_decimal) {
            (Some(_), None) => Some(DecimalMark::Comma),
            (None, Some(_)) => Some(DecimalMark::Point),
            (Some(_), Some(_)) => None,
            (None, None) if self.point_groups => Some(DecimalMark::Comma),
            (None, None) if self.comma_groups => Some(DecimalMark::Point),
            (None, None) => self.comma_either.is_none().then_some(DecimalMark::Point),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_read_in_its_dialect() {
        use DecimalMark::{Comma, Point};
        for (text, mark, unit, cell) in [
            ("41.25", Point, None, Cell::Number(41.25)),
            (" 41,25 ", Comma, None, Cell::Number(41.25)),
            ("6,500", Point, None, Cell::Number(6500.0)),
            ("6,500", Comma, None, Cell::Number(6.5)),
            ("6.500,5", Comma, None, Cell::Number(6500.5)),
            ("6 500,5", Comma, None, Cell::Number(6500.5)),
            ("6'500", Point, None, Cell::Number(6500.0)),
            ("−3,5", Comma, None, Cell::Number(-3.5)),
            ("1e3", Point, None, Cell::Number(1000.0)),
            ("1,5e3", Comma, None, Cell::Number(1500.0)),
            ("98 %", Point, None, Cell::Number(98.0)),
            ("201.3 hp", Point, Some("hp"), Cell::Number(201.3)),
            ("0,5", Point, None, Cell::Text),
            ("n/a", Point, None, Cell::Missing),
            ("", Comma, None, Cell::Missing),
            ("OFF", Point, None, Cell::Text),
            ("2x00", Point, None, Cell::Text),
            ("0:01:02.5", Point, None, Cell::Clock(62.5)),
            ("01:02,5", Comma, None, Cell::Clock(62.5)),
            (
                "2025-03-21T14:00:01.5Z",
                Point,
                None,
                Cell::Clock(21.0 * 86400.0 + 50401.5),
            ),
            (
                "21.03.2025 14:00:01",
                Point,
                None,
                Cell::Clock(21.0 * 86400.0 + 50401.0),
            ),
            ("2:00:01 PM", Point, None, Cell::Clock(50401.0)),
            ("12:00:01 am", Point, None, Cell::Clock(1.0)),
            ("rpm: 3", Point, None, Cell::Text),
        ] {
            assert_eq!(read(text, mark, unit), cell, "{text}");
        }
    }

    #[test]
    fn the_mark_is_decided_from_what_can_mean_one_thing_only() {
        let decided = |texts: &[&str]| {
            let mut marks = Marks::default();
            for text in texts {
                marks.note(text, 1);
            }
            marks.decided()
        };
        assert_eq!(decided(&["0,1", "6.500"]), Some(DecimalMark::Comma));
        assert_eq!(decided(&["6,500", "0.1"]), Some(DecimalMark::Point));
        assert_eq!(decided(&["6,500", "6,501"]), None);
        assert_eq!(decided(&["0,1", "0.1"]), None);
        assert_eq!(decided(&["1.234.567"]), Some(DecimalMark::Comma));
        assert_eq!(decided(&["7", "8"]), Some(DecimalMark::Point));
    }

    #[test]
    fn the_unit_behind_a_number_is_found() {
        assert_eq!(unit_behind("201.3 hp"), Some("hp"));
        assert_eq!(unit_behind("5400rpm"), Some("rpm"));
        assert_eq!(unit_behind("1953 1/min"), Some("1/min"));
        assert_eq!(unit_behind("1e3"), None);
        assert_eq!(unit_behind("12"), None);
        assert_eq!(unit_behind("abc"), None);
    }
}
