//! The plain fields of a [`Table`]: quantities, texts, choices, whole numbers, switches.
//!
//! Every reader comes in two forms: the required one records a missing key, the optional one takes absence as `None`.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeValue;

use super::asked::What;
use super::{Table, nearest, synonyms};
use crate::files::diagnostic::{Code, Problem};
use crate::files::quantity::{Quantity, parse_any};
use crate::units::{Dimension, accepted, show};

type Value<'v> = Spanned<DeValue<'v>>;

impl Table<'_> {
    /// A number with unit and doubt.
    pub fn quantity(&mut self, key: &str, dimension: Dimension) -> Option<Quantity> {
        self.quantity_of(key, &[dimension])
    }

    /// A number with unit and doubt that may be left out.
    pub fn optional_quantity(&mut self, key: &str, dimension: Dimension) -> Option<Quantity> {
        self.optional_quantity_of(key, &[dimension])
    }

    /// A number whose unit decides what it measures, such as a gauge or an absolute pressure; the result's
    /// [`Quantity::dimension`] says which.
    pub fn quantity_of(&mut self, key: &str, dimensions: &[Dimension]) -> Option<Quantity> {
        self.note(key, || number(dimensions, false));
        let value = self.require(key, &example(dimensions))?;
        self.quantity_in(key, value, dimensions)
    }

    /// As [`Table::quantity_of`], and may be left out.
    pub fn optional_quantity_of(
        &mut self,
        key: &str,
        dimensions: &[Dimension],
    ) -> Option<Quantity> {
        self.note(key, || number(dimensions, false));
        let value = self.look(key)?;
        self.quantity_in(key, value, dimensions)
    }

    /// A list of numbers with units.
    pub fn quantities(&mut self, key: &str, dimension: Dimension) -> Option<Vec<Quantity>> {
        self.note(key, || number(&[dimension], true));
        let value = self.require(key, &format!("[{0}, {0}]", example(&[dimension])))?;
        self.quantities_in(key, value, dimension)
    }

    /// Passes a quantity on if its centre lies within limits (SI), else records the limits in the unit it was written in.
    pub fn within(
        &mut self,
        key: &str,
        quantity: Option<Quantity>,
        limits_si: RangeInclusive<f64>,
    ) -> Option<Quantity> {
        self.note_limits(key, &limits_si);
        let quantity = quantity?;
        let (low, high) = (limits_si.start(), limits_si.end());
        // A limit written in another unit is rounded on its way to SI.
        let edge = [*low, *high]
            .into_iter()
            .find(|edge| (quantity.value_si - edge).abs() <= 1e-12 * edge.abs());
        if let Some(edge) = edge {
            return Some(Quantity {
                value_si: edge,
                ..quantity
            });
        }
        if limits_si.contains(&quantity.value_si) {
            return Some(quantity);
        }
        let bound = |value_si: f64| show(value_si, quantity.unit);
        let expected = match (low.is_finite(), high.is_finite()) {
            (true, true) => format!("{} to {}", bound(*low), bound(*high)),
            (true, false) => format!("at least {}", bound(*low)),
            _ => format!("at most {}", bound(*high)),
        };
        let message = format!(
            "'{}' is {}, which makes no sense",
            self.full_name(key),
            bound(quantity.value_si)
        );
        self.error(key, Code::OUT_OF_RANGE, message, expected);
        None
    }

    /// Passes a quantity on if its centre is greater than zero.
    pub fn positive(&mut self, key: &str, quantity: Option<Quantity>) -> Option<Quantity> {
        let quantity = quantity?;
        if quantity.value_si > 0.0 {
            return Some(quantity);
        }
        let message = format!(
            "'{}' is {}",
            self.full_name(key),
            show(quantity.value_si, quantity.unit)
        );
        self.error(
            key,
            Code::OUT_OF_RANGE,
            message,
            "a value greater than zero",
        );
        None
    }

    /// A text.
    pub fn text(&mut self, key: &str) -> Option<String> {
        self.note(key, || What::Text);
        let value = self.require(key, "\"text\"")?;
        self.text_in(key, value)
    }

    /// A text that may be left out.
    pub fn optional_text(&mut self, key: &str) -> Option<String> {
        self.note(key, || What::Text);
        let value = self.look(key)?;
        self.text_in(key, value)
    }

    /// A list of texts that may be left out.
    pub fn optional_texts(&mut self, key: &str) -> Option<Vec<String>> {
        self.note(key, || What::Texts);
        let value = self.look(key)?;
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(key, value, "a list of texts: [\"...\", \"...\"]".to_owned());
            return None;
        };
        let read: Vec<_> = items.iter().map(|item| self.text_in(key, item)).collect();
        read.into_iter().collect()
    }

    /// One of a fixed set of words.
    pub fn choice<T: Clone>(&mut self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        self.note(key, || words(choices));
        let value = self.require(key, &quoted(choices))?;
        self.choice_in(key, value, choices)
    }

    /// One of a fixed set of words, and may be left out.
    pub fn optional_choice<T: Clone>(&mut self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        self.note(key, || words(choices));
        let value = self.look(key)?;
        self.choice_in(key, value, choices)
    }

    /// A whole number within limits.
    pub fn integer(&mut self, key: &str, limits: RangeInclusive<i64>) -> Option<i64> {
        self.note(key, || What::Whole(limits.clone()));
        let value = self.require(key, "a whole number")?;
        self.integer_in(key, value, &limits)
    }

    /// A whole number within limits that may be left out.
    pub fn optional_integer(&mut self, key: &str, limits: RangeInclusive<i64>) -> Option<i64> {
        self.note(key, || What::Whole(limits.clone()));
        let value = self.look(key)?;
        self.integer_in(key, value, &limits)
    }

    /// A switch that may be left out.
    pub fn optional_boolean(&mut self, key: &str) -> Option<bool> {
        self.note(key, || What::Switch);
        let value = self.look(key)?;
        self.boolean_in(key, value)
    }

    fn quantity_in(
        &mut self,
        key: &str,
        value: &Value<'_>,
        dimensions: &[Dimension],
    ) -> Option<Quantity> {
        let plain = match value.get_ref() {
            DeValue::String(text) => {
                let size = (key == "tyre_radius").then(|| synonyms::tyre_radius(text));
                if let Some(radius) = size.flatten() {
                    return parse_any(&radius, dimensions).ok();
                }
                return parse_any(text, dimensions)
                    .map_err(|fault| {
                        let span = self.inside(value, text, fault.within);
                        let message = format!("'{}': {}", self.full_name(key), fault.message);
                        let problem = Problem::at(fault.code, self.excerpt, span, message)
                            .expected(fault.expected);
                        self.problems.push(problem);
                    })
                    .ok();
            }
            DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            _ => {
                self.wrong_type(key, value, example(dimensions));
                return None;
            }
        };
        match parse_any(plain, dimensions) {
            Ok(quantity) => Some(quantity),
            Err(fault) => {
                let message = format!("'{}': {}", self.full_name(key), fault.message);
                let mut problem = Problem::at(fault.code, self.excerpt, value.span(), message)
                    .expected(fault.expected);
                if fault.code == Code::UNIT_MISSING
                    && let Some(&dimension) = dimensions.first()
                {
                    problem = problem.help(format!(
                        "write it as a text with its unit, such as {key} = \"{plain} {}\"",
                        usual_unit(dimension)
                    ));
                }
                self.problems.push(problem);
                None
            }
        }
    }

    fn quantities_in(
        &mut self,
        key: &str,
        value: &Value<'_>,
        dimension: Dimension,
    ) -> Option<Vec<Quantity>> {
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(
                key,
                value,
                format!("a list: [{0}, {0}]", example(&[dimension])),
            );
            return None;
        };
        // Read all before giving up, so that every bad item is reported.
        let read: Vec<_> = items
            .iter()
            .map(|item| self.quantity_in(key, item, &[dimension]))
            .collect();
        read.into_iter().collect()
    }

    fn text_in(&mut self, key: &str, value: &Value<'_>) -> Option<String> {
        let read = value.get_ref().as_str();
        if read.is_none() {
            self.wrong_type(key, value, "a text in double quotes".to_owned());
        }
        read.map(str::to_owned)
    }

    fn choice_in<T: Clone>(
        &mut self,
        key: &str,
        value: &Value<'_>,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let Some(word) = value.get_ref().as_str() else {
            self.wrong_type(key, value, quoted(choices));
            return None;
        };
        let names = choices.iter().map(|(name, _)| *name);
        let meant = names.clone().find(|name| *name == word);
        let meant = meant.or_else(|| synonyms::choice(word, names));
        if let Some((name, choice)) = choices.iter().find(|(name, _)| Some(*name) == meant) {
            self.note_word(key, name);
            return Some(choice.clone());
        }
        let message = format!("'{}' cannot be '{word}'", self.full_name(key));
        let mut problem = Problem::at(Code::CHOICE_UNKNOWN, self.excerpt, value.span(), message)
            .expected(quoted(choices));
        if let Some(answer) = synonyms::answer(word) {
            problem = problem.help(answer);
        } else if let Some(nearest) = nearest(word, choices.iter().map(|(name, _)| *name)) {
            problem = problem.help(format!("did you mean \"{nearest}\"?"));
        }
        self.problems.push(problem);
        None
    }

    fn integer_in(
        &mut self,
        key: &str,
        value: &Value<'_>,
        limits: &RangeInclusive<i64>,
    ) -> Option<i64> {
        let expected = match (*limits.start(), *limits.end()) {
            (low, i64::MAX) => format!("a whole number of at least {low}"),
            (low, high) => format!("a whole number from {low} to {high}"),
        };
        let DeValue::Integer(number) = value.get_ref() else {
            self.wrong_type(key, value, expected);
            return None;
        };
        let read = i64::from_str_radix(number.as_str(), number.radix())
            .ok()
            .filter(|n| limits.contains(n));
        if read.is_none() {
            let message = format!("'{}' is {number}", self.full_name(key));
            self.error(key, Code::OUT_OF_RANGE, message, expected);
        }
        read
    }

    fn boolean_in(&mut self, key: &str, value: &Value<'_>) -> Option<bool> {
        let read = value.get_ref().as_bool();
        if read.is_none() {
            self.wrong_type(key, value, "true or false, without quotes".to_owned());
        }
        read
    }

    /// The place of a range inside a text value. With escapes or triple quotes the two do not line up: the whole value then.
    fn inside(
        &self,
        value: &Value<'_>,
        text: &str,
        within: std::ops::Range<usize>,
    ) -> std::ops::Range<usize> {
        let span = value.span();
        let lines_up = self
            .excerpt
            .text()
            .get(span.start + 1..span.end.saturating_sub(1))
            == Some(text);
        if lines_up && !within.is_empty() {
            span.start + 1 + within.start..span.start + 1 + within.end
        } else {
            span
        }
    }
}

