//! Corrected readings of several sets of pulls at the engine speeds that all of them hold.
//!
//! What is asked of pulls as a whole (how a row of them drifts, what another rig reads of the same car) needs one number of each pull,
//! and the number must not depend on where a pull was begun or stopped. It refuses pulls that share too few engine speeds.

use super::CompareError;
use super::contrast::{ContrastError, Entry};
use super::curve::{self, Smooth};
use super::side::{Pulls, Side};
use crate::dyno::Setup;
use crate::dyno::correction::Standard;
use crate::fit::observation::MeasuredPull;

/// Two sets at their shared engine speeds; the second may be empty.
pub(in crate::ask) struct Levels {
    /// Engine speeds, rpm.
    pub(in crate::ask) rpm: Vec<f64>,
    /// Logarithm of corrected power, W: by set, pull and speed.
    pub(in crate::ask) ln_w: [Vec<Vec<f64>>; 2],
}

impl Levels {
    /// Of curves with their corrections.
    pub(in crate::ask) fn of(sets: [&[Entry]; 2]) -> Result<Self, ContrastError> {
        let smooth = sets.map(|set| set.iter().map(Smooth::of).collect::<Vec<_>>());
        let rpm = curve::grid(&smooth)?;
        let at = |pull: &Smooth| {
            let readings = rpm.iter().filter_map(|rpm| pull.at(*rpm));
            readings.map(|reading| reading.ln_corrected).collect()
        };
        let ln_w = smooth
            .each_ref()
            .map(|set| set.iter().map(at).collect::<Vec<Vec<f64>>>());
        Ok(Self { rpm, ln_w })
    }

    /// The mean over all speeds, of each pull of a set.
    pub(in crate::ask) fn of_pulls(&self, set: usize) -> Vec<f64> {
        self.ln_w[set].iter().map(|pull| mean(pull)).collect()
    }
}

/// Mean of some numbers; NaN of none.
pub(in crate::ask) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The pulls of a visit that count, with their corrections.
pub(in crate::ask) struct Counted<'a> {
    /// With the air's correction and the electric share taken apart.
    pub(in crate::ask) entries: Vec<Entry>,
    /// The same as measured.
    pub(in crate::ask) pulls: Vec<&'a MeasuredPull>,
    /// Standard by which they are corrected: none where the electric share is not known.
    pub(in crate::ask) standard: Standard,
    /// Pulls of the visit that do not count: with the electric axle off, beside others with it on.
    pub(in crate::ask) left_out: usize,
}

/// The pulls of a visit that count, corrected where that can be.
pub(in crate::ask) fn counted<'a>(
    of: Pulls<'a>,
    car: Option<&Setup>,
    standard: Standard,
    mechanical_efficiency: Option<f64>,
) -> Result<Counted<'a>, CompareError> {
    let side = Side::new(of, car.cloned());
    if side.of_another_car() {
        return Err(CompareError::NoElectricAxle {
            visit: side.name().to_owned(),
        });
    }
    // The engine's share cannot be corrected where nobody says which it is.
    let standard = if car.is_some() || !(side.electric() && side.helped()) {
        standard
    } else {
        Standard::None
    };
    Ok(Counted {
        entries: side.entries(standard, mechanical_efficiency)?,
        pulls: side.pulls().collect(),
        standard,
        left_out: side.left_out(),
    })
}
