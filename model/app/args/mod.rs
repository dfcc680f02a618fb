//! The command line, defined once: verbs, arguments and their help.
//!
//! A number on the command line carries its unit, as in the files; a number without one is refused with the units it could have.

mod book;
mod house;
mod quote;
mod read;
mod serve;
mod starters;

pub(crate) use book::{BookArgs, BookVerb};
pub(crate) use house::{OffsetArgs, RulesArgs, ShelfArgs, ShelfVerb};
pub(crate) use quote::{QuoteArgs, ReachArgs, SheetArgs};
pub(crate) use read::ReadArgs;
pub(crate) use serve::ServeArgs;
pub(crate) use starters::{CompletionsArgs, ManualArgs, NewArgs, SchemaArgs};

use crate::output::{Colour, Format, Output};
use crate::spread_args::SpreadArgs;
use crate::values::{
    band, date, gauge_pressure, inertia, known_length, length, mass, mechanical_efficiency,
    nearness, power, rest, seconds, share, span, standards,
};
use clap::{Args, Parser, Subcommand, ValueEnum};
use pullcast::ask::fingerprint::Fingerprint;
use pullcast::dyno::correction::Standard;
use pullcast::dyno::correction::engine::{Charging, Ignition};
use pullcast::dyno::inertia_check::Known;
use pullcast::report;
use std::path::{Path, PathBuf};

/// Predicts what a car will read on an inertia chassis dynamometer after a planned build, and calibrates itself on
/// measured pulls.
///
/// Start with `new car` and `new plan`, fill them in, and ask `quote` for the range to promise; add measured pulls with --visit
/// to narrow it. Numbers here carry their unit, as in the files: --altitude "900 m".
///
/// Exit codes: 0 fine; 1 it ran but a gate failed (a fit that did not converge, a car file that does not describe the car,
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
    /// Units of the printed text and the page, metric unless the shop's profile says otherwise; files may use any, and JSON is always SI
    #[arg(long, global = true, value_enum)]
    pub(crate) units: Option<UnitsArg>,
    /// Shop profile; by default pullcast.toml in this folder or in one above it
    #[arg(long, global = true, value_name = "FILE")]
    pub(crate) shop: Option<PathBuf>,
    /// Print everything that stands behind the answer, not the answer alone; the page and JSON always hold it
    #[arg(long, global = true)]
    pub(crate) details: bool,
    /// When the text is coloured
    #[arg(long, global = true, value_enum, default_value_t = Colour::Auto)]
    pub(crate) color: Colour,
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
    /// Show what is understood of a log, and keep the answers for logs like it
    Read(ReadArgs),
    /// Turn a raw drum log into power and torque curves, with a standard error at every point
    Reduce(ReduceArgs),
    /// Show the weather correction of a day's air under every standard
    Correct(CorrectArgs),
    /// Predict the most likely pull, speed by speed: power, torque, boost, intake air temperature, limits
    Predict(PredictArgs),
    /// Calibrate a car file on measured pulls
    Fit(FitArgs),
    /// Quote the range to promise for planned work
    Quote(QuoteArgs),
    /// Tell how far readings spread through the hours of a weather station, and why
    Spread(SpreadArgs),
    /// Show the working at one engine speed, every number with its equation
    Trace(TraceArgs),
    /// Find out why a pull looks wrong: the likely causes, their sizes, and the measurement that would settle it
    Diagnose(DiagnoseArgs),
    /// Compare pulls before and after the work on one rig: the gain, or that they cannot be told apart; of one visit, the drift from pull to pull
    Compare(CompareArgs),
    /// Check the drums' moment of inertia with a known inertia bolted on, or with known masses on a rope
    Inertia(InertiaArgs),
    /// Tell what another rig reads more or less, from cars measured on both
    Offset(OffsetArgs),
    /// Hold pulls or a quote against the rules of a class: power, power to weight, declared boost, and the ballast that is needed
    Rules(RulesArgs),
    /// Keep cars, visits and quotes in the shop's job book, close jobs, and see how past quotes turned out
    Book(BookArgs),
    /// Keep the parts the shop has used, each in its versions, and take them into plans by name
    Shelf(ShelfArgs),
    /// Show the cars of this folder as pages in a browser of this machine: fit, plan, quote, print, explain an odd pull
    Serve(ServeArgs),
    /// Show the settings that verbs run with, and where each comes from
    Config(ConfigArgs),
    /// Print the JSON Schema of a kind of file, for an editor to check and complete it with; `new` writes it beside its file
    Schema(SchemaArgs),
    /// Print what makes a shell complete verbs and options: `pullcast completions bash > ~/.local/share/bash-completion/completions/pullcast`
    Completions(CompletionsArgs),
    /// Print the manual page, of the program or of one verb: `pullcast manual quote | man -l -`
    Manual(ManualArgs),
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
    /// How to smooth; by default as the description says
    #[arg(long, value_enum)]
    pub(crate) method: Option<MethodArg>,
    /// Span of --method savitzky-golay in engine speed, 50 to 150 rpm: "100 rpm"
    #[arg(long, value_parser = span, allow_hyphen_values = true)]
    pub(crate) span: Option<f64>,
    /// Engine speed between two points of the curve, 10 to 500 rpm: "50 rpm"
    #[arg(long, value_parser = band, allow_hyphen_values = true)]
    pub(crate) band: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum MethodArg {
    /// State-space smoother; takes its noise levels from the log and needs no setting
    StateSpace,
    /// Local parabolas over a span of engine speed
    SavitzkyGolay,
}

