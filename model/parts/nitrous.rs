//! Nitrous oxide ahead of the manifold, with its fuel: the controller gives every oxygen its fuel.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Usual};
use super::row::{self, FACTOR_DOUBT, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, FromMemory};
use crate::belief::parameter::Guess::{Exact, Normal};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::{Car, Nitrous};
use crate::fuel::nitrous_bottle_pa;
use crate::units::RAD_S_PER_RPM;

numbers! {
    /// Nitrous oxide ahead of the manifold, with its fuel.
    NitrousKit {
        /// Flow from a bottle at [`RATED_BOTTLE_K`], kg/s.
        flow_kg_s: T => number("flow"),
        /// Temperature of the bottle, K.
        bottle_k: T => number("bottle_temperature"),
        /// Share that is gas before the inlet valve closes.
        evaporated_share: T => number("evaporated"),
        /// Engine speed from which it flows, rpm.
        from_rpm: f64 => kept,
    }
}

/// Bottle temperature at which a nozzle's flow is stated, K.
pub const RATED_BOTTLE_K: f64 = 298.15;
/// Engine speed from which it flows where the plan does not say, rpm. Common practice, no source.
const FROM_RPM: f64 = 3000.0;

rows! {
    FLOW = row::number("flow", Measure::KG_MIN, (0.06, 15.0), FACTOR_DOUBT, MustBeGiven,
        "nitrous oxide through the nozzles with the bottle at 25 °C, without its fuel", CommonPractice),
    BOTTLE = row::number("bottle_temperature", Measure::DEG_C, (-15.0, 36.0), 0.0, Usual(Normal(RATED_BOTTLE_K - 273.15, 4.0)),
        "temperature of the bottle; flow goes with the root of its pressure", CommonPractice),
    EVAPORATED = row::number("evaporated", Measure::RATIO, (0.0, 1.0), FACTOR_DOUBT, Usual(Normal(0.9, 0.05)),
        "share that is gas before the inlet valve closes", FromMemory("it boils at −88 °C; no source for the share")),
    FROM_SPEED = row::plain("from_speed", Measure::SHAFT_RPM, (0.0, 15_000.0), Usual(Exact(FROM_RPM)),
        "engine speed from which it flows", CommonPractice),
}

impl<T> Part for NitrousKit<T> {
    const KIND: &'static Kind = &Kind::new("nitrous", "nitrous", "nitrous oxide", ROWS);
}

impl Written for NitrousKit<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (flow, bottle) = (form.number(&FLOW), form.number(&BOTTLE));
        let evaporated = form.number(&EVAPORATED);
        let from_rad_s = form.plain(&FROM_SPEED);
        if form.has(FROM_SPEED.key) && from_rad_s.is_none() {
            return None;
        }
        Some(Self {
            flow_kg_s: flow?,
            bottle_k: bottle?,
            evaporated_share: evaporated?,
            from_rpm: from_rad_s.map_or(FROM_RPM, |speed| speed / RAD_S_PER_RPM),
        })
    }
}

impl Work for NitrousKit<f64> {
    /// Equation (11.6).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        // A nozzle passes the root of its pressure.
        let pressure = nitrous_bottle_pa(self.bottle_k) / nitrous_bottle_pa(RATED_BOTTLE_K);
        car.nitrous = Some(Nitrous {
            flow_kg_s: self.flow_kg_s * pressure.sqrt(),
            from_rpm: self.from_rpm,
            evaporated_share: self.evaporated_share,
        });
        Ok(())
    }
}
