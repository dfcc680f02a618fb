//! What a quote rests on: the doubts that widen it, and the limits the build runs into.

use super::draw::{Drawn, DrawnCar};
use crate::ask::limits::{LimitLine, speeds};
use crate::belief::Mechanism;
use crate::belief::prior::Prior;
use crate::belief::sheet::{Origin, Sheet};
use crate::car::Limit;
use crate::dyno::Pull;
use crate::parts::Plan;
use serde::Serialize;

/// Whose number it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DriverOrigin {
    /// The car's, as given in its file.
    Given,
    /// The car's, a default.
    Default,
    /// The car's, as the fit left it.
    Fitted,
    /// The plan's.
    Plan,
    /// The model's: what it may miss of a change of power ([`crate::belief::Miss`]). Nothing measured before the work narrows it.
    Model,
}

impl From<Origin> for DriverOrigin {
    fn from(origin: Origin) -> Self {
        match origin {
            Origin::Given => Self::Given,
            Origin::Default => Self::Default,
            Origin::Fitted => Self::Fitted,
        }
    }
}

/// One number whose doubt widens the gain.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Driver {
    /// Which number: its path in the catalogue, its name in the plan's change, or a mechanism of the model.
    pub number: &'static str,
    /// Kind of its change; none for a number that is not the plan's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub change: Option<&'static str>,
    /// Whose number it is.
    pub origin: DriverOrigin,
    /// Share of the gain's variance that goes with it, from the squared correlation over the draws.
    pub share: f64,
    /// Whether more of it means more gain.
    pub raises: bool,
}

/// Shares below this are lost in the noise of a few hundred draws: a squared correlation of nothing is near 1/n.
const LEAST_SHARE: f64 = 0.02;

/// Numbers by their share of the gain's variance, largest first.
/// Equation (8.11).
pub(super) fn drivers(
    sheet: &Sheet,
    plan: &Plan<Prior>,
    draws: &[Drawn],
    gain: &dyn Fn(&Drawn) -> f64,
) -> Vec<Driver> {
    let gains: Vec<f64> = draws.iter().map(gain).collect();
    let mut names: Vec<(&'static str, Option<&'static str>, DriverOrigin)> = sheet
        .free()
        .map(|b| (b.parameter.path, None, b.origin.into()))
        .collect();
    let kinds: Vec<_> = plan.changes.iter().map(|change| change.kind().id).collect();
    plan.map(|place, name, _| names.push((name, Some(kinds[place]), DriverOrigin::Plan)));
    names.extend(Mechanism::ALL.map(|mechanism| (mechanism.id(), None, DriverOrigin::Model)));
    let drawn = |d: &Drawn, i: usize| {
        let DrawnCar { z, plan_z, .. } = &*d.car;
        let in_plan = i.wrapping_sub(z.len());
        let in_missed = in_plan.wrapping_sub(plan_z.len());
        let number = z.get(i).or(plan_z.get(in_plan)).or(d.missed.get(in_missed));
        number.copied().unwrap_or(0.0)
    };
    let mut drivers: Vec<Driver> = names
        .into_iter()
        .enumerate()
        .map(|(i, (number, change, origin))| {
            let r = correlation(draws.iter().map(|d| drawn(d, i)), &gains);
            Driver {
                number,
                change,
                origin,
                share: r * r,
                raises: r > 0.0,
            }
        })
        .filter(|d| d.share > LEAST_SHARE)
        .collect();
    drivers.sort_by(|a, b| b.share.total_cmp(&a.share));
    drivers
}

/// Correlation of two lists; zero where either does not vary.
fn correlation(xs: impl Iterator<Item = f64> + Clone, ys: &[f64]) -> f64 {
    let n = ys.len() as f64;
    let (mx, my) = (xs.clone().sum::<f64>() / n, ys.iter().sum::<f64>() / n);
    let (mut sxy, mut sxx, mut syy) = (0.0, 0.0, 0.0);
    for (x, y) in xs.zip(ys) {
        sxy += (x - mx) * (y - my);
        sxx += (x - mx).powi(2);
        syy += (y - my).powi(2);
    }
    if sxx > 0.0 && syy > 0.0 {
        sxy / (sxx * syy).sqrt()
    } else {
        0.0
    }
}

/// Limits met at the centre or in some draws, those met most often first.
pub(super) fn limits(centre: &Pull, draws: &[Drawn]) -> Vec<LimitLine> {
    let mut seen: Vec<(f64, LimitLine)> = Limit::ALL
        .iter()
        .filter_map(|&limit| {
            let met = |d: &&Drawn| d.car.limits.contains(limit);
            let hit = draws.iter().filter(met).count();
            let rpm = speeds(centre, limit);
            let share = hit as f64 / draws.len() as f64;
            (hit > 0 || rpm.is_some()).then(|| (share, LimitLine::new(limit, rpm, Some(share))))
        })
        .collect();
    seen.sort_by(|a, b| b.0.total_cmp(&a.0));
    seen.into_iter().map(|(_, line)| line).collect()
}

/// The first speed of a pull, rpm, where its torque is highest.
pub(super) fn torque_peaks_at_start(pull: &Pull) -> Option<f64> {
    let (first, rest) = pull.points.split_first()?;
    let highest = rest.iter().all(|point| point.torque_nm < first.torque_nm);
    (highest && !rest.is_empty()).then_some(first.rpm)
}
