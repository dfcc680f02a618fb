//! Arguments of `book`.

use clap::{Args, Subcommand};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct BookArgs {
    /// The job book; by default jobs.book beside the shop's profile, or in this folder
    #[arg(long, value_name = "FILE", global = true)]
    pub(crate) book: Option<PathBuf>,
    #[command(subcommand)]
    pub(crate) verb: BookVerb,
}

#[derive(Debug, Subcommand)]
pub(crate) enum BookVerb {
    /// List the quotes, oldest first, and how they turned out
    List,
    /// Keep a car, plan, visit or weather file, with every file that it names
    Add {
        /// The file
        file: PathBuf,
        /// Whose it is: the car's name; a car file brings its own
        #[arg(long)]
        car: Option<String>,
    },
    /// Make a quote again from the book alone, and tell whether it is the same to the last byte, or where it differs
    Again {
        /// Its number, or the beginning of it
        number: String,
    },
    /// Close a job: hold its quote against the pulls made after the work, in the air of those pulls
    Close {
        /// Number of the quote, or the beginning of it
        number: String,
        /// Visit file with the pulls after the work
        visit: PathBuf,
    },
    /// Tell how past quotes turned out: promises kept, ranges that held, by kind of work
    Record,
    /// Add a remark to a quote
    Note {
        /// Number of the quote, or the beginning of it
        number: String,
        /// The remark
        text: String,
    },
    /// Write a copy of the book, also while others use it; a file that is there is never replaced
    Backup {
        /// The copy
        to: PathBuf,
    },
    /// Write everything as plain files: each quote's inputs and answer, and a table of all
    Export {
        /// A folder
        folder: PathBuf,
    },
    /// Check every page and every stored file against its sum
    Check,
}
