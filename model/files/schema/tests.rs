//! The schemas against the readers they are made from, and the files of the demo.

use std::path::PathBuf;

use serde_json::Value;

use super::merge::{Form, Shape};
use super::*;
use crate::files::starter::{self, WrittenIn};

/// Every key of a shape with its path, and how it is written.
fn keys(path: &str, shape: &Shape) -> Vec<(String, Form)> {
    let of = |key: &merge::Key| {
        let full = format!("{path}{}", key.name);
        let mut found = vec![(full.clone(), key.form.clone())];
        if let Form::Table(inner) | Form::Tables(inner) = &key.form {
            found.extend(keys(&format!("{full}."), inner));
        }
        found
    };
    shape
        .variants
        .iter()
        .flat_map(|variant| variant.keys.iter().flat_map(of))
        .collect()
}

#[test]
fn of_every_key_it_is_known_what_stands_there() {
    for kind in FileKind::ALL {
        for (path, form) in keys("", &kind.shape()) {
            assert!(
                !matches!(form, Form::Unknown),
                "{} of a {}",
                path,
                kind.word()
            );
        }
    }
}

#[test]
fn every_key_has_a_meaning_and_every_meaning_a_key() {
    let mut used = Vec::new();
    for kind in FileKind::ALL {
        for (path, _) in keys("", &kind.shape()) {
            // What the parts of a plan mean is said with the parts.
            let said = meaning::of(kind, &path).is_some() || kind == FileKind::Plan;
            assert!(said, "{} of a {}", path, kind.word());
            used.push((kind, path));
        }
    }
    assert_eq!(meaning::unused(&used), Vec::<&str>::new());
}

#[test]
fn every_number_of_the_catalogue_is_in_the_schema_of_a_car() {
    let found = keys("", &FileKind::Car.shape());
    for parameter in crate::belief::parameter::catalogue() {
        let form = found
            .iter()
            .find(|(path, _)| path == parameter.path)
            .map(|(_, form)| form);
        let Some(Form::Quantity {
            dimensions,
            limits_si,
            ..
        }) = form
        else {
            panic!("{} is {form:?}", parameter.path);
        };
        assert!(
            dimensions.contains(&parameter.measure.dimension),
            "{}",
            parameter.path
        );
        // A flow may be written by mass too, and its range is then another.
        if dimensions.len() == 1 {
            let unit = parameter.measure.unit();
            let range = (unit.to_si(parameter.range.0), unit.to_si(parameter.range.1));
            assert_eq!(*limits_si, Some(range), "{}", parameter.path);
        }
    }
}

/// What a schema says against a value, for the words that the schemas use (draft-07: Wright, Andrews, Luff 2018, section 6).
fn against(schema: &Value, value: &Value, place: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (word, rule) in schema.as_object().expect("a schema is an object") {
        let good = match word.as_str() {
            "$schema" | "$comment" | "title" | "description" => true,
            "type" => match rule.as_str().expect("a type") {
                "object" => value.is_object(),
                "array" => value.is_array(),
                "string" => value.is_string(),
                "boolean" => value.is_boolean(),
                "integer" => value.is_i64(),
                "number" => value.is_number(),
                other => panic!("type {other}"),
            },
            "enum" => rule.as_array().expect("a list").contains(value),
            "const" => rule == value,
            "minimum" => value.as_f64().is_none_or(|v| Some(v) >= rule.as_f64()),
            "maximum" => value.as_f64().is_none_or(|v| Some(v) <= rule.as_f64()),
            "minItems" => value
                .as_array()
                .is_none_or(|v| Some(v.len() as u64) >= rule.as_u64()),
            "pattern" => {
                let pattern = regex::Regex::new(rule.as_str().expect("a pattern")).expect("sound");
                value.as_str().is_none_or(|text| pattern.is_match(text))
            }
            "required" => {
                let keys = rule
                    .as_array()
                    .expect("a list")
                    .iter()
                    .filter_map(Value::as_str);
                keys.into_iter().all(|key| value.get(key).is_some())
            }
            "anyOf" | "oneOf" => {
                let each = rule.as_array().expect("a list").iter();
                let fit = each
                    .filter(|one| against(one, value, place).is_empty())
                    .count();
                if word == "oneOf" { fit == 1 } else { fit > 0 }
            }
            "items" => {
                for (index, item) in value.as_array().into_iter().flatten().enumerate() {
                    found.extend(against(rule, item, &format!("{place}[{index}]")));
                }
                continue;
            }
            "properties" => {
                for (key, rule) in rule.as_object().expect("an object") {
                    if let Some(inner) = value.get(key) {
                        found.extend(against(rule, inner, &format!("{place}.{key}")));
                    }
                }
                continue;
            }
            "additionalProperties" => {
                let known = &schema["properties"];
                let mut keys = value.as_object().into_iter().flat_map(|v| v.keys());
                assert_eq!(*rule, Value::Bool(false));
                keys.all(|key| known.get(key).is_some())
            }
            other => panic!("a word that is not looked at: {other}"),
        };
        if !good {
            found.push(format!("{place}: {word} of {rule}"));
        }
    }
    found
}

fn value(text: &str) -> Value {
    let table: toml::Table = text.parse().expect("TOML");
    serde_json::to_value(table).expect("a value")
}

