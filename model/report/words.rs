//! Words for the ids that answers carry.
//!
//! An answer says `"limit": "knock"`; what a shop calls it stands here, or in the row of the thing itself, and nowhere else. The machine-readable form
//! of an answer lists the words of every id in it once, under `words`, so that a program need not ship a table of its own.

use serde_json::{Map, Value};

/// The words of an id, if it is one of a kind.
type Words = fn(&str) -> Option<&'static str>;

/// Which fields of an answer hold ids, and of what.
const IDS: &[(&str, Words)] = &[];

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
