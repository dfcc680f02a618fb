//! The questions of one car: what it will read, what its pulls say, the range to promise, why a pull is odd.

use crate::answer::Answer;
use crate::car::{Air, Car, Plan, visits};
use crate::error::{refused, settle, warn};
use ::pullcast::ask::fingerprint::Fingerprint;
use ::pullcast::ask::{self, basis};
use ::pullcast::diagnose::Entered;
use ::pullcast::dyno::pull::AxleStart;
use ::pullcast::files::{Problem, VisitFile};
use ::pullcast::fit::observation::Visit;
use ::pullcast::parts;
use ::pullcast::report::fit::{FitReport, gate};
use ::pullcast::report::guard::held;
use ::pullcast::report::quote::{QuoteReport, Warning};
use ::pullcast::report::{Stamp, Stamped, Units};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use std::ops::RangeInclusive;
use std::path::PathBuf;

/// Holds a number to the range that the program takes too.
pub(crate) fn within<T: PartialOrd + std::fmt::Display>(
    name: &str,
    value: T,
    range: &RangeInclusive<T>,
) -> PyResult<T> {
    if range.contains(&value) {
        return Ok(value);
    }
    let (low, high) = (range.start(), range.end());
    let message = format!("{name} = {value}: expected {low} to {high}");
    Err(PyValueError::new_err(message))
}

fn asked<T: PartialOrd + std::fmt::Display>(
    name: &str,
    value: Option<T>,
    range: &RangeInclusive<T>,
) -> PyResult<Option<T>> {
    value.map(|value| within(name, value, range)).transpose()
}

/// The most likely pull, engine speed by engine speed, without a range.
#[pyfunction]
#[pyo3(signature = (car, plan = None, *, weather = None, standard = None, mechanical_efficiency = None, charge = None, electric_axle = None, pulls = None, rest_s = None, within_share = None))]
#[expect(clippy::too_many_arguments, reason = "each is a keyword of its own")]
pub(crate) fn predict(
    py: Python<'_>,
    car: &Car,
    plan: Option<&Plan>,
    weather: Option<&Air>,
    standard: Option<&str>,
    mechanical_efficiency: Option<f64>,
    charge: Option<f64>,
    electric_axle: Option<bool>,
    pulls: Option<usize>,
    rest_s: Option<f64>,
    within_share: Option<f64>,
) -> PyResult<Answer> {
    let sheet = car.sheet();
    let plan = plan.map(|plan| plan.on(py, car)).transpose()?;
    let standard = car.standard(standard)?;
    let mechanical_efficiency = efficiency(mechanical_efficiency)?;
    let charge = asked("charge", charge, &(0.0..=1.0))?;
    let start = (charge.is_some() || electric_axle.is_some()).then(|| AxleStart {
        on: electric_axle.unwrap_or(true),
        charge: charge.unwrap_or(AxleStart::RESTED.charge),
        ..AxleStart::RESTED
    });
    let (rest_s, near) = (
        asked("rest_s", rest_s, &(0.0..=86_400.0))?,
        asked("within_share", within_share, &(0.0005..=0.5))?,
    );
    let row = asked("pulls", pulls, &(2..=100))?.map(|pulls| {
        let usual = ask::predict::Row::of(pulls);
        ask::predict::Row {
            rest_s: rest_s.unwrap_or(usual.rest_s),
            within: near.unwrap_or(usual.within),
            ..usual
        }
    });
    let air = weather.map_or_else(basis::Air::reference, |air| air.air.clone());
    py.detach(|| {
        let inputs = Fingerprint::of(sheet)
            .plan(plan)
            .air(Some(&air.day))
            .and("start", &start)
            .and("row", &row)
            .and("standard", &standard)
            .and("mechanical efficiency", &mechanical_efficiency);
        let question = ask::predict::Question {
            start,
            standard,
            mechanical_efficiency,
            row,
            ..ask::predict::Question::new(&sheet.centre, plan, air)
        };
        Answer::of(&Stamped {
            report: question.answer().map_err(|why| refused(&why))?,
            made_by: Stamp::new(inputs.name(), None, None),
        })
    })
}

pub(crate) fn efficiency(asked_for: Option<f64>) -> PyResult<Option<f64>> {
    asked("mechanical_efficiency", asked_for, &(0.3..=1.0))
}

/// A calibration on visits read, and what was odd in them.
fn calibrated(
    py: Python<'_>,
    car: &Car,
    files: Vec<VisitFile>,
    accept_misfit: bool,
) -> PyResult<(Car, Vec<Visit>, FitReport, ::pullcast::files::Problems)> {
    let guarded = py.detach(|| held(car.sheet(), &files, true, Units::Metric));
    settle(py, &guarded.problems)?;
    let visits: Vec<Visit> = files.into_iter().map(|file| file.visit).collect();
    let question = ask::fit::Question {
        sheet: car.sheet(),
        visits: &visits,
        noise: car.shop.noise(),
        accept_misfit,
    };
    let (fitted, answer) = py
        .detach(|| question.answer())
        .map_err(|why| refused(&why))?;
    if let Some(words) = gate(&answer, Units::Metric) {
        return Err(refused(&format!(
            "{words}; accept_misfit=True goes on anyway"
        )));
    }
    let known = car.known(fitted.sheet, answer.clone());
    let report = FitReport {
        answer,
        recordings: guarded.answers,
        written: None,
    };
    Ok((known, visits, report, guarded.problems))
}

