//! The account of a calibration, to be read.
//!
//! A low residual alone proves little, so what became of each number stands beside it. A sign that the file does not describe the car comes
//! first and is set apart, so that it is not read over.

mod words;

pub(super) use words::{bound, channel, check, gate_name, stop};
pub use words::{gate, origin};

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::fit::FitAnswer;
use crate::ask::guard;
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
        document
            .at(Level::Answer)
            .title(format!("Fit: {}", answer.car));
        document.append(misfits(answer, units));
        document.at(Level::Answer).list(remarks(answer, units));
        let on_trust = super::guard::on_trust(&self.recordings);
        document.at(Level::Answer).list(on_trust);
        residuals(&mut document, answer, units);
        scales(&mut document, answer, units);
        outliers(&mut document, answer, units);
        learnt(&mut document, answer);
        if let Some(path) = &self.written {
            document
                .at(Level::Answer)
                .space()
                .line(format!("Fitted car written to {path}"));
        }
        document
    }
}

/// Every sign that the file does not describe the car, set apart so that it is not read over; empty where there is none.
pub fn misfits(answer: &FitAnswer, units: Units) -> Document {
    let mut document = Document::new();
    let mut part = document.at(Level::Answer);
    for misfit in &answer.misfits {
        part.labelled("!!  ", words::misfit(misfit, units), 4);
    }
    if !answer.misfits.is_empty() {
        part.space();
    }
    document
}

/// The few sentences that a quote shows of its own fit.
pub fn remarks(answer: &FitAnswer, units: Units) -> Vec<String> {
    let visits = answer.visits.len();
    let mut followed = format!(
        "power is followed to {} (root mean square)",
        units.show(What::Percent, answer.power_rms)
    );
    if let Some(worst) = &answer.worst {
        add!(followed, "; worst point: {}", words::point(worst, units));
    }
    vec![
        format!(
            "{} pull{} in {visits} visit{}; the search took {} steps: {}",
            answer.pulls.len(),
            if answer.pulls.len() == 1 { "" } else { "s" },
            if visits == 1 { "" } else { "s" },
            answer.iterations,
            words::stop(answer.stop)
        ),
        followed,
        words::not_pinned_down(answer),
    ]
}

fn residuals(document: &mut Document, answer: &FitAnswer, units: Units) {
    let mut table = TextTable::new("lrrrl");
    table.row(["rpm", "mean %", "rms %", "bands"]);
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
        .section("Power, measured over model, by engine speed")
        .table(table);
    for line in &answer.channels {
        part.line(format!(
            "  {} off by {} (root mean square)",
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
        .section("Scales")
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
        .section("Bands the fit let go of")
        .list(shown.map(|point| words::point(point, units)).chain(rest));
}

fn learnt(document: &mut Document, answer: &FitAnswer) {
    let mut table = TextTable::new("lr");
    table.row(["number", "before", "after", "doubt taken away"]);
    for l in &answer.learnt {
        let doubt = |centre: f64, sd: f64| {
            if l.doubt_is_factor {
                format!(
                    "{} */ {}",
                    with_unit(&show_number(centre, 4), l.unit),
                    show_number(sd.exp(), 3)
                )
            } else {
                with_unit(
                    &format!("{} ± {}", show_number(centre, 4), show_number(sd, 2)),
                    l.unit,
                )
            }
        };
        table.row([
            l.path.to_owned(),
            doubt(l.before, l.before_doubt),
            doubt(l.after, l.after_doubt),
            format!("{:.0} %", 100.0 * l.shrinkage),
        ]);
    }
    let on_bounds = answer.learnt.iter().filter_map(|l| {
        let bound = l.on_bound?;
        Some(format!("{} ended {}", l.path, words::bound(bound)))
    });
    let mut part = document.at(Level::Detail);
    part.space()
        .section("What became of the numbers")
        .table(table)
        .list(on_bounds);
    if !answer.not_informed.is_empty() {
        // The break counts as a letter of the first line, which so stays one shorter.
        part.labelled("\nLeft as believed: ", answer.not_informed.join(", "), 2);
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
    fn a_bar_points_the_way_the_measurement_lies() {
        assert_eq!(bar(0.003).trim_start(), "|###");
        assert_eq!(bar(-0.002).trim_start(), "##|");
        assert!(bar(-0.5).trim_start().starts_with("<####"));
        assert_eq!(bar(0.0004).trim_start(), "|");
    }
}
