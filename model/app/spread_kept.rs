//! Parts of a spread in a folder: a run that was stopped goes on from there, and shards of several machines meet there.

use crate::output::{Failure, Output};
use pullcast::ask::Progress;
use pullcast::ask::spread::{Answer, Part, Ready, Shard};
use pullcast::files::{Overwrite, write_atomic};
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
    /// Reads what is there of this question; parts of others may lie beside it. A folder that is not there is made.
    pub(crate) fn open(folder: &'a Path, ready: &'a Ready<'a>) -> Result<Self, Failure> {
        let failed = |path: &Path, error: &dyn std::fmt::Display| {
            Failure::Gate(format!("{}: {error}", path.display()))
        };
        std::fs::create_dir_all(folder).map_err(|error| failed(folder, &error))?;
        let mut parts = Vec::new();
        for entry in std::fs::read_dir(folder).map_err(|error| failed(folder, &error))? {
            let path = entry.map_err(|error| failed(folder, &error))?.path();
            if !is_part(&path, ready.name()) {
                continue;
            }
            let anew = |error: &dyn std::fmt::Display| {
                failed(
                    &path,
                    &format!("{error}; delete the file to draw its cars anew"),
                )
            };
            let text = std::fs::read_to_string(&path).map_err(|error| failed(&path, &error))?;
            let part: Part = serde_json::from_str(&text).map_err(|error| anew(&error))?;
            ready.accepts(&part).map_err(|error| anew(&error))?;
            parts.push(part);
        }
        parts.sort_by_key(|part| (part.shard().of, part.shard().number));
        Ok(Self {
            folder,
            ready,
            parts,
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
                written = self.write(part);
                last = Instant::now();
            }
            written.is_ok()
        };
        self.ready
            .work(&mut part, &mut |_, _| {}, &mut keep, progress);
        written.map(|()| part)
    }

    fn write(&self, part: &Part) -> Result<(), Failure> {
        let Shard { number, of } = part.shard();
        let name = format!("{}{number}-of-{of}.json", prefix(self.ready.name()));
        let text = serde_json::to_string(part)
            .map_err(|error| Failure::Gate(format!("a part cannot be written as JSON: {error}")))?;
        Ok(write_atomic(
            &self.folder.join(name),
            text.as_bytes(),
            Overwrite::Allow,
        )?)
    }
}

fn prefix(question: &str) -> String {
    format!("spread-{question}-")
}

fn is_part(path: &Path, question: &str) -> bool {
    let name = path.file_name().and_then(|name| name.to_str());
    let rest = name.and_then(|name| name.strip_prefix(&prefix(question)));
    rest.is_some_and(|rest| rest.strip_suffix(".json").is_some())
}
