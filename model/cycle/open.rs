//! A valve open: blowdown, exhaust, overlap, induction, with flow both ways through both valves.
//!
//! Exists because what a cam, a head or a header changes happens here. The cylinder is one stirred zone; the manifolds are
//! large and stand at constant pressure. Gas that runs back into the inlet port waits there and is drawn in first; gas that runs back
//! from the exhaust is a stirred mixture of what left last. It refuses waves in pipes: tuning belongs to the mean-value layer.
//!
//! Source: filling and emptying with the first law (derived); orifice as in [`crate::air::flow`].

use super::gas::WorkingGas;
use super::step::runge_kutta;
use super::valve::{Opening, Valve};
use crate::air::flow::OrificeGas;
use crate::air::gas::PerfectGas;
use crate::engine::geometry::CylinderGeometry;
use crate::engine::heat_transfer::{WallState, Walls};
use crate::units;
use std::f64::consts::PI;

/// Longest step with a valve open, deg.
pub const OPEN_STEP_DEG: f64 = 2.0;
/// A step may be this long against the time in which the pressures on both sides of a valve meet; 2.78 is the method's limit of
/// stability, and the time shortens within a step. Together with the rounding of the flow function that the shortest step then
/// asks for, 1.3 leaves less error at 1000 rpm than 1.0 (5e-4 of the work against 1.4e-3); at 2.0 some cycles no longer settle.
const STABLE: f64 = 1.3;
/// The same for cycles far from settled.
const STABLE_COARSE: f64 = 2.0;
/// Shortest step at which the flow function is left as it is near equal pressures, deg; where pressures would meet faster, the
/// function's root is rounded off further out.
const SHORTEST_DEG: f64 = 0.15;
/// Most that it is rounded, share of the pressure.
const MOST_SOFT: f64 = 0.05;
const LEAST_SOFT: f64 = 1e-3;
/// Heat-capacity ratio of gas that flows out of a cylinder, 900 to 1900 K (NASA polynomials); the flow function moves by 1 % over
/// the span of 1.27 to 1.34.
const HOT_GAMMA: f64 = 1.30;
/// Mass in which gas behind the exhaust valve mixes, and mass below which the gas waiting in the inlet port thins out, over
/// the charge. Common practice, no source: a port holds a tenth to a fifth of a cylinder.
const EXHAUST_PORT: f64 = 0.15;
const INLET_TAIL: f64 = 0.01;
/// Gas waiting in the inlet port that no step need be shortened for, over the charge: a tenth of what a settled cycle may change by. More of it,
/// drawn in a step too long, would leave less than nothing there, which no flow draws back.
const LITTLE_WAITS: f64 = 3e-7;
/// Most gas that waits in the inlet port at the end, over the charge: what runs back further is lost in the manifold. Common
/// practice, no source: port and runner hold about as much as a cylinder.
const INLET_PORT: f64 = 1.0;

/// Manifolds, valves and walls: what the open phase needs besides the charge.
#[derive(Debug, Clone, Copy)]
pub struct OpenPhase<'a> {
    /// Cylinder.
    pub geometry: CylinderGeometry,
    /// Fresh and burned gas.
    pub gas: &'a WorkingGas,
    /// Inlet valves.
    pub inlet: Valve,
    /// Exhaust valves.
    pub exhaust: Valve,
    /// Inlet manifold pressure, Pa.
    pub inlet_pa: f64,
    /// Temperature of the charge at the inlet valve, K.
    pub inlet_k: f64,
    /// Exhaust manifold pressure, Pa.
    pub exhaust_pa: f64,
    /// Walls, or `None` for an adiabatic cylinder.
    pub walls: Option<Walls>,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Factor on all step lengths; 1 is what the layer uses.
    pub step_factor: f64,
    /// Whether steps may be three times as long near equal pressures, with the flow function rounded off accordingly: for cycles far
    /// from settled.
    pub coarse: bool,
}

