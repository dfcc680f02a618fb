//! The folders of `model/` are layers: a folder may import only what its row below allows. The compiler does not hold
//! this, so this test does: it reads the sources and finds every way of naming another folder (`use crate::x`,
//! `use crate::{x, y}`, `crate::x::f()` inline, and `super::` climbing to the root).

use std::collections::BTreeSet;
use std::path::Path;

use crate::sources::{self, Source};

/// Folder (or single file) of `model/` and what it may import. Rows are in order: nothing imports a later row.
const ARROWS: &[(&str, &str)] = &[
    ("units", ""),
    ("numeric", ""),
    ("fuel", "units numeric"),
    ("air", "units numeric"),
    ("engine", "units numeric fuel air"),
    ("boost", "units numeric air"),
    ("cooling", "units numeric air"),
    ("driveline", "units numeric"),
    ("electric", "units numeric"),
    // One cylinder by crank angle: it stands on the engine's own physics and knows no car, so that a car may ask it.
    ("cycle", "units numeric fuel air engine"),
    (
        "car",
        "units numeric fuel air engine boost cooling driveline electric cycle",
    ),
    ("dyno", "units numeric air cooling driveline electric car"),
    (
        "belief",
        "units numeric fuel air engine boost cooling driveline electric cycle car dyno",
    ),
    // A part reads itself from a form, which `files` fills in: it knows no disk.
    (
        "parts",
        "units numeric fuel air engine boost cooling driveline electric cycle car dyno belief",
    ),
    ("drumlog", "units numeric air driveline dyno"),
    ("fit", ABOVE),
    (
        "diagnose",
        "units numeric fuel air driveline car dyno belief fit",
    ),
    ("ask", ABOVE),
    // The only folder that touches the disk.
    ("files", ABOVE),
    ("report", ABOVE),
];

/// Everything in the rows above.
const ABOVE: &str = "*";

/// Words that only the named folder may use. `app` is the program itself.
const RESERVED: &[(&str, &[&str])] = &[
    ("std::fs", &["files"]),
    ("std::time", &["app"]),
    ("println!", &["app"]),
    ("print!", &["app"]),
    ("eprintln!", &["app"]),
    ("eprint!", &["app"]),
    ("dbg!", &[]),
];

fn folders() -> BTreeSet<&'static str> {
    ARROWS.iter().map(|(folder, _)| *folder).collect()
}

fn allowed(folder: &str) -> BTreeSet<&'static str> {
    let row = ARROWS
        .iter()
        .position(|(f, _)| *f == folder)
        .expect("folder has a row");
    match ARROWS[row].1 {
        ABOVE => ARROWS[..row].iter().map(|(f, _)| *f).collect(),
        list => list.split_whitespace().collect(),
    }
}

/// The top-level folder a source file belongs to: `model/air/moist.rs` and `model/air.rs` are both `air`.
fn folder_of(path: &str) -> Option<&str> {
    let inside = path.strip_prefix("model/")?;
    let top = inside.split('/').next()?;
    let top = top.strip_suffix(".rs").unwrap_or(top);
    (top != "lib").then_some(top)
}

/// Steps of `super` from a file's own module up to the crate root.
fn depth(path: &str) -> usize {
    let inside = path.strip_prefix("model/").unwrap_or(path);
    let is_mod = Path::new(inside)
        .file_name()
        .is_some_and(|name| name == "mod.rs");
    inside.split('/').count() - usize::from(is_mod)
}

/// Names of other top-level folders that appear in the code of a file.
fn imports(path: &str, code: &str) -> BTreeSet<String> {
    let squeezed = sources::squeezed(code);
    let mut found = BTreeSet::new();
    for root in sources::occurrences(&squeezed, "crate::") {
        found.extend(first_names(&squeezed[root + "crate::".len()..]));
    }
    for start in sources::occurrences(&squeezed, "super::") {
        if squeezed[..start].ends_with("super::") {
            continue;
        }
        let mut rest = &squeezed[start..];
        let mut climbed = 0;
        while let Some(further) = rest.strip_prefix("super::") {
            climbed += 1;
            rest = further;
        }
        if climbed >= depth(path) + inline_modules(&squeezed[..start]) {
            found.extend(first_names(rest));
        }
    }
    let known = folders();
    found.retain(|name| known.contains(name.as_str()) && folder_of(path) != Some(name));
    found
}

/// How many inline modules (`mod tests {`) are open at the end of this piece of squeezed code.
fn inline_modules(code: &str) -> usize {
    let mut open = Vec::new();
    for (at, c) in code.char_indices() {
        match c {
            '{' => {
                let is_head = |c: char| c.is_alphanumeric() || c == '_' || c == ' ';
                let head = code[..at].rsplit(|c| !is_head(c)).next();
                open.push(head.and_then(|h| h.split(' ').rev().nth(1)) == Some("mod"));
            }
            '}' => {
                open.pop();
            }
            _ => {}
        }
    }
    open.into_iter().filter(|&module| module).count()
}

