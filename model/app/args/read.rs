//! The arguments of `read`.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct ReadArgs {
    /// The log as exported: a text table
    pub(crate) log: PathBuf,
    /// What a column is, by its header or its number: `Power=wheel_power_hp`, `#3=engine_speed_rpm`, `Mix=afr 14.7`, `Old=skip`
    #[arg(long, value_parser = column)]
    pub(crate) column: Vec<(String, String)>,
    /// Which sign marks decimals, where the numbers do not show it
    #[arg(long, value_enum)]
    pub(crate) decimal: Option<DecimalArg>,
    /// Where to write the answers; unless given beside the log, as its name with .logger.toml
    #[arg(long)]
    pub(crate) logger: Option<PathBuf>,
    /// Write no answers
    #[arg(long, conflicts_with = "logger")]
    pub(crate) no_save: bool,
    /// Replace the logger file if it is there and for other logs
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum DecimalArg {
    /// 0.5
    Point,
    /// 0,5
    Comma,
}

impl From<DecimalArg> for pullcast::files::run_csv::DecimalMark {
    fn from(arg: DecimalArg) -> Self {
        match arg {
            DecimalArg::Point => Self::Point,
            DecimalArg::Comma => Self::Comma,
        }
    }
}

/// `HEADER=NAME`, parted at the last sign of equality.
fn column(text: &str) -> Result<(String, String), String> {
    let (head, name) = text
        .rsplit_once('=')
        .ok_or("expected HEADER=NAME, such as \"Power=wheel_power_hp\"")?;
    Ok((head.trim().to_owned(), name.trim().to_owned()))
}
