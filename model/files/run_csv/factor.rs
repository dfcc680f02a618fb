//! Factors in heads: `RPM x1000`, `[0.1 kW]`, `(1/100 s)`, `rpm/1000`, `wheel_power_0.1_kW`.
//!
//! A factor that is passed over makes every number of a column wrong by it, so each is taken, or stays in the unit that is asked about. A number before a unit is
//! one such unit; a number behind a sign may have been taken times the readings or may be left to do, which the numbers show, or a person.

/// What numbers are taken times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Factor {
    pub(super) times: f64,
    /// Whether its inverse may be meant: `x1000`.
    pub(super) either: bool,
}

impl Factor {
    const fn one() -> Self {
        Self {
            times: 1.0,
            either: false,
        }
    }

    /// Both, one after the other.
    pub(super) fn with(self, other: Option<Self>) -> Self {
        let other = other.unwrap_or(Self::one());
        Self {
            times: self.times * other.times,
            either: self.either || other.either,
        }
    }
}

const SIGNS: &[char] = &['x', 'X', '*', '×', '·'];

/// The text without a factor, and the factor. Powers of ten only: a number before a unit that is none may be the range of a sensor.
pub(super) fn multiplier(text: &str) -> (&str, Option<Factor>) {
    let trimmed = text.trim();
    // `1/min` is a unit by itself.
    if is_plain_unit(trimmed) {
        return (text, None);
    }
    if let Some((times, rest)) = number(trimmed) {
        let bare = rest.trim_start().trim_start_matches(SIGNS).trim_start();
        let exact = times < 1.0 || !bare.is_empty();
        if is_power_of_ten(times) && (bare.is_empty() || is_plain_unit(bare)) {
            let factor = Factor {
                times,
                either: !exact && (times - 1.0).abs() > 1e-9,
            };
            return (bare, Some(factor));
        }
    }
    // Behind a sign: `x1000`, `rpm/1000`.
    for (at, sign) in trimmed.char_indices().rev() {
        if !SIGNS.contains(&sign) && sign != '/' {
            continue;
        }
        let before = trimmed[..at].chars().next_back();
        let part_of_word = matches!(sign, 'x' | 'X') && before.is_some_and(char::is_alphanumeric);
        let Some((times, "")) = number(trimmed[at + sign.len_utf8()..].trim_start()) else {
            continue;
        };
        if part_of_word || !is_power_of_ten(times) {
            continue;
        }
        let factor = Factor {
            times,
            either: (times - 1.0).abs() > 1e-9,
        };
        return (trimmed[..at].trim_end(), Some(factor));
    }
    (text, None)
}

/// A number before a unit that is no power of ten: `4 bar`, `1/128 kW`.
pub(super) fn is_odd_factor(text: &str) -> bool {
    let text = text.trim();
    !is_plain_unit(text)
        && number(text).is_some_and(|(times, rest)| {
            let bare = rest.trim_start().trim_start_matches(SIGNS).trim_start();
            !is_power_of_ten(times) && is_plain_unit(bare)
        })
}

/// A name without a factor that stands before the unit at its end, without brackets: `Power 0.1 kW`, `time_1/100_s`, `engine_speed_1000_rpm`; and an odd one with its
/// unit. The number of a sensor is no factor: `EGT 2 C`.
pub(super) fn before_unit(name: &str) -> (String, Option<Factor>, Option<String>) {
    let pieces: Vec<&str> = name
        .split([' ', '\t', '_'])
        .filter(|piece| !piece.is_empty())
        .collect();
    let answer = !name.trim().contains(' ');
    for at in 1..pieces.len() {
        let Some((times, glued)) = number(pieces[at]) else {
            continue;
        };
        let written = &pieces[at][..pieces[at].len() - glued.len()];
        let behind = std::iter::once(glued)
            .chain(pieces[at + 1..].iter().copied())
            .filter(|piece| !piece.is_empty());
        let behind: Vec<&str> = behind.collect();
        let is_unit = ["_", " ", "/"].iter().any(|joint| {
            let unit = behind.join(if *joint == "_" { " " } else { joint });
            is_plain_unit(&unit)
        });
        let broken = written.contains(['.', ',', '/', '^']);
        let power = is_power_of_ten(times);
        let large = power && glued.is_empty() && (times > 99.0 || (answer && times > 9.0));
        let kept = || {
            let mut kept = pieces[..at].to_vec();
            kept.extend(&behind);
            kept.join(" ")
        };
        if power && (is_unit && (broken || large) || behind.is_empty() && broken) {
            let either = false;
            return (kept(), Some(Factor { times, either }), None);
        }
        if !power && broken && is_unit {
            let odd = format!("{written} {}", behind.join(" "));
            return (pieces[..at].join(" "), None, Some(odd));
        }
    }
    (name.to_owned(), None, None)
}

fn is_power_of_ten(times: f64) -> bool {
    let power = times.log10();
    times > 0.0 && power.abs() < 10.0 && (power - power.round()).abs() < 1e-9
}

