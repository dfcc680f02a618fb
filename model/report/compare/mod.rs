//! Before and after, to be read: the gain over engine speed and at the peaks, with what the air did and what the pulls can tell.
//!
//! The first line is the verdict, because a table of thirty gains invites picking one. Every gain stands three times: as the
//! drums showed it, what the weather did to it, and the gain that remains, with its range.

mod words;

pub use words::gates;
pub(super) use words::{GATES, REMARKS};

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report, chart, site};
use crate::ask::compare::{Answer, GainLine, Set};

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/compare/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(words::headline(self, units))
            .paragraph(words::verdict(self, units))
            .paragraph(sets(self))
            .space()
            .table(peaks(self, units))
            .paragraph(words::level(self, units))
            .chart(chart::compare::chart(self, units));
        document
            .at(Level::Detail)
            .space()
            .section("Power, by engine speed")
            .table(curve(self, units))
            .paragraph(words::ranges(self, units))
            .space()
            .section("Pulls")
            .table(pulls(self, units));
        basis(&mut document, self, units);
        document
    }
}

/// Which pulls are held against which.
fn sets(answer: &Answer) -> String {
    let set = |set: &Set| {
        let count = set.pulls.len();
        let plural = if count == 1 { "" } else { "s" };
        format!("{} ({count} pull{plural})", set.name)
    };
    format!(
        "Before: {}. After: {}.",
        set(&answer.before),
        set(&answer.after)
    )
}

/// The curve as a table for a spreadsheet: percentages and power. What was not corrected has no columns of corrected power, of weather, and
/// of what remains without it.
pub fn csv(answer: &Answer, units: Units) -> String {
    let power = units.symbol(What::Power);
    let (powers, gains) = if answer.corrected {
        (
            format!(",before corrected ({power}),after corrected ({power})"),
            ",from weather (%),gain (%)",
        )
    } else {
        (String::new(), "")
    };
    let mut out = format!(
        "engine speed (rpm),before ({power}),after ({power}){powers},gain as read (%){gains},low (%),high (%)\n"
    );
    for p in &answer.points {
        let mut powers = vec![p.before, p.after];
        let mut shares = vec![p.gain_as_read];
        if answer.corrected {
            powers.extend([p.corrected_before, p.corrected_after]);
            shares.extend([p.gain_of_weather, p.gain]);
        }
        shares.extend([p.gain_low, p.gain_high]);
        add!(out, "{:.0}", p.rpm_before);
        for watt in powers {
            add!(out, ",{:.3}", units.convert(What::Power, watt));
        }
        for share in shares {
            add!(out, ",{:.2}", 100.0 * share);
        }
        out.push('\n');
    }
    out
}

fn peaks(answer: &Answer, units: Units) -> TextTable {
    let mut table = TextTable::new("lr");
    let head = ["", "before", "after", "as read", "weather", "gain", "range"];
    table.row(head);
    for (name, what, line) in [
        ("peak power", What::Power, &answer.peak_power),
        ("peak torque", What::Torque, &answer.peak_torque),
    ] {
        let Some(line) = line else {
            table.row([name, "not compared"]);
            continue;
        };
        let mut row = vec![
            name.to_owned(),
            units.show(what, line.before),
            units.show(what, line.after),
        ];
        row.extend(gains(answer.corrected, line, units));
        table.row(row);
        if answer.corrected {
            table.row([
                "  corrected".to_owned(),
                units.show(what, line.corrected_before),
                units.show(what, line.corrected_after),
            ]);
        }
        table.row([
            "  at rpm".to_owned(),
            units.cell(What::PeakRpm, line.rpm_before),
            units.cell(What::PeakRpm, line.rpm_after),
        ]);
    }
    table
}

fn gains(corrected: bool, line: &GainLine, units: Units) -> [String; 4] {
    let change = |gain| units.show_change(What::Percent, gain);
    let low = units.show_change(What::Percent, line.gain_low);
    let bare = low.trim_end_matches(" %");
    [
        change(line.gain_as_read),
        if corrected {
            change(line.gain_of_weather)
        } else {
            "-".to_owned()
        },
        change(line.gain),
        format!("{bare} to {}", change(line.gain_high)),
    ]
}

