//! Balance of the drums: the force that a cell logs against what the drums do, which tells the mass that the force feels.
//!
//! Held over short windows of momentum, not over a derivative: steps of the throttle, which tell mass from drag best, then cost nothing. A
//! cell is filtered apart from the speed and comes late, so its lag is found with the rest. It refuses a log whose force does not go with
//! acceleration and speed at all, as on a rig whose brake works against a controller: such a log tells no mass.

use std::ops::Range;

use nalgebra::{Matrix4, Vector4};

use super::coast_down::Drag;
use super::pulls::BRAKED_M_S2;
use super::signal::whole;
use super::smoothed::trapezoid;
use crate::numeric::{MAD_TO_SD, correlation_length, lowest, median, upper_median};

/// What the force at the drums is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// Mass that the force feels, kg at the surface.
    pub mass_kg: f64,
    /// Its standard error, kg.
    pub mass_se_kg: f64,
    /// What is left of the force at each speed: drag and simulated road load.
    pub drag: Drag,
    /// Covariance of mass and the three coefficients of drag, SI.
    covariance: [[f64; 4]; 4],
    /// Time by which the force comes after the speed, s; 0 where the log does not clearly show one.
    pub lag_s: f64,
    /// Its standard error, s; 0 where none was found.
    pub lag_se_s: f64,
    /// What the balance leaves over in a window at full throttle, N, standard deviation.
    pub residual_n: f64,
    /// The same of all windows.
    scatter_n: f64,
    /// Usual size of the force in it, N: root mean square of its mass's and its drag's, or of what the drums' own inertia would need.
    pub scale_n: f64,
    /// Slowest and fastest speed in it, m/s.
    pub speed_m_s: (f64, f64),
    /// Windows in it.
    pub windows: usize,
}

/// Length of a window, s: long against the noise of a drum's speed, short against a pull (no source: the momentum of half a second is known
/// to 1 % where single speeds stray by 0.02 m/s).
pub const WINDOW_S: f64 = 0.4;
/// Speeds about an end of a window are averaged over so much to each side, s: a tenth of the window (no source).
const END_S: f64 = 0.04;
/// Below this speed the drums count as standing, m/s (no source).
const STANDING_M_S: f64 = 1.0;
/// Windows up to this time after a pull belong to it, s: throttle closed, clutch out, run-down (no source).
const AFTER_S: f64 = 4.0;
/// Windows in a row that are left out together (no source: two lose the part of the errors that neighbours cancel, and many leave few pieces).
const PIECE: usize = 4;
/// A window further off than so many standard deviations belongs to another balance: a brake, a hand on a button (no source: of normal ones 6 in 100 000 are).
const APART: f64 = 4.0;
/// Fewest windows: three for each of the four numbers (no source).
const LEAST_WINDOWS: usize = 12;
/// Share of the windows that must hold the balance (no source).
const LEAST_SHARE: f64 = 0.7;
/// Largest lag looked for, s, and the step of the search (no source: filters of load cells pass 1 Hz and more).
const LAG_S: (f64, f64) = (0.5, 0.05);
/// 99.98th percentile of χ² with one degree of freedom: a lag below it is none.
const CLEAR: f64 = 13.8;
/// A balance holds where less than this share of the force is left over (no source).
const HOLDS: f64 = 0.08;

/// One window, and what a force over it is made of.
#[derive(Clone, Copy)]
struct Window {
    /// First and last row; speed is averaged over some rows about each, and so is the force's integral.
    rows: [usize; 2],
    about: usize,
    /// Mean acceleration, 1, mean speed and speed squared.
    row: Vector4<f64>,
    /// Variance of that acceleration by the noise of single speeds.
    rate_variance: f64,
    /// Whether it lies in a pull or shortly after it, unbraked.
    of_a_pull: bool,
    /// Whether it lies in a pull.
    in_a_pull: bool,
}

/// Force over time with its integral.
struct Impulse<'a> {
    time_s: &'a [f64],
    force_n: &'a [f64],
    sum: Vec<f64>,
}

