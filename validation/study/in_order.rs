//! Recorded builds taken in order as the closed jobs of one shop: each is quoted with what the ones before it taught, and beside it as if nothing had
//! been learned.
//!
//! The doubt of a quote without misses is taken as normal in the logarithm; what is missed comes from the sampler that the program itself uses.

use super::closed_job::{self, own, range, range_of};
use crate::row::Row;
use pullcast::belief::{Mechanism, Miss};
use pullcast::fit::own_jobs::{ClosedJob, FEWEST, Learned};
use std::fmt::Write as _;

/// A build as a closed job: its gain stands for the reading, and waves count with what is not learned of.
fn job(row: &Row, general: &Miss) -> ClosedJob {
    let missed = ((1.0 + row.true_gain) / (1.0 + row.gain[1])).ln();
    let own = own([row.bare[0], row.bare[2]], row.effects[6], general);
    let effects = std::array::from_fn(|m| row.effects[m]);
    closed_job::job(row.kind(), missed, effects, own)
}

/// Builds with work as closed jobs; sets without logs take part.
pub(crate) fn jobs(rows: &[Row]) -> Vec<ClosedJob> {
    let wanted = rows.iter().filter(|row| row.bare[2] > row.bare[0]);
    wanted.map(|row| job(row, &Miss::default())).collect()
}

#[derive(Default)]
struct Tally {
    cases: usize,
    held: usize,
    width: f64,
    error: f64,
    interval: f64,
}

impl Tally {
    fn count(&mut self, [low, middle, high]: [f64; 3], truth: f64) {
        let outside = (low - truth).max(truth - high).max(0.0);
        self.cases += 1;
        self.held += usize::from(outside == 0.0);
        self.width += 100.0 * (high - low);
        self.error += 100.0 * (middle - truth).abs();
        self.interval += 100.0 * (high - low + 20.0 * outside);
    }

    fn line(&self) -> String {
        let n = self.cases as f64;
        format!(
            "inside {} of {}, width {:.1}, mean error {:.1}, interval score {:.1}",
            self.held,
            self.cases,
            self.width / n,
            self.error / n,
            self.interval / n
        )
    }
}

/// One list of builds in order.
fn taken(title: &str, rows: &[&Row]) -> String {
    let general = Miss::default();
    let jobs: Vec<ClosedJob> = rows.iter().map(|row| job(row, &general)).collect();
    let (mut with, mut without) = (Tally::default(), Tally::default());
    for (place, job) in jobs.iter().enumerate().skip(FEWEST) {
        let Some(learned) = Learned::of(&jobs[..place], &general, 1) else {
            continue;
        };
        with.count(range(job, &learned), job.missed);
        without.count(range_of(job, &general), job.missed);
    }
    let mut text = format!(
        "{title}\n  learned  {}\n  general  {}\n",
        with.line(),
        without.line()
    );
    if let Some(learned) = Learned::of(&jobs, &general, 1) {
        for mechanism in Mechanism::ALL {
            if let Some((bias, doubt, spread)) = learned.told(mechanism) {
                let _ = writeln!(
                    text,
                    "    {:<20} bias {bias:+.3} ± {doubt:.3}, from job to job {spread:.3}",
                    mechanism.id()
                );
            }
        }
    }
    text
}

/// All lists.
pub(crate) fn study(rows: &[Row]) -> String {
    let of = |sets: &[&str]| -> Vec<&Row> {
        let wanted = rows.iter().filter(|row| row.bare[2] > row.bare[0]);
        wanted
            .filter(|row| sets.contains(&row.set.as_str()))
            .collect()
    };
    [
        ("first set", of(&["first"])),
        ("second set", of(&["second"])),
        ("third set", of(&["third"])),
        ("second and third set", of(&["second", "third"])),
        ("all sets", of(&["first", "second", "third"])),
    ]
    .iter()
    .map(|(title, rows)| taken(title, rows))
    .collect()
}
