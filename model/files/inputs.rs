//! What a run reads, so that it does not write over it.
//!
//! A description names recordings, logs and maps; a slip of the pen in an output would replace a measurement that nobody can make again. It
//! refuses nothing itself: it tells which file an output would replace.

use std::fs;
use std::path::{Path, PathBuf};

use toml::de::{DeTable, DeValue};

use super::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use super::schema::FileKind;

/// The files that a description names: every text in it that is the path of a file from its folder. None where the description itself
/// cannot be read, which its reader tells.
pub fn named_by(description: &Path) -> Vec<PathBuf> {
    let name = description.display().to_string();
    let text =
        read_bytes(description, TOML_LIMIT_BYTES).and_then(|bytes| decode_utf8(&name, bytes));
    let Ok(text) = text else {
        return Vec::new();
    };
    let (root, _) = DeTable::parse_recoverable(&text);
    let mut texts = Vec::new();
    for value in root.get_ref().values() {
        gather(value.get_ref(), &mut texts);
    }
    let folder = description.parent().unwrap_or(Path::new(""));
    let paths = texts.into_iter().map(|text| folder.join(text));
    paths.filter(|path| path.is_file()).collect()
}

fn gather(value: &DeValue<'_>, texts: &mut Vec<String>) {
    match value {
        DeValue::String(text) => texts.push(text.to_string()),
        DeValue::Array(list) => {
            for value in list {
                gather(value.get_ref(), texts);
            }
        }
        DeValue::Table(table) => {
            for value in table.values() {
                gather(value.get_ref(), texts);
            }
        }
        _ => {}
    }
}

/// The kind that a description says it is, whoever reads it; none where it says nothing that can be read.
pub fn kind_of(description: &Path) -> Option<FileKind> {
    let bytes = read_bytes(description, TOML_LIMIT_BYTES).ok()?;
    let text = decode_utf8("", bytes).ok()?;
    let (root, _) = DeTable::parse_recoverable(&text);
    let DeValue::String(word) = root.get_ref().get("kind")?.get_ref() else {
        return None;
    };
    FileKind::ALL
        .into_iter()
        .find(|kind| kind.word() == word.as_ref())
}

/// The file of a name that holds for a folder: in it, or in the nearest one above; none where there is none.
pub(super) fn nearest_above(folder: &Path, name: &str) -> Option<PathBuf> {
    let mut paths = folder.ancestors().map(|above| above.join(name));
    paths.find(|path| path.is_file())
}

/// Whether two paths lead to one file that is there, whatever they are called.
pub fn same_file(one: &Path, other: &Path) -> bool {
    match (fs::canonicalize(one), fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_named_anywhere_in_a_description_are_found() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = |name: &str| folder.path().join(name);
        for name in ["log.csv", "map.csv", "run.csv"] {
            fs::write(path(name), "x").expect("a file");
        }
        let text = "log = \"log.csv\"\nname = \"not there\"\n[blower]\nmap = \"map.csv\"\n[[pull]]\nfile = \"./run.csv\"\n";
        fs::write(path("visit.toml"), text).expect("a file");
        let mut found = named_by(&path("visit.toml"));
        found.sort();
        assert_eq!(found, [path("log.csv"), path("map.csv"), path("./run.csv")]);
        assert!(same_file(&path("./run.csv"), &path("run.csv")));
        assert!(!same_file(&path("log.csv"), &path("run.csv")));
        assert!(!same_file(&path("none.csv"), &path("none.csv")));
        assert!(named_by(&path("none.toml")).is_empty());
    }
}
