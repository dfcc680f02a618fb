//! From a car's operating point to the crank-angle cycle: what the cylinders are given, and valves for a car that never told them.
//!
//! Exists because the cycle may not know a car. A mean-value car knows of its valves only the inlet's size, opening and mean flow
//! coefficient; the rest is what engines of its kind have, and cancels in the ratios for which the cycle is run.
//! It refuses to run anything.

use super::{Car, OnADay, OperatingPoint};
use crate::cycle::valve::{EXHAUST_FLOW, FlowCoefficient, INLET_FLOW, Valve};
use crate::cycle::{CycleInput, Spark, USUAL_BURNING_SHARE};
use crate::engine::heat_transfer::Walls;

/// Both sides' valves with their cams.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveGear {
    /// Inlet.
    pub inlet: Valve,
    /// Exhaust.
    pub exhaust: Valve,
}

/// Lift over diameter of an inlet valve nobody measured. From memory of road engines (0.24 to 0.28); an exhaust valve is
/// lifted as far.
const LIFT_OVER_DIAMETER: f64 = 0.26;
/// Exhaust over inlet valve diameter. From memory of road engines (0.82 to 0.88).
const EXHAUST_OVER_INLET: f64 = 0.85;

impl Car {
    /// The valves this car would have, by what it knows of its inlet.
    ///
    /// The inlet's flow coefficient is scaled so that its mean over the open period is the car's; the exhaust cam is the
    /// inlet's mirrored in the top dead centre of gas exchange. Common practice, no source.
    /// Equation (9.4).
    pub fn valve_gear(&self) -> ValveGear {
        let known = &self.engine.valves;
        let centre_line_deg = 180.0 + known.closing_abdc_deg - 0.5 * known.open_duration_deg;
        let usual = Valve {
            diameter_m: known.diameter_m,
            count: known.count,
            lift_m: LIFT_OVER_DIAMETER * known.diameter_m,
            duration_deg: known.open_duration_deg,
            centre_line_deg,
            flow: INLET_FLOW,
        };
        let better = known.mean_flow_coefficient / usual.mean_flow_coefficient();
        let scaled = |flow: FlowCoefficient| FlowCoefficient {
            low: better * flow.low,
            full: better * flow.full,
        };
        ValveGear {
            inlet: Valve {
                flow: scaled(INLET_FLOW),
                ..usual
            },
            exhaust: Valve {
                diameter_m: EXHAUST_OVER_INLET * usual.diameter_m,
                flow: scaled(EXHAUST_FLOW),
                ..usual
            },
        }
    }
}

impl OnADay<'_> {
    /// What the crank-angle cycle is told of an operating point of this car, with the valves given.
    ///
    /// Manifolds, mixture, octane and retard are the point's; the burn, the delay and the wall heat carry the car's calibration.
    pub fn cycle_input(&self, point: &OperatingPoint, gear: &ValveGear) -> CycleInput {
        let engine = &self.car.engine;
        let lambda = point.cylinder.lambda;
        let drop_k = self.full_evaporation_drop_k(&point.added, lambda, point.air_kg_s);
        CycleInput {
            geometry: engine.geometry.cylinder,
            rpm: point.rpm,
            fuel: self.car.fuel,
            lambda,
            humidity_ratio: self.day.humidity_ratio(),
            inlet_pa: point.manifold_pa,
            inlet_k: self.port.port_k(point.charge_k, point.air_kg_s, drop_k),
            exhaust_pa: point.exhaust_pa,
            inlet: gear.inlet,
            exhaust: gear.exhaust,
            burn: engine.burn,
            burning_share: USUAL_BURNING_SHARE,
            walls: Some(Walls {
                multiplier: engine.wall_loss.multiplier,
                ..Walls::default()
            }),
            octane: point.cylinder.octane_index,
            delay_multiplier: engine.knock.delay_multiplier,
            spark: Spark::Search {
                retard_deg: self.car.tune.late_deg(),
            },
        }
    }
}
