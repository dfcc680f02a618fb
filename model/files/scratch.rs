//! Files that come and go with a server, and what lies in a shop's folders.
//!
//! A page is given logs that are no files yet, and a quote is made again from files that are none any more: both lie in a folder that its owner takes
//! away again. It refuses to write anywhere else.

use super::inputs::kind_of;
use super::schema::FileKind;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Files looked at in a shop's folders, at most.
const MOST_FILES: usize = 2000;

/// A folder of its own that goes with its owner.
#[derive(Debug)]
pub struct Scratch(PathBuf);

impl Scratch {
    /// A new one; `stamp` tells it from others of this process.
    pub fn new(stamp: &str) -> io::Result<Self> {
        let name = format!("pullcast-{}-{stamp}", std::process::id());
        let path = std::env::temp_dir().join(name);
        fs::create_dir(&path)?;
        Ok(Self(path))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // Nobody is left to be told.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Writes a file into a folder, which is made where it is not there; gives its path.
pub fn put(folder: &Path, name: &str, bytes: &[u8]) -> io::Result<PathBuf> {
    fs::create_dir_all(folder)?;
    let path = folder.join(name);
    fs::write(&path, bytes)?;
    Ok(path)
}

/// A file that comes in piece by piece, so that none is ever held whole.
#[derive(Debug)]
pub struct Incoming {
    file: File,
    path: PathBuf,
    bytes: usize,
}

impl Incoming {
    /// An empty one in a folder, which is made where it is not there.
    pub fn new(folder: &Path, name: &str) -> io::Result<Self> {
        fs::create_dir_all(folder)?;
        let path = folder.join(name);
        Ok(Self {
            file: File::create(&path)?,
            path,
            bytes: 0,
        })
    }

    /// Adds a piece; gives how many bytes there are.
    pub fn piece(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write_all(bytes)?;
        self.bytes += bytes.len();
        Ok(self.bytes)
    }

    /// Where it lies, once it is whole; none where nothing came.
    pub fn done(self) -> io::Result<Option<PathBuf>> {
        if self.bytes == 0 {
            fs::remove_file(&self.path)?;
            return Ok(None);
        }
        Ok(Some(self.path))
    }
}

/// Takes a folder of a scratch folder away with all that lies in it.
pub fn clear(folder: &Path) {
    // It goes with the scratch folder at the latest.
    let _ = fs::remove_dir_all(folder);
}

/// Files of a kind in a folder and in those so many levels below it, in the order of their paths; a path in this folder is told from it.
pub fn of_kind(folder: &Path, kind: FileKind, depth: usize) -> Vec<PathBuf> {
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    let mut found = Vec::new();
    let mut left = MOST_FILES;
    walk(folder, kind, depth, &mut left, &mut found);
    found.sort();
    found
}

fn walk(folder: &Path, kind: FileKind, depth: usize, left: &mut usize, found: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        if *left == 0 {
            return;
        }
        *left -= 1;
        let path = entry.path();
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        let Ok(what) = entry.file_type() else {
            continue;
        };
        if what.is_dir() && depth > 0 && !hidden && entry.file_name() != "target" {
            walk(&path, kind, depth - 1, left, found);
        } else if what.is_file()
            && path.extension().is_some_and(|end| end == "toml")
            && kind_of(&path) == Some(kind)
        {
            found.push(path.strip_prefix(".").map(Path::to_owned).unwrap_or(path));
        }
    }
}

/// What a file says its name is.
pub fn name_in(path: &Path) -> Option<String> {
    let text = fs::read_to_string(path).ok()?;
    let root: toml::Table = toml::from_str(&text).ok()?;
    Some(root.get("name")?.as_str()?.to_owned())
}
