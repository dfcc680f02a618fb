//! Engines described by catalogue facts alone: how far the program's prediction of a bare car stands from what the catalogue prints of its
//! power and torque, beside the rule of the class median; and where the numbers of `belief::learned` come from.
//!
//!     cargo run --release --example catalogue_engines                       # the tables in the repository
//!     cargo run --release --example catalogue_engines -- FOLDER             # all known tables of a folder
//!     ... -- --draws 40                                                      # fewer draws to a range
//!     ... -- --natural                                                       # without the turbocharged ones, which take ten times as long
//!
//! Known are `engines_1985.csv`, `engines_1993.csv` and `cars_2015.csv`; the last two may not lie in the repository by their licences, and
//! `docs/validation.md` holds what they gave. Two tables of scores: numbers learned with the tenth of the families an engine belongs to left out,
//! and the program as it is.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a study prints its tables"
)]

mod curve;
mod describe;
mod draws;
mod learn;
mod median;
mod prediction;
mod score;
mod stand;
mod table;

use learn::{Learned, NUMBERS, Study};
use prediction::Prediction;
use pullcast::numeric::side_by_side;
use std::path::{Path, PathBuf};
use table::Engine;

/// Parts into which families are dealt to be left out.
const FOLDS: usize = 10;
/// Doubt left on a number of the natural engines when the turbocharged ones are learned.
const SETTLED: f64 = 0.001;

fn main() {
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    let draws = words
        .iter()
        .position(|word| word == "--draws")
        .map_or(100, |at| {
            let count = words.get(at + 1).and_then(|w| w.parse().ok());
            words.drain(at..words.len().min(at + 2));
            count.expect("--draws takes a count")
        });
    let natural = words.iter().position(|word| word == "--natural");
    let natural = natural.map(|at| words.remove(at)).is_some();
    let folder = words.first().map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("validation/data/engine_curves"),
        PathBuf::from,
    );
    let (engines, left_out) = table::engines(&folder);
    for reason in left_out {
        println!("left out, {reason}");
    }
    let believed: Vec<(f64, f64)> = NUMBERS.iter().map(|n| (n.mean, n.sd)).collect();
    let (unblown, blown): (Vec<&Engine>, Vec<&Engine>) = engines.iter().partition(|e| !e.turbo);
    let first = Study::of(&unblown, believed.clone());
    tell("natural engines", &first.learned);
    let mut scored = scores(&unblown, &engines, &first, draws);
    if !natural && !blown.is_empty() {
        // What the natural engines taught stands; the rest is of the turbocharged ones alone.
        let settled = believed
            .iter()
            .enumerate()
            .map(|(i, b)| {
                if i < 7 {
                    (first.learned.numbers[i], b.1.min(SETTLED))
                } else {
                    *b
                }
            })
            .collect();
        let second = Study::of(&blown, settled);
        tell("turbocharged engines", &second.learned);
        for (all, more) in scored
            .iter_mut()
            .zip(scores(&blown, &engines, &second, draws))
        {
            all.extend(more);
        }
    }
    for (title, rows) in ["left out", "the program as it is"]
        .into_iter()
        .zip(&scored)
    {
        println!("\n{title}, per cent\n{}", score::table(rows));
    }
}

fn tell(title: &str, learned: &Learned) {
    println!("\n{title}");
    for (number, value) in NUMBERS.iter().zip(learned.numbers.iter()) {
        println!("  {:<36} {value:+.4}", number.name);
    }
    println!("  doubts {:.3?}", learned.doubts);
}

type Scored<'a> = Vec<(&'a Engine, Option<Prediction>, Option<median::Rule>)>;

/// Predictions of engines left out, and of the program.
fn scores<'a>(some: &[&'a Engine], all: &[Engine], study: &Study, draws: u64) -> [Scored<'a>; 2] {
    let mut families: Vec<_> = some.iter().map(|e| e.family()).collect();
    families.sort_unstable();
    families.dedup();
    let fold = |engine: &Engine| families.binary_search(&engine.family()).unwrap_or(0) % FOLDS;
    let learned: Vec<Learned> = side_by_side(FOLDS, |out| {
        let left_out: Vec<bool> = some.iter().map(|e| fold(e) == out).collect();
        study.without(&left_out)
    });
    let rows = side_by_side(some.len(), |i| {
        let engine = some[i];
        let without = &learned[fold(engine)];
        let rule = median::rule(engine, all);
        [
            (
                engine,
                Prediction::of(&learn::sheet(engine, without), draws),
                rule,
            ),
            (
                engine,
                Prediction::of(&learn::in_use(engine, without), draws),
                rule,
            ),
        ]
    });
    let half = |which: usize| rows.iter().map(|pair| pair[which]).collect();
    [half(0), half(1)]
}
