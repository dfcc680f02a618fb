//! The rotors of a displacement blower without their leaks: families, ideal work, and the heat that comes of it.
//!
//! Exists because the ideal work is a straight line in the pressure ratio, whatever the built-in compression, which is
//! what lets the machine be solved in closed form. It refuses to know sizes and clearances.

use crate::numeric::Real;
use crate::units;

/// Families of rotors a shop can buy, for the efficiency to assume when the maker says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RotorKind {
    /// Two or three straight lobes.
    StraightLobe,
    /// Three twisted lobes.
    TwistedLobe,
    /// Four lobes with a high helix angle.
    HighHelixLobe,
    /// Screw with internal compression.
    Screw,
}

/// One line of the table of rotors; all of it common practice, no source.
struct Row {
    kind: RotorKind,
    word: &'static str,
    /// Peak adiabatic efficiency and its standard deviation.
    efficiency: (f64, f64),
    /// Built-in volume ratio; 1 without internal compression.
    built_in_volume_ratio: f64,
    /// Highest shaft speed where the maker states none, rpm.
    top_rpm: f64,
}

const fn row(
    kind: RotorKind,
    word: &'static str,
    efficiency: (f64, f64),
    built_in_volume_ratio: f64,
    top_rpm: f64,
) -> Row {
    Row {
        kind,
        word,
        efficiency,
        built_in_volume_ratio,
        top_rpm,
    }
}

/// In the order of the variants, which [`RotorKind::row`] relies on and a test holds.
const TABLE: [Row; 4] = [
    row(
        RotorKind::StraightLobe,
        "roots",
        (0.50, 0.05),
        1.0,
        12_000.0,
    ),
    row(
        RotorKind::TwistedLobe,
        "twisted lobe",
        (0.60, 0.04),
        1.0,
        14_000.0,
    ),
    row(
        RotorKind::HighHelixLobe,
        "high helix",
        (0.69, 0.03),
        1.0,
        20_000.0,
    ),
    row(RotorKind::Screw, "screw", (0.73, 0.04), 1.3, 24_000.0),
];

impl RotorKind {
    /// Every family with its word in files.
    pub const WORDS: [(&'static str, Self); TABLE.len()] = {
        let mut words = [("", Self::StraightLobe); TABLE.len()];
        let mut i = 0;
        while i < words.len() {
            words[i] = (TABLE[i].word, TABLE[i].kind);
            i += 1;
        }
        words
    };

    const fn row(self) -> &'static Row {
        &TABLE[self as usize]
    }

    /// Stable word for files.
    pub const fn word(self) -> &'static str {
        self.row().word
    }

    /// Peak adiabatic efficiency and its standard deviation.
    pub const fn peak_adiabatic_efficiency(self) -> (f64, f64) {
        self.row().efficiency
    }

    /// Built-in volume ratio to assume; 1 without internal compression.
    pub const fn built_in_volume_ratio(self) -> f64 {
        self.row().built_in_volume_ratio
    }

    /// Highest shaft speed where the maker states none, rad/s.
    pub const fn top_speed_rad_s(self) -> f64 {
        units::rad_s(self.row().top_rpm)
    }
}

/// Ideal work of the rotors per swept volume, over inlet pressure.
///
/// ```text
/// w = [γ/(γ−1)] (v^(γ−1) − 1) + (π − v^γ)/v
/// ```
///
/// The built-in ratio v compresses isentropically, the rest is done at constant volume by outlet gas flowing back. v = 1
/// gives `w = π − 1`. Source: indicator diagram of the ideal machine (derived).
/// Equation (5.2).
pub fn ideal_work_ratio(pressure_ratio: f64, built_in_volume_ratio: f64, gamma: f64) -> f64 {
    let line = WorkLine::new(built_in_volume_ratio, gamma);
    line.at_zero + line.slope * pressure_ratio
}

/// The ideal work is a straight line in the pressure ratio.
#[derive(Debug, Clone, Copy)]
pub(crate) struct WorkLine {
    at_zero: f64,
    slope: f64,
}

impl WorkLine {
    pub(crate) fn new(v: f64, gamma: f64) -> Self {
        if v <= 1.0 {
            return Self {
                at_zero: -1.0,
                slope: 1.0,
            };
        }
        let a = v.powf(gamma - 1.0);
        Self {
            at_zero: gamma / (gamma - 1.0) * (a - 1.0) - a,
            slope: 1.0 / v,
        }
    }

    /// Work at a pressure ratio; a machine whose outlet lies below its inlet is taken to give no work back.
    #[inline(always)]
    pub(crate) fn at<R: Real>(self, pressure_ratio: R) -> R {
        (pressure_ratio.at_least(1.0) * self.slope + self.at_zero).at_least(0.0)
    }
}

/// Relative temperature rise as a straight line in the pressure ratio.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Heating<R = f64> {
    pub(crate) work: WorkLine,
    /// Temperature rise over inlet temperature per unit of ideal work.
    pub(crate) per_work: R,
    /// The same of what the ports take, per unit of 1 + pressure ratio.
    pub(crate) ports: R,
}

impl<R: Real> Heating<R> {
    #[inline(always)]
    pub(crate) fn at(self, pressure_ratio: R) -> R {
        self.per_work * self.work.at(pressure_ratio)
            + self.ports * (pressure_ratio.at_least(1.0) + 1.0)
    }

    /// Rise at a pressure ratio of zero, extrapolated, and per unit of pressure ratio; holds at and above 1.
    #[inline(always)]
    pub(crate) fn line(self) -> (R, R) {
        (
            self.per_work * self.work.at_zero + self.ports,
            self.per_work * self.work.slope + self.ports,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_stands_at_its_kind() {
        for (at, (word, kind)) in RotorKind::WORDS.into_iter().enumerate() {
            assert_eq!((kind as usize, kind.word()), (at, word));
        }
    }

    #[test]
    fn a_built_in_ratio_of_one_is_the_roots_machine() {
        assert_eq!(ideal_work_ratio(1.5, 1.0, 1.4), 0.5);
        let near = ideal_work_ratio(1.5, 1.0 + 1e-9, 1.4);
        assert!((near - 0.5).abs() < 1e-8);
    }
}
