//! The book under `docs/` against the program it describes: what is listed there exists, and what exists is listed.

use std::collections::HashSet;
use std::path::Path;

use crate::sources::{self, Source, root};

fn page(name: &str) -> String {
    std::fs::read_to_string(root().join("docs").join(name)).expect("the page exists")
}

/// Every page under `docs/`, chapters of the model included.
fn pages() -> Vec<Source> {
    sources::text_files()
        .into_iter()
        .filter(|source| source.path.starts_with("docs/"))
        .filter(|source| {
            Path::new(&source.path)
                .extension()
                .is_some_and(|e| e == "md")
        })
        .collect()
}

#[test]
fn every_number_of_the_catalogue_is_listed_with_the_files() {
    let listed = page("files.md");
    let missing: Vec<&str> = pullcast::belief::parameter::catalogue()
        .map(|parameter| parameter.path)
        .filter(|path| !listed.contains(&format!("| `{path}` |")))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn ranges_and_defaults_are_listed_as_the_catalogue_has_them() {
    let listed = page("files.md");
    let wrong: Vec<String> = pullcast::belief::parameter::catalogue()
        .filter_map(|parameter| {
            let start = format!("| `{}` |", parameter.path);
            let row = listed.lines().find(|line| line.starts_with(&start))?;
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            let range = format!("{} to {}", parameter.range.0, parameter.range.1);
            let default = pullcast::files::starter::default_of(parameter);
            // Two of a turbocharger, which the example has not, follow from its engine.
            let default = default.as_deref().unwrap_or(match parameter.path {
                "blower.turbine_area" | "blower.turbo_inertia" => "from engine and boost",
                _ => "must be given",
            });
            let good = cells.get(3) == Some(&range.as_str())
                && cells.get(4).is_some_and(|cell| cell.starts_with(default))
                && cells.get(5) == Some(&parameter.meaning);
            (!good).then(|| format!("{row}: {range}, {default}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_listed_number_is_in_the_catalogue() {
    let unknown: Vec<String> = page("files.md")
        .split("Numbers in doubt")
        .nth(1)
        .and_then(|rest| rest.split("\n## ").next())
        .expect("the table of numbers in doubt")
        .lines()
        .filter_map(|line| line.strip_prefix("| `")?.split_once('`'))
        .map(|(path, _)| path.to_owned())
        .filter(|path| pullcast::belief::parameter::find(path).is_none())
        .collect();
    assert!(unknown.is_empty(), "{unknown:?}");
}

/// Every key of every kind of work, its unit, range, doubt and default, as the program has them.
#[test]
fn the_table_of_a_plan_says_what_the_program_reads() {
    let page = page("files.md");
    let listed: Vec<&str> = page
        .split("| `kind` | key |")
        .nth(1)
        .and_then(|rest| rest.split("\n\n").next())
        .expect("the table of changes")
        .lines()
        .skip(2)
        .collect();
    let read = pullcast::parts::reference();
    let read: Vec<&str> = read.lines().collect();
    let unlike: Vec<_> = listed
        .iter()
        .zip(&read)
        .filter(|(listed, read)| listed != read)
        .collect();
    assert!(
        unlike.is_empty() && listed.len() == read.len(),
        "{unlike:#?}"
    );
}

#[test]
fn every_check_and_its_data_are_listed() {
    let listed = page("validation.md");
    let list = std::fs::read_to_string(root().join("validation/main.rs")).expect("the list");
    let topics = list
        .lines()
        .filter_map(|line| line.strip_prefix("mod ")?.strip_suffix(';'));
    for topic in topics {
        assert!(listed.contains(&format!("| `{topic}` |")), "{topic}");
    }
    for folder in std::fs::read_dir(root().join("validation/data")).expect("the data") {
        let name = folder.expect("an entry").file_name();
        let name = name.to_string_lossy();
        assert!(listed.contains(&format!("`{name}`")), "{name}");
    }
}

/// Folders and files of the source that a page names in code marks, as `folder::file` after a heading `(model/…)`
/// are prose; only paths with a slash are followed.
fn paths(text: &str) -> Vec<String> {
    let inside = text.split('`').skip(1).step_by(2);
    inside
        .filter(|word| {
            ["model/", "validation/", "tests/", "docs/", "scenarios/"]
                .iter()
                .any(|top| word.starts_with(top))
        })
        .filter(|word| !word.contains(['…', '*', '<', ' ']))
        .map(str::to_owned)
        .collect()
}

/// Names a source file gives to something: items, and the module it is itself.
fn names(source: &Source) -> impl Iterator<Item = String> {
    let module = source
        .path
        .trim_end_matches("/mod.rs")
        .trim_end_matches(".rs");
    let module = module.rsplit('/').next().unwrap_or(module).to_owned();
    let code = source.code();
    let words: Vec<String> = code
        .split(|c: char| !(c.is_alphanumeric() || c == '_'))
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect();
    let items: Vec<String> = words
        .windows(2)
        .filter(|pair| ["fn", "struct", "enum", "const", "mod"].contains(&pair[0].as_str()))
        .map(|pair| pair[1].clone())
        .collect();
    items.into_iter().chain([module])
}

#[test]
fn every_place_of_an_equation_exists() {
    let known: HashSet<String> = sources::rust_files()
        .iter()
        .filter(|source| source.path.starts_with("model/"))
        .flat_map(names)
        .collect();
    let pages = pages();
    let places = pages
        .iter()
        .filter(|page| page.path.starts_with("docs/model"))
        .flat_map(|page| page.text.split('`').skip(1).step_by(2))
        .filter(|word| word.contains("::"));
    let missing: Vec<&str> = places
        .filter(|place| place.split("::").any(|name| !known.contains(name)))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn every_path_named_in_the_book_exists() {
    let mut pages: Vec<String> = pages().into_iter().map(|page| page.text).collect();
    assert!(pages.len() > 10, "the book's pages were not found");
    pages.push(std::fs::read_to_string(root().join("DEVELOPERS.md")).expect("the page exists"));
    let missing: Vec<String> = pages
        .iter()
        .flat_map(|text| paths(text))
        .filter(|path| !Path::new(&root()).join(path).exists())
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}
