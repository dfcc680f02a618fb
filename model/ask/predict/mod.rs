//! A predicted pull: what the drums will read, and what goes on inside the car to make it so.
//!
//! One row per round engine speed, uncorrected beside corrected, and the limits the pull runs into. It is the centre of the
//! beliefs, without a range; a figure to promise comes from a quote.

mod axle;
mod rig;
mod sequence;

pub use axle::AxlePoint;
pub use rig::{BrakeLaw, BrakeWork, Holds, Rig};
pub use sequence::{INLET_K, Kept, Lasting, PullLine, RecoveryLine, Row, Sequence};

use super::basis::{Air, Corrected, ElectricStart, Weather, subject_of};
use super::cautions::{Caution, cautions};
use super::limits::{LimitLine, caps, of_pull};
use super::work::{Work, WorkError};
use crate::belief::prior::Prior;
use crate::car::Limit;
use crate::dyno::correction::{Correction, CorrectionError, Standard};
use crate::dyno::pull::AxleStart;
use crate::dyno::{Conditions, Coupling, Pull, PullError, PullPoint, Setup};
use crate::parts::Plan;
use crate::units;
use serde::Serialize;

/// Engine speeds at which the pull is simulated.
const POINTS: usize = 40;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// The car on its drums as it stands.
    pub setup: &'a Setup,
    /// Work planned for it.
    pub plan: Option<&'a Plan<Prior>>,
    /// The air of the pull.
    pub air: Air,
    /// How the electric axle starts; left out, on and rested. Asking it of a car that has none is a mistake.
    pub start: Option<AxleStart>,
    /// Correction in which the figures are also stated.
    pub standard: Standard,
    /// Mechanical efficiency that the standard may ask for, where it is known.
    pub mechanical_efficiency: Option<f64>,
    /// More pulls after this one, with rest between them.
    pub row: Option<Row>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PredictError {
    /// The plan does not fit the car, or the axle is asked about where there is none.
    #[error(transparent)]
    Work(#[from] WorkError),
    /// The standard does not say what to do with this engine.
    #[error(transparent)]
    Correction(#[from] CorrectionError),
    /// The car cannot make the pull.
    #[error(transparent)]
    Pull(#[from] PullError),
    /// A pull came to nothing.
    #[error("the pull has no points")]
    NoPoints,
}

/// A predicted pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// The car's name.
    pub car: String,
    /// The plan's name, if one was applied.
    pub plan: Option<String>,
    /// The air.
    pub weather: Weather,
    /// How the electric axle starts; none on a car without one.
    pub electric_axle: Option<ElectricStart>,
    /// The correction.
    pub correction: Corrected,
    /// Highest power.
    pub peak_power: Peak,
    /// What caps that power: where anything does, the peak is what it lets through.
    pub peak_power_capped_by: Vec<Limit>,
    /// What gauges and logger should show there.
    pub at_peak: AtPeak,
    /// Highest torque.
    pub peak_torque: Peak,
    /// Highest power of the car before the plan.
    pub peak_power_before: Option<Peak>,
    /// The engine alone, at its crankshaft.
    pub crank: Crank,
    /// The curve.
    pub points: Vec<Point>,
    /// The same more finely, for a recording.
    #[serde(skip)]
    pub recording: Vec<Point>,
    /// The drums' figures of the car before the plan, as finely; empty where no work is planned.
    #[serde(skip)]
    pub recording_before: Vec<Peak>,
    /// Limits met.
    pub limits: Vec<LimitLine>,
    /// What to mind.
    pub cautions: Vec<Caution>,
    /// The rig, where it is more than an inertia drum under one axle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rig: Option<Rig>,
    /// How the axles share the drums, which is what their split rests on; none without an electric axle that helps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub axle_split: Option<Coupled>,
    /// How long the pull takes.
    pub duration_s: f64,
    /// The pulls after this one, where they were asked for; this one is the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sequence: Option<Sequence>,
}

/// Highest power and torque of the engine at its crankshaft through the pull, what turns its own inertia included: what no drums read. An engine
/// dynamometer that holds each speed reads more where boost still builds in a pull, and less where a charge cooler soaks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Crank {
    /// Highest power.
    pub peak_power: CrankPoint,
    /// Highest torque.
    pub peak_torque: CrankPoint,
}

/// The crankshaft at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CrankPoint {
    /// Engine speed.
    pub rpm: f64,
    /// Power, uncorrected.
    pub power_w: f64,
    /// Power in the named correction.
    pub corrected_power_w: f64,
    /// Torque, uncorrected.
    pub torque_nm: f64,
    /// Torque in the named correction.
    pub corrected_torque_nm: f64,
}

