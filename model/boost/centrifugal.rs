//! Centrifugal compressor: the wheel's own numbers, and the machine as its map drives it.
//!
//! Exists to turn a reading of the map into temperature, shaft power and a warning about the rim speed. It refuses to predict a
//! wheel from its blades.

use super::compressor_map::{CompressorMap, MapLimit, MapLimits};
use super::inlet::Inlet;

/// Rim speed a forged or milled wheel stands, m/s, and its standard deviation (from memory).
pub const MILLED_TIP_LIMIT_M_S: (f64, f64) = (530.0, 30.0);

/// Rim speed, m/s: `U₂ = D₂ ω/2`.
///
/// Source: kinematics (derived).
pub fn tip_speed_m_s(wheel_diameter_m: f64, speed_rad_s: f64) -> f64 {
    0.5 * wheel_diameter_m * speed_rad_s
}

/// A compressor with its map and mechanical limits.
#[derive(Debug, Clone, PartialEq)]
pub struct CentrifugalCompressor {
    /// Measured or drawn map.
    pub map: CompressorMap,
    /// Diameter of the wheel fitted, m; a wheel other than the map's scales flow with D³ and head with D² at a speed.
    pub wheel_diameter_m: f64,
    /// Highest rim speed, m/s.
    pub tip_speed_limit_m_s: f64,
    /// Factor on the map's flow: how far this machine is from the one that was measured.
    pub flow_factor: f64,
    /// Factor on the map's efficiency.
    pub efficiency_factor: f64,
    /// Efficiency of the step-up gear inside the housing; 1 when the drive accounts for it.
    pub gear_efficiency: f64,
}

/// One operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentrifugalPoint {
    /// Outlet over inlet total pressure.
    pub pressure_ratio: f64,
    /// Absolute total pressure at the outlet, Pa.
    pub outlet_pressure_pa: f64,
    /// Total temperature at the outlet, K.
    pub outlet_temperature_k: f64,
    /// Isentropic efficiency.
    pub efficiency: f64,
    /// Power given to the gas, W.
    pub gas_power_w: f64,
    /// Power at the shaft that enters the housing, W.
    pub shaft_power_w: f64,
    /// Rim speed, m/s.
    pub tip_speed_m_s: f64,
    /// Limits met, of the map and of the wheel.
    pub limits: MapLimits,
}

impl CentrifugalCompressor {
    /// A compressor whose wheel is the map's, milled, with its gear counted in the drive.
    pub fn of_map(map: CompressorMap) -> Self {
        let wheel_diameter_m = map.wheel_diameter_m();
        Self {
            map,
            wheel_diameter_m,
            tip_speed_limit_m_s: MILLED_TIP_LIMIT_M_S.0,
            flow_factor: 1.0,
            efficiency_factor: 1.0,
            gear_efficiency: 1.0,
        }
    }

    /// The point at a wheel speed and flow; `flow_kg_s ≥ 0`, `speed_rad_s > 0`.
    /// Equation (5.3).
    pub fn at(&self, inlet: Inlet, speed_rad_s: f64, flow_kg_s: f64) -> CentrifugalPoint {
        // Similar wheels have equal flow and head coefficients: same rim speed, flow with the area.
        let scale = self.wheel_diameter_m / self.map.wheel_diameter_m();
        let reading = self.map.at(
            speed_rad_s * scale,
            inlet.pressure_pa,
            inlet.temperature_k,
            flow_kg_s / (scale * scale * self.flow_factor),
        );
        let tip = tip_speed_m_s(self.wheel_diameter_m, speed_rad_s);
        let rise = (reading.temperature_ratio - 1.0) / self.efficiency_factor;
        let gas_power_w = flow_kg_s * inlet.gas.cp_j_kg_k() * inlet.temperature_k * rise;
        CentrifugalPoint {
            pressure_ratio: reading.pressure_ratio,
            outlet_pressure_pa: reading.pressure_ratio * inlet.pressure_pa,
            outlet_temperature_k: (1.0 + rise) * inlet.temperature_k,
            efficiency: reading.efficiency * self.efficiency_factor,
            gas_power_w,
            shaft_power_w: gas_power_w / self.gear_efficiency,
            tip_speed_m_s: tip,
            limits: reading
                .limits
                .with(MapLimit::TipSpeed, tip > self.tip_speed_limit_m_s),
        }
    }
}
