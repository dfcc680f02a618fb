//! `quote`: the range to promise, calibrated first where a visit is named.

use crate::args::{QuoteArgs, ReachArgs};
use crate::book;
use crate::fit;
use crate::learned;
use crate::load::{Files, read};
use crate::output::{Failure, Output, write_file};
use pullcast::ask::basis;
use pullcast::ask::fingerprint::Fingerprint;
use pullcast::ask::quote::reach::{MOST_DRAWS, ReachError, USUAL_CHANCE};
use pullcast::ask::quote::{Dial, Gate, Question, QuoteError, Reach};
use pullcast::files::Problem;
use pullcast::fit::own_jobs::ClosedJob;
use pullcast::parts::Plan;
use pullcast::report::fit::FitReport;
use pullcast::report::quote::{QuoteReport, Warning};
use pullcast::report::reach::ReachReport;
use pullcast::report::sheet::{Letter, pdf, sheet};
use pullcast::report::{Stamp, Stamped};
use std::path::Path;

/// A quote made, and what the book keeps of its car.
pub(crate) struct Quoted {
    pub(crate) report: Stamped<QuoteReport>,
    pub(crate) car_text: String,
    pub(crate) car_is_fitted: bool,
    /// Text of its plan with the parts of the shelf put in, where it names any.
    pub(crate) plan_text: Option<String>,
    /// The closed jobs it learned from.
    pub(crate) own_jobs: Vec<ClosedJob>,
}

/// What is answered: a range, or what it takes.
enum Answered {
    Range(Box<Quoted>),
    Reach(Box<Stamped<ReachReport>>),
}

pub(crate) fn run(args: &QuoteArgs, out: Output<'_>) -> Result<(), Failure> {
    let made = match answered(args, None, out)? {
        Answered::Range(made) => made,
        Answered::Reach(report) => return out.report(&*report),
    };
    out.drawing(&made.report, &args.draw, args.force)?;
    hand_over(&made.report, args, out)?;
    if let Some(book) = &args.book {
        let named = Some(Path::new(book)).filter(|path| !path.as_os_str().is_empty());
        let path = book::path_of(named, out);
        book::keep(&path, args, &made, out)?;
    }
    out.report(&made.report)?;
    match made.report.report.answer.gate {
        Some(Gate::DrawsFailed { share }) => Err(Failure::Gate(format!(
            "{:.0} % of the draws could not make the pull",
            100.0 * share
        ))),
        None => Ok(()),
    }
}

/// The range, with the pull after the work in some air instead of the one that the call names.
pub(crate) fn quoted(
    args: &QuoteArgs,
    air: Option<basis::Air>,
    out: Output<'_>,
) -> Result<Quoted, Failure> {
    match answered(args, air, out)? {
        Answered::Range(made) => Ok(*made),
        Answered::Reach(_) => Err(Failure::Usage("no range was asked for".to_owned())),
    }
}

fn answered(
    args: &QuoteArgs,
    air: Option<basis::Air>,
    out: Output<'_>,
) -> Result<Answered, Failure> {
    let mut files = Files::of("quote", out);
    let car = files.car(&args.car);
    let plan = args.plan.as_ref();
    let plan = plan.map(|path| files.plan(path, car.as_ref()));
    let visits = files.visits(&args.visits);
    let weather = args.weather.as_ref().map(|path| files.weather(path));
    files.car_output(args.out.as_deref(), args.force);
    files.drawing(&args.draw, args.force);
    files.output(args.sheet.sheet.as_deref(), args.force);
    files.output(args.sheet.pdf.as_deref(), args.force);
    let warnings = files.finish(out)?;
    let car = read(car)?;
    let (plan, from_shelf) = match plan {
        Some(plan) => read(plan).map(|file| (file.plan, file.from_shelf))?,
        None => (Plan::as_it_stands(), None),
    };
    let weather = weather.map(read).transpose()?;

    let mut inputs = Fingerprint::of(&car.sheet)
        .plan(Some(&plan))
        .air(weather.as_ref().map(|air| &air.day))
        .and("draws", &args.draws)
        .and(
            "reach",
            &(
                args.reach.reach,
                args.reach.by,
                args.reach.chance,
                args.reach.corrected,
            ),
        );
    inputs = args.correction.named(inputs, out);
    let repeats = (out.shop.visit, out.shop.pull);
    if repeats != (None, None) {
        inputs = inputs.and("repeatability", &repeats);
    }
    if let Some(hoped_w) = args.sheet.hoped {
        inputs = inputs.and("hoped", &hoped_w);
    }
    let noise = out.shop.noise();
    let mut own_jobs = learned::jobs(args, out);
    let learned = learned::learned(&own_jobs, &noise.miss, args.seed);
    if learned.is_some() {
        inputs = inputs.and("own jobs", &own_jobs);
    } else {
        own_jobs.clear();
    }
    let done = if visits.is_empty() {
        None
    } else {
        let visits = visits.into_iter().map(read).collect::<Result<_, _>>()?;
        let write = args.out.as_deref().map(|path| (path, args.force));
        let done = fit::fit(&car, visits, write, args.misfit, out)?;
        done.gate(out)?;
        Some(done)
    };
    let sheet = done.as_ref().map_or(&car.sheet, |done| &done.fitted.sheet);
    let visits = done.as_ref().map_or(&[][..], |done| &done.visits);
    let question = Question {
        standard: args.correction.standard(out),
        mechanical_efficiency: args.correction.mechanical_efficiency,
        noise,
        learned,
        hoped_w: args.sheet.hoped,
        draws: args.draws.map(|draws| draws as usize),
        seed: args.seed,
        ..Question::new(
            sheet,
            &plan,
            visits,
            air.or_else(|| weather.map(Into::into)),
        )
    };
    let inputs = inputs.visits(visits).name();
    let made_by = Stamp::new(inputs, Some(args.seed), args.date.clone());
    let fit = done.as_ref().map(|done| done.report.clone());
    let of_recordings = done.iter().flat_map(|done| done.warnings.iter());
    out.note(&drawing(args));
    if let Some((target_w, by)) = args.reach.reach.zip(args.reach.by) {
        let report = reach(&question, (target_w, by), &args.reach, fit, out)?;
        return Ok(Answered::Reach(Box::new(Stamped { report, made_by })));
    }
    let answer = out
        .metered("draws", |progress| question.answer_telling(progress))
        .map_err(|error| match error {
            QuoteError::Correction(_) => Failure::Usage(error.to_string()),
            _ => Failure::Gate(error.to_string()),
        })?;
    let report = QuoteReport {
        answer,
        fit,
        warnings: warnings.iter().chain(of_recordings).map(warning).collect(),
    };
    Ok(Answered::Range(Box::new(Quoted {
        report: Stamped { report, made_by },
        car_text: car.text.text().to_owned(),
        car_is_fitted: car.sheet.is_fitted(),
        plan_text: from_shelf.map(|from| from.text),
        own_jobs,
    })))
}

