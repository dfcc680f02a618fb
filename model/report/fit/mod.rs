//! The account of a calibration, to be read.
//!
//! A low residual alone proves little, so what became of each number stands beside it. A sign that the file does not describe the car comes
//! first and is set apart, so that it is not read over.

mod words;

pub(super) use words::{bound, channel, check, gate_name, stop};
pub use words::{gate, origin, reservations};

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report, chart};
use crate::ask::fit::{FitAnswer, LearntLine};
use crate::ask::guard;
use crate::files::starter::{Converted, of_the_trade};
use crate::units::show_number;
use serde::Serialize;

/// A fit with where its car went.
#[derive(Debug, Clone, Serialize)]
pub struct FitReport {
    /// The account.
    #[serde(flatten)]
    pub answer: FitAnswer,
    /// What became of each recording before the fit.
    pub recordings: Vec<guard::Answer>,
    /// Where the fitted car was written; none where it was not.
    pub written: Option<String>,
}

impl Report for FitReport {
    const SCHEMA: &'static str = "pullcast/fit/2";

    fn document(&self, units: Units) -> Document {
        let answer = &self.answer;
        let mut document = Document::new();
        document.at(Level::Answer).title(words::headline(answer));
        document.append(misfits(answer, units));
        document.at(Level::Answer).list(remarks(answer, units));
        learnt_most(&mut document, answer, units);
        let on_trust = super::guard::on_trust(&self.recordings);
        document.at(Level::Answer).list(on_trust);
        if let Some(path) = &self.written {
            document
                .at(Level::Answer)
                .space()
                .line(format!("Fitted car written to {path}"));
        }
        document
            .at(Level::Answer)
            .chart(chart::fit::chart(answer, units));
        residuals(&mut document, answer, units);
        scales(&mut document, answer, units);
        outliers(&mut document, answer, units);
        changes(&mut document, answer, units);
        document
    }
}

/// Most signs of a wrong car file in the answer; the others stand among the details.
const MOST_MISFITS: usize = 2;

/// Every sign that the file does not describe the car, set apart so that it is not read over; empty where there is none.
pub fn misfits(answer: &FitAnswer, units: Units) -> Document {
    let mut document = Document::new();
    for (place, misfit) in answer.misfits.iter().enumerate() {
        let level = if place < MOST_MISFITS {
            Level::Answer
        } else {
            Level::Detail
        };
        document
            .at(level)
            .labelled("!!  ", words::misfit(misfit, units), 4);
    }
    if !answer.misfits.is_empty() {
        document.at(Level::Answer).space();
    }
    document
}

/// The few sentences that a quote shows of its own fit.
pub fn remarks(answer: &FitAnswer, units: Units) -> Vec<String> {
    let visits = answer.visits.len();
    let mut misses = format!(
        "the fitted car misses measured power by {} on average (root mean square)",
        units.show(What::Percent, answer.power_rms)
    );
    if let Some(worst) = &answer.worst {
        add!(misses, "; worst point: {}", words::point(worst, units));
    }
    vec![
        format!(
            "{} pull{} from {visits} visit{}; {}",
            answer.pulls.len(),
            if answer.pulls.len() == 1 { "" } else { "s" },
            if visits == 1 { "" } else { "s" },
            words::convergence(answer)
        ),
        misses,
        words::not_pinned_down(answer),
    ]
}

fn residuals(document: &mut Document, answer: &FitAnswer, units: Units) {
    let mut table = TextTable::new("lrrrl");
    table.row(["rpm", "mean %", "rms %", "points"]);
    for band in &answer.bands {
        // A stroke of a tenth of a per cent for each mark, left of the line below the model, right above.
        table.row([
            format!("{:.0} to {:.0}", band.from_rpm, band.to_rpm),
            format!("{:+.2}", 100.0 * band.mean),
            format!("{:.2}", 100.0 * band.rms),
            band.count.to_string(),
            bar(band.mean),
        ]);
    }
    let mut part = document.at(Level::Detail);
    part.space()
        .section("Measured power against the fitted car, by engine speed")
        .table(table);
    for line in &answer.channels {
        part.line(format!(
            "  {}: off by {} (root mean square)",
            words::channel(line.channel),
            units.show(words::difference(line.channel), line.rms)
        ));
    }
}

fn scales(document: &mut Document, answer: &FitAnswer, units: Units) {
    let mut table = TextTable::new("lr");
    for visit in &answer.visits {
        table.row([
            format!("visit {}", visit.visit),
            units.show_change(What::Percent, visit.scale),
            format!("± {}", units.show(What::Percent, visit.sd)),
        ]);
    }
    for pull in &answer.pulls {
        table.row([
            format!("pull {}", pull.pull),
            units.show_change(What::Percent, pull.scale),
            format!("rms {}", units.show(What::Percent, pull.rms)),
        ]);
    }
    document
        .at(Level::Detail)
        .space()
        .section("Level of each visit and pull against the fitted car")
        .table(table);
}

fn outliers(document: &mut Document, answer: &FitAnswer, units: Units) {
    const SHOWN: usize = 10;
    if answer.outliers.is_empty() {
        return;
    }
    let shown = answer.outliers.iter().take(SHOWN);
    let more = answer.outliers.len().saturating_sub(SHOWN);
    let rest = (more > 0).then(|| format!("and {more} more"));
    document
        .at(Level::Detail)
        .space()
        .section("Points ignored as outliers")
        .list(shown.map(|point| words::point(point, units)).chain(rest));
}