impl Impulse<'_> {
    /// Integral up to a time; the force is level beyond the log's ends.
    fn until(&self, time_s: f64) -> f64 {
        let after = self.time_s.partition_point(|&t| t < time_s);
        let last = self.time_s.len() - 1;
        if after == 0 {
            return (time_s - self.time_s[0]) * self.force_n[0];
        }
        if after > last {
            return self.sum[last] + (time_s - self.time_s[last]) * self.force_n[last];
        }
        let (t0, t1) = (self.time_s[after - 1], self.time_s[after]);
        let (f0, f1) = (self.force_n[after - 1], self.force_n[after]);
        let x = time_s - t0;
        self.sum[after - 1] + x * (f0 + 0.5 * (f1 - f0) * x / (t1 - t0))
    }

    /// Typical time between rows, s.
    fn step_s(&self) -> f64 {
        upper_median(self.time_s.windows(2).map(|t| t[1] - t[0])).unwrap_or(0.0)
    }

    /// Mean over a window, its ends averaged as those of the speed.
    fn mean(&self, window: &Window, lag_s: f64) -> f64 {
        let about = |row: usize| {
            let times = &self.time_s[row - window.about..=row + window.about];
            let count = times.len() as f64;
            let sum: f64 = times.iter().map(|t| self.until(t + lag_s)).sum();
            (sum / count, times.iter().sum::<f64>() / count)
        };
        let (first, last) = (about(window.rows[0]), about(window.rows[1]));
        (last.0 - first.0) / (last.1 - first.1)
    }
}

/// A least-squares balance over some windows.
struct Fit {
    coefficients: Vector4<f64>,
    /// What is left over in each window.
    left: Vec<f64>,
}

impl Balance {
    /// Holds a force, N, against the speed of the surface, m/s, row by row; `pulls` are first and last times of the stretches at full throttle.
    ///
    /// ```text
    /// mean F(t + τ) = m Δv/Δt + f₀ + f₁ mean v + f₂ mean v²   over windows of 0.4 s
    /// ```
    ///
    /// Least squares, with the noise of Δv taken off its squares, over all windows in which the drums move, or, where those hold no balance, over the unbraked ones within the pulls and 4 s
    /// after each; windows more than 4 standard deviations off are left out. τ is the lag with the least left over, where that is clearly less
    /// than without; it is known to no better than 1/√12 of the time between rows. The lag's standard error grows by √(1 + 2 Σ ρ) of what is left over; those of mass and drag are
    /// what leaving out each piece of four windows in turn shows, for a balance is never quite of this form. `own_kg` is what the drums weigh: a force of which the scale is told when the cell reads none.
    /// Source: derived, momentum of the drums. Equation (6.34).
    pub fn of(
        time_s: &[f64],
        speed_m_s: &[f64],
        force_n: &[f64],
        pulls: &[(f64, f64)],
        own_kg: f64,
    ) -> Option<Self> {
        let moving = windows(time_s, speed_m_s, pulls);
        let (few, all): (Vec<Window>, Vec<Window>) = (
            moving.iter().filter(|w| w.of_a_pull).copied().collect(),
            moving,
        );
        let impulse = Impulse {
            time_s,
            force_n,
            sum: trapezoid(time_s, force_n),
        };
        // All in which the drums move, if they hold one balance; a rig that brakes its drums itself keeps one in the pulls alone.
        [all, few]
            .iter()
            .find_map(|windows| Self::over(windows, &impulse, own_kg))
    }

