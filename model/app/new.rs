//! `new`: a commented file to fill in.

use crate::args::{FileKind, NewArgs};
use crate::output::{Failure, Output, write_file};
use pullcast::files::starter;
use pullcast::report::starter::Starter;

pub(crate) fn run(args: &NewArgs, out: Output) -> Result<(), Failure> {
    let (kind, text) = match args.kind {
        FileKind::Car => ("car", starter::car()),
        FileKind::Plan => ("plan", starter::plan()),
        FileKind::Visit => ("visit", starter::visit()),
        FileKind::Weather => ("weather", starter::weather()),
        FileKind::DrumLog => ("drum log", starter::drum_log()),
    };
    if let Some(path) = &args.path {
        write_file(path, &text, false)?;
    }
    out.report(&Starter {
        kind,
        path: args.path.as_ref().map(|path| path.display().to_string()),
        text,
    })
}
