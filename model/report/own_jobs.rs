//! What closed jobs of the shop changed of a quote, in words.

use super::number::{Units, What};
use super::quote::mechanism;
use super::{Level, document::Document};
use crate::ask::quote::{OwnJobs, OwnKinds, OwnMiss};

/// Changes below this are none: a tenth of a per cent of power, a per cent of a range.
const LEAST: (f64, f64) = (0.0005, 0.005);

/// Both lines of it: what was learned from how many jobs, and by mechanism what they say.
pub(super) fn add(document: &mut Document, found: &OwnJobs, units: Units) {
    document
        .at(Level::Answer)
        .paragraph(format!("Learned from {}.", words(found)));
    if found.mechanisms.is_empty() && found.kinds.is_none() {
        return;
    }
    document
        .at(Level::Detail)
        .space()
        .section("What closed jobs of this shop say of the calculation; --no-learning quotes without them")
        .list(
            found
                .mechanisms
                .iter()
                .map(|miss| point(miss, units))
                .chain(found.kinds.as_ref().map(|kinds| of_kinds(kinds, units))),
        )
        .line(format!(
            "  Without them: {} in 9 pulls of 10.",
            units.range(What::Power, &found.without_w)
        ));
}

/// How many jobs, and what they moved.
pub(super) fn words(found: &OwnJobs) -> String {
    let percent = |share: f64| format!("{:.1} %", 100.0 * share.abs());
    let middle = match found.middle {
        x if x.abs() < LEAST.0 => "leave the middle where it was".to_owned(),
        x if x > 0.0 => format!("raise the middle by {}", percent(x)),
        x => format!("lower the middle by {}", percent(x)),
    };
    let width = match found.width - 1.0 {
        x if x.abs() < LEAST.1 => "leave the range as wide as it was".to_owned(),
        x if x < 0.0 => format!("narrow the range by {:.0} %", -100.0 * x),
        x => format!("widen the range by {:.0} %", 100.0 * x),
    };
    format!(
        "{} closed jobs of this shop: they {middle} and {width}",
        found.jobs
    )
}

fn of_kinds(kinds: &OwnKinds, units: Units) -> String {
    format!(
        "parts and cars of this kind of work: power off by {} (± {}) in its jobs alike",
        units.show_change(What::Percent, kinds.bias),
        units.show(What::Percent, kinds.bias_doubt)
    )
}

fn point(miss: &OwnMiss, units: Units) -> String {
    format!(
        "{}: effect off by {} (± {}) in all jobs alike, and by ± {} from job to job",
        mechanism(miss.mechanism),
        units.show_change(What::Percent, miss.bias),
        units.show(What::Percent, miss.bias_doubt),
        units.show(What::Percent, miss.spread)
    )
}
