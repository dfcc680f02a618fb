//! The planned work: an ordered list of typed changes, each of which turns one car into another.

use super::{BuildError, Change};
use crate::air::Day;
use crate::car::Car;

/// An ordered list of changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan<T> {
    /// What the shop calls the job.
    pub name: String,
    /// The changes, in the order in which they are made.
    pub changes: Vec<Change<T>>,
}

impl<T> Plan<T> {
    /// No work: the car as it stands.
    pub fn as_it_stands() -> Self {
        Self {
            name: "no work".to_owned(),
            changes: Vec::new(),
        }
    }

    /// Places of the changes in the order in which they are put together, [`super::Rank`]; among themselves as they are listed.
    ///
    /// Equation (11.1).
    pub fn order(&self) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.changes.len()).collect();
        places.sort_by_key(|place| self.changes[*place].kind().rank);
        places
    }

    /// The same plan with every number passed through `convert`, which is told the change's place in the list and
    /// the number's name.
    pub fn map<U>(&self, mut convert: impl FnMut(usize, &'static str, &T) -> U) -> Plan<U> {
        let changes = self
            .changes
            .iter()
            .enumerate()
            .map(|(i, change)| change.map(&mut |name, x| convert(i, name, x)))
            .collect();
        Plan {
            name: self.name.clone(),
            changes,
        }
    }
}

impl Plan<f64> {
    /// The car after all changes, put together in [`Plan::order`].
    ///
    /// Equation (11.1).
    pub fn apply(&self, car: &Car) -> Result<Car, BuildError> {
        let mut built = car.clone();
        for place in self.order() {
            self.changes[place].apply(&mut built)?;
        }
        built.retabulate_knock();
        Ok(built)
    }

    /// The same, what it changes inside the cylinder asked of the crank-angle cycle in the air of a day.
    ///
    /// Some 30 ms on two cores where there is such a change, nothing otherwise; so it is asked once at the centre of a plan, and
    /// draws around it share the answer, [`crate::car::Engine::work_by_cycle`].
    pub fn apply_by_cycle(&self, car: &Car, day: Day) -> Result<Car, BuildError> {
        let mut built = self.apply(car)?;
        built.ask_cycle(car, day);
        Ok(built)
    }
}
