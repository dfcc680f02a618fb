//! A plan built part by part, the curves and the range that follow it, the sheet, and the book.

use super::car::{Job, air_fields, job};
use super::frame::{not_done, page as framed, trouble, unread};
use super::{Desk, turn};
use crate::args::{QuoteArgs, SheetArgs};
use crate::book;
use crate::output::Failure;
use crate::quote::{letter, quoted};
use axum::extract::{Form, Path as Place, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::{Html, IntoResponse, Response};
use pullcast::ask::basis::Air;
use pullcast::ask::predict;
use pullcast::ask::quote::Question;
use pullcast::belief::Prior;
use pullcast::dyno::correction::Standard;
use pullcast::files::TomlFile;
use pullcast::files::scratch::put;
use pullcast::files::{plan as plan_file, weather};
use pullcast::parts::row::{Holds, LeftOut, Row};
use pullcast::parts::{Plan, kinds};
use pullcast::report::Report;
use pullcast::report::html::escaped;
use pullcast::report::quote::QuoteReport;
use pullcast::report::sheet::sheet as drawn_sheet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Changes that a plan on a page may hold.
const MOST_CHANGES: usize = 24;
/// A sheet brings its style along and runs nothing.
const SHEET_POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'";

/// Fields of a form in their order.
type Fields = Vec<(String, String)>;

/// A plan as it stands in the form.
#[derive(Debug, Default)]
struct Draft {
    /// Kind and written values of each change.
    changes: Vec<(String, Fields)>,
    fields: Fields,
}

impl Draft {
    fn of(fields: Fields) -> Self {
        let mut draft = Self::default();
        for (name, value) in &fields {
            if let Some(place) = name.strip_prefix("kind.") {
                if place.parse() == Ok(draft.changes.len()) && draft.changes.len() < MOST_CHANGES {
                    draft.changes.push((value.clone(), Vec::new()));
                }
            } else if let Some((place, key)) = name.split_once('.')
                && let Some(change) = place
                    .parse()
                    .ok()
                    .and_then(|n: usize| draft.changes.get_mut(n))
            {
                change.1.push((key.to_owned(), value.trim().to_owned()));
            }
        }
        draft.fields = fields;
        draft
    }

    fn text(&self, name: &str) -> &str {
        let found = self.fields.iter().find(|(key, _)| key == name);
        found.map_or("", |(_, value)| value.trim())
    }

    /// What a pressed button asks for.
    fn pressed(&mut self) {
        let asked = self.text("do").to_owned();
        if asked == "add" {
            let kind = self.text("new").to_owned();
            if kinds().any(|k| k.word == kind) && self.changes.len() < MOST_CHANGES {
                self.changes.push((kind, Vec::new()));
            }
        } else if let Some(place) = asked.strip_prefix("drop.").and_then(|n| n.parse().ok())
            && self.changes.len() > place
        {
            self.changes.remove(place);
        }
    }

    /// The plan file that says the same.
    fn toml(&self) -> String {
        let mut changes = Vec::new();
        for (kind, fields) in &self.changes {
            let mut change = toml::Table::new();
            change.insert("kind".to_owned(), kind.as_str().into());
            let rows = kinds()
                .find(|k| k.word == *kind)
                .map_or(&[][..], |k| k.rows);
            for row in rows {
                let written = fields.iter().find(|(key, _)| key == row.key);
                let Some((_, value)) = written.filter(|(_, value)| !value.is_empty()) else {
                    continue;
                };
                let value: toml::Value = match (row.holds, value.as_str()) {
                    (Holds::Switch, "true") => true.into(),
                    (Holds::Switch, "false") => false.into(),
                    (Holds::Count(..), text) if text.parse::<i64>().is_ok() => {
                        text.parse::<i64>().unwrap_or_default().into()
                    }
                    (_, text) => text.into(),
                };
                change.insert(row.key.to_owned(), value);
            }
            changes.push(toml::Value::Table(change));
        }
        let name = match self.text("name") {
            "" => "planned work",
            name => name,
        };
        let mut plan = toml::Table::new();
        plan.insert("kind".to_owned(), "plan".into());
        plan.insert("version".to_owned(), 1.into());
        plan.insert("name".to_owned(), name.into());
        plan.insert("change".to_owned(), toml::Value::Array(changes));
        plan.to_string()
    }

    /// The plan, checked against the car; none where nothing is planned.
    fn plan(&self, job: &Job) -> Result<Option<Plan<Prior>>, Failure> {
        if self.changes.is_empty() {
            return Ok(None);
        }
        let file = TomlFile::parse("the plan", &self.toml())?;
        let (plan, _) = plan_file::read(&file, job.path.parent().unwrap_or(Path::new("")))?;
        plan.check(&job.car.sheet.centre.car)?;
        Ok(Some(plan.plan))
    }

    /// The weather file of the pull after, where anything is said of it.
    fn weather(&self) -> Option<String> {
        let mut air = toml::Table::new();
        for key in ["temperature", "relative_humidity", "station_pressure"] {
            if !self.text(key).is_empty() {
                air.insert(key.to_owned(), self.text(key).into());
            }
        }
        if air.is_empty() {
            return None;
        }
        air.insert("kind".to_owned(), "weather".into());
        air.insert("version".to_owned(), 1.into());
        Some(air.to_string())
    }

    fn air(&self) -> Result<Option<Air>, Failure> {
        let Some(text) = self.weather() else {
            return Ok(None);
        };
        let (read, _) = weather::read(&TomlFile::parse("the air after the work", &text)?)?;
        Ok(Some(Air::stated(read.day, "as entered")))
    }
}

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
    shown(state, place, draft).await
}

