//! A car on its drums with planned work or without, at the centre of the beliefs.

use crate::air::Day;
use crate::belief::prior::Prior;
use crate::dyno::Setup;
use crate::dyno::pull::AxleStart;
use crate::parts::{BuildError, Plan};

/// A car and the work planned for it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Work<'a> {
    pub(super) setup: &'a Setup,
    pub(super) plan: Option<&'a Plan<Prior>>,
}

/// Why no pull can be asked about.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WorkError {
    /// The plan does not fit the car.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// The electric axle is asked about where neither car nor plan has one.
    #[error("the car has no electric axle")]
    NoElectricAxle,
}

impl Work<'_> {
    /// The car after the work, what that changes inside the cylinder asked of the crank-angle cycle.
    pub(super) fn built(&self, day: Day) -> Result<Setup, WorkError> {
        let Some(plan) = self.plan else {
            return Ok(self.setup.clone());
        };
        Ok(Setup {
            car: plan
                .map(|_, _, prior| prior.centre())
                .apply_by_cycle(&self.setup.car, day)?,
            drums: self.setup.drums,
        })
    }

    /// How the electric axle starts: as asked or, if nothing is, on and rested.
    pub(super) fn axle_start(
        &self,
        built: &Setup,
        asked: Option<AxleStart>,
    ) -> Result<AxleStart, WorkError> {
        let has = |setup: &Setup| setup.car.electric.is_some();
        if asked.is_some() && !has(self.setup) && !has(built) {
            return Err(WorkError::NoElectricAxle);
        }
        Ok(asked.unwrap_or(AxleStart::RESTED))
    }
}
