//! What is told of a list of problems: the same of several files once, the first few in full, the rest as a count.
//!
//! A file may be wrong in every line, and a message that fills the screen is no message. Errors go before warnings where not all can be told.
//! What is told is safe to print: short, and without a character that acts on a terminal.

use std::collections::HashMap;
use std::fmt;
use std::fmt::Write as _;

use miette::{GraphicalReportHandler, GraphicalTheme};
use textwrap::{WordSeparator, WordSplitter};

use super::diagnostic::{Excerpt, Problem, Problems, Severity};
use super::shown::{acts, clipped, clipped_to, shown};

/// Problems told in full.
pub const MOST_SHOWN: usize = 10;
/// Names spelt out where many share a fate.
const NAMED: usize = 3;
/// Longest message, in characters.
const LONGEST_TEXT: usize = 2000;
/// Longest line drawn under a problem, bytes; of a longer one only what stands around the place.
const LONGEST_LINE: usize = 300;
/// Characters kept on either side of it.
const AROUND: usize = 60;

/// The first few names and the count of the rest: `a, b, c and 90 more`.
pub fn few<S: AsRef<str>>(names: &[S]) -> String {
    let told = names.iter().take(NAMED).map(|n| clipped(n.as_ref()));
    let told: Vec<_> = told.collect();
    match names.len().saturating_sub(NAMED) {
        0 => told.join(", "),
        rest => format!("{} and {rest} more", told.join(", ")),
    }
}

/// The first problems, errors before warnings but each in its order, and how many are left.
pub(super) fn chosen(list: &[Problem]) -> (Vec<Problem>, usize) {
    let errors = list
        .iter()
        .filter(|p| p.severity == Severity::Error)
        .count();
    let mut rooms = (MOST_SHOWN, MOST_SHOWN.saturating_sub(errors));
    let mut rest = 0;
    let mut told = Vec::new();
    for problem in list {
        let room = match problem.severity {
            Severity::Error => &mut rooms.0,
            Severity::Warning => &mut rooms.1,
        };
        if *room == 0 {
            rest += 1;
        } else {
            *room -= 1;
            told.push(safe(problem));
        }
    }
    (told, rest)
}

/// The list with warnings that are the same of several files told once, in the place of the first, with the other files named.
/// Errors stand each by itself, and so does whatever differs in a word.
pub(super) fn gathered(list: &[Problem]) -> Vec<Problem> {
    let mut shown: Vec<(&Problem, Vec<&str>)> = Vec::new();
    let mut places = HashMap::new();
    for problem in list {
        if problem.severity == Severity::Error {
            shown.push((problem, Vec::new()));
            continue;
        }
        let words = (
            &problem.value,
            &problem.message,
            &problem.expected,
            &problem.help,
        );
        // One more of the same file is told again.
        let place = *places.entry((problem.code, words)).or_insert(shown.len());
        match shown.get_mut(place) {
            Some((first, others))
                if first.file != problem.file && !others.contains(&problem.file.as_str()) =>
            {
                others.push(&problem.file);
            }
            _ => shown.push((problem, Vec::new())),
        }
    }
    let told = |(problem, others): (&Problem, Vec<&str>)| {
        if others.is_empty() {
            return problem.clone();
        }
        let also = format!("the same in {}", few(&others));
        let help = match &problem.help {
            Some(help) => format!("{help}\n{also}"),
            None => also,
        };
        problem.clone().help(help)
    };
    shown.into_iter().map(told).collect()
}

/// A problem whose texts are short and act on nothing.
fn safe(problem: &Problem) -> Problem {
    let mut safe = problem.clone().with_excerpt(safe_excerpt);
    let long = |text: &str| clipped_to(text, LONGEST_TEXT).into_owned();
    safe.file = shown(&safe.file).into_owned();
    safe.message = long(&safe.message);
    safe.value = safe.value.map(|text| clipped(&text).into_owned());
    safe.expected = safe.expected.map(|text| long(&text));
    safe.help = safe.help.map(|text| long(&text));
    safe
}

/// The excerpt as it may be drawn, and the place in it; none where it may be drawn as it is.
fn safe_excerpt(
    excerpt: &Excerpt,
    span: std::ops::Range<usize>,
) -> Option<(Excerpt, std::ops::Range<usize>)> {
    let text = excerpt.text();
    let start = text[..span.start].rfind('\n').map_or(0, |at| at + 1);
    let end_of = |from: usize| text[from..].find('\n').map_or(text.len(), |at| from + at);
    // What is drawn: the lines of the place, and one before and after.
    let before = text[..start.saturating_sub(1)]
        .rfind('\n')
        .map_or(0, |at| at + 1);
    let end = end_of(span.end);
    let after = end_of((end + 1).min(text.len()));
    let drawn = text.get(before..after)?;
    let harmless = |c: char| !acts(c) || c == '\r';
    if drawn.lines().all(|line| line.len() <= LONGEST_LINE) && drawn.chars().all(harmless) {
        return None;
    }
    let line = text[start..end_of(span.start)].trim_end_matches('\r');
    let at = (span.start - start).min(line.len());
    let until = (span.end - start).clamp(at, line.len());
    let from = line[..at]
        .char_indices()
        .rev()
        .nth(AROUND - 1)
        .map_or(0, |(i, _)| i);
    let to = line[at..]
        .char_indices()
        .nth(2 * AROUND)
        .map_or(line.len(), |(i, _)| at + i);
    let until = until.min(to);
    let (head, place, tail) = (&line[from..at], &line[at..until], &line[until..to]);
    let (head, place, tail) = (shown(head), shown(place), shown(tail));
    let span = head.len()..head.len() + place.len();
    let (row, column) = excerpt.position(start + at);
    let drawn = Excerpt::window(
        excerpt.file(),
        format!("{head}{place}{tail}"),
        (row, column),
        head.chars().count(),
    );
    Some((drawn, span))
}

