//! How far quotes of recorded builds stand from what came of them: fits every baseline, quotes every build, and tells by kind of work how
//! the middle errs, how wide the range is, and whether it holds.
//!
//!     cargo run --release --example recorded_builds                      # all sets
//!     cargo run --release --example recorded_builds -- second na_pd      # cases whose set or name holds one of the words
//!     cargo run --release --example recorded_builds -- --out new.csv     # keeps a row per case
//!     cargo run --release --example recorded_builds -- --of new.csv      # tells a kept table again
//!     cargo run --release --example recorded_builds -- --sizes new.csv   # sizes of what the model misses, and their score left out
//!     ... -- --logs 0.25 --out quarter.csv                               # logs of spark and fuel a quarter as doubtful
//!     ... -- --sizes new.csv quarter.csv                                 # that doubt chosen with the sizes
//!     cargo run --release --example recorded_builds -- --in-order new.csv # builds as the closed jobs of one shop, each learned from those before
//!     ... -- --shops 200 new.csv                                         # made-up shops of thirty such jobs, each with a bias of its own
//!     cargo run --release --example recorded_builds -- --cut             # baselines cut short against the rest of them
//!     ... -- --believe combustion.knock_delay=ln1.0,0.35              # another belief: middle and standard deviation, SI; with ln, median and the logarithm's
//!     ... -- --no-log                                                    # as if neither spark nor fuel flow had been logged
//!
//! Beside each figure stands that of the program before this study was made (`data/recorded_builds/earlier.csv`, commit 27a657d). Sets
//! are told apart, because numbers of the earlier program were chosen with the first in view.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a study prints its tables"
)]

#[path = "../cases/build.rs"]
mod build;
#[path = "../cases/car.rs"]
mod car;
mod closed_job;
mod cut;
mod in_order;
#[path = "../cases/plan.rs"]
mod plan;
#[path = "../cases/read.rs"]
mod read;
mod row;
mod score;
mod shop_table;
mod shops;
mod sizes;

use pullcast::belief::sheet::{Belief, Origin, Sheet};
use pullcast::belief::{Noise, Prior, parameter};
use row::Row;
use std::path::{Path, PathBuf};

/// Sets of cases by name.
fn sets() -> [(&'static str, PathBuf); 3] {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data");
    [
        ("first", data.join("recorded_pulls")),
        ("second", data.join("recorded_builds/second")),
        ("third", data.join("recorded_builds/third")),
    ]
}

/// Rows of the earlier program.
fn earlier() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/recorded_builds/earlier.csv")
}

fn main() {
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    let mut option = |name: &str| {
        let at = words.iter().position(|word| word == name)?;
        let value = words.get(at + 1).cloned();
        words.drain(at..words.len().min(at + 2));
        value
    };
    let (out, of, sizes) = (option("--out"), option("--of"), option("--sizes"));
    let logs = option("--logs");
    let in_order = option("--in-order");
    let shops = option("--shops");
    let believe: Vec<Belief> = std::iter::from_fn(|| option("--believe"))
        .map(|text| belief(&text))
        .collect();
    let mut flag = |name: &str| {
        let at = words.iter().position(|word| word == name);
        at.map(|at| words.remove(at)).is_some()
    };
    let how = How {
        noise: noise(logs.as_deref()),
        believe,
        no_log: flag("--no-log"),
    };
    if flag("--cut") {
        print!("{}", cut::study(&cases(&words)));
        return;
    }
    if let Some(count) = shops {
        let count = count.parse().expect("--shops takes a count");
        let table = words.first().expect("a kept table of builds");
        let jobs = in_order::jobs(&row::table(Path::new(table)));
        print!("{}", shop_table::study(count, &jobs));
        return;
    }
    if let Some(path) = in_order {
        print!("{}", in_order::study(&row::table(Path::new(&path))));
        return;
    }
    if let Some(path) = sizes {
        let more = std::mem::take(&mut words);
        let tables = std::iter::once(path).chain(more).map(|path| sizes::Table {
            rows: row::table(Path::new(&path)),
            name: path,
        });
        print!("{}", sizes::study(tables.collect()));
        return;
    }
    let rows = match of {
        Some(path) => row::table(Path::new(&path)),
        None => made(&cases(&words), out.as_deref().map(Path::new), &how),
    };
    let before = row::table(&earlier());
    print!("{}", score::report(&rows, &before));
}

/// How cases are quoted.
#[derive(Debug)]
struct How {
    noise: Noise,
    believe: Vec<Belief>,
    no_log: bool,
}

/// A belief written as `path=middle,sd`, or `path=lnmedian,sd` where it goes by the logarithm.
fn belief(text: &str) -> Belief {
    let (path, numbers) = text
        .split_once('=')
        .expect("--believe takes path=middle,sd");
    let (middle, sd) = numbers
        .split_once(',')
        .expect("--believe takes path=middle,sd");
    let number = |text: &str| -> f64 { text.parse().expect("a number") };
    let sd = number(sd);
    let prior = if let Some(median) = middle.strip_prefix("ln") {
        let (median, far) = (number(median), (6.0 * sd).exp());
        Prior::log_normal(median, sd, median / far, median * far)
    } else {
        let middle = number(middle);
        Prior::normal(middle, sd, middle - 6.0 * sd, middle + 6.0 * sd)
    };
    Belief {
        parameter: parameter::find(path).expect("a number of the catalogue"),
        prior: prior.expect("a spread"),
        origin: Origin::Given,
    }
}

/// A sheet with another belief about one of its numbers; a number the car does not have stays away.
fn believing(sheet: &Sheet, belief: &Belief) -> Sheet {
    let same = |own: &Belief| std::ptr::eq(own.parameter, belief.parameter);
    let beliefs: Vec<Belief> = sheet
        .beliefs
        .iter()
        .map(|own| if same(own) { *belief } else { *own })
        .collect();
    Sheet::new(sheet.centre.clone(), &beliefs).expect("a sheet")
}

/// The usual doubts, with those of the logs of spark and fuel times a factor.
fn noise(logs: Option<&str>) -> Noise {
    let mut noise = Noise::default();
    let times: f64 = logs.map_or(1.0, |text| text.parse().expect("--logs takes a factor"));
    for sensor in [&mut noise.spark, &mut noise.fuel_flow] {
        sensor.offset *= times;
        sensor.shape *= times;
    }
    noise.spark_tilt *= times;
    noise
}

/// Set, name and folder of the cases whose set or name holds one of the words, of all if there is none.
fn cases(words: &[String]) -> Vec<(&'static str, String, PathBuf)> {
    let mut found = Vec::new();
    for (set, folder) in sets() {
        for name in read::names(&folder) {
            let told = format!("{set}/{name}");
            if words.is_empty() || words.iter().any(|word| told.contains(word.as_str())) {
                let place = folder.join(&name);
                found.push((set, name, place));
            }
        }
    }
    found
}

/// Fits and quotes cases, keeping what is done so far.
fn made(cases: &[(&'static str, String, PathBuf)], out: Option<&Path>, how: &How) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (set, name, folder) in cases {
        let mut case = build::read(folder);
        if how.no_log {
            for pull in &mut case.baseline.pulls {
                for band in &mut pull.curve.bands {
                    (band.spark_deg, band.fuel_kg_s) = (None, None);
                }
            }
        }
        for belief in &how.believe {
            case.sheet = believing(&case.sheet, belief);
        }
        let row = Row::of(set, name, &case, how.noise);
        eprintln!("{}", row.told());
        rows.push(row);
        if let Some(path) = out {
            row::keep(path, &rows);
        }
    }
    rows
}