#[derive(Debug, Args)]
pub(crate) struct CorrectArgs {
    /// Weather file (see `new weather`)
    pub(crate) weather: PathBuf,
    /// Engine power as read, uncorrected, to correct by every standard: "300 kW", "400 hp"
    #[arg(long, value_parser = power, allow_hyphen_values = true)]
    pub(crate) power: Option<f64>,
    /// Electric axle power as read at the same moment; it is added uncorrected
    #[arg(long, value_parser = power, allow_hyphen_values = true, requires = "power")]
    pub(crate) electric: Option<f64>,
    /// How the engine ignites its mixture
    #[arg(long, value_enum, default_value_t = EngineArg::Spark)]
    pub(crate) engine: EngineArg,
    /// How the engine is charged
    #[arg(long, value_enum, default_value_t = ChargingArg::Unboosted)]
    pub(crate) charging: ChargingArg,
    /// Boost that boost control holds whatever the weather: "0.8 bar gauge"; shows by how much the factor over-corrects
    #[arg(long, value_parser = gauge_pressure, allow_hyphen_values = true)]
    pub(crate) held_boost: Option<f64>,
    /// Altitude of the room, "900 m", to check the pressure against; by default that of the weather file
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
    /// A crank-driven blower
    Mechanical,
    /// A turbocharger; no intercooler, or an air-to-air one
    Turbo,
    /// A turbocharger; intercooled by the engine's coolant
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

#[derive(Debug, Args)]
pub(crate) struct ConfigArgs {
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
}

/// Charts beside the report.
#[derive(Debug, Default, Args)]
pub(crate) struct DrawArgs {
    /// Also draw the charts of the report to this file, as SVG: any browser shows and prints it
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
    /// Also draw the charts of the report to this file, as a PNG picture, for a message or a document
    #[arg(long, value_name = "FILE")]
    pub(crate) png: Option<PathBuf>,
}

/// Correction in which figures are also stated.
#[derive(Debug, Default, Args)]
pub(crate) struct CorrectionArgs {
    /// Weather correction for the figures shown beside the uncorrected ones; sae-j1349 unless the shop's profile says otherwise
    #[arg(long, value_parser = standards())]
    pub(crate) standard: Option<Standard>,
    /// Mechanical efficiency of the engine, 0.3 to 1; needed by sae-j1349-stated-efficiency alone
    #[arg(long, value_parser = mechanical_efficiency, allow_hyphen_values = true)]
    pub(crate) mechanical_efficiency: Option<f64>,
}

impl CorrectionArgs {
    /// The flag's, the profile's, or the usual one.
    pub(crate) fn standard(&self, out: Output<'_>) -> Standard {
        self.standard
            .or(out.shop.standard)
            .unwrap_or(Standard::SaeJ1349)
    }

