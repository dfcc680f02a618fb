//! The quote: the range to promise, what it stands on, what widens it, and what it leaves out.
//!
//! It is written to be read to a customer: the range first, the basis next, then everything that could make it untrue. It
//! refuses to give a middle without its range.

use super::chart::Row;
use super::document::Document;
use super::fit::{self, FitReport};
use super::kind::kind_words;
use super::limits::listed;
use super::number::{Span, Units, What};
use super::table::TextTable;
use super::{Level, Report, interactions};
use crate::ask::cautions::Caution;
use crate::ask::quote::{Answer, Basis, Driver, DriverOrigin, Peaks, Promise, ReadOn};
use crate::belief::parameter;
use crate::files::Code;
use serde::Serialize;

/// A quote as reported.
#[derive(Debug, Clone, Serialize)]
pub struct QuoteReport {
    /// What was answered.
    #[serde(flatten)]
    pub answer: Answer,
    /// The fit made for it, if one was.
    pub fit: Option<FitReport>,
    /// What was odd in the files that the range rests on.
    pub warnings: Vec<Warning>,
}

/// Something odd in a file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Warning {
    /// Stable code.
    pub code: Code,
    /// The file.
    pub file: String,
    /// What is odd.
    pub message: String,
}

/// Drivers that are told; the rest is for programs.
const DRIVERS_TOLD: usize = 8;

impl Report for QuoteReport {
    const SCHEMA: &'static str = "pullcast/quote/2";

    fn document(&self, units: Units) -> Document {
        let answer = &self.answer;
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(format!(
                "Quote: {}, with {}",
                answer.basis.car, answer.basis.plan
            ))
            .paragraph(promise(&answer.promise, units))
            .space();
        if let Some(fit) = &self.fit {
            document.append(fit::misfits(&fit.answer, units));
        }
        peaks(&mut document, answer, units);
        gains(&mut document, answer, units);
        if let Some(found) = &answer.interactions {
            document.append(interactions::document(found, &answer.basis.changes, units));
            document.at(Level::Detail).space();
        }
        document
            .at(Level::Detail)
            .section("Power at the drums, uncorrected")
            .power_chart(rows(answer), units)
            .space()
            .section("Basis")
            .list(self.basis_points(units));
        drivers(&mut document, answer);
        let mut part = document.at(Level::Answer);
        part.space();
        if answer.limits.is_empty() {
            part.line("No limit is met after the work.");
        } else {
            part.section("Limits met after the work")
                .list(answer.limits.iter().map(|limit| limit.point(units)));
        }
        document
            .at(Level::Detail)
            .space()
            .section("Not included")
            .list(answer.not_included.iter().map(|what| what.words()));
        document
            .at(Level::Answer)
            .space()
            .section("Before the pull")
            .list(answer.cautions.iter().map(Caution::point));
        document
    }
}

fn promise(promise: &Promise, units: Units) -> String {
    let (range, middle) = units.told(What::Power, &promise.power_w);
    let (corrected, corrected_middle) = units.told(What::Power, &promise.corrected_power_w);
    let (gain, gain_middle) = units.told_of_change(What::Power, &promise.gain_w);
    let (share, share_middle) = units.told_of_change(What::Percent, &promise.gain);
    let capped = if promise.capped_by.is_empty() {
        String::new()
    } else {
        format!(" That peak is capped: {}.", listed(&promise.capped_by))
    };
    format!(
        "After this work the car should peak at {range} on the drums, uncorrected, most likely near {middle}; corrected by {}, \
         that is {corrected}, most likely near {corrected_middle}. The work should add {gain} or {share} to what the car \
         would read without it on the same day, most likely {gain_middle} or {share_middle}.{capped}",
        promise.correction.name()
    )
}

/// A figure of a peak.
type PeakOf = fn(&Peaks) -> &Span;

/// Peaks before and after, and the correction they are stated in.
fn peaks(document: &mut Document, answer: &Answer, units: Units) {
    let (before, after) = (&answer.before, &answer.after);
    let mut table = TextTable::new("l");
    table.row(["", "before", "after"]);
    let rows: [(_, _, PeakOf); 4] = [
        ("peak power, uncorrected", What::Power, |p| &p.power_w),
        ("peak power, corrected", What::Power, |p| {
            &p.corrected_power_w
        }),
        ("peak torque, uncorrected", What::Torque, |p| &p.torque_nm),
        ("at engine speed", What::PeakRpm, |p| &p.rpm),
    ];
    for (name, what, of) in rows {
        table.row([
            name.to_owned(),
            units.range(what, of(before)),
            units.range(what, of(after)),
        ]);
    }
    let electric = after.electric_power_w.p95 > 0.0;
    if electric {
        let share = |side: &Peaks| units.range(What::Power, &side.electric_power_w);
        table.row([
            "of it electric, never corrected".to_owned(),
            share(before),
            share(after),
        ]);
    }
    let correction = &answer.correction_after;
    let mut part = document.at(Level::Answer);
    part.line("If car, work and drums are as believed, nine readings in ten fall in these ranges.")
        .table(table)
        .space()
        .line(format!("Corrected by {}", correction.line()));
    if (answer.correction_before.factor - correction.factor).abs() > 5e-5 {
        part.line(format!(
            "  on the day of the pulls before, the factor was {:.4}",
            answer.correction_before.factor
        ));
    }
    part.list(correction.breach_points());
    if electric {
        let mut text = String::from("  the electric share is left as observed");
        if correction.changes_power() {
            add!(
                text,
                "; the factor would have changed it by {}",
                units.show_change(What::Power, after.electric_not_added_w)
            );
        }
        part.line(text);
    }
    part.space();
}

