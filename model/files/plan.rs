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

use std::path::Path;

use super::belief::{self, CLAIM_DOUBT, FACTOR_DOUBT, KEY_CONFLICT, Place, SIZE_DOUBT};
use super::car::{COOLERS, PULLEY_M, ROTORS, usual_rejection_w_k, usual_top_speed_rad_s};
use super::compressor_map;
use super::diagnostic::{Code, Problems};
use super::fuel::{self, FuelKind, MOTOR_OCTANE_DOUBT};
use super::table::{Table, TomlFile};
use crate::boost::RotorKind;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::build::{BuildError, CentrifugalBlower, Change, CoolerChoice, CoolerKind, DisplacementBlower, Plan};
use crate::car::Car;
use crate::fit::prior::Prior;
use crate::units::Dimension as D;

/// A change that cannot be made to this car.
pub const PLAN_UNFIT: Code = Code::new("plan_unfit");

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
    file.read(|root| {
        super::car::head(root, "plan");
        let name = root.text("name");
        let changes = root.tables("change", |table| {
            let place = Place::of(table, "kind");
            change(table, folder).map(|change| (change, place))
        });
        let (changes, places): (Vec<_>, Vec<_>) = changes?.into_iter().unzip();
        if changes.is_empty() {
            let message = "the plan changes nothing";
            root.error("change", Code::KEY_MISSING, message, "one [[change]] for every piece of work");
        }
        Some(PlanFile { plan: Plan { name: name?, changes }, places })
    })
}

impl PlanFile {
    /// Whether every change can be made to a car, in order; each one that cannot is a problem at its line.
    pub fn check(&self, car: &Car) -> Result<(), Problems> {
        let centre = self.plan.map(|_, _, prior| prior.centre());
        let mut problems = Problems::new();
        let mut built = car.clone();
        for (change, place) in centre.changes.into_iter().zip(&self.places) {
            let step = Plan { name: String::new(), changes: vec![change] };
            match step.apply(&built) {
                Ok(next) => built = next,
                Err(error) => {
                    let expected = match &error {
                        BuildError::PartMissing { part } => format!("a change to a part the car has, or the {part} added first"),
                        _ => "claims of a possible machine".to_owned(),
                    };
                    problems.push(place.problem(PLAN_UNFIT, error.to_string()).expected(expected));
                }
            }
        }
        if problems.is_empty() { Ok(()) } else { Err(problems) }
    }
}

/// A kind of change, by the trade's word.
#[derive(Debug, Clone, Copy)]
enum Kind {
    DisplacementBlower,
    CentrifugalBlower,
    RemoveBlower,
    Pulley,
    ChargeCooler,
    RemoveChargeCooler,
    Intake,
    Exhaust,
    CompressionRatio,
    Fuel,
    Mixture,
    Redline,
    Gearing,
    Wheels,
    ElectricAxle,
}

const KINDS: &[(&str, Kind)] = &[
    ("displacement blower", Kind::DisplacementBlower),
    ("centrifugal blower", Kind::CentrifugalBlower),
    ("remove blower", Kind::RemoveBlower),
    ("pulley", Kind::Pulley),
    ("charge cooler", Kind::ChargeCooler),
    ("remove charge cooler", Kind::RemoveChargeCooler),
    ("intake", Kind::Intake),
    ("exhaust", Kind::Exhaust),
    ("compression ratio", Kind::CompressionRatio),
    ("fuel", Kind::Fuel),
    ("mixture", Kind::Mixture),
    ("redline", Kind::Redline),
    ("gearing", Kind::Gearing),
    ("wheels", Kind::Wheels),
    ("electric axle", Kind::ElectricAxle),
];

