//! Plain text tables: columns lined up by their widest cell, words to the left, numbers to the right.
//!
//! Width counts characters, not bytes, so that a degree sign does not push a column out. It refuses to wrap or cut.

use crate::files::shown::on_one_line;
use serde::Serialize;

/// Cells as they are drawn, each on its line whatever a name in it holds.
fn kept<S: Into<String>>(cells: impl IntoIterator<Item = S>) -> Vec<String> {
    let cells = cells.into_iter().map(Into::into);
    cells.map(|cell| on_one_line(&cell).into_owned()).collect()
}

/// A table being filled row by row.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct TextTable {
    sides: &'static str,
    headed: bool,
    rows: Vec<Vec<String>>,
}

impl TextTable {
    /// An empty table; `sides` says for each column `l` (words, to the left) or `r` (numbers, to the right), and its last
    /// letter holds for all further columns.
    pub fn new(sides: &'static str) -> Self {
        Self {
            sides,
            headed: false,
            rows: Vec::new(),
        }
    }

    /// Adds the row that names the columns; it comes before all others.
    pub fn head<S: Into<String>>(&mut self, cells: impl IntoIterator<Item = S>) {
        self.headed = true;
        self.rows.insert(0, kept(cells));
    }

    /// Adds a row.
    pub fn row<S: Into<String>>(&mut self, cells: impl IntoIterator<Item = S>) {
        self.rows.push(kept(cells));
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The rows, the one that names the columns among them.
    pub(super) fn rows(&self) -> &[Vec<String>] {
        &self.rows
    }

    /// Whether the first row names the columns.
    pub(super) fn is_headed(&self) -> bool {
        self.headed
    }

    /// How many columns there are.
    pub(super) fn columns(&self) -> usize {
        self.rows.iter().map(Vec::len).max().unwrap_or(0)
    }

    /// Whether a column holds numbers, which stand to the right.
    pub(super) fn is_number(&self, column: usize) -> bool {
        let side = self.sides.chars().nth(column);
        side.or_else(|| self.sides.chars().last()) == Some('r')
    }

    /// The table, every line set in by two blanks and ended.
    pub fn render(&self) -> String {
        let width = |c: usize| {
            self.rows
                .iter()
                .filter_map(|r| r.get(c))
                .map(|s| s.chars().count())
                .max()
                .unwrap_or(0)
        };
        let widths: Vec<usize> = (0..self.columns()).map(width).collect();
        let mut out = String::new();
        for row in &self.rows {
            let mut line = String::from(" ");
            for (c, cell) in row.iter().enumerate() {
                let blanks = " ".repeat(widths[c] - cell.chars().count());
                line.push_str(if c == 0 { " " } else { "  " });
                if self.is_number(c) {
                    line.push_str(&blanks);
                    line.push_str(cell);
                } else {
                    line.push_str(cell);
                    line.push_str(&blanks);
                }
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out
    }
}

/// Words broken into lines of at most `width` characters, each set in by `indent` blanks; the first starts with `lead`
/// in their place.
pub fn paragraph(lead: &str, text: &str, indent: usize, width: usize) -> String {
    let mut out = String::new();
    let mut line = format!(
        "{lead}{}",
        " ".repeat(indent.saturating_sub(lead.chars().count()))
    );
    let mut bare = true;
    for word in text.split_whitespace() {
        if !bare && line.chars().count() + 1 + word.chars().count() > width {
            out.push_str(&line);
            out.push('\n');
            line = " ".repeat(indent);
            bare = true;
        }
        if !bare {
            line.push(' ');
        }
        line.push_str(word);
        bare = false;
    }
    out.push_str(&line);
    out.push('\n');
    out
}

/// Width of running text.
pub const WIDTH: usize = 100;

/// A bullet point, broken into lines.
pub fn bullet(text: &str) -> String {
    paragraph("  - ", text, 4, WIDTH)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_by_characters() {
        let mut table = TextTable::new("lr");
        table.row(["speed", "kW"]);
        table.row(["2000 °", "7.5"]);
        assert_eq!(table.render(), "  speed    kW\n  2000 °  7.5\n");
    }

    #[test]
    fn a_paragraph_keeps_every_word_and_its_width() {
        let text = "belt, pulleys and straps are looked at before every pull";
        let out = paragraph("- ", text, 2, 20);
        assert!(out.lines().all(|line| line.chars().count() <= 20), "{out}");
        let words: Vec<_> = out.split_whitespace().skip(1).collect();
        assert_eq!(words.join(" "), text);
    }
}
