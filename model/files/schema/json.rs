//! The shape of a file kind as JSON Schema, draft-07 (Wright, Andrews, Luff: JSON Schema Validation, draft 7, 2018).

use serde_json::{Map, Value, json};

use super::explore::KIND;
use super::merge::{Form, Key, Shape, Variant};
use super::{FileKind, MADE_BY, meaning};
use crate::units::{Dimension, accepted, show};

/// The whole schema.
pub(super) fn document(kind: FileKind, shape: &Shape) -> Value {
    let word = kind.word();
    let mut document = Map::new();
    document.insert(
        "$schema".to_owned(),
        json!("http://json-schema.org/draft-07/schema#"),
    );
    document.insert(
        "$comment".to_owned(),
        json!(format!("{MADE_BY} {}", word.replace(' ', "-"))),
    );
    document.insert("title".to_owned(), json!(format!("pullcast: {word}")));
    if let Value::Object(body) = table(kind, "", shape) {
        document.extend(body);
    }
    Value::Object(document)
}

fn table(kind: FileKind, path: &str, shape: &Shape) -> Value {
    match &shape.variants[..] {
        [one] => object(kind, path, one),
        several => {
            let words: Vec<&String> = several.iter().flat_map(|v| &v.words).collect();
            let each: Vec<Value> = several.iter().map(|v| object(kind, path, v)).collect();
            json!({
                "type": "object",
                "required": [KIND],
                "properties": { KIND: { "enum": words } },
                "oneOf": each,
            })
        }
    }
}

fn object(kind: FileKind, path: &str, variant: &Variant) -> Value {
    let mut properties = Map::new();
    for key in &variant.keys {
        let full = if path.is_empty() {
            key.name.clone()
        } else {
            format!("{path}.{}", key.name)
        };
        let value = if key.name == KIND && !variant.words.is_empty() {
            json!({ "enum": variant.words })
        } else {
            property(kind, &full, key)
        };
        properties.insert(key.name.clone(), value);
    }
    let required: Vec<&str> = variant
        .keys
        .iter()
        .filter(|key| key.required)
        .map(|key| key.name.as_str())
        .collect();
    json!({
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

fn property(kind: FileKind, path: &str, key: &Key) -> Value {
    let (body, written) = match &key.form {
        Form::Unknown => (json!({}), None),
        Form::Quantity {
            dimensions,
            limits_si,
            list,
        } => {
            let one = quantity(dimensions, *limits_si);
            let body = if *list {
                json!({ "type": "array", "items": one })
            } else {
                one
            };
            (body, Some(how_written(dimensions, *limits_si)))
        }
        Form::Text => (json!({ "type": "string" }), None),
        Form::Texts => (
            json!({ "type": "array", "items": { "type": "string" } }),
            None,
        ),
        Form::Words(words) => (json!({ "enum": words }), None),
        Form::Whole(limits) => {
            let mut body = json!({ "type": "integer", "minimum": limits.start() });
            if *limits.end() < i64::MAX {
                body["maximum"] = json!(limits.end());
            }
            (body, None)
        }
        Form::Switch => (json!({ "type": "boolean" }), None),
        Form::Table(shape) => (table(kind, path, shape), None),
        Form::Tables(shape) => (
            json!({ "type": "array", "minItems": 1, "items": table(kind, path, shape) }),
            None,
        ),
    };
    let said = [meaning::of(kind, path), written];
    let said: Vec<String> = said.into_iter().flatten().collect();
    let mut body = body;
    if !said.is_empty() {
        body["description"] = json!(said.join(". "));
    }
    body
}

/// A number without a sign of doubt. Digits are spelt out: `\d` is more than 0 to 9 in some readers of patterns.
const NUMBER: &str = r"[+\-−]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+\-−]?[0-9]+)?";

/// A text that begins with a number and, unless it is a plain ratio, goes on to a unit. Which unit, and how a doubt is written, is left to the
/// program: it takes spellings in upper and lower case, which patterns of this draft cannot say.
fn quantity(dimensions: &[Dimension], limits_si: Option<(f64, f64)>) -> Value {
    let ratio = dimensions.contains(&Dimension::Ratio);
    let unit = r"[^0-9.,].*[^\s0-9.,+\-−±*/()].*|[^\s0-9.,+\-−±*/()].*";
    let after = if ratio {
        r"([^0-9.,].*)?".to_owned()
    } else {
        format!("({unit})")
    };
    let text = json!({ "type": "string", "pattern": format!(r"^\s*\(?\s*{NUMBER}{after}$") });
    if !ratio {
        return text;
    }
    let mut number = json!({ "type": "number" });
    if let Some((low, high)) = limits_si {
        if low.is_finite() {
            number["minimum"] = json!(low);
        }
        if high.is_finite() {
            number["maximum"] = json!(high);
        }
    }
    json!({ "anyOf": [number, text] })
}

/// Units and range in words.
fn how_written(dimensions: &[Dimension], limits_si: Option<(f64, f64)>) -> String {
    let units: Vec<String> = dimensions.iter().map(|of| accepted(*of)).collect();
    let units = format!("Written in {}", units.join("; or "));
    if let (Some((low, high)), [dimension]) = (limits_si, dimensions) {
        let unit = crate::files::table::usual_unit(*dimension);
        let unit = crate::units::find(unit, *dimension).unwrap_or_else(|_| dimension.si_unit());
        let bound = |value: f64| show(value, unit);
        return match (low.is_finite(), high.is_finite()) {
            (true, true) => format!("{units}; {} to {}", bound(low), bound(high)),
            (true, false) => format!("{units}; at least {}", bound(low)),
            (false, true) => format!("{units}; at most {}", bound(high)),
            (false, false) => units,
        };
    }
    units
}
