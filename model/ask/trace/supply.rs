//! The fuel supply: what rail, injectors and pump could bring at this speed, and how hard they work.

use super::{Section, step};
use crate::air::Day;
use crate::car::{Car, Limit, OperatingPoint};
use crate::fuel::supply::SupplyState;

/// None where neither injectors nor pump are known.
pub(super) fn section(car: &Car, day: &Day, point: &OperatingPoint) -> Option<Section> {
    let supply = &car.fuel_supply;
    let at = SupplyState {
        rpm: point.rpm,
        manifold_pa: point.manifold_pa,
        outside_pa: day.station().pa(),
        density_kg_m3: car.fuel.density_kg_m3,
    };
    let mut steps = Vec::new();
    if supply.injectors.is_some() {
        steps.push(step(
            "injector_pressure",
            "Pa",
            supply
                .rail
                .across_injectors_pa(at.manifold_pa, at.outside_pa),
            "rail_less_manifold",
        ));
        steps.push(step(
            "injector_flow_limit",
            "kg/s",
            supply.injectors_kg_s(&at),
            "injector_flow",
        ));
    }
    if let Some(duty) = point.injector_duty {
        steps.push(step("injector_duty", "1", duty, "injector_duty"));
    }
    if supply.pump.is_some() {
        steps.push(step(
            "pump_pressure",
            "Pa",
            supply.rail.at_pump_pa(at.manifold_pa, at.outside_pa),
            "rail_gauge",
        ));
        steps.push(step(
            "pump_flow_limit",
            "kg/s",
            supply.pump_kg_s(&at),
            "pump_flow",
        ));
    }
    (!steps.is_empty()).then_some(Section {
        part: "fuel_supply",
        steps,
    })
}

/// Where the mixture comes from.
pub(super) fn mixture(point: &OperatingPoint) -> &'static str {
    let short = [Limit::InjectorDuty, Limit::FuelPump];
    if short.iter().any(|limit| point.limits.contains(*limit)) {
        "mixture_by_supply"
    } else {
        "mixture_as_asked"
    }
}
