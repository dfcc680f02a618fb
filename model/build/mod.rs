//! The planned work: an ordered list of typed changes, each of which turns one car into another.
//!
//! A plan never edits a car file. Applying it yields a new [`Car`], so any plan works on any car, fitted or not, and two
//! plans compose by standing one after the other. A [`Change`] is generic over what its numbers are: beliefs as they
//! are written in a plan file, or plain numbers drawn from them, so that one list serves the quote's centre and every
//! Monte Carlo draw alike.

mod battery;
mod belt;
mod boost;
mod breathing;
mod charge;
mod engine;
mod replacing;
mod running_gear;
mod supply;
mod transmission;
mod turbo;

pub use battery::BatteryChoice;
pub use belt::BeltChoice;
pub use boost::{CentrifugalBlower, CoolerChoice, DisplacementBlower};
pub use breathing::{Breathing, Camshaft, SHORTEST_ROD};
pub use charge::{Charge, RATED_BOTTLE_K};
pub use supply::{InjectorChoice, PumpChoice, RailChoice};
pub use transmission::{
    ConverterChoice, MassChange, OilChoice, Turning, TurningChange, TyreChoice,
};
pub use turbo::{TurbineSize, TurboChoice};

use crate::air::Day;
use crate::boost::BoostControl;
use crate::car::Car;
use crate::fuel::Fuel;

/// One planned change, with numbers of type `T` in SI.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Change<T> {
    /// A positive-displacement blower on a belt, in place of whatever blower is there.
    DisplacementBlower(DisplacementBlower<T>),
    /// A belt-driven centrifugal blower, in place of whatever blower is there.
    CentrifugalBlower(Box<CentrifugalBlower<T>>),
    /// Turbochargers, in place of whatever blower is there.
    Turbocharger(Box<TurboChoice<T>>),
    /// Another boost asked of the turbochargers.
    Boost {
        /// New curve; `None` keeps the old one.
        control: Option<BoostControl>,
        /// Factor on the boost held.
        factor: T,
    },
    /// The blower taken off.
    RemoveBlower,
    /// Another pulley: blower speed over engine speed multiplied by this.
    Pulley {
        /// New over old drive ratio.
        ratio_factor: T,
    },
    /// A charge cooler, in place of whatever cooler is there.
    ChargeCooler(CoolerChoice<T>),
    /// The charge cooler taken out.
    RemoveChargeCooler,
    /// Air box, ducts or throttle.
    Intake {
        /// New over old flow area of the parts replaced.
        area_factor: T,
        /// Share of the intake's loss that those parts cause.
        share: T,
    },
    /// Exhaust system, headers included.
    Exhaust {
        /// New over old back pressure at equal flow.
        back_pressure_factor: T,
    },
    /// Throttle, headers, camshaft, cylinder head, bore and stroke.
    Breathing(Breathing<T>),
    /// Tank mixture, octane, spark, water-methanol, nitrous oxide.
    Charge(Charge<T>),
    /// Pistons, head or gasket.
    CompressionRatio {
        /// New geometric compression ratio.
        ratio: T,
    },
    /// What goes in the tank.
    Fuel {
        /// The fuel.
        fuel: Box<Fuel>,
        /// Its research octane number.
        research_octane: T,
        /// Its motor octane number.
        motor_octane: T,
    },
    /// Full-load mixture; spark is set to best torque or the knock limit, whichever is later.
    Mixture {
        /// Relative air-fuel ratio asked for.
        lambda: T,
    },
    /// Another engine speed at which the pull ends.
    Redline {
        /// The new limit, rpm.
        rpm: T,
    },
    /// Gear used on the drums or final drive.
    Gearing {
        /// Ratio of the gear, if it changes.
        gear: Option<T>,
        /// Final-drive ratio, if it changes.
        final_drive: Option<T>,
    },
    /// Wheels and tyres of the driven axle.
    Wheels {
        /// Rotating inertia of the two wheels together, kg m².
        inertia_kg_m2: T,
        /// Rolling radius, if it changes, m.
        radius_m: Option<T>,
    },
    /// Calibration of the electric axle.
    ElectricAxle {
        /// Peak power, if it changes, W.
        peak_power_w: Option<T>,
        /// Share of its torque asked for: 0 switches the axle off.
        share: T,
    },
    /// Injectors.
    Injectors(InjectorChoice<T>),
    /// Fuel pump.
    FuelPump(PumpChoice<T>),
    /// Pressure regulator of the fuel rail.
    FuelRail(RailChoice<T>),
    /// Flywheel, shafts, wheels: lighter or heavier turning parts.
    TurningParts(TurningChange<T>),
    /// Gear oil.
    DrivelineOil(OilChoice<T>),
    /// Clutch, or the lock-up clutch of an automatic.
    Clutch {
        /// Torque it carries before it slips, N m.
        capacity_nm: T,
    },
    /// Torque converter.
    Converter(ConverterChoice<T>),
    /// Belt of the blower.
    Belt(BeltChoice<T>),
    /// Battery of the electric axle.
    Battery(BatteryChoice<T>),
    /// Tyres.
    Tyres(TyreChoice<T>),
    /// Mass in the car.
    Mass(MassChange<T>),
}

