//! The answer of a spread.

use super::hours::Choice;
use super::shares::Share;
use crate::ask::quote::Range;
use crate::car::Limit;
use crate::dyno::correction::Standard;
use serde::Serialize;

/// A spread.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// What it was computed from.
    pub basis: Basis,
    /// Peak power and torque, uncorrected: of the car as it is where no work is planned, else after the work.
    pub after: Figures,
    /// Before the work; none where no work is planned.
    pub before: Option<Figures>,
    /// Peak power of the second reading over the first, less one; none where one car is read in one hour.
    pub gain: Option<Quantiles>,
    /// Errors of the percentiles of the peak power, standard errors, W: those of its 5, 50 and 95 %.
    pub power_error_w: Range,
    /// The number to promise.
    pub promise: Promise,
    /// Shares of the variance of the peak power.
    pub causes: Causes,
    /// How the peak follows the weather, at the centre of the beliefs.
    pub slopes: Slopes,
    /// What each correction does.
    pub standards: Vec<StandardLine>,
    /// Limits met, and in which share of the pulls.
    pub limits: Vec<LimitShare>,
    /// Peak power by month and hour of the day, where there are hours.
    pub by_month_and_hour: Vec<Cell>,
    /// Power over engine speed.
    pub curve: Vec<CurvePoint>,
    /// How the pulls were come by.
    pub method: Method,
}

/// What it was computed from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Basis {
    /// The car's name.
    pub car: String,
    /// The plan's name.
    pub plan: Option<String>,
    /// Whether the car's numbers come from a fit.
    pub fitted: bool,
    /// Which hours were asked about.
    pub choice: Choice,
    /// How many they are.
    pub hours: usize,
    /// In how many of them the cell is colder than the dew point.
    pub condensing: usize,
    /// Their pressures, Pa.
    pub station_pressure_pa: Range,
    /// Their temperatures, K.
    pub temperature_k: Range,
    /// Their humidity ratios, kg/kg.
    pub humidity_ratio: Range,
    /// Whether before and after are read on two days.
    pub two_days: bool,
    /// Repeatability from visit to visit, relative standard deviation.
    pub visit_repeatability: f64,
    /// Repeatability from pull to pull.
    pub pull_repeatability: f64,
    /// Draws used.
    pub draws: usize,
    /// Draws in which the car could not make a pull.
    pub draws_failed: usize,
    /// Hours that each draw was driven in.
    pub hours_per_draw: usize,
    /// Seed of the draws.
    pub seed: u64,
}

/// Peak figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Peak power, W.
    pub power_w: Quantiles,
    /// Peak torque at engine speed, N m.
    pub torque_nm: Quantiles,
}

/// Percentiles, and whichever others were asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quantiles {
    /// The usual three.
    #[serde(flatten)]
    pub range: Range,
    /// Share below, and value.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub more: Vec<(f64, f64)>,
}

/// The number to promise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Promise {
    /// Chance with which it is kept.
    pub chance: f64,
    /// Peak power that is read with that chance, W.
    pub power_w: f64,
    /// What was promised, W, if anything.
    pub asked_w: Option<f64>,
    /// Chance to miss it.
    pub miss: Option<f64>,
    /// Its standard error.
    pub miss_error: Option<f64>,
}

/// Shares of the variance of the peak power by cause.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Causes {
    /// Standard deviation of the peak power, W.
    pub sd_w: f64,
    /// The hour.
    pub weather: Share,
    /// The car's numbers.
    pub car: Share,
    /// The work's, and what the model misses of its gain.
    pub work: Share,
    /// The drums, and the charge of a battery.
    pub rig: Share,
}

/// How the peak power follows the weather, relative to it; none where the weather does not vary.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Slopes {
    /// Per kelvin.
    pub per_k: Option<f64>,
    /// Per pascal of station pressure.
    pub per_pa: Option<f64>,
    /// Per kg of water in a kg of dry air.
    pub per_kg_kg: Option<f64>,
    /// Standard deviation of the peak power over the hours, relative.
    pub weather_sd: f64,
}

/// What a correction does on this car.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StandardLine {
    /// Which.
    pub standard: Standard,
    /// Corrected peak power after the work, W.
    pub power_w: Quantiles,
    /// Corrected peak power before the work, W; none where no work is planned.
    pub power_before_w: Option<Quantiles>,
    /// Gain under this correction; none where one car is read in one hour.
    pub gain: Option<Quantiles>,
    /// Corrected peak power that is read with the chance of the promise, W.
    pub promise_w: f64,
    /// Variance over the hours, of the corrected over the uncorrected peak, at the centre.
    pub weather_left: f64,
    /// Share of the weather's variance that it takes out.
    pub taken_out: f64,
    /// Variance that it adds of its own, as a share of the weather's.
    pub added: f64,
    /// Share of the hours in which the air or the factor is outside what it states; none where it states nothing.
    pub outside: Option<f64>,
}

/// A limit and how often it is met.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LimitShare {
    /// Which.
    pub limit: Limit,
    /// Share of the pulls that meet it.
    pub share: f64,
    /// Its standard error, pulls taken as independent.
    pub error: f64,
}

/// Peak power in one hour of the day of one month.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cell {
    /// Month, 1 to 12.
    pub month: u8,
    /// Hour of the day, 0 to 23.
    pub hour: u8,
    /// Mean, W.
    pub mean_w: f64,
    /// Percentiles, W.
    pub power_w: Range,
}

/// Power at one engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Engine speed.
    pub rpm: f64,
    /// Before the work; none where no work is planned.
    pub before_w: Option<Range>,
    /// After it.
    pub after_w: Range,
}

/// How the pulls were come by.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Method {
    /// Draws whose surface stood for their pulls.
    pub by_surface: usize,
    /// Draws that were pulled in every one of their hours.
    pub by_pulls: usize,
    /// Pulls that were held against the surfaces used.
    pub held_out: usize,
    /// Largest error of those surfaces found there, relative.
    pub worst: f64,
    /// Error, root mean square.
    pub rms: f64,
    /// Largest error of a surface that was refused; none where none was.
    pub worst_refused: Option<f64>,
    /// Largest error with which a surface is used.
    pub bound: f64,
}
