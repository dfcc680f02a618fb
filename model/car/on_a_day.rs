//! A car made ready for a day: everything about it that does not change with engine speed.
//!
//! Exists so that the ways of air, fuel and exhaust are worked out file by file on the same car and day, and the balance joins them. It
//! refuses anything that hangs on a flow.

use super::Car;
use crate::air::Day;
use crate::air::flow::{DuctLoss, OrificeGas};
use crate::air::gas::PerfectGas;
use crate::engine::breathing::{Overlap, PortHeating, TrappedCharge};
use crate::engine::burn_law::BurnLaw;
use crate::engine::combustion::IndicatedWork;
use crate::engine::friction::Oil;
use crate::engine::products::Products;

/// Heat-capacity ratio of the charge in the filling of the cylinder; Heywood's ideal cycle, from memory.
pub(super) const CHARGE_GAMMA: f64 = 1.3;
/// Temperature at which the exhaust gas' heat capacity is taken, K: the middle of full load (common practice, no source).
/// Equation (5.5).
const GAS_K: f64 = 1100.0;

/// What changes slowly against a revolution, and is given to an operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slow {
    /// Charge-cooler core or water, K. Without a cooler it has no effect.
    pub core_k: f64,
    /// Shaft speed of the turbochargers, rad/s; `None` for the speed at which it settles. Without one it has no effect.
    pub wheel_rad_s: Option<f64>,
    /// Time over which it still comes up from there at the acceleration found, s: an implicit step, `ω = ω₀ + t dω/dt(ω)`. Zero for a shaft that has
    /// that speed.
    pub coming_up_s: f64,
    /// Angle of half the burn that a turbocharger's boost control has heard of, deg: it hears with a delay. Without one it has no
    /// effect, and for a shaft that is to settle it is found.
    pub control_ca50_deg: f64,
}

impl Slow {
    /// A cooler at a temperature, K, and a turbocharger's shaft that has settled.
    pub const fn settled(core_k: f64) -> Self {
        Self {
            core_k,
            wheel_rad_s: None,
            coming_up_s: 0.0,
            control_ca50_deg: 0.0,
        }
    }
}

/// A car on a day: everything that does not change with engine speed, prepared once.
#[derive(Debug, Clone)]
pub struct OnADay<'a> {
    pub(super) car: &'a Car,
    pub(super) day: Day,
    pub(super) gas: PerfectGas,
    pub(super) work: IndicatedWork,
    pub(super) burn: BurnLaw,
    pub(super) port: PortHeating,
    pub(super) manifold: PortHeating,
    pub(super) trapped: TrappedCharge,
    pub(super) overlap: Overlap,
    pub(super) exhaust: DuctLoss,
    pub(super) exhaust_gas: Option<ExhaustGas>,
    pub(super) density_kg_m3: f64,
    pub(super) oil_factor: f64,
}

/// Exhaust gas as a turbine sees it, at the mixture asked for: an eighth of λ away the turbine's power moves by less than one per
/// cent, by the fits of frozen products.
#[derive(Debug, Clone, Copy)]
pub(super) struct ExhaustGas {
    pub(super) gas: PerfectGas,
    pub(super) orifice: OrificeGas,
}

impl ExhaustGas {
    /// That of a car with turbochargers.
    pub(super) fn of(car: &Car) -> Option<Self> {
        car.blower.turbo()?;
        let products = Products::burned(&car.fuel, car.tune.lambda);
        let gas = PerfectGas {
            gas_constant_j_kg_k: products.gas_constant_j_kg_k(),
            gamma: products.gamma(GAS_K),
        };
        Some(Self {
            gas,
            orifice: OrificeGas::new(gas),
        })
    }
}

impl<'a> OnADay<'a> {
    /// Prepares a car for a day.
    pub fn new(car: &'a Car, day: Day) -> Self {
        let engine = &car.engine;
        let breathing = &engine.breathing;
        let reference_flow_kg_s = car.intake.reference_flow_kg_s;
        let ratio = engine.geometry.cylinder.compression_ratio;
        Self {
            car,
            day,
            gas: PerfectGas {
                gas_constant_j_kg_k: day.gas_constant_j_kg_k(),
                ..PerfectGas::AIR
            },
            work: engine.combustion.prepare(&car.fuel, ratio),
            burn: BurnLaw::new(engine.burn, car.fuel),
            port: PortHeating {
                reference_ntu: PortHeating::ntu(breathing.port_heating),
                reference_flow_kg_s,
                wall_k: breathing.wall_k,
                evaporated_share: car.evaporated_share(),
            },
            manifold: PortHeating {
                reference_ntu: PortHeating::ntu(breathing.manifold_heating),
                reference_flow_kg_s,
                wall_k: breathing.wall_k,
                evaporated_share: 0.0,
            },
            trapped: TrappedCharge::new(ratio, CHARGE_GAMMA),
            overlap: Overlap {
                factor_deg_m: engine.overlap_deg_m,
            },
            exhaust: car.exhaust.loss(),
            exhaust_gas: ExhaustGas::of(car),
            density_kg_m3: day.density_kg_m3(),
            oil_factor: Oil::default().factor(engine.oil_k, engine.friction.oil_exponent),
        }
    }

    /// The day it was prepared for.
    pub fn day(&self) -> &Day {
        &self.day
    }

    /// The car it was prepared for.
    pub fn car(&self) -> &Car {
        self.car
    }
}
