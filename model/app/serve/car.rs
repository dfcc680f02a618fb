//! Cars, the pulls of one as it stands, and what a fit makes of them.

use super::frame::{page as framed, refusal, trouble, unread};
use super::{Desk, turn};
use crate::args::MisfitArgs;
use crate::book;
use crate::fit::{self, Done};
use crate::output::Failure;
use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, Path as Place, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use pullcast::diagnose::Entered;
use pullcast::files::book::Book;
use pullcast::files::schema::FileKind;
use pullcast::files::scratch::{name_in, of_kind, put};
use pullcast::files::{self, CarFile};
use pullcast::fit::observation::Visit;
use pullcast::report::Report;
use pullcast::report::book::{ListReport, RecordReport};
use pullcast::report::html::escaped;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Logs that one upload may hold.
const MOST_LOGS: usize = 12;
/// Bytes of a field that is no log.
const MOST_TEXT: usize = 4096;

/// What the server has learned of a car since it started.
pub(crate) struct Job {
    /// Its file.
    pub(crate) path: PathBuf,
    /// The car as its file describes it.
    pub(crate) car: CarFile,
    /// The visit that was given, and its pulls with what was entered for them.
    pub(crate) visit: Option<(PathBuf, Visit, Vec<Entered>)>,
    /// The fit to it.
    pub(crate) done: Option<Done>,
}

impl Job {
    fn of(desk: &Desk, place: usize) -> Result<Self, Failure> {
        let nowhere = || Failure::Usage("there is no such car".to_owned());
        let path = desk.cars.get(place).ok_or_else(nowhere)?.clone();
        let (car, _, _) = files::shop::open_car(&path, &desk.shop)?;
        Ok(Self {
            path,
            car,
            visit: None,
            done: None,
        })
    }

    /// The car's name.
    pub(crate) fn name(&self) -> &str {
        &self.car.sheet.centre.car.name
    }
}

/// What is known of a car, read when it is first asked for.
pub(crate) fn job(desk: &Desk, place: usize) -> Result<Arc<Job>, Failure> {
    if let Some(job) = desk.jobs().get(&place) {
        return Ok(Arc::clone(job));
    }
    let job = Arc::new(Job::of(desk, place)?);
    Ok(Arc::clone(desk.jobs().entry(place).or_insert(job)))
}

pub(super) async fn list(State(desk): State<Arc<Desk>>) -> Html<String> {
    let mut body = String::new();
    if desk.cars.is_empty() {
        body.push_str(
            "<p>There is no car file in the folder where the server was started, nor in those below it. <code>pullcast new car my_car.toml</code> \
             writes one to fill in.</p>\n",
        );
    }
    body.push_str("<ul class=\"cars\">\n");
    for (place, path) in desk.cars.iter().enumerate() {
        let shown = path.display().to_string();
        let name = name_in(path).unwrap_or_else(|| shown.clone());
        let _ = writeln!(
            body,
            "<li><a href=\"/car/{place}\"><strong>{}</strong><span>{}</span></a></li>",
            escaped(&name),
            escaped(&shown)
        );
    }
    body.push_str("</ul>\n");
    framed("Cars", &body)
}

pub(super) async fn record(State(desk): State<Arc<Desk>>) -> Html<String> {
    let found = turn(&desk, |desk| {
        let book = Book::look(&desk.book)?;
        let list = ListReport {
            book: desk.book.display().to_string(),
            cars: book.cars()?,
            quotes: book.lines()?,
        };
        let record = RecordReport {
            record: book::record(&book)?,
        };
        let units = desk.units;
        Ok(record.document(units).fragment() + &list.document(units).fragment())
    })
    .await;
    framed(
        "Job book",
        &found.unwrap_or_else(|failure| trouble(&failure)),
    )
}

pub(super) async fn page(State(desk): State<Arc<Desk>>, Place(place): Place<usize>) -> Response {
    match turn(&desk, move |desk| job(desk, place)).await {
        Ok(job) => body(&desk, place, &job, "").into_response(),
        Err(failure) => unread(&failure),
    }
}

