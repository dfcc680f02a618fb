//! The drums' inertia as checked, in words: as inertia and as per cent of every reading.

use super::number::{Span, Units, What};
use super::{Document, Level, Report};
use crate::ask::inertia::{Answer, Caution, Method, Stated};
use crate::units::show_number;

/// Ways of checking, by their ids.
pub(super) const METHODS: &[(&str, &str)] = &[
    ("coast_down_pair", COAST_DOWN_PAIR),
    ("falling_masses", FALLING_MASSES),
];
const COAST_DOWN_PAIR: &str = "From times between the same two speeds, bare and with a known inertia bolted on, which must add no drag of its own";
const FALLING_MASSES: &str = "From two masses on a rope, falling from rest through the same height; bearing drag is taken to be the same for both";

/// Cautions, by id.
pub(super) const CAUTIONS: &[(&str, &str)] = &[("bolted_mass", BOLTED), ("hanging_mass", HANGING)];
const BOLTED: &str = "bolt on only what the drum's maker allows, balanced about the shaft, with bolts rated for it: the pull on them grows with the square \
     of speed. Nobody stands in its plane while it turns";
const HANGING: &str = "nobody stands under or beside a hanging mass, and it lands on something soft; the drum keeps turning, so let the rope slip off its \
     peg instead of winding up again, and keep hands and sleeves away";

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/inertia/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let span = Span {
            p5: self.low_kg_m2,
            p50: self.inertia_kg_m2,
            p95: self.high_kg_m2,
        };
        let (range, middle) = units.range_and_middle(What::Inertia, &span);
        let method = match self.method {
            Method::CoastDownPair => COAST_DOWN_PAIR,
            Method::FallingMasses => FALLING_MASSES,
        };
        let mut part = document.at(Level::Answer);
        let wrong = self.stated.as_ref().filter(|stated| stated.contradicted);
        part.title(match wrong {
            Some(stated) => format!(
                "Drum inertia {middle} ({range}), not the stated {}",
                kg_m2(stated.inertia_kg_m2)
            ),
            None => format!("Drum inertia {middle} ({range})"),
        })
        .paragraph(format!("{method}. The range holds 9 times in 10."));
        if let Some(stated) = &self.stated {
            part.paragraph(verdict(stated, units));
        }
        part.space().list(self.notes(units));
        document
    }
}

/// A stated inertia, without digits that were not stated.
fn kg_m2(inertia_kg_m2: f64) -> String {
    let digits = show_number(inertia_kg_m2, 4);
    format!("{} kg m²", digits.trim_end_matches(".0"))
}

/// What readings made with the stated inertia are worth.
fn verdict(stated: &Stated, units: Units) -> String {
    let change = Span {
        p5: stated.low,
        p50: stated.reads_high,
        p95: stated.high,
    };
    // Beside the word for the way no sign is needed.
    let (range, way) = if stated.low > 0.0 {
        (
            units.range_and_middle(What::Percent, &change).0,
            " too high",
        )
    } else if stated.high < 0.0 {
        (
            units.range_and_middle(What::Percent, &change.turned()).0,
            " too low",
        )
    } else {
        (
            units.range_and_middle_of_change(What::Percent, &change).0,
            "",
        )
    };
    let shown = kg_m2(stated.inertia_kg_m2);
    if stated.contradicted {
        format!(
            "The stated {shown} does not agree: every reading made with it is {range}{way}. Set the rig, and drums.inertia in the car files, to the value found, or find out what went wrong with the check."
        )
    } else {
        format!(
            "The stated {shown} agrees: readings made with it are off by {range}, which includes zero."
        )
    }
}

impl Answer {
    fn notes(&self, units: Units) -> Vec<String> {
        let mut out = vec![format!(
            "a single time scatters by {}, {}",
            units.show(What::Percent, self.timing),
            if self.repeated {
                "from the usual half per cent and the repeats together"
            } else {
                "the usual figure; repeats would show your own scatter and narrow the range"
            }
        )];
        if let Some((drag, sd)) = self.drag_nm.zip(self.drag_sd_nm) {
            out.push(format!(
                "the bearings took {} ± {} (one standard deviation) while the masses fell",
                units.show(What::Torque, drag),
                units.show(What::Torque, sd)
            ));
        }
        out.extend(self.cautions.iter().map(|caution| {
            match caution {
                Caution::BoltedMass => BOLTED,
                Caution::HangingMass => HANGING,
            }
            .to_owned()
        }));
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::inertia::Question;
    use crate::dyno::inertia_check::{Check, Known};

    fn text(bare_s: &[f64], loaded_s: &[f64], stated: f64) -> String {
        let exact = |value| Known { value, sd: 0.0 };
        let check = Check::CoastDownPair {
            bare_s,
            loaded_s,
            added_kg_m2: exact(200.0),
        };
        let stated = Some(exact(stated));
        let answer = Question { check, stated }.answer().expect("an inertia");
        let text = answer.text(Units::Metric);
        // Lines are wrapped; the words count.
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_wrong_inertia_is_told_in_words_without_a_double_sign() {
        let low = text(&[60.0], &[90.0], 200.0);
        assert!(low.contains("% too low. Set the rig"), "{low}");
        assert!(
            !low.contains("is -") && !low.contains("repeats together"),
            "{low}"
        );
        assert!(low.contains("repeats would show"), "{low}");
        let high = text(&[60.0, 60.2], &[90.0], 800.0);
        assert!(high.contains("% too high. Set the rig"), "{high}");
        assert!(high.contains("repeats together"), "{high}");
    }

    #[test]
    fn what_is_bolted_on_comes_with_its_caution() {
        let bolted = text(&[60.0], &[90.0], 400.0);
        assert!(
            bolted.contains("bolt on only what the drum's maker allows"),
            "{bolted}"
        );
    }
}
