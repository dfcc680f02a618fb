//! Writing into the book: everything of one act in one step.

use super::{Book, BookError, Sql, lesson};
use crate::fit::own_jobs::ClosedJob;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};
use sha2::{Digest, Sha256};

/// What a description is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperKind {
    /// A car as described.
    Car,
    /// A car as fitted.
    Fitted,
    /// Planned work.
    Plan,
    /// A visit to the drums.
    Visit,
    /// The air of a day.
    Weather,
}

impl PaperKind {
    /// Its word in the book.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Car => "car",
            Self::Fitted => "fitted",
            Self::Plan => "plan",
            Self::Visit => "visit",
            Self::Weather => "weather",
        }
    }

    pub(super) fn of(word: &str) -> Option<Self> {
        [
            Self::Car,
            Self::Fitted,
            Self::Plan,
            Self::Visit,
            Self::Weather,
        ]
        .into_iter()
        .find(|kind| kind.word() == word)
    }
}

/// A description with every file that it names, byte for byte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paper {
    /// What it is.
    pub kind: PaperKind,
    /// Paths as they were given, and bytes; the description itself first.
    pub files: Vec<(String, Vec<u8>)>,
}

/// A quote to be kept.
#[derive(Debug, Clone)]
pub struct KeptQuote<'a> {
    /// Its number: the hash of its inputs.
    pub number: &'a str,
    /// The car's name.
    pub car: &'a str,
    /// The plan's name.
    pub plan: &'a str,
    /// Kinds of work.
    pub kinds: &'a [&'static str],
    /// When it was made.
    pub made: &'a str,
    /// By which version.
    pub version: &'a str,
    /// Seed of its draws.
    pub seed: u64,
    /// How it was asked, as JSON.
    pub options: &'a str,
    /// What was answered, as JSON.
    pub report: &'a str,
    /// Promised, low end, middle and high end of the peak, W.
    pub peak_w: [f64; 4],
    /// For whom.
    pub customer: Option<&'a str>,
    /// What it was made from, in order.
    pub papers: &'a [Paper],
}

/// What became of a quote.
#[derive(Debug, Clone)]
pub struct Closing<'a> {
    /// The visit after the work.
    pub visit: &'a Paper,
    /// When it was closed.
    pub closed: &'a str,
    /// By which version.
    pub version: &'a str,
    /// Peak power read, W.
    pub read_w: f64,
    /// Promised, low end, middle and high end in the air of that reading, W.
    pub peak_w: [f64; 4],
    /// Share of the draws at or below the reading.
    pub pit: f64,
    /// Logarithmic score.
    pub log_score: f64,
    /// What it tells of the model.
    pub told: ClosedJob,
}

/// Whether something was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// It is new.
    New,
    /// It was there already.
    Already,
}

/// SHA-256 of some bytes, in hexadecimal.
pub(super) fn sum(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    Sha256::digest(bytes)
        .iter()
        .fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
}

impl Book {
    /// Keeps a description with its files.
    pub fn add(&mut self, car: &str, paper: &Paper, now: &str) -> Result<Kept, BookError> {
        self.write(|step| {
            let car = car_of(step, car, now)?;
            Ok(put(step, car, paper, now)?.1)
        })
    }

    /// Keeps a quote with everything it was made from; the same quote once.
    pub fn keep(&mut self, quote: &KeptQuote<'_>) -> Result<Kept, BookError> {
        self.write(|step| {
            let there: Option<i64> = step
                .query_row(
                    "SELECT id FROM quote WHERE number = ?1",
                    [quote.number],
                    |row| row.get(0),
                )
                .optional()?;
            if there.is_some() {
                return Ok(Kept::Already);
            }
            let car = car_of(step, quote.car, quote.made)?;
            let [promised, low, middle, high] = quote.peak_w;
            step.execute(
                "INSERT INTO quote (number, car_id, plan, made, version, seed, options, report, promised_w, low_w, middle_w, high_w, customer) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
                params![
                    quote.number,
                    car,
                    quote.plan,
                    quote.made,
                    quote.version,
                    // The database has no unsigned numbers; the bits come back the same.
                    quote.seed.cast_signed(),
                    quote.options,
                    quote.report,
                    promised,
                    low,
                    middle,
                    high,
                    quote.customer
                ],
            )?;
            let id = step.last_insert_rowid();
            for (place, paper) in quote.papers.iter().enumerate() {
                let (paper, _) = put(step, car, paper, quote.made)?;
                step.execute(
                    "INSERT INTO quote_paper (quote_id, place, paper_id) VALUES (?1, ?2, ?3)",
                    params![id, number(place), paper],
                )?;
            }
            for kind in quote.kinds {
                step.execute(
                    "INSERT OR IGNORE INTO quote_kind (quote_id, kind) VALUES (?1, ?2)",
                    params![id, kind],
                )?;
            }
            Ok(Kept::New)
        })
    }

