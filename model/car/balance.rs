//! One operating point at full load: the flow at which duct, blower, cooler, cylinders and exhaust agree.
//!
//! At a given engine speed everything hangs on one number, the air flow. The devices upstream deliver a manifold
//! pressure that falls with flow; the cylinders need one that rises with it; the point is where the two meet. Some numbers are not
//! known until the cylinder has been computed (gas temperature behind the valve, manifold temperature, belt slip, pressure before a
//! turbine, and the mixture where the fuel supply falls short); they are carried from one pass to the next until they stand still.
//! Flow and carried numbers settle together in a few passes nearly always; where they do not, a bracketed search for the flow within
//! each pass answers for any car the constructors admit. It refuses part load.

use super::cylinder::{self, Burned, CylinderPoint, Feed};
use super::delivery::{BlowerPoint, Delivered};
use super::fed::Fed;
use super::filling::{AtSpeed, Filling};
use super::limit::{Limit, Limits};
use super::on_a_day::{OnADay, Slow};
use super::sweep::{Carried, Settled, Sweep, UNKNOWNS, WHEEL};
use super::{Added, Ledger};
use crate::boost::ShaftPoint;
use crate::cooling::charge_cooler::CoolerPoint;
use crate::numeric::{Broyden, Real, Root, RootSettings, find_root_near, greatest};
use crate::units;

/// Passes allowed until the carried numbers stand still.
const MOST_PASSES: u32 = 60;
/// Relative change at which they count as standing still; the next pass would change them some thirty times less.
const SETTLED: f64 = 5e-7;
const ROUGHLY_SETTLED: f64 = 1e-4;
/// Residual of the flow search, relative to ambient pressure: coarse at first, then always finer than what the next pass
/// will change.
const COARSEST: f64 = 1e-4;
const FINEST: f64 = 1e-9;
/// The same for the flow with which a search without a neighbour begins.
const FIRST_RESIDUAL: f64 = 1e-2;
/// Passes in which flow and carried numbers may settle together, and those after which each must bring the gap below this share of the
/// least before.
const MOST_TOGETHER: u32 = 25;
const PATIENCE: u32 = 5;
const LEAST_GAIN: f64 = 0.7;
/// Slope of the gap that an unblown engine's search starts with: ambient pressures per relative change of flow.
pub(super) const USUAL_SLOPE: f64 = 1.2;
/// Longest step, relative to the flow and to what the carried numbers are measured in.
const MOST_STEP: f64 = 0.3;
/// Weights of the gaps of flow and carried numbers (in their order). A gap of the gas temperatures behind the valve moves what is found a thirtieth as
/// far: it acts through the little that is left of the charge before, and on a turbine.
const WEIGHTS: [f64; UNKNOWNS] = [3.0, 0.1, 0.1, 1.0, 1.0, 1.0, 1.0, 0.0];
const WEIGHTS_BEFORE_A_TURBINE: [f64; UNKNOWNS] = [3.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 3.0];
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
    /// Where the search ended.
    pub settled: Settled,
}

/// The gas path at one flow.
pub(super) struct Path {
    pub(super) delivered: Delivered,
    pub(super) around: Around,
}

/// What stands around the cylinders.
#[derive(Debug, Clone, Copy)]
pub(super) struct Around<R = f64> {
    /// Pressure behind the exhaust valve, Pa; around top dead centre, Pa.
    pub(super) exhaust_pa: R,
    pub(super) overlap_pa: R,
    pub(super) port_k: R,
    /// Manifold pressure that the cylinders need, Pa.
    pub(super) needed_pa: R,
}

/// What the cylinders made of it.
pub(super) struct Pass {
    pub(super) feed: Feed,
    pub(super) burned: Burned,
    pub(super) shaft: Option<ShaftPoint>,
    pub(super) fed: Fed,
    pub(super) found: Carried,
}

