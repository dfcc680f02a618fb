//! The calibration: the most probable car, given its sheet and the measured pulls.
//!
//! All pulls are fitted jointly. The car's numbers are shared; each visit has a scale of its power and an offset of each
//! sensor, each pull a scale of its own. Data rows are whitened, one row per band and channel; the sheet's beliefs are
//! rows too, so the answer is a maximum a posteriori. Power rows carry a Student-t loss, so that one bad stretch of a log does not bend the car.

use super::observation::Visit;
use super::problem::{Infeasible, Problem};
use super::robust::Loss;
use super::simulated::simulate_all;
use crate::belief::noise::{INDEPENDENT_PIECES, Noise, SensorError};
use crate::belief::sheet::Sheet;
use crate::car::OperatingPoint;
use crate::dyno::recording_check::holds_gearing;
use crate::dyno::{Band, PullPoint};
use crate::numeric::{Progress, side_by_side};
use nalgebra::{DMatrix, DVector};
use serde::Serialize;
use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Tolerance on the slow states of those pulls; power moves by less than 1e-5 against a tenth of it.
const TOLERANCE: f64 = 1e-3;
/// Step of the slopes in standardised coordinates. Small against one standard deviation, large against the integrator's noise.
/// Equation (8.2).
const STEP: f64 = 0.05;
/// Half the span over which slopes are taken across a bend: of the size of what a fit leaves in doubt, so that a bend narrower than the doubt is
/// one slope on both sides.
/// Equation (8.2).
const ACROSS: f64 = 0.15;
/// Degrees of freedom of the loss on power rows: tails heavy enough to let go of a bad stretch, and no heavier, so that
/// a curve of few bands is not thinned; between 4, the usual choice, and the normal. No source.
/// Equation (8.1).
const POWER_FREEDOM: f64 = 6.0;

/// Engine speed over the redline at which the tilt of the spark is nothing, and over which it grows to one.
const TILT_ABOUT: f64 = 0.65;
const TILT_OVER: f64 = 0.35;

/// Least spread of engine over drum speed between thirds of a pull, relative, from which on it is taken as measured: growth alone makes several times as much,
/// rounding to whole turns a minute a quarter of it (no source, assumed).
/// Equation (8.1).
const LEAST_RATIO_SPREAD: f64 = 1e-3;

/// Kind of a data row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Channel {
    /// Power at the drums.
    Power,
    /// Absolute manifold pressure.
    #[serde(rename = "manifold_pressure")]
    Manifold,
    /// Charge temperature.
    #[serde(rename = "charge_temperature")]
    Charge,
    /// Relative air-fuel ratio.
    Lambda,
    /// Final spark.
    Spark,
    /// Fuel flow.
    #[serde(rename = "fuel_flow")]
    Fuel,
    /// Air flow.
    #[serde(rename = "air_flow")]
    Air,
    /// Engine over drum speed: the tyres' slip under their force, and their growth.
    DrumRatio,
}

impl Channel {
    /// All.
    pub const ALL: [Self; 8] = [
        Self::Power,
        Self::Manifold,
        Self::Charge,
        Self::Lambda,
        Self::Spark,
        Self::Fuel,
        Self::Air,
        Self::DrumRatio,
    ];

    /// Whether its errors are told as shares.
    pub const fn is_relative(self) -> bool {
        matches!(self, Self::Power | Self::Fuel | Self::Air | Self::DrumRatio)
    }

    /// What a band holds of it, SI; the spark in deg before top dead centre.
    pub fn measured(self, band: &Band) -> Option<f64> {
        match self {
            Self::Power => Some(band.power_w),
            Self::Manifold => band.manifold_pa,
            Self::Charge => band.charge_k,
            Self::Lambda => band.lambda,
            Self::Spark => band.spark_deg,
            Self::Fuel => band.fuel_kg_s.filter(|flow| *flow > 0.0),
            Self::Air => band.air_kg_s.filter(|flow| *flow > 0.0),
            Self::DrumRatio => band.engine_per_drum.filter(|ratio| *ratio > 0.0),
        }
    }

    /// Whether a pull's bands say something of it.
    pub(crate) fn told_by(self, bands: &[Band]) -> bool {
        match self {
            Self::DrumRatio => shows_slip(bands),
            _ => bands.iter().any(|band| self.measured(band).is_some()),
        }
    }

