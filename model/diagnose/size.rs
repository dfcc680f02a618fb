//! How large a cause may be: the numbers that describe it, and what is believed of them before the log is read.
//!
//! The beliefs are common practice without a source, wide enough that a log decides. It refuses more than two numbers for a cause:
//! a third would explain anything.

use super::cause::{Cause, Form};
use super::expect::Entered;
use crate::belief::Prior;
use crate::dyno::Setup;

/// Engine speeds over which belt slip and held-back spark grow to their full size, as shares of the redline (common practice, no
/// source).
/// Equation (10.10).
pub(super) const SLIP_GROWS: f64 = 0.25;
/// Equation (10.10).
pub(super) const RETARD_GROWS: f64 = 0.15;

/// One number that describes a cause, with its belief; SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// What it is, for people: "belt slip", "from".
    pub name: &'static str,
    /// In what it is measured.
    pub measure: SizeMeasure,
    /// Belief before the log.
    pub prior: Prior,
    /// What the model cannot tell finer, however sharp the log: a standard deviation as that of the belief. From the assumed course
    /// of an onset, from the doubt about a rule, or from the shape of the car's own torque.
    pub least_sd: f64,
}

/// Unit of a size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SizeMeasure {
    /// A share, 0 to 1; shown in per cent.
    Share,
    /// A factor.
    Factor,
    /// Engine speed, rpm.
    Rpm,
    /// Crank angle, deg.
    Degree,
    /// Temperature difference, K.
    Kelvin,
    /// Absolute temperature, K.
    Temperature,
    /// Area, m².
    Area,
    /// Force, N.
    Force,
    /// Time, s.
    Second,
    /// Altitude, m.
    Metre,
    /// Relative air-fuel ratio.
    Lambda,
}

/// The numbers that describe a cause in a form, at most two.
/// Equation (10.5).
pub(super) fn sizes(cause: Cause, form: Form, setup: &Setup, entered: &Entered) -> Vec<Size> {
    match cause {
        Cause::Nothing | Cause::NoneOfThese | Cause::Correction => Vec::new(),
        Cause::PressureMixedUp | Cause::Gear | Cause::DrumInertia | Cause::SensorLag => {
            at_rig(cause, form, entered)
        }
        Cause::TyreSlip
        | Cause::ClutchSlip
        | Cause::Drag
        | Cause::LowBattery
        | Cause::MotorDerate => behind_engine(cause, form),
        _ => at_engine(cause, setup),
    }
}

/// Causes at the rig: settings and signals.
fn at_rig(cause: Cause, form: Form, entered: &Entered) -> Vec<Size> {
    let one = match cause {
        Cause::PressureMixedUp if entered.altitude_m.is_some() => return Vec::new(),
        Cause::PressureMixedUp => size(
            "altitude of the room",
            SizeMeasure::Metre,
            log_normal(600.0, 0.8, 30.0, 4000.0),
        ),
        Cause::Gear => size(
            "ratio over the right one",
            SizeMeasure::Factor,
            log_normal(1.0, 0.15, 0.4, 2.5),
        ),
        Cause::DrumInertia => size(
            "inertia entered over the drums'",
            SizeMeasure::Factor,
            log_normal(1.0, 0.10, 0.4, 2.5),
        ),
        _ if form == Form::SpeedScale => size(
            "engine speed shown over the true one",
            SizeMeasure::Factor,
            log_normal(1.0, 0.10, 0.4, 2.5),
        ),
        _ if form == Form::SpeedSignal => size(
            "late by",
            SizeMeasure::Second,
            log_normal(0.15, 0.7, 0.01, 1.5),
        ),
        _ => size(
            "time constant",
            SizeMeasure::Second,
            log_normal(5.0, 0.5, 1.6, 30.0),
        ),
    };
    vec![one]
}

/// Causes between crank and drum, and at the electric axle.
fn behind_engine(cause: Cause, form: Form) -> Vec<Size> {
    let share = SizeMeasure::Share;
    match cause {
        Cause::TyreSlip => vec![size("grip left", share, log_normal(0.7, 0.25, 0.2, 1.0))],
        Cause::ClutchSlip if form == Form::OpenConverter => {
            let left = log_normal(0.75, 0.2, 0.2, 1.0);
            vec![size("torque it takes, of what it took", share, left)]
        }
        // Where it lets go is read off the car's own torque curve, whose shape is known to 1.5 %.
        Cause::ClutchSlip => [
            (
                "clutch holds, of the greatest torque",
                normal(0.92, 0.06, 0.5, 1.0),
            ),
            (
                "of which it keeps while slipping",
                normal(0.93, 0.05, 0.6, 1.0),
            ),
        ]
        .map(|(name, prior)| size(name, share, prior).no_finer_than(0.015))
        .to_vec(),
        // The power a battery's management allows at a charge is its own rule, known here to a tenth; the same goes for the
        // temperature from which a motor is held back.
        Cause::LowBattery => {
            let prior = normal(0.20, 0.10, 0.01, 0.7);
            vec![size("charge at the start", share, prior).no_finer_than(0.06)]
        }
        Cause::MotorDerate => {
            let prior = normal(400.0, 25.0, 330.0, 480.0);
            vec![size("motor at the start", SizeMeasure::Temperature, prior).no_finer_than(8.0)]
        }
        _ => vec![size(
            "drag at the drum",
            SizeMeasure::Force,
            log_normal(150.0, 0.8, 3.0, 4000.0),
        )],
    }
}