fn number(dimensions: &[Dimension], list: bool) -> What {
    What::Quantity {
        dimensions: dimensions.to_vec(),
        limits_si: None,
        list,
    }
}

fn words<T>(choices: &[(&str, T)]) -> What {
    What::Choice {
        words: choices.iter().map(|(word, _)| (*word).to_owned()).collect(),
        taken: None,
    }
}

fn quoted<T>(choices: &[(&str, T)]) -> String {
    let names: Vec<String> = choices
        .iter()
        .map(|(name, _)| format!("\"{name}\""))
        .collect();
    format!("one of {}", names.join(", "))
}

fn example(dimensions: &[Dimension]) -> String {
    let of = |&dimension: &Dimension| match dimension {
        Dimension::Ratio => "a plain number or \"... %\"".to_owned(),
        other => format!(
            "\"... {}\" ({}: {})",
            usual_unit(other),
            other.words(),
            accepted(other)
        ),
    };
    dimensions.iter().map(of).collect::<Vec<_>>().join(" or ")
}

/// The unit a shop would most likely write, for examples.
pub(in crate::files) fn usual_unit(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Length => "mm",
        Dimension::Area => "cm2",
        Dimension::Volume => "L",
        Dimension::Pressure => "kPa absolute",
        Dimension::GaugePressure => "kPa gauge",
        Dimension::BarometricPressure | Dimension::PressureDifference => "kPa",
        Dimension::Temperature => "°C",
        Dimension::Speed => "km/h",
        Dimension::RotationalSpeed => "rpm",
        Dimension::Angle => "deg",
        Dimension::Power => "kW",
        Dimension::Energy => "kWh",
        Dimension::MassFlow => "g/s",
        Dimension::VolumeFlow => "L/min",
        Dimension::SpecificEnergy => "MJ/kg",
        Dimension::HeatCapacity => "kJ/K",
        Dimension::ThermalConductance => "kW/K",
        Dimension::DisplacementPerRev => "L/rev",
        Dimension::SpecificFuelConsumption => "g/kWh",
        Dimension::PowerPerMass => "W/kg",
        Dimension::MassPerPower => "kg/kW",
        other => other.si_unit().symbol,
    }
}
