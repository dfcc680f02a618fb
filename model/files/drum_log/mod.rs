//! A drum log's description: which log, which drums, and what may stand beside it.
//!
//! ```text
//! kind = "drum log"
//! version = 1
//! name = "estate, first visit"
//! log = "drum.csv"                     # time and drum speed, or encoder counts
//! engine_log = "engine.csv"            # optional, on a clock of its own
//! [drums]
//! inertia = "432 ± 3 kg m2"
//! radius = "0.6 m"
//! pulses_per_turn = 60                 # for counts
//! force = "all"                        # of a log with force at the drums, where the log does not show it: or "brake alone"
//! [drums.road_load]                    # of a rig that simulates a car on the road
//! mass = "1730 ± 10 kg"
//! [gearing]                            # only where no log has engine speed
//! gear = 1.3
//! final_drive = 3.9
//! tyre_radius = "0.31 m"
//! [coast_down]
//! state = "neutral"
//! turning_mass = "35 ± 10 kg"
//! ```
//!
//! It refuses logs in which time starts again: a drum log is one stretch, pulls are found in it.

mod log;
mod rig;

use std::path::Path;

use super::belief::{self, KEY_UNUSED, Place};
use super::diagnostic::{Code, Problem, Problems};
use super::run_csv::RunFile;
use super::table::{Found, Table, TomlFile};
use crate::ask::reduce::{Question, Refusal};
use crate::drumlog::coast_down::State;
use crate::drumlog::local_polynomial::WIDEST_RPM;
use crate::drumlog::reduction::{
    Ask, CoastAsk, EngineLog, Log, Pull, PullRefusal, Reading, ReduceError,
};
use crate::drumlog::{self, ForceError, Rig};
use crate::units::{self, Dimension};

pub use log::{Extra, TOO_COARSE};
pub use rig::keep_force;

/// Nothing in a log could be reduced.
pub const NO_CURVE: Code = Code::new("no_curve");

/// What a logged force is does not follow from the log.
pub const FORCE_QUESTION: Code = Code::new("force_question");

/// Width of the bands of a curve unless the file says otherwise, rpm.
pub const BAND_RPM: f64 = 50.0;
/// Narrowest window of a local polynomial, rpm: below, noise chooses where the peak lies.
pub const NARROWEST_RPM: f64 = 50.0;
/// Window unless the file says otherwise, rpm.
pub const SPAN_RPM: f64 = 100.0;

/// A drum log read, with all that its reduction asks for.
#[derive(Debug, Clone)]
pub struct DrumLogFile {
    /// What the shop calls it.
    pub name: String,
    /// The log.
    pub log: Log,
    /// The engine log on another clock.
    pub engine: Option<EngineLog>,
    /// Further channels, from the drum log or the engine log, for the curve's recording.
    pub extras: Vec<Extra>,
    /// The drums.
    pub rig: Rig,
    /// Engine speed over surface speed, rpm per m/s.
    pub gearing_rpm_s_m: Option<f64>,
    /// How to smooth.
    pub ask: Ask,
    /// Bands, rpm.
    pub band_rpm: f64,
    /// The run-down.
    pub coast: Option<CoastAsk>,
    /// The log's file as named.
    pub file: String,
    run: RunFile,
}

