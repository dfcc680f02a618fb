//! What a pull leaves warm in the car, and how a rest takes it away again.
//!
//! The pull itself follows the charge cooler, battery and motor while it runs, because they move within seconds. Coolant and
//! walls, oils and tyres are slow against a pull: they stand where they stood while it runs, and are warmed at its end by the
//! heat that its points say they took up. Each is one lump with one heat capacity, and each drifts back to where it stood
//! before the first pull: that is what the shop's own routine between pulls (engine idling on its thermostat, fan on) holds. It
//! refuses to know the case of a blower, the air under the bonnet and the tread's surface.
//!
//! ```text
//! C dT/dt = Q − G (T − T_rest),   Q the pull's mean, 0 at rest
//! ```
//!
//! Source: derived, the energy balance of a lump; the shares, capacities and conductances are common practice, no source, but
//! for the radiator without an air stream, 0.1 to 0.3 kW/K (from memory).

use super::pull::{AxleStart, Conditions};
use super::{Pull, PullPoint, Setup};
use crate::cooling::HeatBalance;

/// One lump.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lump {
    /// Heat capacity, J/K; infinity never warms.
    pub heat_capacity_j_k: f64,
    /// Conductance back to its resting temperature, W/K, above 0.
    pub to_rest_w_k: f64,
}

impl Lump {
    /// Temperature after a time under a heat flow, K: exact for a steady one.
    /// Equation (6.10).
    fn after_k(self, from_k: f64, rest_k: f64, heat_w: f64, duration_s: f64) -> f64 {
        HeatBalance {
            settled_temperature_k: rest_k + heat_w / self.to_rest_w_k,
            conductance_w_k: self.to_rest_w_k,
            heat_capacity_j_k: self.heat_capacity_j_k,
        }
        .after_k(from_k, duration_s)
    }
}

/// The slow lumps of a car, and the battery's way to the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bodies {
    /// Coolant, head and block, and with them the walls of manifold and ports.
    pub walls: Lump,
    /// Engine oil and the metal it wets.
    pub engine_oil: Lump,
    /// Gear oil, gears and cases.
    pub gear_oil: Lump,
    /// The tyres that the engine drives.
    pub tyre: Lump,
    /// Conductance of the battery to the air outside, W/K; its heat capacity is its own.
    pub battery_w_k: f64,
}

/// Coolant and metal per litre of displacement, J/K: 2.5 kg of coolant and 40 kg of metal (common practice, no source).
const WALLS_J_K_PER_L: f64 = 35e3;
/// Radiator without the road's air stream, W/K: 100 to 300 (from memory).
const RADIATOR_W_K: f64 = 200.0;
/// Oil and the metal it wets per litre of displacement, J/K: 1.5 kg of oil and 10 kg of metal (common practice, no source).
const ENGINE_OIL_J_K_PER_L: f64 = 8e3;
/// Oil to coolant and air per litre of displacement, W/K; back in some three minutes (common practice, no source).
const ENGINE_OIL_W_K_PER_L: f64 = 40.0;
/// Oil, gears and case of one gear stage, J/K: 1.5 kg of oil and 25 kg of metal (common practice, no source).
const GEAR_OIL_J_K_PER_STAGE: f64 = 15e3;
/// Case of one stage to the air, W/K: 0.4 m² in the fan's draught (common practice, no source).
const GEAR_OIL_W_K_PER_STAGE: f64 = 8.0;
/// Tyre per newton of load, J/K: 10 kg of rubber and cord under 4 kN (common practice, no source).
const TYRE_J_K_PER_N: f64 = 4.0;
/// Tyre to the air per newton of load, W/K: 0.8 m² under 4 kN (common practice, no source).
const TYRE_W_K_PER_N: f64 = 3e-3;
/// Time constant of a battery that only the air cools, s (common practice, no source).
const BATTERY_S: f64 = 1800.0;

/// Share of the rubbing friction's heat that goes into the oil, the rest into walls and coolant (common practice, no source).
const FRICTION_TO_OIL: f64 = 0.6;
/// Share of the cylinders' wall heat that the oil takes from the pistons (common practice, no source).
const WALL_HEAT_TO_OIL: f64 = 0.1;
/// Share of the slip's heat that stays in the tyre, the rest in the drum (common practice, no source).
const SLIP_TO_TYRE: f64 = 0.5;

