//! One operating point at full load: the flow at which duct, blower, cooler, cylinders and exhaust agree.
//!
//! At a given engine speed everything hangs on one number, the air flow. The devices upstream deliver a manifold
//! pressure that falls with flow; the cylinders need one that rises with it; the point is where the two meet, found by a
//! bracketed root search, so that any car the constructors admit has an answer. Some numbers are not known until the
//! cylinder has been computed (gas temperature behind the valve, manifold temperature, belt slip, pressure before a turbine, and
//! the mixture where the fuel supply falls short); they are carried from one pass to the next until they stand still. It
//! refuses part load.

use super::cylinder::{self, CylinderPoint, Feed};
use super::delivery::{BlowerPoint, Delivered};
use super::limit::{Limit, Limits};
use super::turbo::ExhaustGas;
use super::{Added, Car, Ledger};
use crate::air::Day;
use crate::air::flow::DuctLoss;
use crate::air::gas::PerfectGas;
use crate::boost::ShaftPoint;
use crate::cooling::charge_cooler::CoolerPoint;
use crate::engine::breathing::{
    Overlap, PortHeating, TrappedCharge, mach_filling, sound_speed_m_s, vapour_displacement_factor,
};
use crate::engine::burn_law::BurnLaw;
use crate::engine::camshaft;
use crate::engine::combustion::IndicatedWork;
use crate::engine::friction::Oil;
use crate::engine::tuning::tuning_factor;
use crate::numeric::{RootSettings, find_root_near};
use std::f64::consts::TAU;

/// Passes allowed until the carried numbers stand still.
const MOST_PASSES: u32 = 60;
/// Relative change at which they count as standing still; the next pass would change them some thirty times less.
const SETTLED: f64 = 1e-6;
const ROUGHLY_SETTLED: f64 = 1e-4;
/// Residual of the flow search, relative to ambient pressure: coarse at first, then always finer than what the next pass
/// will change.
const COARSEST: f64 = 1e-4;
const FINEST: f64 = 1e-9;
/// Exhaust temperature that the first pass starts from, K; the answer does not depend on it.
const FIRST_EXHAUST_K: f64 = 1200.0;
/// Pressure no blower of this trade delivers, Pa.
const MOST_MANIFOLD_PA: f64 = 1.5e6;
/// Heat-capacity ratio of the charge in the filling of the cylinder; Heywood's ideal cycle, from memory.
const CHARGE_GAMMA: f64 = 1.3;
/// Manifold temperature at which the speeds of tuning humps are stated, K.
/// Equation (2.4).
pub const TUNING_REFERENCE_K: f64 = 310.0;

/// What changes slowly against a revolution, and is given to an operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slow {
    /// Charge-cooler core or water, K. Without a cooler it has no effect.
    pub core_k: f64,
    /// Shaft speed of the turbochargers, rad/s; `None` for the speed at which it settles. Without one it has no effect.
    pub wheel_rad_s: Option<f64>,
    /// Angle of half the burn that a turbocharger's boost control has heard of, deg: it hears with a delay. Without one it has no
    /// effect, and for a shaft that is to settle it is found.
    pub heard_ca50_deg: f64,
}

impl Slow {
    /// A cooler at a temperature, K, and a turbocharger's shaft that has settled.
    pub const fn settled(core_k: f64) -> Self {
        Self {
            core_k,
            wheel_rad_s: None,
            heard_ca50_deg: 0.0,
        }
    }
}

