//! Clutch, or the lock-up clutch of an automatic.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Described;
use super::row::{self, FACTOR_DOUBT, Holds, Row, rows};
use super::{BuildError, Fault, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;
use crate::driveline::FrictionClutch;

numbers! {
    /// Clutch, or the lock-up clutch of an automatic.
    ClutchChoice {
        /// Torque it carries before it slips, N m.
        capacity_nm: T => number("capacity"),
    }
}

const OR_CAPACITY: row::LeftOut = Described("`capacity`");

rows! {
    CAPACITY = capacity(FACTOR_DOUBT),
    FACES = row::other("faces", Holds::Count(1, 12), OR_CAPACITY, "friction faces; the torque from sizes is ± 10 % from the friction"),
    FRICTION = row::plain("friction", Measure::RATIO, (0.05, 0.8), OR_CAPACITY, "coefficient of friction", Fact),
    CLAMP = row::plain("clamp", Measure::N, (500.0, 60e3), OR_CAPACITY, "force that clamps the faces", Fact),
    OUTER = row::plain("outer_radius", Measure::MM, (40.0, 250.0), OR_CAPACITY, "outer radius of the facing", Fact),
    INNER = row::plain("inner_radius", Measure::MM, (20.0, 240.0), OR_CAPACITY, "inner radius of the facing", Fact),
}

/// Keys of a clutch stated by its sizes.
pub const CLUTCH_SIZES: [&str; 5] = [
    FACES.key,
    FRICTION.key,
    CLAMP.key,
    OUTER.key,
    INNER.key,
];

const fn capacity(bare: f64) -> Row {
    row::of_car(
        "capacity",
        "clutch.capacity",
        bare,
        Described("the five sizes"),
        CommonPractice,
    )
}

impl<T> Part for ClutchChoice<T> {
    const KIND: &'static Kind = &Kind::new("clutch", "clutch", "new clutch", ROWS);
}

impl Written for ClutchChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let capacity_nm = capacity_nm(form, FACTOR_DOUBT)?;
        Some(Self { capacity_nm })
    }
}

/// Torque that a clutch carries, N m: as stated, where a bare number has this doubt, or from its sizes with the doubt of its friction.
pub fn capacity_nm(form: &mut dyn Form, bare: f64) -> Option<Prior> {
    let stated = form.has(CAPACITY.key);
    let sized = form.has_any(&[FACES, FRICTION, CLAMP, OUTER, INNER]);
    if stated && sized {
        let message = "both 'capacity' and the clutch's dimensions are given";
        let expected = "capacity alone, or faces, friction, clamp, outer_radius and inner_radius";
        form.error(CAPACITY.key, Fault::Conflict, message, expected);
        return None;
    }
    if !sized {
        return form.required(&capacity(bare));
    }
    let faces = form.required_count(&FACES);
    let (friction, clamp_n) = (form.required_plain(&FRICTION), form.required_plain(&CLAMP));
    let (outer, inner) = (form.required_plain(&OUTER), form.required_plain(&INNER));
    let (outer_radius_m, inner_radius_m) = (outer?, inner?);
    if inner_radius_m >= outer_radius_m {
        let message = "the facing's inner radius is not smaller than its outer";
        form.error(INNER.key, Fault::Conflict, message, "less than outer_radius");
        return None;
    }
    let clutch = FrictionClutch {
        faces: f64::from(faces?),
        friction: friction?,
        clamp_n: clamp_n?,
        outer_radius_m,
        inner_radius_m,
    };
    let carried_nm = clutch.capacity_nm();
    let (low, high) = CAPACITY.bounds();
    let made = Prior::normal(carried_nm, FACTOR_DOUBT * carried_nm, low, high);
    form.accepted(CLAMP.key, made)
}

impl Work for ClutchChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        car.driveline.clutch_nm = Some(self.capacity_nm);
        Ok(())
    }
}
