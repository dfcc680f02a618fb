//! A plan file: the planned work, change by change, in the order it is made.
//!
//! ```text
//! kind = "plan"
//! version = 1
//! name = "screw blower with water cooling"
//! [[change]]
//! kind = "displacement blower"
//! rotors = "screw"
//! displacement = "1.7 L/rev"
//! drive_ratio = 2.1
//! ```
//!
//! Numbers without a doubt get the usual one: [`CLAIM_DOUBT`] on what a maker claims, [`SIZE_DOUBT`] on sizes and ratios,
//! [`FACTOR_DOUBT`] on factors of flow area and back pressure. What the engine's controller is told (mixture, rev limit, electric share) is
//! taken as exact. The file does not know the car; [`PlanFile::check`] says whether the work can be done on one.

mod boost;
mod breathing;
mod charge;
mod driveline;
mod supply;
mod turbo;

use std::path::Path;

use super::belief::{self, CLAIM_DOUBT, FACTOR_DOUBT, KEY_CONFLICT, Place, SIZE_DOUBT};
use super::diagnostic::{Code, Problem, Problems};
use super::fuel::{self, FuelKind, MOTOR_OCTANE_DOUBT};
use super::table::{Table, TomlFile};
use crate::belief::prior::Prior;
use crate::build::{BuildError, Change, Plan, SHORTEST_ROD, Turning};
use crate::car::Car;
use crate::fuel::Fuel;
use crate::units::Dimension as D;

/// A change that cannot be made to this car.
pub const PLAN_UNFIT: Code = Code::new("plan_unfit");
/// A later change of the plan sets the same thing again.
pub const CHANGE_REPLACED: Code = Code::new("change_replaced");

/// A plan read, with the place of every change.
#[derive(Debug, Clone)]
pub struct PlanFile {
    /// The plan, its numbers as beliefs.
    pub plan: Plan<Prior>,
    places: Vec<Place>,
}

/// Reads a plan file from disk; warnings come beside the plan.
pub fn open(path: &Path) -> Result<(PlanFile, Problems), Problems> {
    let file = TomlFile::open(path)?;
    read(&file, path.parent().unwrap_or(Path::new("")))
}

/// Reads a plan file whose text is here; `folder` is where a blower map it names is looked for.
pub fn read(file: &TomlFile, folder: &Path) -> Result<(PlanFile, Problems), Problems> {
    file.read(|root| plan(root, folder))
}

/// Reads the changes of a plan file.
pub(super) fn plan(root: &mut Table<'_>, folder: &Path) -> Option<PlanFile> {
    super::car::head(root, "plan")?;
    let name = root.text("name");
    let changes = root.tables("change", |table| {
        let place = Place::of(table, "kind");
        change(table, folder).map(|change| (change, place))
    });
    let (changes, places): (Vec<_>, Vec<_>) = changes?.into_iter().unzip();
    if changes.is_empty() {
        let message = "the plan changes nothing";
        root.error(
            "change",
            Code::KEY_MISSING,
            message,
            "one [[change]] for every piece of work",
        );
    }
    for problem in replaced(&changes, &places) {
        root.push(problem);
    }
    Some(PlanFile {
        plan: Plan {
            name: name?,
            changes,
        },
        places,
    })
}

/// A warning for every change of which a later one leaves nothing.
fn replaced(changes: &[Change<Prior>], places: &[Place]) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, (change, place)) in changes.iter().zip(places).enumerate() {
        let later = changes
            .iter()
            .skip(index + 1)
            .position(|later| later.same_part(change) && later.replaces());
        if let Some(further) = later {
            let message = format!(
                "change {} sets again what this one sets: this one counts for nothing",
                index + further + 2
            );
            let expected = "one change for each part or setting";
            problems.push(
                place
                    .problem(CHANGE_REPLACED, message)
                    .expected(expected)
                    .warning(),
            );
        }
    }
    problems
}

impl PlanFile {
    /// Whether every change can be made to a car, in the order of [`Plan::order`]; each one that cannot is a problem at its line.
    pub fn check(&self, car: &Car) -> Result<(), Problems> {
        let centre = self.plan.map(|_, _, prior| prior.centre());
        let mut problems = Problems::new();
        let mut built = car.clone();
        for index in centre.order() {
            let place = &self.places[index];
            let step = Plan {
                name: String::new(),
                changes: vec![centre.changes[index].clone()],
            };
            match step.apply(&built) {
                Ok(next) => built = next,
                Err(error) => {
                    let expected = match &error {
                        BuildError::PartMissing { part } => {
                            format!("a change to a part the car has, or the {part} in the plan")
                        }
                        BuildError::ShortRod { stroke_mm, .. } => format!(
                            "rod_length of at least {:.1} mm, as the new crank's",
                            SHORTEST_ROD * stroke_mm
                        ),
                        BuildError::NothingLeft { there, .. } => {
                            format!("less than {there} taken off")
                        }
                        BuildError::TurbineInBetween => {
                            "an exhaust behind the turbine, or none of this".to_owned()
                        }
                        _ => "claims of a possible machine".to_owned(),
                    };
                    problems.push(
                        place
                            .problem(PLAN_UNFIT, error.to_string())
                            .expected(expected),
                    );
                }
            }
        }
        if problems.is_empty() {
            Ok(())
        } else {
            Err(problems)
        }
    }
}

