//! From text to [`Quantity`].

use std::ops::Range;

use super::{Doubt, Fault, Quantity};
use crate::files::diagnostic::Code;
use crate::units::{Dimension, LookupError, Unit, accepted, find, find_any};

/// Reads a quantity of one dimension.
///
/// ```
/// use pullcast::files::quantity::parse;
/// use pullcast::units::Dimension;
/// let bore = parse("92.7 mm", Dimension::Length).expect("a length");
/// assert_eq!(bore.value_si, 0.0927);
/// let drop = parse("2.5 +- 1.0 kPa", Dimension::PressureDifference).expect("a pressure drop");
/// assert_eq!((drop.value_si, drop.sd_si()), (2500.0, 1000.0));
/// ```
pub fn parse(text: &str, dimension: Dimension) -> Result<Quantity, Fault> {
    parse_any(text, &[dimension])
}

/// Reads a quantity of the first of several dimensions its unit belongs to, such as gauge or absolute pressure.
pub fn parse_any(text: &str, dimensions: &[Dimension]) -> Result<Quantity, Fault> {
    let reader = Reader { text, dimensions };
    let parts = reader.split()?;
    reader.assemble(&parts)
}

/// The signs between value and doubt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    PlusMinus,
    Range,
    Factor,
}

const SIGNS: &[(&str, Sign)] = &[
    ("±", Sign::PlusMinus),
    ("+/-", Sign::PlusMinus),
    ("+-", Sign::PlusMinus),
    ("...", Sign::Range),
    ("..", Sign::Range),
    ("*/", Sign::Factor),
    ("×/", Sign::Factor),
];

/// A number and the text of its unit, each with its place.
#[derive(Debug, Clone)]
struct Part {
    number: f64,
    number_at: Range<usize>,
    unit: Range<usize>,
}

/// The pieces of the text before their units are known.
#[derive(Debug)]
struct Parts {
    value: Part,
    doubt: Option<(Sign, Part)>,
    bracketed: bool,
}

struct Reader<'a> {
    text: &'a str,
    dimensions: &'a [Dimension],
}

