//! The form of a plan: a group of fields for each change, the pull after the work, and what else can be asked of it.

use super::draft::{Draft, Fields};
use super::frame::{air_fields, choice, field};
use pullcast::ask::quote::Dial;
use pullcast::parts::kinds;
use pullcast::parts::row::{Holds, LeftOut, Row};
use pullcast::report::html::escaped;
use std::fmt::Write as _;

pub(super) fn form(place: usize, draft: &Draft) -> String {
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
    let works: Vec<(String, String)> = kinds()
        .map(|kind| (kind.word.to_owned(), kind.word.to_owned()))
        .collect();
    let _ = writeln!(
        out,
        "<fieldset>\n<legend>One change more</legend>\n<div class=\"row\">{}<button name=\"do\" value=\"add\">Add it</button></div>\n</fieldset>\n\
         <fieldset>\n<legend>The pull after the work</legend>\n<div class=\"fields\">\n{}{}{}</div>\n<div class=\"row\">\
         <button formaction=\"/car/{place}/sheet\" formtarget=\"_blank\">Sheet to print</button>\
         <button formaction=\"/car/{place}/keep\">Keep in the job book</button>\
         <button formaction=\"/car/{place}/beside\">Set beside others</button></div>\n</fieldset>",
        choice("new", "Kind of work", "", &works, draft.text("new")),
        air_fields(|key| draft.text(key), "air of that day, if known"),
        field(
            "hoped",
            "Hoped for",
            "peak as read, such as 230 kW; may stay empty",
            draft.text("hoped")
        ),
        field(
            "customer",
            "For whom",
            "stands on the sheet",
            draft.text("customer")
        ),
    );
    more(&mut out, place, draft);
    out.push_str("</form>");
    out
}

/// Questions that go further than the range.
fn more(out: &mut String, place: usize, draft: &Draft) {
    let dials: Vec<(String, String)> = Dial::ALL
        .iter()
        .map(|dial| (dial.id().to_owned(), dial.words().to_owned()))
        .collect();
    let open = if draft.text("reach").is_empty() && draft.text("pulls").is_empty() {
        ""
    } else {
        " open"
    };
    let _ = writeln!(
        out,
        "<details{open}>\n<summary>What reaches a power, pulls in a row, the weather of a place</summary>\n<fieldset>\n<legend>What reaches it?</legend>\n\
         <div class=\"fields\">\n{}{}{}</div>\n<div class=\"row\"><button formaction=\"/car/{place}/reach\" data-into=\"more\">What does it \
         take?</button></div>\n</fieldset>\n<fieldset>\n<legend>Pulls in a row</legend>\n<div class=\"fields\">\n{}{}</div>\n<div class=\"row\">\
         <button formaction=\"/car/{place}/row\" data-into=\"more\">Pull after pull</button></div>\n</fieldset>\n<fieldset>\n<legend>The weather of a \
         place</legend>\n<div class=\"row\"><button formaction=\"/car/{place}/spread\">How far does it spread?</button></div>\n</fieldset>\n</details>",
        field(
            "reach",
            "Peak to be read",
            "such as 220 kW",
            draft.text("reach")
        ),
        choice(
            "by",
            "by changing the",
            "one number of the plan",
            &dials,
            draft.text("by")
        ),
        field(
            "chance",
            "with a chance of",
            "90 %, if left empty",
            draft.text("chance")
        ),
        field(
            "pulls",
            "How many",
            "2 to 100, such as 4",
            draft.text("pulls")
        ),
        field(
            "rest",
            "Rest between them",
            "2 min, if left empty",
            draft.text("rest")
        ),
    );
}

fn change(out: &mut String, number: usize, kind: &str, fields: &Fields) {
    let _ = writeln!(
        out,
        "<fieldset id=\"change{number}\">\n<legend>{0}</legend>\n<input type=\"hidden\" name=\"kind.{number}\" value=\"{0}\">\n<div class=\"fields\">",
        escaped(kind)
    );
    let rows = kinds().find(|k| k.word == kind).map_or(&[][..], |k| k.rows);
    let (must, may): (Vec<&Row>, Vec<&Row>) = rows
        .iter()
        .partition(|row| matches!(row.left_out, LeftOut::MustBeGiven));
    let value = |row: &Row| {
        let value = fields.iter().find(|(key, _)| key == row.key);
        value.map_or("", |(_, value)| value.as_str())
    };
    // What is asked first stands open; a change of which nothing must be given shows all.
    let (first, rest) = if must.is_empty() {
        (may, must)
    } else {
        (must, may)
    };
    for row in first {
        number_or_word(out, number, row, value(row));
    }
    out.push_str("</div>\n");
    if !rest.is_empty() {
        let open = rest.iter().any(|row| !value(row).is_empty());
        let _ = writeln!(
            out,
            "<details{}>\n<summary>More that may be said of it</summary>\n<div class=\"fields\">",
            if open { " open" } else { "" }
        );
        for row in rest {
            number_or_word(out, number, row, value(row));
        }
        out.push_str("</div>\n</details>\n");
    }
    let _ = writeln!(
        out,
        "<div class=\"row\"><button name=\"do\" value=\"drop.{number}\" aria-label=\"Take it out: {}\">Take it out</button></div>\n</fieldset>",
        escaped(kind)
    );
}

/// One number or word of a change; what is a table or a file is left to a plan file.
fn number_or_word(out: &mut String, number: usize, row: &Row, value: &str) {
    let name = format!("{number}.{}", row.key);
    let words: Vec<&str> = match row.holds {
        Holds::Word(words) => words(),
        Holds::Switch => vec!["true", "false"],
        Holds::Other(numbers) if numbers.starts_with(|c: char| c.is_ascii_digit()) => {
            let hint = format!("{numbers}; may stay empty");
            out.push_str(&field(&name, row.means(), &hint, value));
            return;
        }
        Holds::Table(_) | Holds::Other(_) => return,
        _ => Vec::new(),
    };
    let must = matches!(row.left_out, LeftOut::MustBeGiven);
    let symbol = row.measure().symbol;
    let (low, high) = match row.holds {
        Holds::Count(low, high) => (low as f64, high as f64),
        _ => row.range(),
    };
    let range = if low.is_finite() && high.is_finite() && words.is_empty() {
        format!("{low} to {high} {symbol}")
    } else {
        String::new()
    };
    let hint = format!(
        "{}{}",
        range.trim_end(),
        if must { "" } else { "; may stay empty" }
    );
    let hint = hint.trim_start_matches("; ");
    if words.is_empty() {
        out.push_str(&field(&name, row.means(), hint, value));
        return;
    }
    let mut values = Vec::new();
    if !must {
        values.push((String::new(), "as it is".to_owned()));
    }
    values.extend(words.iter().map(|word| {
        let shown = match *word {
            "true" => "yes",
            "false" => "no",
            word => word,
        };
        ((*word).to_owned(), shown.to_owned())
    }));
    out.push_str(&choice(&name, row.means(), hint, &values, value));
}
