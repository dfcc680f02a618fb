//! A visit file: what the room was like, and the pulls made in it, each with its recording.
//!
//! ```text
//! kind = "visit"
//! version = 1
//! name = "baseline, March"
//! [weather]
//! temperature = "14 °C"
//! relative_humidity = "71 %"
//! station_pressure = "911 hPa"
//! [[pull]]
//! file = "pull1.csv"
//! [[pull]]
//! file = "pull2.csv"
//! rest_before = "5 min"
//! electric_axle = "off"
//! ```
//!
//! A curve of the engine alone, from an engine dynamometer or a catalogue, says so: `read_at = "crank"`. Its rows are engine speed and power
//! or torque; a time is not asked for.
//!
//! A pull's own table `weather` replaces single readings of the visit's. A recording that holds several pulls gives as many.
//! Power is taken uncorrected; a recording that holds corrected power alone is refused unless the pull says to which
//! standard it was corrected, and then that factor is undone with the visit's own weather.

mod crank;
mod entered;
mod possible;
mod recording;

use std::path::Path;

use super::belief::{self, KEY_UNUSED, Place};
use super::diagnostic::{Code, Problem, Problems};
use super::run_csv::{Channel, DecimalMark, PressureReference, RunFile, RunOptions};
use super::table::{Table, TomlFile};
use super::weather::{self, Readings};
use crate::air::Day;
use crate::air::atmosphere::StationPressure;
use crate::diagnose::Entered;
use crate::dyno::Conditions;
use crate::dyno::correction::Standard;
use crate::dyno::recording::LEAST_ROWS;
use crate::fit::observation::{MeasuredPull, ReadAt, Visit};
use crate::units::{self, Dimension};

pub use possible::READING_LEFT_OUT;
pub use recording::{CHANNEL_MISSING, CORRECTION_UNDONE, NOT_A_PULL, POWER_CORRECTED};

/// A curve of the engine alone, where pulls on drums are asked for.
pub const CRANK_CURVE: Code = Code::new("crank_curve");

/// A recording is named twice.
pub const RECORDING_REPEATED: Code = Code::new("recording_repeated");

/// Band of engine speed in which pulls are averaged unless the visit says otherwise, rpm: some forty bands in a pull, each
/// with several independent samples at the usual rates.
pub const BAND_RPM: f64 = 100.0;

/// A visit read: its pulls, and how each came out of its recording.
#[derive(Debug, Clone)]
pub struct VisitFile {
    /// The pulls with their air.
    pub visit: Visit,
    /// One for each pull, in the same order.
    pub recordings: Vec<Recorded>,
    /// What was entered into the rig for each pull, in the same order.
    pub entered: Vec<Entered>,
    /// Where a curve read at the crank says so.
    at_the_crank: Option<Place>,
}

impl VisitFile {
    /// Why the visit does not serve where pulls on drums are asked for.
    pub fn not_on_drums(&self) -> Option<Problem> {
        let message = "this curve was read at the crank: no drums, gear or tyre stand behind it";
        let problem = self.at_the_crank.as_ref()?.problem(CRANK_CURVE, message);
        Some(
            problem
                .expected("pulls on the drums; `fit` and `quote` take curves of the engine alone"),
        )
    }
}

/// How a pull came out of its recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The recording's file as named.
    pub file: String,
    /// First line of the pull in that file.
    pub first_line: usize,
    /// Rows of the pull.
    pub rows: usize,
    /// Rows left out before the pull had settled, and at its end.
    pub dropped: (usize, usize),
    /// Bands of the curve.
    pub bands: usize,
    /// Relative scatter of single samples.
    pub noise: f64,
    /// Header of the column that gave the power.
    pub power_header: String,
    /// Header of the engine's speed.
    pub engine_header: String,
    /// Whether the visit says that this recording is to be taken as it stands.
    pub trusted: bool,
    /// Headers that were not read.
    pub ignored: Vec<String>,
    /// Correction that was undone, and its factor.
    pub undone: Option<(Standard, f64)>,
    /// Charge of the battery at the start, where the file states it.
    pub charge: Option<f64>,
    /// Whether the electric axle helped, where the file states it.
    pub electric_axle: Option<bool>,
}

