//! An electric axle for a car that has none: motor, reduction, battery, wheels and tyres at the other end of the car.
//!
//! A car file describes its axle by the same keys, ranges and defaults. On drums of one axle the added one stands still:
//! nothing here knows the drums, so `files` says it. It refuses a second electric axle.

use super::axle_facts::{self, AxleFacts};
use super::kind::{Kind, Part, Rank, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, MustBeGiven};
use super::row::{self, CLAIM_DOUBT, FACTOR_DOUBT, SIZE_DOUBT, rows};
use super::turning_parts::INERTIA_DOUBT;
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact, FromMemory};
use crate::belief::prior::Prior;
use crate::car::{Car, ElectricDrive};
use crate::driveline::TyreOnDrum;

numbers! {
    /// An electric axle for a car that has none.
    AddedAxle {
        /// Battery, speeds and times.
        facts: AxleFacts => kept,
        /// Peak power at the motor's shaft, W.
        peak_power_w: T => number("peak_power"),
        /// Peak torque at the motor's shaft, N m.
        peak_torque_nm: T => number("peak_torque"),
        /// Motor turns per turn of the axle.
        reduction: T => number("reduction"),
        /// Efficiency of the reduction.
        efficiency: T => number("efficiency"),
        /// Internal resistance of the battery at 25 °C and half charge, cables included, Ω.
        resistance_ohm: T => number("battery_resistance"),
        /// Share of its torque asked for.
        assist: T => number("assist"),
        /// Inertia of its wheels with the rotor referred to them, kg m².
        wheels_kg_m2: T => number("wheels_inertia"),
        /// Load on its tyres, N.
        load_n: T => number("load"),
    }
}

rows! {
    PEAK_POWER = row::of_car("peak_power", "electric_axle.peak_power", CLAIM_DOUBT, MustBeGiven, CommonPractice),
    PEAK_TORQUE = row::of_car("peak_torque", "electric_axle.peak_torque", CLAIM_DOUBT, MustBeGiven, CommonPractice),
    REDUCTION = row::of_car("reduction", "electric_axle.reduction", SIZE_DOUBT, MustBeGiven, CommonPractice),
    EFFICIENCY = row::of_car("efficiency", "electric_axle.efficiency", 0.0, AsOfCar, FromMemory("single-speed reductions")),
    RESISTANCE = row::of_car("battery_resistance", "electric_axle.battery_resistance", FACTOR_DOUBT, AsOfCar, FromMemory("traction batteries")),
    ASSIST = row::of_car("assist", "electric_axle.assist", 0.0, AsOfCar, Fact),
    WHEELS = row::of_car("wheels_inertia", "electric_axle.wheels_inertia", INERTIA_DOUBT, AsOfCar, FromMemory("wheels of road cars")),
    LOAD = row::of_car("load", "electric_axle.load", 0.0, AsOfCar, CommonPractice),
    VOLTAGE = axle_facts::VOLTAGE,
    ENERGY = axle_facts::ENERGY,
    POWER = axle_facts::POWER,
    TOP_SPEED = axle_facts::TOP_SPEED,
    RADIUS = axle_facts::RADIUS,
    CUT_SPEED = axle_facts::CUT_SPEED,
    CUT_TAPER = axle_facts::CUT_TAPER,
    RAMP = axle_facts::RAMP,
    RATED_POWER = axle_facts::RATED_POWER,
    RATED_TORQUE = axle_facts::RATED_TORQUE,
}

impl<T> Part for AddedAxle<T> {
    const KIND: &'static Kind = &Kind {
        // Battery and calibration of the same plan find it there.
        rank: Rank::Removal,
        ..Kind::new(
            "add electric axle",
            "add_electric_axle",
            "new electric axle",
            ROWS,
        )
        .adds_up()
    };
}

impl Written for AddedAxle<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (power, torque) = (form.number(&PEAK_POWER), form.number(&PEAK_TORQUE));
        let reduction = form.number(&REDUCTION);
        let (efficiency, resistance) = (form.number(&EFFICIENCY), form.number(&RESISTANCE));
        let (assist, wheels, load) = (
            form.number(&ASSIST),
            form.number(&WHEELS),
            form.number(&LOAD),
        );
        let centre = |prior: Option<Prior>| prior.map(|prior| prior.centre());
        let facts = AxleFacts::read(form, centre(power), centre(torque));
        Some(Self {
            facts: facts?,
            peak_power_w: power?,
            peak_torque_nm: torque?,
            reduction: reduction?,
            efficiency: efficiency?,
            resistance_ohm: resistance?,
            assist: assist?,
            wheels_kg_m2: wheels?,
            load_n: load?,
        })
    }
}

impl Work for AddedAxle<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        if car.electric.is_some() {
            return Err(BuildError::PartThere {
                part: "electric axle",
            });
        }
        let (power_w, torque_nm) = (self.peak_power_w, self.peak_torque_nm);
        let mut axle = self.facts.axle(power_w, torque_nm, self.reduction);
        axle.reduction_efficiency = self.efficiency;
        axle.battery.resistance_ohm = self.resistance_ohm;
        axle.assist = self.assist;
        let driven = car.driveline.tyre;
        car.electric = Some(ElectricDrive {
            axle,
            tyre: TyreOnDrum {
                radius_m: self.facts.tyre_radius_m.unwrap_or(driven.radius_m),
                load_n: self.load_n,
                ..driven
            },
            inertia_kg_m2: self.wheels_kg_m2,
        });
        Ok(())
    }
}
