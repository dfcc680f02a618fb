//! Another camshaft, told by its differences to the one there.

use super::kind::{Kind, NotComputed, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Stays, Described, Usual};
use super::row::{self, FACTOR_DOUBT, Row, rows};
use super::{BuildError, Fault, Form, exactly, usual};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Guess::Exact;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::engine::camshaft::{mean_coefficient, overlap_growth};

numbers! {
    /// Another camshaft, told by its differences to the one there.
    Camshaft {
        /// Longer inlet open period, deg.
        longer_deg: T => number("duration_change"),
        /// Later inlet closing, deg.
        later_deg: T => number("closing_change"),
        /// More overlap, deg.
        overlap_deg: T => number("overlap_change"),
        /// Highest lift of the one there and of the new one, if it changes, m.
        lift_m: Option<(f64, T)> => from_to("lift_to"),
    }
}

/// Doubt on an angle of a camshaft that nobody measured in the engine, deg; common practice, no source.
const ANGLE_DOUBT_DEG: f64 = 2.0;

rows! {
    DURATION = row::number("duration_change", Measure::DEG, (-80.0, 80.0), FACTOR_DOUBT, MustBeGiven,
        "longer inlet open period, at the lift at which the old one is stated", CommonPractice),
    CLOSING = row::plain("closing_change", Measure::DEG, (-80.0, 80.0),
        Described("half of `duration_change` and `centre_change`, ± 2"), "later inlet closing", CommonPractice),
    CENTRE = row::plain("centre_change", Measure::DEG, (-80.0, 80.0), Usual(Exact(0.0)), "later centre line of the inlet", Fact),
    EXHAUST_DURATION = row::plain("exhaust_duration_change", Measure::DEG, (-80.0, 80.0), Described("as the inlet's"),
        "longer exhaust open period", CommonPractice),
    EXHAUST_CENTRE = row::plain("exhaust_centre_change", Measure::DEG, (-80.0, 80.0), Usual(Exact(0.0)),
        "later centre line of the exhaust; with the rest it gives the overlap, ± 2", Fact),
    LIFT_FROM = row::plain("lift_from", Measure::MM, (3.0, 25.0), Stays, "highest inlet lift there; both or neither", Fact),
    LIFT_TO = row::number("lift_to", Measure::MM, (3.0, 25.0), 0.0, Stays, "highest inlet lift to come", Fact),
}

impl<T> Part for Camshaft<T> {
    const KIND: &'static Kind = &Kind {
        not_computed: Some(NotComputed::CamshaftManners),
        ..Kind::new("camshaft", "camshaft", "new camshaft", ROWS).adds_up()
    };
}

/// A change of angle, deg, as written or as it follows; `None` only where what is written is wrong.
fn angle(form: &mut dyn Form, row: &Row, otherwise_deg: f64) -> Option<f64> {
    let written = form.plain(row);
    if form.has(row.key) {
        written
    } else {
        Some(otherwise_deg)
    }
}

impl Written for Camshaft<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let longer = form.number(&DURATION);
        let longer_deg = longer.map_or(0.0, |prior| prior.centre());
        if form.has(CLOSING.key) && form.has(CENTRE.key) {
            let message = "'closing_change' and 'centre_change' are both given";
            let expected =
                "closing_change or centre_change: each follows from the other and the duration";
            form.error(CLOSING.key, Fault::Conflict, message, expected);
            return None;
        }
        let centre_deg = angle(form, &CENTRE, 0.0);
        let follows_deg = 0.5 * longer_deg + centre_deg.unwrap_or(0.0);
        let later_deg = angle(form, &CLOSING, follows_deg);
        let exhaust_deg = angle(form, &EXHAUST_DURATION, longer_deg);
        let exhaust_centre_deg = angle(form, &EXHAUST_CENTRE, 0.0);
        // Both lifts or neither: a new lift says little without the old one.
        let lifted = form.has_any(&[LIFT_FROM, LIFT_TO]);
        let lift_m = if lifted {
            let (from, to) = (form.required_plain(&LIFT_FROM), form.required(&LIFT_TO));
            from.zip(to)
        } else {
            None
        };
        centre_deg?;
        let later_deg = later_deg?;
        let overlap_deg = longer_deg - later_deg + 0.5 * exhaust_deg? + exhaust_centre_deg?;
        // A cam that changes no angle is the cam that is there.
        let doubted = |mean: f64| {
            if longer_deg == 0.0 && mean == 0.0 {
                exactly(mean)
            } else {
                usual(mean, ANGLE_DOUBT_DEG, -120.0, 120.0)
            }
        };
        Some(Self {
            longer_deg: longer?,
            later_deg: doubted(later_deg)?,
            overlap_deg: doubted(overlap_deg)?,
            lift_m: if lifted { Some(lift_m?) } else { None },
        })
    }
}

impl Work for Camshaft<f64> {
    /// Equation (11.3).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let engine = &mut car.engine;
        let bore = engine.geometry.cylinder.bore_m;
        let lift_ratio = self.lift_m.map_or(1.0, |(from, to)| to / from);
        engine.overlap_deg_m *= overlap_growth(
            engine.overlap_deg_m,
            &engine.valves,
            bore,
            self.overlap_deg,
            lift_ratio,
        );
        engine.closing_later_deg += self.later_deg;
        let valves = &mut engine.valves;
        // A cam is made for the speed at which its open time is the same (assumed; without it no cam with more revs gains what the trade
        // sees).
        engine.breathing.fade_speed *= 1.0 + self.longer_deg / valves.open_duration_deg;
        valves.open_duration_deg += self.longer_deg;
        if let Some((from, to)) = self.lift_m {
            let head = valves.diameter_m;
            valves.mean_flow_coefficient *=
                mean_coefficient(to / head) / mean_coefficient(from / head);
        }
        Ok(())
    }
}
