//! The closed part of the cycle by crank angle: one zone, heat in by a Wiebe curve, heat out to the walls.
//!
//! Exists for ratios (how much torque a later spark or a higher compression costs) and for the end-gas history that
//! knock needs. It is never trusted for absolute torque: blow-by, crevices, gas exchange and the change of molar mass
//! with burning are left out.
//!
//! Source: single-zone first law, J. B. Heywood, Internal Combustion Engine Fundamentals, ch. 9 (from memory); Runge-Kutta of
//! fourth order.

use super::charge_gas::GasModel;
use super::geometry::CylinderGeometry;
use super::heat_transfer::{MOTORED_EXPONENT, WallState, Walls};
use super::knock::delay_rate_per_s;
use super::whole_part;
use super::wiebe::Wiebe;
use crate::units;
use std::f64::consts::PI;

/// Burned share beyond which self-ignition of what is left is not heard as knock (a convention, no source).
/// Equation (3.8).
pub const KNOCK_WINDOW_FRACTION: f64 = 0.95;

/// A closed cycle to be computed. Angles are radians, 0 at firing top dead centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClosedCycle {
    /// Cylinder.
    pub geometry: CylinderGeometry,
    /// Angle at which the charge is known (inlet valve closing, or −π).
    pub start_rad: f64,
    /// Angle at which the computation ends (exhaust valve opening, or π).
    pub end_rad: f64,
    /// Pressure at the start, Pa.
    pub pressure_pa: f64,
    /// Temperature at the start, K.
    pub temperature_k: f64,
    /// Burn curve.
    pub burn: Wiebe,
    /// Heat released in the cycle, J.
    pub heat_j: f64,
    /// Heat-capacity ratios.
    pub gas: GasModel,
    /// Walls, or `None` for an adiabatic cylinder.
    pub walls: Option<Walls>,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Octane number that the knock integral is taken for.
    pub octane: f64,
    /// Largest step, deg.
    pub step_deg: f64,
}

/// What a closed cycle gave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CycleResult {
    /// Work of the gas on the piston between start and end, J.
    pub work_j: f64,
    /// That work over the swept volume, Pa.
    pub imep_pa: f64,
    /// Work over the heat released; 0 for a motored cycle.
    pub efficiency: f64,
    /// Heat lost to the walls, J.
    pub wall_heat_j: f64,
    /// Peak pressure, Pa.
    pub peak_pressure_pa: f64,
    /// Its angle, rad.
    pub peak_pressure_rad: f64,
    /// Angle of 50 % burned, rad.
    pub ca50_rad: f64,
    /// Pressure at the end, Pa.
    pub end_pressure_pa: f64,
    /// Mean temperature at the end, K.
    pub end_temperature_k: f64,
    /// End-gas temperature at the close of the knock window, K.
    pub end_gas_k: f64,
    /// Highest mean temperature, K.
    pub peak_temperature_k: f64,
    /// Livengood-Wu integral from the start until 95 % burned.
    pub knock_integral: f64,
    /// Angle and burned share at which the integral reached 1, if it did inside the window.
    pub knock: Option<KnockOnset>,
    /// Steps taken.
    pub steps: usize,
}

/// Where the end gas would have lit itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockOnset {
    /// Crank angle, rad.
    pub angle_rad: f64,
    /// Share burned by the flame until then.
    pub burned_fraction: f64,
}

#[derive(Clone, Copy)]
struct State {
    pressure_pa: f64,
    work_j: f64,
    wall_heat_j: f64,
    end_gas_ln: f64,
}

/// What does not change within a cycle.
struct Fixed {
    start_volume: f64,
    mole_constant: f64,
    walls: Option<(Walls, WallState)>,
    seconds_per_rad: f64,
}

impl ClosedCycle {
    /// The whole revolution from −π to π of a cylinder filled at bottom dead centre, without walls, 1° steps.
    pub fn full_stroke(
        geometry: CylinderGeometry,
        burn: Wiebe,
        heat_j: f64,
        gas: GasModel,
    ) -> Self {
        Self {
            geometry,
            start_rad: -PI,
            end_rad: PI,
            pressure_pa: 1e5,
            temperature_k: 350.0,
            burn,
            heat_j,
            gas,
            walls: None,
            rpm: 3000.0,
            octane: 95.0,
            step_deg: 1.0,
        }
    }

    fn prepare(&self) -> Fixed {
        let (start_volume, _) = self.geometry.volume_and_slope(self.start_rad);
        let walls = self.walls.map(|walls| {
            let state = WallState::new(
                &walls,
                self.geometry.bore_m,
                self.geometry.swept_volume_m3(),
                self.geometry.mean_piston_speed_m_s(self.rpm),
                self.temperature_k,
                self.pressure_pa,
                start_volume,
            );
            (walls, state)
        });
        Fixed {
            start_volume,
            mole_constant: self.pressure_pa * start_volume / self.temperature_k,
            walls,
            seconds_per_rad: units::seconds_per_rad(self.rpm),
        }
    }

