//! Another gear oil, or the same at another temperature.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, rows, words};
use super::{BuildError, Form, exactly, usual};
use crate::belief::parameter::Basis::Fact;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::driveline::GearOil;

numbers! {
    /// Another gear oil, or the same at another temperature.
    OilChoice {
        /// The grade, if it changes.
        oil: Option<GearOil> => kept,
        /// Viscosity of the oil filled in over that of its grade.
        viscosity_factor: T => number("viscosity_factor"),
        /// Temperature during the pull, K, if it changes.
        temperature_k: Option<T> => maybe("temperature"),
    }
}

/// Doubt on the viscosity of an oil known by its grade, relative: makers differ by it (from memory).
const VISCOSITY_DOUBT: f64 = 0.08;

rows! {
    OIL = row::other("oil", words!(GearOil::GRADES), Stays, "its grade; ± 8 % on its viscosity, from memory"),
    TEMPERATURE = row::number("temperature", Measure::DEG_C, (-20.0, 150.0), 0.0, Stays, "its temperature during the pull", Fact),
}

impl<T> Part for OilChoice<T> {
    const KIND: &'static Kind =
        &Kind::new("driveline oil", "driveline_oil", "new gear oil", ROWS);
}

impl Written for OilChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let oil = form.word(&OIL, GearOil::GRADES, false);
        let temperature_k = form.number(&TEMPERATURE);
        let read = [
            (&OIL, oil.is_some()),
            (&TEMPERATURE, temperature_k.is_some()),
        ];
        form.some("driveline oil", &read)?;
        let factor = if oil.is_some() {
            usual(1.0, VISCOSITY_DOUBT, 0.7, 1.4)
        } else {
            exactly(1.0)
        };
        Some(Self {
            oil,
            viscosity_factor: factor?,
            temperature_k,
        })
    }
}

impl Work for OilChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let line = &mut car.driveline;
        if let Some(oil) = self.oil {
            line.oil = oil.thicker(self.viscosity_factor);
        }
        line.oil_k = self.temperature_k.unwrap_or(line.oil_k);
        Ok(())
    }
}
