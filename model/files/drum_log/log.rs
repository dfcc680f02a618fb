//! From the columns of a log to a drum log or an engine log, and what stands in the way.

use super::super::belief::Place;
use super::super::diagnostic::{Code, Problem};
use super::super::run_csv::{Channel, RunFile};
use super::super::visit::CHANNEL_MISSING;
use super::rig::Force;
use crate::drumlog::reduction::{EngineLog, Log, Reading};
use crate::drumlog::{ForceError, ForceLog, Reads, Rig, Sense, Told};
use crate::numeric::upper_median;
use crate::units::{self, show_number};

/// The log's samples are too far apart to hold a pull.
pub const TOO_COARSE: Code = Code::new("too_coarse");

/// Slowest sampling, Hz, with room for the jitter of a log at 10 Hz.
const SLOWEST_HZ: f64 = 8.0;
/// Beyond this no drum's surface and no engine runs. Common practice, no source.
const FASTEST: (f64, f64) = (150.0, 20_000.0);

/// A further channel, kept for the curve's recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// What it is.
    pub channel: Channel,
    /// Its times, s.
    pub time_s: Vec<f64>,
    /// Its values, SI.
    pub values_si: Vec<f64>,
    /// Whether its time is that of the engine log.
    pub on_engine_clock: bool,
}

impl Extra {
    /// The channel at a time, straight between its rows and level beyond them.
    pub fn at(&self, time_s: f64) -> f64 {
        let after = self.time_s.partition_point(|&t| t < time_s);
        let last = self.values_si.len() - 1;
        if after == 0 || after > last {
            return self.values_si[after.min(last)];
        }
        let (t0, t1) = (self.time_s[after - 1], self.time_s[after]);
        let (a, b) = (self.values_si[after - 1], self.values_si[after]);
        a + (b - a) * (time_s - t0) / (t1 - t0)
    }
}

/// A log that is not there is also a mistake of the file that names it, at its line.
pub(super) fn named(problem: &Problem, place: &Place) -> Problem {
    if problem.code != Code::FILE_MISSING && problem.code != Code::FILE_IS_FOLDER {
        return problem.clone();
    }
    let message = format!(
        "the log '{}' cannot be read: {}",
        problem.file, problem.message
    );
    place
        .problem(problem.code, message)
        .expected("the path of a log, from the folder of this file")
}

fn missing(run: &RunFile, what: &str, why: &str) -> Box<Problem> {
    let headers: Vec<&str> = run.columns.iter().map(|c| c.header.as_str()).collect();
    let message = format!("the log has no column of {what}: {why}");
    let problem = Problem::of_file(CHANNEL_MISSING, &run.name, message).value(headers.join(", "));
    Box::new(problem.expected(format!("a column of {what}, with its unit in the header")))
}

fn at(run: &RunFile, row: usize, code: Code, message: &str) -> Problem {
    let line = run.line(row);
    let mut problem = Problem::of_file(code, &run.name, format!("line {line}: {message}"));
    problem.line = Some(line);
    problem
}

/// Time of a log that is one stretch, fine and long enough.
fn time(run: &RunFile) -> Result<Vec<f64>, Box<Problem>> {
    let time = run
        .column(Channel::Time)
        .ok_or_else(|| missing(run, "time", "it shows how fast the drums gain speed"))?;
    if let Some(second) = run.pulls.get(1) {
        let row = second.rows.start;
        let value = show_number(time.values_si[row], 6);
        let message = format!("time starts again at {value} s");
        let problem = at(run, row, Code::TIME_NOT_INCREASING, &message).value(value);
        return Err(Box::new(problem.expected(
            "one continuous recording without a pull column; the pulls in it are found automatically",
        )));
    }
    let steps = || time.values_si.windows(2).map(|t| t[1] - t[0]);
    let step_s = upper_median(steps()).unwrap_or(0.0);
    if step_s > 1.0 / SLOWEST_HZ {
        // The first step that is as long as most.
        let row = 1 + steps().position(|step| step >= step_s).unwrap_or(0);
        let value = format!("{} s", show_number(step_s, 3));
        let message = format!("samples are {value} apart");
        return Err(Box::new(
            at(run, row, TOO_COARSE, &message)
                .value(value)
                .expected("10 to 1000 samples a second; is the unit of time right?"),
        ));
    }
    Ok(time.values_si.clone())
}

