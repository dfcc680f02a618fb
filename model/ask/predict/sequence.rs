//! Pulls in a row: what each one reads, what the car had kept of the ones before, and the rest that gives the first one back.
//!
//! The predicted pull is the first of the row. It refuses to call the change a fault: the third pull of a good car reads less
//! than its first.

use super::{POINTS, Peak, PredictError};
use crate::air::Day;
use crate::dyno::correction::Correction;
use crate::dyno::{self, Bodies, Conditions, Recovery, Setup, Warmth};
use serde::Serialize;

/// What is asked about pulls in a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// How many.
    pub pulls: usize,
    /// Rest from the end of one to the start of the next, s.
    pub rest_s: f64,
    /// How near to the first pull one more must come, as a share of its peak power.
    pub within: f64,
}

impl Row {
    /// Some pulls with the rest a shop leaves between them, two minutes, and one more within 1 % of the first.
    pub const fn of(pulls: usize) -> Self {
        Self {
            pulls,
            rest_s: 120.0,
            within: 0.01,
        }
    }
}

/// Pulls in a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sequence {
    /// Rest from the end of one pull to the start of the next.
    pub rest_s: f64,
    /// The pulls.
    pub pulls: Vec<PullLine>,
    /// The car when the last one has ended.
    pub after: Kept,
    /// Nearness asked for.
    pub within: f64,
    /// The rest that gives it.
    pub recovery: RecoveryLine,
    /// Change of the last pull's peak, relative, had the air at the inlet warmed by [`INLET_K`] more; none if no day can be so.
    pub change_with_warmer_inlet: Option<f64>,
}

/// Warming of the air at the inlet whose cost is told, K.
pub const INLET_K: f64 = 5.0;

/// One pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// Its place, from 1.
    pub pull: usize,
    /// Highest power.
    pub peak_power: Peak,
    /// Change of the uncorrected peak from the first pull, relative.
    pub change: f64,
    /// Charge temperature in the manifold at the peak.
    pub charge_at_peak_k: f64,
    /// The car when the pull starts.
    pub start: Kept,
}

/// Temperatures and charge; none where the car lacks the part.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Kept {
    /// Charge-cooler core or water.
    pub core_k: Option<f64>,
    /// Coolant and walls of head and manifold.
    pub walls_k: f64,
    /// Engine oil.
    pub engine_oil_k: f64,
    /// Gear oil.
    pub gear_oil_k: f64,
    /// Tyres that the engine drives.
    pub tyre_k: f64,
    /// Battery.
    pub battery_k: Option<f64>,
    /// Battery charge, 0 to 1.
    pub battery_charge: Option<f64>,
    /// Motor winding.
    pub winding_k: Option<f64>,
    /// Motor case.
    pub case_k: Option<f64>,
}

/// What no rest brings back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Lasting {
    /// What was taken from the battery: nothing recharges it at rest.
    BatteryCharge,
}

/// The rest behind the last pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum RecoveryLine {
    /// None is needed.
    AtOnce,
    /// This one.
    After {
        /// The rest.
        rest_s: f64,
    },
    /// No rest does it.
    Never {
        /// Change of peak power that stays, relative.
        change: f64,
        /// What does not recover.
        reason: Lasting,
        /// Charge of the battery after the last pull, 0 to 1.
        charge: f64,
        /// The same before the first.
        first_charge: f64,
    },
}

/// The pulls in a row, each started as it was but for what the ones before left.
pub(super) fn pulls(
    row: Row,
    (setup, day, conditions): (&Setup, Day, Conditions),
    correction: &Correction,
) -> Result<Sequence, PredictError> {
    let sequence = dyno::Sequence {
        setup,
        bodies: Bodies::typical(setup),
        day,
        conditions,
        pulls: row.pulls,
        rest_s: row.rest_s,
        points: POINTS,
    };
    let runs = sequence.run()?;
    let recovery = sequence.recovery(&runs, row.within)?;
    let change_with_warmer_inlet = sequence.warmer_inlet(&runs, INLET_K)?;
    let first = runs.runs.first().and_then(|run| run.pull.peak_power());
    let first_w = first.ok_or(PredictError::NoPoints)?.power_w;
    let pulls = runs.runs.iter().enumerate().map(|(place, run)| {
        let top = run.pull.peak_power()?;
        Some(PullLine {
            pull: place + 1,
            peak_power: Peak::of(top, correction),
            change: top.power_w / first_w - 1.0,
            charge_at_peak_k: top.engine.charge_k,
            start: Kept::of(setup, &run.start),
        })
    });
    Ok(Sequence {
        rest_s: row.rest_s,
        pulls: pulls
            .collect::<Option<Vec<_>>>()
            .ok_or(PredictError::NoPoints)?,
        after: Kept::of(setup, &runs.after),
        within: row.within,
        recovery: recovery.into(),
        change_with_warmer_inlet,
    })
}

impl Kept {
    /// What a car has kept; parts it lacks are left out.
    fn of(setup: &Setup, warmth: &Warmth) -> Self {
        let has_axle = setup.car.electric.is_some();
        let of_axle = |x: f64| has_axle.then_some(x);
        Self {
            core_k: setup.car.cooler.is_some().then_some(warmth.core_k),
            walls_k: warmth.walls_k,
            engine_oil_k: warmth.engine_oil_k,
            gear_oil_k: warmth.gear_oil_k,
            tyre_k: warmth.tyre_k,
            battery_k: of_axle(warmth.battery_k),
            battery_charge: of_axle(warmth.charge),
            winding_k: of_axle(warmth.winding_k),
            case_k: of_axle(warmth.case_k),
        }
    }
}

impl From<Recovery> for RecoveryLine {
    fn from(recovery: Recovery) -> Self {
        match recovery {
            Recovery::AtOnce => Self::AtOnce,
            Recovery::After { rest_s } => Self::After { rest_s },
            Recovery::Never {
                change,
                charge,
                first_charge,
            } => Self::Never {
                change,
                reason: Lasting::BatteryCharge,
                charge,
                first_charge,
            },
        }
    }
}
