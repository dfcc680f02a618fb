//! What the weather of a place does to a reading: a long answer that runs beside the pages, tells how far it is and can be ended early.

use super::car::job;
use super::draft::{Draft, Fields};
use super::frame::{carried, field, links, page as framed, trouble, unread};
use super::upload::Upload;
use super::{Desk, turn};
use crate::output::Failure;
use crate::values;
use axum::extract::{Form, Path as Place, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{Html, IntoResponse, Response};
use pullcast::ask::Progress;
use pullcast::ask::spread::{Question, Shard, SpreadError};
use pullcast::files::station::{self, Options};
use pullcast::report::Report;
use pullcast::report::html::escaped;
use pullcast::report::spread::SpreadReport;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// A spread that runs or has run.
pub(crate) struct Run {
    /// The plan's name, or that of the car as it stands.
    of: String,
    done: AtomicUsize,
    draws: AtomicUsize,
    over: AtomicBool,
    /// Markup of the answer, or of why there is none; none while it runs.
    answer: Mutex<Option<String>>,
}

impl Run {
    fn told(&self) -> Option<String> {
        let answer = self.answer.lock().unwrap_or_else(PoisonError::into_inner);
        answer.clone()
    }

    fn tells(&self, answer: String) {
        let mut place = self.answer.lock().unwrap_or_else(PoisonError::into_inner);
        *place = Some(answer);
    }
}

pub(super) async fn page(state: State<Arc<Desk>>, place: Place<usize>) -> Response {
    shown(
        state,
        place,
        Draft::default(),
        StatusCode::OK,
        String::new(),
    )
    .await
}

/// With a plan to ask about.
pub(super) async fn page_of(
    state: State<Arc<Desk>>,
    place: Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    shown(
        state,
        place,
        Draft::of(fields),
        StatusCode::OK,
        String::new(),
    )
    .await
}

async fn shown(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    draft: Draft,
    status: StatusCode,
    trouble: String,
) -> Response {
    let name = match turn(&desk, move |desk| Ok(job(desk, place)?.name().to_owned())).await {
        Ok(name) => name,
        Err(failure) => return unread(&failure),
    };
    let kept = draft.kept();
    let of = if draft.changes.is_empty() {
        "the car as it stands".to_owned()
    } else {
        format!("“{}”", draft.name())
    };
    let station = if desk.station().is_some() {
        "the one given before, if left empty"
    } else {
        "hours of a year, one row each"
    };
    let body = format!(
        "{}{trouble}<form method=\"post\" action=\"/car/{place}/spread/run\" enctype=\"multipart/form-data\">\n{}<fieldset>\n<legend>How far do \
         readings of {} spread?</legend>\n<div class=\"fields\">\n<label>Weather station<small>CSV, {station}</small><input type=\"file\" name=\"log\" \
         accept=\".csv,.txt,text/csv\"></label>\n{}{}</div>\n<div class=\"row\"><button class=\"first\">Draw it</button></div>\n</fieldset>\n</form>\n\
         <section id=\"run\" class=\"said\" data-run=\"/car/{place}/spread/so-far\">\n{}</section>\n",
        links(&[
            ("Back to the car", format!("/car/{place}")),
            ("Plan work", format!("/car/{place}/plan")),
        ]),
        carried(
            kept.iter()
                .map(|(name, value)| (name.as_str(), value.as_str()))
        ),
        escaped(&of),
        field(
            "promise",
            "A number you promised",
            "such as 197 kW; may stay empty",
            draft.text("promise")
        ),
        field(
            "elevation",
            "Elevation of the station",
            "such as 900 m, where its file does not say",
            draft.text("elevation")
        ),
        so_far_of(&desk, place)
    );
    (status, framed(&format!("{name}: weather spread"), &body)).into_response()
}

/// How far it is, for the script.
pub(super) async fn so_far(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
) -> Html<String> {
    Html(so_far_of(&desk, place))
}

fn so_far_of(desk: &Desk, place: usize) -> String {
    let Some(run) = desk.runs().get(&place).cloned() else {
        return String::new();
    };
    if let Some(answer) = run.told() {
        return answer;
    }
    let (done, draws) = (
        run.done.load(Ordering::Relaxed),
        run.draws.load(Ordering::Relaxed),
    );
    let ending = run.over.load(Ordering::Relaxed);
    let far = match (draws, ending) {
        (_, true) => "Ending it.".to_owned(),
        (0, _) => "Making ready.".to_owned(),
        _ => format!("{done} of {draws} cars drawn."),
    };
    format!(
        "<div data-runs=\"yes\">\n<h2>{} in the weather of the place</h2>\n<p role=\"status\">{far}</p>\n<progress aria-label=\"Cars drawn\" \
         max=\"{}\" value=\"{done}\"></progress>\n<form method=\"post\" action=\"/car/{place}/spread/end\"><div class=\"row\"><button>End it and show \
         what there is</button><a class=\"button\" href=\"/car/{place}/spread\">Look again</a></div></form>\n</div>\n",
        escaped(&run.of),
        draws.max(1)
    )
}

/// Ends a run early: what was drawn until then is told, if it is enough.
pub(super) async fn end(State(desk): State<Arc<Desk>>, Place(place): Place<usize>) -> Response {
    if let Some(run) = desk.runs().get(&place) {
        run.over.store(true, Ordering::Relaxed);
    }
    back(place)
}

fn back(place: usize) -> Response {
    let to = format!("/car/{place}/spread");
    (StatusCode::SEE_OTHER, [(LOCATION, to)]).into_response()
}

pub(super) async fn run(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    upload: Upload,
) -> Response {
    let draft = Draft::of(upload.fields.clone().into_iter().collect());
    if let Some(station) = upload.logs.first() {
        desk.put_station(station.clone());
    }
    let Some(station) = desk.station() else {
        let failure = Failure::Usage("choose the file of a weather station".to_owned());
        let status = StatusCode::UNPROCESSABLE_ENTITY;
        return shown(State(desk), Place(place), draft, status, trouble(&failure)).await;
    };
    let name = if draft.changes.is_empty() {
        "The car as it stands".to_owned()
    } else {
        draft.name().to_owned()
    };
    let run = Arc::new(Run {
        of: name,
        done: AtomicUsize::new(0),
        draws: AtomicUsize::new(0),
        over: AtomicBool::new(false),
        answer: Mutex::new(None),
    });
    if let Some(before) = desk.runs().insert(place, Arc::clone(&run)) {
        before.over.store(true, Ordering::Relaxed);
    }
    let behind = Arc::clone(&desk);
    tokio::spawn(async move {
        // One at a time: it takes all cores there are.
        let Ok(_turn) = behind.long.acquire().await else {
            return;
        };
        let (there, drawn_by) = (Arc::clone(&behind), Arc::clone(&run));
        let drawn =
            tokio::task::spawn_blocking(move || drawn(&there, place, &draft, &station, &drawn_by));
        let told = match drawn.await {
            Ok(Ok(answer)) => answer,
            Ok(Err(failure)) => trouble(&failure),
            Err(_) => trouble(&Failure::Gate("the computation broke off".to_owned())),
        };
        run.tells(told);
    });
    back(place)
}

fn drawn(
    desk: &Desk,
    place: usize,
    draft: &Draft,
    station: &Path,
    run: &Run,
) -> Result<String, Failure> {
    let job = job(desk, place)?;
    let plan = draft.plan(&job)?;
    let power = |key: &str| match draft.text(key) {
        "" => Ok(None),
        text => values::target(text).map(Some).map_err(Failure::Usage),
    };
    let elevation_m = match draft.text("elevation") {
        "" => None,
        text => Some(values::length(text).map_err(Failure::Usage)?),
    };
    let options = Options {
        elevation_m,
        ..Options::default()
    };
    let (read, _) = station::open(station, &options)?;
    let question = Question {
        noise: desk.shop.noise(),
        promise_w: power("promise")?,
        ..Question::new(job.sheet(), plan.as_ref(), &read.hours)
    };
    let tell = |done: usize, of: Option<usize>| {
        run.done.fetch_max(done, Ordering::Relaxed);
        run.draws.store(of.unwrap_or(0), Ordering::Relaxed);
    };
    let goes_on = || !run.over.load(Ordering::Relaxed);
    let answer = question.ready(|ready| {
        let mut whole = ready.part(Shard::WHOLE);
        ready.work(
            &mut whole,
            &mut |_, _| {},
            &mut |_| goes_on(),
            Progress::to(&tell),
        );
        ready.answer(vec![whole])
    });
    let answer = answer.map_err(|error: SpreadError| Failure::Gate(error.to_string()))?;
    let report = SpreadReport {
        answer,
        file: "the station's file".to_owned(),
        station: read.cleaning,
        standard: desk.standard(),
    };
    Ok(report.document(desk.units).fragment())
}
