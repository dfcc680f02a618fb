//! What another rig reads more or less, in words.

use super::number::{self, Span, Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::offset::{Answer, RangeFrom};

/// Cars that the answer shows; the rest stand among the details.
const MOST_SHOWN: usize = 10;

/// Where a range comes from, by id.
pub(super) const RANGES: &[(&str, &str)] = &[
    ("cars", "scatter of the cars about their mean"),
    (
        "usual_repeatability",
        "one car shows no scatter: usual repeatability of drums",
    ),
];

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/offset/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let shown = self.cars.len().min(MOST_SHOWN);
        let mut part = document.at(Level::Answer);
        part.title(self.headline(units))
            .paragraph(self.basis(units))
            .space()
            .table(self.table(units, shown));
        if shown < self.cars.len() {
            part.line(format!(
                "{} more cars among the details",
                self.cars.len() - shown
            ));
        }
        part.space().list(self.notes());
        let mut part = document.at(Level::Detail);
        part.space().section("Cars").table(self.halves(units));
        if let Some(chance) = self.chance_if_alike {
            part.paragraph(format!(
                "Were the rigs alike, these cars would stand as far apart or farther with a chance of {}.",
                number::chance(chance)
            ));
        }
        part.paragraph(
            "Two rigs that differ by one factor show the same in both halves of the speeds. A slope between them speaks of another thing: inertia set \
             wrong, losses added back on one of them, another gear.",
        );
        document
    }
}

impl Answer {
    fn headline(&self, units: Units) -> String {
        let span = Span {
            p5: self.low,
            p50: self.offset,
            p95: self.high,
        };
        let (range, middle) = units.range_and_middle_of_change(What::Percent, &span);
        if self.stands_out {
            format!("The other rig reads {middle} ({range})")
        } else {
            format!("The two rigs cannot be told apart: {middle} ({range})")
        }
    }

    fn basis(&self, units: Units) -> String {
        let count = self.cars.len();
        let how = match self.range_from {
            RangeFrom::Cars { scatter, degrees } => format!(
                "{count} cars, which stray by {} about their mean (one standard deviation, {degrees} degree{} of freedom)",
                units.show(What::Percent, scatter),
                if degrees == 1 { "" } else { "s" }
            ),
            RangeFrom::UsualRepeatability { standard_error } => format!(
                "One car. It shows no scatter, so the range is what drums stray by as a rule, {} here (one standard deviation)",
                units.show(What::Percent, standard_error)
            ),
        };
        format!(
            "{how}. Mean power over shared speeds, {}. The range holds 9 times in 10.",
            self.standard.name()
        )
    }

    fn table(&self, units: Units, shown: usize) -> TextTable {
        let mut table = TextTable::new("llr");
        table.head(["here", "other rig", "pulls", "speeds", "difference"]);
        for car in &self.cars[..shown] {
            table.row([
                car.here.clone(),
                car.there.clone(),
                format!("{} and {}", car.pulls[0], car.pulls[1]),
                format!("{:.0} to {:.0} rpm", car.from_rpm, car.to_rpm),
                units.show_change(What::Percent, car.offset),
            ]);
        }
        table
    }

    fn halves(&self, units: Units) -> TextTable {
        let mut table = TextTable::new("llr");
        table.head(["here", "other rig", "lower half", "upper half"]);
        for car in &self.cars {
            let [low, high] = car
                .halves
                .map(|half| units.show_change(What::Percent, half));
            table.row([car.here.clone(), car.there.clone(), low, high]);
        }
        table
    }

    fn notes(&self) -> Vec<&'static str> {
        let mut notes = Vec::new();
        match self.range_from {
            RangeFrom::Cars { degrees, .. } if degrees < 3 => notes.push(
                "few cars leave a wide range: from the fourth on each one more narrows it little",
            ),
            RangeFrom::UsualRepeatability { .. } => {
                notes.push("a second and a third car show how much of this is the car");
            }
            RangeFrom::Cars { .. } => {}
        }
        notes.push(
            "which rig is right this does not tell: check the drums of both (`inertia`). Cars measured on both on the same two days share those days' weather, \
             which then hides in the offset",
        );
        notes
    }
}
