//! A pull that looks wrong, explained.

use super::car::job;
use super::columns::Tray;
use super::frame::{air_fields, links, page as framed, trouble, unread};
use super::upload::Upload;
use super::{Desk, turn};
use crate::output::Failure;
use axum::extract::{Path as Place, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use pullcast::ask::diagnose::Question;
use pullcast::files;
use pullcast::report::Report;
use std::sync::Arc;

pub(super) async fn page(State(desk): State<Arc<Desk>>, Place(place): Place<usize>) -> Response {
    shown(&desk, place, StatusCode::OK, "").await
}

async fn shown(desk: &Arc<Desk>, place: usize, status: StatusCode, answer: &str) -> Response {
    match turn(desk, move |desk| job(desk, place)).await {
        Ok(job) => {
            let against = match (&job.done, job.car.sheet.is_fitted()) {
                (Some(done), _) => format!(
                    "It is held against the {} pulls of the car as it stands.",
                    done.report.answer.pulls.len()
                ),
                (None, true) => "It is held against the fitted car.".to_owned(),
                (None, false) => "Give the car good pulls first: without them there is nothing to hold it against.".to_owned(),
            };
            let body = format!(
                "{}<p>{against}</p>\n<form method=\"post\" action=\"/car/{place}/odd\" enctype=\"multipart/form-data\" data-busy=\"Weighing the causes\">\n<fieldset>\n<legend>The pull that looks wrong</legend>\n\
                 <div class=\"fields\">\n<label>Its log<small>CSV with one pull; or drop it here</small><input type=\"file\" name=\"log\" \
                 accept=\".csv,.txt,.tsv,text/csv\"></label>\n{}</div>\n<label class=\"tick\"><input type=\"checkbox\" name=\"same_strapping\" \
                 value=\"yes\"> The car was not moved since the good pulls</label>\n<label class=\"tick\"><input type=\"checkbox\" name=\"same_air\" \
                 value=\"yes\"> The air in the room is as it was</label>\n<div class=\"row\"><button class=\"first\">Explain it</button></div>\n</fieldset>\n</form>\n\
                 <section id=\"answer\" class=\"said\" aria-live=\"polite\">\n{answer}</section>\n",
                links(&[("Back to the car", format!("/car/{place}"))]),
                air_fields(|_| "", "the air in the room")
            );
            let title = format!("{}: a pull looks wrong", job.name());
            (status, framed(&title, &body)).into_response()
        }
        Err(failure) => unread(&failure),
    }
}

pub(super) async fn answer(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    upload: Upload,
) -> Response {
    let made = turn(&desk, move |desk| {
        let job = job(desk, place)?;
        let ticked = |name: &str| upload.text(name) == "yes";
        let (same_strapping, same_air) = (ticked("same_strapping"), ticked("same_air"));
        let path = Tray::of(upload, job.folder())?.visit("odd")?;
        let drums = &job.car.sheet.centre.drums;
        let (read, _) = files::visit::open_on(&path, Some(drums.radius_m))?;
        let good: Vec<_> = job
            .visit
            .iter()
            .map(|(_, visit, entered)| (visit.clone(), entered.clone()))
            .collect();
        let sheet = job
            .done
            .as_ref()
            .map_or(&job.car.sheet, |done| &done.fitted.sheet);
        let question = Question {
            sheet,
            good: &good,
            odd: &read.visit,
            entered: &read.entered,
            pull: (read.visit.pulls.len() > 1).then_some(0),
            same_strapping,
            same_air,
        };
        let answer = question
            .answer()
            .map_err(|why| Failure::Gate(why.to_string()))?;
        Ok(answer.document(desk.units).fragment())
    })
    .await;
    match made {
        Ok(answer) => shown(&desk, place, StatusCode::OK, &answer).await,
        Err(failure) => {
            shown(
                &desk,
                place,
                StatusCode::UNPROCESSABLE_ENTITY,
                &trouble(&failure),
            )
            .await
        }
    }
}
