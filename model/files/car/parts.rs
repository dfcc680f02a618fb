//! What a car is made of: the choices of a car file that carry no doubt, and the car put together from them.
//!
//! They are kept beside the [`crate::belief::sheet::Sheet`] because a car's devices no longer know them (a motor's losses do not remember the
//! rating they were scaled from), and a car file that is written again must say them.

use super::supply::SupplyParts;
use crate::belief::parameter;
use crate::belief::prior::{Prior, PriorError};
use crate::belief::sheet::{Belief, Origin};
use crate::boost::compressor_map::SPARSE_FLOW_DOUBT;
use crate::boost::{
    BeltDrive, BoostControl, CentrifugalCompressor, PositiveDisplacement, RotorKind, Turbocharger,
};
use crate::car::template::OF_THE_SHEET;
use crate::car::{Blower, Car, ElectricDrive, Facts, Fuelling};
use crate::cooling::charge_cooler::{ChargeCooler, HeatSink};
use crate::driveline::TyreOnDrum;
use crate::driveline::gears::{Drive, Gearbox};
use crate::dyno::drums::{Geared, Machine};
use crate::dyno::{Brake, Contact, Coupling, Drums, Setup};
use crate::files::belief::{Given, Stated};
use crate::files::compressor_map::MapSource;
use crate::files::fuel::{FuelKind, MOTOR_OCTANE_DOUBT};
use crate::parts::AxleFacts;
use crate::units::GRAVITY_M_S2;

/// Doubt on a tyre load taken from the car's mass: straps and their angle, relative; common practice, no source.
const LOAD_DOUBT: f64 = 0.15;

/// The blower of a car file.
#[derive(Debug, Clone, PartialEq)]
pub enum BlowerParts {
    /// None.
    None,
    /// Roots or screw.
    Displacement {
        /// Family of rotors.
        kind: RotorKind,
        /// Blower shaft over engine speed.
        drive_ratio: f64,
        /// Pulley on the blower, m.
        pulley_m: f64,
        /// Highest shaft speed, rad/s.
        max_speed_rad_s: f64,
        /// Bypass area, m²; `None` for the machine's usual one.
        bypass_area_m2: Option<f64>,
    },
    /// Centrifugal.
    Centrifugal {
        /// Its map.
        map: MapSource,
        /// Wheel over engine speed.
        drive_ratio: f64,
        /// Pulley on the blower, m.
        pulley_m: f64,
        /// Highest rim speed, m/s.
        tip_speed_limit_m_s: f64,
    },
    /// Turbochargers, alike and side by side.
    Turbo {
        /// Map of one compressor.
        map: MapSource,
        /// Highest rim speed, m/s.
        tip_speed_limit_m_s: f64,
        /// How many.
        count: u32,
        /// The boost asked for.
        control: BoostControl,
    },
}

/// How a second axle's drums are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CouplingKind {
    /// One axle's drums only.
    Single,
    /// Both axles at one surface speed.
    Linked,
    /// Each axle its own.
    Separate,
}

/// What a rig has beyond a plain inertia drum.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MachineParts {
    /// How the car meets it.
    pub contact: Contact,
    /// The brake's ramp.
    pub brake: Option<Brake>,
    /// Whether something turns behind a gear.
    pub geared: bool,
}

/// What the knock table of a fitted car was made for; it is made anew only when that moves noticeably.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockTable {
    /// Bore, m.
    pub bore_m: f64,
    /// Stroke, m.
    pub stroke_m: f64,
    /// Rod length, m.
    pub rod_m: f64,
    /// Compression ratio.
    pub compression_ratio: f64,
    /// Mixture.
    pub lambda: f64,
}

