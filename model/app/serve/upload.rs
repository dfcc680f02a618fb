//! Logs that come with a form: taken piece by piece to the server's own folder, and made into a visit.
//!
//! Names of uploaded files are not used: a log is called by its number. It refuses more logs, larger ones and longer fields than a shop has.

use super::Desk;
use super::frame::{AIR, refusal};
use crate::output::Failure;
use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{FromRequest, Multipart, Request};
use axum::http::StatusCode;
use axum::response::Html;
use pullcast::files::scratch::{Incoming, clear, put};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// Logs that one upload may hold.
const MOST_LOGS: usize = 12;
/// Bytes of one of them: ten times the longest log of a pull.
pub(super) const MOST_LOG_BYTES: usize = 16 << 20;
/// Bytes of a field that is no log.
const MOST_TEXT: usize = 4096;
/// Fields that are no logs.
const MOST_FIELDS: usize = 400;
/// How long an upload may take: a slow sender keeps nobody waiting for ever.
const PATIENCE: Duration = Duration::from_mins(2);

/// What a form brought.
#[derive(Debug, Default)]
pub(super) struct Upload {
    /// The folder of its logs.
    pub(super) folder: PathBuf,
    pub(super) fields: BTreeMap<String, String>,
    pub(super) logs: Vec<PathBuf>,
}

/// Why a form was not taken.
type Refused = (StatusCode, String);

impl Upload {
    pub(super) fn text(&self, name: &str) -> &str {
        self.fields.get(name).map_or("", |text| text.trim())
    }

    /// The readings of the air, as written.
    pub(super) fn air(&self) -> Vec<(String, String)> {
        let read = |key: &&str| !self.text(key).is_empty();
        let told = AIR.iter().filter(|key| read(key));
        told.map(|key| ((*key).to_owned(), self.text(key).to_owned()))
            .collect()
    }
}

/// A log with the answers to what it leaves open.
pub(super) struct Answered<'l> {
    pub(super) log: &'l Path,
    /// Header and name, as a visit file has them under `columns`.
    pub(super) columns: &'l [(String, String)],
    pub(super) decimal: Option<&'static str>,
}

/// Writes a visit that names some logs, into their folder.
pub(super) fn visit_of(
    folder: &Path,
    name: &str,
    air: &[(String, String)],
    logs: &[Answered<'_>],
) -> Result<PathBuf, Failure> {
    let mut weather = toml::Table::new();
    for (key, value) in air {
        weather.insert(key.clone(), value.as_str().into());
    }
    let mut pulls = Vec::new();
    for log in logs {
        let mut pull = toml::Table::new();
        let file = log.log.file_name().unwrap_or_default().to_string_lossy();
        pull.insert("file".to_owned(), file.as_ref().into());
        if !log.columns.is_empty() {
            let columns = log.columns.iter();
            let columns: Vec<toml::Value> = columns
                .map(|(head, name)| format!("{head} = {name}").into())
                .collect();
            pull.insert("columns".to_owned(), columns.into());
        }
        if let Some(decimal) = log.decimal {
            pull.insert("decimal".to_owned(), decimal.into());
        }
        pulls.push(toml::Value::Table(pull));
    }
    let mut visit = toml::Table::new();
    visit.insert("kind".to_owned(), "visit".into());
    visit.insert("version".to_owned(), 1.into());
    visit.insert("name".to_owned(), name.into());
    visit.insert("weather".to_owned(), toml::Value::Table(weather));
    visit.insert("pull".to_owned(), toml::Value::Array(pulls));
    let failed = |error: std::io::Error| Failure::Gate(format!("the log cannot be kept: {error}"));
    put(
        folder,
        &format!("{name}.toml"),
        visit.to_string().as_bytes(),
    )
    .map_err(failed)
}

/// Reads a form with logs, or says why it cannot be. Two are read at once; others wait, unread.
impl FromRequest<Arc<Desk>> for Upload {
    type Rejection = (StatusCode, Html<String>);

    async fn from_request(request: Request, desk: &Arc<Desk>) -> Result<Self, Self::Rejection> {
        let form = Multipart::from_request(request, desk)
            .await
            .map_err(|error| (error.status(), error.body_text()));
        let upload = match form {
            Ok(form) => uploaded(desk, form).await,
            Err(refused) => Err(refused),
        };
        upload.map_err(|(status, why)| refusal(status, &why))
    }
}

async fn uploaded(desk: &Desk, form: Multipart) -> Result<Upload, Refused> {
    let ending = |_| {
        let why = "The server is ending.".to_owned();
        (StatusCode::SERVICE_UNAVAILABLE, why)
    };
    let _turn = desk.uploads.acquire().await.map_err(ending)?;
    let folder = desk.new_folder();
    let read = tokio::time::timeout(PATIENCE, taken(form, &folder)).await;
    let slow = |_| {
        let why = "The upload took longer than two minutes.".to_owned();
        (StatusCode::REQUEST_TIMEOUT, why)
    };
    match read.map_err(slow).and_then(|read| read) {
        Ok((fields, logs)) => Ok(Upload {
            folder,
            fields,
            logs,
        }),
        Err(refused) => {
            clear(&folder);
            Err(refused)
        }
    }
}

type Taken = (BTreeMap<String, String>, Vec<PathBuf>);

fn broken(error: &MultipartError) -> Refused {
    let why = format!("The upload cannot be read: {}", error.body_text());
    (error.status(), why)
}

fn too_large(why: &str) -> Refused {
    (StatusCode::PAYLOAD_TOO_LARGE, why.to_owned())
}

async fn taken(mut form: Multipart, folder: &Path) -> Result<Taken, Refused> {
    let (mut fields, mut logs) = (BTreeMap::new(), Vec::new());
    while let Some(field) = form.next_field().await.map_err(|e| broken(&e))? {
        let name = field.name().unwrap_or_default().to_owned();
        if name == "log" {
            // A form without a chosen file sends an empty one.
            let Some(log) = log(field, folder, logs.len() + 1).await? else {
                continue;
            };
            if logs.len() == MOST_LOGS {
                return Err(too_large(&format!("At most {MOST_LOGS} logs at once.")));
            }
            logs.push(log);
        } else if fields.len() < MOST_FIELDS {
            fields.insert(name, text(field).await?);
        } else {
            return Err(too_large(
                "The form has more fields than any that is asked for.",
            ));
        }
    }
    Ok((fields, logs))
}

async fn log(
    mut field: Field<'_>,
    folder: &Path,
    number: usize,
) -> Result<Option<PathBuf>, Refused> {
    let failed = |error: std::io::Error| {
        let why = format!("The log cannot be kept: {error}.");
        (StatusCode::INSUFFICIENT_STORAGE, why)
    };
    let mut file = Incoming::new(folder, &format!("log_{number}.csv")).map_err(failed)?;
    while let Some(piece) = field.chunk().await.map_err(|e| broken(&e))? {
        if file.piece(&piece).map_err(failed)? > MOST_LOG_BYTES {
            return Err(too_large(
                "This is larger than the log of any pull: 16 MB are taken.",
            ));
        }
    }
    file.done().map_err(failed)
}

async fn text(mut field: Field<'_>) -> Result<String, Refused> {
    let mut bytes = Vec::new();
    while let Some(piece) = field.chunk().await.map_err(|e| broken(&e))? {
        bytes.extend_from_slice(&piece);
        if bytes.len() > MOST_TEXT {
            return Err(too_large(
                "A field of the form is longer than any that is asked for.",
            ));
        }
    }
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