/// What a `[[pull]]` says.
pub(super) struct Entry {
    file: String,
    name: Option<String>,
    read_at: ReadAt,
    read_at_place: Place,
    level_doubt: Option<f64>,
    day: Day,
    conditions: Conditions,
    /// Charge and axle as stated, before defaults fill them.
    stated: (Option<f64>, Option<bool>),
    rest_s: Option<f64>,
    options: RunOptions,
    corrected_to: Option<Standard>,
    corrected_place: Place,
    trusted: bool,
    entered: Entered,
    /// Radius of the drums, m, where it is known.
    drum_radius_m: Option<f64>,
    place: Place,
}

/// Reads a visit file and the recordings it names, which are looked for beside it.
pub fn open(path: &Path) -> Result<(VisitFile, Problems), Problems> {
    open_on(path, None)
}

/// The same of pulls on drums of a known radius, m: a logged speed of their surface then tells how fast they turn.
pub fn open_on(path: &Path, drum_radius_m: Option<f64>) -> Result<(VisitFile, Problems), Problems> {
    let folder = path.parent().unwrap_or(Path::new(""));
    TomlFile::open(path)?.read(|root| visit(root, folder, drum_radius_m))
}

/// Pulls that are the same recording as one before them: the same recording twice would count as twice the evidence.
pub fn repeated<'f>(visits: impl Iterator<Item = (&'f Path, &'f VisitFile)>) -> Problems {
    let pulls: Vec<_> = visits
        .flat_map(|(path, file)| file.visit.pulls.iter().map(move |pull| (path, pull)))
        .collect();
    let mut problems = Problems::new();
    for (i, (path, pull)) in pulls.iter().enumerate() {
        if let Some((other, twin)) = pulls[..i].iter().find(|(_, p)| p.curve == pull.curve) {
            let message = format!(
                "the pull '{}' is the same recording as '{}' of {}",
                pull.name,
                twin.name,
                other.display()
            );
            problems.push(
                Problem::of_file(RECORDING_REPEATED, path.display().to_string(), message)
                    .expected("each recording once"),
            );
        }
    }
    problems
}

/// Reads a visit file whose text is here; recordings are looked for in `folder`.
pub fn read(file: &TomlFile, folder: &Path) -> Result<(VisitFile, Problems), Problems> {
    file.read(|root| visit(root, folder, None))
}

/// Reads the tables of a visit file, and its recordings.
pub(super) fn visit(
    root: &mut Table<'_>,
    folder: &Path,
    drum_radius_m: Option<f64>,
) -> Option<VisitFile> {
    super::car::head(root, "visit")?;
    let name = root.text("name");
    let per_rpm = units::RAD_S_PER_RPM;
    let speed = Dimension::RotationalSpeed;
    let limits = 10.0 * per_rpm..=1000.0 * per_rpm;
    let band = root.found("band", |t| belief::plain(t, "band", speed, limits));
    let band_rpm = band.map(|rad_s| rad_s / per_rpm).or(BAND_RPM);
    let room = root.subtable("weather", |table| weather::table(table, None));
    if !root.has("pull") {
        let message = "the visit has no pulls";
        root.error(
            "pull",
            Code::KEY_MISSING,
            message,
            "one [[pull]] for each recording",
        );
    }
    let mut entries = Vec::new();
    root.tables("pull", |table| {
        let read = entry(table, room.as_ref());
        entries.extend(read.map(|read| Entry {
            drum_radius_m,
            ..read
        }));
        Some(())
    });
    let mut visit = Visit {
        name: name.unwrap_or_default(),
        pulls: Vec::new(),
    };
    let mut recordings = Vec::new();
    let mut entered = Vec::new();
    let mut sound = true;
    // Recordings are read whatever else is wrong, so that their mistakes are reported too.
    for entry in &entries {
        match pulls(entry, folder, band_rpm.unwrap_or(BAND_RPM)) {
            Ok((found, warnings)) => {
                for problem in warnings.iter() {
                    root.push(problem.clone());
                }
                for (pull, recorded) in found {
                    visit.pulls.push(pull);
                    recordings.push(recorded);
                    entered.push(entry.entered);
                }
            }
            Err(problems) => {
                sound = false;
                for problem in problems.iter() {
                    root.push(problem.clone());
                }
            }
        }
    }
    let at_the_crank = entries
        .into_iter()
        .find(|entry| entry.read_at == ReadAt::Crank)
        .map(|entry| entry.read_at_place);
    sound.then_some(VisitFile {
        visit,
        recordings,
        entered,
        at_the_crank,
    })
}

