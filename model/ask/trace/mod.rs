//! The working at one engine speed: every intermediate number, in the order the air goes, with the name of its equation.
//!
//! It exists so that a figure can be checked by hand and argued with. Numbers are taken from the operating point and the
//! pull; where a step is worked out again here (port), it uses the device's own formula and must come out at
//! the pull's reading.

mod by_cycle;
mod drums;
mod engine;
mod supply;

use super::basis::{Air, ElectricStart, Weather};
use super::limits::LimitLine;
use super::work::{Work, WorkError};
use crate::belief::prior::Prior;
use crate::dyno::pull::AxleStart;
use crate::dyno::{Conditions, PullError, Setup};
use crate::parts::Plan;
use serde::Serialize;

/// Engine speeds at which a full-load pull makes sense, as shares of the redline: below, no car pulls; above, it is cut.
const SPEEDS: (f64, f64) = (0.1, 1.0);
/// Share of the engine speed asked for at which a pull starts when its usual start lies above.
const EARLY_START: f64 = 0.85;
/// Engine speeds at which the pull up to there is simulated.
const POINTS: usize = 12;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// The car on its drums as it stands.
    pub setup: &'a Setup,
    /// Work planned for it.
    pub plan: Option<&'a Plan<Prior>>,
    /// The air of the pull.
    pub air: Air,
    /// Engine speed of the working, rpm.
    pub rpm: f64,
    /// How the electric axle starts; left out, on and rested. Asking it of a car that has none is a mistake.
    pub start: Option<AxleStart>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TraceError {
    /// The plan does not fit the car, or the axle is asked about where there is none.
    #[error(transparent)]
    Work(#[from] WorkError),
    /// The car does not pull at that engine speed.
    #[error("{rpm:.0} rpm is outside {low:.0} to {high:.0} rpm, where this car pulls")]
    Speed {
        /// Asked for.
        rpm: f64,
        /// Least.
        low: f64,
        /// Greatest, the redline.
        high: f64,
    },
    /// The car cannot pull that far.
    #[error(transparent)]
    Pull(#[from] PullError),
}

/// The working.
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
    /// Engine speed.
    pub rpm: f64,
    /// Time since the start of the pull.
    pub time_s: f64,
    /// The steps, in the order the air and then the torque go.
    pub sections: Vec<Section>,
    /// Where the power went.
    pub ledger: Vec<Share>,
    /// Fuel, air and warmth in, less everything out, over the fuel's power: the balance's own check.
    pub imbalance: f64,
    /// Limits met here.
    pub limits: Vec<LimitLine>,
}

/// Steps that belong to one part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Section {
    /// The part.
    pub part: &'static str,
    /// Its numbers.
    pub steps: Vec<Step>,
}

/// One number of the working.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    /// What it is.
    pub quantity: &'static str,
    /// SI; rpm and deg where the quantity is an engine speed or a crank angle.
    pub value: f64,
    /// Unit of the value, `1` for a ratio.
    pub unit: &'static str,
    /// The equation, or where the number comes from.
    pub equation: &'static str,
}

/// One line of the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// What it is.
    pub entry: &'static str,
    /// Power.
    pub power_w: f64,
    /// Over the fuel's power.
    pub share_of_fuel: f64,
}

const fn step(
    quantity: &'static str,
    unit: &'static str,
    value: f64,
    equation: &'static str,
) -> Step {
    Step {
        quantity,
        value,
        unit,
        equation,
    }
}

impl Question<'_> {
    /// Simulates a pull up to the engine speed, and shows the working there.
    pub fn answer(&self) -> Result<Answer, TraceError> {
        let (day, rpm) = (self.air.day, self.rpm);
        let work = Work {
            setup: self.setup,
            plan: self.plan,
        };
        let setup = work.built(day)?;
        let redline_rpm = setup.car.engine.redline_rpm;
        let (low, high) = (SPEEDS.0 * redline_rpm, SPEEDS.1 * redline_rpm);
        if !(low..=high).contains(&rpm) {
            return Err(TraceError::Speed { rpm, low, high });
        }
        let axle = work.axle_start(&setup, self.start)?;
        let usual = Conditions {
            axle,
            ..Conditions::rested(redline_rpm)
        };
        let conditions = Conditions {
            from_rpm: usual.from_rpm.min(EARLY_START * rpm),
            to_rpm: rpm,
            ..usual
        };
        let pull = setup.pull(&day, &conditions, POINTS)?;
        let (None, Some(point)) = (pull.stalled_rpm, pull.points.last()) else {
            return Err(TraceError::Pull(PullError::CannotAccelerate {
                rpm: pull.stalled_rpm.unwrap_or(rpm),
                force_n: 0.0,
                drag_n: 0.0,
            }));
        };
        let mut sections = engine::sections(&setup.car, &day, point);
        sections.push(drums::section(&setup, point));
        let ledger = &point.engine.ledger;
        let met = point.limits.iter();
        Ok(Answer {
            car: setup.car.name.clone(),
            plan: self.plan.map(|plan| plan.name.clone()),
            weather: (&self.air).into(),
            electric_axle: ElectricStart::of(&setup.car, axle),
            rpm: point.rpm,
            time_s: point.time_s,
            sections,
            ledger: engine::ledger(ledger),
            imbalance: ledger.imbalance(),
            limits: met.map(|limit| LimitLine::new(limit, None, None)).collect(),
        })
    }
}
