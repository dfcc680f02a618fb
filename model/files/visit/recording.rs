//! From the columns of a recording to a curve: which column gives the power, and what stands in the way.

use super::super::belief::Place;
use super::super::diagnostic::{Code, Problem, Problems};
use super::super::run_csv::{Channel, Column, Pull, RunFile, names_drums};
use super::{Entry, possible};
use crate::dyno::correction::engine::EngineKind;
use crate::dyno::correction::{Correction, Standard, Subject};
use crate::dyno::{Curve, PowerFrom, Recording, RecordingError};
use crate::units::{self, show_number};

/// A column that a curve needs is not in the recording.
pub const CHANNEL_MISSING: Code = Code::new("channel_missing");
/// The recording holds corrected power only.
pub const POWER_CORRECTED: Code = Code::new("power_corrected");
/// A correction was undone.
pub const CORRECTION_UNDONE: Code = Code::new("correction_undone");
/// The rows do not make a pull.
pub const NOT_A_PULL: Code = Code::new("not_a_pull");

/// Beyond this no car engine turns; a recording that says so is in other units. Common practice, no source.
const HIGHEST_RPM: f64 = 20_000.0;

pub(super) type Undone = Option<(Standard, f64)>;

/// The curve of one pull, and the correction that was undone on the way.
pub(super) fn curve(
    run: &RunFile,
    pull: &Pull,
    entry: &Entry,
    band_rpm: f64,
    warnings: &mut Problems,
) -> Result<(Curve, Undone), Box<Problem>> {
    let values = |channel| run.values_si(pull, channel);
    let missing = |channel: Channel, why: &str| {
        let message = format!("the recording has no column '{}': {why}", channel.name());
        let headers: Vec<&str> = run.columns.iter().map(|c| c.header.as_str()).collect();
        let problem = Problem::of_file(CHANNEL_MISSING, &run.name, message);
        Box::new(
            problem
                .value(headers.join(", "))
                .expected(format!("a column '{} (unit)'", channel.name())),
        )
    };
    let time_s = values(Channel::Time)
        .ok_or_else(|| missing(Channel::Time, "it decides where a pull starts and ends"))?;
    let speed = values(Channel::EngineSpeed)
        .ok_or_else(|| missing(Channel::EngineSpeed, "the curve is plotted against it"))?;
    let (power_w, undone) = power(run, pull, entry, speed, warnings)?;
    let possible = |rad_s: f64| rad_s > 0.0 && rad_s * units::RPM_PER_RAD_S <= HIGHEST_RPM;
    if let Some(row) = speed.iter().position(|&rad_s| !possible(rad_s)) {
        let value = show_number(speed[row] * units::RPM_PER_RAD_S, 4);
        let message = format!("engine speed is {value} rpm");
        return Err(Box::new(
            at_row(run, pull, row, Code::OUT_OF_RANGE, &message)
                .value(value)
                .expected(format!(
                    "more than 0 and at most {HIGHEST_RPM} rpm; is the unit right?"
                )),
        ));
    }
    if power_w.iter().all(|&w| w <= 0.0) {
        let message = "no row has power above zero: the car never drives the drums";
        return Err(Box::new(
            at_row(run, pull, 0, Code::OUT_OF_RANGE, message)
                .value(format!(
                    "{} W",
                    show_number(power_w.first().copied().unwrap_or(0.0), 4)
                ))
                .expected(
                    "positive power while the car accelerates the drums; is the sign reversed?",
                ),
        ));
    }
    let station_pa = entry.day.station().pa();
    let manifold_pa = values(Channel::ManifoldPressure)
        .map(<[f64]>::to_vec)
        .or_else(|| {
            values(Channel::Boost).map(|gauge| gauge.iter().map(|pa| pa + station_pa).collect())
        });
    let degrees = |values: &[f64]| values.iter().map(|rad| rad.to_degrees()).collect();
    let spark_deg = values(Channel::SparkAdvance).map(degrees);
    let recording = Recording {
        time_s: time_s.to_vec(),
        engine_rpm: speed.iter().map(|&rad_s| rpm(rad_s)).collect(),
        power_w,
        power_from: power_from(run).0,
        power_se_w: values(Channel::WheelPowerError).map(<[f64]>::to_vec),
        span_rpm: values(Channel::SmoothingSpan)
            .map(|span| span.iter().map(|&rad_s| rpm(rad_s)).collect()),
        manifold_pa,
        charge_k: values(Channel::ChargeTemperature).map(<[f64]>::to_vec),
        lambda: values(Channel::Lambda).map(<[f64]>::to_vec),
        spark_deg,
        fuel_kg_s: values(Channel::FuelFlow).map(<[f64]>::to_vec),
        air_kg_s: values(Channel::AirFlow).map(<[f64]>::to_vec),
        drum_rad_s: values(Channel::DrumSpeed)
            .map(<[f64]>::to_vec)
            .or_else(|| turned_by_the_surface(run, pull, entry)),
        blower_rad_s: values(Channel::BlowerSpeed).map(<[f64]>::to_vec),
        corrected_w: undone
            .is_none()
            .then(|| values(Channel::CorrectedWheelPower).map(<[f64]>::to_vec))
            .flatten(),
        force_w: (power_from(run).0 != PowerFrom::Force)
            .then(|| force_power_w(run, pull))
            .flatten(),
    };
    possible::duration(run, pull, time_s, 0..time_s.len())?;
    let reduce = |recording: &Recording| {
        let reduced = recording.reduce(band_rpm);
        reduced.map_err(|error| Box::new(not_a_pull(run, pull, &error)))
    };
    let curve = reduce(&recording)?;
    let used = curve.dropped_start..recording.len() - curve.dropped_end;
    possible::duration(run, pull, time_s, used.clone())?;
    let apart = possible::apart(run, pull, &recording, &used, warnings)?;
    if apart.is_empty() {
        return Ok((curve, undone));
    }
    Ok((reduce(&recording.without(&apart))?, undone))
}