impl Bodies {
    /// Usual lumps for a car of this displacement, these gears, this load on its tyres and this battery.
    pub fn typical(setup: &Setup) -> Self {
        let car = &setup.car;
        let litres = 1e3 * car.engine.geometry.displacement_m3();
        let stages = car.driveline.train.stages.len() as f64;
        let load_n = car.driveline.tyre.load_n;
        let lump = |heat_capacity_j_k, to_rest_w_k| Lump {
            heat_capacity_j_k,
            to_rest_w_k,
        };
        Self {
            walls: lump(WALLS_J_K_PER_L * litres, RADIATOR_W_K),
            engine_oil: lump(ENGINE_OIL_J_K_PER_L * litres, ENGINE_OIL_W_K_PER_L * litres),
            gear_oil: lump(
                GEAR_OIL_J_K_PER_STAGE * stages,
                GEAR_OIL_W_K_PER_STAGE * stages,
            ),
            tyre: lump(TYRE_J_K_PER_N * load_n, TYRE_W_K_PER_N * load_n),
            battery_w_k: car
                .electric
                .as_ref()
                .map_or(0.0, |d| d.axle.battery.heat_capacity_j_k / BATTERY_S),
        }
    }
}

/// Temperatures, K, and charge that a car carries from one pull to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warmth {
    /// Charge-cooler core or water; the air's without a cooler.
    pub core_k: f64,
    /// Coolant and walls.
    pub walls_k: f64,
    /// Engine oil.
    pub engine_oil_k: f64,
    /// Gear oil.
    pub gear_oil_k: f64,
    /// Driven tyres.
    pub tyre_k: f64,
    /// Battery; the air's without one.
    pub battery_k: f64,
    /// Motor winding; the air's without one.
    pub winding_k: f64,
    /// Motor case; the air's without one.
    pub case_k: f64,
    /// Charge of the battery, 0 to 1.
    pub charge: f64,
}

impl Warmth {
    /// The car as a plain pull under these conditions finds it.
    pub fn at_start(setup: &Setup, ambient_k: f64, conditions: &Conditions) -> Self {
        let car = &setup.car;
        let axle = &conditions.axle;
        let coolant_k = car
            .electric
            .as_ref()
            .map_or(ambient_k, |d| d.axle.motor.heat.coolant_k);
        let winding_k = axle.motor_k.unwrap_or(coolant_k);
        Self {
            core_k: conditions.core_k.unwrap_or(ambient_k),
            walls_k: car.engine.breathing.wall_k,
            engine_oil_k: car.engine.oil_k,
            gear_oil_k: car.driveline.oil_k,
            tyre_k: car.driveline.tyre_k,
            battery_k: axle.battery_k.unwrap_or(ambient_k),
            winding_k,
            case_k: axle.case_k.unwrap_or(winding_k),
            charge: axle.charge,
        }
    }

    /// The car with these temperatures on its drums, and the start of its pull.
    pub fn put_into(&self, setup: &Setup, conditions: &Conditions) -> (Setup, Conditions) {
        let mut warm = setup.clone();
        warm.car.engine.breathing.wall_k = self.walls_k;
        warm.car.engine.oil_k = self.engine_oil_k;
        warm.car.driveline.oil_k = self.gear_oil_k;
        warm.car.driveline.tyre_k = self.tyre_k;
        let start = Conditions {
            core_k: Some(self.core_k),
            axle: AxleStart {
                charge: self.charge,
                battery_k: Some(self.battery_k),
                motor_k: Some(self.winding_k),
                case_k: Some(self.case_k),
                ..conditions.axle
            },
            ..*conditions
        };
        (warm, start)
    }

