//! The JSON Schema (draft-07) of each kind of TOML file, for editors that check and complete while one types.
//!
//! It is made from what the readers ask for (`explore`), with the meaning of each key from the catalogue or from `meaning`. It is no
//! stricter than the reader: what hangs together across keys is left to the program, which says it better.

mod explore;
mod json;
mod meaning;
mod merge;
#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::diagnostic::{Code, Problem, Problems};
use super::write::{Overwrite, write_atomic};
use super::{car, class, drum_log, plan, shop, visit, weather};
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
    /// A shop's profile.
    Shop,
    /// The rules of a class.
    Class,
}

impl FileKind {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Car,
        Self::Plan,
        Self::Visit,
        Self::Weather,
        Self::DrumLog,
        Self::Shop,
        Self::Class,
    ];

    /// Its word under the key `kind`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Car => "car",
            Self::Plan => "plan",
            Self::Visit => "visit",
            Self::Weather => "weather",
            Self::DrumLog => "drum log",
            Self::Shop => "shop",
            Self::Class => "class",
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
            Self::Visit => explore::samples(ROOM, |root| visit::visit(root, nowhere, None)),
            Self::Weather => explore::samples(&[], weather::weather),
            Self::DrumLog => explore::samples(&[], |root| drum_log::drum_log(root, nowhere)),
            Self::Shop => explore::samples(&[], shop::shop),
            Self::Class => explore::samples(&[], class::class),
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

/// Writes the schema beside a file, over that of another version and over nothing else, and tells where it is.
pub fn write_beside(file: &Path, kind: FileKind) -> Result<PathBuf, Problems> {
    let path = file.with_file_name(kind.schema_name());
    let text = text(kind);
    let there = std::fs::read_to_string(&path);
    if there.as_ref().is_ok_and(|there| *there == text) {
        return Ok(path);
    }
    if there.as_ref().is_ok_and(|there| !is_made_here(there)) {
        let message = "a file that is no schema of this program has the name of one";
        let problem = Problem::of_file(Code::FILE_EXISTS, path.display().to_string(), message);
        return Err(problem.expected("a folder where this name is free").into());
    }
    let overwrite = if there.is_ok() {
        Overwrite::Allow
    } else {
        Overwrite::Refuse
    };
    write_atomic(&path, text.as_bytes(), overwrite)?;
    Ok(path)
}

/// Whether a file's text is a schema made here, by this version or another.
fn is_made_here(text: &str) -> bool {
    let schema = serde_json::from_str::<Value>(text).unwrap_or_default();
    let made = schema["$comment"].as_str();
    made.is_some_and(|made| made.starts_with(MADE_BY))
}
