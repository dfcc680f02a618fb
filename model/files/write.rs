//! Writing a file whole or not at all.
//!
//! The text goes to a temporary file in the same folder, reaches the disk, and takes its place in one step; a crash or a
//! full disk leaves the old file as it was. It refuses to replace an existing file unless told to.

use std::fs::{self, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use super::diagnostic::{Code, Problem, Problems};

/// What to do when a file is already there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overwrite {
    /// Leave it and report.
    Refuse,
    /// Replace it.
    Allow,
}

/// Writes `content` to `path` in one step. A link is followed; a file that may not be written, a device or a pipe stays as
/// it is, although the folder would allow to put another in its place.
pub fn write_atomic(path: &Path, content: &[u8], overwrite: Overwrite) -> Result<(), Problems> {
    let failed = |error: &io::Error| {
        let name = path.display().to_string();
        let problem = if error.kind() == ErrorKind::AlreadyExists {
            Problem::of_file(
                Code::FILE_EXISTS,
                name,
                "a file with this name is already there",
            )
            .expected("a new name")
        } else {
            let message = format!("the file cannot be written: {error}");
            Problem::of_file(Code::FILE_NOT_WRITTEN, name, message)
                .expected("a file name in an existing folder this user may write to")
        };
        Problems::from(problem)
    };
    if path.is_dir() {
        return Err(failed(&io::Error::from(ErrorKind::IsADirectory)));
    }
    // An early answer that spares the work; the step below decides for certain.
    if overwrite == Overwrite::Refuse && path.symlink_metadata().is_ok() {
        return Err(failed(&io::Error::from(ErrorKind::AlreadyExists)));
    }
    let target = fs::canonicalize(path);
    let path = target.as_deref().unwrap_or(path);
    let Some(file_name) = path.file_name() else {
        return Err(failed(&io::Error::from(ErrorKind::IsADirectory)));
    };
    if let Ok(there) = path.metadata() {
        if !there.is_file() {
            return Err(failed(&io::Error::other("it is no ordinary file")));
        }
        if there.permissions().readonly() {
            return Err(failed(&io::Error::from(ErrorKind::PermissionDenied)));
        }
    }
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let temporary = write_temporary(folder, &file_name.to_string_lossy(), content)
        .map_err(|error| failed(&error))?;
    let placed = match overwrite {
        Overwrite::Allow => fs::rename(&temporary, path),
        // A hard link fails if the name was taken meanwhile, where a rename would replace.
        Overwrite::Refuse => match fs::hard_link(&temporary, path) {
            Ok(()) => fs::remove_file(&temporary),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(error),
            // Some network and memory-card file systems have no hard links.
            Err(_) => fs::rename(&temporary, path),
        },
    };
    placed.map_err(|error| {
        // The temporary file is only litter now; that it cannot be removed adds nothing to the report.
        drop(fs::remove_file(&temporary));
        failed(&error)
    })
}

/// A new file beside the target, complete on disk.
fn write_temporary(folder: &Path, name: &str, content: &[u8]) -> io::Result<PathBuf> {
    let mut attempt = 0_u32;
    let (temporary, mut file) = loop {
        let candidate = folder.join(format!(".{name}.{}-{attempt}.part", std::process::id()));
        match OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&candidate)
        {
            Ok(file) => break (candidate, file),
            Err(error) if error.kind() == ErrorKind::AlreadyExists && attempt < 100 => attempt += 1,
            Err(error) => return Err(error),
        }
    };
    let written = file.write_all(content).and_then(|()| file.sync_all());
    drop(file);
    match written {
        Ok(()) => Ok(temporary),
        Err(error) => {
            drop(fs::remove_file(&temporary));
            Err(error)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder");
        let mut names: Vec<String> = entries
            .map(|entry| {
                entry
                    .expect("readable")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }

    #[test]
    fn an_existing_file_is_kept_unless_told_otherwise() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("car.toml");
        write_atomic(&path, b"one", Overwrite::Refuse).expect("new file");
        let problem = write_atomic(&path, b"two", Overwrite::Refuse)
            .expect_err("already there")
            .only();
        assert_eq!(
            (problem.code, &problem.file),
            (Code::FILE_EXISTS, &path.display().to_string())
        );
        assert_eq!(fs::read(&path).expect("readable"), b"one");
        write_atomic(&path, b"two", Overwrite::Allow).expect("replace");
        assert_eq!(fs::read(&path).expect("readable"), b"two");
        assert_eq!(
            names(folder.path()),
            ["car.toml"],
            "no temporary file is left"
        );
    }

    #[test]
    fn a_failed_write_names_the_path_and_leaves_nothing() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("no_such_folder").join("car.toml");
        let problem = write_atomic(&path, b"one", Overwrite::Allow)
            .expect_err("no folder")
            .only();
        assert_eq!(
            (problem.code, problem.file),
            (Code::FILE_NOT_WRITTEN, path.display().to_string())
        );
        let problem = write_atomic(folder.path(), b"one", Overwrite::Allow)
            .expect_err("a folder")
            .only();
        assert_eq!(problem.code, Code::FILE_NOT_WRITTEN);
        assert_eq!(names(folder.path()), Vec::<String>::new());
    }

    #[cfg(unix)]
    #[test]
    fn only_an_ordinary_writable_file_is_replaced_and_a_link_is_followed() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let (path, link) = (
            folder.path().join("car.toml"),
            folder.path().join("link.toml"),
        );
        fs::write(&path, b"one").expect("a file");
        std::os::unix::fs::symlink(&path, &link).expect("a link");
        write_atomic(&link, b"two", Overwrite::Allow).expect("the target is replaced");
        assert_eq!(fs::read(&path).expect("readable"), b"two");
        assert!(link.symlink_metadata().expect("there").is_symlink());
        let mut locked = path.metadata().expect("there").permissions();
        locked.set_readonly(true);
        fs::set_permissions(&path, locked).expect("ours");
        let socket = folder.path().join("socket");
        let _bound = std::os::unix::net::UnixListener::bind(&socket).expect("a socket");
        for kept in [&path, &socket] {
            let problem = write_atomic(kept, b"three", Overwrite::Allow)
                .expect_err("kept")
                .only();
            assert_eq!(problem.code, Code::FILE_NOT_WRITTEN);
        }
        assert_eq!(fs::read(&path).expect("readable"), b"two");
    }
}
