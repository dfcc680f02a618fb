//! The command line, defined once: verbs, arguments and their help.
//!
//! A number on the command line carries its unit, as in the files; a number without one is refused with the units it could have.

use crate::output::Format;
use crate::spread_args::SpreadArgs;
use crate::values::{
    band, chance, gauge_pressure, inertia, known_length, length, mass, mechanical_efficiency,
    nearness, power, rest, seconds, share, span, standards, target,
};
use clap::{Args, Parser, Subcommand, ValueEnum};
use pullcast::ask::quote::Dial;
use pullcast::dyno::correction::Standard;
use pullcast::dyno::correction::engine::{Charging, Ignition};
use pullcast::dyno::inertia_check::Known;
use pullcast::files::schema;
use pullcast::report;
use std::path::PathBuf;

/// Predicts what a car will read on an inertia chassis dynamometer after a planned build, and calibrates itself on
/// measured pulls.
///
/// Start with `new car` and `new plan`, fill them in, and ask `quote` for the range to promise; name measured pulls with --visit
/// to narrow it. A number given here carries its unit, as in the files: --altitude "900 m".
///
/// Exit codes: 0 fine; 1 it ran but a gate failed (a fit that did not come to rest, a car file that does not describe the car,
/// runs that must not be compared, an inertia that its check contradicts, an output that could not be written); 2 wrong command line; 65 bad data in a file; 66 a file is missing.
#[derive(Debug, Parser)]
#[command(name = "pullcast", version, max_term_width = 100)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) verb: Verb,
    /// What is printed on standard output
    #[arg(long, global = true, value_enum, default_value_t = FormatArg::Text)]
    format: FormatArg,
    /// Short for --format json
    #[arg(long, global = true, conflicts_with = "format")]
    json: bool,
    /// Units of the printed text and the page; files may use any, and JSON is always SI
    #[arg(long, global = true, value_enum, default_value_t = UnitsArg::Metric)]
    pub(crate) units: UnitsArg,
}

