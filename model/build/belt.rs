//! Another belt on the blower's drive.

use super::BuildError;
use crate::car::Car;

/// What changes about the belt; parts of it that are not named stay.
#[derive(Debug, Clone, PartialEq)]
pub struct BeltChoice<T> {
    /// New over old number of ribs: tension and mass of the belt follow it.
    pub rib_factor: Option<T>,
    /// Highest tension in the tight strand, N.
    pub tension_n: Option<T>,
    /// Angle of wrap on the blower pulley, rad.
    pub wrap_rad: Option<T>,
    /// Effective coefficient of friction, wedge included.
    pub friction: Option<T>,
}

impl<T> BeltChoice<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> BeltChoice<U> {
        let mut of = |name, x: &Option<T>| x.as_ref().map(|x| convert(name, x));
        BeltChoice {
            rib_factor: of("rib_factor", &self.rib_factor),
            tension_n: of("tension", &self.tension_n),
            wrap_rad: of("wrap", &self.wrap_rad),
            friction: of("friction", &self.friction),
        }
    }
}

impl BeltChoice<f64> {
    /// Each rib bears its own tension and has its own mass (common practice, no source).
    /// Equation (11.5).
    pub(super) fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
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
