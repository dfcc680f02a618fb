//! Reading from the book.

use super::{Book, BookError, Paper, PaperKind, Sql};
use rusqlite::{OptionalExtension, Row, params};
use serde::Serialize;

/// A quote in a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    /// Its number.
    pub number: String,
    /// The day it was made.
    pub made: String,
    /// The car's name.
    pub car: String,
    /// The plan's name.
    pub plan: String,
    /// For whom.
    pub customer: Option<String>,
    /// Kinds of work, by id.
    pub changes: Vec<String>,
    /// Promised, W.
    pub promised_w: f64,
    /// Low end, middle and high end, W.
    pub range_w: (f64, f64, f64),
    /// How it turned out; none while it is open.
    pub outcome: Option<Outcome>,
    /// Remarks, oldest first.
    pub notes: Vec<String>,
}

/// How a quote turned out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Outcome {
    /// Peak power read after the work, W.
    pub read_w: f64,
    /// Promised in the air of that reading, W.
    pub promised_w: f64,
    /// Low end of the range there, W.
    pub low_w: f64,
    /// Middle, W.
    pub middle_w: f64,
    /// High end, W.
    pub high_w: f64,
    /// Share of the draws at or below the reading.
    pub pit: f64,
    /// Logarithmic score.
    pub log_score: f64,
}

/// A quote as it was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// Its number.
    pub number: String,
    /// The version that made it.
    pub version: String,
    /// How it was asked, as JSON.
    pub options: String,
    /// What was answered, as JSON.
    pub report: String,
    /// Whether it is closed.
    pub closed: bool,
    /// What it was made from.
    pub inputs: Inputs,
}

/// What a quote was made from, in order.
pub type Inputs = Vec<Paper>;

const LINES: &str = "SELECT q.id, q.number, q.made, c.name, q.plan, q.customer, q.promised_w, q.low_w, q.middle_w, q.high_w, \
     o.read_w, o.promised_w, o.low_w, o.middle_w, o.high_w, o.pit, o.log_score \
     FROM quote q JOIN car c ON c.id = q.car_id LEFT JOIN outcome o ON o.quote_id = q.id ORDER BY q.made, q.id";

impl Book {
    /// Every quote, oldest first.
    pub fn lines(&self) -> Result<Vec<Line>, BookError> {
        self.read(|db| {
            let mut all = db.prepare(LINES)?;
            let mut rows = all.query([])?;
            let mut lines = Vec::new();
            while let Some(row) = rows.next()? {
                let id: i64 = row.get(0)?;
                let mut line = line(row)?;
                line.changes = texts(
                    db,
                    "SELECT kind FROM quote_kind WHERE quote_id = ?1 ORDER BY rowid",
                    id,
                )?;
                line.notes = texts(
                    db,
                    "SELECT text FROM note WHERE quote_id = ?1 ORDER BY id",
                    id,
                )?;
                lines.push(line);
            }
            Ok(lines)
        })
    }

    /// Names of the cars.
    pub fn cars(&self) -> Result<Vec<String>, BookError> {
        self.read(|db| {
            let mut all = db.prepare("SELECT name FROM car ORDER BY name")?;
            let names = all.query_map([], |row| row.get(0))?;
            names.collect()
        })
    }

    /// The whole number of a quote of which the beginning is given.
    pub fn number(&self, beginning: &str) -> Result<String, BookError> {
        let path = self.path.clone();
        let found: Vec<String> = self.read(|db| {
            let mut all =
                db.prepare("SELECT number FROM quote WHERE substr(number, 1, length(?1)) = ?1")?;
            let numbers = all.query_map([beginning], |row| row.get(0))?;
            numbers.collect()
        })?;
        let number = beginning.to_owned();
        match found.len() {
            _ if number.is_empty() => Err(BookError::NoQuote { path, number }),
            0 => Err(BookError::NoQuote { path, number }),
            1 => Ok(found.into_iter().next().unwrap_or(number)),
            _ => Err(BookError::Ambiguous { path, number }),
        }
    }

