//! The course of a pull held against itself, its visit and what was typed: a lift, a log too slow for its bands, pulls of one visit that are
//! not of one car, entries that are not the car file's.
//!
//! Exists because each of these is a figure that a fit would follow. It refuses to say what an engine should give.

use super::{Candidate, Contradiction, Finding, Mistake, Question, Severity};
use crate::dyno::Band;
use crate::fit::observation::MeasuredPull;
use crate::numeric::{straight_held, upper_median};
use crate::units;

/// Torque of a band over that of the bands on both sides, below which a foot was lifted; over that before it, at the end. No engine's torque
/// falls and rises so within a few hundred rpm (common practice, no source).
const DIP: f64 = 0.88;
const END: f64 = 0.72;
/// Bands next to one that are its own neighbourhood, and those beyond that stand for what it should be.
const NEAR: usize = 3;
const FAR: usize = 8;
/// Share of a pull's engine speeds that bands must cover, without a word and at all.
const COVERED: (f64, f64) = (0.80, 0.5);
/// Rows that a band needs.
const ROWS: f64 = 3.0;
/// Pulls of a visit differ by less in power, as a logarithm: the third pull reads 2 to 6 % below the first (common practice, no source); and by
/// less in engine over drum speed: what a tyre grows and slips.
const REPEATS: (f64, f64) = (0.09, 0.25);
const GEARING: f64 = 0.02;
/// Entries that differ by more are two numbers, not one rounded otherwise.
const ROUNDED: f64 = 0.005;
/// Fewest bands of a pull whose course is asked about.
const LEAST_BANDS: usize = 12;

fn nm(band: &Band) -> f64 {
    band.power_w / units::rad_s(band.rpm)
}