    /// How far its sensor strays; none of power, which has a scale.
    pub(crate) const fn sensor(self, noise: &Noise) -> Option<SensorError> {
        match self {
            Self::Power => None,
            Self::Manifold => Some(noise.manifold),
            Self::Charge => Some(noise.charge),
            Self::Lambda => Some(noise.lambda),
            Self::Spark => Some(noise.spark),
            Self::Fuel => Some(noise.fuel_flow),
            Self::Air => Some(noise.air_flow),
            Self::DrumRatio => Some(noise.drum_ratio),
        }
    }

    /// What a simulated point says of it.
    pub(super) fn simulated(self, point: &PullPoint) -> f64 {
        match self {
            Self::Power => point.power_w,
            Self::Charge => point.sensor_k,
            Self::DrumRatio => point.engine_per_drum,
            _ => self.at_the_crank(&point.engine),
        }
    }

    /// What an engine held at one speed says of it; not a number where that takes drums.
    pub(super) fn at_the_crank(self, engine: &OperatingPoint) -> f64 {
        match self {
            Self::Power => engine.ledger.brake_w(),
            Self::Manifold => engine.manifold_pa,
            Self::Charge => engine.charge_k,
            Self::Lambda => engine.cylinder.lambda,
            Self::Spark => spark_deg(engine),
            Self::Fuel => engine.cylinder.fuel_kg_s,
            Self::Air => engine.air_kg_s,
            Self::DrumRatio => f64::NAN,
        }
    }
}

/// Time from the spark until the flame has a size at which it burns as fast as the charge lets it, s. From memory.
const KERNEL_S: f64 = 2.5e-4;

/// Spark of an operating point, deg before top dead centre: half the burn lies a share of the burn's duration behind the flame's start, and that
/// lies a kernel's time behind the spark.
///
/// ```text
/// spark = 6 N τ + (ln 2/5)^(1/3) Δθ − CA50,   τ = 2.5e-4 s, N in rpm
/// ```
///
/// of the usual Wiebe curve (3.7). It is known to a few degrees, growing with speed: offset and tilt of the channel.
/// Equation (8.1).
pub fn spark_deg(engine: &OperatingPoint) -> f64 {
    let to_half = (std::f64::consts::LN_2 / 5.0).cbrt();
    let kernel_deg = 6.0 * engine.rpm * KERNEL_S;
    kernel_deg + to_half * engine.cylinder.burn_duration_deg - engine.cylinder.ca50_deg
}

/// One data row: what was measured and how far it may stray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Index of the visit.
    pub visit: usize,
    /// Index of the pull, counted through all visits.
    pub pull: usize,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// What it is.
    pub channel: Channel,
    /// Measured value, SI; the spark in deg.
    pub measured: f64,
    /// Standard deviation of the row: relative for power and flows, absolute otherwise.
    pub sd: f64,
    /// By how much that is widened because its neighbours stray with it.
    pub spread: f64,
}

/// Coordinates of a visit: the scale of its power and the offsets of the sensors, in the order of [`Channel`], then the tilt of the spark.
const PER_VISIT: usize = Channel::ALL.len() + 1;

/// Sheet, visits and noise as a least-squares problem.
///
/// Coordinates: the sheet's free numbers, then what strays with each visit (`PER_VISIT` each), then one scale per pull,
/// all standardised.
pub struct Calibration<'a> {
    sheet: &'a Sheet,
    visits: &'a [Visit],
    noise: Noise,
    free: usize,
    /// How far each pull's level strays about its visit's, relative.
    pulls: Vec<f64>,
    rows: Vec<Row>,
    outliers: bool,
    /// Whether slopes are taken across bends.
    across: bool,
    progress: Progress<'a>,
    /// Slopes taken so far, each by a walk through all pulls.
    /// Slopes taken, by this and by what was made of it.
    slopes: Arc<AtomicUsize>,
}

impl<'a> Calibration<'a> {
    /// Sets the problem up.
    pub fn new(sheet: &'a Sheet, visits: &'a [Visit], noise: Noise) -> Self {
        let measured = visits.iter().flat_map(|v| &v.pulls);
        let pulls: Vec<f64> = measured
            .map(|pull| pull.level_doubt.unwrap_or(noise.pull))
            .collect();
        let mut rows = Vec::new();
        let mut index = 0;
        for (visit, v) in visits.iter().enumerate() {
            for pull in &v.pulls {
                push_rows(
                    &mut rows,
                    visit,
                    index,
                    &pull.curve.bands,
                    &noise,
                    pulls.len(),
                    holds_gearing(&sheet.centre),
                );
                index += 1;
            }
        }
        Self {
            sheet,
            visits,
            noise,
            free: sheet.free_count(),
            pulls,
            rows,
            outliers: true,
            across: false,
            progress: Progress::SILENT,
            slopes: Arc::default(),
        }
    }

