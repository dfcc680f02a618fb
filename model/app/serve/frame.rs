//! The frame of every page, and what is the same on all of them.

use crate::output::Failure;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{Html, IntoResponse, Response};
use pullcast::files::Look;
use pullcast::report::chart::svg;
use pullcast::report::html::escaped;

/// Columns of a problem's picture of its line.
const WIDTH: usize = 90;

/// A page with a heading and a body that is markup.
pub(super) fn page(title: &str, body: &str) -> Html<String> {
    let title = escaped(title);
    Html(format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title} · pullcast</title>\n<link rel=\"stylesheet\" href=\"/style.css\">\n<script src=\"/page.js\" defer></script>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#main\">To the content</a>\n<nav aria-label=\"Pages\"><a href=\"/\">Cars</a><a href=\"/record\">Job book</a></nav>\n\
         <main id=\"main\" tabindex=\"-1\">\n<h1>{title}</h1>\n{body}</main>\n</body>\n</html>\n"
    ))
}

/// A refusal as a page.
pub(super) fn refusal(status: StatusCode, why: &str) -> (StatusCode, Html<String>) {
    (
        status,
        page("Not here", &format!("<p>{}</p>\n", escaped(why))),
    )
}

/// Why there is nothing to show of a car: it is not there, or its file cannot be read.
pub(super) fn unread(failure: &Failure) -> Response {
    match failure {
        Failure::Usage(why) => refusal(StatusCode::NOT_FOUND, why).into_response(),
        _ => not_done("This car cannot be read", failure),
    }
}

/// What was asked for was understood and could not be done.
pub(super) fn not_done(title: &str, failure: &Failure) -> Response {
    let why = page(title, &trouble(failure));
    (StatusCode::UNPROCESSABLE_ENTITY, why).into_response()
}

pub(super) async fn nowhere() -> Response {
    refusal(StatusCode::NOT_FOUND, "There is no such page.").into_response()
}

/// What went wrong, as a part of a page.
pub(super) fn trouble(failure: &Failure) -> String {
    let words = match failure {
        Failure::Files(problems) => format!(
            "<pre>{}</pre>",
            escaped_lines(&problems.render(Look::Plain, WIDTH))
        ),
        Failure::Usage(text) | Failure::Gate(text) => format!("<p>{}</p>", escaped(text)),
    };
    format!(
        "<section class=\"trouble\" role=\"alert\">\n<h2>That did not work</h2>\n{words}\n</section>\n"
    )
}

/// Text of several lines, nothing in it markup.
fn escaped_lines(text: &str) -> String {
    text.lines().map(escaped).collect::<Vec<_>>().join("\n")
}

pub(super) async fn style() -> Response {
    let text = format!(
        "{}{}{}",
        pullcast::report::html::STYLE,
        svg::STYLE,
        include_str!("page.css")
    );
    ([(CONTENT_TYPE, "text/css; charset=utf-8")], text).into_response()
}

pub(super) async fn script() -> Response {
    (
        [(CONTENT_TYPE, "text/javascript; charset=utf-8")],
        include_str!("page.js"),
    )
        .into_response()
}
