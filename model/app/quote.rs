//! `quote`: the range to promise, calibrated first where a visit is named.

use crate::args::{QuoteArgs, ReachArgs};
use crate::fit::{self, Done};
use crate::load::{Air, Files, read, reference_air};
use crate::output::{Failure, Output};
use pullcast::ask::quote::reach::ReachError;
use pullcast::ask::quote::{Dial, Question, QuoteError, Reach};
use pullcast::belief::Noise;
use pullcast::belief::sheet::{Origin, Sheet};
use pullcast::car::Car;
use pullcast::dyno::Conditions;
use pullcast::dyno::Pull;
use pullcast::dyno::pull::AxleStart;
use pullcast::files::CarFile;
use pullcast::report::basis::{Weather, subject_of};
use pullcast::report::by_cycle::ByCycle;
use pullcast::report::cautions::{self, Caution, not_included};
use pullcast::report::interactions::InteractionsReport;
use pullcast::report::quote::{Basis, QuoteReport, ReadOn};
use pullcast::report::reach::{Grounds, ReachReport};
use pullcast::report::{Units, What};

/// Share of failed draws above which the range no longer speaks for the car.
const MOST_FAILED: f64 = 0.05;

pub(crate) fn run(args: &QuoteArgs, out: Output) -> Result<(), Failure> {
    let mut files = Files::default();
    let car = files.car(&args.car);
    let plan = files.plan(&args.plan, car.as_ref());
    let visits = files.visits(&args.visits);
    let weather = args.weather.as_ref().map(|path| files.weather(path));
    files.car_output(args.out.as_deref(), args.force);
    let warnings = files.finish(out)?;
    let (car, plan) = (read(car)?, read(plan)?.plan);
    let weather = weather.map(read).transpose()?;

    let done = if visits.is_empty() {
        None
    } else {
        let visits = visits.into_iter().map(read).collect::<Result<_, _>>()?;
        let write = args.out.as_deref().map(|path| (path, args.force));
        let done = fit::fit(&car, visits, write, args.misfit, out)?;
        done.gate(args.misfit, out)?;
        Some(done)
    };
    let sheet = done.as_ref().map_or(&car.sheet, |done| &done.fitted.sheet);
    let before = Before::of(done.as_ref(), sheet);
    let (before_air, after_air) = airs(&before, weather)?;

    let centre = plan.map(|_, _, prior| prior.centre());
    let built = centre
        .apply(&sheet.centre.car)
        .map_err(|error| Failure::Gate(error.to_string()))?;
    let noise = Noise::default();
    let efficiency = args.correction.mechanical_efficiency;
    let question = Question {
        sheet,
        plan: &plan,
        before_day: before_air.day,
        after_day: after_air.day,
        conditions: before.conditions,
        read_before_w: before.read_w,
        noise,
        standard: args.correction.standard,
        subjects: (
            subject_of(&sheet.centre.car, efficiency),
            subject_of(&built, efficiency),
        ),
        draws: args.draws as usize,
        seed: args.seed,
    };
    out.note(&format!("drawing {} cars, seed {}", args.draws, args.seed));
    if let Some((target_w, by)) = args.reach.reach.zip(args.reach.by) {
        let air = Weather::of(&after_air.day, after_air.source);
        let grounds = grounds(done.as_ref(), is_fitted(&car), air);
        return reach(&question, (target_w, by.into()), &args.reach, grounds, out);
    }
    let quote = question.answer().map_err(|error| match error {
        QuoteError::Correction(_) => Failure::Usage(error.to_string()),
        _ => Failure::Gate(error.to_string()),
    })?;
    let basis = Basis {
        car: sheet.centre.car.name.clone(),
        plan: plan.name.clone(),
        fitted: is_fitted(&car) || done.is_some(),
        read_before_w: before.read_w,
        read_on: before.read_on,
        weather_before: Weather::of(&before_air.day, before_air.source),
        weather_after: Weather::of(&after_air.day, after_air.source),
        visit_repeatability: noise.visit,
        pull_repeatability: noise.pull,
        transfer: noise.transfer,
        by_cycle: quote.by_cycle.as_deref().map(ByCycle::new),
        warnings: warnings
            .iter()
            .map(|w| format!("{}: {}", w.file, w.message))
            .collect(),
        draws: quote.used,
        draws_failed: quote.failed,
        seed: args.seed,
    };
    let mut report = QuoteReport::new(
        &quote,
        basis,
        done.as_ref().map(|done| done.report.clone()),
        &plan,
        cautions_of(&quote.centre, &built),
        not_included(&centre, &car.sheet.centre.car, &built),
    );
    report.interactions = interactions(&question)?;
    out.report(&report)?;
    let failed = quote.failed as f64 / (quote.used + quote.failed) as f64;
    if failed > MOST_FAILED {
        return Err(Failure::Gate(format!(
            "{:.0} % of the draws could not make the pull",
            100.0 * failed
        )));
    }
    Ok(())
}