/// A kind of change, by the trade's word.
#[derive(Debug, Clone, Copy)]
enum Kind {
    DisplacementBlower,
    CentrifugalBlower,
    Turbocharger,
    Boost,
    RemoveBlower,
    Pulley,
    ChargeCooler,
    RemoveChargeCooler,
    Intake,
    Throttle,
    Headers,
    Exhaust,
    Camshaft,
    CylinderHead,
    BoreStroke,
    CompressionRatio,
    Fuel,
    TankMix,
    Octane,
    Spark,
    WaterMethanol,
    Nitrous,
    Mixture,
    Redline,
    Gearing,
    Wheels,
    ElectricAxle,
    Injectors,
    FuelPump,
    FuelRail,
    Flywheel,
    TurningParts,
    DrivelineOil,
    Clutch,
    Converter,
    Belt,
    Battery,
    Tyres,
    Mass,
}

const KINDS: &[(&str, Kind)] = &[
    ("displacement blower", Kind::DisplacementBlower),
    ("centrifugal blower", Kind::CentrifugalBlower),
    ("turbocharger", Kind::Turbocharger),
    ("boost", Kind::Boost),
    ("remove blower", Kind::RemoveBlower),
    ("pulley", Kind::Pulley),
    ("charge cooler", Kind::ChargeCooler),
    ("remove charge cooler", Kind::RemoveChargeCooler),
    ("intake", Kind::Intake),
    ("throttle", Kind::Throttle),
    ("headers", Kind::Headers),
    ("exhaust", Kind::Exhaust),
    ("camshaft", Kind::Camshaft),
    ("cylinder head", Kind::CylinderHead),
    ("bore and stroke", Kind::BoreStroke),
    ("compression ratio", Kind::CompressionRatio),
    ("fuel", Kind::Fuel),
    ("tank mix", Kind::TankMix),
    ("octane", Kind::Octane),
    ("spark", Kind::Spark),
    ("water-methanol", Kind::WaterMethanol),
    ("nitrous", Kind::Nitrous),
    ("mixture", Kind::Mixture),
    ("redline", Kind::Redline),
    ("gearing", Kind::Gearing),
    ("wheels", Kind::Wheels),
    ("electric axle", Kind::ElectricAxle),
    ("injectors", Kind::Injectors),
    ("fuel pump", Kind::FuelPump),
    ("fuel rail", Kind::FuelRail),
    ("flywheel", Kind::Flywheel),
    ("turning parts", Kind::TurningParts),
    ("driveline oil", Kind::DrivelineOil),
    ("clutch", Kind::Clutch),
    ("converter", Kind::Converter),
    ("belt", Kind::Belt),
    ("battery", Kind::Battery),
    ("tyres", Kind::Tyres),
    ("mass", Kind::Mass),
];

/// Keys of all kinds of change.
const ALL_KEYS: &[&str] = &[
    "note",
    "rotors",
    "displacement",
    "drive_ratio",
    "built_in_volume_ratio",
    "max_speed",
    "pulley_diameter",
    "claims",
    "map",
    "map_points",
    "rated_point",
    "gear_efficiency",
    "tip_speed_limit",
    "count",
    "boost",
    "boost_absolute",
    "boost_curve",
    "boost_factor",
    "turbine_area",
    "turbine_efficiency",
    "turbine_map",
    "turbine_map_points",
    "ratio_factor",
    "blower_pulley_from",
    "blower_pulley_to",
    "cooling",
    "effectiveness",
    "reference_flow",
    "pressure_drop",
    "heat_capacity",
    "rejection",
    "area_factor",
    "back_pressure_factor",
    "back_pressure_before",
    "back_pressure_after",
    "ratio",
    "fuel",
    "ethanol",
    "research_octane",
    "motor_octane",
    "lambda",
    "speed",
    "gear",
    "final_drive",
    "inertia",
    "tyre_radius",
    "peak_power",
    "share",
    "bore_from",
    "bore_to",
    "primary_from",
    "primary_to",
    "scavenging",
    "duration_change",
    "closing_change",
    "centre_change",
    "exhaust_duration_change",
    "exhaust_centre_change",
    "lift_from",
    "lift_to",
    "flow_factor",
    "inlet_valve_diameter",
    "bore",
    "stroke",
    "rod_length",
    "compression_ratio",
    "left",
    "added",
    "retard",
    "to_limit",
    "flow",
    "share_of_fuel",
    "methanol",
    "evaporated",
    "bottle_temperature",
    "from_speed",
    "rated_pressure",
    "dead_time",
    "duty_limit",
    "fall",
    "pressure",
    "reference",
    "at",
    "inertia_before",
    "inertia_after",
    "oil",
    "temperature",
    "capacity",
    "faces",
    "friction",
    "clamp",
    "outer_radius",
    "inner_radius",
    "locked",
    "stall_speed",
    "stall_torque",
    "torque_ratio",
    "coupling",
    "ribs_from",
    "ribs_to",
    "tension",
    "wrap",
    "resistance",
    "energy",
    "voltage",
    "power",
    "grip",
    "rolling_coefficient",
    "speed_rating",
];

