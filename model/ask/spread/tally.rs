//! What is kept of the draws: counts from which every quantile is told, in memory that does not grow with their number.

use super::answer::{Cell, CurvePoint, Figures, Quantiles};
use super::block::{Block, GROUPS, Sample, Shown};
use super::draw::Curve;
use super::hours::Hour;
use super::shares::{REPLICAS, Swapped};
use crate::ask::quote::Range;
use crate::car::Limit;
use crate::numeric::{Histogram, straight_held};
use serde::{Deserialize, Serialize};

/// Width of a bin of power, torque or gain, relative.
const FINE: f64 = 1e-4;
/// The same by month and hour of the day, and over engine speed.
const COARSE: f64 = 5e-4;
/// Hours of a year's months: a cell each.
const CELLS: usize = 12 * 24;

/// Counts of one side: before the work, or after it.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Side {
    pub(super) power: Histogram,
    torque: Histogram,
    /// Under each correction.
    pub(super) corrected: Vec<Histogram>,
    curve: Vec<Histogram>,
}

/// The factors of one correction in all hours, before and after the work.
#[derive(Debug)]
pub(super) struct Factors {
    pub(super) before: Vec<f64>,
    pub(super) after: Vec<f64>,
}

/// Everything counted.
///
/// Whole numbers, and lists by block where sums of fractions would depend on their order: parts joined are what one run counts.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Tally {
    pub(super) before: Side,
    pub(super) after: Side,
    gain: Histogram,
    corrected_gain: Vec<Histogram>,
    /// By month and hour of the day, with the sum of the powers in hundredths of a watt.
    cells: Vec<(Histogram, u64)>,
    /// The peak power after the work, replica by replica.
    replicas: Vec<Histogram>,
    /// Samples of each replica, and how many of them miss the promise.
    missed: Vec<(u64, u64)>,
    pub(super) swapped: Vec<Vec<Swapped<GROUPS>>>,
    /// Pulls held against surfaces that are used, and their largest error.
    pub(super) errors: (usize, f64),
    /// The sum of its squares, block by block.
    pub(super) squares: Vec<f64>,
    /// Largest error of a surface that was refused.
    pub(super) refused: f64,
    /// Pulls that met each limit, in the order of [`Limit::ALL`].
    pub(super) limits: Vec<u64>,
    pub(super) pulls: u64,
    pub(super) by_surface: usize,
    pub(super) by_pulls: usize,
    pub(super) failed: usize,
}

/// Power in whole hundredths of a watt, which add up to the same in any order.
fn hundredths(power_w: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a reading is positive and far below 10^17 W"
    )]
    let whole = (100.0 * power_w).round() as u64;
    whole
}

/// Power of a reading under a correction: its electric share is never corrected.
fn corrected(shown: &Shown, factor: f64) -> f64 {
    factor * (shown.power_w - shown.electric_w) + shown.electric_w
}

impl Tally {
    pub(super) fn new(standards: usize, speeds: (usize, usize), replicas: usize) -> Self {
        let side = |speeds: usize| Side {
            power: Histogram::new(FINE),
            torque: Histogram::new(FINE),
            corrected: vec![Histogram::new(FINE); standards],
            curve: vec![Histogram::new(COARSE); speeds],
        };
        let replicas = replicas.clamp(1, REPLICAS);
        Self {
            before: side(speeds.0),
            after: side(speeds.1),
            gain: Histogram::new(FINE),
            corrected_gain: vec![Histogram::new(FINE); standards],
            cells: vec![(Histogram::new(COARSE), 0); CELLS],
            replicas: vec![Histogram::new(FINE); replicas],
            missed: vec![(0, 0); replicas],
            swapped: Vec::new(),
            errors: (0, 0.0),
            squares: Vec::new(),
            refused: 0.0,
            limits: vec![0; Limit::ALL.len()],
            pulls: 0,
            by_surface: 0,
            by_pulls: 0,
            failed: 0,
        }
    }

