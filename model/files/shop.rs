//! The shop's profile: what is the same for every car, stated once.
//!
//! ```text
//! kind = "shop"
//! version = 1
//! name = "Cold Hill Performance"
//! units = "metric"
//! standard = "sae-j1349"
//! [[rig]]
//! name = "linked drums"
//! [rig.drums]
//! inertia = "240 kg m2"
//! radius = "0.35 m"
//! [[pump]]
//! name = "95"
//! [pump.fuel]
//! research_octane = 95
//! ```
//!
//! It lies in the working folder or in one above it, under the name [`NAME`]. A car file without `drums` stands on the first rig, or on the one it names
//! (`rig = "linked drums"`); one without `fuel` is filled from the first pump, or from the one it names (`fuel = "95"`). It refuses to
//! say anything of a car.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::belief::{self, Stated};
use super::car::{self, CarFile};
use super::diagnostic::{Code, Excerpt, Problem, Problems};
use super::encoding::{TOML_LIMIT_BYTES, decode_utf8, read_bytes};
use super::inputs::nearest_above;
use super::table::{Table, TomlFile};
use crate::belief::Noise;
use crate::dyno::correction::Standard;
use crate::units::Dimension;

/// Its name.
pub const NAME: &str = "pullcast.toml";
/// A car file names a rig or a pump that the shop does not have.
pub const NOT_IN_THE_SHOP: Code = Code::new("not_in_the_shop");

/// Days that a quote may hold.
const HOLDS_DAYS: std::ops::RangeInclusive<i64> = 1..=3650;
/// Repeatability that makes sense, relative standard deviation: below is no drum, above is none to promise by.
const REPEATS: std::ops::RangeInclusive<f64> = 0.001..=0.1;

/// Units that are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShownUnits {
    /// kW, N m.
    Metric,
    /// hp, lb ft.
    Shop,
}

/// A rig or a pump: a name, and the table of a car file it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stock {
    /// What the shop calls it.
    pub name: String,
    /// The table's lines.
    pub lines: String,
}

/// What the profile says; everything may be left out.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ShopFile {
    /// Where it lies; none where there is no profile.
    pub path: Option<PathBuf>,
    /// Name of the shop.
    pub name: Option<String>,
    /// Further lines of its letterhead.
    pub letterhead: Vec<String>,
    /// Units shown.
    pub units: Option<ShownUnits>,
    /// Correction shown first.
    pub standard: Option<Standard>,
    /// How long a quote holds, days.
    pub holds_days: Option<u16>,
    /// What the shop wants minded on every sheet.
    pub cautions: Vec<String>,
    /// Repeatability from visit to visit, relative standard deviation.
    pub visit: Option<f64>,
    /// Repeatability from pull to pull.
    pub pull: Option<f64>,
    /// The rigs, the usual one first.
    pub rigs: Vec<Stock>,
    /// The fuels on sale, the usual one first.
    pub pumps: Vec<Stock>,
}

impl ShopFile {
    /// How far measurements stray in this shop.
    pub fn noise(&self) -> Noise {
        let usual = Noise::default();
        Noise {
            visit: self.visit.unwrap_or(usual.visit),
            pull: self.pull.unwrap_or(usual.pull),
            ..usual
        }
    }
}

/// The profile of a folder: in it, or in the nearest one above; none where there is none.
pub fn find(folder: &Path) -> Option<PathBuf> {
    nearest_above(folder, NAME)
}

/// Reads a profile from disk.
pub fn open(path: &Path) -> Result<(ShopFile, Problems), Problems> {
    let file = TomlFile::open(path)?;
    let (mut shop, problems) = file.read(shop)?;
    let root: toml::Table = toml::from_str(file.excerpt().text()).unwrap_or_default();
    shop.path = Some(path.to_owned());
    shop.rigs = stock(&root, "rig", "drums");
    shop.pumps = stock(&root, "pump", "fuel");
    Ok((shop, problems))
}