/// Causes at the engine and its blower.
fn at_engine(cause: Cause, setup: &Setup) -> Vec<Size> {
    let redline = setup.car.engine.redline_rpm;
    // Over how many speeds a fault grows is assumed, and known to about half of that: its middle is seen, its onset is not.
    let onset = |share: f64, grows: f64| {
        let (low, high) = (0.15 * redline, 0.95 * redline);
        let prior = normal(share * redline, 0.15 * redline, low, high);
        size("from", SizeMeasure::Rpm, prior).no_finer_than(0.25 * grows * redline)
    };
    match cause {
        Cause::BeltSlip => {
            let lost = log_normal(0.10, 0.6, 0.005, 0.6);
            vec![
                size("speed lost", SizeMeasure::Share, lost),
                onset(0.6, SLIP_GROWS),
            ]
        }
        Cause::KnockRetard => {
            let late = log_normal(7.0, 0.6, 0.5, 35.0);
            vec![
                size("burn later by", SizeMeasure::Degree, late),
                onset(0.5, RETARD_GROWS),
            ]
        }
        Cause::HeatSoak => {
            let warmer = |name, prior| size(name, SizeMeasure::Kelvin, prior);
            let core = setup
                .car
                .cooler
                .as_ref()
                .map(|_| warmer("charge cooler warmer by", log_normal(15.0, 0.9, 0.3, 120.0)));
            let inlet = warmer("intake air warmer by", log_normal(8.0, 0.8, 0.3, 60.0));
            core.into_iter().chain([inlet]).collect()
        }
        Cause::Lean | Cause::Rich => {
            let name = if cause == Cause::Lean {
                "leaner by"
            } else {
                "richer by"
            };
            vec![size(
                name,
                SizeMeasure::Lambda,
                log_normal(0.09, 0.5, 0.01, 0.4),
            )]
        }
        Cause::BoostLeak => vec![size(
            "hole",
            SizeMeasure::Area,
            log_normal(100e-6, 0.8, 2e-6, 2e-3),
        )],
        Cause::WeakFuel => vec![size(
            "fuel that arrives, of the greatest demand",
            SizeMeasure::Share,
            log_normal(0.88, 0.08, 0.4, 0.995),
        )],
        _ => vec![size(
            "free area left",
            SizeMeasure::Share,
            log_normal(0.55, 0.35, 0.08, 1.0),
        )],
    }
}

fn size(name: &'static str, measure: SizeMeasure, prior: Prior) -> Size {
    Size {
        name,
        measure,
        prior,
        least_sd: 0.0,
    }
}

impl Size {
    fn no_finer_than(self, least_sd: f64) -> Self {
        Self { least_sd, ..self }
    }
}

/// The bounds of this file enclose their centres; a test walks through all of them.
fn normal(mean: f64, sd: f64, lower: f64, upper: f64) -> Prior {
    Prior::normal(mean, sd, lower, upper).unwrap_or_else(|_| unreachable!("bounds enclose {mean}"))
}

fn log_normal(median: f64, sd: f64, lower: f64, upper: f64) -> Prior {
    Prior::log_normal(median, sd, lower, upper)
        .unwrap_or_else(|_| unreachable!("bounds enclose {median}"))
}

/// An invented car on drums, for the tests of this folder.
#[cfg(test)]
pub(super) fn example() -> Setup {
    use crate::car::{Car, Facts};
    use crate::driveline::gears::{Drive, Gearbox};
    use crate::dyno::{Coupling, Drums};
    let car = Car::template(Facts {
        name: "coupe".into(),
        cylinders: 4,
        bore_m: 0.086,
        stroke_m: 0.086,
        compression_ratio: 10.5,
        inlet_valves: 2,
        redline_rpm: 7000.0,
        fuel: crate::fuel::Fuel::petrol(95.0, None),
        drive: Drive::Rear,
        gearbox: Gearbox::Manual,
        gear_ratio: 1.3,
        final_ratio: 3.9,
        tyre_radius_m: 0.31,
    });
    let drums = Drums {
        inertia_kg_m2: 200.0,
        radius_m: 0.5,
        drag_n: 30.0,
        drag_n_s_m: 0.0,
        drag_n_s2_m2: 0.01,
        machine: crate::dyno::drums::Machine::default(),
        drag_added_back: false,
        coupling: Coupling::Single,
    };
    Setup { car, drums }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cause_has_at_most_two_sizes_with_room_on_both_sides() {
        let setup = example();
        for cause in Cause::ALL {
            for form in [
                Form::Plain,
                Form::OpenConverter,
                Form::SpeedSignal,
                Form::SpeedScale,
                Form::TemperatureSignal,
            ] {
                let sizes = sizes(cause, form, &setup, &Entered::default());
                assert!(sizes.len() <= 2, "{cause:?}");
                for size in sizes {
                    let (low, high) = size.prior.z_bounds();
                    assert!(low < -1.0 && high > 0.6, "{cause:?} {size:?}");
                }
            }
        }
    }
}
