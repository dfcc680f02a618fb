//! From a smoothed stretch to wheel force, power and torque over engine speed, with a standard error at every point.
//!
//! Where the rig logs the force at its drums, that force is taken in the place of what the drums' inertia tells, or beside it where it is the
//! brake's alone. A point is the mean over a band of engine speed. Its error knows that the smoothed rows of a band hang together, and says
//! how much it shares with the next point's. What inertia and radius leave in doubt moves the whole curve alike and is stated
//! apart. It does not correct for weather, and credits the drum alone, as a reading does.

use super::engine_speed::EngineSpeed;
use super::rig::Rig;
use super::roll_force::Reads;
use super::smoothed::Smoothed;
use crate::dyno::Recording;
use crate::units;
use serde::Serialize;

/// A point of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Speed of the drum's surface, m/s.
    pub speed_m_s: f64,
    /// Time, s.
    pub time_s: f64,
    /// Force at the surface, N.
    pub force_n: f64,
    /// Its standard error, N.
    pub force_se_n: f64,
    /// Power, W.
    pub power_w: f64,
    /// Its standard error, W.
    pub power_se_w: f64,
    /// Power over engine speed, N m.
    pub torque_nm: f64,
    /// Its standard error, N m.
    pub torque_se_nm: f64,
    /// Correlation of this point's error of power with the next one's; 0 at the last.
    pub shared_with_next: f64,
    /// Smoothing span, rpm.
    #[serde(rename = "smoothing_span_rpm")]
    pub span_rpm: f64,
    /// Rows.
    pub rows: usize,
}

/// The top of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Its standard error, rpm; `None` at an end of the curve, where there is no top.
    pub rpm_se: Option<f64>,
    /// Height: power in W or torque in N m.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

/// Wheel curve of one stretch.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelCurve {
    /// Points in order of engine speed.
    pub points: Vec<Point>,
    /// Highest power.
    pub peak_power: Peak,
    /// Highest torque.
    pub peak_torque: Peak,
    /// Rows left out at the start, where the force had not settled.
    pub dropped_start: usize,
    /// First and last row that are in the curve.
    pub rows: (usize, usize),
}

/// The top is that of a parabola through points this far to each side, rpm: wide enough that noise does not choose the point.
const TOP_RPM: f64 = 500.0;
/// Bands of those points, rpm.
const TOP_BAND_RPM: f64 = 25.0;
/// Fewest points of such a parabola.
const TOP_POINTS: usize = 5;
/// Fewest points of a curve.
const LEAST_POINTS: usize = 4;

/// Rows with the slopes of a sum: with speed, with acceleration, with the logged force.
type Weights = Vec<(usize, [f64; 3])>;

/// The force that was logged, smoothed over the rows of the speed.
#[derive(Debug)]
pub struct Logged {
    /// What it is.
    pub reads: Reads,
    /// The force in the place of a speed, its rate in the place of an acceleration.
    pub smoothed: Smoothed,
    /// Standard error of the time by which it comes late, s.
    pub lag_se_s: f64,
}

/// Which quantity a functional is of.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Of {
    Force,
    Power,
    Torque,
}

struct Maker<'a> {
    smoothed: &'a Smoothed,
    engine: &'a EngineSpeed,
    rig: &'a Rig,
    logged: Option<&'a Logged>,
}