    /// Tells how many slopes were taken; how many a fit needs is not known before.
    #[must_use]
    pub fn telling(self, progress: Progress<'a>) -> Self {
        Self { progress, ..self }
    }

    /// The same without outliers: for the way from afar, where every row of a car unlike the belief would be one.
    #[must_use]
    pub fn from_afar(&self) -> Self {
        Self {
            outliers: false,
            rows: self.rows.clone(),
            pulls: self.pulls.clone(),
            slopes: Arc::clone(&self.slopes),
            ..*self
        }
    }

    /// The same with slopes from both sides, wide apart: for a search that stands where boost sets in or knock takes over, and there meets slopes that
    /// hold on one side only. Twice the cost.
    #[must_use]
    pub fn across_bends(&self) -> Self {
        Self {
            outliers: self.outliers,
            across: true,
            ..self.from_afar()
        }
    }

    /// The data rows, in order.
    pub fn rows_of_data(&self) -> &[Row] {
        &self.rows
    }

    /// Where the sheet's numbers sit among the coordinates.
    pub fn sheet_coordinates(&self) -> Range<usize> {
        0..self.free
    }

    /// How many coordinates stray with visits and pulls.
    pub fn stray_count(&self) -> usize {
        PER_VISIT * self.visits.len() + self.pulls.len()
    }

    /// Which coordinate scales the power of a visit.
    pub fn visit_coordinate(&self, visit: usize) -> usize {
        self.free + PER_VISIT * visit
    }

    fn pull_coordinate(&self, pull: usize) -> usize {
        self.free + PER_VISIT * self.visits.len() + pull
    }

    /// Scale of a visit at coordinates `z`.
    /// Equation (8.5).
    pub fn visit_scale(&self, z: &[f64], visit: usize) -> f64 {
        (self.noise.visit * z[self.visit_coordinate(visit)]).exp()
    }

    /// Offset of a row's sensor at coordinates `z`, relative for flows; zero for power, which has a scale.
    pub fn offset(&self, z: &[f64], row: &Row) -> f64 {
        let visit = self.visit_coordinate(row.visit);
        let own = row
            .channel
            .sensor(&self.noise)
            .map_or(0.0, |s| s.offset * z[visit + row.channel as usize]);
        own + self.tilt(row) * z[visit + PER_VISIT - 1]
    }

    /// What one unit of tilt adds to a row: nothing at the middle of the usual speeds, and only to the spark.
    fn tilt(&self, row: &Row) -> f64 {
        let redline = self.sheet.centre.car.engine.redline_rpm;
        match row.channel {
            Channel::Spark => self.noise.spark_tilt * (row.rpm / redline - TILT_ABOUT) / TILT_OVER,
            _ => 0.0,
        }
    }

    /// What is to be read where the model says `predicted`, at coordinates `z`.
    /// Equation (8.5).
    pub fn reading(&self, z: &[f64], row: &Row, predicted: f64) -> f64 {
        match row.channel {
            Channel::Power => {
                predicted * self.visit_scale(z, row.visit) * self.pull_scale(z, row.pull)
            }
            channel if channel.is_relative() => predicted * self.offset(z, row).exp(),
            _ => predicted + self.offset(z, row),
        }
    }

    /// Scale of a pull about its visit at coordinates `z`.
    /// Equation (8.5).
    pub fn pull_scale(&self, z: &[f64], pull: usize) -> f64 {
        (self.pulls[pull] * z[self.pull_coordinate(pull)]).exp()
    }

    /// What the model says for every data row, before the scales.
    pub fn predictions(&self, sheet_z: &[f64]) -> Result<Vec<f64>, Infeasible> {
        let setup = self.sheet.setup_at(sheet_z);
        let simulated = simulate_all(&setup, self.visits, TOLERANCE)?;
        Ok(self
            .rows
            .iter()
            .map(|row| simulated[row.pull].reading(row.channel, row.rpm))
            .collect())
    }

    /// Equation (8.1).
    fn residual(&self, row: &Row, predicted: f64, z: &[f64]) -> f64 {
        let off = self.reading(z, row, predicted) - row.measured;
        if row.channel.is_relative() {
            off / row.measured / row.sd
        } else {
            off / row.sd
        }
    }

