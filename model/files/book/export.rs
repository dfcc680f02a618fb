//! A copy of the book, and its contents as plain files.

use super::{Book, BookError, Sql, Tree};
use crate::files::shown::table_cell;
use core::time::Duration;
use rusqlite::Connection;
use rusqlite::backup::Backup;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// Pages copied at a time, and the pause between, so that another program gets its turn.
const PAGES: i32 = 256;
const PAUSE: Duration = Duration::from_millis(5);

impl Book {
    /// A copy as of now, while others may write. It is made beside its place and put there whole.
    pub fn backup(&self, to: &Path) -> Result<(), BookError> {
        let io = |error| BookError::Io {
            path: to.to_owned(),
            error,
        };
        if to.exists() {
            return Err(io(std::io::Error::new(
                std::io::ErrorKind::AlreadyExists,
                "a file of this name is there; a backup replaces nothing",
            )));
        }
        let mut name = to.as_os_str().to_owned();
        name.push(".part");
        let part = Path::new(&name);
        let copy = || {
            let mut copy = Connection::open(part)?;
            Backup::new(&self.db, &mut copy)?.run_to_completion(PAGES, PAUSE, None)?;
            // A copy stands alone, without a log beside it.
            copy.pragma_update(None, "journal_mode", "DELETE")?;
            copy.close().map_err(|(_, error)| error)
        };
        let made = copy().map_err(|error| Sql(error).at(&self.path));
        if made.is_err() {
            let _ = fs::remove_file(part);
        }
        made?;
        fs::rename(part, to).map_err(io)
    }

    /// Everything as plain files: a folder for each quote with its inputs and its answer, and a table of all. What cannot be read is left out
    /// and named.
    pub fn export(&self, folder: &Path) -> Result<Vec<String>, BookError> {
        let io = |error| BookError::Io {
            path: folder.to_owned(),
            error,
        };
        fs::create_dir_all(folder).map_err(io)?;
        let mut left_out = Vec::new();
        let mut table = String::from(
            "number,made,car,plan,customer,promised (kW),low (kW),middle (kW),high (kW),read (kW),pit,log score\n",
        );
        let lines = self.lines()?;
        for line in &lines {
            let kw = |w: f64| format!("{:.3}", w / 1e3);
            let read = line.outcome.map_or_else(
                || ",,".to_owned(),
                |o| format!("{},{:.4},{:.4}", kw(o.read_w), o.pit, o.log_score),
            );
            let (low, middle, high) = line.range_w;
            let row = [
                line.number.clone(),
                line.made.clone(),
                table_cell(&line.car),
                table_cell(&line.plan),
                table_cell(line.customer.as_deref().unwrap_or_default()),
                kw(line.promised_w),
                kw(low),
                kw(middle),
                kw(high),
            ];
            let _ = writeln!(table, "{},{read}", row.join(","));
            let below = folder.join(&line.number);
            let written = self.stored(&line.number).and_then(|stored| {
                Tree::lay(&below, &stored.inputs)?;
                fs::write(below.join("quote.json"), stored.report).map_err(io)
            });
            if let Err(error) = written {
                left_out.push(format!("{}: {error}", line.number));
            }
        }
        fs::write(folder.join("quotes.csv"), table).map_err(io)?;
        Ok(left_out)
    }
}