/// Contents of the cylinder and of both ports.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contents {
    /// Fresh charge in the cylinder, kg.
    pub fresh_kg: f64,
    /// Burned gas in the cylinder, kg.
    pub burned_kg: f64,
    /// Internal energy of the cylinder's gas, J, with heats of formation.
    pub energy_j: f64,
    /// Gas waiting in the inlet port, kg.
    pub waiting_kg: f64,
    /// Burned gas among it, kg.
    pub waiting_burned_kg: f64,
    /// Its enthalpy, J.
    pub waiting_j: f64,
    /// Burned share of the gas behind the exhaust valve.
    pub exhaust_burned: f64,
    /// Its temperature, K.
    pub exhaust_k: f64,
}

/// What passed the valves in an open phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpenResult {
    /// Contents at the end.
    pub contents: Contents,
    /// Temperature of the cylinder's gas at the end, K.
    pub end_k: f64,
    /// Work on the piston, J.
    pub work_j: f64,
    /// The part of it before bottom dead centre, still of the expansion, J.
    pub expansion_work_j: f64,
    /// The part of it after the next bottom dead centre, already of a compression, J.
    pub compression_work_j: f64,
    /// Heat to the walls, J.
    pub wall_heat_j: f64,
    /// Net fresh charge in through the inlet valve, kg.
    pub inlet_fresh_kg: f64,
    /// Net burned gas in through the inlet valve, kg.
    pub inlet_burned_kg: f64,
    /// Net enthalpy in through the inlet valve, J.
    pub inlet_j: f64,
    /// Net fresh charge out through the exhaust valve, kg.
    pub exhaust_fresh_kg: f64,
    /// Net burned gas out through the exhaust valve, kg.
    pub exhaust_burned_kg: f64,
    /// Net enthalpy out through the exhaust valve, J.
    pub exhaust_j: f64,
    /// Gas that ran back into the inlet port, kg.
    pub back_flow_kg: f64,
    /// Gas that ran back through the exhaust valve, kg.
    pub exhaust_back_kg: f64,
    /// Steps taken.
    pub steps: usize,
}

const FRESH: usize = 0;
const BURNED: usize = 1;
const ENERGY: usize = 2;
const WAITING: usize = 3;
const WAITING_BURNED: usize = 4;
const WAITING_J: usize = 5;
const PORT_BURNED: usize = 6;
const PORT_K: usize = 7;
const WORK: usize = 8;
const WALL: usize = 9;
const IN_FRESH: usize = 10;
const IN_BURNED: usize = 11;
const IN_J: usize = 12;
const OUT_FRESH: usize = 13;
const OUT_BURNED: usize = 14;
const OUT_J: usize = 15;
const BACK: usize = 16;
const RETURNED: usize = 17;
/// States of the open phase: contents of cylinder and ports, then what has passed.
pub const STATES: usize = 18;
type State = [f64; STATES];

/// What does not change within the phase.
struct Fixed {
    inlet: Opening,
    exhaust: Opening,
    cold: OrificeGas,
    hot: OrificeGas,
    walls: Option<(Walls, WallState)>,
    seconds_per_rad: f64,
    /// Enthalpies of fresh and burned gas at the inlet's temperature.
    inlet_fresh_h: f64,
    inlet_burned_h: f64,
    charge_kg: f64,
}

/// The cylinder's gas at one instant.
struct Inside {
    pressure: f64,
    kelvin: f64,
    /// Burned gas in it.
    share: f64,
    /// √(R T).
    root: f64,
    enthalpy: f64,
}