impl Maker<'_> {
    /// Force without the logged one, N, and its slopes with speed and acceleration.
    fn by_inertia(&self, v: f64, a: f64) -> (f64, [f64; 2]) {
        let (mass, (load, slope)) = match self.logged.map(|logged| logged.reads) {
            Some(Reads::All) => return (0.0, [0.0; 2]),
            Some(Reads::BrakeAlone) => (self.rig.drums.mass_kg(), self.rig.drag_added_back(v)),
            None => (self.rig.mass_kg(), self.rig.load(v)),
        };
        (mass * a + load, [slope, mass])
    }

    /// Value at a row, and its slopes with speed, acceleration and logged force.
    ///
    /// ```text
    /// F = F_cell, all of it;   F = I/R² a + drag added back + F_cell, the brake's alone;   F = I/R² a + drag added back, none logged
    /// ```
    ///
    /// Equations (6.26) and (6.36).
    fn at(&self, row: usize, of: Of) -> (f64, [f64; 3]) {
        let (v, a) = (
            self.smoothed.speed_m_s[row],
            self.smoothed.acceleration_m_s2[row],
        );
        let (inertia, [slope, mass]) = self.by_inertia(v, a);
        let (cell, one) = self
            .logged
            .map_or((0.0, 0.0), |logged| (logged.smoothed.speed_m_s[row], 1.0));
        let force = inertia + cell;
        let rad_s = units::rad_s(self.engine.rpm[row]);
        match of {
            Of::Force => (force, [slope, mass, one]),
            Of::Power => (force * v, [force + v * slope, mass * v, one * v]),
            Of::Torque => (
                force * v / rad_s,
                [
                    (force + v * slope) / rad_s,
                    mass * v / rad_s,
                    one * v / rad_s,
                ],
            ),
        }
    }

    fn mean(&self, rows: &[usize], of: Of) -> (f64, Weights) {
        let n = rows.len() as f64;
        let mut sum = 0.0;
        let weights = rows
            .iter()
            .map(|&row| {
                let (value, slopes) = self.at(row, of);
                sum += value;
                (row, slopes.map(|s| s / n))
            })
            .collect();
        (sum / n, weights)
    }

    fn se(&self, weights: &Weights) -> f64 {
        self.variance_of(weights).max(0.0).sqrt()
    }

    /// Variance of a sum: that of speed and that of the logged force, which err apart, and of the time by which the force comes late.
    /// Equation (6.36).
    fn variance_of(&self, weights: &Weights) -> f64 {
        let of_speed: Vec<(usize, [f64; 2])> = weights
            .iter()
            .map(|&(row, [v, a, _])| (row, [v, a]))
            .collect();
        let by_speed = self.smoothed.variance_of(&of_speed);
        let Some(logged) = self.logged else {
            return by_speed;
        };
        let of_force: Vec<(usize, [f64; 2])> = weights
            .iter()
            .map(|&(row, [.., f])| (row, [f, 0.0]))
            .collect();
        let rate: f64 = of_force
            .iter()
            .map(|(row, [f, _])| f * logged.smoothed.acceleration_m_s2[*row])
            .sum();
        by_speed + logged.smoothed.variance_of(&of_force) + (rate * logged.lag_se_s).powi(2)
    }

    /// What the shape of the curve comes from.
    fn curved_by(&self) -> &Smoothed {
        match self.logged {
            Some(logged) if logged.reads == Reads::All => &logged.smoothed,
            _ => self.smoothed,
        }
    }

    /// Points of bands that are centred on multiples of `band_rpm`.
    fn banded(&self, rows: std::ops::Range<usize>, band_rpm: f64) -> Banded {
        let (smoothed, engine) = (self.smoothed, self.engine);
        let mut order: Vec<usize> = rows.collect();
        order.sort_by(|&a, &b| engine.rpm[a].total_cmp(&engine.rpm[b]));
        let mut bands: Vec<(f64, Vec<usize>)> = Vec::new();
        for row in order {
            let band = (engine.rpm[row] / band_rpm).round();
            match bands.last_mut() {
                Some((last, rows)) if *last == band => rows.push(row),
                _ => bands.push((band, vec![row])),
            }
        }
        let mean = |values: &[f64], rows: &[usize]| {
            rows.iter().map(|&row| values[row]).sum::<f64>() / rows.len() as f64
        };
        let mut out = Banded::default();
        for mut rows in forward(bands, |rows| mean(&smoothed.time_s, rows)) {
            rows.sort_unstable();
            let (force_n, of_force) = self.mean(&rows, Of::Force);
            let (power_w, of_power) = self.mean(&rows, Of::Power);
            let (torque_nm, of_torque) = self.mean(&rows, Of::Torque);
            let rpm = mean(&engine.rpm, &rows);
            let from_speed = torque_nm * mean(&engine.se_rpm, &rows) / rpm;
            let power_se_w = self.se(&of_power);
            if let (Some(before), Some(last)) = (out.powers.last(), out.points.last_mut()) {
                let both = combined([(1.0, before), (1.0, &of_power)].into_iter());
                let (a, b) = (last.power_se_w, power_se_w);
                let shared = (self.variance_of(&both) - a * a - b * b) / (2.0 * a * b);
                if shared.is_finite() {
                    last.shared_with_next = shared.clamp(-1.0, 1.0);
                }
            }
            out.points.push(Point {
                rpm,
                speed_m_s: mean(&smoothed.speed_m_s, &rows),
                time_s: mean(&smoothed.time_s, &rows),
                force_n,
                force_se_n: self.se(&of_force),
                power_w,
                power_se_w,
                torque_nm,
                torque_se_nm: self.se(&of_torque).hypot(from_speed),
                shared_with_next: 0.0,
                span_rpm: span_rpm(self.curved_by(), engine, &rows),
                rows: rows.len(),
            });
            out.powers.push(of_power);
            out.torques.push(of_torque);
        }
        out
    }
}

