//! A recorded pull as columns, and its reduction to a curve over engine speed.
//!
//! The drum's own log is too fine and too noisy to fit point by point: neighbouring samples share the machine's
//! smoothing, and the engine-speed signal jitters. Here the settled part of a pull is averaged in bands of engine
//! speed, each band with a standard error that knows how many *independent* samples it holds. It refuses to repair a log:
//! runs with shifts or lift-offs belong to a later reduction from the raw drum speed.

use super::recording_check::{Energy, PowerFrom};
use crate::numeric::{correlation_length, upper_median};
use crate::units;

/// Columns of a recorded pull, in SI, all of one length.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recording {
    /// Time, s.
    pub time_s: Vec<f64>,
    /// Engine speed, rpm.
    pub engine_rpm: Vec<f64>,
    /// Uncorrected power at the drums, W.
    pub power_w: Vec<f64>,
    /// What was logged that gave the power.
    pub power_from: PowerFrom,
    /// Standard error of the power, W, where the rows are points of a curve already smoothed.
    pub power_se_w: Option<Vec<f64>>,
    /// Engine speed over which such a curve was smoothed, rpm.
    pub span_rpm: Option<Vec<f64>>,
    /// Absolute manifold pressure, Pa, where logged.
    pub manifold_pa: Option<Vec<f64>>,
    /// Charge temperature, K, where logged.
    pub charge_k: Option<Vec<f64>>,
    /// Relative air-fuel ratio, where logged.
    pub lambda: Option<Vec<f64>>,
    /// Final spark, deg before top dead centre, where logged.
    pub spark_deg: Option<Vec<f64>>,
    /// Fuel flow, kg/s, where logged.
    pub fuel_kg_s: Option<Vec<f64>>,
    /// Air flow, kg/s, where logged.
    pub air_kg_s: Option<Vec<f64>>,
    /// Speed of the drum, rad/s, where logged.
    pub drum_rad_s: Option<Vec<f64>>,
    /// Speed of a belt-driven blower's shaft, rad/s, where logged.
    pub blower_rad_s: Option<Vec<f64>>,
    /// Power after the rig's weather correction, W, where logged.
    pub corrected_w: Option<Vec<f64>>,
    /// Power by the force logged at the drums and their speed, W, where that is logged beside a power.
    pub force_w: Option<Vec<f64>>,
}

/// One band of engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Band {
    /// Mean engine speed of the band, rpm.
    pub rpm: f64,
    /// Mean power, W.
    pub power_w: f64,
    /// Standard error of that mean, W.
    pub power_se_w: f64,
    /// Mean absolute manifold pressure, Pa.
    pub manifold_pa: Option<f64>,
    /// Mean charge temperature, K.
    pub charge_k: Option<f64>,
    /// Mean relative air-fuel ratio.
    pub lambda: Option<f64>,
    /// Mean final spark, deg before top dead centre.
    pub spark_deg: Option<f64>,
    /// Mean fuel flow, kg/s.
    pub fuel_kg_s: Option<f64>,
    /// Mean air flow, kg/s.
    pub air_kg_s: Option<f64>,
    /// Engine speed over drum speed, of the means.
    pub engine_per_drum: Option<f64>,
    /// Blower speed over engine speed, of the means.
    pub blower_per_engine: Option<f64>,
    /// Samples in the band.
    pub samples: usize,
}

/// A pull reduced to a curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// Bands in order of engine speed.
    pub bands: Vec<Band>,
    /// Engine speed over which each band is averaged, rpm.
    pub band_rpm: f64,
    /// Samples over which the machine's smoothing correlates its noise.
    pub correlated_samples: f64,
    /// Relative standard deviation of single samples about the curve.
    pub noise: f64,
    /// What the log says about the rig itself.
    pub rig: RigTrace,
    /// Rows left out at the start, where the pull had not settled.
    pub dropped_start: usize,
    /// Rows left out at the end.
    pub dropped_end: usize,
}

