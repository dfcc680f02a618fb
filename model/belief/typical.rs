//! A car of its facts, with the middle of every default for the rest.

use super::parameter;
use crate::car::{Car, Facts};
use crate::dyno::{Drums, Setup};

/// A naturally aspirated car of these facts, every other number at the centre of the catalogue's default.
///
/// For whoever asks about cars in general; a shop's own car comes from its file, with the doubts ([`super::Sheet::new`]).
pub fn typical(facts: Facts) -> Car {
    let mut setup = Setup {
        car: Car::bare(facts),
        drums: Drums::bare(),
    };
    for parameter in parameter::catalogue() {
        let Some(Ok(default)) = parameter.default_prior(&setup) else {
            continue;
        };
        if let Some(slot) = (parameter.slot)(&mut setup).filter(|slot| slot.is_nan()) {
            *slot = default.centre();
        }
    }
    setup.car.retabulate_knock();
    setup.car
}

/// An invented four-cylinder coupe on invented drums, for tests of whoever needs a car and not which.
#[cfg(test)]
impl Setup {
    pub(crate) fn example() -> Self {
        Self {
            car: typical(Facts::example()),
            drums: Drums::example(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::boost::{BeltDrive, PositiveDisplacement, RotorKind};
    use crate::car::{Blower, OnADay};

    #[test]
    fn every_vector_unit_finds_the_same_points_behind_a_blower() {
        let mut car = typical(Facts::example());
        let size_m3 = car.engine.geometry.displacement_m3();
        car.blower = Blower::Displacement {
            machine: PositiveDisplacement::typical(RotorKind::Screw, 0.5 * size_m3, 2500.0),
            drive: BeltDrive::of_overall_ratio(1.5, 0.075),
        };
        let rpm: Vec<f64> = (0..28).map(|k| 2000.0 + 180.0 * f64::from(k)).collect();
        let found = OnADay::new(&car, Day::reference()).abreast_on_each_unit(&rpm);
        assert!(found[0].is_some());
        assert!(found.windows(2).all(|pair| pair[0] == pair[1]));
    }

    /// A number may stand in a part's own file and be named here, but no default has two values.
    #[test]
    fn nothing_stands_at_another_value_than_the_catalogues_before_it_fills_the_rest() {
        let mut bare = Setup {
            car: Car::bare(Facts::example()),
            drums: Drums::bare(),
        };
        let mut whole = Setup {
            car: typical(Facts::example()),
            drums: Drums::bare(),
        };
        for parameter in parameter::catalogue().filter(|p| !p.path.starts_with("drums.")) {
            let Some(after) = (parameter.slot)(&mut whole).copied() else {
                continue;
            };
            assert!(after.is_finite(), "{} is not filled in", parameter.path);
            let (Some(Ok(default)), Some(before)) = (
                parameter.default_prior(&whole),
                (parameter.slot)(&mut bare).copied(),
            ) else {
                continue;
            };
            // Rounding of a conversion to the written unit and back.
            assert!(
                before.is_nan()
                    || (before - default.centre()).abs() <= 1e-12 * (1.0 + before.abs()),
                "{}: {before}, default {}",
                parameter.path,
                default.centre()
            );
        }
    }
}