async fn shown(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    draft: Draft,
) -> Response {
    let made = turn(&desk, move |desk| {
        let job = job(desk, place)?;
        // Without the script this is the answer; with it, the first one.
        let answer = answered(desk, &job, &draft, true).unwrap_or_else(|failure| trouble(&failure));
        Ok((job.name().to_owned(), form(place, &draft), answer))
    })
    .await;
    match made {
        Ok((name, form, answer)) => framed(
            &format!("{name}: planned work"),
            &format!(
                "<p class=\"row\"><a class=\"button\" href=\"/car/{place}\">Back to the car</a></p>\n<div class=\"two\">\n<div>\n{form}</div>\n\
                 <section id=\"answer\" aria-live=\"polite\" aria-label=\"What this plan gives\">\n{answer}</section>\n</div>\n"
            ),
        )
        .into_response(),
        Err(failure) => unread(&failure),
    }
}

/// The answer alone, for the script: the middle at once, the range when it is asked for.
pub(super) async fn answer(
    State(desk): State<Arc<Desk>>,
    Place(place): Place<usize>,
    Form(fields): Form<Fields>,
) -> Response {
    let draft = Draft::of(fields);
    let range = draft.text("ask") == "range";
    let made = turn(&desk, move |desk| {
        answered(desk, &*job(desk, place)?, &draft, range)
    })
    .await;
    match made {
        Ok(answer) => Html(answer).into_response(),
        Err(failure) => (StatusCode::UNPROCESSABLE_ENTITY, Html(trouble(&failure))).into_response(),
    }
}

fn standard(desk: &Desk) -> Standard {
    desk.shop.standard.unwrap_or(Standard::SaeJ1349)
}

/// A predicted pull or, where work is planned and the range is wanted, the quote.
fn answered(desk: &Desk, job: &Job, draft: &Draft, range: bool) -> Result<String, Failure> {
    let gate = |error: &dyn std::fmt::Display| Failure::Gate(error.to_string());
    let sheet = job
        .done
        .as_ref()
        .map_or(&job.car.sheet, |done| &done.fitted.sheet);
    let visits = job.done.as_ref().map_or(&[][..], |done| &done.visits);
    let air = draft.air()?;
    let plan = draft.plan(job)?;
    if let Some(plan) = plan.as_ref().filter(|_| range) {
        let question = Question {
            standard: standard(desk),
            noise: desk.shop.noise(),
            hoped_w: hoped(draft)?,
            ..Question::new(sheet, plan, visits, air)
        };
        let answer = question.answer().map_err(|error| gate(&error))?;
        let report = QuoteReport {
            answer,
            fit: job.done.as_ref().map(|done| done.report.clone()),
            warnings: Vec::new(),
        };
        return Ok(report.document(desk.units).fragment());
    }
    let read_in = visits.last().and_then(|visit| visit.pulls.first());
    let air = air
        .or_else(|| read_in.map(|pull| Air::stated(pull.day, "the visit")))
        .unwrap_or_else(Air::reference);
    let question = predict::Question {
        standard: standard(desk),
        ..predict::Question::new(&sheet.centre, plan.as_ref(), air)
    };
    let answer = question.answer().map_err(|error| gate(&error))?;
    Ok(answer.document(desk.units).fragment())
}

