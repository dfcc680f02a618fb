//! The study behind the doubts of the diagnosis: how it does on recorded cases, with which doubts, from which size a cause is found, and
//! whether two at once are.
//!
//! ```sh
//! cargo bench --bench diagnosis -- sets        # every set with the doubts in use
//! cargo bench --bench diagnosis -- left-out    # doubts chosen with all sets but one, scored on that one; prints the choice
//! cargo bench --bench diagnosis -- left-out 1  # the same with the first of the doubts tried alone: tempers and widths of ranges chosen
//! cargo bench --bench diagnosis -- found       # sizes from which each cause is found
//! cargo bench --bench diagnosis -- pairs       # two faults at once
//! ```
//!
//! Exists apart from the checks because it takes minutes. Without a word it does nothing.

#![allow(clippy::print_stdout, reason = "what it finds is what it is run for")]
#![allow(
    clippy::type_complexity,
    reason = "answers by doubts and set, used in two places"
)]

#[path = "case.rs"]
mod case;
#[path = "../cases"]
mod cases {
    pub(crate) mod car;
    pub(crate) mod read;
}
mod made;
mod score;

use case::{Case, SETS, folder};
use cases::read;
use made::{LADDERS, spoiled};
use pullcast::diagnose::{Cause, Doubts};
use score::{Asked, Score};

/// Doubts tried, each beside those in use.
fn candidates() -> Vec<(&'static str, Doubts)> {
    let now = Doubts::CHOSEN;
    vec![
        ("as in use", now),
        ("no excuse", Doubts { excuse: 0.0, ..now }),
        ("shape known better", Doubts { shape: 0.06, ..now }),
        ("shape known worse", Doubts { shape: 0.3, ..now }),
        (
            "speed known better",
            Doubts {
                speed: 0.015,
                ..now
            },
        ),
        ("size known worse", Doubts { model: 0.35, ..now }),
        ("burn known worse", Doubts { burn: 0.8, ..now }),
    ]
}

fn cases(set: &str) -> Vec<Case> {
    let names = read::names(&folder(set));
    names.iter().map(|name| Case::read(set, name)).collect()
}

fn sets() {
    for set in SETS {
        let mut score = Score::default();
        for case in cases(set) {
            for asked in Asked::of(&case, Doubts::CHOSEN, true) {
                println!("{}", asked.line(Doubts::CHOSEN));
                score.add(&asked, Doubts::CHOSEN);
            }
        }
        println!("{set}: {score}");
    }
}

/// Tempers and widths tried on answers at hand.
const TEMPERS: [f64; 9] = [0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7, 1.0];
const WIDTHS: [f64; 8] = [0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0];

/// The doubts under which the answers of some sets are likeliest to be true, with the width of ranges that holds nine sizes in ten.
fn chosen<'a>(
    answers: &'a [(&'static str, Doubts, Vec<(&'static str, Asked)>)],
    with: impl Fn(&str) -> bool,
) -> (&'a str, Doubts) {
    let mut best = (f64::NEG_INFINITY, "", Doubts::CHOSEN);
    for (name, doubts, asked) in answers {
        let inside: Vec<&Asked> = asked.iter().filter(|a| with(a.0)).map(|a| &a.1).collect();
        let mut own = *doubts;
        let mut total = 0.0;
        for one in [false, true] {
            let log = |temper: f64| -> f64 {
                let of = inside.iter().filter(|a| (a.good == 1) == one);
                of.map(|a| a.chance(temper).max(1e-4).ln()).sum()
            };
            let temper = TEMPERS
                .into_iter()
                .max_by(|a, b| log(*a).total_cmp(&log(*b)));
            let temper = temper.unwrap_or(0.5);
            total += log(temper);
            if one {
                own.temper_of_one = temper;
            } else {
                own.temper = temper;
            }
        }
        if total > best.0 {
            best = (total, name, own);
        }
    }
    let (_, name, mut doubts) = best;
    let found = answers.iter().find(|a| a.0 == name);
    let inside = found.iter().flat_map(|a| &a.2).filter(|a| with(a.0));
    let sizes: Vec<f64> = inside.flat_map(|a| a.1.needs()).collect();
    let held = |width: f64| sizes.iter().filter(|needs| **needs <= width).count() as f64;
    let enough = WIDTHS
        .into_iter()
        .find(|w| held(*w) >= 0.9 * sizes.len() as f64);
    doubts.size = enough.unwrap_or(WIDTHS[WIDTHS.len() - 1]);
    (name, doubts)
}

/// Answers by stated chance: how many, and how many were right.
fn reliability(score: &Score) -> String {
    let edges = [0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01];
    let rows = edges.windows(2).map(|edge| {
        let inside = score
            .stated
            .iter()
            .filter(|s| (edge[0]..edge[1]).contains(&s.0));
        let all: Vec<&(f64, bool)> = inside.collect();
        let right = all.iter().filter(|s| s.1).count();
        let mean = all.iter().map(|s| s.0).sum::<f64>() / all.len().max(1) as f64;
        format!(
            "| {:.2} to {:.2} | {} | {mean:.2} | {right} |",
            edge[0],
            edge[1].min(1.0),
            all.len()
        )
    });
    let rows: Vec<String> = rows.collect();
    format!(
        "| stated | answers | mean | right |\n| --- | --- | --- | --- |\n{}",
        rows.join("\n")
    )
}

