//! The tables `blower` and `cooler` of a car file.

use std::path::Path;

use super::super::belief::{self, Place, Stated};
use super::super::compressor_map;
use super::super::table::Table;
use super::super::turbine_map;
use super::parts::BlowerParts;
use crate::belief::parameter;
use crate::belief::prior::Prior;
use crate::belief::sheet::Origin;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::boost::displacement::LEAK_AREA_SD_LN;
use crate::boost::{MakerClaims, PositiveDisplacement, RotorKind};
use crate::cooling::HeatSink;
use crate::files::diagnostic::Code;
use crate::files::quantity::Quantity;
use crate::parts::{CLAIM_DOUBT, COOLERS, PULLEY_M, ROTORS};
use crate::units::Dimension;

/// Claims that cannot describe a machine.
pub const CLAIMS_INVALID: Code = Code::new("claims_invalid");

/// A kind of blower as files name it.
#[derive(Debug, Clone, Copy)]
enum Kind {
    None,
    Displacement(RotorKind),
    Centrifugal,
    Turbo,
}

/// Kinds of blower by their words.
fn kinds() -> Vec<(&'static str, Kind)> {
    let rotors = ROTORS
        .iter()
        .map(|(word, rotors)| (*word, Kind::Displacement(*rotors)));
    let others = [
        ("centrifugal", Kind::Centrifugal),
        ("turbocharger", Kind::Turbo),
    ];
    std::iter::once(("none", Kind::None))
        .chain(rotors)
        .chain(others)
        .collect()
}

pub(super) fn blower(
    table: &mut Table<'_>,
    folder: &Path,
    stated: &mut Stated,
) -> Option<BlowerParts> {
    let kind = table.choice("kind", &kinds());
    let required: &[&str] = match kind {
        Some(Kind::Displacement(_)) => &["displacement"],
        _ => &[],
    };
    stated.read(table, required);
    let place = Place::of(table, "kind");
    // A turbocharger has none of these: they are then unknown keys.
    let belted = !matches!(kind, Some(Kind::Turbo));
    let mut of_belt = |key, dimension, limits| {
        belted
            .then(|| belief::plain(table, key, dimension, limits))
            .flatten()
    };
    let pulley = of_belt("pulley_diameter", Dimension::Length, 0.03..=0.4);
    let pulley_m = pulley.unwrap_or(PULLEY_M);
    let speed = Dimension::RotationalSpeed;
    let max_speed = of_belt("max_speed", speed, 300.0..=30_000.0);
    let bypass_area_m2 = of_belt("bypass_area", Dimension::Area, 1e-6..=0.05);
    let ratio = |table: &mut Table<'_>| {
        belief::required_plain(table, "drive_ratio", Dimension::Ratio, 0.3..=60.0)
    };
    if kind.is_none() {
        // Keys of the kind that was meant are not to blame.
        for key in [
            "drive_ratio",
            "claims",
            "tip_speed_limit",
            "map",
            "map_points",
            "rated_point",
            "count",
        ]
        .into_iter()
        .chain(super::turbo::BOOST_KEYS)
        .chain(turbine_map::KEYS)
        {
            table.has(key);
        }
    }
    match kind? {
        Kind::None => Some(BlowerParts::None),
        Kind::Displacement(kind) => {
            let drive_ratio = ratio(table);
            let max_speed_rad_s = max_speed.unwrap_or_else(|| kind.top_speed_rad_s());
            if table.has("claims") {
                let claims = table.subtable("claims", claims);
                imply_claims(table, stated, kind, max_speed_rad_s, claims?, &place)?;
            }
            Some(BlowerParts::Displacement {
                kind,
                drive_ratio: drive_ratio?,
                pulley_m,
                max_speed_rad_s,
                bypass_area_m2,
            })
        }
        Kind::Centrifugal => {
            let drive_ratio = ratio(table);
            let tip = belief::plain(table, "tip_speed_limit", Dimension::Speed, 200.0..=800.0);
            let map = compressor_map::source(table, folder);
            Some(BlowerParts::Centrifugal {
                map: map?,
                drive_ratio: drive_ratio?,
                pulley_m,
                tip_speed_limit_m_s: tip.unwrap_or(MILLED_TIP_LIMIT_M_S.0),
            })
        }
        Kind::Turbo => {
            let tip = belief::plain(table, "tip_speed_limit", Dimension::Speed, 200.0..=800.0);
            let count = super::turbo::count(table);
            let control = super::turbo::boost(table);
            let map = compressor_map::source(table, folder);
            imply_turbine(table, folder, stated, &place)?;
            Some(BlowerParts::Turbo {
                map: map?,
                tip_speed_limit_m_s: tip.unwrap_or(MILLED_TIP_LIMIT_M_S.0),
                count: count?,
                control: control?,
            })
        }
    }
}

