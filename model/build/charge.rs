//! What is burned and how it is lit, as changes to a car: tank mixtures, octane, spark, water-methanol, nitrous oxide.
//!
//! Exists beside the plain change of fuel because a tank is seldom empty and a spark seldom at its limit. The mixture asked
//! for stands through all of them: the controller gives every oxygen its fuel.

use crate::car::{Car, Nitrous, SprayRate, WaterMethanol};
use crate::fuel::{Fuel, nitrous_bottle_pa};

/// A change to the charge, with numbers of type `T` in SI.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Charge<T> {
    /// Fuel poured on top of what is left in the tank.
    TankMix {
        /// Left in the tank, m³.
        left_m3: T,
        /// Poured in, m³.
        added_m3: T,
        /// What is poured in.
        fuel: Box<Fuel>,
        /// Its research octane number.
        research_octane: T,
        /// Its motor octane number.
        motor_octane: T,
    },
    /// The same fuel with another octane.
    Octane {
        /// Research octane number.
        research_octane: T,
        /// Motor octane number; the sensitivity stays where it is not given.
        motor_octane: Option<T>,
    },
    /// Another spark: half the burn held this much later than best torque or the knock limit.
    Spark {
        /// Retard, deg; 0 goes to the limit.
        retard_deg: T,
    },
    /// A spray of water and methanol ahead of the manifold.
    WaterMethanol {
        /// Liquid, kg/s, or kg per kg of fuel.
        rate: T,
        /// Whether `rate` is per fuel.
        of_fuel: bool,
        /// Methanol, kg per kg of liquid.
        methanol_mass_fraction: T,
        /// Share that has the time to evaporate before the inlet valve closes.
        evaporated_share: T,
    },
    /// Nitrous oxide ahead of the manifold, with its fuel.
    Nitrous {
        /// Flow from a bottle at [`RATED_BOTTLE_K`], kg/s.
        flow_kg_s: T,
        /// Temperature of the bottle, K.
        bottle_k: T,
        /// Share that is gas before the inlet valve closes.
        evaporated_share: T,
        /// Engine speed from which it flows, rpm.
        from_rpm: f64,
    },
}

/// Bottle temperature at which a nozzle's flow is stated, K.
/// Equation (11.6).
pub const RATED_BOTTLE_K: f64 = 298.15;

impl<T> Charge<T> {
    pub(super) fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> Charge<U> {
        match self {
            Self::TankMix {
                left_m3,
                added_m3,
                fuel,
                research_octane,
                motor_octane,
            } => Charge::TankMix {
                left_m3: convert("left", left_m3),
                added_m3: convert("added", added_m3),
                fuel: fuel.clone(),
                research_octane: convert("research_octane", research_octane),
                motor_octane: convert("motor_octane", motor_octane),
            },
            Self::Octane {
                research_octane,
                motor_octane,
            } => Charge::Octane {
                research_octane: convert("research_octane", research_octane),
                motor_octane: motor_octane.as_ref().map(|x| convert("motor_octane", x)),
            },
            Self::Spark { retard_deg } => Charge::Spark {
                retard_deg: convert("retard", retard_deg),
            },
            Self::WaterMethanol {
                rate,
                of_fuel,
                methanol_mass_fraction,
                evaporated_share,
            } => Charge::WaterMethanol {
                rate: convert(if *of_fuel { "share_of_fuel" } else { "flow" }, rate),
                of_fuel: *of_fuel,
                methanol_mass_fraction: convert("methanol", methanol_mass_fraction),
                evaporated_share: convert("evaporated", evaporated_share),
            },
            Self::Nitrous {
                flow_kg_s,
                bottle_k,
                evaporated_share,
                from_rpm,
            } => Charge::Nitrous {
                flow_kg_s: convert("flow", flow_kg_s),
                bottle_k: convert("bottle_temperature", bottle_k),
                evaporated_share: convert("evaporated", evaporated_share),
                from_rpm: *from_rpm,
            },
        }
    }
}

impl Charge<f64> {
    /// Equation (11.6).
    pub(super) fn apply(&self, car: &mut Car) {
        match self {
            Self::TankMix {
                left_m3,
                added_m3,
                fuel,
                research_octane,
                motor_octane,
            } => {
                let poured = Fuel {
                    research_octane: *research_octane,
                    motor_octane: *motor_octane,
                    ..**fuel
                };
                car.fuel = mixed(car.fuel, *left_m3, poured, *added_m3);
            }
            Self::Octane {
                research_octane,
                motor_octane,
            } => {
                let fuel = &mut car.fuel;
                let sensitivity = fuel.research_octane - fuel.motor_octane;
                fuel.motor_octane = motor_octane.unwrap_or_else(|| {
                    if *research_octane == fuel.research_octane {
                        fuel.motor_octane
                    } else {
                        research_octane - sensitivity
                    }
                });
                fuel.research_octane = *research_octane;
            }
            Self::Spark { retard_deg } => car.tune.retard_deg = *retard_deg,
            Self::WaterMethanol {
                rate,
                of_fuel,
                methanol_mass_fraction,
                evaporated_share,
            } => {
                car.water_methanol = Some(WaterMethanol {
                    rate: if *of_fuel {
                        SprayRate::OfFuel(*rate)
                    } else {
                        SprayRate::Constant(*rate)
                    },
                    methanol_mass_fraction: *methanol_mass_fraction,
                    evaporated_share: *evaporated_share,
                });
            }
            Self::Nitrous {
                flow_kg_s,
                bottle_k,
                evaporated_share,
                from_rpm,
            } => {
                // A nozzle passes the root of its pressure.
                let pressure = nitrous_bottle_pa(*bottle_k) / nitrous_bottle_pa(RATED_BOTTLE_K);
                car.nitrous = Some(Nitrous {
                    flow_kg_s: flow_kg_s * pressure.sqrt(),
                    from_rpm: *from_rpm,
                    evaporated_share: *evaporated_share,
                });
            }
        }
    }
}

/// Two fuels poured together, by volume.
/// Equation (11.6).
fn mixed(left: Fuel, left_m3: f64, poured: Fuel, added_m3: f64) -> Fuel {
    let (a, b) = (
        left_m3 * left.density_kg_m3,
        added_m3 * poured.density_kg_m3,
    );
    if b == 0.0 || left == poured {
        left
    } else {
        Fuel::blend(left, poured, b / (a + b))
    }
}
