//! Text, lists, tables and charts set one below the other in a column, from page to page.

use super::canvas::{Canvas, Colour, Letters, Pen, Step, Weight};
use super::drawing;
use crate::report::chart::{Chart, svg};
use crate::report::document::{self, Block, Content, Document};
use crate::report::table::TextTable;

/// From one base line to the next, in sizes of the letter.
const LEADING: f64 = 1.32;
/// Base line below the upper edge of a line, in sizes of the letter.
const ASCENT: f64 = 1.0;
/// Between the columns of a table, in sizes of the letter.
const GUTTER: f64 = 1.1;

/// Size and colour of what is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::report) struct Style {
    pub(in crate::report) size: f64,
    pub(in crate::report) weight: Weight,
    pub(in crate::report) colour: Colour,
}

impl Style {
    /// Ink of plain text, of what matters less, of rules, and of what matters most, as on the page.
    pub(in crate::report) const INK: Colour = Colour([0x1d, 0x21, 0x26]);
    pub(in crate::report) const QUIET: Colour = Colour([0x4d, 0x55, 0x5e]);
    pub(in crate::report) const RULE: Colour = Colour([0xd0, 0xd4, 0xd8]);
    pub(in crate::report) const MAIN: Colour = Colour([0x17, 0x42, 0x7c]);

    pub(in crate::report) const fn plain(size: f64) -> Self {
        Self {
            size,
            weight: Weight::Plain,
            colour: Self::INK,
        }
    }

    #[must_use]
    pub(in crate::report) const fn bold(self) -> Self {
        Self {
            weight: Weight::Bold,
            ..self
        }
    }

    #[must_use]
    pub(in crate::report) const fn in_colour(self, colour: Colour) -> Self {
        Self { colour, ..self }
    }

    fn letters(self) -> Letters {
        Letters {
            size: self.size,
            weight: self.weight,
            colour: self.colour,
        }
    }

    fn line(self) -> f64 {
        LEADING * self.size
    }
}

/// A column being filled.
pub(in crate::report) struct Flow<'c> {
    pub(in crate::report) canvas: &'c mut Canvas,
    pub(in crate::report) left: f64,
    pub(in crate::report) right: f64,
    /// Upper edge of what comes next.
    pub(in crate::report) y: f64,
    top: f64,
    bottom: f64,
}

impl<'c> Flow<'c> {
    /// Between margins on the page that is there.
    pub(in crate::report) fn new(canvas: &'c mut Canvas, (side, end): (f64, f64)) -> Self {
        let (width, height) = canvas.paper().size();
        Self {
            canvas,
            left: side,
            right: width - side,
            y: end,
            top: end,
            bottom: height - end,
        }
    }

    pub(in crate::report) fn width(&self) -> f64 {
        self.right - self.left
    }

    /// Width of a text in one line.
    pub(in crate::report) fn text_width(&self, text: &str, style: Style) -> f64 {
        let text = self.canvas.spelled(text, style.weight);
        self.canvas.width(&text, style.letters())
    }

    /// Air.
    pub(in crate::report) fn space(&mut self, height: f64) {
        if self.y > self.top {
            self.y += height;
        }
    }

    /// Goes to a new page where this one has no room for so much.
    fn room(&mut self, height: f64) {
        if self.y + height > self.bottom && self.y > self.top {
            self.canvas.add_page();
            self.y = self.top;
        }
    }

    pub(in crate::report) fn new_page(&mut self) {
        self.canvas.add_page();
        self.y = self.top;
    }

