//! `schema`: the JSON Schema of a kind of file.

use crate::args::SchemaArgs;
use crate::output::{Failure, Output};
use pullcast::files::schema::schema;

pub(crate) fn run(args: &SchemaArgs, out: Output) -> Result<(), Failure> {
    out.document(&schema(args.kind.into()))
}
