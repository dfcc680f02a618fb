//! The kind of a change of the plan, as a stable word.

use crate::build::{Breathing, Change, Charge};

/// Stable word of a change's kind, that of a plan file with underscores.
pub const fn kind<T>(change: &Change<T>) -> &'static str {
    match change {
        Change::DisplacementBlower(_) => "displacement_blower",
        Change::CentrifugalBlower(_) => "centrifugal_blower",
        Change::Turbocharger(_) => "turbocharger",
        Change::Boost { .. } => "boost",
        Change::RemoveBlower => "remove_blower",
        Change::Pulley { .. } => "pulley",
        Change::ChargeCooler(_) => "charge_cooler",
        Change::RemoveChargeCooler => "remove_charge_cooler",
        Change::Intake { .. } => "intake",
        Change::Exhaust { .. } => "exhaust",
        Change::Breathing(Breathing::Throttle { .. }) => "throttle",
        Change::Breathing(Breathing::Headers { .. }) => "headers",
        Change::Breathing(Breathing::Camshaft(_)) => "camshaft",
        Change::Breathing(Breathing::CylinderHead { .. }) => "cylinder_head",
        Change::Breathing(Breathing::BoreStroke { .. }) => "bore_and_stroke",
        Change::Charge(Charge::TankMix { .. }) => "tank_mix",
        Change::Charge(Charge::Octane { .. }) => "octane",
        Change::Charge(Charge::Spark { .. }) => "spark",
        Change::Charge(Charge::WaterMethanol { .. }) => "water_methanol",
        Change::Charge(Charge::Nitrous { .. }) => "nitrous",
        Change::CompressionRatio { .. } => "compression_ratio",
        Change::Fuel { .. } => "fuel",
        Change::Mixture { .. } => "mixture",
        Change::Redline { .. } => "redline",
        Change::Gearing { .. } => "gearing",
        Change::Wheels { .. } => "wheels",
        Change::ElectricAxle { .. } => "electric_axle",
        Change::Injectors(_) => "injectors",
        Change::FuelPump(_) => "fuel_pump",
        Change::FuelRail(_) => "fuel_rail",
        Change::TurningParts(_) => "turning_parts",
        Change::DrivelineOil(_) => "driveline_oil",
        Change::Clutch { .. } => "clutch",
        Change::Converter(_) => "converter",
        Change::Belt(_) => "belt",
        Change::Battery(_) => "battery",
        Change::Tyres(_) => "tyres",
        Change::Mass(_) => "mass",
    }
}