impl OpenPhase<'_> {
    fn stable(&self) -> f64 {
        if self.coarse { STABLE_COARSE } else { STABLE }
    }

    /// Equation (9.5).
    fn prepare(&self) -> Fixed {
        let (inlet, exhaust) = (self.inlet.inlet(), self.exhaust.exhaust());
        let seconds_per_rad = units::seconds_per_rad(self.rpm);
        let gas = self.gas;
        // Rate at which pressures meet, over the slope of the flow function: γ √(RT) A/V, at its largest.
        let mut fastest = 0.0_f64;
        for k in 0..=96 {
            let share = f64::from(k) / 96.0;
            let angle = exhaust.opens_rad + share * (inlet.closes_rad - exhaust.opens_rad);
            let area = 400.0 * inlet.area_m2(angle) + 700.0 * exhaust.area_m2(angle);
            fastest = fastest.max(HOT_GAMMA * area / self.geometry.volume_m3(angle));
        }
        // Steepest slope 1.25 √(2/soft) that steps of the shortest length can follow.
        let shortest_deg = if self.coarse {
            3.0 * SHORTEST_DEG
        } else {
            SHORTEST_DEG
        };
        let slope = self.stable() / (shortest_deg.to_radians() * fastest * seconds_per_rad);
        let soft = (2.0 * (1.25 / slope).powi(2)).clamp(LEAST_SOFT, MOST_SOFT);
        let orifice = |gamma: f64| {
            let gas = PerfectGas {
                gamma,
                gas_constant_j_kg_k: 1.0,
            };
            OrificeGas::softened(gas, soft)
        };
        let charge_kg = self.inlet_pa * self.geometry.volume_m3(PI)
            / (gas.fresh.gas_constant_j_kg_k * self.inlet_k);
        let walls = self.walls.map(|walls| {
            let state = WallState::new(
                &walls,
                self.geometry.bore_m,
                self.geometry.swept_volume_m3(),
                self.geometry.mean_piston_speed_m_s(self.rpm),
                self.inlet_k,
                self.inlet_pa,
                self.geometry.volume_m3(PI),
            );
            (walls, state)
        });
        Fixed {
            inlet,
            exhaust,
            cold: orifice(gas.fresh.gamma(self.inlet_k)),
            hot: orifice(HOT_GAMMA),
            walls,
            seconds_per_rad,
            inlet_fresh_h: gas.fresh.enthalpy_j_kg(self.inlet_k),
            inlet_burned_h: gas.burned.enthalpy_j_kg(self.inlet_k),
            charge_kg,
        }
    }

    /// Temperature of the cylinder's gas from its energy, K.
    fn temperature_k(&self, fresh: f64, burned: f64, energy: f64, near_k: f64) -> f64 {
        let gas = self.gas;
        let r = fresh * gas.fresh.gas_constant_j_kg_k + burned * gas.burned.gas_constant_j_kg_k;
        let mut t = near_k;
        for _ in 0..12 {
            let (fresh_h, fresh_cp) = gas.fresh.enthalpy_and_cp(t);
            let (burned_h, burned_cp) = gas.burned.enthalpy_and_cp(t);
            let have = fresh * fresh_h + burned * burned_h - r * t;
            let step = (energy - have) / (fresh * fresh_cp + burned * burned_cp - r);
            t = (t + step).clamp(0.5 * t, 2.0 * t);
            // What is left after a step this small goes with its square: below 1e-9.
            if step.abs() < 2e-5 * t {
                break;
            }
        }
        t
    }

    /// Rates of all states by crank angle, and the fastest of them: how pressures meet, or how the last of what waits in the inlet
    /// port is drawn in, 1/rad.
    ///
    /// ```text
    /// dm = ṁ_in − ṁ_out,   dU = −p dV − dQ + h_in dm_in − h_out dm_out,   p V = m R T
    /// ```
    ///
    /// Source: derived, first law for an open stirred volume.
    /// Equation (9.5).
    fn slope(&self, fixed: &Fixed, angle: f64, state: &State, guess_k: &mut f64) -> (State, f64) {
        let (volume, volume_slope) = self.geometry.volume_and_slope(angle);
        let (fresh, burned) = (state[FRESH], state[BURNED]);
        let mass = fresh + burned;
        let kelvin = self.temperature_k(fresh, burned, state[ENERGY], *guess_k);
        *guess_k = kelvin;
        let share = burned / mass;
        let r = self.gas_constant(share);
        let pressure = mass * r * kelvin / volume;
        let inside = Inside {
            pressure,
            kelvin,
            share,
            root: (r * kelvin).sqrt(),
            enthalpy: (state[ENERGY] + pressure * volume) / mass,
        };
        let mut slope = [0.0; STATES];
        let mut rate = 0.0;
        let area = fixed.inlet.area_m2(angle);
        if area > 0.0 {
            rate += area * self.through_inlet(fixed, area, &inside, state, &mut slope);
        }
        let area = fixed.exhaust.area_m2(angle);
        if area > 0.0 {
            rate += area * self.through_exhaust(fixed, area, &inside, state, &mut slope);
        }
        let heat = fixed.walls.as_ref().map_or(0.0, |(walls, coefficient)| {
            let h = coefficient.open_coefficient_w_m2_k(pressure, kelvin, volume);
            let wall_m2 = self.geometry.wall_area_m2(volume, walls.head_factor);
            h * wall_m2 * (kelvin - walls.temperature_k) * fixed.seconds_per_rad
        });
        slope[WALL] = heat;
        slope[WORK] = pressure * volume_slope;
        slope[FRESH] = slope[IN_FRESH] - slope[OUT_FRESH];
        slope[BURNED] = slope[IN_BURNED] - slope[OUT_BURNED];
        slope[ENERGY] = slope[IN_J] - slope[OUT_J] - heat - slope[WORK];
        let meets = rate * HOT_GAMMA * inside.root / volume * fixed.seconds_per_rad;
        let drains = if state[WAITING] > LITTLE_WAITS * fixed.charge_kg {
            -slope[WAITING] / state[WAITING]
        } else {
            0.0
        };
        (slope, meets.max(drains))
    }

    /// Gas constant of a mixture with a share of burned gas, J/kg K.
    fn gas_constant(&self, burned_share: f64) -> f64 {
        let (fresh, burned) = (&self.gas.fresh, &self.gas.burned);
        fresh.gas_constant_j_kg_k
            + burned_share * (burned.gas_constant_j_kg_k - fresh.gas_constant_j_kg_k)
    }

    /// Flow through the inlet valve: what waits in the port first, then the manifold's charge; or back into the port. Returns the
    /// steepness of the flow function.
    /// Equation (9.6).
    fn through_inlet(
        &self,
        fixed: &Fixed,
        area: f64,
        inside: &Inside,
        state: &State,
        slope: &mut State,
    ) -> f64 {
        if inside.pressure >= self.inlet_pa {
            let psi = fixed.hot.psi(self.inlet_pa / inside.pressure);
            let flow = area * inside.pressure * psi / inside.root * fixed.seconds_per_rad;
            slope[WAITING] += flow;
            slope[WAITING_BURNED] += inside.share * flow;
            slope[WAITING_J] += inside.enthalpy * flow;
            slope[IN_FRESH] -= (1.0 - inside.share) * flow;
            slope[IN_BURNED] -= inside.share * flow;
            slope[IN_J] -= inside.enthalpy * flow;
            slope[BACK] += flow;
            return steepness(&fixed.hot, psi);
        }
        let waits = (state[WAITING] / (INLET_TAIL * fixed.charge_kg)).clamp(0.0, 1.0);
        let (mut y, mut h, mut inlet_k) = (0.0, fixed.inlet_fresh_h, self.inlet_k);
        let mut waiting_h = 0.0;
        if waits > 0.0 {
            let waiting_y = (state[WAITING_BURNED] / state[WAITING]).clamp(0.0, 1.0);
            waiting_h = state[WAITING_J] / state[WAITING];
            let cold_h = h + waiting_y * (fixed.inlet_burned_h - h);
            let warmer = (waiting_h - cold_h) / WARM_CP;
            y = waits * waiting_y;
            h += waits * (waiting_h - h);
            inlet_k += (waits * warmer).clamp(-0.3 * inlet_k, 2000.0);
        }
        let psi = fixed.cold.psi(inside.pressure / self.inlet_pa);
        let root = (self.gas_constant(y) * inlet_k).sqrt();
        let flow = area * self.inlet_pa * psi / root * fixed.seconds_per_rad;
        slope[WAITING] -= waits * flow;
        slope[WAITING_BURNED] -= y * flow;
        slope[WAITING_J] -= waits * flow * waiting_h;
        slope[IN_FRESH] += (1.0 - y) * flow;
        slope[IN_BURNED] += y * flow;
        slope[IN_J] += h * flow;
        steepness(&fixed.cold, psi)
    }

    /// Flow through the exhaust valve: out into the stirred port, or back from it.
    /// Equation (9.6).
    fn through_exhaust(
        &self,
        fixed: &Fixed,
        area: f64,
        inside: &Inside,
        state: &State,
        slope: &mut State,
    ) -> f64 {
        let (y, port_k) = (state[PORT_BURNED], state[PORT_K]);
        if inside.pressure > self.exhaust_pa {
            let psi = fixed.hot.psi(self.exhaust_pa / inside.pressure);
            let flow = area * inside.pressure * psi / inside.root * fixed.seconds_per_rad;
            slope[OUT_FRESH] += (1.0 - inside.share) * flow;
            slope[OUT_BURNED] += inside.share * flow;
            slope[OUT_J] += inside.enthalpy * flow;
            let mixes = flow / (EXHAUST_PORT * fixed.charge_kg);
            slope[PORT_BURNED] += mixes * (inside.share - y);
            slope[PORT_K] += mixes * (inside.kelvin - port_k);
            return steepness(&fixed.hot, psi);
        }
        let psi = fixed.hot.psi(inside.pressure / self.exhaust_pa);
        let root = (self.gas_constant(y) * port_k).sqrt();
        let flow = area * self.exhaust_pa * psi / root * fixed.seconds_per_rad;
        let h = (1.0 - y) * self.gas.fresh.enthalpy_j_kg(port_k)
            + y * self.gas.burned.enthalpy_j_kg(port_k);
        slope[OUT_FRESH] -= (1.0 - y) * flow;
        slope[OUT_BURNED] -= y * flow;
        slope[OUT_J] -= h * flow;
        slope[RETURNED] += flow;
        steepness(&fixed.hot, psi)
    }

    /// Places where a valve moves first or last, or a dead centre is passed, in order.
    fn marks(fixed: &Fixed, from: f64, to: f64) -> Vec<f64> {
        let mut marks = vec![
            PI,
            3.0 * PI,
            fixed.inlet.opens_rad,
            fixed.inlet.closes_rad,
            fixed.exhaust.opens_rad,
            fixed.exhaust.closes_rad,
        ];
        marks.retain(|mark| *mark > from && *mark < to);
        marks.push(to);
        marks.sort_by(f64::total_cmp);
        marks
    }

    /// The states at the start, as [`Self::rates`] takes them.
    pub fn start_state(start: &Contents) -> [f64; STATES] {
        let mut state = [0.0; STATES];
        state[FRESH] = start.fresh_kg;
        state[BURNED] = start.burned_kg;
        state[ENERGY] = start.energy_j;
        state[WAITING] = start.waiting_kg;
        state[WAITING_BURNED] = start.waiting_burned_kg;
        state[WAITING_J] = start.waiting_j;
        state[PORT_BURNED] = start.exhaust_burned;
        state[PORT_K] = start.exhaust_k;
        state
    }

    /// The equations themselves, for another integrator: rates of all states at a crank angle. `near_k` is a temperature of the
    /// cylinder's gas to start from.
    pub fn rates(&self, near_k: f64) -> impl Fn(f64, &[f64; STATES]) -> [f64; STATES] {
        let fixed = self.prepare();
        move |angle, state| {
            let mut guess_k = near_k;
            self.slope(&fixed, angle, state, &mut guess_k).0
        }
    }

    /// Integrates from an angle (exhaust opening) to another (inlet closing, at most 720° after firing) by fourth-order
    /// Runge-Kutta, each step as long as stability allows.
    pub fn run(&self, from_rad: f64, to_rad: f64, start: &Contents, start_k: f64) -> OpenResult {
        let fixed = self.prepare();
        let mut state = Self::start_state(start);
        let mut guess_k = start_k;
        let mut steps = 0;
        let (mut expansion_work_j, mut compression_work_j) = (0.0, 0.0);
        let mut angle = from_rad;
        let longest = OPEN_STEP_DEG.to_radians() * self.step_factor;
        let shortest = 0.25 * SHORTEST_DEG.to_radians() * self.step_factor;
        for to in Self::marks(&fixed, from_rad, to_rad) {
            let (start_rad, before_j) = (angle, state[WORK]);
            while angle < to {
                let (slope, rate) = self.slope(&fixed, angle, &state, &mut guess_k);
                let stable = self.stable() * self.step_factor / rate.max(1e-12);
                let wanted = stable.clamp(shortest, longest);
                let left = to - angle;
                // The last steps of a stretch are evened out.
                let step = if wanted >= left {
                    left
                } else if 2.0 * wanted > left {
                    0.5 * left
                } else {
                    wanted
                };
                state = runge_kutta(
                    &mut |x, y: &State| self.slope(&fixed, x, y, &mut guess_k).0,
                    &slope,
                    angle,
                    step,
                    &state,
                );
                steps += 1;
                angle = if step == left { to } else { angle + step };
            }
            let done_j = state[WORK] - before_j;
            if 0.5 * (start_rad + to) < PI {
                expansion_work_j += done_j;
            } else if 0.5 * (start_rad + to) > 3.0 * PI {
                compression_work_j += done_j;
            }
        }
        let end_k = self.temperature_k(state[FRESH], state[BURNED], state[ENERGY], guess_k);
        let kept = (INLET_PORT * fixed.charge_kg / state[WAITING].max(1e-12)).min(1.0);
        OpenResult {
            contents: Contents {
                fresh_kg: state[FRESH],
                burned_kg: state[BURNED],
                energy_j: state[ENERGY],
                waiting_kg: kept * state[WAITING],
                waiting_burned_kg: kept * state[WAITING_BURNED],
                waiting_j: kept * state[WAITING_J],
                exhaust_burned: state[PORT_BURNED],
                exhaust_k: state[PORT_K],
            },
            end_k,
            work_j: state[WORK],
            expansion_work_j,
            compression_work_j,
            wall_heat_j: state[WALL],
            inlet_fresh_kg: state[IN_FRESH],
            inlet_burned_kg: state[IN_BURNED],
            inlet_j: state[IN_J],
            exhaust_fresh_kg: state[OUT_FRESH],
            exhaust_burned_kg: state[OUT_BURNED],
            exhaust_j: state[OUT_J],
            back_flow_kg: state[BACK],
            exhaust_back_kg: state[RETURNED],
            steps,
        }
    }
}

/// Heat capacity with which gas waiting in the inlet port is turned from enthalpy to temperature for its density alone, J/kg K
/// (300 to 900 K; NASA polynomials give 1080 to 1200).
const WARM_CP: f64 = 1130.0;

/// Slope of the flow function by the relative drop of pressure: about 1/Ψ where the drop is small, no more than at its steepest.
fn steepness(gas: &OrificeGas, psi: f64) -> f64 {
    (1.0 / psi.max(1e-9)).min(gas.steepest())
}
