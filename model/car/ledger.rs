//! Where the power went: one operating point as a balance sheet.
//!
//! Two balances must close. The crank's: indicated work pays for pumping, friction, accessories and the blower, the rest is
//! brake power. The engine's as a whole: fuel and warm air come in; power, heat and exhaust go out. The second is not used
//! to compute anything, so it checks that the operating point has settled.

use super::cylinder::{CylinderPoint, Feed};
use super::delivery::BlowerPoint;
use super::on_a_day::OnADay;
use crate::cooling::charge_cooler::CoolerPoint;
use crate::engine::products::REFERENCE_K;
use crate::fuel::Fuel;

/// All powers in W; those that leave the engine are positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ledger {
    /// Gross indicated power.
    pub indicated_w: f64,
    /// Pumping; negative where the charge pushes the piston.
    pub pumping_w: f64,
    /// Rubbing friction.
    pub friction_w: f64,
    /// Alternator, pumps and fan.
    pub accessories_w: f64,
    /// Blower, as taken from the crank.
    pub blower_w: f64,
    /// Fuel energy on the lower heating value of the liquid, sprayed methanol included.
    pub fuel_w: f64,
    /// Heat of nitrous oxide falling apart, less what warmed it from its bottle.
    pub nitrous_w: f64,
    /// Heat that evaporated sprayed water.
    pub water_w: f64,
    /// Energy of fuel and nitrous oxide that leaves unreleased for want of oxygen.
    pub unreleased_w: f64,
    /// Heat to the cylinder walls.
    pub wall_w: f64,
    /// Heat taken from manifold and port walls.
    pub warming_w: f64,
    /// Heat given to the charge cooler.
    pub cooler_w: f64,
    /// Power the turbine takes from the exhaust gas behind the valve.
    pub turbine_w: f64,
    /// Belt, slip, gear and bearing losses of the blower, and what a turbocharger's shaft takes to come up.
    pub drive_loss_w: f64,
    /// Heat that compressed air carries out through a hole.
    pub leaked_w: f64,
    /// Enthalpy of the air at the intake above 25 °C.
    pub air_w: f64,
    /// Enthalpy of the exhaust gas behind the valve above 25 °C.
    pub exhaust_w: f64,
}

impl Ledger {
    pub(super) fn of(
        day: &OnADay<'_>,
        feed: &Feed,
        cylinder: &CylinderPoint,
        blower: &BlowerPoint,
        turbine_w: f64,
        cooler: Option<&CoolerPoint>,
        (leak_kg_s, leak_k): (f64, f64),
    ) -> Self {
        let engine = &day.car.engine;
        let fuel = &day.car.fuel;
        let geometry = &engine.geometry;
        let capacity_w_k = feed.air_kg_s * day.gas.cp_j_kg_k();
        let ahead_k = cooler.map_or(
            if blower.outlet_k > 0.0 {
                blower.outlet_k
            } else {
                day.intake_k()
            },
            |c| c.outlet_temperature_k,
        );
        let added = &feed.added;
        let drop_k = day.full_evaporation_drop_k(added, feed.lambda, feed.air_kg_s);
        let warmed_k = feed.port_k + day.port.evaporated_share * drop_k + added.cooling_k;
        let methanol = Fuel::methanol();
        let vapour_w = cylinder.fuel_kg_s * fuel.lower_heating_value_vapour_j_kg
            + added.methanol_kg_s * methanol.lower_heating_value_vapour_j_kg;
        let latent_w = cylinder.fuel_kg_s * fuel.latent_heat_j_kg
            + added.methanol_kg_s * methanol.latent_heat_j_kg;
        Self {
            indicated_w: cylinder.indicated_w,
            pumping_w: geometry.power_of_mean_pressure_w(cylinder.pumping_pa, feed.rpm),
            friction_w: geometry.power_of_mean_pressure_w(cylinder.friction_pa, feed.rpm),
            accessories_w: engine.accessories.power_w(feed.rpm),
            blower_w: blower.crank_w,
            fuel_w: vapour_w - latent_w,
            nitrous_w: added.nitrous_w(),
            water_w: added.water_latent_w(),
            unreleased_w: vapour_w + added.decomposition_w() - cylinder.released_w,
            wall_w: cylinder.wall_w,
            warming_w: capacity_w_k * (warmed_k - ahead_k),
            cooler_w: cooler.map_or(0.0, |c| c.heat_w),
            turbine_w,
            drive_loss_w: blower.crank_w + turbine_w - blower.gas_w,
            leaked_w: leak_kg_s * day.gas.cp_j_kg_k() * (leak_k - day.intake_k()),
            air_w: capacity_w_k * (day.intake_k() - REFERENCE_K),
            exhaust_w: cylinder.exhaust_w,
        }
    }

    /// Power at the crank, W.
    /// Equation (4.4).
    pub fn brake_w(&self) -> f64 {
        self.indicated_w - self.pumping_w - self.friction_w - self.accessories_w - self.blower_w
    }

    /// What the whole-engine balance leaves unexplained, as a share of the fuel's power.
    ///
    /// ```text
    /// fuel + nitrous + air + warming + turbine
    ///     = brake + accessories + friction + drive loss + cooler + leaked + walls + unreleased + water + exhaust
    /// ```
    ///
    /// Equation (4.5).
    pub fn imbalance(&self) -> f64 {
        let into = self.fuel_w + self.nitrous_w + self.air_w + self.warming_w + self.turbine_w;
        let out = self.brake_w()
            + self.accessories_w
            + self.friction_w
            + self.drive_loss_w
            + self.cooler_w
            + self.leaked_w
            + self.wall_w
            + self.unreleased_w
            + self.water_w
            + self.exhaust_w;
        (into - out) / self.fuel_w
    }
}
