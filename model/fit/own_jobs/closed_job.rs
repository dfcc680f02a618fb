//! What one closed job tells of the model: how far its reading lay off, and what may have moved it there.
//!
//! It is what the job book keeps of a job to learn from, and what a kept quote holds of the jobs it learned from. It knows no car and no power.

use super::LEARNED_OF;
use serde::{Deserialize, Serialize};

/// A job through whose mechanisms less of the power goes than this tells nothing.
const LEAST_EFFECT: f64 = 1e-3;

/// What one closed job tells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClosedJob {
    /// Logarithm of the peak read over the middle quoted for it without anything learned.
    pub missed: f64,
    /// Standard deviation of that from everything but the mechanisms: drums, car, parts, waves.
    pub own: f64,
    /// Shares of the peak that go through each mechanism, in the order of [`crate::belief::Mechanism::ALL`], as far as they are learned of.
    pub effects: [f64; LEARNED_OF],
    /// The part of `own` that car, parts and waves bring, drums left out; zero of a job closed before it was kept.
    #[serde(default)]
    pub parts: f64,
    /// Kinds of its work, each once.
    #[serde(default)]
    pub kinds: Vec<String>,
}

impl ClosedJob {
    /// Whether anything can be learned from it.
    pub fn tells(&self) -> bool {
        let numbers = [self.missed, self.own, self.parts];
        numbers.iter().chain(&self.effects).all(|x| x.is_finite())
            && self.own > 0.0
            && self.effects.iter().any(|x| x.abs() > LEAST_EFFECT)
    }
}