/// How problems are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// For a terminal: colours and line drawing.
    Terminal,
    /// For a pipe or a log: the same content in plain ASCII.
    Plain,
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(Look::Plain, 100))
    }
}

impl Problems {
    /// The problems of other files than this.
    #[must_use]
    pub fn without_file(mut self, file: &str) -> Self {
        self.list.retain(|problem| problem.file != file);
        self
    }

    /// The first problems as they may be printed, and how many are left.
    pub fn told(&self) -> (Vec<Problem>, usize) {
        chosen(&self.list)
    }

    /// The report on all of them, `width` characters wide.
    pub fn render(&self, look: Look, width: usize) -> String {
        let theme = match look {
            Look::Terminal => GraphicalTheme::unicode(),
            Look::Plain => GraphicalTheme::none(),
        };
        let handler = GraphicalReportHandler::new_themed(theme)
            .with_width(width)
            // A command is to be copied: it breaks at blanks only.
            .with_word_separator(WordSeparator::AsciiSpace)
            .with_word_splitter(WordSplitter::NoHyphenation)
            .with_links(false);
        let draw = |problem: &Problem| {
            let mut text = String::new();
            // Writing to a String cannot fail; a place outside its text would only cost the excerpt.
            match handler.render_report(&mut text, problem) {
                Ok(()) => text,
                Err(_) => format!("{}: {problem}\n", problem.code),
            }
        };
        let all = gathered(&self.list);
        let (told, more) = chosen(&all);
        let mut text: String = told.iter().map(draw).collect();
        if more > 0 {
            let problems = if more == 1 { "problem" } else { "problems" };
            let _ = writeln!(text, "and {more} more {problems}");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::diagnostic::Code;
    use super::*;
    use std::sync::Arc;

    fn warned(file: &str, message: &str) -> Problem {
        Problem::of_file(Code::COLUMN_IGNORED, file, message).warning()
    }

    #[test]
    fn the_same_warning_of_several_files_is_told_once_with_all_of_them() {
        let mut problems = Problems::new();
        for file in ["a.csv", "b.csv", "c.csv"] {
            problems.push(warned(file, "column 'x' is not read"));
        }
        problems.push(warned("b.csv", "column 'y' is not read"));
        problems.push(Problem::of_file(
            Code::FILE_EMPTY,
            "d.csv",
            "the file is empty",
        ));
        problems.push(Problem::of_file(
            Code::FILE_EMPTY,
            "e.csv",
            "the file is empty",
        ));
        let text = problems.to_string();
        assert_eq!(text.matches("'x' is not read").count(), 1, "{text}");
        assert_eq!(text.matches("'y' is not read").count(), 1, "{text}");
        assert!(text.contains("the same in b.csv, c.csv"), "{text}");
        // Errors stand each by itself.
        assert_eq!(text.matches("the file is empty").count(), 2, "{text}");
    }

    #[test]
    fn ten_are_told_errors_first_and_the_rest_counted() {
        let mut problems = Problems::new();
        for i in 0..500 {
            problems.push(warned("a.csv", &format!("warning {i}")));
        }
        problems.push(Problem::of_file(Code::FILE_EMPTY, "b.csv", "the error"));
        let (told, more) = problems.told();
        assert_eq!((told.len(), more), (MOST_SHOWN, 491));
        assert_eq!(told.last().map(|p| p.message.as_str()), Some("the error"));
        let text = problems.to_string();
        assert!(
            text.contains("the error") && text.contains("and 491 more"),
            "{text}"
        );
        assert!(text.len() < 4000, "{}", text.len());
    }

    #[test]
    fn names_are_few() {
        assert_eq!(few(&["a", "b", "c"]), "a, b, c");
        assert_eq!(few(&["a", "b", "c", "d", "e"]), "a, b, c and 2 more");
    }

    #[test]
    fn nothing_drawn_acts_on_a_terminal_and_a_long_line_is_cut() {
        let evil = "x = \"\u{1b}[2J\u{202e}\u{7}\"\n";
        let long = format!("{evil}{} = 1\r\nz = 2\n", "k".repeat(100_000));
        let excerpt = Arc::new(Excerpt::whole("a\u{1b}.toml", long.as_str()));
        let key = long.find("kkk").expect("the key");
        let mut problems = Problems::new();
        problems.push(Problem::at(
            Code::KEY_UNKNOWN,
            &excerpt,
            key..key + 100_000,
            "no key",
        ));
        problems.push(Problem::at(
            Code::WRONG_TYPE,
            &excerpt,
            4..evil.len() - 1,
            "wrong \u{9b}",
        ));
        for look in [Look::Plain, Look::Terminal] {
            let text = problems.render(look, 100);
            assert!(text.len() < 4000, "{}", text.len());
            for bad in ["\u{1b}[2J", "\u{202e}", "\u{7}", "\u{9b}"] {
                assert!(!text.contains(bad), "{bad:?} in {text}");
            }
            assert!(
                text.contains("[U+202E]") && text.contains("wrong [U+009B]"),
                "{text}"
            );
            assert!(text.contains(".toml:2:1"), "{text}");
            assert!(text.contains(".toml:1:5"), "{text}");
        }
    }
}
