//! The doubts that were chosen on recorded cases, and how far an evidence is believed.
//!
//! Exists so that what was set by judgement stands in one place, apart from what follows from physics, and can be scored and chosen again: the
//! study `validation/diagnosis/study.rs` leaves out one set of cases in turn. It refuses doubts of single causes beyond those named.

/// Doubts and tempers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubts {
    /// Doubt about what a fault of the car makes of a channel, as a share of the change.
    pub model: f64,
    /// The same for the power of a burn held back and of a changed mixture, which hang on how far knock holds the spark back already, and
    /// for the slip of a tyre near its grip.
    pub burn: f64,
    /// Doubt about the engine speed at which a fault sets in, grows or ends, as a share of the speed.
    pub speed: f64,
    /// Variance of the doubt that wanders over a curve, over that common to all of it: the model knows the shape of a change better than
    /// its size.
    pub shape: f64,
    /// How much of its own change doubts a cause that changes more than was seen, as a power: at 0 it is not excused for changing what
    /// stayed, at 1 it excuses itself.
    pub excuse: f64,
    /// Share of what the model makes of another day's air that is doubted.
    pub weather: f64,
    /// Share of a logarithmic evidence that counts: readings are less independent than any covariance says.
    pub temper: f64,
    /// The same with one good pull, from which nobody knows how a car repeats.
    pub temper_of_one: f64,
    /// Factor on the ranges of sizes.
    pub size: f64,
}

impl Doubts {
    /// Those in use. Equations (10.2), (10.3), (10.4), (10.5).
    pub const CHOSEN: Self = Self {
        model: 0.25,
        burn: 0.50,
        speed: 0.04,
        shape: 0.15,
        excuse: 0.5,
        weather: 0.4,
        temper: 0.7,
        temper_of_one: 0.25,
        size: 1.2,
    };

    /// Share of a logarithmic evidence that counts with so many good pulls.
    /// Equation (10.4).
    pub(super) fn temper(&self, good_pulls: usize) -> f64 {
        if good_pulls == 1 {
            self.temper_of_one
        } else {
            self.temper
        }
    }
}

impl Default for Doubts {
    fn default() -> Self {
        Self::CHOSEN
    }
}
