//! The rival causes: a row for each says its id and name, what to look at, where it sits, how likely it is before a log is read, which
//! cars can have it, what shows it beside a log, and the numbers that describe it.
//!
//! Exists so that a cause is listed once. What it does to a pull is physics, in `disturb`. It refuses causes that no log or
//! setting could show.

use super::expect::Entered;
use super::form::Form;
use super::size::{self, Size};
use crate::car::Car;
use crate::dyno::Setup;
use serde::{Serialize, Serializer};

/// One thing that may be wrong with a pull, *nothing* first and *none of these* last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// Nothing: within repeatability.
    Nothing,
    /// Pressure reduced to sea level was entered as the room's.
    PressureMixedUp,
    /// Reported power carries another correction than it says.
    Correction,
    /// Gear or final drive entered is not the one driven.
    Gear,
    /// Inertia entered is not that of the drums.
    DrumInertia,
    /// Tyres slip on the drum.
    TyreSlip,
    /// The clutch slips, the lock-up clutch of an automatic, or an open converter more than it did.
    ClutchSlip,
    /// The blower's belt slips.
    BeltSlip,
    /// Intake and charge cooler are hot from standing or from pulls before.
    HeatSoak,
    /// Spark held back by knock more than it was.
    KnockRetard,
    /// Mixture leaner than it was.
    Lean,
    /// Mixture richer than it was.
    Rich,
    /// Charge escapes through a hole.
    BoostLeak,
    /// Something narrows the intake.
    RestrictedIntake,
    /// Something narrows the exhaust.
    RestrictedExhaust,
    /// Battery of the electric axle low.
    LowBattery,
    /// Motor of the electric axle held back by heat.
    MotorDerate,
    /// Fuel delivery falls short of the demand.
    WeakFuel,
    /// Tyres, straps or brakes drag.
    Drag,
    /// The driver lifted.
    Lift,
    /// Engine-speed or temperature signal late.
    SensorLag,
    /// None of these.
    NoneOfThese,
}

/// Where a cause sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Nowhere: the pull is as it should be, or nobody knows.
    Nowhere,
    /// In the rig's settings and signals: what it does follows by arithmetic.
    Rig,
    /// In the car: another pull is driven.
    Car,
}

/// What shows a cause beside the log of a pull.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Check {
    /// The channels of a log alone.
    Channels,
    /// A look at what was entered.
    Setting,
    /// A barometer in the room.
    Barometer,
    /// A long rest, after which it is gone.
    Rest,
    /// A coast-down in neutral.
    CoastDown,
}

/// One line of the table of causes.
struct Row {
    cause: Cause,
    id: &'static str,
    name: &'static str,
    look_at: &'static str,
    place: Origin,
    check: Check,
    /// Probability before the log is read, but for a common factor.
    weight: f64,
    /// Whether a car can have it.
    possible: fn(&Car) -> bool,
    /// The numbers that describe it, at most two.
    sizes: fn(Form, &Setup, &Entered) -> Vec<Size>,
}

use Check::{Barometer, Channels, CoastDown, Rest, Setting};