pub(super) async fn pulls(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    upload: Result<Multipart, MultipartRejection>,
) -> Response {
    let upload = match uploaded(upload).await {
        Ok(upload) => upload,
        Err((status, why)) => return refusal(status, &why).into_response(),
    };
    let measured = turn(&desk, move |desk| {
        let old = job(desk, place)?;
        let fitted = measured(desk, place, &upload);
        Ok((old, fitted))
    })
    .await;
    match measured {
        Ok((_, Ok(job))) => body(&desk, place, &job, "").into_response(),
        Ok((old, Err(failure))) => (
            StatusCode::UNPROCESSABLE_ENTITY,
            body(&desk, place, &old, &trouble(&failure)),
        )
            .into_response(),
        Err(failure) => unread(&failure),
    }
}

/// Reads the pulls, fits the car to them, and keeps both as long as the server runs.
fn measured(desk: &Desk, place: usize, upload: &Upload) -> Result<Arc<Job>, Failure> {
    let mut job = Job::of(desk, place)?;
    let chosen = upload.text("visit");
    let path = if upload.logs.is_empty() && !chosen.is_empty() {
        let visits = visits_beside(&job.path);
        let found = visits.into_iter().find(|path| name_of(path) == chosen);
        found.ok_or_else(|| Failure::Usage("there is no such visit beside the car".to_owned()))?
    } else {
        upload.visit(&desk.folder(place), "visit")?
    };
    let (read, _) = files::visit::open(&path)?;
    job.visit = Some((path, read.visit.clone(), read.entered.clone()));
    let done = fit::fit(
        &job.car,
        vec![read],
        None,
        MisfitArgs::default(),
        desk.out(),
    )?;
    job.done = Some(done);
    let job = Arc::new(job);
    desk.jobs().insert(place, Arc::clone(&job));
    Ok(job)
}