/// Keys of all kinds of change.
const ALL_KEYS: [&str; 39] = [
    "note", "rotors", "displacement", "drive_ratio", "built_in_volume_ratio", "max_speed", "pulley_diameter",
    "claims", "map", "map_points", "rated_point", "gear_efficiency", "tip_speed_limit", "ratio_factor",
    "blower_pulley_from", "blower_pulley_to", "cooling", "effectiveness", "reference_flow", "pressure_drop",
    "heat_capacity", "rejection", "area_factor", "back_pressure_factor", "back_pressure_before",
    "back_pressure_after", "ratio", "fuel", "ethanol", "research_octane", "motor_octane", "lambda", "speed",
    "gear", "final_drive", "inertia", "tyre_radius", "peak_power", "share",
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
        Kind::DisplacementBlower => displacement_blower(table),
        Kind::CentrifugalBlower => centrifugal_blower(table, folder),
        Kind::RemoveBlower => Some(Change::RemoveBlower),
        Kind::Pulley => pulley(table),
        Kind::ChargeCooler => charge_cooler(table),
        Kind::RemoveChargeCooler => Some(Change::RemoveChargeCooler),
        Kind::Intake => {
            let area_factor = belief::number(table, "area_factor", D::Ratio, 0.2..=5.0, FACTOR_DOUBT);
            Some(Change::Intake { area_factor: area_factor? })
        }
        Kind::Exhaust => exhaust(table),
        Kind::CompressionRatio => {
            let ratio = belief::number(table, "ratio", D::Ratio, 5.0..=18.0, SIZE_DOUBT);
            Some(Change::CompressionRatio { ratio: ratio? })
        }
        Kind::Fuel => fuel(table),
        Kind::Mixture => {
            let lambda = belief::number(table, "lambda", D::Ratio, 0.65..=1.10, 0.0);
            Some(Change::Mixture { lambda: lambda? })
        }
        Kind::Redline => {
            let (low, high) = (2000.0, 15_000.0);
            let per_rpm = std::f64::consts::PI / 30.0;
            let speed = belief::number(table, "speed", D::RotationalSpeed, low * per_rpm..=high * per_rpm, 0.0);
            Some(Change::Redline { rpm: scaled(speed?, 1.0 / per_rpm)? })
        }
        Kind::Gearing => gearing(table),
        Kind::Wheels => {
            let inertia = belief::number(table, "inertia", D::Inertia, 0.5..=16.0, 0.05);
            let radius_m = belief::optional_number(table, "tyre_radius", D::Length, 0.2..=0.5, 0.0);
            Some(Change::Wheels { inertia_kg_m2: inertia?, radius_m })
        }
        Kind::ElectricAxle => {
            let peak_power_w = belief::optional_number(table, "peak_power", D::Power, 5e3..=600e3, CLAIM_DOUBT);
            let had = table.has("share");
            let share = belief::optional_number(table, "share", D::Ratio, 0.0..=1.0, 0.0);
            let share = share.or_else(|| Prior::fixed(1.0).ok().filter(|_| !had));
            Some(Change::ElectricAxle { peak_power_w, share: share? })
        }
    }
}

/// A belief in another unit.
fn scaled(prior: Prior, scale: f64) -> Option<Prior> {
    if prior.is_fixed() {
        return Prior::fixed(scale * prior.centre()).ok();
    }
    let (lower, upper) = (scale * prior.lower(), scale * prior.upper());
    match prior.shape() {
        crate::fit::Shape::Normal => Prior::normal(scale * prior.centre(), scale * prior.sd(), lower, upper).ok(),
        crate::fit::Shape::LogNormal => Prior::log_normal(scale * prior.centre(), prior.sd(), lower, upper).ok(),
    }
}

/// A belief for a number nobody stated.
fn usual(mean: f64, sd: f64, lower: f64, upper: f64) -> Option<Prior> {
    Prior::normal(mean, sd, lower, upper).ok()
}

fn pulley_diameter(table: &mut Table<'_>) -> Option<Prior> {
    let had = table.has("pulley_diameter");
    let pulley = belief::optional_number(table, "pulley_diameter", D::Length, 0.03..=0.4, 0.0);
    pulley.or_else(|| Prior::fixed(PULLEY_M).ok().filter(|_| !had))
}

