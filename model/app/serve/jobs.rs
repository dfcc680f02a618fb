//! The job book: its quotes, one of them made again, the sheet, and a job closed with the pulls after the work.

use super::columns::Tray;
use super::frame::{air_fields, choice, field, links, not_done, page as framed, refusal, trouble};
use super::plan::{SHEET_POLICY, air_by_name};
use super::upload::Upload;
use super::{DEPTH, Desk, turn};
use crate::args::QuoteArgs;
use crate::book;
use crate::output::Failure;
use crate::quote::{Quoted, letter};
use axum::extract::{Form, Path as Place, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Response};
use pullcast::files::book::{Book, BookError, Line, Stored};
use pullcast::files::schema::FileKind;
use pullcast::files::scratch::{clear, of_kind};
use pullcast::report::book::{ClosedReport, RecordReport};
use pullcast::report::html::escaped;
use pullcast::report::pdf::Paper;
use pullcast::report::sheet::{Letter, pdf as drawn_pdf, sheet as drawn_sheet};
use pullcast::report::{Report, Units, What};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Letters of a number that are shown.
const SHOWN: usize = 12;

pub(super) async fn list(State(desk): State<Arc<Desk>>) -> Html<String> {
    let found = turn(&desk, |desk| {
        let book = match Book::look(&desk.book) {
            Err(BookError::Missing { .. }) => return Ok(None),
            book => book?,
        };
        let record = RecordReport {
            record: book::record(&book)?,
        };
        Ok(Some((
            book.lines()?,
            record.document(desk.units).fragment(),
        )))
    })
    .await;
    let body = match found {
        Ok(None) => {
            "<p>There is no job book yet: keeping the first quote begins it.</p>\n".to_owned()
        }
        Ok(Some((lines, record))) => {
            let mut out = String::from("<ul class=\"cards\">\n");
            for line in lines.iter().rev() {
                card(&mut out, &desk, line);
            }
            let _ = writeln!(out, "</ul>\n<section class=\"said\">\n{record}</section>");
            out
        }
        Err(failure) => trouble(&failure),
    };
    framed("Job book", &body)
}

fn card(out: &mut String, desk: &Desk, line: &Line) {
    let power = |w: f64| desk.units.show(What::Power, w);
    let state = match &line.outcome {
        None => "open".to_owned(),
        Some(outcome) => format!("read {}", power(outcome.read_w)),
    };
    let customer = line
        .customer
        .as_ref()
        .map_or_else(String::new, |name| format!(", for {name}"));
    let made: String = line.made.chars().take(10).collect();
    let _ = writeln!(
        out,
        "<li><a href=\"/book/{}\"><strong>{}: {}</strong><span>promised {}, {state}</span><span>{made}{}, quote {}</span></a></li>",
        escaped(&line.number),
        escaped(&line.car),
        escaped(&line.plan),
        power(line.promised_w),
        escaped(&customer),
        escaped(&line.number.chars().take(SHOWN).collect::<String>())
    );
}

pub(super) async fn page(state: State<Arc<Desk>>, number: Place<String>) -> Response {
    shown(state, number, None).await
}

/// What a quote's page shows.
struct Seen {
    line: Line,
    answer: String,
    outcome: Option<String>,
}

fn seen(desk: &Desk, number: &str) -> Result<Seen, Failure> {
    let book = Book::look(&desk.book)?;
    let number = book.number(number)?;
    let stored = book.stored(&number)?;
    let lines = book.lines()?;
    let line = lines.into_iter().find(|line| line.number == number);
    let line = line.ok_or_else(|| Failure::Usage("there is no such quote".to_owned()))?;
    let (mut made, text) = book::made_again(&stored, None, desk.out())?;
    air_by_name(&mut made.report.report.answer.basis);
    let mut answer = made.report.report.document(desk.units).fragment();
    if text != stored.report {
        answer = format!(
            "<p class=\"note\">Made again with this program it comes out otherwise than it was; <code>book again {}</code> names the \
             difference.</p>\n{answer}",
            escaped(&number)
        );
    }
    let outcome = book::outcome(&book, &stored, desk.out())?;
    Ok(Seen {
        line,
        answer,
        outcome: outcome.map(|closed| closed.document(desk.units).fragment()),
    })
}

