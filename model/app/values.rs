//! Values on the command line: read with their units, held to what makes sense, refused with what could.

use crate::inertia::known;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use pullcast::drumlog::local_polynomial::WIDEST_RPM;
use pullcast::dyno::correction::Standard;
use pullcast::dyno::inertia_check::Known;
use pullcast::files::drum_log::NARROWEST_RPM;
use pullcast::files::quantity;
use pullcast::parts::Dial;
use pullcast::units::{self, Dimension};

/// Names of standards, letter case aside.
pub(crate) fn standards() -> impl TypedValueParser<Value = Standard> {
    PossibleValuesParser::new(Standard::all().map(Standard::id))
        .try_map(|word| word.parse::<Standard>())
}

/// Names of the numbers that a search may turn.
pub(crate) fn dials() -> impl TypedValueParser<Value = Dial> {
    let named = |dial: &Dial| PossibleValue::new(dial.id()).help(dial.help());
    PossibleValuesParser::new(Dial::ALL.iter().map(named))
        .try_map(|word| Dial::named(&word).ok_or("no such number"))
}

/// A power from zero up, W.
pub(crate) fn power(text: &str) -> Result<f64, String> {
    number(text, Dimension::Power).and_then(|watt| {
        if watt >= 0.0 {
            Ok(watt)
        } else {
            Err("power below zero".to_owned())
        }
    })
}

/// A power to be reached.
pub(crate) fn target(text: &str) -> Result<f64, String> {
    number(text, Dimension::Power).and_then(|watt| {
        if watt > 0.0 {
            Ok(watt)
        } else {
            Err("a power to be reached lies above zero".to_owned())
        }
    })
}

/// A chance that draws can tell: `90 %` or `0.9`.
pub(crate) fn chance(text: &str) -> Result<f64, String> {
    number(text, Dimension::Ratio).and_then(|share| {
        if (0.01..=0.99).contains(&share) {
            Ok(share)
        } else {
            Err("a chance lies between 1 % and 99 %; is the % missing?".to_owned())
        }
    })
}

/// A share between nothing and all: `80 %` or `0.8`.
pub(crate) fn share(text: &str) -> Result<f64, String> {
    number(text, Dimension::Ratio).and_then(|share| {
        if (0.0..=1.0).contains(&share) {
            Ok(share)
        } else {
            Err("a charge lies between 0 % and 100 %; is the % missing?".to_owned())
        }
    })
}

/// A mechanical efficiency: `88 %` or `0.88`.
pub(crate) fn mechanical_efficiency(text: &str) -> Result<f64, String> {
    number(text, Dimension::Ratio).and_then(|efficiency| {
        if (0.3..=1.0).contains(&efficiency) {
            Ok(efficiency)
        } else {
            Err("a mechanical efficiency lies between 0.3 and 1".to_owned())
        }
    })
}

/// A rest between pulls, s: none to a day.
pub(crate) fn rest(text: &str) -> Result<f64, String> {
    number(text, Dimension::Time).and_then(|seconds| {
        if (0.0..=86_400.0).contains(&seconds) {
            Ok(seconds)
        } else {
            Err("a rest lies between 0 s and 24 h".to_owned())
        }
    })
}

/// A nearness to the first pull: `1 %` or `0.01`.
pub(crate) fn nearness(text: &str) -> Result<f64, String> {
    number(text, Dimension::Ratio).and_then(|share| {
        if (0.0005..=0.5).contains(&share) {
            Ok(share)
        } else {
            Err(
                "nearness to the first pull lies between 0.05 % and 50 %; is the % missing?"
                    .to_owned(),
            )
        }
    })
}

/// A moment of inertia with its doubt.
pub(crate) fn inertia(text: &str) -> Result<Known, String> {
    above_zero(
        known(text, Dimension::Inertia)?,
        "a moment of inertia",
        "240 kg m2",
    )
}

/// A mass with its doubt.
pub(crate) fn mass(text: &str) -> Result<Known, String> {
    above_zero(known(text, Dimension::Mass)?, "a mass", "10 kg")
}

/// A length with its doubt.
pub(crate) fn known_length(text: &str) -> Result<Known, String> {
    above_zero(
        known(text, Dimension::Length)?,
        "a height or radius",
        "0.35 m",
    )
}

/// A time that something took, s.
pub(crate) fn seconds(text: &str) -> Result<f64, String> {
    let value = number(text, Dimension::Time)?;
    above_zero(Known { value, sd: 0.0 }, "a time taken", "60 s").map(|time| time.value)
}

