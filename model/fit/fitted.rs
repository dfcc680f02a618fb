//! The answer of a calibration: a fitted sheet, and an honest account of how it came about.
//!
//! The account says how far the model stayed from the data, band by band; what became of each belief; and in one
//! sentence what the data did not pin down. A fitted sheet is a sheet like any other, so every question can be asked of it.

use super::calibration::{Calibration, Channel};
use super::least_squares::minimise;
use super::observation::{MeasuredPull, Visit, speeds};
use super::outcome::{Place, Stop};
use super::posterior::{Posterior, PosteriorError};
use super::problem::{Bounds, FitError};
use super::settings::Settings;
use crate::belief::Noise;
use crate::belief::parameter::Parameter;
use crate::belief::prior::{Prior, Shape};
use crate::belief::sheet::{Belief, Correlation, MeasuredSpeeds, Origin, Sheet};
use crate::numeric::Progress;
use nalgebra::DMatrix;

/// A fitted car with its account.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The calibrated sheet.
    pub sheet: Sheet,
    /// Residuals of every band and channel.
    pub residuals: Vec<Residual>,
    /// What became of each free number.
    pub learnt: Vec<Learnt>,
    /// Scale of each visit over the model, relative, with its standard deviation.
    pub visit_scales: Vec<(f64, f64)>,
    /// Scale of each pull over its visit, relative.
    pub pull_scales: Vec<f64>,
    /// Why the search stopped.
    pub stop: Stop,
    /// Points at which slopes were taken.
    pub iterations: u32,
    /// Pulls and bands used.
    pub pulls: usize,
}

/// One band of one pull against the model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Index of the pull, counted through all visits.
    pub pull: usize,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Channel.
    pub channel: Channel,
    /// Measured, SI.
    pub measured: f64,
    /// Model, SI, with the visit's and the pull's scale or the sensor's offset.
    pub model: f64,
    /// Weight the loss left to the row; well below 1 for an outlier.
    pub weight: f64,
}

impl Residual {
    /// Measured over model, less one.
    pub fn relative(&self) -> f64 {
        self.measured / self.model - 1.0
    }
}

/// What became of one free number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learnt {
    /// Which.
    pub parameter: &'static Parameter,
    /// Before.
    pub before: Prior,
    /// After.
    pub after: Prior,
    /// Share of the prior doubt that the data took away.
    pub shrinkage: f64,
    /// Whether the data said anything worth reporting.
    pub informed: bool,
    /// Whether it ended on a bound.
    pub place: Place,
}

impl Learnt {
    /// How far the fit moved the number, in doubts of the belief before.
    pub fn moved(&self) -> f64 {
        self.before.to_z(self.after.centre())
    }

    /// Whether the belief stands as it was: the pulls neither narrowed it nor moved it by its own doubt.
    pub fn stands(&self) -> bool {
        !self.informed && self.moved().abs() < 1.0
    }
}

