//! Words for the ids that answers carry.
//!
//! An answer says `"limit": "knock"`; what a shop calls it stands here, or in the row of the thing itself, and nowhere else. The machine-readable form
//! of an answer lists the words of every id in it once, under `words`, so that a program need not ship a table of its own.

use super::fit;
use crate::belief::parameter;
use serde::Serialize;
use serde_json::{Map, Value};

/// The words of an id, if it is one of a kind.
type Words = fn(&str) -> Option<&'static str>;

/// Which fields of an answer hold ids, and of what.
const IDS: &[(&str, Words)] = &[
    ("channel", fit::channel_of),
    ("check", fit::check_of),
    ("gate", fit::gate_of),
    ("not_informed", meaning_of),
    ("on_bound", fit::bound_of),
    ("path", meaning_of),
    ("stop", fit::stop_of),
];

/// What a number of the car file means.
fn meaning_of(path: &str) -> Option<&'static str> {
    parameter::find(path).map(|found| found.meaning)
}

/// The words of that value among `all` whose serialised form is this id.
pub(super) fn of_id<T: Copy + Serialize>(
    all: &[T],
    words: fn(T) -> &'static str,
    id: &str,
) -> Option<&'static str> {
    all.iter()
        .find(|value| serde_json::to_value(value).is_ok_and(|made| made == id))
        .map(|value| words(*value))
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
