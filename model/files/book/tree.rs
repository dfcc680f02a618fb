//! Descriptions and the files that they name, out of folders into the book and back into folders.
//!
//! A path is kept as it was given, so that a quote made again from the book reads the same to the last byte. Put back, files lie deep enough below
//! the folder that holds them that a path which climbs stays inside.

use super::{BookError, Paper, PaperKind};
use crate::files::{inputs, run_csv};
use std::fs;
use std::path::{Component, Path, PathBuf};

/// How many folders a path may climb.
const CLIMBS: usize = 8;

/// A path as it was given, and where its file lies now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// What was given.
    pub given: String,
    /// Where it lies.
    pub now: PathBuf,
}

/// Files of the book laid out in a folder.
#[derive(Debug)]
pub struct Tree {
    /// Kind and place of each description, in order.
    pub papers: Vec<(PaperKind, Moved)>,
}

impl Paper {
    /// A description from disk with every file that it names, and with what answers near the recordings of a visit say of them.
    pub fn of(kind: PaperKind, path: &Path) -> Result<Self, BookError> {
        let mut files = vec![file(path)?];
        let named = inputs::named_by(path);
        for path in &named {
            files.push(file(path)?);
        }
        let mut laid_out = Vec::new();
        for (path, _) in &files {
            // What climbs too far could not be laid out again.
            laid_out.push(laid(Path::new(""), path)?);
        }
        if kind == PaperKind::Visit {
            for path in named.iter().flat_map(|path| run_csv::beside(path)) {
                // One that lies further up than a path may climb answers for nothing that is laid out.
                let Ok(place) = laid(Path::new(""), &path.display().to_string()) else {
                    continue;
                };
                if !laid_out.contains(&place) {
                    files.push(file(&path)?);
                    laid_out.push(place);
                }
            }
        }
        Ok(Self { kind, files })
    }
}

fn file(path: &Path) -> Result<(String, Vec<u8>), BookError> {
    let bytes = fs::read(path).map_err(|error| BookError::Io {
        path: path.to_owned(),
        error,
    })?;
    Ok((path.display().to_string(), bytes))
}

impl Tree {
    /// Lays the files of some descriptions out below a folder.
    pub fn lay(folder: &Path, papers: &[Paper]) -> Result<Self, BookError> {
        let mut tree = Vec::new();
        for paper in papers {
            for (place, (given, bytes)) in paper.files.iter().enumerate() {
                let now = laid(folder, given)?;
                let io = |error| BookError::Io {
                    path: now.clone(),
                    error,
                };
                if let Some(parent) = now.parent() {
                    fs::create_dir_all(parent).map_err(io)?;
                }
                fs::write(&now, bytes).map_err(io)?;
                if place == 0 {
                    let moved = Moved {
                        given: given.clone(),
                        now,
                    };
                    tree.push((paper.kind, moved));
                }
            }
        }
        Ok(Self { papers: tree })
    }
}

/// Where a path lies below a folder: climbing ones below folders enough, absolute ones from that folder as their root.
fn laid(folder: &Path, given: &str) -> Result<PathBuf, BookError> {
    let mut path = folder.to_owned();
    for depth in 0..CLIMBS {
        path.push(format!("d{depth}"));
    }
    let mut depth = CLIMBS;
    for part in Path::new(given).components() {
        match part {
            Component::Normal(name) => {
                path.push(name);
                depth += 1;
            }
            Component::ParentDir if depth > 0 => {
                path.pop();
                depth -= 1;
            }
            Component::ParentDir | Component::Prefix(_) => {
                return Err(BookError::Path {
                    path: given.to_owned(),
                });
            }
            Component::CurDir | Component::RootDir => {}
        }
    }
    Ok(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_path_leaves_the_folder() {
        let folder = Path::new("below");
        for given in [
            "a/b.toml",
            "../x.csv",
            "/etc/passwd",
            "./a/../../b",
            "../../../../../../../../c",
        ] {
            let path = laid(folder, given).expect("it fits");
            assert!(path.starts_with(folder), "{given}: {}", path.display());
        }
        assert!(laid(folder, "../../../../../../../../../c").is_err());
        // What stands beside a description stands beside it again.
        assert_eq!(
            laid(folder, "jobs/../logs/a.csv").expect("it fits"),
            laid(folder, "logs/a.csv").expect("it fits")
        );
    }
}