    /// Fills the rows of belief: whitened coordinates of the sheet, then the scales.
    /// Equation (8.1).
    fn beliefs(&self, z: &[f64], out: &mut [f64]) {
        out.copy_from_slice(z);
        if let Some(correlation) = &self.sheet.correlation {
            let white = correlation.whiten(&DVector::from_column_slice(&z[..self.free]));
            out[..self.free].copy_from_slice(white.as_slice());
        }
    }
}

/// Whether engine and drum speed were measured apart: a tyre grows with speed and slips under its force, so a ratio that stays as it is was typed in, and
/// one speed computed from the other. Thirds of the pull are compared, in whose means the rounding of a slow drum's speed is lost.
fn shows_slip(bands: &[Band]) -> bool {
    let thirds = bands.chunks(bands.len().div_ceil(3).max(1));
    let means = thirds.filter_map(|third| {
        let ratios = || third.iter().filter_map(|b| Channel::DrumRatio.measured(b));
        let count = ratios().count();
        (count > 0).then(|| ratios().sum::<f64>() / count as f64)
    });
    let (low, high) = means.fold((f64::INFINITY, 0.0_f64), |(low, high), ratio| {
        (low.min(ratio), high.max(ratio))
    });
    high > low * (1.0 + LEAST_RATIO_SPREAD)
}

/// Equation (8.1).
fn push_rows(
    rows: &mut Vec<Row>,
    visit: usize,
    pull: usize,
    bands: &[Band],
    noise: &Noise,
    pulls: usize,
    gearing: bool,
) {
    let drum_ratio_told = gearing && Channel::DrumRatio.told_by(bands);
    let n = bands.len() as f64;
    // Smooth errors are the same in all pulls of a car, so more pulls do not dilute them.
    let spread = (n * pulls as f64 / f64::from(INDEPENDENT_PIECES))
        .max(1.0)
        .sqrt();
    for band in bands {
        let white = band.power_se_w / band.power_w;
        let mut push = |channel: Channel, own_sd: f64, sd: f64| {
            if let Some(measured) = channel.measured(band) {
                rows.push(Row {
                    visit,
                    pull,
                    rpm: band.rpm,
                    channel,
                    measured,
                    sd,
                    spread: sd / own_sd,
                });
            }
        };
        push(
            Channel::Power,
            white.hypot(noise.shape),
            white.hypot(noise.shape * spread),
        );
        for channel in Channel::ALL {
            let told = channel != Channel::DrumRatio || drum_ratio_told;
            if let Some(sensor) = channel.sensor(noise).filter(|_| told) {
                push(channel, sensor.shape, sensor.shape * spread);
            }
        }
    }
}

