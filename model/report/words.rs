//! Words for the ids that answers carry.
//!
//! An answer says `"limit": "knock"`; what a shop calls it stands here, or in the row of the thing itself, and nowhere else. The machine-readable form
//! of an answer lists the words of every id in it once, under `words`, so that a program need not ship a table of its own.

use super::{cautions, trace};
use crate::ask::cautions::NotIncluded;
use crate::ask::limits::Met;
use crate::ask::quote::{Dial, DriverOrigin};
use crate::belief::parameter;
use crate::dyno::correction::Standard;
use serde::Serialize;
use serde_json::{Map, Value};

/// The words of an id, if it is one of a kind.
type Words = fn(&str) -> Option<&'static str>;

/// Which fields of an answer hold ids, and of what.
const IDS: &[(&str, Words)] = &[
    ("breach", breach),
    ("capped_by", limit),
    ("caution", caution),
    ("changes", super::kind::of),
    ("correction", standard),
    ("entry", trace::words::entry),
    ("equation", trace::words::equation),
    ("gate", gate),
    ("held_by", super::predict::axle::held_by),
    ("limit", limit),
    ("not_included", not_included),
    ("number", number),
    ("origin", origin),
    ("part", trace::words::part),
    ("peak_power_capped_by", limit),
    ("quantity", trace::words::quantity),
    ("standard", standard),
];

/// Further words for ids that have more than a name: the field, the name under which they are listed, and the words.
const MORE: &[(&str, &str, Words)] = &[
    ("caution", "mind", mind),
    ("limit", "remedy", remedy),
    ("standard", "reference", reference),
];

fn met(id: &str) -> Option<Met> {
    Met::all().find(|met| met.id() == id)
}

fn limit(id: &str) -> Option<&'static str> {
    met(id).map(Met::words)
}

fn remedy(id: &str) -> Option<&'static str> {
    met(id).map(Met::remedy)
}

fn standard(id: &str) -> Option<&'static str> {
    id.parse().ok().map(Standard::name)
}

fn reference(id: &str) -> Option<&'static str> {
    id.parse().ok().map(Standard::reference)
}

fn caution(id: &str) -> Option<&'static str> {
    cautions::words_of(id).map(|words| words.0)
}

fn mind(id: &str) -> Option<&'static str> {
    cautions::words_of(id).map(|words| words.1)
}

fn not_included(id: &str) -> Option<&'static str> {
    serialised(&NotIncluded::ALL, id).map(NotIncluded::words)
}

/// A number of the car or the one that a search turns.
fn number(id: &str) -> Option<&'static str> {
    let of_car = parameter::find(id).map(|entry| entry.meaning);
    of_car.or_else(|| serialised(&Dial::ALL, id).map(Dial::words))
}

fn origin(id: &str) -> Option<&'static str> {
    use DriverOrigin::{Default, Fitted, Given, Model, Plan};
    serialised(&[Given, Default, Fitted, Plan, Model], id).map(super::quote::origin)
}

fn breach(id: &str) -> Option<&'static str> {
    Some(match id {
        "temperature" => "air temperature outside the stated range",
        "dry_pressure" => "dry pressure outside the stated range",
        "factor" => "factor outside the stated range",
        "temperature_share" => {
            "the day's temperature alone makes more correction than older texts of the standard allow"
        }
        "pressure_share" => {
            "the day's pressure alone makes more correction than older texts of the standard allow"
        }
        "engine" => "not written for this engine",
        "boosted_convention" => {
            "turbocharged engine: the factor assumes that boost follows the ambient; take it as a reporting convention"
        }
        _ => return None,
    })
}

fn gate(id: &str) -> Option<&'static str> {
    (id == "draws_failed").then_some("too many draws could not make the pull")
}

/// The one of some values that is written so.
fn serialised<T: Serialize + Copy>(all: &[T], id: &str) -> Option<T> {
    let written = |value: &&T| serde_json::to_value(*value).is_ok_and(|written| written == id);
    all.iter().find(written).copied()
}

/// Words for every id in an answer: field by field, id to words.
pub(super) fn glossary(answer: &Value) -> Map<String, Value> {
    let mut found = Map::new();
    collect(answer, &mut found);
    found
}

fn collect(value: &Value, found: &mut Map<String, Value>) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                if let Some((_, words)) = IDS.iter().find(|(field, _)| field == key) {
                    note(key, *words, value, found);
                }
                for (_, under, words) in MORE.iter().filter(|(field, ..)| field == key) {
                    note(under, *words, value, found);
                }
                collect(value, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect(item, found)),
        _ => {}
    }
}

/// Adds the words of an id, or of each id of a list.
fn note(field: &str, words: Words, value: &Value, found: &mut Map<String, Value>) {
    match value {
        Value::String(id) => {
            if let Some(text) = words(id) {
                let of_field = found
                    .entry(field.to_owned())
                    .or_insert_with(|| Value::Object(Map::new()));
                if let Value::Object(of_field) = of_field {
                    of_field.insert(id.clone(), text.into());
                }
            }
        }
        Value::Array(ids) => ids.iter().for_each(|id| note(field, words, id, found)),
        _ => {}
    }
}