fn change(table: &mut Table<'_>, folder: &Path) -> Option<Change<Prior>> {
    let kind = table.choice("kind", KINDS);
    let Some(kind) = kind else {
        // A change of unknown kind has no keys to hold it to: every key of any kind passes, only the kind is reported.
        for key in ALL_KEYS {
            table.has(key);
        }
        return None;
    };
    table.optional_text("note");
    match kind {
        Kind::DisplacementBlower => boost::displacement_blower(table),
        Kind::CentrifugalBlower => boost::centrifugal_blower(table, folder),
        Kind::Turbocharger => turbo::turbocharger(table, folder),
        Kind::Boost => turbo::boost(table),
        Kind::RemoveBlower => Some(Change::RemoveBlower),
        Kind::Pulley => boost::pulley(table),
        Kind::ChargeCooler => boost::charge_cooler(table),
        Kind::RemoveChargeCooler => Some(Change::RemoveChargeCooler),
        Kind::Intake => {
            let area_factor =
                belief::number(table, "area_factor", D::Ratio, 0.2..=5.0, FACTOR_DOUBT);
            let share = belief::optional_number(table, "share", D::Ratio, 0.0..=1.0, 0.15);
            Some(Change::Intake {
                area_factor: area_factor?,
                share: share.or_else(usual_intake_share)?,
            })
        }
        Kind::Throttle => breathing::throttle(table),
        Kind::Headers => breathing::headers(table),
        Kind::Exhaust => exhaust(table),
        Kind::Camshaft => breathing::camshaft(table),
        Kind::CylinderHead => breathing::cylinder_head(table),
        Kind::BoreStroke => breathing::bore_stroke(table),
        Kind::TankMix => charge::tank_mix(table),
        Kind::Octane => charge::octane(table),
        Kind::Spark => charge::spark(table),
        Kind::WaterMethanol => charge::water_methanol(table),
        Kind::Nitrous => charge::nitrous(table),
        Kind::CompressionRatio => {
            let ratio = belief::number(table, "ratio", D::Ratio, 5.0..=18.0, SIZE_DOUBT);
            Some(Change::CompressionRatio { ratio: ratio? })
        }
        Kind::Fuel => {
            let (fuel, research_octane, motor_octane) = named_fuel(table)?;
            Some(Change::Fuel {
                fuel: Box::new(fuel),
                research_octane,
                motor_octane,
            })
        }
        Kind::Mixture => {
            let lambda = belief::number(table, "lambda", D::Ratio, 0.65..=1.10, 0.0);
            Some(Change::Mixture { lambda: lambda? })
        }
        Kind::Redline => {
            let (low, high) = (2000.0, 15_000.0);
            let per_rpm = std::f64::consts::PI / 30.0;
            let speed = belief::number(
                table,
                "speed",
                D::RotationalSpeed,
                low * per_rpm..=high * per_rpm,
                0.0,
            );
            Some(Change::Redline {
                rpm: scaled(speed?, 1.0 / per_rpm)?,
            })
        }
        Kind::Gearing => gearing(table),
        Kind::Wheels => {
            let inertia = belief::number(table, "inertia", D::Inertia, 0.5..=16.0, 0.05);
            let radius_m = belief::optional_number(table, "tyre_radius", D::Length, 0.2..=0.5, 0.0);
            Some(Change::Wheels {
                inertia_kg_m2: inertia?,
                radius_m,
            })
        }
        Kind::ElectricAxle => {
            let peak_power_w =
                belief::optional_number(table, "peak_power", D::Power, 5e3..=600e3, CLAIM_DOUBT);
            let had = table.has("share");
            let share = belief::optional_number(table, "share", D::Ratio, 0.0..=1.0, 0.0);
            let share = share.or_else(|| Prior::fixed(1.0).ok().filter(|_| !had));
            Some(Change::ElectricAxle {
                peak_power_w,
                share: share?,
            })
        }
        Kind::Injectors => supply::injectors(table),
        Kind::FuelPump => supply::fuel_pump(table),
        Kind::FuelRail => supply::fuel_rail(table),
        Kind::Flywheel => driveline::turning_parts(table, Some(Turning::Crank)),
        Kind::TurningParts => driveline::turning_parts(table, None),
        Kind::DrivelineOil => driveline::oil(table),
        Kind::Clutch => driveline::clutch(table),
        Kind::Converter => driveline::converter(table),
        Kind::Belt => driveline::belt(table),
        Kind::Battery => driveline::battery(table),
        Kind::Tyres => driveline::tyres(table),
        Kind::Mass => driveline::mass(table),
    }
}