fn hoped(draft: &Draft) -> Result<Option<f64>, Failure> {
    match draft.text("hoped") {
        "" => Ok(None),
        text => crate::values::target(text)
            .map(Some)
            .map_err(Failure::Usage),
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
        let args = call(desk, place, &draft)?;
        let made = quoted(&args, None, out)?;
        let letter = letter(&args, out);
        Ok(drawn_sheet(
            &made.report.report,
            &made.report.made_by,
            &letter,
            desk.units,
        ))
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
        let args = call(desk, place, &draft)?;
        let made = quoted(&args, None, out)?;
        book::keep(&desk.book, &args, &made, out)?;
        Ok(made.report.made_by.inputs)
    })
    .await;
    match made {
        Ok(number) => framed(
            "Kept in the job book",
            &format!(
                "<p>Quote <strong>{}</strong> is in the job book with everything it was made from.</p>\n\
                 <p class=\"row\"><a class=\"button\" href=\"/record\">Open the job book</a><a class=\"button\" href=\"/car/{place}\">Back to the \
                 car</a></p>\n",
                escaped(&number)
            ),
        )
        .into_response(),
        Err(failure) => not_done("Not kept", &failure),
    }
}

/// The call of the program that asks the same, its files written to the server's scratch folder.
fn call(desk: &Desk, place: usize, draft: &Draft) -> Result<QuoteArgs, Failure> {
    let job = job(desk, place)?;
    if draft.plan(&job)?.is_none() {
        return Err(Failure::Usage(
            "add at least one change to the plan first".to_owned(),
        ));
    }
    let folder = desk.folder(place);
    let write = |name: &str, text: &str| -> Result<PathBuf, Failure> {
        let failed =
            |error: std::io::Error| Failure::Gate(format!("{name} cannot be written: {error}"));
        put(&folder, name, text.as_bytes()).map_err(failed)
    };
    let customer = draft.text("customer");
    Ok(QuoteArgs {
        car: job.path.clone(),
        plan: Some(write("plan.toml", &draft.toml())?),
        visits: job.visit.iter().map(|(path, ..)| path.clone()).collect(),
        weather: draft
            .weather()
            .map(|text| write("weather.toml", &text))
            .transpose()?,
        draws: QuoteArgs::DRAWS,
        seed: 1,
        // The day by UTC: a page does not know where the shop stands.
        date: book::now().get(..10).map(str::to_owned),
        sheet: SheetArgs {
            customer: (!customer.is_empty()).then(|| customer.to_owned()),
            hoped: hoped(draft)?,
            ..SheetArgs::default()
        },
        ..QuoteArgs::default()
    })
}

fn form(place: usize, draft: &Draft) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "<form method=\"post\" action=\"/car/{place}/plan\" data-answer=\"/car/{place}/answer\">\n\
         <div class=\"row\"><label>Name of the work<input name=\"name\" maxlength=\"80\" value=\"{}\"></label>\
         <button class=\"first\" name=\"do\" value=\"show\">Show</button></div>",
        escaped(draft.text("name"))
    );
    for (number, (kind, fields)) in draft.changes.iter().enumerate() {
        change(&mut out, number, kind, fields);
    }
    out.push_str("<fieldset>\n<legend>One change more</legend>\n<div class=\"row\"><label>Kind of work<select name=\"new\">");
    for kind in kinds() {
        let _ = write!(
            out,
            "<option value=\"{0}\">{0}</option>",
            escaped(kind.word)
        );
    }
    let air: Vec<String> = draft
        .fields
        .iter()
        .map(|(key, value)| format!("{key}={}", value.replace('\n', " ")))
        .collect();
    let _ = writeln!(
        out,
        "</select></label><button name=\"do\" value=\"add\">Add it</button></div>\n</fieldset>\n<fieldset>\n<legend>The pull after the work</legend>\n\
         <div class=\"fields\">\n{}<label>Hoped for<small>peak as read, such as 230 kW; may stay empty</small><input name=\"hoped\" value=\"{}\"></label>\n\
         <label>For whom<small>stands on the sheet</small><input name=\"customer\" maxlength=\"80\" value=\"{}\"></label>\n</div>\n\
         <div class=\"row\"><button formaction=\"/car/{place}/sheet\" formtarget=\"_blank\">Sheet to print</button>\
         <button formaction=\"/car/{place}/keep\">Keep in the job book</button></div>\n</fieldset>\n</form>",
        air_fields(&air.join("\n"), "air of that day, if known"),
        escaped(draft.text("hoped")),
        escaped(draft.text("customer"))
    );
    out
}