impl Crank {
    fn of(pull: &Pull, correction: &Correction) -> Option<Self> {
        let torque = |p: &PullPoint| p.crank_w / units::rad_s(p.rpm);
        let highest = |of: &dyn Fn(&PullPoint) -> f64| {
            let points = pull.points.iter();
            let point = points.max_by(|a, b| of(a).total_cmp(&of(b)))?;
            let Peak {
                rpm,
                power_w,
                corrected_power_w,
                torque_nm,
                corrected_torque_nm,
                ..
            } = figures(point.rpm, point.crank_w, 0.0, correction);
            Some(CrankPoint {
                rpm,
                power_w,
                corrected_power_w,
                torque_nm,
                corrected_torque_nm,
            })
        };
        Some(Self {
            peak_power: highest(&|p| p.crank_w)?,
            peak_torque: highest(&torque)?,
        })
    }
}

/// How the axles share the drums.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Coupled {
    /// One axle on the drums.
    Single,
    /// Both on drums that turn together.
    Linked,
    /// Each on its own.
    Separate,
}

impl From<Coupling> for Coupled {
    fn from(coupling: Coupling) -> Self {
        match coupling {
            Coupling::Single => Self::Single,
            Coupling::Linked => Self::Linked,
            Coupling::Separate { .. } => Self::Separate,
        }
    }
}

/// The figures at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Engine speed.
    pub rpm: f64,
    /// Power at the drums, uncorrected.
    pub power_w: f64,
    /// Corrected; its electric share as observed.
    pub corrected_power_w: f64,
    /// Torque at the drums referred to engine speed, uncorrected.
    pub torque_nm: f64,
    /// Corrected.
    pub corrected_torque_nm: f64,
    /// The engine's share of the uncorrected power.
    pub engine_power_w: f64,
    /// Electric share of the uncorrected power; with the engine's it makes the whole.
    pub electric_power_w: f64,
    /// What the standard would have added to that share.
    pub electric_not_added_w: f64,
}

/// What can be read beside the power at its peak, to hold the car against while it is set up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AtPeak {
    /// Manifold pressure above the air outside; below zero on an engine without a blower.
    pub boost_pa: f64,
    /// Temperature of the intake air in the manifold.
    pub charge_k: f64,
    /// Relative air-fuel ratio.
    pub lambda: f64,
    /// Share of a cycle for which the injectors are told to open; none where they are not known.
    pub injector_duty: Option<f64>,
}

impl AtPeak {
    fn of(point: &PullPoint, ambient_pa: f64) -> Self {
        Self {
            boost_pa: point.engine.manifold_pa - ambient_pa,
            charge_k: point.engine.charge_k,
            lambda: point.engine.cylinder.lambda,
            injector_duty: point.engine.injector_duty,
        }
    }
}

/// One row of the curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    /// The drums' figures.
    #[serde(flatten)]
    pub drums: Peak,
    /// Time since the throttle opened.
    pub time_s: f64,
    /// Torque at the crank.
    pub crank_torque_nm: f64,
    /// Absolute manifold pressure.
    pub manifold_pressure_pa: f64,
    /// Manifold pressure above the air outside.
    pub boost_pa: f64,
    /// Charge temperature in the manifold.
    pub charge_k: f64,
    /// Speed of the blower's shaft; none without a blower.
    pub blower_rpm: Option<f64>,
    /// Power the blower takes from the crank; none without a blower on a belt.
    pub blower_power_w: Option<f64>,
    /// Pressure before the turbine; none without a turbocharger.
    pub turbine_inlet_pa: Option<f64>,
    /// Share of the exhaust gas that passes the turbine by the gate; none without a turbocharger.
    pub gate_share: Option<f64>,
    /// Relative air-fuel ratio.
    pub lambda: f64,
    /// Half the burn, after top dead centre.
    pub half_burn_deg: f64,
    /// Share of a cycle for which the injectors are told to open; none where they are not known.
    pub injector_duty: Option<f64>,
    /// The electric axle; none on a car without one, or with it off.
    pub electric_axle: Option<AxlePoint>,
    /// What caps the power here.
    pub capped_by: Vec<Limit>,
}