    /// A text broken into lines that fit.
    pub(in crate::report) fn wrapped(&self, text: &str, width: f64, style: Style) -> Vec<String> {
        let text = self.canvas.spelled(text, style.weight);
        let fits = |row: &str| self.canvas.width(row, style.letters()) <= width;
        let mut rows: Vec<String> = Vec::new();
        for word in text.split_whitespace() {
            if let Some(row) = rows.last_mut() {
                let longer = format!("{row} {word}");
                if fits(&longer) {
                    *row = longer;
                    continue;
                }
                // A unit goes with its number.
                if let Some((rest, number)) = row.rsplit_once(' ')
                    && is_unit(word)
                    && number.ends_with(|c: char| c.is_ascii_digit() || c == ')')
                {
                    let both = format!("{number} {word}");
                    *row = rest.to_owned();
                    rows.push(both);
                    continue;
                }
            }
            // A word wider than the column is broken where it must be.
            let mut rest = word.to_owned();
            while !fits(&rest) && rest.chars().count() > 1 {
                let mut piece = rest.clone();
                while piece.chars().count() > 1 && !fits(&piece) {
                    piece.pop();
                }
                rest = rest.split_off(piece.len());
                rows.push(piece);
            }
            rows.push(rest);
        }
        rows
    }

    fn rows(&mut self, rows: &[String], x: f64, style: Style) {
        for row in rows {
            self.room(style.line());
            let base = self.y + ASCENT * style.size;
            self.canvas.text((x, base), row, style.letters());
            self.y += style.line();
        }
    }

    /// Running text.
    pub(in crate::report) fn paragraph(&mut self, text: &str, style: Style) {
        let rows = self.wrapped(text, self.width(), style);
        self.rows(&rows, self.left, style);
    }

    /// Running text set in behind a word.
    pub(in crate::report) fn labelled(&mut self, lead: &str, text: &str, style: Style) {
        let bold = style.bold();
        let lead = self.canvas.spelled(lead.trim(), Weight::Bold);
        if lead.is_empty() {
            self.paragraph(text, style);
            return;
        }
        let set_in = self.canvas.width(&lead, bold.letters()) + 0.4 * style.size;
        self.room(style.line());
        let base = self.y + ASCENT * style.size;
        self.canvas.text((self.left, base), &lead, bold.letters());
        let rows = self.wrapped(text, self.width() - set_in, style);
        self.rows(&rows, self.left + set_in, style);
        if rows.is_empty() {
            self.y += style.line();
        }
    }

    /// One line that ends at the right edge.
    pub(in crate::report) fn ending_right(&mut self, text: &str, style: Style) {
        let text = self.canvas.spelled(text, style.weight);
        let width = self.canvas.width(&text, style.letters());
        let base = self.y + ASCENT * style.size;
        self.canvas
            .text((self.right - width, base), &text, style.letters());
        self.y += style.line();
    }

    /// A heading, which stays with what follows it.
    pub(in crate::report) fn heading(&mut self, text: &str, style: Style, above: f64) {
        self.space(above);
        self.room(style.line() + 3.0 * LEADING * style.size);
        self.paragraph(text, style.bold());
        self.y += 0.15 * style.size;
    }

    /// Points.
    pub(in crate::report) fn list<S: AsRef<str>>(&mut self, items: &[S], style: Style) {
        let set_in = 1.1 * style.size;
        for item in items {
            self.room(style.line());
            let base = self.y + ASCENT * style.size;
            self.canvas
                .text((self.left + 0.2 * style.size, base), "•", style.letters());
            let rows = self.wrapped(item.as_ref().trim(), self.width() - set_in, style);
            self.rows(&rows, self.left + set_in, style);
            self.y += 0.15 * style.size;
        }
    }

    /// A line across the column.
    pub(in crate::report) fn rule(&mut self, colour: Colour, width: f64) {
        let (from, to, y) = (self.left, self.right, self.y);
        self.line((from, to), y, colour, width);
        self.y += width;
    }

    pub(in crate::report) fn line(
        &mut self,
        (from, to): (f64, f64),
        y: f64,
        colour: Colour,
        width: f64,
    ) {
        let steps = [Step::Move(from, y), Step::Line(to, y)];
        self.canvas.draw(&steps, &Pen::line(colour, width));
    }

    /// A frame from a height down to where the column stands.
    pub(in crate::report) fn frame(&mut self, from: f64, colour: Colour, width: f64) {
        let steps = drawing::corners(self.left, from, self.width(), self.y - from);
        self.canvas.draw(&steps, &Pen::line(colour, width));
    }

