//! The answer to "what does it take": one value of one number of the plan, or what stands in the way.
//!
//! "Not reachable, because" is an answer like any other: it names the limit, where it begins, and how far one gets without it. The
//! values tried stand below, so that nobody has to take one number on trust.

use super::document::Document;
use super::fit::FitReport;
use super::number::{Units, What, chance};
use super::quote::contradicted;
use super::table::TextTable;
use super::{Level, Report, cautions, limits};
use crate::ask::limits::Met;
use crate::ask::quote::reach::{Bar, Spot};
use crate::ask::quote::{Outcome, Reached};
use crate::parts::Shown;
use serde::Serialize;

/// What was asked and found, as reported.
#[derive(Debug, Clone, Serialize)]
pub struct ReachReport {
    /// What was answered.
    #[serde(flatten)]
    pub answer: Reached,
    /// The fit made for it, if one was.
    pub fit: Option<FitReport>,
}

impl Bar {
    fn name(&self) -> &'static str {
        match self.limit {
            Met::Stalled => "the car cannot accelerate these drums",
            Met::Limit(limit) => limit.words(),
        }
    }

    fn words(&self, units: Units) -> String {
        let name = self.name();
        match (self.from_rpm, self.to_rpm) {
            (Some(from), Some(to)) if from < to => format!(
                "{name}, from {} to {}",
                units.cell(What::Rpm, from),
                units.show(What::Rpm, to)
            ),
            (Some(from), _) => format!("{name}, at {}", units.show(What::Rpm, from)),
            _ => name.to_owned(),
        }
    }
}

impl Report for ReachReport {
    const SCHEMA: &'static str = "pullcast/reach/2";

    fn document(&self, units: Units) -> Document {
        let reached = &self.answer;
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(self.headline(units))
            .paragraph(format!(
                "Car: {}, with {}. {}",
                reached.car,
                reached.plan,
                self.sentence(units)
            ));
        if let Some(fit) = &self.fit {
            contradicted(&mut document, fit, units);
        }
        if let Some(best) = reached.answer.best() {
            self.spot(&mut document, best, units);
        }
        document
            .at(Level::Detail)
            .space()
            .section(format!("Tried: {}", reached.number.words()))
            .table(self.trials(units))
            .space()
            .section("Basis")
            .list(self.basis_points(units));
        document
    }
}

impl ReachReport {
    /// A value of the number, as a shop writes it.
    fn value(&self, value: f64, units: Units) -> String {
        match self.answer.number.shown() {
            Shown::Rpm => units.show(What::Rpm, value),
            Shown::PerCent => format!("{:.1} %", 100.0 * value),
            Shown::Tenths => format!("{value:.1}"),
            Shown::Plain => format!("{value:.3}"),
        }
    }