fn gains(document: &mut Document, answer: &Answer, units: Units) {
    let share = |span| units.range_of_change(What::Percent, span);
    let against = if answer.basis.read_before_w.is_some() {
        "against the reading before"
    } else {
        "against a pull before"
    };
    let mut table = TextTable::new("l");
    table.row([
        "gain of the car itself, power".to_owned(),
        units.range_of_change(What::Power, &answer.gain_w),
    ]);
    table.row([String::new(), share(&answer.gain)]);
    table.row([
        "gain of the car itself, torque".to_owned(),
        units.range_of_change(What::Torque, &answer.gain_nm),
    ]);
    table.row([
        format!("gain the drums will show {against}"),
        share(&answer.shown_gain),
    ]);
    document.at(Level::Answer).table(table).space();
}

/// Every other engine speed: twice as many rows would show no more.
fn rows(answer: &Answer) -> Vec<Row> {
    let points = answer.curve.iter().step_by(2);
    points
        .map(|point| Row {
            rpm: point.rpm,
            before: point.before_w,
            after: point.after_w,
        })
        .collect()
}

fn drivers(document: &mut Document, answer: &Answer) {
    if answer.drivers.is_empty() {
        return;
    }
    let told = answer.drivers.iter().take(DRIVERS_TOLD);
    document
        .at(Level::Detail)
        .space()
        .section("What widens the gain; a number of car or plan would narrow it if measured")
        .list(told.map(|driver| driver_point(driver, &answer.basis.changes)));
}

fn driver_point(driver: &Driver, changes: &[&str]) -> String {
    let name = driver.number;
    let entry = parameter::find(name);
    let (number, meaning) = match (driver.origin, driver.change) {
        (DriverOrigin::Model, _) => (
            name.to_owned(),
            "what the model may miss of a gain".to_owned(),
        ),
        (_, Some(place)) => {
            let change = changes.get(place - 1).map_or("change", |id| kind_words(id));
            (
                format!("change {place}, {name}"),
                format!("{} of the {change}", name.replace('_', " ")),
            )
        }
        (_, None) => (
            name.to_owned(),
            entry.map_or(name, |e| e.meaning).to_owned(),
        ),
    };
    let basis = entry
        .filter(|_| driver.origin == DriverOrigin::Default)
        .map_or_else(String::new, |e| format!(" ({})", e.basis));
    let direction = if driver.raises {
        "more of it means more gain"
    } else {
        "more of it means less gain"
    };
    format!(
        "{:.0} %  {meaning} [{number}], {}{basis}; {direction}",
        100.0 * driver.share,
        origin(driver.origin)
    )
}

/// Whose number it is, as it stands behind the number.
pub(super) const fn origin(origin: DriverOrigin) -> &'static str {
    match origin {
        DriverOrigin::Given => "as given in the car file",
        DriverOrigin::Default => "a default",
        DriverOrigin::Fitted => "as the fit left it",
        DriverOrigin::Plan => "from the plan",
        DriverOrigin::Model => "and nothing measured before the work narrows it",
    }
}

impl QuoteReport {
    fn basis_points(&self, units: Units) -> Vec<String> {
        let basis = &self.answer.basis;
        let odd = |w: &Warning| format!("!! {}: {}", w.file, w.message);
        let mut points: Vec<String> = self.warnings.iter().map(odd).collect();
        points.push(match (&self.fit, basis.fitted) {
            (Some(fit), _) => format!(
                "the car as calibrated on {} measured pull{}",
                fit.answer.pulls.len(),
                if fit.answer.pulls.len() == 1 { "" } else { "s" }
            ),
            (None, true) => "a fitted car file".to_owned(),
            (None, false) => {
                "a car file without measured pulls: calibrate it on a visit to narrow the range"
                    .to_owned()
            }
        });
        points.extend(self.fit.iter().flat_map(|fit| {
            let on_trust = super::guard::on_trust(&fit.recordings);
            let remarks = fit::remarks(&fit.answer, units);
            remarks.into_iter().chain(on_trust.map(str::to_owned))
        }));
        points.extend(read_before(basis, units));
        for (side, air) in [
            ("before", &basis.weather_before),
            ("after", &basis.weather_after),
        ] {
            points.push(format!("air {side}: {}", air.line(units)));
        }
        let share = |x| units.show(What::Percent, x);
        points.push(format!(
            "drums repeat to {} from visit to visit and {} from pull to pull (one standard deviation)",
            share(basis.visit_repeatability),
            share(basis.pull_repeatability)
        ));
        points.push(format!(
            "the model may miss {} of a gain (one standard deviation), whatever is measured before the work",
            share(basis.transfer)
        ));
        points.extend(basis.by_cycle.iter().map(|by| by.line(units)));
        points.push(format!(
            "{} draws of car, work and drums together, seed {}",
            basis.draws, basis.seed
        ));
        if basis.draws_failed > 0 {
            points.push(format!(
                "{} draws could not make the pull and are left out",
                basis.draws_failed
            ));
        }
        points
    }
}

fn read_before(basis: &Basis, units: Units) -> Option<String> {
    let read = units.show(What::Power, basis.read_before_w?);
    let on = basis
        .read_on
        .as_ref()
        .map_or_else(String::new, |on| format!(", {}", read_on(on)));
    Some(format!("read before, uncorrected: {read}{on}"))
}

fn read_on(on: &ReadOn) -> String {
    let place = if on.visits > 1 {
        format!(", the last of the {} visits named", on.visits)
    } else {
        String::new()
    };
    let of = if on.pulls == 1 {
        "the peak of 1 pull".to_owned()
    } else {
        format!("the mean peak of {} pulls", on.pulls)
    };
    format!("{of} of visit '{}'{place}", on.visit)
}