/// Degrees of an angle.
const DEG_PER_RAD: f64 = 180.0 / std::f64::consts::PI;

/// A belief in another unit.
fn scaled(prior: Prior, scale: f64) -> Option<Prior> {
    if prior.is_fixed() {
        return Prior::fixed(scale * prior.centre()).ok();
    }
    let (lower, upper) = (scale * prior.lower(), scale * prior.upper());
    match prior.shape() {
        crate::belief::Shape::Normal => {
            Prior::normal(scale * prior.centre(), scale * prior.sd(), lower, upper).ok()
        }
        crate::belief::Shape::LogNormal => {
            Prior::log_normal(scale * prior.centre(), prior.sd(), lower, upper).ok()
        }
    }
}

/// Share of the intake's loss that air box, ducts and throttle cause, where the plan does not say.
fn usual_intake_share() -> Option<Prior> {
    usual(0.8, 0.12, 0.0, 1.0)
}

/// A belief for a number nobody stated.
fn usual(mean: f64, sd: f64, lower: f64, upper: f64) -> Option<Prior> {
    Prior::normal(mean, sd, lower, upper).ok()
}

fn exhaust(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let has_factor = table.has("back_pressure_factor");
    let has_readings = table.has("back_pressure_before") || table.has("back_pressure_after");
    if has_factor && has_readings {
        let message = "'back_pressure_factor' and back pressures are both given";
        let expected =
            "back_pressure_before and back_pressure_after, or back_pressure_factor alone";
        table.error("back_pressure_factor", KEY_CONFLICT, message, expected);
        return None;
    }
    let factor = if has_readings {
        let limits = 500.0..=150e3;
        let pressure = D::PressureDifference;
        let before =
            belief::required_plain(table, "back_pressure_before", pressure, limits.clone());
        let after = belief::required_plain(table, "back_pressure_after", pressure, limits);
        let factor = after? / before?;
        usual(factor, FACTOR_DOUBT * factor, 0.02, 10.0)
    } else {
        belief::number(
            table,
            "back_pressure_factor",
            D::Ratio,
            0.02..=10.0,
            FACTOR_DOUBT,
        )
    };
    Some(Change::Exhaust {
        back_pressure_factor: factor?,
    })
}

/// A fuel as a shop names it, and its octane numbers.
fn named_fuel(table: &mut Table<'_>) -> Option<(Fuel, Prior, Prior)> {
    let kind = fuel::kind(table, "fuel");
    let limits = 60.0..=130.0;
    let had = (table.has("research_octane"), table.has("motor_octane"));
    let research = if kind.is_none_or(FuelKind::needs_octane) {
        belief::number(table, "research_octane", D::Ratio, limits, 0.0)
    } else {
        belief::optional_number(table, "research_octane", D::Ratio, limits, 0.0)
    };
    let motor = belief::optional_number(table, "motor_octane", D::Ratio, 50.0..=120.0, 0.0);
    let fuel = kind?.fuel(research.map(|p| p.centre()), motor.map(|p| p.centre()));
    let research = research
        .or_else(|| usual(fuel.research_octane, fuel.doubt.octane, 60.0, 130.0).filter(|_| !had.0));
    let motor = motor
        .or_else(|| usual(fuel.motor_octane, MOTOR_OCTANE_DOUBT, 50.0, 120.0).filter(|_| !had.1));
    Some((fuel, research?, motor?))
}

fn gearing(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let gear = belief::optional_number(table, "gear", D::Ratio, 0.3..=6.0, 0.0);
    let final_drive = belief::optional_number(table, "final_drive", D::Ratio, 1.5..=8.0, 0.0);
    if !table.has("gear") && !table.has("final_drive") {
        let message = "this change of gearing changes no ratio";
        table.error(
            "gear",
            Code::KEY_MISSING,
            message,
            "gear, final_drive, or both",
        );
        return None;
    }
    Some(Change::Gearing { gear, final_drive })
}
