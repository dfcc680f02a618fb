//! Arguments of the verbs that print what helps to call the others: files to fill in, their schema, completions, the manual.

use clap::{Args, ValueEnum};
use pullcast::files::schema;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct NewArgs {
    /// Which kind of file
    #[arg(value_enum)]
    pub(crate) kind: FileKind,
    /// File to write; left out, the text is printed. An existing file is never replaced
    pub(crate) path: Option<PathBuf>,
    /// Every key with its range, default and meaning, not only those that have to be filled in
    #[arg(long)]
    pub(crate) all: bool,
}

#[derive(Debug, Args)]
pub(crate) struct SchemaArgs {
    /// Which kind of file
    #[arg(value_enum)]
    pub(crate) kind: FileKind,
}

impl From<FileKind> for schema::FileKind {
    fn from(kind: FileKind) -> Self {
        match kind {
            FileKind::Car => Self::Car,
            FileKind::Plan => Self::Plan,
            FileKind::Visit => Self::Visit,
            FileKind::Weather => Self::Weather,
            FileKind::DrumLog => Self::DrumLog,
            FileKind::Shop => Self::Shop,
            FileKind::Class => Self::Class,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FileKind {
    /// The car, and the drums it stands on
    Car,
    /// The planned work, change by change
    Plan,
    /// A visit to the drums: the air in the room, and the recordings of its pulls
    Visit,
    /// The air of a day for which no pulls are recorded, such as that of the pull after the work
    Weather,
    /// A raw drum log: the log, the drums, and what may stand beside them
    DrumLog,
    /// The shop's profile: rigs, units, fuels, letterhead; it lies as pullcast.toml in the shop's folder
    Shop,
    /// The rules of a class: limits of power, power to weight and boost, for `rules`
    Class,
}

#[derive(Debug, Args)]
pub(crate) struct CompletionsArgs {
    /// Which shell
    #[arg(value_enum)]
    pub(crate) shell: clap_complete::Shell,
}

#[derive(Debug, Args)]
pub(crate) struct ManualArgs {
    /// Which verb; left out, the program as a whole
    pub(crate) verb: Option<String>,
}
