//! The house rules that no compiler knows: short files that say what they are for, formulas with a source, data with a
//! licence, documented commands that exist, and nothing of any one machine in the text.

use std::path::Path;

use crate::sources::{self, Source, root};

/// Past this length a file has a second subject.
const LONGEST: usize = 600;

/// Device folders: every formula in them names where it comes from.
const DEVICES: [&str; 7] = [
    "air",
    "engine",
    "boost",
    "cooling",
    "driveline",
    "electric",
    "cycle",
];

/// Ways to own up to a formula's origin, in small letters.
const ORIGINS: [&str; 5] = [
    "source:",
    "from memory",
    "common practice, no source",
    "no source, assumed",
    "derived",
];

fn complain(wrong: &[String]) {
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn no_rust_file_is_longer_than_one_subject() {
    let long = sources::rust_files().into_iter().filter_map(|s| {
        let lines = s.text.lines().count();
        (lines > LONGEST).then(|| format!("{}: {lines} lines", s.path))
    });
    complain(&long.collect::<Vec<_>>());
}

#[test]
fn every_rust_file_opens_by_saying_what_it_is_for() {
    let silent = sources::rust_files()
        .into_iter()
        .filter(|s| !s.text.starts_with("//! "));
    complain(&silent.map(|s| s.path).collect::<Vec<_>>());
}

/// Whether a text names a folder of some machine: a first-level system folder at the start of a path.
fn machine_path(line: &str) -> Option<&'static str> {
    // Written in halves so that this file does not name them itself.
    const HALVES: [(&str, &str, &str); 5] = [
        ("/ho", "me/", "home"),
        ("/wo", "rk/", "work"),
        ("/t", "mp/", "tmp"),
        ("/ro", "ot/", "root"),
        ("/Us", "ers/", "users"),
    ];
    HALVES.iter().find_map(|(a, b, name)| {
        let path = format!("{a}{b}");
        let starts = line.match_indices(&path).any(|(at, _)| {
            !line[..at].ends_with(|c: char| c.is_alphanumeric() || "._-)]}>~$".contains(c))
        });
        starts.then_some(*name)
    })
}

#[test]
fn no_text_names_a_folder_of_one_machine() {
    let mut wrong = Vec::new();
    for source in sources::text_files() {
        for (number, line) in source.text.lines().enumerate() {
            if let Some(name) = machine_path(line) {
                wrong.push(format!(
                    "{}:{}: names a `{name}` folder",
                    source.path,
                    number + 1
                ));
            }
        }
    }
    complain(&wrong);
    assert!(machine_path(&["read \"/ho", "me/x/y\""].concat()).is_some());
    assert!(machine_path(&["docs.example.org/ho", "me/x"].concat()).is_none());
}

#[test]
fn every_data_folder_names_its_source_and_licence() {
    let data = root().join("validation/data");
    let mut wrong = Vec::new();
    let mut folders = 0;
    for entry in std::fs::read_dir(&data).expect("validation/data exists") {
        let folder = entry.expect("a readable entry").path();
        if !folder.is_dir() {
            wrong.push(format!(
                "{}: data belongs in a folder with a README.md",
                folder.display()
            ));
            continue;
        }
        folders += 1;
        let text = std::fs::read_to_string(folder.join("README.md")).unwrap_or_default();
        let text = text.to_lowercase();
        let licensed = text.contains("licence") || text.contains("license");
        if !(text.contains("source") && licensed) {
            wrong.push(format!(
                "{}: README.md must name source and licence",
                folder.display()
            ));
        }
    }
    complain(&wrong);
    assert!(folders > 0, "no data folder was found");
}

/// Versions of a package that a lock file holds.
fn locked_versions<'l>(lock: &'l str, package: &str) -> Vec<&'l str> {
    let name = format!("name = \"{package}\"");
    let mut lines = lock.lines();
    let mut versions = Vec::new();
    while lines.any(|line| line == name) {
        versions.extend(
            lines
                .next()
                .and_then(|line| line.strip_prefix("version = ")),
        );
    }
    versions
}

/// The integrator's vectors are the fit's only while both come from one nalgebra; a second one would also double the build.
#[test]
fn there_is_one_nalgebra() {
    let lock = std::fs::read_to_string(root().join("Cargo.lock")).expect("the lock file");
    let versions = locked_versions(&lock, "nalgebra");
    assert_eq!(versions.len(), 1, "{versions:?}");
    let two = "[[package]]\nname = \"a\"\nversion = \"1\"\n\n[[package]]\nname = \"a\"\nversion = \"2\"\n";
    assert_eq!(locked_versions(two, "a"), ["\"1\"", "\"2\""]);
}

/// Doc comment blocks with the number of their first line.
fn doc_blocks(text: &str) -> Vec<(usize, String)> {
    let mut blocks: Vec<(usize, String)> = Vec::new();
    let mut open = false;
    for (number, line) in text.lines().enumerate() {
        let line = line.trim_start();
        let doc = line
            .strip_prefix("///")
            .or_else(|| line.strip_prefix("//!"));
        match (doc, blocks.last_mut()) {
            (Some(doc), Some((_, block))) if open => {
                block.push_str(doc);
                block.push('\n');
            }
            (Some(doc), _) => blocks.push((number + 1, format!("{doc}\n"))),
            (None, _) => {}
        }
        open = doc.is_some();
    }
    blocks
}

