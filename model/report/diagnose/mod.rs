//! Why a pull looks wrong, in the words of the trade: the causes with their chances, what each makes of the log, and the next
//! measurement.
//!
//! A chance is told only as finely as it means something, a size with the range that holds it nine times in ten.

mod words;

pub(super) use words::{REMARKS, channel, fact, measurement, verdict_name};

use super::number::{Units, What};
use super::{Document, Level, Report};
use crate::ask::diagnose::{Answer, IN_FULL, SuspectLine};
use crate::diagnose::{Cause, Remark};

/// Chances below this are not told in the text.
const LEAST_TOLD: f64 = 0.005;

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/diagnose/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        found(&mut document, self, units);
        let likely = self.suspects.iter().filter(|s| s.probability >= IN_FULL);
        for (place, suspect) in likely.enumerate() {
            let level = if place == 0 {
                Level::Answer
            } else {
                Level::Detail
            };
            in_full(&mut document, level, suspect, units);
        }
        less_likely(&mut document, self);
        tell_more(&mut document, self, units);
        if !self.cautions.is_empty() {
            document
                .at(Level::Answer)
                .space()
                .title("Before the next pull")
                .list(self.cautions.iter().map(|caution| caution.point_in(units)));
        }
        document
    }
}

/// The verdict, what it was held against, and what is odd about the question.
fn found(document: &mut Document, answer: &Answer, units: Units) {
    let mut part = document.at(Level::Answer);
    part.title(format!(
        "{}: what is wrong with '{}'",
        answer.car, answer.pull
    ));
    let (before, after): (Vec<&Remark>, Vec<&Remark>) = answer
        .remarks
        .iter()
        .partition(|remark| matches!(remark, Remark::GoodPullsAreAnotherCar { .. }));
    if let Some(remark) = before.first() {
        part.paragraph(format!("Mind: {}.", words::remark(remark)))
            .space();
    }
    part.paragraph(format!("{}.", capital(&words::verdict(answer))))
        .space();
    let against = match answer.good_pulls {
        0 => "no good pull was named, so the model alone says what to expect (--good names visits with good pulls)".to_owned(),
        1 => "held against one good pull".to_owned(),
        n => format!("held against {n} good pulls"),
    };
    let channels: Vec<&str> = answer.channels.iter().map(|c| channel(*c)).collect();
    let power = |w: f64| units.show(What::Power, w);
    part.paragraph(format!(
        "Peak read: {}. A sound pull of this car in the air entered would have read {}; {against}. Channels used: {}.",
        power(answer.peak_read_w),
        power(answer.peak_expected_w),
        channels.join(", ")
    ))
    .list(after.into_iter().map(words::remark));
    if !answer.fitted {
        part.paragraph(
            "The car file is not a fitted one: what a fault changes is then known less well (see `fit --out`).",
        );
    }
}

/// A cause with everything about it.
fn in_full(document: &mut Document, level: Level, suspect: &SuspectLine, units: Units) {
    let mut rows: Vec<(&str, String)> = suspect
        .sizes
        .iter()
        .map(|size| (size.name, words::size(size, units)))
        .collect();
    rows.extend(words::power(suspect, units).map(|text| ("power", text)));
    let none = suspect.cause == Cause::NoneOfThese;
    for (head, signs) in [("seen", &suspect.signs), ("not explained", &suspect.left)] {
        for (index, sign) in signs.iter().enumerate() {
            let head = if index == 0 { head } else { "" };
            rows.push((head, words::sign(sign, none, units)));
        }
    }
    let look_at = suspect.cause.look_at();
    if !look_at.is_empty() {
        rows.push(("look at", look_at.to_owned()));
    }
    let width = rows.iter().map(|r| r.0.chars().count()).max().unwrap_or(0) + 4;
    let mut part = document.at(level);
    part.space().section(format!(
        "{}, chance {}",
        capital(&words::full_name(suspect)),
        chance(suspect.probability)
    ));
    for (head, text) in rows {
        part.labelled(format!("  {head}"), text, width);
    }
}

fn less_likely(document: &mut Document, answer: &Answer) {
    let told = |s: &&SuspectLine| (LEAST_TOLD..IN_FULL).contains(&s.probability);
    let rest: Vec<String> = answer
        .suspects
        .iter()
        .filter(told)
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
    let (first, second) = (first.cause.name(), second.cause.name());
    let mut part = document.at(Level::Answer);
    part.space().title("What would tell more");
    if answer.next.is_empty() {
        part.paragraph(format!(
            "Nothing this program can predict tells {first} from {second} apart; make the same pull again."
        ));
        return;
    }
    part.paragraph(format!(
        "To tell {first} from {second}, the likeliest two of those named:"
    ))
    .list(
        answer
            .next
            .iter()
            .take(3)
            .map(|step| words::next(step, answer.electric, units)),
    );
    if let Some(absent) = answer.next.iter().find(|step| step.absent_channel) {
        part.paragraph(format!(
            "Of the channels this log lacks, {} would help most.",
            words::measured(absent.measurement, answer.electric)
        ));
    }
}

/// A chance as far as it can be told.
fn chance(probability: f64) -> String {
    if probability >= 0.99 {
        "over 99 %".to_owned()
    } else if probability < 0.01 {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", 100.0 * probability)
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}