    /// Closes a quote with what was read after the work.
    pub fn close(&mut self, number: &str, closing: &Closing<'_>) -> Result<(), BookError> {
        let path = self.path.clone();
        let kept = self.write(|step| {
            let (id, car): (i64, i64) = step.query_row(
                "SELECT id, car_id FROM quote WHERE number = ?1",
                [number],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?;
            let there: Option<i64> = step
                .query_row(
                    "SELECT quote_id FROM outcome WHERE quote_id = ?1",
                    [id],
                    |row| row.get(0),
                )
                .optional()?;
            if there.is_some() {
                return Ok(Kept::Already);
            }
            let (paper, _) = put(step, car, closing.visit, closing.closed)?;
            let [promised, low, middle, high] = closing.peak_w;
            step.execute(
                "INSERT INTO outcome (quote_id, paper_id, closed, version, read_w, promised_w, low_w, middle_w, high_w, pit, log_score) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
                params![
                    id,
                    paper,
                    closing.closed,
                    closing.version,
                    closing.read_w,
                    promised,
                    low,
                    middle,
                    high,
                    closing.pit,
                    closing.log_score
                ],
            )?;
            lesson::put(step, id, &closing.told)?;
            Ok(Kept::New)
        })?;
        match kept {
            Kept::New => Ok(()),
            Kept::Already => Err(BookError::Closed {
                path,
                number: number.to_owned(),
            }),
        }
    }

    /// Adds a remark to a quote.
    pub fn note(&mut self, number: &str, text: &str, now: &str) -> Result<(), BookError> {
        self.write(|step| {
            step.execute(
                "INSERT INTO note (car_id, quote_id, made, text) SELECT car_id, id, ?2, ?3 FROM quote WHERE number = ?1",
                params![number, now, text],
            )?;
            Ok(())
        })
    }

    /// One step, whole or not at all. The right to write is taken at once, so that two programs wait and never stand in each other's way.
    pub(super) fn write<T>(
        &mut self,
        act: impl FnOnce(&Transaction<'_>) -> Result<T, rusqlite::Error>,
    ) -> Result<T, BookError> {
        let run = || {
            let step = self
                .db
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            let value = act(&step)?;
            step.commit()?;
            Ok(value)
        };
        run().map_err(|error| Sql(error).at(&self.path))
    }
}

fn car_of(step: &Transaction<'_>, name: &str, now: &str) -> Result<i64, rusqlite::Error> {
    step.execute(
        "INSERT OR IGNORE INTO car (name, since) VALUES (?1, ?2)",
        params![name, now],
    )?;
    step.query_row("SELECT id FROM car WHERE name = ?1", [name], |row| {
        row.get(0)
    })
}

/// A description; the same one, with the same files, once.
fn put(
    step: &Transaction<'_>,
    car: i64,
    paper: &Paper,
    now: &str,
) -> Result<(i64, Kept), rusqlite::Error> {
    let sums: Vec<String> = paper.files.iter().map(|(_, bytes)| sum(bytes)).collect();
    let content = sum(sums.join("\n").as_bytes());
    let path = paper.files.first().map_or("", |(path, _)| path.as_str());
    let key = params![car, paper.kind.word(), path, content];
    let there: Option<i64> = step
        .query_row(
            "SELECT id FROM paper WHERE car_id = ?1 AND kind = ?2 AND path = ?3 AND content = ?4",
            key,
            |row| row.get(0),
        )
        .optional()?;
    if let Some(id) = there {
        return Ok((id, Kept::Already));
    }
    step.execute(
        "INSERT INTO paper (car_id, kind, path, content, since) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![car, paper.kind.word(), path, content, now],
    )?;
    let id = step.last_insert_rowid();
    for (place, ((path, bytes), sum)) in paper.files.iter().zip(&sums).enumerate() {
        step.execute(
            "INSERT OR IGNORE INTO bytes (sha256, content) VALUES (?1, ?2)",
            params![sum, bytes],
        )?;
        step.execute(
            "INSERT INTO paper_file (paper_id, place, path, sha256) VALUES (?1, ?2, ?3, ?4)",
            params![id, number(place), path, sum],
        )?;
    }
    Ok((id, Kept::New))
}

/// A place in a list, as the database counts.
fn number(place: usize) -> i64 {
    i64::try_from(place).unwrap_or(i64::MAX)
}
