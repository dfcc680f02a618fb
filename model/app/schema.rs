//! `schema`: the JSON Schema of a kind of file.

use crate::args::SchemaArgs;
use crate::output::{Failure, document};
use pullcast::files::schema::schema;

pub(crate) fn run(args: &SchemaArgs) -> Result<(), Failure> {
    document(&schema(args.kind.into()))
}