/// Least time between points, s: what a written curve can tell apart, and some room.
const LEAST_STEP_S: f64 = 5e-4;

/// Bands whose mean time runs forward: where noise of engine speed puts a band before the one below it, the two are one.
fn forward(bands: Vec<(f64, Vec<usize>)>, time_s: impl Fn(&[usize]) -> f64) -> Vec<Vec<usize>> {
    let mut out: Vec<Vec<usize>> = Vec::new();
    for (_, mut rows) in bands {
        while out
            .last()
            .is_some_and(|before| time_s(&rows) < time_s(before) + LEAST_STEP_S)
        {
            rows.extend(out.pop().into_iter().flatten());
        }
        out.push(rows);
    }
    out
}

/// Points with the weighted rows behind their power and torque.
#[derive(Default)]
struct Banded {
    points: Vec<Point>,
    powers: Vec<Weights>,
    torques: Vec<Weights>,
}

/// Adds weighted lists of rows.
fn combined<'a>(parts: impl Iterator<Item = (f64, &'a Weights)>) -> Weights {
    let mut all: Weights = parts
        .flat_map(|(factor, list)| {
            list.iter()
                .map(move |(row, w)| (*row, w.map(|w| factor * w)))
        })
        .collect();
    all.sort_by_key(|(row, _)| *row);
    let mut out: Weights = Vec::with_capacity(all.len());
    for (row, w) in all {
        match out.last_mut() {
            Some((last, sum)) if *last == row => {
                for (sum, w) in sum.iter_mut().zip(w) {
                    *sum += w;
                }
            }
            _ => out.push((row, w)),
        }
    }
    out
}

/// Averages a smoothed stretch in bands of engine speed that are centred on multiples of `band_rpm`; `None` if too few hold rows.
pub fn curve(
    smoothed: &Smoothed,
    engine: &EngineSpeed,
    rig: &Rig,
    logged: Option<&Logged>,
    band_rpm: f64,
) -> Option<WheelCurve> {
    let maker = Maker {
        smoothed,
        engine,
        rig,
        logged,
    };
    let n = smoothed.time_s.len();
    let start = Recording {
        time_s: smoothed.time_s.clone(),
        engine_rpm: engine.rpm.clone(),
        power_w: (0..n).map(|row| maker.at(row, Of::Power).0).collect(),
        ..Recording::default()
    }
    .settled_row();
    let shown = maker.banded(start..n, band_rpm);
    if shown.points.len() < LEAST_POINTS {
        return None;
    }
    // Where the top lies must not depend on the bands that are shown.
    let fine = maker.banded(start..n, TOP_BAND_RPM);
    Some(WheelCurve {
        peak_power: peak(&fine.points, &fine.powers, &maker, |p| p.power_w),
        peak_torque: peak(&fine.points, &fine.torques, &maker, |p| p.torque_nm),
        dropped_start: start,
        rows: (start, n - 1),
        points: shown.points,
    })
}

/// Smoothing span in engine speed about the rows of a band.
fn span_rpm(smoothed: &Smoothed, engine: &EngineSpeed, rows: &[usize]) -> f64 {
    let n = engine.rpm.len();
    let near = (n / 40).max(2);
    let middle = rows[rows.len() / 2];
    let (a, b) = (middle.saturating_sub(near), (middle + near).min(n - 1));
    let rate = (engine.rpm[b] - engine.rpm[a]).abs() / (smoothed.time_s[b] - smoothed.time_s[a]);
    // No longer than what was smoothed.
    let (low, high) = engine
        .rpm
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(low, high), &rpm| {
            (low.min(rpm), high.max(rpm))
        });
    (smoothed.span_s[middle] * rate).min(high - low)
}