/// The column of the speed of the drums' surface, if its name says so: a road speed may be the car's own, by tyres and gears of its own belief.
fn of_the_surface(run: &RunFile) -> Option<&Column> {
    let column = run.column(Channel::RoadSpeed)?;
    names_drums(&column.header).then_some(column)
}

/// How fast the drums turn by that speed, rad/s.
fn turned_by_the_surface(run: &RunFile, pull: &Pull, entry: &Entry) -> Option<Vec<f64>> {
    let radius_m = entry.drum_radius_m?;
    of_the_surface(run)?;
    let speed_m_s = run.values_si(pull, Channel::RoadSpeed)?;
    Some(speed_m_s.iter().map(|v| v / radius_m).collect())
}

/// Engine speed, rpm, to a millionth: that undoes the last bits lost on the way through rad/s, so that a reading on the edge
/// of a band falls where it was written.
fn rpm(rad_s: f64) -> f64 {
    (rad_s * units::RPM_PER_RAD_S * 1e6).round() / 1e6
}

pub(super) fn at_row(run: &RunFile, pull: &Pull, row: usize, code: Code, message: &str) -> Problem {
    let line = run.line(pull.rows.start + row);
    let mut problem = Problem::of_file(code, &run.name, format!("line {line}: {message}"));
    problem.line = Some(line);
    problem
}

fn not_a_pull(run: &RunFile, pull: &Pull, error: &RecordingError) -> Problem {
    let (row, value, expected) = match error {
        RecordingError::TooShort { rows, needed } => (
            0,
            format!("{rows} rows"),
            format!("at least {needed} rows of a steady pull"),
        ),
        RecordingError::NotClimbing { to_rpm, .. } => (
            0,
            format!("{to_rpm:.0} rpm"),
            "engine speed from low to high, at full throttle in one gear".to_owned(),
        ),
        RecordingError::FallsBack { to_rpm, row, .. } => (
            *row,
            format!("{to_rpm:.0} rpm"),
            "rising engine speed: one gear, full throttle, one pull".to_owned(),
        ),
    };
    // The reduction counts rows from 0 of its own columns; a person counts lines of the file.
    let message = match error {
        RecordingError::FallsBack {
            from_rpm, to_rpm, ..
        } => {
            format!(
                "engine speed falls from {from_rpm:.0} to {to_rpm:.0} rpm: a shift, a lift-off or two pulls in one"
            )
        }
        other => other.to_string(),
    };
    at_row(run, pull, row, NOT_A_PULL, &message)
        .value(value)
        .expected(expected)
}

/// What gives the power, and the channel of its column, in the order of preference in which [`power`] takes it.
pub(super) fn power_from(run: &RunFile) -> (PowerFrom, Channel) {
    let has = |channel| run.column(channel).is_some();
    if has(Channel::WheelPower) {
        (PowerFrom::Power, Channel::WheelPower)
    } else if has(Channel::WheelTorque) {
        (PowerFrom::Torque, Channel::WheelTorque)
    } else if has(Channel::WheelForce) && has(Channel::RoadSpeed) {
        (PowerFrom::Force, Channel::WheelForce)
    } else if has(Channel::DrumTorque) && has(Channel::DrumSpeed) {
        (PowerFrom::Force, Channel::DrumTorque)
    } else {
        (PowerFrom::Corrected, Channel::CorrectedWheelPower)
    }
}

