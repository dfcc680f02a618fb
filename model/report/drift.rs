//! Pulls in a row, measured, in words: what each loses, what a rest gives back, and whether the car as described would do the same.

use super::number::{Span, Units, What};
use super::sequence::duration;
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::compare::drift::{Answer, Estimate, Recovered};
use crate::dyno::correction::Standard;

/// Pulls that the answer shows; of more, the first ones and the last.
const MOST_SHOWN: usize = 8;

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/drift/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        part.title(self.headline(units))
            .paragraph(self.what())
            .space()
            .table(self.table(units, MOST_SHOWN));
        for recovered in &self.recovered {
            part.paragraph(self.recovery(recovered, units));
        }
        if let Some(predicted) = &self.predicted {
            let change = units.show_change(What::Percent, predicted.per_pull.exp_m1());
            part.paragraph(if predicted.contradicted {
                format!(
                    "The car as described would change by {change} a pull, which these pulls leave out: look for heat the description does not hold \
                     (under the hood, a fan, a hot intake), a rig that drifts, or a fault; `diagnose` weighs them."
                )
            } else {
                format!("The car as described would change by {change} a pull: these pulls agree.")
            });
        }
        document
            .at(Level::Detail)
            .space()
            .section("All pulls")
            .table(self.table(units, usize::MAX))
            .list(self.notes(units));
        document
    }
}

fn change(estimate: &Estimate, units: Units) -> String {
    let span = Span {
        p5: estimate.low.exp_m1(),
        p50: estimate.value.exp_m1(),
        p95: estimate.high.exp_m1(),
    };
    let (range, middle) = units.range_and_middle_of_change(What::Percent, &span);
    format!("{middle} ({range})")
}

impl Answer {
    fn headline(&self, units: Units) -> String {
        if self.per_pull.leaves_out(0.0) {
            format!("From pull to pull {}", change(&self.per_pull, units))
        } else {
            format!(
                "No drift from pull to pull that these pulls could tell: {}",
                change(&self.per_pull, units)
            )
        }
    }

    fn what(&self) -> String {
        let how = match self.standard {
            Standard::None => "uncorrected power".to_owned(),
            standard => format!("power, {}", standard.name()),
        };
        let rows = self.pulls.last().map_or(0, |pull| pull.row);
        let rows = if rows == 1 {
            "in a row".to_owned()
        } else {
            format!("in {rows} rows")
        };
        format!(
            "Visit: {}, {} pulls {rows}. Mean {how}, from {:.0} to {:.0} rpm. The range holds 9 times in 10.",
            self.visit,
            self.pulls.len(),
            self.from_rpm,
            self.to_rpm
        )
    }

    fn table(&self, units: Units, most: usize) -> TextTable {
        let mut table = TextTable::new("lr");
        let predicted = self.pulls.iter().any(|p| p.predicted_change.is_some());
        let mut head = vec!["", "rested", "mean", "change"];
        if predicted {
            head.push("as described");
        }
        table.head(head);
        let count = self.pulls.len();
        for (i, pull) in self.pulls.iter().enumerate() {
            if count > most && i + 1 >= most && i + 1 < count {
                continue;
            }
            let rest = pull.rest_s.filter(|_| i > 0);
            let of = |value: f64| {
                if i == 0 {
                    String::new()
                } else {
                    units.show_change(What::Percent, value)
                }
            };
            let mut row = vec![
                pull.name.clone(),
                rest.map_or_else(|| "-".to_owned(), duration),
                units.show(What::Power, pull.power_w),
                of(pull.change),
            ];
            if predicted {
                row.push(pull.predicted_change.map_or_else(String::new, of));
            }
            table.row(row);
        }
        table
    }

    fn recovery(&self, recovered: &Recovered, units: Units) -> String {
        let rest = recovered.rest_s.map_or_else(
            || "a rest".to_owned(),
            |s| format!("{} of rest", duration(s)),
        );
        let mut text = format!(
            "After {rest} '{}' stood {} from the last pull before",
            recovered.pull,
            change(&recovered.gained, units)
        );
        if self.per_pull.leaves_out(0.0) && recovered.lost > 0.0 && recovered.gained.value > 0.0 {
            let share = recovered.gained.value / recovered.lost;
            add!(text, ": {:.0} % of what was lost came back", 100.0 * share);
        }
        if let Some(predicted) = recovered.predicted {
            add!(
                text,
                "; of the car as described {} would",
                units.show_change(What::Percent, predicted.exp_m1())
            );
        }
        text + "."
    }

    fn notes(&self, units: Units) -> Vec<String> {
        let mut notes = vec![format!(
            "a pull strays by {} (one standard deviation) about rows of one slope, with {} degrees of freedom; the slope's standard error is {}",
            units.show(What::Percent, self.scatter),
            self.degrees,
            units.show(What::Percent, self.per_pull.standard_error)
        )];
        if self.degrees < 3 {
            notes.push("few pulls leave a wide range: five in a row narrow it most".to_owned());
        }
        if self.left_out > 0 {
            notes.push(format!(
                "pulls with the electric axle off, left out: {}",
                self.left_out
            ));
        }
        if self.predicted.is_some() {
            notes.push(
                "the car as described: its parts as lumps of usual size, in the air of the first pull; that has doubts of its own, which the range does not hold"
                    .to_owned(),
            );
        }
        notes
    }
}
