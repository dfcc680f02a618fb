//! Work on the cylinder head.

use super::kind::{Kind, Part, Rank, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{Stays, Usual};
use super::row::{self, CLAIM_DOUBT, rows};
use super::{BuildError, Fault, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Guess::Exact;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::engine::camshaft::{USUAL_LIFT_OVER_DIAMETER, mean_coefficient};

numbers! {
    /// Work on the cylinder head.
    CylinderHead {
        /// New over old flow of the inlet at equal lift and pressure drop, on a flow bench.
        flow_factor: T => number("flow_factor"),
        /// New head diameter of an inlet valve, if it changes, m.
        valve_diameter_m: Option<T> => maybe("inlet_valve_diameter"),
    }
}

rows! {
    FLOW = row::number("flow_factor", Measure::RATIO, (0.5, 2.0), CLAIM_DOUBT, Usual(Exact(1.0)),
        "new over old flow of the inlet on a bench", CommonPractice),
    VALVE = row::of_car("inlet_valve_diameter", "engine.inlet_valve_diameter", 0.0, Stays, Fact)
        .meaning("new head diameter of an inlet valve, at the same lift"),
}

impl<T> Part for CylinderHead<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Head,
        ..Kind::new(
            "cylinder head",
            "cylinder_head",
            "cylinder head work",
            ROWS,
        )
        .adds_up()
    };
}

impl Written for CylinderHead<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        if !form.has_any(ROWS) {
            let message = "this work on the head changes neither flow nor valves";
            let expected = "flow_factor, inlet_valve_diameter, or both";
            form.error(FLOW.key, Fault::Missing, message, expected);
            return None;
        }
        let (flow, valve) = (form.number(&FLOW), form.number(&VALVE));
        if form.has(VALVE.key) && valve.is_none() {
            return None;
        }
        Some(Self {
            flow_factor: flow?,
            valve_diameter_m: valve,
        })
    }
}

impl Work for CylinderHead<f64> {
    /// Equation (11.3).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let valves = &mut car.engine.valves;
        valves.mean_flow_coefficient *= self.flow_factor;
        if let Some(diameter) = self.valve_diameter_m {
            // The cam stays: its lift is a smaller share of a larger head.
            let shrunk = USUAL_LIFT_OVER_DIAMETER * valves.diameter_m / diameter;
            valves.mean_flow_coefficient *=
                mean_coefficient(shrunk) / mean_coefficient(USUAL_LIFT_OVER_DIAMETER);
            valves.diameter_m = diameter;
        }
        Ok(())
    }
}
