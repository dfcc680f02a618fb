//! Writing a file whole or not at all.
//!
//! The text goes to a part file in the same folder, reaches the disk, and takes its place in one step; a crash or a
//! full disk leaves the old file as it was. It refuses to replace an existing file unless told to. A writer holds a lock on its
//! part file, so that the next one tells what a killed run left behind from what another is writing, and clears it away.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, ErrorKind, Write};
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
    let mut file = Growing::new(path, overwrite)?;
    file.write_all(content)
        .map_err(|error| file.problem(&error))?;
    file.finish()
}

/// A file written piece by piece beside its place, that takes it when it is whole; dropped before that, it leaves nothing.
#[derive(Debug)]
pub struct Growing {
    named: PathBuf,
    target: Target,
    /// None once it is placed.
    part: Option<Part>,
    writer: BufWriter<File>,
    /// Whether a piece of it was lost, and why.
    lost: Option<ErrorKind>,
}

impl Growing {
    /// An empty one.
    pub fn new(path: &Path, overwrite: Overwrite) -> Result<Self, Problems> {
        let begun = || {
            let target = Target::of(path, overwrite)?;
            let part = target.part()?;
            let writer = BufWriter::new(part.file.try_clone()?);
            Ok(Self {
                named: path.to_owned(),
                target,
                part: Some(part),
                writer,
                lost: None,
            })
        };
        begun().map_err(|error| problem(path, &error).into())
    }

    /// Its name, as it was given.
    pub fn path(&self) -> &Path {
        &self.named
    }

    /// What to say of an error in writing it.
    pub fn problem(&self, error: &io::Error) -> Problems {
        not_written(&self.named, error)
    }

    /// Puts it in its place, once all of it has reached the disk.
    pub fn finish(mut self) -> Result<(), Problems> {
        self.placed().map_err(|error| self.problem(&error))
    }

    fn placed(&mut self) -> io::Result<()> {
        if let Some(kind) = self.lost {
            return Err(kind.into());
        }
        self.writer.flush()?;
        if let Some(part) = &self.part {
            part.file.sync_all()?;
            self.target.place(part)?;
        }
        self.part = None;
        Ok(())
    }
}

impl Write for Growing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.writer.write(bytes);
        written.inspect_err(|error| match error.kind() {
            // Tried again by whoever writes.
            ErrorKind::Interrupted => {}
            kind => self.lost = Some(kind),
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        self.writer.flush()
    }
}

impl Drop for Growing {
    fn drop(&mut self) {
        if let Some(part) = &self.part {
            part.discard();
        }
    }
}

/// Whether a file could be written to `path` now: for saying no before long work, not after it. Nothing is left behind.
pub fn check_writable(path: &Path, overwrite: Overwrite) -> Result<(), Problems> {
    let written = Target::of(path, overwrite).and_then(|target| target.part());
    written
        .map(|part| part.discard())
        .map_err(|error| problem(path, &error).into())
}

/// What to say of a file that was not written.
pub(super) fn not_written(path: &Path, error: &io::Error) -> Problems {
    problem(path, error).into()
}

fn problem(path: &Path, error: &io::Error) -> Problem {
    let name = path.display().to_string();
    if error.kind() == ErrorKind::AlreadyExists {
        let message = "a file with this name is already there";
        Problem::of_file(Code::FILE_EXISTS, name, message).expected("a new name")
    } else {
        let message = format!("the file cannot be written: {error}");
        Problem::of_file(Code::FILE_NOT_WRITTEN, name, message)
            .expected("a file name in an existing folder this user may write to")
    }
}

/// Where a file goes.
#[derive(Debug)]
struct Target {
    path: PathBuf,
    folder: PathBuf,
    name: String,
    overwrite: Overwrite,
}

/// A file beside its target, locked as long as this stands.
#[derive(Debug)]
struct Part {
    path: PathBuf,
    file: File,
}

impl Part {
    /// Takes it away again. It is only litter then; that it cannot be removed adds nothing to a report.
    fn discard(&self) {
        drop(fs::remove_file(&self.path));
    }
}

