//! Up to four plans of a car side by side. They stay as long as the server runs, for every device that is let in.

use super::car::job;
use super::draft::{Draft, Fields};
use super::frame::{carried, links, page as framed, trouble, unread};
use super::plan::asked;
use super::{Desk, turn};
use crate::output::Failure;
use axum::extract::{Form, Path as Place, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use pullcast::report::beside::{MOST, document};
use pullcast::report::html::escaped;
use std::fmt::Write as _;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

pub(super) async fn page(state: State<Arc<Desk>>, place: Place<usize>) -> Response {
    shown(state, place, None).await
}

/// Sets a plan beside the others, in the place of one of the same name.
pub(super) async fn set(
    state: State<Arc<Desk>>,
    place: Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    shown(state, place, Some(Draft::of(fields))).await
}

/// Takes one away.
pub(super) async fn away(
    state: State<Arc<Desk>>,
    Place((place, which)): Place<(usize, usize)>,
) -> Response {
    {
        let mut boards = state.boards();
        if let Some(board) = boards.get_mut(&place)
            && which < board.len()
        {
            board.remove(which);
        }
    }
    shown(state, Place(place), None).await
}

fn added(desk: &Desk, place: usize, draft: Draft) -> Result<(), Failure> {
    draft.some_plan(&*job(desk, place)?)?;
    let mut boards = desk.boards();
    let board = boards.entry(place).or_default();
    if let Some(same) = board.iter_mut().find(|other| other.name() == draft.name()) {
        *same = draft;
    } else if board.len() < MOST {
        board.push(draft);
    } else {
        return Err(Failure::Usage(format!(
            "{MOST} plans stand side by side already: take one away first"
        )));
    }
    Ok(())
}

async fn shown(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    new: Option<Draft>,
) -> Response {
    let made = turn(&desk, move |desk| {
        let job = job(desk, place)?;
        let refused = new.and_then(|draft| added(desk, place, draft).err());
        let board = desk.boards().get(&place).cloned().unwrap_or_default();
        let mut answers = Vec::new();
        let mut failed = Vec::new();
        for draft in &board {
            let never = AtomicBool::new(false);
            let answer = draft.some_plan(&job).and_then(|plan| {
                let question = draft.question(desk, &job, &plan)?;
                asked(desk, &question, &never)
            });
            match answer {
                Ok(answer) => answers.push(answer),
                Err(failure) => failed.push(trouble(&failure)),
            }
        }
        let told = document(&answers, desk.units).fragment();
        Ok((job.name().to_owned(), board, told, failed, refused))
    })
    .await;
    let (name, board, told, failed, refused) = match made {
        Ok(made) => made,
        Err(failure) => return unread(&failure),
    };
    let mut body = links(&[
        ("Back to the car", format!("/car/{place}")),
        ("Another plan", format!("/car/{place}/plan")),
    ]);
    let status = if refused.is_some() {
        StatusCode::UNPROCESSABLE_ENTITY
    } else {
        StatusCode::OK
    };
    body.extend(refused.map(|failure| trouble(&failure)));
    body.extend(failed);
    if board.is_empty() {
        body.push_str(
            "<p>No plan stands here yet: “Set beside others” on the page of a plan puts up to four of them side by side.</p>\n",
        );
    }
    let heading = if board.is_empty() {
        ""
    } else {
        "<h2>What each may be promised</h2>\n"
    };
    let _ = writeln!(
        body,
        "<section class=\"said\">\n{heading}{told}</section>\n<ul class=\"cards\">"
    );
    for (which, draft) in board.iter().enumerate() {
        let name = escaped(draft.name());
        let kept = draft.kept();
        let _ = writeln!(
            body,
            "<li class=\"card\"><strong>{name}</strong>\n<form method=\"post\" action=\"/car/{place}/plan\">\n{}<div class=\"row\"><button aria-label=\"Open it: {name}\">Open \
             it</button><button formaction=\"/car/{place}/keep\" aria-label=\"Keep in the job book: {name}\">Keep in the job book</button><button formaction=\"/car/{place}/beside/{which}/away\" \
             aria-label=\"Take it away: {name}\">Take it away</button></div>\n</form></li>",
            carried(
                kept.iter()
                    .map(|(name, value)| (name.as_str(), value.as_str()))
            )
        );
    }
    body.push_str("</ul>\n");
    (
        status,
        framed(&format!("{name}: plans side by side"), &body),
    )
        .into_response()
}