    /// Rows and columns, numbers to the right; where they are too wide together, the words of the widest columns are broken.
    pub(in crate::report) fn table(&mut self, table: &TextTable, style: Style) {
        let columns = table.columns();
        let gutter = GUTTER * style.size;
        let grouped = |row: &[String]| columns > 1 && row.len() == 1;
        let natural = |column: usize| {
            let cells = table.rows().iter().filter(|row| !grouped(row));
            let cells = cells.filter_map(|row| row.get(column));
            cells
                .map(|cell| {
                    let cell = self.canvas.spelled(cell.trim(), style.weight);
                    self.canvas.width(&cell, style.letters()) + 0.1
                })
                .fold(0.0, f64::max)
        };
        let mut widths: Vec<f64> = (0..columns).map(natural).collect();
        let room = self.width() - gutter * columns.saturating_sub(1) as f64;
        narrow(&mut widths, room);
        for (number, row) in table.rows().iter().enumerate() {
            let head = number == 0 && table.is_headed();
            if grouped(row) {
                self.space(0.3 * style.size);
                self.paragraph(row[0].trim(), style.bold());
                continue;
            }
            let style = if head {
                style.in_colour(Style::QUIET)
            } else {
                style
            };
            let cells: Vec<Vec<String>> = row
                .iter()
                .zip(&widths)
                .map(|(cell, width)| self.wrapped(cell, *width, style))
                .collect();
            let lines = cells.iter().map(Vec::len).max().unwrap_or(0);
            self.room(style.line() * lines as f64);
            let mut x = self.left;
            for (column, (cell, width)) in cells.iter().zip(&widths).enumerate() {
                for (line, text) in cell.iter().enumerate() {
                    let base = self.y + ASCENT * style.size + style.line() * line as f64;
                    let own = self.canvas.width(text, style.letters());
                    let x = if table.is_number(column) {
                        x + width - own
                    } else {
                        x
                    };
                    self.canvas.text((x, base), text, style.letters());
                }
                x += width + gutter;
            }
            self.y += style.line() * lines as f64;
            if head {
                let used = widths.iter().sum::<f64>() + gutter * (columns - 1) as f64;
                self.y += 0.1 * style.size;
                self.line((self.left, self.left + used), self.y, Style::RULE, 0.6);
                self.y += 0.15 * style.size;
            }
        }
    }

    /// A chart with its name and how to read it.
    pub(in crate::report) fn chart(&mut self, chart: &Chart, width: f64, style: Style) {
        let drawing = chart.svg(svg::WIDE);
        let Some(height) = drawing::height(&drawing, width) else {
            return;
        };
        let name = style.bold();
        let caption = style.in_colour(Style::QUIET);
        let rows = self.wrapped(&chart.caption, self.width(), caption);
        self.space(style.size);
        self.room(name.line() + height + caption.line() * rows.len() as f64);
        self.paragraph(&chart.title, name);
        drawing::draw(self.canvas, &drawing, (self.left, self.y), width);
        self.y += height + 0.3 * style.size;
        self.rows(&rows, self.left, caption);
    }

    /// A drawing of the column's width.
    pub(in crate::report) fn drawing(&mut self, drawing: &str) {
        let width = self.width();
        if let Some(height) = drawing::height(drawing, width) {
            drawing::draw(self.canvas, drawing, (self.left, self.y), width);
            self.y += height;
        }
    }

    /// The blocks of a document, with nothing folded away.
    pub(in crate::report) fn document(&mut self, document: &Document, style: Style, chart: f64) {
        let blocks: Vec<&Block> = document.unfolded().collect();
        let line = |block: &&&Block| matches!(block.content, Content::Line { .. });
        let mut rest = &blocks[..];
        while let [first, behind @ ..] = rest {
            if line(&first) {
                let count = rest.iter().take_while(|block| line(block)).count();
                self.lines(&rest[..count], style);
                rest = &rest[count..];
                continue;
            }
            self.block(&first.content, style, chart);
            rest = behind;
        }
    }

