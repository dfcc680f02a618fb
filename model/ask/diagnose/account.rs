//! The answer of a diagnosis: the verdict, every cause with its numbers and its trace, and what would tell more.

use crate::ask::cautions::{self, Caution};
use crate::car::Car;
use crate::diagnose::next::{Measurement, NextStep};
use crate::diagnose::{
    Blind, Cause, Channel, Diagnosis, Fact, Form, Remark, Sign, SizeMeasure, Suspect,
};
use crate::fit::observation::MeasuredPull;
use serde::Serialize;

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// The car.
    pub car: String,
    /// Whether the car is a fitted one.
    pub fitted: bool,
    /// Whether it has an electric axle.
    pub electric: bool,
    /// The pull.
    pub pull: String,
    /// What may be said.
    pub verdict: Verdict,
    /// Good pulls it was held against.
    pub good_pulls: usize,
    /// Peak power a sound pull would have read on that day.
    pub peak_expected_w: f64,
    /// Peak power read.
    pub peak_read_w: f64,
    /// Channels of the log that were used.
    pub channels: Vec<Channel>,
    /// What is odd about the question, and what the answer gives to mind.
    pub remarks: Vec<Remark>,
    /// Causes, likeliest first.
    pub suspects: Vec<SuspectLine>,
    /// What would tell the two likeliest apart, best first.
    pub next: Vec<NextLine>,
    /// What this log cannot show, and what would.
    pub cannot_show: Vec<Blind>,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

/// What may be said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The pull is sound.
    Sound,
    /// Something is wrong that is none of the causes, or two of them at once.
    NoneOfThese,
    /// The likeliest cause.
    Settled,
    /// One of the two likeliest.
    NotSettled,
}

impl Verdict {
    /// All.
    pub const ALL: [Self; 4] = [
        Self::Sound,
        Self::NoneOfThese,
        Self::Settled,
        Self::NotSettled,
    ];
}

/// One cause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SuspectLine {
    /// Which.
    pub cause: Cause,
    /// How it shows.
    #[serde(flatten)]
    pub form: Form,
    /// Other ways of it that the log bears out as well.
    pub alike: Vec<Form>,
    /// Another cause at work with it, where the log asks for two.
    pub with: Option<Cause>,
    /// Chance that it is at work, 0 to 1.
    pub probability: f64,
    /// Sizes tried, and how many of them failed.
    pub trials: TrialsLine,
    /// Its numbers.
    pub sizes: Vec<SizeLine>,
    /// Change of the peak that the rig shows, W.
    pub peak_change_w: f64,
    /// Where it changes power most, rpm.
    pub worst_rpm: f64,
    /// By how much there, relative.
    pub worst_change: f64,
    /// What in the log speaks for it, most telling first.
    pub signs: Vec<SignLine>,
    /// What in the log it leaves unexplained, worst first; the weight is in standard deviations.
    #[serde(rename = "left")]
    pub unexplained: Vec<SignLine>,
    /// What was seen and what the cause makes, both less a sound pull, curve by curve.
    pub traces: Vec<TraceLine>,
}

/// Sizes tried in a search.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct TrialsLine {
    /// How many.
    pub all: usize,
    /// How many of them the car could not have made the pull with.
    pub failed: usize,
}

/// One number of a cause, SI.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeLine {
    /// What it is.
    pub name: &'static str,
    /// In what it is measured.
    pub measure: SizeMeasure,
    /// The unit of its numbers.
    pub unit: &'static str,
    /// Likeliest value.
    pub value: f64,
    /// Lower end of the central 90 %.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether the value is the end of what was looked at, so that the log may ask for more.
    pub at_end: bool,
    /// Whether the log shows how much it is at least, and hardly how much more.
    #[serde(skip)]
    pub open_above: bool,
}

/// A range that ends so many times as high as it begins says where it begins, and no more (no source, assumed).
const OPEN_ABOVE: f64 = 8.0;

