//! Arguments of `serve`.

use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct ServeArgs {
    /// Port to listen on, on this machine alone; any free one, if left out
    #[arg(long)]
    pub(crate) port: Option<u16>,
    /// The job book; by default jobs.book beside the shop's profile, or in this folder
    #[arg(long, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
}
