//! Whether the file describes the car at all: what a fit hides behind a good power curve.
//!
//! A fit has enough numbers to follow the power of a car that it describes wrongly: a blown car fitted without its blower
//! breathes miraculously. Three signs give it away: power that all pulls have away from the model, a logged channel that stays away
//! from the model, or a belief that had to be left far behind. A level alone is no sign: beliefs of a car known by its badge
//! leave a third of its power open. All are told with the likeliest thing to check; the limits below are common practice, no source.

use super::account::{learnt_line, rms};
use crate::belief::sheet::{Origin, Sheet};
use crate::car::{Blower, Car};
use crate::fit::calibration::Channel;
use crate::fit::fitted::{Fitted, Learnt, Residual};
use crate::fit::observation::Visit;
use serde::Serialize;
use std::cmp::Ordering;

/// Power, relative, root mean square over engine speed of the middle of the pulls, smoothed over the width of a tuning hump
/// (`HUMP`). Three times the 1 % that a model of means may miss of a curve's shape; a bad stretch of one pull among three leaves the
/// middle where it is, a wrong gear, drum or missing axle moves it, and so does not a sound car whose pipes are tuned more sharply than
/// the model's humps.
pub const POWER: f64 = 0.03;
/// Manifold pressure, root mean square, Pa. A shop-grade sensor strays by 1 kPa and the loss of an intake by 2 or 3; a missing
/// blower or a mistaken pulley makes 10 and more.
pub const MANIFOLD_PA: f64 = 6_000.0;
/// Charge temperature, K. A sensor's place and its slowness make 5 to 10; a charge cooler too much or too few makes 30 and more.
pub const CHARGE_K: f64 = 15.0;
/// Relative air-fuel ratio. Four times the error of a wideband sensor; a tune of another fuel or table differs by 0.05 and more.
pub const LAMBDA: f64 = 0.04;
/// Distance of a number from its belief, in doubts. By chance 1 of 2000 goes so far (normal distribution); of the seventy that are
/// free in a fit a dozen or two can be moved by the pulls at all, so 1 fit in 100 is stopped for nothing.
pub const DOUBTS: f64 = 3.5;

/// One sign that the file does not describe the car.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Misfit {
    /// A logged channel stays away from the model.
    Channel(ChannelMisfit),
    /// A number left its belief far behind.
    Number(NumberMisfit),
}

/// A channel beyond what sensors and model excuse; SI.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelMisfit {
    /// Which.
    pub channel: Channel,
    /// Root mean square of measured less model; for power relative, and of the middle of the pulls at each engine speed.
    pub size: f64,
    /// Largest that is excused.
    pub limit: f64,
    /// The pull of the worst band.
    pub pull: String,
    /// Its engine speed.
    pub rpm: f64,
    /// Measured there.
    pub measured: f64,
    /// Model there.
    pub model: f64,
    /// The likeliest thing to check.
    pub check: Check,
}

/// A number far from its belief, in the unit of the car file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NumberMisfit {
    /// Path in the car file.
    pub path: &'static str,
    /// Unit of the car file.
    pub unit: &'static str,
    /// Centre before.
    pub before: f64,
    /// Centre after.
    pub after: f64,
    /// Distance in doubts of the belief before, with its sign.
    pub doubts: f64,
    /// Largest that is excused.
    pub limit: f64,
    /// The likeliest thing to check.
    pub check: Check,
}

/// What to check first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Check {
    /// Gear and drums of the file, a part it lacks, the unit of power.
    GearDrumsOrMissingPart,
    /// Whether manifold pressure is gauge or absolute.
    GaugeOrAbsolute,
    /// Whether the car has a blower that the file lacks.
    BlowerMissing,
    /// Displacement, ratio and pulley of the blower, then the sensor.
    BlowerSize,
    /// Whether the car has the file's blower, then slip, bypass and leaks.
    BlowerTooMuch,
    /// Throttle and intake.
    Intake,
    /// Whether the car has a blower that the file lacks, then the place of the temperature sensor.
    BlowerMissingOrSensor,
    /// Whether the car has the file's cooler, and how warm that was.
    CoolerTooMuch,
    /// Whether the car has a cooler that the file lacks.
    CoolerMissing,
    /// Unit and place of the temperature sensor.
    TemperatureSensor,
    /// Mixture of the file, then sensor and column.
    Mixture,
    /// The number as given in the file, then the recordings' units.
    GivenNumber,
    /// Whether the car was changed since its file was fitted.
    CarChanged,
    /// A part that the file lacks or has wrong.
    MissingOrWrongPart,
}

