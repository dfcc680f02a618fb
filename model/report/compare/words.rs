//! The words of a comparison: the verdict, the notes, and why runs are not compared.

use crate::ask::compare::gearing::Geared;
use crate::ask::compare::{
    Answer, FACTOR_SHARE, GainLine, Gate, OpenPeak, OverCorrected, Remark, Stated,
};
use crate::belief::Noise;
use crate::dyno::correction::Standard;
use crate::report::number::{Span, Units, What};

/// Why runs are not compared, by id.
pub(in crate::report) const GATES: &[(&str, &str)] = &[
    (
        "axle_on_and_off",
        "the electric axle is on in one pull and off in another",
    ),
    (
        "start_charges",
        "battery levels at the start are further apart than the window allows",
    ),
    (
        "start_charge_unknown",
        "the battery level at the start is given for some pulls and not for others",
    ),
    ("another_gear", "the pulls were made in different gears"),
];

/// Notes, by id.
pub(in crate::report) const REMARKS: &[(&str, &str)] = &[
    (
        "other_gearing",
        "engine speed per drum turn differs: another tyre, or slip",
    ),
    (
        "charges_apart",
        "battery levels at the start are further apart than usual",
    ),
    (
        "electric_share_unknown",
        "the pulls contain electric power of unknown size, so nothing is corrected",
    ),
    (
        "axle_off_left_out",
        "pulls with the electric axle off were left out",
    ),
    (
        "boosted_unknown",
        "the engine is boosted, but no file says by what",
    ),
    (
        "corrections_undone",
        "recordings held corrected power; the correction was undone",
    ),
    ("repeats_stray", "the repeats scatter more than usual"),
];

/// The answer in a line.
pub(super) fn headline(answer: &Answer, units: Units) -> String {
    if !answer.distinguishable {
        return "The two sets cannot be told apart".to_owned();
    }
    match &answer.peak_power {
        Some(peak) if peak.stands_out => {
            let (share, middle) = peak_range(units, What::Percent, peak.gain, range(peak));
            let way = if peak.gain > 0.0 { "up" } else { "down" };
            format!("Peak power {way} {middle} ({share})")
        }
        Some(_) => "Peak power cannot be told apart; parts of the curve can".to_owned(),
        None => "The two sets differ; peak power is not compared".to_owned(),
    }
}

/// A gain or loss, its way left to the word beside it.
fn peak_range(units: Units, what: What, gain: f64, range: Span) -> (String, String) {
    if gain > 0.0 {
        units.range_and_middle(what, &range)
    } else {
        units.range_and_middle(what, &range.turned())
    }
}

/// What the line stands on.
pub(super) fn verdict(answer: &Answer, units: Units) -> String {
    let least = units.show(What::Percent, answer.smallest_detectable);
    let by = if answer.corrected {
        format!("corrected by {}", standard_name(answer.standard, units))
    } else {
        "as read, with the weather still in it".to_owned()
    };
    let Some(peak) = &answer.peak_power else {
        return verdict_without_peak(answer, &by, &least);
    };
    if !answer.distinguishable {
        return format!(
            "Neither the peaks nor any engine speed differ by more than the pulls scatter ({by}). A change of peak power below \
             {least} would not show in them."
        );
    }
    if peak.stands_out {
        let (power, middle) = peak_range(units, What::Power, peak.gain, range_of_reading(peak));
        let mut text = format!("That is {power}, most likely {middle}, {by}.");
        if answer.corrected {
            add!(
                text,
                " The drums showed {}, of which the weather is {}.",
                units.show_change(What::Percent, peak.gain_as_read),
                units.show_change(What::Percent, peak.gain_of_weather)
            );
        }
        return text;
    }
    let (share, _) = units.range_and_middle_of_change(What::Percent, &range(peak));
    format!(
        "Peak power changed by {share} ({by}), which is within the scatter; a change below {least} would not show. The curves \
         do differ: {}.",
        places(answer).join(", ")
    )
}

/// The verdict where one set does not show its peak.
fn verdict_without_peak(answer: &Answer, by: &str, least: &str) -> String {
    let why = answer
        .peak_power_not_compared
        .as_ref()
        .map_or_else(String::new, open_peak);
    let (from, to) = match (answer.points.first(), answer.points.last()) {
        (Some(first), Some(last)) => (first.rpm_before, last.rpm_before),
        _ => (0.0, 0.0),
    };
    let shared = if answer.distinguishable {
        format!("the sets differ: {}", places(answer).join(", "))
    } else {
        format!("the sets cannot be told apart; a change below {least} would not show in them")
    };
    format!(
        "Peak power is not compared: {why}. From {from:.0} to {to:.0} rpm, which every pull covers, {shared} ({by})."
    )
}

