//! Arguments of `spread`.

use crate::args::{CorrectionArgs, DrawArgs};
use crate::values::{cell, chance, hours, length, months, quantile, share, target, utc_offset};
use clap::{Args, ValueEnum};
use pullcast::ask::spread::{LEAST_DRAWS, Shard, USUAL_DRAWS};
use pullcast::files::station::PressureKind;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct SpreadArgs {
    /// Car file, as filled in or as written by `fit`
    pub(crate) car: PathBuf,
    /// Plan file: the readings before and after this work
    pub(crate) plan: Option<PathBuf>,
    /// Hours of a weather station: a table with time, temperature, humidity and pressure, best over several years
    #[arg(long, value_name = "HOURS")]
    pub(crate) station: PathBuf,
    /// Elevation of the station, "900 m"; that of its file if left out
    #[arg(long, value_parser = length, allow_hyphen_values = true)]
    pub(crate) elevation: Option<f64>,
    /// Which pressure the station means, where its header does not say
    #[arg(long, value_enum)]
    pub(crate) pressure: Option<PressureArg>,
    /// Local time less UTC, "1 h", where the times of the station are by UTC
    #[arg(long, value_parser = utc_offset, allow_hyphen_values = true)]
    pub(crate) utc_offset: Option<i64>,
    /// Only these months, "4-9"
    #[arg(long, value_parser = months)]
    pub(crate) months: Option<(u8, u8)>,
    /// Only these hours of the day, "8-18", by local time
    #[arg(long, value_parser = hours)]
    pub(crate) hours: Option<(u8, u8)>,
    /// Temperature to which the test cell is heated or cooled, "20 °C"; the dew point stays that of the air outside
    #[arg(long, value_parser = cell, allow_hyphen_values = true)]
    pub(crate) cell: Option<f64>,
    /// Read before and after on two days, up to two weeks apart, and not in one hour
    #[arg(long)]
    pub(crate) two_days: bool,
    /// Charge at which the battery of an electric axle starts, "80 %"; (80 ± 5) % if left out
    #[arg(long, value_parser = share, allow_hyphen_values = true)]
    pub(crate) charge: Option<f64>,
    /// Peak power promised, uncorrected, "230 kW": tells the chance to miss it
    #[arg(long, value_parser = target, allow_hyphen_values = true)]
    pub(crate) promise: Option<f64>,
    /// Chance with which the number to promise has to be read
    #[arg(long, value_parser = chance, default_value = "90 %", allow_hyphen_values = true)]
    pub(crate) chance: f64,
    /// Further quantiles of every figure, for programs: "1 %" "99 %"
    #[arg(long, value_parser = quantile, num_args = 1.., allow_hyphen_values = true)]
    pub(crate) quantiles: Vec<f64>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// How many cars, works and drums to draw from the doubts
    #[arg(long, default_value_t = USUAL_DRAWS as u32, value_parser = clap::value_parser!(u32).range(LEAST_DRAWS as i64..=1_000_000))]
    pub(crate) draws: u32,
    /// Hours that each of them is driven in, or "all"; 48 if left out, 4 where each costs a pull
    #[arg(long, value_parser = hours_per_draw)]
    pub(crate) hours_per_draw: Option<HoursPerDrawArg>,
    /// Simulate every pull, and use no response surface
    #[arg(long)]
    pub(crate) full_pulls: bool,
    /// Seed of the draws; the same seed gives the same spread to the digit
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    #[command(flatten)]
    pub(crate) kept: KeptArgs,
    /// Also write every sample to this file, as a table
    #[arg(long, conflicts_with = "keep")]
    pub(crate) csv: Option<PathBuf>,
    /// Also write every sample to this file as Apache Parquet, figures unrounded; in a build with the feature `parquet`
    #[arg(long, conflicts_with = "keep")]
    pub(crate) parquet: Option<PathBuf>,
    /// Replace the files of --csv, --parquet, --svg and --png if they are already there
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) draw: DrawArgs,
}

/// A spread in parts.
#[derive(Debug, Args)]
pub(crate) struct KeptArgs {
    /// Keep in this folder what the draws come to: a run that was stopped goes on from there, and shards meet there
    #[arg(long, value_name = "FOLDER")]
    pub(crate) keep: Option<PathBuf>,
    /// Draw one part of how many, "3/16", and keep it; the same without --shard tells the answer
    #[arg(long, value_parser = shard, requires = "keep")]
    pub(crate) shard: Option<Shard>,
    /// Tell the answer from what the folder holds, and draw nothing
    #[arg(long, requires = "keep", conflicts_with = "shard")]
    pub(crate) so_far: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum PressureArg {
    /// At the station
    Station,
    /// Reduced to sea level with the air's temperature
    SeaLevel,
    /// Reduced to sea level with the standard atmosphere
    Altimeter,
}

impl From<PressureArg> for PressureKind {
    fn from(word: PressureArg) -> Self {
        match word {
            PressureArg::Station => Self::Station,
            PressureArg::SeaLevel => Self::SeaLevel,
            PressureArg::Altimeter => Self::Altimeter,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum HoursPerDrawArg {
    Count(usize),
    All,
}

fn hours_per_draw(text: &str) -> Result<HoursPerDrawArg, String> {
    match text.trim().parse() {
        Ok(count @ 1..) => Ok(HoursPerDrawArg::Count(count)),
        _ if text.trim() == "all" => Ok(HoursPerDrawArg::All),
        _ => Err("expected a number of hours, or \"all\"".to_owned()),
    }
}

/// Most shards: more than one to each block of the most draws would be empty.
const MOST_SHARDS: usize = 50_000;

fn shard(text: &str) -> Result<Shard, String> {
    let numbers = text
        .split_once('/')
        .and_then(|(number, of)| Some((number.trim().parse().ok()?, of.trim().parse().ok()?)));
    match numbers {
        Some((number, of)) if (1..=of).contains(&number) && of <= MOST_SHARDS => {
            Ok(Shard { number, of })
        }
        _ => Err("expected a part of how many, as \"3/16\"".to_owned()),
    }
}
