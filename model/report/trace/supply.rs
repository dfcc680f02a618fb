//! The fuel supply: what rail, injectors and pump could bring at this speed, and how hard they work.

use super::{Section, step};
use crate::air::Day;
use crate::car::{Car, Limit, OperatingPoint};
use crate::fuel::supply::SupplyState;
use crate::report::number::What;

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
            "pressure across the injectors",
            What::Pressure,
            supply
                .rail
                .across_injectors_pa(at.manifold_pa, at.outside_pa),
            "rail less manifold",
        ));
        steps.push(step(
            "most the injectors bring",
            What::MassFlow,
            supply.injectors_kg_s(&at),
            "rated flow · √pressure · (duty limit − dead time)",
        ));
    }
    if let Some(duty) = point.injector_duty {
        steps.push(step(
            "injector duty",
            What::Percent,
            duty,
            "fuel over open flow, dead time added",
        ));
    }
    if supply.pump.is_some() {
        steps.push(step(
            "pressure at the pump",
            What::Pressure,
            supply.rail.at_pump_pa(at.manifold_pa, at.outside_pa),
            "rail above the air outside",
        ));
        steps.push(step(
            "most the pump brings",
            What::MassFlow,
            supply.pump_kg_s(&at),
            "rated flow, falling with pressure",
        ));
    }
    (!steps.is_empty()).then_some(Section {
        part: "Fuel supply",
        steps,
    })
}

/// Where the mixture comes from.
pub(super) fn mixture_words(point: &OperatingPoint) -> &'static str {
    let short = [Limit::InjectorDuty, Limit::FuelPump];
    if short.iter().any(|limit| point.limits.contains(*limit)) {
        "dry air over the most fuel: the supply falls short"
    } else {
        "as asked, with offset and tilt"
    }
}