    /// Adds a block; `replica` of the draws it belongs to.
    pub(super) fn add(
        &mut self,
        block: Block,
        replica: usize,
        (hours, factors): (&[Hour], &[&Factors]),
        (rpm_before, rpm_after): (&[f64], &[f64]),
        promise_w: Option<f64>,
    ) {
        for sample in &block.samples {
            self.sample(sample, replica, (hours, factors), promise_w);
        }
        for [before, after] in &block.curves {
            count_curve(&mut self.before.curve, before, rpm_before);
            count_curve(&mut self.after.curve, after, rpm_after);
        }
        for error in &block.errors {
            self.errors.0 += 1;
            self.errors.1 = self.errors.1.max(error.abs());
        }
        self.squares
            .push(block.errors.iter().map(|error| error * error).sum());
        self.refused = self.refused.max(block.refused);
        for limits in &block.limits {
            self.pulls += 1;
            for (count, limit) in self.limits.iter_mut().zip(Limit::ALL) {
                *count += u64::from(limits.contains(limit));
            }
        }
        self.swapped.push(block.swapped);
        self.by_surface += block.by_surface;
        self.by_pulls += block.by_pulls;
        self.failed += block.failed;
    }

    fn sample(
        &mut self,
        sample: &Sample,
        replica: usize,
        (hours, factors): (&[Hour], &[&Factors]),
        promise_w: Option<f64>,
    ) {
        let (first, second) = sample.hours;
        let power = sample.after.power_w;
        let (ln_before, ln_after) = (sample.before.power_w.ln(), power.ln());
        self.before.power.count_ln(ln_before);
        self.after.power.count_ln(ln_after);
        self.before.torque.count_ln(sample.before.torque_nm.ln());
        self.after.torque.count_ln(sample.after.torque_nm.ln());
        self.gain.count_ln(ln_after - ln_before);
        for (k, factor) in factors.iter().enumerate() {
            let before = corrected(&sample.before, factor.before[first]).ln();
            let after = corrected(&sample.after, factor.after[second]).ln();
            self.before.corrected[k].count_ln(before);
            self.after.corrected[k].count_ln(after);
            self.corrected_gain[k].count_ln(after - before);
        }
        let hour = &hours[second];
        let cell = &mut self.cells[24 * (usize::from(hour.month) - 1) + usize::from(hour.hour)];
        cell.0.count_ln(ln_after);
        cell.1 += hundredths(power);
        self.replicas[replica].count_ln(ln_after);
        self.missed[replica].0 += 1;
        self.missed[replica].1 += u64::from(promise_w.is_some_and(|promise| power < promise));
    }

    /// Adds what the blocks after these came to.
    pub(super) fn join(&mut self, other: Self) {
        let joined = |ours: &mut [Histogram], theirs: &[Histogram]| {
            for (ours, theirs) in ours.iter_mut().zip(theirs) {
                ours.join(theirs);
            }
        };
        let sides = [
            (&mut self.before, &other.before),
            (&mut self.after, &other.after),
        ];
        for (ours, theirs) in sides {
            ours.power.join(&theirs.power);
            ours.torque.join(&theirs.torque);
            joined(&mut ours.corrected, &theirs.corrected);
            joined(&mut ours.curve, &theirs.curve);
        }
        self.gain.join(&other.gain);
        joined(&mut self.corrected_gain, &other.corrected_gain);
        joined(&mut self.replicas, &other.replicas);
        for (ours, theirs) in self.cells.iter_mut().zip(&other.cells) {
            ours.0.join(&theirs.0);
            ours.1 += theirs.1;
        }
        for (ours, theirs) in self.missed.iter_mut().zip(&other.missed) {
            *ours = (ours.0 + theirs.0, ours.1 + theirs.1);
        }
        for (ours, theirs) in self.limits.iter_mut().zip(&other.limits) {
            *ours += theirs;
        }
        self.swapped.extend(other.swapped);
        self.squares.extend(other.squares);
        self.errors = (
            self.errors.0 + other.errors.0,
            self.errors.1.max(other.errors.1),
        );
        self.refused = self.refused.max(other.refused);
        self.pulls += other.pulls;
        self.by_surface += other.by_surface;
        self.by_pulls += other.by_pulls;
        self.failed += other.failed;
    }