/// A number at the beginning, and what follows: `1000`, `0,01`, `1e-3`, `10^-3`, `10⁻³`, `1/100`.
fn number(text: &str) -> Option<(f64, &str)> {
    let (over, rest) = plain(text)?;
    let below = rest
        .strip_prefix('/')
        .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        .and_then(plain);
    match below {
        Some((below, rest)) if below > 0.0 => Some((over / below, rest)),
        _ => Some((over, rest)),
    }
}

fn plain(text: &str) -> Option<(f64, &str)> {
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let mut end = digits(text);
    if end == 0 || end > 12 {
        return None;
    }
    if let Some(fraction) = text[end..].strip_prefix(['.', ',']) {
        let more = digits(fraction);
        end += if more > 0 { 1 + more } else { 0 };
    }
    let mut value: f64 = text[..end].replace(',', ".").parse().ok()?;
    let mut rest = &text[end..];
    let signed = |text: &str| {
        let sign = usize::from(text.starts_with(['-', '+']));
        let length = sign + digits(&text[sign..]);
        (length > sign && length < 5).then_some(length)
    };
    if let Some(power) = rest.strip_prefix('^')
        && let Some(length) = signed(power)
    {
        value = value.powi(power[..length].parse().ok()?);
        rest = &power[length..];
    } else if let Some(power) = rest.strip_prefix(['e', 'E'])
        && let Some(length) = signed(power)
    {
        value *= 10_f64.powi(power[..length].parse().ok()?);
        rest = &power[length..];
    } else {
        let raised: String = rest.chars().map_while(raised).collect();
        if !raised.is_empty() {
            value = value.powi(raised.parse().ok()?);
            let length = raised.chars().count();
            rest = rest
                .char_indices()
                .nth(length)
                .map_or("", |(at, _)| &rest[at..]);
        }
    }
    value.is_finite().then_some((value, rest))
}

/// The plain sign of a raised one.
fn raised(letter: char) -> Option<char> {
    let raised = "⁰¹²³⁴⁵⁶⁷⁸⁹⁻";
    let at = raised.chars().position(|of| of == letter)?;
    "0123456789-".chars().nth(at)
}

fn is_plain_unit(text: &str) -> bool {
    use crate::units::{Dimension, LookupError, find};
    let text = text.trim();
    !text.is_empty()
        && matches!(
            find(text, Dimension::Length),
            Ok(_) | Err(LookupError::WrongDimension { .. })
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_before_a_unit_is_one_such_unit() {
        for (text, bare, times) in [
            ("0.1 kW", "kW", 0.1),
            ("0,1 kW", "kW", 0.1),
            ("1/100 s", "s", 0.01),
            ("0.01s", "s", 0.01),
            ("10 ms", "ms", 10.0),
            ("10^-3 bar", "bar", 1e-3),
            ("10⁻³ bar", "bar", 1e-3),
            ("1e-3 s", "s", 1e-3),
            ("1000/min", "/min", 1000.0),
            ("0.001", "", 1e-3),
            ("1000 rpm", "rpm", 1000.0),
        ] {
            let (found, factor) = multiplier(text);
            let factor = factor.unwrap_or_else(|| panic!("{text}"));
            assert_eq!((found, factor.either), (bare, false), "{text}");
            assert!((factor.times / times - 1.0).abs() < 1e-12, "{text}");
        }
        for text in ["1/min", "km/h", "14.7", "4 bar", "1/128 kW", "Max10", "m/s"] {
            assert_eq!(multiplier(text), (text, None));
        }
        assert!(is_odd_factor("4 bar") && is_odd_factor("1/128 kW"));
        assert!(!is_odd_factor("1/min") && !is_odd_factor("0.1 kW"));
    }

    #[test]
    fn a_number_behind_a_sign_may_be_either() {
        for (text, bare) in [("x1000", ""), ("RPM x 1000", "RPM"), ("rpm/1000", "rpm")] {
            let (found, factor) = multiplier(text);
            assert_eq!(found, bare);
            assert!(factor.is_some_and(|f| f.either && f.times == 1000.0));
        }
    }

    #[test]
    fn a_factor_is_found_in_a_name_without_brackets() {
        for (name, kept, times) in [
            ("wheel_power_0.1_kW", "wheel power kW", 0.1),
            ("Wheel power 0.1 kW", "Wheel power kW", 0.1),
            ("Zeit in 1/100 s", "Zeit in s", 0.01),
            ("engine_speed_1000_rpm", "engine speed rpm", 1000.0),
            ("wheel_power_10_kW", "wheel power kW", 10.0),
            ("lambda_0.001", "lambda", 1e-3),
        ] {
            let (found, factor, odd) = before_unit(name);
            assert_eq!((found.as_str(), odd), (kept, None));
            assert_eq!(factor.map(|f| f.times), Some(times), "{name}");
        }
        for name in ["EGT 2 C", "Lambda 1", "Run 10 kW", "wheel_power_kW"] {
            assert_eq!(before_unit(name), (name.to_owned(), None, None));
        }
        let (_, _, odd) = before_unit("MAP 2.5 bar");
        assert_eq!(odd.as_deref(), Some("2.5 bar"));
    }
}
