//! Local polynomials over a span of engine speed: the simple alternative to the state-space smoother, with the same result.
//!
//! Its window is stated in engine speed and no wider than [`WIDEST_RPM`], because what flattens a torque curve is the
//! span in rpm, not the number of samples. It refuses logs whose samples are too far apart for that.

use super::savitzky_golay::{weights, window};
use super::signal::{Measured, Method, Signal};
use super::smoothed::{Bound, LEAST_ROWS, SmoothError, Smoothed, trapezoid};

/// Widest window, rpm. A quadratic over a span T lowers a hump by T²/40 of its curvature; physics of the trade asks for no
/// more than this. Common practice, no source.
pub const WIDEST_RPM: f64 = 150.0;

/// Rows of local polynomials: which samples they took, and with which weights.
#[derive(Debug)]
struct Windows {
    rows: Vec<(usize, [Vec<f64>; 2])>,
    variance: Vec<f64>,
}

impl Bound for Windows {
    fn variance_of(&self, weights: &[(usize, [f64; 2])]) -> f64 {
        let mut on_sample = vec![0.0; self.variance.len()];
        for (row, [of_speed, of_acceleration]) in weights {
            let (first, [speed, acceleration]) = &self.rows[*row];
            for (i, (a, b)) in speed.iter().zip(acceleration).enumerate() {
                on_sample[first + i] += of_speed * a + of_acceleration * b;
            }
        }
        on_sample
            .iter()
            .zip(&self.variance)
            .map(|(w, v)| w * w * v)
            .sum()
    }
}

/// Fits a polynomial to the speed (or, of a way, one of a degree more) around every row, over `span_rpm` of engine speed.
///
/// `rpm` is the engine speed at every row. The standard error holds the noise alone, estimated from what the polynomials
/// leave over; a bend that the window flattens is not in it.
/// Equation (6.22).
pub fn local_polynomial(
    signal: &Signal,
    rpm: &[f64],
    span_rpm: f64,
    degree: usize,
) -> Result<Smoothed, SmoothError> {
    let rows = signal.len();
    let lead = usize::from(signal.measured == Measured::Way);
    let degree_read = degree + lead;
    let needed = degree_read + 3;
    if rows < LEAST_ROWS {
        return Err(SmoothError::TooShort {
            rows,
            needed: LEAST_ROWS,
        });
    }
    let climb = (rpm[rows - 1] - rpm[0]).abs() / signal.duration_s();
    let half_s = |row: usize| {
        // Engine speed gathers unevenly: the local rate over a tenth of the stretch.
        let near = rows / 20 + 2;
        let (a, b) = (row.saturating_sub(near), (row + near).min(rows - 1));
        let rate = ((rpm[b] - rpm[a]) / (signal.time_s[b] - signal.time_s[a])).abs();
        0.5 * span_rpm / rate.max(0.2 * climb)
    };
    let mut made = Vec::with_capacity(rows);
    let mut span_s = Vec::with_capacity(rows);
    let (mut speed_m_s, mut acceleration_m_s2) = (Vec::new(), Vec::new());
    let mut left = (0.0, 0.0);
    let mut value_weights = Vec::with_capacity(rows);
    for row in 0..rows {
        let half = half_s(row);
        // Past an end the window moves inward and keeps its length.
        let centre = signal.time_s[row].clamp(
            signal.time_s[0] + half,
            (signal.time_s[rows - 1] - half).max(signal.time_s[0] + half),
        );
        let middle = signal.time_s.partition_point(|&t| t < centre).min(rows - 1);
        let range = window(&signal.time_s, middle, half, 1);
        if range.len() < needed {
            return Err(SmoothError::TooCoarse {
                step_rpm: climb * signal.step_s(),
                span_rpm,
                needed,
                degree,
            });
        }
        let at: Vec<f64> = signal.time_s[range.clone()]
            .iter()
            .map(|t| t - signal.time_s[row])
            .collect();
        let of = |derivative| weights(&at, degree_read, derivative);
        let (Some(value), Some(speed), Some(rate)) = (of(0), of(lead), of(lead + 1)) else {
            return Err(SmoothError::Lifeless);
        };
        let sum = |w: &[f64]| -> f64 {
            w.iter()
                .zip(&signal.values[range.clone()])
                .map(|(w, v)| w * v)
                .sum()
        };
        let own = value
            .get(row - range.start.min(row))
            .copied()
            .unwrap_or(0.0);
        left.0 += (signal.values[row] - sum(&value)).powi(2) / signal.weight[row];
        left.1 += 1.0 - own;
        speed_m_s.push(sum(&speed));
        acceleration_m_s2.push(sum(&rate));
        value_weights.push(sum(&value));
        span_s.push(at[at.len() - 1] - at[0]);
        made.push((range.start, [speed, rate]));
    }
    // Mean of (1 − h) of the squared residuals is what noise leaves of itself after a linear fit.
    let variance = left.0 / left.1.max(1.0);
    let bound = Windows {
        rows: made,
        variance: signal.weight.iter().map(|w| w * variance).collect(),
    };
    let acceleration_se = (0..rows)
        .map(|row| bound.variance_of(&[(row, [0.0, 1.0])]).sqrt())
        .collect();
    let way_m = match signal.measured {
        Measured::Way => value_weights.iter().map(|s| s - value_weights[0]).collect(),
        Measured::Speed => trapezoid(&signal.time_s, &speed_m_s),
    };
    Ok(Smoothed {
        time_s: signal.time_s.clone(),
        speed_m_s,
        acceleration_m_s2,
        way_m,
        acceleration_se,
        span_s,
        method: Method::LocalPolynomial { degree, span_rpm },
        noise: variance.sqrt(),
        inflation: 1.0,
        outliers: Vec::new(),
        effects: (Vec::new(), Vec::new()),
        bound: Box::new(bound),
    })
}