    /// Rates of all states by crank angle.
    /// Equation (3.11).
    fn slope(&self, fixed: &Fixed, angle: f64, state: &State) -> State {
        let (volume, volume_slope) = self.geometry.volume_and_slope(angle);
        let (burned, rate) = self.burn.fraction_and_rate(angle);
        let mean_k = state.pressure_pa * volume / fixed.mole_constant;
        let end_gas_k = state.end_gas_ln.exp();
        let gamma = self.gas.gamma(burned, end_gas_k, mean_k);
        let wall_heat = fixed.walls.as_ref().map_or(0.0, |(walls, coefficient)| {
            let motored = if angle > self.burn.start_rad {
                self.pressure_pa * (fixed.start_volume / volume).powf(MOTORED_EXPONENT)
            } else {
                state.pressure_pa
            };
            let h = coefficient.coefficient_w_m2_k(state.pressure_pa, mean_k, volume, motored);
            let area = self.geometry.wall_area_m2(volume, walls.head_factor);
            h * area * (mean_k - walls.temperature_k) * fixed.seconds_per_rad
        });
        let pressure = ((gamma - 1.0) * (self.heat_j * rate - wall_heat)
            - gamma * state.pressure_pa * volume_slope)
            / volume;
        let end_gas_gamma = self.gas.end_gas_gamma(end_gas_k);
        State {
            pressure_pa: pressure,
            work_j: state.pressure_pa * volume_slope,
            wall_heat_j: wall_heat,
            end_gas_ln: (end_gas_gamma - 1.0) / end_gas_gamma * pressure / state.pressure_pa,
        }
    }

    /// Integrates `dp/dθ = (γ−1)/V · (dQ_b/dθ − dQ_w/dθ) − γ p/V · dV/dθ` by fourth-order Runge-Kutta at a fixed step.
    ///
    /// At 1° the mean pressure is converged to better than 1e-6 (tested). The end gas follows
    /// `d ln T_u = (γ_u−1)/γ_u · d ln p` (adiabatic core); the knock integral is a trapezoid on the same steps.
    /// Equation (3.11).
    pub fn run(&self) -> CycleResult {
        let span = self.end_rad - self.start_rad;
        let steps = whole_part((span.to_degrees() / self.step_deg).ceil()).max(1);
        let step = span / steps as f64;
        let fixed = self.prepare();
        let slope = |angle: f64, state: &State| self.slope(&fixed, angle, state);
        let knock_rate = |state: &State| {
            delay_rate_per_s(state.pressure_pa, state.end_gas_ln.exp(), self.octane)
                * fixed.seconds_per_rad
        };

        let window_end = self.burn.angle_of_fraction(KNOCK_WINDOW_FRACTION);
        let mut state = State {
            pressure_pa: self.pressure_pa,
            work_j: 0.0,
            wall_heat_j: 0.0,
            end_gas_ln: self.temperature_k.ln(),
        };
        let mut rate = knock_rate(&state);
        let mut integral = 0.0;
        let mut knock = None;
        let mut end_gas_k = self.temperature_k;
        let mut peak = Peak::new(self.start_rad, self.pressure_pa);
        let mut peak_temperature_k = self.temperature_k;
        for index in 0..steps {
            let angle = self.start_rad + step * index as f64;
            let next = runge_kutta(&slope, angle, step, &state);
            let next_angle = angle + step;
            let next_rate = knock_rate(&next);
            if angle < window_end {
                let inside = ((window_end - angle) / step).min(1.0);
                let rate_at_end = rate + inside * (next_rate - rate);
                let gained = 0.5 * (rate + rate_at_end) * inside * step;
                if knock.is_none() && integral + gained >= 1.0 {
                    let at =
                        angle + inside * step * (1.0 - integral) / gained.max(f64::MIN_POSITIVE);
                    let burned_fraction = self.burn.burned_fraction(at);
                    knock = Some(KnockOnset {
                        angle_rad: at,
                        burned_fraction,
                    });
                }
                integral += gained;
                end_gas_k = next.end_gas_ln.exp();
            }
            peak.see(next_angle, next.pressure_pa, step);
            let (volume, _) = self.geometry.volume_and_slope(next_angle);
            peak_temperature_k =
                peak_temperature_k.max(next.pressure_pa * volume / fixed.mole_constant);
            (state, rate) = (next, next_rate);
        }
        let (end_volume, _) = self.geometry.volume_and_slope(self.end_rad);
        CycleResult {
            work_j: state.work_j,
            imep_pa: state.work_j / self.geometry.swept_volume_m3(),
            efficiency: if self.heat_j > 0.0 {
                state.work_j / self.heat_j
            } else {
                0.0
            },
            wall_heat_j: state.wall_heat_j,
            peak_pressure_pa: peak.pressure_pa,
            peak_pressure_rad: peak.angle_rad,
            ca50_rad: self.burn.angle_of_fraction(0.5),
            end_pressure_pa: state.pressure_pa,
            end_temperature_k: state.pressure_pa * end_volume / fixed.mole_constant,
            end_gas_k,
            peak_temperature_k,
            knock_integral: integral,
            knock,
            steps,
        }
    }
}