/// Something in the log.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SignLine {
    /// Channel or fact.
    pub of: Of,
    /// Engine speed, where it is a curve, rpm.
    pub rpm: Option<f64>,
    /// Seen less sound, SI; logarithms for ratios and power.
    pub seen: f64,
    /// What the cause makes it.
    pub explained: f64,
    /// Rise of the logarithmic likelihood.
    pub weight: f64,
}

/// What a sign is seen in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum Of {
    /// A curve.
    Channel(Channel),
    /// A fact about the rig.
    Fact(Fact),
}

/// A curve against that of a sound pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TraceLine {
    /// Channel.
    pub channel: Channel,
    /// Engine speed, rpm; seen; explained.
    pub points: Vec<(f64, f64, f64)>,
}

/// A measurement to make.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextLine {
    /// What to measure.
    pub measurement: Measurement,
    /// Whether it is a channel that this log lacks.
    pub absent_channel: bool,
    /// What it shows under the likeliest cause and under the next, SI.
    pub first: f64,
    /// Under the next.
    pub second: f64,
    /// Engine speed to look at, rpm.
    pub rpm: Option<f64>,
    /// Standard deviations of the measurement between the two.
    pub standard_deviations: f64,
}

/// Causes this likely are shown in full.
pub const IN_FULL: f64 = 0.05;
/// A cause less likely than this is not told, and nothing is measured to rule it out (no source, assumed).
pub const LEAST_TOLD: f64 = 0.01;
/// A cause this likely is named as the one.
const NAMED: f64 = 0.8;
/// So is one that is so many times as likely as the next.
const FAR_AHEAD: f64 = 10.0;

impl Answer {
    /// Of a diagnosis of a pull of this car.
    pub(super) fn new(diagnosis: &Diagnosis, car: &Car, fitted: bool, pull: &MeasuredPull) -> Self {
        let suspects = diagnosis.suspects.iter();
        let ranked: Vec<_> = suspects
            .map(|s| (s.explained.cause, s.probability))
            .collect();
        Self {
            car: car.name.clone(),
            fitted,
            electric: car.electric.is_some(),
            pull: pull.name.clone(),
            verdict: verdict(&ranked),
            good_pulls: diagnosis.good_pulls,
            peak_expected_w: diagnosis.peak_w.0,
            peak_read_w: diagnosis.peak_w.1,
            channels: diagnosis.channels.clone(),
            remarks: diagnosis.remarks.clone(),
            suspects: diagnosis.suspects.iter().map(line).collect(),
            next: diagnosis.next.iter().map(next).collect(),
            cannot_show: diagnosis.blind.clone(),
            cautions: cautions::of_car(car, fastest_m_s(&diagnosis.suspects)),
        }
    }

    /// The two likeliest causes that are named, where telling them apart helps: not where none of them is it, nor where the second has no chance.
    pub fn rivals(&self) -> Option<(&SuspectLine, &SuspectLine)> {
        if self.suspects.first()?.cause == Cause::NoneOfThese {
            return None;
        }
        let mut named = self
            .suspects
            .iter()
            .filter(|suspect| suspect.cause != Cause::NoneOfThese);
        let likeliest = named.next()?;
        Some((
            likeliest,
            named.find(|second| second.probability >= LEAST_TOLD)?,
        ))
    }
}

/// Of causes with their probabilities, likeliest first.
fn verdict(ranked: &[(Cause, f64)]) -> Verdict {
    let Some(&(cause, first)) = ranked.first() else {
        return Verdict::NoneOfThese;
    };
    let second = ranked.get(1).map_or(0.0, |ranked| ranked.1);
    let named = first >= NAMED || first >= FAR_AHEAD * second;
    match cause {
        Cause::Nothing if named => Verdict::Sound,
        Cause::NoneOfThese if named => Verdict::NoneOfThese,
        _ if named || ranked.len() == 1 => Verdict::Settled,
        _ => Verdict::NotSettled,
    }
}

/// Highest speed of the tyres' tread under any cause worth telling, m/s. A cause that the log rules out may have needed another gear: its
/// speed is nobody's.
fn fastest_m_s(suspects: &[Suspect]) -> f64 {
    suspects
        .iter()
        .enumerate()
        .filter(|(place, suspect)| *place == 0 || suspect.probability >= IN_FULL)
        .map(|(_, suspect)| suspect.explained.pull().tread_m_s())
        .fold(0.0, f64::max)
}