impl Problem for Calibration<'_> {
    fn parameters(&self) -> usize {
        self.free + self.stray_count()
    }

    fn rows(&self) -> usize {
        self.rows.len() + self.parameters()
    }

    fn residuals(&self, z: &[f64], out: &mut [f64]) -> Result<(), Infeasible> {
        let predicted = self.predictions(&z[..self.free])?;
        let (data, beliefs) = out.split_at_mut(self.rows.len());
        for ((slot, row), predicted) in data.iter_mut().zip(&self.rows).zip(predicted) {
            *slot = self.residual(row, predicted, z);
        }
        self.beliefs(z, beliefs);
        Ok(())
    }

    /// Differences for the sheet's numbers, forward or across; the scales in closed form.
    fn jacobian(&self, z: &[f64], out: &mut DMatrix<f64>) -> bool {
        let rows = self.rows.len();
        let Ok(here) = self.predictions(&z[..self.free]) else {
            return false;
        };
        out.fill(0.0);
        let (lower, upper): (Vec<f64>, Vec<f64>) =
            self.sheet.free().map(|b| b.prior.z_bounds()).unzip();
        let slope = |column: usize| -> Option<Vec<f64>> {
            let at = z[column];
            let (low, high) = (lower[column], upper[column]);
            let (from, to) = if self.across {
                ((at - ACROSS).max(low), (at + ACROSS).min(high))
            } else if at + STEP <= high {
                (at, at + STEP)
            } else {
                (at, (at - STEP).max(low))
            };
            let moved = |to: f64| -> Option<Vec<f64>> {
                let mut moved = z[..self.free].to_vec();
                moved[column] = to;
                self.predictions(&moved).ok()
            };
            // Where the car cannot make the pulls on one side, the other is held against the place itself.
            let end = |z: f64| if z == at { None } else { Some((z, moved(z)?)) };
            let ((from, near), (to, far)) = match (end(from), end(to)) {
                (None, None) => {
                    let back = (at - STEP).max(low);
                    ((at, here.clone()), end(back)?)
                }
                (near, far) => {
                    let place = || (at, here.clone());
                    (near.unwrap_or_else(place), far.unwrap_or_else(place))
                }
            };
            let taken = self.slopes.fetch_add(1, Ordering::Relaxed) + 1;
            self.progress.tell(taken, None);
            let slopes = self.rows.iter().enumerate().map(|(i, row)| {
                (self.residual(row, far[i], z) - self.residual(row, near[i], z)) / (to - from)
            });
            Some(slopes.collect())
        };
        for (column, slopes) in side_by_side(self.free, slope).into_iter().enumerate() {
            let Some(slopes) = slopes else {
                return false;
            };
            out.column_mut(column)
                .rows_mut(0, rows)
                .copy_from_slice(&slopes);
        }
        for (i, row) in self.rows.iter().enumerate() {
            let visit = self.visit_coordinate(row.visit);
            if let Some(sensor) = row.channel.sensor(&self.noise) {
                let size = if row.channel.is_relative() {
                    self.reading(z, row, here[i]) / row.measured
                } else {
                    1.0
                };
                out[(i, visit + row.channel as usize)] = size * sensor.offset / row.sd;
                out[(i, visit + PER_VISIT - 1)] = self.tilt(row) / row.sd;
            } else {
                let share = self.residual(row, here[i], z) * row.sd + 1.0;
                out[(i, visit)] = share * self.noise.visit / row.sd;
                out[(i, self.pull_coordinate(row.pull))] = share * self.pulls[row.pull] / row.sd;
            }
        }
        for k in 0..self.parameters() {
            out[(rows + k, k)] = 1.0;
        }
        if let Some(correlation) = &self.sheet.correlation {
            let identity = DMatrix::identity(self.free, self.free);
            if let Some(inverse) = correlation.lower().solve_lower_triangular(&identity) {
                out.view_mut((rows, 0), (self.free, self.free))
                    .copy_from(&inverse);
            }
        }
        true
    }

    fn loss(&self, row: usize) -> Loss {
        match self.rows.get(row) {
            Some(Row {
                channel: Channel::Power,
                spread,
                ..
            }) if self.outliers => Loss::StudentT {
                dof: POWER_FREEDOM,
                spread: *spread,
            },
            _ => Loss::LeastSquares,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::dyno::{Conditions, Setup};

    #[test]
    fn flows_are_fitted_where_a_meter_read_any() {
        let band = |flow: f64| Band {
            fuel_kg_s: Some(flow),
            air_kg_s: Some(14.0 * flow),
            rpm: 4000.0,
            power_w: 80e3,
            power_se_w: 400.0,
            manifold_pa: None,
            charge_k: None,
            lambda: None,
            spark_deg: None,
            engine_per_drum: None,
            blower_per_engine: None,
            samples: 10,
        };
        assert_eq!(Channel::Fuel.measured(&band(0.008)), Some(0.008));
        assert_eq!(Channel::Air.measured(&band(0.008)), Some(14.0 * 0.008));
        // A dead meter says nothing, and its logarithm is no number.
        assert_eq!(Channel::Fuel.measured(&band(0.0)), None);
        assert_eq!(Channel::Air.measured(&band(0.0)), None);
    }

    #[test]
    fn the_spark_leads_the_middle_of_the_burn_by_kernel_and_flame() {
        let setup = Setup::example();
        let conditions = Conditions::rested(setup.car.engine.redline_rpm);
        let pull = setup
            .pull(&Day::reference(), &conditions, 4)
            .expect("a pull");
        let mut engine = pull.points[0].engine;
        engine.rpm = 6000.0;
        engine.cylinder.burn_duration_deg = 60.0;
        engine.cylinder.ca50_deg = 8.0;
        // 6 · 6000 · 2.5e-4 = 9 deg; (ln 2/5)^(1/3) = 0.517549; 9 + 31.0530 - 8.
        assert!(
            (spark_deg(&engine) - 32.0530).abs() < 1e-3,
            "{}",
            spark_deg(&engine)
        );
    }
}