fn entry(table: &mut Table<'_>, room: Option<&(Day, Readings)>) -> Option<Entry> {
    let file = table.text("file");
    let name = table.optional_text("name");
    let places = [("drums", ReadAt::Drums), ("crank", ReadAt::Crank)];
    let read_at = table
        .optional_choice("read_at", &places)
        .unwrap_or_default();
    let read_at_place = Place::of(table, "read_at");
    let level_doubt = belief::plain(table, "level_doubt", Dimension::Ratio, 0.001..=0.2);
    let own = table.has("weather");
    let replaced = table.optional_subtable("weather", |table| {
        // Without a sound room there is nothing to replace; the readings are then held to be whole.
        weather::table(table, room.map(|(_, readings)| readings))
    });
    let air = if own { replaced } else { room.copied() };
    let altitude_m = air.and_then(|(_, readings)| readings.altitude_m());
    let day = air.map(|(day, _)| day);
    // Air that could not be read has been reported, and the visit is refused for it.
    let day = day.or_else(stand_in);
    let rest_s = belief::plain(table, "rest_before", Dimension::Time, 0.0..=1e6);
    let on = table.optional_choice("electric_axle", &[("on", true), ("off", false)]);
    let charge = belief::plain(table, "charge", Dimension::Ratio, 0.0..=1.0);
    let temperature = Dimension::Temperature;
    let core_k = belief::plain(table, "core_temperature", temperature, 250.0..=400.0);
    let battery_k = belief::plain(table, "battery_temperature", temperature, 230.0..=350.0);
    let motor_k = belief::plain(table, "motor_temperature", temperature, 230.0..=480.0);
    let options = options(table).map(|options| RunOptions {
        minimum_rows: match read_at {
            ReadAt::Drums => LEAST_ROWS,
            ReadAt::Crank => crank::LEAST_ROWS,
        },
        ..options
    });
    let ids: Vec<(&str, Standard)> = Standard::all()
        .filter(|s| *s != Standard::None)
        .map(|s| (s.id(), s))
        .collect();
    let corrected_to = table.optional_choice("corrected_to", &ids);
    let corrected_place = Place::of(table, "corrected_to");
    let trusted = table.optional_boolean("trust_recording");
    let entered = entered::table(table, (altitude_m, charge));
    let place = Place::of(table, "file");
    // Start and end speed are taken from the curve; the figure here only fills the place.
    let mut conditions = Conditions::rested(6000.0);
    conditions.core_k = core_k;
    conditions.axle.on = on.unwrap_or(true);
    conditions.axle.charge = charge.unwrap_or(conditions.axle.charge);
    conditions.axle.battery_k = battery_k;
    conditions.axle.motor_k = motor_k;
    Some(Entry {
        file: file?,
        name,
        read_at,
        read_at_place,
        level_doubt,
        day: day?,
        conditions,
        stated: (charge, on),
        rest_s,
        options: options?,
        corrected_to,
        corrected_place,
        trusted: trusted.unwrap_or(false),
        entered: entered?,
        drum_radius_m: None,
        place,
    })
}

/// Some air, so that a recording can be looked through when its own could not be read.
fn stand_in() -> Option<Day> {
    Day::from_vapour(StationPressure::from_pa(99_000.0), 298.15, 0.0).ok()
}

/// Answers to what a recording leaves open, from the table that names it.
pub(super) fn options(table: &mut Table<'_>) -> Option<RunOptions> {
    let references = [
        ("absolute", PressureReference::Absolute),
        ("gauge", PressureReference::Gauge),
    ];
    let manifold_pressure = table.optional_choice("manifold_pressure", &references);
    let marks = [("point", DecimalMark::Point), ("comma", DecimalMark::Comma)];
    let decimal = table.optional_choice("decimal", &marks);
    let mut units = Vec::new();
    let mut sound = true;
    for answer in table.optional_texts("units").unwrap_or_default() {
        if let Some((header, unit)) = answer.rsplit_once(':') {
            units.push((header.trim().to_owned(), unit.trim().to_owned()));
        } else {
            let message = format!("'{answer}' does not name a unit");
            table.error(
                "units",
                Code::UNIT_MISSING,
                message,
                "texts such as \"header as written: unit\"",
            );
            sound = false;
        }
    }
    let mut columns = Vec::new();
    for answer in table.optional_texts("columns").unwrap_or_default() {
        if let Some(column) = super::run_csv::parted(&answer) {
            columns.push(column);
        } else {
            let message = format!("'{answer}' does not name a column and what it is");
            let expected = "texts such as \"header as written = wheel_power_hp\"";
            table.error("columns", Code::WRONG_TYPE, message, expected);
            sound = false;
        }
    }
    sound.then_some(RunOptions {
        manifold_pressure,
        units,
        columns,
        decimal,
        minimum_rows: LEAST_ROWS,
        ..RunOptions::default()
    })
}