/// Whether a doc block shows an equation: a line with an equals sign in a fenced `text` block, or set in by four spaces.
fn shows_equation(block: &str) -> bool {
    let mut fence = None;
    block.lines().any(|line| {
        if let Some(language) = line.trim_start().strip_prefix("```") {
            fence = fence.is_none().then(|| language.trim().to_owned());
            return false;
        }
        let formula = match &fence {
            Some(language) => language == "text",
            None => line.starts_with("     "),
        };
        formula && line.contains('=')
    })
}

fn names_origin(text: &str) -> bool {
    // Line breaks may fall inside a phrase.
    let flat = text
        .to_lowercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    ORIGINS.iter().any(|origin| flat.contains(origin))
}

fn in_device(source: &Source) -> bool {
    DEVICES.iter().any(|d| {
        source.path.starts_with(&format!("model/{d}/")) || source.path == format!("model/{d}.rs")
    })
}

#[test]
fn every_equation_in_a_device_names_its_source() {
    let mut wrong = Vec::new();
    for source in sources::rust_files().iter().filter(|s| in_device(s)) {
        for (line, block) in doc_blocks(&source.text) {
            if shows_equation(&block) && !names_origin(&block) {
                wrong.push(format!(
                    "{}:{line}: an equation without a source",
                    source.path
                ));
            }
        }
        let computes = sources::squeezed(&source.code()).contains("fn ");
        if computes && !source.text.contains("Source:") {
            wrong.push(format!(
                "{}: no 'Source:' line in the whole file",
                source.path
            ));
        }
    }
    complain(&wrong);
}

#[test]
fn an_equation_without_a_source_would_be_seen() {
    let blocks =
        doc_blocks("/// Torque, N m.\n///\n///     T = P / ω\n///\n/// Holds always.\nfn f() {}\n");
    assert_eq!(blocks.len(), 1);
    assert!(shows_equation(&blocks[0].1) && !names_origin(&blocks[0].1));
    assert!(names_origin("Holds always. Common\n practice, no source."));
    assert!(shows_equation(" ```text\n T = P / ω\n ```\n"));
    assert!(!shows_equation(" ```\n     let t = 1;\n ```\n"));
}

/// Words of a shell line that look like a file of the project.
fn files_named(line: &str) -> impl Iterator<Item = &str> {
    line.split_whitespace().filter(|word| {
        let plain = word
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || "._-/".contains(c));
        plain && word.contains('/') && !word.starts_with('-')
    })
}

/// Lines inside the fenced blocks of a page that call this program.
fn commands(page: &str) -> Vec<String> {
    let mut fenced = false;
    let mut lines = Vec::new();
    let joined = page.replace("\\\n", " ");
    for line in joined.lines() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
            continue;
        }
        let line = line.trim_start().trim_start_matches("$ ");
        if fenced && (line.starts_with("cargo ") || line.starts_with("pullcast ")) {
            lines.push(line.split('#').next().unwrap_or(line).trim().to_owned());
        }
    }
    lines
}

/// The verb of a command that calls this program.
fn verb(command: &str) -> Option<&str> {
    let arguments = match command.strip_prefix("pullcast ") {
        Some(rest) => rest,
        None if command.starts_with("cargo run") => command.split_once(" -- ")?.1,
        None => return None,
    };
    arguments
        .split_whitespace()
        .next()
        .filter(|word| word.starts_with(char::is_alphabetic))
}

#[test]
fn documented_commands_and_their_files_exist() {
    let mut wrong = Vec::new();
    for page in ["README.md", "DEVELOPERS.md"] {
        let Ok(text) = std::fs::read_to_string(root().join(page)) else {
            continue;
        };
        for command in commands(&text) {
            if let Some(verb) = verb(&command) {
                let mut program = std::process::Command::new(env!("CARGO_BIN_EXE_pullcast"));
                let help = program
                    .args([verb, "--help"])
                    .output()
                    .expect("the program starts");
                let shown = String::from_utf8_lossy(&help.stdout);
                if !(help.status.success() && shown.contains(verb)) {
                    wrong.push(format!("{page}: no verb `{verb}` in: {command}"));
                }
            }
            // Inputs live in the folders below; anything else named may be an output.
            for file in files_named(&command).filter(|f| f.starts_with("scenarios/")) {
                if !Path::new(&root()).join(file).exists() {
                    wrong.push(format!("{page}: `{file}` does not exist, in: {command}"));
                }
            }
        }
    }
    complain(&wrong);
}

#[test]
fn commands_are_found_in_fenced_blocks_only() {
    let page = "cargo run no\n```sh\n$ cargo run --release -- fit scenarios/a/car.toml \\\n   b/c.csv  # why\npullcast quote\nls\n```\n";
    let found = commands(page);
    assert_eq!(found.len(), 2);
    assert_eq!(
        found.iter().map(|c| verb(c)).collect::<Vec<_>>(),
        [Some("fit"), Some("quote")]
    );
    assert_eq!(
        files_named(&found[0]).collect::<Vec<_>>(),
        ["scenarios/a/car.toml", "b/c.csv"]
    );
    assert_eq!(verb("cargo test"), None);
}
