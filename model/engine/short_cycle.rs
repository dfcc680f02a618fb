//! A closed cycle cut to what the knock map needs: one compression shared by many burns, coarse steps, end when 95 % has burned.
//!
//! Exists for speed alone: the map's four hundred burns in a few milliseconds. It gives the knock integral and the peak
//! pressure, nothing else; [`super::closed_cycle`] is the full form, and the checks hold the two together.
//!
//! Source: as [`super::closed_cycle`], with coarser steps; derived.

use super::charge_gas::GasModel;
use super::closed_cycle::{KNOCK_WINDOW_FRACTION, Peak};
use super::geometry::CylinderGeometry;
use super::heat_transfer::{MOTORED_EXPONENT, WallState, Walls};
use super::knock::{ACTIVATION_K, PRESSURE_EXPONENT};
use super::whole_part;
use super::wiebe::Wiebe;
use std::f64::consts::PI;

const BURN_STEPS: usize = 34;
const COMPRESSION_STEP_DEG: f64 = 3.0;

/// A cylinder at one charge state and speed, ready for many burns. Lengths and angles in SI and radians.
pub(super) struct ShortCycle {
    pub(super) geometry: CylinderGeometry,
    pub(super) gas: GasModel,
    pub(super) walls: Option<(Walls, WallState)>,
    pub(super) start_pa: f64,
    pub(super) start_k: f64,
    pub(super) start_volume: f64,
    pub(super) heat_j: f64,
    pub(super) seconds_per_rad: f64,
}

#[derive(Clone, Copy)]
pub(super) struct Point {
    angle: f64,
    pub(super) pressure: f64,
    end_gas_k: f64,
    integrand: f64,
    integral: f64,
}

impl ShortCycle {
    fn mean_k(&self, pressure: f64, volume: f64) -> f64 {
        self.start_k * pressure * volume / (self.start_pa * self.start_volume)
    }

    fn wall_rate(&self, pressure: f64, volume: f64, burning: bool) -> f64 {
        let Some((walls, state)) = &self.walls else {
            return 0.0;
        };
        let mean_k = self.mean_k(pressure, volume);
        let motored = if burning {
            self.start_pa * (self.start_volume / volume).powf(MOTORED_EXPONENT)
        } else {
            pressure
        };
        state.coefficient_w_m2_k(pressure, mean_k, volume, motored)
            * self.geometry.wall_area_m2(volume, walls.head_factor)
            * (mean_k - walls.temperature_k)
            * self.seconds_per_rad
    }

    /// Equation (3.8).
    fn integrand(&self, pressure: f64, end_gas_k: f64) -> f64 {
        (PRESSURE_EXPONENT * (pressure / self.start_pa).ln() - ACTIVATION_K / end_gas_k).exp()
    }

    /// One step: Runge-Kutta in pressure, wall heat extrapolated over the step, end gas and integral by Simpson.
    /// Equation (3.11).
    fn step(&self, from: &Point, wall: [f64; 2], step: f64, burn: Option<&Wiebe>) -> Point {
        let [wall_before, wall_now] = wall;
        let slope = |angle: f64, pressure: f64, along: f64| {
            let (volume, volume_slope) = self.geometry.volume_and_slope(angle);
            let (burned, rate) = burn.map_or((0.0, 0.0), |burn| burn.fraction_and_rate(angle));
            let gamma = self
                .gas
                .gamma(burned, from.end_gas_k, self.mean_k(pressure, volume));
            let wall = wall_now + along * (wall_now - wall_before);
            ((gamma - 1.0) * (self.heat_j * rate - wall) - gamma * pressure * volume_slope) / volume
        };
        let middle = from.angle + step / 2.0;
        let k1 = slope(from.angle, from.pressure, 0.0);
        let k2 = slope(middle, from.pressure + step / 2.0 * k1, 0.5);
        let k3 = slope(middle, from.pressure + step / 2.0 * k2, 0.5);
        let k4 = slope(from.angle + step, from.pressure + step * k3, 1.0);
        let pressure = from.pressure + step / 6.0 * (k1 + 2.0 * (k2 + k3) + k4);
        let middle_pressure = 0.5 * (from.pressure + pressure) + step / 8.0 * (k1 - k4);
        let warm = |start_k: f64, gamma_k: f64, from_pa: f64, to_pa: f64| {
            let gamma = self.gas.end_gas_gamma(gamma_k);
            start_k * ((gamma - 1.0) / gamma * (to_pa / from_pa).ln()).exp()
        };
        let middle_k = warm(
            from.end_gas_k,
            from.end_gas_k,
            from.pressure,
            middle_pressure,
        );
        let end_gas_k = warm(from.end_gas_k, middle_k, from.pressure, pressure);
        let integrand = self.integrand(pressure, end_gas_k);
        let sum = from.integrand + 4.0 * self.integrand(middle_pressure, middle_k) + integrand;
        Point {
            angle: from.angle + step,
            pressure,
            end_gas_k,
            integrand,
            integral: from.integral + step.to_degrees() / 6.0 * sum,
        }
    }

    /// Compression without fire, from bottom dead centre to the latest burn start the table can hold.
    pub(super) fn compress(&self, latest_start_rad: f64) -> Vec<Point> {
        let step = COMPRESSION_STEP_DEG.to_radians();
        let latest = latest_start_rad + step;
        let mut point = Point {
            angle: -PI,
            pressure: self.start_pa,
            end_gas_k: self.start_k,
            integrand: self.integrand(self.start_pa, self.start_k),
            integral: 0.0,
        };
        let mut before = self.wall_rate(point.pressure, self.start_volume, false);
        let mut points = vec![point];
        while point.angle < latest {
            let now = self.wall_rate(point.pressure, self.geometry.volume_m3(point.angle), false);
            point = self.step(&point, [before, now], step, None);
            before = now;
            points.push(point);
        }
        points
    }

    /// Burn from its start until the knock window closes; the integral and the peak pressure ratio.
    pub(super) fn burn(&self, compression: &[Point], burn: &Wiebe) -> (f64, f64) {
        let index = whole_part((burn.start_rad + PI) / COMPRESSION_STEP_DEG.to_radians());
        let index = index.min(compression.len() - 1);
        let mut point = compression[index];
        let mut before =
            self.wall_rate(point.pressure, self.geometry.volume_m3(point.angle), false);
        if burn.start_rad > point.angle {
            point = self.step(&point, [before, before], burn.start_rad - point.angle, None);
        }
        let mut peak = Peak::new(point.angle, point.pressure);
        let step =
            (burn.angle_of_fraction(KNOCK_WINDOW_FRACTION) - burn.start_rad) / BURN_STEPS as f64;
        for _ in 0..BURN_STEPS {
            let now = self.wall_rate(point.pressure, self.geometry.volume_m3(point.angle), true);
            point = self.step(&point, [before, now], step, Some(burn));
            before = now;
            peak.see(point.angle, point.pressure, step);
        }
        (point.integral, peak.pressure_pa / self.start_pa)
    }
}
