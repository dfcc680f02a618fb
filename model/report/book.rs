//! The job book, to be read: what there is, how it turned out, whether an old quote comes out the same.

use super::chart;
use super::document::Document;
use super::kind::kind_words;
use super::number::{Span, Units, What};
use super::table::TextTable;
use super::{Level, Report};
use crate::ask::record::{Against, Record, Row};
use crate::files::book::Line;
use serde::Serialize;

/// Every quote.
#[derive(Debug, Clone, Serialize)]
pub struct ListReport {
    /// The book.
    pub book: String,
    /// The cars.
    pub cars: Vec<String>,
    /// The quotes, oldest first.
    pub quotes: Vec<Line>,
}

/// Letters of a number that are shown: enough to tell a shop's quotes apart.
const SHOWN: usize = 12;

impl Report for ListReport {
    const SCHEMA: &'static str = "pullcast/book/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let open = self.quotes.iter().filter(|q| q.outcome.is_none()).count();
        document.at(Level::Answer).title(format!(
            "Job book {}: {} car{}, {} quote{}, {open} open",
            self.book,
            self.cars.len(),
            if self.cars.len() == 1 { "" } else { "s" },
            self.quotes.len(),
            if self.quotes.len() == 1 { "" } else { "s" }
        ));
        let mut table = TextTable::new("llllrr");
        table.head(["quote", "made", "car", "work", "promised", "read"]);
        for quote in &self.quotes {
            table.row([
                quote.number.chars().take(SHOWN).collect::<String>(),
                quote.made.chars().take(10).collect(),
                quote.car.clone(),
                quote.plan.clone(),
                units.show(What::Power, quote.promised_w),
                quote
                    .outcome
                    .map_or_else(|| "open".to_owned(), |o| units.show(What::Power, o.read_w)),
            ]);
        }
        document.at(Level::Answer).table(table);
        for quote in self.quotes.iter().filter(|quote| !quote.notes.is_empty()) {
            document
                .at(Level::Detail)
                .section(format!("Notes on {}", quote.number))
                .list(quote.notes.iter().cloned());
        }
        document
    }
}

/// How past quotes turned out.
#[derive(Debug, Clone, Serialize)]
pub struct RecordReport {
    /// The record.
    #[serde(flatten)]
    pub record: Record,
}

/// Jobs below which a share says little.
const FEW: usize = 10;

impl Report for RecordReport {
    const SCHEMA: &'static str = "pullcast/record/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let Some(all) = &self.record.all else {
            document.at(Level::Answer).title(
                "No job is closed yet: `book close NUMBER VISIT.toml` holds a quote against the pulls after the work.",
            );
            return document;
        };
        document.at(Level::Answer).title(format!(
            "{} of {} readings reached what was promised; {} of {} lay in their range.",
            all.kept, all.jobs, all.held, all.jobs
        ));
        let (low, high) = all.held_between;
        let mut words = format!(
            "Nine in ten should. By these {} job{} the true share of ranges that hold lies between {:.0} and {:.0} %, nine times in ten.",
            all.jobs,
            if all.jobs == 1 { "" } else { "s" },
            100.0 * low,
            100.0 * high
        );
        if all.jobs < FEW {
            words.push_str(" That is too few to judge by.");
        }
        let mut table = TextTable::new("lrrrrrr");
        table.head(["work", "jobs", "kept", "held", "mean PIT", "read", "score"]);
        let row = |row: &Row| {
            [
                row.change.as_deref().map_or("all", kind_words).to_owned(),
                row.jobs.to_string(),
                row.kept.to_string(),
                row.held.to_string(),
                format!("{:.2}", row.mean_pit),
                units.show_change(What::Percent, row.mean_miss),
                format!("{:.2}", row.mean_log_score),
            ]
        };
        table.row(row(all));
        for of_kind in &self.record.by_change {
            table.row(row(of_kind));
        }
        let fifths: Vec<String> = self.record.fifths.iter().map(usize::to_string).collect();
        document
            .at(Level::Answer)
            .paragraph(words)
            .table(table)
            .paragraph(format!(
                "Readings by fifths of their quote's draws, from the lowest: {}. Even is right; many at the low end is promising too much, many at both \
                 ends is ranges too narrow.",
                fifths.join(", ")
            ));
        document.at(Level::Detail).paragraph(
            "Kept: the reading reached the promise. Held: it lay in the range of nine in ten. PIT: share of the draws below the reading, a half where \
             the middle is right. Read: mean of read over the middle. Score: mean logarithm of the density at the reading, more is better. All in the \
             air of the reading; a job with several kinds of work counts under each.",
        );
        document
    }
}

