//! The drums' inertia as checked, beside the one stated.
//!
//! What a shop wants to know is what its readings are worth: the answer is told as inertia and as per cent of every reading. It
//! refuses to correct readings already made.

use super::number::{Span, Units, What};
use super::table::{WIDTH, bullet, paragraph};
use super::{Report, heading};
use crate::dyno::inertia_check::{Checked, Known};
use crate::units::show_number;
use serde::Serialize;

/// The answer of an inertia check.
#[derive(Debug, Clone, Serialize)]
pub struct InertiaReport {
    /// What was done, in words.
    pub method: &'static str,
    /// Moment of inertia at the drum.
    pub inertia_kg_m2: f64,
    /// Lower end of what holds nine times in ten.
    pub low_kg_m2: f64,
    /// Upper end.
    pub high_kg_m2: f64,
    /// Drag of the bearings while masses fell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drag_nm: Option<f64>,
    /// One standard deviation of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drag_sd_nm: Option<f64>,
    /// Relative standard deviation of a single time.
    pub timing: f64,
    /// Whether repeats are in that.
    pub repeated: bool,
    /// What to mind while doing it.
    pub cautions: &'static [&'static str],
    /// The inertia stated, beside it; none where none was.
    pub stated: Option<StatedInertia>,
}

/// A stated inertia against the one found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StatedInertia {
    /// As stated.
    pub inertia_kg_m2: f64,
    /// By how much readings made with it are too high, relative; below zero, too low.
    pub reads_high: f64,
    /// Lower end of that, nine times in ten, the doubt of the statement included.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether that leaves out zero.
    pub contradicted: bool,
}

/// What to mind with a mass bolted on.
const BOLTED: &[&str] = &[
    "mind: bolt on only what the drum's maker allows, evenly about the shaft and with bolts rated for it; what pulls at them grows with \
     the square of speed. Nobody stands in its plane while it turns",
];
/// What to mind with masses on a rope.
const FALLING: &[&str] = &[
    "mind: nobody stands beneath or beside a hanging mass, and it lands on something soft; the drum turns on after it, so let the rope \
     slip off its peg rather than wind up again, and keep hands and sleeves away",
];

impl InertiaReport {
    /// Makes it from a check.
    pub fn new(method: &'static str, checked: &Checked, stated: Option<Known>) -> Self {
        let found = checked.inertia_kg_m2;
        let half = checked.half_width_kg_m2(0.0);
        let stated = stated.map(|known| {
            let share = known.value / found - 1.0;
            let wide = checked.half_width_kg_m2(known.sd) / found;
            StatedInertia {
                inertia_kg_m2: known.value,
                reads_high: share,
                low: share - wide,
                high: share + wide,
                contradicted: share.abs() > wide,
            }
        });
        Self {
            method,
            inertia_kg_m2: found,
            low_kg_m2: found - half,
            high_kg_m2: found + half,
            drag_nm: checked.drag_nm,
            drag_sd_nm: checked.drag_sd_nm,
            timing: checked.timing,
            repeated: checked.repeated,
            cautions: if checked.drag_nm.is_some() {
                FALLING
            } else {
                BOLTED
            },
            stated,
        }
    }

    /// Whether the stated inertia is contradicted.
    pub fn contradicted(&self) -> bool {
        self.stated.is_some_and(|stated| stated.contradicted)
    }
}

impl Report for InertiaReport {
    const SCHEMA: &'static str = "pullcast/inertia/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading("Inertia of the drums");
        let span = Span {
            p5: self.low_kg_m2,
            p50: self.inertia_kg_m2,
            p95: self.high_kg_m2,
        };
        let (range, middle) = units.told(What::Inertia, &span);
        out.push_str(&paragraph(
            "",
            &format!("{middle}, nine times in ten {range}; {}.", self.method),
            0,
            WIDTH,
        ));
        if let Some(stated) = &self.stated {
            let change = Span {
                p5: stated.low,
                p50: stated.reads_high,
                p95: stated.high,
            };
            // Beside the word for the way no sign is needed.
            let (range, way) = if stated.low > 0.0 {
                (units.told(What::Percent, &change).0, " too high")
            } else if stated.high < 0.0 {
                (units.told(What::Percent, &change.turned()).0, " too low")
            } else {
                (units.told_of_change(What::Percent, &change).0, "")
            };
            let digits = show_number(stated.inertia_kg_m2, 4);
            let shown = format!("{} kg m²", digits.trim_end_matches(".0"));
            let verdict = if stated.contradicted {
                format!(
                    "The stated {shown} is contradicted: every reading made with it is {range}{way}. Set the rig, and `drums.inertia` of the car files, to what was found, or find what is wrong with the check."
                )
            } else {
                format!(
                    "The stated {shown} agrees: readings made with it are off by {range}, which holds zero."
                )
            };
            out.push_str(&paragraph("", &verdict, 0, WIDTH));
        }
        out.push('\n');
        out.push_str(&bullet(&format!(
            "a single time strays by {}, {}",
            units.show(What::Percent, self.timing),
            if self.repeated {
                "the usual half a per cent and the repeats together"
            } else {
                "as is usual; repeats would show your own stray and narrow the range"
            }
        )));
        if let Some((drag, sd)) = self.drag_nm.zip(self.drag_sd_nm) {
            out.push_str(&bullet(&format!(
                "the bearings took {} while the masses fell, with a standard deviation of {}",
                units.show(What::Torque, drag),
                units.show(What::Torque, sd)
            )));
        }
        for caution in self.cautions {
            out.push_str(&bullet(caution));
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dyno::inertia_check::Check;

    fn text(bare_s: &[f64], loaded_s: &[f64], stated: f64) -> String {
        let exact = |value| Known { value, sd: 0.0 };
        let check = Check::CoastDownPair {
            bare_s,
            loaded_s,
            added_kg_m2: exact(200.0),
        };
        let checked = check.inertia().expect("an inertia");
        let report = InertiaReport::new("by hand", &checked, Some(exact(stated)));
        let text = report.text(Units::Metric);
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
