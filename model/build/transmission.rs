//! Clutch, converter, gear oil, turning parts, tyres and mass on the drums as changes to a car.

use super::BuildError;
use crate::car::Car;
use crate::driveline::{GearOil, TorqueConverter};

/// Standard gravity, m/s² (exact by definition).
const GRAVITY_M_S2: f64 = 9.80665;

/// A converter, in place of whatever is there.
#[derive(Debug, Clone, PartialEq)]
pub enum ConverterChoice<T> {
    /// Its lock-up clutch closed through the pull: it adds no slip.
    Locked,
    /// Open.
    Open {
        /// Engine speed at which it holds the stall torque, rad/s.
        stall_speed_rad_s: T,
        /// That torque, N m.
        stall_torque_nm: T,
        /// Torque ratio at stall.
        torque_ratio: T,
        /// Speed ratio at which the torque ratio has fallen to 1.
        coupling: T,
    },
}

impl<T> ConverterChoice<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> ConverterChoice<U> {
        match self {
            Self::Locked => ConverterChoice::Locked,
            Self::Open {
                stall_speed_rad_s,
                stall_torque_nm,
                torque_ratio,
                coupling,
            } => ConverterChoice::Open {
                stall_speed_rad_s: convert("stall_speed", stall_speed_rad_s),
                stall_torque_nm: convert("stall_torque", stall_torque_nm),
                torque_ratio: convert("torque_ratio", torque_ratio),
                coupling: convert("coupling", coupling),
            },
        }
    }
}

impl ConverterChoice<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
        car.driveline.converter = match *self {
            Self::Locked => car.driveline.converter.map(|converter| TorqueConverter {
                locked: true,
                ..converter
            }),
            Self::Open {
                stall_speed_rad_s,
                stall_torque_nm,
                torque_ratio,
                coupling,
            } => Some(TorqueConverter {
                stall_speed_rad_s,
                stall_torque_nm,
                stall_torque_ratio: torque_ratio,
                coupling_speed_ratio: coupling,
                locked: false,
            }),
        };
    }
}

/// Another gear oil, or the same at another temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct OilChoice<T> {
    /// The grade, if it changes.
    pub oil: Option<GearOil>,
    /// Viscosity of the oil filled in over that of its grade.
    pub viscosity_factor: T,
    /// Temperature during the pull, K, if it changes.
    pub temperature_k: Option<T>,
}

impl<T> OilChoice<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> OilChoice<U> {
        OilChoice {
            oil: self.oil,
            viscosity_factor: convert("viscosity_factor", &self.viscosity_factor),
            temperature_k: self
                .temperature_k
                .as_ref()
                .map(|x| convert("temperature", x)),
        }
    }
}

impl OilChoice<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
        let line = &mut car.driveline;
        if let Some(oil) = self.oil {
            line.oil = oil.thicker(self.viscosity_factor);
        }
        line.oil_k = self.temperature_k.unwrap_or(line.oil_k);
    }
}

/// Where turning parts sit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turning {
    /// At the crank: flywheel, clutch, crank pulley.
    Crank,
    /// At the gearbox's input.
    GearboxInput,
    /// At the final drive's input: propeller shaft.
    Shaft,
    /// At the wheels: wheels, tyres, discs.
    Wheels,
}

/// Lighter or heavier turning parts.
#[derive(Debug, Clone, PartialEq)]
pub struct TurningChange<T> {
    /// Where they sit.
    pub at: Turning,
    /// Their moment of inertia before, kg m².
    pub before_kg_m2: T,
    /// And after.
    pub after_kg_m2: T,
}

impl<T> TurningChange<T> {
    pub(super) fn map<U>(
        &self,
        convert: &mut impl FnMut(&'static str, &T) -> U,
    ) -> TurningChange<U> {
        TurningChange {
            at: self.at,
            before_kg_m2: convert("inertia_before", &self.before_kg_m2),
            after_kg_m2: convert("inertia_after", &self.after_kg_m2),
        }
    }
}

impl TurningChange<f64> {
    /// Equation (11.8).
    pub(super) fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let parts = &mut car.driveline.parts;
        let inertia = match self.at {
            Turning::Crank => &mut parts.engine_kg_m2,
            Turning::GearboxInput => &mut parts.gearbox_input_kg_m2,
            Turning::Shaft => &mut parts.shaft_kg_m2,
            Turning::Wheels => &mut parts.wheels_kg_m2,
        };
        let left = *inertia + (self.after_kg_m2 - self.before_kg_m2);
        if left <= 0.0 {
            return Err(BuildError::NothingLeft {
                what: "moment of inertia",
                there: format!("{:.3} kg m²", *inertia),
                taken: format!("{:.3} kg m²", self.before_kg_m2 - self.after_kg_m2),
            });
        }
        *inertia = left;
        Ok(())
    }
}

/// Other tyres on the wheels that the engine drives.
#[derive(Debug, Clone, PartialEq)]
pub struct TyreChoice<T> {
    /// Rolling radius, m, if it changes.
    pub radius_m: Option<T>,
    /// Greatest force over load, if it changes.
    pub grip: Option<T>,
    /// Rolling resistance on the flat at 25 °C, if it changes.
    pub rolling_coefficient: Option<T>,
    /// Speed they are rated for, m/s, if it is known.
    pub speed_rating_m_s: Option<T>,
}

impl<T> TyreChoice<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> TyreChoice<U> {
        let mut of = |name, x: &Option<T>| x.as_ref().map(|x| convert(name, x));
        TyreChoice {
            radius_m: of("radius", &self.radius_m),
            grip: of("grip", &self.grip),
            rolling_coefficient: of("rolling_coefficient", &self.rolling_coefficient),
            speed_rating_m_s: of("speed_rating", &self.speed_rating_m_s),
        }
    }
}

impl TyreChoice<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
        let tyre = &mut car.driveline.tyre;
        tyre.radius_m = self.radius_m.unwrap_or(tyre.radius_m);
        tyre.grip = self.grip.unwrap_or(tyre.grip);
        tyre.rolling_coefficient = self.rolling_coefficient.unwrap_or(tyre.rolling_coefficient);
        let rated = &mut car.thresholds.tyre_speed_m_s;
        *rated = self.speed_rating_m_s.unwrap_or(*rated);
    }
}

/// Mass put into the car or taken out of it: the tyres on the drums carry more or less.
#[derive(Debug, Clone, PartialEq)]
pub struct MassChange<T> {
    /// Mass added, kg; negative where it is taken out.
    pub added_kg: T,
    /// Share of it on the tyres the engine drives.
    pub share: T,
}

impl<T> MassChange<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> MassChange<U> {
        MassChange {
            added_kg: convert("added", &self.added_kg),
            share: convert("share", &self.share),
        }
    }
}

impl MassChange<f64> {
    /// An electric axle at the other end of the car carries the rest.
    /// Equation (11.8).
    pub(super) fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
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
