//! Torque converter.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, Described};
use super::row::{self, CLAIM_DOUBT, Holds, rows};
use super::{BuildError, Fault, Form};
use crate::belief::parameter::Basis::{CommonPractice, FromMemory};
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::driveline::TorqueConverter;

/// A converter, in place of whatever is there.
#[derive(Debug, Clone, PartialEq)]
pub enum ConverterChoice<T> {
    /// Its lock-up clutch closed through the pull: it adds no slip.
    Locked,
    /// Open.
    Open(StallPoint<T>),
}

numbers! {
    /// What an open converter does with the engine's torque.
    StallPoint {
        /// Engine speed at which it holds the stall torque, rad/s.
        stall_speed_rad_s: T => number("stall_speed"),
        /// That torque, N m.
        stall_torque_nm: T => number("stall_torque"),
        /// Torque ratio at stall.
        torque_ratio: T => number("torque_ratio"),
        /// Speed ratio at which the torque ratio has fallen to 1.
        coupling: T => number("coupling"),
    }
}

const OR_LOCKED: row::LeftOut = Described("must be given, unless it is locked");

rows! {
    LOCKED = row::other("locked", Holds::Switch, Described("`false`"), "its lock-up clutch is closed through the pull; alone"),
    STALL_SPEED = row::of_car("stall_speed", "converter.stall_speed", CLAIM_DOUBT, OR_LOCKED, CommonPractice),
    STALL_TORQUE = row::of_car("stall_torque", "converter.stall_torque", CLAIM_DOUBT, OR_LOCKED, CommonPractice),
    TORQUE_RATIO = row::of_car("torque_ratio", "converter.torque_ratio", CLAIM_DOUBT, AsOfCar, FromMemory("converters of road cars")),
    COUPLING = row::of_car("coupling", "converter.coupling", 0.0, AsOfCar, FromMemory("converters of road cars")),
}

impl<T> Part for ConverterChoice<T> {
    const KIND: &'static Kind = &Kind::new("converter", "converter", "new converter", ROWS);
}

impl<T> ConverterChoice<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> ConverterChoice<U> {
        match self {
            Self::Locked => ConverterChoice::Locked,
            Self::Open(point) => ConverterChoice::Open(point.map(convert)),
        }
    }
}

impl Written for ConverterChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let locked = form.read_switch(LOCKED.key);
        let locked = locked.or((!form.has(LOCKED.key)).then_some(false));
        if locked == Some(true) {
            if form.has_any(&[STALL_SPEED, STALL_TORQUE, TORQUE_RATIO, COUPLING]) {
                let message =
                    "a locked converter does not slip, so its stall point changes nothing";
                let expected = "locked alone, or the stall point";
                form.error(LOCKED.key, Fault::Conflict, message, expected);
                return None;
            }
            return Some(Self::Locked);
        }
        let stall_speed = form.required(&STALL_SPEED);
        let stall_torque = form.required(&STALL_TORQUE);
        let (torque_ratio, coupling) = (form.number(&TORQUE_RATIO), form.number(&COUPLING));
        locked?;
        Some(Self::Open(StallPoint {
            stall_speed_rad_s: stall_speed?,
            stall_torque_nm: stall_torque?,
            torque_ratio: torque_ratio?,
            coupling: coupling?,
        }))
    }
}

impl Work for ConverterChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let line = &mut car.driveline;
        line.converter = match self {
            Self::Locked => line.converter.map(|converter| TorqueConverter {
                locked: true,
                ..converter
            }),
            Self::Open(point) => Some(TorqueConverter {
                stall_speed_rad_s: point.stall_speed_rad_s,
                stall_torque_nm: point.stall_torque_nm,
                stall_torque_ratio: point.torque_ratio,
                coupling_speed_ratio: point.coupling,
                locked: false,
            }),
        };
        Ok(())
    }
}
