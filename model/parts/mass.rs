//! Mass put into the car or taken out of it: the tyres on the drums carry more or less.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Usual};
use super::row::{self, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Guess::Normal;
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::units::GRAVITY_M_S2;

numbers! {
    /// Mass put into the car or taken out of it.
    MassChange {
        /// Mass added, kg; negative where it is taken out.
        added_kg: T => number("added"),
        /// Share of it on the tyres the engine drives.
        share: T => number("share"),
    }
}

rows! {
    ADDED = row::number("added", Measure::KG, (-1500.0, 1500.0), 0.0, MustBeGiven, "mass put in; negative where it is taken out", Fact),
    // Halfway between the axles.
    SHARE = row::number("share", Measure::RATIO, (0.0, 1.0), 0.0, Usual(Normal(0.5, 0.1)),
        "share of it on the tyres the engine drives", CommonPractice),
}

impl<T> Part for MassChange<T> {
    const KIND: &'static Kind =
        &Kind::new("mass", "mass", "mass added or taken out", ROWS).adds_up();
}

impl Written for MassChange<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (added, share) = (form.number(&ADDED), form.number(&SHARE));
        Some(Self {
            added_kg: added?,
            share: share?,
        })
    }
}

impl Work for MassChange<f64> {
    /// An electric axle at the other end of the car carries the rest.
    ///
    /// Equation (11.8).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let weight_n = GRAVITY_M_S2 * self.added_kg;
        load(&mut car.driveline.tyre.load_n, self.share * weight_n)?;
        match &mut car.electric {
            Some(drive) => load(&mut drive.tyre.load_n, (1.0 - self.share) * weight_n),
            None => Ok(()),
        }
    }
}

fn load(load_n: &mut f64, added_n: f64) -> Result<(), BuildError> {
    let left = *load_n + added_n;
    if left <= 0.0 {
        return Err(BuildError::NothingLeft {
            what: "load on the tyres",
            there: format!("{:.0} N", *load_n),
            taken: format!("{:.0} N", -added_n),
        });
    }
    *load_n = left;
    Ok(())
}
