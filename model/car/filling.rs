//! What the cylinders swallow: the filling of their swept volume, and the manifold pressure a flow asks of them.
//!
//! Exists as the one place where the law of filling stands: factors on the swept volume, each an effect of its own. It refuses to know where
//! the pressure comes from.

use super::Added;
use super::cylinder::Asked;
use super::on_a_day::{CHARGE_GAMMA, OnADay};
use crate::engine::breathing::{fade, mach_filling, sound_speed_m_s, vapour_displacement_factor};
use crate::engine::camshaft;
use crate::engine::products::Products;
use crate::engine::residual::late_closing_cooling;
use crate::engine::tuning::tuning_factor;
use crate::numeric::Real;

/// Manifold temperature at which the speeds of tuning humps are stated, K. Equation (2.4).
const TUNING_REFERENCE_K: f64 = 310.0;

/// What the cylinders could swallow at one unit of port density.
#[derive(Debug, Clone, Copy)]
pub(super) struct Filling<R = f64> {
    pub(super) rpm: R,
    pub(super) swept_m3_s: R,
    pub(super) volume_m3_s: R,
    pub(super) mach_index: R,
    pub(super) choking_index: f64,
}

/// What depends on engine speed alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtSpeed<R = f64> {
    pub(super) rpm: R,
    /// Factors of engine speed alone.
    fade: R,
    tilt: R,
    late_closing: R,
    /// What that does to the temperature of the charge, seen as filling the whole cylinder.
    pub(super) late_cooling: R,
    /// Room that the evaporated fuel takes at the mixture asked for.
    pub(super) vapour_room: R,
    /// The mixture asked for.
    pub(super) asked: Asked<R>,
}

/// Volumetric efficiency on the density at the port, effect by effect.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Factors<R> {
    /// Of the engine as a whole; what a fit finds.
    level: f64,
    /// Of inlet valves near choking.
    choking: R,
    /// Of speeds past those that cam and pipes are made for.
    fade: R,
    /// Of everything that grows or falls evenly over engine speed.
    tilt: R,
    /// Of waves in intake and exhaust.
    tuning: R,
    /// Of inlet valves that close late.
    late_closing: R,
    /// Of the room that evaporated fuel takes.
    vapour_room: R,
}

impl<R: Real> Factors<R> {
    /// Volume filled, of one swept.
    #[inline(always)]
    fn of_swept(&self, swept_m3_s: R) -> R {
        swept_m3_s
            * self.level
            * self.choking
            * self.fade
            * self.tilt
            * self.tuning
            * self.late_closing
            * self.vapour_room
    }
}

