//! Cars, the pulls of one as it stands, and what a fit makes of them.

use super::columns::{self, Tray};
use super::frame::{air_fields, choice, field, links, page as framed, trouble, unread};
use super::upload::Upload;
use super::{Desk, turn};
use crate::args::MisfitArgs;
use crate::fit::{self, Done};
use crate::output::{Failure, write_file};
use axum::extract::{Form, Path as Place, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{Html, IntoResponse, Response};
use pullcast::belief::sheet::Sheet;
use pullcast::diagnose::Entered;
use pullcast::files::schema::FileKind;
use pullcast::files::scratch::{clear, name_in, of_kind, put};
use pullcast::files::{self, CarFile};
use pullcast::fit::observation::Visit;
use pullcast::report::Report;
use pullcast::report::html::escaped;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

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
    pub(super) fn of(desk: &Desk, place: usize) -> Result<Self, Failure> {
        let nowhere = || Failure::Usage("there is no such car".to_owned());
        let path = desk.cars().get(place).ok_or_else(nowhere)?.clone();
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

    /// The car as it is known: fitted to its pulls where there are any.
    pub(crate) fn sheet(&self) -> &Sheet {
        let done = self.done.as_ref();
        done.map_or(&self.car.sheet, |done| &done.fitted.sheet)
    }

    /// The pulls it was fitted to.
    pub(crate) fn visits(&self) -> &[Visit] {
        self.done.as_ref().map_or(&[], |done| &done.visits)
    }

    /// The folder of its file.
    pub(super) fn folder(&self) -> &Path {
        self.path.parent().unwrap_or(Path::new(""))
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
    let cars = desk.cars().clone();
    let mut body = String::new();
    if cars.is_empty() {
        body.push_str(
            "<p>There is no car file in the folder where the server was started, nor in those below it. Twelve numbers make one.</p>\n",
        );
    }
    body.push_str(&links(&[("A new car", "/new".to_owned())]));
    body.push_str("<ul class=\"cards\">\n");
    for (place, path) in cars.iter().enumerate() {
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

/// Numbers of a new car: table and key in its file, label, example, and whether a count.
const NEW: [(&str, &str, &str, &str, bool); 10] = [
    ("engine", "cylinders", "Cylinders", "4", true),
    ("engine", "displacement", "Displacement", "2.0 L", false),
    (
        "engine",
        "compression_ratio",
        "Compression ratio",
        "11",
        false,
    ),
    ("engine", "redline", "Redline", "7000 rpm", false),
    ("fuel", "research_octane", "Fuel, RON", "98", false),
    (
        "driveline",
        "gear",
        "Ratio of the gear of the pull",
        "1.36",
        false,
    ),
    ("driveline", "final_drive", "Final drive", "4.1", false),
    (
        "wheels",
        "tyre_radius",
        "Tyre: radius or size",
        "0.305 m, or 225/45 R17",
        false,
    ),
    (
        "drums",
        "inertia",
        "Drums: moment of inertia",
        "110 kg m2",
        false,
    ),
    ("drums", "radius", "Drums: radius", "0.35 m", false),
];

pub(super) async fn blank(State(desk): State<Arc<Desk>>) -> Html<String> {
    framed("A new car", &blank_form(&desk, &[]))
}

fn blank_form(desk: &Desk, written: &[(String, String)]) -> String {
    let value = |key: &str| {
        let found = written.iter().find(|(name, _)| name == key);
        found.map_or("", |(_, value)| value.as_str())
    };
    let mut out = String::from(
        "<p>This much is enough; everything else takes a usual value with a doubt, which the pulls of the car narrow. A blower, a turbocharger or an \
         electric axle is written into its file afterwards.</p>\n<form method=\"post\" action=\"/new\">\n<div class=\"fields\">\n",
    );
    out.push_str(&field(
        "name",
        "Name",
        "what the shop calls it",
        value("name"),
    ));
    for (table, key, label, example, _) in NEW {
        let from_profile = match table {
            "drums" => !desk.shop.rigs.is_empty(),
            "fuel" => !desk.shop.pumps.is_empty(),
            _ => false,
        };
        let hint = if from_profile {
            "as the shop's profile says, if left empty".to_owned()
        } else {
            format!("such as {example}")
        };
        out.push_str(&field(
            &format!("{table}.{key}"),
            label,
            &hint,
            value(&format!("{table}.{key}")),
        ));
    }
    out.push_str("</div>\n<div class=\"row\"><button class=\"first\">Write its file</button></div>\n</form>\n");
    out
}

pub(super) async fn create(
    State(desk): State<Arc<Desk>>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let written = fields.clone();
    match turn(&desk, move |desk| created(desk, &written)).await {
        Ok(place) => (StatusCode::SEE_OTHER, [(LOCATION, format!("/car/{place}"))]).into_response(),
        Err(failure) => {
            let body = trouble(&failure) + &blank_form(&desk, &fields);
            (StatusCode::UNPROCESSABLE_ENTITY, framed("A new car", &body)).into_response()
        }
    }
}

/// Writes a car file that can be read, and gives its place.
fn created(desk: &Desk, fields: &[(String, String)]) -> Result<usize, Failure> {
    let value = |key: &str| {
        let found = fields.iter().find(|(name, _)| name == key);
        found.map_or("", |(_, value)| value.trim())
    };
    let name = value("name");
    let safe = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '_'
        }
    };
    let stem: String = name.chars().take(60).map(safe).collect();
    let stem = stem.trim_matches('_');
    if stem.is_empty() {
        return Err(Failure::Usage(
            "give the car a name with at least one letter or figure".to_owned(),
        ));
    }
    let mut file = toml::Table::new();
    file.insert("kind".to_owned(), "car".into());
    file.insert("version".to_owned(), 1.into());
    file.insert("name".to_owned(), name.into());
    for (table, key, _, _, count) in NEW {
        let text = value(&format!("{table}.{key}"));
        if text.is_empty() {
            continue;
        }
        let number = |text: &str| -> toml::Value {
            match (text.parse::<i64>(), text.parse::<f64>()) {
                (Ok(whole), _) if count => whole.into(),
                (_, Ok(number)) => number.into(),
                _ => text.into(),
            }
        };
        let tables = file
            .entry(table)
            .or_insert_with(|| toml::Value::Table(toml::Table::new()));
        if let toml::Value::Table(tables) = tables {
            tables.insert(key.to_owned(), number(text));
        }
    }
    let text = format!("# Written on the page.\n{file}");
    let folder = desk.new_folder();
    let failed = |error: std::io::Error| Failure::Gate(format!("nothing can be written: {error}"));
    // What cannot be read is not written among the shop's files.
    let draft = put(&folder, &format!("{stem}.toml"), text.as_bytes()).map_err(failed)?;
    let read = files::shop::open_car(&draft, &desk.shop);
    clear(&folder);
    read?;
    let path = PathBuf::from(format!("{stem}.toml"));
    write_file(&path, &text, false)?;
    let mut cars = desk.cars();
    cars.push(path);
    Ok(cars.len() - 1)
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
    upload: Upload,
) -> Response {
    answered(&desk, place, move |desk| given(desk, place, upload)).await
}

pub(super) async fn corrected(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    answered(&desk, place, move |desk| {
        let tray = desk.tray(place).ok_or_else(|| {
            Failure::Usage("there are no logs of this car yet to correct".to_owned())
        })?;
        let tray = columns::corrected(desk, place, &tray, &fields)?;
        measured_in(desk, place, tray)
    })
    .await
}

/// The car's page after something was done with its pulls.
async fn answered(
    desk: &Arc<Desk>,
    place: usize,
    act: impl FnOnce(&Desk) -> Result<Arc<Job>, Failure> + Send + 'static,
) -> Response {
    let measured = turn(desk, move |desk| {
        let old = job(desk, place)?;
        Ok((old, act(desk)))
    })
    .await;
    match measured {
        Ok((_, Ok(job))) => body(desk, place, &job, "").into_response(),
        Ok((old, Err(failure))) => (
            StatusCode::UNPROCESSABLE_ENTITY,
            body(desk, place, &old, &trouble(&failure)),
        )
            .into_response(),
        Err(failure) => unread(&failure),
    }
}

/// Reads the pulls of a form and fits the car to them.
fn given(desk: &Desk, place: usize, upload: Upload) -> Result<Arc<Job>, Failure> {
    let chosen = upload.text("visit").to_owned();
    if !upload.logs.is_empty() || chosen.is_empty() {
        let job = Job::of(desk, place)?;
        let tray = Tray::of(upload, job.folder())?;
        return measured_in(desk, place, tray);
    }
    let job = Job::of(desk, place)?;
    let visits = visits_beside(&job.path);
    let found = visits.into_iter().find(|path| name_of(path) == chosen);
    let path =
        found.ok_or_else(|| Failure::Usage("there is no such visit beside the car".to_owned()))?;
    desk.put_tray(place, None);
    measured(desk, place, path)
}

/// Fits the car to the logs of a tray, which is kept whatever comes of it, so that its columns can be corrected.
fn measured_in(desk: &Desk, place: usize, tray: Tray) -> Result<Arc<Job>, Failure> {
    let visit = tray.visit("visit");
    desk.put_tray(place, Some(tray));
    measured(desk, place, visit?)
}

/// Fits the car to a visit, and keeps both as long as the server runs.
fn measured(desk: &Desk, place: usize, path: PathBuf) -> Result<Arc<Job>, Failure> {
    let mut job = Job::of(desk, place)?;
    let drums = &job.car.sheet.centre.drums;
    let (read, _) = files::visit::open_on(&path, Some(drums.radius_m))?;
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
    let before = desk.jobs().insert(place, Arc::clone(&job));
    if let Some((old, ..)) = before.as_ref().and_then(|before| before.visit.as_ref())
        && job.visit.as_ref().and_then(|(path, ..)| path.parent()) != old.parent()
    {
        desk.forget(old);
    }
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
    let tray = desk.tray(place);
    if !trouble.is_empty()
        && let Some(tray) = &tray
    {
        out.push_str(&columns::forms(place, tray, true));
    }
    out.push_str(&links(&[
        ("Plan work and quote it", format!("/car/{place}/plan")),
        ("Plans side by side", format!("/car/{place}/beside")),
        ("Weather spread", format!("/car/{place}/spread")),
        ("A pull looks wrong", format!("/car/{place}/odd")),
    ]));
    let mut options = vec![(String::new(), "none: the logs below".to_owned())];
    options.extend(visits_beside(&job.path).iter().map(|path| {
        let name = name_of(path);
        (name.clone(), name)
    }));
    let _ = writeln!(
        out,
        "<form method=\"post\" action=\"/car/{place}\" enctype=\"multipart/form-data\" data-busy=\"Fitting the car to its pulls\">\n<fieldset>\n\
         <legend>Pulls of the car as it stands</legend>\n<div class=\"fields\">\n{}<label>or drop logs here<small>CSV, one pull in each or several in \
         one</small><input type=\"file\" name=\"log\" multiple accept=\".csv,.txt,.tsv,text/csv\"></label>\n{}</div>\n<div class=\"row\"><button \
         class=\"first\">Fit the car to these pulls</button></div>\n</fieldset>\n</form>",
        choice(
            "visit",
            "A visit on file",
            "beside the car's file",
            &options,
            ""
        ),
        air_fields(
            |key| tray.as_ref().map_or("", |tray| tray.air_text(key)),
            "the air in the room"
        )
    );
    match &job.done {
        Some(done) => {
            let _ = writeln!(
                out,
                "<section aria-live=\"polite\" class=\"said\">\n{}</section>",
                done.report.document(desk.units).fragment()
            );
            if let Some(tray) = tray.filter(|_| trouble.is_empty()) {
                out.push_str(&columns::forms(place, &tray, false));
            }
        }
        None => out.push_str(
            "<p>No pulls yet: a quote made now goes by the car file alone, and its range is wider.</p>\n",
        ),
    }
    framed(job.name(), &out)
}