    /// Behind a pull that was started so.
    pub(super) fn after_pull(
        &self,
        setup: &Setup,
        bodies: &Bodies,
        rested: &Self,
        pull: &Pull,
    ) -> Self {
        let [walls_j, engine_oil_j, gear_oil_j, tyre_j] =
            heat_j(setup, self.tyre_k, self.gear_oil_k, pull);
        let seconds = pull.points.last().map_or(0.0, |p| p.time_s);
        let mean_w = |joule: f64| if seconds > 0.0 { joule / seconds } else { 0.0 };
        let warmed =
            |lump: Lump, from, rest, joule| lump.after_k(from, rest, mean_w(joule), seconds);
        Self {
            core_k: pull.end.core_k,
            walls_k: warmed(bodies.walls, self.walls_k, rested.walls_k, walls_j),
            engine_oil_k: warmed(
                bodies.engine_oil,
                self.engine_oil_k,
                rested.engine_oil_k,
                engine_oil_j,
            ),
            gear_oil_k: warmed(
                bodies.gear_oil,
                self.gear_oil_k,
                rested.gear_oil_k,
                gear_oil_j,
            ),
            tyre_k: warmed(bodies.tyre, self.tyre_k, rested.tyre_k, tyre_j),
            battery_k: pull.end.battery_k,
            winding_k: pull.end.winding_k,
            case_k: pull.end.case_k,
            charge: pull.end.charge,
        }
    }

    /// After a rest: every lump by its own conductance, the core as it cools at rest, the motor through its jacket. The charge
    /// stays.
    #[must_use]
    pub fn after_rest(
        &self,
        setup: &Setup,
        bodies: &Bodies,
        rested: &Self,
        ambient_k: f64,
        rest_s: f64,
    ) -> Self {
        let cooled = |lump: Lump, from, rest| lump.after_k(from, rest, 0.0, rest_s);
        let mut next = Self {
            walls_k: cooled(bodies.walls, self.walls_k, rested.walls_k),
            engine_oil_k: cooled(bodies.engine_oil, self.engine_oil_k, rested.engine_oil_k),
            gear_oil_k: cooled(bodies.gear_oil, self.gear_oil_k, rested.gear_oil_k),
            tyre_k: cooled(bodies.tyre, self.tyre_k, rested.tyre_k),
            ..*self
        };
        if let Some(cooler) = &setup.car.cooler {
            next.core_k = cooler.after_rest_k(self.core_k, ambient_k, rest_s);
        }
        if let Some(drive) = &setup.car.electric {
            let battery = Lump {
                heat_capacity_j_k: drive.axle.battery.heat_capacity_j_k,
                to_rest_w_k: bodies.battery_w_k,
            };
            next.battery_k = battery.after_k(self.battery_k, ambient_k, 0.0, rest_s);
            (next.winding_k, next.case_k) =
                drive
                    .axle
                    .motor
                    .heat
                    .after_rest_k(self.winding_k, self.case_k, rest_s);
        }
        next
    }
}

/// Heat that a pull puts into walls, engine oil, gear oil and tyres, J: the trapezoid over its points.
/// Equation (6.10).
fn heat_j(setup: &Setup, tyre_k: f64, gear_oil_k: f64, pull: &Pull) -> [f64; 4] {
    let mut warm = setup.clone();
    (warm.car.driveline.oil_k, warm.car.driveline.tyre_k) = (gear_oil_k, tyre_k);
    let flows = |p: &PullPoint| {
        let ledger = &p.engine.ledger;
        let to_oil = FRICTION_TO_OIL * ledger.friction_w + WALL_HEAT_TO_OIL * ledger.wall_w;
        // What the charge takes out of the walls on its way in is theirs no more.
        let to_walls = ledger.friction_w + ledger.wall_w - to_oil - ledger.warming_w;
        let steps = warm.crank_to_drum(p);
        let slip_w = steps.passed.transmitted_n * p.speed_m_s * p.slip;
        let rolling_w = steps.rolling_n * p.speed_m_s;
        [
            to_walls,
            to_oil,
            steps.shaft.mesh_loss_w + steps.shaft.spin_loss_w,
            rolling_w + SLIP_TO_TYRE * slip_w,
        ]
    };
    let mut total = [0.0; 4];
    for pair in pull.points.windows(2) {
        let half_s = 0.5 * (pair[1].time_s - pair[0].time_s);
        let (a, b) = (flows(&pair[0]), flows(&pair[1]));
        for (sum, (a, b)) in total.iter_mut().zip(a.into_iter().zip(b)) {
            *sum += half_s * (a + b);
        }
    }
    total
}
