//! `shelf`: parts the shop has used, to be named in plans.

use crate::args::{ShelfArgs, ShelfVerb};
use crate::load;
use crate::output::{Failure, Output};
use pullcast::files::shelf::{Imported, NAME, Part, Shelf};
use pullcast::report::shelf::{PartLine, PartReport, ShelfReport};
use std::path::{Path, PathBuf};

pub(crate) fn run(args: &ShelfArgs, out: Output<'_>) -> Result<(), Failure> {
    match &args.verb {
        ShelfVerb::List => {
            let shelf = open(args, out)?;
            let lines = shelf.names().into_iter();
            let lines =
                lines.filter_map(|name| shelf.part(name, None).map(|part| line(part, None)));
            out.report(&ShelfReport {
                shelf: place(&shelf),
                parts: lines.collect(),
            })
        }
        ShelfVerb::Show { name, part_version } => {
            let shelf = open(args, out)?;
            let part = shelf.part(name, *part_version).ok_or_else(|| {
                Failure::Gate(format!("{} has no such part: '{name}'", place(&shelf)))
            })?;
            let versions = shelf.parts.iter().filter(|other| other.name == *name);
            out.report(&PartReport {
                name: part.name.clone(),
                version: part.version,
                versions: versions.map(|part| part.version).collect(),
                kind: part.kind.clone(),
                keys: part.keys.clone(),
            })
        }
        ShelfVerb::Import { table } => import(args, table, out),
    }
}

fn import(args: &ShelfArgs, table: &Path, out: Output<'_>) -> Result<(), Failure> {
    let to = args.shelf.clone().unwrap_or_else(|| new_path(out));
    let (shelf, done) = Shelf::import(table, &to)?;
    let lines = done.iter().filter_map(|Imported { name, new, .. }| {
        shelf.part(name, None).map(|part| line(part, Some(*new)))
    });
    out.report(&ShelfReport {
        shelf: to.display().to_string(),
        parts: lines.collect(),
    })
}

/// The shelf that there is, or where one would lie: beside the profile, or here.
fn new_path(out: Output<'_>) -> PathBuf {
    load::shelf_path(out).unwrap_or_else(|| {
        let profile = out.shop.path.as_deref().and_then(Path::parent);
        profile.unwrap_or(Path::new("")).join(NAME)
    })
}

fn open(args: &ShelfArgs, out: Output<'_>) -> Result<Shelf, Failure> {
    let Some(path) = args.shelf.clone().or_else(|| load::shelf_path(out)) else {
        return Err(Failure::Gate(format!(
            "there is no shelf: no {NAME} beside the profile, here or above; `pullcast shelf import parts.csv` makes one"
        )));
    };
    Ok(Shelf::open(&path)?.0)
}

fn place(shelf: &Shelf) -> String {
    let path = shelf.path.as_ref();
    path.map_or_else(|| NAME.to_owned(), |path| path.display().to_string())
}

fn line(part: &Part, new: Option<bool>) -> PartLine {
    PartLine {
        name: part.name.clone(),
        version: part.version,
        kind: part.kind.clone(),
        keys: part.keys.len(),
        new,
    }
}
