//! What the model says of measured pulls and curves, in the order in which they were made.

use super::calibration::Channel;
use super::observation::{MeasuredPull, ReadAt, Visit};
use super::problem::Infeasible;
use crate::dyno::engine_dyno::CrankCurve;
use crate::dyno::{Conditions, Pull, Setup};

/// Engine speeds at which a pull is simulated; readings between them are interpolated to better than 1e-4.
const POINTS: usize = 20;
/// The same for a car with turbochargers, whose readings bend where the boost arrives.
const TURBO_POINTS: usize = 41;
/// Starts of two pulls closer than this are one start: half the usual band of a curve, rpm.
const SAME_START_RPM: f64 = 50.0;

/// One measured curve as the model has it.
#[derive(Debug, Clone)]
pub enum Simulated {
    /// A pull on the drums.
    Drums(Pull),
    /// Full load at the crankshaft.
    Crank(CrankCurve),
}

impl Simulated {
    /// What it says of a channel at an engine speed, SI.
    pub fn reading(&self, channel: Channel, rpm: f64) -> f64 {
        match self {
            Self::Drums(pull) => pull.reading(rpm, |p| channel.simulated(p)),
            Self::Crank(curve) => curve.reading(rpm, |p| channel.at_the_crank(p)),
        }
    }

    /// The pull, if it is one.
    pub fn pull(self) -> Option<Pull> {
        match self {
            Self::Drums(pull) => Some(pull),
            Self::Crank(_) => None,
        }
    }
}

/// Simulates everything measured in every visit in order, to a tolerance on the slow states; a pull starts as warm as the one before and the
/// rest left the car. Pulls that no state tells apart are simulated once, over the speeds of all.
pub fn simulate_all(
    setup: &Setup,
    visits: &[Visit],
    tolerance: f64,
) -> Result<Vec<Simulated>, Infeasible> {
    let mut all = Vec::new();
    for visit in visits {
        let mut made: Vec<(Conditions, usize)> = Vec::new();
        let mut before: Option<Pull> = None;
        for (index, measured) in visit.pulls.iter().enumerate() {
            let conditions = started(setup, measured, before.as_ref());
            if measured.read_at == ReadAt::Crank {
                all.push(Simulated::Crank(crank(setup, measured, &conditions)));
                continue;
            }
            // What a pull leaves warm for the next is its own.
            let rested = visit.pulls.iter().all(|pull| pull.rest_s.is_none());
            let twin = made.iter().find(|(other, at)| {
                rested
                    && visit.pulls[*at].day == measured.day
                    && told_apart_by_nothing(other, &conditions)
            });
            let twin = twin.and_then(|(_, at)| all.get(all.len() - index + at));
            let pull = if let Some(Simulated::Drums(pull)) = twin {
                pull.clone()
            } else {
                made.push((conditions, index));
                let over = if rested {
                    widest(setup, visit, index, conditions)
                } else {
                    conditions
                };
                drums(setup, measured, &over, tolerance)?
            };
            before = Some(pull.clone());
            all.push(Simulated::Drums(pull));
        }
    }
    Ok(all)
}

fn points(setup: &Setup) -> usize {
    if setup.car.blower.turbo().is_some() {
        TURBO_POINTS
    } else {
        POINTS
    }
}

fn crank(setup: &Setup, measured: &MeasuredPull, conditions: &Conditions) -> CrankCurve {
    let over = (conditions.from_rpm, conditions.to_rpm);
    setup.at_the_crank(&measured.day, over, conditions.core_k, points(setup))
}

fn drums(
    setup: &Setup,
    measured: &MeasuredPull,
    conditions: &Conditions,
    tolerance: f64,
) -> Result<Pull, Infeasible> {
    let pull = setup
        .pull_to_tolerance(&measured.day, conditions, points(setup), tolerance)
        .map_err(|_| Infeasible)?;
    if pull.points.len() < 4 {
        return Err(Infeasible);
    }
    Ok(pull)
}

/// Whether two pulls of one car in one air differ in where they end alone.
fn told_apart_by_nothing(a: &Conditions, b: &Conditions) -> bool {
    (a.from_rpm - b.from_rpm).abs() <= SAME_START_RPM && a.core_k == b.core_k && a.axle == b.axle
}

/// Conditions of a pull, out to the highest speed of those later ones of the visit that nothing tells apart from it.
fn widest(setup: &Setup, visit: &Visit, index: usize, conditions: Conditions) -> Conditions {
    let this = &visit.pulls[index];
    let alike = visit.pulls[index + 1..].iter().filter_map(|later| {
        let at = started(setup, later, None);
        let same = later.read_at == ReadAt::Drums && later.day == this.day;
        (same && told_apart_by_nothing(&at, &conditions)).then_some(at.to_rpm)
    });
    Conditions {
        to_rpm: alike.fold(conditions.to_rpm, f64::max),
        ..conditions
    }
}

/// Conditions of a measured pull, with the core temperature left by the pull before.
pub fn started(setup: &Setup, measured: &MeasuredPull, before: Option<&Pull>) -> Conditions {
    let bands = &measured.curve.bands;
    let (from_rpm, to_rpm) = match (bands.first(), bands.last()) {
        (Some(first), Some(last)) => (first.rpm, last.rpm),
        _ => (measured.conditions.from_rpm, measured.conditions.to_rpm),
    };
    let left = match (before, &setup.car.cooler, measured.rest_s) {
        (Some(pull), Some(cooler), Some(rest)) => {
            Some(cooler.after_rest_k(pull.end.core_k, measured.day.temperature_k(), rest))
        }
        _ => None,
    };
    Conditions {
        from_rpm,
        to_rpm,
        core_k: measured.conditions.core_k.or(left),
        ..measured.conditions
    }
}