async fn shown(
    State(desk): State<Arc<Desk>>,
    Place(number): Place<String>,
    failed: Option<Failure>,
) -> Response {
    let made = turn(&desk, move |desk| seen(desk, &number)).await;
    let seen = match made {
        Ok(seen) => seen,
        Err(failure) => return lost(&failure),
    };
    let line = &seen.line;
    let mut body = links(&[
        ("Job book", "/book".to_owned()),
        ("Sheet to print", format!("/book/{}/sheet", line.number)),
        ("Sheet as PDF", format!("/book/{}/sheet.pdf", line.number)),
    ]);
    let status = if failed.is_some() {
        StatusCode::UNPROCESSABLE_ENTITY
    } else {
        StatusCode::OK
    };
    body.extend(failed.map(|failure| trouble(&failure)));
    match &seen.outcome {
        Some(outcome) => {
            let _ = writeln!(
                body,
                "<section id=\"closed\" class=\"said\" aria-label=\"How it turned out\">\n{outcome}</section>\n<p class=\"row\"><button data-print \
                 hidden>Print this page</button></p>"
            );
        }
        None => body.push_str(&closing(line)),
    }
    let _ = writeln!(
        body,
        "<section class=\"said\" aria-label=\"What was quoted\">\n{}</section>",
        seen.answer
    );
    body.push_str(&notes(line));
    let title = format!("{}: {}", line.car, line.plan);
    (status, framed(&title, &body)).into_response()
}

/// A quote that cannot be shown.
fn lost(failure: &Failure) -> Response {
    match failure {
        Failure::Usage(why) => refusal(StatusCode::NOT_FOUND, why).into_response(),
        _ => not_done("This quote cannot be shown", failure),
    }
}

/// The form that closes a job.
fn closing(line: &Line) -> String {
    let mut options = vec![(String::new(), "none: the logs below".to_owned())];
    let visits = of_kind(Path::new(""), FileKind::Visit, DEPTH);
    options.extend(visits.iter().map(|path| {
        let shown = path.display().to_string();
        (shown.clone(), shown)
    }));
    format!(
        "<form method=\"post\" action=\"/book/{}/close\" enctype=\"multipart/form-data\" data-busy=\"Holding the quote against the pulls\">\n<fieldset>\n\
         <legend>Close the job: the pulls after the work</legend>\n<div class=\"fields\">\n{}<label>or drop logs here<small>CSV, one pull in each or \
         several in one</small><input type=\"file\" name=\"log\" multiple accept=\".csv,.txt,.tsv,text/csv\"></label>\n{}</div>\n\
         <p>What is read then stays in the book as it is.</p>\n<div class=\"row\"><button class=\"first\">Close the job</button></div>\n</fieldset>\n</form>\n",
        escaped(&line.number),
        choice(
            "visit",
            "A visit on file",
            "in the folders of the shop",
            &options,
            ""
        ),
        air_fields(|_| "", "the air in the room")
    )
}

fn notes(line: &Line) -> String {
    let mut out = String::from("<section aria-label=\"Notes\">\n<h2>Notes</h2>\n<ul>\n");
    for note in &line.notes {
        let _ = writeln!(out, "<li>{}</li>", escaped(note));
    }
    let _ = writeln!(
        out,
        "</ul>\n<form method=\"post\" action=\"/book/{}/note\"><div class=\"row\">{}<button>Add it</button></div></form>\n</section>",
        escaped(&line.number),
        field("text", "A remark", "stands in the book for good", "")
    );
    out
}

