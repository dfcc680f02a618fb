//! Another belt on the blower's drive.

use super::kind::{Kind, Part, Rank, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, FACTOR_DOUBT, Holds, rows};
use super::{BuildError, Fault, Form, exactly};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// What changes about the belt; parts of it that are not named stay.
    BeltChoice {
        /// New over old number of ribs: tension and mass of the belt follow it.
        rib_factor: Option<T> => maybe("rib_factor"),
        /// Highest tension in the tight strand, N.
        tension_n: Option<T> => maybe("tension"),
        /// Angle of wrap on the blower pulley, rad.
        wrap_rad: Option<T> => maybe("wrap"),
        /// Effective coefficient of friction, wedge included.
        friction: Option<T> => maybe("friction"),
    }
}

rows! {
    RIBS_FROM = row::other("ribs_from", Holds::Count(1, 20), Stays, "ribs of the belt there; tension and mass follow the ribs"),
    RIBS_TO = row::other("ribs_to", Holds::Count(1, 20), Stays, "ribs of the new one"),
    TENSION = row::of_car("tension", "blower.belt_tension", FACTOR_DOUBT, Stays, CommonPractice),
    WRAP = row::number("wrap", Measure::ANGLE, (60.0, 300.0), 0.0, Stays, "angle of wrap on the blower pulley", Fact),
    FRICTION = row::of_car("friction", "blower.belt_friction", FACTOR_DOUBT, Stays, CommonPractice),
}

impl<T> Part for BeltChoice<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::OnBlower,
        role: Role::SetsBlower,
        ..Kind::new("belt", "belt", "new belt", ROWS)
    };

    fn replaces(&self) -> bool {
        // More ribs are a factor on the belt that is there.
        self.rib_factor.is_none()
    }
}

impl Written for BeltChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (from, to) = (form.count(&RIBS_FROM), form.count(&RIBS_TO));
        let tension_n = form.number(&TENSION);
        let (wrap_rad, friction) = (form.number(&WRAP), form.number(&FRICTION));
        let (has_from, has_to) = (form.has(RIBS_FROM.key), form.has(RIBS_TO.key));
        if has_from != has_to {
            let (there, missing) = if has_from {
                (RIBS_FROM.key, RIBS_TO.key)
            } else {
                (RIBS_TO.key, RIBS_FROM.key)
            };
            let message = format!("'{there}' is given without '{missing}'");
            let expected = "ribs_from and ribs_to, the ribs of the belts before and after";
            form.error(there, Fault::Missing, &message, expected);
            return None;
        }
        if has_from && form.has(TENSION.key) {
            let message = "'tension' and numbers of ribs are both given";
            let expected = "the tension after, or the ribs";
            form.error(TENSION.key, Fault::Conflict, message, expected);
            return None;
        }
        let read = [
            (&RIBS_FROM, from.is_some()),
            (&RIBS_TO, to.is_some()),
            (&TENSION, tension_n.is_some()),
            (&WRAP, wrap_rad.is_some()),
            (&FRICTION, friction.is_some()),
        ];
        form.some("belt", &read)?;
        let ribs = from.zip(to);
        Some(Self {
            rib_factor: ribs.and_then(|(from, to)| exactly(f64::from(to) / f64::from(from))),
            tension_n,
            wrap_rad,
            friction,
        })
    }
}

impl Work for BeltChoice<f64> {
    /// Each rib bears its own tension and has its own mass (common practice, no source).
    ///
    /// Equation (11.5).
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let drive = car.blower.drive_mut().ok_or(BuildError::PartMissing {
            part: "blower on a belt",
        })?;
        if let Some(factor) = self.rib_factor {
            drive.max_tension_n *= factor;
            drive.belt_mass_kg_m *= factor;
        }
        drive.max_tension_n = self.tension_n.unwrap_or(drive.max_tension_n);
        drive.wrap_rad = self.wrap_rad.unwrap_or(drive.wrap_rad);
        drive.friction = self.friction.unwrap_or(drive.friction);
        Ok(())
    }
}
