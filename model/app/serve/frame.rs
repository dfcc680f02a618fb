//! The frame of every page, and what is the same on all of them.

use crate::output::Failure;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{Html, IntoResponse, Response};
use pullcast::files::{Look, Problems, Severity};
use pullcast::report::chart::svg;
use pullcast::report::html::escaped;
use std::fmt::Write as _;

/// Problems that are told in sentences.
const MOST_TOLD: usize = 8;
/// Columns of a problem's picture of its line.
const WIDTH: usize = 90;

/// A page with a heading and a body that is markup.
pub(super) fn page(title: &str, body: &str) -> Html<String> {
    framed(title, NAV, body)
}

/// Where the pages of the shop lead.
const NAV: &str = "<nav aria-label=\"Pages\"><a href=\"/\">Cars</a><a href=\"/book\">Job book</a><a href=\"/tablet\">Tablet</a></nav>\n";

/// A page for somebody who is not let in: it leads nowhere.
pub(super) fn outside(title: &str, body: &str) -> Html<String> {
    framed(title, "", body)
}

fn framed(title: &str, nav: &str, body: &str) -> Html<String> {
    let title = escaped(title);
    Html(format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<title>{title} · pullcast</title>\n<link rel=\"icon\" href=\"/icon.svg\">\n\
         <link rel=\"stylesheet\" href=\"/style.css\">\n<script src=\"/page.js\" defer></script>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#main\">To the content</a>\n{nav}<main id=\"main\" tabindex=\"-1\">\n<h1>{title}</h1>\n{body}</main>\n</body>\n</html>\n"
    ))
}

/// A refusal as a page.
pub(super) fn refusal(status: StatusCode, why: &str) -> (StatusCode, Html<String>) {
    (
        status,
        outside(
            "Not here",
            &format!(
                "<p>{}</p>\n<p class=\"row\"><a class=\"button\" href=\"/\">To the cars</a></p>\n",
                escaped(why)
            ),
        ),
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
        Failure::Files(problems) => listed(problems),
        Failure::Usage(text) | Failure::Gate(text) => format!("<p>{}</p>", escaped(text)),
    };
    format!(
        "<section class=\"trouble\" role=\"alert\">\n<h2>That did not work</h2>\n{words}\n</section>\n"
    )
}

/// Problems of files in sentences; the lines of the files stand folded behind them.
fn listed(problems: &Problems) -> String {
    let errors = || {
        let all = problems.iter();
        all.filter(|problem| problem.severity == Severity::Error)
    };
    let told = errors().take(MOST_TOLD).map(|problem| {
        let expected = problem.expected.as_ref();
        let expected = expected.map_or_else(String::new, |text| format!(". Expected: {text}"));
        format!(
            "<li>{}</li>\n",
            escaped(&format!("{}{expected}", problem.message))
        )
    });
    let told: String = told.collect();
    let more = match errors().count().saturating_sub(MOST_TOLD) {
        0 => String::new(),
        more => format!("<p>and {more} more</p>\n"),
    };
    format!(
        "<ul>\n{told}</ul>\n{more}<details>\n<summary>Where it stands</summary>\n<pre tabindex=\"0\">{}</pre>\n</details>\n",
        escaped_lines(&problems.render(Look::Plain, WIDTH))
    )
}

/// Text of several lines, nothing in it markup.
fn escaped_lines(text: &str) -> String {
    text.lines().map(escaped).collect::<Vec<_>>().join("\n")
}

/// A row of links that look like buttons.
pub(super) fn links(links: &[(&str, String)]) -> String {
    let mut out = String::from("<p class=\"row\">");
    for (words, to) in links {
        let (to, words) = (escaped(to), escaped(words));
        let _ = write!(out, "<a class=\"button\" href=\"{to}\">{words}</a>");
    }
    out.push_str("</p>\n");
    out
}

/// A field with its label and what may stand in it.
pub(super) fn field(name: &str, label: &str, hint: &str, value: &str) -> String {
    format!(
        "<label>{}<small>{}</small><input name=\"{}\" value=\"{}\" autocomplete=\"off\" maxlength=\"120\"></label>\n",
        escaped(label),
        escaped(hint),
        escaped(name),
        escaped(value)
    )
}

/// A choice; each value with its words.
pub(super) fn choice(
    name: &str,
    label: &str,
    hint: &str,
    values: &[(String, String)],
    chosen: &str,
) -> String {
    let mut out = format!(
        "<label>{}<small>{}</small><select name=\"{}\">",
        escaped(label),
        escaped(hint),
        escaped(name)
    );
    for (value, words) in values {
        let _ = write!(
            out,
            "<option value=\"{}\"{}>{}</option>",
            escaped(value),
            if value == chosen { " selected" } else { "" },
            escaped(words)
        );
    }
    out.push_str("</select></label>\n");
    out
}

/// Fields that a form carries along unseen.
pub(super) fn carried<'f>(fields: impl IntoIterator<Item = (&'f str, &'f str)>) -> String {
    fields
        .into_iter()
        .fold(String::new(), |out, (name, value)| {
            out + &format!(
                "<input type=\"hidden\" name=\"{}\" value=\"{}\">\n",
                escaped(name),
                escaped(value)
            )
        })
}

/// Readings of the air in a room, by the keys of the files.
pub(super) const AIR: [&str; 3] = ["temperature", "relative_humidity", "station_pressure"];

/// Fields for the air of a day; values with their units, as in the files.
pub(super) fn air_fields<'v>(value: impl Fn(&str) -> &'v str, whose: &str) -> String {
    let told = [
        ("Temperature", "14 °C"),
        ("Humidity", "60 %"),
        ("Pressure, as a barometer in the room reads it", "985 hPa"),
    ];
    AIR.iter()
        .zip(told)
        .map(|(name, (label, example))| {
            field(
                name,
                label,
                &format!("{whose}, such as {example}"),
                value(name),
            )
        })
        .collect()
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

/// A small picture for the browser's tab; without one it asks for another that is not there.
pub(super) async fn icon() -> Response {
    let drawing = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 16 16\"><rect width=\"16\" height=\"16\" rx=\"3\" fill=\"#17427c\"/>\
                   <path d=\"M3 12C6 11 8 6 13 4\" stroke=\"#fff\" stroke-width=\"2\" fill=\"none\" stroke-linecap=\"round\"/></svg>";
    ([(CONTENT_TYPE, "image/svg+xml")], drawing).into_response()
}
