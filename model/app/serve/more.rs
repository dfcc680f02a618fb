//! What goes further than the range of a plan: what it takes to reach a power, and pulls in a row.

use super::car::{Job, job};
use super::draft::{Draft, Fields};
use super::frame::{carried, page as framed, trouble, unread};
use super::plan::pull_question;
use super::{Desk, turn};
use crate::output::Failure;
use crate::values;
use axum::extract::{Form, Path as Place, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use pullcast::ask::predict::Row;
use pullcast::ask::quote::reach::USUAL_CHANCE;
use pullcast::ask::quote::{Dial, Reach};
use pullcast::report::Report;
use pullcast::report::reach::ReachReport;
use std::sync::Arc;

/// Most pulls in a row.
const MOST_PULLS: usize = 100;

pub(super) async fn reach(
    state: State<Arc<Desk>>,
    place: Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    told(state, place, fields, "What it takes", reached).await
}

pub(super) async fn row(
    state: State<Arc<Desk>>,
    place: Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    told(state, place, fields, "Pulls in a row", in_a_row).await
}

/// An answer of its own page, or for the script as a part of the one that is there.
async fn told(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    fields: Fields,
    title: &'static str,
    answer: fn(&Desk, &Job, &Draft) -> Result<String, Failure>,
) -> Response {
    let draft = Draft::of(fields);
    let part = draft.text("ask") == "part";
    let kept = draft.kept();
    let made = turn(&desk, move |desk| {
        let job = job(desk, place)?;
        Ok((job.name().to_owned(), answer(desk, &job, &draft)))
    })
    .await;
    let (name, answer) = match made {
        Ok(made) => made,
        Err(failure) => return unread(&failure),
    };
    let (status, answer) = match answer {
        Ok(answer) => (StatusCode::OK, answer),
        Err(failure) => (StatusCode::UNPROCESSABLE_ENTITY, trouble(&failure)),
    };
    if part {
        return Html(answer).into_response();
    }
    let carried = carried(
        kept.iter()
            .map(|(name, value)| (name.as_str(), value.as_str())),
    );
    let body = format!(
        "<form method=\"post\" action=\"/car/{place}/plan\">\n{carried}<div class=\"row\"><button>Back to the plan</button></div>\n</form>\n\
         <section class=\"said\">\n{answer}</section>\n"
    );
    (status, framed(&format!("{name}: {title}"), &body)).into_response()
}

fn reached(desk: &Desk, job: &Job, draft: &Draft) -> Result<String, Failure> {
    let plan = draft.some_plan(job)?;
    let target_w = values::target(draft.text("reach")).map_err(Failure::Usage)?;
    let dial = Dial::named(draft.text("by"))
        .ok_or_else(|| Failure::Usage("say which number may be changed".to_owned()))?;
    let chance = match draft.text("chance") {
        "" => USUAL_CHANCE,
        text => values::chance(text).map_err(Failure::Usage)?,
    };
    let question = draft.question(desk, job, &plan)?;
    let reach = Reach {
        question: &question,
        dial,
        target_w,
        chance,
        corrected: false,
    };
    let answer = reach
        .answer()
        .map_err(|error| Failure::Gate(error.to_string()))?;
    let report = ReachReport {
        answer,
        fit: job.done.as_ref().map(|done| done.report.clone()),
    };
    Ok(report.document(desk.units).fragment())
}

fn in_a_row(desk: &Desk, job: &Job, draft: &Draft) -> Result<String, Failure> {
    let plan = draft.plan(job)?;
    let pulls = draft
        .text("pulls")
        .parse()
        .ok()
        .filter(|pulls| (2..=MOST_PULLS).contains(pulls))
        .ok_or_else(|| Failure::Usage(format!("say how many pulls, 2 to {MOST_PULLS}")))?;
    let usual = Row::of(pulls);
    let rest_s = match draft.text("rest") {
        "" => usual.rest_s,
        text => values::rest(text).map_err(Failure::Usage)?,
    };
    let mut question = pull_question(desk, job, plan.as_ref(), draft)?;
    question.row = Some(Row { rest_s, ..usual });
    let answer = question
        .answer()
        .map_err(|error| Failure::Gate(error.to_string()))?;
    Ok(answer.document(desk.units).fragment())
}
