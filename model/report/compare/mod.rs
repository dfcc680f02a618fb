//! Before and after: the gain over engine speed and at the peaks, with what the air did and what the pulls can tell.
//!
//! The first sentence is the verdict, because a table of thirty gains invites picking one. Every gain stands three times: as the
//! drums showed it, what the weather did to it, and what remains with its range. It refuses to correct power whose
//! electric share is not known.

mod text;

use super::basis::Corrected;
use super::number::Span;
use crate::ask::compare::{Answer, Entry, FACTOR_SHARE, Held, LEVEL, Line};
use crate::belief::Noise;
use crate::dyno::correction::Standard;
use serde::Serialize;

/// A comparison, to be read or parsed.
#[derive(Debug, Clone, Serialize)]
pub struct CompareReport {
    /// The sets.
    pub before: Set,
    /// The pulls after the work.
    pub after: Set,
    /// Whether the car stayed on the drums between them.
    pub same_visit: bool,
    /// Whether the sets can be told apart at any engine speed or peak.
    pub distinguishable: bool,
    /// Whether the gain that remains is corrected for weather, or still as read.
    pub corrected: bool,
    /// The standard of the factors.
    pub standard: &'static str,
    /// Its full name and reference air.
    pub standard_name: String,
    /// Chance with which all ranges hold together.
    pub level: f64,
    /// Peak power; none where it is not compared.
    pub peak_power: Option<GainLine>,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_power_not_compared: Option<String>,
    /// Peak torque, referred to engine speed; none where it is not compared.
    pub peak_torque: Option<GainLine>,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_torque_not_compared: Option<String>,
    /// Smallest change that these pulls can tell, relative: of peak power or, where it is not compared, amid the shared speeds.
    pub least_told: f64,
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
    pub remarks: Vec<String>,
    /// What would have been refused and was forced.
    pub forced: Vec<String>,
}

/// One set of pulls.
#[derive(Debug, Clone, Serialize)]
pub struct Set {
    /// The visit's name.
    pub name: String,
    /// Its pulls.
    pub pulls: Vec<PullLine>,
    /// Limits of the standard that its days exceed.
    pub breaches: Vec<String>,
}

/// One pull.
#[derive(Debug, Clone, Serialize)]
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
#[derive(Debug, Clone, Serialize)]
pub struct Undone {
    /// Stable word of the standard.
    pub standard: &'static str,
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

/// A pull's tags beside its curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Tags {
    /// Start charge, where stated.
    pub charge: Option<f64>,
    /// Whether the electric axle helped; none for a car without one.
    pub electric_axle: Option<bool>,
    /// A correction that was undone.
    pub undone: Option<(Standard, f64)>,
}

/// One set as the report needs it.
pub struct SetOf<'a> {
    /// The visit's name.
    pub name: &'a str,
    /// Its pulls as compared.
    pub entries: &'a [Entry],
    /// Their tags, in the same order.
    pub tags: &'a [Tags],
}

/// What frames a comparison.
pub struct Frame {
    /// The standard; `None` the standard where the electric share is not known.
    pub standard: Standard,
    /// Stray of a visit; none on the same one.
    pub visit: Option<f64>,
    /// Over-correction of a boosted engine.
    pub held: Option<Held>,
    /// What the caller found worth minding.
    pub remarks: Vec<String>,
    /// What was forced.
    pub forced: Vec<String>,
}

/// Scatter of repeats beyond which a rig is remarked on: the upper end of what is usual on one day, 0.4 to 1.2 % (common practice, no
/// source).
const ROUGH: f64 = 0.012;

impl CompareReport {
    /// Makes it from the answer.
    pub fn new(answer: &Answer, (before, after): (&SetOf<'_>, &SetOf<'_>), frame: Frame) -> Self {
        let corrected = frame.standard != Standard::None;
        let mut report = Self {
            before: set(before),
            after: set(after),
            same_visit: frame.visit.is_none(),
            distinguishable: answer.distinguishable(),
            corrected,
            standard: frame.standard.id(),
            standard_name: format!(
                "{} (reference: {})",
                frame.standard.name(),
                frame.standard.reference()
            ),
            level: LEVEL,
            peak_power: answer.peak_power.as_ref().ok().map(gain_line),
            peak_power_not_compared: answer.peak_power.as_ref().err().map(ToString::to_string),
            peak_torque: answer.peak_torque.as_ref().ok().map(gain_line),
            peak_torque_not_compared: answer.peak_torque.as_ref().err().map(ToString::to_string),
            least_told: answer.least_told,
            points: answer.points.iter().map(gain_line).collect(),
            stretches: Vec::new(),
            spread: SpreadBlock {
                pull_scale: answer.spread.scale,
                pull_scale_seen: answer.spread.scale_seen,
                pull_bend: answer.spread.bend,
                visit: frame.visit.unwrap_or(0.0),
                weather: answer.weather_sd,
                factor: answer.factor,
            },
            over_corrected: frame.held.map(|held| OverCorrected {
                held_gauge: held.at_gauge.map(f64::exp_m1),
                held_absolute: held.at_absolute.exp_m1(),
            }),
            remarks: frame.remarks,
            forced: frame.forced,
        };
        report.stretches = stretches(&report.points);
        report.remarks.extend(standards_undone(&report));
        if let Some(seen) = answer.spread.scale_seen.filter(|seen| *seen > ROUGH) {
            report.remarks.push(format!(
                "the repeats stray by {:.1} %, more than the usual 0.4 to 1.2 %: look for what changed between pulls of one set \
                 (rest, straps, tyres, tune) before trusting a comparison",
                100.0 * seen
            ));
        }
        report
    }