/// Everything known about one operating point at full load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OperatingPoint {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Brake torque at the crank, N m.
    pub torque_nm: f64,
    /// Moist air swallowed, kg/s.
    pub air_kg_s: f64,
    /// Pressure behind the intake duct, Pa.
    pub inlet_pa: f64,
    /// Absolute manifold pressure, Pa.
    pub manifold_pa: f64,
    /// Charge temperature in the manifold, K.
    pub charge_k: f64,
    /// Pressure behind the exhaust valve, Pa.
    pub exhaust_pa: f64,
    /// Turbine, gate and shaft of the turbochargers, if any.
    pub shaft: Option<ShaftPoint>,
    /// Volumetric efficiency on manifold density.
    pub volumetric_efficiency: f64,
    /// Inlet Mach index.
    pub mach_index: f64,
    /// The cylinders.
    pub cylinder: CylinderPoint,
    /// The blower; zeros without one.
    pub blower: BlowerPoint,
    /// The charge cooler, if any.
    pub cooler: Option<CoolerPoint>,
    /// Spray and nitrous oxide; zeros without a kit.
    pub added: Added,
    /// Where the power went.
    pub ledger: Ledger,
    /// Limits met.
    pub limits: Limits,
    /// Share of a cycle for which the injectors are told to open; none where they are not known.
    pub injector_duty: Option<f64>,
    /// Passes taken.
    pub passes: u32,
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
    trapped: TrappedCharge,
    pub(super) overlap: Overlap,
    pub(super) exhaust: DuctLoss,
    pub(super) exhaust_gas: Option<ExhaustGas>,
    pub(super) density_kg_m3: f64,
    oil_factor: f64,
}

/// Numbers carried from one pass to the next.
#[derive(Debug, Clone, Copy)]
struct Carried {
    exhaust_k: f64,
    residual_k: f64,
    manifold_k: f64,
    slip: f64,
    /// Pressure before a turbine, Pa; without one the exhaust pressure follows from the flow at once.
    turbine_pa: f64,
    /// Mixture that the fuel supply leaves; as asked for where it can follow.
    lambda: f64,
}

impl Carried {
    fn change(&self, from: &Self) -> f64 {
        let relative = |a: f64, b: f64| ((a - b) / b).abs();
        relative(self.exhaust_k, from.exhaust_k)
            .max(relative(self.residual_k, from.residual_k))
            .max(relative(self.manifold_k, from.manifold_k))
            .max((self.slip - from.slip).abs())
            .max(relative(self.turbine_pa, from.turbine_pa))
            .max(relative(self.lambda, from.lambda))
    }