impl DrumLogFile {
    /// What is asked of it.
    pub fn question(&self) -> Question<'_> {
        Question {
            name: &self.name,
            log_name: &self.file,
            log: drumlog::Question {
                log: &self.log,
                engine: self.engine.as_ref(),
                rig: self.rig,
                gearing_rpm_s_m: self.gearing_rpm_s_m,
                ask: self.ask,
                band_rpm: self.band_rpm,
                coast: self.coast,
            },
            line: Box::new(|row| self.line(row)),
        }
    }

    /// What stands in the way of an answer, at its line.
    pub fn problems(&self, refusal: &Refusal) -> Problems {
        match refusal {
            Refusal::Log(error) => self.problem(error),
            Refusal::NoCurve(pulls) => {
                let mut problems = Problems::new();
                for pull in pulls {
                    if let Err(refusal) = &pull.outcome {
                        problems.push(self.no_curve(pull, *refusal));
                    }
                }
                problems
            }
        }
    }

    fn no_curve(&self, pull: &Pull, refusal: PullRefusal) -> Problem {
        let line = self.line(pull.stretch.rows.start);
        let (from, to) = pull.stretch.time_s;
        let message =
            format!("line {line}: the pull from {from:.2} to {to:.2} s gives no curve: {refusal}");
        let mut problem = Problem::of_file(NO_CURVE, &self.file, message)
            .value(format!("{} rows", pull.stretch.rows.len()))
            .expected(
                "more samples in the pull, or method = \"state space\", which needs the fewest",
            );
        problem.line = Some(line);
        problem
    }

    /// Line of the log's file a row stands on.
    pub fn line(&self, row: usize) -> usize {
        self.run.line(row)
    }

    fn problem(&self, error: &ReduceError) -> Problems {
        let at = |row: usize, code: Code, message: String| {
            let line = self.line(row);
            let mut problem = Problem::of_file(code, &self.file, format!("line {line}: {message}"));
            problem.line = Some(line);
            problem
        };
        let whole = |code, message: String| Problem::of_file(code, &self.file, message);
        match error {
            ReduceError::Counts(fault) => {
                let crate::drumlog::counts::CountError::Backwards { row, to, .. } = *fault;
                at(row, Code::OUT_OF_RANGE, fault.to_string())
                    .value(format!("{to}"))
                    .expected("a count that never falls; start a new log where the counter was reset or overflowed")
            }
            ReduceError::NoPull { left_out } => whole(NO_CURVE, error.to_string())
                .value(format!("{left_out} runs that are too weak or too short"))
                .expected("full throttle in one gear for a second or more; check the unit and sign of the speed"),
            ReduceError::NeitherPullNorDrag(_) => whole(NO_CURVE, error.to_string())
                .expected("full throttle in one gear, or drums that run down by themselves for some seconds"),
            ReduceError::NoEngineSpeed => whole(
                super::visit::CHANNEL_MISSING,
                error.to_string(),
            )
            .value(self.run.columns.iter().map(|c| c.header.as_str()).collect::<Vec<_>>().join(", "))
            .expected("a column 'engine speed (rpm)' in the log, an engine_log that has one, or a table [gearing]"),
            ReduceError::Force(error) => {
                let (row, force_n) = error.place();
                let code = match error {
                    ForceError::WrongSign { .. } => Code::OUT_OF_RANGE,
                    _ => FORCE_QUESTION,
                };
                at(row, code, error.to_string())
                    .value(format!("{} N", units::show_number(force_n, 5)))
                    .expected(log::expected_of_force(error))
                    .help("it is asked once: the answer stands in [drums] of the log's description")
            }
            ReduceError::Align(_) => whole(NO_CURVE, error.to_string())
                .expected("an engine log of the same pulls"),
        }
        .into()
    }
}

/// Reads a description and the logs it names, which are looked for beside it.
pub fn open(path: &Path) -> Result<(DrumLogFile, Problems), Problems> {
    let file = TomlFile::open(path)?;
    read(&file, path.parent().unwrap_or(Path::new("")))
}

/// Reads a description whose text is here; logs are looked for in `folder`.
pub fn read(file: &TomlFile, folder: &Path) -> Result<(DrumLogFile, Problems), Problems> {
    file.read(|root| drum_log(root, folder))
}

/// Reads the tables of a description, and its logs.
pub(super) fn drum_log(root: &mut Table<'_>, folder: &Path) -> Option<DrumLogFile> {
    super::car::head(root, "drum log")?;
    let name = root.text("name");
    let named = root.text("log");
    let place = Place::of(root, "log");
    let engine_named = root.optional_text("engine_log");
    let engine_place = Place::of(root, "engine_log");
    let ask = ask(root);
    let band = rpm(root, "band", 10.0, 500.0);
    let options = super::visit::options(root);
    let drums = root.subtable("drums", rig::drums);
    let gearing = root.optional_subtable("gearing", gearing);
    let coast = root.optional_subtable("coast_down", coast);
    let mut open = |named: &Option<String>, place: &Place| {
        let path = folder.join(named.as_deref()?);
        match RunFile::open(&path, options.as_ref()?) {
            Ok(run) => Some(run),
            Err(problems) => {
                for problem in problems.iter() {
                    root.push(log::named(problem, place));
                }
                None
            }
        }
    };
    let run = open(&named, &place);
    let engine_run = open(&engine_named, &engine_place);
    for warning in run
        .iter()
        .chain(&engine_run)
        .flat_map(|r| r.warnings.iter())
    {
        root.push(warning.clone());
    }
    let teeth = drums
        .as_ref()
        .and_then(|drums| Some(drums.teeth.as_ref()?.0));
    let mut kept =
        |found: Result<_, Box<Problem>>| found.map_err(|problem| root.push(*problem)).ok();
    let read = match (&run, &drums) {
        (Some(run), Some(drums)) => kept(log::drum(run, &drums.rig, teeth, &drums.force)),
        _ => None,
    };
    let engine = engine_run
        .as_ref()
        .map(|run| log::engine(run).map_err(|problem| root.push(*problem)).ok());
    let drums = drums?;
    let (log, reads_turning) = read?;
    let run = run?;
    let mut extras = log::extras(&run);
    let engine = match (engine, engine_named) {
        (Some(engine), Some(_)) => Some(engine?),
        (None, Some(_)) => return None,
        _ => None,
    };
    if let Some(other) = &engine_run {
        let own: Vec<_> = extras.iter().map(|extra| extra.channel).collect();
        let further = log::extras(other).into_iter();
        extras.extend(
            further
                .filter(|e| !own.contains(&e.channel))
                .map(|extra| Extra {
                    on_engine_clock: true,
                    ..extra
                }),
        );
    }
    if let (Some(place), None) = (&drums.force.place, &log.force) {
        let message = "what is said of a force is not used: the log has no force at the drums";
        let unused = place.problem(KEY_UNUSED, message).warning();
        root.push(unused.expected("a column such as 'wheel force (N)', or no such key"));
    }
    if let (Some((_, place)), Reading::Speed(_)) = (drums.teeth, &log.reading) {
        let message = "'pulses_per_turn' is not used: the log has drum speed, not counts";
        let unused = place.problem(KEY_UNUSED, message).warning();
        root.push(unused.expected("a log of encoder counts, or no such key"));
    }
    if gearing.is_some() && (log.engine_rpm.is_some() || engine.is_some()) {
        let message = "'gearing' is not used: engine speed was logged";
        let expected = "[gearing] only where no log has engine speed";
        root.warning("gearing", KEY_UNUSED, message, expected);
    }
    Some(DrumLogFile {
        name: name?,
        log,
        engine,
        extras,
        rig: Rig {
            reads_turning,
            ..drums.rig
        },
        gearing_rpm_s_m: gearing,
        ask: ask?,
        band_rpm: band.or(BAND_RPM)?,
        coast,
        file: run.name.clone(),
        run,
    })
}

