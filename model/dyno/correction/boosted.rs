//! Why a weather factor over-corrects a boosted engine, as a number to print beside it.
//!
//! The standards assume that charge pressure follows the ambient. A fixed-ratio mechanical blower
//! does; a regulator that holds gauge or absolute pressure does not. This gives the pressure part
//! of the correction under each law. It leaves out the smaller effects (more compressor work,
//! warmer charge, back pressure), which put reality slightly above it; the full model's ratio of
//! observed to reference air supersedes it.

use super::Standard;
use crate::air::Day;
use crate::air::atmosphere::GaugePressure;
use serde::Serialize;
use std::fmt;

/// What happens to the charge pressure when the ambient changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "law", content = "gauge_pa", rename_all = "snake_case")]
pub enum BoostLaw {
    /// It follows: unboosted, or a blower of fixed drive ratio with its bypass shut.
    FollowsAmbient,
    /// A regulator holds this pressure above ambient.
    HeldGauge(GaugePressure),
    /// A control holds the absolute charge pressure.
    HeldAbsolute,
}

/// Pressure part of the correction to 99 kPa dry, friction at 0.85 included.
///
/// ```text
/// 1.18 (99 kPa + g)/(p_a + g) − 0.18        g = 0 when boost follows the ambient; 1 when held absolute
/// ```
///
/// Source: derived from SAE J1349's form. Worked: 84 kPa gives 1.211 following, 1.096 held at 100
/// kPa gauge, 1.000 held absolute.
/// Equation (7.7).
pub fn pressure_part(ambient_dry_pa: f64, law: BoostLaw) -> f64 {
    let gauge_pa = match law {
        BoostLaw::FollowsAmbient => 0.0,
        BoostLaw::HeldGauge(gauge) => gauge.pa().max(0.0),
        BoostLaw::HeldAbsolute => return 1.0,
    };
    1.18 * (99_000.0 + gauge_pa) / (ambient_dry_pa + gauge_pa) - 0.18
}

/// What to say beside a standard's factor on a boosted engine.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BoostRemark {
    /// Law assumed for the charge pressure.
    #[serde(flatten)]
    pub law: BoostLaw,
    /// Pressure part as SAE J1349 has it.
    pub standard_part: f64,
    /// Pressure part under the law.
    pub expected_part: f64,
}

impl BoostRemark {
    /// For a day; `None` when boost follows the ambient, or for power left uncorrected: nothing to
    /// remark.
    pub fn new(standard: Standard, day: &Day, law: BoostLaw) -> Option<Self> {
        if standard == Standard::None || law == BoostLaw::FollowsAmbient {
            return None;
        }
        Some(Self {
            law,
            standard_part: pressure_part(day.dry_pa(), BoostLaw::FollowsAmbient),
            expected_part: pressure_part(day.dry_pa(), law),
        })
    }

    /// How far the assumption over-corrects (negative: under-corrects, in air thicker than the
    /// reference), as a ratio less one.
    pub fn over_correction(&self) -> f64 {
        self.standard_part / self.expected_part - 1.0
    }
}

impl fmt::Display for BoostRemark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let law = match self.law {
            BoostLaw::FollowsAmbient => "following the ambient".to_owned(),
            BoostLaw::HeldGauge(gauge) => {
                format!("held at {:.0} kPa above ambient", gauge.pa() / 1e3)
            }
            BoostLaw::HeldAbsolute => "held at a fixed absolute pressure".to_owned(),
        };
        write!(
            f,
            "with charge pressure {law}, ambient pressure is worth a factor of about {:.3}; SAE J1349's form takes {:.3} ({:+.0} %)",
            self.expected_part,
            self.standard_part,
            100.0 * self.over_correction()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::atmosphere::StationPressure;

    #[test]
    fn at_84_kpa_the_standard_over_corrects_by_ten_and_twenty_one_percent() {
        let day =
            Day::from_vapour(StationPressure::from_pa(84_000.0), 298.15, 0.0).expect("dry air");
        let remark = |law| BoostRemark::new(Standard::SaeJ1349, &day, law);
        let gauge = remark(BoostLaw::HeldGauge(GaugePressure::from_pa(100e3))).expect("held");
        assert!((gauge.over_correction() - 0.10).abs() < 0.005);
        let absolute = remark(BoostLaw::HeldAbsolute).expect("held");
        assert!((absolute.over_correction() - 0.21).abs() < 0.005);
        assert!(
            absolute.to_string().ends_with("takes 1.211 (+21 %)"),
            "{absolute}"
        );
        assert_eq!(remark(BoostLaw::FollowsAmbient), None);
    }
}