/// Reads the keys of a profile, all but the lines of its rigs and pumps.
pub(super) fn shop(root: &mut Table<'_>) -> Option<ShopFile> {
    car::head(root, "shop")?;
    let standards: Vec<(&str, Standard)> = Standard::all().map(|s| (s.id(), s)).collect();
    let units = [("metric", ShownUnits::Metric), ("shop", ShownUnits::Shop)];
    let shop = ShopFile {
        path: None,
        name: root.optional_text("name"),
        letterhead: root.optional_texts("letterhead").unwrap_or_default(),
        units: root.optional_choice("units", &units),
        standard: root.optional_choice("standard", &standards),
        holds_days: root
            .optional_integer("quote_holds_days", HOLDS_DAYS)
            .and_then(|days| u16::try_from(days).ok()),
        cautions: root.optional_texts("cautions").unwrap_or_default(),
        visit: belief::plain(root, "visit_repeatability", Dimension::Ratio, REPEATS),
        pull: belief::plain(root, "pull_repeatability", Dimension::Ratio, REPEATS),
        rigs: Vec::new(),
        pumps: Vec::new(),
    };
    let mut stated = Stated::default();
    root.tables("rig", |rig| {
        rig.text("name");
        rig.subtable("drums", |table| car::drums(table, &mut stated))
    });
    root.tables("pump", |pump| {
        pump.text("name");
        pump.subtable("fuel", |table| car::fuel(table, &mut stated))
    });
    Some(shop)
}

/// The tables of a list, each with its name.
fn stock(root: &toml::Table, list: &str, table: &str) -> Vec<Stock> {
    let entries = root.get(list).and_then(toml::Value::as_array);
    let one = |entry: &toml::Value| {
        Some(Stock {
            name: entry.get("name")?.as_str()?.to_owned(),
            lines: toml::to_string(entry.get(table)?).ok()?,
        })
    };
    entries.into_iter().flatten().filter_map(one).collect()
}

/// What a car file took from the profile.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Taken {
    /// Name of the rig.
    pub rig: Option<String>,
    /// Name of the pump.
    pub pump: Option<String>,
}

/// Reads a car file from disk, what it leaves to the profile taken from there.
pub fn open_car(path: &Path, shop: &ShopFile) -> Result<(CarFile, Taken, Problems), Problems> {
    let name = path.display().to_string();
    let text = decode_utf8(&name, read_bytes(path, TOML_LIMIT_BYTES)?)?;
    let (text, taken) = completed(&name, &text, shop)?;
    let (car, problems) = if taken == Taken::default() {
        car::open(path)?
    } else {
        let file = TomlFile::parse(&name, &text)?;
        car::read(&file, path.parent().unwrap_or(Path::new("")))?
    };
    Ok((car, taken, problems))
}

/// The text of a car file with the tables that it leaves to the profile behind its own lines.
fn completed(name: &str, text: &str, shop: &ShopFile) -> Result<(String, Taken), Problems> {
    let mut taken = Taken::default();
    let (root, errors) = DeTable::parse_recoverable(text);
    let root = root.get_ref();
    if shop.path.is_none() || !errors.is_empty() || !is_car(root) {
        return Ok((text.to_owned(), taken));
    }
    let mut problems = Problems::new();
    let mut whole = text.to_owned();
    let mut added = String::new();
    // From the last line up, so that places found before stay where they are.
    let mut lines = Vec::new();
    for (key, table, stock, what) in [
        ("rig", "drums", &shop.rigs, "rig"),
        ("fuel", "fuel", &shop.pumps, "pump"),
    ] {
        let named = root.iter().find_map(|(k, v)| match v.get_ref() {
            DeValue::String(word) if k.get_ref() == key => {
                Some((k.span().start, v.span(), word.to_string()))
            }
            _ => None,
        });
        if named.is_none() && root.contains_key(table) {
            continue;
        }
        let found = match &named {
            Some((_, _, word)) => stock.iter().find(|one| one.name == *word),
            None => stock.first(),
        };
        match (found, &named) {
            (Some(found), _) => {
                let _ = write!(added, "\n[{table}]\n{}", found.lines);
                lines.extend(named.as_ref().map(|(start, _, _)| *start));
                let name = Some(found.name.clone());
                if what == "rig" {
                    taken.rig = name;
                } else {
                    taken.pump = name;
                }
            }
            (None, Some((_, span, word))) => {
                let has: Vec<String> = stock
                    .iter()
                    .map(|one| format!("\"{}\"", one.name))
                    .collect();
                let message = format!("the shop's profile has no {what} '{word}'");
                let excerpt = Arc::new(Excerpt::whole(name, text));
                let problem = Problem::at(NOT_IN_THE_SHOP, &excerpt, span.clone(), message);
                problems.push(problem.expected(if has.is_empty() {
                    format!("a [[{what}]] in {NAME}, or a table [{table}] here")
                } else {
                    format!("one of: {}", has.join(", "))
                }));
            }
            (None, None) => {}
        }
    }
    if problems.has_errors() {
        return Err(problems);
    }
    lines.sort_unstable();
    for start in lines.into_iter().rev() {
        whole.insert_str(start, "# ");
    }
    if !whole.ends_with('\n') {
        whole.push('\n');
    }
    Ok((whole + &added, taken))
}

