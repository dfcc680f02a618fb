//! `new`: a commented file to fill in.

use crate::args::{FileKind, NewArgs};
use crate::output::{Failure, Output, write_file};
use pullcast::files::starter;
use serde_json::json;

pub(crate) fn run(args: &NewArgs, out: Output) -> Result<(), Failure> {
    let (kind, text) = match args.kind {
        FileKind::Car => ("car", starter::car()),
        FileKind::Plan => ("plan", starter::plan()),
        FileKind::Visit => ("visit", starter::visit()),
        FileKind::Weather => ("weather", starter::weather()),
        FileKind::DrumLog => ("drum log", starter::drum_log()),
    };
    let schema = "pullcast/new/1";
    match &args.path {
        None => out.text_or(
            &text,
            &json!({ "schema": schema, "kind": kind, "path": null, "text": text }),
        ),
        Some(path) => {
            write_file(path, &text, false)?;
            let shown = path.display().to_string();
            out.text_or(
                &format!(
                    "Wrote a starter {kind} file to {shown}; every line in it says what it wants.\n"
                ),
                &json!({ "schema": schema, "kind": kind, "path": shown, "text": text }),
            )
        }
    }
}
