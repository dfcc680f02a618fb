//! A fuel pump.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, MustBeGiven};
use super::row::{self, FACTOR_DOUBT, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::fuel::supply::Pump;

numbers! {
    /// A fuel pump, in place of whatever is there.
    PumpChoice {
        /// Flow at the rated pressure, m³/s.
        flow_m3_s: T => number("flow"),
        /// Pressure of that rating above the tank's, Pa.
        rated_pressure_pa: T => number("rated_pressure"),
        /// Share of that flow lost per 100 kPa of more pressure.
        fall: T => number("fall"),
    }
}

rows! {
    // It hangs on the voltage the pump has in the car, so a printed one is doubted as a factor nobody measured.
    FLOW = row::of_car("flow", "fuel_pump.flow", FACTOR_DOUBT, MustBeGiven, CommonPractice),
    RATED_PRESSURE = row::of_car("rated_pressure", "fuel_pump.rated_pressure", 0.0, AsOfCar, CommonPractice),
    FALL = row::of_car("fall", "fuel_pump.fall", 0.0, AsOfCar, CommonPractice),
}

impl<T> Part for PumpChoice<T> {
    const KIND: &'static Kind = &Kind::new("fuel pump", "fuel_pump", "new fuel pump", ROWS);
}

impl Written for PumpChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let flow = form.read_fuel_flow(&FLOW);
        let (rated_pressure, fall) = (form.number(&RATED_PRESSURE), form.number(&FALL));
        Some(Self {
            flow_m3_s: flow?,
            rated_pressure_pa: rated_pressure?,
            fall: fall?,
        })
    }
}

impl Work for PumpChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.fuel_supply.pump = Some(Pump {
            flow_m3_s: self.flow_m3_s,
            rated_pressure_pa: self.rated_pressure_pa,
            fall_per_100_kpa: self.fall,
        });
        Ok(())
    }
}