    /// With what they say of the inputs.
    pub(crate) fn named(&self, inputs: Fingerprint, out: Output<'_>) -> Fingerprint {
        inputs
            .and("standard", &self.standard(out))
            .and("mechanical efficiency", &self.mechanical_efficiency)
    }
}

/// Pulls in a row.
#[derive(Debug, Args)]
pub(crate) struct RowArgs {
    /// How many pulls in a row, 2 to 100: shows what each loses to heat soak from the ones before
    #[arg(long, value_parser = clap::value_parser!(u8).range(2..=100))]
    pub(crate) pulls: Option<u8>,
    /// Rest between one pull and the next: "90 s"; 2 min by default
    #[arg(long, value_parser = rest, requires = "pulls", allow_hyphen_values = true)]
    pub(crate) rest: Option<f64>,
    /// How close to the first pull one more pull must come, to find the rest that takes: "1 %", the default
    #[arg(long, value_parser = nearness, requires = "pulls", allow_hyphen_values = true)]
    pub(crate) within: Option<f64>,
}

/// How a pull starts.
#[derive(Debug, Args)]
pub(crate) struct StartArgs {
    /// Battery level of the electric axle when the pull starts, "60 %"; 80 % by default
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

/// A car, after planned work or as it stands, and the air and state in which it pulls.
#[derive(Debug, Args)]
pub(crate) struct SubjectArgs {
    /// Car file, as filled in or as written by `fit`
    pub(crate) car: PathBuf,
    /// Plan file: the car after this work; `predict` shows the peak before it too
    pub(crate) plan: Option<PathBuf>,
    /// The same as an option
    #[arg(
        long = "plan",
        value_name = "PLAN",
        hide = true,
        conflicts_with = "plan"
    )]
    pub(crate) plan_option: Option<PathBuf>,
    /// Weather file: the air of the pull; by default 99 kPa dry at 25 °C
    #[arg(long)]
    pub(crate) weather: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) start: StartArgs,
}

impl SubjectArgs {
    /// The plan, however it is named.
    pub(crate) fn plan(&self) -> Option<&Path> {
        self.plan.as_deref().or(self.plan_option.as_deref())
    }
}

#[derive(Debug, Args)]
pub(crate) struct PredictArgs {
    #[command(flatten)]
    pub(crate) subject: SubjectArgs,
    #[command(flatten)]
    pub(crate) row: RowArgs,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// Date for the last line, as YYYY-MM-DD; left out, none is printed, and the same files give the same bytes on any day
    #[arg(long, value_parser = date)]
    pub(crate) date: Option<String>,
    /// Also write the curve to this file, as a recording that a visit can name
    #[arg(long)]
    pub(crate) csv: Option<PathBuf>,
    /// Replace the files of --csv, --svg and --png if they are already there
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) draw: DrawArgs,
}

#[derive(Debug, Args)]
pub(crate) struct FitArgs {
    /// Car file to start from
    pub(crate) car: PathBuf,
    /// Visit files with measured pulls of this car, as the car file describes it
    #[arg(required = true)]
    pub(crate) visits: Vec<PathBuf>,
    /// Write the fitted car to this file; without it, the fit is only reported
    #[arg(long)]
    pub(crate) out: Option<PathBuf>,
    /// Replace the files of --out, --svg and --png if they are already there
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) misfit: MisfitArgs,
    #[command(flatten)]
    pub(crate) draw: DrawArgs,
}

/// What to do with a car file that its own pulls contradict.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(crate) struct MisfitArgs {
    /// Go on although the pulls contradict the car file; the warning stays in the report
    #[arg(long)]
    pub(crate) accept_misfit: bool,
}

#[derive(Debug, Args)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is an option of its own"
)]
pub(crate) struct DiagnoseArgs {
    /// Car file, best as written by `fit` from good pulls
    pub(crate) car: PathBuf,
    /// Visit file with the pull that looks wrong
    pub(crate) odd: PathBuf,
    /// Visit files with good pulls of the same car in the same state, to judge the odd one against
    #[arg(long, value_name = "VISIT", num_args = 1..)]
    pub(crate) good: Vec<PathBuf>,
    /// Which pull of the visit looks wrong, counted from 1; heat left by the pulls before it is taken into account
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) pull: Option<u16>,
    /// The good pulls and this one were made on one visit: --same-strapping and --same-air together
    #[arg(long, requires = "good")]
    pub(crate) same_visit: bool,
    /// The car stayed strapped to the drums between the good pulls and this one; otherwise 1.5 % from visit to visit is allowed for
    #[arg(long, requires = "good")]
    pub(crate) same_strapping: bool,
    /// The room's air is that of the good pulls, so that its barometer may be held against theirs
    #[arg(long, requires = "good")]
    pub(crate) same_air: bool,
    #[command(flatten)]
    pub(crate) draw: DrawArgs,
    /// Replace the files of --svg and --png if they are already there
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
pub(crate) struct TraceArgs {
    #[command(flatten)]
    pub(crate) subject: SubjectArgs,
    /// Engine speed in rpm, without a unit: 5000
    #[arg(long)]
    pub(crate) rpm: f64,
}

