//! The command line, defined once: verbs, arguments and their help.
//!
//! A number on the command line carries its unit, as in the files; a number without one is refused with the units it could have.

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, Parser, Subcommand, ValueEnum};
use pullcast::dyno::correction::Standard;
use pullcast::dyno::correction::engine::{Charging, Ignition};
use pullcast::files::quantity;
use pullcast::report;
use pullcast::units::Dimension;
use std::path::PathBuf;

/// Predicts what a car will read on an inertia chassis dynamometer after a planned build, and calibrates itself on
/// measured pulls.
///
/// Exit codes: 0 fine; 1 it ran but a gate failed; 2 wrong command line; 65 bad data in a file; 66 a file is missing.
#[derive(Debug, Parser)]
#[command(name = "pullcast", version, max_term_width = 100)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) verb: Verb,
    /// One JSON document on standard output, numbers in SI; problems and notes as JSON lines on standard error
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Units of the text
    #[arg(long, global = true, value_enum, default_value_t = UnitsArg::Metric)]
    pub(crate) units: UnitsArg,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum UnitsArg {
    /// kW, N m, kPa, °C
    Metric,
    /// hp, lb ft, psi, °F
    Shop,
}

impl From<UnitsArg> for report::Units {
    fn from(units: UnitsArg) -> Self {
        match units {
            UnitsArg::Metric => Self::Metric,
            UnitsArg::Shop => Self::Shop,
        }
    }
}

#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    /// Write a commented file to fill in
    New(NewArgs),
    /// One weather under every correction standard
    Correct(CorrectArgs),
    /// What the drums will read: wheel curve, boost, charge temperature, limits
    Predict(PredictArgs),
    /// Calibrate a car on measured pulls
    Fit(FitArgs),
    /// The range to promise for planned work
    Quote(QuoteArgs),
    /// The working at one engine speed, every number with its equation
    Trace(TraceArgs),
}

