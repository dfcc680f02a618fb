//! Before and after, to be read: the gain over engine speed and at the peaks, with what the air did and what the pulls can tell.
//!
//! The first sentence is the verdict, because a table of thirty gains invites picking one. Every gain stands three times: as the
//! drums showed it, what the weather did to it, and what remains with its range.

mod words;

pub use words::gates;
pub(super) use words::{GATES, REMARKS};

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::compare::{Answer, GainLine, Set};

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/compare/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(format!(
                "Compare: {}, then {}",
                self.before.name, self.after.name
            ))
            .paragraph(words::verdict(self, units))
            .space()
            .table(peaks(self, units))
            .space();
        document
            .at(Level::Detail)
            .table(curve(self, units))
            .paragraph(words::ranges(self, units))
            .space()
            .section("Pulls")
            .table(pulls(self, units))
            .space();
        basis(&mut document, self, units);
        document
    }
}

/// The curve as a table for a spreadsheet: percentages and kW. What was not corrected has no columns of corrected power, of weather, and
/// of what remains without it.
pub fn csv(answer: &Answer) -> String {
    let (powers, gains) = if answer.corrected {
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
    for p in &answer.points {
        let mut kilowatts = vec![p.before, p.after];
        let mut shares = vec![p.gain_as_read];
        if answer.corrected {
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

fn peaks(answer: &Answer, units: Units) -> TextTable {
    let mut table = TextTable::new("lr");
    let head = [
        "", "before", "after", "as read", "weather", "remains", "range",
    ];
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
        "rpm", "before", "after", "as read", "weather", "remains", "range", "",
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
        head.extend(["axle", "start charge"]);
    }
    if share {
        head.push("electric at peak");
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

/// What the gains rest on, and what to mind.
fn basis(document: &mut Document, answer: &Answer, units: Units) {
    // That of peak power stands in the verdict.
    let torque = answer.peak_torque_not_compared.as_ref();
    document.at(Level::Answer).list(
        torque.map(|open| format!("peak torque is not compared: {}", words::open_peak(open))),
    );
    if answer.corrected {
        let name = words::standard_name(answer.standard);
        document
            .at(Level::Detail)
            .line(format!("Correction: {name}"))
            .list(breaches("before", &answer.before))
            .list(breaches("after", &answer.after));
    }
    let over = answer.over_corrected.as_ref();
    let forced = answer
        .forced
        .iter()
        .map(|gate| format!("forced: {}", words::gate(gate)));
    document
        .at(Level::Answer)
        .list(over.map(|over| words::over_corrected(over, units)))
        .list(answer.remarks.iter().map(words::remark))
        .list(forced);
    if !answer.same_visit {
        document.at(Level::Detail).list([
            "to tell smaller changes apart, make both sets on one day without taking the car off the drums, and say \
             --same-visit; before and after in turn is better still",
        ]);
    }
}

/// Limits of the standard that a set's days exceed, each once.
fn breaches(when: &str, set: &Set) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for breach in &set.breaches {
        let text = format!("{when}, outside what the standard states: {breach}");
        if !found.contains(&text) {
            found.push(text);
        }
    }
    found
}