/// Numbers shown in the answer: those that the pulls narrowed most.
const MOST_CHANGES: usize = 4;

/// What the pulls told most about.
fn learnt_most(document: &mut Document, answer: &FitAnswer, units: Units) {
    if answer.learnt.is_empty() {
        return;
    }
    let mut table = change_table();
    for line in answer.learnt.iter().take(MOST_CHANGES) {
        table.row(change_row(line, units));
    }
    document
        .at(Level::Brief)
        .space()
        .section("What the fit changed most")
        .table(table);
}

fn change_table() -> TextTable {
    let mut table = TextTable::new("lr");
    table.head(["input", "before", "after", "narrowed"]);
    table
}

fn change_row(line: &LearntLine, units: Units) -> [String; 4] {
    let shown = Shown::of(units, line.unit, line.before);
    let tolerance = |centre: f64, sd: f64| {
        let centre = show_number(shown.value(centre), 4);
        if line.doubt_is_factor {
            let factor = show_number(sd.exp(), 3);
            format!("{} */ {factor}", with_unit(&centre, shown.unit))
        } else {
            let doubt = show_number(shown.difference(sd), 2);
            with_unit(&format!("{centre} ± {doubt}"), shown.unit)
        }
    };
    [
        line.path.to_owned(),
        tolerance(line.before, line.before_doubt),
        tolerance(line.after, line.after_doubt),
        format!("{:.0} %", 100.0 * line.shrinkage),
    ]
}

fn changes(document: &mut Document, answer: &FitAnswer, units: Units) {
    let mut table = change_table();
    for line in &answer.learnt {
        table.row(change_row(line, units));
    }
    let on_bounds = answer.learnt.iter().filter_map(|line| {
        let bound = line.on_bound?;
        Some(format!("{} ended {}", line.path, words::bound(bound)))
    });
    let mut part = document.at(Level::Detail);
    part.space()
        .section("What the fit changed")
        .table(table)
        .list(on_bounds);
    if let Some(together) = words::known_together(answer) {
        part.space().paragraph(together);
    }
    if !answer.not_informed.is_empty() {
        part.space().labelled(
            "Kept at typical values: ",
            answer.not_informed.join(", "),
            2,
        );
    }
}

/// How a number in the unit of the car file is shown.
pub(super) struct Shown {
    converted: Option<Converted>,
    pub(super) unit: &'static str,
}

impl Shown {
    /// `like`: such a value, where the trade has one unit for small things and another for large ones.
    pub(super) fn of(units: Units, unit: &'static str, like: f64) -> Self {
        let trade = match units {
            Units::Metric => None,
            Units::Shop => of_the_trade(unit, like),
        };
        match trade {
            Some((converted, unit)) => Self {
                converted: Some(converted),
                unit,
            },
            None => Self {
                converted: None,
                unit,
            },
        }
    }

    pub(super) fn value(&self, value: f64) -> f64 {
        self.converted.map_or(value, |c| c.value(value))
    }

    fn difference(&self, difference: f64) -> f64 {
        self.converted
            .map_or(difference, |c| c.difference(difference))
    }
}

fn with_unit(number: &str, unit: &str) -> String {
    if unit.is_empty() {
        number.to_owned()
    } else {
        format!("{number} {unit}")
    }
}

/// `|###` for +0.3 %, `###|` for −0.3 %; longer than 2 % is cut and ends in a `>`.
fn bar(mean: f64) -> String {
    const MOST: usize = 20;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small positive count"
    )]
    let tenths = (mean.abs() * 1000.0).round().min(1e6) as usize;
    let mut marks = "#".repeat(tenths.min(MOST));
    if tenths > MOST {
        marks.push('>');
    }
    if mean < 0.0 {
        let left: String = marks
            .chars()
            .rev()
            .map(|c| if c == '>' { '<' } else { c })
            .collect();
        format!("{left:>21}|")
    } else {
        format!("{:>21}|{marks}", "")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_told_in_the_units_asked_for() {
        let line = |unit, before: f64, before_doubt: f64| LearntLine {
            path: "intake.loss",
            unit,
            before,
            before_doubt,
            after: before,
            after_doubt: before_doubt,
            doubt_is_factor: false,
            shrinkage: 0.5,
            on_bound: None,
        };
        let loss = line("kPa", 6.894757, 0.6894757);
        assert_eq!(change_row(&loss, Units::Metric)[1], "6.895 ± 0.69 kPa");
        assert_eq!(change_row(&loss, Units::Shop)[1], "1.000 ± 0.10 psi");
        // A doubt of a temperature is a difference: 9 °F for 5 °C.
        let wall = line("°C", 100.0, 5.0);
        assert_eq!(change_row(&wall, Units::Shop)[1], "212.0 ± 9.0 °F");
        let speed = line("rpm", 5720.0, 100.0);
        assert_eq!(
            change_row(&speed, Units::Shop),
            change_row(&speed, Units::Metric)
        );
    }

    #[test]
    fn a_bar_points_the_way_the_measurement_lies() {
        assert_eq!(bar(0.003).trim_start(), "|###");
        assert_eq!(bar(-0.002).trim_start(), "##|");
        assert!(bar(-0.5).trim_start().starts_with("<####"));
        assert_eq!(bar(0.0004).trim_start(), "|");
    }
}
