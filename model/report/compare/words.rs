//! The words of a comparison: what may be said, what to mind, and why runs are not compared.

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
        "start charges lie further apart than the window",
    ),
    (
        "start_charge_unknown",
        "a start charge is not stated, others are",
    ),
    ("another_gear", "the pulls are made in another gear"),
];

/// What to mind, by id.
pub(in crate::report) const REMARKS: &[(&str, &str)] = &[
    (
        "other_gearing",
        "the engine turns differently on the drums: another tyre, or slip",
    ),
    (
        "charges_apart",
        "start charges lie further apart than is usual",
    ),
    (
        "electric_share_unknown",
        "electric power is in the pulls, and nobody says how much: nothing is corrected",
    ),
    (
        "axle_off_left_out",
        "pulls with the electric axle off are left out",
    ),
    (
        "boosted_unknown",
        "the engine is boosted, and nobody says by what",
    ),
    (
        "corrections_undone",
        "recordings held corrected power, which was undone",
    ),
    ("repeats_stray", "repeats stray more than is usual"),
];

/// What may be said, first of all.
pub(super) fn verdict(answer: &Answer, units: Units) -> String {
    let least = units.show(What::Percent, answer.least_told);
    let by = if answer.corrected {
        format!("corrected by {}", standard_name(answer.standard))
    } else {
        "as read, with the weather still in it".to_owned()
    };
    let Some(peak) = &answer.peak_power else {
        return verdict_without_peak(answer, &by, &least);
    };
    if !answer.distinguishable {
        return format!(
            "Not distinguishable: nothing in these pulls tells the two sets apart, neither a peak nor any engine speed ({by}). \
             A change of peak power below {least} would not show in them."
        );
    }
    if peak.stands_out {
        // A loss is told without its sign: the word has it.
        let told = |what: What, range: Span| {
            if peak.gain > 0.0 {
                units.told_of_change(what, &range)
            } else {
                units.told(what, &range.turned())
            }
        };
        let (share, share_middle) = told(What::Percent, range(peak));
        let (power, _) = told(What::Power, range_of_reading(peak));
        let word = if peak.gain > 0.0 { "gained" } else { "lost" };
        let mut said =
            format!("Peak power {word}: {share}, most likely {share_middle}, or {power}; {by}.");
        if answer.corrected {
            add!(
                said,
                " The drums showed {}, of which {} are the weather's.",
                units.show_change(What::Percent, peak.gain_as_read),
                units.show_change(What::Percent, peak.gain_of_weather)
            );
        }
        return said;
    }
    let (share, _) = units.told_of_change(What::Percent, &range(peak));
    format!(
        "Peak power is not distinguishable ({share}, {by}; a change below {least} would not show), but the sets are: {}.",
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
        format!("nothing tells the sets apart; a change below {least} would not show in them")
    };
    format!(
        "Peak power is not compared: {why}. Over the speeds that all pulls hold, {from:.0} to {to:.0} rpm, {shared} ({by})."
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

/// What the ranges mean and are made of.
pub(super) fn ranges(answer: &Answer, units: Units) -> String {
    let share = |value| units.show(What::Percent, value);
    let s = &answer.spread;
    let seen = s.pull_scale_seen.map_or_else(
        || "no repeats to see it in".to_owned(),
        |seen| format!("{} seen in the repeats", share(seen)),
    );
    let visit = if answer.same_visit {
        "nothing for the visit, which is the same".to_owned()
    } else {
        format!(
            "{} for each visit, which more pulls of one day do not average away",
            share(s.visit)
        )
    };
    let weather = if answer.corrected {
        format!(
            ", {} for what the correction may miss ({} of what pressure and of what temperature changed{})",
            share(s.weather),
            share(FACTOR_SHARE),
            if answer.over_corrected.is_some() {
                ", and a charge pressure that may be held"
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
        "* the range leaves out zero. All ranges together hold with a chance of {} if pulls stray as believed: a pull by {} in \
         scale ({seen}; {} is usual) and {} in shape, {visit}{weather}.",
        share(answer.level),
        share(s.pull_scale),
        share(Noise::default().pull),
        share(s.pull_bend),
    )
}

/// Full name of a standard and its reference air.
pub(super) fn standard_name(standard: Standard) -> String {
    format!("{} (reference: {})", standard.name(), standard.reference())
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
    let ends = if open.top { "ends" } else { "begins" };
    let others = if open.top { "go on to" } else { "begin at" };
    let why = if open.at_end {
        "its peak is that end of the curve"
    } else {
        "short of where others peak"
    };
    format!(
        "of the pulls {set}, '{pull}' {ends} at {end_rpm:.0} rpm, {why}; others {others} {furthest_rpm:.0} rpm"
    )
}

/// How much of a gain would be over-correction.
pub(super) fn over_corrected(over: &OverCorrected, units: Units) -> String {
    let change = |share| units.show_change(What::Percent, share);
    let gauge = over.held_gauge.map_or_else(String::new, |g| {
        format!("{} with the boost held where it was logged, ", change(g))
    });
    format!(
        "the factors take charge pressure to follow the air outside; if a regulator holds it, part of what remains is \
         over-correction: {gauge}{} with a fixed absolute pressure. The ranges allow for it",
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
            "the electric axle is on in '{on}' and off in '{off}': its power would pass for a gain or a loss"
        ),
        Gate::StartCharges {
            least,
            most,
            window,
        } => format!(
            "start charges lie {:.0} points apart, from {:.0} % of '{}' to {:.0} % of '{}'; the window is {:.0}",
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
                "the start charge is not stated for {}; other pulls state theirs",
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
        "in a turn of the drums the engine turns {least:.3} times in '{low}' and {most:.3} times in '{high}', {:.1} % more: \
         another gear or tyre, or slip; what gearing does to a reading passes for a gain or a loss",
        100.0 * found.apart()
    )
}

/// What to mind.
pub(super) fn remark(remark: &Remark) -> String {
    match remark {
        Remark::OtherGearing(found) => geared(found),
        Remark::ChargesApart(found) => format!(
            "{} unless asked otherwise, as here: what the battery feeds at another charge passes for a gain or a loss",
            gate(found)
        ),
        Remark::ElectricShareUnknown => {
            "the pulls hold electric power, which is never corrected, and drums cannot tell how much: name the car with --car to \
             have the engine's share corrected. Until then the weather is in the gain, and in the ranges as a doubt"
                .to_owned()
        }
        Remark::AxleOffLeftOut { pulls, visit } => {
            format!("{pulls} of the pulls of '{visit}' had the electric axle off and are left out")
        }
        Remark::BoostedUnknown => {
            "the manifold was above the air outside, so the engine is boosted; a blower turned by the crank with its bypass shut \
             follows the ambient, and the factor keeps its meaning. Name the car with --car, and the work with --plan, to say so"
                .to_owned()
        }
        Remark::CorrectionsUndone {
            standards,
            some_as_read,
        } => corrections_undone(standards, *some_as_read),
        Remark::RepeatsStray { seen } => format!(
            "the repeats stray by {:.1} %, more than the usual 0.4 to 1.2 %: look for what changed between pulls of one set \
             (rest, straps, tyres, tune) before trusting a comparison",
            100.0 * seen
        ),
    }
}

/// What became of recordings that held corrected power.
fn corrections_undone(standards: &[Standard], some_as_read: bool) -> String {
    let ids: Vec<&str> = standards.iter().map(|standard| standard.id()).collect();
    let ids = ids.join(", ");
    let what = if standards.len() > 1 {
        format!("the recordings were corrected by different standards ({ids})")
    } else if some_as_read {
        format!("some recordings were corrected by {ids}, others hold power as read")
    } else {
        format!("the recordings were corrected by {ids}")
    };
    format!(
        "{what}: every factor was undone with its own day's air, and all pulls are corrected anew by one standard"
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
        for (told, part) in [
            (charges, "12 points apart, from 70 % of 'after 1'"),
            (gears, "40.0 % more"),
        ] {
            assert!(told.contains(part), "{told}");
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
            "of the pulls after, 'pull 3' ends at 3480 rpm, its peak is that end of the curve; others go on to 6480 rpm"
        );
    }
}