/// Without the maker's claims: volumetric efficiency 0.92 ± 0.03 and the family's usual isentropic efficiency, at pressure
/// ratio 1.5 and half the highest speed, which is where [`crate::boost::PositiveDisplacement::typical`] is set.
fn displacement_blower(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let kind: Option<RotorKind> = table.choice("rotors", ROTORS);
    let displacement = belief::number(table, "displacement", D::DisplacementPerRev, 1e-4..=1e-2, SIZE_DOUBT);
    let drive_ratio = belief::number(table, "drive_ratio", D::Ratio, 0.3..=10.0, SIZE_DOUBT);
    let built_in = belief::optional_number(table, "built_in_volume_ratio", D::Ratio, 1.0..=2.0, 0.0);
    let max_speed = belief::plain(table, "max_speed", D::RotationalSpeed, 300.0..=30_000.0);
    let pulley_m = pulley_diameter(table);
    let claimed = table.has("claims");
    let claims = table.optional_subtable("claims", |table| {
        let ratio = belief::required_plain(table, "pressure_ratio", D::Ratio, 1.01..=5.0);
        let speed = belief::required_plain(table, "shaft_speed", D::RotationalSpeed, 50.0..=10_000.0);
        let volumetric = belief::number(table, "volumetric_efficiency", D::Ratio, 0.3..=0.995, CLAIM_DOUBT);
        let isentropic = belief::number(table, "isentropic_efficiency", D::Ratio, 0.2..=0.95, CLAIM_DOUBT);
        Some((ratio?, speed?, volumetric?, isentropic?))
    });
    let kind = kind?;
    let max_speed_rad_s = max_speed.unwrap_or_else(|| usual_top_speed_rad_s(kind));
    let (mean, sd) = kind.peak_adiabatic_efficiency();
    let claims = match claims {
        Some(claims) => claims,
        None if claimed => return None,
        None => (1.5, 0.5 * max_speed_rad_s, usual(0.92, 0.03, 0.3, 0.995)?, usual(mean, sd, 0.2, 0.95)?),
    };
    let built_in = built_in.or_else(|| Prior::fixed(kind.built_in_volume_ratio()).ok());
    Some(Change::DisplacementBlower(DisplacementBlower {
        kind,
        displacement_m3_rev: displacement?,
        drive_ratio: drive_ratio?,
        built_in_volume_ratio: built_in?,
        volumetric_efficiency: claims.2,
        isentropic_efficiency: claims.3,
        claim_pressure_ratio: claims.0,
        claim_speed_rad_s: claims.1,
        max_speed_rad_s,
        pulley_m: pulley_m?,
    }))
}

/// A map drawn from one rated point is doubted as [`crate::boost::compressor_map::SPARSE_FLOW_DOUBT`] says, a measured one as a claim.
fn centrifugal_blower(table: &mut Table<'_>, folder: &Path) -> Option<Change<Prior>> {
    let source = compressor_map::source(table, folder);
    let drive_ratio = belief::number(table, "drive_ratio", D::Ratio, 1.0..=60.0, SIZE_DOUBT);
    let gear = belief::optional_number(table, "gear_efficiency", D::Ratio, 0.85..=0.999, 0.01);
    let tip = belief::plain(table, "tip_speed_limit", D::Speed, 200.0..=800.0);
    let pulley_m = pulley_diameter(table);
    let source = source?;
    let flow_doubt = if source.rated {
        crate::boost::compressor_map::SPARSE_FLOW_DOUBT
    } else {
        CLAIM_DOUBT
    };
    Some(Change::CentrifugalBlower(Box::new(CentrifugalBlower {
        map: source.map().ok()?,
        drive_ratio: drive_ratio?,
        flow_factor: usual(1.0, flow_doubt, 0.7, 1.3)?,
        efficiency_factor: usual(1.0, CLAIM_DOUBT, 0.7, 1.2)?,
        gear_efficiency: gear.or_else(|| usual(0.96, 0.01, 0.85, 1.0))?,
        pulley_m: pulley_m?,
        tip_speed_limit_m_s: tip.unwrap_or(MILLED_TIP_LIMIT_M_S.0),
    })))
}

fn pulley(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let length = 0.03..=0.4;
    let has_factor = table.has("ratio_factor");
    let has_sizes = table.has("blower_pulley_from") || table.has("blower_pulley_to");
    if has_factor && has_sizes {
        let message = "'ratio_factor' and pulley diameters are both given";
        let expected = "blower_pulley_from and blower_pulley_to, or ratio_factor alone";
        table.error("ratio_factor", KEY_CONFLICT, message, expected);
        return None;
    }
    let ratio_factor = if has_factor {
        belief::number(table, "ratio_factor", D::Ratio, 0.3..=3.0, SIZE_DOUBT)
    } else {
        table.has("ratio_factor");
        let from = belief::required_plain(table, "blower_pulley_from", D::Length, length.clone());
        let to = belief::required_plain(table, "blower_pulley_to", D::Length, length);
        let factor = from? / to?;
        usual(factor, SIZE_DOUBT * factor, 0.3, 3.0)
    };
    Some(Change::Pulley { ratio_factor: ratio_factor? })
}

