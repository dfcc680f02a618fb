//! The answer of a comparison: both sets, every gain with its range, and what the ranges are made of.

use super::contrast::{Entry, Gains, Line, OpenPeak};
use super::gate::Gate;
use super::remark::Remark;
use super::side::{Side, Tags};
use super::spread::LEVEL;
use super::weather::Held;
use crate::dyno::correction::{Breach, Standard};
use serde::Serialize;

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// The pulls before the work.
    pub before: Set,
    /// The pulls after the work.
    pub after: Set,
    /// Whether the car stayed on the drums between them.
    pub same_visit: bool,
    /// Whether the sets can be told apart at any engine speed or peak.
    pub distinguishable: bool,
    /// Whether the gain that remains is corrected for weather, or still as read.
    pub corrected: bool,
    /// The standard of the factors; none where the electric share is not known.
    pub standard: Standard,
    /// Chance with which all ranges hold together.
    pub level: f64,
    /// Peak power; none where it is not compared.
    pub peak_power: Option<GainLine>,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_power_not_compared: Option<OpenPeak>,
    /// Peak torque, referred to engine speed; none where it is not compared.
    pub peak_torque: Option<GainLine>,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_torque_not_compared: Option<OpenPeak>,
    /// Smallest change that these pulls can tell, relative: of peak power or, where it is not compared, amid the shared speeds.
    #[serde(rename = "least_told")]
    pub smallest_detectable: f64,
    /// The curve; powers.
    pub points: Vec<GainLine>,
    /// Stretches of engine speed at which the gain stands out, with its sign.
    pub stretches: Vec<Stretch>,
    /// What the ranges are made of.
    pub spread: SpreadBlock,
    /// How much of the gain would be over-correction were the charge pressure held by a regulator, relative; none where boost
    /// follows the ambient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over_corrected: Option<OverCorrected>,
    /// What to mind.
    pub remarks: Vec<Remark>,
    /// What would have been refused and was forced.
    pub forced: Vec<Gate>,
}

/// One set of pulls.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Set {
    /// The visit's name.
    pub name: String,
    /// Its pulls.
    pub pulls: Vec<PullLine>,
    /// Limits of the standard that its days exceed.
    pub breaches: Vec<Breach>,
}

/// One pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// Its name.
    pub name: String,
    /// Peak power as read.
    pub peak_power_w: f64,
    /// Factor of its own day.
    pub factor: f64,
    /// Electric share at that peak, from the car's model; none where nothing is electric or the car is not known.
    pub electric_power_w: Option<f64>,
    /// Start charge, where stated.
    pub charge: Option<f64>,
    /// Whether the electric axle helped; none for a car without one.
    pub electric_axle: Option<bool>,
    /// A correction that the recording carried and that was undone first.
    pub undone: Option<Undone>,
}

/// A correction undone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Undone {
    /// The standard.
    pub standard: Standard,
    /// Its factor.
    pub factor: f64,
}

/// Before, after and gain at one engine speed or peak; power in W, torque in N m, gains relative.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GainLine {
    /// Engine speed before.
    pub rpm_before: f64,
    /// Engine speed after.
    pub rpm_after: f64,
    /// As read before.
    pub before: f64,
    /// As read after.
    pub after: f64,
    /// Corrected before.
    pub corrected_before: f64,
    /// Corrected after.
    pub corrected_after: f64,
    /// Gain as read.
    pub gain_as_read: f64,
    /// What the weather did of it.
    pub gain_of_weather: f64,
    /// What remains.
    pub gain: f64,
    /// Lower end of its range.
    pub gain_low: f64,
    /// Upper end.
    pub gain_high: f64,
    /// Whether the range leaves out zero.
    pub stands_out: bool,
}

/// Engine speeds next to each other at which the gain stands out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stretch {
    /// First engine speed.
    pub from_rpm: f64,
    /// Last engine speed.
    pub to_rpm: f64,
    /// Whether it is a gain.
    pub gained: bool,
}

/// What the ranges are made of; relative standard deviations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpreadBlock {
    /// Scale of a pull about its set, what is usual and what was seen together.
    pub pull_scale: f64,
    /// The same as seen in the repeats; none without repeats.
    pub pull_scale_seen: Option<f64>,
    /// Bend of a pull's curve about its set's.
    pub pull_bend: f64,
    /// Stray of each visit; zero on the same visit.
    pub visit: f64,
    /// What the weather correction leaves open.
    pub weather: f64,
    /// Factor on the standard errors.
    pub factor: f64,
}

/// Shares of the gain that would be over-correction.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OverCorrected {
    /// With the boost held where it was logged.
    pub held_gauge: Option<f64>,
    /// With the absolute pressure held.
    pub held_absolute: f64,
}

/// What frames a comparison.
pub(super) struct Frame {
    /// The standard of the factors.
    pub(super) standard: Standard,
    /// Stray of a visit.
    pub(super) visit: f64,
    /// Whether the car stayed on the drums.
    pub(super) same_visit: bool,
    /// Whether anything says that the car has an electric axle.
    pub(super) electric: bool,
    /// Over-correction of a boosted engine.
    pub(super) held: Option<Held>,
    /// What to mind.
    pub(super) remarks: Vec<Remark>,
    /// What was forced.
    pub(super) forced: Vec<Gate>,
}