impl Question<'_> {
    /// Everything that the pull's course, its visit and its entries contradict.
    /// Equation (6.33).
    pub(super) fn course(&self) -> Vec<Finding> {
        let each = [
            self.lift(),
            self.slow(),
            self.inertia_entered(),
            self.ratio_entered(),
        ];
        let visit = self.visit();
        each.into_iter().chain(visit).flatten().collect()
    }

    fn stopping(&self, stops: bool, finding: Finding) -> Finding {
        let severity = if stops && !self.trusted {
            Severity::Stops
        } else {
            Severity::Warns
        };
        Finding {
            severity,
            ..finding
        }
    }

    /// A lift: torque that falls and comes back, or is gone at the end.
    fn lift(&self) -> Option<Finding> {
        let torque: Vec<f64> = self.pull.curve.bands.iter().map(nm).collect();
        let n = torque.len();
        if n < LEAST_BANDS {
            return None;
        }
        let median = |range: std::ops::Range<usize>| {
            upper_median(torque[range].iter().copied()).unwrap_or(f64::NAN)
        };
        let deepest = (FAR..n).map(|i| {
            let before = median(i - FAR..i - NEAR + 1);
            let after = i + NEAR;
            let (share, least) = if after + NEAR <= n {
                (torque[i] / before.min(median(after..(i + FAR).min(n))), DIP)
            } else {
                (torque[i] / before, END)
            };
            (share, least, i)
        });
        let (share, least, at) = deepest
            .filter(|(share, least, _)| share < least)
            .min_by(|a, b| (a.0 / a.1).total_cmp(&(b.0 / b.1)))?;
        let rpm = self.pull.curve.bands[at].rpm;
        let of = vec![(Mistake::ThrottleLift, rpm)];
        Some(warns(
            Contradiction::CourseOfThePull,
            share,
            1.0 - least,
            of,
        ))
    }

    /// Bands that hold no reading: a log too slow for the pull.
    fn slow(&self) -> Option<Finding> {
        let bands = &self.pull.curve.bands;
        let energy = self.pull.curve.rig.energy?;
        let interval_s = self.pull.curve.rig.interval_s?;
        let [from, to] = energy.engine_rad_s.map(units::rpm);
        let duration_s = self.pull.curve.rig.duration_s?;
        let width_rpm = self.pull.curve.band_rpm;
        let rows_per_band = width_rpm * duration_s / (to - from).max(1.0) / interval_s;
        let covered = bands.len() as f64 * width_rpm / (to - from).max(width_rpm);
        if covered >= COVERED.0 {
            return None;
        }
        let hz = ROWS / rows_per_band.max(1e-6) / interval_s;
        let of = vec![(Mistake::SlowLog, hz)];
        let finding = warns(Contradiction::RowsOfTheLog, covered, 1.0 - COVERED.0, of);
        Some(self.stopping(covered < COVERED.1, finding))
    }

    /// Inertia noted as typed into the rig against the car file's.
    fn inertia_entered(&self) -> Option<Finding> {
        let file = self.sheet.centre.drums.inertia_kg_m2;
        let typed = self.entered.drum_inertia_kg_m2?;
        let within = ROUNDED.hypot(3.0 * self.doubt("drums.inertia"));
        let of = vec![(Mistake::DrumInertia, typed)];
        ((typed / file).ln().abs() > within)
            .then(|| warns(Contradiction::EntriesOfTheRig, typed / file, within, of))
    }

    /// Ratios noted as typed against the car file's.
    fn ratio_entered(&self) -> Option<Finding> {
        let line = &self.sheet.centre.car.driveline;
        let file = line.train.ratio();
        let typed = self.entered.overall_ratio?;
        let ratio = typed / file;
        let gear = (Mistake::Gear, line.gear_ratio() * ratio);
        let last = (Mistake::FinalDrive, line.final_ratio() * ratio);
        let of = if ratio.ln().abs() > super::TYRES {
            vec![gear, last]
        } else {
            vec![last, gear]
        };
        (ratio.ln().abs() > ROUNDED)
            .then(|| warns(Contradiction::EntriesOfTheRig, ratio, ROUNDED, of))
    }

    /// The pull against the others of its visit: two of them say that they differ, three which it is.
    fn visit(&self) -> [Option<Finding>; 2] {
        let median_of = |of: &dyn Fn(&MeasuredPull) -> Option<f64>| {
            let values: Vec<f64> = self.others.iter().filter_map(of).collect();
            // With one other nobody knows which of the two it is: the later one is told.
            upper_median(values)
        };
        let power = median_of(&|other| over(self.pull, other, &|b| Some(b.power_w)));
        let gearing = median_of(&|other| over(self.pull, other, &|b| b.engine_per_drum));
        let first = self.others.is_empty();
        let power = power.filter(|p| !first && p.abs() > REPEATS.0).map(|p| {
            let of = vec![(Mistake::AnotherCar, p.exp())];
            let within = REPEATS.0.exp_m1();
            let finding = warns(Contradiction::PullsOfTheVisit, p.exp(), within, of);
            self.stopping(p.abs() > REPEATS.1, finding)
        });
        let gearing = gearing.filter(|g| !first && g.abs() > GEARING).map(|g| {
            let line = &self.sheet.centre.car.driveline;
            let of = vec![
                (Mistake::Gear, line.gear_ratio() * g.exp()),
                (Mistake::AnotherCar, g.exp()),
            ];
            warns(Contradiction::GearingOfTheVisit, g.exp(), GEARING, of)
        });
        [power, gearing]
    }
}

/// A finding that a person should look at.
fn warns(finding: Contradiction, ratio: f64, within: f64, of: Vec<(Mistake, f64)>) -> Finding {
    let candidates = of.into_iter().map(|(mistake, value)| Candidate {
        mistake,
        value_that_would_agree: value,
    });
    Finding {
        finding,
        ratio,
        within,
        candidates: candidates.collect(),
        severity: Severity::Warns,
    }
}

/// Median logarithm of what a pull's bands hold over another's at the same engine speeds; nothing where they share too few.
fn over(
    pull: &MeasuredPull,
    other: &MeasuredPull,
    of: &dyn Fn(&Band) -> Option<f64>,
) -> Option<f64> {
    let bands = other.curve.bands.iter();
    let points: Vec<(f64, f64)> = bands
        .filter_map(|b| Some((b.rpm, of(b).filter(|v| *v > 0.0)?.ln())))
        .collect();
    let (first, last) = (points.first()?.0, points.last()?.0);
    let shared: Vec<f64> = pull
        .curve
        .bands
        .iter()
        .filter(|b| (first..=last).contains(&b.rpm))
        .filter_map(|b| Some(of(b).filter(|v| *v > 0.0)?.ln() - straight_held(&points, b.rpm)))
        .collect();
    if shared.len() < LEAST_BANDS {
        return None;
    }
    upper_median(shared)
}
