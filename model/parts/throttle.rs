//! Another throttle body.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::MustBeGiven;
use super::row::{self, rows};
use super::{BuildError, Form, usual};
use crate::air::flow::{OrificeGas, Passage, Side, Throttle as Orifice};
use crate::air::gas::PerfectGas;
use crate::belief::parameter::Basis::FromMemory;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Another throttle body.
    Throttle {
        /// Bore of the one there, m.
        bore_from_m: f64 => kept,
        /// Bore of the new one, m.
        bore_to_m: f64 => kept,
        /// Flow coefficient times the share of the bore that the shaft leaves open.
        discharge: T => number("discharge"),
    }
}

/// Discharge of an open throttle, its shaft included: mean, sd, range; from memory.
const DISCHARGE: (f64, f64, f64, f64) = (0.88, 0.04, 0.75, 0.96);

rows! {
    FROM = row::plain("bore_from", Measure::MM, (20.0, 250.0), MustBeGiven,
        "bore there; flow coefficient with shaft 0.88 ± 0.04", FromMemory("open throttles")),
    TO = row::plain("bore_to", Measure::MM, (20.0, 250.0), MustBeGiven, "bore to come", FromMemory("open throttles")),
}

impl<T> Part for Throttle<T> {
    const KIND: &'static Kind = &Kind::new("throttle", "throttle", "new throttle", ROWS).adds_up();
}

impl Written for Throttle<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (from, to) = (form.required_plain(&FROM), form.required_plain(&TO));
        let (mean, sd, lower, upper) = DISCHARGE;
        Some(Self {
            bore_from_m: from?,
            bore_to_m: to?,
            discharge: usual(mean, sd, lower, upper)?,
        })
    }
}

impl Work for Throttle<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let flow = car.intake.reference_flow_kg_s;
        car.intake.throttle_relief_pa += drop_pa(self.bore_from_m, self.discharge, flow)
            - drop_pa(self.bore_to_m, self.discharge, flow);
        Ok(())
    }
}

/// Drop across an open throttle at a flow of air at 100 kPa and 25 °C, Pa; all of the pressure where it is choked.
///
/// Equation (2.10).
fn drop_pa(bore_m: f64, discharge: f64, flow_kg_s: f64) -> f64 {
    let throttle = Orifice {
        bore_m,
        discharge,
        shut_angle_rad: 0.1,
    };
    let upstream = Side {
        pressure_pa: 100e3,
        temperature_k: 298.15,
    };
    let gas = OrificeGas::new(PerfectGas::AIR);
    match gas.passage(throttle.open_m2(), upstream, flow_kg_s) {
        Passage::Passes { downstream_pa } => upstream.pressure_pa - downstream_pa,
        Passage::Choked { .. } => upstream.pressure_pa,
    }
}