    /// The curve as a table for a spreadsheet: percentages and kW. What was not corrected has no columns of corrected power, of weather, and
    /// of what remains without it.
    pub fn csv(&self) -> String {
        let (powers, gains) = if self.corrected {
            (
                ",before corrected (kW),after corrected (kW)",
                ",gain of weather (%),gain that remains (%)",
            )
        } else {
            ("", "")
        };
        let mut out = format!(
            "engine speed (rpm),before (kW),after (kW){powers},gain as read (%){gains},low (%),high (%)\n"
        );
        for p in &self.points {
            let mut kilowatts = vec![p.before, p.after];
            let mut shares = vec![p.gain_as_read];
            if self.corrected {
                kilowatts.extend([p.corrected_before, p.corrected_after]);
                shares.extend([p.gain_of_weather, p.gain]);
            }
            shares.extend([p.gain_low, p.gain_high]);
            add!(out, "{:.0}", p.rpm_before);
            for watt in kilowatts {
                add!(out, ",{:.3}", watt / 1e3);
            }
            for share in shares {
                add!(out, ",{:.2}", 100.0 * share);
            }
            out.push('\n');
        }
        out
    }
}

impl GainLine {
    /// The range of the gain, relative.
    fn range(&self) -> Span {
        Span {
            p5: self.gain_low,
            p50: self.gain,
            p95: self.gain_high,
        }
    }

    /// The range of the gain in the unit of the reading, on what was read before in reference air.
    fn range_of_reading(&self) -> Span {
        let of = |gain: f64| gain * self.corrected_before;
        Span {
            p5: of(self.gain_low),
            p50: of(self.gain),
            p95: of(self.gain_high),
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

fn set(of: &SetOf<'_>) -> Set {
    let mut breaches: Vec<String> = Vec::new();
    for entry in of.entries {
        for breach in Corrected::from(&entry.correction).breaches {
            if !breaches.contains(&breach) {
                breaches.push(breach);
            }
        }
    }
    let pulls = of.entries.iter().zip(of.tags);
    Set {
        name: of.name.to_owned(),
        pulls: pulls.map(|(entry, tags)| pull(entry, tags)).collect(),
        breaches,
    }
}

fn pull(entry: &Entry, tags: &Tags) -> PullLine {
    let bands = entry.curve.bands.iter().enumerate();
    let peak = bands.max_by(|a, b| a.1.power_w.total_cmp(&b.1.power_w));
    PullLine {
        name: entry.name.clone(),
        peak_power_w: peak.map_or(0.0, |(_, band)| band.power_w),
        factor: entry.correction.factor,
        electric_power_w: peak.and_then(|(i, _)| entry.electric_w.get(i).copied()),
        charge: tags.charge,
        electric_axle: tags.electric_axle,
        undone: tags.undone.map(|(standard, factor)| Undone {
            standard: standard.id(),
            factor,
        }),
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

/// What became of recordings that held corrected power.
fn standards_undone(report: &CompareReport) -> Option<String> {
    let all = || report.before.pulls.iter().chain(&report.after.pulls);
    let mut standards: Vec<&str> = all()
        .filter_map(|p| p.undone.as_ref().map(|u| u.standard))
        .collect();
    standards.sort_unstable();
    standards.dedup();
    let some_raw = all().any(|p| p.undone.is_none());
    let first = standards.first()?;
    let what = if standards.len() > 1 {
        format!(
            "the recordings were corrected by different standards ({})",
            standards.join(", ")
        )
    } else if some_raw {
        format!("some recordings were corrected by {first}, others hold power as read")
    } else {
        format!("the recordings were corrected by {first}")
    };
    Some(format!(
        "{what}: every factor was undone with its own day's air, and all pulls are corrected anew by one standard"
    ))
}

/// What the doubt of a factor is, for the text.
fn factor_share() -> f64 {
    FACTOR_SHARE
}

/// What is usual, for the text.
fn usual_pull() -> f64 {
    Noise::default().pull
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
