//! A charge cooler as a shop knows it: effectiveness and pressure drop at a flow, heat capacity, and what it rejects to.
//!
//! Exists to give the outlet state of the charge at any flow from one rated point, and the rate at which the core or its
//! water warms. Both kinds share one lumped temperature: the metal of an air-to-air core, the water (with the metal in it)
//! of an air-to-water circuit. It refuses to model the road's air stream: on a dynamometer a fan sets the rejection.
//!
//! Source: effectiveness as in [`super::effectiveness`]; falling with flow derived from conductance ∝ flow^0.6..0.8 (common
//! practice, no source); pressure drop of a turbulent core, exponent 1.8 (from memory).

use super::soak::HeatBalance;

/// Exponent of effectiveness in flow, and its standard deviation (common practice; equal to a conductance ∝ flow^0.6..0.8).
pub const FLOW_EXPONENT: (f64, f64) = (-0.15, 0.05);
/// Pressure drop at rated flow, Pa: median and standard deviation of its logarithm (common practice, no source).
pub const PRESSURE_DROP_PA: (f64, f64) = (5_000.0, 0.5);
/// Exponent of the pressure drop in flow: between turbulent (1.75) and orifice-like (2).
pub const PRESSURE_DROP_EXPONENT: f64 = 1.8;
/// Share of the heat path beyond the overall effectiveness that lies between metal and outside air. With 0.5 a cold core of
/// overall effectiveness 0.6 starts at 0.8; assumed, the split is seldom known.
pub const METAL_SHARE: f64 = 0.5;

/// Highest share of the inlet pressure that the core may lose before the loss law is cut off.
const MOST_PRESSURE_LOSS: f64 = 0.5;

/// Transfer units beyond which a core counts as complete (effectiveness 0.9999): at a trickle of flow the law would
/// otherwise round to 1 and leave nothing to divide by.
const MOST_TRANSFER_UNITS: f64 = 9.2;

/// What takes the heat away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatSink {
    /// Outside air over the core. The rated effectiveness is the settled one, charge to outside air.
    Air,
    /// A water circuit. The rated effectiveness is charge to water.
    Water,
}

/// What coolers of a kind usually are; common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualCooler {
    /// Effectiveness at the reference flow, and its standard deviation.
    pub effectiveness: (f64, f64),
    /// Heat capacity of core metal, or of water and metal, J/K: median and standard deviation of its logarithm.
    pub heat_capacity_j_k: (f64, f64),
    /// [`ChargeCooler::rejection_w_k`]: median and standard deviation of its logarithm.
    pub rejection_w_k: (f64, f64),
}

impl HeatSink {
    /// The usual cooler of this kind: a front-mounted core behind a dynamometer fan, or a small core in a water circuit
    /// whose front radiator has no air stream.
    pub const fn usual(self) -> UsualCooler {
        match self {
            Self::Air => UsualCooler {
                effectiveness: (0.60, 0.10),
                heat_capacity_j_k: (5e3, 0.3),
                rejection_w_k: (60.0, 0.5),
            },
            Self::Water => UsualCooler {
                effectiveness: (0.75, 0.08),
                heat_capacity_j_k: (15e3, 0.5),
                rejection_w_k: (120.0, 0.7),
            },
        }
    }
}

/// A charge cooler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeCooler {
    /// Effectiveness at the reference flow, between 0 and 1, both excluded.
    pub effectiveness: f64,
    /// Reference flow, kg/s.
    pub reference_flow_kg_s: f64,
    /// Exponent of effectiveness in flow at the reference, negative or zero.
    pub flow_exponent: f64,
    /// Pressure drop at the reference flow, temperature and pressure, Pa.
    pub pressure_drop_pa: f64,
    /// Inlet temperature of that pressure drop, K.
    pub reference_temperature_k: f64,
    /// Inlet pressure of that pressure drop, Pa.
    pub reference_pressure_pa: f64,
    /// Heat capacity of core metal, or of water and metal, J/K.
    pub heat_capacity_j_k: f64,
    /// Where the heat goes.
    pub sink: HeatSink,
    /// Conductance to outside air, W/K: from the core without charge flow (air), or from the water through its radiator
    /// (water).
    pub rejection_w_k: f64,
}

/// The charge at the inlet of the cooler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeStream {
    /// Mass flow, kg/s; may be 0 between pulls.
    pub flow_kg_s: f64,
    /// Total temperature, K.
    pub temperature_k: f64,
    /// Absolute total pressure, Pa.
    pub pressure_pa: f64,
    /// Specific heat at constant pressure, J/(kg K).
    pub cp_j_kg_k: f64,
}

