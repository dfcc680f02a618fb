//! Names that answer a question: what a column would have to be called to be read.

use super::channel::Channel;
use crate::units::{Dimension, UNITS};

/// A unit as the end of a name: `lb ft` as `lb_ft`, `m/s` as `m_s`.
pub(super) fn suffix_of(unit: &str) -> String {
    unit.replace([' ', '/'], "_").replace('°', "deg")
}

/// Names under which a column of these channels would be read.
pub(super) fn answers(channels: &[Channel]) -> Vec<String> {
    let mut names = Vec::new();
    for channel in channels {
        let Some(dimension) = channel.dimension() else {
            continue;
        };
        let few: &[&str] = match dimension {
            Dimension::Power => &["hp", "PS", "kW"],
            Dimension::Torque => &["lb ft", "N m"],
            Dimension::Speed => &["mph", "km/h", "m/s"],
            Dimension::RotationalSpeed => &["rpm"],
            Dimension::Temperature => &["°C", "°F"],
            Dimension::Time => &["s", "ms"],
            Dimension::Ratio => &["%", "1"],
            Dimension::Pressure => &["kPa absolute", "psi absolute", "bar absolute"],
            Dimension::GaugePressure => &["kPa gauge", "psi gauge", "bar gauge"],
            Dimension::Force => &["N", "lbf"],
            _ => &[],
        };
        let few = few
            .iter()
            .filter(|symbol| UNITS.iter().any(|u| u.symbol == **symbol));
        let name = channel.name().replace(' ', "_");
        names.extend(few.map(|symbol| match *symbol {
            "1" => name.clone(),
            symbol => format!("{name}_{}", suffix_of(symbol)),
        }));
    }
    names.push("skip".to_owned());
    names
}

pub(super) fn pressures(written: &str) -> Vec<String> {
    let unit = written.split(' ').next().unwrap_or(written);
    let of = |reference: &str| format!("manifold_pressure_{unit}_{reference}");
    vec![of("absolute"), of("gauge"), "skip".to_owned()]
}