/// `air::moist` names `air`; `{air, boost::{a, b}, fuel::*}` names three; `*` names everything.
fn first_names(rest: &str) -> Vec<String> {
    let word = |text: &str| -> String {
        text.chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    if rest.starts_with('*') {
        return folders().into_iter().map(str::to_owned).collect();
    }
    let Some(group) = rest.strip_prefix('{') else {
        return vec![word(rest)];
    };
    let mut names = Vec::new();
    let (mut level, mut begin) = (0_usize, 0);
    for (at, c) in group.char_indices() {
        match c {
            '{' => level += 1,
            '}' if level == 0 => {
                names.push(word(&group[begin..at]));
                break;
            }
            '}' => level -= 1,
            ',' if level == 0 => {
                names.push(word(&group[begin..at]));
                begin = at + 1;
            }
            _ => {}
        }
    }
    names
}

fn model_sources() -> Vec<Source> {
    sources::rust_files()
        .into_iter()
        .filter(|s| s.path.starts_with("model/"))
        .collect()
}

#[test]
fn every_folder_imports_only_what_its_row_allows() {
    let mut wrong = Vec::new();
    for source in model_sources() {
        let Some(folder) = folder_of(&source.path) else {
            continue;
        };
        // The program, and the Python module, which is a crate of its own and sees only what the library shows.
        if folder == "app" || folder == "python" {
            continue;
        }
        if !folders().contains(folder) {
            wrong.push(format!("{}: `{folder}` has no row in ARROWS", source.path));
            continue;
        }
        let permitted = allowed(folder);
        for name in imports(&source.path, &source.code()) {
            if !permitted.contains(name.as_str()) {
                wrong.push(format!(
                    "{}: `{folder}` may not import `{name}`",
                    source.path
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn disk_clock_and_printing_stay_where_they_belong() {
    let mut wrong = Vec::new();
    for source in model_sources() {
        let folder = folder_of(&source.path).unwrap_or("lib");
        let code = sources::squeezed(&source.code());
        for (word, places) in RESERVED {
            if !places.contains(&folder) && sources::mentions(&code, word) {
                wrong.push(format!("{}: `{word}` belongs to {places:?}", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_way_of_writing_an_import_is_seen() {
    let seen = |path: &str, code: &str| {
        imports(path, code)
            .into_iter()
            .collect::<Vec<_>>()
            .join(" ")
    };
    for (path, code, expected) in [
        ("model/air/moist.rs", "use crate::engine;", "engine"),
        (
            "model/air/moist.rs",
            "use crate::engine::{Engine, knock::Limit};",
            "engine",
        ),
        (
            "model/air/moist.rs",
            "use crate::{\n    engine::Engine,\n    units, boost::{self, drive},\n};",
            "boost engine units",
        ),
        (
            "model/air/moist.rs",
            "let x = crate :: fit::minimise(p);",
            "fit",
        ),
        (
            "model/air/moist.rs",
            "pub(crate) fn f() -> crate::car::Car {}",
            "car",
        ),
        (
            "model/air/moist.rs",
            "use super::super::engine::Engine;",
            "engine",
        ),
        ("model/air/mod.rs", "use super::engine::Engine;", "engine"),
        ("model/units.rs", "use super::air;", "air"),
        (
            "model/air/mod.rs",
            "use crate::*;",
            "ask belief boost car cooling cycle diagnose driveline drumlog dyno electric engine files fit fuel numeric parts report units",
        ),
        (
            "model/air/mod.rs",
            "fn f() {}\nmod tests { use super::*; use super::super::fuel; }",
            "fuel",
        ),
        (
            "model/air/mod.rs",
            "mod tests { fn g() {} } use super::fuel;",
            "fuel",
        ),
        // Not imports of another folder: its own, a neighbour file of the same name, and words of prose.
        (
            "model/air/moist.rs",
            "use crate::air::flow; use super::flow;",
            "",
        ),
        ("model/parts/plan.rs", "use super::boost::Blower;", ""),
        (
            "model/air/moist.rs",
            "// see crate::engine\n/* crate::fit */ let s = \"crate::car\";",
            "",
        ),
        ("model/air/moist.rs", "use mycrate::engine;", ""),
    ] {
        assert_eq!(
            seen(path, &sources::code_only(code)),
            expected,
            "{path}: {code}"
        );
    }
}

#[test]
fn reserved_words_are_seen_in_groups_too() {
    for (code, word, expected) in [
        ("use std::fs;", "std::fs", true),
        ("use std::{fmt, fs::File};", "std::fs", true),
        ("std::fs::read(p)", "std::fs", true),
        ("use std::fmt;", "std::fs", false),
        ("use std::{fmt, path::Path};", "std::fs", false),
        ("eprintln!(\"x\")", "println!", false),
        ("println!(\"x\")", "println!", true),
        ("let t = \"println!\";", "println!", false),
    ] {
        let code = sources::squeezed(&sources::code_only(code));
        assert_eq!(sources::mentions(&code, word), expected, "{code}");
    }
}
