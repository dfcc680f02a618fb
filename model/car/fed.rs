//! The mixture that the fuel supply leaves: as asked for while injectors and pump can follow, leaner beyond.
//!
//! Exists apart from the balance because it asks only for the air and the manifold pressure of a point. It refuses to
//! protect the engine: no controller cuts the throttle here, so a lean full load is shown as what it is.

use super::limit::{Limit, Limits};
use super::{Added, OnADay, Thresholds};
use crate::fuel::supply::SupplyState;

/// Leanest mixture that an engine fires on at full load. Common practice, no source.
const LEANEST_FIRING: f64 = 1.3;
/// Leanest mixture that is computed. Work has run out well before it; it only keeps a car without fuel finite.
const LEANEST: f64 = 2.0;

/// What the fuel supply makes of a point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fed {
    /// Relative air-fuel ratio.
    pub(super) lambda: f64,
    /// Share of a cycle for which the injectors are told to open.
    pub(super) injector_duty: Option<f64>,
    /// Limits of the supply.
    pub(super) limits: Limits,
}

impl OnADay<'_> {
    /// Mixture and injector duty at a flow of moist air.
    ///
    /// ```text
    /// λ = max(λ_asked, ṁ_dry (1 + 1.571 ṁ_nitrous/ṁ_dry)/(AFR (ṁ_fuel,max + fuel that sprayed methanol replaces)))
    /// ```
    ///
    /// Beyond the limit fuel is constant, so λ rises in proportion to the air. Source: derived, conservation of mass.
    /// Equation (2.17).
    pub(super) fn fed(&self, rpm: f64, air_kg_s: f64, manifold_pa: f64, added: &Added) -> Fed {
        let mut limits = Limits::default();
        let car = self.car;
        let fuel = &car.fuel;
        let asked = car.tune.lambda_at(rpm, car.engine.redline_rpm);
        let dry_kg_s = air_kg_s / (1.0 + self.day.humidity_ratio());
        let at = SupplyState {
            rpm,
            manifold_pa,
            outside_pa: self.day.station().pa(),
            density_kg_m3: fuel.density_kg_m3,
        };
        let wanted_kg_s = added.tank_fuel_kg_s(fuel, asked, dry_kg_s);
        let (injectors, pump) = (
            car.fuel_supply.injectors_kg_s(&at),
            car.fuel_supply.pump_kg_s(&at),
        );
        limits.note(Limit::InjectorDuty, wanted_kg_s > injectors);
        limits.note(Limit::FuelPump, wanted_kg_s > pump);
        let most_kg_s = injectors.min(pump);
        let lambda = if wanted_kg_s > most_kg_s {
            // The fuel of one unit of λ over what there is.
            let whole_kg_s = dry_kg_s * fuel.fuel_per_air(1.0) * added.oxygen_factor(dry_kg_s);
            (whole_kg_s / (most_kg_s + added.replaced_kg_s(fuel))).min(LEANEST)
        } else {
            asked
        };
        limits.note(Limit::LeanMisfire, lambda > LEANEST_FIRING);
        let duty = car
            .fuel_supply
            .injector_duty(added.tank_fuel_kg_s(fuel, lambda, dry_kg_s), &at);
        Fed {
            lambda,
            injector_duty: duty,
            limits,
        }
    }
}

impl Thresholds {
    /// Notes the thresholds that an operating point has passed.
    pub(super) fn note(
        &self,
        limits: &mut Limits,
        exhaust_k: f64,
        peak_pa: f64,
        piston_speed_m_s: f64,
    ) {
        limits.note(Limit::ExhaustTemperature, exhaust_k > self.exhaust_k);
        limits.note(Limit::PeakPressure, peak_pa > self.peak_pa);
        limits.note(Limit::PistonSpeed, piston_speed_m_s > self.piston_speed_m_s);
    }
}
