//! A spread in parts: shards that machines work out apart, and a run that was stopped and goes on.
//!
//! Draws are numbered and worked out in blocks; a part holds what the blocks of its shard came to so far. Parts joined in order are what
//! one run counts, to the last bit. A part says which question it belongs to, and is refused by any other.

use super::answer::Answer;
use super::block::{BLOCK, Sample};
use super::centre::Centre;
use super::draw::Ground;
use super::hours::Hour;
use super::shares::REPLICAS;
use super::tally::{Factors, Tally};
use super::{LEAST_DRAWS, Question, SpreadError, WAVE};
use crate::ask::Progress;
use crate::ask::fingerprint::Fingerprint;
use crate::dyno::correction::Standard;
use crate::numeric::side_by_side;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Which part of how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shard {
    /// Its number, from 1.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

impl Shard {
    /// All of it in one.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// Its share of so many blocks.
    fn share(self, blocks: usize) -> Range<usize> {
        (self.number - 1) * blocks / self.of..self.number * blocks / self.of
    }
}

/// What the blocks of a shard came to so far.
#[derive(Debug, Serialize, Deserialize)]
pub struct Part {
    schema: String,
    question: String,
    shard: Shard,
    /// Blocks done of the shard.
    blocks: usize,
    tally: Tally,
}

/// The form in which a part is kept.
const SCHEMA: &str = "pullcast/spread-part/1";

impl Part {
    /// Which shard it is of.
    pub fn shard(&self) -> Shard {
        self.shard
    }
}

/// Why a part does not belong to a question.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PartError {
    /// It was drawn for other inputs, or by another version.
    #[error(
        "it was drawn for another question or by another version of the program ({found} instead of {expected})"
    )]
    OtherQuestion {
        /// The question it names.
        found: String,
        /// The one asked.
        expected: String,
    },
    /// Its counts contradict each other.
    #[error("its counts contradict each other: it is damaged")]
    Damaged,
}

/// What all draws of a question share, made ready.
#[derive(Debug)]
pub struct Ready<'q> {
    pub(super) question: &'q Question<'q>,
    pub(super) ground: Ground<'q>,
    pub(super) centre: Centre,
    pub(super) standards: Vec<(Standard, Factors, Option<f64>)>,
    pub(super) condensing: usize,
    pub(super) name: String,
}

impl Ready<'_> {
    /// A name of the question: that of everything which decides what its draws come to.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A part in which nothing is done yet.
    pub fn part(&self, shard: Shard) -> Part {
        Part {
            schema: SCHEMA.to_owned(),
            question: self.name.clone(),
            shard,
            blocks: 0,
            tally: self.empty(),
        }
    }

    /// Whether a part that was kept belongs to this question and can be what its draws came to.
    pub fn accepts(&self, part: &Part) -> Result<(), PartError> {
        if part.schema != SCHEMA || part.question != self.name {
            return Err(PartError::OtherQuestion {
                found: part.question.clone(),
                expected: self.name.clone(),
            });
        }
        let Shard { number, of } = part.shard;
        let possible = (1..=of).contains(&number)
            && part.blocks <= part.shard.share(self.blocks()).len()
            && part.tally.is_like(&self.empty(), part.blocks);
        possible.then_some(()).ok_or(PartError::Damaged)
    }

    /// Blocks of all shards.
    fn blocks(&self) -> usize {
        usize::try_from((self.question.draws as u64).div_ceil(BLOCK)).unwrap_or(usize::MAX)
    }

    fn empty(&self) -> Tally {
        let speeds = (self.centre.rpm.0.len(), self.centre.rpm.1.len());
        Tally::new(self.standards.len(), speeds, self.blocks().min(REPLICAS))
    }

    /// Whether all of a part's draws are done.
    pub fn is_done(&self, part: &Part) -> bool {
        part.blocks == part.shard.share(self.blocks()).len()
    }

    /// Works a part out to its end. `each` gets every sample with its two hours, `keep` the part after every wave of blocks; work ends early
    /// where `keep` says so.
    pub fn work(
        &self,
        part: &mut Part,
        each: &mut dyn FnMut(&Sample, (&Hour, &Hour)),
        keep: &mut dyn FnMut(&Part) -> bool,
        progress: Progress<'_>,
    ) {
        let (draws, blocks) = (self.question.draws as u64, self.blocks());
        let share = part.shard.share(blocks);
        let factors: Vec<&Factors> = self
            .standards
            .iter()
            .map(|(_, factors, _)| factors)
            .collect();
        let rpm = (self.centre.rpm.0.as_slice(), self.centre.rpm.1.as_slice());
        let hours = self.ground.hours;
        let replicas = blocks.min(REPLICAS);
        while part.blocks < share.len() {
            let begun = share.start + part.blocks;
            let count = WAVE.min(share.end - begun);
            let done = side_by_side(count, |k| {
                let first = (begun + k) as u64 * BLOCK;
                self.ground.block(first, (first + BLOCK).min(draws))
            });
            for (k, block) in done.into_iter().enumerate() {
                for sample in &block.samples {
                    each(sample, (&hours[sample.hours.0], &hours[sample.hours.1]));
                }
                let replica = (begun + k) * replicas / blocks;
                let promise_w = self.question.promise_w;
                part.tally
                    .add(block, replica, (hours, &factors), rpm, promise_w);
            }
            part.blocks += count;
            let of = |blocks: usize| blocks * self.question.draws / self.blocks();
            progress.tell(of(part.blocks), Some(of(share.len())));
            if !keep(part) {
                return;
            }
        }
    }

    /// The answer from parts in the order of their shards, whole or not.
    ///
    /// Errors: [`SpreadError::TooFewDraws`].
    pub fn answer(&self, parts: Vec<Part>) -> Result<Answer, SpreadError> {
        let mut all = self.empty();
        let mut drawn = 0;
        for part in parts {
            let share = part.shard.share(self.blocks());
            let block = usize::try_from(BLOCK).unwrap_or(usize::MAX);
            let last = (share.start + part.blocks) * block;
            drawn += last.min(self.question.draws) - (share.start * block).min(last);
            all.join(part.tally);
        }
        let left = drawn.saturating_sub(all.failed);
        if left < LEAST_DRAWS {
            return Err(SpreadError::TooFewDraws { left });
        }
        Ok(self.question.told(self, &all, left))
    }
}

impl Question<'_> {
    /// A name of everything that decides what its draws come to.
    pub(super) fn name(&self) -> String {
        Fingerprint::of(self.sheet)
            .plan(self.plan)
            .and("station", &self.station)
            .and("choice", &self.choice)
            .and("noise", &self.noise)
            .and("efficiency", &self.mechanical_efficiency)
            .and("days", &self.two_days)
            .and("charge", &self.charge)
            .and("promise", &self.promise_w)
            .and("draws", &(self.draws, self.hours_per_draw, self.surfaces))
            .and("seed", &self.seed)
            .and("version", &env!("CARGO_PKG_VERSION"))
            .name()
    }
}