/// An engine speed within limits, rpm.
fn rpm(table: &mut Table<'_>, key: &str, low: f64, high: f64) -> Found<f64> {
    let per_rpm = units::RAD_S_PER_RPM;
    let limits = low * per_rpm..=high * per_rpm;
    let read = |t: &mut Table<'_>| belief::plain(t, key, Dimension::RotationalSpeed, limits);
    // Rounding of the way through rad/s is undone.
    let found = table.found(key, read);
    found.map(|rad_s| (rad_s / per_rpm * 1e9).round() / 1e9)
}

fn ask(root: &mut Table<'_>) -> Option<Ask> {
    let methods = &[("state space", false), ("savitzky-golay", true)];
    let polynomial = root.found("method", |t| t.optional_choice("method", methods));
    let had_span = root.has("span");
    let span = rpm(root, "span", NARROWEST_RPM, WIDEST_RPM);
    if polynomial.or(false)? {
        return Some(Ask::LocalPolynomial {
            span_rpm: span.or(SPAN_RPM)?,
        });
    }
    if had_span {
        let message = "'span' is not used: the state-space smoother needs no setting";
        root.warning("span", KEY_UNUSED, message, "method = \"savitzky-golay\"");
    }
    Some(Ask::StateSpace)
}

/// Engine speed over surface speed, rpm per m/s: ratio over tyre radius.
fn gearing(table: &mut Table<'_>) -> Option<f64> {
    let gear = belief::required_plain(table, "gear", Dimension::Ratio, 0.3..=6.0);
    let last = belief::required_plain(table, "final_drive", Dimension::Ratio, 1.0..=8.0);
    let tyre = belief::required_plain(table, "tyre_radius", Dimension::Length, 0.2..=0.5);
    Some(units::rpm(gear? * last? / tyre?))
}

fn coast(table: &mut Table<'_>) -> Option<CoastAsk> {
    let state = table.choice(
        "state",
        &[
            ("drum alone", State::DrumAlone),
            ("neutral", State::Neutral),
            ("clutch out", State::ClutchOut),
            ("in gear", State::InGear),
        ],
    );
    let mass = table.found("turning_mass", |t| {
        let mass = t.optional_quantity("turning_mass", Dimension::Mass);
        t.within("turning_mass", mass, 0.0..=1000.0)
    });
    if state.is_some_and(|state| state != State::DrumAlone) && mass == Found::Absent {
        table.error(
            "turning_mass",
            Code::KEY_MISSING,
            "wheels and whatever else turned with the drums add mass at their surface",
            "turning_mass = \"... ± ... kg\": two wheels count for about 35 kg",
        );
        return None;
    }
    let mass = mass.optional()?;
    let from = belief::plain(table, "from", Dimension::Time, -1e6..=1e6);
    let to = belief::plain(table, "to", Dimension::Time, -1e6..=1e6);
    if let (Some(from), Some(to)) = (from, to)
        && to <= from
    {
        let message = "the part of the log with the run-down ends before it begins";
        let later = format!("a time later than 'from', which is {from} s");
        table.error("to", Code::OUT_OF_RANGE, message, later);
        return None;
    }
    let between_s = match (from, to) {
        (None, None) => None,
        (from, to) => Some((
            from.unwrap_or(f64::NEG_INFINITY),
            to.unwrap_or(f64::INFINITY),
        )),
    };
    Some(CoastAsk {
        state: state?,
        turning_kg: mass.map_or(0.0, |mass| mass.value_si),
        turning_sd_kg: mass.map_or(0.0, |mass| mass.sd_si()),
        between_s,
    })
}

#[cfg(test)]
mod tests;
