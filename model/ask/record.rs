//! How past quotes turned out: whether the promise was kept, how often the range held, and how good the ranges were as forecasts.
//!
//! Every closed job holds the draws of its quote, made again in the air of the reading, against what the drums read. The share of draws at or below the
//! reading is even from 0 to 1 where ranges are right (the probability integral transform: Dawid 1984; Gneiting, Balabdaoui and Raftery 2007; from
//! memory). It refuses to judge a handful: beside every share stands how far chance alone may have moved it.

use crate::ask::quote::CurvePoint;
use crate::fit::observation::Visit;
use crate::numeric::straight_between;
use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF};
use std::f64::consts::TAU;

/// One closed job.
#[derive(Debug, Clone, PartialEq)]
pub struct Turned {
    /// Kinds of its work, by id.
    pub changes: Vec<String>,
    /// Peak power read, W.
    pub read_w: f64,
    /// Promised in the air of the reading, W.
    pub promised_w: f64,
    /// Low end, middle and high end of the range there, W.
    pub range_w: (f64, f64, f64),
    /// Share of the draws at or below the reading.
    pub pit: f64,
    /// Logarithmic score.
    pub log_score: f64,
}

/// One engine speed at which a quote is held against the pulls after the work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Against {
    /// Engine speed.
    pub rpm: f64,
    /// Mean of what the pulls read there, W.
    pub read_w: f64,
    /// Low end of the range of nine in ten, W.
    pub low_w: f64,
    /// Its middle, W.
    pub middle_w: f64,
    /// Its high end, W.
    pub high_w: f64,
}

impl Against {
    /// Whether the range holds the reading.
    pub fn held(&self) -> bool {
        (self.low_w..=self.high_w).contains(&self.read_w)
    }
}

/// A quote's curve against what was read, at its engine speeds that some pull reached. The quote has to be one for the air of those pulls.
pub fn against(curve: &[CurvePoint], visit: &Visit) -> Vec<Against> {
    let pulls: Vec<(Vec<f64>, Vec<f64>)> = visit
        .as_driven()
        .into_iter()
        .map(|pull| pull.curve.bands.iter().map(|b| (b.rpm, b.power_w)).unzip())
        .collect();
    let point = |point: &CurvePoint| {
        let there = pulls
            .iter()
            .filter_map(|(rpm, power)| straight_between(rpm, power, point.rpm));
        let there: Vec<f64> = there.collect();
        let range = point.after_w.range;
        (!there.is_empty()).then(|| Against {
            rpm: point.rpm,
            read_w: there.iter().sum::<f64>() / there.len() as f64,
            low_w: range.p5,
            middle_w: range.p50,
            high_w: range.p95,
        })
    };
    curve.iter().filter_map(point).collect()
}

/// The record of a shop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Record {
    /// All jobs; none where none is closed.
    pub all: Option<Row>,
    /// Jobs with a kind of work, most first; a job with several counts under each.
    pub by_change: Vec<Row>,
    /// Jobs by their share of draws at or below the reading, in fifths from below: even where ranges are right.
    pub fifths: [usize; 5],
}

/// Some jobs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Kind of work; none for all of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub change: Option<String>,
    /// How many.
    pub jobs: usize,
    /// In how many the reading reached the promise; nine in ten should.
    pub kept: usize,
    /// In how many it lay in the range; nine in ten should.
    pub held: usize,
    /// Between which shares chance leaves the true share of ranges that hold, nine times in ten.
    pub held_between: (f64, f64),
    /// Mean share of draws at or below the reading: a half where the middle is right.
    pub mean_pit: f64,
    /// Mean of read over middle, less one.
    pub mean_miss: f64,
    /// Mean logarithmic score, in the logarithm of power: more is better.
    pub mean_log_score: f64,
}

impl Record {
    /// Of the jobs closed.
    pub fn of(jobs: &[Turned]) -> Self {
        let mut kinds: Vec<&str> = Vec::new();
        for kind in jobs.iter().flat_map(|job| &job.changes) {
            if !kinds.contains(&kind.as_str()) {
                kinds.push(kind);
            }
        }
        let mut by_change: Vec<Row> = kinds
            .into_iter()
            .filter_map(|kind| {
                let of_kind: Vec<&Turned> = jobs
                    .iter()
                    .filter(|job| job.changes.iter().any(|change| change == kind))
                    .collect();
                row(Some(kind.to_owned()), &of_kind)
            })
            .collect();
        by_change.sort_by_key(|row| std::cmp::Reverse(row.jobs));
        let mut fifths = [0; 5];
        for job in jobs {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "held between 0 and 4"
            )]
            let fifth = (5.0 * job.pit).clamp(0.0, 4.0) as usize;
            fifths[fifth] += 1;
        }
        Self {
            all: row(None, &jobs.iter().collect::<Vec<_>>()),
            by_change,
            fifths,
        }
    }
}

fn row(change: Option<String>, jobs: &[&Turned]) -> Option<Row> {
    if jobs.is_empty() {
        return None;
    }
    let count = jobs.len();
    let mean = |of: fn(&Turned) -> f64| jobs.iter().map(|job| of(job)).sum::<f64>() / count as f64;
    let inside = |job: &&&Turned| (job.range_w.0..=job.range_w.2).contains(&job.read_w);
    let held = jobs.iter().filter(inside).count();
    Some(Row {
        change,
        jobs: count,
        kept: jobs
            .iter()
            .filter(|job| job.read_w >= job.promised_w)
            .count(),
        held,
        held_between: share_between(held, count),
        mean_pit: mean(|job| job.pit),
        mean_miss: mean(|job| job.read_w / job.range_w.1 - 1.0),
        mean_log_score: mean(|job| job.log_score),
    })
}

