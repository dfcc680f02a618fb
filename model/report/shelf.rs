//! The shop's shelf in words: its parts with their versions, one of them in full, and what an import did.

use super::document::Document;
use super::table::TextTable;
use super::{Level, Report, Units};
use serde::Serialize;

/// All parts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShelfReport {
    /// Where the shelf lies.
    pub shelf: String,
    /// Its parts, newest version each.
    pub parts: Vec<PartLine>,
}

/// One part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PartLine {
    /// What the shop calls it.
    pub name: String,
    /// Newest version.
    pub version: u32,
    /// Kind of work, as a plan names it.
    pub kind: String,
    /// How many keys it states besides.
    pub keys: usize,
    /// What an import did with it; none where nothing was imported.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub new: Option<bool>,
}

impl Report for ShelfReport {
    const SCHEMA: &'static str = "pullcast/shelf/1";

    fn document(&self, _: Units) -> Document {
        const MOST: usize = 18;
        let mut document = Document::new();
        let table = |parts: &[PartLine]| {
            let mut table = TextTable::new("lr");
            table.head(["part", "version", "kind", "keys", ""]);
            for part in parts {
                table.row([
                    part.name.clone(),
                    part.version.to_string(),
                    part.kind.clone(),
                    part.keys.to_string(),
                    match part.new {
                        Some(true) => "new".to_owned(),
                        Some(false) => "as it was".to_owned(),
                        None => String::new(),
                    },
                ]);
            }
            table
        };
        let count = self.parts.len();
        let mut part = document.at(Level::Answer);
        part.title(format!(
            "{}: {count} part{}",
            self.shelf,
            if count == 1 { "" } else { "s" }
        ));
        if count <= MOST {
            part.table(table(&self.parts));
        } else {
            document.at(Level::Brief).table(table(&self.parts[..MOST]));
            document.at(Level::Detail).table(table(&self.parts));
        }
        document.at(Level::Answer).paragraph(
            "A plan takes a part by its name: a [[change]] with part = \"...\", and part_version = 1 for an older version; keys of its own go first.",
        );
        document
    }
}

/// One version of a part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PartReport {
    /// What the shop calls it.
    pub name: String,
    /// Which version.
    pub version: u32,
    /// All versions there are.
    pub versions: Vec<u32>,
    /// Kind of work, as a plan names it.
    pub kind: String,
    /// Keys with their values as TOML.
    pub keys: Vec<(String, String)>,
}

impl Report for PartReport {
    const SCHEMA: &'static str = "pullcast/part/1";

    fn document(&self, _: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        part.title(format!(
            "{}, version {} of {}",
            self.name,
            self.version,
            self.versions.len()
        ));
        part.verbatim("[[change]]")
            .verbatim(format!("kind = \"{}\"", self.kind));
        for (key, value) in &self.keys {
            part.verbatim(format!("{key} = {value}"));
        }
        document
    }
}