type Found = Vec<(MeasuredPull, Recorded)>;

/// The pulls of one recording.
fn pulls(entry: &Entry, folder: &Path, band_rpm: f64) -> Result<(Found, Problems), Problems> {
    let path = folder.join(&entry.file);
    let run = RunFile::open(&path, &entry.options).map_err(|problems| named(&problems, entry))?;
    let mut problems = Problems::new();
    // What a plain 'torque' is taken as on drums is not asked of a curve of the engine.
    let of_drums = |warning: &Problem| warning.code == Code::COLUMN_CONVENTION;
    for warning in run.warnings.iter() {
        if entry.read_at == ReadAt::Drums || !of_drums(warning) {
            problems.push(warning.clone());
        }
    }
    let mut found = Vec::new();
    let several = run.pulls.len() > 1;
    let header = |channel| run.column(channel).map(|column| column.header.clone());
    for (index, pull) in run.pulls.iter().enumerate() {
        let label = pull
            .label
            .clone()
            .unwrap_or_else(|| (index + 1).to_string());
        let base = entry.name.clone().unwrap_or_else(|| stem(&entry.file));
        let name = if several {
            format!("{base}, pull {label}")
        } else {
            base
        };
        let read = match entry.read_at {
            ReadAt::Drums => recording::curve(&run, pull, entry, band_rpm, &mut problems),
            ReadAt::Crank => crank::curve(&run, pull, entry, &mut problems),
        };
        match read {
            Ok((curve, undone)) => {
                let recorded = Recorded {
                    file: run.name.clone(),
                    first_line: run.line(pull.rows.start),
                    rows: pull.rows.len(),
                    dropped: (curve.dropped_start, curve.dropped_end),
                    bands: curve.bands.len(),
                    noise: curve.noise,
                    power_header: header(match entry.read_at {
                        ReadAt::Drums => recording::power_from(&run).1,
                        ReadAt::Crank => crank::power_from(&run),
                    })
                    .unwrap_or_default(),
                    engine_header: header(Channel::EngineSpeed).unwrap_or_default(),
                    trusted: entry.trusted,
                    ignored: run.ignored.clone(),
                    undone,
                    charge: entry.stated.0,
                    electric_axle: entry.stated.1,
                };
                let (day, conditions, rest_s) = (entry.day, entry.conditions, entry.rest_s);
                found.push((
                    MeasuredPull {
                        name,
                        read_at: entry.read_at,
                        level_doubt: entry.level_doubt,
                        day,
                        conditions,
                        rest_s,
                        curve,
                    },
                    recorded,
                ));
            }
            Err(problem) => {
                problems.push(*problem);
                // What is missing in one pull is missing in all of the file.
                if problems.with_code(CHANNEL_MISSING).next().is_some()
                    || problems.with_code(POWER_CORRECTED).next().is_some()
                {
                    break;
                }
            }
        }
    }
    if entry.corrected_to.is_some() && found.iter().any(|(_, pull)| pull.undone.is_none()) {
        let message = "'corrected_to' is not used: the recording has power as read, which is used";
        let unused = entry.corrected_place.problem(KEY_UNUSED, message).warning();
        problems
            .push(unused.expected("corrected_to only where a recording has corrected power alone"));
    }
    problems.unless_errors(Some(found))
}

/// A recording that is not there is also a mistake of the visit file, at its line.
fn named(problems: &Problems, entry: &Entry) -> Problems {
    let mut out = Problems::new();
    for problem in problems.iter() {
        if problem.code == Code::FILE_MISSING || problem.code == Code::FILE_IS_FOLDER {
            let message = format!(
                "the recording '{}' cannot be read: {}",
                problem.file, problem.message
            );
            let at: Problem = entry.place.problem(problem.code, message);
            out.push(at.expected("the path of a recording, from the folder of this file"));
        } else {
            out.push(problem.clone());
        }
    }
    out
}

fn stem(file: &str) -> String {
    Path::new(file)
        .file_stem()
        .map_or_else(|| file.to_owned(), |s| s.to_string_lossy().into_owned())
}

#[cfg(test)]
mod tests;
