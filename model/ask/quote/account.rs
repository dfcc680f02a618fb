//! What a quote rests on: the doubts that widen it, and the limits the build runs into.

use super::Draw;
use crate::belief::prior::Prior;
use crate::belief::sheet::{Origin, Sheet};
use crate::build::Plan;
use crate::car::Limit;
use crate::dyno::Pull;

/// Whose number it is.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// Of the car, by its path; where it came from.
    Car(&'static str, Origin),
    /// Of the plan: place of the change in the list, counted from 1, and the number's name.
    Plan(usize, &'static str),
    /// What the model may miss of a change of power ([`crate::belief::Noise::transfer`]).
    Model,
}

/// One number whose doubt widens the gain.
#[derive(Debug, Clone, PartialEq)]
pub struct Driver {
    /// Which number.
    pub kind: Kind,
    /// Share of the gain's variance that goes with it, from the squared correlation over the draws.
    pub share: f64,
    /// Whether more of it means more gain.
    pub raises: bool,
}

/// A limit the build runs into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitSeen {
    /// Which.
    pub limit: Limit,
    /// Engine speeds between which it holds at the centre, rpm; `None` when only some draws meet it.
    pub rpm: Option<(f64, f64)>,
    /// Share of draws that meet it.
    pub share: f64,
}

/// Shares below this are lost in the noise of a few hundred draws: a squared correlation of nothing is near 1/n.
const LEAST_SHARE: f64 = 0.02;

/// Numbers by their share of the gain's variance, largest first.
/// Equation (8.11).
pub(super) fn drivers(
    sheet: &Sheet,
    plan: &Plan<Prior>,
    draws: &[Draw],
    gain: &dyn Fn(&Draw) -> f64,
) -> Vec<Driver> {
    let gains: Vec<f64> = draws.iter().map(gain).collect();
    let mut names: Vec<Kind> = sheet
        .free()
        .map(|b| Kind::Car(b.parameter.path, b.origin))
        .collect();
    plan.map(|place, name, _| names.push(Kind::Plan(place + 1, name)));
    names.push(Kind::Model);
    let drawn = |d: &Draw, i: usize| {
        let mut all = d.z.iter().chain(&d.plan_z).chain([&d.transfer]);
        *all.nth(i).unwrap_or(&0.0)
    };
    let mut drivers: Vec<Driver> = names
        .into_iter()
        .enumerate()
        .map(|(i, kind)| {
            let r = correlation(draws.iter().map(|d| drawn(d, i)), &gains);
            Driver {
                kind,
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
pub(super) fn limits(centre: &Pull, draws: &[Draw]) -> Vec<LimitSeen> {
    let mut seen: Vec<LimitSeen> = Limit::ALL
        .iter()
        .copied()
        .filter_map(|limit| {
            let hit = draws
                .iter()
                .filter(|d| d.after.limits.contains(limit))
                .count();
            let mut rpm = centre
                .points
                .iter()
                .filter(|p| p.limits.contains(limit))
                .map(|p| p.rpm);
            let range = rpm
                .next()
                .map(|first| (first, rpm.next_back().unwrap_or(first)));
            (hit > 0 || range.is_some()).then(|| LimitSeen {
                limit,
                rpm: range,
                share: hit as f64 / draws.len() as f64,
            })
        })
        .collect();
    seen.sort_by(|a, b| b.share.total_cmp(&a.share));
    seen
}