    /// A quote with everything it was made from.
    pub fn stored(&self, number: &str) -> Result<Stored, BookError> {
        self.read(|db| {
            let (id, mut stored): (i64, Stored) = db.query_row(
                "SELECT id, number, version, options, report, EXISTS (SELECT 1 FROM outcome WHERE quote_id = quote.id) FROM quote WHERE number = ?1",
                [number],
                |row| {
                    Ok((
                        row.get(0)?,
                        Stored {
                            number: row.get(1)?,
                            version: row.get(2)?,
                            options: row.get(3)?,
                            report: row.get(4)?,
                            closed: row.get(5)?,
                            inputs: Vec::new(),
                        },
                    ))
                },
            )?;
            let mut papers = db.prepare(
                "SELECT p.id, p.kind FROM quote_paper q JOIN paper p ON p.id = q.paper_id WHERE q.quote_id = ?1 ORDER BY q.place",
            )?;
            let found = papers.query_map([id], |row| Ok((row.get(0)?, row.get(1)?)))?;
            for paper in found {
                let (paper, kind): (i64, String) = paper?;
                stored.inputs.push(Paper {
                    kind: PaperKind::of(&kind).unwrap_or(PaperKind::Car),
                    files: files(db, paper)?,
                });
            }
            Ok(stored)
        })
    }

    /// The visit that closed a quote; none while it is open.
    pub fn closing(&self, number: &str) -> Result<Option<Paper>, BookError> {
        self.read(|db| {
            let paper: Option<i64> = db
                .query_row(
                    "SELECT o.paper_id FROM outcome o JOIN quote q ON q.id = o.quote_id WHERE q.number = ?1",
                    [number],
                    |row| row.get(0),
                )
                .optional()?;
            let Some(paper) = paper else {
                return Ok(None);
            };
            Ok(Some(Paper {
                kind: PaperKind::Visit,
                files: files(db, paper)?,
            }))
        })
    }

    pub(super) fn read<T>(
        &self,
        look: impl FnOnce(&rusqlite::Connection) -> Result<T, rusqlite::Error>,
    ) -> Result<T, BookError> {
        look(&self.db).map_err(|error| Sql(error).at(&self.path))
    }
}

/// A description's files, its own first.
fn files(db: &rusqlite::Connection, paper: i64) -> Result<Vec<(String, Vec<u8>)>, rusqlite::Error> {
    let mut files = db.prepare(
        "SELECT f.path, b.content FROM paper_file f JOIN bytes b ON b.sha256 = f.sha256 WHERE f.paper_id = ?1 ORDER BY f.place",
    )?;
    let files = files.query_map(params![paper], |row| Ok((row.get(0)?, row.get(1)?)))?;
    files.collect()
}

fn texts(db: &rusqlite::Connection, sql: &str, id: i64) -> Result<Vec<String>, rusqlite::Error> {
    let mut all = db.prepare(sql)?;
    let texts = all.query_map([id], |row| row.get(0))?;
    texts.collect()
}

fn line(row: &Row<'_>) -> Result<Line, rusqlite::Error> {
    let read_w: Option<f64> = row.get(10)?;
    let outcome = match read_w {
        Some(read_w) => Some(Outcome {
            read_w,
            promised_w: row.get(11)?,
            low_w: row.get(12)?,
            middle_w: row.get(13)?,
            high_w: row.get(14)?,
            pit: row.get(15)?,
            log_score: row.get(16)?,
        }),
        None => None,
    };
    Ok(Line {
        number: row.get(1)?,
        made: row.get(2)?,
        car: row.get(3)?,
        plan: row.get(4)?,
        customer: row.get(5)?,
        changes: Vec::new(),
        promised_w: row.get(6)?,
        range_w: (row.get(7)?, row.get(8)?, row.get(9)?),
        outcome,
        notes: Vec::new(),
    })
}
