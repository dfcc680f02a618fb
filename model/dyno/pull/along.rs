//! A pull in which nothing but clock and sensor changes: readings first, time afterwards.
//!
//! A car without charge cooler, electric axle or turbocharger is the same at every moment of a pull; only engine speed moves its
//! operating point. So the points are computed where readings are wanted and nowhere else, and the time between them is an integral over
//! engine speed. It refuses any car with a memory.

use super::state::{SCALE, SENSOR_K, State, TIME_S, value};
use super::{LEAST_ACCELERATION_M_S2, Moment, Motion, SENSOR_S};

/// Fewest pieces of a pull that time is integrated over; readings further apart get points between them.
const FEWEST_PIECES: usize = 24;

/// Readings at the ends of equal pieces of the pull, up to the first at which the car has stalled; the first is known.
///
/// ```text
/// t(ω) = ∫ dω/(dω/dt),      τ dT_s/dt = T − T_s
/// ```
///
/// Time by the cubic through four readings, the sensor exactly for a charge temperature that is straight in time between two.
/// Equation (6.5).
pub(super) fn readings(
    motion: &Motion<'_>,
    (from, to): (f64, f64),
    (start, first): (State, Moment),
    pieces: usize,
) -> Vec<(f64, State, Moment)> {
    let between_readings = FEWEST_PIECES.div_ceil(pieces);
    let pieces = pieces * between_readings;
    let step = (to - from) / pieces as f64;
    let speed_at = |piece: usize| {
        if piece == pieces {
            to
        } else {
            from + step * piece as f64
        }
    };
    let mut moments = Vec::with_capacity(pieces + 1);
    moments.push(first);
    for piece in 1..=pieces {
        let moment = motion.moment(speed_at(piece), &start);
        let stalled = moment.forces.acceleration_m_s2 < LEAST_ACCELERATION_M_S2;
        moments.push(moment);
        if stalled {
            break;
        }
    }
    let pace: Vec<f64> = moments.iter().map(|m| 1.0 / motion.climb(m)).collect();
    // Whether the car stalled between two readings.
    motion.stalled.set((moments.len() - 1) % between_readings != 0);
    let mut y = start;
    let mut charge_k = moments[0].engine.charge_k;
    moments
        .into_iter()
        .enumerate()
        .map(|(piece, moment)| {
            if piece > 0 {
                let seconds = step * between(&pace, piece - 1);
                let now_k = moment.engine.charge_k;
                let sensor_k = lagged(value(&y, SENSOR_K), (charge_k, now_k), seconds);
                y[TIME_S] += seconds / SCALE[TIME_S];
                y[SENSOR_K] = sensor_k / SCALE[SENSOR_K];
                charge_k = now_k;
            }
            (speed_at(piece), y, moment)
        })
        .step_by(between_readings)
        .collect()
}

/// Integral from one of equally spaced values to the next, in steps: the cubic through the four values around it, at the ends the
/// parabola through three.
fn between(values: &[f64], from: usize) -> f64 {
    let v = |k: usize| values[k];
    match (from, values.len()) {
        (_, 0..=2) => 0.5 * (v(from) + v(from + 1)),
        (0, _) => (5.0 * v(0) + 8.0 * v(1) - v(2)) / 12.0,
        (k, n) if k + 2 == n => (5.0 * v(k + 1) + 8.0 * v(k) - v(k - 1)) / 12.0,
        (k, _) => (13.0 * (v(k) + v(k + 1)) - v(k - 1) - v(k + 2)) / 24.0,
    }
}

/// A sensor of time constant [`SENSOR_S`] behind a temperature that goes straight from one value to another, K.
fn lagged(sensor_k: f64, (from_k, to_k): (f64, f64), seconds: f64) -> f64 {
    let z = seconds / SENSOR_S;
    if z < 1e-9 {
        return sensor_k;
    }
    let ramp_k = (to_k - from_k) / z;
    to_k - ramp_k + (sensor_k - from_k + ramp_k) * (-z).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_for_a_parabola() {
        let values: Vec<f64> = (0..6).map(|k| f64::from(k * k)).collect();
        for k in 0..5_usize {
            let x = k as f64;
            let exact = ((x + 1.0).powi(3) - x.powi(3)) / 3.0;
            assert!((between(&values, k) - exact).abs() < 1e-12, "{k}");
        }
    }

    #[test]
    fn a_sensor_arrives_and_does_not_overshoot() {
        assert!((lagged(300.0, (350.0, 350.0), 1e3) - 350.0).abs() < 1e-9);
        let sensor = lagged(300.0, (350.0, 350.0), SENSOR_S);
        // One time constant leaves 1/e of the step.
        assert!((sensor - (350.0 - 50.0 / std::f64::consts::E)).abs() < 1e-9);
    }
}
