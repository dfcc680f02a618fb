//! What goes in the tank.

use super::dial::{Dial, Shown, Turn, moved, never};
use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Described;
use super::row::{self, Holds, Row, rows};
use super::{BuildError, Change, Form, usual};
use crate::belief::parameter::Basis::CommonPractice;
use crate::belief::prior::{Prior, PriorError};
use crate::car::Car;
use crate::fuel::{Fuel, FuelKind, MOTOR_OCTANE_DOUBT};

numbers! {
    /// What goes in the tank.
    FuelChoice {
        /// The fuel.
        fuel: Fuel => kept,
        /// Its research octane number.
        research_octane: T => number("research_octane"),
        /// Its motor octane number.
        motor_octane: T => number("motor_octane"),
    }
}

pub(super) const FUEL: Row = row::other(
    "fuel",
    Holds::Word(|| FuelKind::WORDS.to_vec()),
    Described("`petrol`"),
    "what it is",
);
pub(super) const ETHANOL_CONTENT: Row = row::other(
    "ethanol",
    Holds::Other("0 to 1, without doubt"),
    Described("must be given of petrol with ethanol, and of nothing else"),
    "ethanol by volume, as measured",
);
pub(super) const RESEARCH_OCTANE: Row = row::of_car(
    "research_octane",
    "fuel.research_octane",
    0.0,
    Described("must be given of petrol; pure alcohols bring their own"),
    CommonPractice,
);
pub(super) const MOTOR_OCTANE: Row = row::of_car(
    "motor_octane",
    "fuel.motor_octane",
    0.0,
    Described("as such fuels have it, ± 1"),
    CommonPractice,
);

rows! {
    KIND_OF_FUEL = FUEL,
    ETHANOL_IN_IT = ETHANOL_CONTENT,
    RESEARCH = RESEARCH_OCTANE,
    MOTOR = MOTOR_OCTANE,
}

impl<T> Part for FuelChoice<T> {
    const KIND: &'static Kind = &Kind::new("fuel", "fuel", "new fuel", ROWS);
}

/// Research octane number; the motor octane number keeps its distance.
pub(super) const OCTANE: Dial = Dial::new(&Turn {
    id: "octane",
    help: "Octane of the fuel",
    words: "research octane number of the fuel",
    shown: Shown::Tenths,
    rows: &[("fuel", RESEARCH_OCTANE)],
    refused: never,
    own: |after| Ok(after.fuel.research_octane),
    number: |change| match change {
        Change::FuelChoice(fuel) => Some(&mut fuel.research_octane),
        _ => None,
    },
    follow: Some(|change, value| {
        if let Change::FuelChoice(fuel) = change {
            let motor = fuel.motor_octane.centre() + value - fuel.research_octane.centre();
            fuel.motor_octane = moved(&fuel.motor_octane, motor)?;
        }
        Ok(())
    }),
    work: |after, research_octane| {
        let sensitivity = after.fuel.research_octane - after.fuel.motor_octane;
        Ok(FuelChoice {
            fuel: after.fuel,
            research_octane,
            motor_octane: Prior::fixed(research_octane.centre() - sensitivity)?,
        }
        .into())
    },
});

/// Ethanol mixed into what is in the tank, octane as the blend has it: always poured on top, so no fuel of the plan is turned.
pub(super) const ETHANOL: Dial = Dial::new(&Turn {
    id: "ethanol",
    help: "Ethanol mixed into the fuel",
    words: "ethanol mixed into the fuel, by volume",
    shown: Shown::PerCent,
    rows: &[("fuel", SHARE_POURED_IN)],
    refused: never,
    own: |_| Ok(0.0),
    number: |_| None,
    follow: None,
    work: |after, share| Ok(mixed(&after.fuel, share.centre())?.into()),
});

/// Any share, as a plan file admits it under `ethanol`.
const SHARE_POURED_IN: Row = row::number(
    "ethanol",
    crate::belief::parameter::Measure::RATIO,
    (0.0, 1.0),
    0.0,
    Described(""),
    "ethanol by volume",
    CommonPractice,
);

fn mixed(tank: &Fuel, share: f64) -> Result<FuelChoice<Prior>, PriorError> {
    let fuel = if share > 0.0 {
        Fuel::petrol_with_ethanol(*tank, share)
    } else {
        *tank
    };
    Ok(FuelChoice {
        research_octane: Prior::fixed(fuel.research_octane)?,
        motor_octane: Prior::fixed(fuel.motor_octane)?,
        fuel,
    })
}

impl Written for FuelChoice<Prior> {
    /// A fuel as a shop names it, and its octane numbers.
    fn read(form: &mut dyn Form) -> Option<Self> {
        let kind = form.read_fuel(FUEL.key);
        let research = if kind.is_none_or(FuelKind::needs_octane) {
            form.required(&RESEARCH_OCTANE)
        } else {
            form.optional(&RESEARCH_OCTANE)
        };
        let motor = form.optional(&MOTOR_OCTANE);
        let fuel = kind?.fuel(research.map(|p| p.centre()), motor.map(|p| p.centre()));
        let mut or = |row: &Row, read: Option<Prior>, octane, doubt| {
            let (low, high) = row.bounds();
            if form.has(row.key) {
                read
            } else {
                usual(octane, doubt, low, high)
            }
        };
        let octanes = (fuel.research_octane, fuel.motor_octane);
        let research = or(&RESEARCH_OCTANE, research, octanes.0, fuel.doubt.octane);
        let motor = or(&MOTOR_OCTANE, motor, octanes.1, MOTOR_OCTANE_DOUBT);
        Some(Self {
            fuel,
            research_octane: research?,
            motor_octane: motor?,
        })
    }
}

impl FuelChoice<f64> {
    /// The fuel at its measured octane.
    pub(super) fn poured(&self) -> Fuel {
        Fuel {
            research_octane: self.research_octane,
            motor_octane: self.motor_octane,
            ..self.fuel
        }
    }
}

impl Work for FuelChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.fuel = self.poured();
        Ok(())
    }
}