/// Spacing of the rows, rpm.
const ROW_RPM: f64 = 250.0;
/// Distance of engine speeds in the curve written as a recording, rpm: enough rows for any engine's pull.
const RECORDING_RPM: f64 = 50.0;

impl<'a> Question<'a> {
    /// One pull of a rested car in some air, in the usual correction.
    pub const fn new(setup: &'a Setup, plan: Option<&'a Plan<Prior>>, air: Air) -> Self {
        Self {
            setup,
            plan,
            air,
            start: None,
            standard: Standard::SaeJ1349,
            mechanical_efficiency: None,
            row: None,
        }
    }

    /// Answers the question.
    pub fn answer(&self) -> Result<Answer, PredictError> {
        let day = self.air.day;
        let work = Work {
            setup: self.setup,
            plan: self.plan,
        };
        let built = work.built(day)?;
        let engine = subject_of(&built.car, self.mechanical_efficiency);
        let correction = Correction::new(self.standard, day, &engine)?;
        let axle = work.axle_start(&built, self.start)?;
        let conditions = |setup: &Setup| Conditions {
            axle,
            ..Conditions::rested(setup.car.engine.redline_rpm)
        };
        let pull = |setup: &Setup| setup.pull(&day, &conditions(setup), POINTS);
        let after = pull(&built)?;
        let before = self.plan.map(|_| pull(self.setup)).transpose()?;
        let mut answer = self
            .of_pull((&built, axle), &after, before.as_ref(), &correction)
            .ok_or(PredictError::NoPoints)?;
        if let Some(row) = self.row {
            let start = (&built, day, conditions(&built));
            answer.sequence = Some(sequence::pulls(row, start, &correction)?);
        }
        Ok(answer)
    }

    /// Reads a pull, started with the electric axle so, at round engine speeds.
    fn of_pull(
        &self,
        (built, axle): (&Setup, AxleStart),
        pull: &Pull,
        before: Option<&Pull>,
        correction: &Correction,
    ) -> Option<Answer> {
        let car = &built.car;
        let peak = |point: &PullPoint| Peak::of(point, correction);
        let helps = car.electric.is_some() && axle.on;
        let ambient_pa = self.air.day.station().pa();
        let points = |step| points((pull, helps), ambient_pa, correction, step);
        let rows = points(ROW_RPM);
        let seen = rows.iter().any(|point| point.electric_axle.is_some());
        Some(Answer {
            car: car.name.clone(),
            plan: self.plan.map(|plan| plan.name.clone()),
            weather: (&self.air).into(),
            electric_axle: ElectricStart::of(car, axle),
            correction: correction.into(),
            peak_power: peak(pull.peak_power()?),
            peak_power_capped_by: pull.peak_power().map(caps).unwrap_or_default(),
            at_peak: AtPeak::of(pull.peak_power()?, ambient_pa),
            peak_torque: peak(pull.peak_torque()?),
            peak_power_before: before.and_then(Pull::peak_power).map(peak),
            crank: Crank::of(pull, correction)?,
            points: rows,
            recording: points(RECORDING_RPM),
            recording_before: before.map_or_else(Vec::new, |pull| drums(pull, correction)),
            limits: of_pull(pull),
            cautions: cautions(pull, car),
            rig: Rig::of(&built.drums, pull),
            axle_split: seen.then(|| built.drums.coupling.into()),
            duration_s: pull.points.last()?.time_s,
            sequence: None,
        })
    }
}