/// Calibrates a car on measured pulls: the fitted car, and an account of the fit.
#[pyfunction]
#[pyo3(signature = (car, visits, *, accept_misfit = false))]
pub(crate) fn fit(
    py: Python<'_>,
    car: &Car,
    visits: Vec<PathBuf>,
    accept_misfit: bool,
) -> PyResult<(Car, Answer)> {
    let read = self::visits(py, &visits, Some(car.sheet().centre.drums.radius_m))?;
    let (known, _, report, _) = calibrated(py, car, read, accept_misfit)?;
    let answer = py.detach(|| Answer::of(&report))?;
    Ok((known, answer))
}

/// The range to promise for planned work. With visits the car is fitted to them first; the last of them is the reading before.
#[pyfunction]
#[pyo3(signature = (car, plan = None, *, visits = Vec::new(), weather = None, standard = None, mechanical_efficiency = None, hoped_w = None, draws = None, seed = 1, accept_misfit = false))]
#[expect(clippy::too_many_arguments, reason = "each is a keyword of its own")]
pub(crate) fn quote(
    py: Python<'_>,
    car: &Car,
    plan: Option<&Plan>,
    visits: Vec<PathBuf>,
    weather: Option<&Air>,
    standard: Option<&str>,
    mechanical_efficiency: Option<f64>,
    hoped_w: Option<f64>,
    draws: Option<usize>,
    seed: u64,
    accept_misfit: bool,
) -> PyResult<Answer> {
    if let Some(draws) = draws {
        within("draws", draws, &(ask::quote::LEAST_DRAWS..=100_000))?;
    }
    let standard = car.standard(standard)?;
    let mechanical_efficiency = efficiency(mechanical_efficiency)?;
    let as_it_stands = parts::Plan::as_it_stands();
    let plan = match plan {
        Some(plan) => plan.on(py, car)?,
        None => &as_it_stands,
    };
    let mut inputs = Fingerprint::of(car.sheet())
        .plan(Some(plan))
        .air(weather.map(|air| &air.air.day))
        .and(
            "draws",
            &draws.map(|draws| u32::try_from(draws).unwrap_or(u32::MAX)),
        )
        .and("reach", &NOT_REACHED)
        .and("standard", &standard)
        .and("mechanical efficiency", &mechanical_efficiency);
    let repeats = (car.shop.visit, car.shop.pull);
    if repeats != (None, None) {
        inputs = inputs.and("repeatability", &repeats);
    }
    if let Some(hoped_w) = hoped_w {
        inputs = inputs.and("hoped", &hoped_w);
    }
    let read = self::visits(py, &visits, Some(car.sheet().centre.drums.radius_m))?;
    let calibrated = if read.is_empty() {
        None
    } else {
        Some(calibrated(py, car, read, accept_misfit)?)
    };
    let (sheet, visits) = match &calibrated {
        Some((known, visits, _, _)) => (known.sheet(), visits.as_slice()),
        None => (car.sheet(), &[][..]),
    };
    let question = ask::quote::Question {
        standard,
        mechanical_efficiency,
        noise: car.shop.noise(),
        hoped_w,
        draws,
        seed,
        ..ask::quote::Question::new(sheet, plan, visits, weather.map(|air| air.air.clone()))
    };
    let made_by = Stamp::new(inputs.visits(visits).name(), Some(seed), None);
    let odd = calibrated.iter().flat_map(|(_, _, _, odd)| odd.iter());
    let warnings = odd.map(warning).collect();
    let fit = calibrated.as_ref().map(|(_, _, report, _)| report.clone());
    py.detach(|| {
        let answer = question.answer().map_err(|why| refused(&why))?;
        Answer::of(&Stamped {
            report: QuoteReport {
                answer,
                fit,
                warnings,
            },
            made_by,
        })
    })
}

/// What the program says of a search that was not asked for.
const NOT_REACHED: (Option<f64>, Option<ask::quote::Dial>, Option<f64>, bool) =
    (None, None, None, false);

fn warning(problem: &Problem) -> Warning {
    Warning {
        code: problem.code,
        file: problem.file.clone(),
        message: problem.message.clone(),
        expected: problem.expected.clone(),
    }
}

/// Why one pull of a visit looks wrong: causes with their chances and sizes, and the next measurement. `pull` counts from 1.
#[pyfunction]
#[pyo3(signature = (car, odd, *, good = Vec::new(), pull = None, same_strapping = false, same_air = false))]
pub(crate) fn diagnose(
    py: Python<'_>,
    car: &Car,
    odd: PathBuf,
    good: Vec<PathBuf>,
    pull: Option<usize>,
    same_strapping: bool,
    same_air: bool,
) -> PyResult<Answer> {
    let pull = asked("pull", pull, &(1..=usize::from(u16::MAX)))?;
    let named: Vec<PathBuf> = std::iter::once(odd).chain(good).collect();
    let mut all = visits(py, &named, Some(car.sheet().centre.drums.radius_m))?;
    let elsewhere: Vec<Problem> = all.iter().filter_map(VisitFile::not_on_drums).collect();
    let mut problems = ::pullcast::files::Problems::new();
    for problem in elsewhere {
        problems.push(problem);
    }
    settle(py, &problems)?;
    let guarded = py.detach(|| held(car.sheet(), &all, false, Units::Metric));
    // What looks wrong is asked about, not refused.
    warn(py, &guarded.problems)?;
    let odd = all.remove(0);
    let good: Vec<(Visit, Vec<Entered>)> = all
        .into_iter()
        .map(|file| (file.visit, file.entered))
        .collect();
    let question = ask::diagnose::Question {
        sheet: car.sheet(),
        good: &good,
        odd: &odd.visit,
        entered: &odd.entered,
        pull: pull.map(|number| number - 1),
        same_strapping,
        same_air,
    };
    py.detach(|| Answer::of(&question.answer().map_err(|why| refused(&why))?))
}