impl Cli {
    /// What is printed.
    pub(crate) fn format(&self) -> Format {
        match self.format {
            _ if self.json => Format::Json,
            FormatArg::Text => Format::Text,
            FormatArg::Json => Format::Json,
            FormatArg::Html => Format::Html,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum FormatArg {
    /// Text for a terminal
    Text,
    /// For programs: one JSON document, numbers in SI; problems and notes as JSON lines on standard error
    Json,
    /// One page that needs nothing else, to keep, print or send
    Html,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum UnitsArg {
    /// kW, N m, kPa, °C, km/h
    Metric,
    /// hp, lb ft, psi, °F, mph
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
    /// Write a commented car, plan, visit, weather or drum-log file to fill in
    New(NewArgs),
    /// Reduce a raw drum log to wheel curves, with a standard error at every point
    Reduce(ReduceArgs),
    /// Show what every correction standard makes of a day's air
    Correct(CorrectArgs),
    /// Predict the middle of what the drums will read, speed by speed: power, torque, boost, charge temperature, limits
    Predict(PredictArgs),
    /// Calibrate a car file on measured pulls
    Fit(FitArgs),
    /// Tell the range to promise for planned work
    Quote(QuoteArgs),
    /// Tell how far readings spread through the hours of a weather station, and why
    Spread(SpreadArgs),
    /// Show the working at one engine speed, every number with its equation
    Trace(TraceArgs),
    /// Tell why a pull looks wrong: the likely causes, their sizes, and the measurement that would settle it
    Diagnose(DiagnoseArgs),
    /// Tell the gain between pulls before and after the work on one rig, or that they cannot be told apart
    Compare(CompareArgs),
    /// Check the drums' moment of inertia by a known inertia added, or by known masses on a rope
    Inertia(InertiaArgs),
    /// Print the JSON Schema of a kind of file, for an editor to check and complete it with; `new` writes it beside its file
    Schema(SchemaArgs),
}

#[derive(Debug, Args)]
pub(crate) struct NewArgs {
    /// Which kind of file
    #[arg(value_enum)]
    pub(crate) kind: FileKind,
    /// File to write; left out, the text is printed. An existing file is never replaced
    pub(crate) path: Option<PathBuf>,
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
}

#[derive(Debug, Args)]
pub(crate) struct ReduceArgs {
    /// Description of the drum log (see `new drum-log`)
    pub(crate) log: PathBuf,
    /// Also write the curves to this file, as a recording that a visit can name
    #[arg(long)]
    pub(crate) csv: Option<PathBuf>,
    /// Replace the file of --csv if it is already there
    #[arg(long)]
    pub(crate) force: bool,
    /// How to smooth; that of the description if left out
    #[arg(long, value_enum)]
    pub(crate) method: Option<MethodArg>,
    /// Span of --method savitzky-golay in engine speed, 50 to 150 rpm: "100 rpm"
    #[arg(long, value_parser = span, allow_hyphen_values = true)]
    pub(crate) span: Option<f64>,
    /// Width of the bands of engine speed that make a point, 10 to 500 rpm: "50 rpm"
    #[arg(long, value_parser = band, allow_hyphen_values = true)]
    pub(crate) band: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum MethodArg {
    /// State-space smoother; its noise levels come from the log, and there is nothing to set
    StateSpace,
    /// Local parabolas over a span of engine speed
    SavitzkyGolay,
}

#[derive(Debug, Args)]
pub(crate) struct CorrectArgs {
    /// Weather file (see `new weather`)
    pub(crate) weather: PathBuf,
    /// Power of the engine as read, uncorrected, to put into every standard: "300 kW", "400 hp"
    #[arg(long, value_parser = power, allow_hyphen_values = true)]
    pub(crate) power: Option<f64>,
    /// Power of an electric axle as read at the same moment, beside the engine's; it is added uncorrected
    #[arg(long, value_parser = power, allow_hyphen_values = true, requires = "power")]
    pub(crate) electric: Option<f64>,
    /// How the engine ignites its mixture
    #[arg(long, value_enum, default_value_t = EngineArg::Spark)]
    pub(crate) engine: EngineArg,
    /// How the engine is charged
    #[arg(long, value_enum, default_value_t = ChargingArg::Unboosted)]
    pub(crate) charging: ChargingArg,
    /// Boost that a regulator holds whatever the weather: "0.8 bar gauge"; shows how far the factor over-corrects
    #[arg(long, value_parser = gauge_pressure, allow_hyphen_values = true)]
    pub(crate) held_boost: Option<f64>,
    /// Altitude of the room, "900 m", to check the pressure by; that of the weather file if left out
    #[arg(long, value_parser = length, allow_hyphen_values = true)]
    pub(crate) altitude: Option<f64>,
    /// Mechanical efficiency of the engine, 0.3 to 1, where you know it: for sae-j1349-stated-efficiency and ISO 3046
    #[arg(long, value_parser = mechanical_efficiency, allow_hyphen_values = true)]
    pub(crate) mechanical_efficiency: Option<f64>,
    /// For diesel standards: fuel per cycle in mg, per litre of displacement, divided by the boost pressure ratio
    #[arg(long)]
    pub(crate) fuel_per_cycle: Option<f64>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum EngineArg {
    /// Spark plugs: petrol, ethanol, methanol, gas
    Spark,
    /// Compression ignition
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
    /// No blower and no turbocharger
    Unboosted,
    /// A blower turned by the crank
    Mechanical,
    /// A turbocharger; charge not cooled, or cooled by outside air
    Turbo,
    /// A turbocharger; charge cooled by the engine's coolant
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
    /// Weather correction in which figures stand beside the uncorrected ones
    #[arg(long, default_value = Standard::SaeJ1349.id(), value_parser = standards())]
    pub(crate) standard: Standard,
    /// Mechanical efficiency of the engine, 0.3 to 1; needed by sae-j1349-stated-efficiency alone
    #[arg(long, value_parser = mechanical_efficiency, allow_hyphen_values = true)]
    pub(crate) mechanical_efficiency: Option<f64>,
}

/// Pulls in a row.
#[derive(Debug, Args)]
pub(crate) struct RowArgs {
    /// How many pulls in a row, 2 to 100: shows what each one loses to the heat that the ones before left in the car
    #[arg(long, value_parser = clap::value_parser!(u8).range(2..=100))]
    pub(crate) pulls: Option<u8>,
    /// Rest from the end of one pull to the start of the next: "2 min", "90 s"; 2 min if left out
    #[arg(long, value_parser = rest, requires = "pulls", allow_hyphen_values = true)]
    pub(crate) rest: Option<f64>,
    /// How near the first pull one more pull has to come, for the rest that it takes: "1 %"; 1 % if left out
    #[arg(long, value_parser = nearness, requires = "pulls", allow_hyphen_values = true)]
    pub(crate) within: Option<f64>,
}

/// How a pull starts.
#[derive(Debug, Args)]
pub(crate) struct StartArgs {
    /// Charge of the electric axle's battery when the pull starts, "60 %"; 80 % if left out
    #[arg(long, value_parser = share, allow_hyphen_values = true)]
    pub(crate) charge: Option<f64>,
    /// Whether the electric axle helps; "off" predicts the pull of the engine alone
    #[arg(long, value_enum)]
    pub(crate) electric_axle: Option<OnOff>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum OnOff {
    /// It helps
    On,
    /// It does not
    Off,
}

impl From<OnOff> for bool {
    fn from(word: OnOff) -> Self {
        matches!(word, OnOff::On)
    }
}

#[derive(Debug, Args)]
pub(crate) struct PredictArgs {
    /// Car file, as filled in or as written by `fit`
    pub(crate) car: PathBuf,
    /// Plan file: predict the car after this work, and show the peak before it
    #[arg(long)]
    pub(crate) plan: Option<PathBuf>,
    /// Weather file: the air of the pull; 99 kPa dry at 25 °C if left out
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) start: StartArgs,
    #[command(flatten)]
    pub(crate) row: RowArgs,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// Also write the curve to this file, as a recording that a visit can name
    #[arg(long)]
    pub(crate) csv: Option<PathBuf>,
    /// Replace the file of --csv if it is already there
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct FitArgs {
    /// Car file to start from
    pub(crate) car: PathBuf,
    /// Visit files with the measured pulls of this car as the file describes it
    #[arg(required = true)]
    pub(crate) visits: Vec<PathBuf>,
    /// Write the fitted car to this file; left out, the fit is only reported
    #[arg(long)]
    pub(crate) out: Option<PathBuf>,
    /// Replace the file of --out if it is already there
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) misfit: MisfitArgs,
}

/// What to do with a car file that its own pulls contradict.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct MisfitArgs {
    /// Go on although the pulls say that the car file does not describe this car; the remark stays in the report
    #[arg(long)]
    pub(crate) accept_misfit: bool,
}

#[derive(Debug, Args)]
pub(crate) struct QuoteArgs {
    /// Car file, as filled in or as written by `fit`
    pub(crate) car: PathBuf,
    /// Plan file with the work
    pub(crate) plan: PathBuf,
    /// Visit files with measured pulls of the car before the work, to calibrate it on first, oldest first: the last one is the
    /// reading before
    #[arg(long = "visit", value_name = "VISIT", num_args = 1..)]
    pub(crate) visits: Vec<PathBuf>,
    /// Weather file: the air expected for the pull after; left out, that of the last visit, and without one 99 kPa dry at 25 °C
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    #[command(flatten)]
    pub(crate) reach: ReachArgs,
    /// How many cars, works and drums to draw from the doubts; more make the range smoother, not narrower
    #[arg(long, default_value_t = 300, value_parser = clap::value_parser!(u32).range(pullcast::ask::quote::LEAST_DRAWS as i64..=100_000))]
    pub(crate) draws: u32,
    /// Seed of the draws; the same seed gives the same quote to the digit
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Write the car as fitted to the visits to this file
    #[arg(long, requires = "visits")]
    pub(crate) out: Option<PathBuf>,
    /// Replace the file of --out if it is already there
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) misfit: MisfitArgs,
}

/// The inverse question.
#[derive(Debug, Args)]
pub(crate) struct ReachArgs {
    /// Ask instead what it takes to read this peak power: "230 kW"; answered by the value of the number named with --by, or by what is
    /// in the way
    #[arg(long, value_parser = target, requires = "by", allow_hyphen_values = true)]
    pub(crate) reach: Option<f64>,
    /// The one number of the plan that may be turned to reach it
    #[arg(long, value_enum, requires = "reach")]
    pub(crate) by: Option<DialArg>,
    /// Chance with which it has to be reached: "90 %"; 90 % if left out
    #[arg(long, value_parser = chance, requires = "reach", allow_hyphen_values = true)]
    pub(crate) chance: Option<f64>,
    /// The power of --reach is meant as corrected by --standard, not as read
    #[arg(long, requires = "reach")]
    pub(crate) corrected: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum DialArg {
    /// Pulley of the blower: new over old drive ratio, and with it the boost
    Pulley,
    /// Boost of the turbocharger, new over old
    Boost,
    /// Drive ratio of the blower that the plan adds, and with it the boost
    DriveRatio,
    /// Octane of the fuel
    Octane,
    /// Ethanol mixed into the fuel
    Ethanol,
    /// Compression ratio
    CompressionRatio,
    /// Flow area of the intake, new over old
    Intake,
    /// Back pressure of the exhaust, new over old
    Exhaust,
    /// Relative air-fuel ratio
    Mixture,
    /// Engine speed at which the pull ends
    Redline,
    /// Ratio of the gear
    Gear,
    /// Final-drive ratio
    FinalDrive,
}

impl From<DialArg> for Dial {
    fn from(word: DialArg) -> Self {
        match word {
            DialArg::Pulley => Self::Pulley,
            DialArg::Boost => Self::Boost,
            DialArg::DriveRatio => Self::DriveRatio,
            DialArg::Octane => Self::Octane,
            DialArg::Ethanol => Self::Ethanol,
            DialArg::CompressionRatio => Self::CompressionRatio,
            DialArg::Intake => Self::IntakeArea,
            DialArg::Exhaust => Self::BackPressure,
            DialArg::Mixture => Self::Mixture,
            DialArg::Redline => Self::Redline,
            DialArg::Gear => Self::Gear,
            DialArg::FinalDrive => Self::FinalDrive,
        }
    }
}

#[derive(Debug, Args)]
pub(crate) struct DiagnoseArgs {
    /// Car file, best as written by `fit` from good pulls
    pub(crate) car: PathBuf,
    /// Visit file with the pull that looks wrong
    pub(crate) odd: PathBuf,
    /// Visit files with good pulls of the same car as it stands: what the model misses of it is taken from them
    #[arg(long, value_name = "VISIT", num_args = 1..)]
    pub(crate) good: Vec<PathBuf>,
    /// Which pull of the visit looks wrong, from 1, where it holds several; what those before it left warm is taken into account
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) pull: Option<u16>,
    /// The car was not taken off the drums between the good pulls and this one; otherwise a day's stray of 1.5 % is allowed for
    #[arg(long, requires = "good")]
    pub(crate) same_visit: bool,
}

#[derive(Debug, Args)]
pub(crate) struct TraceArgs {
    /// Car file, as filled in or as written by `fit`
    pub(crate) car: PathBuf,
    /// Engine speed of the working in rpm, without a unit: 5000
    #[arg(long)]
    pub(crate) rpm: f64,
    /// Plan file: the working of the car after this work
    #[arg(long)]
    pub(crate) plan: Option<PathBuf>,
    /// Weather file: the air of the pull; 99 kPa dry at 25 °C if left out
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) start: StartArgs,
}

#[derive(Debug, Args)]
pub(crate) struct CompareArgs {
    /// Visit file with the pulls before the work
    pub(crate) before: PathBuf,
    /// Visit file with the pulls after it
    pub(crate) after: PathBuf,
    /// Both sets were made on one day without taking the car off the drums, so that no stray of a visit comes between them
    #[arg(long)]
    pub(crate) same_visit: bool,
    /// Car file before the work: tells how the engine is charged, and the electric share of a reading, which is never corrected
    #[arg(long)]
    pub(crate) car: Option<PathBuf>,
    /// Plan file with the work: tells how the engine is charged after it
    #[arg(long, requires = "car")]
    pub(crate) plan: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// Widest difference of start charge between any two runs: "10 %", in points of charge; 10 % if left out
    #[arg(long, value_parser = share, allow_hyphen_values = true)]
    pub(crate) charge_window: Option<f64>,
    /// Also write the gain over engine speed to this file, as a table
    #[arg(long)]
    pub(crate) csv: Option<PathBuf>,
    /// Compare runs although their start charges, or the electric axle on and off, set them apart; and replace the file of --csv
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct InertiaArgs {
    /// Known inertia bolted on, without drag of its own: "20 kg m2", "20 ± 0.2 kg m2"
    #[arg(long, value_parser = inertia, allow_hyphen_values = true, requires_all = ["bare_time", "loaded_time"], conflicts_with_all = ["height", "radius", "light", "heavy"])]
    pub(crate) added: Option<Known>,
    /// Time to coast down between two speeds without it, or to run up under one driving force; repeat the option for repeats
    #[arg(long, value_parser = seconds, allow_hyphen_values = true, requires = "added")]
    pub(crate) bare_time: Vec<f64>,
    /// Time between the same two speeds with it
    #[arg(long, value_parser = seconds, allow_hyphen_values = true, requires = "added")]
    pub(crate) loaded_time: Vec<f64>,
    /// Height through which masses on a rope fall from rest: "1.5 m"
    #[arg(long, value_parser = known_length, allow_hyphen_values = true, requires = "radius")]
    pub(crate) height: Option<Known>,
    /// Radius at which the rope runs: "0.35 m", "0.35 ± 0.001 m"
    #[arg(long, value_parser = known_length, allow_hyphen_values = true, requires = "light")]
    pub(crate) radius: Option<Known>,
    /// The lighter mass: "10 kg"
    #[arg(long, value_parser = mass, allow_hyphen_values = true, requires_all = ["light_time", "heavy"])]
    pub(crate) light: Option<Known>,
    /// Time of its fall; repeat the option for repeats
    #[arg(long, value_parser = seconds, allow_hyphen_values = true, requires = "light")]
    pub(crate) light_time: Vec<f64>,
    /// The heavier mass: "40 kg"
    #[arg(long, value_parser = mass, allow_hyphen_values = true, requires_all = ["heavy_time", "height"])]
    pub(crate) heavy: Option<Known>,
    /// Time of its fall
    #[arg(long, value_parser = seconds, allow_hyphen_values = true, requires = "heavy")]
    pub(crate) heavy_time: Vec<f64>,
    /// Inertia the rig was told, to be checked: "240 kg m2"
    #[arg(long, value_parser = inertia, allow_hyphen_values = true)]
    pub(crate) stated: Option<Known>,
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