impl Reader<'_> {
    fn ratio(&self) -> bool {
        self.dimensions == [Dimension::Ratio]
    }

    fn unit_text(&self, part: &Part) -> &str {
        self.text[part.unit.clone()].trim()
    }

    fn expected(&self) -> String {
        let of = |&dimension: &Dimension| match dimension {
            Dimension::Ratio => {
                "a plain number such as 2.16, or per cent such as \"45 %\"".to_owned()
            }
            other => format!("{} with its unit: {}", other.words(), accepted(other)),
        };
        self.dimensions
            .iter()
            .map(of)
            .collect::<Vec<_>>()
            .join("; or ")
    }

    fn fault(&self, code: Code, within: Range<usize>, message: impl Into<String>) -> Fault {
        Fault {
            code,
            message: message.into(),
            expected: self.expected(),
            within,
        }
    }

    fn split(&self) -> Result<Parts, Fault> {
        let text = self.text;
        let whole = text.trim_end().len();
        let start = (text.len() - text.trim_start().len()).min(whole);
        let (inner, tail) = if text[start..whole].starts_with('(') {
            let close = text.find(')').ok_or_else(|| {
                self.fault(
                    Code::DOUBT_INVALID,
                    start..whole,
                    "the bracket is never closed",
                )
            })?;
            (start + 1..close, Some(close + 1..whole))
        } else {
            (start..whole, None)
        };
        let sign = self.find_sign(inner.clone());
        let value_end = sign.as_ref().map_or(inner.end, |(at, _)| at.start);
        let mut value = self.part(inner.start..value_end)?;
        let mut doubt = match sign {
            Some((at, sign)) => Some((sign, self.part(at.end..inner.end)?)),
            None => None,
        };
        let bracketed = tail.is_some();
        if let Some(tail) = tail {
            if !self.unit_text(&value).is_empty()
                || doubt
                    .as_ref()
                    .is_some_and(|(_, d)| !self.unit_text(d).is_empty())
            {
                return Err(self.fault(
                    Code::DOUBT_INVALID,
                    inner,
                    "a unit belongs after the closing bracket",
                ));
            }
            value.unit = tail.clone();
            if let Some((_, doubt)) = &mut doubt {
                doubt.unit = tail;
            }
        }
        Ok(Parts {
            value,
            doubt,
            bracketed,
        })
    }

    fn find_sign(&self, within: Range<usize>) -> Option<(Range<usize>, Sign)> {
        let text = &self.text[within.clone()];
        SIGNS
            .iter()
            .filter_map(|&(spelling, sign)| text.find(spelling).map(|at| (at, spelling, sign)))
            .min_by_key(|&(at, spelling, _)| (at, usize::MAX - spelling.len()))
            .map(|(at, spelling, sign)| {
                (within.start + at..within.start + at + spelling.len(), sign)
            })
    }

    /// A number and what follows it.
    fn part(&self, within: Range<usize>) -> Result<Part, Fault> {
        let text = &self.text[within.clone()];
        let start = within.start + (text.len() - text.trim_start().len());
        let body = text.trim();
        if body.is_empty() {
            return Err(self.fault(
                Code::NUMBER_INVALID,
                0..self.text.len(),
                "a number is missing here",
            ));
        }
        let length = number_length(body);
        let number_at = start..start + length;
        let after = &body[length..];
        if length > 0
            && after.starts_with(',')
            && after[1..].starts_with(|c: char| c.is_ascii_digit())
        {
            let comma = start..start + body.find(|c: char| c.is_whitespace()).unwrap_or(body.len());
            let written = &self.text[comma.clone()];
            let message = format!(
                "'{written}' has a comma: the decimal sign is a point, and thousands are not grouped"
            );
            return Err(self.fault(Code::DECIMAL_COMMA, comma, message));
        }
        let first_word = body.split_whitespace().next().unwrap_or(body);
        let bare = first_word
            .trim_start_matches(['+', '-', '−'])
            .to_lowercase();
        if matches!(bare.as_str(), "nan" | "inf" | "infinity" | "∞") {
            let message = format!("'{first_word}' is not a finite number");
            return Err(self.fault(
                Code::NUMBER_NOT_FINITE,
                start..start + first_word.len(),
                message,
            ));
        }
        let number: f64 = body[..length].replace('−', "-").parse().map_err(|_| {
            self.fault(
                Code::NUMBER_INVALID,
                start..start + body.len(),
                format!("'{body}' does not start with a number"),
            )
        })?;
        if !number.is_finite() {
            let message = format!("'{}' is too large for a number", &body[..length]);
            return Err(self.fault(Code::NUMBER_NOT_FINITE, number_at, message));
        }
        if after
            .trim_start()
            .starts_with(|c: char| c.is_ascii_digit() || c == '.')
        {
            let is_per_time = after.trim_start().starts_with("1/");
            if !is_per_time {
                let message = format!("'{body}' holds more than one number");
                return Err(self.fault(Code::NUMBER_INVALID, start..start + body.len(), message));
            }
        }
        Ok(Part {
            number,
            number_at,
            unit: start + length..start + body.len(),
        })
    }

    fn assemble(&self, parts: &Parts) -> Result<Quantity, Fault> {
        let value = &parts.value;
        let Some((sign, doubt)) = &parts.doubt else {
            let unit = self.unit(value)?;
            return self.finite(
                Quantity::exact(unit.to_si(value.number), unit),
                &value.number_at,
            );
        };
        let value_unit = self.unit_text(value);
        let doubt_unit = self.unit_text(doubt);
        let quantity = match sign {
            Sign::Range => {
                let upper_unit = self.unit(doubt)?;
                let lower_unit = if value_unit.is_empty() {
                    upper_unit
                } else {
                    self.unit(value)?
                };
                let (lower_si, upper_si) = (
                    lower_unit.to_si(value.number),
                    upper_unit.to_si(doubt.number),
                );
                if lower_si >= upper_si {
                    let message = "the lower end of a range must be below its upper end";
                    return Err(self.fault(
                        Code::DOUBT_INVALID,
                        value.number_at.start..doubt.unit.end,
                        message,
                    ));
                }
                Quantity::range(lower_si, upper_si, upper_unit)
            }
            Sign::Factor => {
                let unit = self.unit(value)?;
                if !doubt_unit.is_empty() && !parts.bracketed {
                    return Err(self.fault(
                        Code::DOUBT_INVALID,
                        doubt.unit.clone(),
                        "a factor has no unit",
                    ));
                }
                if doubt.number <= 1.0 {
                    let message = "a tolerance given as a factor must be greater than 1";
                    return Err(self.fault(Code::DOUBT_INVALID, doubt.number_at.clone(), message));
                }
                Quantity {
                    value_si: unit.to_si(value.number),
                    doubt: Doubt::Factor {
                        factor: doubt.number,
                    },
                    unit,
                }
            }
            Sign::PlusMinus => {
                if doubt.number < 0.0 {
                    let message = "a tolerance cannot be negative";
                    return Err(self.fault(Code::DOUBT_INVALID, doubt.number_at.clone(), message));
                }
                let (unit, sd_si) = self.plus_minus(parts, doubt)?;
                Quantity::plus_minus(unit.to_si(value.number), sd_si, unit)
            }
        };
        self.finite(quantity, &value.number_at)
    }

    fn plus_minus(&self, parts: &Parts, doubt: &Part) -> Result<(&'static Unit, f64), Fault> {
        let value = &parts.value;
        let (value_unit, doubt_unit) = (self.unit_text(value), self.unit_text(doubt));
        let percent = find(doubt_unit, Dimension::Ratio).is_ok_and(|unit| unit.symbol == "%");
        if percent && !parts.bracketed {
            if self.ratio() {
                let whole = value.number_at.start..doubt.unit.end;
                let mut fault = self.fault(
                    Code::UNIT_AMBIGUOUS,
                    whole,
                    "per cent of the value, or percentage points? both are possible here",
                );
                fault.expected = format!(
                    "\"({} ± {}) %\" for percentage points, or the tolerance as a plain number such as \"2.16 ± 0.02\"",
                    value.number, doubt.number
                );
                return Err(fault);
            }
            let unit = self.unit(value)?;
            if unit.shift != 0.0 {
                let message =
                    "a tolerance in per cent has no meaning on a scale with an arbitrary zero";
                return Err(self.fault(Code::DOUBT_INVALID, doubt.unit.clone(), message));
            }
            return Ok((
                unit,
                (unit.to_si(value.number) * doubt.number / 100.0).abs(),
            ));
        }
        let shared = value_unit.is_empty()
            || doubt_unit.is_empty()
            || value_unit == doubt_unit
            || parts.bracketed;
        if shared {
            let unit = self.unit(if doubt_unit.is_empty() { value } else { doubt })?;
            return Ok((unit, unit.difference_to_si(doubt.number)));
        }
        let unit = self.unit(value)?;
        let difference = unit.dimension.of_difference();
        let sd_unit = find(doubt_unit, difference)
            .map_err(|error| self.unit_fault(&error, doubt.unit.clone()))?;
        Ok((unit, sd_unit.difference_to_si(doubt.number)))
    }

    fn unit(&self, part: &Part) -> Result<&'static Unit, Fault> {
        let written = self.unit_text(part);
        if !written.is_empty() {
            return find_any(written, self.dimensions)
                .map_err(|error| self.unit_fault(&error, part.unit.clone()));
        }
        if self.dimensions.contains(&Dimension::Ratio) {
            return Ok(Dimension::Ratio.si_unit());
        }
        let message = format!("'{}' has no unit", self.text.trim());
        Err(self.fault(Code::UNIT_MISSING, part.number_at.clone(), message))
    }

    fn unit_fault(&self, error: &LookupError, within: Range<usize>) -> Fault {
        let code = match error {
            LookupError::Unknown { .. } => Code::UNIT_UNKNOWN,
            LookupError::WrongDimension { .. } => Code::UNIT_WRONG,
            _ => Code::UNIT_AMBIGUOUS,
        };
        let leading =
            self.text[within.clone()].len() - self.text[within.clone()].trim_start().len();
        Fault {
            code,
            message: error.to_string(),
            expected: error.candidates(),
            within: within.start + leading..within.end,
        }
    }

    /// Conversion itself can overflow: 1e308 km.
    fn finite(&self, quantity: Quantity, at: &Range<usize>) -> Result<Quantity, Fault> {
        if quantity.value_si.is_finite() && quantity.sd_si().is_finite() {
            return Ok(quantity);
        }
        Err(self.fault(
            Code::NUMBER_NOT_FINITE,
            at.clone(),
            "the number is too large in SI units",
        ))
    }
}

/// Bytes of the number a text begins with: sign, digits, point, exponent. Two points are a range, never a decimal point.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let mut at = 0;
    if text.starts_with(['+', '-']) {
        at = 1;
    } else if text.starts_with('−') {
        at = '−'.len_utf8();
    }
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|byte| byte.is_ascii_digit())
            .count()
    };
    let whole = digits(at);
    at += whole;
    let mut fraction = 0;
    if bytes.get(at) == Some(&b'.') && bytes.get(at + 1) != Some(&b'.') {
        fraction = digits(at + 1);
        if whole + fraction > 0 {
            at += 1 + fraction;
        }
    }
    if whole + fraction == 0 {
        return 0;
    }
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(at + 1), Some(b'+' | b'-')));
        let exponent = if at + 1 + sign <= bytes.len() {
            digits(at + 1 + sign)
        } else {
            0
        };
        if exponent > 0 {
            at += 1 + sign + exponent;
        }
    }
    at
}