impl OnADay<'_> {
    /// The full-load operating point at an engine speed. `near` is a point at a neighbouring speed to start from.
    ///
    /// Never fails: a point that does not settle says so in its limits.
    /// Equation (2.19).
    pub fn at(&self, rpm: f64, slow: Slow, near: Option<&OperatingPoint>) -> OperatingPoint {
        let mut sweep = near.map_or_else(Sweep::default, Sweep::after);
        self.along(rpm, slow, &mut sweep)
    }

    /// The same as the next point of a sweep: foreseen from those before.
    pub fn along(&self, rpm: f64, slow: Slow, sweep: &mut Sweep) -> OperatingPoint {
        self.settle(rpm, self.with_settled_wheel(rpm, slow), sweep, SETTLED)
    }

    /// The same to a ten-thousandth, for the rates of an integration that asks very often.
    pub fn roughly_along(&self, rpm: f64, slow: Slow, sweep: &mut Sweep) -> OperatingPoint {
        self.settle(
            rpm,
            self.with_settled_wheel(rpm, slow),
            sweep,
            ROUGHLY_SETTLED,
        )
    }

    /// The same as [`OnADay::at`] by the bracketed search alone, from no neighbour: several times slower, and what the quick search is
    /// held to.
    /// Equation (2.19).
    pub fn bracketed_at(&self, rpm: f64, slow: Slow) -> OperatingPoint {
        let speed = self.at_speed(rpm);
        let slow = self.with_settled_wheel(rpm, slow);
        let start = slow.starting(self.guess(&speed));
        self.one_in_the_other(&speed, slow, start, SETTLED, 0)
    }

    /// Equation (2.19).
    fn settle(&self, rpm: f64, slow: Slow, sweep: &mut Sweep, enough: f64) -> OperatingPoint {
        let speed = self.at_speed(rpm);
        let foreseen = sweep.foreseen(rpm, speed.asked.lambda);
        let start = foreseen.map_or_else(
            || self.with_flow(&speed, slow, slow.starting(self.guess(&speed))),
            |start| slow.starting(start),
        );
        let filling = self.filling_at(&speed, start.carried.manifold_k, start.carried.lambda);
        let start = match foreseen {
            Some(_) => start.swallowing(filling.volume_m3_s),
            None => start,
        };
        let start = (start, filling);
        let point = match self.together(&speed, slow, start, &mut sweep.slope, enough) {
            Ok(point) => point,
            Err((reached, passes)) => {
                sweep.slope = Broyden::default();
                self.one_in_the_other(&speed, slow, reached, enough, passes)
            }
        };
        sweep.go_on(&point.settled);
        point
    }

    /// The same numbers with the flow that goes with them, roughly: a wild guess must not be learned from.
    fn with_flow(&self, speed: &AtSpeed, slow: Slow, mut at: Settled) -> Settled {
        let filling = self.filling_at(speed, at.carried.manifold_k, at.carried.lambda);
        at.flow_kg_s = self.flow(&filling, slow, &at, 0.02, FIRST_RESIDUAL).x;
        at
    }

    /// Flow and carried numbers settled together: each pass looks at the gas path once, and takes all of them the step on that the looks
    /// before have taught. `Err` with the place reached where that does not close in.
    /// Equation (2.19).
    fn together(
        &self,
        speed: &AtSpeed,
        slow: Slow,
        (start, mut filling): (Settled, Filling),
        slope: &mut Broyden<UNKNOWNS>,
        enough: f64,
    ) -> Result<OperatingPoint, (Settled, u32)> {
        let station_pa = self.day.station().pa();
        let mut at = start;
        let mut last: Option<([f64; UNKNOWNS], [f64; UNKNOWNS])> = None;
        let mut best = f64::INFINITY;
        let weights = if self.car.blower.turbo().is_some() {
            WEIGHTS_BEFORE_A_TURBINE
        } else {
            WEIGHTS
        };
        for passes in 1..=MOST_TOGETHER {
            let path = self.path(&filling, slow, &at.carried, at.flow_kg_s);
            let pass = self.burn(speed, slow, &at, &filling, &path);
            let flow_gap =
                (path.delivered.manifold_pa - path.around.needed_pa) / (USUAL_SLOPE * station_pa);
            let gap = pass.found.gap(&at.carried, flow_gap);
            if let Some((step, before)) = &last {
                slope.learn(step, before, &gap);
            }
            let mut step = slope.step(&gap).map(|s| s.clamp(-MOST_STEP, MOST_STEP));
            if !slow.comes_up() {
                step[WHEEL] = 0.0;
            }
            let change = greatest(gap.iter().zip(&weights).map(|(gap, w)| w * gap.abs()));
            let knock_ca50_deg = pass.burned.knock_ca50_deg;
            if change < enough {
                let mut point = self.finish(&at, &filling, &path, &pass);
                point.passes = passes;
                point.settled.advance(&step);
                point.settled.knock_ca50_deg = knock_ca50_deg;
                return Ok(point);
            }
            if !change.is_finite() || (passes > PATIENCE && change > LEAST_GAIN * best) {
                return Err((if change.is_finite() { at } else { start }, passes));
            }
            best = best.min(change);
            at.advance(&step);
            at.knock_ca50_deg = knock_ca50_deg;
            last = Some((step, gap));
            filling = self.filling_at(speed, at.carried.manifold_k, at.carried.lambda);
        }
        Err((at, MOST_TOGETHER))
    }

    /// The flow found by a bracketed search within each pass of the carried numbers: slower, and never at a loss.
    /// Equation (2.19).
    fn one_in_the_other(
        &self,
        speed: &AtSpeed,
        slow: Slow,
        start: Settled,
        enough: f64,
        spent: u32,
    ) -> OperatingPoint {
        let mut at = start;
        let mut share = 1.0;
        let mut last_change: f64 = 0.02;
        let mut passes = 0;
        loop {
            let residual = (0.01 * last_change).clamp(FINEST, COARSEST);
            let filling = self.filling_at(speed, at.carried.manifold_k, at.carried.lambda);
            let root = self.flow(&filling, slow, &at, last_change.min(0.02), residual);
            at.flow_kg_s = root.x;
            let path = self.path(&filling, slow, &at.carried, at.flow_kg_s);
            let pass = self.burn(speed, slow, &at, &filling, &path);
            passes += 1;
            let found = pass.found;
            let knock_ca50_deg = pass.burned.knock_ca50_deg;
            let change = found.change(&at.carried);
            // The first comparison is with a guess, so a point is settled only from the second pass on.
            let settled = root.converged() && change < enough && residual <= enough;
            if settled || passes >= MOST_PASSES || !change.is_finite() {
                let mut point = self.finish(&at, &filling, &path, &pass);
                point.passes = spent + passes;
                point.limits.note(Limit::Unsettled, !settled);
                return point;
            }
            // Shorten the step where the passes overshoot (gross belt slip, a starved engine), never otherwise: a shortened
            // step leaves 1 - share of what was missing, which is no overshoot.
            if passes > 1 && change > (1.0 - 0.3 * share) * last_change {
                share = f64::max(0.1, 0.6 * share);
            }
            last_change = change;
            at.carried = at.carried.toward(&found, share);
            at.knock_ca50_deg = knock_ca50_deg;
        }
    }

    /// The flow, kg/s, at which what is delivered is what the cylinders need, for the carried numbers.
    fn flow(
        &self,
        filling: &Filling,
        slow: Slow,
        at: &Settled,
        off_by: f64,
        residual: f64,
    ) -> Root {
        // At this flow the cylinders would need several times any pressure a blower delivers.
        let most = filling.volume_m3_s * MOST_MANIFOLD_PA
            / (self.gas.gas_constant_j_kg_k * self.day.temperature_k());
        find_root_near(
            |flow| {
                let path = self.path(filling, slow, &at.carried, flow);
                (path.delivered.manifold_pa - path.around.needed_pa) / self.day.station().pa()
            },
            at.flow_kg_s,
            off_by.max(1e-7) * at.flow_kg_s,
            1e-4 * most,
            most,
            RootSettings {
                x_tolerance: 1e-13 * most,
                residual_tolerance: residual,
                max_evaluations: 100,
            },
        )
    }

    /// The gas path at a flow: what is delivered, and what the cylinders would need.
    fn path(&self, filling: &Filling, slow: Slow, carried: &Carried, flow: f64) -> Path {
        let delivered = self.delivered_past_leak(filling, slow.at_wheel(carried), carried, flow);
        let around = self.around(filling, &delivered, carried, flow);
        Path { delivered, around }
    }

    fn around(
        &self,
        filling: &Filling,
        delivered: &Delivered,
        carried: &Carried,
        flow: f64,
    ) -> Around {
        self.around_cylinders(
            filling,
            (delivered.manifold_pa, delivered.manifold_k),
            &delivered.added,
            (carried.exhaust_k, carried.turbine_pa),
            (carried.lambda, flow),
        )
    }

    /// Pressure behind the cylinders, charge temperature at their ports, and the pressure they need for a flow of what is delivered.
    #[inline(always)]
    pub(super) fn around_cylinders<R: Real>(
        &self,
        filling: &Filling<R>,
        (manifold_pa, manifold_k): (R, R),
        added: &Added,
        (exhaust_k, turbine_pa): (R, R),
        (lambda, flow): (R, R),
    ) -> Around<R> {
        // Back pressure is stated by air flow; the fuel's share goes without saying.
        let gas_kg_s = flow + added.inert_kg_s();
        let exhaust_pa = self.exhaust_pa(gas_kg_s, exhaust_k, turbine_pa);
        let overlap_pa = self.car.exhaust.overlap_pa(exhaust_pa, flow);
        let port_k = self.port_k(manifold_k, added, lambda, flow);
        let needed_pa =
            self.needed_manifold_pa(filling, (flow, port_k), overlap_pa, manifold_pa, added);
        Around {
            exhaust_pa,
            overlap_pa,
            port_k,
            needed_pa,
        }
    }

    /// What the cylinders make of a flow, and the carried numbers that follow.
    fn burn(
        &self,
        speed: &AtSpeed,
        slow: Slow,
        at: &Settled,
        filling: &Filling,
        path: &Path,
    ) -> Pass {
        let (rpm, flow, carried) = (speed.rpm, at.flow_kg_s, &at.carried);
        let delivered = &path.delivered;
        let feed = Feed {
            rpm,
            // A step of the search may fall short of what is asked by a hair.
            lambda: carried.lambda.max(speed.asked.lambda),
            air_kg_s: flow,
            manifold_pa: delivered.manifold_pa,
            manifold_k: delivered.manifold_k,
            port_k: path.around.port_k,
            exhaust_pa: path.around.exhaust_pa,
            overlap_pa: path.around.overlap_pa,
            added: delivered.added,
            residual_k: carried.residual_k,
            mach_index: filling.mach_index,
            late_cooling: speed.late_cooling,
            near_ca50_deg: at.knock_ca50_deg,
            asked: speed.asked,
        };
        let burned = cylinder::burn(self, &feed);
        let fuel_kg_s = burned.fuel_kg_s + delivered.added.methanol_kg_s;
        let exhaust = (carried.exhaust_k, slow.control_ca50_deg);
        let shaft = self.shaft(rpm, delivered, exhaust, (flow, fuel_kg_s));
        let fed = self.fed(rpm, flow, delivered.manifold_pa, &delivered.added);
        let found = Carried {
            exhaust_k: burned.heat.manifold_k,
            residual_k: burned.heat.valve_k,
            manifold_k: delivered.manifold_k,
            slip: self.slip(rpm, &delivered.blower),
            turbine_pa: shaft.map_or(carried.turbine_pa, |s| s.turbine.inlet_pa),
            lambda: fed.lambda,
            wheel_rad_s: self.wheel_rad_s(slow, shaft.as_ref()),
        };
        Pass {
            feed,
            burned,
            shaft,
            fed,
            found,
        }
    }

    /// Everything else that is known of a settled pass.
    pub(super) fn finish(
        &self,
        at: &Settled,
        filling: &Filling,
        path: &Path,
        pass: &Pass,
    ) -> OperatingPoint {
        let (rpm, flow) = (at.rpm, at.flow_kg_s);
        let (delivered, feed, shaft) = (&path.delivered, &pass.feed, pass.shaft);
        let cylinder = cylinder::finish(self, feed, &pass.burned);
        let turbine_w = shaft.map_or(0.0, |s| s.turbine.power_w);
        let ledger = Ledger::of(
            self,
            feed,
            &cylinder,
            &delivered.blower,
            turbine_w,
            delivered.cooler.as_ref(),
            delivered.leak,
        );
        let mut limits = self.limits_met(delivered.limits, &cylinder, filling);
        limits.note(Limit::BoostShort, shaft.is_some_and(|s| s.short));
        let held_back = shaft.is_some_and(|s| s.held_back_pa > 0.0);
        limits.note(Limit::BoostHeldBack, held_back);
        limits.join(pass.fed.limits);
        let density = delivered.manifold_pa / (self.gas.gas_constant_j_kg_k * delivered.manifold_k);
        OperatingPoint {
            rpm,
            torque_nm: ledger.brake_w() / units::rad_s(rpm),
            air_kg_s: flow,
            inlet_pa: delivered.inlet_pa,
            manifold_pa: delivered.manifold_pa,
            charge_k: delivered.manifold_k,
            exhaust_pa: path.around.exhaust_pa,
            shaft,
            volumetric_efficiency: flow / (density * filling.swept_m3_s),
            mach_index: filling.mach_index,
            cylinder,
            blower: delivered.blower,
            cooler: delivered.cooler,
            added: delivered.added,
            ledger,
            limits,
            injector_duty: pass.fed.injector_duty,
            passes: 0,
            settled: Settled {
                volume_m3_s: filling.volume_m3_s,
                ..*at
            },
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
        let around = self.around(filling, &sound, carried, flow);
        let leak_kg_s = self.leak_kg_s(around.needed_pa, sound.manifold_k);
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
