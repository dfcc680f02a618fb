//! One test for each kind of mistake in a shop's files. Each holds the stable code, the file's name, the line, the value
//! found and what was expected, because those five are what a person or a script acts on.

mod fuel_and_driveline;
mod plan_parts;
mod recordings;
mod shop_files;
mod turbine_map;
mod turbo;

use std::fmt::Write as _;
use std::path::PathBuf;

use pullcast::files::{self, Problem, Problems};

const CAR: &str = r#"kind = "car"
version = 1
name = "coupe"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
compression_ratio = 11
redline = "7200 rpm"
[fuel]
research_octane = 95
[driveline]
gear = 1.36
final_drive = 3.9
[wheels]
tyre_radius = "0.31 m"
[drums]
inertia = "240 kg m2"
radius = "0.35 m"
"#;
const PLAN: &str = "kind = \"plan\"\nversion = 1\nname = \"work\"\n";
const WEATHER: &str =
    "temperature = \"15 °C\"\nrelative_humidity = \"60 %\"\nstation_pressure = \"1000 hPa\"\n";

/// Where a mistake must be said to be, and how.
struct Said<'e> {
    code: &'e str,
    line: Option<usize>,
    value: &'e str,
    expected: &'e str,
}

/// A folder of files that vanishes with the test.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a scratch folder"))
    }

    fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).expect("a scratch file");
        path
    }

    /// A visit of one recording; `pull` is more text for its `[[pull]]`.
    fn visit(&self, weather: &str, pull: &str, csv: &str) -> PathBuf {
        self.write("run.csv", csv);
        let text = format!(
            "kind = \"visit\"\nversion = 1\nname = \"baseline\"\n[weather]\n{weather}[[pull]]\nfile = \"run.csv\"\n{pull}"
        );
        self.write("visit.toml", &text)
    }
}

/// A clean recording of `rows` rows under a header.
fn csv(header: &str, rows: usize) -> String {
    let mut text = format!("{header}\n");
    for row in 0..rows {
        let time = 0.02 * row as f64;
        let rpm = 2000.0 + 500.0 * time;
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{time:.2},{rpm:.1},{:.3}", 0.02 * rpm);
    }
    text
}

const HEADER: &str = "time_s,engine_rpm,wheel_power_kw";

#[track_caller]
fn holds(problem: &Problem, file: &str, expected: &Said<'_>) {
    assert_eq!(problem.code.name(), expected.code, "{problem:?}");
    assert!(problem.file.ends_with(file), "{file}: {problem:?}");
    assert_eq!(problem.line, expected.line, "{problem:?}");
    let found = format!(
        "{} {}",
        problem.value.as_deref().unwrap_or_default(),
        problem.message
    );
    assert!(
        found.contains(expected.value),
        "value {}: {problem:?}",
        expected.value
    );
    let wanted = problem.expected.as_deref().unwrap_or_default();
    assert!(
        wanted.contains(expected.expected),
        "expected {}: {problem:?}",
        expected.expected
    );
}

#[track_caller]
fn only(problems: &Problems, file: &str, expected: &Said<'_>) {
    assert_eq!(problems.len(), 1, "{problems}");
    holds(problems.first().expect("one"), file, expected);
}

#[track_caller]
fn refused<T>(result: Result<T, Problems>) -> Problems {
    match result {
        Ok(_) => panic!("the file was taken"),
        Err(problems) => problems,
    }
}

/// The problems of a car whose text has one thing replaced.
#[track_caller]
fn car(from: &str, to: &str) -> Problems {
    assert!(CAR.contains(from), "{from}");
    refused(files::car::open(
        &Folder::new().write("car.toml", &CAR.replacen(from, to, 1)),
    ))
}

#[track_caller]
fn recording(text: &str) -> Problems {
    refused(files::visit::open(&Folder::new().visit(WEATHER, "", text)))
}
