//! What one cylinder is told, and which of it is admitted.
//!
//! Exists so that the cycle itself never meets a number it cannot compute with: a [`super::CylinderCycle`] can only be made from an
//! input that passed here. It refuses to correct an input silently: a number out of range is named.
//!
//! Source: ranges are what the equations stand and more than any road engine needs; common practice, no source.

use super::valve::Valve;
use crate::engine::geometry::CylinderGeometry;
use crate::engine::heat_transfer::Walls;
use crate::engine::wiebe::BurnScaling;
use crate::fuel::Fuel;

/// What sets the phasing of the burn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spark {
    /// Best torque, or the earliest burn without knock if that is later; then held back.
    Search {
        /// Half the burn this much later, deg.
        retard_deg: f64,
    },
    /// This much later than best torque, whether it knocks or not.
    AfterBest {
        /// Half the burn after that of best torque, deg.
        later_deg: f64,
    },
    /// Half the burn at this angle after top dead centre, deg.
    Fixed {
        /// The angle.
        ca50_deg: f64,
    },
    /// No fire: the engine is turned.
    Motored,
}

/// One cylinder at one operating point; all cylinders of an engine are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CycleInput {
    /// Cylinder.
    pub geometry: CylinderGeometry,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Fuel; all of it is vapour in the charge.
    pub fuel: Fuel,
    /// Relative air-fuel ratio.
    pub lambda: f64,
    /// Water in the air, kg per kg of dry air.
    pub humidity_ratio: f64,
    /// Inlet manifold pressure, Pa.
    pub inlet_pa: f64,
    /// Temperature of the charge at the inlet valve, K.
    pub inlet_k: f64,
    /// Exhaust manifold pressure, Pa.
    pub exhaust_pa: f64,
    /// Inlet valves and their cam.
    pub inlet: Valve,
    /// Exhaust valves and their cam.
    pub exhaust: Valve,
    /// Burn duration and how it moves.
    pub burn: BurnScaling,
    /// Share of the charge that ever burns; the rest stays in crevices and quench layers.
    pub burning_share: f64,
    /// Walls, or `None` for an adiabatic cylinder.
    pub walls: Option<Walls>,
    /// Octane number of the fuel in this engine.
    pub octane: f64,
    /// Multiplier on the ignition delay.
    pub delay_multiplier: f64,
    /// What sets the phasing.
    pub spark: Spark,
}

/// Share of the charge that burns: 0.96, as the mean-value cylinder has it (from memory of the usual petrol engine).
/// Equation (9.7).
pub const USUAL_BURNING_SHARE: f64 = 0.96;

/// A number outside what the cycle can be computed with.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{name} is {value}, expected {low} to {high}")]
pub struct CycleInputError {
    /// What it is.
    pub name: &'static str,
    /// What was given.
    pub value: f64,
    /// Smallest admitted.
    pub low: f64,
    /// Largest admitted.
    pub high: f64,
}

fn within(name: &'static str, value: f64, low: f64, high: f64) -> Result<(), CycleInputError> {
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(CycleInputError {
            name,
            value,
            low,
            high,
        })
    }
}

impl CycleInput {
    /// Whether every number lies in the range that the cycle admits.
    pub fn check(&self) -> Result<(), CycleInputError> {
        let g = &self.geometry;
        within("bore, m", g.bore_m, 0.03, 0.3)?;
        within("stroke, m", g.stroke_m, 0.03, 0.4)?;
        within("rod over stroke", g.rod_m / g.stroke_m, 0.8, 10.0)?;
        within("compression ratio", g.compression_ratio, 4.0, 25.0)?;
        within("engine speed, rpm", self.rpm, 300.0, 20_000.0)?;
        within("lambda", self.lambda, 0.6, 1.4)?;
        within("humidity, kg/kg", self.humidity_ratio, 0.0, 0.1)?;
        within("inlet pressure, Pa", self.inlet_pa, 15e3, 600e3)?;
        within("inlet temperature, K", self.inlet_k, 220.0, 500.0)?;
        let ratio = self.exhaust_pa / self.inlet_pa;
        within("exhaust over inlet pressure", ratio, 0.2, 4.0)?;
        self.check_valve(&self.inlet)?;
        self.check_valve(&self.exhaust)?;
        within(
            "burn duration, deg",
            self.burn.base_duration_deg,
            15.0,
            120.0,
        )?;
        within(
            "base speed of the burn, rpm",
            self.burn.base_rpm,
            500.0,
            20_000.0,
        )?;
        within(
            "speed exponent of the burn",
            self.burn.speed_exponent,
            -0.5,
            1.0,
        )?;
        within("burning share", self.burning_share, 0.1, 1.0)?;
        if let Some(walls) = &self.walls {
            within("wall temperature, K", walls.temperature_k, 250.0, 800.0)?;
            within("wall heat multiplier", walls.multiplier, 0.0, 3.0)?;
            within("head factor", walls.head_factor, 0.5, 2.5)?;
        }
        within("octane", self.octane, 50.0, 150.0)?;
        within("delay multiplier", self.delay_multiplier, 0.05, 20.0)?;
        match self.spark {
            Spark::Search { retard_deg } => within("retard, deg", retard_deg, 0.0, 40.0),
            Spark::AfterBest { later_deg } => {
                within("CA50 after best torque, deg", later_deg, 0.0, 80.0)
            }
            Spark::Fixed { ca50_deg } => within("CA50, deg", ca50_deg, -20.0, 80.0),
            Spark::Motored => Ok(()),
        }
    }

    fn check_valve(&self, valve: &Valve) -> Result<(), CycleInputError> {
        let bore_m = self.geometry.bore_m;
        within("valve over bore", valve.diameter_m / bore_m, 0.1, 0.7)?;
        within("valves per side", f64::from(valve.count), 1.0, 4.0)?;
        let lift = valve.lift_m / valve.diameter_m;
        within("lift over valve diameter", lift, 0.03, 0.6)?;
        within("open duration, deg", valve.duration_deg, 160.0, 340.0)?;
        within("cam centre line, deg", valve.centre_line_deg, 85.0, 135.0)?;
        within("flow coefficient", valve.flow.low, 0.1, 1.5)?;
        within("flow coefficient at full lift", valve.flow.full, 0.1, 1.5)
    }
}
