//! How large a cause may be: the numbers that describe it, and what is believed of them before the log is read.
//!
//! The beliefs are common practice without a source, wide enough that a log decides. It refuses more than two numbers for a cause:
//! a third would explain anything.

use super::expect::Entered;
use super::form::Form;
use crate::belief::Prior;
use crate::dyno::Setup;
use serde::Serialize;

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
    /// Whether none of it is a sound pull: then a log that bounds it from below alone still tells something.
    pub counts_from_sound: bool,
}

/// Unit of a size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
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

impl SizeMeasure {
    /// Its SI unit; `1` for plain numbers.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Share | Self::Factor | Self::Lambda => "1",
            Self::Rpm => "rpm",
            Self::Degree => "deg",
            Self::Kelvin | Self::Temperature => "K",
            Self::Area => "m²",
            Self::Force => "N",
            Self::Second => "s",
            Self::Metre => "m",
        }
    }
}

/// Nothing to be large or small.
/// Equation (10.5).
pub(super) fn none(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    Vec::new()
}

/// Of the room, where it is not known.
pub(super) fn altitude(_: Form, _: &Setup, entered: &Entered) -> Vec<Size> {
    let prior = log_normal(600.0, 0.8, 30.0, 4000.0);
    match entered.altitude_m {
        Some(_) => Vec::new(),
        None => vec![size("altitude of the room", SizeMeasure::Metre, prior)],
    }
}

/// Of the gear entered, or driven.
pub(super) fn ratio(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let prior = log_normal(1.0, 0.15, 0.4, 2.5);
    vec![size("entered over true ratio", SizeMeasure::Factor, prior)]
}

/// Of the drums.
pub(super) fn inertia(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    vec![size(
        "entered over true inertia",
        SizeMeasure::Factor,
        log_normal(1.0, 0.10, 0.4, 2.5),
    )]
}

/// Of a signal: how wrongly it counts, or how late it is.
pub(super) fn signal(form: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let (factor, second) = (SizeMeasure::Factor, SizeMeasure::Second);
    vec![match form {
        Form::SpeedScale => size(
            "shown over true engine speed",
            factor,
            log_normal(1.0, 0.10, 0.4, 2.5),
        ),
        Form::SpeedSignal => size("late by", second, log_normal(0.15, 0.7, 0.01, 1.5)),
        _ => size("time constant", second, log_normal(5.0, 0.5, 1.6, 30.0)),
    }]
}

/// Of the tyres.
pub(super) fn grip(form: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let share = SizeMeasure::Share;
    if form == Form::AnyLoad {
        let slip = log_normal(0.03, 0.6, 0.003, 0.3);
        return vec![size("slip", share, slip).counted_from_sound()];
    }
    let left = |name, sd| size(name, share, log_normal(0.7, sd, 0.15, 1.0));
    vec![left("grip left", 0.25), left("slip stiffness left", 0.4)]
}

/// Of a lifted foot.
pub(super) fn lift(_: Form, setup: &Setup, _: &Entered) -> Vec<Size> {
    let redline = setup.car.engine.redline_rpm;
    let from = normal(0.75 * redline, 0.2 * redline, 0.15 * redline, redline);
    vec![
        size(
            "power lost",
            SizeMeasure::Share,
            log_normal(0.2, 0.7, 0.02, 0.9),
        )
        .counted_from_sound(),
        size("from", SizeMeasure::Rpm, from).no_finer_than(0.01 * redline),
    ]
}

/// What clutch or converter still carry.
pub(super) fn clutch(form: Form, setup: &Setup, _: &Entered) -> Vec<Size> {
    let share = SizeMeasure::Share;
    if form == Form::OpenConverter {
        let left = log_normal(0.75, 0.2, 0.2, 1.0);
        return vec![size("torque capacity left", share, left)];
    }
    let redline = setup.car.engine.redline_rpm;
    let from = normal(0.55 * redline, 0.2 * redline, 0.15 * redline, redline);
    vec![
        size("lets go at", SizeMeasure::Rpm, from).no_finer_than(0.015 * redline),
        size(
            "torque kept while slipping, of peak",
            share,
            normal(0.86, 0.08, 0.4, 1.0),
        )
        .no_finer_than(0.015),
    ]
}

/// What a clutch held before it let go: read off the car's own torque curve, whose shape is known to 1.5 %.
/// Equation (10.8).
pub(super) fn clutch_held() -> Size {
    let prior = normal(0.92, 0.06, 0.4, 1.0);
    size("clutch holds, of peak torque", SizeMeasure::Share, prior).no_finer_than(0.015)
}

