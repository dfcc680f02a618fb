//! The account of a calibration: how close the model came, what it learnt, and what the pulls could not tell.
//!
//! A low residual alone proves little: a model may follow a curve with the wrong reasons. So the account says what became of
//! each number, which numbers the pulls left alone, and which pairs they cannot tell apart.

use super::misfit::{self, Misfit};
use crate::belief::Shape;
use crate::belief::sheet::Sheet;
use crate::fit::calibration::Channel;
use crate::fit::fitted::{Fitted, Learnt, Residual};
use crate::fit::observation::Visit;
use crate::fit::outcome::{Place, Stop};
use crate::fit::simulated::started;
use nalgebra::{DMatrix, SymmetricEigen};
use serde::Serialize;

/// The account of a calibration.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitAnswer {
    /// The car's name.
    pub car: String,
    /// Whether the search came to rest.
    pub converged: bool,
    /// Why it stopped.
    pub stop: Stop,
    /// Points at which slopes were taken.
    pub iterations: u32,
    /// Root mean square of the relative power residual.
    pub power_rms: f64,
    /// The worst point of the power curve.
    pub worst: Option<WorstPoint>,
    /// Signs that the file does not describe the car; empty where it may.
    pub misfits: Vec<Misfit>,
    /// Residual by band of engine speed, over all pulls.
    pub bands: Vec<BandLine>,
    /// Other channels that were logged.
    pub channels: Vec<ChannelLine>,
    /// Scale of each visit.
    pub visits: Vec<VisitLine>,
    /// Scale of each pull.
    pub pulls: Vec<PullLine>,
    /// Power of each pull over engine speed, as measured and as the fitted car makes it.
    pub curves: Vec<PullCurve>,
    /// Bands that the fit let go of.
    pub outliers: Vec<WorstPoint>,
    /// Numbers the pulls informed, best informed first.
    pub learnt: Vec<LearntLine>,
    /// Paths of the numbers the pulls left alone.
    pub not_informed: Vec<&'static str>,
    /// Whether knock sets the burn over much of the pull and the pulls do not tell its limit from the engine's level: both stay open.
    pub knock_open: bool,
    /// The combination of numbers that the pulls know best.
    pub best_known: Option<BestKnown>,
    /// Why nothing should be built on this fit; none where something may.
    pub gate: Option<Gate>,
}

/// Why nothing should be built on a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Gate {
    /// The file does not describe the car, as the misfits tell.
    Misfit,
}

impl Gate {
    /// All.
    pub const ALL: [Self; 1] = [Self::Misfit];
}

/// One band of one pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorstPoint {
    /// The pull's name.
    pub pull: String,
    /// Engine speed.
    pub rpm: f64,
    /// Measured over model, less one.
    pub relative: f64,
}

/// Power residual in one band of engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BandLine {
    /// Lower edge.
    pub from_rpm: f64,
    /// Upper edge.
    pub to_rpm: f64,
    /// Mean of measured over model, less one.
    pub mean: f64,
    /// Root mean square of the same.
    pub rms: f64,
    /// Bands of pulls in it.
    pub count: usize,
}

/// Residual of a channel beside power.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChannelLine {
    /// Which.
    pub channel: Channel,
    /// Root mean square, SI; of flows relative, of the spark in deg.
    pub rms: f64,
}

/// Scale of a visit over the model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitLine {
    /// What the shop calls it.
    pub visit: String,
    /// Relative.
    pub scale: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// Scale of a pull over its visit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// What the shop calls it.
    pub pull: String,
    /// Relative.
    pub scale: f64,
    /// Root mean square of its power residual.
    pub rms: f64,
}

/// Power of one pull over engine speed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullCurve {
    /// What the shop calls it, with its visit.
    pub pull: String,
    /// From the lowest engine speed up.
    pub points: Vec<PowerPoint>,
}

/// Power at one engine speed, as measured and as the fitted car makes it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PowerPoint {
    /// Engine speed.
    pub rpm: f64,
    /// Measured.
    pub measured_w: f64,
    /// The fitted car's, with the scale of the visit and of the pull.
    pub model_w: f64,
}

/// What became of a number. Before and after are in the unit of the car file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LearntLine {
    /// Path in the car file.
    pub path: &'static str,
    /// Unit of the car file.
    pub unit: &'static str,
    /// Centre before.
    pub before: f64,
    /// Its doubt: standard deviation, or that of the logarithm for a factor.
    pub before_doubt: f64,
    /// Centre after.
    pub after: f64,
    /// Its doubt.
    pub after_doubt: f64,
    /// Share of the doubt that the pulls took away.
    pub shrinkage: f64,
    /// The bound it was pushed against, if any.
    pub on_bound: Option<Bound>,
    /// Whether the doubt is a factor.
    pub doubt_is_factor: bool,
}

