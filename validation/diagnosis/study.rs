//! The study behind the doubts of the diagnosis: how it does on recorded cases, with which doubts, from which size a cause is found, and
//! whether two at once are.
//!
//! ```sh
//! cargo bench --bench diagnosis -- sets        # every set with the doubts in use
//! cargo bench --bench diagnosis -- left-out    # doubts chosen with all sets but one, scored on that one; prints the choice
//! cargo bench --bench diagnosis -- left-out 1  # the same with the first of the doubts tried alone: tempers and widths of ranges chosen
//! cargo bench --bench diagnosis -- found       # sizes from which each cause is found, in half of cases and in nine of ten; with its id, of one
//! cargo bench --bench diagnosis -- pairs       # two faults at once; with the name of a set, on its cars alone
//! ```
//!
//! Exists apart from the checks because it takes minutes. Without a word it does nothing.

#![allow(clippy::print_stdout, reason = "what it finds is what it is run for")]

#[path = "case.rs"]
mod case;
#[path = "../cases"]
mod cases {
    pub(crate) mod car;
    pub(crate) mod read;
}
mod loose;
mod made;
mod pairs;
mod score;
mod small;

use case::{Case, SETS, folder};
use cases::read;
use made::{ALONE, LADDERS};
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

/// Every case with its set.
fn each<'a>(
    all: &'a [(&'static str, Vec<Case>)],
) -> impl Iterator<Item = (&'static str, &'a Case)> {
    all.iter()
        .flat_map(|(set, cases)| cases.iter().map(move |case| (*set, case)))
}

