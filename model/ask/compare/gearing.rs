//! Whether pulls turn the drums through one gearing.
//!
//! In another gear the same engine reads otherwise: less of its power goes into its own inertia, the tyres and the drums run at
//! another speed. Engine speed over drum speed shows it, where both were logged. It refuses to guess a gear from a curve's shape.

use crate::dyno::Curve;
use std::fmt;

/// Ratios further apart than this are remarked on: more than tyres slip and grow by from pull to pull, some 1 %. No source, assumed.
pub const SHIFTED: f64 = 0.02;
/// Ratios further apart than this are another gear. The same as for the stretches of a drum log.
pub const ANOTHER_GEAR: f64 = crate::drumlog::reduction::SAME_GEAR;

/// Pulls whose engines turn differently on the drum.
#[derive(Debug, Clone, PartialEq)]
pub struct Geared {
    /// Pull with the fewest engine turns in a drum turn, and these.
    pub least: (String, f64),
    /// Pull with the most, and these.
    pub most: (String, f64),
}

impl Geared {
    /// How far apart, relative.
    pub fn apart(&self) -> f64 {
        self.most.1 / self.least.1 - 1.0
    }
}

impl fmt::Display for Geared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ((low, least), (high, most)) = (&self.least, &self.most);
        write!(
            f,
            "in a turn of the drums the engine turns {least:.3} times in '{low}' and {most:.3} times in '{high}', {:.1} % more: \
             another gear or tyre, or slip; what gearing does to a reading passes for a gain or a loss",
            100.0 * self.apart()
        )
    }
}

/// Engine turns in a drum turn over a curve, the median of its bands; none where drum speed was not logged.
pub fn ratio(curve: &Curve) -> Option<f64> {
    let mut ratios: Vec<f64> = curve
        .bands
        .iter()
        .filter_map(|band| band.engine_per_drum)
        .filter(|ratio| ratio.is_finite() && *ratio > 0.0)
        .collect();
    ratios.sort_by(f64::total_cmp);
    ratios.get(ratios.len() / 2).copied()
}

/// The pulls whose gearing differs most, if by more than [`SHIFTED`]; each as its name and its curve.
pub fn geared<'a>(pulls: impl Iterator<Item = (String, &'a Curve)>) -> Option<Geared> {
    let known: Vec<(String, f64)> = pulls
        .filter_map(|(name, curve)| Some((name, ratio(curve)?)))
        .collect();
    let by = |a: &&(String, f64), b: &&(String, f64)| a.1.total_cmp(&b.1);
    let found = Geared {
        least: known.iter().min_by(by)?.clone(),
        most: known.iter().max_by(by)?.clone(),
    };
    (found.apart() > SHIFTED).then_some(found)
}
