//! The settings that a verb runs with, and where each comes from.

use super::document::Document;
use super::table::TextTable;
use super::{Level, Report, Units};
use serde::Serialize;

/// All settings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ConfigReport {
    /// The profile; none where there is none.
    pub profile: Option<String>,
    /// What may be set.
    pub settings: Vec<Setting>,
}

/// One setting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Setting {
    /// What it is.
    pub name: &'static str,
    /// Its value as shown.
    pub value: String,
    /// Where it comes from.
    pub from: Source,
}

/// Where a setting comes from; a flag goes before the profile, the profile before what is built in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The command line.
    Flag,
    /// The shop's profile.
    Profile,
    /// The program.
    BuiltIn,
}

impl Report for ConfigReport {
    const SCHEMA: &'static str = "pullcast/config/1";

    fn document(&self, _: Units) -> Document {
        let mut document = Document::new();
        let mut table = TextTable::new("l");
        table.head(["setting", "value", "from"]);
        for setting in &self.settings {
            table.row([
                setting.name,
                &setting.value,
                match setting.from {
                    Source::Flag => "the command line",
                    Source::Profile => "the profile",
                    Source::BuiltIn => "the program",
                },
            ]);
        }
        document
            .at(Level::Answer)
            .title(match &self.profile {
                Some(path) => format!("Shop profile: {path}"),
                None => "No shop profile: no pullcast.toml here or above; `new shop pullcast.toml` writes one.".to_owned(),
            })
            .table(table);
        document
    }
}
