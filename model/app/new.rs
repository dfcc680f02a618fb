//! `new`: a commented file to fill in, and beside it the schema that an editor checks it with.

use crate::args::NewArgs;
use crate::output::{Failure, Output, write_file};
use pullcast::files::schema::{self, FileKind};
use pullcast::files::{Overwrite, check_writable, starter};
use pullcast::report::starter::Starter;

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
    let beside = schema::write_beside(path, kind)?;
    let text = starter::text_with_schema(kind);
    write_file(path, &text, false)?;
    out.report(&Starter {
        kind: kind.word(),
        path: Some(path.display().to_string()),
        schema_path: Some(beside.display().to_string()),
        text,
    })
}
