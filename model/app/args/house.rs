//! Arguments of the verbs that ask about the house itself: what a class allows, how two rigs differ, what lies on the shelf.

use super::CorrectionArgs;
use crate::values::mass;
use clap::{Args, Subcommand};
use pullcast::dyno::inertia_check::Known;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct RulesArgs {
    /// Class file (see `new class`)
    pub(crate) class: PathBuf,
    /// Visit file with the pulls to be held against it
    #[arg(required_unless_present = "car", conflicts_with = "car")]
    pub(crate) visit: Option<PathBuf>,
    /// In place of a visit, quote this car and hold the range against the class
    #[arg(long)]
    pub(crate) car: Option<PathBuf>,
    /// The work to be quoted; left out, the car as it stands
    #[arg(long, requires = "car")]
    pub(crate) plan: Option<PathBuf>,
    /// Pulls of that car before the work, to calibrate it on first
    #[arg(long, value_name = "VISIT", num_args = 1.., requires = "car")]
    pub(crate) calibrate: Vec<PathBuf>,
    /// Mass as the class weighs the car, with its doubt: "1310 ± 4 kg"
    #[arg(long, value_parser = mass, allow_hyphen_values = true)]
    pub(crate) mass: Option<Known>,
    /// Mechanical efficiency of the engine, where the class's standard asks for it
    #[arg(long, value_parser = crate::values::mechanical_efficiency, allow_hyphen_values = true)]
    pub(crate) mechanical_efficiency: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct OffsetArgs {
    /// A car measured on both rigs: its visit file here, then the one on the other rig; give the option again for each car
    #[arg(long = "car", value_names = ["HERE", "OTHER"], num_args = 2, required = true)]
    pub(crate) cars: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
}

#[derive(Debug, Args)]
pub(crate) struct ShelfArgs {
    /// The shelf; by default shelf.toml beside the shop's profile, in this folder or in one above it
    #[arg(long, value_name = "FILE", global = true)]
    pub(crate) shelf: Option<PathBuf>,
    #[command(subcommand)]
    pub(crate) verb: ShelfVerb,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ShelfVerb {
    /// List the parts with their newest versions
    List,
    /// Show a part as a change of a plan
    Show {
        /// Its name
        name: String,
        /// An older version
        #[arg(long)]
        part_version: Option<u32>,
    },
    /// Take in a table: columns name, kind, and keys of a plan's change; what is new of a known part is its next version
    Import {
        /// The table, as CSV with commas
        table: PathBuf,
    },
}