/// An end of what a number may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// The lowest; the pulls would have it lower.
    Lowest,
    /// The highest; the pulls would have it higher.
    Highest,
}

impl Bound {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Lowest, Self::Highest];
}

/// A combination of numbers known better than any of its parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BestKnown {
    /// Its doubt over that before the fit.
    pub doubt_left: f64,
    /// Its main parts, largest first.
    pub parts: Vec<KnownPart>,
}

/// A part of such a combination.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct KnownPart {
    /// Path in the car file.
    pub path: &'static str,
    /// Whether it acts the same way as the first part.
    pub same_way: bool,
}

/// Width of the bands of the residual table, rpm.
const BAND_RPM: f64 = 500.0;
/// Weight below which the loss has let go of a row.
const OUTLIER_WEIGHT: f64 = 0.5;
/// Parts of a combination below this share of the leading one are detail.
const LEAST_PART: f64 = 0.4;

impl FitAnswer {
    /// Gives an account of a fit of these visits, which started from the sheet `before`.
    pub(super) fn new(
        before: &Sheet,
        fitted: &Fitted,
        visits: &[Visit],
        accept_misfit: bool,
    ) -> Self {
        let names: Vec<String> = visits
            .iter()
            .flat_map(|v| v.pulls.iter().map(|p| format!("{}: {}", v.name, p.name)))
            .collect();
        let point = |r: &Residual| WorstPoint {
            pull: names.get(r.pull).cloned().unwrap_or_default(),
            rpm: r.rpm,
            relative: r.relative(),
        };
        let misfits = misfit::find(before, fitted, visits, &names);
        let gate = (!misfits.is_empty() && !accept_misfit).then_some(Gate::Misfit);
        Self {
            car: before.centre.car.name.clone(),
            converged: fitted.stop.converged(),
            stop: fitted.stop,
            iterations: fitted.iterations,
            power_rms: fitted.power_rms(),
            worst: fitted.worst().map(point),
            misfits,
            bands: bands(fitted),
            channels: channels(fitted),
            visits: visits
                .iter()
                .zip(&fitted.visit_scales)
                .map(|(v, (scale, sd))| VisitLine {
                    visit: v.name.clone(),
                    scale: *scale,
                    sd: *sd,
                })
                .collect(),
            pulls: names
                .iter()
                .zip(&fitted.pull_scales)
                .enumerate()
                .map(|(i, (pull, scale))| PullLine {
                    pull: pull.clone(),
                    scale: *scale,
                    rms: rms(fitted
                        .channel(Channel::Power)
                        .filter(|r| r.pull == i)
                        .map(Residual::relative)),
                })
                .collect(),
            curves: curves(fitted, &names),
            outliers: fitted
                .channel(Channel::Power)
                .filter(|r| r.weight < OUTLIER_WEIGHT)
                .map(point)
                .collect(),
            learnt: learnt(fitted),
            not_informed: fitted.not_informed().map(|l| l.parameter.path).collect(),
            knock_open: knock_open(fitted, visits),
            best_known: best_known(before, fitted),
            gate,
        }
    }
}

pub(super) fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for value in values {
        sum += value * value;
        n += 1.0;
    }
    (sum / f64::max(n, 1.0)).sqrt()
}

fn curves(fitted: &Fitted, names: &[String]) -> Vec<PullCurve> {
    let of = |(i, name): (usize, &String)| PullCurve {
        pull: name.clone(),
        points: fitted
            .channel(Channel::Power)
            .filter(|r| r.pull == i)
            .map(|r| PowerPoint {
                rpm: r.rpm,
                measured_w: r.measured,
                model_w: r.model,
            })
            .collect(),
    };
    names.iter().enumerate().map(of).collect()
}

fn bands(fitted: &Fitted) -> Vec<BandLine> {
    let power: Vec<&Residual> = fitted.channel(Channel::Power).collect();
    let (low, high) = power.iter().fold((f64::MAX, f64::MIN), |(l, h), r| {
        (l.min(r.rpm), h.max(r.rpm))
    });
    let mut from_rpm = (low / BAND_RPM).floor() * BAND_RPM;
    let mut lines = Vec::new();
    while from_rpm <= high {
        let to_rpm = from_rpm + BAND_RPM;
        let inside: Vec<f64> = power
            .iter()
            .filter(|r| r.rpm >= from_rpm && r.rpm < to_rpm)
            .map(|r| r.relative())
            .collect();
        if !inside.is_empty() {
            let mean = inside.iter().sum::<f64>() / inside.len() as f64;
            lines.push(BandLine {
                from_rpm,
                to_rpm,
                mean,
                rms: rms(inside.iter().copied()),
                count: inside.len(),
            });
        }
        from_rpm = to_rpm;
    }
    lines
}