fn is_car(root: &DeTable<'_>) -> bool {
    matches!(root.get("kind").map(toml::Spanned::get_ref), Some(DeValue::String(word)) if word == "car")
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHOP: &str = "kind = \"shop\"\nversion = 1\nname = \"Cold Hill\"\n[[rig]]\nname = \"linked\"\n[rig.drums]\ninertia = \"240 kg m2\"\n\
        radius = \"0.35 m\"\n[[rig]]\nname = \"old\"\n[rig.drums]\ninertia = \"90 kg m2\"\nradius = \"0.3 m\"\n[[pump]]\nname = \"98\"\n\
        [pump.fuel]\nresearch_octane = 98\n";
    /// Twelve lines.
    const CAR: &str = "kind = \"car\"\nversion = 1\nname = \"coupe\"\nwheels.tyre_radius = \"0.31 m\"\ndriveline.gear = 1.36\n\
        driveline.final_drive = 3.9\n[engine]\ncylinders = 4\nbore = \"86 mm\"\nstroke = \"86 mm\"\ncompression_ratio = 11\n\
        redline = \"7000 rpm\"\n";

    struct Folder(tempfile::TempDir);

    impl Folder {
        fn new() -> Self {
            let folder = tempfile::tempdir().expect("a scratch folder");
            std::fs::write(folder.path().join(NAME), SHOP).expect("a profile");
            Self(folder)
        }

        fn car(&self, text: &str) -> Result<(CarFile, Taken, Problems), Problems> {
            let path = self.0.path().join("car.toml");
            std::fs::write(&path, text).expect("a car");
            let (shop, _) = open(&find(self.0.path()).expect("found")).expect("sound");
            open_car(&path, &shop)
        }
    }

    #[test]
    fn a_car_file_of_twelve_lines_stands_on_the_shops_drums() {
        assert_eq!(CAR.lines().count(), 12);
        let folder = Folder::new();
        let (car, taken, _) = folder.car(CAR).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(taken.rig.as_deref(), Some("linked"));
        assert_eq!(taken.pump.as_deref(), Some("98"));
        assert_eq!(car.sheet.centre.drums.inertia_kg_m2, 240.0);
        // What is written of it later stands alone.
        assert!(car.text.text().contains("[drums]"));
    }

    #[test]
    fn a_rig_is_named_and_a_table_of_the_cars_own_comes_first() {
        let folder = Folder::new();
        let (car, taken, _) = folder
            .car(&format!("rig = \"old\"\n{CAR}"))
            .unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(
            (taken.rig.as_deref(), car.sheet.centre.drums.inertia_kg_m2),
            (Some("old"), 90.0)
        );
        let own = format!("{CAR}[drums]\ninertia = \"100 kg m2\"\nradius = \"0.35 m\"\n");
        let (car, taken, _) = folder.car(&own).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(
            (taken.rig, car.sheet.centre.drums.inertia_kg_m2),
            (None, 100.0)
        );
        let problems = folder
            .car(&format!("rig = \"gone\"\n{CAR}"))
            .expect_err("no such rig");
        assert_eq!(problems.with_code(NOT_IN_THE_SHOP).count(), 1, "{problems}");
    }

    #[test]
    fn the_nearest_profile_above_counts() {
        let folder = Folder::new();
        let below = folder.0.path().join("jobs/2026");
        std::fs::create_dir_all(&below).expect("folders");
        assert_eq!(find(&below), Some(folder.0.path().join(NAME)));
        std::fs::write(folder.0.path().join("jobs").join(NAME), SHOP).expect("a profile");
        assert_eq!(find(&below), Some(folder.0.path().join("jobs").join(NAME)));
    }
}