fn line(suspect: &Suspect) -> SuspectLine {
    let explained = &suspect.explained;
    let sizes = explained
        .numbers()
        .into_iter()
        .map(|(size, value, (low, high))| SizeLine {
            name: size.name,
            measure: size.measure,
            unit: size.measure.unit(),
            value,
            low,
            high,
            at_end: at_end(value, low, high),
            open_above: size.counts_from_sound && open_above(low, high),
        })
        .collect();
    SuspectLine {
        cause: explained.cause,
        form: explained.form,
        alike: suspect.alike.clone(),
        with: explained.with.map(|with| with.0),
        probability: suspect.probability,
        trials: TrialsLine {
            all: explained.trials.all,
            failed: explained.trials.failed,
        },
        sizes,
        peak_change_w: suspect.power_w,
        worst_rpm: suspect.worst.0,
        worst_change: suspect.worst.1,
        signs: suspect.signs.iter().map(sign).collect(),
        unexplained: suspect.left.iter().map(sign).collect(),
        traces: suspect
            .traces
            .iter()
            .map(|trace| TraceLine {
                channel: trace.channel,
                points: trace.points.clone(),
            })
            .collect(),
    }
}

/// Whether a likeliest value stands at an end of its range: the search was stopped there, by a bound and not by the log.
fn at_end(value: f64, low: f64, high: f64) -> bool {
    // A search ends within a hundredth of its standard deviations; the range is at least 1.6 of them to the other side.
    (value - low).min(high - value) < 0.005 * (high - low)
}

/// Whether a range tells hardly more than where it begins.
fn open_above(low: f64, high: f64) -> bool {
    high > OPEN_ABOVE * low
}

fn sign(sign: &Sign) -> SignLine {
    let (of, rpm, seen, explained) = match *sign {
        Sign::Curve {
            channel,
            rpm,
            seen,
            explained,
            ..
        } => (Of::Channel(channel), Some(rpm), seen, explained),
        Sign::Fact {
            fact,
            seen,
            explained,
            ..
        } => (Of::Fact(fact), None, seen, explained),
    };
    SignLine {
        of,
        rpm,
        seen,
        explained,
        weight: sign.weight(),
    }
}

fn next(step: &NextStep) -> NextLine {
    NextLine {
        measurement: step.measurement,
        absent_channel: step.absent_channel,
        first: step.first,
        second: step.second,
        rpm: step.rpm,
        standard_deviations: step.apart,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_at_the_end_of_its_range_only_there() {
        assert!(at_end(35.0, 14.4, 35.0) && at_end(14.4, 14.4, 35.0));
        assert!(!at_end(25.0, 14.4, 35.0));
    }

    #[test]
    fn a_range_of_many_times_its_low_end_is_open_above() {
        assert!(open_above(0.03, 0.63) && !open_above(0.12, 0.39));
    }

    #[test]
    fn a_verdict_is_given_where_one_cause_stands_alone_or_far_ahead() {
        let (slip, gear) = (Cause::TyreSlip, Cause::Gear);
        for (ranked, expected) in [
            (vec![], Verdict::NoneOfThese),
            (vec![(Cause::Nothing, 0.85), (slip, 0.1)], Verdict::Sound),
            (
                vec![(Cause::Nothing, 0.6), (slip, 0.4)],
                Verdict::NotSettled,
            ),
            (
                vec![(Cause::NoneOfThese, 0.9), (slip, 0.1)],
                Verdict::NoneOfThese,
            ),
            // Not said while a cause that can be looked for is as likely.
            (
                vec![(Cause::NoneOfThese, 0.5), (slip, 0.45)],
                Verdict::NotSettled,
            ),
            (vec![(slip, 0.6), (gear, 0.05)], Verdict::Settled),
            (vec![(slip, 0.6), (gear, 0.3)], Verdict::NotSettled),
            (vec![(slip, 0.5)], Verdict::Settled),
        ] {
            assert_eq!(verdict(&ranked), expected, "{ranked:?}");
        }
    }
}
