//! The job book: cars, visits with the raw bytes of their logs, plans, quotes with all that they were made from, and how they turned out.
//!
//! One `SQLite` file. What is told as kept is on the disk (write-ahead log, synced at every commit); a program that is killed leaves the book as it was
//! before or after, never between. Two programs may have it open: the second waits. It refuses a book of a later form, a file that is none, and one
//! whose pages are damaged, and says what to do.

mod export;
mod keep;
mod lesson;
mod look;
mod tree;

pub use keep::{Closing, Kept, KeptQuote, Paper, PaperKind};
pub use look::{Inputs, Line, Outcome, Stored};
pub use tree::{Moved, Tree};

use core::time::Duration;
use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};
use std::path::{Path, PathBuf};

/// Usual name of a job book.
pub const NAME: &str = "jobs.book";
/// Marks a `SQLite` file as a job book: `pcjb` in its head.
const APPLICATION: i32 = 0x7063_6a62;
/// Each form's step from the one before it; their number is the form that this program writes.
const FORMS: [&str; 3] = [
    include_str!("schema_1.sql"),
    include_str!("schema_2.sql"),
    include_str!("schema_3.sql"),
];
/// How long a program waits for another one that writes.
const PATIENCE: Duration = Duration::from_secs(15);

/// A job book that is open.
#[derive(Debug)]
pub struct Book {
    db: Connection,
    path: PathBuf,
}

/// Why a book cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BookError {
    /// There is none.
    #[error("{}: there is no job book; `quote --book` or `book add` begins one", path.display())]
    Missing {
        /// Where.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{}: this is no job book, so nothing was done to it", path.display())]
    NotABook {
        /// Where.
        path: PathBuf,
    },
    /// A later program wrote it.
    #[error(
        "{}: this job book has form {found}, this program knows up to {}; a newer pullcast opens it, nothing was done to it",
        path.display(),
        FORMS.len()
    )]
    Newer {
        /// Where.
        path: PathBuf,
        /// Its form.
        found: i32,
    },
    /// Its pages are damaged.
    #[error(
        "{}: the job book is damaged ({what}); keep the file, put your last backup (`book backup`) in its place, and `book export` saves what can \
         still be read of the damaged one",
        path.display()
    )]
    Damaged {
        /// Where.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// It may only be read.
    #[error("{}: the job book can only be read, so nothing was kept", path.display())]
    ReadOnly {
        /// Where.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("{}: the disk is full, so nothing was kept; the book is as it was", path.display())]
    Full {
        /// Where.
        path: PathBuf,
    },
    /// Another program writes and does not end.
    #[error("{}: another program is writing to the job book and has not ended; nothing was kept, try again", path.display())]
    Busy {
        /// Where.
        path: PathBuf,
    },
    /// No such quote.
    #[error("{}: there is no quote {number}; `book list` shows those there are", path.display())]
    NoQuote {
        /// Where.
        path: PathBuf,
        /// What was asked for.
        number: String,
    },
    /// The beginning of a number that several quotes have.
    #[error("{}: several quotes begin with {number}; write more of it", path.display())]
    Ambiguous {
        /// Where.
        path: PathBuf,
        /// What was asked for.
        number: String,
    },
    /// No such car.
    #[error("{}: there is no car '{name}'; `book add` its car file first", path.display())]
    NoCar {
        /// Where.
        path: PathBuf,
        /// What was asked for.
        name: String,
    },
    /// The quote is closed already.
    #[error("{}: quote {number} is closed; what was read stays as it is, `book note` adds a remark", path.display())]
    Closed {
        /// Where.
        path: PathBuf,
        /// Which.
        number: String,
    },
    /// A file beside the book.
    #[error("{}: {error}", path.display())]
    Io {
        /// Which.
        path: PathBuf,
        /// What.
        error: std::io::Error,
    },
    /// A path that cannot be kept.
    #[error(
        "{path}: a file named by its absolute path, or from outside its folders, cannot be kept; name it from the folder of the description"
    )]
    Path {
        /// As written.
        path: String,
    },
    /// Anything else of the database.
    #[error("{}: {error}", path.display())]
    Other {
        /// Where.
        path: PathBuf,
        /// What.
        error: rusqlite::Error,
    },
}

