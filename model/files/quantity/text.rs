//! From [`Quantity`] back to the text a person would write, such that reading it gives the same bits again.
//!
//! A converted number is not always reachable in a shop unit (the conversion may skip doubles). Then the SI unit is
//! written instead, where conversion is exact; a value never changes by being saved.

use std::fmt;

use super::{Doubt, Quantity};
use crate::units::Unit;

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let si = self.dimension().si_unit();
        let text = write_in(self, self.unit).or_else(|| write_in(self, si));
        // In SI every conversion is a multiplication by one: the second attempt always succeeds.
        f.write_str(&text.unwrap_or_default())
    }
}

fn write_in(quantity: &Quantity, unit: &Unit) -> Option<String> {
    let value = |value_si: f64| {
        shortest(unit.from_si(value_si), |written| {
            unit.to_si(written) == value_si
        })
    };
    let (numbers, plain) = match quantity.doubt {
        Doubt::Exact => (value(quantity.value_si)?, true),
        Doubt::PlusMinus { sd_si } => {
            let sd = shortest(unit.difference_from_si(sd_si), |written| {
                unit.difference_to_si(written) == sd_si
            })?;
            (
                format!("{} ± {sd}", value(quantity.value_si)?),
                unit.symbol != "%",
            )
        }
        Doubt::Range { lower_si, upper_si } => (
            format!("{} .. {}", value(lower_si)?, value(upper_si)?),
            true,
        ),
        Doubt::Factor { factor } => {
            let centre = with_unit(&value(quantity.value_si)?, unit, true);
            return Some(format!("{centre} */ {factor}"));
        }
    };
    Some(with_unit(&numbers, unit, plain))
}

fn with_unit(numbers: &str, unit: &Unit, plain: bool) -> String {
    match (unit.symbol, plain) {
        ("1", _) => numbers.to_owned(),
        (symbol, true) => format!("{numbers} {symbol}"),
        (symbol, false) => format!("({numbers}) {symbol}"),
    }
}

/// The shortest decimal near `candidate` that converts back exactly, searched from one digit up and then among the
/// neighbouring doubles.
fn shortest(candidate: f64, same: impl Fn(f64) -> bool) -> Option<String> {
    for digits in 0..17 {
        let text = format!("{candidate:.digits$e}");
        if let Ok(rounded) = text.parse::<f64>()
            && same(rounded)
        {
            return Some(plain_or_scientific(rounded));
        }
    }
    let neighbours = [
        candidate.next_up(),
        candidate.next_down(),
        candidate.next_up().next_up(),
    ];
    neighbours
        .into_iter()
        .find(|&near| same(near))
        .map(plain_or_scientific)
}

/// Rust's shortest text for a double, with an exponent where plain digits would be a row of zeros.
fn plain_or_scientific(value: f64) -> String {
    if value == 0.0 || (1e-4..1e9).contains(&value.abs()) {
        value.to_string()
    } else {
        format!("{value:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::super::parse;
    use super::*;
    use crate::units::{Dimension, UNITS};
    use proptest::prelude::*;

    #[test]
    fn a_shop_reads_what_it_wrote() {
        for (text, dimension) in [
            ("92.7 mm", Dimension::Length),
            ("0.69 ± 0.03", Dimension::Ratio),
            ("(45 ± 5) %", Dimension::Ratio),
            ("0.62 .. 0.76 mm", Dimension::Length),
            ("317 hp", Dimension::Power),
            ("25 ± 2 °C", Dimension::Temperature),
            ("8 psi gauge", Dimension::GaugePressure),
            ("12 kW/K */ 1.3", Dimension::ThermalConductance),
        ] {
            assert_eq!(
                parse(text, dimension).map(|q| q.to_string()),
                Ok(text.to_owned())
            );
        }
    }

    proptest! {
        #[test]
        fn writing_and_reading_again_changes_nothing(
            row in 0..UNITS.len(),
            value_si in prop_oneof![-1e3..1e3_f64, -1e-6..1e-6_f64, -1e12..1e12_f64],
            width in 1e-9..1e6_f64,
            kind in 0..4_u8,
        ) {
            let unit = &UNITS[row];
            let quantity = match kind {
                0 => Quantity::exact(value_si, unit),
                1 => Quantity::plus_minus(value_si, width, unit),
                2 => Quantity::range(value_si, value_si + width, unit),
                _ => Quantity { value_si, doubt: Doubt::Factor { factor: 1.0 + width }, unit },
            };
            let text = quantity.to_string();
            let back = parse(&text, unit.dimension);
            let same = back.as_ref().is_ok_and(|b| (b.value_si, b.doubt) == (quantity.value_si, quantity.doubt));
            prop_assert!(same, "{quantity:?} was written '{text}' and read {back:?}");
        }
    }
}