/// What a log says about the rig that made it, whatever stood on its drums.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RigTrace {
    /// Moment of inertia with which the power was computed, kg m²: twice the energy the power adds up to over the gain of
    /// drum speed squared.
    pub implied_inertia_kg_m2: Option<f64>,
    /// The same at engine speed, kg m²: of the rig and the gears together.
    pub engine_inertia_kg_m2: Option<f64>,
    /// Corrected over uncorrected power.
    pub applied_factor: Option<f64>,
    /// Mean time between the settled rows, s.
    pub interval_s: Option<f64>,
    /// Time from the first settled row to the last, s.
    pub duration_s: Option<f64>,
    /// Energy and speeds at both ends of the settled rows, for [`super::recording_check`].
    pub energy: Option<Energy>,
}

/// Why a recording is no pull.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RecordingError {
    /// Too few rows to make a curve.
    #[error("the pull has {rows} usable rows; at least {needed} are needed")]
    TooShort {
        /// Rows found.
        rows: usize,
        /// Rows needed.
        needed: usize,
    },
    /// Engine speed does not climb.
    #[error(
        "engine speed hardly climbs, from {from_rpm:.0} to {to_rpm:.0} rpm; a pull gains at least {:.0} % (is the log cut off?)", 100.0 * LEAST_CLIMB
    )]
    NotClimbing {
        /// Engine speed of the first usable rows, rpm.
        from_rpm: f64,
        /// Engine speed of the last usable rows, rpm.
        to_rpm: f64,
    },
    /// Engine speed falls back in the middle: a shift, a lift-off or two pulls in one.
    #[error(
        "engine speed falls from {from_rpm:.0} to {to_rpm:.0} rpm at row {row}: a shift, a lift-off or two pulls in one"
    )]
    FallsBack {
        /// Highest engine speed before the fall, rpm.
        from_rpm: f64,
        /// Engine speed after it, rpm.
        to_rpm: f64,
        /// Row (from 0) of the fall.
        row: usize,
    },
}

/// Fewest usable rows.
pub const LEAST_ROWS: usize = 20;
/// Fall of engine speed that is not jitter, as a share of the speed. Common practice, no source.
const FALL_SHARE: f64 = 0.08;
/// The end of a log is smoothed over a window that reaches past it; seconds left out there. Common practice, no source.
const END_SECONDS: f64 = 0.12;
/// A pull counts as settled once its torque is within this share of what follows.
const SETTLED_SHARE: f64 = 0.03;
/// Least gain of engine speed over a pull, as a share of the speed it begins at. Common practice, no source.
const LEAST_CLIMB: f64 = 0.15;
/// Rows on each side of an end of the pull that give the drum's speed there.
const END_ROWS: usize = 12;
/// How far ahead the settling is judged, s.
const SETTLING_SECONDS: f64 = 0.35;

impl Recording {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// The same without some rows, given in order; nothing takes their place.
    #[must_use]
    pub fn without(&self, rows: &[usize]) -> Self {
        let left = |values: &Vec<f64>| {
            let kept =
                |(row, value): (usize, &f64)| rows.binary_search(&row).is_err().then_some(*value);
            values
                .iter()
                .enumerate()
                .filter_map(kept)
                .collect::<Vec<f64>>()
        };
        Self {
            time_s: left(&self.time_s),
            engine_rpm: left(&self.engine_rpm),
            power_w: left(&self.power_w),
            power_from: self.power_from,
            power_se_w: self.power_se_w.as_ref().map(left),
            span_rpm: self.span_rpm.as_ref().map(left),
            manifold_pa: self.manifold_pa.as_ref().map(left),
            charge_k: self.charge_k.as_ref().map(left),
            lambda: self.lambda.as_ref().map(left),
            spark_deg: self.spark_deg.as_ref().map(left),
            fuel_kg_s: self.fuel_kg_s.as_ref().map(left),
            air_kg_s: self.air_kg_s.as_ref().map(left),
            drum_rad_s: self.drum_rad_s.as_ref().map(left),
            blower_rad_s: self.blower_rad_s.as_ref().map(left),
            corrected_w: self.corrected_w.as_ref().map(left),
            force_w: self.force_w.as_ref().map(left),
        }
    }