/// Of a battery. The power its management allows at a charge is its own rule, known here to a tenth; the same goes for the
/// temperature from which a motor is held back.
pub(super) fn charge(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let prior = normal(0.20, 0.10, 0.01, 0.7);
    vec![size("battery level at the start", SizeMeasure::Share, prior).no_finer_than(0.06)]
}

/// Temperature of a motor.
pub(super) fn winding(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let prior = normal(400.0, 25.0, 330.0, 480.0);
    vec![
        size(
            "motor temperature at the start",
            SizeMeasure::Temperature,
            prior,
        )
        .no_finer_than(8.0),
    ]
}

/// Of tyres, straps or brakes.
pub(super) fn drag(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let prior = log_normal(150.0, 0.8, 3.0, 4000.0);
    vec![size("drag at the drum", SizeMeasure::Force, prior).counted_from_sound()]
}

/// Engine speed from which a fault grows. Over how many speeds it does is assumed, and known to about half of that: its middle is seen,
/// its onset is not.
fn onset(setup: &Setup, share: f64, grows: f64) -> Size {
    let redline = setup.car.engine.redline_rpm;
    let (low, high) = (0.15 * redline, 0.95 * redline);
    let prior = normal(share * redline, 0.15 * redline, low, high);
    size("from", SizeMeasure::Rpm, prior).no_finer_than(0.25 * grows * redline)
}

/// Slip of a belt.
pub(super) fn belt(_: Form, setup: &Setup, _: &Entered) -> Vec<Size> {
    let lost = log_normal(0.10, 0.6, 0.005, 0.6);
    vec![
        size("speed lost", SizeMeasure::Share, lost).counted_from_sound(),
        onset(setup, 0.6, SLIP_GROWS),
    ]
}

/// Of the burn behind its place.
pub(super) fn retard(form: Form, setup: &Setup, _: &Entered) -> Vec<Size> {
    let late = log_normal(7.0, 0.6, 0.5, 35.0);
    let late = size("combustion later by", SizeMeasure::Degree, late);
    if form == Form::WholeRange {
        return vec![late];
    }
    vec![late, onset(setup, 0.5, RETARD_GROWS)]
}

/// Of charge cooler and intake.
pub(super) fn warmth(_: Form, setup: &Setup, _: &Entered) -> Vec<Size> {
    let warmer = |name, prior| size(name, SizeMeasure::Kelvin, prior);
    let core = setup
        .car
        .cooler
        .as_ref()
        .map(|_| warmer("intercooler warmer by", log_normal(15.0, 0.9, 0.3, 120.0)));
    let inlet = warmer("intake air warmer by", log_normal(8.0, 0.8, 0.3, 60.0));
    core.into_iter().chain([inlet]).collect()
}

/// Of a mixture.
pub(super) fn leaner(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    mixture("leaner by")
}

/// The other way.
pub(super) fn richer(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    mixture("richer by")
}

fn mixture(name: &'static str) -> Vec<Size> {
    let prior = log_normal(0.09, 0.5, 0.01, 0.4);
    vec![size(name, SizeMeasure::Lambda, prior)]
}

/// Through which charge escapes.
pub(super) fn hole(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let prior = log_normal(100e-6, 0.8, 2e-6, 2e-3);
    vec![size("hole", SizeMeasure::Area, prior).counted_from_sound()]
}

/// Of the fuel delivered.
pub(super) fn fuel(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    vec![size(
        "fuel delivered, of peak demand",
        SizeMeasure::Share,
        log_normal(0.88, 0.08, 0.4, 0.995),
    )]
}

/// Of an intake or exhaust.
pub(super) fn free_area(_: Form, _: &Setup, _: &Entered) -> Vec<Size> {
    let prior = log_normal(0.55, 0.35, 0.08, 1.0);
    vec![size("open area left", SizeMeasure::Share, prior)]
}

fn size(name: &'static str, measure: SizeMeasure, prior: Prior) -> Size {
    Size {
        name,
        measure,
        prior,
        least_sd: 0.0,
        counts_from_sound: false,
    }
}

impl Size {
    fn no_finer_than(self, least_sd: f64) -> Self {
        Self { least_sd, ..self }
    }

    fn counted_from_sound(self) -> Self {
        Self {
            counts_from_sound: true,
            ..self
        }
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
