//! The assembled car: the one place where the devices meet.
//!
//! Engine, blower, cooler, driveline and electric axle do not know each other; here they are joined into one machine that
//! has an operating point at every engine speed ([`balance`]) and a ledger of where the power went ([`ledger`]). A [`Car`]
//! holds plain numbers in SI, checked by whoever built it; doubt about those numbers lives in `fit`, words about
//! them in `files`.

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

pub use crate::engine::knock_over_mixture::KnockOverMixture;
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
    /// Makes the knock table anew if compression ratio, bore, stroke, fuel or mixture have moved since it was made.
    ///
    /// The table costs some milliseconds, so changes of the mixture too small to matter (0.002 in λ moves the limit by
    /// less than a tenth of a degree) leave it alone.
    pub fn retabulate_knock(&mut self) {
        let input = self.knock_input();
        let made = &self.engine.knock.made_for;
        let same = made.geometry == input.geometry
            && made.fuel == input.fuel
            && (made.lambda - input.lambda).abs() < 0.002;
        if !same {
            self.engine.knock.map = Arc::new(KnockMap::build(&input));
            self.engine.knock.made_for = input;
        }
    }

    /// Knock maps of this car's cylinder and fuel over the mixture.
    pub fn knock_over_mixture(&self) -> KnockOverMixture {
        KnockOverMixture::new(self.knock_input())
    }

    /// Takes the knock table for its mixture from maps made for its cylinder and fuel.
    pub fn take_knock_from(&mut self, maps: &KnockOverMixture) {
        let lambda = self.tune.lambda;
        self.engine.knock.map = Arc::new(maps.at(lambda));
        self.engine.knock.made_for = maps.input(lambda);
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