/// What a maker claims, with the doubt on its two efficiencies.
#[derive(Debug, Clone, Copy)]
struct Claims {
    printed: MakerClaims,
    volumetric_sd: f64,
    isentropic_sd: f64,
}

fn claims(table: &mut Table<'_>) -> Option<Claims> {
    let pressure_ratio =
        belief::required_plain(table, "pressure_ratio", Dimension::Ratio, 1.01..=5.0);
    let speed = Dimension::RotationalSpeed;
    let speed = belief::required_plain(table, "shaft_speed", speed, 50.0..=10_000.0);
    let mut efficiency = |key: &str, limits| {
        let quantity = table.quantity(key, Dimension::Ratio);
        table.within(key, quantity, limits)
    };
    let volumetric = efficiency("volumetric_efficiency", 0.3..=0.999);
    let isentropic = efficiency("isentropic_efficiency", 0.2..=0.95);
    let (volumetric, isentropic) = (volumetric?, isentropic?);
    let sd = |q: &Quantity| match q.sd_si() {
        sd if sd > 0.0 => sd,
        _ => CLAIM_DOUBT * q.value_si,
    };
    Some(Claims {
        printed: MakerClaims {
            pressure_ratio: pressure_ratio?,
            speed_rad_s: speed?,
            volumetric_efficiency: volumetric.value_si,
            isentropic_efficiency: isentropic.value_si,
        },
        volumetric_sd: sd(&volumetric),
        isentropic_sd: sd(&isentropic),
    })
}

/// Leak area and efficiency scale that meet the claims. The leak is one less the volumetric efficiency, so its doubt is
/// large in proportion; it never exceeds the doubt without any claim.
fn imply_claims(
    table: &mut Table<'_>,
    stated: &mut Stated,
    kind: RotorKind,
    max_speed_rad_s: f64,
    found: Claims,
    place: &Place,
) -> Option<()> {
    let displacement_m3_rev = stated.centre("blower.displacement")?;
    let mut machine = PositiveDisplacement::typical(kind, displacement_m3_rev, max_speed_rad_s);
    if let Some(ratio) = stated.centre("blower.built_in_volume_ratio") {
        machine.built_in_volume_ratio = ratio;
    }
    let machine = match machine.calibrated(found.printed) {
        Ok(machine) => machine,
        Err(error) => {
            let expected = "a printed point of a possible machine";
            table.error("claims", CLAIMS_INVALID, error.to_string(), expected);
            return None;
        }
    };
    let leak_sd = found.volumetric_sd / (1.0 - found.printed.volumetric_efficiency);
    let scale_sd =
        machine.efficiency_scale * found.isentropic_sd / found.printed.isentropic_efficiency;
    let bounds = |path: &str| {
        parameter::find(path).map_or((0.0, f64::INFINITY), parameter::Parameter::bounds)
    };
    let (low, high) = bounds("blower.leak_area");
    let leak = Prior::log_normal(
        machine.leak_area_m2,
        leak_sd.min(LEAK_AREA_SD_LN),
        low,
        high,
    );
    let (low, high) = bounds("blower.efficiency_scale");
    let scale = Prior::normal(machine.efficiency_scale, scale_sd, low, high);
    for (path, made) in [
        ("blower.leak_area", leak),
        ("blower.efficiency_scale", scale),
    ] {
        if let Err(problem) = stated.imply(path, made, Origin::Given, place) {
            table.push(*problem);
            return None;
        }
    }
    Some(())
}

/// Area and efficiency that a turbine's map gives, if there is one.
fn imply_turbine(
    table: &mut Table<'_>,
    folder: &Path,
    stated: &mut Stated,
    place: &Place,
) -> Option<()> {
    // Without a map nothing follows; with one that cannot be taken the table holds the problem.
    let Some(turbine) = turbine_map::belief(table, folder).ok()? else {
        return Some(());
    };
    for (path, prior) in [
        ("blower.turbine_area", turbine.area),
        ("blower.turbine_efficiency", turbine.efficiency),
    ] {
        if let Err(problem) = stated.imply(path, Ok(prior), Origin::Given, place) {
            table.push(*problem);
            return None;
        }
    }
    Some(())
}

pub(super) fn cooler(table: &mut Table<'_>, stated: &mut Stated) -> Option<HeatSink> {
    let kind = table.choice("kind", COOLERS);
    stated.read(table, &[]);
    kind
}