/// Everything of a car file that is not a number in doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// Number of cylinders.
    pub cylinders: u32,
    /// Inlet valves per cylinder.
    pub inlet_valves: u32,
    /// How fuel meets the air.
    pub fuelling: Fuelling,
    /// Flow at which intake, exhaust and port losses are stated, kg/s; `None` for the engine's own yardstick.
    pub reference_flow_kg_s: Option<f64>,
    /// Whether bore and stroke were taken equal for want of either.
    pub square: bool,
    /// What is in the tank.
    pub fuel: FuelKind,
    /// The blower.
    pub blower: BlowerParts,
    /// The charge cooler.
    pub cooler: Option<HeatSink>,
    /// Driven wheels.
    pub drive: Drive,
    /// Gearbox.
    pub gearbox: Gearbox,
    /// The electric axle.
    pub axle: Option<AxleFacts>,
    /// How the drums are joined.
    pub coupling: CouplingKind,
    /// Whether the rig adds its own drag back.
    pub drag_added_back: bool,
    /// Hubs, brake, gearing.
    pub machine: MachineParts,
    /// Mass of the car, kg.
    pub mass_kg: Option<f64>,
    /// Fuel supply, clutch, converter, gear oil and thresholds.
    pub supply: SupplyParts,
}

impl Parts {
    /// Adds what follows from the parts: tyre loads from the mass, a motor octane from the research one.
    ///
    /// Share of the weight on the driven axle: 0.60 in front, 0.50 behind, all of it where one engine drives both axles;
    /// the electric axle carries the rest (common practice, no source).
    pub(super) fn imply(&self, stated: &mut Stated) {
        if let Some(mass_kg) = self.mass_kg {
            let weight_n = mass_kg * GRAVITY_M_S2;
            let (share, rest) = match self.drive {
                Drive::Transaxle => (0.60, 0.40),
                Drive::Rear => (0.50, 0.50),
                Drive::All => (1.0, 0.50),
            };
            follow(
                stated,
                "wheels.load",
                share * weight_n,
                LOAD_DOUBT * share * weight_n,
            );
            if self.axle.is_some() {
                follow(
                    stated,
                    "electric_axle.load",
                    rest * weight_n,
                    LOAD_DOUBT * rest * weight_n,
                );
            }
        }
        if let BlowerParts::Centrifugal { map, .. } | BlowerParts::Turbo { map, .. } = &self.blower
            && map.rated
        {
            follow(stated, "blower.flow_factor", 1.0, SPARSE_FLOW_DOUBT);
        }
        if self.machine.contact == Contact::Hubs
            && let Some(radius_m) = stated.centre("wheels.tyre_radius")
        {
            // A hub has no radius; the tyre's makes its speed read like the road's.
            follow_exactly(stated, "drums.radius", radius_m);
        }
        let (research, motor) = ("fuel.research_octane", "fuel.motor_octane");
        let fuel = self
            .fuel
            .fuel(stated.centre(research), stated.centre(motor));
        follow(stated, research, fuel.research_octane, fuel.doubt.octane);
        follow(stated, motor, fuel.motor_octane, MOTOR_OCTANE_DOUBT);
    }

    /// The car on its drums, at the centre of what is stated; the sheet fills in the rest.
    pub(super) fn setup(&self, name: String, stated: &Stated) -> Option<Setup> {
        let of = |path: &str| stated.centre(path);
        let gear_ratio = of("driveline.gear")?;
        let final_ratio = of("driveline.final_drive")?;
        let mut car = Car::bare(Facts {
            name,
            cylinders: self.cylinders,
            bore_m: of("engine.bore")?,
            stroke_m: of("engine.stroke")?,
            compression_ratio: of("engine.compression_ratio")?,
            inlet_valves: self.inlet_valves,
            fuelling: self.fuelling,
            redline_rpm: of("engine.redline")?,
            fuel: self
                .fuel
                .fuel(of("fuel.research_octane"), of("fuel.motor_octane")),
            drive: self.drive,
            gearbox: self.gearbox,
            gear_ratio,
            final_ratio,
            tyre_radius_m: of("wheels.tyre_radius")?,
        });
        if let Some(flow) = self.reference_flow_kg_s {
            car.intake.reference_flow_kg_s = flow;
            car.exhaust.reference_flow_kg_s = flow;
            car.exhaust.port.reference_flow_kg_s = flow;
        }
        self.supply.put_into(&mut car, stated)?;
        let flow_kg_s = car.intake.reference_flow_kg_s;
        car.blower = self.blower(of("blower.displacement"), flow_kg_s)?;
        car.cooler = self.cooler.map(cooler);
        car.electric = self.axle.and_then(|parts| {
            Some(ElectricDrive {
                axle: parts.axle(
                    of("electric_axle.peak_power")?,
                    of("electric_axle.peak_torque")?,
                    of("electric_axle.reduction")?,
                ),
                tyre: TyreOnDrum {
                    radius_m: parts.tyre_radius_m.unwrap_or(car.driveline.tyre.radius_m),
                    ..car.driveline.tyre
                },
                inertia_kg_m2: OF_THE_SHEET,
            })
        });
        let drums = Drums {
            inertia_kg_m2: of("drums.inertia")?,
            radius_m: of("drums.radius")?,
            drag_added_back: self.drag_added_back,
            coupling: match self.coupling {
                CouplingKind::Single => Coupling::Single,
                CouplingKind::Linked => Coupling::Linked,
                CouplingKind::Separate => Coupling::Separate {
                    second_inertia_kg_m2: of("drums.second_inertia")?,
                },
            },
            machine: Machine {
                contact: self.machine.contact,
                brake: self.machine.brake,
                geared: if self.machine.geared {
                    Some(Geared {
                        inertia_kg_m2: of("drums.geared_inertia")?,
                        ratio: of("drums.geared_ratio")?,
                    })
                } else {
                    None
                },
            },
            ..Drums::bare()
        };
        Some(Setup { car, drums })
    }