impl Answer {
    /// Gives an account of what was gained.
    pub(super) fn new(
        gains: &Gains,
        (sides, entries): (&[Side<'_>; 2], &[Vec<Entry>; 2]),
        frame: Frame,
    ) -> Self {
        let points: Vec<GainLine> = gains.points.iter().map(gain_line).collect();
        Self {
            before: set(&sides[0], &entries[0], frame.electric),
            after: set(&sides[1], &entries[1], frame.electric),
            same_visit: frame.same_visit,
            distinguishable: gains.distinguishable(),
            corrected: frame.standard != Standard::None,
            standard: frame.standard,
            level: LEVEL,
            peak_power: gains.peak_power.as_ref().ok().map(gain_line),
            peak_power_not_compared: gains.peak_power.as_ref().err().cloned(),
            peak_torque: gains.peak_torque.as_ref().ok().map(gain_line),
            peak_torque_not_compared: gains.peak_torque.as_ref().err().cloned(),
            smallest_detectable: gains.smallest_detectable,
            stretches: stretches(&points),
            points,
            spread: SpreadBlock {
                pull_scale: gains.spread.scale,
                pull_scale_seen: gains.spread.scale_seen,
                pull_bend: gains.spread.bend,
                visit: frame.visit,
                weather: gains.weather_sd,
                factor: gains.factor,
            },
            over_corrected: frame.held.map(|held| OverCorrected {
                held_gauge: held.at_gauge.map(f64::exp_m1),
                held_absolute: held.at_absolute.exp_m1(),
            }),
            remarks: frame.remarks,
            forced: frame.forced,
        }
    }
}

fn gain_line(line: &Line) -> GainLine {
    GainLine {
        rpm_before: line.rpm.0,
        rpm_after: line.rpm.1,
        before: line.as_read.0,
        after: line.as_read.1,
        corrected_before: line.corrected.0,
        corrected_after: line.corrected.1,
        gain_as_read: line.gain.as_read,
        gain_of_weather: line.gain.weather,
        gain: line.gain.remains,
        gain_low: line.gain.low,
        gain_high: line.gain.high,
        stands_out: line.gain.stands_out(),
    }
}

fn set(side: &Side<'_>, entries: &[Entry], electric: bool) -> Set {
    let mut breaches: Vec<Breach> = Vec::new();
    for breach in entries.iter().flat_map(|entry| &entry.correction.breaches) {
        if !breaches.contains(breach) {
            breaches.push(*breach);
        }
    }
    let pulls = entries.iter().zip(side.pulls()).zip(side.tags());
    Set {
        name: side.name().to_owned(),
        pulls: pulls
            .map(|((entry, measured), tags)| {
                let axle = electric.then_some(measured.conditions.axle.on);
                pull(entry, axle, tags)
            })
            .collect(),
        breaches,
    }
}

fn pull(entry: &Entry, electric_axle: Option<bool>, tags: Tags) -> PullLine {
    let bands = entry.curve.bands.iter().enumerate();
    let peak = bands.max_by(|a, b| a.1.power_w.total_cmp(&b.1.power_w));
    PullLine {
        name: entry.name.clone(),
        peak_power_w: peak.map_or(0.0, |(_, band)| band.power_w),
        factor: entry.correction.factor,
        electric_power_w: peak.and_then(|(i, _)| entry.electric_w.get(i).copied()),
        charge: tags.charge,
        electric_axle,
        undone: tags
            .undone
            .map(|(standard, factor)| Undone { standard, factor }),
    }
}

fn stretches(points: &[GainLine]) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    let mut open = false;
    for point in points {
        let gained = point.gain > 0.0;
        match found.last_mut() {
            Some(last) if open && point.stands_out && last.gained == gained => {
                last.to_rpm = point.rpm_before;
            }
            _ if point.stands_out => found.push(Stretch {
                from_rpm: point.rpm_before,
                to_rpm: point.rpm_before,
                gained,
            }),
            _ => {}
        }
        open = point.stands_out;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(rpm: f64, low: f64, high: f64) -> GainLine {
        GainLine {
            rpm_before: rpm,
            rpm_after: rpm,
            before: 100e3,
            after: 100e3,
            corrected_before: 100e3,
            corrected_after: 100e3,
            gain_as_read: 0.0,
            gain_of_weather: 0.0,
            gain: f64::midpoint(low, high),
            gain_low: low,
            gain_high: high,
            stands_out: low > 0.0 || high < 0.0,
        }
    }

    #[test]
    fn stretches_end_where_the_gain_does_not_stand_out_or_turns() {
        let points = [
            line(2000.0, 0.01, 0.05),
            line(2250.0, 0.01, 0.05),
            line(2500.0, -0.01, 0.03),
            line(2750.0, 0.01, 0.05),
            line(3000.0, -0.05, -0.01),
        ];
        let found: Vec<_> = stretches(&points)
            .iter()
            .map(|s| (s.from_rpm, s.to_rpm, s.gained))
            .collect();
        assert_eq!(
            found,
            [
                (2000.0, 2250.0, true),
                (2750.0, 2750.0, true),
                (3000.0, 3000.0, false)
            ]
        );
    }
}
