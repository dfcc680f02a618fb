//! Characters that would act on a screen or page instead of being seen on it.
//!
//! A name in a file may hold an escape, a bell or a mark that turns the direction of what follows; put out as it is, a name could move the cursor
//! or make a number read backwards. Such characters are written as their code, `[U+202E]`. Source of the list of marks: Unicode Standard Annex 9,
//! table 1, with the line and paragraph separators.

use std::borrow::Cow;

/// Whether a character acts instead of being seen. Line ends and tabs only lay out.
fn acts(c: char) -> bool {
    (c.is_control() && c != '\n' && c != '\t')
        || matches!(
            c,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}' | '\u{2029}'
        )
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Text with such characters as their codes.
pub fn shown(text: &str) -> Cow<'_, str> {
    each(text, |c| format!("[U+{:04X}]", u32::from(c)))
}

/// JSON with such characters escaped: the same value to whoever parses it.
pub(super) fn escaped_json(json: &str) -> Cow<'_, str> {
    // All of them lie in the first plane, so four digits do.
    each(json, |c| format!("\\u{:04x}", u32::from(c)))
}

fn each(text: &str, code: impl Fn(char) -> String) -> Cow<'_, str> {
    if !text.contains(acts) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if acts(c) {
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
    fn escaped_json_has_the_same_value() {
        let name = "pull \u{202e}ahcs\u{7f}\u{9b}";
        let json = serde_json::to_string(name).expect("a string");
        let escaped = escaped_json(&json);
        assert!(!escaped.contains(acts), "{escaped}");
        let back: String = serde_json::from_str(&escaped).expect("JSON");
        assert_eq!(back, name);
    }
}