/// Engine speed in rpm, to a millionth as written.
fn engine_rpm(run: &RunFile) -> Result<Option<Vec<f64>>, Box<Problem>> {
    let Some(column) = run.column(Channel::EngineSpeed) else {
        return Ok(None);
    };
    let rpm: Vec<f64> = column
        .values_si
        .iter()
        .map(|rad_s| (rad_s * units::RPM_PER_RAD_S * 1e6).round() / 1e6)
        .collect();
    if rpm.iter().all(|&rpm| rpm <= 0.0) {
        let message = format!("'{}' is 0 rpm on every row", column.header);
        let problem = at(run, 0, Code::OUT_OF_RANGE, &message).value("0 rpm");
        return Err(Box::new(problem.expected(
            "a running engine; leave out a column that logged nothing",
        )));
    }
    match rpm.iter().position(|rpm| !(0.0..=FASTEST.1).contains(rpm)) {
        None => Ok(Some(rpm)),
        Some(row) => {
            let value = format!("{} rpm", show_number(rpm[row], 5));
            let message = format!("engine speed is {value}");
            let problem = at(run, row, Code::OUT_OF_RANGE, &message).value(value);
            Err(Box::new(problem.expected(format!(
                "0 to {} rpm; is the unit right?",
                FASTEST.1
            ))))
        }
    }
}

/// The drum's log, and whether its sensor reads turning.
pub(super) fn drum(
    run: &RunFile,
    rig: &Rig,
    teeth: Option<f64>,
    said: &Force,
) -> Result<(Log, bool), Box<Problem>> {
    let time_s = time(run)?;
    let radius_m = rig.drums.radius_m;
    let (reading, turning) = match (
        run.column(Channel::Counts),
        teeth,
        run.column(Channel::DrumSpeed),
        run.column(Channel::RoadSpeed),
    ) {
        (Some(counts), Some(teeth), _, _) => (
            Reading::Counts {
                counts: counts.values_si.clone(),
                teeth,
            },
            true,
        ),
        (_, _, Some(drum), _) => (
            Reading::Speed(drum.values_si.iter().map(|w| w * radius_m).collect()),
            true,
        ),
        (_, _, None, Some(surface)) => (Reading::Speed(surface.values_si.clone()), false),
        (Some(_), None, None, None) => {
            return Err(missing(
                run,
                "drum speed",
                "it holds encoder counts, and the description lacks drums.pulses_per_turn",
            ));
        }
        (None, _, None, None) => {
            return Err(missing(
                run,
                "drum speed or encoder counts",
                "power is computed from how the drums gain speed",
            ));
        }
    };
    if let Reading::Speed(speed) = &reading
        && let Some(row) = speed.iter().position(|v| v.abs() > FASTEST.0)
    {
        let value = format!("{} m/s", show_number(speed[row], 4));
        let message = format!("the drum surface reaches {value}");
        return Err(Box::new(
            at(run, row, Code::OUT_OF_RANGE, &message)
                .value(value)
                .expected(format!(
                    "at most {} m/s; are unit and radius right?",
                    FASTEST.0
                )),
        ));
    }
    let engine_rpm = engine_rpm(run)?;
    let force = force(run, &time_s, radius_m, said)?;
    Ok((
        Log {
            time_s,
            reading,
            engine_rpm,
            force,
        },
        turning,
    ))
}

/// No car pushes a drum's surface harder, N: four tyres at twice their load (common practice, no source).
const STRONGEST_N: f64 = 60_000.0;
/// A cell at the end of its range reads the same for at least so long, s, on at least so many rows (no source, assumed).
const HELD: (f64, usize) = (0.3, 5);
/// And so many times as long as it does anywhere else: a coarse cell holds each of its steps for a while (no source, assumed).
const LONGER: usize = 3;

/// The force at the drums, where logged: all of it, or as torque at their shaft, or the brake's.
fn force(
    run: &RunFile,
    time_s: &[f64],
    radius_m: f64,
    said: &Force,
) -> Result<Option<ForceLog>, Box<Problem>> {
    let kinds = [
        (Channel::WheelForce, 1.0),
        (Channel::DrumTorque, 1.0 / radius_m),
        (Channel::BrakeForce, 1.0),
    ];
    let found = kinds
        .iter()
        .find_map(|(channel, factor)| Some((run.column(*channel)?, factor)));
    let Some((column, factor)) = found else {
        return Ok(None);
    };
    let named = (column.channel == Channel::BrakeForce).then_some((
        Sense {
            reads: Reads::BrakeAlone,
            reversed: false,
        },
        Told::Named,
    ));
    let stated = said.sense.map(|sense| (sense, Told::Stated)).or(named);
    let force_n: Vec<f64> = column.values_si.iter().map(|si| si * factor).collect();
    let brake = stated.is_some_and(|(sense, _)| sense.reads == Reads::BrakeAlone);
    let show = |row: usize| format!("{} N", show_number(force_n[row], 5));
    let wrong = |row: usize, message: String, expected: String| {
        let problem = at(run, row, Code::OUT_OF_RANGE, &message).value(show(row));
        Err(Box::new(problem.expected(expected)))
    };
    if let Some(row) = force_n.iter().position(|force| force.abs() > STRONGEST_N) {
        let message = format!("the force at the drums is {}", show(row));
        let expected = format!("at most {STRONGEST_N} N; is the unit right?");
        return wrong(row, message, expected);
    }
    let first = force_n.first().copied().unwrap_or(0.0);
    if !brake && force_n.iter().all(|force| *force == first) {
        let message = format!("'{}' is {} on every row", column.header, show(0));
        let expected = format!(
            "a force that grows while the car drives; leave out a column that logged nothing, columns = [\"{} = skip\"], or say of a brake that \
             rested force = \"brake alone\"",
            column.header
        );
        return wrong(0, message, expected);
    }
    if let Some((from, to)) = held(time_s, &force_n) {
        let message = format!(
            "'{}' stands at its largest value, {}, from here to line {}: the cell is at the end of its range, and the force beyond it is lost",
            column.header,
            show(from),
            run.line(to)
        );
        let expected = format!(
            "a cell with range to spare; to take power from the drums' inertia instead, columns = [\"{} = skip\"]",
            column.header
        );
        return wrong(from, message, expected);
    }
    Ok(Some(ForceLog {
        force_n,
        stated,
        doubt: said.doubt,
        by_torque: column.channel == Channel::DrumTorque,
    }))
}

