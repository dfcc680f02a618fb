//! The valves shut: compression, burn in two zones, expansion.
//!
//! Exists because a charge of known mass, composition and temperature decides here how much work it gives and whether its last
//! part knocks. The unburned zone and the burned zone share a pressure, not a temperature; the heart of the end gas, which
//! no wall reaches, is followed apart for knock. It refuses blow-by and crevices, but for the share of the charge that never burns.
//!
//! Source: first law for two zones (derived); burn, walls and ignition delay as in [`crate::engine`].

use super::gas::{KilogramGas, WorkingGas};
use super::step::runge_kutta;
use crate::engine::closed_cycle::KNOCK_WINDOW_FRACTION;
use crate::engine::geometry::CylinderGeometry;
use crate::engine::heat_transfer::{MOTORED_EXPONENT, WallState, Walls};
use crate::engine::knock::{ACTIVATION_K, PRESSURE_EXPONENT, delay_rate_per_s};
use crate::engine::wiebe::Wiebe;
use crate::units;
use std::f64::consts::PI;

const ATMOSPHERE_PA: f64 = 101_325.0;
/// Longest step without fire, deg.
pub const QUIET_STEP_DEG: f64 = 2.5;
/// Steps over one Wiebe duration.
pub const STEPS_PER_BURN: f64 = 40.0;
/// Longest step of the burn, deg.
const BURN_STEP_DEG: f64 = 1.5;
/// End of the burn's fine steps, in durations after its start: all but 1e-9 of the charge has burned there.
const BURN_END: f64 = 1.6;

/// A charge shut in, and what happens to it. Angles are radians, 0 at firing top dead centre.
#[derive(Debug, Clone, Copy)]
pub struct ClosedPhase<'a> {
    /// Cylinder.
    pub geometry: CylinderGeometry,
    /// Fresh and burned gas.
    pub gas: &'a WorkingGas,
    /// Angle at which the charge is known.
    pub start_rad: f64,
    /// Angle at which the computation ends.
    pub end_rad: f64,
    /// Charge, kg.
    pub mass_kg: f64,
    /// Share of it that is burned gas of the cycle before.
    pub residual_fraction: f64,
    /// Temperature at the start, K.
    pub temperature_k: f64,
    /// Burn curve, or `None` for a motored cylinder.
    pub burn: Option<Wiebe>,
    /// Share of the charge that ever burns.
    pub burning_share: f64,
    /// Walls, or `None` for an adiabatic cylinder.
    pub walls: Option<Walls>,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Octane number that the knock integral is taken for.
    pub octane: f64,
    /// Multiplier on the ignition delay.
    pub delay_multiplier: f64,
    /// Factor on all step lengths; 1 is what the layer uses.
    pub step_factor: f64,
}

/// A compression already computed, from which several burns may go on.
#[derive(Debug, Clone, Copy)]
pub struct Compressed {
    angle_rad: f64,
    state: State,
}

/// What a closed phase gave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClosedResult {
    /// Work on the piston, J.
    pub work_j: f64,
    /// The part of it between the bottom dead centres around firing, J.
    pub gross_work_j: f64,
    /// Heat to the walls, J.
    pub wall_heat_j: f64,
    /// Internal energy at the start, J, with heats of formation.
    pub start_energy_j: f64,
    /// Internal energy at the end, from the states of both zones, J.
    pub end_energy_j: f64,
    /// Share of the whole charge that has burned in this phase.
    pub burned_share: f64,
    /// Pressure at the start, Pa.
    pub start_pa: f64,
    /// Pressure at the end, Pa.
    pub end_pa: f64,
    /// Mean temperature at the end, K.
    pub end_k: f64,
    /// Highest pressure, Pa.
    pub peak_pa: f64,
    /// Its angle, rad.
    pub peak_rad: f64,
    /// Highest temperature of the burned zone, K (start temperature when motored).
    pub peak_burned_k: f64,
    /// Temperature of the end gas where 95 % has burned, or at the end, K.
    pub end_gas_k: f64,
    /// Livengood-Wu integral until 95 % has burned.
    pub knock_integral: f64,
    /// Steps taken.
    pub steps: usize,
}

const PRESSURE: usize = 0;
const UNBURNED_K: usize = 1;
/// Enthalpy of the burned zone less what the same mass would have unburned, J.
const EXCESS: usize = 2;
const CORE_LN_K: usize = 3;
const KNOCK: usize = 4;
const WALL: usize = 5;
const WORK: usize = 6;
const STATES: usize = 7;
type State = [f64; STATES];

