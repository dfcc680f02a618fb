//! `new`: a commented file to fill in, and beside it the schema that an editor checks it with.

use crate::args::NewArgs;
use crate::output::{Failure, Output, write_file};
use pullcast::files::schema::{self, FileKind};
use pullcast::files::{Overwrite, check_writable, starter};
use serde_json::json;

pub(crate) fn run(args: &NewArgs, out: Output) -> Result<(), Failure> {
    let kind = FileKind::from(args.kind);
    let word = kind.word();
    let Some(path) = &args.path else {
        let text = starter::text(kind);
        return out.text_or(
            &text,
            &json!({ "schema": "pullcast/new/1", "kind": word, "path": null, "schema_path": null, "text": text }),
        );
    };
    check_writable(path, Overwrite::Refuse)?;
    let beside = schema::write_beside(path, kind)?;
    let text = starter::text_with_schema(kind);
    write_file(path, &text, false)?;
    let (shown, beside) = (path.display().to_string(), beside.display().to_string());
    out.text_or(
        &format!(
            "Wrote a starter {word} file to {shown}; every line in it says what it wants.\n\
             Beside it, {beside} lets an editor check and complete it.\n"
        ),
        &json!({ "schema": "pullcast/new/1", "kind": word, "path": shown, "schema_path": beside, "text": text }),
    )
}
