//! A cylinder run until its cycle repeats: what it traps, gives, loses and sends out.
//!
//! Exists because residual gas and exhaust temperature of one cycle are the start of the next. The phasing is searched while
//! the cycle settles, so that both settle together. A point that does not settle says so; it is never an error.
//!
//! Source: fixed-point iteration of the cycle (derived).

use super::closed::{ClosedPhase, ClosedResult};
use super::gas::WorkingGas;
use super::input::{CycleInput, CycleInputError, Spark};
use super::open::{Contents, OpenPhase, OpenResult};
use super::spark::{CLOSE, Memory, Phase, ROUGH};
use crate::air::moist::gas_constant_j_kg_k;
use crate::engine::burn_law::{BurnCharge, BurnLaw};
use crate::engine::wiebe::Wiebe;
use std::f64::consts::PI;

/// Cycles allowed.
const MOST_CYCLES: u32 = 80;
/// Cycles in which best torque is still sought; afterwards it stands, so that the cycle can settle.
const CYCLES_OF_SEARCH: u32 = 3;
/// Cycles at the beginning that are computed with longer steps and a looser knock limit.
const ROUGH_CYCLES: u32 = 3;
/// Cycles after which only half of each change is followed, half of that whenever it still swings, and more again when it does not: a
/// charge that is mostly residual may swing between two states, as may one whose burn knock holds back far.
const CYCLES_AT_ONCE: u32 = 15;
const FOLLOWED: f64 = 0.5;
/// By how much the part followed grows where the change goes on the same way: slowly, for the swing comes back at twice.
const FOLLOWED_MORE: f64 = 1.5;
/// Relative change from cycle to cycle that counts as none.
const SETTLED: f64 = 3e-6;
/// First guesses; the answer does not depend on them.
const FIRST_RESIDUAL: f64 = 0.06;
const FIRST_WARMING: f64 = 1.12;
const FIRST_EXHAUST_K: f64 = 1100.0;

/// A checked input with its gas prepared.
#[derive(Debug, Clone)]
pub struct CylinderCycle {
    input: CycleInput,
    gas: WorkingGas,
    law: BurnLaw,
    step_factor: f64,
}

/// A settled cycle of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CyclePoint {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Swept volume of the cylinder, m³.
    pub swept_m3: f64,
    /// Dry air in the cylinder when the inlet valve has shut, kg per cycle.
    pub trapped_air_kg: f64,
    /// Trapped moist air over what the swept volume holds at the state of the inlet.
    pub volumetric_efficiency: f64,
    /// Share of the fresh charge taken in that leaves unburned through the exhaust valve, crevice gas included.
    pub lost_share: f64,
    /// Burned gas over charge, by mass.
    pub residual_fraction: f64,
    /// Gas that ran back into the inlet port, over the charge.
    pub back_flow_share: f64,
    /// Pressure at inlet closing, Pa.
    pub closing_pa: f64,
    /// Temperature at inlet closing, K.
    pub closing_k: f64,
    /// Burn duration, deg (0 when motored).
    pub burn_duration_deg: f64,
    /// Half burned, deg after top dead centre (0 when motored).
    pub ca50_deg: f64,
    /// Half burned at best torque, deg; what was asked for when the spark was fixed.
    pub best_ca50_deg: f64,
    /// Whether knock set the phasing.
    pub knock_limited: bool,
    /// Whether it knocks even at the latest phasing searched.
    pub beyond_search: bool,
    /// Livengood-Wu integral at the phasing run.
    pub knock_integral: f64,
    /// End-gas temperature where 95 % has burned, K.
    pub end_gas_k: f64,
    /// Indicated mean effective pressure of compression and expansion, Pa.
    pub gross_pa: f64,
    /// The same over the whole cycle, Pa.
    pub net_pa: f64,
    /// Gross less net: what gas exchange costs, Pa; negative where it gives.
    pub pumping_pa: f64,
    /// Highest pressure, Pa.
    pub peak_pa: f64,
    /// Its angle, deg after top dead centre.
    pub peak_deg: f64,
    /// Highest temperature of burned gas, K.
    pub peak_burned_k: f64,
    /// Heat to the walls over the heating value of the trapped fuel (0 when motored).
    pub wall_share: f64,
    /// Pressure when the exhaust valve opens, Pa.
    pub opening_pa: f64,
    /// Mean temperature then, K.
    pub opening_k: f64,
    /// Temperature of the gas that leaves, mean by enthalpy, K.
    pub exhaust_k: f64,
    /// Mass in less mass out, over the charge.
    pub mass_error: f64,
    /// Energy in less energy out, over the trapped fuel's heating value (over p V of the inlet when motored).
    pub energy_error: f64,
    /// Cycles until it repeated.
    pub cycles: u32,
    /// Whether it did repeat.
    pub settled: bool,
}