    fn over(windows: &[Window], impulse: &Impulse<'_>, own_kg: f64) -> Option<Self> {
        if windows.len() < LEAST_WINDOWS {
            return None;
        }
        let means =
            |lag_s: f64| -> Vec<f64> { windows.iter().map(|w| impulse.mean(w, lag_s)).collect() };
        // Absolute values: steps of the throttle, which show a lag best, count, and windows of another balance do not rule.
        let off = |lag_s: f64| {
            least_absolute(windows, &means(lag_s)).map_or(f64::INFINITY, |fit| {
                fit.left.iter().map(|r| r.abs()).sum::<f64>()
            })
        };
        let steps = whole(2.0 * LAG_S.0 / LAG_S.1);
        let lags = (0..=steps).map(|i| i as f64 * LAG_S.1 - LAG_S.0);
        let rough = lags
            .map(|lag| (lag, off(lag)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?
            .0;
        let rough = lowest(off, near(rough), 0.005);
        // From here on over the windows that hold the balance at that lag.
        let (_, kept) = robust(windows, &means(rough))?;
        if (kept.len() as f64) < LEAST_SHARE * windows.len() as f64 || kept.len() < LEAST_WINDOWS {
            return None;
        }
        let squares = |lag_s: f64| {
            least_squares(windows, &means(lag_s), &kept).map_or(f64::INFINITY, |fit| {
                kept.iter().map(|&i| fit.left[i].powi(2)).sum()
            })
        };
        let found = lowest(squares, near(rough), 0.002);
        let freedom = (kept.len() - 4) as f64;
        let step = 0.5 * LAG_S.1;
        let least = squares(found);
        let bend = (squares(found + step) + squares(found - step) - 2.0 * least) / (step * step);
        let fit = least_squares(windows, &means(found), &kept)?;
        let left: Vec<f64> = kept.iter().map(|&i| fit.left[i]).collect();
        let raised = correlation_length(&left);
        let variance = least / freedom;
        let gain = (squares(0.0) - least) / (variance * raised).max(f64::MIN_POSITIVE);
        let lagging = gain > CLEAR && bend > 0.0;
        let (lag_s, lag_se_s) = if lagging {
            // A step of the throttle lies anywhere between two rows.
            let between = impulse.step_s() / f64::sqrt(12.0);
            (
                found,
                (2.0 * variance * raised / bend).sqrt().hypot(between),
            )
        } else {
            (0.0, 0.0)
        };
        let fit = least_squares(windows, &means(lag_s), &kept)?;
        let left: Vec<f64> = kept.iter().map(|&i| fit.left[i]).collect();
        let variance = left.iter().map(|r| r * r).sum::<f64>() / freedom;
        let driven: Vec<f64> = kept
            .iter()
            .filter(|&&i| windows[i].in_a_pull)
            .map(|&i| fit.left[i].powi(2))
            .collect();
        let residual_n = (driven.iter().sum::<f64>() / driven.len().max(1) as f64).sqrt();
        let covariance = piece_by_piece(windows, &means(lag_s), &kept)?;
        let [mass_kg, f0_n, f1_n_s_m, f2_n_s2_m2] = fit.coefficients.into();
        let rms = |of: &dyn Fn(&Window) -> f64| {
            let squares = kept.iter().map(|&i| of(&windows[i]).powi(2)).sum::<f64>();
            (squares / kept.len() as f64).sqrt()
        };
        let felt = rms(&|w| fit.coefficients.dot(&w.row));
        let speeds = kept.iter().map(|&i| windows[i].row[2]);
        Some(Self {
            mass_kg,
            mass_se_kg: covariance[(0, 0)].max(0.0).sqrt(),
            drag: Drag {
                f0_n,
                f1_n_s_m,
                f2_n_s2_m2,
            },
            covariance: std::array::from_fn(|i| std::array::from_fn(|j| covariance[(i, j)])),
            lag_s,
            lag_se_s,
            residual_n,
            scatter_n: variance.sqrt(),
            scale_n: felt.max(rms(&|w| own_kg * w.row[0])),
            speed_m_s: speeds.fold((f64::INFINITY, 0.0), |(low, high), v| {
                (low.min(v), high.max(v))
            }),
            windows: kept.len(),
        })
    }

    /// The balance of the same force counted the other way.
    #[must_use]
    pub fn times(self, sign: f64) -> Self {
        Self {
            mass_kg: sign * self.mass_kg,
            drag: Drag {
                f0_n: sign * self.drag.f0_n,
                f1_n_s_m: sign * self.drag.f1_n_s_m,
                f2_n_s2_m2: sign * self.drag.f2_n_s2_m2,
            },
            ..self
        }
    }

    /// Whether force, acceleration and speed go together.
    pub fn holds(&self) -> bool {
        self.scatter_n < HOLDS * self.scale_n
    }

    /// Standard error of the drag at a speed, N.
    pub fn drag_se_n(&self, speed_m_s: f64) -> f64 {
        self.force_se_n(0.0, speed_m_s)
    }

    /// Standard error of the force that the balance expects, N, from its own numbers.
    pub fn force_se_n(&self, acceleration_m_s2: f64, speed_m_s: f64) -> f64 {
        let x = [acceleration_m_s2, 1.0, speed_m_s, speed_m_s * speed_m_s];
        let row = |i: usize| (0..4).map(|j| self.covariance[i][j] * x[j]).sum::<f64>();
        let variance: f64 = (0..4).map(|i| x[i] * row(i)).sum();
        variance.max(0.0).sqrt()
    }
}

/// How far single speeds stray, from their third differences, of which white noise makes √20 of itself.
fn stray(speed_m_s: &[f64]) -> f64 {
    let thirds = speed_m_s
        .windows(4)
        .filter(|v| v[0].abs() > STANDING_M_S)
        .map(|v| (v[3] - 3.0 * v[2] + 3.0 * v[1] - v[0]).abs());
    MAD_TO_SD * median(thirds).unwrap_or(0.0) / f64::sqrt(20.0)
}

/// Lags about one, within those looked for.
fn near(lag_s: f64) -> (f64, f64) {
    (
        (lag_s - LAG_S.1).max(-LAG_S.0),
        (lag_s + LAG_S.1).min(LAG_S.0),
    )
}

/// Windows in which the drums move.
fn windows(time_s: &[f64], speed_m_s: &[f64], pulls: &[(f64, f64)]) -> Vec<Window> {
    let steps = time_s.windows(2).map(|t| t[1] - t[0]);
    let Some(step_s) = upper_median(steps).filter(|step| *step > 0.0) else {
        return Vec::new();
    };
    let rows = whole(WINDOW_S / step_s).max(2);
    let about = whole((END_S / step_s).floor());
    let noise = stray(speed_m_s);
    let squares: Vec<f64> = speed_m_s.iter().map(|v| v * v).collect();
    let way = trapezoid(time_s, speed_m_s);
    let way2 = trapezoid(time_s, &squares);
    let near = |row: usize| -> Range<usize> { row - about..row + about + 1 };
    let mean = |values: &[f64], rows: Range<usize>| {
        let count = rows.len() as f64;
        values[rows].iter().sum::<f64>() / count
    };
    let within = |from: f64, to: f64, after_s: f64| {
        pulls
            .iter()
            .any(|(first, last)| from >= *first && to <= last + after_s)
    };
    let mut found: Vec<Window> = Vec::new();
    let mut row = about;
    while row + rows + about < time_s.len() {
        let end = row + rows;
        let (from_s, to_s) = (mean(time_s, near(row)), mean(time_s, near(end)));
        let span_s = to_s - from_s;
        // A hole in time is no window.
        if span_s < 1.5 * rows as f64 * step_s {
            let whole_s = time_s[end] - time_s[row];
            let speed = (way[end] - way[row]) / whole_s;
            let rate = (mean(speed_m_s, near(end)) - mean(speed_m_s, near(row))) / span_s;
            if speed > STANDING_M_S {
                found.push(Window {
                    rows: [row, end],
                    about,
                    row: Vector4::new(rate, 1.0, speed, (way2[end] - way2[row]) / whole_s),
                    rate_variance: 2.0 * noise * noise / (2 * about + 1) as f64 / (span_s * span_s),
                    of_a_pull: rate > -BRAKED_M_S2 && within(from_s, to_s, AFTER_S),
                    in_a_pull: within(from_s, to_s, 0.0),
                });
            }
        }
        row = end;
    }
    found
}

fn least_squares(windows: &[Window], forces: &[f64], kept: &[usize]) -> Option<Fit> {
    weighted(windows, forces, kept, |_| 1.0)
}

fn weighted(
    windows: &[Window],
    forces: &[f64],
    kept: &[usize],
    weight: impl Fn(usize) -> f64,
) -> Option<Fit> {
    let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
    for &i in kept {
        let row = windows[i].row;
        normal += weight(i) * row * row.transpose();
        // Noise of the acceleration would make the mass too small; what it adds to the squares is known and taken off.
        normal[(0, 0)] -= weight(i) * windows[i].rate_variance;
        right += weight(i) * row * forces[i];
    }
    let coefficients = normal.cholesky()?.solve(&right);
    let left = windows
        .iter()
        .zip(forces)
        .map(|(window, force)| force - coefficients.dot(&window.row))
        .collect();
    Some(Fit { coefficients, left })
}

/// The balance with the least absolute values left over, by weights.
fn least_absolute(windows: &[Window], forces: &[f64]) -> Option<Fit> {
    let all: Vec<usize> = (0..windows.len()).collect();
    let mut fit = least_squares(windows, forces, &all)?;
    for _ in 0..15 {
        let size = median(fit.left.iter().map(|r| r.abs()))?.max(1e-6);
        let weights: Vec<f64> = fit
            .left
            .iter()
            .map(|r| 1.0 / r.abs().max(0.1 * size))
            .collect();
        fit = weighted(windows, forces, &all, |i| weights[i])?;
    }
    Some(fit)
}

/// A balance that most windows hold, and which of them do.
fn robust(windows: &[Window], forces: &[f64]) -> Option<(Fit, Vec<usize>)> {
    let all: Vec<usize> = (0..windows.len()).collect();
    let mut fit = least_absolute(windows, forces)?;
    let mut kept = all.clone();
    for _ in 0..10 {
        let sd = MAD_TO_SD * median(fit.left.iter().map(|r| r.abs()))?;
        let next: Vec<usize> = all
            .iter()
            .copied()
            .filter(|&i| fit.left[i].abs() <= APART * sd.max(1e-9))
            .collect();
        fit = least_squares(windows, forces, &next)?;
        if next == kept {
            break;
        }
        kept = next;
    }
    Some((fit, kept))
}

/// Covariance of mass and drag as leaving out each piece of the log in turn shows it. A piece is some windows in a row: those share the ends of
/// their momentum, so that their errors partly cancel, and the errors of a rig last longer than a window.
///
/// Source: the jackknife over blocks, in any text on resampling.
fn piece_by_piece(windows: &[Window], forces: &[f64], kept: &[usize]) -> Option<Matrix4<f64>> {
    let without = |piece: usize| {
        let (from, to) = (PIECE * piece, (PIECE * (piece + 1)).min(kept.len()));
        let rest = [&kept[..from], &kept[to..]].concat();
        Some(least_squares(windows, forces, &rest)?.coefficients)
    };
    let found: Vec<Vector4<f64>> = (0..kept.len().div_ceil(PIECE))
        .map(without)
        .collect::<Option<_>>()?;
    let pieces = found.len() as f64;
    let mean = found.iter().sum::<Vector4<f64>>() / pieces;
    let squares = found.iter().map(|f| (f - mean) * (f - mean).transpose());
    Some(squares.sum::<Matrix4<f64>>() * (pieces - 1.0) / pieces)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MASS_KG: f64 = 1200.0;
    const LOAD: [f64; 3] = [-80.0, 13.0, 0.05];

    fn load_n(v: f64) -> f64 {
        LOAD[0] + v * (LOAD[1] + v * LOAD[2])
    }

    /// A pull of 10 s and 4 s of run-down, 50 rows a second: time, speed, force that comes `late_s` after the speed.
    fn driven(late_s: f64) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let force = |t: f64| {
            if t < 10.0 {
                5200.0 - 25.0 * t * t + 250.0 * t
            } else {
                -300.0
            }
        };
        let (mut v, mut t) = (15.0, 0.0);
        let (mut time, mut speed) = (Vec::new(), Vec::new());
        for row in 0..7000_u32 {
            if row % 10 == 0 {
                time.push(t);
                speed.push(v);
            }
            v += 0.002 * (force(t) - load_n(v)) / MASS_KG;
            t += 0.002;
        }
        let late = time.iter().map(|t| force(t - late_s)).collect();
        (time, speed, late)
    }

    #[test]
    fn mass_load_and_lag_come_back_from_force_and_speed() {
        for late_s in [0.0, 0.18] {
            let (time, speed, force) = driven(late_s);
            let found =
                Balance::of(&time, &speed, &force, &[(0.0, 10.0)], MASS_KG).expect("a balance");
            assert!(found.holds(), "{found:?}");
            // Steps of 2 ms in the truth and of 20 ms in the log: the step of force lies within one row.
            assert!((found.mass_kg / MASS_KG - 1.0).abs() < 0.004, "{found:?}");
            assert!((found.lag_s - late_s).abs() < 0.012, "{found:?}");
            for v in [20.0, 35.0, 50.0] {
                assert!(
                    (found.drag.at_n(v) - load_n(v)).abs() < 25.0,
                    "{v}: {found:?}"
                );
            }
        }
    }

    #[test]
    fn a_controller_that_holds_the_ramp_leaves_no_balance() {
        // The brake takes what the engine makes beyond an even ramp, and lets go with the throttle.
        let (time, speed, _) = driven(0.0);
        let force: Vec<f64> = time
            .iter()
            .map(|t| {
                if *t < 10.0 {
                    2500.0 + 1200.0 * (0.9 * t).sin()
                } else {
                    0.0
                }
            })
            .collect();
        let found = Balance::of(&time, &speed, &force, &[(0.0, 10.0)], MASS_KG);
        assert!(found.is_none_or(|found| !found.holds()), "{found:?}");
    }
}
