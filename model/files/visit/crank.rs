//! A curve of the engine alone: rows of engine speed with power or torque, each speed held.

use super::super::diagnostic::{Code, Problem, Problems};
use super::super::run_csv::{Channel, Pull, RunFile};
use super::Entry;
use super::recording::{Undone, at_row, no_power, undone};
use crate::dyno::{Band, Curve};
use crate::units;

/// Rows that make a curve: a catalogue gives peak torque and peak power.
pub(super) const LEAST_ROWS: usize = 2;
/// Standard error of a row, relative, where the file gives none: what a digit of a catalogue is worth. Common practice, no source.
const ROW_DOUBT: f64 = 0.005;

/// Columns that may give the power, first the one to take. A column that is simply headed 'power' or 'torque' is the engine's here.
const POWERS: [Channel; 8] = [
    Channel::CrankPower,
    Channel::CrankTorque,
    Channel::WheelPower,
    Channel::WheelTorque,
    Channel::CorrectedCrankPower,
    Channel::CorrectedCrankTorque,
    Channel::CorrectedWheelPower,
    Channel::CorrectedWheelTorque,
];

/// The column that gives the power.
pub(super) fn power_from(run: &RunFile) -> Channel {
    let there = |channel: &Channel| run.column(*channel).is_some();
    POWERS
        .into_iter()
        .find(there)
        .unwrap_or(Channel::CrankPower)
}

/// The curve, a band for each row, and the correction that was undone on the way.
pub(super) fn curve(
    run: &RunFile,
    pull: &Pull,
    entry: &Entry,
    warnings: &mut Problems,
) -> Result<(Curve, Undone), Box<Problem>> {
    let expected = "'crank power' or 'crank torque' beside 'engine speed'";
    let values = |channel| run.values_si(pull, channel);
    let from = power_from(run);
    let (Some(speed), Some(read)) = (values(Channel::EngineSpeed), values(from)) else {
        return Err(no_power(run, expected));
    };
    let corrected = matches!(
        from,
        Channel::CorrectedCrankPower
            | Channel::CorrectedCrankTorque
            | Channel::CorrectedWheelPower
            | Channel::CorrectedWheelTorque
    );
    let torque = matches!(
        from,
        Channel::CrankTorque
            | Channel::WheelTorque
            | Channel::CorrectedCrankTorque
            | Channel::CorrectedWheelTorque
    );
    let header = run.column(from).map_or("", |column| &column.header);
    let undone = corrected
        .then(|| undone(run, header, entry, warnings))
        .transpose()?;
    let factor = undone.map_or(1.0, |(_, factor)| factor);
    let lambda = values(Channel::Lambda);
    let fuel = values(Channel::FuelFlow);
    let air = values(Channel::AirFlow);
    let own_error = values(Channel::WheelPowerError);
    let mut bands: Vec<Band> = Vec::with_capacity(speed.len());
    for (row, (&rad_s, &read)) in speed.iter().zip(read).enumerate() {
        let power_w = if torque { read * rad_s } else { read } / factor;
        let rpm = rad_s * units::RPM_PER_RAD_S;
        let refuse = |message: &str, value: String, expected: &str| {
            Box::new(
                at_row(run, pull, row, Code::OUT_OF_RANGE, message)
                    .value(value)
                    .expected(expected),
            )
        };
        if !(power_w > 0.0 && rad_s > 0.0 && power_w.is_finite()) {
            let message = "a row of a curve at the crank has no power";
            let expected = "power and engine speed above zero: full load, held";
            return Err(refuse(message, format!("{power_w:.1} W"), expected));
        }
        if let Some(before) = bands.last().filter(|band| band.rpm >= rpm) {
            let message = format!("engine speed falls from {:.0} to {rpm:.0} rpm", before.rpm);
            let expected = "rows from the lowest engine speed to the highest, one for each";
            return Err(refuse(&message, format!("{rpm:.0} rpm"), expected));
        }
        let at = |values: Option<&[f64]>| values.map(|v| v[row]).filter(|v| v.is_finite());
        bands.push(Band {
            rpm,
            power_w,
            power_se_w: at(own_error).unwrap_or(ROW_DOUBT * power_w),
            lambda: at(lambda),
            fuel_kg_s: at(fuel),
            air_kg_s: at(air),
            samples: 1,
            ..Band::default()
        });
    }
    let curve = Curve {
        bands,
        band_rpm: 0.0,
        correlated_samples: 1.0,
        noise: ROW_DOUBT,
        ..Curve::default()
    };
    Ok((curve, undone))
}
