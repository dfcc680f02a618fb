//! Engine speed at the rows of a pull: from a column beside the drum's, from an engine log with a clock of its own, or from gearing.
//!
//! It exists because each comes with an error of its own, or with none. It refuses to find a lag: that is [`super::align`]'s.

use super::signal::{Measured, Signal};
use super::smoothed::{SmoothError, Smoothed};
use super::smoother::state_space;

/// Engine speed at every row of a stretch.
#[derive(Debug, Clone, PartialEq)]
pub struct EngineSpeed {
    /// rpm.
    pub rpm: Vec<f64>,
    /// Its standard error, rpm; 0 where it follows from gearing.
    pub se_rpm: Vec<f64>,
}

/// Fewest rows of an engine log in a pull.
const LEAST_ROWS: usize = 4;

impl EngineSpeed {
    /// A column of the drum log itself, smoothed.
    pub(super) fn beside(time_s: &[f64], rpm: &[f64]) -> Result<Self, SmoothError> {
        let found = smooth(time_s, rpm)?;
        Ok(Self {
            se_rpm: (0..time_s.len()).map(|row| se(&found, row)).collect(),
            rpm: found.speed_m_s,
        })
    }

    /// The rows of an engine log, its times and speeds, that belong to a stretch, smoothed: at each time between them the smoothed speed
    /// is straight, with the smoothed slope. None where the log does not cover the stretch.
    pub(super) fn from_log(
        (log_s, log_rpm): (&[f64], &[f64]),
        time_s: &[f64],
        (from_s, to_s): (f64, f64),
        lag_s: f64,
    ) -> Result<Option<Self>, SmoothError> {
        let (from, to) = (from_s - lag_s, to_s - lag_s);
        let low = log_s.partition_point(|&t| t < from);
        let high = log_s.partition_point(|&t| t <= to);
        let covered = low > 0 && high < log_s.len();
        if !covered || high - low < LEAST_ROWS {
            return Ok(None);
        }
        let found = smooth(&log_s[low..high], &log_rpm[low..high])?;
        let rpm = |t: f64| {
            let row = nearest(&found.time_s, t - lag_s);
            found.speed_m_s[row] + found.acceleration_m_s2[row] * (t - lag_s - found.time_s[row])
        };
        let se_rpm = |t: f64| se(&found, nearest(&found.time_s, t - lag_s));
        Ok(Some(Self {
            rpm: time_s.iter().map(|&t| rpm(t)).collect(),
            se_rpm: time_s.iter().map(|&t| se_rpm(t)).collect(),
        }))
    }

    /// From the drum's speed, m/s, by a ratio, rpm per m/s, without slip.
    pub(super) fn geared(ratio_rpm_s_m: f64, speed_m_s: &[f64]) -> Self {
        Self {
            rpm: speed_m_s.iter().map(|v| ratio_rpm_s_m * v).collect(),
            se_rpm: vec![0.0; speed_m_s.len()],
        }
    }
}

fn smooth(time_s: &[f64], rpm: &[f64]) -> Result<Smoothed, SmoothError> {
    let signal = Signal::even(Measured::Speed, time_s.to_vec(), rpm.to_vec());
    state_space(&signal, None, &[])
}

/// Standard error of a smoothed value.
fn se(found: &Smoothed, row: usize) -> f64 {
    found.variance_of(&[(row, [1.0, 0.0])]).sqrt()
}

/// The row nearest to a time, the earlier of two.
fn nearest(time_s: &[f64], t: f64) -> usize {
    let after = time_s.partition_point(|&x| x < t);
    let last = time_s.len() - 1;
    let before = after.saturating_sub(1).min(last);
    let after = after.min(last);
    if (t - time_s[before]).abs() <= (time_s[after] - t).abs() {
        before
    } else {
        after
    }
}
