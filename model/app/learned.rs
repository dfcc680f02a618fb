//! What the shop's own closed jobs taught: read from the job book, where there is one and nobody switched it off.

use crate::args::QuoteArgs;
use crate::book;
use crate::output::Output;
use pullcast::belief::Miss;
use pullcast::files::book::Book;
use pullcast::fit::own_jobs::{ClosedJob, Learned};
use std::path::Path;
use std::sync::Arc;

/// The closed jobs that a call learns from: those of a quote that is made again, or those of the book that it names, or of the shop's.
pub(crate) fn jobs(args: &QuoteArgs, out: Output<'_>) -> Vec<ClosedJob> {
    if let Some(jobs) = &args.own_jobs {
        return jobs.clone();
    }
    if args.no_learning {
        return Vec::new();
    }
    let named = args.book.as_deref().filter(|path| !path.is_empty());
    let path = book::path_of(named.map(Path::new), out);
    of_book(&path).unwrap_or_else(|why| {
        out.note(&format!("nothing is learned from closed jobs: {why}"));
        Vec::new()
    })
}

/// What the closed jobs of a book tell; nothing where there is no book.
pub(crate) fn of_book(path: &Path) -> Result<Vec<ClosedJob>, String> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let lessons = Book::look(path).and_then(|book| book.lessons());
    lessons.map_err(|error| error.to_string())
}

/// What they taught, where they are enough.
pub(crate) fn learned(jobs: &[ClosedJob], general: &Miss, seed: u64) -> Option<Arc<Learned>> {
    Learned::of(jobs, general, seed).map(Arc::new)
}
