//! A car made from what anybody knows about it, with the middle of every default for the rest.
//!
//! The catalogue of doubts (`belief::parameter`) holds the defaults of single numbers; this file only puts the parts
//! together so that there is a place for each of them.

use super::defects::Defects;
use super::engine::{Breathing, Engine, Knock, Tune};
use super::induction::{Blower, Exhaust, Intake};
use super::limit::Thresholds;
use super::running_gear::Driveline;
use super::{Car, TABLE_RESIDUAL};
use crate::driveline::gears::{Drive, Gearbox};
use crate::driveline::{GearOil, GearTrain, TurningParts, TyreOnDrum};
use crate::engine::breathing::InletValves;
use crate::engine::combustion::{Combustion, WallLoss};
use crate::engine::exhaust::PortLoss;
use crate::engine::friction::{Accessories, Friction};
use crate::engine::heat_transfer::Walls;
use crate::engine::knock_map::{BURN_COMPLETENESS, KnockMap, KnockMapInput};
use crate::engine::phasing::Phasing;
use crate::engine::tuning::Hump;
use crate::engine::wiebe::BurnScaling;
use crate::engine::{CylinderGeometry, EngineGeometry};
use crate::fuel::Fuel;
use crate::fuel::supply::FuelSupply;
use std::sync::Arc;

/// What anybody knows about a car.
#[derive(Debug, Clone)]
pub struct Facts {
    /// What the shop calls it.
    pub name: String,
    /// Number of cylinders.
    pub cylinders: u32,
    /// Bore, m.
    pub bore_m: f64,
    /// Stroke, m.
    pub stroke_m: f64,
    /// Compression ratio.
    pub compression_ratio: f64,
    /// Inlet valves per cylinder.
    pub inlet_valves: u32,
    /// Engine speed at which a pull ends, rpm.
    pub redline_rpm: f64,
    /// What is in the tank.
    pub fuel: Fuel,
    /// Which wheels the engine drives.
    pub drive: Drive,
    /// Kind of gearbox.
    pub gearbox: Gearbox,
    /// Ratio of the gear used on the drums.
    pub gear_ratio: f64,
    /// Final-drive ratio.
    pub final_ratio: f64,
    /// Rolling radius of the driven tyres, m.
    pub tyre_radius_m: f64,
}

impl Car {
    /// A naturally aspirated car of these facts.
    pub fn template(facts: Facts) -> Self {
        let engine = engine(&facts);
        let reference_flow_kg_s = engine.reference_flow_kg_s();
        Self {
            driveline: driveline(&facts, engine.geometry.displacement_m3()),
            name: facts.name,
            engine,
            fuel: facts.fuel,
            fuel_supply: FuelSupply::default(),
            tune: Tune {
                lambda: 0.88,
                lambda_offset: 0.0,
                lambda_tilt: -0.01,
                retard_deg: 0.0,
                margin_deg: 0.0,
            },
            intake: Intake {
                loss_pa: 4e3,
                share_behind: 0.0,
                throttle_relief_pa: 0.0,
                reference_flow_kg_s,
            },
            exhaust: Exhaust {
                back_pressure_pa: 30e3,
                scavenging_pa: 0.0,
                reference_flow_kg_s,
                port: PortLoss {
                    reference_flow_kg_s,
                    ..PortLoss::default()
                },
            },
            blower: Blower::None,
            cooler: None,
            water_methanol: None,
            nitrous: None,
            electric: None,
            defects: Defects::default(),
            thresholds: Thresholds::default(),
        }
    }
}

