//! Pulls before and after the work: what changed, and whether these pulls can tell it.
//!
//! Every gain stands three times: as the drums showed it, what the weather did to it, and what remains with its range ([`contrast`]). Beside
//! it stands what to mind, and what would have been refused: runs that started with another charge, with the electric axle off against
//! on, or in another gear are each sound, only the comparing is not. It refuses to correct power whose electric share is not known.

mod account;
pub mod axle;
pub mod contrast;
mod curve;
pub mod drift;
mod electric;
mod gate;
pub mod gearing;
pub(super) mod levels;
mod remark;
mod side;
mod spread;
mod weather;

pub use account::{Answer, GainLine, OverCorrected, PullLine, Set, SpreadBlock, Stretch, Undone};
pub use contrast::{Contrast, ContrastError, Entry, Gain, Gains, Line, OpenPeak};
pub use curve::STEP_RPM;
pub use electric::share_w;
pub use gate::{Gate, Stated};
pub use remark::Remark;
pub use side::{Pulls, Tags};
pub use spread::{LEVEL, Spread};
pub use weather::{BOOSTED_PA, ChargePressure, FACTOR_SHARE, Held, WeatherDoubt};

use crate::belief::{Noise, Prior};
use crate::dyno::correction::{Correction, CorrectionError, Standard};
use crate::dyno::{PullError, Setup};
use crate::parts::{BuildError, Plan};
use account::Frame;
use side::Side;

/// Seed of the draws behind the ranges: two runs agree to the digit.
const SEED: u64 = 1;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The pulls before the work.
    pub before: Pulls<'a>,
    /// The pulls after it.
    pub after: Pulls<'a>,
    /// The car before the work, where it is known: tells how the engine is charged, and the electric share of a reading.
    pub car: Option<&'a Setup>,
    /// The work, where it is known: tells how the engine is charged after it.
    pub plan: Option<&'a Plan<Prior>>,
    /// Standard by which weather is corrected.
    pub standard: Standard,
    /// Mechanical efficiency, for the standard that asks for it.
    pub mechanical_efficiency: Option<f64>,
    /// Whether the car stayed on the drums between the sets.
    pub same_visit: bool,
    /// Widest difference of start charge between any two runs; usually [`axle::CHARGE_WINDOW`].
    pub charge_window: f64,
    /// Whether to compare what a gate would refuse.
    pub force: bool,
}

/// Why there is no comparison.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// These runs must not be compared.
    #[error("the pulls must not be compared")]
    Gated(Vec<Gate>),
    /// Pulls that state a charge of a car that has no electric axle.
    #[error("pulls of '{visit}' give a battery level, but their car has no electric axle")]
    NoElectricAxle {
        /// Their visit.
        visit: String,
    },
    /// The plan does not fit the car.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// The standard does not say what to do with this engine.
    #[error(transparent)]
    Correction(#[from] CorrectionError),
    /// The car as described cannot make a pull whose electric share is wanted.
    #[error(transparent)]
    Pull(#[from] PullError),
    /// A visit without pulls.
    #[error("a visit holds no pull")]
    NoPulls,
    /// The pulls cannot be held against each other.
    #[error(transparent)]
    Contrast(#[from] ContrastError),
}

impl Question<'_> {
    /// Compares.
    /// Equation (8.9).
    pub fn answer(&self) -> Result<Answer, CompareError> {
        let before = self.car.cloned();
        let after = self.setup_after()?;
        let sides = [Side::new(self.before, before), Side::new(self.after, after)];
        let forced = self.gates(&sides)?;
        let electric = sides.iter().any(Side::electric);
        // The engine's share cannot be corrected where nobody says which it is.
        let known = !(electric && sides.iter().any(Side::helped)) || self.car.is_some();
        let standard = if known { self.standard } else { Standard::None };
        let entries = [
            sides[0].entries(standard, self.mechanical_efficiency)?,
            sides[1].entries(standard, self.mechanical_efficiency)?,
        ];
        let weather = self.weather(&sides, standard)?;
        let visit = if self.same_visit {
            0.0
        } else {
            Noise::default().visit
        };
        let gains = Contrast {
            before: &entries[0],
            after: &entries[1],
            visit,
            weather,
            seed: SEED,
        }
        .gains()?;
        let mut remarks = remark::of_pulls(&sides, known, self.charge_window);
        remarks.extend(remark::of_corrections(&sides));
        remarks.extend(remark::of_spread(&gains.spread));
        Ok(Answer::new(
            &gains,
            (&sides, &entries),
            Frame {
                standard,
                visit,
                same_visit: self.same_visit,
                electric,
                held: weather.held(),
                remarks,
                forced,
            },
        ))
    }

    /// The car after the work.
    fn setup_after(&self) -> Result<Option<Setup>, BuildError> {
        let (Some(plan), Some(before)) = (self.plan, self.car) else {
            return Ok(self.car.cloned());
        };
        let plan = plan.map(|_, _, prior| prior.centre());
        Ok(Some(Setup {
            car: plan.apply(&before.car)?,
            drums: before.drums,
        }))
    }

    /// What stands against comparing; refused unless forced, and then told.
    fn gates(&self, sides: &[Side<'_>; 2]) -> Result<Vec<Gate>, CompareError> {
        if let Some(side) = sides.iter().find(|side| side.of_another_car()) {
            return Err(CompareError::NoElectricAxle {
                visit: side.name().to_owned(),
            });
        }
        let mut found = axle::apart(&side::starts(sides), self.charge_window);
        let geared = side::geared(sides).filter(|found| found.apart() > gearing::ANOTHER_GEAR);
        found.extend(geared.map(Gate::AnotherGear));
        if found.is_empty() || self.force {
            Ok(found)
        } else {
            Err(CompareError::Gated(found))
        }
    }

    /// What the correction leaves open between the days of the first pull of each set.
    fn weather(
        &self,
        sides: &[Side<'_>; 2],
        standard: Standard,
    ) -> Result<WeatherDoubt, CompareError> {
        let day = |side: &Side<'_>| side.pulls().next().map(|pull| pull.day);
        let (Some(first), Some(last)) = (day(&sides[0]), day(&sides[1])) else {
            return Err(CompareError::NoPulls);
        };
        let ln_factor = |side: &Side<'_>, day| {
            let subject = side.subject(self.mechanical_efficiency);
            Correction::new(self.standard, day, &subject).map(|correction| correction.factor.ln())
        };
        let left_in = if standard == self.standard {
            0.0
        } else {
            ln_factor(&sides[1], last)? - ln_factor(&sides[0], first)?
        };
        Ok(WeatherDoubt {
            standard,
            days: (first, last),
            left_in,
            charge: (sides[0].charge_pressure(), sides[1].charge_pressure()),
        })
    }
}

#[cfg(test)]
mod tests;