/// The charge at inlet closing with what stands in the ports.
#[derive(Debug, Clone, Copy)]
struct Closing {
    contents: Contents,
    kelvin: f64,
}

/// How carefully a cycle is computed.
struct Stage {
    /// Whether best torque is still sought.
    search: bool,
    /// Whether it is far from settled.
    rough: bool,
}

impl Closing {
    /// From this charge toward the next, or with a share above 1 past it, but to no less than half of a mass there. What stands in the ports
    /// follows the last cycle and no further: a port forgets within a cycle what it held, and past its next contents it would hold less
    /// than nothing.
    fn toward(&self, next: &Self, share: f64) -> Self {
        let (a, b) = (&self.contents, &next.contents);
        let middle = |x: f64, y: f64| x + share * (y - x);
        let mass = |x: f64, y: f64| middle(x, y).max(0.5 * y);
        let port = |x: f64, y: f64| x + share.min(1.0) * (y - x);
        Self {
            contents: Contents {
                fresh_kg: mass(a.fresh_kg, b.fresh_kg),
                burned_kg: mass(a.burned_kg, b.burned_kg),
                energy_j: middle(a.energy_j, b.energy_j),
                waiting_kg: port(a.waiting_kg, b.waiting_kg),
                waiting_burned_kg: port(a.waiting_burned_kg, b.waiting_burned_kg),
                waiting_j: port(a.waiting_j, b.waiting_j),
                exhaust_burned: port(a.exhaust_burned, b.exhaust_burned),
                exhaust_k: port(a.exhaust_k, b.exhaust_k),
            },
            kelvin: middle(self.kelvin, next.kelvin),
        }
    }
}

/// One cycle, closed and open.
struct Cycle {
    closed: ClosedResult,
    open: OpenResult,
    phase: Phase,
    duration_deg: f64,
}

impl CylinderCycle {
    /// Checks an input and prepares its gas.
    pub fn new(input: CycleInput) -> Result<Self, CycleInputError> {
        input.check()?;
        Ok(Self {
            gas: WorkingGas::new(&input.fuel, input.lambda, input.humidity_ratio),
            law: BurnLaw::new(input.burn, input.fuel),
            input,
            step_factor: 1.0,
        })
    }

    /// The same with all steps longer or shorter by a factor in 0.01 to 1, for measuring what the steps cost.
    #[must_use]
    pub fn with_steps(self, factor: f64) -> Self {
        Self {
            step_factor: factor.clamp(0.01, 1.0),
            ..self
        }
    }

    /// What it was made from.
    pub fn input(&self) -> &CycleInput {
        &self.input
    }

    /// Its gas.
    pub fn gas(&self) -> &WorkingGas {
        &self.gas
    }

    /// Inlet closing before firing, rad.
    pub fn closing_rad(&self) -> f64 {
        self.input.inlet.inlet().closes_rad - 4.0 * PI
    }

    /// Exhaust opening after firing, rad.
    pub fn opening_rad(&self) -> f64 {
        self.input.exhaust.exhaust().opens_rad
    }

