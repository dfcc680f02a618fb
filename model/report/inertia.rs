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
    /// Relative standard deviation of a single time.
    pub timing: f64,
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
            timing: checked.timing,
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
            let (range, _) = units.told_of_change(What::Percent, &change);
            let digits = show_number(stated.inertia_kg_m2, 4);
            let shown = format!("{} kg m²", digits.trim_end_matches(".0"));
            let verdict = if stated.contradicted {
                format!(
                    "The stated {shown} is contradicted: every reading made with it is off by {range} (above zero, too high). Set \
                     the rig, and `drums.inertia` of the car files, to what was found, or find what is wrong with the check."
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
            "a single time strays by {}, the usual half a per cent and the repeats together",
            units.show(What::Percent, self.timing)
        )));
        if let Some(drag) = self.drag_nm {
            out.push_str(&bullet(&format!(
                "the bearings took {} while the masses fell",
                units.show(What::Torque, drag)
            )));
        }
        out
    }
}