/// Vertex of the parabola through the points about the highest; the highest end where the curve has no top.
/// Equation (6.26).
fn peak(points: &[Point], weights: &[Weights], maker: &Maker<'_>, of: fn(&Point) -> f64) -> Peak {
    // The ends are less certain, and must not be the highest by chance.
    let safe: Vec<f64> = points
        .iter()
        .zip(weights)
        .map(|(p, weights)| of(p) - maker.se(weights))
        .collect();
    let highest = (0..points.len())
        .max_by(|&a, &b| safe[a].total_cmp(&safe[b]))
        .unwrap_or(0);
    let mut centre = points[highest].rpm;
    let at_point = |i: usize| Peak {
        rpm: points[i].rpm,
        rpm_se: None,
        value: of(&points[i]),
        se: maker.se(&weights[i]),
    };
    // The parabola may lean to one side of the highest point; a few turns centre it.
    let mut found = None;
    for _ in 0..6 {
        let near: Vec<usize> = (0..points.len())
            .filter(|&i| (points[i].rpm - centre).abs() <= TOP_RPM)
            .collect();
        if near.len() < TOP_POINTS {
            break;
        }
        let at: Vec<f64> = near.iter().map(|&i| points[i].rpm - centre).collect();
        let rows: Vec<Vec<f64>> = (0..3)
            .filter_map(|d| super::savitzky_golay::weights(&at, 2, d))
            .collect();
        let [level, slope, bend] = &rows[..] else {
            break;
        };
        let apply =
            |w: &[f64]| -> f64 { w.iter().zip(&near).map(|(w, &i)| w * of(&points[i])).sum() };
        let (l, s, b) = (apply(level), apply(slope), apply(bend));
        if b >= 0.0 {
            break;
        }
        let shift = -s / b;
        let (low, high) = (at[0], at[at.len() - 1]);
        if shift < low || shift > high {
            found = None;
            let next = centre + shift.clamp(low, high);
            if (next - centre).abs() < 1.0 {
                break;
            }
            centre = next;
            continue;
        }
        let functional = |w: [f64; 3]| {
            let parts = near.iter().enumerate().map(|(k, &i)| {
                (
                    w[0] * level[k] + w[1] * slope[k] + w[2] * bend[k],
                    &weights[i],
                )
            });
            maker.se(&combined(parts))
        };
        found = Some(Peak {
            rpm: centre + shift,
            rpm_se: Some(functional([0.0, -1.0 / b, s / (b * b)])),
            value: l + s * shift + 0.5 * b * shift * shift,
            se: functional([1.0, shift, 0.5 * shift * shift]),
        });
        if shift.abs() < 1.0 {
            break;
        }
        centre += shift;
    }
    found.unwrap_or_else(|| at_point(highest))
}

/// How two curves of one car agree where both have points.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Agreement {
    /// Mean of second over first power, less one.
    pub mean: f64,
    /// Standard deviation of that over the points.
    pub scatter: f64,
    /// What the standard errors lead one to expect of it.
    pub expected: f64,
    /// Points compared.
    pub points: usize,
}

/// Compares two curves point by point; `None` with fewer than four points in common.
pub fn agreement(first: &WheelCurve, second: &WheelCurve) -> Option<Agreement> {
    let mut ratios = Vec::new();
    let mut expected = 0.0;
    for p in &first.points {
        let after = second.points.partition_point(|q| q.rpm < p.rpm);
        let Some(before) = after.checked_sub(1) else {
            continue;
        };
        let (Some(a), Some(b)) = (second.points.get(before), second.points.get(after)) else {
            continue;
        };
        let share = (p.rpm - a.rpm) / (b.rpm - a.rpm);
        let power = a.power_w + share * (b.power_w - a.power_w);
        let se = a.power_se_w.max(b.power_se_w);
        ratios.push(power / p.power_w - 1.0);
        expected += (se / power).powi(2) + (p.power_se_w / p.power_w).powi(2);
    }
    let n = ratios.len() as f64;
    if ratios.len() < 4 {
        return None;
    }
    let mean = ratios.iter().sum::<f64>() / n;
    let scatter = (ratios.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    Some(Agreement {
        mean,
        scatter,
        expected: (expected / n).sqrt(),
        points: ratios.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_that_noise_puts_out_of_order_are_one() {
        let time_s = [0.0, 0.2, 0.1, 0.3, 0.4];
        let mean =
            |rows: &[usize]| rows.iter().map(|&row| time_s[row]).sum::<f64>() / rows.len() as f64;
        let bands = (0..5_u8).map(|row| (f64::from(row), vec![usize::from(row)]));
        let merged = forward(bands.collect(), mean);
        assert_eq!(merged, [vec![0], vec![2, 1], vec![3], vec![4]]);
        assert!(
            merged
                .windows(2)
                .all(|pair| mean(&pair[1]) > mean(&pair[0]))
        );
    }
}
