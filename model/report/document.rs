//! What a person reads, before it is drawn: headings, text, lists, tables and charts in the order they are read.
//!
//! A verb's answer becomes one [`Document`], and the terminal's text, the page's HTML and the document's own JSON are drawn from that value, so
//! none of them can say what another does not. Words and units are settled when it is made; only width and markup are left to the
//! drawing. It refuses to hold a number that has no words beside it.

use super::Units;
use super::chart::Chart;
use super::strokes::Row;
use super::table::TextTable;
use crate::files::shown::on_one_line;
use serde::Serialize;

/// A report as a list of blocks.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Document {
    /// The blocks, in reading order.
    pub blocks: Vec<Block>,
}

/// One block, and how soon it is wanted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Block {
    /// Whether it belongs to the answer or to what stands behind it.
    pub level: Level,
    /// What it holds.
    #[serde(flatten)]
    pub content: Content,
}

/// The lines among blocks, each with its lead, and whether they line up in columns.
pub(super) fn lines<'a>(
    run: impl IntoIterator<Item = &'a Block>,
) -> (Vec<(&'a str, &'a str)>, bool) {
    let lines: Vec<(&str, &str)> = run
        .into_iter()
        .filter_map(|block| match &block.content {
            Content::Line { lead, text } => Some((lead.as_str(), text.as_str())),
            _ => None,
        })
        .collect();
    let in_columns = lines.iter().any(|(_, text)| text.trim().contains(COLUMN));
    (lines, in_columns)
}

/// What parts the columns of lines that stand one below the other.
pub(super) const COLUMN: &str = "   ";

/// How soon a block is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Read first, and often alone.
    Answer,
    /// Read by whoever wants to know why.
    Detail,
    /// Stands for a longer block of the details, and goes where that is shown.
    Brief,
}

/// What a block holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Content {
    /// The document's name: what it says in one line.
    Title {
        /// Its words.
        text: String,
    },
    /// The name of what follows.
    Section {
        /// Its words.
        text: String,
    },
    /// Running text.
    Paragraph {
        /// A label in front of it, or nothing.
        lead: String,
        /// The text.
        text: String,
        /// Columns by which its lines are set in, the label's included.
        indent: usize,
    },
    /// One line, broken only where the terminal is narrower. Set in by blanks, it goes on from the line or paragraph before it.
    Line {
        /// A label in front of it, or nothing.
        lead: String,
        /// The text.
        text: String,
    },
    /// Points that stand for themselves.
    List {
        /// The points.
        items: Vec<String>,
    },
    /// Rows and columns.
    Table {
        /// The table.
        table: TextTable,
    },
    /// A chart, for media that draw.
    Chart {
        /// The chart.
        chart: Chart,
    },
    /// Power over engine speed, with ranges, in strokes of letters, for media that do not draw.
    Strokes {
        /// One row per engine speed, SI.
        rows: Vec<Row>,
        /// Units it is drawn in.
        units: Units,
    },
    /// A line of a file, shown as it is.
    Verbatim {
        /// The line.
        text: String,
    },
    /// The last line: what the document was made by and from.
    Foot {
        /// Its words.
        text: String,
    },
    /// Air between two blocks.
    Space,
}

impl Document {
    /// An empty document.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a block.
    pub fn push(&mut self, level: Level, content: Content) {
        self.blocks.push(Block { level, content });
    }

    /// A part of the document whose blocks all belong to one level.
    pub fn at(&mut self, level: Level) -> Part<'_> {
        Part {
            document: self,
            level,
        }
    }

    /// Adds the blocks of another document behind these.
    pub fn append(&mut self, other: Self) {
        self.blocks.extend(other.blocks);
    }

    /// Its blocks with nothing folded away: what stands for a longer block gives way to it, and the last line is left to the page. Strokes stand for
    /// a chart where none is drawn, and take their heading along.
    pub(super) fn unfolded(&self) -> impl Iterator<Item = &Block> {
        let strokes = |block: &Block| matches!(block.content, Content::Strokes { .. });
        let next = self.blocks.iter().skip(1).map(Some).chain([None]);
        let all = self.blocks.iter().zip(next);
        all.filter(move |(block, next)| {
            let heads = matches!(block.content, Content::Section { .. });
            let left_out = block.level == Level::Brief
                || matches!(block.content, Content::Foot { .. })
                || strokes(block)
                || heads && next.is_some_and(strokes);
            !left_out
        })
        .map(|(block, _)| block)
    }

    /// Whether nothing was added.
    pub fn is_empty(&self) -> bool {
        self.blocks.is_empty()
    }
}

