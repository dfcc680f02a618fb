//! Turbochargers, alike and side by side.

use super::blower::{MAP, MAP_POINTS, RATED_POINT, TIP_SPEED_LIMIT};
use super::boost::{BOOST, BOOST_ABSOLUTE, BOOST_CURVE};
use super::centrifugal_blower::flow_doubt;
use super::kind::{Blown, Kind, Part, Rank, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{AsOfCar, Described, Usual};
use super::row::{self, CLAIM_DOUBT, Holds, rows};
use super::{BuildError, Form, usual};
use crate::belief::parameter::Basis::{Derived, FromMemory};
use crate::belief::parameter::Guess::Exact;
use crate::belief::prior::Prior;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::boost::turbocharger::{AREA_SD_LN, BOOST_DOUBT, INERTIA_SD_LN, START_BOOST_PA};
use crate::boost::{BoostControl, CentrifugalCompressor, CompressorMap, Turbocharger};
use crate::car::{Blower, Car};

/// How large a turbine is.
#[derive(Debug, Clone, PartialEq)]
pub enum TurbineSize<T> {
    /// Effective area of one, m².
    Area(T),
    /// Not known: this factor on the area usual for the engine and its boost.
    Usual(T),
}

impl<T> TurbineSize<T> {
    fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> TurbineSize<U> {
        match self {
            Self::Area(area) => TurbineSize::Area(convert("turbine_area", area)),
            Self::Usual(factor) => TurbineSize::Usual(convert("turbine_area", factor)),
        }
    }
}

numbers! {
    /// Turbochargers as their maker describes them, in place of whatever blower is there.
    TurboChoice {
        /// Measured or drawn map of one compressor.
        map: CompressorMap => kept,
        /// How many share the flow.
        count: u32 => kept,
        /// The boost asked for.
        control: BoostControl => kept,
        /// Factor on the flow of the map.
        flow_factor: T => number("flow_factor"),
        /// Factor on the efficiency of the map.
        efficiency_factor: T => number("efficiency_factor"),
        /// The turbine.
        turbine: TurbineSize<T> => inner,
        /// Its efficiency.
        turbine_efficiency: T => number("turbine_efficiency"),
        /// Factor on the inertia usual for the wheel.
        inertia_factor: T => number("inertia_factor"),
        /// Boost held over boost asked for.
        boost_factor: T => number("boost_factor"),
        /// Boost above the air outside when a pull begins, Pa.
        start_boost_pa: T => number("start_boost"),
        /// Highest rim speed, m/s.
        tip_speed_limit_m_s: f64 => kept,
    }
}

rows! {
    MEASURED = MAP,
    POINTS = MAP_POINTS,
    RATED = RATED_POINT,
    LEVEL = BOOST,
    ABSOLUTE = BOOST_ABSOLUTE,
    CURVE = BOOST_CURVE,
    COUNT = row::other("count", Holds::Count(1, 4), Usual(Exact(1.0)), "turbochargers alike, side by side"),
    TURBINE_AREA = row::of_car("turbine_area", "blower.turbine_area", CLAIM_DOUBT,
        Described("one that holds full boost from half the reference flow on, × 1.28 either way"),
        Derived("full boost from half the engine's reference flow on")),
    TURBINE_EFFICIENCY = row::of_car("turbine_efficiency", "blower.turbine_efficiency", CLAIM_DOUBT, AsOfCar,
        FromMemory("turbines of car turbochargers")),
    TURBINE_MAP = row::other("turbine_map", Holds::Other("name of a file"), Described("area and efficiency"),
        "measured map of the turbine, in place of area and efficiency, see below"),
    TURBINE_MAP_POINTS = row::other("turbine_map_points", Holds::Other("a table"), Described("area and efficiency"),
        "the same as lists, see below"),
    TIP_SPEED = TIP_SPEED_LIMIT,
}

impl<T> Part for TurboChoice<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Blower,
        role: Role::Blower(Blown::ByExhaust),
        ..Kind::new("turbocharger", "turbocharger", "new turbocharger", ROWS).adds_up()
    };
}

impl Written for TurboChoice<Prior> {
    /// A turbine nobody describes is sized for the engine and its boost, with the doubt of a guess.
    fn read(form: &mut dyn Form) -> Option<Self> {
        let written = form.read_compressor_map();
        let count = if form.has(COUNT.key) {
            form.required_count(&COUNT)
        } else {
            Some(1)
        };
        let control = form.read_boost();
        let tip = form.plain(&TIP_SPEED_LIMIT);
        let mapped = form.read_turbine_map();
        let area_given = form.has(TURBINE_AREA.key);
        let area = form.optional(&TURBINE_AREA);
        let efficiency = form.number(&TURBINE_EFFICIENCY);
        let written = written?;
        let (turbine, turbine_efficiency) = match mapped.ok()? {
            Some(mapped) => (TurbineSize::Area(mapped.area_m2), mapped.efficiency),
            None if area_given => (TurbineSize::Area(area?), efficiency?),
            None => {
                let factor = Prior::log_normal(1.0, AREA_SD_LN, 0.4, 2.5).ok()?;
                (TurbineSize::Usual(factor), efficiency?)
            }
        };
        Some(Self {
            map: written.map,
            count: count?,
            control: control?,
            flow_factor: usual(1.0, flow_doubt(written.rated), 0.7, 1.3)?,
            efficiency_factor: usual(1.0, CLAIM_DOUBT, 0.7, 1.2)?,
            turbine,
            turbine_efficiency,
            inertia_factor: Prior::log_normal(1.0, INERTIA_SD_LN, 0.2, 5.0).ok()?,
            boost_factor: usual(1.0, BOOST_DOUBT, 0.5, 2.0)?,
            start_boost_pa: usual(START_BOOST_PA.0, START_BOOST_PA.1, 0.0, 60e3)?,
            tip_speed_limit_m_s: tip.unwrap_or(MILLED_TIP_LIMIT_M_S.0),
        })
    }
}

impl Work for TurboChoice<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let mut compressor = CentrifugalCompressor::of_map(self.map.clone());
        compressor.flow_factor = self.flow_factor;
        compressor.efficiency_factor = self.efficiency_factor;
        compressor.tip_speed_limit_m_s = self.tip_speed_limit_m_s;
        let flow_kg_s = car.engine.reference_flow_kg_s();
        let mut turbo =
            Turbocharger::usual(compressor, self.count, self.control.clone(), flow_kg_s);
        match self.turbine {
            TurbineSize::Area(area_m2) => turbo.turbine.effective_area_m2 = area_m2,
            TurbineSize::Usual(factor) => turbo.turbine.effective_area_m2 *= factor,
        }
        turbo.turbine.efficiency = self.turbine_efficiency;
        turbo.inertia_kg_m2 *= self.inertia_factor;
        turbo.control.factor = self.boost_factor;
        turbo.start_boost_pa = self.start_boost_pa;
        // Whatever drew on the exhaust ports before stands behind a turbine now.
        car.exhaust.scavenging_pa = 0.0;
        car.blower = Blower::Turbo(Box::new(turbo));
        Ok(())
    }
}
