//! Calibration of the electric axle.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, Stays};
use super::row::{self, CLAIM_DOUBT, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::prior::Prior;
use crate::car::{Car, ElectricDrive};

numbers! {
    /// Calibration of the electric axle.
    AxleCalibration {
        /// Peak power, if it changes, W.
        peak_power_w: Option<T> => maybe("peak_power"),
        /// Share of its torque asked for: 0 switches the axle off.
        share: T => number("share"),
    }
}

rows! {
    PEAK_POWER = row::of_car("peak_power", "electric_axle.peak_power", CLAIM_DOUBT, Stays, CommonPractice),
    SHARE = row::of_car("share", "electric_axle.assist", 0.0, AsOfCar, Fact)
        .meaning("share of its torque that the calibration asks for; 0 switches it off"),
}

impl<T> Part for AxleCalibration<T> {
    const KIND: &'static Kind = &Kind::new(
        "electric axle",
        "electric_axle",
        "electric axle's calibration",
        ROWS,
    );
}

/// The axle, or that there is none.
pub(super) fn axle_of(car: &mut Car) -> Result<&mut ElectricDrive, BuildError> {
    car.electric.as_mut().ok_or(BuildError::PartMissing {
        part: "electric axle",
    })
}

impl Written for AxleCalibration<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (peak_power_w, share) = (form.number(&PEAK_POWER), form.number(&SHARE));
        Some(Self {
            peak_power_w,
            share: share?,
        })
    }
}

impl Work for AxleCalibration<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let axle = &mut axle_of(car)?.axle;
        axle.motor.peak_power_w = self.peak_power_w.unwrap_or(axle.motor.peak_power_w);
        axle.assist = self.share;
        Ok(())
    }
}