    /// Averages the settled part of the pull in bands of `band_rpm`.
    ///
    /// Rows before the torque has settled after the throttle opened, and the last tenth of a second, are left out. The
    /// standard error of a band is `s √(τ/n)` with `s` the scatter about a line through the band, and `τ` the
    /// integrated autocorrelation of that scatter over the whole pull, in samples. A curve that states its own errors shows no
    /// scatter: its bands take the stated error, larger by √(span/band) where its smoothing spans more than a band, so that
    /// bands that are later counted as independent hold no more than the curve knows; and its end is left in.
    /// Equation (8.4).
    pub fn reduce(&self, band_rpm: f64) -> Result<Curve, RecordingError> {
        let rows = self.len();
        if rows < LEAST_ROWS {
            return Err(RecordingError::TooShort {
                rows,
                needed: LEAST_ROWS,
            });
        }
        let start = self.settled_row();
        let stated = self.power_se_w.is_some();
        let end_time = self.time_s[rows - 1] - if stated { 0.0 } else { END_SECONDS };
        let end = (start..rows)
            .rev()
            .find(|&i| self.time_s[i] <= end_time)
            .map_or(rows, |i| i + 1);
        if end - start.min(end) < LEAST_ROWS {
            return Err(RecordingError::TooShort {
                rows: end - start.min(end),
                needed: LEAST_ROWS,
            });
        }
        self.check_climb(start, end)?;

        let mut order: Vec<usize> = (start..end).collect();
        order.sort_by(|&a, &b| self.engine_rpm[a].total_cmp(&self.engine_rpm[b]));
        let mut groups: Vec<Vec<usize>> = Vec::new();
        let first = self.engine_rpm[order[0]];
        let mut edge = f64::NEG_INFINITY;
        for row in order {
            let rpm = self.engine_rpm[row];
            if rpm >= edge {
                edge = first + band_rpm * (((rpm - first) / band_rpm).floor() + 1.0);
                groups.push(Vec::new());
            }
            if let Some(group) = groups.last_mut() {
                group.push(row);
            }
        }
        let residual = self.scatter(start, end);
        let tau = correlation_length(&residual);
        let bands: Vec<Band> = groups
            .iter()
            .filter(|rows| rows.len() >= 2 || stated)
            .map(|rows| self.stated(rows, band_rpm, self.band(rows, &residual, start, tau)))
            .collect();
        let variance = residual.iter().map(|r| r * r).sum::<f64>() / residual.len() as f64;
        Ok(Curve {
            bands,
            band_rpm,
            correlated_samples: tau,
            noise: variance.sqrt(),
            rig: self.rig(start, end),
            dropped_start: start,
            dropped_end: rows - end,
        })
    }

