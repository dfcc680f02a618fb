//! A plan built part by part, the curve and the range that follow it, the sheet, and the book.

use super::car::{Job, job};
use super::draft::{Draft, Fields};
use super::form::form;
use super::frame::{links, not_done, page as framed, trouble, unread};
use super::{Desk, turn};
use crate::args::{QuoteArgs, SheetArgs};
use crate::book;
use crate::output::Failure;
use crate::quote::{letter, quoted};
use axum::extract::{Form, Path as Place, State};
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::{Html, IntoResponse, Response};
use pullcast::ask::Progress;
use pullcast::ask::basis::{Air, AirSource};
use pullcast::ask::predict;
use pullcast::ask::quote::{Answer, Basis, Question, QuoteError};
use pullcast::belief::Prior;
use pullcast::files::scratch::{clear, put};
use pullcast::parts::Plan;
use pullcast::report::Report;
use pullcast::report::html::escaped;
use pullcast::report::quote::QuoteReport;
use pullcast::report::sheet::sheet as drawn_sheet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// A sheet brings its style along and runs nothing.
pub(super) const SHEET_POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'";

/// Name of the file that holds the air of a form.
const WEATHER: &str = "weather.toml";

pub(super) async fn page(state: State<Arc<Desk>>, place: Place<usize>) -> Response {
    shown(state, place, Draft::default()).await
}

pub(super) async fn page_of(
    state: State<Arc<Desk>>,
    place: Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    let mut draft = Draft::of(fields);
    draft.pressed();
    if draft.text("ask") == "form" {
        // The script puts it in the place of the one that is there, and asks for the answer then.
        return Html(form(place.0, &draft)).into_response();
    }
    shown(state, place, draft).await
}

async fn shown(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    draft: Draft,
) -> Response {
    let in_air = draft.clone();
    let made = turn(&desk, move |desk| {
        let job = job(desk, place)?;
        // Without the script this is the answer; with it, the first one.
        let answer = if draft.changes.is_empty() {
            middle(desk, &job, &draft)
        } else {
            range(desk, &job, &draft, &AtomicBool::new(false))
        };
        let answer = answer.unwrap_or_else(|failure| trouble(&failure));
        Ok((job.name().to_owned(), form(place, &draft), answer))
    })
    .await;
    warmed(&desk, place, in_air);
    match made {
        Ok((name, form, answer)) => framed(
            &format!("{name}: planned work"),
            &format!(
                "{}<div class=\"two\">\n<div>\n{form}</div>\n<div>\n<section id=\"answer\" class=\"said\" aria-live=\"polite\" \
                 aria-label=\"What this plan gives\">\n{answer}</section>\n<section id=\"more\" class=\"said\" aria-live=\"polite\"></section>\n</div>\n</div>\n<a id=\"glance\" class=\"glance\" href=\"#answer\" hidden></a>\n",
                links(&[
                    ("Back to the car", format!("/car/{place}")),
                    ("Plans side by side", format!("/car/{place}/beside")),
                ])
            ),
        )
        .into_response(),
        Err(failure) => unread(&failure),
    }
}

/// Draws the cars without a plan while the first part is being typed, so that the first range is as quick as the next.
fn warmed(desk: &Arc<Desk>, place: usize, draft: Draft) {
    let desk = Arc::clone(desk);
    tokio::spawn(async move {
        let drawn = turn(&desk, move |desk| {
            let job = job(desk, place)?;
            let plan = Plan {
                name: String::new(),
                changes: Vec::new(),
            };
            desk.bases(&draft.question(desk, &job, &plan)?);
            Ok(())
        });
        // What cannot be warmed is made when it is asked for, and told then.
        let _ = drawn.await;
    });
}

/// The answer alone, for the script: the middle at once, the range when it is asked for.
pub(super) async fn answer(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    let draft = Draft::of(fields);
    let over = desk.asked(draft.text("who"));
    let made = if draft.text("ask") == "range" {
        turn(&desk, move |desk| {
            range(desk, &*job(desk, place)?, &draft, &over)
        })
        .await
    } else {
        super::at_once(&desk, move |desk| middle(desk, &*job(desk, place)?, &draft)).await
    };
    // A plan half written is no failure of the request: the script shows what is lacking.
    Html(made.unwrap_or_else(|failure| trouble(&failure))).into_response()
}

/// The question of a predicted pull: in the air that is stated, or in that of the visit.
pub(super) fn pull_question<'q>(
    desk: &Desk,
    job: &'q Job,
    plan: Option<&'q Plan<Prior>>,
    draft: &Draft,
) -> Result<predict::Question<'q>, Failure> {
    let read_in = job.visits().last().and_then(|visit| visit.pulls.first());
    let air = draft
        .air()?
        .or_else(|| read_in.map(|pull| Air::stated(pull.day, "the visit")))
        .unwrap_or_else(Air::reference);
    Ok(predict::Question {
        standard: desk.standard(),
        ..predict::Question::new(&job.sheet().centre, plan, air)
    })
}

