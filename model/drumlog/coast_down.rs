//! Coast-down: drag from a drum that runs down by itself.
//!
//! The speed's whole course is fitted, not its derivative, so that nothing is smoothed and the noise keeps its nature. What the
//! drag contains depends on what still turned with the drum; the mass of that has to be stated. It never sees losses that
//! grow with torque, so it bounds a driveline's loss and does not give it.

use serde::Serialize;
use std::cmp::Ordering;

use nalgebra::{Cholesky, Matrix4, SMatrix, Vector3, Vector4};
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::savitzky_golay::rates;
use super::signal::{Measured, Signal};
use super::smoothed::trapezoid;

/// What ran down together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Nothing stood on the drum.
    DrumAlone,
    /// The car stood on it, gearbox in neutral.
    Neutral,
    /// In gear, clutch disengaged.
    ClutchOut,
    /// In gear, clutch engaged, fuel cut.
    InGear,
}

impl State {
    /// All.
    pub const ALL: [Self; 4] = [
        Self::DrumAlone,
        Self::Neutral,
        Self::ClutchOut,
        Self::InGear,
    ];

    /// What the drag then contains.
    pub fn contains(self) -> &'static str {
        match self {
            Self::DrumAlone => "the drums' own, from bearings and air",
            Self::Neutral => {
                "the drums' own, the tyres' rolling resistance, and drag on the output side of the gearbox"
            }
            Self::ClutchOut => {
                "the drum's parasitic drag, the tyres' rolling resistance, and drag on both sides of the gearbox"
            }
            Self::InGear => {
                "the drum's parasitic drag, the tyres' rolling resistance, the gearbox's drag, and the motored engine's friction and pumping"
            }
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::DrumAlone => "drum alone",
            Self::Neutral => "gearbox in neutral",
            Self::ClutchOut => "in gear, clutch disengaged",
            Self::InGear => "in gear, clutch engaged, fuel cut",
        }
    }
}

/// Drag over speed.
///
/// ```text
/// F = F0 + F1 v + F2 v²,      m dv/dt = −F
/// ```
///
/// Source: the usual road-load polynomial; common practice, no source.
/// Equation (6.28).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drag {
    /// N.
    pub f0_n: f64,
    /// N s/m.
    pub f1_n_s_m: f64,
    /// N s²/m².
    pub f2_n_s2_m2: f64,
}

impl Drag {
    /// Drag, N.
    pub fn at_n(&self, speed_m_s: f64) -> f64 {
        self.f0_n + speed_m_s * (self.f1_n_s_m + speed_m_s * self.f2_n_s2_m2)
    }

    /// Its slope with speed, N s/m.
    pub fn slope_n_s_m(&self, speed_m_s: f64) -> f64 {
        self.f1_n_s_m + 2.0 * self.f2_n_s2_m2 * speed_m_s
    }
}

/// A fitted coast-down.
#[derive(Debug, Clone, PartialEq)]
pub struct CoastDown {
    /// Drag at the surface.
    pub drag: Drag,
    /// Covariance of its three coefficients from the readings' noise, in their SI units.
    pub covariance: [[f64; 3]; 3],
    /// Relative standard deviation of the mass, which scales all three alike.
    pub mass_doubt: f64,
    /// Degrees of freedom of the readings.
    pub freedom: f64,
    /// First and last speed, m/s.
    pub speed_m_s: (f64, f64),
    /// Duration, s.
    pub duration_s: f64,
    /// Readings.
    pub rows: usize,
    /// Root mean square of what the fit leaves over, m/s (or m).
    pub residual: f64,
    /// Factor by which standard errors were raised because neighbouring residuals are alike.
    pub inflation: f64,
}

impl CoastDown {
    /// Standard error of the drag at a speed, N, the mass's doubt included.
    pub fn se_n(&self, speed_m_s: f64) -> f64 {
        let x = Vector3::new(1.0, speed_m_s, speed_m_s * speed_m_s);
        let c = SMatrix::<f64, 3, 3>::from_fn(|i, j| self.covariance[i][j]);
        let noise = x.dot(&(c * x)).max(0.0);
        (noise + (self.mass_doubt * self.drag.at_n(speed_m_s)).powi(2)).sqrt()
    }

