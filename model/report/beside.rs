//! Plans of one car side by side: what each may be promised to read, what it gains, and what stands in its way.
//!
//! It exists for the talk over the counter, where three builds are weighed against each other. The draws of car and drums are the same for all of
//! them, so a difference between two plans is the plans' own. It refuses to name a best one: it knows no price.

use super::document::Document;
use super::number::{Span, Units, What, chance};
use super::table::TextTable;
use super::{Level, chart, limits};
use crate::ask::quote::{Answer, Peaks};

/// Plans that stand side by side at most.
pub const MOST: usize = 4;

/// The plans of one car, each with its quote, the first [`MOST`] of them.
pub fn document(quotes: &[Answer], units: Units) -> Document {
    let quotes = &quotes[..quotes.len().min(MOST)];
    let mut document = Document::new();
    let Some(first) = quotes.first() else {
        return document;
    };
    let names = names(quotes);
    let plans: Vec<(&str, &Answer)> = names.iter().map(String::as_str).zip(quotes).collect();
    document.at(Level::Answer).table(figures(&plans, units));
    for chart in chart::beside::charts(&plans, units) {
        document.at(Level::Answer).chart(chart);
    }
    let mut part = document.at(Level::Answer);
    part.section("What stands in the way");
    for (name, answer) in &plans {
        part.labelled(
            format!("{name}: "),
            limits::brief(&answer.limits, &answer.promise.capped_by),
            0,
        );
    }
    document.at(Level::Brief).paragraph(format!(
        "{} Air of the pull after: {}. The same draws of car and drums stand behind all of them.",
        first.correction_after.brief(),
        first.basis.weather_after.line(units)
    ));
    document
}

/// Names to tell them by: the plan's own, with its place where two are called alike.
fn names(quotes: &[Answer]) -> Vec<String> {
    let own = |answer: &Answer| answer.basis.plan.clone();
    let alike = |name: &str| quotes.iter().filter(|q| q.basis.plan == name).count() > 1;
    let named = |(place, answer): (usize, &Answer)| {
        let name = own(answer);
        if alike(&name) {
            format!("{} {name}", place + 1)
        } else {
            name
        }
    };
    quotes.iter().enumerate().map(named).collect()
}

fn figures(plans: &[(&str, &Answer)], units: Units) -> TextTable {
    let mut table = TextTable::new("lr");
    let head = ["", "as it stands"].into_iter().map(str::to_owned);
    table.head(head.chain(plans.iter().map(|(name, _)| (*name).to_owned())));
    let mut row = |name: &str, before: String, of: &dyn Fn(&Answer) -> String| {
        let cells = [name.to_owned(), before].into_iter();
        table.row(cells.chain(plans.iter().map(|(_, answer)| of(answer))));
    };
    let power = |w: f64| units.show(What::Power, w);
    let before = plans.first().map(|(_, answer)| &answer.before);
    let stood = |what: What, of: fn(&Peaks) -> &Span| {
        before.map_or_else(String::new, |peaks| units.show(what, of(peaks).p50))
    };
    row("promise, uncorrected", String::new(), &|a| {
        power(a.promise.sure.power_w)
    });
    row("expect", stood(What::Power, |p| &p.power_w), &|a| {
        units.range_and_middle(What::Power, &a.after.power_w).1
    });
    row("range", String::new(), &|a| {
        units.range_and_middle(What::Power, &a.after.power_w).0
    });
    row(
        "expect, corrected",
        stood(What::Power, |p| &p.corrected_power_w),
        &|a| {
            units
                .range_and_middle(What::Power, &a.after.corrected_power_w)
                .1
        },
    );
    row("peak torque", stood(What::Torque, |p| &p.torque_nm), &|a| {
        units.range_and_middle(What::Torque, &a.after.torque_nm).1
    });
    row("gain on the same day", String::new(), &|a| {
        units
            .range_and_middle_of_change(What::Power, &a.promise.gain_w)
            .1
    });
    row("its range", String::new(), &|a| {
        units
            .range_and_middle_of_change(What::Power, &a.promise.gain_w)
            .0
    });
    row("peak near", stood(What::PeakRpm, |p| &p.rpm), &|a| {
        units.show(What::PeakRpm, a.after.rpm.p50)
    });
    if plans.iter().any(|(_, a)| a.expected.boost_pa.p50 > 0.0) {
        row("boost at the peak", String::new(), &|a| {
            if a.expected.boost_pa.p50 > 0.0 {
                units
                    .range_and_middle(What::Pressure, &a.expected.boost_pa)
                    .1
            } else {
                "-".to_owned()
            }
        });
    }
    row("intake air (IAT) there", String::new(), &|a| {
        units
            .range_and_middle(What::Temperature, &a.expected.charge_k)
            .1
    });
    if plans.iter().any(|(_, a)| a.hoped.is_some()) {
        row("chance to miss what is hoped for", String::new(), &|a| {
            a.hoped.map_or_else(|| "-".to_owned(), |h| chance(h.missed))
        });
    }
    table
}
