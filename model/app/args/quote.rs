//! Arguments of `quote`.

use super::{CorrectionArgs, DrawArgs, MisfitArgs};
use crate::values::{chance, date, days, dials, target};
use clap::{ArgGroup, Args, ValueEnum};
use pullcast::ask::quote::Dial;
use pullcast::fit::own_jobs::ClosedJob;
use pullcast::report::pdf::Paper;
use std::path::PathBuf;

#[derive(Debug, Default, Args)]
pub(crate) struct QuoteArgs {
    /// Car file, as filled in or as written by `fit`
    pub(crate) car: PathBuf,
    /// Plan file with the work; left out, the car as it stands
    pub(crate) plan: Option<PathBuf>,
    /// Visit files with measured pulls of the car before the work, to calibrate it on first, oldest first: the last one is the
    /// reading before
    #[arg(long = "visit", value_name = "VISIT", num_args = 1..)]
    pub(crate) visits: Vec<PathBuf>,
    /// Weather file: the air expected for the pull after the work; by default that of the last visit, or 99 kPa dry at 25 °C
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    #[command(flatten)]
    pub(crate) reach: ReachArgs,
    /// How many variants of car, mods and drums to draw within their tolerances; more make the range smoother, not narrower
    /// [default: as many as keep the ends of the range still from seed to seed, 600 to 3000; 300 with --reach]
    #[arg(long, value_parser = clap::value_parser!(u32).range(pullcast::ask::quote::LEAST_DRAWS as i64..=100_000))]
    pub(crate) draws: Option<u32>,
    /// Seed of the draws; the same seed gives the same quote to the digit
    #[arg(long, default_value_t = QuoteArgs::SEED)]
    pub(crate) seed: u64,
    /// Date for the last line, as YYYY-MM-DD; left out, none is printed, and the same files give the same bytes on any day
    #[arg(long, value_parser = date)]
    pub(crate) date: Option<String>,
    /// Write the car as fitted to the visits to this file
    #[arg(long, requires = "visits")]
    pub(crate) out: Option<PathBuf>,
    /// Replace the files of --out, --svg, --png, --sheet and --pdf if they are already there
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) misfit: MisfitArgs,
    #[command(flatten)]
    pub(crate) draw: DrawArgs,
    #[command(flatten)]
    pub(crate) sheet: SheetArgs,
    /// Keep the quote in the shop's job book, with the bytes of every file it was made from; without a name, in jobs.book beside the profile, or here
    #[arg(long, value_name = "FILE", num_args = 0..=1, default_missing_value = "", conflicts_with = "reach")]
    pub(crate) book: Option<String>,
    /// Quote as if no job of the shop had been closed; without it, five closed jobs of the job book or more say how the calculation errs here
    #[arg(long)]
    pub(crate) no_learning: bool,
    /// The closed jobs that a stored quote was made with, in place of those of the book
    #[arg(skip)]
    pub(crate) own_jobs: Option<Vec<ClosedJob>>,
}

impl QuoteArgs {
    /// Seed where none is named.
    pub(crate) const SEED: u64 = 1;
}

/// The sheet to hand over.
#[derive(Debug, Default, Args)]
#[command(group(ArgGroup::new("a_sheet").multiple(true)))]
pub(crate) struct SheetArgs {
    /// Also write the quote to this file as a sheet to hand over: one page for the customer, the engineer's side behind it; open it in a browser,
    /// print it or save it as PDF there
    #[arg(long, value_name = "FILE", conflicts_with = "reach", group = "a_sheet")]
    pub(crate) sheet: Option<PathBuf>,
    /// Also write that sheet to this file as PDF, with its typeface inside; text in it can be selected and searched
    #[arg(long, value_name = "FILE", conflicts_with = "reach", group = "a_sheet")]
    pub(crate) pdf: Option<PathBuf>,
    /// Paper of the PDF
    #[arg(long, value_enum, default_value_t = PaperArg::A4, requires = "pdf")]
    pub(crate) paper: PaperArg,
    /// Whom the sheet is for
    #[arg(long, requires = "a_sheet")]
    pub(crate) customer: Option<String>,
    /// How long the quote holds, counted from --date: "30 days"; as the shop's profile says, if left out
    #[arg(long, value_parser = days, requires = "a_sheet", requires = "date")]
    pub(crate) valid: Option<u16>,
    /// Peak power as read that the customer hopes for, "230 kW"; the quote tells the chance to miss it
    #[arg(long, value_parser = target, conflicts_with = "reach", allow_hyphen_values = true)]
    pub(crate) hoped: Option<f64>,
}

/// Paper of a PDF.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaperArg {
    /// 210 by 297 mm
    #[default]
    A4,
    /// 8.5 by 11 inches
    Letter,
}

impl From<PaperArg> for Paper {
    fn from(paper: PaperArg) -> Self {
        match paper {
            PaperArg::A4 => Self::A4,
            PaperArg::Letter => Self::Letter,
        }
    }
}

/// The inverse question.
#[derive(Debug, Default, Args)]
pub(crate) struct ReachArgs {
    /// Ask instead what it takes to read this peak power: "230 kW"; answered by the value of the number named with --by, or by what is
    /// in the way
    #[arg(long, value_parser = target, requires = "by", allow_hyphen_values = true)]
    pub(crate) reach: Option<f64>,
    /// The one number of the plan to change to reach it
    #[arg(long, value_parser = dials(), requires = "reach")]
    pub(crate) by: Option<Dial>,
    /// Chance of reaching it: "90 %", the default
    #[arg(long, value_parser = chance, requires = "reach", allow_hyphen_values = true)]
    pub(crate) chance: Option<f64>,
    /// The power of --reach is corrected by --standard, not as read
    #[arg(long, requires = "reach")]
    pub(crate) corrected: bool,
}