/// Power by the force at the drums, or the torque at their shaft, and their speed, W.
fn force_power_w(run: &RunFile, pull: &Pull) -> Option<Vec<f64>> {
    let values = |channel| run.values_si(pull, channel);
    let pairs = [
        (Channel::WheelForce, Channel::RoadSpeed),
        (Channel::DrumTorque, Channel::DrumSpeed),
    ];
    pairs.into_iter().find_map(|(force, speed)| {
        let (force, speed) = (values(force)?, values(speed)?);
        Some(force.iter().zip(speed).map(|(a, b)| a * b).collect())
    })
}

/// Uncorrected power at the drums, W: as logged, from torque at engine speed, from force and speed, or with a correction
/// undone.
fn power(
    run: &RunFile,
    pull: &Pull,
    entry: &Entry,
    speed: &[f64],
    warnings: &mut Problems,
) -> Result<(Vec<f64>, Undone), Box<Problem>> {
    let values = |channel| run.values_si(pull, channel);
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).collect();
    if let Some(power) = values(Channel::WheelPower) {
        return Ok((power.to_vec(), None));
    }
    if let Some(torque) = values(Channel::WheelTorque) {
        return Ok((product(torque, speed), None));
    }
    if let Some(power) = force_power_w(run, pull) {
        return Ok((power, None));
    }
    let Some(corrected) = run.column(Channel::CorrectedWheelPower) else {
        if let Some(brake) = run.column(Channel::BrakeForce) {
            let message = "the recording has the brake's force and no power: what the drums' inertia takes is missing from it";
            let problem =
                Problem::of_file(CHANNEL_MISSING, &run.name, message).value(&brake.header);
            return Err(Box::new(problem.expected(
                "wheel power, or the log reduced with its drums: pullcast reduce, with force = \"brake alone\"",
            )));
        }
        if let Some(crank) = run
            .column(Channel::CrankPower)
            .or_else(|| run.column(Channel::CrankTorque))
        {
            let message =
                "the recording has no power at the wheels, only what is stated for the crankshaft";
            let problem =
                Problem::of_file(CHANNEL_MISSING, &run.name, message).value(&crank.header);
            return Err(Box::new(
                problem.expected("wheel power as read").help(
                    "a curve of an engine dynamometer is read with read_at = \"crank\" in its [[pull]]; what a rig makes of wheel power by its own run-down is no reading",
                ),
            ));
        }
        return Err(no_power(
            run,
            "uncorrected wheel power, or wheel torque at engine speed, or wheel force with road speed",
        ));
    };
    let (standard, factor) = undone(run, &corrected.header, entry, warnings)?;
    let power = values(Channel::CorrectedWheelPower).unwrap_or_default();
    Ok((
        power.iter().map(|w| w / factor).collect(),
        Some((standard, factor)),
    ))
}

/// A recording of which no column gives power.
pub(super) fn no_power(run: &RunFile, expected: &str) -> Box<Problem> {
    let headers: Vec<&str> = run.columns.iter().map(|c| c.header.as_str()).collect();
    let problem = Problem::of_file(CHANNEL_MISSING, &run.name, "the recording has no power");
    Box::new(problem.value(headers.join(", ")).expected(expected))
}

/// The correction that a column holds and its factor in this air, from what the visit says of it.
pub(super) fn undone(
    run: &RunFile,
    header: &str,
    entry: &Entry,
    warnings: &mut Problems,
) -> Result<(Standard, f64), Box<Problem>> {
    let Some(standard) = entry.corrected_to else {
        let problem = Problem::of_file(POWER_CORRECTED, &run.name, "the recording holds corrected power only; its factor is part of the weather, not of the car")
            .value(header)
            .expected("uncorrected power, or torque at engine speed");
        return Err(Box::new(problem.help(
            "if the correction was made with the weather of this visit, name its standard in the [[pull]]: corrected_to = \"...\"",
        )));
    };
    let subject = Subject::of(EngineKind::SPARK_UNBOOSTED);
    let undo = |place: &Place, message: String| place.problem(POWER_CORRECTED, message);
    let correction =
        Correction::new(standard, entry.day, &subject).map_err(|error| {
            let problem = undo(
                &entry.place,
                format!("the correction cannot be undone: {error}"),
            );
            Box::new(problem.expected(
                "a standard whose factor depends on the weather alone, or uncorrected power",
            ))
        })?;
    let message = format!(
        "{}: '{header}' is divided by {:.4}, the factor of {} in this weather",
        run.name, correction.factor, standard
    );
    let problem = entry.place.problem(CORRECTION_UNDONE, message).warning();
    warnings.push(problem.expected(
        "uncorrected power, which needs no such step; here all of it counts as the engine's",
    ));
    Ok((standard, correction.factor))
}