    fn block(&mut self, content: &Content, style: Style, chart: f64) {
        match content {
            Content::Title { text } => {
                self.heading(
                    text,
                    Style {
                        size: 1.45 * style.size,
                        ..style
                    },
                    style.size,
                );
            }
            Content::Section { text } => {
                self.heading(
                    text,
                    Style {
                        size: 1.1 * style.size,
                        ..style
                    },
                    0.7 * style.size,
                );
            }
            Content::Paragraph { lead, text, .. } => {
                self.labelled(lead, text, style);
                self.y += 0.3 * style.size;
            }
            Content::List { items } => self.list(items, style),
            Content::Table { table } => {
                self.table(table, style);
                self.y += 0.3 * style.size;
            }
            Content::Chart { chart: of } => self.chart(of, chart, style),
            Content::Verbatim { text } => self.paragraph(text, style),
            Content::Space => self.space(0.3 * style.size),
            Content::Line { .. } | Content::Strokes { .. } | Content::Foot { .. } => {}
        }
    }

    /// Lines one below the other; where they line up in columns they become columns.
    fn lines(&mut self, run: &[&Block], style: Style) {
        let (lines, in_columns) = document::lines(run.iter().copied());
        if in_columns {
            let mut table = TextTable::new("l");
            for (lead, text) in lines {
                let cells = format!("{lead}{text}");
                let cells = cells.trim().split(document::COLUMN).map(str::trim);
                table.row(cells.filter(|cell| !cell.is_empty()));
            }
            self.table(&table, style);
            return;
        }
        for (lead, text) in lines {
            self.labelled(lead, text.trim(), style);
        }
    }
}

/// Whether a word is a unit, or begins with one.
fn is_unit(word: &str) -> bool {
    const UNITS: [&str; 8] = ["%", "kW", "hp", "kPa", "psi", "rpm", "km/h", "kg/m³"];
    let word = word.trim_end_matches(['.', ',', ';', ':', ')']);
    word.starts_with('°') || UNITS.contains(&word)
}

/// Takes from the widest columns until all fit.
fn narrow(widths: &mut [f64], room: f64) {
    for _ in 0..widths.len() {
        let over = widths.iter().sum::<f64>() - room;
        if over <= 0.0 {
            return;
        }
        let most = widths.iter().copied().fold(0.0, f64::max);
        let next = widths
            .iter()
            .copied()
            .filter(|w| *w < most - 0.1)
            .fold(0.0, f64::max);
        let widest: Vec<usize> = (0..widths.len())
            .filter(|i| widths[*i] >= most - 0.1)
            .collect();
        let each = (over / widest.len() as f64).min(most - next);
        for place in widest {
            widths[place] = most - each;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::pdf::Paper;

    #[test]
    fn columns_too_wide_give_from_the_widest() {
        let mut widths = [10.0, 50.0, 80.0];
        narrow(&mut widths, 100.0);
        assert!(
            (widths.iter().sum::<f64>() - 100.0).abs() < 1e-9,
            "{widths:?}"
        );
        assert_eq!(widths[0], 10.0);
        assert!((widths[1] - widths[2]).abs() < 0.2, "{widths:?}");
    }

    #[test]
    fn a_unit_stays_with_its_number() {
        let mut canvas = Canvas::new(Paper::A4).expect("a canvas");
        let flow = Flow::new(&mut canvas, (40.0, 40.0));
        let style = Style::plain(10.0);
        let room = flow.text_width("it read 6.0", style) + 1.0;
        assert_eq!(
            flow.wrapped("it read 6.0 °C, at night", room, style),
            ["it read", "6.0 °C, at", "night"]
        );
    }

    #[test]
    fn a_word_wider_than_its_column_is_broken_and_nothing_is_lost() {
        let mut canvas = Canvas::new(Paper::A4).expect("a canvas");
        let flow = Flow::new(&mut canvas, (40.0, 40.0));
        let style = Style::plain(10.0);
        let rows = flow.wrapped("one incomprehensibilities two", 40.0, style);
        assert_eq!(
            rows.concat().replace(' ', ""),
            "oneincomprehensibilitiestwo"
        );
        assert!(rows.len() > 3, "{rows:?}");
        // Letters that act are seen, and one that the typeface has not is told by its code.
        assert_eq!(
            flow.wrapped("a\u{202e}b \u{4e00}", 400.0, style),
            ["a[U+202E]b [U+4E00]"]
        );
    }
}