    /// The gas exchange as it is integrated.
    pub fn open_phase(&self) -> OpenPhase<'_> {
        let input = &self.input;
        OpenPhase {
            geometry: input.geometry,
            gas: &self.gas,
            inlet: input.inlet,
            exhaust: input.exhaust,
            inlet_pa: input.inlet_pa,
            inlet_k: input.inlet_k,
            exhaust_pa: input.exhaust_pa,
            walls: input.walls,
            rpm: input.rpm,
            step_factor: self.step_factor,
            coarse: false,
        }
    }

    fn closed_phase(&self, closing: &Closing, burn: Option<Wiebe>) -> ClosedPhase<'_> {
        let input = &self.input;
        let mass_kg = closing.contents.fresh_kg + closing.contents.burned_kg;
        ClosedPhase {
            geometry: input.geometry,
            gas: &self.gas,
            start_rad: self.closing_rad(),
            end_rad: self.opening_rad(),
            mass_kg,
            residual_fraction: closing.contents.burned_kg / mass_kg,
            temperature_k: closing.kelvin,
            burn,
            burning_share: input.burning_share,
            walls: input.walls,
            rpm: input.rpm,
            octane: input.octane,
            delay_multiplier: input.delay_multiplier,
            step_factor: self.step_factor,
        }
    }

    fn first_guess(&self) -> Closing {
        let input = &self.input;
        let (fresh, burned) = (&self.gas.fresh, &self.gas.burned);
        let kelvin = FIRST_WARMING * input.inlet_k;
        let y = if input.spark == Spark::Motored {
            0.0
        } else {
            FIRST_RESIDUAL
        };
        let r = fresh.gas_constant_j_kg_k
            + y * (burned.gas_constant_j_kg_k - fresh.gas_constant_j_kg_k);
        let volume = input.geometry.volume_m3(self.closing_rad());
        let mass = input.inlet_pa * volume / (r * kelvin);
        let energy_j_kg =
            (1.0 - y) * fresh.enthalpy_j_kg(kelvin) + y * burned.enthalpy_j_kg(kelvin) - r * kelvin;
        Closing {
            contents: Contents {
                fresh_kg: (1.0 - y) * mass,
                burned_kg: y * mass,
                energy_j: energy_j_kg * mass,
                waiting_kg: 0.0,
                waiting_burned_kg: 0.0,
                waiting_j: 0.0,
                exhaust_burned: if y > 0.0 { 1.0 } else { 0.0 },
                exhaust_k: if y > 0.0 {
                    FIRST_EXHAUST_K
                } else {
                    input.inlet_k
                },
            },
            kelvin,
        }
    }

    /// Burn duration of a charge, deg; the pressure is that of the charge in the whole cylinder, as the law is stated.
    /// Equation (9.13).
    fn duration_deg(&self, closing: &Closing) -> f64 {
        let contents = &closing.contents;
        let moles = contents.fresh_kg * self.gas.fresh.gas_constant_j_kg_k
            + contents.burned_kg * self.gas.burned.gas_constant_j_kg_k;
        self.law.duration_deg(&BurnCharge {
            rpm: self.input.rpm,
            lambda: self.input.lambda,
            temperature_k: closing.kelvin,
            pressure_pa: moles * closing.kelvin / self.input.geometry.volume_m3(PI),
            residual_fraction: contents.burned_kg / (contents.fresh_kg + contents.burned_kg),
        })
    }

    /// Burn curve with half burned at an angle, not started before the inlet valve has shut.
    fn burn(&self, ca50_deg: f64, duration_deg: f64) -> Wiebe {
        let burn = Wiebe::centred(ca50_deg.to_radians(), duration_deg.to_radians());
        Wiebe {
            start_rad: burn.start_rad.max(self.closing_rad()),
            ..burn
        }
    }

    fn phase(
        &self,
        closing: &Closing,
        duration_deg: f64,
        memory: &mut Memory,
        stage: &Stage,
    ) -> Phase {
        let free = |ca50_deg: f64| Phase {
            ca50_deg,
            limited: false,
            beyond: false,
        };
        match self.input.spark {
            Spark::Fixed { ca50_deg } => return free(ca50_deg),
            Spark::Motored => return free(0.0),
            Spark::Search { .. } | Spark::AfterBest { .. } => {}
        }
        let at = |ca50: f64| self.closed_phase(closing, Some(self.burn(ca50, duration_deg)));
        let earliest = self.burn(memory.earliest_deg(), duration_deg).start_rad;
        let compressed = self.closed_phase(closing, None).compress_to(earliest);
        if stage.search {
            // What the gas still does between exhaust opening and dead centre goes with the pressure left.
            let rest_m3 = memory.rest_m3;
            memory.improve_best(|ca50| {
                let (work_j, end_pa) = at(ca50).work_from(&compressed);
                work_j + rest_m3 * end_pa
            });
        }
        let retard_deg = match self.input.spark {
            Spark::Search { retard_deg } => retard_deg,
            Spark::AfterBest { later_deg } => return free(memory.best_deg + later_deg),
            Spark::Fixed { .. } | Spark::Motored => 0.0,
        };
        let tolerance = if stage.rough { ROUGH } else { CLOSE };
        let phase = memory.find(tolerance, |ca50| at(ca50).knock_integral_from(&compressed));
        Phase {
            ca50_deg: phase.ca50_deg + retard_deg,
            ..phase
        }
    }

    fn cycle(&self, closing: &Closing, memory: &mut Memory, stage: &Stage) -> Cycle {
        let motored = self.input.spark == Spark::Motored;
        let duration_deg = if motored {
            0.0
        } else {
            self.duration_deg(closing)
        };
        let phase = self.phase(closing, duration_deg, memory, stage);
        let burn = (!motored).then(|| self.burn(phase.ca50_deg, duration_deg));
        let closed = self.closed_phase(closing, burn).run();
        let contents = &closing.contents;
        let mass = contents.fresh_kg + contents.burned_kg;
        let newly = closed.burned_share * mass;
        let rest = 1.0 - closed.burned_share;
        let start = Contents {
            fresh_kg: rest * contents.fresh_kg,
            burned_kg: rest * contents.burned_kg + newly,
            energy_j: closed.end_energy_j,
            ..*contents
        };
        let until = self.closing_rad() + 4.0 * PI;
        let phase_open = OpenPhase {
            coarse: stage.rough,
            ..self.open_phase()
        };
        let open = phase_open.run(self.opening_rad(), until, &start, closed.end_k);
        memory.rest_m3 = open.expansion_work_j / closed.end_pa;
        Cycle {
            closed,
            open,
            phase,
            duration_deg,
        }
    }

    /// Runs the cylinder until its cycle repeats within 3e-6. Never fails; see [`CyclePoint::settled`].
    /// Equation (9.11).
    pub fn run(&self) -> CyclePoint {
        let mut closing = self.first_guess();
        let mut memory = Memory::new();
        let mut cycles = 0;
        let mut before: Option<Changes> = None;
        let (mut last, mut followed) = (Changes::default(), FOLLOWED);
        loop {
            let stage = Stage {
                search: cycles < CYCLES_OF_SEARCH,
                rough: cycles < ROUGH_CYCLES,
            };
            let cycle = self.cycle(&closing, &mut memory, &stage);
            cycles += 1;
            let next = Closing {
                contents: cycle.open.contents,
                kelvin: cycle.open.end_k,
            };
            let changes = changes(&closing, &next);
            let settled = largest(&changes) < SETTLED && cycles > CYCLES_OF_SEARCH;
            if settled || cycles >= MOST_CYCLES {
                return self.point(&closing, &cycle, &memory, cycles, settled);
            }
            let share = if cycles > CYCLES_AT_ONCE {
                let along = along(&last, &changes);
                if along < SWINGS {
                    followed *= 0.5;
                } else if along > -SWINGS {
                    followed = (FOLLOWED_MORE * followed).min(FOLLOWED);
                }
                followed
            } else {
                before.map_or(1.0, |before| onward(&before, &changes))
            };
            last = changes;
            // Only a step not lengthened itself, between two cycles computed alike, tells how the next ones shrink.
            before = (share == 1.0 && !stage.rough).then_some(changes);
            closing = closing.toward(&next, share);
        }
    }

    fn point(
        &self,
        closing: &Closing,
        cycle: &Cycle,
        memory: &Memory,
        cycles: u32,
        settled: bool,
    ) -> CyclePoint {
        let (input, gas) = (&self.input, &self.gas);
        let (closed, open) = (&cycle.closed, &cycle.open);
        let charge = closing.contents;
        let mass = charge.fresh_kg + charge.burned_kg;
        let swept = input.geometry.swept_volume_m3();
        let trapped_air_kg = charge.fresh_kg * gas.dry_air_share;
        let held =
            input.inlet_pa * swept / (gas_constant_j_kg_k(input.humidity_ratio) * input.inlet_k);
        let heat_j = if input.spark == Spark::Motored {
            input.inlet_pa * swept
        } else {
            charge.fresh_kg * gas.fuel_share * gas.heating_value_j_kg
        };
        let work_j = closed.work_j + open.work_j;
        let wall_j = closed.wall_heat_j + open.wall_heat_j;
        let gross_j = closed.gross_work_j + open.expansion_work_j + open.compression_work_j;
        let out_kg = open.exhaust_fresh_kg + open.exhaust_burned_kg;
        let in_kg = open.inlet_fresh_kg + open.inlet_burned_kg;
        CyclePoint {
            rpm: input.rpm,
            swept_m3: swept,
            trapped_air_kg,
            volumetric_efficiency: trapped_air_kg * (1.0 + input.humidity_ratio) / held,
            lost_share: open.exhaust_fresh_kg / open.inlet_fresh_kg,
            residual_fraction: charge.burned_kg / mass,
            back_flow_share: open.back_flow_kg / mass,
            closing_pa: closed.start_pa,
            closing_k: closing.kelvin,
            burn_duration_deg: cycle.duration_deg,
            ca50_deg: cycle.phase.ca50_deg,
            best_ca50_deg: match input.spark {
                Spark::Search { .. } | Spark::AfterBest { .. } => memory.best_deg,
                Spark::Fixed { ca50_deg } => ca50_deg,
                Spark::Motored => 0.0,
            },
            knock_limited: cycle.phase.limited,
            beyond_search: cycle.phase.beyond,
            knock_integral: closed.knock_integral,
            end_gas_k: closed.end_gas_k,
            gross_pa: gross_j / swept,
            net_pa: work_j / swept,
            pumping_pa: (gross_j - work_j) / swept,
            peak_pa: closed.peak_pa,
            peak_deg: closed.peak_rad.to_degrees(),
            peak_burned_k: closed.peak_burned_k,
            wall_share: if input.spark == Spark::Motored {
                0.0
            } else {
                wall_j / heat_j
            },
            opening_pa: closed.end_pa,
            opening_k: closed.end_k,
            exhaust_k: self.leaving_k(mass, cycle),
            mass_error: (in_kg - out_kg) / mass,
            energy_error: (open.inlet_j - open.exhaust_j - work_j - wall_j) / heat_j,
            cycles,
            settled,
        }
    }
}

