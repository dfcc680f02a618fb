//! The pull before the work: in which air, how started, and what was read.

use super::next::Log;
use crate::ask::basis::{Air, AirSource};
use crate::belief::MeasuredSpeeds;
use crate::car::Car;
use crate::dyno::Conditions;
use crate::fit::observation::Visit;
use serde::Serialize;

/// The pull before the work. The pull after is started as it was.
#[derive(Debug, Clone, PartialEq)]
pub struct Before {
    /// Its air.
    pub air: Air,
    /// How both pulls are started.
    pub conditions: Conditions,
    /// Peak power that was read, W, where there is a reading; the model's own otherwise.
    pub read_w: Option<f64>,
    /// Engine speeds over which it was read.
    pub read_over: Option<MeasuredSpeeds>,
    /// Where that was read.
    pub read_on: Option<ReadOn>,
    /// Logs that were made of it.
    pub logged: Vec<Log>,
}

/// Which pulls the reading before, and its air, are taken from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ReadOn {
    /// The visit's name.
    pub visit: String,
    /// Its pulls that count: those with the electric axle on, or all if there is none.
    pub pulls: usize,
    /// Visits named in all; this is the last.
    pub visits: usize,
}

impl Before {
    /// A pull of a rested car that nobody measured.
    pub fn rested(car: &Car, air: Air) -> Self {
        Self {
            air,
            conditions: Conditions::rested(car.engine.redline_rpm),
            read_w: None,
            read_over: None,
            read_on: None,
            logged: Vec::new(),
        }
    }

    /// The pull before and the air after, from the last visit and the air stated for the pull after. The visit's pulls with the electric axle
    /// on count or, if there is none, all of them. What is not given is taken from the other side, and reference air from neither.
    pub(super) fn and_after(car: &Car, visits: &[Visit], day_after: Option<Air>) -> (Self, Air) {
        let Some(visit) = visits.last() else {
            let air = day_after.unwrap_or_else(Air::reference);
            return (Self::rested(car, air.clone()), air);
        };
        let pulls = visit.as_driven();
        let first = pulls.first();
        let read_in = first.map(|pull| Air {
            day: pull.day,
            source: AirSource::Visit(visit.name.clone()),
        });
        let air = read_in
            .or_else(|| day_after.clone())
            .unwrap_or_else(Air::reference);
        let after = day_after.unwrap_or_else(|| air.clone());
        let mut before = Self::rested(car, air);
        if let Some(pull) = first {
            before.conditions.axle = pull.conditions.axle;
            before.conditions.core_k = pull.conditions.core_k;
        }
        before.logged = Log::made(visits);
        before.read_w = visit.read_w();
        before.read_over = visit.read_over();
        before.read_on = Some(ReadOn {
            visit: visit.name.clone(),
            pulls: pulls.len(),
            visits: visits.len(),
        });
        (before, after)
    }
}