/// What a maker leaves out has the catalogue's default: heat capacity 5 kJ/K (air) or 15 kJ/K (water).
fn charge_cooler(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let kind = table.choice("cooling", COOLERS);
    let effectiveness = belief::number(table, "effectiveness", D::Ratio, 0.2..=0.95, CLAIM_DOUBT);
    let flow = belief::number(table, "reference_flow", D::MassFlow, 0.01..=3.0, 0.0);
    let drop = belief::number(table, "pressure_drop", D::PressureDifference, 100.0..=40e3, FACTOR_DOUBT);
    let had_capacity = table.has("heat_capacity");
    let capacity = belief::optional_number(table, "heat_capacity", D::HeatCapacity, 500.0..=200e3, FACTOR_DOUBT);
    let had_rejection = table.has("rejection");
    let rejection = belief::optional_number(table, "rejection", D::ThermalConductance, 1.0..=5000.0, FACTOR_DOUBT);
    let kind = kind?;
    let capacity = capacity.or_else(|| {
        let (median, sd) = match kind {
            CoolerKind::AirToAir => (5e3, 0.3),
            CoolerKind::AirToWater => (15e3, 0.5),
        };
        Prior::log_normal(median, sd, 500.0, 200e3).ok().filter(|_| !had_capacity)
    });
    let usual_w_k = usual_rejection_w_k(kind);
    let rejection =
        rejection.or_else(|| Prior::log_normal(usual_w_k, 0.3, 1.0, 5000.0).ok().filter(|_| !had_rejection));
    Some(Change::ChargeCooler(CoolerChoice {
        kind,
        effectiveness: effectiveness?,
        reference_flow_kg_s: flow?,
        pressure_drop_pa: drop?,
        heat_capacity_j_k: capacity?,
        rejection_w_k: rejection?,
    }))
}

fn exhaust(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let has_factor = table.has("back_pressure_factor");
    let has_readings = table.has("back_pressure_before") || table.has("back_pressure_after");
    if has_factor && has_readings {
        let message = "'back_pressure_factor' and back pressures are both given";
        let expected = "back_pressure_before and back_pressure_after, or back_pressure_factor alone";
        table.error("back_pressure_factor", KEY_CONFLICT, message, expected);
        return None;
    }
    let factor = if has_readings {
        let limits = 500.0..=150e3;
        let pressure = D::PressureDifference;
        let before = belief::required_plain(table, "back_pressure_before", pressure, limits.clone());
        let after = belief::required_plain(table, "back_pressure_after", pressure, limits);
        let factor = after? / before?;
        usual(factor, FACTOR_DOUBT * factor, 0.02, 10.0)
    } else {
        belief::number(table, "back_pressure_factor", D::Ratio, 0.02..=10.0, FACTOR_DOUBT)
    };
    Some(Change::Exhaust { back_pressure_factor: factor? })
}

fn fuel(table: &mut Table<'_>) -> Option<Change<Prior>> {
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
    let motor =
        motor.or_else(|| usual(fuel.motor_octane, MOTOR_OCTANE_DOUBT, 50.0, 120.0).filter(|_| !had.1));
    Some(Change::Fuel { fuel: Box::new(fuel), research_octane: research?, motor_octane: motor? })
}

fn gearing(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let gear = belief::optional_number(table, "gear", D::Ratio, 0.3..=6.0, 0.0);
    let final_drive = belief::optional_number(table, "final_drive", D::Ratio, 1.5..=8.0, 0.0);
    if !table.has("gear") && !table.has("final_drive") {
        let message = "this change of gearing changes no ratio";
        table.error("gear", Code::KEY_MISSING, message, "gear, final_drive, or both");
        return None;
    }
    Some(Change::Gearing { gear, final_drive })
}
