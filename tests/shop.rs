//! A small shop for the tests of the program: its files, and the program run in its folder.
//!
//! The files are written here, so that each test shows what it feeds the program. Measured pulls are made by the program
//! itself from a car that reads 4 % more than described, so a fit has something to find.

use assert_cmd::Command;
use serde_json::Value;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

pub(crate) const CAR: &str = r#"kind = "car"
version = 1
name = "coupe"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
compression_ratio = 11
redline = "7000 rpm"
[fuel]
research_octane = 98
[driveline]
gear = 1.36
final_drive = 3.9
[wheels]
tyre_radius = "0.31 m"
[drums]
inertia = "90 kg m2"
radius = "0.35 m"
"#;
const PLAN: &str = r#"kind = "plan"
version = 1
name = "screw blower"
[[change]]
kind = "displacement blower"
rotors = "screw"
displacement = "0.7 L/rev"
drive_ratio = 2.0
[[change]]
kind = "charge cooler"
cooling = "air to water"
effectiveness = "75 %"
reference_flow = "200 g/s"
pressure_drop = "5 kPa"
"#;
pub(crate) const WEATHER: &str = r#"kind = "weather"
version = 1
temperature = "14 °C"
relative_humidity = "71 %"
station_pressure = "911 hPa"
altitude = "900 m"
"#;
pub(crate) const VISIT: &str = r#"kind = "visit"
version = 1
name = "baseline"
[weather]
temperature = "14 °C"
relative_humidity = "71 %"
station_pressure = "911 hPa"
[[pull]]
file = "pull1.csv"
[[pull]]
file = "pull2.csv"
rest_before = "5 min"
"#;

/// What a run of the program left behind.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Ran {
    /// Standard output as JSON of a schema.
    pub(crate) fn json(&self, schema: &str) -> Value {
        let value: Value =
            serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {}", self.out));
        assert_eq!(value["schema"], schema);
        value
    }

    /// Every line of standard error as JSON.
    pub(crate) fn records(&self) -> Vec<Value> {
        self.err
            .lines()
            .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}")))
            .collect()
    }
}

/// A shop's folder that vanishes with the test.
pub(crate) struct Shop(tempfile::TempDir);

/// The program run in a folder, its text with all details.
pub(crate) fn run_in(folder: &Path, arguments: &str) -> Ran {
    answer_in(folder, &format!("{arguments} --details"), &[])
}

/// The program run in a folder as a user types it, with some variables of the environment.
pub(crate) fn answer_in(folder: &Path, arguments: &str, variables: &[(&str, &str)]) -> Ran {
    let output = Command::cargo_bin("pullcast")
        .expect("the program is built")
        .current_dir(folder)
        .env_remove("COLUMNS")
        .env_remove("NO_COLOR")
        .envs(variables.iter().copied())
        .args(arguments.split_whitespace())
        .output()
        .expect("the program starts");
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    Ran {
        code: output.status.code().expect("an exit code"),
        out: text(&output.stdout),
        err: text(&output.stderr),
    }
}

impl Shop {
    /// With a car, a plan and a weather file.
    pub(crate) fn new() -> Self {
        let shop = Self(tempfile::tempdir().expect("a scratch folder"));
        for (name, text) in [
            ("car.toml", CAR),
            ("plan.toml", PLAN),
            ("weather.toml", WEATHER),
        ] {
            shop.write(name, text);
        }
        shop
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).expect("a scratch file");
    }

    pub(crate) fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.0.path()).expect("a scratch folder");
        let mut names: Vec<String> = entries
            .map(|e| {
                e.expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }

    pub(crate) fn run(&self, arguments: &str) -> Ran {
        run_in(self.0.path(), arguments)
    }

    /// Runs what must go well.
    pub(crate) fn well(&self, arguments: &str) -> Ran {
        let ran = self.run(arguments);
        assert_eq!(ran.code, 0, "{arguments}: {}{}", ran.out, ran.err);
        ran
    }

    /// Adds a visit of two pulls, 20 samples a second, each a scaled copy of the predicted pull.
    pub(crate) fn measure(&self) {
        self.measure_with("predict car.toml --weather weather.toml", false);
    }

    /// The same from another prediction, and with the other channels (pressure, temperature, mixture) as predicted.
    pub(crate) fn measure_with(&self, predict: &str, channels: bool) {
        self.well(&format!("{predict} --csv pull.csv"));
        let text = std::fs::read_to_string(self.path("pull.csv")).expect("the recording");
        let rows: Vec<Vec<f64>> = text
            .lines()
            .skip(1)
            .map(|line| {
                line.split(',')
                    .map(|field| field.parse().expect("a number"))
                    .collect()
            })
            .collect();
        for (name, scale) in [("pull1.csv", 1.037), ("pull2.csv", 1.043)] {
            let mut csv = String::from("time (s),engine speed (rpm),wheel power (kW)");
            if channels {
                csv.push_str(",manifold pressure (kPa absolute),charge temperature (°C),lambda");
            }
            csv.push('\n');
            for pair in rows.windows(2) {
                let steps = ((pair[1][0] - pair[0][0]) / 0.05).ceil();
                let mut k = 0.0;
                while k < steps {
                    let at = |column: usize| {
                        pair[0][column] + k / steps * (pair[1][column] - pair[0][column])
                    };
                    write!(csv, "{:.4},{:.1},{:.3}", at(0), at(1), scale * at(2))
                        .expect("a String takes all");
                    if channels {
                        write!(csv, ",{:.3},{:.2},{:.4}", at(5), at(6), at(7))
                            .expect("a String takes all");
                    }
                    csv.push('\n');
                    k += 1.0;
                }
            }
            self.write(name, &csv);
        }
        self.write("visit.toml", VISIT);
    }
}