impl Check {
    /// All checks.
    pub const ALL: [Self; 14] = [
        Self::GearDrumsOrMissingPart,
        Self::GaugeOrAbsolute,
        Self::BlowerMissing,
        Self::BlowerSize,
        Self::BlowerTooMuch,
        Self::Intake,
        Self::BlowerMissingOrSensor,
        Self::CoolerTooMuch,
        Self::CoolerMissing,
        Self::TemperatureSensor,
        Self::Mixture,
        Self::GivenNumber,
        Self::CarChanged,
        Self::MissingOrWrongPart,
    ];
}

/// Every sign, channels first, then numbers with the farthest first.
pub(super) fn find(
    before: &Sheet,
    fitted: &Fitted,
    visits: &[Visit],
    names: &[String],
) -> Vec<Misfit> {
    let car = &before.centre.car;
    let station_pa = visits
        .iter()
        .flat_map(|v| &v.pulls)
        .map(|p| p.day.station().pa())
        .next()
        .unwrap_or(f64::INFINITY);
    let channels = [
        (Channel::Power, POWER),
        (Channel::Manifold, MANIFOLD_PA),
        (Channel::Charge, CHARGE_K),
        (Channel::Lambda, LAMBDA),
    ];
    let mut found: Vec<Misfit> = channels
        .into_iter()
        .filter_map(|(channel, limit)| {
            let rows: Vec<&Residual> = fitted.channel(channel).collect();
            let power = channel == Channel::Power;
            let off = |r: &Residual| {
                if power {
                    r.relative()
                } else {
                    r.measured - r.model
                }
            };
            let size = if power {
                rms(broad(&middles(&rows)).into_iter())
            } else {
                rms(rows.iter().map(|r| off(r)))
            };
            let worst = rows
                .iter()
                .max_by(|a, b| off(a).abs().total_cmp(&off(b).abs()))?;
            let mean = rows.iter().map(|r| off(r)).sum::<f64>() / rows.len() as f64;
            (size > limit).then(|| {
                Misfit::Channel(ChannelMisfit {
                    channel,
                    size,
                    limit,
                    pull: names.get(worst.pull).cloned().unwrap_or_default(),
                    rpm: worst.rpm,
                    measured: worst.measured,
                    model: worst.model,
                    check: check(channel, mean, car, station_pa),
                })
            })
        })
        .collect();
    let mut far: Vec<(f64, &Learnt)> = fitted
        .learnt
        .iter()
        .map(|l| (l.moved(), l))
        .filter(|(z, _)| z.abs() > DOUBTS)
        .collect();
    far.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    found.extend(far.into_iter().map(|(z, l)| number(z, l, before)));
    found
}

/// Width of the bins of engine speed in which pulls are set side by side, rpm.
const BIN_RPM: f64 = 100.0;

/// Widest hump of tuned pipes, in ln(speed) to each side (chapter 2): narrower than that a curve may wave without a mistake in the file.
const HUMP: f64 = 0.20;

/// Mean over the width of a hump about each speed.
fn broad(middles: &[(f64, f64)]) -> Vec<f64> {
    let near = |rpm: f64| {
        let within = middles
            .iter()
            .filter(|(other, _)| (other / rpm).ln().abs() <= HUMP);
        let (sum, n) = within.fold((0.0, 0.0), |(sum, n), (_, off)| (sum + off, n + 1.0));
        sum / n
    };
    middles.iter().map(|(rpm, _)| near(*rpm)).collect()
}

/// The middle of the pulls' relative residuals in each bin of engine speed, with that speed.
fn middles(rows: &[&Residual]) -> Vec<(f64, f64)> {
    let bin = |r: &Residual| (r.rpm / BIN_RPM).floor();
    let mut sorted = rows.to_vec();
    sorted.sort_by(|a, b| {
        (bin(a), a.relative())
            .partial_cmp(&(bin(b), b.relative()))
            .unwrap_or(Ordering::Equal)
    });
    sorted
        .chunk_by(|a, b| bin(a) == bin(b))
        .map(|group| {
            let middle = group[group.len() / 2];
            (middle.rpm, middle.relative())
        })
        .collect()
}