    fn figure(&self) -> &'static str {
        if self.answer.corrected {
            "corrected"
        } else {
            "uncorrected"
        }
    }

    /// The number to promise and its chance, or that there is none.
    fn headline(&self, units: Units) -> String {
        let reached = &self.answer;
        let Some(best) = reached.answer.best() else {
            return "Not reachable: promise nothing with this plan.".to_owned();
        };
        let sure = units.show(What::Power, best.sure_w);
        let figure = self.figure();
        let asked = chance(reached.chance);
        if reached.answer.reachable() {
            format!("Promise {sure} on the drums, {figure} ({asked} chance).")
        } else {
            let target = units.show(What::Power, reached.target_w);
            format!(
                "{target} is out of reach: {sure} is the most to promise, {figure} ({asked} chance)."
            )
        }
    }

    fn sentence(&self, units: Units) -> String {
        let reached = &self.answer;
        let power = |w| units.show(What::Power, w);
        let value = |v| self.value(v, units);
        let asked = chance(reached.chance);
        let (target, number) = (power(reached.target_w), reached.number.words());
        let figure = self.figure();
        let gets = |best: &Spot| {
            format!(
                "{} {figure} with {asked} chance, {} short",
                power(best.sure_w),
                power(best.short_w)
            )
        };
        match &reached.answer {
            Outcome::AsPlanned(best) => format!(
                "The plan does it as it stands ({number}: {}): the drums read {target} or more, {figure}, with {} chance \
                 ({asked} asked for), and no limit stands in the way of the likeliest car.",
                value(best.value),
                chance(best.chance)
            ),
            Outcome::At(best) => format!(
                "It takes {} ({number}; the plan has {}): the drums then read {target} or more, {figure}, with {asked} chance, \
                 and no limit stands in the way of the likeliest car.",
                value(best.value),
                value(reached.planned)
            ),
            Outcome::Barred {
                best: None, bar, ..
            } => format!(
                "Every value of the {number} from {} to {} crosses a limit. As planned, {}. {}",
                value(reached.range.0),
                value(reached.range.1),
                bar.words(units),
                bar.limit.remedy()
            ),
            Outcome::Barred {
                best: Some(best),
                from,
                bar,
            } => format!(
                "A limit is in the way from {} on ({number}): {}. {} Just short of it, at {}, you get {}.",
                value(*from),
                bar.words(units),
                bar.limit.remedy(),
                value(best.value),
                gets(best)
            ),
            Outcome::OutOfRange { best } => format!(
                "The {number} ends at {}; there you get {}.",
                value(best.value),
                gets(best)
            ),
            Outcome::Levels { best, over } => format!(
                "Power levels off: from {} to {} ({number}) it stays the same. At {} you get {}.",
                value(over.0),
                value(over.1),
                value(best.value),
                gets(best)
            ),
            Outcome::Turns { best } => format!(
                "Power peaks at {} ({number}): more and less both give less. There you get {}.",
                value(best.value),
                gets(best)
            ),
        }
    }

    fn spot(&self, document: &mut Document, spot: &Spot, units: Units) {
        let (reached, peak) = (&self.answer, &spot.peak);
        let mut table = TextTable::new("l");
        table.row([
            format!("peak power, {}", self.figure()),
            units.range(What::Power, &spot.power_w),
        ]);
        table.row([
            format!("chance of {}", units.show(What::Power, reached.target_w)),
            chance(spot.chance),
        ]);
        table.row(["peak near".to_owned(), units.show(What::PeakRpm, peak.rpm)]);
        if peak.blower_ratio.is_some() || peak.boost_pa > 0.0 {
            table.row([
                "boost there".to_owned(),
                units.show(What::Pressure, peak.boost_pa),
            ]);
        }
        if let Some(pulley) = &spot.pulley {
            let words = match pulley.diameters_m {
                Some((from, to)) => format!(
                    "{} in place of {}",
                    units.show(What::Length, to),
                    units.show(What::Length, from)
                ),
                None => format!(
                    "{} of the diameter of the one it replaces",
                    units.show(What::Percent, pulley.smaller_by)
                ),
            };
            table.row(["pulley on the blower".to_owned(), words]);
        }
        if let Some(ratio) = peak.blower_ratio {
            table.row(["blower drive ratio".to_owned(), format!("{ratio:.3}")]);
        }
        table.row([
            "intake air (IAT) there".to_owned(),
            units.show(What::Temperature, peak.charge_k),
        ]);
        let mut part = document.at(Level::Answer);
        part.space()
            .section(format!(
                "At {} (1 pull in 20 reads below the range, 1 in 20 above)",
                self.value(spot.value, units)
            ))
            .table(table)
            .space();
        document
            .at(Level::Brief)
            .paragraph(limits::brief(&spot.limits, &[]));
        if !spot.limits.is_empty() {
            document
                .at(Level::Detail)
                .section("Limits met there")
                .list(spot.limits.iter().map(|limit| limit.point(units)));
        }
        cautions::add(document, &spot.cautions, units);
    }

    fn trials(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("l");
        table.row([
            "value".to_owned(),
            format!("reached with {} chance", chance(self.answer.chance)),
            "limit crossed".to_owned(),
        ]);
        for trial in &self.answer.trials {
            table.row([
                self.value(trial.value, units),
                trial
                    .sure_w
                    .map_or_else(|| "-".to_owned(), |w| units.show(What::Power, w)),
                trial.limit.map_or_else(String::new, |bar| bar.words(units)),
            ]);
        }
        table
    }

    fn basis_points(&self, units: Units) -> Vec<String> {
        let reached = &self.answer;
        let car = match (&self.fit, reached.fitted) {
            (Some(_), _) => "the car calibrated on the visits named",
            (None, true) => "a fitted car file",
            (None, false) => {
                "a car file without measured pulls: calibrate it on a visit to need less margin"
            }
        };
        let mut points = vec![
            car.to_owned(),
            format!("air of the pull after: {}", reached.weather.line(units)),
        ];
        if reached.corrected {
            points.push(format!("corrected by {}", reached.correction.line(units)));
        }
        points.push(
            "a limit counts as crossed where the most likely car meets it. Pulled spark, an open bypass and inlet \
             valves near choking cost power, harm nothing and do not count"
                .to_owned(),
        );
        points.push(format!(
            "{} draws of car, parts and drums, the same for every value, seed {}",
            reached.draws, reached.seed
        ));
        if let Some(jobs) = reached.own_jobs {
            points.push(format!(
                "learned from {jobs} closed jobs of this shop; --no-learning searches without them"
            ));
        }
        if reached.draws_failed > 0 {
            points.push(format!(
                "{} draws could not make the pull and were left out",
                reached.draws_failed
            ));
        }
        points
    }
}