/// The schemas, and the one of a file by its kind.
fn schemas() -> Vec<(FileKind, Value)> {
    FileKind::ALL
        .into_iter()
        .map(|kind| (kind, schema(kind)))
        .collect()
}

fn of_file<'s>(schemas: &'s [(FileKind, Value)], file: &Value) -> &'s Value {
    let word = file["kind"].as_str().expect("a kind");
    let found = schemas.iter().find(|(kind, _)| kind.word() == word);
    &found.expect("one of the kinds").1
}

#[test]
fn every_file_of_the_demo_and_every_starter_fits_its_schema() {
    let schemas = schemas();
    let mut texts: Vec<(String, String)> = Vec::new();
    let scenarios = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    for folder in std::fs::read_dir(scenarios).expect("the demo").flatten() {
        for file in std::fs::read_dir(folder.path())
            .expect("a folder")
            .flatten()
        {
            let path = file.path();
            if path.extension().is_some_and(|end| end == "toml") {
                let text = std::fs::read_to_string(&path).expect("readable");
                texts.push((path.display().to_string(), text));
            }
        }
    }
    assert!(texts.len() >= 12, "{}", texts.len());
    for kind in FileKind::ALL {
        for units in [WrittenIn::Metric, WrittenIn::Shop] {
            let bare = starter::with_schema(kind, &starter::text(kind, units));
            texts.push((
                format!("starter {kind:?}"),
                starter::tests::all_counted(&bare),
            ));
            texts.push((format!("bare starter {kind:?} {units:?}"), bare));
        }
    }
    for (name, text) in texts {
        let file = value(&text);
        let found = against(of_file(&schemas, &file), &file, "");
        // The counted starter shows keys of a centrifugal blower beside a screw blower's, which its reader takes with a warning.
        let found: Vec<&String> = found
            .iter()
            .filter(|said| !(name == "starter Car" && said.starts_with(".blower")))
            .collect();
        assert!(found.is_empty(), "{name}: {found:?}");
    }
}

#[test]
fn what_the_reader_refuses_key_by_key_the_schema_refuses_too() {
    let schemas = schemas();
    let car = starter::text(FileKind::Car, WrittenIn::Metric);
    for (from, to) in [
        ("bore = \"86 mm\"", "bore = 86"),
        ("bore = \"86 mm\"", "bore = \"86\""),
        ("bore = \"86 mm\"", "bore = \"86,5 mm\""),
        ("bore = \"86 mm\"", "boar = \"86 mm\""),
        ("compression_ratio = 10.5", "compression_ratio = 105"),
        ("compression_ratio = 10.5", ""),
        ("cylinders = 4", "cylinders = 4.5"),
        ("cylinders = 4", "cylinders = 17"),
        ("kind = \"petrol\"", "kind = \"parafin\""),
        ("coupling = \"single\"", "coupling = true"),
        ("version = 1", "version = 2"),
    ] {
        let bad = car.replacen(from, to, 1);
        assert_ne!(bad, car, "{from}");
        let found = against(of_file(&schemas, &value(&car)), &value(&bad), "");
        assert!(!found.is_empty(), "{to}");
        let file = crate::files::TomlFile::parse("car.toml", &bad).expect("TOML");
        assert!(
            crate::files::car::read(&file, Path::new("")).is_err(),
            "{to}"
        );
    }
    let plan = "kind = \"plan\"\nversion = 1\nname = \"x\"\n[[change]]\nkind = \"redline\"\nspeed = \"7000 rpm\"\n";
    let schema = of_file(&schemas, &value(plan));
    assert_eq!(against(schema, &value(plan), ""), Vec::<String>::new());
    for bad in [
        plan.replace("redline", "red line"),
        plan.replace("speed", "rpm"),
        plan.replace("speed", "lambda"),
    ] {
        assert!(!against(schema, &value(&bad), "").is_empty(), "{bad}");
    }
}

#[test]
fn every_way_to_write_a_quantity_fits_its_pattern() {
    let schema = schema(FileKind::Car);
    let engine = &schema["properties"]["engine"]["properties"];
    let fits = |key: &str, text: &str| against(&engine[key], &Value::from(text), "").is_empty();
    for text in [
        "92.7 mm",
        "92.7mm",
        "3.65 in",
        "86 ± 0.1 mm",
        "86 +- 0.1 mm",
        "86 mm ± 0.5 %",
        "85 .. 87 mm",
        "86 mm */ 1.01",
        "(86 ± 1) mm",
        ".086 m",
        "8.6e1 mm",
        "  86 mm ",
    ] {
        let read = crate::files::quantity::parse(text, crate::units::Dimension::Length);
        assert!(read.is_ok() && fits("bore", text), "{text}");
    }
    for text in ["92.7", "92,7 mm", "mm", "", "86 ± 0.1", "86 .. 87"] {
        let read = crate::files::quantity::parse(text, crate::units::Dimension::Length);
        assert!(read.is_err() && !fits("bore", text), "{text}");
    }
    for text in [
        "10.5",
        "10.5 ± 0.1",
        "10.5:1",
        "10 .. 11",
        "(45 ± 5) %",
        "1050 %",
    ] {
        assert!(fits("compression_ratio", text), "{text}");
    }
    assert!(!fits("compression_ratio", "10,5"));
}