/// Visit files in the folder of a car.
fn visits_beside(car: &Path) -> Vec<PathBuf> {
    of_kind(car.parent().unwrap_or(Path::new("")), FileKind::Visit, 0)
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

fn body(desk: &Desk, place: usize, job: &Job, trouble: &str) -> Html<String> {
    let mut out = trouble.to_owned();
    let _ = writeln!(
        out,
        "<p class=\"row\"><a class=\"button\" href=\"/car/{place}/plan\">Plan work and quote it</a>\
         <a class=\"button\" href=\"/car/{place}/odd\">A pull looks wrong</a></p>"
    );
    let visits = visits_beside(&job.path);
    let mut options = String::from("<option value=\"\">none: the logs below</option>");
    for path in &visits {
        let name = escaped(&name_of(path));
        let _ = write!(options, "<option value=\"{name}\">{name}</option>");
    }
    let _ = writeln!(
        out,
        "<form method=\"post\" action=\"/car/{place}\" enctype=\"multipart/form-data\">\n<fieldset>\n<legend>Pulls of the car as it stands</legend>\n\
         <div class=\"fields\">\n<label>A visit on file<select name=\"visit\">{options}</select></label>\n\
         <label>or drop logs here<small>CSV, one pull in each or several in one</small><input type=\"file\" name=\"log\" multiple \
         accept=\".csv,.txt,.tsv,text/csv\"></label>\n{}</div>\n<div class=\"row\"><button class=\"first\">Fit the car to these pulls</button></div>\n\
         </fieldset>\n</form>",
        air_fields("", "the air in the room")
    );
    match &job.done {
        Some(done) => {
            let _ = writeln!(
                out,
                "<section aria-live=\"polite\">\n{}</section>",
                done.report.document(desk.units).fragment()
            );
        }
        None => out.push_str(
            "<p>No pulls yet: a quote made now goes by the car file alone, and its range is wider.</p>\n",
        ),
    }
    framed(job.name(), &out)
}

/// Fields for the air of a day; values with their units, as in the files.
pub(super) fn air_fields(values: &str, whose: &str) -> String {
    let of = |name: &str| {
        values
            .split('\n')
            .filter_map(|line| line.split_once('='))
            .find(|(key, _)| *key == name)
            .map_or("", |(_, value)| value)
    };
    [
        ("temperature", "Temperature", "14 °C"),
        ("relative_humidity", "Humidity", "60 %"),
        ("station_pressure", "Pressure, as a barometer in the room reads it", "985 hPa"),
    ]
    .iter()
    .fold(String::new(), |mut out, (name, label, example)| {
        let _ = writeln!(
            out,
            "<label>{label}<small>{whose}, such as {example}</small><input name=\"{name}\" value=\"{}\" autocomplete=\"off\"></label>",
            escaped(of(name))
        );
        out
    })
}

/// What a form brought.
#[derive(Debug, Default)]
pub(super) struct Upload {
    fields: BTreeMap<String, String>,
    logs: Vec<Vec<u8>>,
}

impl Upload {
    pub(super) fn text(&self, name: &str) -> &str {
        self.fields.get(name).map_or("", |text| text.trim())
    }

    /// Writes the logs and a visit that names them into a folder. Names of uploaded files are not used: a log is called by its number.
    pub(super) fn visit(&self, folder: &Path, name: &str) -> Result<PathBuf, Failure> {
        if self.logs.is_empty() {
            return Err(Failure::Usage(
                "choose a visit on file, or at least one log".to_owned(),
            ));
        }
        let failed =
            |error: std::io::Error| Failure::Gate(format!("the log cannot be kept: {error}"));
        let mut weather = toml::Table::new();
        for key in ["temperature", "relative_humidity", "station_pressure"] {
            if !self.text(key).is_empty() {
                weather.insert(key.to_owned(), self.text(key).into());
            }
        }
        let mut pulls = Vec::new();
        for (place, log) in self.logs.iter().enumerate() {
            let file = format!("{name}_{}.csv", place + 1);
            put(folder, &file, log).map_err(failed)?;
            let mut pull = toml::Table::new();
            pull.insert("file".to_owned(), file.into());
            pulls.push(toml::Value::Table(pull));
        }
        let mut visit = toml::Table::new();
        visit.insert("kind".to_owned(), "visit".into());
        visit.insert("version".to_owned(), 1.into());
        visit.insert("name".to_owned(), name.into());
        visit.insert("weather".to_owned(), toml::Value::Table(weather));
        visit.insert("pull".to_owned(), toml::Value::Array(pulls));
        put(
            folder,
            &format!("{name}.toml"),
            visit.to_string().as_bytes(),
        )
        .map_err(failed)
    }
}

/// Reads a form with logs, or says why it cannot be.
pub(super) async fn uploaded(
    form: Result<Multipart, MultipartRejection>,
) -> Result<Upload, (StatusCode, String)> {
    let mut form = form.map_err(|error| (error.status(), error.body_text()))?;
    let wrong = |error: axum::extract::multipart::MultipartError| {
        (
            error.status(),
            format!("The upload cannot be read: {}", error.body_text()),
        )
    };
    let mut upload = Upload::default();
    while let Some(field) = form.next_field().await.map_err(wrong)? {
        let name = field.name().unwrap_or_default().to_owned();
        let bytes = field.bytes().await.map_err(wrong)?;
        if name == "log" {
            // A form without a chosen file sends an empty one.
            if bytes.is_empty() {
                continue;
            }
            if upload.logs.len() == MOST_LOGS {
                let why = format!("At most {MOST_LOGS} logs at once.");
                return Err((StatusCode::PAYLOAD_TOO_LARGE, why));
            }
            upload.logs.push(bytes.to_vec());
        } else if bytes.len() <= MOST_TEXT && upload.fields.len() < 64 {
            let text = String::from_utf8_lossy(&bytes).into_owned();
            upload.fields.insert(name, text);
        } else {
            let why = "A field of the form is longer than any that is asked for.";
            return Err((StatusCode::PAYLOAD_TOO_LARGE, why.to_owned()));
        }
    }
    Ok(upload)
}
