//! Exhaust temperature by the first law.
//!
//! Exists because turbine, back pressure and pumping all hang on it, and because a temperature taken from an energy
//! balance cannot disagree with the work it came from. It refuses to follow pulses: it is a mean over the cycle.
//!
//! Source: first law of the cylinder (derived), blowdown as in J. B. Heywood, Internal Combustion Engine Fundamentals, ch. 6
//! (from memory), port heat by Depcik & Assanis, SAE 2002-01-0372 (abstract read).

use super::products::Products;
use crate::numeric::Real;

/// Energy of one cycle per kilogram of dry air, J/kg. Enthalpies are sensible, above 25 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EnergyLedger<R = f64> {
    /// Chemical energy released.
    pub released_j_kg_air: R,
    /// Enthalpy of air and fuel vapour at the valve.
    pub inlet_j_kg_air: R,
    /// Net indicated work: gross work less pumping.
    pub work_j_kg_air: R,
    /// Heat to the cylinder walls.
    pub wall_heat_j_kg_air: R,
    /// Enthalpy leaving through the exhaust valve.
    pub exhaust_j_kg_air: R,
    /// Heat lost by port and manifold.
    pub port_heat_j_kg_air: R,
    /// Enthalpy behind the manifold.
    pub manifold_j_kg_air: R,
    /// Mean temperature at the exhaust valve, K.
    pub valve_k: R,
    /// Mean temperature behind the manifold, K.
    pub manifold_k: R,
}

/// Heat loss of exhaust port and manifold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PortLoss {
    /// Drop of temperature at the reference flow, K: 130 ± 30 (80..180, from memory).
    pub reference_drop_k: f64,
    /// Gas temperature at the valve of that reference, K.
    pub reference_valve_k: f64,
    /// Flow of that reference, kg/s of exhaust gas.
    pub reference_flow_kg_s: f64,
    /// Wall temperature, K (about 700 at full load; no source).
    pub wall_k: f64,
}

impl Default for PortLoss {
    fn default() -> Self {
        Self {
            reference_drop_k: 130.0,
            reference_valve_k: 1250.0,
            reference_flow_kg_s: 0.3,
            wall_k: 700.0,
        }
    }
}

impl PortLoss {
    /// Gas temperature behind port and manifold, K.
    ///
    /// ```text
    /// T₂ = T_w + (T₁ − T_w) · exp(−NTU),   NTU ∝ flow^(−1/4)
    /// ```
    ///
    /// Exponent from Nu = 0.07 Re^0.75 in ports (Depcik & Assanis, SAE 2002-01-0372, abstract read).
    /// Source: exponential approach derived for a wall of one temperature.
    /// Equation (4.6).
    #[inline(always)]
    pub fn manifold_k<R: Real>(&self, valve_k: R, flow_kg_s: R) -> R {
        let reference_rise = (self.reference_valve_k - self.wall_k).max(1.0);
        let kept = (1.0 - self.reference_drop_k / reference_rise).clamp(1e-3, 1.0);
        let slower = flow_kg_s.at_least(1e-6).dividing(self.reference_flow_kg_s);
        let kept = (slower.sqrt().sqrt() * kept.ln()).exp();
        (valve_k - self.wall_k) * kept + self.wall_k
    }
}

/// What the energy balance of the exhaust needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExhaustInput<R = f64> {
    /// Share of the released energy that appears at all (blow-by and crevices keep the rest), about 0.96.
    pub completeness: f64,
    /// Net indicated work per kilogram of dry air, J/kg.
    pub work_j_kg_air: R,
    /// Share of the energy that the cylinder walls take up, as [`super::combustion::WallLoss`] gives it,
    /// plus what the exhaust valve and port take before the reference plane.
    pub wall_share: R,
    /// Enthalpy brought in with air and fuel per kilogram of dry air, above 25 °C; negative by the latent heat of fuel that
    /// enters liquid, J/kg.
    pub inlet_j_kg_air: R,
    /// Water vapour of the air, kg per kilogram of dry air.
    pub humidity_ratio: R,
    /// Exhaust gas flow, kg/s.
    pub flow_kg_s: R,
}

