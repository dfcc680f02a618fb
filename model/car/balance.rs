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
use super::filling::Filling;
use super::limit::{Limit, Limits};
use super::on_a_day::{OnADay, Slow};
use super::{Added, Ledger};
use crate::boost::ShaftPoint;
use crate::cooling::charge_cooler::CoolerPoint;
use crate::numeric::{Root, RootSettings, find_root_near};
use crate::units;

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

/// What a pass starts from.
struct Guess {
    carried: Carried,
    flow_kg_s: f64,
    /// How far off that flow may be, of itself.
    off_by: f64,
    /// Residual of the search for the flow, relative to ambient pressure.
    residual: f64,
}

/// What stands before and behind the cylinders at a flow.
struct Charge {
    delivered: Delivered,
    exhaust_pa: f64,
    port_k: f64,
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

impl OnADay<'_> {
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
            let guess = Guess {
                carried,
                flow_kg_s: flow,
                off_by: last_change.min(0.02),
                residual,
            };
            let (point, found, solved) = self.pass(rpm, slow, &guess);
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
    fn pass(&self, rpm: f64, slow: Slow, guess: &Guess) -> (OperatingPoint, Carried, bool) {
        let carried = &guess.carried;
        let filling = self.filling(rpm, carried.manifold_k, carried.lambda);
        let root = self.flow(&filling, slow, guess);
        let flow = root.x;
        let charge = self.charge(&filling, slow, carried, flow);
        let delivered = &charge.delivered;
        let feed = self.feed(&filling, carried, flow, &charge);
        let cylinder = cylinder::solve(self, &feed);
        let fuel_kg_s = cylinder.fuel_kg_s + delivered.added.methanol_kg_s;
        let exhaust = (carried.exhaust_k, slow.control_ca50_deg);
        let shaft = self.shaft(rpm, delivered, exhaust, (flow, fuel_kg_s));
        let turbine_w = shaft.map_or(0.0, |s| s.turbine.power_w);
        let ledger = Ledger::of(
            self,
            &feed,
            &cylinder,
            &delivered.blower,
            turbine_w,
            delivered.cooler.as_ref(),
            delivered.leak,
        );
        let mut limits = self.limits_met(delivered.limits, &cylinder, &filling);
        limits.note(Limit::BoostShort, shaft.is_some_and(|s| s.short));
        let held_back = shaft.is_some_and(|s| s.held_back_pa > 0.0);
        limits.note(Limit::BoostHeldBack, held_back);
        let (manifold_pa, manifold_k) = (delivered.manifold_pa, delivered.manifold_k);
        let fed = self.fed(rpm, flow, manifold_pa, &delivered.added, &mut limits);
        let density = manifold_pa / (self.gas.gas_constant_j_kg_k * manifold_k);
        let point = OperatingPoint {
            rpm,
            torque_nm: ledger.brake_w() / units::rad_s(rpm),
            air_kg_s: flow,
            inlet_pa: delivered.inlet_pa,
            manifold_pa,
            charge_k: manifold_k,
            exhaust_pa: charge.exhaust_pa,
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
            manifold_k,
            slip: self.slip(rpm, &delivered.blower),
            turbine_pa: shaft.map_or(carried.turbine_pa, |s| s.turbine.inlet_pa),
            lambda: fed.lambda,
        };
        (point, found, root.converged())
    }

    /// The flow, kg/s, at which what is delivered is what the cylinders need.
    fn flow(&self, filling: &Filling, slow: Slow, guess: &Guess) -> Root {
        // At this flow the cylinders would need several times any pressure a blower delivers.
        let most = filling.volume_m3_s * MOST_MANIFOLD_PA
            / (self.gas.gas_constant_j_kg_k * self.day.temperature_k());
        find_root_near(
            |flow| {
                let charge = self.charge(filling, slow, &guess.carried, flow);
                let needed_pa = self.needed_manifold_pa(
                    filling,
                    flow,
                    charge.port_k,
                    charge.exhaust_pa,
                    &charge.delivered,
                );
                (charge.delivered.manifold_pa - needed_pa) / self.day.station().pa()
            },
            guess.flow_kg_s,
            guess.off_by.max(1e-7) * guess.flow_kg_s,
            1e-4 * most,
            most,
            RootSettings {
                x_tolerance: 1e-13 * most,
                residual_tolerance: guess.residual,
                max_evaluations: 100,
            },
        )
    }

    /// What stands before and behind the cylinders at a flow.
    fn charge(&self, filling: &Filling, slow: Slow, carried: &Carried, flow: f64) -> Charge {
        let delivered = self.delivered_past_leak(filling, slow, carried, flow);
        let (exhaust_pa, port_k) = self.around_cylinders(&delivered, carried, flow);
        Charge {
            delivered,
            exhaust_pa,
            port_k,
        }
    }

    /// Pressure behind the cylinders, Pa, and charge temperature at their ports, K.
    fn around_cylinders(&self, delivered: &Delivered, carried: &Carried, flow: f64) -> (f64, f64) {
        // Back pressure is stated by air flow; the fuel's share goes without saying.
        let gas_kg_s = flow + delivered.added.inert_kg_s();
        (
            self.exhaust_pa(gas_kg_s, carried.exhaust_k, carried.turbine_pa),
            self.port_k(delivered, carried.lambda, flow),
        )
    }

    /// The same as the cylinders are told it.
    fn feed(&self, filling: &Filling, carried: &Carried, flow: f64, charge: &Charge) -> Feed {
        Feed {
            rpm: filling.rpm,
            lambda: carried.lambda,
            air_kg_s: flow,
            manifold_pa: charge.delivered.manifold_pa,
            manifold_k: charge.delivered.manifold_k,
            port_k: charge.port_k,
            exhaust_pa: charge.exhaust_pa,
            overlap_pa: self.car.exhaust.overlap_pa(charge.exhaust_pa, flow),
            added: charge.delivered.added,
            residual_k: carried.residual_k,
            mach_index: filling.mach_index,
            oil_factor: self.oil_factor,
        }
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
        let (exhaust_pa, port_k) = self.around_cylinders(&sound, carried, flow);
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
}
