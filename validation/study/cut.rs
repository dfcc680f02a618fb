//! What a fit knows past the speeds it saw: every baseline is cut at two thirds of its top speed, fitted, and held against the rest.

use crate::build;
use pullcast::ask::quote::Question;
use pullcast::belief::{Miss, Noise};
use pullcast::fit::fitted::calibrate;
use pullcast::parts::Plan;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Where a baseline is cut, as a share of its top speed.
const CUT: f64 = 0.65;
/// Standard deviations from the middle to an end of a 90 % range.
const END: f64 = 1.645;
/// Draws of a quote.
const DRAWS: usize = 100;

/// One engine speed past the cut: distance in ln(speed), error of ln(power), its standard deviation without any doubt of the model's.
struct Past {
    case: usize,
    away: f64,
    error: f64,
    sd: f64,
}

/// The table, and the size of the growth chosen case by case from the others.
pub(crate) fn study(cases: &[(&'static str, String, PathBuf)]) -> String {
    let mut past = Vec::new();
    for (index, (set, name, folder)) in cases.iter().enumerate() {
        match one(index, folder) {
            Some(some) => {
                let last = some.last().map_or((0.0, 0.0), |p| (p.error, p.sd));
                eprintln!(
                    "{set:<7}{name:<32} at the top: error {:+.3}, model sd {:.3}",
                    last.0, last.1
                );
                past.extend(some);
            }
            None => eprintln!("{set:<7}{name:<32} no quote"),
        }
    }
    told(&past, cases.len())
}

fn one(case: usize, folder: &std::path::Path) -> Option<Vec<Past>> {
    let whole = build::read(folder);
    let mut cut = whole.baseline.clone();
    let top = whole.baseline.read_over()?.to_rpm;
    for pull in &mut cut.pulls {
        pull.curve.bands.retain(|band| band.rpm <= CUT * top);
    }
    let visits = std::slice::from_ref(&cut);
    let fitted = calibrate(&whole.sheet, visits, Noise::default()).ok()?;
    let plan = Plan {
        name: "nothing".to_owned(),
        changes: Vec::new(),
    };
    let mut question = Question {
        draws: Some(DRAWS),
        ..Question::new(&fitted.sheet, &plan, visits, None)
    };
    question.noise.miss = Miss::NONE;
    (question.noise.visit, question.noise.pull) = (0.0, 0.0);
    let answer = question.answer().ok()?;
    let points = answer.curve.iter().filter_map(|point| {
        let away = (point.rpm / (CUT * top)).ln();
        let range = point.before_w?.range;
        let mut read: Vec<f64> = whole
            .baseline
            .pulls
            .iter()
            .flat_map(|pull| &pull.curve.bands)
            .filter(|band| (band.rpm / point.rpm).ln().abs() < 0.02)
            .map(|band| band.power_w)
            .collect();
        read.sort_by(f64::total_cmp);
        let middle = read.get(read.len() / 2)?;
        (away > 0.0).then(|| Past {
            case,
            away,
            error: (range.p50 / middle).ln(),
            sd: (range.p95 / range.p5).ln() / (2.0 * END),
        })
    });
    Some(points.collect())
}

/// Mean logarithmic score of a growth, larger is better.
fn score<'p>(some: impl Iterator<Item = &'p Past>, growth: f64) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for p in some {
        // 1 % of noise in the reading itself.
        let variance = p.sd * p.sd + (growth * p.away).powi(2) + 1e-4;
        sum -= 0.5 * (variance.ln() + p.error * p.error / variance);
        n += 1.0;
    }
    sum / n
}

fn best(past: &[Past], without: Option<usize>) -> f64 {
    let grid = (0..=60).map(|k| 0.01 * f64::from(k));
    let of = |growth: f64| score(past.iter().filter(|p| Some(p.case) != without), growth);
    grid.max_by(|a, b| of(*a).total_cmp(&of(*b))).unwrap_or(0.0)
}

fn told(past: &[Past], cases: usize) -> String {
    let mut text = String::new();
    let (mut held, mut held_bare, mut left_out, mut bare) = (0, 0, 0.0, 0.0);
    for case in 0..cases {
        let growth = best(past, Some(case));
        for p in past.iter().filter(|p| p.case == case) {
            let sd = |growth: f64| (p.sd * p.sd + (growth * p.away).powi(2) + 1e-4).sqrt();
            held += usize::from(p.error.abs() < END * sd(growth));
            held_bare += usize::from(p.error.abs() < END * sd(0.0));
            left_out += score(std::iter::once(p), growth);
            bare += score(std::iter::once(p), 0.0);
        }
    }
    let n = past.len() as f64;
    let _ = writeln!(
        text,
        "{} points past the cut; inside 90 %: {:.0} % without growth, {:.0} % with it left out; score {:.2} and {:.2}; growth of all {:.2} per ln(speed)",
        past.len(),
        100.0 * held_bare as f64 / n,
        100.0 * held as f64 / n,
        bare / n,
        left_out / n,
        best(past, None)
    );
    text
}