fn channels(fitted: &Fitted) -> Vec<ChannelLine> {
    let beside_power = Channel::ALL.into_iter().filter(|c| *c != Channel::Power);
    let off = |r: &Residual| {
        if r.channel.is_relative() {
            r.relative()
        } else {
            r.measured - r.model
        }
    };
    beside_power
        .filter(|channel| fitted.channel(*channel).next().is_some())
        .map(|channel| ChannelLine {
            channel,
            rms: rms(fitted.channel(channel).map(off)),
        })
        .collect()
}

fn learnt(fitted: &Fitted) -> Vec<LearntLine> {
    let mut informed: Vec<&Learnt> = fitted.learnt.iter().filter(|l| !l.stands()).collect();
    informed.sort_by(|a, b| b.shrinkage.total_cmp(&a.shrinkage));
    informed.into_iter().map(learnt_line).collect()
}

pub(super) fn learnt_line(l: &Learnt) -> LearntLine {
    let measure = l.parameter.measure;
    let doubt_is_factor = l.before.shape() == Shape::LogNormal;
    let doubt = |sd: f64| {
        if doubt_is_factor {
            sd
        } else {
            measure.difference_from_model(sd)
        }
    };
    LearntLine {
        path: l.parameter.path,
        unit: measure.symbol,
        before: measure.from_model(l.before.centre()),
        before_doubt: doubt(l.before.sd()),
        after: measure.from_model(l.after.centre()),
        after_doubt: doubt(l.after.sd()),
        shrinkage: l.shrinkage,
        on_bound: match l.place {
            Place::Free => None,
            Place::OnLower => Some(Bound::Lowest),
            Place::OnUpper => Some(Bound::Highest),
        },
        doubt_is_factor,
    }
}

/// The number that moves the knock limit whatever the fuel.
const KNOCK_LIMIT: &str = "combustion.knock_delay";
/// Share of its doubt that must be gone for it to count as told.
const NARROWED: f64 = 0.5;
/// Engine speeds at which the fitted car is asked whether it knocks.
const POINTS: usize = 12;

/// Whether knock and level are told apart: not where half the pull or more is limited by knock and its limit is as open as it was.
fn knock_open(fitted: &Fitted, visits: &[Visit]) -> bool {
    let open = fitted
        .learnt
        .iter()
        .any(|l| l.parameter.path == KNOCK_LIMIT && l.shrinkage < NARROWED);
    let Some(first) = visits.iter().flat_map(Visit::on_drums).next() else {
        return false;
    };
    let setup = &fitted.sheet.centre;
    let conditions = started(setup, first, None);
    let Ok(pull) = setup.pull(&first.day, &conditions, POINTS) else {
        return false;
    };
    let limited = pull
        .points
        .iter()
        .filter(|p| p.engine.cylinder.knock_limited);
    open && 2 * limited.count() >= pull.points.len()
}

/// The direction of least doubt among the numbers, each measured in its doubt before the fit.
///
/// The covariance there is `D R D`: correlations after the fit between the shares of doubt that are left. Its smallest
/// eigenvalue belongs to what the pulls know best (principal components, textbook; from memory).
fn best_known(before: &Sheet, fitted: &Fitted) -> Option<BestKnown> {
    let matrix = fitted.sheet.correlation.as_ref()?.matrix();
    let remaining: Vec<f64> = fitted.learnt.iter().map(|l| 1.0 - l.shrinkage).collect();
    let n = remaining.len();
    let mut covariance =
        DMatrix::from_fn(n, n, |i, j| remaining[i] * matrix[(i, j)] * remaining[j]);
    // What hung together before the fit is no merit of the pulls: measure in the doubt before, `L⁻¹ C L⁻ᵀ`.
    if let Some(correlation) = &before.correlation {
        let half = correlation.lower().solve_lower_triangular(&covariance)?;
        covariance = correlation
            .lower()
            .solve_lower_triangular(&half.transpose())?;
    }
    let eigen = SymmetricEigen::try_new(covariance, f64::EPSILON, 0)?;
    let (k, value) = eigen
        .eigenvalues
        .iter()
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(b.1))?;
    let direction = eigen.eigenvectors.column(k);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| direction[*b].abs().total_cmp(&direction[*a].abs()));
    let lead = direction[*order.first()?];
    let parts = order
        .into_iter()
        .take_while(|i| direction[*i].abs() >= LEAST_PART * lead.abs())
        .map(|i| KnownPart {
            path: fitted.learnt[i].parameter.path,
            same_way: direction[i] * lead > 0.0,
        })
        .collect();
    Some(BestKnown {
        doubt_left: value.max(0.0).sqrt(),
        parts,
    })
}