impl CylinderCycle {
    /// Temperature of the gas that leaves, mean by enthalpy, K; that of the gas behind the valve where next to nothing leaves, or less than
    /// ran back: a small difference of two flows has the temperature of neither.
    fn leaving_k(&self, charge_kg: f64, cycle: &Cycle) -> f64 {
        let open = &cycle.open;
        let out_kg = open.exhaust_fresh_kg + open.exhaust_burned_kg;
        if out_kg < (LITTLE * charge_kg).max(open.exhaust_back_kg) {
            return open.contents.exhaust_k;
        }
        let share = (open.exhaust_burned_kg / out_kg).clamp(0.0, 1.0);
        let leaving = self.gas.fresh.with(&self.gas.burned, share);
        leaving.temperature_k(open.exhaust_j / out_kg, cycle.closed.end_k)
    }
}

/// Share of the charge below which a net flow has no temperature of its own.
const LITTLE: f64 = 0.02;

/// Relative changes of the charge and of what stands in the ports.
type Changes = [f64; 6];

fn changes(before: &Closing, after: &Closing) -> Changes {
    let (a, b) = (&before.contents, &after.contents);
    let mass = b.fresh_kg + b.burned_kg;
    [
        (b.fresh_kg - a.fresh_kg) / mass,
        (b.burned_kg - a.burned_kg) / mass,
        (after.kelvin - before.kelvin) / after.kelvin,
        (b.waiting_kg - a.waiting_kg) / mass,
        b.exhaust_burned - a.exhaust_burned,
        // A tenth: it acts through the little that runs back.
        0.1 * (b.exhaust_k - a.exhaust_k) / b.exhaust_k,
    ]
}