impl Target {
    fn of(path: &Path, overwrite: Overwrite) -> io::Result<Self> {
        if path.is_dir() {
            return Err(ErrorKind::IsADirectory.into());
        }
        // An early answer that spares the work; `place` decides for certain.
        if overwrite == Overwrite::Refuse && path.symlink_metadata().is_ok() {
            return Err(ErrorKind::AlreadyExists.into());
        }
        let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let name = path.file_name().ok_or(ErrorKind::IsADirectory)?;
        let name = name.to_string_lossy().into_owned();
        if let Ok(there) = path.metadata() {
            if !there.is_file() {
                return Err(io::Error::other("it is not an ordinary file"));
            }
            if there.permissions().readonly() {
                return Err(ErrorKind::PermissionDenied.into());
            }
        }
        let folder = path
            .parent()
            .filter(|parent| !parent.as_os_str().is_empty())
            .unwrap_or(Path::new("."))
            .to_owned();
        Ok(Self {
            path,
            folder,
            name,
            overwrite,
        })
    }

    /// An empty part file, once what killed runs left of this target is gone.
    fn part(&self) -> io::Result<Part> {
        self.clear();
        self.locked()
    }

    fn locked(&self) -> io::Result<Part> {
        for attempt in 0..100 {
            let process = std::process::id();
            let name = format!(".{}.{process}-{attempt}.part", self.name);
            let path = self.folder.join(name);
            let options = OpenOptions::new().write(true).create_new(true).open(&path);
            match options {
                Ok(file) => {
                    // Some network file systems have no locks; there, nothing is ever cleared away either.
                    drop(file.lock());
                    // Between the two steps another run may have taken it for litter.
                    if path.exists() {
                        return Ok(Part { path, file });
                    }
                }
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::Error::other("too many part files of this name"))
    }

    /// Removes part files of this target that nobody holds. What cannot be listed or removed does no harm.
    fn clear(&self) {
        let Ok(entries) = fs::read_dir(&self.folder) else {
            return;
        };
        for entry in entries.flatten() {
            if !self.is_part(&entry.file_name().to_string_lossy()) {
                continue;
            }
            let held = OpenOptions::new().write(true).open(entry.path());
            if held.is_ok_and(|file| file.try_lock().is_ok()) {
                drop(fs::remove_file(entry.path()));
            }
        }
    }

    fn is_part(&self, name: &str) -> bool {
        let counted = name
            .strip_prefix('.')
            .and_then(|rest| rest.strip_prefix(&self.name))
            .and_then(|rest| rest.strip_prefix('.')?.strip_suffix(".part"))
            .and_then(|numbers| numbers.split_once('-'));
        let number = |text: &str| text.parse::<u32>().is_ok();
        counted.is_some_and(|(process, attempt)| number(process) && number(attempt))
    }

    fn place(&self, part: &Part) -> io::Result<()> {
        match self.overwrite {
            Overwrite::Allow => fs::rename(&part.path, &self.path),
            // A hard link fails if the name was taken meanwhile, where a rename would replace.
            Overwrite::Refuse => match fs::hard_link(&part.path, &self.path) {
                Ok(()) => fs::remove_file(&part.path),
                Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(error),
                // Some network and memory-card file systems have no hard links.
                Err(_) => fs::rename(&part.path, &self.path),
            },
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

    #[test]
    fn a_file_that_grows_is_there_whole_or_not_at_all() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("draws.csv");
        let mut given_up = Growing::new(&path, Overwrite::Refuse).expect("a new file");
        given_up.write_all(b"draw\n").expect("room");
        assert!(!path.exists());
        drop(given_up);
        assert_eq!(names(folder.path()), Vec::<String>::new());
        let mut whole = Growing::new(&path, Overwrite::Refuse).expect("a new file");
        for _ in 0..100_000 {
            whole.write_all(b"draw\n").expect("room");
        }
        whole.finish().expect("placed");
        assert_eq!(fs::read(&path).expect("readable").len(), 500_000);
        assert_eq!(names(folder.path()), ["draws.csv"]);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("draws.csv");
        fs::write(&path, b"the old text").expect("a file");
        let mut file = Growing::new(&path, Overwrite::Allow).expect("a new file");
        // A device that is always full, in place of the part file.
        let full = OpenOptions::new().write(true).open("/dev/full");
        file.writer = BufWriter::new(full.expect("a device"));
        let written = file.write_all(&vec![b'x'; 100_000]);
        assert_eq!(written.expect_err("no room").kind(), ErrorKind::StorageFull);
        let problem = file.finish().expect_err("not whole").only();
        assert_eq!(problem.code, Code::FILE_NOT_WRITTEN);
        assert!(problem.message.contains("no"), "{}", problem.message);
        assert_eq!(fs::read(&path).expect("readable"), b"the old text");
        assert_eq!(names(folder.path()), ["draws.csv"]);
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

    #[cfg(unix)]
    #[test]
    fn the_new_file_takes_the_place_of_the_old_in_one_step() {
        use std::io::Read;
        let folder = tempfile::tempdir().expect("a scratch folder");
        let (path, second) = (folder.path().join("car.toml"), folder.path().join("kept"));
        fs::write(&path, b"the old text").expect("a file");
        fs::hard_link(&path, &second).expect("a second name");
        let mut reading = File::open(&path).expect("readable");
        write_atomic(&path, b"new", Overwrite::Allow).expect("replace");
        // A plain write would cut the old file under its reader and under its second name.
        let mut old = String::new();
        reading.read_to_string(&mut old).expect("readable");
        assert_eq!(old, "the old text");
        assert_eq!(fs::read(&second).expect("readable"), b"the old text");
        assert_eq!(fs::read(&path).expect("readable"), b"new");
    }

    #[test]
    fn the_next_run_clears_away_what_a_killed_one_left_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = |name: &str| folder.path().join(name);
        let left = ".car.toml.4294967-0.part";
        let others = [
            ".car.toml.7-x.part",
            ".car.toml.part",
            ".old_car.toml.7-0.part",
            ".van.toml.7-0.part",
            "car.toml.7-0.part",
        ];
        for name in others.iter().chain([&left]) {
            fs::write(path(name), b"half a c").expect("a file");
        }
        let writing = ".car.toml.8-0.part";
        let held = File::create(path(writing)).expect("a file");
        held.lock().expect("a lock");
        check_writable(&path("car.toml"), Overwrite::Refuse).expect("it could be");
        let mut expected: Vec<&str> = others.to_vec();
        expected.push(writing);
        expected.sort_unstable();
        assert_eq!(names(folder.path()), expected);
        drop(held);
        write_atomic(&path("car.toml"), b"one", Overwrite::Refuse).expect("new file");
        assert!(!path(writing).exists() && path("car.toml").exists());
    }

    #[test]
    fn what_could_not_be_written_is_known_before_the_work() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let code = |path: &Path, overwrite| {
            let problems = check_writable(path, overwrite).expect_err("it could not be");
            problems.only().code
        };
        let path = folder.path().join("car.toml");
        let nowhere = folder.path().join("no_such_folder").join("car.toml");
        assert_eq!(code(&nowhere, Overwrite::Allow), Code::FILE_NOT_WRITTEN);
        check_writable(&path, Overwrite::Refuse).expect("it could be");
        assert_eq!(names(folder.path()), Vec::<String>::new());
        fs::write(&path, b"one").expect("a file");
        assert_eq!(code(&path, Overwrite::Refuse), Code::FILE_EXISTS);
        let below = path.join("car.toml");
        assert_eq!(code(&below, Overwrite::Allow), Code::FILE_NOT_WRITTEN);
        // A folder that takes no files, whoever asks.
        #[cfg(target_os = "linux")]
        assert_eq!(
            code(Path::new("/proc/car.toml"), Overwrite::Allow),
            Code::FILE_NOT_WRITTEN
        );
    }
}
