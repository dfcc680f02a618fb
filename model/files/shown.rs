//! Characters that would act on a screen, a page or a table instead of being seen there.
//!
//! A name in a file may hold an escape, a bell or a mark that turns the direction of what follows; put out as it is, a name could move the cursor
//! or make a number read backwards. Such characters are written as their code, `[U+202E]`. Source of the list of marks: Unicode Standard Annex 9,
//! table 1, with the line and paragraph separators; the byte order mark, which is invisible, is added. A cell that begins with one of
//! `= + - @` is run as a formula by spreadsheets (common practice, no source): it gets an apostrophe in front.

use std::borrow::Cow;

/// Whether a character acts instead of being seen. Line ends and tabs only lay out.
pub(super) fn acts(c: char) -> bool {
    (c.is_control() && c != '\n' && c != '\t')
        || matches!(
            c,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}' | '\u{2029}' | '\u{feff}'
        )
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Text with such characters as their codes.
pub fn shown(text: &str) -> Cow<'_, str> {
    each(text, acts, code)
}

/// As [`shown`], line ends and tabs too: what has to stay on its line, such as a name or a comment.
pub fn on_one_line(text: &str) -> Cow<'_, str> {
    each(text, |c| acts(c) || c == '\n' || c == '\t', code)
}

/// JSON with such characters escaped: the same value to whoever parses it.
pub fn escaped_json(json: &str) -> Cow<'_, str> {
    // All of them lie in the first plane, so four digits do.
    each(json, acts, |c| format!("\\u{:04x}", u32::from(c)))
}

/// The most characters of a value that a message repeats.
const LONGEST: usize = 120;

/// As [`shown`], cut where it is too long to be read.
pub fn clipped(text: &str) -> Cow<'_, str> {
    clipped_to(text, LONGEST)
}

/// As [`clipped`], to a number of characters.
pub(super) fn clipped_to(text: &str, longest: usize) -> Cow<'_, str> {
    match text.char_indices().nth(longest) {
        None => shown(text),
        Some((end, _)) => {
            let rest = text[end..].chars().count();
            Cow::Owned(format!(
                "{} [and {rest} more characters]",
                shown(&text[..end])
            ))
        }
    }
}

/// A comment of a table: on one line, and with nothing in it that a spreadsheet which divides it into cells would run.
pub fn table_comment(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let mut begins = true;
    for c in on_one_line(text).chars() {
        if begins && runs(c) {
            out.push('\'');
        }
        begins = matches!(c, ',' | ';') || (begins && matches!(c, ' ' | '"'));
        out.push(c);
    }
    out
}

/// A text as a cell of a table: quoted where it has to be, and never a formula.
pub fn table_cell(text: &str) -> String {
    let text = on_one_line(text);
    let safe = if text.trim_start().starts_with(runs) {
        Cow::Owned(format!("'{text}"))
    } else {
        text
    };
    if safe.contains([',', ';', '"']) {
        format!("\"{}\"", safe.replace('"', "\"\""))
    } else {
        safe.into_owned()
    }
}

/// Whether a cell that begins so is run by a spreadsheet.
fn runs(c: char) -> bool {
    matches!(c, '=' | '+' | '-' | '@')
}

fn code(c: char) -> String {
    format!("[U+{:04X}]", u32::from(c))
}

fn each(
    text: &str,
    which: impl Fn(char) -> bool + Copy,
    code: impl Fn(char) -> String,
) -> Cow<'_, str> {
    if !text.contains(which) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if which(c) {
            out.push_str(&code(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_act_is_seen_and_what_is_seen_stays() {
        assert!(matches!(shown("23 °C, žlutá\t«x»\n"), Cow::Borrowed(_)));
        assert_eq!(
            shown("a\u{1b}[2J\u{7}b\u{202e}c\r"),
            "a[U+001B][2J[U+0007]b[U+202E]c[U+000D]"
        );
    }

    #[test]
    fn a_name_stays_on_its_line_and_a_long_one_is_cut() {
        assert_eq!(on_one_line("a\nb\tc"), "a[U+000A]b[U+0009]c");
        assert_eq!(clipped("short"), "short");
        let long = clipped(&"x".repeat(5000)).into_owned();
        assert!(long.len() < 200 && long.contains("4880 more"), "{long}");
    }

    #[test]
    fn no_cell_of_a_table_is_a_formula() {
        assert_eq!(
            table_comment("from a, =1+1.csv;\"@x\n: 3 - 2"),
            "from a, '=1+1.csv;\"'@x[U+000A]: 3 - 2"
        );
    }

    #[test]
    fn escaped_json_has_the_same_value() {
        let name = "pull \u{202e}ahcs\u{7f}\u{9b}";
        let json = serde_json::to_string(name).expect("a string");
        let escaped = escaped_json(&json);
        assert!(!escaped.contains(acts), "{escaped}");
        let back: String = serde_json::from_str(&escaped).expect("JSON");
        assert_eq!(back, name);
    }
}
