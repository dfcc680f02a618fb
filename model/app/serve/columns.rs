//! What the columns of dropped logs were taken for, corrected by hand, and remembered for logs of the same make-up.
//!
//! An answer is written into the visit that names the log, so that a quote kept from it can be made again, and into a logger file beside the car, where
//! the next log with the same heads finds it, on the page and in the terminal.

use super::Desk;
use super::frame::choice;
use super::upload::{Answered, Upload, visit_of};
use crate::output::Failure;
use pullcast::files::run_csv::DecimalMark;
use pullcast::files::run_csv::{self, Channel, Logger};
use pullcast::files::{Overwrite, RunFile, RunOptions, write_atomic};
use pullcast::report::html::escaped;
use pullcast::units::show_number;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Columns that a form lists; a log with more is corrected in a file.
const MOST_COLUMNS: usize = 60;

/// Logs that were dropped on a car, and what is known of their columns.
#[derive(Debug, Clone)]
pub(crate) struct Tray {
    folder: PathBuf,
    air: Vec<(String, String)>,
    logs: Vec<Log>,
}

/// One of them.
#[derive(Debug, Clone)]
struct Log {
    path: PathBuf,
    /// Its heads with the units below them; empty where no table was found.
    heads: Vec<String>,
    /// Header and name, as a visit has them.
    columns: Vec<(String, String)>,
    decimal: Option<DecimalMark>,
}

impl Log {
    /// Its headers as written; a unit from the row below stands behind a stroke in the make-up.
    fn headers(&self) -> impl Iterator<Item = &str> {
        let header = |head: &'_ String| head.split_once(" | ").map_or(head.len(), |(h, _)| h.len());
        self.heads.iter().map(move |head| &head[..header(head)])
    }
}

impl Tray {
    /// The logs of a form, with what is remembered in the folder of a car of logs like them.
    pub(super) fn of(upload: Upload, beside: &Path) -> Result<Self, Failure> {
        if upload.logs.is_empty() {
            return Err(Failure::Usage(
                "choose a visit on file, or at least one log".to_owned(),
            ));
        }
        let air = upload.air();
        let logs = upload.logs.into_iter().map(|path| {
            let heads = heads(&path);
            let known = run_csv::remembered(&beside.join("log.csv"), &heads)?;
            let (columns, decimal) =
                known.map_or_else(Default::default, |known| (known.columns, known.decimal));
            Ok(Log {
                path,
                heads,
                columns,
                decimal,
            })
        });
        Ok(Self {
            logs: logs.collect::<Result<_, Failure>>()?,
            air,
            folder: upload.folder,
        })
    }

    /// A reading of the air as it was written.
    pub(super) fn air_text(&self, key: &str) -> &str {
        let found = self.air.iter().find(|(name, _)| name == key);
        found.map_or("", |(_, value)| value)
    }

    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Writes the visit that names the logs with what is known of them.
    pub(super) fn visit(&self, name: &str) -> Result<PathBuf, Failure> {
        let logs: Vec<Answered<'_>> = self
            .logs
            .iter()
            .map(|log| Answered {
                log: &log.path,
                columns: &log.columns,
                decimal: log.decimal.map(|mark| match mark {
                    DecimalMark::Point => "point",
                    DecimalMark::Comma => "comma",
                }),
            })
            .collect();
        visit_of(&self.folder, name, &self.air, &logs)
    }

    /// The places of the first log of each make-up.
    fn make_ups(&self) -> Vec<usize> {
        let first = |at: &usize| {
            let heads = &self.logs[*at].heads;
            !heads.is_empty() && !self.logs[..*at].iter().any(|log| log.heads == *heads)
        };
        (0..self.logs.len()).filter(first).collect()
    }
}

fn heads(log: &Path) -> Vec<String> {
    match RunFile::open(log, &RunOptions::default()) {
        Ok(run) => run.heads,
        Err(problems) => problems.heads().to_vec(),
    }
}

