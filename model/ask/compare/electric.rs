//! What of a measured reading is electric, from the car's model.
//!
//! Drums read the sum of both axles, and linked ones cannot split it: only battery volts and amperes could. So the share comes from
//! the axle as the car file describes it, started with the charge the pull states. It is small change to the gain (the factors of two
//! days differ by a few per cent, the share's own doubt of a few per cent on top), but without it a motor would be corrected
//! for the air it does not breathe.

use crate::dyno::{Conditions, PullError, Setup};
use crate::fit::observation::MeasuredPull;

/// Engine speeds at which the pull is simulated.
const POINTS: usize = 40;

/// Electric share of a measured pull at each of its bands, W; empty for a car without an electric axle, or with it off.
pub fn share_w(setup: &Setup, pull: &MeasuredPull) -> Result<Vec<f64>, PullError> {
    let bands = &pull.curve.bands;
    let (Some(first), Some(last)) = (bands.first(), bands.last()) else {
        return Ok(Vec::new());
    };
    if setup.car.electric.is_none() || !pull.conditions.axle.on {
        return Ok(Vec::new());
    }
    let conditions = Conditions {
        from_rpm: first.rpm,
        to_rpm: last.rpm,
        ..pull.conditions
    };
    let simulated = setup.pull(&pull.day, &conditions, POINTS)?;
    Ok(bands
        .iter()
        .map(|band| simulated.reading(band.rpm, |point| point.electric_w))
        .collect())
}