/// What to mind on the drums after the work.
fn cautions_of(pull: &Pull, built: &Car) -> Vec<Caution> {
    let in_both_units = |m_s: f64| {
        format!(
            "{} ({})",
            Units::Metric.show(What::Speed, m_s),
            Units::Shop.show(What::Speed, m_s)
        )
    };
    let top_m_s = pull.points.last().map_or(0.0, |p| p.speed_m_s);
    let rating = in_both_units(built.thresholds.tyre_speed_m_s);
    let mut list = cautions::of_limits(pull.limits, &rating);
    list.extend(cautions::of_pull(built, &in_both_units(top_m_s)));
    list
}

/// What the plan's changes gain together and one by one.
fn interactions(question: &Question<'_>) -> Result<Option<InteractionsReport>, Failure> {
    let found = question
        .interactions()
        .map_err(|error| Failure::Gate(error.to_string()))?;
    Ok(found.map(|found| InteractionsReport::new(&found, question.plan)))
}

fn grounds(done: Option<&Done>, fitted: bool, weather: Weather) -> Grounds {
    Grounds {
        fit: done.map(|done| done.report.clone()),
        fitted: fitted || done.is_some(),
        weather,
    }
}

/// Chance asked for where nothing is said.
const CHANCE: f64 = 0.9;
/// Most draws of the inverse question: each is kept in memory for all values.
const MOST_DRAWS: usize = 5000;

/// The inverse question.
fn reach(
    question: &Question<'_>,
    (target_w, dial): (f64, Dial),
    args: &ReachArgs,
    grounds: Grounds,
    out: Output,
) -> Result<(), Failure> {
    if question.draws > MOST_DRAWS {
        return Err(Failure::Usage(format!(
            "--reach takes at most {MOST_DRAWS} draws, not {}",
            question.draws
        )));
    }
    let asked = Reach {
        question,
        dial,
        target_w,
        chance: args.chance.unwrap_or(CHANCE),
        corrected: args.corrected,
    };
    let reached = asked.answer().map_err(|error| match error {
        ReachError::Quote(QuoteError::Correction(_))
        | ReachError::Dial(_)
        | ReachError::OutsideRange { .. } => Failure::Usage(error.to_string()),
        _ => Failure::Gate(error.to_string()),
    })?;
    out.report(&ReachReport::new(&asked, &reached, grounds))
}

/// The reading before.
struct Before {
    conditions: Conditions,
    read_w: Option<f64>,
    read_on: Option<ReadOn>,
    air: Option<Air>,
}

impl Before {
    /// From the last visit: its pulls with the electric axle on or, if there is none, all of them; a car without a visit is
    /// taken as rested.
    fn of(done: Option<&Done>, sheet: &Sheet) -> Self {
        let rested = Conditions::rested(sheet.centre.car.engine.redline_rpm);
        let Some((visit, pulls)) = done
            .and_then(|done| done.visits.last())
            .map(|visit| (visit, visit.as_driven()))
        else {
            return Self {
                conditions: rested,
                read_w: None,
                read_on: None,
                air: None,
            };
        };
        let first = pulls.first();
        let axle: AxleStart = first.map_or(rested.axle, |pull| pull.conditions.axle);
        Self {
            conditions: Conditions {
                axle,
                core_k: first.and_then(|pull| pull.conditions.core_k),
                ..rested
            },
            read_w: visit.read_w(),
            read_on: Some(ReadOn {
                visit: visit.name.clone(),
                pulls: pulls.len(),
                visits: done.map_or(1, |done| done.visits.len()),
            }),
            air: first.map(|pull| Air {
                day: pull.day,
                source: format!("visit '{}'", visit.name),
                altitude_m: None,
            }),
        }
    }
}

/// The air before and after: what is not given is taken from the other side, and reference air from neither.
fn airs(before: &Before, weather: Option<Air>) -> Result<(Air, Air), Failure> {
    Ok(match (before.air.clone(), weather) {
        (Some(before), Some(after)) => (before, after),
        (Some(air), None) | (None, Some(air)) => (air.clone(), air),
        (None, None) => (reference_air()?, reference_air()?),
    })
}

fn is_fitted(car: &CarFile) -> bool {
    car.sheet
        .beliefs
        .iter()
        .any(|belief| belief.origin == Origin::Fitted)
}