fn largest(changes: &Changes) -> f64 {
    changes.iter().fold(0.0, |worst, x| worst.max(x.abs()))
}

/// Relative change of a charge from which its cycles begin a geometric series. From further off a step past the next cycle can end in a
/// negative temperature.
const NEAR_THE_END: f64 = 0.05;

/// The part of a change that goes the way of the one before, over that one: `⟨d, d₋⟩/⟨d₋, d₋⟩`.
fn along(before: &Changes, now: &Changes) -> f64 {
    let dot = |a: &Changes, b: &Changes| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    dot(now, before) / dot(before, before)
}

/// A change that goes back by more of the one before than this swings: half a step would have ended nearer.
const SWINGS: f64 = -0.5;

/// How far to go with a change, where the change before shrank to it: to the end of the geometric series that both begin.
///
/// ```text
/// 1/(1 − q),   q = ⟨d, d₋⟩/⟨d₋, d₋⟩ held in ±0.5
/// ```
///
/// Source: derived; a fixed-point iteration near its end shrinks by one factor, here 0.03 to 0.1 (Aitken's step).
/// Equation (9.11).
fn onward(before: &Changes, now: &Changes) -> f64 {
    if largest(now) > NEAR_THE_END {
        return 1.0;
    }
    let ratio = along(before, now);
    if ratio.is_finite() {
        1.0 / (1.0 - ratio.clamp(-0.5, 0.5))
    } else {
        1.0
    }
}