/// First and last row of a force that stands at the largest value of the log, to either side, far longer than it stands anywhere else.
fn held(time_s: &[f64], force_n: &[f64]) -> Option<(usize, usize)> {
    let most = force_n.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = force_n.iter().copied().fold(f64::INFINITY, f64::min);
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (row, force) in force_n.iter().enumerate() {
        match runs.last_mut() {
            Some((_, last)) if force_n[*last] == *force => *last = row,
            _ => runs.push((row, row)),
        }
    }
    let length = |run: &(usize, usize)| run.1 - run.0 + 1;
    [most, least].into_iter().find_map(|end| {
        let at_end = |run: &&(usize, usize)| force_n[run.0] == end;
        let longest = runs.iter().filter(at_end).copied().max_by_key(length)?;
        // What rests at nothing says nothing of a cell's steps.
        let moving = |run: &&(usize, usize)| !at_end(run) && force_n[run.0].abs() > 0.1 * end.abs();
        let elsewhere = runs.iter().filter(moving).map(length).max().unwrap_or(1);
        let lasts_s = time_s[longest.1] - time_s[longest.0];
        let stands = lasts_s >= HELD.0 && length(&longest) >= HELD.1.max(LONGER * elsewhere);
        (end != 0.0 && stands).then_some(longest)
    })
}

/// What a description or a log would have to say of a force.
pub(super) fn expected_of_force(error: &ForceError) -> String {
    let both = "force = \"all\" where the cell feels what the drums' inertia takes, force = \"brake alone\" where it does not";
    match error {
        ForceError::WrongSign { .. } => {
            "a force above zero while the car drives, or force = \"all, reversed\"".to_owned()
        }
        ForceError::BrakeSign { .. } => {
            "force = \"brake alone, reversed\" where it counts the other way, force = \"brake alone\" where the rig's machine drives along"
                .to_owned()
        }
        ForceError::AnotherMass {
            mass_kg, stated_kg, ..
        } => match unit_that_makes(mass_kg / stated_kg) {
            Some(unit) => format!("{unit}; or else {both}"),
            None => format!(
                "{both}; a rig that simulates a car's mass has a table [drums.road_load] with that mass"
            ),
        },
        _ => both.to_owned(),
    }
}

/// A unit mistaken for another that makes just such a mass, within the 15 % that a stated inertia and such a mistake may be apart.
fn unit_that_makes(ratio: f64) -> Option<&'static str> {
    let table = [
        (
            units::POUND_FORCE_N,
            "force in lbf: it was logged in N under the name lbf",
        ),
        (
            1.0 / units::POUND_FORCE_N,
            "force in lbf: it was logged so under the name N",
        ),
        (
            units::GRAVITY_M_S2,
            "force in N: it was logged so under the name kgf",
        ),
        (
            1.0 / units::GRAVITY_M_S2,
            "force in kgf: it was logged so under the name N",
        ),
    ];
    let near = |factor: &f64| (ratio.abs() / factor).ln().abs() < 0.15;
    table
        .iter()
        .find(|(factor, _)| near(factor))
        .map(|(_, words)| *words)
}

/// An engine log.
pub(super) fn engine(run: &RunFile) -> Result<EngineLog, Box<Problem>> {
    let time_s = time(run)?;
    let engine_rpm = engine_rpm(run)?
        .ok_or_else(|| missing(run, "engine speed", "it lines up the two clocks"))?;
    Ok(EngineLog { time_s, engine_rpm })
}

/// Channels that a fit can use, where logged.
pub(super) fn extras(run: &RunFile) -> Vec<Extra> {
    let Some(time) = run.column(Channel::Time) else {
        return Vec::new();
    };
    let wanted = [
        Channel::ManifoldPressure,
        Channel::Boost,
        Channel::ChargeTemperature,
        Channel::Lambda,
    ];
    wanted
        .into_iter()
        .filter_map(|channel| run.column(channel))
        .map(|column| Extra {
            channel: column.channel,
            time_s: time.values_si.clone(),
            values_si: column.values_si.clone(),
            on_engine_clock: false,
        })
        .collect()
}
