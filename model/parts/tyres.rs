//! Other tyres on the wheels that the engine drives.

use super::kind::{Kind, Part, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::Stays;
use super::row::{self, FACTOR_DOUBT, SIZE_DOUBT, rows};
use super::{BuildError, Form};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::car::Car;

numbers! {
    /// Other tyres on the wheels that the engine drives.
    TyreChoice {
        /// Rolling radius, m, if it changes.
        radius_m: Option<T> => maybe("radius"),
        /// Greatest force over load, if it changes.
        grip: Option<T> => maybe("grip"),
        /// Rolling resistance on the flat at 25 °C, if it changes.
        rolling_coefficient: Option<T> => maybe("rolling_coefficient"),
        /// Speed they are rated for, m/s, if it is known.
        speed_rating_m_s: Option<T> => maybe("speed_rating"),
    }
}

rows! {
    RADIUS = row::of_car("tyre_radius", "wheels.tyre_radius", SIZE_DOUBT, Stays, CommonPractice),
    GRIP = row::number("grip", Measure::RATIO, (0.3, 2.0), FACTOR_DOUBT, Stays, "greatest force over load", CommonPractice),
    ROLLING = row::of_car("rolling_coefficient", "wheels.rolling_coefficient", FACTOR_DOUBT, Stays, CommonPractice),
    RATING = row::number("speed_rating", Measure::M_S, (20.0, 160.0), 0.0, Stays, "speed they are rated for", Fact),
}

impl<T> Part for TyreChoice<T> {
    const KIND: &'static Kind = &Kind::new("tyres", "tyres", "new tyres", ROWS);
}

impl Written for TyreChoice<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let (radius_m, grip) = (form.number(&RADIUS), form.number(&GRIP));
        let (rolling_coefficient, rating) = (form.number(&ROLLING), form.number(&RATING));
        let read = [
            (&RADIUS, radius_m.is_some()),
            (&GRIP, grip.is_some()),
            (&ROLLING, rolling_coefficient.is_some()),
            (&RATING, rating.is_some()),
        ];
        form.some("tyres", &read)?;
        Some(Self {
            radius_m,
            grip,
            rolling_coefficient,
            speed_rating_m_s: rating,
        })
    }
}

impl Work for TyreChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let tyre = &mut car.driveline.tyre;
        tyre.radius_m = self.radius_m.unwrap_or(tyre.radius_m);
        tyre.grip = self.grip.unwrap_or(tyre.grip);
        tyre.rolling_coefficient = self.rolling_coefficient.unwrap_or(tyre.rolling_coefficient);
        let rated = &mut car.thresholds.tyre_speed_m_s;
        *rated = self.speed_rating_m_s.unwrap_or(*rated);
        Ok(())
    }
}