/// What does not change within the phase.
struct Fixed {
    unburned: KilogramGas,
    walls: Option<(Walls, WallState)>,
    start_pa: f64,
    start_volume: f64,
    seconds_per_rad: f64,
    knock_scale: f64,
}

/// Both zones at one instant.
struct Zones {
    burned_kg: f64,
    burned_k: f64,
    burned_volume: f64,
    mean_k: f64,
}

/// Place (0 to 1) and height of the highest point of a step, from the values at both ends and the slope at the first: a parabola.
fn top_of_step(from: f64, slope: f64, to: f64, step: f64) -> (f64, f64) {
    let rise = slope * step;
    let bend = to - from - rise;
    let place = -0.5 * rise / bend;
    if bend < 0.0 && place > 0.0 && place < 1.0 {
        (place, from + 0.5 * rise * place)
    } else if to > from {
        (1.0, to)
    } else {
        (0.0, from)
    }
}

impl ClosedPhase<'_> {
    fn prepare(&self) -> Fixed {
        let unburned = self
            .gas
            .fresh
            .with(&self.gas.burned, self.residual_fraction);
        let start_volume = self.geometry.volume_m3(self.start_rad);
        let start_pa =
            self.mass_kg * unburned.gas_constant_j_kg_k * self.temperature_k / start_volume;
        let walls = self.walls.map(|walls| {
            let state = WallState::new(
                &walls,
                self.geometry.bore_m,
                self.geometry.swept_volume_m3(),
                self.geometry.mean_piston_speed_m_s(self.rpm),
                self.temperature_k,
                start_pa,
                start_volume,
            );
            (walls, state)
        });
        Fixed {
            unburned,
            walls,
            start_pa,
            start_volume,
            seconds_per_rad: units::seconds_per_rad(self.rpm),
            knock_scale: delay_rate_per_s(ATMOSPHERE_PA, f64::INFINITY, self.octane)
                / self.delay_multiplier,
        }
    }

    /// Rates of all states by crank angle.
    ///
    /// ```text
    /// V = V_u + V_b,   m_u c_p dT_u = V_u dp − dQ_u,   d(m_b h_b) = h_u dm_b + V_b dp − dQ_b
    /// ```
    ///
    /// solved for dp/dθ. The walls take what the correlation gives at the mean temperature; the unburned zone's part goes by its
    /// volume. Source: derived.
    /// Equation (9.7).
    fn slope(&self, fixed: &Fixed, angle: f64, state: &State, guess_k: &mut f64) -> (State, Zones) {
        let (volume, volume_slope) = self.geometry.volume_and_slope(angle);
        let (pressure, unburned_k) = (state[PRESSURE], state[UNBURNED_K]);
        let (fraction, rate) = self.burn.map_or((0.0, 0.0), |b| b.fraction_and_rate(angle));
        let burned_kg = self.mass_kg * self.burning_share * fraction;
        let burn_rate = self.mass_kg * self.burning_share * rate;
        let unburned_kg = self.mass_kg - burned_kg;
        let (unburned_h, unburned_cp) = fixed.unburned.enthalpy_and_cp(unburned_k);
        let unburned_r = fixed.unburned.gas_constant_j_kg_k;
        let unburned_v = unburned_r * unburned_k / pressure;
        let unburned_volume = unburned_kg * unburned_v;

        let (mut burned_k, mut burned_volume, mut burned_moles) = (unburned_k, 0.0, 0.0);
        let burned = (burned_kg > 0.0).then(|| {
            let enthalpy = unburned_h + state[EXCESS] / burned_kg;
            let (kelvin, at) = self.gas.burned_at_enthalpy(enthalpy, pressure, *guess_k);
            *guess_k = kelvin;
            burned_k = kelvin;
            burned_moles = burned_kg * at.gas_constant_j_kg_k;
            burned_volume = burned_moles * kelvin / pressure;
            (at, enthalpy)
        });
        let mean_k = pressure * volume / (unburned_kg * unburned_r + burned_moles);
        let (heat_per_k, wall_k) = self.wall(fixed, angle, volume, pressure, mean_k);
        let heat = heat_per_k * (mean_k - wall_k);
        // Per unburned volume: dQ_u/V_u.
        let unburned_heat = heat_per_k * (unburned_k - wall_k) / volume;
        let burned_heat = if burned_kg > 0.0 {
            heat - unburned_heat * unburned_volume
        } else {
            0.0
        };

        let mut drive =
            volume_slope + unburned_r / pressure * unburned_heat * unburned_volume / unburned_cp;
        let mut give =
            unburned_r / pressure * unburned_volume / unburned_cp - unburned_volume / pressure;
        if let Some((at, enthalpy)) = burned {
            let r = at.gas_constant_j_kg_k;
            let v = r * burned_k / pressure;
            let by_heat = v * (1.0 / burned_k + at.gas_constant_by_k / r) / at.enthalpy_by_k;
            drive -= burn_rate * (v - unburned_v)
                + by_heat * (burn_rate * (unburned_h - enthalpy) - burned_heat);
            give += by_heat * (burned_volume - burned_kg * at.enthalpy_by_pa)
                + burned_volume * (at.gas_constant_by_pa / r - 1.0 / pressure);
        }
        let pressure_slope = drive / give;
        let unburned_slope = unburned_v / unburned_cp * (pressure_slope - unburned_heat);
        let core_k = state[CORE_LN_K].exp();
        let (_, core_cp) = fixed.unburned.enthalpy_and_cp(core_k);
        let knock = fixed.knock_scale
            * (PRESSURE_EXPONENT * (pressure / ATMOSPHERE_PA).ln() - ACTIVATION_K / core_k).exp();
        let mut slope = [0.0; STATES];
        slope[PRESSURE] = pressure_slope;
        slope[UNBURNED_K] = unburned_slope;
        slope[EXCESS] =
            burned_volume * pressure_slope - burned_heat - burned_kg * unburned_cp * unburned_slope;
        slope[CORE_LN_K] = unburned_r / core_cp * pressure_slope / pressure;
        slope[KNOCK] = knock * fixed.seconds_per_rad;
        slope[WALL] = heat;
        slope[WORK] = pressure * volume_slope;
        let zones = Zones {
            burned_kg,
            burned_k,
            burned_volume,
            mean_k,
        };
        (slope, zones)
    }

    /// Heat to the walls per kelvin and radian, and their temperature.
    /// Equation (9.8).
    fn wall(
        &self,
        fixed: &Fixed,
        angle: f64,
        volume: f64,
        pressure: f64,
        mean_k: f64,
    ) -> (f64, f64) {
        let Some((walls, coefficient)) = &fixed.walls else {
            return (0.0, 0.0);
        };
        let burning = self.burn.is_some_and(|burn| angle > burn.start_rad);
        let motored = if burning {
            fixed.start_pa * (fixed.start_volume / volume).powf(MOTORED_EXPONENT)
        } else {
            pressure
        };
        let h = coefficient.coefficient_w_m2_k(pressure, mean_k, volume, motored);
        let area = self.geometry.wall_area_m2(volume, walls.head_factor);
        (h * area * fixed.seconds_per_rad, walls.temperature_k)
    }

    /// Places where the step length or the meaning of a result changes, in order, with the longest step to the next.
    fn stretches(&self, start_rad: f64) -> Vec<(f64, f64)> {
        let quiet = QUIET_STEP_DEG.to_radians() * self.step_factor;
        let mut marks = vec![-PI, 0.0, PI];
        let mut burning = (f64::INFINITY, f64::INFINITY, quiet);
        if let Some(burn) = self.burn {
            let fine = (burn.duration_rad / STEPS_PER_BURN).min(BURN_STEP_DEG.to_radians());
            burning = (
                burn.start_rad,
                burn.start_rad + BURN_END * burn.duration_rad,
                fine * self.step_factor,
            );
            marks.extend([burning.0, burning.1, self.knock_end_rad()]);
        }
        marks.retain(|mark| *mark > start_rad && *mark < self.end_rad);
        marks.push(self.end_rad);
        marks.sort_by(f64::total_cmp);
        let mut from = start_rad;
        marks
            .into_iter()
            .map(|to| {
                let middle = 0.5 * (from + to);
                from = to;
                let inside = middle > burning.0 && middle < burning.1;
                (to, if inside { burning.2 } else { quiet })
            })
            .collect()
    }

    /// End of the knock window: 95 % of what burns has burned, or the end of the phase.
    fn knock_end_rad(&self) -> f64 {
        self.burn.map_or(self.end_rad, |burn| {
            burn.angle_of_fraction(KNOCK_WINDOW_FRACTION)
                .min(self.end_rad)
        })
    }

    /// The charge at its start.
    fn start(&self) -> Compressed {
        let mut state = [0.0; STATES];
        state[PRESSURE] = self.prepare().start_pa;
        state[UNBURNED_K] = self.temperature_k;
        state[CORE_LN_K] = self.temperature_k.ln();
        Compressed {
            angle_rad: self.start_rad,
            state,
        }
    }

    /// Compresses as far as an angle before any burn that is to follow.
    pub fn compress_to(&self, angle_rad: f64) -> Compressed {
        let start = self.start();
        if angle_rad <= self.start_rad {
            return start;
        }
        let quiet = Self {
            end_rad: angle_rad,
            burn: None,
            ..*self
        };
        Compressed {
            angle_rad,
            state: quiet.go(&start).1,
        }
    }

    /// Livengood-Wu integral until the window closes; cheaper than [`Self::run`].
    /// Equation (9.9).
    pub fn knock_integral(&self) -> f64 {
        self.knock_integral_from(&self.start())
    }

    /// The same from a compression computed before.
    pub fn knock_integral_from(&self, compressed: &Compressed) -> f64 {
        let short = Self {
            end_rad: self.knock_end_rad().max(compressed.angle_rad),
            ..*self
        };
        short.go(compressed).0.knock_integral
    }

    /// Work of the whole phase, J, and the pressure at its end, Pa, from a compression computed before.
    pub fn work_from(&self, compressed: &Compressed) -> (f64, f64) {
        let result = self.go(compressed).0;
        (result.work_j, result.end_pa)
    }

    /// Integrates the phase by fourth-order Runge-Kutta.
    pub fn run(&self) -> ClosedResult {
        self.go(&self.start()).0
    }

    fn go(&self, compressed: &Compressed) -> (ClosedResult, State) {
        let fixed = self.prepare();
        let start_volume = fixed.start_volume;
        let mut state = compressed.state;
        let mut guess_k = 2400.0;
        let mut result = ClosedResult {
            start_energy_j: self.mass_kg * fixed.unburned.enthalpy_j_kg(self.temperature_k)
                - fixed.start_pa * start_volume,
            start_pa: fixed.start_pa,
            peak_pa: fixed.start_pa,
            peak_rad: self.start_rad,
            peak_burned_k: self.temperature_k,
            end_gas_k: self.temperature_k,
            work_j: 0.0,
            gross_work_j: 0.0,
            wall_heat_j: 0.0,
            end_energy_j: 0.0,
            burned_share: 0.0,
            end_pa: fixed.start_pa,
            end_k: self.temperature_k,
            knock_integral: 0.0,
            steps: 0,
        };
        let window_end = self.knock_end_rad();
        let mut angle = compressed.angle_rad;
        for (to, longest) in self.stretches(angle) {
            let before_j = state[WORK];
            let count = ((to - angle) / longest).ceil().max(1.0);
            let step = (to - angle) / count;
            let from = angle;
            let mut index = 0.0;
            while index < count {
                let at = from + step * index;
                let (slope, _) = self.slope(&fixed, at, &state, &mut guess_k);
                let before = state[PRESSURE];
                state = runge_kutta(
                    &mut |x, y: &State| self.slope(&fixed, x, y, &mut guess_k).0,
                    &slope,
                    at,
                    step,
                    &state,
                );
                index += 1.0;
                result.steps += 1;
                let (place, top) = top_of_step(before, slope[PRESSURE], state[PRESSURE], step);
                if top > result.peak_pa {
                    result.peak_pa = top;
                    result.peak_rad = at + place * step;
                }
                if state[EXCESS] != 0.0 {
                    result.peak_burned_k = result.peak_burned_k.max(guess_k);
                }
            }
            if 0.5 * (from + to) > -PI && 0.5 * (from + to) < PI {
                result.gross_work_j += state[WORK] - before_j;
            }
            angle = to;
            if angle <= window_end {
                result.knock_integral = state[KNOCK];
                result.end_gas_k = state[CORE_LN_K].exp();
            }
        }
        let (_, zones) = self.slope(&fixed, angle, &state, &mut guess_k);
        (self.finish(&fixed, &state, &zones, result), state)
    }

    fn finish(
        &self,
        fixed: &Fixed,
        state: &State,
        zones: &Zones,
        result: ClosedResult,
    ) -> ClosedResult {
        let pressure = state[PRESSURE];
        let unburned_h = fixed.unburned.enthalpy_j_kg(state[UNBURNED_K]);
        let unburned_kg = self.mass_kg - zones.burned_kg;
        let unburned_volume =
            unburned_kg * fixed.unburned.gas_constant_j_kg_k * state[UNBURNED_K] / pressure;
        // Unburned zone, then the burned one as excess over the same enthalpy.
        let end_energy_j = self.mass_kg * unburned_h + state[EXCESS]
            - pressure * (unburned_volume + zones.burned_volume);
        ClosedResult {
            work_j: state[WORK],
            wall_heat_j: state[WALL],
            end_energy_j,
            burned_share: zones.burned_kg / self.mass_kg,
            end_pa: pressure,
            end_k: zones.mean_k,
            peak_burned_k: result.peak_burned_k.max(zones.burned_k),
            ..result
        }
    }
}
