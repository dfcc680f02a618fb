//! Made-up shops, each with a bias of its own: what a shop's closed jobs take off the width of its ranges, and whether the ranges still hold.
//!
//! A shop's jobs are those of recorded builds, in random order: what went through each mechanism, and the doubt that was not the mechanisms'. Its readings
//! miss by that doubt, by the shop's bias and by what strays from job to job. Some of its jobs are quoted with what the ones before taught,
//! beside it with the general sizes, and beside that with sizes that hold for such shops without learning anything.

use super::closed_job::{range, range_of};
use pullcast::ask::draws::{stray, stream};
use pullcast::belief::{Mechanism, Miss};
use pullcast::fit::own_jobs::{ClosedJob, FEWEST, Learned};
use pullcast::numeric::side_by_side;
use rand::RngExt;

/// Jobs of a shop.
const JOBS: usize = 30;
/// Jobs that are quoted, by how many were closed before.
const QUOTED: [usize; 6] = [FEWEST, 10, 15, 20, 25, JOBS - 1];
/// From how many closed jobs on a shop counts as one with experience.
const SEASONED: usize = 20;

/// How shops come about: standard deviations as a share of a mechanism's effect, of biases from shop to shop and of misses from job to job; and what
/// their jobs of one kind have alike.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Law {
    pub(crate) bias: f64,
    pub(crate) spread: f64,
    /// Share of the variance of car and parts that a shop's jobs of one kind have alike.
    pub(crate) alike: f64,
}

/// What quotes came to.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Score {
    pub(crate) quotes: f64,
    held: f64,
    width: f64,
    square: f64,
}

impl Score {
    fn of([low, middle, high]: [f64; 3], missed: f64) -> Self {
        Self {
            quotes: 1.0,
            held: f64::from(u8::from((low..=high).contains(&missed))),
            width: high - low,
            square: (missed - middle).powi(2),
        }
    }

    fn add(&mut self, other: &Self) {
        self.quotes += other.quotes;
        self.held += other.held;
        self.width += other.width;
        self.square += other.square;
    }

    /// Share of the readings inside the ranges.
    pub(crate) fn share(&self) -> f64 {
        self.held / self.quotes
    }

    /// Mean width, in the logarithm of power.
    pub(crate) fn mean_width(&self) -> f64 {
        self.width / self.quotes
    }

    /// Root of the mean square of readings about the middle, in the logarithm of power.
    pub(crate) fn off(&self) -> f64 {
        (self.square / self.quotes).sqrt()
    }
}

/// The same quotes with what was learned, with the general sizes, and with sizes that hold without learning.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Scores {
    pub(crate) learned: Score,
    pub(crate) general: Score,
    pub(crate) holding: Score,
}

impl Scores {
    fn add(&mut self, other: &Self) {
        self.learned.add(&other.learned);
        self.general.add(&other.general);
        self.holding.add(&other.holding);
    }
}

/// One shop: scores of the jobs that are quoted, with how many were closed before.
fn shop(number: usize, kinds: &[ClosedJob], law: Law) -> Vec<(usize, Scores)> {
    let mut rng = stream(77, number as u64);
    let general = Miss::default();
    let bias: [f64; 6] = std::array::from_fn(|_| stray(&mut rng, law.bias));
    let holding = Miss {
        change: [law.bias.hypot(law.spread); 6],
        ..general
    };
    // Of each kind of work, in the order in which the shop first does it.
    let mut of_kinds: Vec<(String, f64)> = Vec::new();
    let mut closed: Vec<ClosedJob> = Vec::new();
    let mut scores = Vec::new();
    for place in 0..JOBS {
        let mut job = kinds[rng.random_range(0..kinds.len())].clone();
        let kind = &job.kinds[0];
        let known = of_kinds.iter().find(|(of, _)| of == kind);
        let alike = known.map_or_else(|| stray(&mut rng, 1.0), |(_, alike)| *alike);
        if !of_kinds.iter().any(|(of, _)| of == kind) {
            of_kinds.push((kind.clone(), alike));
        }
        let shared = law.alike * job.parts.powi(2);
        job.missed = shared.sqrt() * alike + stray(&mut rng, (job.own.powi(2) - shared).sqrt());
        for (effect, bias) in job.effects.iter().zip(&bias) {
            job.missed += effect * (bias + stray(&mut rng, law.spread));
        }
        if QUOTED.contains(&place)
            && let Some(learned) = Learned::of(&closed, &general, number as u64)
        {
            let of_one = |sizes: &Miss| Score::of(range_of(&job, sizes), job.missed);
            let scores_now = Scores {
                learned: Score::of(range(&job, &learned), job.missed),
                general: of_one(&general),
                holding: of_one(&holding),
            };
            scores.push((place, scores_now));
        }
        closed.push(job);
    }
    scores
}

/// Of so many shops, by how many jobs were closed before: the first that are learned for, and those of a shop with experience.
pub(crate) fn scores(count: usize, kinds: &[ClosedJob], law: Law) -> (Scores, Scores) {
    let (mut early, mut late) = (Scores::default(), Scores::default());
    for shop in side_by_side(count, |number| shop(number, kinds, law)) {
        for (closed, scores) in &shop {
            if *closed < SEASONED {
                early.add(scores);
            } else {
                late.add(scores);
            }
        }
    }
    (early, late)
}

/// The effect of all mechanisms together, as far as they stray apart.
pub(crate) fn size(job: &ClosedJob) -> f64 {
    let squares = Mechanism::ALL.iter().zip(&job.effects);
    squares.map(|(_, x)| x * x).sum::<f64>().sqrt()
}
