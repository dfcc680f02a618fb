//! The JSON Schema (draft-07) of each kind of TOML file, for editors that check and complete while one types.
//!
//! It is made from what the readers ask for ([`explore`]), with the meaning of each key from the catalogue or from [`meaning`]. It is no
//! stricter than the reader: what hangs together across keys is left to the program, which says it better.

mod explore;
mod json;
mod meaning;
mod merge;
#[cfg(test)]
mod tests;

use std::path::Path;

use serde_json::Value;

use super::{car, drum_log, plan, visit, weather};
use merge::Shape;

/// A kind of TOML file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// A car and its drums.
    Car,
    /// Planned work.
    Plan,
    /// A visit to the drums.
    Visit,
    /// The air of a day.
    Weather,
    /// A raw drum log.
    DrumLog,
}

impl FileKind {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Car,
        Self::Plan,
        Self::Visit,
        Self::Weather,
        Self::DrumLog,
    ];

    /// Its word under the key `kind`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Car => "car",
            Self::Plan => "plan",
            Self::Visit => "visit",
            Self::Weather => "weather",
            Self::DrumLog => "drum log",
        }
    }

    /// The name of the file its schema is written to.
    pub fn schema_name(self) -> String {
        format!("{}.schema.json", self.word().replace(' ', "-"))
    }

    /// The keys its reader knows.
    fn shape(self) -> Shape {
        let nowhere = Path::new("");
        let samples = match self {
            Self::Car => explore::samples(&[], |root| car::car(root, nowhere)),
            Self::Plan => explore::samples(&[], |root| plan::plan(root, nowhere)),
            Self::Visit => explore::samples(ROOM, |root| visit::visit(root, nowhere)),
            Self::Weather => explore::samples(&[], weather::weather),
            Self::DrumLog => explore::samples(&[], |root| drum_log::drum_log(root, nowhere)),
        };
        merge::shape(&samples)
    }
}

/// A sound room: a pull may then replace single readings of it.
const ROOM: &[(&str, &str)] = &[
    ("weather.temperature", "20 °C"),
    ("weather.relative_humidity", "50 %"),
    ("weather.station_pressure", "99 kPa"),
];

/// What the comment of every schema made here begins with.
const MADE_BY: &str = "made by pullcast schema";

/// The schema of a file kind.
pub fn schema(kind: FileKind) -> Value {
    json::document(kind, &kind.shape())
}

/// The schema as the text of a file.
pub fn text(kind: FileKind) -> String {
    format!("{:#}\n", schema(kind))
}

/// Whether a file's text is a schema made here, by this version or another.
pub fn is_made_here(text: &str) -> bool {
    serde_json::from_str::<Value>(text).is_ok_and(|schema| {
        schema["$comment"]
            .as_str()
            .is_some_and(|made| made.starts_with(MADE_BY))
    })
}