/// A quote made again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AgainReport {
    /// Its number.
    pub number: String,
    /// The version that made it.
    pub version_then: String,
    /// The version that made it again.
    pub version_now: String,
    /// Whether every byte is the same.
    pub same: bool,
    /// Where they differ: the field, then, and now.
    pub differences: Vec<(String, String, String)>,
    /// Differences beyond those listed.
    pub more: usize,
}

impl Report for AgainReport {
    const SCHEMA: &'static str = "pullcast/again/1";

    fn document(&self, _: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        if self.same {
            part.title(format!(
                "Quote {}: made again from the book, the same to the last byte.",
                self.number
            ));
            return document;
        }
        part.title(format!(
            "Quote {}: made again from the book, it differs.",
            self.number
        ));
        if self.version_then == self.version_now {
            part.paragraph(format!(
                "Both were made by pullcast {}, so its build or this machine differs from the one then.",
                self.version_now
            ));
        } else {
            part.paragraph(format!(
                "It was made by pullcast {}; this is {}.",
                self.version_then, self.version_now
            ));
        }
        let mut table = TextTable::new("lll");
        table.head(["field", "then", "now"]);
        for (field, then, now) in &self.differences {
            table.row([field, then, now]);
        }
        part.table(table);
        if self.more > 0 {
            part.paragraph(format!("and {} more", self.more));
        }
        document
    }
}

/// A job closed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClosedReport {
    /// Its number.
    pub number: String,
    /// Peak power read, W.
    pub read_w: f64,
    /// Promised in the air of that reading, W.
    pub promised_w: f64,
    /// Low end, middle and high end there, W.
    pub range_w: (f64, f64, f64),
    /// Share of the draws at or below the reading.
    pub pit: f64,
    /// Logarithmic score.
    pub log_score: f64,
    /// The quote in the air of these pulls against what they read, speed by speed.
    pub curve: Vec<Against>,
}

impl Report for ClosedReport {
    const SCHEMA: &'static str = "pullcast/closed/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let power = |w| units.show(What::Power, w);
        let (low, middle, high) = self.range_w;
        let held = (low..=high).contains(&self.read_w);
        document
            .at(Level::Answer)
            .title(format!(
                "Read {}: {}, {}.",
                power(self.read_w),
                if self.read_w >= self.promised_w {
                    "the promise is kept"
                } else {
                    "the promise is missed"
                },
                if held {
                    "inside the range"
                } else {
                    "outside the range"
                }
            ))
            .paragraph(format!(
                "In the air of these pulls the quote promises {}, with {} to {} in nine pulls of ten and {} in the middle. {:.0} % of its draws lie \
                 below the reading. Quote {} is closed.",
                power(self.promised_w),
                power(low),
                power(high),
                power(middle),
                100.0 * self.pit,
                self.number
            ));
        self.by_speed(&mut document, units);
        document
    }
}

impl ClosedReport {
    /// The same over engine speed.
    fn by_speed(&self, document: &mut Document, units: Units) {
        if self.curve.is_empty() {
            return;
        }
        let held = self.curve.iter().filter(|at| at.held()).count();
        let mut table = TextTable::new("rrrrr");
        table.head(["rpm", "read", "middle", "9 in 10", "read over middle"]);
        // Every other engine speed: twice as many rows would show no more.
        for at in self.curve.iter().step_by(2) {
            let range = Span {
                p5: at.low_w,
                p50: at.middle_w,
                p95: at.high_w,
            };
            let (range, middle) = units.range_and_middle(What::Power, &range);
            table.row([
                units.cell(What::Rpm, at.rpm),
                units.show(What::Power, at.read_w),
                middle,
                range,
                units.show_change(What::Percent, at.read_w / at.middle_w - 1.0),
            ]);
        }
        document
            .at(Level::Answer)
            .chart(chart::closed::chart(self, units));
        document
            .at(Level::Detail)
            .space()
            .section("Read against predicted, speed by speed")
            .paragraph(format!(
                "At {held} of {} engine speeds the reading lies in the range.",
                self.curve.len()
            ))
            .table(table);
    }
}