    fn toward(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + share * (b - a);
        Self {
            exhaust_k: mix(self.exhaust_k, other.exhaust_k),
            residual_k: mix(self.residual_k, other.residual_k),
            manifold_k: mix(self.manifold_k, other.manifold_k),
            slip: mix(self.slip, other.slip),
            turbine_pa: mix(self.turbine_pa, other.turbine_pa),
            lambda: mix(self.lambda, other.lambda),
        }
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
                reference_share: breathing.port_heating,
                reference_flow_kg_s,
                wall_k: breathing.wall_k,
                evaporated_share: car.evaporated_share(),
            },
            manifold: PortHeating {
                reference_share: breathing.manifold_heating,
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

    /// The full-load operating point at an engine speed. `near` is a point at a neighbouring speed to start from.
    ///
    /// Never fails: a point that does not settle says so in its limits.
    /// Equation (2.19).
    pub fn at(&self, rpm: f64, slow: Slow, near: Option<&OperatingPoint>) -> OperatingPoint {
        self.settle(rpm, self.with_settled_wheel(rpm, slow), near, SETTLED)
    }

    /// The same to a ten-thousandth, for the rates of an integration that asks very often.
    pub fn roughly_at(
        &self,
        rpm: f64,
        slow: Slow,
        near: Option<&OperatingPoint>,
    ) -> OperatingPoint {
        self.settle(
            rpm,
            self.with_settled_wheel(rpm, slow),
            near,
            ROUGHLY_SETTLED,
        )
    }

    /// Equation (2.19).
    fn settle(
        &self,
        rpm: f64,
        slow: Slow,
        near: Option<&OperatingPoint>,
        enough: f64,
    ) -> OperatingPoint {
        let mut carried = Carried {
            exhaust_k: near.map_or(FIRST_EXHAUST_K, |p| p.cylinder.exhaust_k),
            residual_k: near.map_or(FIRST_EXHAUST_K, |p| p.cylinder.valve_k),
            manifold_k: near.map_or(self.day.temperature_k(), |p| p.charge_k),
            slip: near.map_or(0.0, |p| p.blower.slip),
            turbine_pa: near
                .and_then(|p| p.shaft)
                .map_or(self.day.station().pa(), |s| s.turbine.inlet_pa),
            lambda: self.car.tune.lambda_at(rpm, self.car.engine.redline_rpm),
        };
        let mut flow = near.map_or(0.5 * self.car.intake.reference_flow_kg_s, |p| {
            p.air_kg_s * rpm / p.rpm
        });
        let mut share = 1.0;
        let mut last_change: f64 = 0.02;
        let mut passes = 0;
        loop {
            let residual = (0.01 * last_change).clamp(FINEST, COARSEST);
            let (point, found, solved) =
                self.pass(rpm, slow, carried, flow, last_change.min(0.02), residual);
            passes += 1;
            let change = found.change(&carried);
            // The first comparison is with a guess, so a point is settled only from the second pass on.
            let settled = solved && change < enough && residual <= enough;
            if settled || passes >= MOST_PASSES || !change.is_finite() {
                let mut point = point;
                point.passes = passes;
                point.limits.note(Limit::Unsettled, !settled);
                return point;
            }
            // Shorten the step where the passes overshoot (gross belt slip, a starved engine), never otherwise: a shortened
            // step leaves 1 - share of what was missing, which is no overshoot.
            if passes > 1 && change > (1.0 - 0.3 * share) * last_change {
                share = f64::max(0.1, 0.6 * share);
            }
            last_change = change;
            carried = carried.toward(&found, share);
            flow = point.air_kg_s;
        }
    }

    /// One pass: the flow for the carried numbers, and the carried numbers that follow from it.
    /// Equation (2.19).
    fn pass(
        &self,
        rpm: f64,
        slow: Slow,
        carried: Carried,
        guess_kg_s: f64,
        off_by: f64,
        residual: f64,
    ) -> (OperatingPoint, Carried, bool) {
        let lambda = carried.lambda;
        let filling = self.filling(rpm, carried.manifold_k, lambda);
        let state = |flow: f64| {
            let delivered = self.delivered_past_leak(&filling, slow, &carried, flow);
            // Back pressure is stated by air flow; the fuel's share goes without saying.
            let gas_kg_s = flow + delivered.added.inert_kg_s();
            let exhaust_pa = self.exhaust_pa(gas_kg_s, carried.exhaust_k, carried.turbine_pa);
            let port_k = self.port_k(&delivered, lambda, flow);
            let needed = self.needed_manifold_pa(&filling, flow, port_k, exhaust_pa, &delivered);
            (delivered, exhaust_pa, port_k, needed)
        };
        // At this flow the cylinders would need several times any pressure a blower delivers.
        let most = filling.volume_m3_s * MOST_MANIFOLD_PA
            / (self.gas.gas_constant_j_kg_k * self.day.temperature_k());
        let root = find_root_near(
            |flow| {
                let (delivered, _, _, needed) = state(flow);
                (delivered.manifold_pa - needed) / self.day.station().pa()
            },
            guess_kg_s,
            off_by.max(1e-7) * guess_kg_s,
            1e-4 * most,
            most,
            RootSettings {
                x_tolerance: 1e-13 * most,
                residual_tolerance: residual,
                max_evaluations: 100,
            },
        );
        let flow = root.x;
        let (delivered, exhaust_pa, port_k, _) = state(flow);
        let feed = Feed {
            rpm,
            lambda,
            air_kg_s: flow,
            manifold_pa: delivered.manifold_pa,
            manifold_k: delivered.manifold_k,
            port_k,
            exhaust_pa,
            overlap_pa: self.car.exhaust.overlap_pa(exhaust_pa, flow),
            added: delivered.added,
            residual_k: carried.residual_k,
            mach_index: filling.mach_index,
            oil_factor: self.oil_factor,
        };
        let cylinder = cylinder::solve(self, &feed);
        let fuel_kg_s = cylinder.fuel_kg_s + delivered.added.methanol_kg_s;
        let exhaust = (carried.exhaust_k, slow.heard_ca50_deg);
        let shaft = self.shaft(rpm, &delivered, exhaust, (flow, fuel_kg_s));
        let ledger = Ledger::of(
            self,
            &feed,
            &cylinder,
            &delivered.blower,
            shaft.map_or(0.0, |s| s.turbine.power_w),
            delivered.cooler.as_ref(),
            delivered.leak,
        );
        let mut limits = self.limits_met(delivered.limits, &cylinder, &filling);
        limits.note(Limit::BoostShort, shaft.is_some_and(|s| s.short));
        limits.note(
            Limit::BoostHeldBack,
            shaft.is_some_and(|s| s.held_back_pa > 0.0),
        );
        let fed = self.fed(
            rpm,
            flow,
            delivered.manifold_pa,
            &delivered.added,
            &mut limits,
        );
        let density = delivered.manifold_pa / (self.gas.gas_constant_j_kg_k * delivered.manifold_k);
        let point = OperatingPoint {
            rpm,
            torque_nm: ledger.brake_w() / (rpm * TAU / 60.0),
            air_kg_s: flow,
            inlet_pa: delivered.inlet_pa,
            manifold_pa: delivered.manifold_pa,
            charge_k: delivered.manifold_k,
            exhaust_pa,
            shaft,
            volumetric_efficiency: flow / (density * filling.swept_m3_s),
            mach_index: filling.mach_index,
            cylinder,
            blower: delivered.blower,
            cooler: delivered.cooler,
            added: delivered.added,
            ledger,
            limits,
            injector_duty: fed.injector_duty,
            passes: 0,
        };
        let found = Carried {
            exhaust_k: cylinder.exhaust_k,
            residual_k: cylinder.valve_k,
            manifold_k: delivered.manifold_k,
            slip: self.slip(rpm, &delivered.blower),
            turbine_pa: shaft.map_or(carried.turbine_pa, |s| s.turbine.inlet_pa),
            lambda: fed.lambda,
        };
        (point, found, root.converged())
    }

    /// What is delivered at the engine's flow, with what escapes on the way through a hole.
    ///
    /// A hole sees the pressure that the cylinders need at this flow, which the little more heat of a larger flow hardly moves.
    fn delivered_past_leak(
        &self,
        filling: &Filling,
        slow: Slow,
        carried: &Carried,
        flow: f64,
    ) -> Delivered {
        let sound = self.delivered(filling.rpm, slow, carried.slip, (flow, 0.0));
        if self.car.defects.leak_m2 == 0.0 {
            return sound;
        }
        let gas_kg_s = flow + sound.added.inert_kg_s();
        let exhaust_pa = self.exhaust_pa(gas_kg_s, carried.exhaust_k, carried.turbine_pa);
        let port_k = self.port_k(&sound, carried.lambda, flow);
        let needed_pa = self.needed_manifold_pa(filling, flow, port_k, exhaust_pa, &sound);
        let leak_kg_s = self.leak_kg_s(needed_pa, sound.manifold_k);
        self.delivered(filling.rpm, slow, carried.slip, (flow, leak_kg_s))
    }

    /// Limits of the cylinders and their valves, beside those met on the way to them.
    fn limits_met(
        &self,
        mut limits: Limits,
        cylinder: &CylinderPoint,
        filling: &Filling,
    ) -> Limits {
        limits.note(Limit::Knock, cylinder.knock_limited);
        limits.note(Limit::KnockTable, cylinder.beyond_knock_table);
        limits.note(
            Limit::InletMach,
            filling.mach_index > 0.9 * filling.choking_index,
        );
        let geometry = &self.car.engine.geometry.cylinder;
        self.car.thresholds.note(
            &mut limits,
            cylinder.exhaust_k,
            cylinder.peak_pa,
            geometry.mean_piston_speed_m_s(filling.rpm),
        );
        limits
    }

    /// Equation (2.8).
    fn filling(&self, rpm: f64, manifold_k: f64, lambda: f64) -> Filling {
        let engine = &self.car.engine;
        let breathing = &engine.breathing;
        let cylinder = &engine.geometry.cylinder;
        let mach_index = engine.valves.mach_index(
            cylinder.piston_area_m2(),
            cylinder.mean_piston_speed_m_s(rpm),
            sound_speed_m_s(manifold_k),
        );
        let choking_index = breathing.choking_ratio * engine.valves.choking_index();
        let choking = mach_filling(mach_index, choking_index, breathing.choking_exponent);
        let torque_peak_rpm = breathing.ram_speed * engine.redline_rpm;
        let late = engine
            .valves
            .late_closing_factor(cylinder, rpm, torque_peak_rpm)
            * camshaft::closing_factor(
                &engine.valves,
                cylinder,
                engine.closing_later_deg,
                rpm,
                torque_peak_rpm,
            );
        let tilt = breathing.tilt_at(rpm, engine.redline_rpm);
        let tuning = tuning_factor(&breathing.humps, rpm, manifold_k / TUNING_REFERENCE_K);
        let swept_m3_s = engine.geometry.displacement_m3() * rpm / 120.0;
        Filling {
            rpm,
            swept_m3_s,
            volume_m3_s: swept_m3_s
                * breathing.level
                * choking
                * tilt
                * tuning
                * late
                * self.vapour_room(lambda),
            mach_index,
            choking_index,
        }
    }

    /// Manifold pressure the cylinders need to swallow a flow, Pa.
    ///
    /// Trapped air is linear in manifold and exhaust pressure, `ṁ = V̇ (a p_im − b p_e + s p_im)/(R T_port)`, with the
    /// gain (or loss) `s` of valve overlap evaluated at the pressure delivered. What is sprayed in and has evaporated adds its
    /// partial pressure, `ΣṁR`.
    /// Equation (2.8).
    fn needed_manifold_pa(
        &self,
        filling: &Filling,
        flow: f64,
        port_k: f64,
        exhaust_pa: f64,
        delivered: &Delivered,
    ) -> f64 {
        let engine = &self.car.engine;
        let ratio = engine.geometry.cylinder.compression_ratio;
        let overlap_pa = self.car.exhaust.overlap_pa(exhaust_pa, flow);
        let swept_out = self.overlap.gain(
            delivered.manifold_pa,
            overlap_pa,
            filling.rpm,
            ratio,
            CHARGE_GAMMA,
        );
        let gas_w_k = flow * self.gas.gas_constant_j_kg_k + delivered.added.vapour_w_k;
        let effective_pa = gas_w_k * port_k / filling.volume_m3_s;
        (effective_pa + self.trapped.exhaust * overlap_pa) / (self.trapped.manifold + swept_out)
    }

    /// Charge temperature at the closing valve before mixing with residual, K: warmed by the port, cooled by fuel.
    fn port_k(&self, delivered: &Delivered, lambda: f64, flow: f64) -> f64 {
        let drop_k = self.full_evaporation_drop_k(&delivered.added, lambda, flow);
        self.port.port_k(delivered.manifold_k, flow, drop_k)
    }

    /// Temperature drop if all the tank's fuel evaporated from the air's heat, K: less of it flows where methanol is sprayed,
    /// more with nitrous oxide.
    /// Equation (2.5).
    pub fn full_evaporation_drop_k(&self, added: &Added, lambda: f64, flow: f64) -> f64 {
        let fuel = &self.car.fuel;
        let drop_k = fuel.full_evaporation_drop_k(lambda);
        if *added == Added::default() {
            return drop_k;
        }
        let dry_kg_s = flow / (1.0 + self.day.humidity_ratio());
        let usual_kg_s = dry_kg_s * fuel.fuel_per_air(lambda);
        drop_k * added.tank_fuel_kg_s(fuel, lambda, dry_kg_s) / usual_kg_s
    }

    /// Room the evaporated fuel leaves to the air.
    fn vapour_room(&self, lambda: f64) -> f64 {
        let fuel = &self.car.fuel;
        let evaporated = self.port.evaporated_share * fuel.fuel_per_air(lambda);
        vapour_displacement_factor(evaporated, fuel.molar_mass_kg_kmol)
    }
}

/// What the cylinders could swallow at one unit of port density.
#[derive(Debug, Clone, Copy)]
struct Filling {
    rpm: f64,
    swept_m3_s: f64,
    volume_m3_s: f64,
    mach_index: f64,
    choking_index: f64,
}