    /// Whether it counts the same things as an empty one, after so many blocks: what was read from a file may not.
    pub(super) fn is_like(&self, empty: &Self, blocks: usize) -> bool {
        let fine = |of: &[&[Histogram]]| of.iter().copied().flatten().all(|h| h.holds(FINE));
        let side = |ours: &Side, theirs: &Side| {
            ours.corrected.len() == theirs.corrected.len()
                && ours.curve.len() == theirs.curve.len()
                && fine(&[&[ours.power.clone(), ours.torque.clone()], &ours.corrected])
                && ours.curve.iter().all(|h| h.holds(COARSE))
        };
        side(&self.before, &empty.before)
            && side(&self.after, &empty.after)
            && self.corrected_gain.len() == empty.corrected_gain.len()
            && self.replicas.len() == empty.replicas.len()
            && fine(&[
                std::slice::from_ref(&self.gain),
                &self.corrected_gain,
                &self.replicas,
            ])
            && self.cells.len() == empty.cells.len()
            && self.cells.iter().all(|cell| cell.0.holds(COARSE))
            && self.missed.len() == empty.missed.len()
            && self.limits.len() == empty.limits.len()
            && (self.swapped.len(), self.squares.len()) == (blocks, blocks)
    }

    /// Quantiles of a side's peaks.
    pub(super) fn figures(side: &Side, more: &[f64]) -> Figures {
        Figures {
            power_w: quantiles(&side.power, more),
            torque_nm: quantiles(&side.torque, more),
        }
    }

    /// Gain as a ratio less one, uncorrected and under each correction.
    pub(super) fn gains(&self, more: &[f64]) -> (Quantiles, Vec<Quantiles>) {
        let gain = |histogram: &Histogram| {
            let ratio = quantiles(histogram, more);
            Quantiles {
                range: ratio.range.map(|x| x - 1.0),
                more: ratio.more.iter().map(|&(p, x)| (p, x - 1.0)).collect(),
            }
        };
        (
            gain(&self.gain),
            self.corrected_gain.iter().map(gain).collect(),
        )
    }

    /// Standard error of a quantile of the peak power, W: that of the share below it, from the replicas, over the density there.
    /// Equation (12.3).
    pub(super) fn error_w(&self, share: f64) -> f64 {
        let all = &self.after.power;
        let at = all.quantile(share);
        let (low, high) = ((share - 0.02).max(0.0), (share + 0.02).min(1.0));
        let density = (high - low) / (all.quantile(high) - all.quantile(low));
        let below = self
            .replicas
            .iter()
            .filter(|r| r.total() > 0)
            .map(|r| r.share_below(at));
        error_of_mean(below) / density
    }

    /// Chance to miss the promise, and its standard error.
    pub(super) fn miss(&self) -> (f64, f64) {
        let (all, missed) = self
            .missed
            .iter()
            .fold((0, 0), |sum, r| (sum.0 + r.0, sum.1 + r.1));
        let shares = self
            .missed
            .iter()
            .filter(|r| r.0 > 0)
            .map(|r| r.1 as f64 / r.0 as f64);
        (missed as f64 / all as f64, error_of_mean(shares))
    }

    /// Peak power by month and hour of the day.
    pub(super) fn cells(&self) -> Vec<Cell> {
        let all = self.cells.iter().enumerate();
        all.filter(|(_, cell)| cell.0.total() > 0)
            .map(|(place, (histogram, sum))| {
                let part = |x: usize| u8::try_from(x).unwrap_or(0);
                Cell {
                    month: part(place / 24 + 1),
                    hour: part(place % 24),
                    mean_w: 0.01 * *sum as f64 / histogram.total() as f64,
                    power_w: quantiles(histogram, &[]).range,
                }
            })
            .collect()
    }

