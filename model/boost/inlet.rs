//! The gas a machine draws in.
//!
//! Exists so that every machine of the folder is asked in the same terms: total state at its inlet flange, and constant
//! heat capacities. It knows no humidity: the gas arrives with its own constants.

use crate::air::gas::PerfectGas;
use crate::numeric::Real;

/// Total state at the inlet flange of a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet<R = f64> {
    /// Absolute total pressure, Pa.
    pub pressure_pa: R,
    /// Total temperature, K.
    pub temperature_k: R,
    /// The gas itself; constant heat capacities are within 0.1 % of the work up to a pressure ratio of 3 in air.
    pub gas: PerfectGas,
}

impl<R: Real> Inlet<R> {
    /// Density, kg/m³: `ρ = p/(R T)`.
    ///
    /// Source: ideal gas law (derived).
    #[inline(always)]
    pub fn density_kg_m3(self) -> R {
        self.pressure_pa / (self.temperature_k * self.gas.gas_constant_j_kg_k)
    }
}
