//! The keys of a car file that are not beliefs: what the car is made of.

use super::super::car::{BlowerParts, CONTACTS, COUPLINGS, CouplingKind, DRIVES, GEARBOXES, Parts};
use super::super::compressor_map::MapSource;
use super::super::fuel::FuelKind;
use super::Lines;
use crate::belief::sheet::Sheet;
use crate::boost::{BoostControl, Holds};
use crate::car::Thresholds;
use crate::driveline::GearOil;
use crate::dyno::Brake;
use crate::parts::{COOLERS, REFERENCES, ROTORS};
use crate::units::Dimension;

/// The first word that stands for a value.
fn word_of<T: PartialEq>(words: &[(&'static str, T)], value: &T) -> &'static str {
    words
        .iter()
        .find(|(_, v)| v == value)
        .map_or("", |(word, _)| word)
}

/// Keys of a table that are not beliefs.
pub(super) fn structure(out: &mut Lines, table: &str, sheet: &Sheet, parts: &Parts) {
    let car = &sheet.centre.car;
    match table {
        "engine" => {
            out.line(&format!("cylinders = {}", parts.cylinders));
            out.line(&format!("inlet_valves = {}", parts.inlet_valves));
            out.plain(
                "reference_flow",
                car.intake.reference_flow_kg_s,
                Dimension::MassFlow,
                "g/s",
            );
        }
        "fuel" => {
            out.word("kind", parts.fuel.word());
            if let FuelKind::PetrolWithEthanol {
                ethanol_volume_fraction,
            } = parts.fuel
            {
                out.plain("ethanol", ethanol_volume_fraction, Dimension::Ratio, "1");
            }
        }
        "blower" => blower(out, sheet, parts),
        "cooler" => {
            if let Some(kind) = parts.cooler {
                out.word("kind", word_of(COOLERS, &kind));
            }
        }
        "driveline" => {
            out.word("drive", word_of(DRIVES, &parts.drive));
            out.word("gearbox", word_of(GEARBOXES, &parts.gearbox));
            if parts.supply.oil != GearOil::SAE_75W90 {
                out.word("oil", word_of(GearOil::GRADES, &parts.supply.oil));
            }
        }
        "injectors" => {
            if let Some(count) = parts.supply.injectors {
                out.line(&format!("count = {count}"));
            }
        }
        "fuel_rail" => out.word("reference", word_of(REFERENCES, &parts.supply.rail)),
        "converter" => {
            if let Some(locked) = parts.supply.converter_locked {
                out.line(&format!("locked = {locked}"));
            }
        }
        "electric_axle" => axle(out, parts),
        "drums" => {
            out.word("coupling", word_of(COUPLINGS, &parts.coupling));
            let added = parts.drag_added_back;
            out.line(&format!("drag_added_back = {added}"));
            out.word("contact", word_of(CONTACTS, &parts.machine.contact));
            match parts.machine.brake {
                None => {}
                Some(Brake::EngineRamp { rpm_per_s }) => {
                    let rad_s = rpm_per_s * std::f64::consts::PI / 30.0;
                    out.plain("ramp_per_second", rad_s, Dimension::RotationalSpeed, "rpm");
                }
                Some(Brake::SurfaceRamp { m_s2 }) => {
                    out.plain("surface_ramp_per_second", m_s2, Dimension::Speed, "km/h");
                }
                Some(Brake::Sweep { seconds }) => {
                    out.plain("sweep_time", seconds, Dimension::Time, "s");
                }
            }
            debug_assert!(
                parts.coupling != CouplingKind::Separate
                    || sheet.centre.drums.second_mass_kg().is_some()
            );
        }
        _ => {}
    }
}

/// Thresholds that are not the usual ones.
pub(super) fn limits(out: &mut Lines, thresholds: &Thresholds) {
    let usual = Thresholds::default();
    if *thresholds == usual {
        return;
    }
    out.table("limits");
    let rows = [
        (
            "exhaust_temperature",
            thresholds.exhaust_k,
            usual.exhaust_k,
            Dimension::Temperature,
            "°C",
        ),
        (
            "peak_pressure",
            thresholds.peak_pa,
            usual.peak_pa,
            Dimension::PressureDifference,
            "bar",
        ),
        (
            "piston_speed",
            thresholds.piston_speed_m_s,
            usual.piston_speed_m_s,
            Dimension::Speed,
            "m/s",
        ),
        (
            "tyre_speed",
            thresholds.tyre_speed_m_s,
            usual.tyre_speed_m_s,
            Dimension::Speed,
            "km/h",
        ),
    ];
    for (key, value, usual, dimension, unit) in rows {
        if value.total_cmp(&usual).is_ne() {
            out.plain(key, value, dimension, unit);
        }
    }
}

fn blower(out: &mut Lines, sheet: &Sheet, parts: &Parts) {
    let (ratio, pulley) = match &parts.blower {
        BlowerParts::Turbo {
            tip_speed_limit_m_s,
            count,
            ..
        } => {
            out.word("kind", "turbocharger");
            out.line(&format!("count = {count}"));
            let limit = *tip_speed_limit_m_s;
            out.plain("tip_speed_limit", limit, Dimension::Speed, "m/s");
            return;
        }
        BlowerParts::None => return,
        BlowerParts::Displacement {
            kind,
            drive_ratio,
            pulley_m,
            max_speed_rad_s,
            ..
        } => {
            out.word("kind", word_of(ROTORS, kind));
            out.plain(
                "max_speed",
                *max_speed_rad_s,
                Dimension::RotationalSpeed,
                "rpm",
            );
            if let Some((machine, _)) = sheet.centre.car.blower.displacement() {
                out.plain(
                    "bypass_area",
                    machine.bypass_area_m2,
                    Dimension::Area,
                    "mm2",
                );
            }
            (*drive_ratio, *pulley_m)
        }
        BlowerParts::Centrifugal {
            drive_ratio,
            pulley_m,
            tip_speed_limit_m_s,
            ..
        } => {
            out.word("kind", "centrifugal");
            out.plain(
                "tip_speed_limit",
                *tip_speed_limit_m_s,
                Dimension::Speed,
                "m/s",
            );
            (*drive_ratio, *pulley_m)
        }
    };
    out.plain("drive_ratio", ratio, Dimension::Ratio, "1");
    out.plain("pulley_diameter", pulley, Dimension::Length, "mm");
}

/// The boost asked for, as a table of its own.
pub(super) fn boost_table(out: &mut Lines, control: &BoostControl) {
    out.table("blower.boost_curve");
    let (key, dimension, unit) = match control.holds {
        Holds::Gauge => ("gauge", Dimension::GaugePressure, "kPa gauge"),
        Holds::Absolute => ("absolute", Dimension::Pressure, "kPa abs"),
    };
    let rad_s = |rpm: f64| rpm * std::f64::consts::PI / 30.0;
    let speeds: Vec<f64> = control.asked.iter().map(|(rpm, _)| rad_s(*rpm)).collect();
    let pressures: Vec<f64> = control.asked.iter().map(|(_, pa)| *pa).collect();
    out.list("speed", &speeds, Dimension::RotationalSpeed, "rpm");
    out.list(key, &pressures, dimension, unit);
}

pub(super) fn map_tables(out: &mut Lines, map: &MapSource) {
    out.table(if map.rated {
        "blower.rated_point"
    } else {
        "blower.map_points"
    });
    out.plain(
        "wheel_diameter",
        map.wheel_diameter_m,
        Dimension::Length,
        "mm",
    );
    out.plain(
        "reference_pressure",
        map.reference.pressure_pa,
        Dimension::BarometricPressure,
        "kPa",
    );
    out.plain(
        "reference_temperature",
        map.reference.temperature_k,
        Dimension::Temperature,
        "K",
    );
    let columns: [(&str, Dimension, &str, Vec<f64>); 4] = [
        (
            "speed",
            Dimension::RotationalSpeed,
            "rpm",
            map.points.iter().map(|p| p.speed_rad_s).collect(),
        ),
        (
            "flow",
            Dimension::MassFlow,
            "g/s",
            map.points.iter().map(|p| p.flow_kg_s).collect(),
        ),
        (
            "pressure_ratio",
            Dimension::Ratio,
            "1",
            map.points.iter().map(|p| p.pressure_ratio).collect(),
        ),
        (
            "efficiency",
            Dimension::Ratio,
            "1",
            map.points.iter().map(|p| p.efficiency).collect(),
        ),
    ];
    for (key, dimension, unit, values) in columns {
        if map.rated {
            out.plain(
                key,
                values.first().copied().unwrap_or_default(),
                dimension,
                unit,
            );
            continue;
        }
        out.list(key, &values, dimension, unit);
    }
}

fn axle(out: &mut Lines, parts: &Parts) {
    let Some(axle) = parts.axle else { return };
    out.plain(
        "battery_voltage",
        axle.battery_v,
        Dimension::ElectricPotential,
        "V",
    );
    out.plain("battery_energy", axle.battery_j, Dimension::Energy, "kWh");
    out.plain("battery_power", axle.battery_w, Dimension::Power, "kW");
    out.plain(
        "motor_top_speed",
        axle.top_speed_rad_s,
        Dimension::RotationalSpeed,
        "rpm",
    );
    if axle.cut_speed_rad_s.is_finite() {
        out.plain(
            "cut_speed",
            axle.cut_speed_rad_s,
            Dimension::RotationalSpeed,
            "rpm",
        );
    }
    out.plain("cut_taper", axle.cut_taper, Dimension::Ratio, "1");
    out.plain("ramp", axle.ramp_s, Dimension::Time, "s");
    if let Some(radius_m) = axle.tyre_radius_m {
        out.plain("tyre_radius", radius_m, Dimension::Length, "m");
    }
    out.plain("rated_power", axle.rated_power_w, Dimension::Power, "kW");
    out.plain(
        "rated_torque",
        axle.rated_torque_nm,
        Dimension::Torque,
        "N m",
    );
}