const fn row(
    cause: Cause,
    (id, name, look_at): (&'static str, &'static str, &'static str),
    (place, check): (Origin, Check),
    sizes: fn(Form, &Setup, &Entered) -> Vec<Size>,
) -> Row {
    Row {
        cause,
        id,
        name,
        look_at,
        place,
        check,
        weight: 1.0,
        possible: |_| true,
        sizes,
    }
}

impl Row {
    const fn only_if(self, possible: fn(&Car) -> bool) -> Self {
        Self { possible, ..self }
    }

    const fn weighing(self, weight: f64) -> Self {
        Self { weight, ..self }
    }
}

fn on_a_belt(car: &Car) -> bool {
    car.blower.drive().is_some()
}

fn boosted(car: &Car) -> bool {
    car.blower.drive().is_some() || car.blower.turbo().is_some()
}

fn electric(car: &Car) -> bool {
    car.electric.is_some()
}

/// In the order of the variants, which [`Cause::row`] relies on and a test holds. A pull that is brought for a diagnosis is as likely
/// sound as not, and no fault is favoured (common practice, no source). *None of these* is held to be rare, since its looseness explains
/// anything.
/// Equation (10.4).
const TABLE: [Row; 22] = [
    row(
        Cause::Nothing,
        ("nothing", "nothing wrong", ""),
        (Origin::Nowhere, Channels),
        size::none,
    )
    .weighing(18.0),
    row(
        Cause::PressureMixedUp,
        (
            "pressure_mixed_up",
            "sea-level pressure entered as station pressure",
            "the barometer in the room: enter station pressure",
        ),
        (Origin::Rig, Barometer),
        size::altitude,
    ),
    row(
        Cause::Correction,
        (
            "correction",
            "wrong correction in the reported power",
            "the correction set in the rig; take uncorrected power from the raw log",
        ),
        (Origin::Rig, Setting),
        size::none,
    ),
    row(
        Cause::Gear,
        (
            "gear",
            "wrong gear or final drive",
            "the gear that was engaged, and the ratios entered",
        ),
        (Origin::Rig, Setting),
        size::ratio,
    ),
    row(
        Cause::DrumInertia,
        (
            "drum_inertia",
            "wrong drum inertia entered",
            "the inertia entered, against the drums' data plate",
        ),
        (Origin::Rig, Setting),
        size::inertia,
    ),
    row(
        Cause::TyreSlip,
        (
            "tyre_slip",
            "tyre slip on the drums",
            "straps, tyre pressure and tread, oil or water on the drums",
        ),
        (Origin::Car, Channels),
        size::grip,
    ),
    row(
        Cause::ClutchSlip,
        (
            "clutch_slip",
            "clutch or torque converter slip",
            "the clutch, or the torque converter and its lock-up; do not repeat the pull",
        ),
        (Origin::Car, Channels),
        size::clutch,
    ),
    row(
        Cause::BeltSlip,
        (
            "belt_slip",
            "blower belt slip",
            "tension, wrap and dust of the blower belt",
        ),
        (Origin::Car, Channels),
        size::belt,
    )
    .only_if(on_a_belt),
    row(
        Cause::HeatSoak,
        (
            "heat_soak",
            "heat soak",
            "cooling time and fan; where the intake draws its air; the intercooler's water",
        ),
        (Origin::Car, Rest),
        size::warmth,
    ),
    row(
        Cause::KnockRetard,
        (
            "knock_retard",
            "ignition timing pulled back",
            "knock count and timing in the ECU log, and the fuel in the tank, before the next pull",
        ),
        (Origin::Car, Channels),
        size::retard,
    ),
    row(
        Cause::Lean,
        (
            "lean",
            "running lean",
            "the mixture before anything else; do not repeat the pull",
        ),
        (Origin::Car, Channels),
        size::leaner,
    ),
    row(
        Cause::Rich,
        ("rich", "running rich", "mixture, fuel pressure, injectors"),
        (Origin::Car, Channels),
        size::richer,
    ),
    row(
        Cause::BoostLeak,
        (
            "boost_leak",
            "boost leak",
            "hoses and clamps after the blower or turbo; pressure-test them with the engine off",
        ),
        (Origin::Car, Channels),
        size::hole,
    )
    .only_if(boosted),
    row(
        Cause::RestrictedIntake,
        (
            "restricted_intake",
            "restricted intake",
            "air filter, ducts, throttle stop",
        ),
        (Origin::Car, Channels),
        size::free_area,
    ),
    row(
        Cause::RestrictedExhaust,
        (
            "restricted_exhaust",
            "restricted exhaust",
            "catalyst, silencers, exhaust flap; back pressure ahead of them",
        ),
        (Origin::Car, Channels),
        size::free_area,
    ),
    row(
        Cause::LowBattery,
        (
            "low_battery",
            "electric axle's battery low",
            "the battery level before the pull",
        ),
        (Origin::Car, Rest),
        size::charge,
    )
    .only_if(electric),
    row(
        Cause::MotorDerate,
        (
            "motor_derate",
            "electric motor derated by heat",
            "motor and inverter temperature before the pull",
        ),
        (Origin::Car, Rest),
        size::winding,
    )
    .only_if(electric),
    row(
        Cause::WeakFuel,
        (
            "weak_fuel",
            "fuel supply falls short",
            "fuel pressure under load, filter, pump voltage; do not repeat the pull",
        ),
        (Origin::Car, Channels),
        size::fuel,
    ),
    row(
        Cause::Drag,
        (
            "drag",
            "tyre, strap or brake drag",
            "strap tension, tyre pressure, brakes running free; do a coast-down",
        ),
        (Origin::Car, CoastDown),
        size::drag,
    ),
    row(
        Cause::Lift,
        (
            "lift",
            "throttle lifted",
            "throttle position and pedal in the ECU log; whether the driver stayed flat",
        ),
        (Origin::Car, Channels),
        size::lift,
    ),
    row(
        Cause::SensorLag,
        (
            "sensor_lag",
            "late or wrong sensor signal",
            "the sensor's filter, its pick-up, and what it counts",
        ),
        (Origin::Rig, Channels),
        size::signal,
    ),
    row(
        Cause::NoneOfThese,
        (
            "none_of_these",
            "none of these causes",
            "the log itself, channel by channel",
        ),
        (Origin::Nowhere, Channels),
        size::none,
    )
    .weighing(0.5),
];

/// How often a charge that was stated is not that at the start: read on another day, or off the wrong line (no source).
const STATED_WRONG: f64 = 0.1;

impl Cause {
    /// All causes, *nothing* first and *none of these* last.
    pub const ALL: [Self; TABLE.len()] = {
        let mut all = [Self::Nothing; TABLE.len()];
        let mut i = 0;
        while i < all.len() {
            all[i] = TABLE[i].cause;
            i += 1;
        }
        all
    };

    fn row(self) -> &'static Row {
        &TABLE[self as usize]
    }

    /// Stable word for machines.
    pub fn id(self) -> &'static str {
        self.row().id
    }

    /// What a shop would call it.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// What to look at first; empty where nothing is wrong.
    pub fn look_at(self) -> &'static str {
        self.row().look_at
    }

    /// Where it sits.
    pub fn place(self) -> Origin {
        self.row().place
    }

    /// What shows it beside a log.
    pub(super) fn check(self) -> Check {
        self.row().check
    }

    /// Probability before the log is read, but for a common factor. A battery whose charge was stated is low only where the statement
    /// is wrong.
    pub fn prior_weight(self, entered: &Entered) -> f64 {
        match self {
            Self::LowBattery if entered.charge.is_some() => STATED_WRONG,
            _ => self.row().weight,
        }
    }

    /// Whether the car or the rig can have it at all.
    pub fn possible(self, setup: &Setup) -> bool {
        (self.row().possible)(&setup.car)
    }

    /// The numbers that describe it in a form, at most two.
    pub(super) fn sizes(self, form: Form, setup: &Setup, entered: &Entered) -> Vec<Size> {
        (self.row().sizes)(form, setup, entered)
    }
}

impl Serialize for Cause {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.id())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_row_stands_at_its_variant_with_an_id_of_its_own() {
        for (at, row) in TABLE.iter().enumerate() {
            assert_eq!(row.cause as usize, at, "{}", row.id);
        }
        let ids: BTreeSet<_> = Cause::ALL.iter().map(|cause| cause.id()).collect();
        assert_eq!(ids.len(), TABLE.len());
    }

    #[test]
    fn every_cause_has_at_most_two_sizes_with_room_on_both_sides() {
        let setup = Setup::example();
        for cause in Cause::ALL {
            for form in [
                Form::Plain,
                Form::OpenConverter,
                Form::SpeedSignal,
                Form::SpeedScale,
                Form::TemperatureSignal,
            ] {
                let sizes = cause.sizes(form, &setup, &Entered::default());
                assert!(sizes.len() <= 2, "{cause:?}");
                for size in sizes {
                    let (low, high) = size.prior.z_bounds();
                    assert!(low < -1.0 && high > 0.6, "{cause:?} {size:?}");
                }
            }
        }
    }
}