fn above_zero(number: Known, what: &str, example: &str) -> Result<Known, String> {
    if number.value > 0.0 {
        Ok(number)
    } else {
        Err(format!(
            "{what} lies above zero; expected one as \"{example}\""
        ))
    }
}

/// A smoothing span, rpm.
pub(crate) fn span(text: &str) -> Result<f64, String> {
    rpm_within(text, NARROWEST_RPM, WIDEST_RPM)
}

/// A width of bands, rpm.
pub(crate) fn band(text: &str) -> Result<f64, String> {
    rpm_within(text, 10.0, 500.0)
}

fn rpm_within(text: &str, low: f64, high: f64) -> Result<f64, String> {
    let rpm = units::rpm(number(text, Dimension::RotationalSpeed)?);
    // Rounding of the way through rad/s is undone.
    let rpm = (rpm * 1e9).round() / 1e9;
    if (low..=high).contains(&rpm) {
        Ok(rpm)
    } else {
        Err(format!("{low} to {high} rpm are taken"))
    }
}

/// A pressure above the air outside, Pa.
pub(crate) fn gauge_pressure(text: &str) -> Result<f64, String> {
    number(text, Dimension::GaugePressure)
}

/// A length, m.
pub(crate) fn length(text: &str) -> Result<f64, String> {
    number(text, Dimension::Length)
}

/// A temperature that a test cell may be held at, K.
pub(crate) fn cell(text: &str) -> Result<f64, String> {
    number(text, Dimension::Temperature).and_then(|kelvin| {
        if (253.15..=323.15).contains(&kelvin) {
            Ok(kelvin)
        } else {
            Err("a cell is held between -20 °C and 50 °C".to_owned())
        }
    })
}

/// Local time less UTC: `1 h`, `-5 h`, in minutes.
pub(crate) fn utc_offset(text: &str) -> Result<i64, String> {
    number(text, Dimension::Time).and_then(|seconds| {
        if seconds.abs() <= 14.0 * 3600.0 {
            #[expect(clippy::cast_possible_truncation, reason = "held to 14 hours")]
            let minutes = (seconds / 60.0).round() as i64;
            Ok(minutes)
        } else {
            Err("clocks differ from UTC by 14 h at most".to_owned())
        }
    })
}

/// Months `4-9`, or one, `7`; over the turn of the year too.
pub(crate) fn months(text: &str) -> Result<(u8, u8), String> {
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    match (first.trim().parse(), last.trim().parse()) {
        (Ok(first @ 1..=12), Ok(last @ 1..=12)) => Ok((first, last)),
        _ => Err("expected months by number, as 4-9".to_owned()),
    }
}

/// Hours of business `8-18`, from the first on and up to the second; over midnight too.
pub(crate) fn hours(text: &str) -> Result<(u8, u8), String> {
    let ends = text
        .split_once('-')
        .map(|(from, to)| (from.trim().parse(), to.trim().parse()));
    match ends {
        Some((Ok(from @ 0..=23), Ok(to @ 0..=24))) if from != to => Ok((from, to)),
        _ => Err("expected hours of the day, as 8-18".to_owned()),
    }
}

/// A share below, for a quantile: `1 %`.
pub(crate) fn quantile(text: &str) -> Result<f64, String> {
    number(text, Dimension::Ratio).and_then(|share| {
        if share > 0.0 && share < 1.0 {
            Ok(share)
        } else {
            Err("a quantile lies between 0 % and 100 %; is the % missing?".to_owned())
        }
    })
}

fn number(text: &str, dimension: Dimension) -> Result<f64, String> {
    quantity::parse(text, dimension)
        .map(|q| q.value_si)
        .map_err(|fault| fault.message)
}

/// A day as YYYY-MM-DD, by the calendar in use.
pub(crate) fn date(text: &str) -> Result<String, String> {
    let written = text.len() == 10 && text.parse::<jiff::civil::Date>().is_ok();
    if written {
        Ok(text.to_owned())
    } else {
        Err(format!("'{text}' is no date; write it as 2026-11-30"))
    }
}

/// A number of days, "30 days".
pub(crate) fn days(text: &str) -> Result<u16, String> {
    let number = text
        .trim()
        .strip_suffix("days")
        .or_else(|| text.trim().strip_suffix("day"));
    match number.map(|number| number.trim().parse()) {
        Some(Ok(days @ 1..=3650)) => Ok(days),
        _ => Err(format!(
            "'{text}' is no time that a quote holds; write it as \"30 days\""
        )),
    }
}
