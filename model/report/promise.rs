//! What stands above a quote: the number to promise, and what forbids to promise it.

use super::Level;
use super::document::Document;
use super::guard::RECORDING_CONTRADICTS;
use super::number::{Units, What};
use super::quote::Warning;
use crate::ask::quote::Answer;

/// The number to promise; no promise where the car reads as much without the work.
pub(super) fn headline(answer: &Answer, units: Units) -> String {
    let sure = &answer.promise.sure;
    let power = units.show(What::Power, sure.power_w);
    let tenths = 10.0 * sure.chance;
    if is_below_today(answer) {
        format!(
            "Promise no gain: {tenths:.0} pulls in 10 should read {power} or more on the drums, uncorrected."
        )
    } else {
        format!(
            "Promise {power} on the drums, uncorrected: {tenths:.0} pulls in 10 should reach it."
        )
    }
}

fn is_below_today(answer: &Answer) -> bool {
    let planned = !answer.basis.changes.is_empty();
    planned && answer.promise.sure.power_w < answer.same_day_w.p50
}

/// That work was planned whose promise lies below what the car reads without it; none where it lies above.
pub(super) fn below_today(answer: &Answer, units: Units) -> Option<String> {
    is_below_today(answer).then(|| {
        format!(
            "That is below the {} of the car without the work: the drums may show no gain, so do not sell it on power.",
            units.show(What::Power, answer.same_day_w.p50)
        )
    })
}

/// That recordings contradict the car file or themselves, where an answer was built on them all the same: the first, and how many more.
pub(super) fn built_on(document: &mut Document, warnings: &[Warning]) {
    let mut found = warnings.iter().filter(|w| w.code == RECORDING_CONTRADICTS);
    let Some(first) = found.next() else {
        return;
    };
    let agree = first
        .expected
        .as_ref()
        .map_or_else(String::new, |expected| {
            format!(" What would agree: {expected}.")
        });
    let more = match found.count() {
        0 => String::new(),
        more => format!(" ({more} more among the warnings.)"),
    };
    let told = format!(
        "Settle this before you promise anything: {}: {}.{agree}{more}",
        first.file, first.message
    );
    document.at(Level::Answer).labelled("!!  ", &told, 4);
}
