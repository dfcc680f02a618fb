//! Limits that a pull runs into: which, from what engine speed, and how often.

use crate::car::Limit;
use crate::dyno::{Pull, PullPoint};
use serde::{Serialize, Serializer};

/// What a pull runs into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Met {
    /// A limit of the car.
    Limit(Limit),
    /// The car cannot accelerate the drums any further.
    Stalled,
}

impl Met {
    /// Stable word for machines.
    pub fn id(self) -> &'static str {
        match self {
            Self::Limit(limit) => limit.id(),
            Self::Stalled => "stalled",
        }
    }
}

impl Serialize for Met {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.id())
    }
}

/// One limit of a pull, or of many draws of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LimitLine {
    /// Which.
    pub limit: Met,
    /// Lowest engine speed at which it holds, at the centre of the beliefs; none when only some draws meet it.
    pub from_rpm: Option<f64>,
    /// Highest.
    pub to_rpm: Option<f64>,
    /// Share of the draws that meet it, where draws were made.
    pub share_of_draws: Option<f64>,
    /// Whether the reading there is what the limit lets through, and not what engine or motor could give.
    pub caps_power: bool,
}

impl LimitLine {
    /// A limit of the car, held over a range of engine speed or, where there is none, nowhere at the centre.
    pub fn new(limit: Limit, rpm: Option<(f64, f64)>, share_of_draws: Option<f64>) -> Self {
        Self {
            limit: Met::Limit(limit),
            from_rpm: rpm.map(|r| r.0),
            to_rpm: rpm.map(|r| r.1),
            share_of_draws,
            caps_power: limit.caps_power(),
        }
    }
}

/// First and last engine speed at which a pull meets a limit, rpm; none where it does not.
pub fn speeds(pull: &Pull, limit: Limit) -> Option<(f64, f64)> {
    let met = |point: &&PullPoint| point.limits.contains(limit);
    let mut rpm = pull.points.iter().filter(met).map(|point| point.rpm);
    let first = rpm.next()?;
    Some((first, rpm.next_back().unwrap_or(first)))
}

/// Every limit of a simulated pull: engine and blower, clutch, tyres, electric axle, drums.
pub fn of_pull(pull: &Pull) -> Vec<LimitLine> {
    let met =
        |&limit: &Limit| speeds(pull, limit).map(|rpm| LimitLine::new(limit, Some(rpm), None));
    let stalled = pull.stalled_rpm.map(|rpm| LimitLine {
        limit: Met::Stalled,
        from_rpm: Some(rpm),
        to_rpm: Some(rpm),
        share_of_draws: None,
        caps_power: false,
    });
    Limit::ALL.iter().filter_map(met).chain(stalled).collect()
}

/// What caps the power at one moment of a pull.
pub fn caps(point: &PullPoint) -> Vec<Limit> {
    point
        .limits
        .iter()
        .filter(|limit| limit.caps_power())
        .collect()
}