fn runge_kutta(
    slope: &impl Fn(f64, &State) -> State,
    angle: f64,
    step: f64,
    from: &State,
) -> State {
    let add = |base: &State, k: &State, h: f64| State {
        pressure_pa: base.pressure_pa + h * k.pressure_pa,
        work_j: base.work_j + h * k.work_j,
        wall_heat_j: base.wall_heat_j + h * k.wall_heat_j,
        end_gas_ln: base.end_gas_ln + h * k.end_gas_ln,
    };
    let k1 = slope(angle, from);
    let k2 = slope(angle + step / 2.0, &add(from, &k1, step / 2.0));
    let k3 = slope(angle + step / 2.0, &add(from, &k2, step / 2.0));
    let k4 = slope(angle + step, &add(from, &k3, step));
    let mut to = add(from, &k1, step / 6.0);
    to = add(&to, &k2, step / 3.0);
    to = add(&to, &k3, step / 3.0);
    add(&to, &k4, step / 6.0)
}

/// Highest pressure seen, refined by a parabola through three points.
pub(super) struct Peak {
    last: [(f64, f64); 2],
    /// Highest pressure, Pa.
    pub(super) pressure_pa: f64,
    /// Its angle, rad.
    pub(super) angle_rad: f64,
}

impl Peak {
    pub(super) fn new(angle_rad: f64, pressure_pa: f64) -> Self {
        Self {
            last: [(angle_rad, pressure_pa); 2],
            pressure_pa,
            angle_rad,
        }
    }

    /// Takes the next point; `step` is its distance from the point before, as that one's from its own.
    pub(super) fn see(&mut self, angle: f64, pressure: f64, step: f64) {
        let [(_, before), (middle_angle, middle)] = self.last;
        let three_points = self.last[0].0 < middle_angle;
        if three_points && middle >= before && middle > pressure && middle >= self.pressure_pa {
            let bend = before - 2.0 * middle + pressure;
            let shift = if bend < 0.0 {
                0.5 * (before - pressure) / bend
            } else {
                0.0
            };
            self.angle_rad = middle_angle + shift * step;
            self.pressure_pa = middle - 0.25 * (before - pressure) * shift;
        } else if pressure > self.pressure_pa {
            (self.angle_rad, self.pressure_pa) = (angle, pressure);
        }
        self.last = [(middle_angle, middle), (angle, pressure)];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CYLINDER: CylinderGeometry = CylinderGeometry {
        bore_m: 0.095,
        stroke_m: 0.090,
        rod_m: 0.150,
        compression_ratio: 10.0,
    };

    #[test]
    fn a_motored_adiabatic_cycle_does_no_work() {
        let gas = GasModel::Constant { gamma: 1.3 };
        let cycle = ClosedCycle::full_stroke(CYLINDER, Wiebe::new(0.0, 0.5), 0.0, gas);
        let result = cycle.run();
        assert!(result.imep_pa.abs() < 1.0, "{}", result.imep_pa);
        assert!((result.peak_pressure_pa / 19.9526e5 - 1.0).abs() < 1e-4);
    }

    #[test]
    fn walls_that_do_not_conduct_take_nothing() {
        let gas = GasModel::Constant { gamma: 1.3 };
        let burn = Wiebe::new(-0.35, 0.87);
        let open = ClosedCycle::full_stroke(CYLINDER, burn, 1500.0, gas);
        let walls = Walls {
            temperature_k: 450.0,
            ..Walls::default()
        };
        let walled = ClosedCycle {
            walls: Some(walls),
            ..open
        }
        .run();
        let off = Walls {
            multiplier: 0.0,
            ..walls
        };
        let none = ClosedCycle {
            walls: Some(off),
            ..open
        }
        .run();
        assert_eq!(none.wall_heat_j, 0.0);
        assert!(walled.wall_heat_j > 0.05 * 1500.0 && walled.work_j < none.work_j);
    }
}