/// A limit of the cooler.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoolerLimit {
    /// The loss law asks for more than half of the inlet pressure.
    PressureDrop,
}

/// The cooler at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolerPoint {
    /// Temperature of the charge at the outlet, K.
    pub outlet_temperature_k: f64,
    /// Absolute pressure at the outlet, Pa.
    pub outlet_pressure_pa: f64,
    /// Pressure lost, Pa.
    pub pressure_drop_pa: f64,
    /// Heat taken from the charge, W.
    pub heat_w: f64,
    /// Heat given to the outside air, W.
    pub rejected_w: f64,
    /// Rate of the core's or the water's temperature, K/s: (heat − rejected)/capacity.
    pub soak_rate_k_s: f64,
    /// The limit met, if any.
    pub limit: Option<CoolerLimit>,
}

impl ChargeCooler {
    /// A cooler of known effectiveness at a flow, losing [`PRESSURE_DROP_PA`] at 400 K and 160 kPa and rejecting what its kind
    /// usually does.
    pub fn rated(
        effectiveness: f64,
        reference_flow_kg_s: f64,
        heat_capacity_j_k: f64,
        sink: HeatSink,
    ) -> Self {
        Self {
            effectiveness,
            reference_flow_kg_s,
            flow_exponent: FLOW_EXPONENT.0,
            pressure_drop_pa: PRESSURE_DROP_PA.0,
            reference_temperature_k: 400.0,
            reference_pressure_pa: 160_000.0,
            heat_capacity_j_k,
            sink,
            rejection_w_k: sink.usual().rejection_w_k.0,
        }
    }

    /// Rated effectiveness at another flow.
    ///
    /// ```text
    /// ε = 1 − exp(−N₀ (ṁ/ṁ₀)^−y),   y = −x ε₀/(N₀ (1 − ε₀)),   N₀ = −ln(1 − ε₀)
    /// ```
    ///
    /// Equal to ε₀ (ṁ/ṁ₀)^x in value and slope at the reference flow, but never above 1 at small flow. For ε₀ 0.6 to 0.82
    /// and x = −0.15 the conductance goes with flow^0.75 to flow^0.60, as turbulent cores do (derived).
    /// Equation (5.7).
    pub fn effectiveness_at(&self, flow_kg_s: f64) -> f64 {
        let ntu = -(-self.effectiveness).ln_1p();
        let y = -self.flow_exponent * self.effectiveness / (ntu * (1.0 - self.effectiveness));
        let relative = (flow_kg_s / self.reference_flow_kg_s).max(0.0);
        -(-(ntu * relative.powf(-y)).min(MOST_TRANSFER_UNITS)).exp_m1()
    }

    /// Pressure drop, Pa: `Δp = Δp₀ (ṁ/ṁ₀)^1.8 (T/T₀)(p₀/p)`, at most half the inlet pressure.
    /// Equation (5.7).
    pub fn pressure_drop_at_pa(&self, charge: ChargeStream) -> (f64, Option<CoolerLimit>) {
        let relative = (charge.flow_kg_s / self.reference_flow_kg_s).max(0.0);
        let drop = self.pressure_drop_pa
            * relative.powf(PRESSURE_DROP_EXPONENT)
            * (charge.temperature_k / self.reference_temperature_k)
            * (self.reference_pressure_pa / charge.pressure_pa);
        let most = MOST_PRESSURE_LOSS * charge.pressure_pa;
        if drop > most {
            (most, Some(CoolerLimit::PressureDrop))
        } else {
            (drop, None)
        }
    }

    /// Conductances charge to mass and mass to outside air, W/K.
    /// Equation (5.7).
    fn conductances(&self, charge: ChargeStream) -> (f64, f64) {
        let capacity = charge.flow_kg_s * charge.cp_j_kg_k;
        if capacity <= 0.0 {
            return (0.0, self.rejection_w_k);
        }
        let overall = self.effectiveness_at(charge.flow_kg_s);
        match self.sink {
            HeatSink::Water => (overall * capacity, self.rejection_w_k),
            HeatSink::Air => {
                let to_metal = overall + (1.0 - overall) * METAL_SHARE;
                // In series they give back the overall effectiveness once the metal has settled; the outer film cannot be
                // worse than it is without charge flow.
                let outer = capacity / (1.0 / overall - 1.0 / to_metal);
                (to_metal * capacity, outer.max(self.rejection_w_k))
            }
        }
    }

