//! Numbers as a person reads them: a unit and only the digits that carry meaning.

use super::Unit;

/// An SI value in a chosen unit with four significant digits, such as `317.2 hp`.
///
/// ```
/// use pullcast::units::{Dimension, find, show};
/// let hp = find("hp", Dimension::Power).expect("a listed unit");
/// assert_eq!(show(236_535.0, hp), "317.2 hp");
/// ```
pub fn show(value_si: f64, unit: &Unit) -> String {
    let number = show_number(unit.from_si(value_si), 4);
    match unit.symbol {
        "1" => number,
        symbol => format!("{number} {symbol}"),
    }
}

/// A number rounded to `significant` digits, without exponent where the trade writes none (1e-4 to 1e9).
pub fn show_number(value: f64, significant: usize) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return value.to_string();
    }
    let digits = significant.max(1);
    let scientific = format!("{value:.*e}", digits - 1);
    // Rounding decides the exponent (9.9996 is 10.00), so it is read from the rounded text.
    let exponent: i32 = scientific
        .rsplit('e')
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(0);
    if !(-4..9).contains(&exponent) {
        return scientific;
    }
    let wanted = i32::try_from(digits).unwrap_or(i32::MAX) - 1 - exponent;
    if let Ok(decimals) = usize::try_from(wanted) {
        return format!("{value:.decimals$}");
    }
    let step = 10_f64.powi(-wanted);
    format!("{:.0}", (value / step).round() * step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Dimension, find};

    #[test]
    fn digits_carry_meaning() {
        for (value, shown) in [
            (0.092734, "0.09273"),
            (92.7, "92.70"),
            (9.99961, "10.00"),
            (7200.4, "7200"),
            (123456.0, "123500"),
            (-0.5, "-0.5000"),
            (1.5e-9, "1.500e-9"),
            (0.0, "0"),
        ] {
            assert_eq!(show_number(value, 4), shown);
        }
    }

    #[test]
    fn a_ratio_is_shown_without_unit_and_a_temperature_with_its_zero() {
        let one = Dimension::Ratio.si_unit();
        assert_eq!(show(2.16, one), "2.160");
        let celsius = find("C", Dimension::Temperature).expect("listed");
        assert_eq!(show(298.15, celsius), "25.00 °C");
    }
}
