//! Turbochargers and their boost as changes to a car.

use super::BuildError;
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

/// Turbochargers as their maker describes them.
#[derive(Debug, Clone, PartialEq)]
pub struct TurboChoice<T> {
    /// Measured or drawn map of one compressor.
    pub map: CompressorMap,
    /// How many share the flow.
    pub count: u32,
    /// The boost asked for.
    pub control: BoostControl,
    /// Factor on the flow of the map.
    pub flow_factor: T,
    /// Factor on the efficiency of the map.
    pub efficiency_factor: T,
    /// The turbine.
    pub turbine: TurbineSize<T>,
    /// Its efficiency.
    pub turbine_efficiency: T,
    /// Factor on the inertia usual for the wheel.
    pub inertia_factor: T,
    /// Boost held over boost asked for.
    pub boost_factor: T,
    /// Boost above the air outside when a pull begins, Pa.
    pub start_boost_pa: T,
    /// Highest rim speed, m/s.
    pub tip_speed_limit_m_s: f64,
}

impl<T> TurboChoice<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> TurboChoice<U> {
        TurboChoice {
            map: self.map.clone(),
            count: self.count,
            control: self.control.clone(),
            flow_factor: convert("flow_factor", &self.flow_factor),
            efficiency_factor: convert("efficiency_factor", &self.efficiency_factor),
            turbine: match &self.turbine {
                TurbineSize::Area(area) => TurbineSize::Area(convert("turbine_area", area)),
                TurbineSize::Usual(factor) => TurbineSize::Usual(convert("turbine_area", factor)),
            },
            turbine_efficiency: convert("turbine_efficiency", &self.turbine_efficiency),
            inertia_factor: convert("inertia_factor", &self.inertia_factor),
            boost_factor: convert("boost_factor", &self.boost_factor),
            start_boost_pa: convert("start_boost", &self.start_boost_pa),
            tip_speed_limit_m_s: self.tip_speed_limit_m_s,
        }
    }
}

impl TurboChoice<f64> {
    pub(super) fn apply(&self, car: &mut Car) {
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
    }
}

/// Another boost on the same machines; what the control holds of it stays as it was learnt.
/// Equation (11.5).
pub(super) fn change_boost(
    car: &mut Car,
    control: Option<&BoostControl>,
    factor: f64,
) -> Result<(), BuildError> {
    let turbo = car.blower.turbo_mut().ok_or(BuildError::PartMissing {
        part: "turbocharger",
    })?;
    // What was learnt of a spring says nothing of a control that holds absolute pressure, nor the other way round.
    let learnt = match control {
        Some(new) if new.holds != turbo.control.holds => 1.0,
        _ => turbo.control.factor,
    };
    if let Some(control) = control {
        turbo.control = control.clone();
    }
    turbo.control.factor = learnt * factor;
    Ok(())
}
