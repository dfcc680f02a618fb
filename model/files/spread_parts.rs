//! Parts of a spread in a folder: where a run that was stopped goes on, and shards of several machines meet.

use super::diagnostic::{Code, Problem, Problems};
use super::write::{Overwrite, write_atomic};
use crate::ask::spread::{Part, Ready, Shard};
use std::fmt::Display;
use std::fs;
use std::path::Path;

/// A part of a spread that cannot be gone on with.
pub const PART_REFUSED: Code = Code::new("spread_part_refused");

/// The parts of one question that a folder holds, by shard; those of others may lie beside them. A folder that is not there is made.
pub fn read(folder: &Path, ready: &Ready<'_>) -> Result<Vec<Part>, Problems> {
    let unreadable = |path: &Path, error: &dyn Display| {
        let message = format!("it cannot be read: {error}");
        Problem::of_file(Code::FILE_UNREADABLE, path.display().to_string(), message)
            .expected("a folder this user may read and write, or the name of a new one")
    };
    let mut parts = Vec::new();
    fs::create_dir_all(folder).map_err(|error| unreadable(folder, &error))?;
    for entry in fs::read_dir(folder).map_err(|error| unreadable(folder, &error))? {
        let path = entry.map_err(|error| unreadable(folder, &error))?.path();
        if !is_part(&path, ready.name()) {
            continue;
        }
        let refused = |error: &dyn Display| {
            Problem::of_file(PART_REFUSED, path.display().to_string(), error.to_string())
                .expected("a part as it was written; delete the file to draw its cars anew")
        };
        let text = fs::read_to_string(&path).map_err(|error| unreadable(&path, &error))?;
        let part: Part = serde_json::from_str(&text).map_err(|error| refused(&error))?;
        ready.accepts(&part).map_err(|error| refused(&error))?;
        parts.push(part);
    }
    parts.sort_by_key(|part| (part.shard().of, part.shard().number));
    Ok(parts)
}

/// Writes a part in one step, in place of what was kept of its shard before.
pub fn write(folder: &Path, ready: &Ready<'_>, part: &Part) -> Result<(), Problems> {
    let Shard { number, of } = part.shard();
    let path = folder.join(format!("{}{number}-of-{of}.json", prefix(ready.name())));
    let text = serde_json::to_vec(part).map_err(|error| {
        let message = format!("it cannot be written as JSON: {error}");
        Problem::of_file(Code::FILE_NOT_WRITTEN, path.display().to_string(), message)
    })?;
    write_atomic(&path, &text, Overwrite::Allow)
}

fn prefix(question: &str) -> String {
    format!("spread-{question}-")
}

fn is_part(path: &Path, question: &str) -> bool {
    let name = path.file_name().and_then(|name| name.to_str());
    let rest = name.and_then(|name| name.strip_prefix(&prefix(question)));
    rest.is_some_and(|rest| rest.strip_suffix(".json").is_some())
}
