//! What may be in doubt about a car on its drums: one entry per number, in one place.
//!
//! The catalogue exists so that the car file, the starter file, the fit, the Monte Carlo and the report speak of the same
//! number by the same name, unit, bounds and default. An entry says where the number sits in a [`Setup`]; it
//! refuses to exist without a meaning and a basis. Entries stand in the order in which a person would fill them
//! in, and defaults may lean on entries above them.

mod boost;
mod engine;
mod measure;
mod running_gear;
mod supply;

pub use measure::Measure;

use crate::belief::prior::{Prior, PriorError};
use crate::dyno::Setup;

/// Where a default comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// A textbook or paper, recalled and not re-read.
    FromMemory(&'static str),
    /// Follows from other numbers by the argument given.
    Derived(&'static str),
    /// What the trade commonly uses; no source.
    CommonPractice,
    /// A fact of the car that only its owner knows.
    Fact,
}

impl std::fmt::Display for Basis {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::FromMemory(text) => write!(f, "{text}, from memory"),
            Self::Derived(text) => write!(f, "derived: {text}"),
            Self::CommonPractice => f.write_str("common practice, no source"),
            Self::Fact => f.write_str("a fact of the car"),
        }
    }
}

/// A default with its doubt, in the entry's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Guess {
    /// Mean and standard deviation.
    Normal(f64, f64),
    /// Median and standard deviation of the logarithm.
    LogNormal(f64, f64),
    /// A number used as it stands.
    Exact(f64),
}

impl Guess {
    /// The guess as a belief in the model's unit, cut to bounds in that unit.
    pub fn prior(self, measure: Measure, (lower, upper): (f64, f64)) -> Result<Prior, PriorError> {
        match self {
            Self::Normal(mean, sd) => Prior::normal(
                measure.to_model(mean),
                measure.difference_to_model(sd),
                lower,
                upper,
            ),
            Self::LogNormal(median, sd_ln) => {
                Prior::log_normal(measure.to_model(median), sd_ln, lower.max(0.0), upper)
            }
            Self::Exact(value) => Prior::fixed(measure.to_model(value)),
        }
    }
}

/// What is known of a number before a person says it.
#[derive(Clone, Copy)]
pub enum Unstated {
    /// The same of every car.
    Always(Guess),
    /// What follows from the rest of the car; `None` where it must be given.
    OfCar(fn(&Setup) -> Option<Guess>),
}

/// One number of a [`Setup`].
#[derive(Clone, Copy)]
pub struct Parameter {
    /// Where it stands in a car file, as `table.key`.
    pub path: &'static str,
    /// Dimension and unit in which it is written, and its scale inside the model.
    pub measure: Measure,
    /// Smallest and largest value accepted, in the written unit.
    pub range: (f64, f64),
    /// Its default.
    pub unstated: Unstated,
    /// Where the number sits; `None` when the car has no such part.
    pub slot: fn(&mut Setup) -> Option<&mut f64>,
    /// What the number means, for starter files and reports.
    pub meaning: &'static str,
    /// Where the default comes from.
    pub basis: Basis,
}

impl std::fmt::Debug for Parameter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Parameter")
            .field("path", &self.path)
            .finish_non_exhaustive()
    }
}

impl PartialEq for Parameter {
    fn eq(&self, other: &Self) -> bool {
        self.path == other.path
    }
}

impl Parameter {
    /// The table of the car file the entry stands in.
    pub fn table(&self) -> &'static str {
        self.path.rsplit_once('.').map_or("", |(table, _)| table)
    }

    /// The key within that table.
    pub fn key(&self) -> &'static str {
        self.path.rsplit_once('.').map_or(self.path, |(_, key)| key)
    }

    /// The range in the model's unit.
    pub fn bounds(&self) -> (f64, f64) {
        (
            self.measure.to_model(self.range.0),
            self.measure.to_model(self.range.1),
        )
    }

    /// The default as a belief in the model's unit; `None` when the number must be given.
    pub fn default_prior(&self, setup: &Setup) -> Option<Result<Prior, PriorError>> {
        let guess = match self.unstated {
            Unstated::Always(guess) => Some(guess),
            Unstated::OfCar(of) => of(setup),
        };
        guess.map(|guess| self.prior(guess))
    }

    /// A guess in the written unit as a belief in the model's, cut to the range.
    pub fn prior(&self, guess: Guess) -> Result<Prior, PriorError> {
        guess.prior(self.measure, self.bounds())
    }

    /// The default that every car shares, in the written unit.
    pub fn usual(&self) -> Option<Guess> {
        match self.unstated {
            Unstated::Always(guess) => Some(guess),
            Unstated::OfCar(_) => None,
        }
    }
}

/// Every entry, in the order in which defaults are resolved.
pub fn catalogue() -> impl Iterator<Item = &'static Parameter> {
    engine::ENTRIES
        .iter()
        .chain(boost::ENTRIES)
        .chain(running_gear::ENTRIES)
        .chain(supply::ENTRIES)
}

/// The entry at a path.
pub fn find(path: &str) -> Option<&'static Parameter> {
    catalogue().find(|entry| entry.path == path)
}

/// One entry of the catalogue, with its fields in reading order.
const fn entry(
    path: &'static str,
    measure: Measure,
    range: (f64, f64),
    unstated: Unstated,
    slot: fn(&mut Setup) -> Option<&mut f64>,
    meaning: &'static str,
    basis: Basis,
) -> Parameter {
    Parameter {
        path,
        measure,
        range,
        unstated,
        slot,
        meaning,
        basis,
    }
}

/// Shorthand for the default of an entry that does not depend on the car.
macro_rules! always {
    ($guess:expr) => {
        $crate::belief::parameter::Unstated::Always($guess)
    };
}
use always;

/// For an entry that must be given.
const REQUIRED: Unstated = Unstated::OfCar(|_| None);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_path_stands_once() {
        let mut paths: Vec<_> = catalogue().map(|p| p.path).collect();
        let count = paths.len();
        paths.sort_unstable();
        paths.dedup();
        assert_eq!(paths.len(), count);
    }

    #[test]
    fn every_range_has_room() {
        for parameter in catalogue() {
            let (lower, upper) = parameter.bounds();
            assert!(lower < upper, "{}", parameter.path);
        }
    }
}