/// All questions of all sets, answered with some doubts.
struct Answers {
    name: &'static str,
    doubts: Doubts,
    asked: Vec<(&'static str, Asked)>,
}

impl Answers {
    fn of(name: &'static str, doubts: Doubts, all: &[(&'static str, Vec<Case>)]) -> Self {
        let asked = each(all).flat_map(|(set, case)| {
            let asked = Asked::of(case, doubts, false).into_iter();
            asked.map(move |a| (set, a))
        });
        Self {
            name,
            doubts,
            asked: asked.collect(),
        }
    }

    /// The same with a temper: ranges hang on it, so odd pulls are asked again.
    fn anew(&self, doubts: Doubts, all: &[(&'static str, Vec<Case>)]) -> Self {
        let odd = each(all).map(|(set, case)| (set, Asked::odd(case, doubts)));
        let others = self.asked.iter().filter(|a| a.1.good < 3).cloned();
        Self {
            name: self.name,
            doubts,
            asked: odd.chain(others).collect(),
        }
    }

    /// The answers of some sets.
    fn with(&self, with: impl Fn(&str) -> bool) -> Vec<&Asked> {
        let asked = self.asked.iter().filter(|a| with(a.0));
        asked.map(|a| &a.1).collect()
    }

    fn score(&self, doubts: Doubts, with: impl Fn(&str) -> bool) -> Score {
        let asked = self.with(with).into_iter();
        asked.fold(Score::default(), |mut score, asked| {
            score.add(asked, doubts);
            score
        })
    }
}

/// The doubts under which the answers of some sets are likeliest to be true, and what they were found among. Ranges are left as wide as they
/// come, or the width chosen next would hang on the one in use.
fn tempered(answers: &[Answers], with: impl Fn(&str) -> bool) -> (&Answers, Doubts) {
    let mut best = (f64::NEG_INFINITY, &answers[0], Doubts::CHOSEN);
    for tried in answers {
        let inside = tried.with(&with);
        let likeliest = |one: bool| {
            let log = |temper: f64| -> f64 {
                let of = inside.iter().filter(|a| (a.good == 1) == one);
                of.map(|a| a.chance(temper).max(1e-4).ln()).sum()
            };
            let each = TEMPERS.map(|temper| (log(temper), temper));
            each.into_iter()
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or_default()
        };
        let (several, one) = (likeliest(false), likeliest(true));
        if several.0 + one.0 > best.0 {
            let doubts = Doubts {
                temper: several.1,
                temper_of_one: one.1,
                size: 1.0,
                ..tried.doubts
            };
            best = (several.0 + one.0, tried, doubts);
        }
    }
    (best.1, best.2)
}

/// The width of ranges that holds nine sizes in ten of some sets.
fn width(answers: &Answers, with: impl Fn(&str) -> bool) -> f64 {
    let sizes: Vec<f64> = answers.with(with).iter().flat_map(|a| a.needs()).collect();
    let held = |width: f64| sizes.iter().filter(|needs| **needs <= width).count() as f64;
    let enough = WIDTHS
        .into_iter()
        .find(|w| held(*w) >= 0.9 * sizes.len() as f64);
    enough.unwrap_or(WIDTHS[WIDTHS.len() - 1])
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
    let answers: Vec<Answers> = candidates()
        .into_iter()
        .take(tried)
        .map(|(name, doubts)| {
            let answers = Answers::of(name, doubts, &all);
            println!("{name}: {}", answers.score(doubts, |_| true));
            answers
        })
        .collect();
    let mut again: Vec<Answers> = Vec::new();
    let mut chosen = |with: &dyn Fn(&str) -> bool| {
        let (tried, doubts) = tempered(&answers, with);
        let known = |a: &Answers| a.name == tried.name && a.doubts.temper == doubts.temper;
        let place = again.iter().position(known);
        let place = place.unwrap_or_else(|| {
            again.push(tried.anew(doubts, &all));
            again.len() - 1
        });
        let size = width(&again[place], with);
        (place, Doubts { size, ..doubts })
    };
    let folds = SETS.map(|left| (left, chosen(&|set| set != left)));
    let of_all = chosen(&|_| true);
    let mut together = Score::default();
    for (left, (place, doubts)) in folds {
        let score = again[place].score(doubts, |set| set == left);
        println!(
            "{left} left out: {}, {doubts:?}\n  {score}",
            again[place].name
        );
        for asked in again[place].with(|set| set == left) {
            together.add(asked, doubts);
        }
    }
    println!(
        "sets left out, together: {together}\n{}",
        reliability(&together)
    );
    let (place, doubts) = of_all;
    let score = again[place].score(doubts, |_| true);
    println!(
        "chosen with all sets: {}, {doubts:?}\n  {score}",
        again[place].name
    );
}

/// Cars that small faults are put on: each way of charging, of the second and third set.
const CARS: [(&str, &str); 6] = [
    ("second", "fault_02"),
    ("second", "fault_04"),
    ("second", "fault_20"),
    ("third", "fault_08"),
    ("third", "fault_09"),
    ("third", "fault_12"),
];

/// Cars with an electric axle, for what happens to it.
const WITH_AXLE: [(&str, &str); 3] = [
    ("second", "fault_24"),
    ("third", "fault_10"),
    ("third", "fault_24"),
];

/// From which size on each cause is found, or the one named.
fn found(only: Option<&str>) {
    let read = |cars: &[(&str, &str)]| -> Vec<Case> {
        cars.iter()
            .map(|(set, name)| Case::read(set, name))
            .collect()
    };
    let (all, with_axle) = (read(&CARS), read(&WITH_AXLE));
    println!("{}", small::HEAD);
    for ladder in LADDERS
        .iter()
        .chain(&ALONE)
        .filter(|l| only.is_none_or(|o| o == l.cause.id()))
    {
        let of_axle = matches!(ladder.cause, Cause::LowBattery | Cause::MotorDerate);
        let cars = if of_axle { &with_axle } else { &all };
        println!("{}", small::row(ladder, cars, Doubts::CHOSEN));
    }
}

/// Pairs put on the cars of some sets, all or the one named; each set has draws of its own.
fn pairs(only: Option<&str>) {
    for (place, set) in (1_u64..).zip(SETS) {
        if only.is_some_and(|only| only != set) {
            continue;
        }
        let mut found = pairs::Found::default();
        for (number, case) in (0_u64..).zip(cases(set).iter()) {
            found.add(pairs::pairs(case, 1000 * place + number, Doubts::CHOSEN));
        }
        println!("{set}: {found}");
    }
}

fn main() {
    // Cargo adds a flag of its own.
    let mut words = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with("--"));
    let word = words.next();
    let more = words.next();
    let tried = more.as_deref().and_then(|count| count.parse().ok());
    match word.as_deref() {
        Some("sets") => sets(),
        Some("left-out") => left_out(tried.unwrap_or(usize::MAX)),
        Some("found") => found(more.as_deref()),
        Some("pairs") => pairs(more.as_deref()),
        _ => println!("say what to study: sets, left-out, found, or pairs"),
    }
}
