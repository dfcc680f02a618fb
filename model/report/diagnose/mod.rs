//! Why a pull looks wrong, in the words of the trade: the causes with their chances, what each does to the log, and the next
//! measurement.
//!
//! A chance is shown only as finely as it means something, a size with the range that holds it nine times in ten.

mod words;

pub(super) use words::{REMARKS, channel, fact, measurement, verdict_name};

use super::cautions::most;
use super::number::{Units, What, chance};
use super::{Document, Level, Report, chart};
use crate::ask::diagnose::{Answer, IN_FULL, LEAST_TOLD, SuspectLine};
use crate::diagnose::{Cause, Remark};

/// Most notes and most cautions in the answer; the others stand among the details.
const MOST_NOTES: usize = 2;
const MOST_CAUTIONS: usize = 3;

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/diagnose/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        found(&mut document, self, units);
        let likely = self.suspects.iter().filter(|s| s.probability >= IN_FULL);
        for (place, suspect) in likely.enumerate() {
            in_full(&mut document, place == 0, suspect, units);
        }
        for chart in chart::diagnose::charts(self, units) {
            document.at(Level::Answer).chart(chart);
        }
        less_likely(&mut document, self);
        tell_more(&mut document, self, units);
        not_shown(&mut document, self);
        cautions(&mut document, self, units);
        document
    }
}

/// The verdict, what the pull was judged against, and what is odd about the question.
fn found(document: &mut Document, answer: &Answer, units: Units) {
    let mut part = document.at(Level::Answer);
    let (before, after): (Vec<&Remark>, Vec<&Remark>) = answer
        .remarks
        .iter()
        .partition(|remark| matches!(remark, Remark::GoodPullsAreAnotherCar { .. }));
    if let Some(remark) = before.first() {
        // The verdict is worth nothing where this is true, so it comes after.
        part.title("The good pulls do not match the car file")
            .labelled(
                "!!  ",
                words::capital(&words::remark(remark, units)) + ".",
                4,
            )
            .paragraph(format!("If both are right: {}.", words::headline(answer)));
    } else {
        part.title(words::headline(answer));
    }
    let power = |w: f64| units.show(What::Power, w);
    let against = match answer.good_pulls {
        0 => "Judged against the model alone; name good pulls with --good".to_owned(),
        1 => "Judged against 1 good pull".to_owned(),
        n => format!("Judged against {n} good pulls"),
    };
    let channels: Vec<&str> = answer.channels.iter().map(|c| channel(*c)).collect();
    part.paragraph(format!(
        "'{}' of {} peaked at {}; a sound pull in that air would have read {}. {against}, by {}.",
        answer.pull,
        answer.car,
        power(answer.peak_read_w),
        power(answer.peak_expected_w),
        channels.join(", ")
    ));
    let (first, rest) = after.split_at(after.len().min(MOST_NOTES));
    part.list(first.iter().map(|remark| words::remark(remark, units)));
    let mut part = document.at(Level::Detail);
    part.list(rest.iter().map(|remark| words::remark(remark, units)));
    if !answer.fitted {
        part.paragraph(
            "The car file is not a fitted one, so the effect of a fault is known less well (see `fit --out`).",
        );
    }
}

/// A cause with everything about it; the likeliest one's size, effect and what to look at belong to the answer.
fn in_full(document: &mut Document, likeliest: bool, suspect: &SuspectLine, units: Units) {
    let mut rows: Vec<(&str, String)> = suspect
        .sizes
        .iter()
        .map(|size| (size.name, words::size(size, units)))
        .collect();
    rows.extend(words::with(suspect).map(|text| ("together with", text)));
    rows.extend(words::power(suspect, units).map(|text| ("power", text)));
    let look_at = suspect.cause.look_at();
    if !look_at.is_empty() {
        rows.push(("look at", look_at.to_owned()));
    }
    let none = suspect.cause == Cause::NoneOfThese;
    let mut signs = Vec::new();
    for (head, found) in [
        ("seen", &suspect.signs),
        ("unexplained", &suspect.unexplained),
    ] {
        for (index, sign) in found.iter().enumerate() {
            let head = if index == 0 { head } else { "" };
            signs.push((head, words::sign(sign, none, units)));
        }
    }
    let heads = rows.iter().chain(&signs).map(|row| row.0.chars().count());
    let width = heads.max().unwrap_or(0) + 4;
    signs.extend(words::failed_trials(suspect).map(|text| ("not tried", text)));
    let level = if likeliest {
        // What speaks most for it belongs to the answer.
        rows.extend((!signs.is_empty()).then(|| signs.remove(0)));
        Level::Answer
    } else {
        Level::Detail
    };
    document.at(level).space().section(format!(
        "{}, chance {}",
        words::capital(&words::full_name(suspect)),
        chance(suspect.probability)
    ));
    for (level, rows) in [(level, rows), (Level::Detail, signs)] {
        for (head, text) in rows {
            document
                .at(level)
                .labelled(format!("  {head}"), text, width);
        }
    }
}

fn less_likely(document: &mut Document, answer: &Answer) {
    let shown = |s: &&SuspectLine| (LEAST_TOLD..IN_FULL).contains(&s.probability);
    let rest: Vec<String> = answer
        .suspects
        .iter()
        .filter(shown)
        .map(|s| format!("{} ({})", s.cause.name(), chance(s.probability)))
        .collect();
    if !rest.is_empty() {
        document
            .at(Level::Detail)
            .space()
            .paragraph(format!("Less likely: {}.", rest.join("; ")));
    }
}

/// What would tell the two likeliest causes apart.
fn tell_more(document: &mut Document, answer: &Answer, units: Units) {
    let Some((first, second)) = answer.rivals() else {
        return;
    };
    let (a, b) = (first, second);
    let (first, second) = (first.cause.name(), second.cause.name());
    let mut part = document.at(Level::Answer);
    part.space();
    let Some((best, others)) = answer.next.split_first() else {
        let looks: Vec<&str> = [a, b]
            .iter()
            .map(|s| s.cause.look_at())
            .filter(|look| !look.is_empty())
            .collect();
        part.paragraph(format!(
            "No measurement known here tells {first} from {second}. Look at {}.",
            looks.join("; then ")
        ));
        return;
    };
    part.section(format!("To tell (1) {first} from (2) {second}, measure:"))
        .list([words::next(best, answer.electric, units)]);
    let mut part = document.at(Level::Detail);
    part.list(
        others
            .iter()
            .take(2)
            .map(|step| words::next(step, answer.electric, units)),
    );
    if let Some(absent) = answer.next.iter().find(|step| step.absent_channel) {
        part.paragraph(format!(
            "Of the channels missing from this log, {} would help most.",
            words::measured(absent.measurement, answer.electric)
        ));
    }
}

/// What this log cannot show.
fn not_shown(document: &mut Document, answer: &Answer) {
    if answer.cannot_show.is_empty() {
        return;
    }
    document
        .at(Level::Detail)
        .space()
        .section("This log cannot show")
        .list(
            answer
                .cannot_show
                .iter()
                .map(|blind| words::blind(blind, answer.electric)),
        );
}

/// What to look after before the car is pulled again.
fn cautions(document: &mut Document, answer: &Answer, units: Units) {
    if answer.cautions.is_empty() {
        return;
    }
    document
        .at(Level::Brief)
        .space()
        .section("Before the next pull")
        .list(most(&answer.cautions, MOST_CAUTIONS, units));
    document
        .at(Level::Detail)
        .space()
        .section("Before the next pull")
        .list(
            answer
                .cautions
                .iter()
                .map(|caution| caution.point_in(units)),
        );
}