fn change(out: &mut String, number: usize, kind: &str, fields: &Fields) {
    let _ = writeln!(
        out,
        "<fieldset>\n<legend>{0}</legend>\n<input type=\"hidden\" name=\"kind.{number}\" value=\"{0}\">\n<div class=\"fields\">",
        escaped(kind)
    );
    let rows = kinds().find(|k| k.word == kind).map_or(&[][..], |k| k.rows);
    for row in rows {
        let value = fields.iter().find(|(key, _)| key == row.key);
        field(out, number, row, value.map_or("", |(_, value)| value));
    }
    let _ = writeln!(
        out,
        "</div>\n<div class=\"row\"><button name=\"do\" value=\"drop.{number}\">Take it out</button></div>\n</fieldset>"
    );
}

/// One number or word of a change; what is a table or a file is left to a plan file.
fn field(out: &mut String, number: usize, row: &Row, value: &str) {
    let name = format!("{number}.{}", row.key);
    let words: Vec<&str> = match row.holds {
        Holds::Word(words) => words(),
        Holds::Switch => vec!["true", "false"],
        Holds::Table(_) | Holds::Other(_) => return,
        _ => Vec::new(),
    };
    let must = matches!(row.left_out, LeftOut::MustBeGiven);
    let symbol = row.measure().symbol;
    let (low, high) = match row.holds {
        Holds::Count(low, high) => (low as f64, high as f64),
        _ => row.range(),
    };
    let range = if low.is_finite() && high.is_finite() {
        format!("{low} to {high} {symbol}")
    } else {
        String::new()
    };
    let hint = format!(
        "{}{}",
        range.trim_end(),
        if must { "" } else { "; may stay empty" }
    );
    let _ = write!(
        out,
        "<label>{}<small>{}</small>",
        escaped(row.means()),
        escaped(hint.trim_start_matches("; "))
    );
    if words.is_empty() {
        let _ = write!(
            out,
            "<input name=\"{name}\" value=\"{}\" autocomplete=\"off\">",
            escaped(value)
        );
    } else {
        let _ = write!(out, "<select name=\"{name}\">");
        if !must {
            out.push_str("<option value=\"\">as it is</option>");
        }
        for word in words {
            let chosen = if word == value { " selected" } else { "" };
            let _ = write!(
                out,
                "<option value=\"{0}\"{chosen}>{0}</option>",
                escaped(word)
            );
        }
        out.push_str("</select>");
    }
    out.push_str("</label>\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(pairs: &[(&str, &str)]) -> Fields {
        let owned = |(a, b): &(&str, &str)| ((*a).to_owned(), (*b).to_owned());
        pairs.iter().map(owned).collect()
    }

    #[test]
    fn a_form_becomes_the_plan_file_that_says_the_same() {
        let mut draft = Draft::of(fields(&[
            ("name", "pulley \"up\"\n[x]"),
            ("kind.0", "pulley"),
            ("0.ratio_factor", "1.1"),
            ("0.no_such_key", "1"),
            ("kind.7", "pulley"),
            ("new", "mixture"),
            ("do", "add"),
        ]));
        draft.pressed();
        let plan: toml::Table =
            toml::from_str(&draft.toml()).expect("sound TOML whatever was typed");
        assert_eq!(plan["name"].as_str(), Some("pulley \"up\"\n[x]"));
        let changes = plan["change"].as_array().expect("a list");
        assert_eq!(changes.len(), 2);
        assert_eq!(changes[0]["ratio_factor"].as_str(), Some("1.1"));
        assert!(changes[0].get("no_such_key").is_none());
        assert_eq!(changes[1]["kind"].as_str(), Some("mixture"));
        draft.fields = fields(&[("do", "drop.0")]);
        draft.pressed();
        assert_eq!(draft.changes.len(), 1);
    }
}