/// Why a change cannot be made to this car.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BuildError {
    /// The plan takes off or alters a part the car lacks.
    #[error("the plan changes the {part}, but the car has none")]
    PartMissing {
        /// What is missing.
        part: &'static str,
    },
    /// The connecting rod is too short for the new stroke.
    #[error("a rod of {rod_mm:.1} mm cannot turn a stroke of {stroke_mm:.1} mm")]
    ShortRod {
        /// The rod, mm.
        rod_mm: f64,
        /// The stroke, mm.
        stroke_mm: f64,
    },
    /// The plan takes off more than there is.
    #[error("the plan takes off more than there is of the {what}: {taken} off {there}")]
    NothingLeft {
        /// Of what.
        what: &'static str,
        /// How much there is.
        there: String,
        /// How much is taken off.
        taken: String,
    },
    /// Headers ahead of a turbine.
    #[error(
        "headers of a turbocharged car feed its turbine, and there is no law for them here; an exhaust behind the turbine can be changed"
    )]
    TurbineInBetween,
    /// A maker's claims cannot all be true.
    #[error("the blower's claims cannot describe a machine: {0}")]
    Claims(#[from] crate::boost::ClaimError),
}

/// An ordered list of changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan<T> {
    /// What the shop calls the job.
    pub name: String,
    /// The changes, in the order in which they are made.
    pub changes: Vec<Change<T>>,
}

impl<T> Plan<T> {
    /// Places of the changes in the order in which they are put together, for a list of parts is not a history: bore and stroke, then
    /// the cylinder head, because a camshaft is measured against them; what comes off; most parts; blowers, whose turbine is made for
    /// the engine; and last what sits on a blower or gives way to it. Among themselves as they are listed.
    /// Equation (11.1).
    pub fn order(&self) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.changes.len()).collect();
        places.sort_by_key(|place| self.changes[*place].rank());
        places
    }

    /// The same plan with every number passed through `convert`, which is told the change's place in the list and
    /// the number's name.
    pub fn map<U>(&self, mut convert: impl FnMut(usize, &'static str, &T) -> U) -> Plan<U> {
        let changes = self
            .changes
            .iter()
            .enumerate()
            .map(|(i, change)| change.map(&mut |name, x| convert(i, name, x)))
            .collect();
        Plan {
            name: self.name.clone(),
            changes,
        }
    }
}

impl Plan<f64> {
    /// The car after all changes, put together in [`Plan::order`].
    /// Equation (11.1).
    pub fn apply(&self, car: &Car) -> Result<Car, BuildError> {
        let mut built = car.clone();
        for place in self.order() {
            self.changes[place].apply(&mut built)?;
        }
        built.retabulate_knock();
        Ok(built)
    }

