//! Numbers and texts as a written car file has them.

use crate::files::shown::acts;
use std::fmt::Write as _;

use crate::belief::parameter::Measure;
use crate::belief::prior::{Prior, Shape};
use crate::units::{Dimension, find};

/// Significant digits of a centre, of a doubt, and of a number that is no belief.
const CENTRE_DIGITS: usize = 9;
const DOUBT_DIGITS: usize = 6;
const PLAIN_DIGITS: usize = 12;

/// A belief as the value of a key.
pub(in crate::files) fn belief_text(prior: &Prior, measure: Measure) -> String {
    let unit = if measure.symbol.is_empty() {
        String::new()
    } else {
        format!(" {}", measure.symbol)
    };
    let digits = if prior.is_fixed() {
        PLAIN_DIGITS
    } else {
        CENTRE_DIGITS
    };
    let centre = number(measure.from_model(prior.centre()), digits);
    if prior.is_fixed() {
        return if unit.is_empty() {
            centre
        } else {
            quoted(&format!("{centre}{unit}"))
        };
    }
    quoted(&match prior.shape() {
        Shape::Normal => {
            let sd = number(measure.difference_from_model(prior.sd()), DOUBT_DIGITS);
            format!("{centre} ± {sd}{unit}")
        }
        // The factor is near one, so its digits count behind the one.
        Shape::LogNormal => format!(
            "{centre}{unit} */ {}",
            number(prior.sd().exp(), CENTRE_DIGITS)
        ),
    })
}

/// A number that is no belief, as the value of a key: in a unit, or bare if it is a plain ratio.
pub(super) fn plain(value_si: f64, dimension: Dimension, unit: &str) -> String {
    let unit = find(unit, dimension).unwrap_or_else(|_| dimension.si_unit());
    let number = number(unit.from_si(value_si), PLAIN_DIGITS);
    if unit.symbol == "1" {
        number
    } else {
        quoted(&format!("{number} {}", unit.symbol))
    }
}

/// A number rounded to significant digits, without trailing zeros.
pub(in crate::files) fn number(value: f64, digits: usize) -> String {
    let rounded: f64 = format!("{value:.*e}", digits - 1).parse().unwrap_or(value);
    if rounded == 0.0 || (1e-4..1e9).contains(&rounded.abs()) {
        rounded.to_string()
    } else {
        format!("{rounded:e}")
    }
}

/// A TOML text with what must be escaped escaped.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            letter if acts(letter) => {
                // All of them lie in the first plane. Writing to a String cannot fail.
                let _ = write!(out, "\\u{:04X}", u32::from(letter));
            }
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}