/// Why a calibration failed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CalibrationError {
    /// There is nothing to fit.
    #[error("there is no pull to fit")]
    NoPulls,
    /// The model cannot make these pulls at the centre of its beliefs.
    #[error(
        "the car as described cannot make these pulls: {0}; look at the gear, the drums and the redline of the car file, and at \
         the recordings' speed column"
    )]
    Start(#[from] FitError),
    /// The doubt could not be computed.
    #[error("the doubt of the fit could not be computed: {0}")]
    Posterior(#[from] PosteriorError),
}

/// Calibrates a sheet on visits.
pub fn calibrate(
    sheet: &Sheet,
    visits: &[Visit],
    noise: Noise,
) -> Result<Fitted, CalibrationError> {
    calibrate_telling(sheet, visits, noise, Progress::SILENT)
}

/// As [`calibrate`], telling how many slopes were taken.
pub fn calibrate_telling(
    sheet: &Sheet,
    visits: &[Visit],
    noise: Noise,
    progress: Progress<'_>,
) -> Result<Fitted, CalibrationError> {
    let pulls: usize = visits.iter().map(|v| v.pulls.len()).sum();
    if pulls == 0 {
        return Err(CalibrationError::NoPulls);
    }
    let problem = Calibration::new(sheet, visits, noise).telling(progress);
    let scales = problem.stray_count();
    let (mut lower, mut upper): (Vec<f64>, Vec<f64>) =
        sheet.free().map(|b| b.prior.z_bounds()).unzip();
    lower.extend(std::iter::repeat_n(-6.0, scales));
    upper.extend(std::iter::repeat_n(6.0, scales));
    let bounds = Bounds::new(lower, upper)?;
    let start = vec![0.0; sheet.free_count() + scales];
    let near = minimise(&problem.from_afar(), &start, &bounds, &FROM_AFAR)?;
    let mut report = minimise(&problem, &near.x, &bounds, &SETTINGS)?;
    let mut iterations = near.iterations + report.iterations;
    if !report.stop.converged() {
        let across = minimise(&problem.across_bends(), &report.x, &bounds, &ACROSS)?;
        iterations += across.iterations;
        report = across;
    }
    let posterior = Posterior::laplace(&report, &bounds)?;
    let predicted = problem
        .predictions(&report.x[problem.sheet_coordinates()])
        .map_err(|_| FitError::StartInfeasible)?;

    let residuals = problem
        .rows_of_data()
        .iter()
        .zip(predicted)
        .zip(&report.weights)
        .map(|((row, predicted), weight)| {
            let model = problem.reading(&report.x, row, predicted);
            Residual {
                pull: row.pull,
                rpm: row.rpm,
                channel: row.channel,
                measured: row.measured,
                model,
                weight: *weight,
            }
        })
        .collect();
    let learnt: Vec<Learnt> = sheet
        .free()
        .enumerate()
        .map(|(i, belief)| Learnt {
            parameter: belief.parameter,
            before: belief.prior,
            after: updated(&belief.prior, report.x[i], posterior.sd(i)),
            shrinkage: posterior.shrinkage(i),
            informed: posterior.informed(i),
            place: report.places[i],
        })
        .collect();
    let visit_scales = (0..visits.len())
        .map(|v| {
            (
                problem.visit_scale(&report.x, v) - 1.0,
                noise.visit * posterior.sd(problem.visit_coordinate(v)),
            )
        })
        .collect();
    let pull_scales = (0..pulls)
        .map(|p| problem.pull_scale(&report.x, p) - 1.0)
        .collect();
    Ok(Fitted {
        sheet: fitted_sheet(sheet, &learnt, &posterior, measured(visits)),
        residuals,
        learnt,
        visit_scales,
        pull_scales,
        stop: report.stop,
        iterations,
        pulls,
    })
}

/// The cost is in units of log probability: a fall of a twentieth says nothing about the car.
/// Equation (8.2).
const SETTINGS: Settings = Settings {
    cost_tolerance: 1.0,
    cost_fall: 0.05,
    step_tolerance: 1e-6,
    gradient_tolerance: 1e-6,
    max_iterations: 40,
    first_damping: 1e-3,
    corners: true,
    most_idle: 3,
    difference: super::difference::Difference::Forward,
    relative_noise: 1e-6,
};

/// The way from afar leads somewhere near only.
const FROM_AFAR: Settings = Settings {
    cost_fall: 1.0,
    ..SETTINGS
};

/// A search without rest goes on with slopes across bends, each at twice the cost; those of the recorded cars that it helped came to rest within ten, and may
/// gain little for some steps before. It rests at a promise of less than a fifth: of made-up turbocharged cars those between a twentieth and that hold as many
/// truths in their ranges as the others (`validation/calibration`).
/// Equation (8.2).
const ACROSS: Settings = Settings {
    cost_fall: 0.2,
    most_idle: 8,
    max_iterations: 15,
    ..SETTINGS
};

/// Closest a centre may come to a bound, as a share of the room between bounds: a belief needs room on both sides.
const BOUND_MARGIN: f64 = 1e-6;

/// The belief after the fit, of the same shape, cut to the same bounds.
fn updated(before: &Prior, z: f64, sd_z: f64) -> Prior {
    let (lower, upper) = (before.lower(), before.upper());
    let margin = BOUND_MARGIN * (upper - lower);
    let margin = if margin.is_finite() { margin } else { 0.0 };
    let centre = before.from_z(z).clamp(lower + margin, upper - margin);
    let sd = before.sd() * sd_z.min(1.0);
    let after = match before.shape() {
        Shape::Normal => Prior::normal(centre, sd, lower, upper),
        Shape::LogNormal => Prior::log_normal(centre, sd, lower, upper),
    };
    // The centre lies inside the bounds and the spread is no larger than one that was accepted before.
    after.unwrap_or(*before)
}

/// Engine speeds that the pulls on the drums cover.
fn measured(visits: &[Visit]) -> Option<MeasuredSpeeds> {
    let pulls = visits.iter().flat_map(Visit::on_drums);
    let covers = |pull: &MeasuredPull| speeds(&pull.curve.bands);
    pulls
        .filter_map(covers)
        .reduce(|all, one| all.with(Some(one)))
}

fn fitted_sheet(
    sheet: &Sheet,
    learnt: &[Learnt],
    posterior: &Posterior,
    measured: Option<MeasuredSpeeds>,
) -> Sheet {
    let n = learnt.len();
    let mut free = learnt.iter();
    let beliefs: Vec<Belief> = sheet
        .beliefs
        .iter()
        .map(|belief| {
            if belief.prior.is_fixed() {
                *belief
            } else {
                let prior = free.next().map_or(belief.prior, |l| l.after);
                Belief {
                    prior,
                    origin: Origin::Fitted,
                    ..*belief
                }
            }
        })
        .collect();
    let mut centre = sheet.centre.clone();
    for belief in &beliefs {
        if let Some(slot) = (belief.parameter.slot)(&mut centre) {
            *slot = belief.prior.centre();
        }
    }
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            1.0
        } else {
            posterior.correlation(i, j)
        }
    });
    Sheet {
        centre,
        beliefs,
        correlation: Correlation::new(matrix).ok(),
        measured: measured.map(|now| now.with(sheet.measured)),
    }
}

impl Fitted {
    /// Residuals of one channel.
    pub fn channel(&self, channel: Channel) -> impl Iterator<Item = &Residual> {
        self.residuals.iter().filter(move |r| r.channel == channel)
    }

    /// Root mean square of the relative power residual.
    pub fn power_rms(&self) -> f64 {
        let (mut sum, mut n) = (0.0, 0.0);
        for residual in self.channel(Channel::Power) {
            sum += residual.relative().powi(2);
            n += 1.0;
        }
        (sum / f64::max(n, 1.0)).sqrt()
    }

    /// The worst point of the power curve.
    pub fn worst(&self) -> Option<&Residual> {
        self.channel(Channel::Power)
            .max_by(|a, b| a.relative().abs().total_cmp(&b.relative().abs()))
    }

    /// Numbers the data said nothing about, in catalogue order.
    pub fn not_informed(&self) -> impl Iterator<Item = &Learnt> {
        self.learnt.iter().filter(|l| l.stands())
    }
}