/// Heat capacity of the air's own water vapour over that of the products per kg of dry air, near 1100 K: 2.2 over 1.35
/// kJ/kgK (NASA polynomials, computed with Cantera 3.2).
const VAPOUR_SHARE: f64 = 1.6;
/// Coolest gas a firing engine at full load can leave behind its exhaust valve, K; met only where numbers contradict
/// each other (work far above what the fuel releases).
const COOLEST_EXHAUST_K: f64 = 500.0;

impl<R: Real> EnergyLedger<R> {
    /// One of several side by side.
    #[inline(always)]
    #[must_use]
    pub fn one(&self, k: usize) -> EnergyLedger {
        EnergyLedger {
            released_j_kg_air: self.released_j_kg_air.one(k),
            inlet_j_kg_air: self.inlet_j_kg_air.one(k),
            work_j_kg_air: self.work_j_kg_air.one(k),
            wall_heat_j_kg_air: self.wall_heat_j_kg_air.one(k),
            exhaust_j_kg_air: self.exhaust_j_kg_air.one(k),
            port_heat_j_kg_air: self.port_heat_j_kg_air.one(k),
            manifold_j_kg_air: self.manifold_j_kg_air.one(k),
            valve_k: self.valve_k.one(k),
            manifold_k: self.manifold_k.one(k),
        }
    }
}

/// Energy balance of a cycle: exhaust temperatures and every term between fuel and pipe.
///
/// ```text
/// h_in + q_released − w_net − q_wall = h_exhaust(T)   per kilogram of dry air
/// ```
///
/// Products as in [`Products`]: frozen water-gas composition, so a rich charge carries its unreleased energy out.
/// Source: derived, the first law for an open system over one cycle.
/// Equation (4.6).
#[inline(always)]
pub fn energy_ledger<R: Real>(
    products: &Products<R>,
    input: &ExhaustInput<R>,
    port: &PortLoss,
) -> EnergyLedger<R> {
    let released_j_kg_air = products.released_j * input.completeness;
    let wall_heat_j_kg_air = input.wall_share * released_j_kg_air;
    let exhaust_j_kg_air =
        input.inlet_j_kg_air + released_j_kg_air - input.work_j_kg_air - wall_heat_j_kg_air;
    let moist = input.humidity_ratio * VAPOUR_SHARE + 1.0;
    let valve_k = products
        .temperature_k(exhaust_j_kg_air / moist)
        .at_least(COOLEST_EXHAUST_K);
    let manifold_k = port.manifold_k(valve_k, input.flow_kg_s);
    let manifold_j_kg_air = moist * products.sensible_enthalpy_j(manifold_k);
    EnergyLedger {
        released_j_kg_air,
        inlet_j_kg_air: input.inlet_j_kg_air,
        work_j_kg_air: input.work_j_kg_air,
        wall_heat_j_kg_air,
        exhaust_j_kg_air,
        port_heat_j_kg_air: exhaust_j_kg_air - manifold_j_kg_air,
        manifold_j_kg_air,
        valve_k,
        manifold_k,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fuel::Fuel;

    #[test]
    fn no_work_and_no_walls_leave_the_flame_in_the_pipe() {
        let products = Products::burned(&Fuel::petrol(95.0, None), 1.0);
        let input = ExhaustInput {
            completeness: 1.0,
            work_j_kg_air: 0.0,
            wall_share: 0.0,
            inlet_j_kg_air: 0.0,
            humidity_ratio: 0.0,
            flow_kg_s: 0.3,
        };
        let ledger = energy_ledger(&products, &input, &PortLoss::default());
        assert!((ledger.exhaust_j_kg_air - products.released_j).abs() < 1e-6);
        assert!(ledger.valve_k > 2200.0 && ledger.manifold_k < ledger.valve_k);
    }
}