impl Book {
    /// Opens a book to write to it, and begins one where there is none.
    pub fn open(path: &Path) -> Result<Self, BookError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut book = Self::connected(path, flags)?;
        book.prepared().map_err(|error| error.at(path))??;
        Ok(book)
    }

    /// Opens a book that is there, to read it; a file or folder that may only be read will do.
    pub fn look(path: &Path) -> Result<Self, BookError> {
        if !path.exists() {
            return Err(BookError::Missing {
                path: path.to_owned(),
            });
        }
        let book = Self::connected(
            path,
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )?;
        match book.judged() {
            Ok(judged) => judged.map(|_| book),
            Err(Sql(error)) if error.sqlite_error_code() == Some(ErrorCode::CannotOpen) => {
                // The log beside it cannot be made where the folder may only be read: nobody else writes there either.
                let uri = format!("file:{}?immutable=1", encoded(path));
                let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
                    | OpenFlags::SQLITE_OPEN_URI
                    | OpenFlags::SQLITE_OPEN_NO_MUTEX;
                let db = Connection::open_with_flags(uri, flags).map_err(|e| Sql(e).at(path))?;
                let book = Self {
                    db,
                    path: path.to_owned(),
                };
                book.judged().map_err(|error| error.at(path))??;
                Ok(book)
            }
            Err(error) => Err(error.at(path)),
        }
    }

    fn connected(path: &Path, flags: OpenFlags) -> Result<Self, BookError> {
        let db = Connection::open_with_flags(path, flags).map_err(|error| Sql(error).at(path))?;
        db.busy_timeout(PATIENCE)
            .map_err(|error| Sql(error).at(path))?;
        Ok(Self {
            db,
            path: path.to_owned(),
        })
    }

    /// Its form, or why it is none of ours; 0 for an empty file.
    fn judged(&self) -> Result<Result<i32, BookError>, Sql> {
        let path = || self.path.clone();
        let pragma = |name: &str| self.db.pragma_query_value(None, name, |row| row.get(0));
        let (application, form): (i32, i32) = (pragma("application_id")?, pragma("user_version")?);
        let tables: i64 = self
            .db
            .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        if application != APPLICATION {
            let fresh = application == 0 && form == 0 && tables == 0;
            return Ok(if fresh {
                Ok(0)
            } else {
                Err(BookError::NotABook { path: path() })
            });
        }
        if usize::try_from(form).is_ok_and(|form| form > FORMS.len()) {
            return Ok(Err(BookError::Newer {
                path: path(),
                found: form,
            }));
        }
        Ok(Ok(form))
    }

    /// Brings the file to the form of today, each step whole or not at all.
    fn prepared(&mut self) -> Result<Result<(), BookError>, Sql> {
        if let Err(refusal) = self.judged()? {
            return Ok(Err(refusal));
        }
        self.db.pragma_update(None, "journal_mode", "WAL")?;
        self.db.pragma_update(None, "synchronous", "FULL")?;
        self.db.pragma_update(None, "foreign_keys", "ON")?;
        let found: String = self
            .db
            .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
        if found != "ok" {
            return Ok(Err(BookError::Damaged {
                path: self.path.clone(),
                what: found,
            }));
        }
        let step = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        // Another program may have been first.
        let form: i32 = step.pragma_query_value(None, "user_version", |row| row.get(0))?;
        let from = usize::try_from(form).unwrap_or(0);
        for sql in FORMS.iter().skip(from) {
            step.execute_batch(sql)?;
        }
        if from < FORMS.len() {
            step.pragma_update(None, "application_id", APPLICATION)?;
            step.pragma_update(
                None,
                "user_version",
                i64::try_from(FORMS.len()).unwrap_or(0),
            )?;
        }
        step.commit()?;
        Ok(Ok(()))
    }

    /// Every page and every stored byte held against its sum.
    pub fn check(&self) -> Result<(), BookError> {
        self.checked().map_err(|error| error.at(&self.path))?
    }

    fn checked(&self) -> Result<Result<(), BookError>, Sql> {
        let damaged = |what: String| {
            Ok(Err(BookError::Damaged {
                path: self.path.clone(),
                what,
            }))
        };
        let found: String = self
            .db
            .query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
        if found != "ok" {
            return damaged(found);
        }
        let orphans: i64 =
            self.db
                .query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| {
                    row.get(0)
                })?;
        if orphans > 0 {
            return damaged(format!("{orphans} rows name others that are gone"));
        }
        let mut all = self.db.prepare("SELECT sha256, content FROM bytes")?;
        let mut rows = all.query([])?;
        while let Some(row) = rows.next()? {
            let (sum, content): (String, Vec<u8>) = (row.get(0)?, row.get(1)?);
            if keep::sum(&content) != sum {
                return damaged(format!("stored file {} is not what was kept", &sum[..12]));
            }
        }
        Ok(Ok(()))
    }

    /// Its path.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

/// An error of the database before it is known whose.
#[derive(Debug)]
struct Sql(rusqlite::Error);

impl From<rusqlite::Error> for Sql {
    fn from(error: rusqlite::Error) -> Self {
        Self(error)
    }
}

impl Sql {
    fn at(self, path: &Path) -> BookError {
        let path = path.to_owned();
        match self.0.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => BookError::NotABook { path },
            Some(ErrorCode::DatabaseCorrupt) => BookError::Damaged {
                path,
                what: self.0.to_string(),
            },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => BookError::ReadOnly { path },
            Some(ErrorCode::DiskFull) => BookError::Full { path },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => BookError::Busy { path },
            _ => BookError::Other {
                path,
                error: self.0,
            },
        }
    }
}

/// A path inside a URI.
fn encoded(path: &Path) -> String {
    path.display()
        .to_string()
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23")
}