impl Peak {
    /// The figures of one point of a pull.
    pub fn of(point: &PullPoint, correction: &Correction) -> Self {
        figures(point.rpm, point.power_w, point.electric_w, correction)
    }
}

fn figures(rpm: f64, power_w: f64, electric_power_w: f64, correction: &Correction) -> Peak {
    let corrected = correction.apply(power_w - electric_power_w, electric_power_w);
    let speed_rad_s = units::rad_s(rpm);
    Peak {
        rpm,
        power_w,
        corrected_power_w: corrected.total_w,
        torque_nm: power_w / speed_rad_s,
        corrected_torque_nm: corrected.total_w / speed_rad_s,
        engine_power_w: power_w - electric_power_w,
        electric_power_w,
        electric_not_added_w: corrected.electric_not_added_w,
    }
}

/// The drums' figures at round engine speeds.
fn drums(pull: &Pull, correction: &Correction) -> Vec<Peak> {
    let at = |rpm| {
        let (power_w, electric_w) = (
            pull.reading(rpm, |p| p.power_w),
            pull.reading(rpm, |p| p.electric_w),
        );
        figures(rpm, power_w, electric_w, correction)
    };
    speeds(pull, RECORDING_RPM).into_iter().map(at).collect()
}

/// Round engine speeds through a pull, and its last.
fn speeds(pull: &Pull, step_rpm: f64) -> Vec<f64> {
    let (Some(first), Some(last)) = (pull.points.first(), pull.points.last()) else {
        return Vec::new();
    };
    let mut speeds = Vec::new();
    let mut rpm = (first.rpm / step_rpm - 1e-6).ceil() * step_rpm;
    while rpm < last.rpm - 1.0 {
        speeds.push(rpm);
        rpm += step_rpm;
    }
    speeds.push(last.rpm);
    speeds
}

/// The computed point nearest to an engine speed: a limit holds or not, there is nothing between.
fn nearest(pull: &Pull, rpm: f64) -> Option<&PullPoint> {
    let off = |p: &PullPoint| (p.rpm - rpm).abs();
    let points = pull.points.iter();
    points.min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// `helps` says whether an electric axle does.
fn points(
    (pull, helps): (&Pull, bool),
    ambient_pa: f64,
    correction: &Correction,
    step_rpm: f64,
) -> Vec<Point> {
    let Some(first) = pull.points.first() else {
        return Vec::new();
    };
    speeds(pull, step_rpm)
        .into_iter()
        .map(|rpm| {
            let at = |of: fn(&PullPoint) -> f64| pull.reading(rpm, of);
            let manifold_pressure_pa = at(|p| p.engine.manifold_pa);
            let turns = at(|p| p.engine.blower.speed_rad_s);
            let blown = turns > 0.0;
            let turbo = pull.points.iter().any(|p| p.engine.shaft.is_some());
            Point {
                drums: figures(rpm, at(|p| p.power_w), at(|p| p.electric_w), correction),
                time_s: at(|p| p.time_s),
                crank_torque_nm: at(|p| p.engine.torque_nm),
                manifold_pressure_pa,
                boost_pa: manifold_pressure_pa - ambient_pa,
                charge_k: at(|p| p.engine.charge_k),
                blower_rpm: blown.then_some(units::rpm(turns)),
                blower_power_w: (blown && !turbo).then(|| at(|p| p.engine.blower.crank_w)),
                turbine_inlet_pa: turbo.then(|| at(|p| p.engine.exhaust_pa)),
                gate_share: turbo
                    .then(|| at(|p| p.engine.shaft.map_or(0.0, |s| s.gate_share)).clamp(0.0, 1.0)),
                lambda: at(|p| p.engine.cylinder.lambda),
                half_burn_deg: at(|p| p.engine.cylinder.ca50_deg),
                injector_duty: first
                    .engine
                    .injector_duty
                    .map(|_| at(|p| p.engine.injector_duty.unwrap_or(0.0))),
                electric_axle: helps.then(|| AxlePoint::at(pull, rpm)),
                capped_by: nearest(pull, rpm).map(caps).unwrap_or_default(),
            }
        })
        .collect()
}