fn engine(facts: &Facts) -> Engine {
    let cylinder = CylinderGeometry {
        bore_m: facts.bore_m,
        stroke_m: facts.stroke_m,
        rod_m: 1.62 * facts.stroke_m,
        compression_ratio: facts.compression_ratio,
    };
    let made_for = KnockMapInput {
        geometry: cylinder,
        fuel: facts.fuel,
        lambda: 0.88,
        residual_fraction: TABLE_RESIDUAL,
        completeness: BURN_COMPLETENESS,
        walls: Some(Walls::default()),
    };
    Engine {
        geometry: EngineGeometry {
            cylinder,
            cylinders: facts.cylinders,
        },
        redline_rpm: facts.redline_rpm,
        valves: InletValves {
            diameter_m: if facts.inlet_valves >= 2 { 0.375 } else { 0.50 } * facts.bore_m,
            count: facts.inlet_valves,
            mean_flow_coefficient: 0.35,
            open_duration_deg: 245.0,
            closing_abdc_deg: 55.0,
        },
        closing_later_deg: 0.0,
        overlap_deg_m: 1.3,
        breathing: breathing(facts.redline_rpm),
        combustion: Combustion {
            level: 0.81,
            late_evaporation_share: 0.35,
            ..Combustion::default()
        },
        phasing: Phasing::default(),
        wall_loss: WallLoss::default(),
        burn: BurnScaling::default(),
        knock: Knock {
            delay_multiplier: 1.0,
            octane_weight: 0.0,
            map: Arc::new(KnockMap::build(&made_for)),
            made_for,
        },
        friction: Friction {
            constant_pa: 40e3,
            per_speed_pa_s_m: 4.5e3,
            per_speed_squared_pa_s2_m2: 70.0,
            ..Friction::default()
        },
        oil_k: 363.15,
        accessories: Accessories::default(),
        valve_pumping_pa: 20e3,
        work_by_cycle: None,
    }
}

fn breathing(redline_rpm: f64) -> Breathing {
    let hump = |share: f64, height: f64| Hump {
        height,
        rpm: share * redline_rpm,
        log_width: HUMP_WIDTH,
    };
    Breathing {
        level: 1.03,
        tilt: 0.0,
        choking_ratio: 1.0,
        choking_exponent: 4.0,
        manifold_heating: 0.12,
        port_heating: 0.12,
        wall_k: 365.15,
        evaporation: 0.3,
        ram_speed: 0.65,
        humps: [hump(0.42, 0.0), hump(0.62, 0.03), hump(0.88, 0.03)],
    }
}

fn driveline(facts: &Facts, displacement_m3: f64) -> Driveline {
    let (gear, last) = (facts.gear_ratio, facts.final_ratio);
    Driveline {
        train: GearTrain::typical(facts.drive, facts.gearbox, gear, last),
        clutch_nm: None,
        converter: None,
        oil: GearOil::SAE_75W90,
        oil_k: 353.15,
        parts: TurningParts {
            engine_kg_m2: 0.075 + 45.0 * displacement_m3,
            gearbox_input_kg_m2: 0.02,
            shaft_kg_m2: 0.04,
            wheels_kg_m2: 3.2,
            blower_kg_m2: 0.0,
            blower_ratio: 1.0,
        },
        tyre: TyreOnDrum::typical(facts.tyre_radius_m, f64::INFINITY, 7500.0),
        tyre_k: 318.15,
    }
}

/// Width of a tuning hump in the logarithm of engine speed; 0.12 to 0.25, from memory.
const HUMP_WIDTH: f64 = 0.18;

/// An invented four-cylinder coupe, for tests of whoever needs a car and not which.
#[cfg(test)]
impl Car {
    pub(crate) fn example() -> Self {
        Self::template(Facts {
            name: "coupe".into(),
            cylinders: 4,
            bore_m: 0.086,
            stroke_m: 0.086,
            compression_ratio: 10.5,
            inlet_valves: 2,
            redline_rpm: 7000.0,
            fuel: Fuel::petrol(95.0, None),
            drive: Drive::Rear,
            gearbox: Gearbox::Manual,
            gear_ratio: 1.3,
            final_ratio: 3.9,
            tyre_radius_m: 0.31,
        })
    }
}
