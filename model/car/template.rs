//! The parts of a car put together from what anybody knows about it, with a place for every number still to be stated.
//!
//! The catalogue of doubts (`belief::parameter`) holds the defaults of single numbers and fills them in
//! ([`crate::belief::typical`]); none stands here.

use super::defects::Defects;
use super::engine::{Breathing, Engine, Fuelling, Knock, Tune};
use super::induction::{Blower, Exhaust, Intake};
use super::limit::Thresholds;
use super::running_gear::Driveline;
use super::{Car, TABLE_RESIDUAL};
use crate::driveline::gears::{Drive, Gearbox};
use crate::driveline::{GearOil, GearTrain, TurningParts, TyreOnDrum};
use crate::engine::breathing::InletValves;
use crate::engine::combustion::{Combustion, WallLoss};
use crate::engine::exhaust::PortLoss;
use crate::engine::friction::{Accessories, CONSTANT_SHARE, Friction, OIL_EXPONENT};
use crate::engine::heat_transfer::Walls;
use crate::engine::knock_map::{BURN_COMPLETENESS, KnockMap, KnockMapInput};
use crate::engine::knock_maps::KnockMaps;
use crate::engine::phasing::Phasing;
use crate::engine::tuning::Hump;
use crate::engine::wiebe::BurnScaling;
use crate::engine::{CylinderGeometry, EngineGeometry};
use crate::fuel::Fuel;
use crate::fuel::supply::FuelSupply;
use std::sync::Arc;

/// A number that is stated later, from a car file or from the catalogue, where its default stands; it is no number until then.
pub(crate) const OF_THE_SHEET: f64 = f64::NAN;

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
    /// How fuel meets the air.
    pub fuelling: Fuelling,
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
    /// A naturally aspirated car of these facts, every other number [`OF_THE_SHEET`].
    pub(crate) fn bare(facts: Facts) -> Self {
        let engine = engine(&facts);
        let reference_flow_kg_s = engine.reference_flow_kg_s();
        Self {
            driveline: driveline(&facts),
            name: facts.name,
            engine,
            fuel: facts.fuel,
            fuel_supply: FuelSupply::default(),
            tune: Tune {
                lambda: OF_THE_SHEET,
                lambda_offset: OF_THE_SHEET,
                lambda_tilt: OF_THE_SHEET,
                retard_deg: OF_THE_SHEET,
                margin_deg: OF_THE_SHEET,
            },
            intake: Intake {
                loss_pa: OF_THE_SHEET,
                share_behind: OF_THE_SHEET,
                throttle_relief_pa: 0.0,
                reference_flow_kg_s,
            },
            exhaust: Exhaust {
                back_pressure_pa: OF_THE_SHEET,
                scavenging_pa: 0.0,
                reference_flow_kg_s,
                port: PortLoss {
                    reference_drop_k: OF_THE_SHEET,
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
        rod_m: OF_THE_SHEET,
        compression_ratio: facts.compression_ratio,
    };
    let made_for = KnockMapInput {
        geometry: cylinder,
        fuel: facts.fuel,
        lambda: OF_THE_SHEET,
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
            diameter_m: OF_THE_SHEET,
            count: facts.inlet_valves,
            mean_flow_coefficient: OF_THE_SHEET,
            open_duration_deg: OF_THE_SHEET,
            closing_abdc_deg: OF_THE_SHEET,
        },
        fuelling: facts.fuelling,
        closing_later_deg: 0.0,
        overlap_deg_m: OF_THE_SHEET,
        breathing: breathing(),
        combustion: Combustion {
            level: OF_THE_SHEET,
            compression_exponent: OF_THE_SHEET,
            best_lambda: OF_THE_SHEET,
            mixture_curvature: OF_THE_SHEET,
            late_evaporation_share: OF_THE_SHEET,
        },
        phasing: Phasing {
            mbt_ca50_deg: OF_THE_SHEET,
            retard_multiplier: OF_THE_SHEET,
        },
        wall_loss: WallLoss {
            multiplier: OF_THE_SHEET,
            ..WallLoss::default()
        },
        burn: BurnScaling::default(),
        knock: Knock {
            delay_multiplier: OF_THE_SHEET,
            octane_weight: OF_THE_SHEET,
            map: Arc::new(KnockMap::unmade()),
            made_for,
            maps: Arc::new(KnockMaps::new(made_for)),
        },
        friction: Friction {
            constant_pa: OF_THE_SHEET,
            per_peak_pressure: OF_THE_SHEET,
            per_speed_pa_s_m: OF_THE_SHEET,
            per_speed_squared_pa_s2_m2: OF_THE_SHEET,
            oil_exponent: OIL_EXPONENT,
        },
        oil_k: OF_THE_SHEET,
        accessories: Accessories {
            power_at_6000_w: OF_THE_SHEET,
            constant_share: CONSTANT_SHARE,
        },
        valve_pumping_pa: OF_THE_SHEET,
        work_by_cycle: None,
    }
}

fn breathing() -> Breathing {
    let hump = Hump {
        height: OF_THE_SHEET,
        rpm: OF_THE_SHEET,
        log_width: HUMP_WIDTH,
    };
    Breathing {
        level: OF_THE_SHEET,
        tilt: OF_THE_SHEET,
        choking_ratio: OF_THE_SHEET,
        choking_exponent: OF_THE_SHEET,
        manifold_heating: OF_THE_SHEET,
        port_heating: OF_THE_SHEET,
        wall_k: OF_THE_SHEET,
        evaporation: OF_THE_SHEET,
        ram_speed: OF_THE_SHEET,
        fade_speed: OF_THE_SHEET,
        humps: [hump; 3],
    }
}

fn driveline(facts: &Facts) -> Driveline {
    let (gear, last) = (facts.gear_ratio, facts.final_ratio);
    Driveline {
        train: GearTrain::typical(facts.drive, facts.gearbox, gear, last),
        clutch_nm: None,
        converter: None,
        oil: GearOil::SAE_75W90,
        oil_k: OF_THE_SHEET,
        parts: TurningParts {
            engine_kg_m2: OF_THE_SHEET,
            gearbox_input_kg_m2: OF_THE_SHEET,
            shaft_kg_m2: OF_THE_SHEET,
            wheels_kg_m2: OF_THE_SHEET,
            blower_kg_m2: 0.0,
            blower_ratio: 1.0,
        },
        tyre: TyreOnDrum::typical(facts.tyre_radius_m, f64::INFINITY, OF_THE_SHEET),
        tyre_k: OF_THE_SHEET,
    }
}

/// Width of a tuning hump in the logarithm of engine speed; 0.12 to 0.25, from memory.
const HUMP_WIDTH: f64 = 0.18;

/// An invented four-cylinder coupe, for tests of whoever needs a car and not which.
#[cfg(test)]
impl Facts {
    pub(crate) fn example() -> Self {
        Self {
            name: "coupe".into(),
            cylinders: 4,
            bore_m: 0.086,
            stroke_m: 0.086,
            compression_ratio: 10.5,
            inlet_valves: 2,
            fuelling: Fuelling::Injection,
            redline_rpm: 7000.0,
            fuel: Fuel::petrol(95.0, None),
            drive: Drive::Rear,
            gearbox: Gearbox::Manual,
            gear_ratio: 1.3,
            final_ratio: 3.9,
            tyre_radius_m: 0.31,
        }
    }
}
