//! A long starter in shop units: every number with a metric unit in its text, in values and comments alike, said in the unit of the
//! trade. Names of units that stand without a number are left, as are units that both sets share (rpm, deg, V, s).

use crate::files::car_write::number;
use crate::units::{Dimension, Unit, find};

/// A metric unit as the starters write it, what it measures there, and the unit of the trade for small and for large values.
struct Pair {
    metric: &'static str,
    dimension: Dimension,
    shop: &'static str,
    /// From this number of the metric unit on, another unit is usual.
    large: Option<(f64, &'static str)>,
}

const fn pair(metric: &'static str, dimension: Dimension, shop: &'static str) -> Pair {
    Pair {
        metric,
        dimension,
        shop,
        large: None,
    }
}

use Dimension as D;

/// Longer names before those that they begin with.
const PAIRS: &[Pair] = &[
    pair("mm²", D::Area, "in2"),
    pair("mm2", D::Area, "in2"),
    pair("mm", D::Length, "in"),
    pair("m/s", D::Speed, "ft/s"),
    Pair {
        // Drums and tyres, or an altitude.
        large: Some((10.0, "ft")),
        ..pair("m", D::Length, "in")
    },
    pair("km/h", D::Speed, "mph"),
    pair("kPa gauge", D::GaugePressure, "psi gauge"),
    pair("kPa abs", D::Pressure, "psi abs"),
    pair("kPa", D::PressureDifference, "psi"),
    pair("hPa", D::BarometricPressure, "inHg"),
    pair("bar", D::PressureDifference, "psi"),
    pair("kg/min", D::MassFlow, "lb/min"),
    pair("kg/s", D::MassFlow, "lb/min"),
    pair("kg m²", D::Inertia, "lb ft2"),
    pair("kg m2", D::Inertia, "lb ft2"),
    pair("kg cm²", D::Inertia, "lb in2"),
    pair("kg", D::Mass, "lb"),
    pair("g/s", D::MassFlow, "lb/min"),
    pair("g/min", D::MassFlow, "lb/h"),
    pair("g/kWh", D::SpecificFuelConsumption, "lb/(hp h)"),
    pair("cm3/min", D::VolumeFlow, "cc/min"),
    pair("L/rev", D::DisplacementPerRev, "cu in/rev"),
    pair("L/h", D::VolumeFlow, "US gal/h"),
    Pair {
        // An engine, or a tank.
        large: Some((10.0, "US gal")),
        ..pair("L", D::Volume, "cu in")
    },
    pair("kJ/K", D::HeatCapacity, "Btu/°F"),
    pair("kW/K", D::ThermalConductance, "Btu/(h °F)"),
    pair("W/K", D::ThermalConductance, "Btu/(h °F)"),
    pair("kW", D::Power, "hp"),
    pair("N m", D::Torque, "lb ft"),
    pair("N", D::Force, "lbf"),
    pair("°C", D::Temperature, "°F"),
    pair("K", D::TemperatureDifference, "°F"),
];

impl Pair {
    /// The metric unit and that of the trade for such a value, the latter with its name.
    fn units(&self, value: f64) -> Option<(&'static Unit, (&'static Unit, &'static str))> {
        let shop = match self.large {
            Some((from, large)) if value >= from => large,
            _ => self.shop,
        };
        // A test holds that all of them are in the table.
        let metric = find(self.metric, self.dimension).ok()?;
        Some((metric, (find(shop, self.dimension).ok()?, shop)))
    }
}

/// The unit in which the trade writes such a value of a metric unit: how a value and a difference are converted, and its name. None where both
/// sets share the unit.
pub fn of_the_trade(metric: &str, like: f64) -> Option<(Converted, &'static str)> {
    let pair = PAIRS.iter().find(|pair| pair.metric == metric)?;
    let (from, (to, name)) = pair.units(like)?;
    Some((Converted { from, to }, name))
}

/// A number of one unit in another.
#[derive(Debug, Clone, Copy)]
pub struct Converted {
    from: &'static Unit,
    to: &'static Unit,
}

impl Converted {
    /// A value.
    pub fn value(self, value: f64) -> f64 {
        self.to.from_si(self.from.to_si(value))
    }

