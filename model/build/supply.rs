//! Injectors, fuel pump and rail as changes to a car.

use crate::car::Car;
use crate::fuel::supply::{Injectors, Pump, RailReference};

/// A set of injectors, in place of whatever is there.
#[derive(Debug, Clone, PartialEq)]
pub struct InjectorChoice<T> {
    /// How many; one for each cylinder where not stated.
    pub count: Option<u32>,
    /// Flow of one, held open, of petrol at the rated pressure, m³/s.
    pub flow_m3_s: T,
    /// Pressure difference of that rating, Pa.
    pub rated_pressure_pa: T,
    /// Part of the open time told that brings no fuel, s.
    pub dead_time_s: T,
    /// Longest share of a cycle for which they are told to open.
    pub duty_limit: T,
}

impl<T> InjectorChoice<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> InjectorChoice<U> {
        InjectorChoice {
            count: self.count,
            flow_m3_s: convert("flow", &self.flow_m3_s),
            rated_pressure_pa: convert("rated_pressure", &self.rated_pressure_pa),
            dead_time_s: convert("dead_time", &self.dead_time_s),
            duty_limit: convert("duty_limit", &self.duty_limit),
        }
    }
}

impl InjectorChoice<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
        car.fuel_supply.injectors = Some(Injectors {
            count: self.count.unwrap_or(car.engine.geometry.cylinders),
            flow_m3_s: self.flow_m3_s,
            rated_pressure_pa: self.rated_pressure_pa,
            dead_time_s: self.dead_time_s,
            duty_limit: self.duty_limit,
        });
    }
}

/// A fuel pump, in place of whatever is there.
#[derive(Debug, Clone, PartialEq)]
pub struct PumpChoice<T> {
    /// Flow at the rated pressure, m³/s.
    pub flow_m3_s: T,
    /// Pressure of that rating above the tank's, Pa.
    pub rated_pressure_pa: T,
    /// Share of that flow lost per 100 kPa of more pressure.
    pub fall: T,
}

impl<T> PumpChoice<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> PumpChoice<U> {
        PumpChoice {
            flow_m3_s: convert("flow", &self.flow_m3_s),
            rated_pressure_pa: convert("rated_pressure", &self.rated_pressure_pa),
            fall: convert("fall", &self.fall),
        }
    }
}

impl PumpChoice<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
        car.fuel_supply.pump = Some(Pump {
            flow_m3_s: self.flow_m3_s,
            rated_pressure_pa: self.rated_pressure_pa,
            fall_per_100_kpa: self.fall,
        });
    }
}

/// Another pressure regulator.
#[derive(Debug, Clone, PartialEq)]
pub struct RailChoice<T> {
    /// Pressure above the reference, Pa, if it changes.
    pub pressure_pa: Option<T>,
    /// What it is held above, if that changes.
    pub reference: Option<RailReference>,
}

impl<T> RailChoice<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> RailChoice<U> {
        RailChoice {
            pressure_pa: self.pressure_pa.as_ref().map(|x| convert("pressure", x)),
            reference: self.reference,
        }
    }
}

impl RailChoice<f64> {
    /// Where neither injectors nor pump are known yet the pressure waits for them: a plan may name them after.
    pub(super) fn apply(&self, car: &mut Car) {
        let rail = &mut car.fuel_supply.rail;
        rail.pressure_pa = self.pressure_pa.unwrap_or(rail.pressure_pa);
        rail.reference = self.reference.unwrap_or(rail.reference);
    }
}
