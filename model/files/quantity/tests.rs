//! Every way to write a quantity, and every way to get it wrong.

use super::*;
use crate::files::diagnostic::Code;
use crate::units::{self, Dimension};

fn si(text: &str, dimension: Dimension) -> (f64, f64) {
    let quantity = parse(text, dimension).unwrap_or_else(|fault| panic!("{text}: {fault:?}"));
    (quantity.value_si, quantity.sd_si())
}

#[test]
fn the_ways_to_write_doubt() {
    let pressure_drop = Dimension::PressureDifference;
    for (text, dimension, value, sd) in [
        ("92.7 mm", Dimension::Length, 0.0927, 0.0),
        ("9.27e1mm", Dimension::Length, 0.0927, 0.0),
        ("0.69 ± 0.03", Dimension::Ratio, 0.69, 0.03),
        ("0.69 +- 0.03", Dimension::Ratio, 0.69, 0.03),
        ("0.69+/-0.03", Dimension::Ratio, 0.69, 0.03),
        ("2.5 +- 1.0 kPa", pressure_drop, 2500.0, 1000.0),
        ("2.5 kPa ± 10 mbar", pressure_drop, 2500.0, 1000.0),
        ("(2.5 ± 1.0) kPa", pressure_drop, 2500.0, 1000.0),
        ("300 kW ± 2 %", Dimension::Power, 3e5, 6e3),
        ("300 kW ± 6 kW", Dimension::Power, 3e5, 6e3),
        ("25 °C ± 2 K", Dimension::Temperature, 298.15, 2.0),
        ("25 ± 2 °C", Dimension::Temperature, 298.15, 2.0),
        ("25 °C ± 3.6 °F", Dimension::Temperature, 298.15, 2.0),
        ("70 kPa gauge ± 2 kPa", Dimension::GaugePressure, 7e4, 2e3),
        ("(45 ± 5) %", Dimension::Ratio, 0.45, 0.05),
        ("45 %", Dimension::Ratio, 0.45, 0.0),
        ("10.5:1", Dimension::Ratio, 10.5, 0.0),
        (
            "6500 1/min",
            Dimension::RotationalSpeed,
            units::rad_s(6500.0),
            0.0,
        ),
        ("−3.5 kPa", pressure_drop, -3500.0, 0.0),
        ("+.5 kPa", pressure_drop, 500.0, 0.0),
    ] {
        assert_eq!(si(text, dimension), (value, sd), "{text}");
    }
}

#[test]
fn a_range_is_a_ninety_per_cent_interval() {
    for text in ["0.62 .. 0.76", "0.62..0.76", "0.62 ... 0.76"] {
        let (value, sd) = si(text, Dimension::Ratio);
        assert_eq!(value, 0.69);
        // 0.07 / 1.645, hand calculation; one rounding of the subtraction.
        assert!((sd - 0.042_553_191_489_361_7).abs() < 1e-15, "{sd}");
    }
    assert_eq!(
        si("0.62 .. 0.76 mm", Dimension::Length).0,
        f64::midpoint(0.00062, 0.00076)
    );
    assert_eq!(si("62 mm .. 7.6 cm", Dimension::Length).0, 0.069);
    assert_eq!(si("40 .. 60 %", Dimension::Ratio).0, 0.5);
}