    /// The same, what it changes inside the cylinder asked of the crank-angle cycle in the air of a day.
    ///
    /// Some 30 ms on two cores where there is such a change, nothing otherwise; so it is asked once at the centre of a plan, and
    /// draws around it share the answer, [`crate::car::Engine::work_by_cycle`].
    pub fn apply_by_cycle(&self, car: &Car, day: Day) -> Result<Car, BuildError> {
        let mut built = self.apply(car)?;
        built.ask_cycle(car, day);
        Ok(built)
    }
}

impl<T> Change<T> {
    /// The same change with every number passed through `convert`, which is told the number's name.
    pub fn map<U>(&self, convert: &mut impl FnMut(&'static str, &T) -> U) -> Change<U> {
        match self {
            Self::DisplacementBlower(blower) => Change::DisplacementBlower(blower.map(convert)),
            Self::CentrifugalBlower(blower) => {
                Change::CentrifugalBlower(Box::new(blower.map(convert)))
            }
            Self::Turbocharger(turbo) => Change::Turbocharger(Box::new(turbo.map(convert))),
            Self::Boost { control, factor } => Change::Boost {
                control: control.clone(),
                factor: convert("boost_factor", factor),
            },
            Self::RemoveBlower => Change::RemoveBlower,
            Self::Pulley { ratio_factor } => Change::Pulley {
                ratio_factor: convert("ratio_factor", ratio_factor),
            },
            Self::ChargeCooler(cooler) => Change::ChargeCooler(cooler.map(convert)),
            Self::RemoveChargeCooler => Change::RemoveChargeCooler,
            Self::Intake { area_factor, share } => Change::Intake {
                area_factor: convert("area_factor", area_factor),
                share: convert("share", share),
            },
            Self::Exhaust {
                back_pressure_factor,
            } => Change::Exhaust {
                back_pressure_factor: convert("back_pressure_factor", back_pressure_factor),
            },
            Self::Breathing(change) => Change::Breathing(change.map(convert)),
            Self::Charge(change) => Change::Charge(change.map(convert)),
            Self::CompressionRatio { ratio } => Change::CompressionRatio {
                ratio: convert("ratio", ratio),
            },
            Self::Fuel {
                fuel,
                research_octane,
                motor_octane,
            } => Change::Fuel {
                fuel: fuel.clone(),
                research_octane: convert("research_octane", research_octane),
                motor_octane: convert("motor_octane", motor_octane),
            },
            Self::Mixture { lambda } => Change::Mixture {
                lambda: convert("lambda", lambda),
            },
            Self::Redline { rpm } => Change::Redline {
                rpm: convert("rpm", rpm),
            },
            Self::Gearing { gear, final_drive } => Change::Gearing {
                gear: gear.as_ref().map(|x| convert("gear", x)),
                final_drive: final_drive.as_ref().map(|x| convert("final_drive", x)),
            },
            Self::Wheels {
                inertia_kg_m2,
                radius_m,
            } => Change::Wheels {
                inertia_kg_m2: convert("inertia", inertia_kg_m2),
                radius_m: radius_m.as_ref().map(|x| convert("radius", x)),
            },
            Self::ElectricAxle {
                peak_power_w,
                share,
            } => Change::ElectricAxle {
                peak_power_w: peak_power_w.as_ref().map(|x| convert("peak_power", x)),
                share: convert("share", share),
            },
            Self::Injectors(choice) => Change::Injectors(choice.map(convert)),
            Self::FuelPump(choice) => Change::FuelPump(choice.map(convert)),
            Self::FuelRail(choice) => Change::FuelRail(choice.map(convert)),
            Self::TurningParts(change) => Change::TurningParts(change.map(convert)),
            Self::DrivelineOil(choice) => Change::DrivelineOil(choice.map(convert)),
            Self::Clutch { capacity_nm } => Change::Clutch {
                capacity_nm: convert("capacity", capacity_nm),
            },
            Self::Converter(choice) => Change::Converter(choice.map(convert)),
            Self::Belt(choice) => Change::Belt(choice.map(convert)),
            Self::Battery(choice) => Change::Battery(choice.map(convert)),
            Self::Tyres(choice) => Change::Tyres(choice.map(convert)),
            Self::Mass(change) => Change::Mass(change.map(convert)),
        }
    }
}

impl<T> Change<T> {
    /// Place in the order in which parts are put together.
    fn rank(&self) -> u8 {
        match self {
            Self::Breathing(change) => change.rank(),
            Self::RemoveBlower | Self::RemoveChargeCooler => 2,
            Self::DisplacementBlower(_) | Self::CentrifugalBlower(_) | Self::Turbocharger(_) => 4,
            Self::Pulley { .. } | Self::Belt(_) | Self::Boost { .. } => 5,
            _ => 3,
        }
    }
}

impl Change<f64> {
    /// Makes this change to a car.
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        match self {
            Self::DisplacementBlower(blower) => blower.apply(car),
            Self::CentrifugalBlower(blower) => {
                blower.apply(car);
                Ok(())
            }
            Self::Turbocharger(turbo) => {
                turbo.apply(car);
                Ok(())
            }
            Self::Boost { control, factor } => turbo::change_boost(car, control.as_ref(), *factor),
            Self::RemoveBlower => boost::remove_blower(car),
            Self::Pulley { ratio_factor } => boost::change_pulley(car, *ratio_factor),
            Self::ChargeCooler(cooler) => {
                cooler.apply(car);
                Ok(())
            }
            Self::RemoveChargeCooler => boost::remove_charge_cooler(car),
            Self::Intake { area_factor, share } => {
                engine::enlarge_intake(car, *area_factor, *share);
                Ok(())
            }
            Self::Exhaust {
                back_pressure_factor,
            } => {
                car.exhaust.back_pressure_pa *= back_pressure_factor;
                Ok(())
            }
            Self::Breathing(change) => change.apply(car),
            Self::Charge(change) => {
                change.apply(car);
                Ok(())
            }
            Self::CompressionRatio { ratio } => {
                car.engine.geometry.cylinder.compression_ratio = *ratio;
                Ok(())
            }
            Self::Fuel {
                fuel,
                research_octane,
                motor_octane,
            } => {
                engine::change_fuel(car, fuel, *research_octane, *motor_octane);
                Ok(())
            }
            Self::Mixture { lambda } => {
                car.tune.lambda = *lambda;
                Ok(())
            }
            Self::Redline { rpm } => {
                engine::move_redline(car, *rpm);
                Ok(())
            }
            Self::Gearing { gear, final_drive } => {
                running_gear::change_gearing(car, *gear, *final_drive);
                Ok(())
            }
            Self::Wheels {
                inertia_kg_m2,
                radius_m,
            } => {
                running_gear::change_wheels(car, *inertia_kg_m2, *radius_m);
                Ok(())
            }
            Self::ElectricAxle {
                peak_power_w,
                share,
            } => running_gear::calibrate_axle(car, *peak_power_w, *share),
            Self::Injectors(_)
            | Self::FuelPump(_)
            | Self::FuelRail(_)
            | Self::TurningParts(_)
            | Self::DrivelineOil(_)
            | Self::Clutch { .. }
            | Self::Converter(_)
            | Self::Belt(_)
            | Self::Battery(_)
            | Self::Tyres(_)
            | Self::Mass(_) => self.apply_beside_the_engine(car),
        }
    }

    /// Changes to fuel supply, driveline and battery.
    fn apply_beside_the_engine(&self, car: &mut Car) -> Result<(), BuildError> {
        match self {
            Self::Injectors(choice) => choice.apply(car),
            Self::FuelPump(choice) => choice.apply(car),
            Self::FuelRail(choice) => choice.apply(car),
            Self::DrivelineOil(choice) => choice.apply(car),
            Self::Clutch { capacity_nm } => car.driveline.clutch_nm = Some(*capacity_nm),
            Self::Converter(choice) => choice.apply(car),
            Self::Tyres(choice) => choice.apply(car),
            Self::TurningParts(change) => change.apply(car)?,
            Self::Belt(choice) => choice.apply(car)?,
            Self::Battery(choice) => choice.apply(car)?,
            Self::Mass(change) => change.apply(car)?,
            _ => {}
        }
        Ok(())
    }
}