    /// The cooler with its core or water at `mass_k`.
    /// Equation (5.7).
    pub fn at(&self, charge: ChargeStream, mass_k: f64, ambient_k: f64) -> CoolerPoint {
        let (inner, outer) = self.conductances(charge);
        let capacity = charge.flow_kg_s * charge.cp_j_kg_k;
        let heat_w = inner * (charge.temperature_k - mass_k);
        let rejected_w = outer * (mass_k - ambient_k);
        let (pressure_drop_pa, limit) = self.pressure_drop_at_pa(charge);
        let outlet_temperature_k = if capacity > 0.0 {
            charge.temperature_k - heat_w / capacity
        } else {
            mass_k
        };
        CoolerPoint {
            outlet_temperature_k,
            outlet_pressure_pa: charge.pressure_pa - pressure_drop_pa,
            pressure_drop_pa,
            heat_w,
            rejected_w,
            soak_rate_k_s: (heat_w - rejected_w) / self.heat_capacity_j_k,
            limit,
        }
    }

    /// The heat balance of core or water under constant conditions, for an exact step or the settled temperature.
    pub fn balance(&self, charge: ChargeStream, ambient_k: f64) -> HeatBalance {
        let (inner, outer) = self.conductances(charge);
        HeatBalance::between(
            self.heat_capacity_j_k,
            (inner, charge.temperature_k),
            (outer, ambient_k),
        )
    }

    /// Temperature of core or water after resting without charge flow, K.
    pub fn after_rest_k(&self, mass_k: f64, ambient_k: f64, duration_s: f64) -> f64 {
        HeatBalance::between(
            self.heat_capacity_j_k,
            (0.0, mass_k),
            (self.rejection_w_k, ambient_k),
        )
        .after_k(mass_k, duration_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHARGE: ChargeStream = ChargeStream {
        flow_kg_s: 0.45,
        temperature_k: 380.0,
        pressure_pa: 160_000.0,
        cp_j_kg_k: 1005.0,
    };

    #[test]
    fn the_settled_air_cooler_shows_its_rated_effectiveness() {
        let cooler = ChargeCooler::rated(0.6, 0.3, 5_000.0, HeatSink::Air);
        for flow in [0.05, 0.3, 0.6] {
            let charge = ChargeStream {
                flow_kg_s: flow,
                ..CHARGE
            };
            let settled = cooler.balance(charge, 300.0).settled_temperature_k;
            let p = cooler.at(charge, settled, 300.0);
            let shown = (380.0 - p.outlet_temperature_k) / 80.0;
            assert!(
                (shown - cooler.effectiveness_at(flow)).abs() < 1e-12,
                "{shown}"
            );
            assert!(p.soak_rate_k_s.abs() < 1e-9);
        }
    }

    #[test]
    fn a_cold_core_flatters() {
        let cooler = ChargeCooler::rated(0.6, 0.3, 5_000.0, HeatSink::Air);
        let cold = cooler.at(CHARGE, 300.0, 300.0).outlet_temperature_k;
        let settled = cooler.balance(CHARGE, 300.0).settled_temperature_k;
        assert!(cold < cooler.at(CHARGE, settled, 300.0).outlet_temperature_k);
    }

    #[test]
    fn effectiveness_has_the_stated_value_and_slope_at_the_reference_flow() {
        let cooler = ChargeCooler::rated(0.75, 0.4, 4e4, HeatSink::Water);
        assert!((cooler.effectiveness_at(0.4) - 0.75).abs() < 1e-15);
        let slope = (cooler.effectiveness_at(0.4004) / cooler.effectiveness_at(0.3996)).ln()
            / (1.001_f64 / 0.999).ln();
        assert!((slope + 0.15).abs() < 1e-5, "{slope}");
    }

    #[test]
    fn no_flow_leaves_the_charge_at_the_temperature_of_the_core() {
        let cooler = ChargeCooler::rated(0.75, 0.4, 4e4, HeatSink::Water);
        let p = cooler.at(
            ChargeStream {
                flow_kg_s: 0.0,
                ..CHARGE
            },
            330.0,
            300.0,
        );
        assert_eq!(
            (p.outlet_temperature_k, p.pressure_drop_pa, p.heat_w),
            (330.0, 0.0, 0.0)
        );
    }
}