    /// A difference, or a doubt.
    pub fn difference(self, difference: f64) -> f64 {
        self.to
            .difference_from_si(self.from.difference_to_si(difference))
    }
}

/// Digits of a translated number: as many as the starters show of a default.
const DIGITS: usize = 4;

/// The text with its quantities in shop units.
pub(super) fn in_shop_units(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut before = ' ';
    while let Some(first) = rest.chars().next() {
        let begins = !before.is_alphanumeric() && !matches!(before, '_' | '.' | '-');
        if begins && let Some((translated, length)) = quantity(rest) {
            out.push_str(&translated);
            before = 'x';
            rest = &rest[length..];
            continue;
        }
        out.push(first);
        before = first;
        rest = &rest[first.len_utf8()..];
    }
    out
}

/// How the second number of a quantity belongs to the first.
const JOINED: [&str; 3] = [" ± ", " to ", " .. "];

/// The quantity at the start of the text in shop units, and the length of the metric one.
fn quantity(text: &str) -> Option<(String, usize)> {
    let first = leading_number(text)?;
    let after = &text[first.len()..];
    let second = JOINED.iter().find_map(|joint| {
        let number = leading_number(after.strip_prefix(joint)?)?;
        Some((*joint, number))
    });
    let length = first.len() + second.map_or(0, |(joint, number)| joint.len() + number.len());
    let unit = text[length..].strip_prefix(' ')?;
    let ends =
        |rest: &str| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '/' || c == '_');
    let pair = PAIRS
        .iter()
        .find(|pair| unit.strip_prefix(pair.metric).is_some_and(ends))?;
    let value = first.parse().ok()?;
    let (from, (to, name)) = pair.units(value)?;
    let converted = Converted { from, to };
    let mut translated = number(converted.value(value), DIGITS);
    if let Some((joint, second)) = second {
        let second = second_number(second.parse().ok()?, joint, converted);
        translated.push_str(joint);
        translated.push_str(&number(second, DIGITS));
    }
    translated.push(' ');
    translated.push_str(name);
    Some((translated, length + 1 + pair.metric.len()))
}

/// The second number: a doubt is a difference, the end of a range a value.
fn second_number(number: f64, joint: &str, converted: Converted) -> f64 {
    if joint == " ± " {
        converted.difference(number)
    } else {
        converted.value(number)
    }
}

fn leading_number(text: &str) -> Option<&str> {
    let end = text
        .char_indices()
        .find(|&(i, c)| !(c.is_ascii_digit() || c == '.' || (c == '-' && i == 0)))
        .map_or(text.len(), |(i, _)| i);
    // A full stop that ends a sentence is none of it.
    let number = text[..end].trim_end_matches('.');
    number.parse::<f64>().is_ok().then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_is_in_the_table() {
        for pair in PAIRS {
            let shop = [Some(pair.shop), pair.large.map(|(_, unit)| unit)];
            for symbol in std::iter::once(pair.metric).chain(shop.into_iter().flatten()) {
                assert!(find(symbol, pair.dimension).is_ok(), "{symbol}");
            }
        }
    }

    /// By the definitions of inch, pound and US gallon; the sentences are of the kinds that occur.
    #[test]
    fn quantities_are_translated_with_their_doubts_ranges_and_signs() {
        for (metric, shop) in [
            ("bore: 25.4 to 254 mm. Basis", "bore: 1 to 10 in. Basis"),
            ("\"90 ± 8 °C\"", "\"194 ± 14.4 °F\""),
            ("-10 to 150 °C", "14 to 302 °F"),
            ("\"40 ± 20 K\"", "\"72 ± 36 °F\""),
            ("\"60 .. 70 kPa gauge\"", "\"8.702 .. 10.15 psi gauge\""),
            ("\"0.45359237 kg m² */ 1.28\"", "\"10.76 lb ft2 */ 1.28\""),
            ("altitude = \"100 m\"", "altitude = \"328.1 ft\""),
            ("radius = \"0.3048 m\"", "radius = \"12 in\""),
            ("an engine of 2.0 L that", "an engine of 122 cu in that"),
            ("left = \"37.85411784 L\"", "left = \"10 US gal\""),
            ("added = \"-60 kg\"", "added = \"-132.3 lb\""),
            (
                "at 6000 rpm, 24 000 rpm, 12 V",
                "at 6000 rpm, 24 000 rpm, 12 V",
            ),
            ("75W-90, sae-j1349, 95 km", "75W-90, sae-j1349, 95 km"),
        ] {
            assert_eq!(in_shop_units(metric), shop);
        }
    }
}