    /// Standard errors of the three coefficients, the mass's doubt included.
    pub fn coefficient_se(&self) -> [f64; 3] {
        let values = [self.drag.f0_n, self.drag.f1_n_s_m, self.drag.f2_n_s2_m2];
        std::array::from_fn(|i| {
            (self.covariance[i][i] + (self.mass_doubt * values[i]).powi(2))
                .max(0.0)
                .sqrt()
        })
    }

    /// Whether the polynomial can be told beside the drag itself: its value at standstill, where none was measured, must be known to
    /// better than the drag in the middle of the run-down. Over a narrow range of speed the three coefficients stand in for each
    /// other, and are digits without meaning although their sum is good.
    pub fn tells_coefficients(&self) -> bool {
        let middle = f64::midpoint(self.speed_m_s.0, self.speed_m_s.1);
        self.t95() * self.coefficient_se()[0] < self.drag.at_n(middle)
    }

    /// Refuses a drag whose 95 % interval holds zero, or twice itself, at either end of the run-down.
    fn told(self) -> Result<Self, CoastError> {
        let (from, to) = self.speed_m_s;
        let worst = [from, to]
            .map(|v| (v, self.drag.at_n(v), self.t95() * self.se_n(v)))
            .into_iter()
            .find(|(_, drag_n, half_n)| half_n.partial_cmp(drag_n) != Some(Ordering::Less));
        match worst {
            None => Ok(self),
            Some((at_m_s, drag_n, half_n)) => Err(CoastError::Untold {
                fall_m_s: from - to,
                duration_s: self.duration_s,
                at_m_s,
                drag_n,
                half_n,
            }),
        }
    }

    /// Half width of a 95 % interval in standard errors (Student's t).
    pub fn t95(&self) -> f64 {
        StudentsT::new(0.0, 1.0, self.freedom.max(1.0)).map_or(1.96, |t| t.inverse_cdf(0.975))
    }
}

/// Why a run-down gives no drag.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error, Serialize)]
#[serde(tag = "refusal", rename_all = "snake_case")]
#[non_exhaustive]
pub enum CoastError {
    /// Too few rows.
    #[error("the run-down has {rows} rows; at least {needed} are needed")]
    TooShort {
        /// Rows there.
        rows: usize,
        /// Rows needed.
        needed: usize,
    },
    /// The drum does not slow down.
    #[error(
        "the drum does not slow down: {from_m_s:.2} m/s at the start, {to_m_s:.2} m/s at the end"
    )]
    NotFalling {
        /// Speed at the start, m/s.
        from_m_s: f64,
        /// Speed at the end, m/s.
        to_m_s: f64,
    },
    /// The course cannot be fitted.
    #[error("no drag of the form F0 + F1 v + F2 v² fits this run-down")]
    NoFit,
    /// The run-down is too little for what its readings are worth.
    #[error(
        "this run-down is too short to give a drag: the drum loses {fall_m_s:.2} m/s in {duration_s:.1} s, and the drag at \
         {at_m_s:.2} m/s would be {drag_n:.0} ± {half_n:.0} N (95 %); record a longer one"
    )]
    Untold {
        /// Speed lost, m/s.
        fall_m_s: f64,
        /// Time it took, s.
        duration_s: f64,
        /// A speed at which the drag is not told, m/s.
        at_m_s: f64,
        /// What the fit gives there, N.
        drag_n: f64,
        /// Half width of its 95 % interval, N.
        half_n: f64,
    },
}

/// Fewest rows.
const LEAST_ROWS: usize = 20;
/// Most steps of the fit.
const STEPS: usize = 30;

