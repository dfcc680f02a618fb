//! Reading the project's own files for the tests that hold its rules: which files there are, their code without
//! comments and strings, and where a word stands in it.

use std::path::{Path, PathBuf};

/// A text file of the project.
pub(crate) struct Source {
    /// Path from the project's root, with `/`.
    pub(crate) path: String,
    pub(crate) text: String,
}

impl Source {
    /// The text without comments and string contents.
    pub(crate) fn code(&self) -> String {
        code_only(&self.text)
    }
}

pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Folders that are made, not written.
const MADE: [&str; 3] = ["target", ".git", "node_modules"];

/// Every text file of the project, sorted by path; files that are not UTF-8 are left out.
pub(crate) fn text_files() -> Vec<Source> {
    let mut found = Vec::new();
    walk(&root(), &mut found);
    found.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(
        found.len() > 10,
        "the project's files were not found under {}",
        root().display()
    );
    found
}

pub(crate) fn rust_files() -> Vec<Source> {
    text_files()
        .into_iter()
        .filter(|s| Path::new(&s.path).extension().is_some_and(|e| e == "rs"))
        .collect()
}

fn walk(folder: &Path, found: &mut Vec<Source>) {
    for entry in std::fs::read_dir(folder).expect("a readable folder") {
        let path = entry.expect("a readable entry").path();
        let name = path
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        if path.is_dir() {
            if !MADE.contains(&name.as_str()) {
                walk(&path, found);
            }
        } else if let Ok(text) = std::fs::read_to_string(&path) {
            let relative = path.strip_prefix(root()).expect("a file under the root");
            let parts: Vec<_> = relative.iter().map(|p| p.to_string_lossy()).collect();
            found.push(Source {
                path: parts.join("/"),
                text,
            });
        }
    }
}

/// Rust code with comments and the insides of strings blanked; line ends stay.
pub(crate) fn code_only(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let skipped = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            block_comment(rest)
        } else if c == '"' {
            plain_string(rest)
        } else if let Some(length) = raw_string(rest, out.chars().last()) {
            length
        } else if c == '\'' {
            character(rest)
        } else {
            0
        };
        if skipped == 0 {
            out.push(c);
            rest = &rest[c.len_utf8()..];
        } else {
            let lines = rest[..skipped].matches('\n').count();
            out.push(' ');
            out.extend(std::iter::repeat_n('\n', lines));
            rest = &rest[skipped..];
        }
    }
    out
}

fn block_comment(text: &str) -> usize {
    let (mut level, mut at) = (0_usize, 0);
    while at < text.len() {
        if text[at..].starts_with("/*") {
            level += 1;
            at += 2;
        } else if text[at..].starts_with("*/") {
            level -= 1;
            at += 2;
            if level == 0 {
                return at;
            }
        } else {
            at += text[at..].chars().next().map_or(1, char::len_utf8);
        }
    }
    text.len()
}

fn plain_string(text: &str) -> usize {
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    text.len()
}

/// Length of `r"…"` or `r#"…"#` at the start of the text, if there is one and it is not the end of a name.
fn raw_string(text: &str, before: Option<char>) -> Option<usize> {
    if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
        return None;
    }
    let hashes = text
        .strip_prefix('r')?
        .chars()
        .take_while(|c| *c == '#')
        .count();
    let inside = text[1 + hashes..].strip_prefix('"')?;
    let close = format!("\"{}", "#".repeat(hashes));
    let end = inside
        .find(&close)
        .map_or(inside.len(), |at| at + close.len());
    Some(2 + hashes + end)
}

/// Length of a character literal; zero for a lifetime.
fn character(text: &str) -> usize {
    let mut chars = text.char_indices().skip(1);
    match (chars.next(), chars.next()) {
        (Some((_, '\\')), Some((at, _))) => {
            text[at + 1..].find('\'').map_or(0, |end| at + 1 + end + 1)
        }
        (Some(_), Some((at, '\''))) => at + 1,
        _ => 0,
    }
}

/// The code without white space around punctuation, so that `crate :: x` and a group over several lines read alike.
pub(crate) fn squeezed(code: &str) -> String {
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let mut out = String::with_capacity(code.len());
    for piece in code.split_whitespace() {
        let joins = out.chars().last().is_some_and(is_word) && piece.starts_with(is_word);
        if joins {
            out.push(' ');
        }
        out.push_str(piece);
    }
    out
}

/// Where a word starts in squeezed code, not counting it as the tail of a longer word.
pub(crate) fn occurrences(code: &str, word: &str) -> Vec<usize> {
    code.match_indices(word)
        .map(|(at, _)| at)
        .filter(|&at| {
            !code[..at]
                .chars()
                .last()
                .is_some_and(|c| c.is_alphanumeric() || c == '_')
        })
        .collect()
}

/// Whether squeezed code uses `word`; `a::b` is also seen inside `use a::{c, b}`.
pub(crate) fn mentions(code: &str, word: &str) -> bool {
    let ends = |at: usize, word: &str| {
        word.ends_with('!')
            || !code[at + word.len()..].starts_with(|c: char| c.is_alphanumeric() || c == '_')
    };
    if occurrences(code, word).iter().any(|&at| ends(at, word)) {
        return true;
    }
    let Some((parent, child)) = word.rsplit_once("::") else {
        return false;
    };
    let group = format!("{parent}::{{");
    occurrences(code, &group).iter().any(|&at| {
        let inside = &code[at + group.len()..];
        let statement = &inside[..inside.find(';').unwrap_or(inside.len())];
        occurrences(statement, child).iter().any(|&c| {
            !statement[c + child.len()..].starts_with(|c: char| c.is_alphanumeric() || c == '_')
                && !statement[..c].ends_with("::")
        })
    })
}