#[test]
fn a_factor_is_a_doubt_in_the_logarithm() {
    let quantity = parse("12 kW/K */ 1.3", Dimension::ThermalConductance).expect("a factor");
    assert_eq!(quantity.doubt, Doubt::Factor { factor: 1.3 });
    assert!((quantity.sd_si() - 12e3 * 1.3_f64.ln()).abs() < 1e-9);
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn every_mistake_has_its_code_place_and_expectation() {
    let length = Dimension::Length;
    for (text, dimension, code, found, expected) in [
        (
            "92.7",
            length,
            Code::UNIT_MISSING,
            "92.7",
            "a length with its unit: m, mm, cm",
        ),
        ("92,7 mm", length, Code::DECIMAL_COMMA, "92,7", "a length"),
        (
            "7,200 rpm",
            Dimension::RotationalSpeed,
            Code::DECIMAL_COMMA,
            "7,200",
            "rpm",
        ),
        ("92.7 mmm", length, Code::UNIT_UNKNOWN, "mmm", "m, mm, cm"),
        ("92.7 kW", length, Code::UNIT_WRONG, "kW", "m, mm, cm"),
        (
            "10 psi",
            Dimension::GaugePressure,
            Code::UNIT_AMBIGUOUS,
            "psi",
            "psi gauge or psi absolute",
        ),
        ("nan mm", length, Code::NUMBER_NOT_FINITE, "nan", "a length"),
        (
            "-inf mm",
            length,
            Code::NUMBER_NOT_FINITE,
            "-inf",
            "a length",
        ),
        (
            "1e999 mm",
            length,
            Code::NUMBER_NOT_FINITE,
            "1e999",
            "a length",
        ),
        (
            "1e308 km",
            length,
            Code::NUMBER_NOT_FINITE,
            "1e308",
            "a length",
        ),
        ("mm", length, Code::NUMBER_INVALID, "mm", "a length"),
        ("", length, Code::NUMBER_INVALID, "", "a length"),
        ("1 2 mm", length, Code::NUMBER_INVALID, "1 2 mm", "a length"),
        ("5 ± -1 mm", length, Code::DOUBT_INVALID, "-1", "a length"),
        ("5 ± mm", length, Code::NUMBER_INVALID, "mm", "a length"),
        ("5 mm ±", length, Code::NUMBER_INVALID, "5 mm ±", "a length"),
        (
            "7 .. 6 mm",
            length,
            Code::DOUBT_INVALID,
            "7 .. 6 mm",
            "a length",
        ),
        (
            "(7 ± 6 mm",
            length,
            Code::DOUBT_INVALID,
            "(7 ± 6 mm",
            "a length",
        ),
        (
            "(7 mm ± 6) mm",
            length,
            Code::DOUBT_INVALID,
            "7 mm ± 6",
            "a length",
        ),
        (
            "7 mm */ 0.5",
            length,
            Code::DOUBT_INVALID,
            "0.5",
            "a length",
        ),
        (
            "25 °C ± 2 %",
            Dimension::Temperature,
            Code::DOUBT_INVALID,
            "%",
            "a temperature",
        ),
        (
            "45 ± 5 %",
            Dimension::Ratio,
            Code::UNIT_AMBIGUOUS,
            "45 ± 5 %",
            "\"(45 ± 5) %\" for percentage points",
        ),
        ("5 mm ± 1 kW", length, Code::UNIT_WRONG, "kW", "m, mm, cm"),
    ] {
        let fault = parse(text, dimension).expect_err(text);
        assert_eq!(fault.code, code, "{text}: {fault:?}");
        assert_eq!(
            text[fault.within.clone()].trim(),
            found,
            "{text}: {fault:?}"
        );
        assert!(fault.expected.contains(expected), "{text}: {fault:?}");
    }
}

#[test]
fn either_kind_of_pressure_is_told_apart() {
    let either = [Dimension::Pressure, Dimension::GaugePressure];
    assert_eq!(
        parse_any("10 psig", &either).map(|q| q.dimension()),
        Ok(Dimension::GaugePressure)
    );
    assert_eq!(
        parse_any("170 kPa abs", &either).map(|q| q.dimension()),
        Ok(Dimension::Pressure)
    );
    assert_eq!(
        parse_any("70 kPa", &either).map_err(|f| f.code),
        Err(Code::UNIT_AMBIGUOUS)
    );
}

proptest::proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,24}", number in proptest::num::f64::ANY) {
        let _ = parse(&text, Dimension::Length);
        let _ = parse(&format!("{number} {text}"), Dimension::Ratio);
        let _ = parse(&format!("{number}{text}"), Dimension::Temperature);
    }
}