/// Fits drag to a run-down of a mass (`mass_kg` ± `mass_sd_kg`, everything that turns, at the surface).
///
/// Least squares on the readings' whole course; the course's answer to start and coefficients is integrated with it (derived). The
/// standard error counts neighbouring residuals that are alike. A drag that its own interval does not tell from nothing is refused.
/// Equation (6.28).
pub fn fit(signal: &Signal, mass_kg: f64, mass_sd_kg: f64) -> Result<CoastDown, CoastError> {
    let rows = signal.len();
    if rows < LEAST_ROWS {
        return Err(CoastError::TooShort {
            rows,
            needed: LEAST_ROWS,
        });
    }
    let rough = rough_speed(signal);
    let (from, to) = (rough[0], rough[rows - 1]);
    if to >= from || to <= 0.0 {
        return Err(CoastError::NotFalling {
            from_m_s: from,
            to_m_s: to,
        });
    }
    let mut p = start(signal, &rough, mass_kg).ok_or(CoastError::NoFit)?;
    let way = signal.measured == Measured::Way;
    let mut best = course(signal, &p, mass_kg, way);
    let mut normal = Matrix4::zeros();
    for _ in 0..STEPS {
        let (residual, slopes, offset) = (&best.residual, &best.slopes, best.offset);
        normal = Matrix4::zeros();
        let mut right = Vector4::zeros();
        for ((r, s), w) in residual.iter().zip(slopes).zip(&signal.weight) {
            let s = s - offset;
            normal += s * s.transpose() / *w;
            right += s * (*r / *w);
        }
        let step = Cholesky::new(normal)
            .ok_or(CoastError::NoFit)?
            .solve(&right);
        let mut share = 1.0;
        let gained = loop {
            let trial = p + step * share;
            let made = course(signal, &trial, mass_kg, way);
            if made.squares <= best.squares {
                let gained = best.squares - made.squares;
                (p, best) = (trial, made);
                break gained;
            }
            share *= 0.5;
            if share < 1e-6 {
                break 0.0;
            }
        };
        if gained <= 1e-12 * best.squares {
            break;
        }
    }
    let covariance = Cholesky::new(normal).ok_or(CoastError::NoFit)?.inverse();
    let unknown = 4.0 + f64::from(u8::from(way));
    let freedom = rows as f64 - unknown;
    let variance = best.squares / freedom;
    let standardised: Vec<f64> = best
        .residual
        .iter()
        .zip(&signal.weight)
        .map(|(r, w)| r / w.sqrt())
        .collect();
    let tau = super::smoother::correlation(&standardised);
    let c = covariance * (variance * tau);
    CoastDown {
        drag: Drag {
            f0_n: p[1],
            f1_n_s_m: p[2],
            f2_n_s2_m2: p[3],
        },
        covariance: std::array::from_fn(|i| std::array::from_fn(|j| c[(i + 1, j + 1)])),
        mass_doubt: mass_sd_kg / mass_kg,
        freedom: freedom / tau,
        speed_m_s: (from, to),
        duration_s: signal.duration_s(),
        rows,
        residual: (best.squares / rows as f64).sqrt(),
        inflation: tau.sqrt(),
    }
    .told()
}

/// Speed good enough to start from.
fn rough_speed(signal: &Signal) -> Vec<f64> {
    let half_s = (0.02 * signal.duration_s()).max(3.0 * signal.step_s());
    match signal.measured {
        Measured::Speed => rates(&signal.time_s, &signal.values, half_s, 1, 0),
        Measured::Way => rates(&signal.time_s, &signal.values, half_s, 2, 1),
    }
}

/// The integrated balance is linear in the coefficients.
fn start(signal: &Signal, rough: &[f64], mass_kg: f64) -> Option<Vector4<f64>> {
    let squares: Vec<f64> = rough.iter().map(|v| v * v).collect();
    let (first, second) = (
        trapezoid(&signal.time_s, rough),
        trapezoid(&signal.time_s, &squares),
    );
    let mut normal = Matrix4::<f64>::zeros();
    let mut right = Vector4::<f64>::zeros();
    for row in 0..signal.len() {
        let t = signal.time_s[row] - signal.time_s[0];
        let x = Vector4::new(
            1.0,
            -t / mass_kg,
            -first[row] / mass_kg,
            -second[row] / mass_kg,
        );
        normal += x * x.transpose();
        right += x * rough[row];
    }
    Some(Cholesky::new(normal)?.solve(&right))
}

/// A trial's course against the readings.
struct Course {
    residual: Vec<f64>,
    slopes: Vec<Vector4<f64>>,
    /// Mean slopes, taken off where the way's own zero is unknown.
    offset: Vector4<f64>,
    squares: f64,
}

/// State: speed, its answers to the start and to the three coefficients, and the integrals of all five.
type Answers = SMatrix<f64, 5, 2>;