fn left_out(tried: usize) {
    let all: Vec<(&str, Vec<Case>)> = SETS.into_iter().map(|set| (set, cases(set))).collect();
    let answers: Vec<_> = candidates()
        .into_iter()
        .take(tried)
        .map(|(name, doubts)| {
            let asked = all
                .iter()
                .flat_map(|(set, cases)| cases.iter().map(move |case| (*set, case)))
                .flat_map(|(set, case)| {
                    let asked = Asked::of(case, doubts, false);
                    asked.into_iter().map(move |a| (set, a))
                });
            let asked: Vec<(&'static str, Asked)> = asked.collect();
            let score = asked.iter().fold(Score::default(), |mut score, a| {
                score.add(&a.1, doubts);
                score
            });
            println!("{name}: {score}");
            (name, doubts, asked)
        })
        .collect();
    let mut together = Score::default();
    for left in SETS {
        let (name, doubts) = chosen(&answers, |set| set != left);
        let mut score = Score::default();
        let own = answers.iter().find(|a| a.0 == name);
        for (set, asked) in own.iter().flat_map(|a| &a.2) {
            if *set == left {
                score.add(asked, doubts);
                together.add(asked, doubts);
            }
        }
        println!("{left} left out: {name}, {doubts:?}\n  {score}");
    }
    println!(
        "sets left out, together: {together}\n{}",
        reliability(&together)
    );
    let (name, doubts) = chosen(&answers, |_| true);
    println!("chosen with all sets: {name}, {doubts:?}");
}

/// Cars that faults are put on: each way of charging, of the second and third set.
const CARS: [(&str, &str); 6] = [
    ("second", "fault_02"),
    ("second", "fault_04"),
    ("second", "fault_20"),
    ("third", "fault_08"),
    ("third", "fault_09"),
    ("third", "fault_12"),
];

fn cars() -> Vec<Case> {
    CARS.iter()
        .map(|(set, name)| Case::read(set, name))
        .collect()
}

/// How often a cause is found by size; the third good pull is spoiled and held against the first two.
fn found() {
    let cars = cars();
    println!("| cause | size | found first | of |\n| --- | --- | --- | --- |");
    for (cause, what, sizes) in LADDERS {
        for size in sizes {
            let (mut first, mut of) = (0, 0);
            for case in &cars {
                for index in 0..3 {
                    let (mut visit, mut typed) = case.clean.clone();
                    let (pull, entered) = (visit.pulls.remove(index), typed.remove(index));
                    let Some(odd) = spoiled(case, &pull, entered, &[(cause, *size)]) else {
                        continue;
                    };
                    let found = case.ask((visit, typed), (&odd.0, odd.1), Doubts::CHOSEN, |q| {
                        q.answer()
                    });
                    let found = found.unwrap_or_else(|e| panic!("{}: {e}", case.name));
                    first += usize::from(found.suspects[0].explained.cause == cause);
                    of += 1;
                }
            }
            println!("| {} | {what} {size} | {first} | {of} |", cause.name());
        }
    }
}

/// Pairs put in: one at the rig with one in the car, or one with retarded spark.
const PAIRS: [[(Cause, f64); 2]; 10] = [
    [(Cause::DrumInertia, 1.08), (Cause::RestrictedExhaust, 40.0)],
    [(Cause::DrumInertia, 0.92), (Cause::HeatSoak, 20.0)],
    [(Cause::DrumInertia, 1.05), (Cause::Lean, 0.12)],
    [(Cause::DrumInertia, 0.93), (Cause::BoostLeak, 120.0)],
    [(Cause::Correction, 1.0), (Cause::KnockRetard, 10.0)],
    [(Cause::Correction, 1.0), (Cause::BeltSlip, 12.0)],
    [(Cause::HeatSoak, 20.0), (Cause::KnockRetard, 8.0)],
    [(Cause::BoostLeak, 120.0), (Cause::KnockRetard, 10.0)],
    [(Cause::RestrictedExhaust, 40.0), (Cause::KnockRetard, 10.0)],
    [(Cause::Lean, 0.12), (Cause::KnockRetard, 10.0)],
];

fn pairs() {
    let (mut both, mut one, mut all) = (0, 0, 0);
    for case in cars() {
        for faults in PAIRS {
            let (mut visit, mut typed) = case.clean.clone();
            let (pull, entered) = (visit.pulls.remove(2), typed.remove(2));
            let Some(odd) = spoiled(&case, &pull, entered, &faults) else {
                continue;
            };
            let found = case.ask((visit, typed), (&odd.0, odd.1), Doubts::CHOSEN, |q| {
                q.answer()
            });
            let found = found.unwrap_or_else(|e| panic!("{}: {e}", case.name));
            let two: Vec<Cause> = found
                .suspects
                .iter()
                .take(2)
                .map(|s| s.explained.cause)
                .collect();
            let hit = faults.iter().filter(|f| two.contains(&f.0)).count();
            both += usize::from(hit == 2);
            one += usize::from(hit == 1);
            all += 1;
            println!(
                "{} {faults:?}: {two:?} {:.2}",
                case.name, found.suspects[0].probability
            );
        }
    }
    println!("both in the first two: {both} of {all}; one of them: {one}");
}

fn main() {
    // Cargo adds a flag of its own.
    let mut words = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with("--"));
    let word = words.next();
    let tried = words.next().and_then(|count| count.parse().ok());
    match word.as_deref() {
        Some("sets") => sets(),
        Some("left-out") => left_out(tried.unwrap_or(usize::MAX)),
        Some("found") => found(),
        Some("pairs") => pairs(),
        _ => println!("say what to study: sets, left-out, found, or pairs"),
    }
}
