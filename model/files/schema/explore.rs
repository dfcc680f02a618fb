//! Every key a reader knows, found by asking the reader itself.
//!
//! A reader asks for some keys only where others are written: the numbers of a screw blower where `kind = "screw"`. So it is run over many
//! small texts: an empty one, one for every word of a required `kind`, and from each of these one for every key that was asked
//! for, alone. What it asked in all of them, table by table, is the file kind.

use std::collections::HashSet;

use toml::{Table as Text, Value};

use crate::files::Table;
use crate::files::table::TomlFile;
use crate::files::table::asked::{Asked, Sample, What};

/// The key whose word decides which others there are.
pub(super) const KIND: &str = "kind";

/// What is written in one of the texts: keys by their path.
#[derive(Clone, Default)]
struct Written(Vec<(Vec<String>, Value)>);

impl Written {
    fn and(&self, path: &[String], value: Value) -> Self {
        let mut written = self.clone();
        written.0.push((path.to_vec(), value));
        written
    }

    /// The text; `lists` are tables of which a file may have several.
    fn text(&self, lists: &HashSet<String>) -> String {
        let mut root = Text::new();
        for (path, value) in &self.0 {
            set(&mut root, path, value, lists);
        }
        // A reader of files refuses one with nothing in it.
        format!("#\n{root}")
    }
}

fn set(table: &mut Text, path: &[String], value: &Value, lists: &HashSet<String>) {
    match path {
        [] => {}
        [key] => {
            table.insert(key.clone(), value.clone());
        }
        [first, rest @ ..] => {
            let list = lists.contains(first);
            let inner = table.entry(first.clone()).or_insert_with(|| {
                let inner = Value::Table(Text::new());
                if list {
                    Value::Array(vec![inner])
                } else {
                    inner
                }
            });
            let inner = match inner {
                Value::Array(items) => items.first_mut(),
                other => Some(other),
            };
            if let Some(inner) = inner {
                // A key that was tried by itself turns out to be a table.
                if !inner.is_table() {
                    *inner = Value::Table(Text::new());
                }
                if let Some(inner) = inner.as_table_mut() {
                    set(inner, rest, value, lists);
                }
            }
        }
    }
}

/// A text to come: what is written in it, and the number of the text it was begun from.
struct Next {
    written: Written,
    base: Option<usize>,
    /// The table whose kind the base decides: its keys are tried there, all others were tried before.
    within: Vec<String>,
}

/// All readings of a file kind by its reader, begun from an empty text and from one in which `given` keys hold sound texts, for readers that
/// ask for less where others are sound.
pub(super) fn samples<T>(
    given: &[(&str, &str)],
    reader: impl Fn(&mut Table<'_>) -> Option<T>,
) -> Vec<Sample> {
    let mut lists = HashSet::new();
    let mut samples = Vec::new();
    // Keys that were tried beside those of each base.
    let mut tried: Vec<HashSet<Vec<String>>> = Vec::new();
    let begun = |written| Next {
        written,
        base: None,
        within: Vec::new(),
    };
    let sound = given
        .iter()
        .fold(Written::default(), |written, (path, text)| {
            let path: Vec<String> = path.split('.').map(str::to_owned).collect();
            written.and(&path, Value::from(*text))
        });
    let mut texts = vec![begun(Written::default()), begun(sound)];
    while let Some(Next {
        written,
        base,
        within,
    }) = texts.pop()
    {
        // A text made of values is sound; one that were not would leave its keys out.
        let Ok(sample) = TomlFile::asked(&written.text(&lists), &reader) else {
            continue;
        };
        let mut found = Vec::new();
        walk(&sample, &mut Vec::new(), &mut lists, &mut found);
        samples.push(sample);
        let base = base.unwrap_or_else(|| {
            tried.push(written.0.iter().map(|(path, _)| path.clone()).collect());
            tried.len() - 1
        });
        for (path, what, decides) in found {
            if !path.starts_with(&within) || !tried[base].insert(path.clone()) {
                continue;
            }
            let within = if decides {
                path[..path.len() - 1].to_vec()
            } else {
                within.clone()
            };
            texts.extend(values(&what).into_iter().map(|value| Next {
                written: written.and(&path, value),
                base: (!decides).then_some(base),
                within: within.clone(),
            }));
        }
    }
    samples
}

/// Every key asked for with its path, and whether it is a kind that decides about the others.
fn walk(
    sample: &[Asked],
    path: &mut Vec<String>,
    lists: &mut HashSet<String>,
    found: &mut Vec<(Vec<String>, What, bool)>,
) {
    for asked in sample {
        path.push(asked.key.clone());
        match &asked.what {
            What::Table(inner) => {
                for sample in inner {
                    walk(sample, path, lists, found);
                }
            }
            What::Tables(inner) => {
                lists.insert(asked.key.clone());
                for sample in inner {
                    walk(sample, path, lists, found);
                }
            }
            what => {
                let decides = asked.key == KIND
                    && asked.required
                    && matches!(what, What::Choice { words, .. } if words.len() > 1);
                found.push((path.clone(), what.clone(), decides));
            }
        }
        path.pop();
    }
}

/// What is tried under a key: all of its words, both ways of a switch; of anything else only that it is there.
fn values(what: &What) -> Vec<Value> {
    match what {
        What::Choice { words, .. } => words.iter().cloned().map(Value::String).collect(),
        What::Switch => vec![Value::Boolean(true), Value::Boolean(false)],
        _ => vec![Value::Integer(1)],
    }
}
