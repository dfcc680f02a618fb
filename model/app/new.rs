//! `new`: a commented file to fill in, and beside it the schema that an editor checks it with.

use crate::args::NewArgs;
use crate::output::{Failure, Output, write_file};
use pullcast::files::schema::{self, FileKind};
use pullcast::files::{Code, Overwrite, Problem, Problems, check_writable, starter};
use pullcast::report::starter::Starter;
use std::path::Path;

pub(crate) fn run(args: &NewArgs, out: Output) -> Result<(), Failure> {
    let kind = FileKind::from(args.kind);
    let Some(path) = &args.path else {
        return out.report(&Starter {
            kind: kind.word(),
            path: None,
            schema_path: None,
            text: starter::text(kind),
        });
    };
    check_writable(path, Overwrite::Refuse)?;
    let beside = path.with_file_name(kind.schema_name());
    write_schema(kind, &beside)?;
    let text = starter::text_with_schema(kind);
    write_file(path, &text, false)?;
    out.report(&Starter {
        kind: kind.word(),
        path: Some(path.display().to_string()),
        schema_path: Some(beside.display().to_string()),
        text,
    })
}

/// Writes the schema, over that of another version, and over nothing else.
fn write_schema(kind: FileKind, path: &Path) -> Result<(), Failure> {
    let text = schema::text(kind);
    match std::fs::read_to_string(path) {
        Ok(there) if there == text => Ok(()),
        Ok(there) if !schema::is_made_here(&there) => {
            let message = "a file that is no schema of this program has the name of one";
            let problem = Problem::of_file(Code::FILE_EXISTS, path.display().to_string(), message);
            Err(Problems::from(problem.expected("a folder where this name is free")).into())
        }
        found => write_file(path, &text, found.is_ok()),
    }
}
