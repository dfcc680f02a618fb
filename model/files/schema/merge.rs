//! From many readings of a table to the one shape of it.

use std::ops::RangeInclusive;

use super::explore::KIND;
use crate::files::table::asked::{Asked, Sample, What};
use crate::units::Dimension;

/// A table: its keys, by the words of the kind that decides about them, or once without a word.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shape {
    pub(super) variants: Vec<Variant>,
}

/// The keys of a table of some kinds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Variant {
    pub(super) words: Vec<String>,
    pub(super) keys: Vec<Key>,
}

/// One key.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Key {
    pub(super) name: String,
    pub(super) required: bool,
    pub(super) form: Form,
}

/// What may stand under a key.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Form {
    /// Whether it is there is asked, but never what it is.
    Unknown,
    Quantity {
        dimensions: Vec<Dimension>,
        limits_si: Option<(f64, f64)>,
        list: bool,
    },
    Text,
    Texts,
    Words(Vec<String>),
    Whole(RangeInclusive<i64>),
    Switch,
    Table(Shape),
    Tables(Shape),
}

/// The shape that all readings of a table together show.
pub(super) fn shape(samples: &[Sample]) -> Shape {
    let mut words: Vec<Option<String>> = Vec::new();
    for word in samples.iter().map(decided_by) {
        if !words.contains(&word) {
            words.push(word);
        }
    }
    if words.iter().flatten().count() > 1 {
        // Readings without a kind end at its absence.
        words.retain(Option::is_some);
    } else {
        words = vec![None];
    }
    words.sort_by_key(|word| place(samples, word.as_deref()));
    let of = |word: &Option<String>| -> Vec<&Sample> {
        let mine = |sample: &&Sample| word.is_none() || decided_by(sample) == *word;
        samples.iter().filter(mine).collect()
    };
    let mut variants: Vec<Variant> = Vec::new();
    for word in &words {
        let keys = keys(&of(word));
        match variants.iter_mut().find(|other| other.keys == keys) {
            Some(alike) => alike.words.extend(word.clone()),
            None => variants.push(Variant {
                words: word.iter().cloned().collect(),
                keys,
            }),
        }
    }
    Shape { variants }
}

/// The word of a required kind in a reading.
fn decided_by(sample: &Sample) -> Option<String> {
    let kind = sample
        .iter()
        .find(|asked| asked.key == KIND && asked.required)?;
    match &kind.what {
        What::Choice { taken, .. } => taken.clone(),
        _ => None,
    }
}

/// Where a word stands in the list of the reader.
fn place(samples: &[Sample], word: Option<&str>) -> Option<usize> {
    let asked = samples.iter().flatten().find(|asked| asked.key == KIND)?;
    match &asked.what {
        What::Choice { words, .. } => words.iter().position(|known| Some(known.as_str()) == word),
        _ => None,
    }
}

fn keys(samples: &[&Sample]) -> Vec<Key> {
    let mut names: Vec<&str> = Vec::new();
    for asked in samples.iter().copied().flatten() {
        if !names.contains(&asked.key.as_str()) {
            names.push(&asked.key);
        }
    }
    let key = |name: &&str| {
        let asked = |sample: &&Sample| sample.iter().find(|asked| asked.key == *name).cloned();
        let all: Vec<Option<Asked>> = samples.iter().map(asked).collect();
        let required = all
            .iter()
            .all(|asked| asked.as_ref().is_some_and(|a| a.required));
        let forms: Vec<What> = all.into_iter().flatten().map(|asked| asked.what).collect();
        Key {
            name: (*name).to_owned(),
            required,
            form: form(forms),
        }
    };
    names.iter().map(key).collect()
}

fn form(found: Vec<What>) -> Form {
    let mut inner: Vec<Sample> = Vec::new();
    let mut list = false;
    let mut form = Form::Unknown;
    for what in found {
        form = match (form, what) {
            (form, What::Presence) => form,
            (_, What::Table(samples)) => {
                inner.extend(samples);
                Form::Text
            }
            (_, What::Tables(samples)) => {
                inner.extend(samples);
                list = true;
                Form::Text
            }
            (Form::Unknown, what) => plain(what),
            (
                Form::Quantity {
                    dimensions,
                    limits_si,
                    list,
                },
                What::Quantity {
                    limits_si: other, ..
                },
            ) => Form::Quantity {
                dimensions,
                limits_si: wider(limits_si, other),
                list,
            },
            (form, _) => form,
        };
    }
    match (inner.is_empty(), list) {
        (true, _) => form,
        (false, true) => Form::Tables(shape(&inner)),
        (false, false) => Form::Table(shape(&inner)),
    }
}

fn plain(what: What) -> Form {
    match what {
        What::Quantity {
            dimensions,
            limits_si,
            list,
        } => Form::Quantity {
            dimensions,
            limits_si,
            list,
        },
        What::Text => Form::Text,
        What::Texts => Form::Texts,
        What::Choice { words, .. } => Form::Words(words),
        What::Whole(limits) => Form::Whole(limits),
        What::Switch => Form::Switch,
        What::Presence | What::Table(_) | What::Tables(_) => Form::Unknown,
    }
}

fn wider(one: Option<(f64, f64)>, other: Option<(f64, f64)>) -> Option<(f64, f64)> {
    match (one, other) {
        (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
        (a, b) => a.or(b),
    }
}