/// A hand that writes blocks of one level.
#[derive(Debug)]
pub struct Part<'d> {
    document: &'d mut Document,
    level: Level,
}

impl Part<'_> {
    fn push(&mut self, content: Content) -> &mut Self {
        self.document.push(self.level, content);
        self
    }

    /// The document's name.
    pub fn title(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Content::Title {
            text: on_one_line(&text.into()).into_owned(),
        })
    }

    /// The name of what follows.
    pub fn section(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Content::Section { text: text.into() })
    }

    /// Running text.
    pub fn paragraph(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Content::Paragraph {
            lead: String::new(),
            text: text.into(),
            indent: 0,
        })
    }

    /// Running text behind a label, set in by `indent` columns.
    pub fn labelled(
        &mut self,
        lead: impl Into<String>,
        text: impl Into<String>,
        indent: usize,
    ) -> &mut Self {
        self.push(Content::Paragraph {
            lead: lead.into(),
            text: text.into(),
            indent,
        })
    }

    /// One line, broken only where the terminal is narrower.
    pub fn line(&mut self, text: impl Into<String>) -> &mut Self {
        self.fact("", text)
    }

    /// One line behind a label.
    pub fn fact(&mut self, lead: impl Into<String>, text: impl Into<String>) -> &mut Self {
        self.push(Content::Line {
            lead: lead.into(),
            text: on_one_line(&text.into()).into_owned(),
        })
    }

    /// Points that stand for themselves; none, no block.
    pub fn list<S: Into<String>>(&mut self, items: impl IntoIterator<Item = S>) -> &mut Self {
        let items: Vec<String> = items.into_iter().map(Into::into).collect();
        if items.is_empty() {
            return self;
        }
        self.push(Content::List { items })
    }

    /// Rows and columns; none, no block.
    pub fn table(&mut self, table: TextTable) -> &mut Self {
        if table.is_empty() {
            return self;
        }
        self.push(Content::Table { table })
    }

    /// A chart, for media that draw.
    pub fn chart(&mut self, chart: Chart) -> &mut Self {
        self.push(Content::Chart { chart })
    }

    /// Power over engine speed, with ranges, for media that do not draw.
    pub fn strokes(&mut self, rows: Vec<Row>, units: Units) -> &mut Self {
        self.push(Content::Strokes { rows, units })
    }

    /// A line of a file, as it is.
    pub fn verbatim(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Content::Verbatim { text: text.into() })
    }

    /// The last line.
    pub fn foot(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Content::Foot { text: text.into() })
    }

    /// Air between two blocks.
    pub fn space(&mut self) -> &mut Self {
        self.push(Content::Space)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_are_drawn_in_order_each_in_its_own_way() {
        let mut document = Document::new();
        let mut table = TextTable::new("lr");
        table.row(["power", "7.5"]);
        document
            .at(Level::Answer)
            .title("Pull")
            .paragraph("It made the pull.")
            .space();
        document
            .at(Level::Detail)
            .section("Limits")
            .list(["belt slip"])
            .table(table)
            .labelled("Rig:", "one drum", 6)
            .line("end");
        assert_eq!(
            document.text(),
            "Pull\nIt made the pull.\n\nLimits\n  - belt slip\n  power  7.5\nRig:  one drum\nend\n"
        );
    }

    #[test]
    fn what_is_empty_leaves_no_block() {
        let mut document = Document::new();
        document
            .at(Level::Detail)
            .list(Vec::<String>::new())
            .table(TextTable::new("l"));
        assert!(document.is_empty());
    }

    #[test]
    fn as_json_every_block_says_its_kind_and_its_level() {
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title("Pull")
            .fact("Air: ", "dry");
        document.at(Level::Detail).list(["belt slip"]);
        assert_eq!(
            serde_json::to_value(&document).expect("plain data"),
            serde_json::json!({ "blocks": [
                { "level": "answer", "kind": "title", "text": "Pull" },
                { "level": "answer", "kind": "line", "lead": "Air: ", "text": "dry" },
                { "level": "detail", "kind": "list", "items": ["belt slip"] },
            ] })
        );
    }
}
