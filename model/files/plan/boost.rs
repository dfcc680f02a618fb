//! Changes to blower, pulley and charge cooler.

use std::path::Path;

use super::super::belief::{self, CLAIM_DOUBT, FACTOR_DOUBT, KEY_CONFLICT, SIZE_DOUBT};
use super::super::car::{COOLERS, PULLEY_M, ROTORS, usual_top_speed_rad_s};
use super::super::compressor_map;
use super::super::table::Table;
use super::usual;
use crate::belief::prior::Prior;
use crate::boost::RotorKind;
use crate::boost::centrifugal::MILLED_TIP_LIMIT_M_S;
use crate::boost::displacement::FILLING_LOSS;
use crate::build::{CentrifugalBlower, Change, CoolerChoice, DisplacementBlower};
use crate::cooling::HeatSink;
use crate::units::Dimension as D;

fn pulley_diameter(table: &mut Table<'_>) -> Option<Prior> {
    let had = table.has("pulley_diameter");
    let pulley = belief::optional_number(table, "pulley_diameter", D::Length, 0.03..=0.4, 0.0);
    pulley.or_else(|| Prior::fixed(PULLEY_M).ok().filter(|_| !had))
}

/// Without the maker's claims: volumetric efficiency 0.92 ± 0.03 and the family's usual isentropic efficiency, at pressure
/// ratio 1.5 and half the highest speed, which is where [`crate::boost::PositiveDisplacement::typical`] is set.
pub(super) fn displacement_blower(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let kind: Option<RotorKind> = table.choice("rotors", ROTORS);
    let displacement = belief::number(
        table,
        "displacement",
        D::DisplacementPerRev,
        1e-4..=1e-2,
        SIZE_DOUBT,
    );
    let drive_ratio = belief::number(table, "drive_ratio", D::Ratio, 0.3..=10.0, SIZE_DOUBT);
    let built_in =
        belief::optional_number(table, "built_in_volume_ratio", D::Ratio, 1.0..=2.0, 0.0);
    let max_speed = belief::plain(table, "max_speed", D::RotationalSpeed, 300.0..=30_000.0);
    let pulley_m = pulley_diameter(table);
    let claimed = table.has("claims");
    let claims = table.optional_subtable("claims", |table| {
        let ratio = belief::required_plain(table, "pressure_ratio", D::Ratio, 1.01..=5.0);
        let speed =
            belief::required_plain(table, "shaft_speed", D::RotationalSpeed, 50.0..=10_000.0);
        let volumetric = belief::number(
            table,
            "volumetric_efficiency",
            D::Ratio,
            0.3..=0.995,
            CLAIM_DOUBT,
        );
        let isentropic = belief::number(
            table,
            "isentropic_efficiency",
            D::Ratio,
            0.2..=0.95,
            CLAIM_DOUBT,
        );
        Some((ratio?, speed?, volumetric?, isentropic?))
    });
    let kind = kind?;
    let max_speed_rad_s = max_speed.unwrap_or_else(|| usual_top_speed_rad_s(kind));
    let (mean, sd) = kind.peak_adiabatic_efficiency();
    let claims = match claims {
        Some(claims) => claims,
        None if claimed => return None,
        None => (
            1.5,
            0.5 * max_speed_rad_s,
            usual(0.92, 0.03, 0.3, 0.995)?,
            usual(mean, sd, 0.2, 0.95)?,
        ),
    };
    let built_in = built_in.or_else(|| Prior::fixed(kind.built_in_volume_ratio()).ok());
    Some(Change::DisplacementBlower(DisplacementBlower {
        kind,
        displacement_m3_rev: displacement?,
        drive_ratio: drive_ratio?,
        built_in_volume_ratio: built_in?,
        volumetric_efficiency: claims.2,
        isentropic_efficiency: claims.3,
        filling_loss: usual(FILLING_LOSS.0, FILLING_LOSS.1, 0.0, 0.25)?,
        claim_pressure_ratio: claims.0,
        claim_speed_rad_s: claims.1,
        max_speed_rad_s,
        pulley_m: pulley_m?,
    }))
}

/// A map drawn from one rated point is doubted as [`crate::boost::compressor_map::SPARSE_FLOW_DOUBT`] says, a measured one as a claim.
pub(super) fn centrifugal_blower(table: &mut Table<'_>, folder: &Path) -> Option<Change<Prior>> {
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

pub(super) fn pulley(table: &mut Table<'_>) -> Option<Change<Prior>> {
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
    Some(Change::Pulley {
        ratio_factor: ratio_factor?,
    })
}

/// What a maker leaves out is as the kind of cooler usually is.
pub(super) fn charge_cooler(table: &mut Table<'_>) -> Option<Change<Prior>> {
    let kind = table.choice("cooling", COOLERS);
    let effectiveness = belief::number(table, "effectiveness", D::Ratio, 0.2..=0.95, CLAIM_DOUBT);
    let flow = belief::number(table, "reference_flow", D::MassFlow, 0.01..=3.0, 0.0);
    let drop = belief::number(
        table,
        "pressure_drop",
        D::PressureDifference,
        100.0..=40e3,
        FACTOR_DOUBT,
    );
    let mut or_usual = |key, dimension, (lowest, highest), usual: fn(HeatSink) -> (f64, f64)| {
        let given = table.has(key);
        let range = lowest..=highest;
        let stated = belief::optional_number(table, key, dimension, range, FACTOR_DOUBT);
        if given {
            return stated;
        }
        let (median, sd_ln) = usual(kind?);
        Prior::log_normal(median, sd_ln, lowest, highest).ok()
    };
    let capacity = or_usual("heat_capacity", D::HeatCapacity, (500.0, 200e3), |kind| {
        kind.usual().heat_capacity_j_k
    });
    let rejection = or_usual("rejection", D::ThermalConductance, (1.0, 5000.0), |kind| {
        kind.usual().rejection_w_k
    });
    Some(Change::ChargeCooler(CoolerChoice {
        kind: kind?,
        effectiveness: effectiveness?,
        reference_flow_kg_s: flow?,
        pressure_drop_pa: drop?,
        heat_capacity_j_k: capacity?,
        rejection_w_k: rejection?,
    }))
}