pub(super) async fn note(
    State(desk): State<Arc<Desk>>,
    Place(number): Place<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let text = fields.into_iter().find(|(name, _)| name == "text");
    let text = text.map_or_else(String::new, |(_, text)| text.trim().to_owned());
    let wanted = number.clone();
    let noted = turn(&desk, move |desk| {
        if text.is_empty() {
            return Err(Failure::Usage("a remark has at least one word".to_owned()));
        }
        let mut book = Book::open(&desk.book)?;
        let number = book.number(&wanted)?;
        Ok(book.note(&number, &text, &book::now())?)
    })
    .await;
    shown(State(desk), Place(number), noted.err()).await
}

pub(super) async fn close(
    State(desk): State<Arc<Desk>>,
    Place(number): Place<String>,
    upload: Upload,
) -> Response {
    let wanted = number.clone();
    let closed = turn(&desk, move |desk| {
        let folder = upload.folder.clone();
        let chosen = upload.text("visit").to_owned();
        let visit: Result<PathBuf, Failure> = if upload.logs.is_empty() && !chosen.is_empty() {
            let visits = of_kind(Path::new(""), FileKind::Visit, DEPTH);
            let found = visits
                .into_iter()
                .find(|path| path.display().to_string() == chosen);
            found.ok_or_else(|| Failure::Usage("there is no such visit".to_owned()))
        } else {
            Tray::of(upload, Path::new("")).and_then(|tray| tray.visit("after"))
        };
        let closed: Result<ClosedReport, Failure> =
            visit.and_then(|visit| book::closed(&desk.book, &wanted, &visit, desk.out()));
        // The book has the bytes now.
        clear(&folder);
        closed
    })
    .await;
    shown(State(desk), Place(number), closed.err()).await
}

pub(super) async fn sheet(State(desk): State<Arc<Desk>>, Place(number): Place<String>) -> Response {
    let made = turn(&desk, move |desk| {
        let (made, letter) = sheet_of(desk, &number)?;
        let (report, stamp) = (&made.report.report, &made.report.made_by);
        Ok(drawn_sheet(report, stamp, &letter, desk.units))
    })
    .await;
    match made {
        Ok(sheet) => ([(CONTENT_SECURITY_POLICY, SHEET_POLICY)], Html(sheet)).into_response(),
        Err(failure) => lost(&failure),
    }
}

/// The sheet as PDF, on paper of the units shown.
pub(super) async fn pdf(State(desk): State<Arc<Desk>>, Place(number): Place<String>) -> Response {
    let made = turn(&desk, move |desk| {
        let (made, letter) = sheet_of(desk, &number)?;
        let (report, stamp) = (&made.report.report, &made.report.made_by);
        let paper = match desk.units {
            Units::Metric => Paper::A4,
            Units::Shop => Paper::Letter,
        };
        drawn_pdf(report, stamp, &letter, desk.units, paper)
            .map_err(|error| Failure::Gate(error.to_string()))
    })
    .await;
    match made {
        Ok(document) => ([(CONTENT_TYPE, "application/pdf")], document).into_response(),
        Err(failure) => lost(&failure),
    }
}

/// A stored quote made again, and what stands on its sheet beside it.
fn sheet_of(desk: &Desk, number: &str) -> Result<(Quoted, Letter), Failure> {
    let book = Book::look(&desk.book)?;
    let number = book.number(number)?;
    let stored: Stored = book.stored(&number)?;
    let line = book.lines()?.into_iter().find(|line| line.number == number);
    let (mut made, _) = book::made_again(&stored, None, desk.out())?;
    air_by_name(&mut made.report.report.answer.basis);
    let mut args = QuoteArgs {
        date: made.report.made_by.date.clone(),
        ..QuoteArgs::default()
    };
    args.sheet.customer = line.and_then(|line| line.customer);
    let letter = letter(&args, desk.out());
    Ok((made, letter))
}