    /// The rig's own inertia and correction, from the settled rows.
    ///
    /// ```text
    /// I = 2 ∫P dt/(ω₂² − ω₁²)
    /// ```
    ///
    /// Source: derived, the drum's kinetic energy. The rig's smoothing moves power in time but hardly its integral; drag that
    /// the rig adds back counts as inertia here, so runs are compared with each other rather than with the nameplate.
    /// Equation (10.6).
    fn rig(&self, start: usize, end: usize) -> RigTrace {
        let work = |power_w: &[f64]| -> f64 {
            let rows = start + 1..end;
            rows.map(|i| {
                let step_s = self.time_s[i] - self.time_s[i - 1];
                0.5 * step_s * (power_w[i] + power_w[i - 1])
            })
            .sum()
        };
        let work_j = work(&self.power_w);
        let ends = |rad_s: &[f64]| {
            let speed_at = |i: usize| {
                let low = i.saturating_sub(END_ROWS).max(start);
                let high = (i + END_ROWS + 1).min(end);
                quadratic_at(&self.time_s[low..high], &rad_s[low..high], self.time_s[i])
            };
            [speed_at(start), speed_at(end - 1)]
        };
        let implied = |[first, last]: [f64; 2]| {
            let gained = last * last - first * first;
            (gained > 0.1 * last * last && work_j > 0.0).then(|| 2.0 * work_j / gained)
        };
        let engine_rad_s: Vec<f64> = self
            .engine_rpm
            .iter()
            .map(|rpm| units::rad_s(*rpm))
            .collect();
        let applied = self.corrected_w.as_deref().and_then(|corrected| {
            let sum = |values: &[f64]| values[start..end].iter().sum::<f64>();
            let read = sum(&self.power_w);
            (read > 0.0).then(|| sum(corrected) / read)
        });
        let duration_s = self.time_s[end - 1] - self.time_s[start];
        let engine = ends(&engine_rad_s);
        let drum = self.drum_rad_s.as_deref().map(ends);
        let implied_inertia_kg_m2 = drum.and_then(implied);
        let engine_inertia_kg_m2 = implied(engine);
        RigTrace {
            implied_inertia_kg_m2,
            engine_inertia_kg_m2,
            applied_factor: applied,
            interval_s: (end > start + 1).then(|| duration_s / (end - start - 1) as f64),
            duration_s: (duration_s > 0.0).then_some(duration_s),
            energy: engine_inertia_kg_m2.map(|_| Energy {
                work_j,
                force_work_j: self.force_w.as_deref().map(work),
                power_from: self.power_from,
                engine_rad_s: engine,
                end_power_w: self.end_power_w(start, end),
                drum_rad_s: implied_inertia_kg_m2.and(drum),
                drum_turned: self.drum_turned(start, end),
            }),
        }
    }

    /// Mean power of the first and of the last rows, W.
    fn end_power_w(&self, start: usize, end: usize) -> [f64; 2] {
        let mean = |rows: &[f64]| rows.iter().sum::<f64>() / rows.len() as f64;
        let few = END_ROWS.min(end - start);
        [
            mean(&self.power_w[start..start + few]),
            mean(&self.power_w[end - few..end]),
        ]
    }

    /// Integrals over time of the drum's speed and of its square and cube, in rad and seconds.
    fn drum_turned(&self, start: usize, end: usize) -> Option<[f64; 3]> {
        let drum = self.drum_rad_s.as_deref()?;
        let mut turned = [0.0; 3];
        for i in start + 1..end {
            let step_s = self.time_s[i] - self.time_s[i - 1];
            for (sum, power) in turned.iter_mut().zip(1..) {
                *sum += 0.5 * step_s * (drum[i].powi(power) + drum[i - 1].powi(power));
            }
        }
        Some(turned)
    }

    /// First row whose torque no longer climbs steeply toward what follows.
    ///
    /// Rows before it are of a force that is still coming up; at most a third of them.
    pub fn settled_row(&self) -> usize {
        let torque = |i: usize| self.power_w[i] / self.engine_rpm[i];
        let rows = self.len();
        for i in 0..rows / 3 {
            let ahead = (i..rows)
                .take_while(|&j| self.time_s[j] <= self.time_s[i] + SETTLING_SECONDS)
                .map(torque);
            let settled = upper_median(ahead).unwrap_or(f64::NAN);
            if torque(i) >= (1.0 - SETTLED_SHARE) * settled {
                return i;
            }
        }
        rows / 3
    }

    fn check_climb(&self, start: usize, end: usize) -> Result<(), RecordingError> {
        let mean = |range: std::ops::Range<usize>| {
            let n = range.len() as f64;
            self.engine_rpm[range].iter().sum::<f64>() / n
        };
        let few = (end - start) / 10 + 1;
        let (from_rpm, to_rpm) = (mean(start..start + few), mean(end - few..end));
        if to_rpm < (1.0 + LEAST_CLIMB) * from_rpm {
            return Err(RecordingError::NotClimbing { from_rpm, to_rpm });
        }
        let mut highest = f64::NEG_INFINITY;
        for row in start..end {
            let rpm = self.engine_rpm[row];
            highest = highest.max(rpm);
            if rpm < (1.0 - FALL_SHARE) * highest {
                return Err(RecordingError::FallsBack {
                    from_rpm: highest,
                    to_rpm: rpm,
                    row,
                });
            }
        }
        Ok(())
    }

