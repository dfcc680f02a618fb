//! The assembled car: the one place where the devices meet.
//!
//! Engine, blower, cooler, driveline and electric axle do not know each other; here they are joined into one machine that
//! has an operating point at every engine speed ([`balance`]) and a ledger of where the power went ([`ledger`]). A [`Car`]
//! holds plain numbers in SI, checked by whoever built it; doubt about those numbers lives in `fit`, words about
//! them in `files`.

mod abreast;
pub mod added;
pub mod balance;
mod by_cycle;
mod crank_angle;
mod cylinder;
pub mod defects;
mod delivery;
pub mod engine;
mod fed;
mod filling;
pub mod induction;
pub mod ledger;
pub mod limit;
mod on_a_day;
pub mod running_gear;
mod sweep;
pub mod template;
mod turbo;
mod work_by_cycle;

pub use added::{Added, Nitrous, SprayRate, WaterMethanol};
pub use balance::OperatingPoint;
pub use crank_angle::ValveGear;
pub use cylinder::CylinderPoint;
pub use defects::{Defects, Onset};
pub use delivery::BlowerPoint;
pub use engine::{Breathing, Engine, Fuelling, Knock, Tune};
pub use induction::{Blower, Exhaust, Intake};
pub use ledger::Ledger;
pub use limit::{Danger, Limit, Limits, Thresholds};
pub use on_a_day::{OnADay, Slow};
pub use running_gear::{Coupled, Driveline, ElectricDrive};
pub use sweep::{Settled, Sweep};
pub use template::Facts;
pub use turbo::BOOST_CONTROL_S;
pub use work_by_cycle::{WorkByCycle, WorkRatios};

use crate::cooling::charge_cooler::ChargeCooler;
use crate::engine::heat_transfer::Walls;
use crate::engine::knock_map::{BURN_COMPLETENESS, KnockMap, KnockMapInput};
pub use crate::engine::knock_maps::KnockMaps;
use crate::fuel::Fuel;
use crate::fuel::supply::FuelSupply;
use std::sync::Arc;

/// A car as it stands in front of the drums.
#[derive(Debug, Clone)]
pub struct Car {
    /// What the shop calls it.
    pub name: String,
    /// The engine, from inlet manifold to crank.
    pub engine: Engine,
    /// What is in the tank.
    pub fuel: Fuel,
    /// Rail, injectors and pump, as far as they are known.
    pub fuel_supply: FuelSupply,
    /// What the engine controller is told to do at full load.
    pub tune: Tune,
    /// Filter, ducts and throttle.
    pub intake: Intake,
    /// Manifolds, catalysts and silencers.
    pub exhaust: Exhaust,
    /// The machine that raises the charge pressure, if any.
    pub blower: Blower,
    /// The charge cooler between blower and manifold, if any.
    pub cooler: Option<ChargeCooler>,
    /// A spray of water and methanol ahead of the manifold, if fitted.
    pub water_methanol: Option<WaterMethanol>,
    /// Nitrous oxide fed ahead of the manifold, if fitted.
    pub nitrous: Option<Nitrous>,
    /// Clutch to tyre, for the axle the engine drives.
    pub driveline: Driveline,
    /// The electric axle, if the car has one.
    pub electric: Option<ElectricDrive>,
    /// What has gone wrong with it; nothing in a sound car.
    pub defects: Defects,
    /// Past which a shop should look.
    pub thresholds: Thresholds,
}

/// Residual share for which the knock table is made; its effect on the delay is carried by the charge temperature.
const TABLE_RESIDUAL: f64 = 0.05;

impl Car {
    /// Takes the knock table of the present cylinder, fuel and mixture: from the maps this car carries where they hold it, so that cars
    /// drawn from one share the work; else made, and the car carries maps of its new cylinder and fuel.
    pub fn retabulate_knock(&mut self) {
        let input = self.knock_input();
        let knock = &mut self.engine.knock;
        if knock.made_for.is_like(&input) {
            return;
        }
        knock.map = if knock.maps.hold(&input) {
            Arc::new(knock.maps.at(&input))
        } else {
            knock.maps = Arc::new(KnockMaps::new(input));
            Arc::new(KnockMap::build(&input))
        };
        knock.made_for = input;
    }

    /// Share of this fuel that evaporates at the charge's cost before the inlet valve closes.
    pub fn evaporated_share(&self) -> f64 {
        self.engine.breathing.evaporation * self.fuel.relative_evaporation()
    }

    /// What the knock table is made for.
    fn knock_input(&self) -> KnockMapInput {
        KnockMapInput {
            geometry: self.engine.geometry.cylinder,
            fuel: self.fuel,
            lambda: self.tune.lambda,
            residual_fraction: TABLE_RESIDUAL,
            completeness: BURN_COMPLETENESS,
            walls: Some(Walls::default()),
        }
    }
}