fn rate(x: &Answers, p: &Vector4<f64>, mass_kg: f64) -> Answers {
    let v = x[(0, 0)];
    let slope = -(p[2] + 2.0 * p[3] * v) / mass_kg;
    let own = [0.0, -1.0 / mass_kg, -v / mass_kg, -v * v / mass_kg];
    Answers::from_fn(|i, j| match (i, j) {
        (i, 1) => x[(i, 0)],
        (0, _) => -(p[1] + v * (p[2] + v * p[3])) / mass_kg,
        (i, _) => slope * x[(i, 0)] + own[i - 1],
    })
}

fn course(signal: &Signal, p: &Vector4<f64>, mass_kg: f64, way: bool) -> Course {
    let mut x = Answers::zeros();
    x[(0, 0)] = p[0];
    x[(1, 0)] = 1.0;
    let column = usize::from(way);
    let mut residual = Vec::with_capacity(signal.len());
    let mut slopes = Vec::with_capacity(signal.len());
    for row in 0..signal.len() {
        if row > 0 {
            // Classical fourth-order steps: a run-down over some hundred steps is exact to many digits.
            let h = signal.time_s[row] - signal.time_s[row - 1];
            let k1 = rate(&x, p, mass_kg);
            let k2 = rate(&(x + k1 * (0.5 * h)), p, mass_kg);
            let k3 = rate(&(x + k2 * (0.5 * h)), p, mass_kg);
            let k4 = rate(&(x + k3 * h), p, mass_kg);
            x += (k1 + k2 * 2.0 + k3 * 2.0 + k4) * (h / 6.0);
        }
        residual.push(signal.values[row] - x[(0, column)]);
        slopes.push(Vector4::from_fn(|i, _| x[(i + 1, column)]));
    }
    let mut offset = Vector4::zeros();
    if way {
        let total: f64 = signal.weight.iter().map(|w| 1.0 / w).sum();
        let zero: f64 = residual
            .iter()
            .zip(&signal.weight)
            .map(|(r, w)| r / w)
            .sum::<f64>()
            / total;
        for r in &mut residual {
            *r -= zero;
        }
        for (s, w) in slopes.iter().zip(&signal.weight) {
            offset += s / (*w * total);
        }
    }
    let squares = residual
        .iter()
        .zip(&signal.weight)
        .map(|(r, w)| r * r / w)
        .sum();
    Course {
        residual,
        slopes,
        offset,
        squares,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DRAG: Drag = Drag {
        f0_n: 150.0,
        f1_n_s_m: 1.5,
        f2_n_s2_m2: 0.02,
    };

    /// A clean run-down, read ten times a second.
    fn run_down(measured: Measured) -> Signal {
        let (mut v, mut s) = (60.0, 0.0);
        let mut signal = Signal::even(measured, Vec::new(), Vec::new());
        for i in 0..2058 {
            signal.time_s.push(0.1 * f64::from(i));
            signal.values.push(match measured {
                Measured::Speed => v,
                Measured::Way => s,
            });
            signal.weight.push(1.0);
            for _ in 0..10 {
                let half = v - 0.005 * DRAG.at_n(v) / 1232.2;
                s += 0.01 * half;
                v -= 0.01 * DRAG.at_n(half) / 1232.2;
            }
        }
        signal
    }

    #[test]
    fn drag_comes_back_from_speed_and_from_way() {
        for measured in [Measured::Speed, Measured::Way] {
            let found = fit(&run_down(measured), 1232.2, 0.0).expect("a run-down");
            for v in [20.0, 40.0, 60.0] {
                // The test's own midpoint steps are good to 1e-7.
                let error = found.drag.at_n(v) / DRAG.at_n(v) - 1.0;
                assert!(error.abs() < 1e-5, "{measured:?} at {v}: {error}");
            }
        }
    }

    #[test]
    fn the_doubt_of_the_mass_scales_the_drag() {
        let found = fit(&run_down(Measured::Speed), 1232.2, 12.322).expect("a run-down");
        let relative = found.se_n(40.0) / found.drag.at_n(40.0);
        assert!((relative - 0.01).abs() < 1e-4, "{relative}");
    }

    #[test]
    fn a_drum_that_does_not_slow_down_is_refused() {
        let time: Vec<f64> = (0..50).map(f64::from).collect();
        let signal = Signal::even(Measured::Speed, time.clone(), time);
        assert!(matches!(
            fit(&signal, 1000.0, 0.0),
            Err(CoastError::NotFalling { .. })
        ));
    }
}
