//! What closed jobs tell of the model, kept beside their outcomes.

use super::{Book, BookError};
use crate::fit::own_jobs::ClosedJob;
use rusqlite::{Connection, Transaction, params};

impl Book {
    /// What every closed job tells, in the order in which they were closed.
    pub fn lessons(&self) -> Result<Vec<ClosedJob>, BookError> {
        self.read(|db| {
            if !kept(db, "missed")? {
                return Ok(Vec::new());
            }
            let parts = if kept(db, "parts")? { "l.parts" } else { "0.0" };
            let mut all = db.prepare(&format!(
                "SELECT l.missed, l.own, l.air, l.phasing, l.work, l.gas_exchange, l.blower, l.driveline, {parts}, l.quote_id \
                 FROM lesson l JOIN outcome o ON o.quote_id = l.quote_id ORDER BY o.closed, o.quote_id",
            ))?;
            let mut kinds_of =
                db.prepare("SELECT kind FROM quote_kind WHERE quote_id = ?1 ORDER BY rowid")?;
            let mut rows = all.query([])?;
            let mut lessons = Vec::new();
            while let Some(row) = rows.next()? {
                let mut effects = [0.0; 6];
                for (place, effect) in effects.iter_mut().enumerate() {
                    *effect = row.get(2 + place)?;
                }
                let quote: i64 = row.get(9)?;
                let kinds = kinds_of.query_map([quote], |row| row.get(0))?;
                lessons.push(ClosedJob {
                    missed: row.get(0)?,
                    own: row.get(1)?,
                    effects,
                    parts: row.get(8)?,
                    kinds: kinds.collect::<Result<_, _>>()?,
                });
            }
            Ok(lessons)
        })
    }

    /// Numbers of quotes that were closed before lessons were kept.
    pub fn untold(&self) -> Result<Vec<String>, BookError> {
        self.read(|db| {
            let mut all = db.prepare(
                "SELECT q.number FROM outcome o JOIN quote q ON q.id = o.quote_id \
                 WHERE NOT EXISTS (SELECT 1 FROM lesson l WHERE l.quote_id = o.quote_id) ORDER BY o.closed, o.quote_id",
            )?;
            let numbers = all.query_map([], |row| row.get(0))?;
            numbers.collect()
        })
    }

    /// Keeps what a job that is closed tells; what is kept already stays.
    pub fn tell(&mut self, number: &str, job: &ClosedJob) -> Result<(), BookError> {
        self.write(|step| {
            let id = step.query_row("SELECT id FROM quote WHERE number = ?1", [number], |row| {
                row.get(0)
            })?;
            put(step, id, job)
        })
    }
}

/// Whether the book has a place for a number of theirs: one of an earlier form that is only read may have none.
fn kept(db: &Connection, number: &str) -> Result<bool, rusqlite::Error> {
    db.query_row(
        "SELECT EXISTS (SELECT 1 FROM pragma_table_info('lesson') WHERE name = ?1)",
        [number],
        |row| row.get(0),
    )
}

pub(super) fn put(
    step: &Transaction<'_>,
    quote: i64,
    job: &ClosedJob,
) -> Result<(), rusqlite::Error> {
    let [air, phasing, work, exchange, blower, driveline] = job.effects;
    step.execute(
        "INSERT OR IGNORE INTO lesson (quote_id, missed, own, air, phasing, work, gas_exchange, blower, driveline, parts) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        params![quote, job.missed, job.own, air, phasing, work, exchange, blower, driveline, job.parts],
    )?;
    Ok(())
}