    /// Power over the engine speeds after the work; before it where those speeds are the same car's too.
    pub(super) fn curve(&self, rpm: &[f64], rpm_before: Option<&[f64]>) -> Vec<CurvePoint> {
        let of = |side: &Side, k: usize| quantiles(&side.curve[k], &[]).range;
        rpm.iter()
            .enumerate()
            .map(|(k, &rpm)| {
                let nearest = rpm_before
                    .and_then(|before| before.iter().position(|at| (at - rpm).abs() < 0.5));
                CurvePoint {
                    rpm,
                    before_w: nearest.map(|k| of(&self.before, k)),
                    after_w: of(&self.after, k),
                }
            })
            .collect()
    }
}

/// Percentiles of counts, and others asked for.
pub(super) fn quantiles(histogram: &Histogram, more: &[f64]) -> Quantiles {
    Quantiles {
        range: Range {
            p5: histogram.quantile(0.05),
            p50: histogram.quantile(0.50),
            p95: histogram.quantile(0.95),
        },
        more: more.iter().map(|&p| (p, histogram.quantile(p))).collect(),
    }
}

fn count_curve(curve: &mut [Histogram], points: &Curve, rpm: &[f64]) {
    for (histogram, &rpm) in curve.iter_mut().zip(rpm) {
        histogram.count_ln(straight_held(points, rpm).ln());
    }
}

/// Standard error of the mean of independent values.
fn error_of_mean(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    let squares: f64 = values.map(|v| (v - mean).powi(2)).sum();
    if n < 2.0 {
        f64::NAN
    } else {
        (squares / (n * (n - 1.0))).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::ask::draws::{stray, stream};

    /// Independent log-normal readings: the standard error of a quantile is sqrt(p (1 - p)/n)/f in theory, and that is what replicas tell.
    #[test]
    fn errors_of_quantiles_are_those_of_theory() {
        let hour = Hour {
            day_number: 0,
            month: 1,
            hour: 0,
            air: Day::reference(),
        };
        let mut tally = Tally::new(0, (0, 0), REPLICAS);
        let (n, sd) = (40_000, 0.02);
        for k in 0..n {
            let shown = Shown {
                power_w: 2e5 * stray(&mut stream(3, k), sd).exp(),
                electric_w: 0.0,
                torque_nm: 300.0,
            };
            let sample = Sample {
                draw: k,
                hours: (0, 0),
                before: shown,
                after: shown,
            };
            tally.sample(
                &sample,
                usize::try_from(k).expect("few") % REPLICAS,
                (&[hour], &[]),
                Some(2e5),
            );
        }
        // Density of the standard normal curve at its 5, 50 and 95 %, and the quantiles (tables).
        for (share, z, density) in [
            (0.05, -1.644_85, 0.103_14),
            (0.5, 0.0, 0.398_94),
            (0.95, 1.644_85, 0.103_14),
        ] {
            let value = 2e5 * f64::exp(sd * z);
            let theory = (share * (1.0 - share) / n as f64).sqrt() / density * sd * value;
            let found = tally.after.power.quantile(share);
            assert!(
                (found - value).abs() < 4.0 * theory + 0.5e-4 * value,
                "{share}: {found} {value}"
            );
            // Fifty replicas know a standard deviation to a tenth of it.
            let told = tally.error_w(share);
            assert!(
                (told / theory - 1.0).abs() < 0.4,
                "{share}: {told} {theory}"
            );
        }
        let (miss, error) = tally.miss();
        assert!(
            (miss - 0.5).abs() < 4.0 * error && error < 0.005,
            "{miss} {error}"
        );
    }
}
