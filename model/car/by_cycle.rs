//! What the crank-angle cycle makes of a change inside the cylinder, against what the mean-value cylinder makes of it.
//!
//! Exists because the mean-value cylinder was calibrated on the engine as it stood: compression, bore and stroke, fuel and
//! mixture that it never saw reach it through exponents from practice. Both layers are asked what the change does to the
//! indicated work of a kilogram of air; the quotient of their two answers, over engine speed, corrects the built car. So the level
//! stays the baseline's and the change is the cycle's. It refuses what a cycle of even, evaporated charge between
//! manifolds of constant pressure does not know: filling, late evaporation, uneven mixing, spray, nitrous oxide. The knock limit
//! stays with the knock table, which is integrated by crank angle too; both layers are told the same distance from best torque.

use super::work_by_cycle::{WorkByCycle, WorkRatios};
use super::{Car, OnADay, OperatingPoint, Slow};
use crate::air::Day;
use crate::cycle::{CycleInput, CyclePoint, CylinderCycle, Spark};
use crate::numeric::{MonotoneCubic, side_by_side};
use std::sync::Arc;

/// Engine speeds at which the cycle is asked, over the redline, from where pulls start to where they end and closer together
/// where knock and wall heat bend the quotient.
const SPEEDS: [f64; 6] = [0.25, 0.35, 0.48, 0.63, 0.81, 1.0];
/// Difference of λ that counts as none: a mixture told for another redline.
const SAME_LAMBDA: f64 = 1e-9;

impl Car {
    /// Asks the crank-angle cycle what has changed inside the cylinder since `old`, and carries its answer from here on.
    ///
    /// Where nothing has, or no cycle can be made of it at any speed, the car stays as it is.
    /// Equation (9.14).
    pub fn ask_cycle(&mut self, old: &Self, day: Day) {
        if self.same_inside(old) {
            return;
        }
        let after = Self {
            water_methanol: None,
            nitrous: None,
            ..self.clone()
        };
        let before = after.with_the_inside_of(old);
        let cars = [&before, &after].map(|car| Asking {
            on_day: OnADay::new(car, day),
            car,
        });
        let ratios: Vec<WorkRatios> = side_by_side(SPEEDS.len(), |k| {
            let rpm = SPEEDS[k] * self.engine.redline_rpm;
            let [old_work, new_work] = [cars[0].at(rpm)?, cars[1].at(rpm)?];
            let earlier = old.engine.work_by_cycle.as_ref().map_or(1.0, |f| f.at(rpm));
            let cycle = new_work.cycle / old_work.cycle;
            let mean_value = new_work.mean_value / old_work.mean_value;
            Some(WorkRatios {
                rpm,
                cycle,
                mean_value,
                factor: earlier * cycle / mean_value,
            })
        })
        .into_iter()
        .flatten()
        .collect();
        if ratios.is_empty() {
            return;
        }
        let knots: Vec<(f64, [f64; 3])> = ratios
            .iter()
            .map(|a| (a.rpm, [a.cycle, a.mean_value, a.factor]))
            .collect();
        self.engine.work_by_cycle = Some(Arc::new(WorkByCycle {
            curve: MonotoneCubic::new(&knots),
            ratios,
        }));
    }

    /// Whether cylinder, fuel and mixture are those of another car.
    fn same_inside(&self, other: &Self) -> bool {
        let [a, b] = [self, other].map(|car| &car.engine);
        let same_mixture = SPEEDS.iter().all(|share| {
            let rpm = share * a.redline_rpm;
            let lambda = |car: &Self| car.tune.lambda_at(rpm, car.engine.redline_rpm);
            (lambda(self) - lambda(other)).abs() < SAME_LAMBDA
        });
        a.geometry.cylinder == b.geometry.cylinder && self.fuel == other.fuel && same_mixture
    }

    /// This car with cylinder, fuel and mixture of another; all around the cylinder stays.
    fn with_the_inside_of(&self, other: &Self) -> Self {
        let mut car = self.clone();
        car.engine.geometry.cylinder = other.engine.geometry.cylinder;
        car.fuel = other.fuel;
        let mut tune = other.tune;
        tune.retell(other.engine.redline_rpm, car.engine.redline_rpm);
        car.tune = car.tune.with_mixture_of(&tune);
        // Most likely its table, but a search may have put there that of the car after the work.
        car.engine.knock.map = Arc::clone(&other.engine.knock.map);
        car.engine.knock.made_for = other.engine.knock.made_for;
        car.engine.knock.maps = Arc::clone(&other.engine.knock.maps);
        car.retabulate_knock();
        car
    }
}

/// A car that both layers are asked about.
struct Asking<'a> {
    car: &'a Car,
    on_day: OnADay<'a>,
}

/// Indicated work per kilogram of dry air, J/kg. What an earlier change has left is in both cars, and in no quotient.
struct Work {
    cycle: f64,
    mean_value: f64,
}

impl Asking<'_> {
    /// Both layers at the mean-value layer's own full load; none where the cycle does not admit the engine or does not settle.
    fn at(&self, rpm: f64) -> Option<Work> {
        let slow = Slow::settled(self.on_day.day().temperature_k());
        let point = self.on_day.at(rpm, slow, None);
        let cycle = CylinderCycle::new(self.input(&point)).ok()?.run();
        let engine = &self.car.engine;
        let lambda = point.cylinder.lambda;
        let dry_kg_s = point.air_kg_s / (1.0 + self.on_day.day().humidity_ratio());
        let beyond = engine.combustion.beyond_a_cycle(&self.car.fuel, lambda);
        cycle.settled.then(|| Work {
            cycle: work_j_kg(&cycle),
            mean_value: point.cylinder.indicated_w / dry_kg_s / beyond,
        })
    }

    /// The point with half the burn as much later than the cycle's best torque as it is later than the car's.
    fn input(&self, point: &OperatingPoint) -> CycleInput {
        let best = self.car.engine.phasing.mbt_ca50_deg;
        CycleInput {
            spark: Spark::AfterBest {
                later_deg: (point.cylinder.ca50_deg - best).max(0.0),
            },
            ..self.on_day.cycle_input(point, &self.car.valve_gear())
        }
    }
}

fn work_j_kg(cycle: &CyclePoint) -> f64 {
    cycle.gross_pa * cycle.swept_m3 / cycle.trapped_air_kg
}
