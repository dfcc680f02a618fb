//! What a weather correction leaves open between two days.
//!
//! A factor is a convention with one mechanical efficiency and one exponent for all engines, and it takes charge pressure to
//! follow the ambient. Between two days that hardly differ none of that matters; between a winter and a summer day it is part of
//! the doubt. It refuses to improve on the standard.

use crate::air::Day;
use crate::air::atmosphere::GaugePressure;
use crate::dyno::correction::Standard;
use crate::dyno::correction::boosted::{BoostLaw, BoostRemark};

/// Share of the pressure's and of the temperature's part of the weather that a factor may miss, one standard deviation.
///
/// No source, but measured where it could be: of the independently simulated car of `validation/compare.rs` that met a hot and a cold
/// day and nothing else, a sixth of the weather stayed; of this model's knock-limited coupe on pairs of days
/// (`tests/compare_trials.rs`) a fifth, root mean square: a sixth of the pressure's part and a quarter of the temperature's.
pub const FACTOR_SHARE: f64 = 0.25;
/// What dry pressure and temperature are worth near reference air, as SAE J1349 has it: `1.18 D − 0.18` with `D ∝ √T/p`.
const PRESSURE_WORTH: f64 = 1.18;
const TEMPERATURE_WORTH: f64 = 0.59;

/// Boost above the air outside from which an engine counts as boosted, Pa: more than a manifold sensor and a barometer are wrong by
/// together (1 kPa and 0.25 kPa), less than any blower is fitted for. Common practice, no source.
pub const BOOSTED_PA: f64 = 5_000.0;

/// How a set's charge pressure comes about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChargePressure {
    /// It follows the ambient: unboosted, or a blower turned by the crank.
    Follows,
    /// A regulator holds it, or may hold it, at about this pressure above ambient, where that was logged.
    MayBeHeld {
        /// Highest boost logged.
        boost: Option<GaugePressure>,
    },
}

/// The two sets' days and how their engines are charged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeatherDoubt {
    /// The standard of the factors.
    pub standard: Standard,
    /// A day of the pulls before, and one of those after.
    pub days: (Day, Day),
    /// How the engine was charged before and after.
    pub charge: (ChargePressure, ChargePressure),
    /// Logarithm by which a correction that could not be made would have moved the gain; zero where it was made or not wanted.
    pub left_in: f64,
}

/// How much of the gain would be over-correction if a regulator held the charge pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// With the pressure above ambient held where it was logged; none where it was not.
    pub at_gauge: Option<f64>,
    /// With the absolute pressure held.
    pub at_absolute: f64,
}

impl WeatherDoubt {
    /// Shares of the gain that are over-correction under a held charge pressure, as logarithms; none where it follows the
    /// ambient in both sets.
    ///
    /// ```text
    /// ln(1 + over_after) − ln(1 + over_before),   over = standard's pressure part / expected pressure part − 1
    /// ```
    pub fn held(&self) -> Option<Held> {
        if (self.charge.0 == ChargePressure::Follows && self.charge.1 == ChargePressure::Follows)
            || self.standard == Standard::None
        {
            return None;
        }
        let over =
            |day: &Day,
             charge: ChargePressure,
             law: &dyn Fn(Option<GaugePressure>) -> Option<BoostLaw>| match charge {
                ChargePressure::Follows => Some(0.0),
                ChargePressure::MayBeHeld { boost } => {
                    let remark = BoostRemark::new(self.standard, day, law(boost)?)?;
                    Some(remark.over_correction().ln_1p())
                }
            };
        let between = |law: &dyn Fn(Option<GaugePressure>) -> Option<BoostLaw>| {
            let before = over(&self.days.0, self.charge.0, law)?;
            Some(over(&self.days.1, self.charge.1, law)? - before)
        };
        Some(Held {
            at_gauge: between(&|boost| boost.map(BoostLaw::HeldGauge)),
            at_absolute: between(&|_| Some(BoostLaw::HeldAbsolute))?,
        })
    }

    /// Standard deviation of what the factors leave open between the two days.
    ///
    /// ```text
    /// share √[(1.18 ln(p₂/p₁))² + (0.59 ln(T₂/T₁))²]
    /// ```
    ///
    /// and, where the charge pressure may be held, half of the most that would be over-correction: the truth lies between
    /// following the ambient and being held absolutely. Weather left in counts whole.
    /// Equation (8.12).
    pub(in crate::ask) fn sd(&self) -> f64 {
        let (before, after) = &self.days;
        let form = if self.standard == Standard::None {
            0.0
        } else {
            let pressure = PRESSURE_WORTH * (after.dry_pa() / before.dry_pa()).ln();
            let temperature =
                TEMPERATURE_WORTH * (after.temperature_k() / before.temperature_k()).ln();
            FACTOR_SHARE * pressure.hypot(temperature)
        };
        let held = self.held().map_or(0.0, |held| 0.5 * held.at_absolute);
        form.hypot(held).hypot(self.left_in)
    }
}
