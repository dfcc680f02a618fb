//! Injectors.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, MustBeGiven, Described};
use super::row::{self, CLAIM_DOUBT, Holds, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::fuel::supply::Injectors;

numbers! {
    /// A set of injectors, in place of whatever is there.
    InjectorChoice {
        /// How many; one for each cylinder where not stated.
        count: Option<u32> => kept,
        /// Flow of one, held open, of petrol at the rated pressure, m³/s.
        flow_m3_s: T => number("flow"),
        /// Pressure difference of that rating, Pa.
        rated_pressure_pa: T => number("rated_pressure"),
        /// Part of the open time told that brings no fuel, s.
        dead_time_s: T => number("dead_time"),
        /// Longest share of a cycle for which they are told to open.
        duty_limit: T => number("duty_limit"),
    }
}

rows! {
    FLOW = row::of_car("flow", "injectors.flow", CLAIM_DOUBT, MustBeGiven, CommonPractice),
    RATED_PRESSURE = row::of_car("rated_pressure", "injectors.rated_pressure", 0.0, AsOfCar, CommonPractice),
    DEAD_TIME = row::of_car("dead_time", "injectors.dead_time", 0.0, AsOfCar, CommonPractice),
    DUTY_LIMIT = row::of_car("duty_limit", "injectors.duty_limit", 0.0, AsOfCar, CommonPractice),
    COUNT = row::other("count", Holds::Count(1, 32), Described("one for each cylinder"), "how many there are"),
}

impl<T> Part for InjectorChoice<T> {
    const KIND: &'static Kind = &Kind::new("injectors", "injectors", "new injectors", ROWS);
}

impl Written for InjectorChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let flow = form.read_fuel_flow(&FLOW);
        let rated_pressure = form.number(&RATED_PRESSURE);
        let (dead_time, duty_limit) = (form.number(&DEAD_TIME), form.number(&DUTY_LIMIT));
        let count = form.count(&COUNT);
        if form.has(COUNT.key) && count.is_none() {
            return None;
        }
        Some(Self {
            count,
            flow_m3_s: flow?,
            rated_pressure_pa: rated_pressure?,
            dead_time_s: dead_time?,
            duty_limit: duty_limit?,
        })
    }
}

impl Work for InjectorChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.fuel_supply.injectors = Some(Injectors {
            count: self.count.unwrap_or(car.engine.geometry.cylinders),
            flow_m3_s: self.flow_m3_s,
            rated_pressure_pa: self.rated_pressure_pa,
            dead_time_s: self.dead_time_s,
            duty_limit: self.duty_limit,
        });
        Ok(())
    }
}
