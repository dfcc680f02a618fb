//! Power or force of each axle or side without a total: front and rear, left and right.
//!
//! One half read as the whole would halve the car, so halves are added up where all of them are there, and one that stands alone is asked about. Torque is left alone:
//! of which wheels it is, and at what speed, no head says for certain.

use super::channel::Channel;
use super::header::{Meaning, Question, Reading};
use super::settle::{Asked, Settling};
use crate::files::diagnostic::Code;
use crate::files::shown::clipped;

/// The sides that are a whole together.
const WHOLES: [&[&str]; 3] = [
    &["front", "rear"],
    &["left", "right"],
    &["front left", "front right", "rear left", "rear right"],
];

impl Settling<'_, '_> {
    /// Adds up parts that are a whole, asks of one that stands alone, leaves them out beside the whole.
    pub(super) fn join_sides(&mut self) {
        for channel in [Channel::WheelPower, Channel::WheelForce] {
            let parts: Vec<(usize, Reading, String)> = (0..self.sheet.columns.len())
                .filter_map(|at| match &self.sheet.columns[at].meaning {
                    Meaning::Part(reading, sides) if reading.channel == channel => {
                        Some((at, *reading, sides.join(" ")))
                    }
                    _ => None,
                })
                .collect();
            let Some((first, ..)) = parts.first() else {
                continue;
            };
            let mut sides: Vec<&str> = parts.iter().map(|(.., side)| side.as_str()).collect();
            sides.sort_unstable();
            let powers = [
                Channel::WheelPower,
                Channel::CorrectedWheelPower,
                Channel::CrankPower,
            ];
            if self.has(channel) || powers.iter().any(|of| self.has(*of)) {
                self.remove_parts(&parts, "it is a part of the whole");
            } else if WHOLES.contains(&sides.as_slice()) {
                self.add_up(&parts);
            } else {
                let raw = &self.sheet.columns[*first];
                let name = channel.name();
                let unit = super::answers::suffix_of(parts[0].1.unit.symbol);
                self.asked.push(Asked {
                    index: raw.index,
                    head: raw.head.clone(),
                    question: Question {
                        code: Code::COLUMN_QUESTION,
                        message: format!(
                            "'{}' is {name} of one side, and no column holds the whole: is it all there is?",
                            clipped(&raw.head)
                        ),
                        expected: format!("{name} of all driven wheels"),
                        answers: vec![
                            format!("{}_{unit}", name.replace(' ', "_")),
                            "skip".to_owned(),
                        ],
                    },
                });
            }
        }
    }

    fn remove_parts(&mut self, parts: &[(usize, Reading, String)], why: &'static str) {
        let indices: Vec<usize> = parts
            .iter()
            .map(|(at, ..)| self.sheet.columns[*at].index)
            .collect();
        for index in indices {
            self.remove(index, why);
        }
    }

    fn add_up(&mut self, parts: &[(usize, Reading, String)]) {
        let (first, reading, _) = parts[0].clone();
        let rows = self.sheet.columns[first].values.len();
        let sums: Vec<f64> = (0..rows)
            .map(|row| {
                let of = |(at, reading, _): &(usize, Reading, String)| {
                    reading
                        .unit
                        .to_si(self.sheet.columns[*at].values[row] * reading.scale)
                };
                reading.unit.from_si(parts.iter().map(of).sum())
            })
            .collect();
        let heads: Vec<String> = parts
            .iter()
            .map(|(at, ..)| self.sheet.columns[*at].head.clone())
            .collect();
        let raw = &mut self.sheet.columns[first];
        let index = raw.index;
        raw.head = heads.join(" + ");
        raw.values = sums;
        raw.meaning = Meaning::Numbers(Reading {
            scale: 1.0,
            either: false,
            ..reading
        });
        let named: Vec<String> = heads
            .iter()
            .map(|head| format!("'{}'", clipped(head)))
            .collect();
        let message = format!(
            "{} are added up to {}",
            named.join(" and "),
            reading.channel.name()
        );
        let problem = self.sheet.at_head(Code::COLUMN_CONVENTION, index, message);
        self.warnings.push(problem.warning());
        self.sheet
            .columns
            .retain(|raw| !matches!(&raw.meaning, Meaning::Part(part, _) if part.channel == reading.channel));
    }
}