/// The middle of what is believed: one pull, with the planned work or without.
fn middle(desk: &Desk, job: &Job, draft: &Draft) -> Result<String, Failure> {
    let plan = draft.plan(job)?;
    let question = pull_question(desk, job, plan.as_ref(), draft)?;
    let answer = question
        .answer()
        .map_err(|error| Failure::Gate(error.to_string()))?;
    Ok(answer.document(desk.units).fragment())
}

/// The quote; of a plan without work, the pull.
fn range(desk: &Desk, job: &Job, draft: &Draft, over: &AtomicBool) -> Result<String, Failure> {
    if draft.changes.is_empty() {
        return middle(desk, job, draft);
    }
    let plan = draft.some_plan(job)?;
    let question = draft.question(desk, job, &plan)?;
    let answer = asked(desk, &question, over)?;
    Ok(reported(job, answer).document(desk.units).fragment())
}

/// The answer to a question, on draws that may be known.
pub(super) fn asked(
    desk: &Desk,
    question: &Question<'_>,
    over: &AtomicBool,
) -> Result<Answer, Failure> {
    let bases = desk.bases(question);
    question
        .answer_on(Some(&*bases), Progress::SILENT.until(over))
        .map_err(|error: QuoteError| Failure::Gate(error.to_string()))
}

/// Names the air by its file alone: the folder is one of the server's own, and gone when a customer reads of it.
pub(super) fn air_by_name(basis: &mut Basis) {
    for weather in [&mut basis.weather_before, &mut basis.weather_after] {
        if let AirSource::Stated(name) = &mut weather.source
            && let Some(file) = Path::new(&name).file_name()
        {
            let stated = file.to_string_lossy() == WEATHER;
            *name = if stated {
                "as entered".to_owned()
            } else {
                file.to_string_lossy().into_owned()
            };
        }
    }
}

fn reported(job: &Job, answer: Answer) -> QuoteReport {
    QuoteReport {
        answer,
        fit: job.done.as_ref().map(|done| done.report.clone()),
        warnings: Vec::new(),
    }
}

pub(super) async fn sheet(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    let draft = Draft::of(fields);
    let made = turn(&desk, move |desk| {
        let out = desk.out();
        called(desk, place, &draft, |args| {
            let mut made = quoted(args, None, out)?;
            air_by_name(&mut made.report.report.answer.basis);
            let letter = letter(args, out);
            let (report, stamp) = (&made.report.report, &made.report.made_by);
            Ok(drawn_sheet(report, stamp, &letter, desk.units))
        })
    })
    .await;
    match made {
        Ok(sheet) => ([(CONTENT_SECURITY_POLICY, SHEET_POLICY)], Html(sheet)).into_response(),
        Err(failure) => not_done("No sheet", &failure),
    }
}

pub(super) async fn keep(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    let draft = Draft::of(fields);
    let made = turn(&desk, move |desk| {
        let out = desk.out();
        called(desk, place, &draft, |args| {
            let made = quoted(args, None, out)?;
            book::keep(&desk.book, args, &made, out)?;
            Ok(made.report.made_by.inputs)
        })
    })
    .await;
    match made {
        Ok(number) => framed(
            "Kept in the job book",
            &format!(
                "<p>Quote <strong>{}</strong> is in the job book with everything it was made from.</p>\n{}",
                escaped(&number),
                links(&[
                    ("Open the quote", format!("/book/{number}")),
                    ("Back to the car", format!("/car/{place}")),
                ])
            ),
        )
        .into_response(),
        Err(failure) => not_done("Not kept", &failure),
    }
}

/// What a call of the program that asks the same comes to, its files written to the server's scratch folder.
fn called<T>(
    desk: &Desk,
    place: usize,
    draft: &Draft,
    act: impl FnOnce(&QuoteArgs) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let folder = desk.new_folder();
    let made = call(desk, place, draft, &folder).and_then(|args| act(&args));
    clear(&folder);
    made
}

fn call(desk: &Desk, place: usize, draft: &Draft, folder: &Path) -> Result<QuoteArgs, Failure> {
    let job = job(desk, place)?;
    draft.some_plan(&job)?;
    let write = |name: &str, text: &str| -> Result<PathBuf, Failure> {
        let failed =
            |error: std::io::Error| Failure::Gate(format!("{name} cannot be written: {error}"));
        put(folder, name, text.as_bytes()).map_err(failed)
    };
    let customer = draft.text("customer");
    Ok(QuoteArgs {
        car: job.path.clone(),
        plan: Some(write("plan.toml", &draft.toml())?),
        visits: job.visit.iter().map(|(path, ..)| path.clone()).collect(),
        weather: draft
            .weather()
            .map(|text| write(WEATHER, &text))
            .transpose()?,
        seed: QuoteArgs::SEED,
        own_jobs: Some(desk.own_jobs().0),
        // The day by UTC: a page does not know where the shop stands.
        date: book::now().get(..10).map(str::to_owned),
        sheet: SheetArgs {
            customer: (!customer.is_empty()).then(|| customer.to_owned()),
            hoped: draft.hoped()?,
            ..SheetArgs::default()
        },
        ..QuoteArgs::default()
    })
}