/// Writes the sheet, where one is asked for.
fn hand_over(
    quote: &Stamped<QuoteReport>,
    args: &QuoteArgs,
    out: Output<'_>,
) -> Result<(), Failure> {
    let letter = letter(args, out);
    let (report, made_by) = (&quote.report, &quote.made_by);
    if let Some(path) = &args.sheet.sheet {
        let page = sheet(report, made_by, &letter, out.units);
        write_file(path, &page, args.force)?;
        out.note(&format!("sheet written to {}", path.display()));
    }
    if let Some(path) = &args.sheet.pdf {
        let paper = args.sheet.paper.into();
        let document = pdf(report, made_by, &letter, out.units, paper)
            .map_err(|error| Failure::Gate(error.to_string()))?;
        write_file(path, &document, args.force)?;
        out.note(&format!("sheet written to {}", path.display()));
    }
    Ok(())
}

/// What stands on a sheet beside the quote.
pub(crate) fn letter(args: &QuoteArgs, out: Output<'_>) -> Letter {
    let holds = args.sheet.valid.or(out.shop.holds_days);
    let lines = out.shop.name.iter().chain(&out.shop.letterhead);
    Letter {
        shop: lines.cloned().collect(),
        customer: args.sheet.customer.clone(),
        valid_until: args.date.as_deref().zip(holds).and_then(last_day),
        cautions: out.shop.cautions.clone(),
    }
}

/// The last of so many days from a date on.
fn last_day((date, days): (&str, u16)) -> Option<String> {
    let first: jiff::civil::Date = date.parse().ok()?;
    let last = first.checked_add(jiff::Span::new().days(days)).ok()?;
    Some(last.to_string())
}

/// What is being done, in a line.
fn drawing(args: &QuoteArgs) -> String {
    let count = args
        .draws
        .map_or_else(String::new, |draws| format!("{draws} "));
    format!("drawing {count}cars, seed {}", args.seed)
}

fn warning(problem: &Problem) -> Warning {
    Warning {
        code: problem.code,
        file: problem.file.clone(),
        message: problem.message.clone(),
        expected: problem.expected.clone(),
    }
}

/// The inverse question.
fn reach(
    question: &Question<'_>,
    (target_w, dial): (f64, Dial),
    args: &ReachArgs,
    fit: Option<FitReport>,
    out: Output<'_>,
) -> Result<ReachReport, Failure> {
    let reach = Reach {
        question,
        dial,
        target_w,
        chance: args.chance.unwrap_or(USUAL_CHANCE),
        corrected: args.corrected,
    };
    let answer = out
        .metered("pulls", |progress| reach.answer_telling(progress))
        .map_err(|error| match error {
            ReachError::TooManyDraws { draws } => Failure::Usage(format!(
                "--reach takes at most {MOST_DRAWS} draws, not {draws}"
            )),
            ReachError::Quote(QuoteError::Correction(_))
            | ReachError::Dial(_)
            | ReachError::OutsideRange { .. } => Failure::Usage(error.to_string()),
            _ => Failure::Gate(error.to_string()),
        })?;
    Ok(ReachReport { answer, fit })
}
