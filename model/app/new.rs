//! `new`: a commented file to fill in, and beside it the schema that an editor checks it with.

use crate::args::NewArgs;
use crate::output::{Failure, Output, write_file};
use pullcast::files::schema::{self, FileKind};
use pullcast::files::starter::{self, WrittenIn};
use pullcast::files::{Overwrite, check_writable};
use pullcast::report::Units;
use pullcast::report::starter::Starter;

pub(crate) fn run(args: &NewArgs, out: Output<'_>) -> Result<(), Failure> {
    let kind = FileKind::from(args.kind);
    let units = match out.units {
        Units::Metric => WrittenIn::Metric,
        Units::Shop => WrittenIn::Shop,
    };
    let text = if args.all {
        starter::text(kind, units)
    } else {
        starter::short(kind, units)
    };
    let Some(path) = &args.path else {
        return out.report(&Starter {
            kind: kind.word(),
            path: None,
            schema_path: None,
            text,
        });
    };
    check_writable(path, Overwrite::Refuse)?;
    let beside = schema::write_beside(path, kind)?;
    let text = starter::with_schema(kind, &text);
    write_file(path, &text, false)?;
    out.report(&Starter {
        kind: kind.word(),
        path: Some(path.display().to_string()),
        schema_path: Some(beside.display().to_string()),
        text,
    })
}
