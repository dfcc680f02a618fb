//! What a car file or a plan says of a turbocharger beside its map: the boost asked for, and how many machines share the flow.

use super::super::belief::{self, KEY_CONFLICT};
use super::super::diagnostic::Code;
use super::super::table::Table;
use crate::boost::{BoostControl, Holds};
use crate::units::Dimension;

/// The keys of which exactly one says the boost.
pub(super) const BOOST_KEYS: [&str; 3] = ["boost", "boost_absolute", "boost_curve"];
/// Boost that makes sense: above the air outside, and absolute, Pa.
const GAUGE_PA: std::ops::RangeInclusive<f64> = 1e3..=500e3;
const ABSOLUTE_PA: std::ops::RangeInclusive<f64> = 100e3..=600e3;

/// Number of turbochargers side by side; one unless said.
pub(crate) fn count(table: &mut Table<'_>) -> Option<u32> {
    let count = table.found("count", |t| t.optional_integer("count", 1..=4));
    u32::try_from(count.or(1)?).ok()
}

/// The boost asked for: `boost = "70 kPa gauge"` (a spring), `boost_absolute = "170 kPa abs"`, or a table `boost_curve` over
/// engine speed.
pub(crate) fn boost(table: &mut Table<'_>) -> Option<BoostControl> {
    let written: Vec<&str> = BOOST_KEYS
        .into_iter()
        .filter(|key| table.has(key))
        .collect();
    let [key] = written[..] else {
        let code = if written.is_empty() {
            Code::KEY_MISSING
        } else {
            KEY_CONFLICT
        };
        table.error(
            written.get(1).copied().unwrap_or("boost"),
            code,
            format!("the boost target is given in {} ways", written.len()),
            "exactly one of: boost = \"70 kPa gauge\", boost_absolute = \"170 kPa abs\", a table 'boost_curve'",
        );
        return None;
    };
    let level = |holds, pressure_pa| BoostControl {
        holds,
        asked: vec![(0.0, pressure_pa)],
        factor: 1.0,
    };
    match key {
        "boost" => belief::required_plain(table, "boost", Dimension::GaugePressure, GAUGE_PA)
            .map(|pa| level(Holds::Gauge, pa)),
        "boost_absolute" => {
            belief::required_plain(table, "boost_absolute", Dimension::Pressure, ABSOLUTE_PA)
                .map(|pa| level(Holds::Absolute, pa))
        }
        _ => table.subtable("boost_curve", curve),
    }
}

fn curve(table: &mut Table<'_>) -> Option<BoostControl> {
    let (gauge, absolute) = (table.has("gauge"), table.has("absolute"));
    if gauge == absolute {
        let (code, key) = if gauge {
            (KEY_CONFLICT, "absolute")
        } else {
            (Code::KEY_MISSING, "gauge")
        };
        let message = "a boost curve holds either gauge or absolute pressure";
        table.error(
            key,
            code,
            message,
            "one of the lists 'gauge' and 'absolute'",
        );
        return None;
    }
    let speeds = table.quantities("speed", Dimension::RotationalSpeed);
    let (key, holds, dimension, limits) = if gauge {
        ("gauge", Holds::Gauge, Dimension::GaugePressure, GAUGE_PA)
    } else {
        (
            "absolute",
            Holds::Absolute,
            Dimension::Pressure,
            ABSOLUTE_PA,
        )
    };
    let pressures = table.quantities(key, dimension);
    let (speeds, pressures) = (speeds?, pressures?);
    if speeds.len() != pressures.len() || speeds.is_empty() {
        table.error(
            key,
            Code::FIELD_COUNT,
            format!(
                "{} pressures, but there are {} speeds",
                pressures.len(),
                speeds.len()
            ),
            "as many pressures as speeds, and at least one",
        );
        return None;
    }
    let rpm = |q: &super::super::Quantity| q.value_si * 30.0 / std::f64::consts::PI;
    if speeds.windows(2).any(|w| w[1].value_si <= w[0].value_si) || speeds[0].value_si < 0.0 {
        let message = "the speeds of the boost curve are not in rising order";
        table.error(
            "speed",
            Code::OUT_OF_RANGE,
            message,
            "engine speeds in rising order",
        );
        return None;
    }
    for pressure in &pressures {
        table.within(key, Some(*pressure), limits.clone())?;
    }
    Some(BoostControl {
        holds,
        asked: speeds
            .iter()
            .zip(&pressures)
            .map(|(speed, pressure)| (rpm(speed), pressure.value_si))
            .collect(),
        factor: 1.0,
    })
}
