//! A number as a shop writes it: value, unit and doubt in one text.
//!
//! | written | means |
//! |---|---|
//! | `92.7 mm` | exactly that |
//! | `2.5 ± 1.0 kPa` (also `+-`, `+/-`) | mean and one standard deviation, unit on both |
//! | `25 °C ± 2 K` | the doubt in a unit of its own; of a pressure or temperature it is a difference |
//! | `300 kW ± 2 %` | the doubt relative to the value |
//! | `0.62 .. 0.76` | the middle 90 %: mean half way, standard deviation half width / 1.645 |
//! | `12 kW/K */ 1.3` | one standard deviation is a factor 1.3 either way |
//! | `(45 ± 5) %` | brackets when the unit would otherwise be read as relative doubt |
//! | `10.5:1`, `2.16`, `2.16 ± 0.02` | plain ratios need no unit |
//!
//! The doubt is what a fit takes as its prior and a spread samples. This module refuses decimal commas, numbers without
//! their unit, and "45 ± 5 %" for a plain number, which could mean points or relative.

mod parse;
#[cfg(test)]
mod tests;
mod text;

use std::ops::Range;

pub use parse::{parse, parse_any};

use super::diagnostic::Code;
use crate::belief::prior::HALF_WIDTH_90;
use crate::units::{Dimension, Unit};

/// How far the written value may be off, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doubt {
    /// None was written.
    Exact,
    /// One standard deviation, SI.
    PlusMinus {
        /// In the SI unit of the value.
        sd_si: f64,
    },
    /// The middle 90 %, SI.
    Range {
        /// 5 % lie below.
        lower_si: f64,
        /// 5 % lie above.
        upper_si: f64,
    },
    /// One standard deviation is a factor, up or down.
    Factor {
        /// Greater than one.
        factor: f64,
    },
}

/// A value in SI with its doubt, and the unit it was written in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// The centre, SI.
    pub value_si: f64,
    /// How far it may be off.
    pub doubt: Doubt,
    /// The unit it was written in, for showing it again.
    pub unit: &'static Unit,
}

impl Quantity {
    /// A value without doubt.
    pub fn exact(value_si: f64, unit: &'static Unit) -> Self {
        Self {
            value_si,
            doubt: Doubt::Exact,
            unit,
        }
    }

    /// A value with a standard deviation.
    pub fn plus_minus(value_si: f64, sd_si: f64, unit: &'static Unit) -> Self {
        Self {
            value_si,
            doubt: Doubt::PlusMinus { sd_si },
            unit,
        }
    }

    /// A value known by its middle 90 %.
    pub fn range(lower_si: f64, upper_si: f64, unit: &'static Unit) -> Self {
        Self {
            value_si: f64::midpoint(lower_si, upper_si),
            doubt: Doubt::Range { lower_si, upper_si },
            unit,
        }
    }

    /// What it measures.
    pub fn dimension(&self) -> Dimension {
        self.unit.dimension
    }

    /// One standard deviation, SI.
    ///
    /// ```text
    /// range a .. b:  (b − a) / (2 · 1.645)        factor f:  value · ln f
    /// ```
    ///
    /// Holds for: the factor form to first order; at f = 1.3 the log-normal it stands for has a 5 % larger deviation.
    /// Source: definition of the 90 % interval of a normal distribution. Worked: 0.62 .. 0.76 gives 0.04255.
    pub fn sd_si(&self) -> f64 {
        match self.doubt {
            Doubt::Exact => 0.0,
            Doubt::PlusMinus { sd_si } => sd_si,
            Doubt::Range { lower_si, upper_si } => (upper_si - lower_si) / (2.0 * HALF_WIDTH_90),
            Doubt::Factor { factor } => self.value_si.abs() * factor.ln(),
        }
    }
}

/// Why a text is not a quantity; the range points into the text.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Stable name of the kind.
    pub code: Code,
    /// What is wrong, in a sentence.
    pub message: String,
    /// What would be taken.
    pub expected: String,
    /// Where in the text.
    pub within: Range<usize>,
}