/// Where the sets differ beside peak power.
fn places(answer: &Answer) -> Vec<String> {
    let mut places: Vec<String> = answer
        .stretches
        .iter()
        .map(|s| {
            let word = if s.gained { "more" } else { "less" };
            if s.from_rpm < s.to_rpm {
                format!("{word} from {:.0} to {:.0} rpm", s.from_rpm, s.to_rpm)
            } else {
                format!("{word} at {:.0} rpm", s.from_rpm)
            }
        })
        .collect();
    if let Some(peak) = answer.peak_torque.filter(|peak| peak.stands_out) {
        let word = if peak.gain > 0.0 { "more" } else { "less" };
        places.push(format!("{word} peak torque"));
    }
    places
}

/// How sure the ranges are.
pub(super) fn level(answer: &Answer, units: Units) -> String {
    format!(
        "If the pulls scatter as assumed, all ranges hold together with a chance of {}.",
        units.show(What::Percent, answer.level)
    )
}

/// What the ranges are made of.
pub(super) fn ranges(answer: &Answer, units: Units) -> String {
    let share = |value| units.show(What::Percent, value);
    let s = &answer.spread;
    let seen = s.pull_scale_seen.map_or_else(
        || "no repeats to measure it by".to_owned(),
        |seen| format!("{} measured in the repeats", share(seen)),
    );
    let visit = if answer.same_visit {
        "nothing from visit to visit, because the car stayed on the drums".to_owned()
    } else {
        format!(
            "{} from visit to visit, which more pulls on one day do not average out",
            share(s.visit)
        )
    };
    let weather = if answer.corrected {
        format!(
            ", {} for what the correction may miss ({} of the change in pressure and in temperature{})",
            share(s.weather),
            share(FACTOR_SHARE),
            if answer.over_corrected.is_some() {
                ", and boost that may be regulated"
            } else {
                ""
            }
        )
    } else if s.weather > 0.0 {
        format!(", {} for the weather left in", share(s.weather))
    } else {
        String::new()
    };
    format!(
        "* the range excludes zero. Assumed scatter: {} in level from pull to pull ({seen}; {} is usual), {} in the shape of the \
         curve, {visit}{weather}.",
        share(s.pull_scale),
        share(Noise::default().pull),
        share(s.pull_bend),
    )
}

/// Full name of a standard and its reference air.
pub(super) fn standard_name(standard: Standard, units: Units) -> String {
    let reference = units.constants(standard.reference());
    format!("{} (reference: {reference})", standard.name())
}

/// The range of a gain, relative.
fn range(line: &GainLine) -> Span {
    Span {
        p5: line.gain_low,
        p50: line.gain,
        p95: line.gain_high,
    }
}

/// The range of a gain in the unit of the reading, on what was read before in reference air.
fn range_of_reading(line: &GainLine) -> Span {
    let of = |gain: f64| gain * line.corrected_before;
    Span {
        p5: of(line.gain_low),
        p50: of(line.gain),
        p95: of(line.gain_high),
    }
}

/// Why a peak is not compared.
pub(super) fn open_peak(open: &OpenPeak) -> String {
    let OpenPeak {
        pull,
        end_rpm,
        furthest_rpm,
        ..
    } = open;
    let set = if open.after { "after" } else { "before" };
    let ends = if open.top { "ends" } else { "starts" };
    let others = if open.top { "run to" } else { "start at" };
    let why = if open.at_end {
        "still at its highest there"
    } else {
        "short of where others peak"
    };
    format!(
        "pull '{pull}' ({set}) {ends} at {end_rpm:.0} rpm, {why}; others {others} {furthest_rpm:.0} rpm"
    )
}

/// How much of a gain would be over-correction.
pub(super) fn over_corrected(over: &OverCorrected, units: Units) -> String {
    let change = |share| units.show_change(What::Percent, share);
    let gauge = over.held_gauge.map_or_else(String::new, |g| {
        format!(
            "{} if boost is held at the logged gauge pressure, ",
            change(g)
        )
    });
    format!(
        "the correction assumes that boost follows the barometer; where a regulator holds it, part of the gain is \
         over-correction: {gauge}{} if absolute pressure is held. The ranges allow for it",
        change(over.held_absolute)
    )
}

/// Why runs are not compared, all in one sentence.
pub fn gates(gates: &[Gate]) -> String {
    let all: Vec<String> = gates.iter().map(gate).collect();
    all.join("; ")
}

