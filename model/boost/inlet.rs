//! The gas a machine draws in.
//!
//! Exists so that every machine of the folder is asked in the same terms: total state at its inlet flange, and constant
//! heat capacities. It knows no humidity: the gas arrives with its own constants.

use crate::air::gas::PerfectGas;

/// Total state at the inlet flange of a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet {
    /// Absolute total pressure, Pa.
    pub pressure_pa: f64,
    /// Total temperature, K.
    pub temperature_k: f64,
    /// The gas itself; constant heat capacities are within 0.1 % of the work up to a pressure ratio of 3 in air.
    pub gas: PerfectGas,
}

impl Inlet {
    /// Density, kg/m³: `ρ = p/(R T)`.
    ///
    /// Source: ideal gas law (derived).
    pub fn density_kg_m3(self) -> f64 {
        self.pressure_pa / (self.gas.gas_constant_j_kg_k * self.temperature_k)
    }
}
