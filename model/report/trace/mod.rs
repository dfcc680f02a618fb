//! The working at one engine speed, in words: every intermediate number with its unit and the name of its equation.

pub(super) mod words;

use super::document::Document;
use super::number::{Units, What};
use super::table::TextTable;
use super::{Level, Report};
use crate::ask::trace::{Answer, Section};

/// A share that ought to be nothing, in words.
fn small_share(share: f64) -> String {
    const MILLIONTH: f64 = 1e-6;
    if share.abs() < MILLIONTH {
        "less than a millionth".to_owned()
    } else {
        format!("{:.4} %", 100.0 * share.abs())
    }
}

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/trace/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        part.title(headline(self, units));
        let car = match &self.plan {
            Some(plan) => format!("{}, with {plan}", self.car),
            None => self.car.clone(),
        };
        let time = units.show(What::Time, self.time_s);
        part.paragraph(format!("{car}; {time} into the pull."))
            .labelled("Air: ", self.weather.line(units), 5);
        if let Some(axle) = &self.electric_axle {
            part.line(format!("Electric axle: {}", axle.line(units)));
        }
        part.section("Where the power goes")
            .table(ledger(self, units));
        let (first, rest) = self.limits.split_at(self.limits.len().min(MOST_LIMITS));
        if !first.is_empty() {
            part.section("Limits met here")
                .list(first.iter().map(|limit| limit.point(units)));
        }
        let mut part = document.at(Level::Detail);
        if !rest.is_empty() {
            part.section("More limits met here")
                .list(rest.iter().map(|limit| limit.point(units)));
        }
        for section in &self.sections {
            part.space()
                .section(words::part(section.part).unwrap_or(section.part))
                .table(steps(section, units));
        }
        part.space().paragraph(format!(
            "Check: energy balance over the whole engine, used nowhere in the working, leaves {} of the fuel's power unexplained.",
            small_share(self.imbalance)
        ));
        document
    }
}

/// Most limits in the answer; the others stand among the details.
const MOST_LIMITS: usize = 2;

/// What the drums read here.
fn headline(answer: &Answer, units: Units) -> String {
    let read = |quantity: &str| {
        let mut steps = answer.sections.iter().flat_map(|section| &section.steps);
        steps
            .find(|step| step.quantity == quantity)
            .map(|step| step.value)
    };
    let rpm = units.show(What::Rpm, answer.rpm);
    match read("reading_power").zip(read("reading_torque")) {
        Some((power, torque)) => format!(
            "{} and {} at the drums, at {rpm}",
            units.show(What::Power, power),
            units.show(What::Torque, torque)
        ),
        None => format!("Working at {rpm}"),
    }
}

fn steps(section: &Section, units: Units) -> TextTable {
    let mut table = TextTable::new("lrll");
    for step in &section.steps {
        let (name, what) = words::measured(step.quantity).unwrap_or((step.quantity, What::Ratio));
        table.row([
            name.to_owned(),
            units.cell(what, step.value),
            units.symbol(what).to_owned(),
            words::equation(step.equation)
                .unwrap_or(step.equation)
                .to_owned(),
        ]);
    }
    table
}

fn ledger(answer: &Answer, units: Units) -> TextTable {
    let mut table = TextTable::new("lr");
    for share in &answer.ledger {
        table.row([
            words::entry(share.entry).unwrap_or(share.entry).to_owned(),
            units.show(What::Power, share.power_w),
            units.show(What::Percent, share.share_of_fuel),
        ]);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::basis::Air;
    use crate::ask::trace::Question;
    use crate::files;
    use std::path::Path;

    /// SI unit in which an answer holds what is shown so.
    fn held_in(what: What) -> &'static str {
        match what {
            What::Power => "W",
            What::Torque => "N m",
            What::Pressure => "Pa",
            What::Temperature | What::TemperatureDifference => "K",
            What::Speed | What::PistonSpeed => "m/s",
            What::Length => "m",
            What::MassFlow => "kg/s",
            What::Ratio | What::Octane | What::Percent => "1",
            other => Units::Metric.symbol(other),
        }
    }

    #[test]
    fn every_step_is_shown_as_what_its_unit_says() {
        for name in ["upland_estate", "turbo_four", "manual_coupe"] {
            let car = Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("scenarios")
                .join(name)
                .join("car.toml");
            let (car, _) = files::car::open(&car).expect("a car");
            let question = Question {
                setup: &car.sheet.centre,
                plan: None,
                air: Air::reference(),
                rpm: 5000.0,
                start: None,
            };
            let answer = question.answer().expect("the car pulls");
            for step in answer.sections.iter().flat_map(|section| &section.steps) {
                let (_, what) = words::measured(step.quantity).expect("words");
                assert_eq!(step.unit, held_in(what), "{}", step.quantity);
            }
        }
    }
}