/// The middle nine tenths of what a share may be of which so many of so many were seen: quantiles of `Beta(k + ½, n − k + ½)` (Jeffreys' interval,
/// from memory: Brown, Cai and others 2001), closed at an end where all or none were seen.
fn share_between(seen: usize, of: usize) -> (f64, f64) {
    let Ok(beta) = Beta::new(seen as f64 + 0.5, (of - seen) as f64 + 0.5) else {
        return (0.0, 1.0);
    };
    let low = if seen == 0 {
        0.0
    } else {
        beta.inverse_cdf(0.05)
    };
    let high = if seen == of {
        1.0
    } else {
        beta.inverse_cdf(0.95)
    };
    (low, high)
}

/// Share of the draws at or below a reading; the middle of the two where a draw is the reading itself.
pub fn pit(draws: &[f64], read: f64) -> f64 {
    let below = draws.iter().filter(|draw| **draw < read).count();
    let at = draws.iter().filter(|draw| **draw == read).count();
    (below as f64 + 0.5 * at as f64) / (draws.len() as f64).max(1.0)
}

/// Logarithm of the density that the draws give a reading, both in the logarithm of power (the logarithmic score, Good 1952, from memory). The
/// density is a sum of normal curves about the draws, as wide as `0.9 min(s, IQR / 1.34) n^(−1/5)` (Silverman 1986, from memory).
pub fn log_score(draws: &[f64], read: f64) -> f64 {
    let mut logs: Vec<f64> = draws.iter().map(|draw| draw.ln()).collect();
    logs.sort_by(f64::total_cmp);
    let n = logs.len() as f64;
    let at = |share: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "an index of the list"
        )]
        let place = (share * (n - 1.0)).round().max(0.0) as usize;
        logs.get(place).copied().unwrap_or(f64::NAN)
    };
    let mean = logs.iter().sum::<f64>() / n;
    let sd = (logs.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)).sqrt();
    let quartiles = (at(0.75) - at(0.25)) / 1.34;
    let width = (0.9 * sd.min(quartiles) * n.powf(-0.2)).max(1e-6);
    let read = read.ln();
    let powers = logs.iter().map(|x| -0.5 * ((read - x) / width).powi(2));
    // The largest is taken out first: a reading far off all draws has a density that no number holds.
    let most = powers.clone().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = powers.map(|power| (power - most).exp()).sum();
    most + sum.ln() - (n * width * TAU.sqrt()).ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ladder() -> Vec<f64> {
        // Percentiles of a normal curve with a mean of 200 kW and a standard deviation of 5 %, in the logarithm.
        use statrs::distribution::Normal;
        let normal = Normal::new(200e3_f64.ln(), 0.05).expect("a curve");
        (0..1000)
            .map(|i| normal.inverse_cdf((f64::from(i) + 0.5) / 1000.0).exp())
            .collect()
    }

    #[test]
    fn the_transform_of_a_reading_is_its_percentile() {
        let draws = ladder();
        assert!((pit(&draws, 200e3) - 0.5).abs() < 1e-3);
        // 95 % of a normal curve lie below 1.645 standard deviations (tables of the normal distribution).
        assert!((pit(&draws, 200e3 * (1.645_f64 * 0.05).exp()) - 0.95).abs() < 1e-3);
        assert_eq!(pit(&[1.0, 2.0, 3.0], 2.0), 0.5);
    }

    #[test]
    fn the_score_is_the_logarithm_of_the_density() {
        let draws = ladder();
        // A normal curve's density at its middle is 1 / (s √2π); the curves about the draws widen it by less than a tenth.
        let exact = -(0.05 * TAU.sqrt()).ln();
        assert!((log_score(&draws, 200e3) - exact).abs() < 0.1);
        assert!(log_score(&draws, 400e3) < log_score(&draws, 250e3));
        assert!(log_score(&draws, 400e3).is_finite());
    }

    #[test]
    fn a_record_counts_by_kind_and_says_what_chance_may_have_done() {
        let job = |kind: &str, read_w: f64, pit: f64| Turned {
            changes: vec![kind.to_owned(), "tune".to_owned()],
            read_w,
            promised_w: 190e3,
            range_w: (185e3, 200e3, 215e3),
            pit,
            log_score: 1.0,
        };
        let jobs = [
            job("a", 200e3, 0.5),
            job("a", 188e3, 0.1),
            job("b", 230e3, 0.99),
        ];
        let record = Record::of(&jobs);
        let all = record.all.expect("jobs");
        assert_eq!((all.jobs, all.kept, all.held), (3, 2, 2));
        assert_eq!(record.fifths, [1, 0, 1, 0, 1]);
        let kinds: Vec<_> = record
            .by_change
            .iter()
            .map(|row| (row.change.as_deref(), row.jobs))
            .collect();
        assert_eq!(kinds, [(Some("tune"), 3), (Some("a"), 2), (Some("b"), 1)]);
        assert!(all.held_between.0 < 0.35 && all.held_between.1 > 0.9);
        assert_eq!(Record::of(&[]).all, None);
    }

    #[test]
    fn one_wild_draw_does_not_widen_the_density_of_the_rest() {
        // Nine draws 1 % apart and one of twenty times: their standard deviation is 1, a third of their quartiles' 5 %. By the formula above, in
        // NumPy: ln[Σ exp(−z²/2)/(n w √2π)] with w = 0.9 (0.05/1.34) 10^(−1/5).
        let mut draws: Vec<f64> = (-4..=4).map(|i| (0.01 * f64::from(i)).exp()).collect();
        draws.push(20.0);
        assert!((log_score(&draws, 1.0) - 2.270_001_646_011_933).abs() < 1e-9);
    }
}