fn number(doubts: f64, learnt: &Learnt, before: &Sheet) -> Misfit {
    let line = learnt_line(learnt);
    let origin = before
        .beliefs
        .iter()
        .find(|b| b.parameter.path == line.path)
        .map(|b| b.origin);
    let check = match origin {
        Some(Origin::Given) => Check::GivenNumber,
        Some(Origin::Fitted) => Check::CarChanged,
        Some(Origin::Default) | None => Check::MissingOrWrongPart,
    };
    Misfit::Number(NumberMisfit {
        path: line.path,
        unit: line.unit,
        before: line.before,
        after: line.after,
        doubts,
        limit: DOUBTS,
        check,
    })
}

/// The likeliest cause of a channel's mean error (measured less model).
fn check(channel: Channel, mean: f64, car: &Car, station_pa: f64) -> Check {
    let (above, blown) = (mean > 0.0, !matches!(car.blower, Blower::None));
    // Taking gauge for absolute, or the reverse, is wrong by the whole pressure of the room.
    let by_the_room = mean.abs() > 0.6 * station_pa;
    match channel {
        Channel::Power | Channel::DrumRatio => Check::GearDrumsOrMissingPart,
        Channel::Manifold if by_the_room && (blown || !above) => Check::GaugeOrAbsolute,
        Channel::Manifold if above && !blown => Check::BlowerMissing,
        Channel::Manifold if above => Check::BlowerSize,
        Channel::Manifold if blown => Check::BlowerTooMuch,
        Channel::Manifold => Check::Intake,
        Channel::Charge if above && !blown => Check::BlowerMissingOrSensor,
        Channel::Charge if above => Check::CoolerTooMuch,
        Channel::Charge if blown && car.cooler.is_none() => Check::CoolerMissing,
        Channel::Charge => Check::TemperatureSensor,
        Channel::Lambda | Channel::Fuel | Channel::Air => Check::Mixture,
        Channel::Spark => Check::MissingOrWrongPart,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::belief::parameter;
    use crate::belief::prior::Prior;
    use crate::dyno::Setup;
    use crate::fit::outcome::{Place, Stop};

    /// A fit of one pull with one row of a channel and one number.
    fn fitted(channel: Channel, off: f64, z: f64) -> (Sheet, Fitted) {
        let sheet = Sheet {
            centre: Setup::example(),
            beliefs: Vec::new(),
            correlation: None,
            measured: None,
        };
        let before = Prior::normal(0.8, 0.1, 0.0, 3.0).expect("a belief");
        let row = Residual {
            pull: 0,
            rpm: 4321.0,
            channel,
            measured: 1e5 + off,
            model: 1e5,
            weight: 1.0,
        };
        let learnt = Learnt {
            parameter: parameter::find("breathing.level").expect("in the catalogue"),
            before,
            after: Prior::normal(before.from_z(z), 0.01, 0.0, 3.0).expect("a belief"),
            shrinkage: 0.9,
            informed: true,
            place: Place::Free,
        };
        let fitted = Fitted {
            sheet: sheet.clone(),
            residuals: vec![row],
            learnt: vec![learnt],
            visit_scales: Vec::new(),
            pull_scales: Vec::new(),
            stop: Stop::CostSmall,
            iterations: 1,
            pulls: 1,
        };
        (sheet, fitted)
    }

    #[test]
    fn what_sensors_excuse_is_no_misfit_and_more_is_told_with_its_size_and_speed() {
        let names = ["day: one".to_owned()];
        let (sheet, fit) = fitted(Channel::Manifold, 5_900.0, 3.4);
        assert_eq!(find(&sheet, &fit, &[], &names), []);
        let (sheet, fit) = fitted(Channel::Manifold, 23_000.0, -3.6);
        let found = find(&sheet, &fit, &[], &names);
        assert!(
            matches!(
                &found[..],
                [Misfit::Channel(channel), Misfit::Number(number)]
                    if channel.channel == Channel::Manifold
                        && (channel.size - 23_000.0).abs() < 1e-9
                        && (channel.limit - MANIFOLD_PA).abs() < 1e-9
                        && (channel.rpm - 4321.0).abs() < 1e-9
                        && channel.pull == "day: one"
                        && channel.check == Check::BlowerMissing
                        && number.path == "breathing.level"
                        && (number.doubts + 3.6).abs() < 1e-9
            ),
            "{found:?}"
        );
    }
}