    fn blower(&self, displacement_m3_rev: Option<f64>, reference_flow_kg_s: f64) -> Option<Blower> {
        Some(match &self.blower {
            BlowerParts::None => Blower::None,
            BlowerParts::Displacement {
                kind,
                drive_ratio,
                pulley_m,
                max_speed_rad_s,
                bypass_area_m2,
            } => {
                let mut machine =
                    PositiveDisplacement::typical(*kind, displacement_m3_rev?, *max_speed_rad_s);
                machine.bypass_area_m2 = bypass_area_m2.unwrap_or(machine.bypass_area_m2);
                Blower::Displacement {
                    machine,
                    drive: BeltDrive::of_overall_ratio(*drive_ratio, *pulley_m),
                }
            }
            BlowerParts::Centrifugal {
                map,
                drive_ratio,
                pulley_m,
                tip_speed_limit_m_s,
            } => {
                // The reader has proven that the source makes a map.
                let mut machine = CentrifugalCompressor::of_map(map.map().ok()?);
                machine.tip_speed_limit_m_s = *tip_speed_limit_m_s;
                let drive = BeltDrive::of_geared_ratio(*drive_ratio, *pulley_m);
                Blower::Centrifugal {
                    machine: Box::new(machine),
                    drive,
                }
            }
            BlowerParts::Turbo {
                map,
                tip_speed_limit_m_s,
                count,
                control,
            } => {
                let mut compressor = CentrifugalCompressor::of_map(map.map().ok()?);
                compressor.tip_speed_limit_m_s = *tip_speed_limit_m_s;
                let engine_kg_s = reference_flow_kg_s;
                let turbo = Turbocharger::usual(compressor, *count, control.clone(), engine_kg_s);
                Blower::Turbo(Box::new(turbo))
            }
        })
    }
}

/// Adds a belief that follows from other statements. The readers' limits keep its centre inside the catalogue's range.
fn follow(stated: &mut Stated, path: &'static str, mean: f64, sd: f64) {
    follow_as(stated, path, |(lower, upper)| {
        Prior::normal(mean, sd, lower, upper)
    });
}

/// The same for a number without doubt.
fn follow_exactly(stated: &mut Stated, path: &'static str, value: f64) {
    follow_as(stated, path, |_| Prior::fixed(value));
}

fn follow_as(
    stated: &mut Stated,
    path: &'static str,
    prior: impl Fn((f64, f64)) -> Result<Prior, PriorError>,
) {
    if stated.find(path).is_some() {
        return;
    }
    let place = stated.list.first().map(|given| given.place.clone());
    if let (Some(parameter), Some(place)) = (parameter::find(path), place)
        && let Ok(prior) = prior(parameter.bounds())
    {
        let belief = Belief {
            parameter,
            prior,
            origin: Origin::Default,
        };
        stated.list.push(Given { belief, place });
    }
}

fn cooler(sink: HeatSink) -> ChargeCooler {
    let usual = sink.usual();
    ChargeCooler::rated(
        usual.effectiveness.0,
        OF_THE_SHEET,
        usual.heat_capacity_j_k.0,
        sink,
    )
}