    /// Relative scatter of each row about a quadratic through its neighbours in time.
    fn scatter(&self, start: usize, end: usize) -> Vec<f64> {
        const HALF: usize = 15;
        (start..end)
            .map(|i| {
                let low = i.saturating_sub(HALF).max(start);
                let high = (i + HALF + 1).min(end);
                let fitted = quadratic_at(
                    &self.time_s[low..high],
                    &self.power_w[low..high],
                    self.time_s[i],
                );
                self.power_w[i] / fitted - 1.0
            })
            .collect()
    }

    /// The band with the error that its rows state, if they do.
    /// Equation (8.4).
    fn stated(&self, rows: &[usize], band_rpm: f64, band: Band) -> Band {
        let Some(se_w) = &self.power_se_w else {
            return band;
        };
        let n = rows.len() as f64;
        let square = rows.iter().map(|&i| se_w[i] * se_w[i]).sum::<f64>() / n;
        let span = self.span_rpm.as_ref().map_or(band_rpm, |span| {
            rows.iter().map(|&i| span[i]).sum::<f64>() / n
        });
        Band {
            power_se_w: (square * (span / band_rpm).max(1.0)).sqrt(),
            ..band
        }
    }

    fn band(&self, rows: &[usize], residual: &[f64], start: usize, tau: f64) -> Band {
        let n = rows.len() as f64;
        let mean = |values: &[f64]| rows.iter().map(|&i| values[i]).sum::<f64>() / n;
        let power_w = mean(&self.power_w);
        let scatter = (residual.iter().map(|r| r * r).sum::<f64>() / residual.len() as f64).sqrt();
        let local = (rows
            .iter()
            .map(|&i| residual[i - start].powi(2))
            .sum::<f64>()
            / n)
            .sqrt();
        // A band's own scatter is a poor estimate from few samples; it may only raise the pull's.
        let relative = scatter.max(local) * (tau / n).min(1.0).sqrt();
        Band {
            rpm: mean(&self.engine_rpm),
            power_w,
            power_se_w: relative * power_w.abs(),
            manifold_pa: self.manifold_pa.as_deref().map(mean),
            charge_k: self.charge_k.as_deref().map(mean),
            lambda: self.lambda.as_deref().map(mean),
            spark_deg: self.spark_deg.as_deref().map(mean),
            fuel_kg_s: self.fuel_kg_s.as_deref().map(mean),
            air_kg_s: self.air_kg_s.as_deref().map(mean),
            engine_per_drum: self
                .drum_rad_s
                .as_deref()
                .map(|drum| units::rad_s(mean(&self.engine_rpm)) / mean(drum)),
            blower_per_engine: self
                .blower_rad_s
                .as_deref()
                .map(|blower| units::rpm(mean(blower)) / mean(&self.engine_rpm)),
            samples: rows.len(),
        }
    }
}

/// Value at `x` of the least-squares quadratic through points.
fn quadratic_at(xs: &[f64], ys: &[f64], x: f64) -> f64 {
    let span = (xs[xs.len() - 1] - xs[0]).max(f64::MIN_POSITIVE);
    let mut normal = nalgebra::Matrix3::<f64>::zeros();
    let mut right = nalgebra::Vector3::<f64>::zeros();
    for (xi, yi) in xs.iter().zip(ys) {
        let u = (xi - x) / span;
        let row = nalgebra::Vector3::new(1.0, u, u * u);
        normal += row * row.transpose();
        right += row * *yi;
    }
    let mean = ys.iter().sum::<f64>() / ys.len() as f64;
    normal.lu().solve(&right).map_or(mean, |c| c[0])
}