#[derive(Debug, Args)]
pub(crate) struct NewArgs {
    /// What to write
    #[arg(value_enum)]
    pub(crate) kind: FileKind,
    /// Where to; printed if left out. An existing file is never replaced
    pub(crate) path: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FileKind {
    /// A car on its drums
    Car,
    /// Planned work
    Plan,
    /// A visit to the drums with its recorded pulls
    Visit,
    /// The air of a day
    Weather,
}

#[derive(Debug, Args)]
pub(crate) struct CorrectArgs {
    /// Weather file
    pub(crate) weather: PathBuf,
    /// Uncorrected engine power to correct, such as "300 kW" or "400 hp"
    #[arg(long, value_parser = power)]
    pub(crate) power: Option<f64>,
    /// Uncorrected electric power beside it; never corrected
    #[arg(long, value_parser = power, requires = "power")]
    pub(crate) electric: Option<f64>,
    /// How the mixture is lit
    #[arg(long, value_enum, default_value_t = EngineArg::Spark)]
    pub(crate) engine: EngineArg,
    /// How the air gets in
    #[arg(long, value_enum, default_value_t = ChargingArg::Unboosted)]
    pub(crate) charging: ChargingArg,
    /// Charge pressure a regulator holds above the air outside, such as "0.8 bar gauge"
    #[arg(long, value_parser = gauge_pressure)]
    pub(crate) held_boost: Option<f64>,
    /// Altitude of the room, such as "900 m", to judge the pressure by
    #[arg(long, value_parser = length)]
    pub(crate) altitude: Option<f64>,
    /// Mechanical efficiency of the engine, 0.3 to 1, for the standard that asks for it
    #[arg(long)]
    pub(crate) mechanical_efficiency: Option<f64>,
    /// Fuel per cycle and litre of displacement over boost ratio, mg, for the compression-ignition standards
    #[arg(long)]
    pub(crate) fuel_per_cycle: Option<f64>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum EngineArg {
    /// By spark
    Spark,
    /// By compression
    Diesel,
}

impl From<EngineArg> for Ignition {
    fn from(engine: EngineArg) -> Self {
        match engine {
            EngineArg::Spark => Self::Spark,
            EngineArg::Diesel => Self::Compression,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum ChargingArg {
    /// By the piston alone
    Unboosted,
    /// By a blower the crank turns
    Mechanical,
    /// By a turbocharger, uncooled or cooled by outside air
    Turbo,
    /// By a turbocharger, charge cooled by the engine's coolant
    TurboCoolantCooled,
}

impl From<ChargingArg> for Charging {
    fn from(charging: ChargingArg) -> Self {
        match charging {
            ChargingArg::Unboosted => Self::Unboosted,
            ChargingArg::Mechanical => Self::Mechanical,
            ChargingArg::Turbo => Self::Turbo,
            ChargingArg::TurboCoolantCooled => Self::TurboCoolantCooled,
        }
    }
}

/// Correction in which figures are also stated.
#[derive(Debug, Args)]
pub(crate) struct CorrectionArgs {
    /// Correction in which figures are also stated
    #[arg(long, default_value = Standard::SaeJ1349.id(), value_parser = standards())]
    pub(crate) standard: Standard,
    /// Mechanical efficiency of the engine, 0.3 to 1, for the standard that asks for it
    #[arg(long)]
    pub(crate) mechanical_efficiency: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct PredictArgs {
    /// Car file, fitted or not
    pub(crate) car: PathBuf,
    /// Planned work to apply first
    #[arg(long)]
    pub(crate) plan: Option<PathBuf>,
    /// Air of the pull; 99 kPa dry at 25 °C if left out
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// Also write the curve as a recording
    #[arg(long)]
    pub(crate) csv: Option<PathBuf>,
    /// Replace an existing file
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct FitArgs {
    /// Car file
    pub(crate) car: PathBuf,
    /// Visit files with the measured pulls
    #[arg(required = true)]
    pub(crate) visits: Vec<PathBuf>,
    /// Where to write the fitted car
    #[arg(long)]
    pub(crate) out: Option<PathBuf>,
    /// Replace an existing file
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct QuoteArgs {
    /// Car file, fitted or not
    pub(crate) car: PathBuf,
    /// Planned work
    pub(crate) plan: PathBuf,
    /// Measured pulls to calibrate on first; the last visit is the reading before
    #[arg(long = "visit", value_name = "VISIT", num_args = 1..)]
    pub(crate) visits: Vec<PathBuf>,
    /// Air expected for the pull after; that of the last visit if left out, else 99 kPa dry at 25 °C
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// Draws of car, work and drums
    #[arg(long, default_value_t = 300, value_parser = clap::value_parser!(u32).range(pullcast::quote::LEAST_DRAWS as i64..=100_000))]
    pub(crate) draws: u32,
    /// Seed of the draws: the same seed gives the same quote
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Where to write the fitted car
    #[arg(long, requires = "visits")]
    pub(crate) out: Option<PathBuf>,
    /// Replace an existing file
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct TraceArgs {
    /// Car file, fitted or not
    pub(crate) car: PathBuf,
    /// Engine speed, rpm
    #[arg(long)]
    pub(crate) rpm: f64,
    /// Planned work to apply first
    #[arg(long)]
    pub(crate) plan: Option<PathBuf>,
    /// Air of the pull; 99 kPa dry at 25 °C if left out
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
}

/// Names of standards, letter case aside.
fn standards() -> impl TypedValueParser<Value = Standard> {
    PossibleValuesParser::new(Standard::all().map(Standard::id))
        .try_map(|word| word.parse::<Standard>())
}

fn power(text: &str) -> Result<f64, String> {
    number(text, Dimension::Power).and_then(|watt| {
        if watt >= 0.0 {
            Ok(watt)
        } else {
            Err("power below zero".to_owned())
        }
    })
}

fn gauge_pressure(text: &str) -> Result<f64, String> {
    number(text, Dimension::GaugePressure)
}

fn length(text: &str) -> Result<f64, String> {
    number(text, Dimension::Length)
}

fn number(text: &str, dimension: Dimension) -> Result<f64, String> {
    quantity::parse(text, dimension)
        .map(|q| q.value_si)
        .map_err(|fault| fault.message)
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_definitions_contradict_nothing() {
        Cli::command().debug_assert();
    }

    #[test]
    fn numbers_carry_units_and_standards_their_numbers() {
        let cli = Cli::try_parse_from(["pullcast", "correct", "w.toml", "--power", "300 kW"])
            .expect("good");
        let Verb::Correct(args) = cli.verb else {
            panic!("another verb")
        };
        assert_eq!(args.power, Some(300e3));
        for bad in [
            &["correct", "w", "--power", "300"][..],
            &["predict", "c", "--standard", "sae"],
            &["fit", "c"],
        ] {
            assert!(
                Cli::try_parse_from([&["pullcast"], bad].concat()).is_err(),
                "{bad:?}"
            );
        }
        let cli = Cli::try_parse_from(["pullcast", "predict", "c", "--standard", "iso-1585"])
            .expect("good");
        let Verb::Predict(args) = cli.verb else {
            panic!("another verb")
        };
        assert_eq!(args.correction.standard, Standard::Iso1585);
    }
}