/// Why runs are not compared.
pub(super) fn gate(gate: &Gate) -> String {
    match gate {
        Gate::AxleOnAndOff { on, off } => format!(
            "the electric axle is on in '{on}' and off in '{off}': its power would look like a gain or a loss"
        ),
        Gate::StartCharges {
            least,
            most,
            window,
        } => format!(
            "battery levels at the start are {:.0} points apart, from {:.0} % in '{}' to {:.0} % in '{}'; the window is {:.0}",
            100.0 * (most.value - least.value),
            100.0 * least.value,
            least.pull,
            100.0 * most.value,
            most.pull,
            100.0 * window
        ),
        Gate::StartChargeUnknown { pulls } => {
            let pulls: Vec<String> = pulls.iter().map(|pull| format!("'{pull}'")).collect();
            format!(
                "the battery level at the start is missing for {}; other pulls give it",
                pulls.join(", ")
            )
        }
        Gate::AnotherGear(found) => geared(found),
    }
}

fn geared(found: &Geared) -> String {
    let Stated {
        pull: low,
        value: least,
    } = &found.least;
    let Stated {
        pull: high,
        value: most,
    } = &found.most;
    format!(
        "the engine turns {least:.3} times per drum turn in '{low}' and {most:.3} times in '{high}', {:.1} % more: another gear \
         or tyre, or slip. A change of gearing changes the reading and would look like a gain or a loss",
        100.0 * found.apart()
    )
}

/// A note.
pub(super) fn remark(remark: &Remark) -> String {
    match remark {
        Remark::OtherGearing(found) => geared(found),
        Remark::ChargesApart(found) => format!(
            "{} points unless --charge-window says otherwise, as here: a different battery level can look like a gain or a loss",
            gate(found)
        ),
        Remark::ElectricShareUnknown => {
            "the pulls contain electric power, which is never corrected, and the drums cannot tell how much: name the car with \
             --car to have the engine's share corrected. Until then the weather stays in the gain, and the ranges are wider for it"
                .to_owned()
        }
        Remark::AxleOffLeftOut { pulls, visit } => {
            format!("{pulls} of the pulls in '{visit}' had the electric axle off and were left out")
        }
        Remark::BoostedUnknown => {
            "manifold pressure was above the barometer, so the engine is boosted. With a crank-driven blower and its bypass shut, \
             boost follows the barometer and the correction holds: name the car with --car and the work with --plan to say so"
                .to_owned()
        }
        Remark::CorrectionsUndone {
            standards,
            some_as_read,
        } => corrections_undone(standards, *some_as_read),
        Remark::RepeatsStray { seen } => format!(
            "the repeats scatter by {:.1} %, more than the usual 0.4 to 1.2 %: find out what changed between pulls of one set \
             (rest, straps, tyres, tune) before trusting the comparison",
            100.0 * seen
        ),
    }
}

/// How recordings of corrected power were treated.
fn corrections_undone(standards: &[Standard], some_as_read: bool) -> String {
    let ids: Vec<&str> = standards.iter().map(|standard| standard.id()).collect();
    let ids = ids.join(", ");
    let what = if standards.len() > 1 {
        format!("the recordings hold power corrected by different standards ({ids})")
    } else if some_as_read {
        format!("some recordings hold power corrected by {ids}, others power as read")
    } else {
        format!("the recordings hold power corrected by {ids}")
    };
    format!(
        "{what}: each was taken back to power as read with its own day's air, then all were corrected by one standard"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gate_is_told_with_its_pulls_and_its_size() {
        let of = |pull: &str, value| Stated {
            pull: pull.to_owned(),
            value,
        };
        let charges = gate(&Gate::StartCharges {
            least: of("after 1", 0.70),
            most: of("before 1", 0.82),
            window: 0.10,
        });
        let gears = gate(&Gate::AnotherGear(Geared {
            least: of("before 1", 5.0),
            most: of("after 1", 7.0),
        }));
        for (text, part) in [
            (charges, "12 points apart, from 70 % in 'after 1'"),
            (gears, "40.0 % more"),
        ] {
            assert!(text.contains(part), "{text}");
        }
    }

    #[test]
    fn a_peak_that_was_cut_off_is_told_with_where() {
        let said = open_peak(&OpenPeak {
            after: true,
            pull: "pull 3".to_owned(),
            top: true,
            end_rpm: 3480.0,
            furthest_rpm: 6480.0,
            at_end: true,
        });
        assert_eq!(
            said,
            "pull 'pull 3' (after) ends at 3480 rpm, still at its highest there; others run to 6480 rpm"
        );
    }
}
