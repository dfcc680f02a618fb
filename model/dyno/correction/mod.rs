//! Weather correction: which factor a standard gives on a day, whether the standard holds there,
//! and to what it may be applied.
//!
//! It exists so that a corrected number always carries its standard, the air it came from and the
//! standard's own limits. A factor is never clamped and never reaches electric power: a motor does
//! not breathe. Torque at the same speed takes the same factor; speed is never corrected. To undo a
//! correction, divide by the same factor. The power *adjustment* of ISO 3046 runs the other way and
//! is a type of its own, in [`site`].

pub mod boosted;
mod breach;
pub mod engine;
pub mod site;
mod standard;

pub use breach::Breach;
pub use engine::Subject;
pub use standard::{
    CorrectionError, PressureUsed, Provenance, Standard, UnknownStandard, Validity,
};

use crate::air::Day;

/// A factor with all that belongs to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    /// Multiplies observed engine power and torque.
    pub factor: f64,
    /// The standard it comes from.
    pub standard: Standard,
    /// Where the standard's own limits are exceeded; empty when it holds.
    pub breaches: Vec<Breach>,
    /// The air it was worked out for.
    pub day: Day,
}

/// Power at the wheels, corrected where correcting makes sense.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CorrectedPower {
    /// Engine's share, corrected, W.
    pub engine_w: f64,
    /// Electric share, as observed, W.
    pub electric_w: f64,
    /// Sum of both, W.
    pub total_w: f64,
    /// What the standard would have added to the electric share had it been corrected too, W;
    /// negative in thick air.
    pub electric_not_added_w: f64,
}

impl Correction {
    /// The factor of a standard on a day.
    ///
    /// Worked: SAE J1349 at 95 kPa, 35 °C, 40 % gives 1.1005, outside its temperature and pressure
    /// shares.
    pub fn new(standard: Standard, day: Day, subject: &Subject) -> Result<Self, CorrectionError> {
        let factor = standard.factor(&day, subject)?;
        Ok(Self {
            factor,
            standard,
            breaches: breach::find(standard, &day, subject, factor),
            day,
        })
    }

    /// Whether the day, the engine and the factor are inside what the standard states.
    pub fn holds(&self) -> bool {
        self.breaches.is_empty()
    }

    /// Corrects the engine's share and leaves the electric share alone.
    ///
    /// Worked: factor 1.12, 300 kW and 60 kW give 396.0 kW; correcting all would have invented 7.2
    /// kW.
    /// Equation (7.8).
    pub fn apply(&self, engine_w: f64, electric_w: f64) -> CorrectedPower {
        let engine_w = self.factor * engine_w;
        CorrectedPower {
            engine_w,
            electric_w,
            total_w: engine_w + electric_w,
            electric_not_added_w: (self.factor - 1.0) * electric_w,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::engine::EngineKind;
    use super::*;
    use crate::air::atmosphere::StationPressure;

    fn factor_one_twelve() -> Correction {
        let day = Day::from_vapour(StationPressure::from_pa(99_000.0), 298.15, 0.0)
            .expect("reference air");
        let subject = Subject::of(EngineKind::SPARK_UNBOOSTED);
        let mut correction =
            Correction::new(Standard::SaeJ1349, day, &subject).expect("needs nothing more");
        assert!((correction.factor - 1.0).abs() < 1e-12 && correction.holds());
        correction.factor = 1.12;
        correction
    }

    #[test]
    fn electric_power_is_left_alone_and_the_difference_is_told() {
        let power = factor_one_twelve().apply(300e3, 60e3);
        assert!((power.total_w - 396e3).abs() < 1e-6);
        assert!((power.electric_not_added_w - 7.2e3).abs() < 1e-6);
        assert!((power.total_w + power.electric_not_added_w - 403.2e3).abs() < 1e-6);
    }
}
