//! Two faults at once, put on recorded good pulls: do the first two answers hold both?
//!
//! Exists because no recorded case has two. For every car pairs are drawn, one fault at the rig with one in the car or any with a spark that is
//! held back, of sizes at which each alone is found; the draw is seeded. One set was looked at while the search was made, the others were not, and
//! are scored apart. It refuses pairs that the question refuses.

use super::case::Case;
use super::made::{LADDERS, Ladder, spoiled};
use pullcast::diagnose::{Cause, Diagnosis, Doubts, Hypothesis, Origin};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Pairs drawn for a car.
const PAIRS: usize = 3;
/// Draws after which a car is left at what it has.
const DRAWS: usize = 200;

/// How pairs did.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Found {
    all: usize,
    both: usize,
    one: usize,
    /// Missed pairs that were never weighed together.
    unsearched: usize,
    /// Pairs with a held-back spark, and those of them in which it is among the first two.
    spark: (usize, usize),
}

impl Found {
    pub(crate) fn add(&mut self, other: Self) {
        self.all += other.all;
        self.both += other.both;
        self.one += other.one;
        self.unsearched += other.unsearched;
        self.spark.0 += other.spark.0;
        self.spark.1 += other.spark.1;
    }
}

impl std::fmt::Display for Found {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "both in the first two: {} of {}; one of them: {}; missed without being weighed together: {}; a held-back spark in the first two: {} of {}",
            self.both, self.all, self.one, self.unsearched, self.spark.1, self.spark.0
        )
    }
}

/// Puts pairs on a car, telling each.
pub(crate) fn pairs(case: &Case, seed: u64, doubts: Doubts) -> Found {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut found = Found::default();
    for _ in 0..DRAWS {
        if found.all == PAIRS {
            break;
        }
        let faults = drawn(&mut rng);
        let (mut visit, mut typed) = case.clean.clone();
        let (pull, entered) = (visit.pulls.remove(2), typed.remove(2));
        let Some(odd) = spoiled(case, &pull, entered, &faults) else {
            continue;
        };
        let answer = case.answer((visit, typed), (&odd.0, odd.1), doubts);
        let said = Said::of(&answer, faults.map(|f| f.0), doubts.temper);
        println!("{} {faults:?}: {said:?}", case.name);
        found.add(said.found());
    }
    found
}

/// One fault at the rig with one in the car, or any with a held-back spark, each of a size at which it is found alone.
fn drawn(rng: &mut ChaCha8Rng) -> [(Cause, f64); 2] {
    loop {
        let [a, b] = [(); 2].map(|()| &LADDERS[rng.random_range(0..LADDERS.len())]);
        let spark = b.cause == Cause::KnockRetard && a.cause != b.cause;
        let apart = a.cause.place() == Origin::Rig && b.cause.place() == Origin::Car;
        if spark || apart {
            return [a, b].map(|ladder: &Ladder| {
                let (from, to) = ladder.loud;
                let size = from * (to / from).powf(rng.random_range(0.0..1.0));
                (ladder.cause, size)
            });
        }
    }
}

/// What was said of a pair.
#[derive(Debug)]
struct Said {
    truth: [Cause; 2],
    first_two: Vec<Cause>,
    /// By how much the pair's logarithmic weight exceeds that of the weightiest other; nothing where it was not weighed.
    ahead: Option<f64>,
}

impl Said {
    fn of(answer: &Diagnosis, truth: [Cause; 2], temper: f64) -> Self {
        let first_two = answer.suspects.iter().take(2);
        let own = |h: &&Hypothesis| truth.iter().all(|c| h.causes.contains(&Some(*c)));
        let log = |h: &Hypothesis| temper * h.log_evidence + h.log_prior;
        let most = |own_ones: bool| {
            let some = answer.hypotheses.iter().filter(|h| own(h) == own_ones);
            some.map(log).reduce(f64::max)
        };
        Self {
            truth,
            first_two: first_two.map(|s| s.explained.cause).collect(),
            ahead: most(true).zip(most(false)).map(|(a, b)| a - b),
        }
    }

    fn found(&self) -> Found {
        let named = |cause: &Cause| self.first_two.contains(cause);
        let hits = self.truth.iter().filter(|c| named(c)).count();
        let spark = self.truth.contains(&Cause::KnockRetard);
        Found {
            all: 1,
            both: usize::from(hits == 2),
            one: usize::from(hits == 1),
            unsearched: usize::from(hits < 2 && self.ahead.is_none()),
            spark: (
                usize::from(spark),
                usize::from(spark && named(&Cause::KnockRetard)),
            ),
        }
    }
}
