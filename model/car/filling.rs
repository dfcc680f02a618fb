//! What the cylinders swallow: the filling of their swept volume, and the manifold pressure a flow asks of them.
//!
//! Exists as the one place where the law of filling stands: factors on the swept volume, each an effect of its own. It refuses to know where
//! the pressure comes from.

use super::Added;
use super::cylinder::Asked;
use super::delivery::Delivered;
use super::on_a_day::{CHARGE_GAMMA, OnADay};
use crate::engine::breathing::{fade, mach_filling, sound_speed_m_s, vapour_displacement_factor};
use crate::engine::camshaft;
use crate::engine::products::Products;
use crate::engine::residual::late_closing_cooling;
use crate::engine::tuning::tuning_factor;

/// Manifold temperature at which the speeds of tuning humps are stated, K. Equation (2.4).
const TUNING_REFERENCE_K: f64 = 310.0;

/// What the cylinders could swallow at one unit of port density.
#[derive(Debug, Clone, Copy)]
pub(super) struct Filling {
    pub(super) rpm: f64,
    pub(super) swept_m3_s: f64,
    pub(super) volume_m3_s: f64,
    pub(super) mach_index: f64,
    pub(super) choking_index: f64,
}

/// What depends on engine speed alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtSpeed {
    pub(super) rpm: f64,
    /// Factors of engine speed alone.
    fade: f64,
    tilt: f64,
    late_closing: f64,
    /// What that does to the temperature of the charge, seen as filling the whole cylinder.
    pub(super) late_cooling: f64,
    /// Room that the evaporated fuel takes at the mixture asked for.
    vapour_room: f64,
    /// The mixture asked for.
    pub(super) asked: Asked,
}

/// Volumetric efficiency on the density at the port, effect by effect.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Factors {
    /// Of the engine as a whole; what a fit finds.
    level: f64,
    /// Of inlet valves near choking.
    choking: f64,
    /// Of speeds past those that cam and pipes are made for.
    fade: f64,
    /// Of everything that grows or falls evenly over engine speed.
    tilt: f64,
    /// Of waves in intake and exhaust.
    tuning: f64,
    /// Of inlet valves that close late.
    late_closing: f64,
    /// Of the room that evaporated fuel takes.
    vapour_room: f64,
}

impl Factors {
    /// Volume filled, of one swept.
    fn of_swept(&self, swept_m3_s: f64) -> f64 {
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
    pub(super) fn filling(&self, speed: &AtSpeed, manifold_k: f64, lambda: f64) -> Filling {
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
            vapour_room: if lambda == speed.asked.lambda {
                speed.vapour_room
            } else {
                self.vapour_room(lambda)
            },
        };
        let swept_m3_s = engine.geometry.displacement_m3() * rpm / 120.0;
        Filling {
            rpm,
            swept_m3_s,
            volume_m3_s: factors.of_swept(swept_m3_s),
            mach_index,
            choking_index,
        }
    }

    /// What a search at one engine speed asks for again and again.
    pub(super) fn at_speed(&self, rpm: f64) -> AtSpeed {
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
            },
        }
    }

    /// Factor of inlet valves that close late, with a camshaft turned or changed.
    fn late_closing(&self, rpm: f64) -> f64 {
        let engine = &self.car.engine;
        let (valves, cylinder) = (&engine.valves, &engine.geometry.cylinder);
        let torque_peak_rpm = engine.breathing.ram_speed * engine.redline_rpm;
        let later_deg = engine.closing_later_deg;
        valves.late_closing_factor(cylinder, rpm, torque_peak_rpm)
            * camshaft::closing_factor(valves, cylinder, later_deg, rpm, torque_peak_rpm)
    }

    /// Room the evaporated fuel leaves to the air.
    fn vapour_room(&self, lambda: f64) -> f64 {
        let fuel = &self.car.fuel;
        let evaporated = self.port.evaporated_share * fuel.fuel_per_air(lambda);
        vapour_displacement_factor(evaporated, fuel.molar_mass_kg_kmol)
    }

    /// Manifold pressure the cylinders need to swallow a flow, Pa.
    ///
    /// Trapped air is linear in manifold and exhaust pressure, `ṁ = V̇ (a p_im − b p_e + s p_im)/(R T_port)`, with the
    /// gain (or loss) `s` of valve overlap evaluated at the pressure delivered. What is sprayed in and has evaporated adds its
    /// partial pressure, `ΣṁR`.
    pub(super) fn needed_manifold_pa(
        &self,
        filling: &Filling,
        flow: f64,
        port_k: f64,
        overlap_pa: f64,
        delivered: &Delivered,
    ) -> f64 {
        let engine = &self.car.engine;
        let ratio = engine.geometry.cylinder.compression_ratio;
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
    pub(super) fn port_k(&self, delivered: &Delivered, lambda: f64, flow: f64) -> f64 {
        let drop_k = self.full_evaporation_drop_k(&delivered.added, lambda, flow);
        self.port.port_k(delivered.manifold_k, flow, drop_k)
    }

    /// Temperature drop if all the tank's fuel evaporated from the air's heat, K: less of it flows where methanol is sprayed,
    /// more with nitrous oxide.
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
}
