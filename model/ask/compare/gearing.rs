//! Whether pulls turn the drums through one gearing.
//!
//! In another gear the same engine reads otherwise: less of its power goes into its own inertia, the tyres and the drums run at
//! another speed. Engine speed over drum speed shows it, where both were logged. It refuses to guess a gear from a curve's shape.

use super::gate::Stated;
use crate::dyno::Curve;
use crate::numeric::upper_median;
use serde::Serialize;

/// Ratios further apart than this are remarked on: more than tyres slip and grow by from pull to pull, some 1 %. No source, assumed.
pub const SHIFTED: f64 = 0.02;
/// Ratios further apart than this are another gear. The same as for the stretches of a drum log.
pub const ANOTHER_GEAR: f64 = crate::drumlog::reduction::SAME_GEAR;

/// Pulls whose engines turn differently on the drum.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Geared {
    /// Pull with the fewest engine turns in a drum turn, and these.
    pub least: Stated,
    /// Pull with the most, and these.
    pub most: Stated,
}

impl Geared {
    /// How far apart, relative.
    pub fn apart(&self) -> f64 {
        self.most.value / self.least.value - 1.0
    }
}

/// Engine turns in a drum turn over a curve, the median of its bands; none where drum speed was not logged.
pub fn ratio(curve: &Curve) -> Option<f64> {
    let ratios = curve
        .bands
        .iter()
        .filter_map(|band| band.engine_per_drum)
        .filter(|ratio| ratio.is_finite() && *ratio > 0.0);
    upper_median(ratios)
}

/// The pulls whose gearing differs most, if by more than [`SHIFTED`]; each as its name and its curve.
pub fn geared<'a>(pulls: impl Iterator<Item = (String, &'a Curve)>) -> Option<Geared> {
    let known: Vec<Stated> = pulls
        .filter_map(|(pull, curve)| {
            let value = ratio(curve)?;
            Some(Stated { pull, value })
        })
        .collect();
    let by = |a: &&Stated, b: &&Stated| a.value.total_cmp(&b.value);
    let found = Geared {
        least: known.iter().min_by(by)?.clone(),
        most: known.iter().max_by(by)?.clone(),
    };
    (found.apart() > SHIFTED).then_some(found)
}
