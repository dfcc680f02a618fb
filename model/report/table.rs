//! Plain text tables: columns lined up by their widest cell, words to the left, numbers to the right.
//!
//! Width counts characters, not bytes, so that a degree sign does not push a column out. On a narrow terminal words are broken and columns
//! moved below; it refuses to cut.

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
    ///
    /// Where it is wider than `width`, the words of its widest columns are broken into lines first; where numbers alone are too wide, the
    /// columns that are left over follow below, beside the first once more.
    pub fn render(&self, width: usize) -> String {
        let mut widths: Vec<usize> = (0..self.columns()).map(|c| self.widest(c)).collect();
        self.narrow(&mut widths, width);
        let mut out = String::new();
        let mut from = usize::from(widths.len() > 1);
        loop {
            let mut shown = vec![0];
            shown.extend(from..Self::fitting(&widths, from, width));
            if !out.is_empty() {
                out.push('\n');
            }
            self.draw(&mut out, &widths, &shown);
            from = shown.last().map_or(1, |last| last + 1).max(1);
            if from >= widths.len() {
                return out;
            }
        }
    }

    /// The column behind the last one that fits beside the first, from one on; at least one does.
    fn fitting(widths: &[usize], from: usize, width: usize) -> usize {
        let mut used = GAP + widths.first().copied().unwrap_or(0);
        let mut to = from;
        while to < widths.len() && (to == from || used + GAP + widths[to] <= width) {
            used += GAP + widths[to];
            to += 1;
        }
        to
    }

    /// Takes columns of words in, the widest first, until the table fits or no word column is wide.
    fn narrow(&self, widths: &mut [usize], width: usize) {
        let longest: Vec<usize> = (0..widths.len()).map(|c| self.longest_word(c)).collect();
        loop {
            let over = widths.iter().map(|w| w + GAP).sum::<usize>();
            let over = over.saturating_sub(width);
            let words = (0..widths.len())
                .filter(|&c| !self.is_number(c) && widths[c] > LEAST_WORDS.max(longest[c]));
            let Some(widest) = words.max_by_key(|&c| widths[c]).filter(|_| over > 0) else {
                return;
            };
            widths[widest] -= 1;
        }
    }

    /// Letters of the longest word of a column, which is never broken.
    fn longest_word(&self, column: usize) -> usize {
        let cells = self.aligned().filter_map(|row| row.get(column));
        let words = cells.flat_map(|cell| {
            let lead = cell.chars().take_while(|c| *c == ' ').count();
            cell.split_whitespace()
                .map(move |word| lead + word.chars().count())
        });
        words.max().unwrap_or(0)
    }

    fn widest(&self, column: usize) -> usize {
        let lengths = self
            .aligned()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count());
        lengths.max().unwrap_or(0)
    }

    /// Rows that stand in columns: one of a single cell is the heading of a group and may run over them.
    fn aligned(&self) -> impl Iterator<Item = &Vec<String>> {
        let single = self.columns() == 1;
        self.rows.iter().filter(move |row| single || row.len() > 1)
    }

    fn draw(&self, out: &mut String, widths: &[usize], columns: &[usize]) {
        let empty = String::new();
        for row in &self.rows {
            if row.len() == 1 && widths.len() > 1 {
                add!(out, "  {}\n", row[0]);
                continue;
            }
            let cells: Vec<Vec<String>> = columns
                .iter()
                .map(|&c| folded(row.get(c).unwrap_or(&empty), widths[c]))
                .collect();
            let lines = cells.iter().map(Vec::len).max().unwrap_or(0);
            for n in 0..lines {
                let mut line = String::new();
                for (&c, cell) in columns.iter().zip(&cells) {
                    let cell = cell.get(n).unwrap_or(&empty);
                    let blanks = " ".repeat(widths[c].saturating_sub(cell.chars().count()));
                    line.push_str("  ");
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
        }
    }
}

/// Blanks before each column.
const GAP: usize = 2;
/// Narrowest column of broken words.
const LEAST_WORDS: usize = 14;

/// A cell broken into lines of a width; its own blanks in front are kept.
fn folded(cell: &str, width: usize) -> Vec<String> {
    if cell.chars().count() <= width {
        return vec![cell.to_owned()];
    }
    let words = cell.trim_start();
    let lead = &cell[..cell.len() - words.len()];
    let text = paragraph(lead, words, lead.chars().count(), width);
    text.lines().map(str::to_owned).collect()
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

/// A bullet point, broken into lines.
pub fn bullet(text: &str, width: usize) -> String {
    paragraph("  - ", text, 4, width)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_by_characters() {
        let mut table = TextTable::new("lr");
        table.row(["speed", "kW"]);
        table.row(["2000 °", "7.5"]);
        assert_eq!(table.render(80), "  speed    kW\n  2000 °  7.5\n");
    }

    #[test]
    fn words_are_broken_where_a_table_is_too_wide() {
        let mut table = TextTable::new("lr");
        table.row(["gain the drums will show against the reading", "+15 %"]);
        table.row(["factor", "1.0"]);
        assert_eq!(
            table.render(36),
            "  gain the drums will show     +15 %\n  against the reading\n  factor                         1.0\n"
        );
    }

    #[test]
    fn a_word_that_cannot_be_broken_pushes_no_column_out() {
        let mut table = TextTable::new("lr");
        table.head(["input", "before", "after"]);
        table.row(["breathing.manifold_heating", "0.1200", "0.09192"]);
        table.row(["tune.lambda", "0.88", "0.8814"]);
        let drawn = table.render(36);
        assert_eq!(
            drawn,
            "  input                       before\n  breathing.manifold_heating  0.1200\n  tune.lambda                   0.88\n\n  \
             input                         after\n  breathing.manifold_heating  0.09192\n  tune.lambda                  0.8814\n"
        );
    }

    #[test]
    fn columns_of_numbers_that_do_not_fit_follow_below_the_first() {
        let mut table = TextTable::new("r");
        table.row(["rpm", "power", "torque", "boost"]);
        table.row(["2000", "109", "522", "22.3"]);
        assert_eq!(
            table.render(22),
            "   rpm  power  torque\n  2000    109     522\n\n   rpm  boost\n  2000   22.3\n"
        );
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