impl OnADay<'_> {
    /// What the cylinders could swallow at an engine speed, a manifold temperature and a mixture.
    #[inline(always)]
    pub(super) fn filling<R: Real>(
        &self,
        speed: &AtSpeed<R>,
        manifold_k: R,
        vapour_room: R,
    ) -> Filling<R> {
        let rpm = speed.rpm;
        let engine = &self.car.engine;
        let breathing = &engine.breathing;
        let cylinder = &engine.geometry.cylinder;
        let mach_index = engine.valves.mach_index(
            cylinder.piston_area_m2(),
            cylinder.mean_piston_speed_m_s(rpm),
            sound_speed_m_s(manifold_k),
        );
        let choking_index = breathing.choking_ratio * engine.valves.choking_index();
        let factors = Factors {
            level: breathing.level,
            choking: mach_filling(mach_index, choking_index, breathing.choking_exponent),
            fade: speed.fade,
            tilt: speed.tilt,
            tuning: tuning_factor(&breathing.humps, rpm, manifold_k / TUNING_REFERENCE_K),
            late_closing: speed.late_closing,
            vapour_room,
        };
        let swept_m3_s = rpm * engine.geometry.displacement_m3() / 120.0;
        Filling {
            rpm,
            swept_m3_s,
            volume_m3_s: factors.of_swept(swept_m3_s),
            mach_index,
            choking_index,
        }
    }

    /// The same at one engine speed and the mixture that is left there.
    pub(super) fn filling_at(&self, speed: &AtSpeed, manifold_k: f64, lambda: f64) -> Filling {
        let vapour_room = if lambda == speed.asked.lambda {
            speed.vapour_room
        } else {
            self.vapour_room(lambda)
        };
        self.filling(speed, manifold_k, vapour_room)
    }

    /// What a search at one engine speed asks for again and again.
    #[inline(always)]
    pub(super) fn at_speed<R: Real>(&self, rpm: R) -> AtSpeed<R> {
        let engine = &self.car.engine;
        let breathing = &engine.breathing;
        let lambda = self.car.tune.lambda_at(rpm, engine.redline_rpm);
        let late_closing = self.late_closing(rpm);
        AtSpeed {
            rpm,
            fade: fade(rpm, breathing.fade_speed * engine.redline_rpm),
            tilt: breathing.tilt_at(rpm, engine.redline_rpm),
            vapour_room: self.vapour_room(lambda),
            late_closing,
            late_cooling: late_closing_cooling(late_closing),
            asked: Asked {
                lambda,
                products: Products::burned(&self.car.fuel, lambda),
                work_j_kg_air: self.work_at(lambda),
            },
        }
    }

    /// Work of the ideal cycle at the engine's level, looked up once for mixtures that are the same.
    #[inline(always)]
    fn work_at<R: Real>(&self, lambda: R) -> R {
        let first = lambda.one(0);
        let work_j_kg_air = self.work.work_j_kg_air(first);
        lambda.made(|k| match lambda.one(k) {
            same if same == first => work_j_kg_air,
            other => self.work.work_j_kg_air(other),
        })
    }

    /// Factor of inlet valves that close late, with a camshaft turned or changed.
    #[inline(always)]
    fn late_closing<R: Real>(&self, rpm: R) -> R {
        let engine = &self.car.engine;
        let (valves, cylinder) = (&engine.valves, &engine.geometry.cylinder);
        let torque_peak_rpm = engine.breathing.ram_speed * engine.redline_rpm;
        let later_deg = engine.closing_later_deg;
        valves.late_closing_factor(cylinder, rpm, torque_peak_rpm)
            * camshaft::closing_factor(valves, cylinder, later_deg, rpm, torque_peak_rpm)
    }

    /// Room the evaporated fuel leaves to the air.
    #[inline(always)]
    fn vapour_room<R: Real>(&self, lambda: R) -> R {
        let fuel = &self.car.fuel;
        let evaporated = fuel.fuel_per_air(lambda) * self.port.evaporated_share;
        vapour_displacement_factor(evaporated, fuel.molar_mass_kg_kmol)
    }

    /// Manifold pressure the cylinders need to swallow a flow, Pa.
    ///
    /// Trapped air is linear in manifold and exhaust pressure, `ṁ = V̇ (a p_im − b p_e + s p_im)/(R T_port)`, with the
    /// gain (or loss) `s` of valve overlap evaluated at the pressure delivered. What is sprayed in and has evaporated adds its
    /// partial pressure, `ΣṁR`.
    #[inline(always)]
    pub(super) fn needed_manifold_pa<R: Real>(
        &self,
        filling: &Filling<R>,
        (flow, port_k): (R, R),
        overlap_pa: R,
        manifold_pa: R,
        added: &Added,
    ) -> R {
        let engine = &self.car.engine;
        let ratio = engine.geometry.cylinder.compression_ratio;
        let swept_out =
            self.overlap
                .gain(manifold_pa, overlap_pa, filling.rpm, ratio, CHARGE_GAMMA);
        let gas_w_k = flow * self.gas.gas_constant_j_kg_k + added.vapour_w_k;
        let effective_pa = gas_w_k * port_k / filling.volume_m3_s;
        (effective_pa + overlap_pa * self.trapped.exhaust) / (swept_out + self.trapped.manifold)
    }

    /// Charge temperature at the closing valve before mixing with residual, K: warmed by the port, cooled by fuel.
    #[inline(always)]
    pub(super) fn port_k<R: Real>(&self, manifold_k: R, added: &Added, lambda: R, flow: R) -> R {
        let drop_k = self.full_evaporation_drop_k(added, lambda, flow);
        self.port.port_k(manifold_k, flow, drop_k)
    }

    /// Temperature drop if all the tank's fuel evaporated from the air's heat, K: less of it flows where methanol is sprayed,
    /// more with nitrous oxide.
    #[inline(always)]
    pub fn full_evaporation_drop_k<R: Real>(&self, added: &Added, lambda: R, flow: R) -> R {
        let fuel = &self.car.fuel;
        let drop_k = fuel.full_evaporation_drop_k(lambda);
        if *added == Added::default() {
            return drop_k;
        }
        let dry_kg_s = flow / (1.0 + self.day.humidity_ratio());
        let usual_kg_s = dry_kg_s * fuel.fuel_per_air(lambda);
        drop_k * added.tank_fuel_kg_s(fuel, lambda, dry_kg_s) / usual_kg_s
    }
}