/// What was understood of each make-up of log, with a form to correct it.
pub(super) fn forms(place: usize, tray: &Tray, open: bool) -> String {
    let mut out = String::new();
    for at in tray.make_ups() {
        let log = &tray.logs[at];
        let options = RunOptions {
            columns: log.columns.clone(),
            decimal: log.decimal,
            ..RunOptions::default()
        };
        let read = RunFile::open(&log.path, &options);
        let account = read.as_ref().ok().map(RunFile::account);
        let _ = writeln!(
            out,
            "<details class=\"columns\"{}>\n<summary>Columns of log {}</summary>",
            if open { " open" } else { "" },
            at + 1
        );
        if log.heads.len() > MOST_COLUMNS {
            let _ = writeln!(
                out,
                "<p>It has {} columns, more than a page corrects: <code>pullcast read LOG --column \"HEADER=NAME\"</code> does.</p>\n</details>",
                log.heads.len()
            );
            continue;
        }
        let _ = writeln!(
            out,
            "<form method=\"post\" action=\"/car/{place}/columns\" data-busy=\"Reading the logs again\">\n<input type=\"hidden\" name=\"log\" \
             value=\"{at}\">\n<p>Where a column is taken for the wrong thing, say what it is, with its unit.</p>\n<div class=\"fields\">"
        );
        for (number, head) in log.headers().enumerate() {
            let taken = account.as_ref().and_then(|account| {
                let column = account.columns.iter().find(|c| c.header == head)?;
                let (low, high) = (column.lowest, column.highest);
                let shown = |value| show_number(value, 4);
                Some(format!(
                    "taken for {}: {} to {} {}",
                    column.measures,
                    shown(low),
                    shown(high),
                    if column.unit == "1" { "" } else { column.unit }
                ))
            });
            let answered = log.columns.iter().find(|(header, _)| header == head);
            let hint = match (answered, taken) {
                (Some((_, name)), _) => format!("corrected: {name}"),
                (None, Some(taken)) => taken,
                (None, None) => "not read".to_owned(),
            };
            let _ = writeln!(
                out,
                "<fieldset class=\"pair\"><legend>{}</legend><small>{}</small>{}<label>its unit<input name=\"unit.{number}\" autocomplete=\"off\" \
                 maxlength=\"20\" placeholder=\"such as kW\"></label></fieldset>",
                escaped(head),
                escaped(&hint),
                choice(&format!("is.{number}"), "what it is", "", &names(), "")
            );
        }
        out.push_str(
            "</div>\n<label class=\"tick\"><input type=\"checkbox\" name=\"keep\" value=\"yes\" checked> Remember this for logs with the same heads</label>\n\
             <div class=\"row\"><button>Read them so</button></div>\n</form>\n</details>\n",
        );
    }
    out
}

/// What a column may be: value and words.
fn names() -> Vec<(String, String)> {
    let mut names = vec![
        (String::new(), "as it was taken".to_owned()),
        ("skip".to_owned(), "nothing: leave it out".to_owned()),
    ];
    names.extend(Channel::ALL.iter().map(|channel| {
        let name = channel.name().to_owned();
        (name.clone(), name)
    }));
    names
}

/// The tray with the answers of a form, which are remembered beside the car where that is asked for.
pub(super) fn corrected(
    desk: &Desk,
    place: usize,
    tray: &Tray,
    fields: &[(String, String)],
) -> Result<Tray, Failure> {
    let text = |name: &str| {
        let found = fields.iter().find(|(key, _)| key == name);
        found.map_or("", |(_, value)| value.trim())
    };
    let log = text("log")
        .parse()
        .ok()
        .and_then(|at: usize| tray.logs.get(at));
    let log = log.ok_or_else(|| Failure::Usage("there is no such log".to_owned()))?;
    let mut columns = log.columns.clone();
    for (number, head) in log.headers().enumerate() {
        let (is, unit) = (
            text(&format!("is.{number}")),
            text(&format!("unit.{number}")),
        );
        let name = match (is, unit) {
            ("", _) => continue,
            ("skip", _) | (_, "") => is.to_owned(),
            (is, unit) => format!("{is} ({unit})"),
        };
        columns.retain(|(header, _)| header != head);
        columns.push((head.to_owned(), name));
    }
    let mut tray = tray.clone();
    let heads = log.heads.clone();
    for log in &mut tray.logs {
        if log.heads == heads {
            log.columns.clone_from(&columns);
        }
    }
    if text("keep") == "yes" && !columns.is_empty() {
        let logger = Logger {
            heads,
            columns,
            decimal: log.decimal,
        };
        remember(desk, place, &logger)?;
    }
    Ok(tray)
}

/// Writes a logger file beside the car: over the one for the same make-up, or under a number of its own.
fn remember(desk: &Desk, place: usize, logger: &Logger) -> Result<(), Failure> {
    let job = super::car::job(desk, place)?;
    let named = |number: usize| job.folder().join(format!("page_{number}.logger.toml"));
    let ours = |path: &PathBuf| Logger::open(path).is_ok_and(|before| before.fits(&logger.heads));
    for number in 1..100 {
        let path = named(number);
        let overwrite = match (path.exists(), ours(&path)) {
            (false, _) => Overwrite::Refuse,
            (true, true) => Overwrite::Allow,
            (true, false) => continue,
        };
        return Ok(write_atomic(&path, logger.text().as_bytes(), overwrite)?);
    }
    Err(Failure::Gate(
        "a hundred make-ups of logs are remembered beside this car; tidy up its *.logger.toml files".to_owned(),
    ))
}