#[derive(Debug, Args)]
pub(crate) struct CompareArgs {
    /// Visit file with the pulls before the work
    pub(crate) before: PathBuf,
    /// Visit file with the pulls after it; left out, the pulls of the one visit are held against each other, in the order made
    pub(crate) after: Option<PathBuf>,
    /// The car stayed on the drums between the two sets, so that smaller changes can be told apart
    #[arg(long, requires = "after")]
    pub(crate) same_visit: bool,
    /// Car file before the work: tells how the engine is charged, and the electric share of a reading, which is never corrected; of one visit, what
    /// the car as described would lose from pull to pull
    #[arg(long)]
    pub(crate) car: Option<PathBuf>,
    /// Plan file with the work: tells how the engine is charged after it
    #[arg(long, requires_all = ["car", "after"])]
    pub(crate) plan: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) correction: CorrectionArgs,
    /// Largest difference in battery level at the start between any two pulls: "10 %", in points, the default
    #[arg(long, value_parser = share, allow_hyphen_values = true, requires = "after")]
    pub(crate) charge_window: Option<f64>,
    /// Also write the gain over engine speed to this file, as a table
    #[arg(long, requires = "after")]
    pub(crate) csv: Option<PathBuf>,
    /// Compare although battery level, electric axle on or off, or gear differ; and replace the files of --csv, --svg and --png
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) draw: DrawArgs,
}

#[derive(Debug, Args)]
pub(crate) struct InertiaArgs {
    /// Known inertia bolted on, without drag of its own: "20 kg m2", "20 ± 0.2 kg m2"
    #[arg(long, value_parser = inertia, allow_hyphen_values = true, requires_all = ["bare_time", "loaded_time"], conflicts_with_all = ["height", "radius", "light", "heavy"])]
    pub(crate) added: Option<Known>,
    /// Time to coast down between two speeds without it, or to run up under the same driving force; give the option again for each repeat
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
    /// Time of its fall; give the option again for each repeat
    #[arg(long, value_parser = seconds, allow_hyphen_values = true, requires = "light")]
    pub(crate) light_time: Vec<f64>,
    /// The heavier mass: "40 kg"
    #[arg(long, value_parser = mass, allow_hyphen_values = true, requires_all = ["heavy_time", "height"])]
    pub(crate) heavy: Option<Known>,
    /// Time of its fall
    #[arg(long, value_parser = seconds, allow_hyphen_values = true, requires = "heavy")]
    pub(crate) heavy_time: Vec<f64>,
    /// Inertia set in the rig, to be checked: "240 kg m2"
    #[arg(long, value_parser = inertia, allow_hyphen_values = true)]
    pub(crate) stated: Option<Known>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn a_plan_stands_behind_its_car_in_every_verb() {
        for call in [
            &["predict", "c", "p"][..],
            &["predict", "c", "--plan", "p"],
            &["trace", "c", "p", "--rpm", "5000"],
            &["trace", "c", "--plan", "p", "--rpm", "5000"],
        ] {
            let cli = Cli::try_parse_from([&["pullcast"], call].concat()).expect("good");
            let plan = match &cli.verb {
                Verb::Predict(args) => args.subject.plan(),
                Verb::Trace(args) => args.subject.plan(),
                _ => None,
            };
            assert_eq!(plan, Some(std::path::Path::new("p")), "{call:?}");
        }
        let twice = ["pullcast", "predict", "c", "p", "--plan", "q"];
        assert!(Cli::try_parse_from(twice).is_err());
    }

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
        assert_eq!(args.correction.standard, Some(Standard::Iso1585));
    }
}