fn curve(answer: &Answer, units: Units) -> TextTable {
    let mut table = TextTable::new("r");
    let power = units.symbol(What::Power);
    table.row([
        "rpm", "before", "after", "as read", "weather", "gain", "range", "",
    ]);
    table.row(["", power, power, "", "", "", "", ""]);
    for point in &answer.points {
        let mut row = vec![
            units.cell(What::Rpm, point.rpm_before),
            units.cell(What::Power, point.before),
            units.cell(What::Power, point.after),
        ];
        row.extend(gains(answer.corrected, point, units));
        row.push(if point.stands_out { "*" } else { "" }.to_owned());
        table.row(row);
    }
    table
}

fn pulls(answer: &Answer, units: Units) -> TextTable {
    let sets = [("before", &answer.before), ("after", &answer.after)];
    let all = || sets.iter().flat_map(|(_, set)| &set.pulls);
    let axle = all().any(|p| p.electric_axle.is_some());
    let share = all().any(|p| p.electric_power_w.is_some());
    let mut table = TextTable::new("llr");
    let mut head = vec!["", "", "peak as read", "factor"];
    if axle {
        head.extend(["axle", "battery"]);
    }
    if share {
        head.push("electric share");
    }
    table.row(head);
    for (word, set) in sets {
        for pull in &set.pulls {
            let mut row = vec![
                word.to_owned(),
                pull.name.clone(),
                units.show(What::Power, pull.peak_power_w),
                format!("{:.4}", pull.factor),
            ];
            if axle {
                row.push(match pull.electric_axle {
                    Some(true) => "on".to_owned(),
                    Some(false) => "off".to_owned(),
                    None => "-".to_owned(),
                });
                row.push(
                    pull.charge
                        .map_or_else(|| "-".to_owned(), |c| units.show(What::Percent, c)),
                );
            }
            if share {
                row.push(
                    pull.electric_power_w
                        .map_or_else(|| "-".to_owned(), |w| units.show(What::Power, w)),
                );
            }
            table.row(row);
        }
    }
    table
}

/// Most notes in the answer; the others stand among the details.
const MOST_NOTES: usize = 3;

/// What the gains rest on, and the notes.
fn basis(document: &mut Document, answer: &Answer, units: Units) {
    let forced = answer
        .forced
        .iter()
        .map(|gate| format!("forced: {}", words::gate(gate)));
    // That of peak power stands in the verdict.
    let torque = answer.peak_torque_not_compared.as_ref();
    let over = answer.over_corrected.as_ref();
    let notes: Vec<String> = forced
        .chain(torque.map(|open| format!("peak torque not compared: {}", words::open_peak(open))))
        .chain(over.map(|over| words::over_corrected(over, units)))
        .chain(answer.remarks.iter().map(words::remark))
        .collect();
    let (first, rest) = notes.split_at(notes.len().min(MOST_NOTES));
    if !first.is_empty() {
        document
            .at(Level::Answer)
            .space()
            .section("Notes")
            .list(first.iter().map(String::as_str));
    }
    let mut part = document.at(Level::Detail);
    if !rest.is_empty() {
        part.space()
            .section("More notes")
            .list(rest.iter().map(String::as_str));
    }
    if answer.corrected {
        let name = words::standard_name(answer.standard, units);
        part.space()
            .section(format!("Outside the limits of {name}"))
            .list(breaches("before", &answer.before, units))
            .list(breaches("after", &answer.after, units));
    }
    if !answer.same_visit {
        part.space().paragraph(
            "To resolve smaller changes, make both sets on one day with the car left strapped down, and add --same-visit; \
             alternating before and after is better still.",
        );
    }
}

/// Limits of the standard that a set's days exceed, each once.
fn breaches(when: &str, set: &Set, units: Units) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for breach in &set.breaches {
        let text = format!("{when}: {}", site::breach(breach, units));
        if !found.contains(&text) {
            found.push(text);
        }
    }
    found
}
