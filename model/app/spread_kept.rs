//! Parts of a spread in a folder: a run that was stopped goes on from there, and shards of several machines meet there.

use crate::output::{Failure, Output};
use pullcast::ask::Progress;
use pullcast::ask::spread::{Answer, Part, Ready, Shard};
use pullcast::files::spread_parts;
use std::path::Path;
use std::time::{Duration, Instant};

/// Between two writings of a part: what a killed run loses at most, and one wave of blocks.
const BETWEEN: Duration = Duration::from_secs(10);

/// The parts of one question that a folder holds.
pub(crate) struct Kept<'a> {
    folder: &'a Path,
    ready: &'a Ready<'a>,
    parts: Vec<Part>,
}

impl<'a> Kept<'a> {
    /// Reads what is there of this question.
    pub(crate) fn open(folder: &'a Path, ready: &'a Ready<'a>) -> Result<Self, Failure> {
        Ok(Self {
            folder,
            ready,
            parts: spread_parts::read(folder, ready)?,
        })
    }

    /// Works one shard out, from where it was left, and says what is still missing.
    pub(crate) fn shard(mut self, shard: Shard, out: Output) -> Result<(), Failure> {
        let part = self.take(shard);
        let part = out.metered("cars", |progress| self.worked(part, progress))?;
        self.parts.push(part);
        let done = |part: &&Part| part.shard().of == shard.of && self.ready.is_done(part);
        let done = self.parts.iter().filter(done).count();
        out.note(&format!(
            "shard {} of {} is done, {done} of them are in {}; the same without --shard tells the answer, and draws what is missing",
            shard.number,
            shard.of,
            self.folder.display()
        ));
        Ok(())
    }

    /// The answer, once everything that is missing is drawn.
    pub(crate) fn whole(mut self, out: Output) -> Result<Answer, Failure> {
        let mut parts = Vec::new();
        let of = self.shards();
        for number in 1..=of {
            let part = self.take(Shard { number, of });
            parts.push(out.metered("cars", |progress| self.worked(part, progress))?);
        }
        Ok(self.ready.answer(parts)?)
    }

    /// The answer from what is there.
    pub(crate) fn so_far(mut self) -> Result<Answer, Failure> {
        let of = self.shards();
        self.parts.retain(|part| part.shard().of == of);
        Ok(self.ready.answer(self.parts)?)
    }

    /// Into how many shards the draws were shared out: where the folder holds several such sets, the one with most parts.
    fn shards(&self) -> usize {
        let of = |part: &Part| part.shard().of;
        let count = |n: usize| self.parts.iter().filter(|part| of(part) == n).count();
        self.parts
            .iter()
            .map(of)
            .max_by_key(|&n| (count(n), n))
            .unwrap_or(1)
    }

    /// The part of a shard: the one that is there, or one in which nothing is done.
    fn take(&mut self, shard: Shard) -> Part {
        let place = self.parts.iter().position(|part| part.shard() == shard);
        place.map_or_else(|| self.ready.part(shard), |place| self.parts.remove(place))
    }

    fn worked(&self, mut part: Part, progress: Progress<'_>) -> Result<Part, Failure> {
        if self.ready.is_done(&part) {
            return Ok(part);
        }
        let mut written = Ok(());
        let mut last = Instant::now();
        let mut keep = |part: &Part| {
            if last.elapsed() >= BETWEEN || self.ready.is_done(part) {
                written = spread_parts::write(self.folder, self.ready, part);
                last = Instant::now();
            }
            written.is_ok()
        };
        self.ready
            .work(&mut part, &mut |_, _| {}, &mut keep, progress);
        written?;
        Ok(part)
    }
}
