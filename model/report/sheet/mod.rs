//! The sheet: one page to hand over the counter, and the engineer's side behind it.
//!
//! The customer's side is read first and kept: the range before the number, what it stands on, what could change it, how it will be checked, until when
//! it holds. The engineer's side is the quote in full. One file shows both, prints them on A4 or Letter paper, and asks for nothing from outside. It
//! refuses a price: this program knows none.

use super::chart::quote::glance;
use super::chart::svg::{self, escaped};
use super::kind::kind_words;
use super::number::{Units, What};
use super::quote::QuoteReport;
use super::stamp::Stamp;
use super::{Report, cautions, html, limits, own_jobs};
use crate::ask::basis::AirSource;
use crate::ask::quote::DriverOrigin;

/// What stands on a sheet beside the quote.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Letter {
    /// The shop: its name, then further lines.
    pub shop: Vec<String>,
    /// For whom it is.
    pub customer: Option<String>,
    /// Last day on which it holds, as YYYY-MM-DD.
    pub valid_until: Option<String>,
    /// What the shop wants minded besides what the program says.
    pub cautions: Vec<String>,
}

/// Cautions of the program's on the customer's side.
const CAUTIONS: usize = 4;

/// The whole file.
pub fn sheet(quote: &QuoteReport, made_by: &Stamp, letter: &Letter, units: Units) -> String {
    let mut out = String::new();
    let title = format!("Quote {}: {}", made_by.inputs, quote.answer.basis.car);
    html::head(
        &mut out,
        &title,
        &format!("{}{}", include_str!("sheet.css"), svg::STYLE),
    );
    out.push_str("<body>\n<main class=\"side customer\">\n");
    letterhead(&mut out, quote, made_by, letter);
    promise(&mut out, quote, units);
    figures(&mut out, quote, units);
    out.push_str("<div class=\"columns\">\n<div>\n");
    work(&mut out, quote);
    basis(&mut out, quote, units);
    limits_met(&mut out, quote);
    out.push_str("</div>\n<div>\n");
    doubts(&mut out, quote);
    mind(&mut out, quote, letter, units);
    out.push_str("</div>\n</div>\n");
    checked(&mut out, quote, made_by, letter, units);
    out.push_str(
        "</main>\n<section class=\"side engineer\">\n<p class=\"over\">Engineer's side</p>\n",
    );
    html::unfolded(&mut out, &quote.document(units));
    if let Some(fit) = &quote.fit {
        html::unfolded(&mut out, &fit.document(units));
    }
    add!(
        out,
        "<footer>{}</footer>\n</section>\n</body>\n</html>\n",
        escaped(&made_by.line())
    );
    out
}

fn letterhead(out: &mut String, quote: &QuoteReport, made_by: &Stamp, letter: &Letter) {
    let basis = &quote.answer.basis;
    out.push_str("<header>\n<div class=\"shop\">\n");
    for (place, line) in letter.shop.iter().enumerate() {
        let class = if place == 0 { " class=\"firm\"" } else { "" };
        add!(out, "<p{class}>{}</p>\n", escaped(line));
    }
    out.push_str("</div>\n<dl>\n");
    let mut fact = |name: &str, value: &str| {
        add!(
            out,
            "<div><dt>{name}</dt><dd>{}</dd></div>\n",
            escaped(value)
        );
    };
    fact("Quote", &made_by.inputs);
    if let Some(date) = &made_by.date {
        fact("Date", date);
    }
    if let Some(until) = &letter.valid_until {
        fact("Holds until", until);
    }
    if let Some(customer) = &letter.customer {
        fact("For", customer);
    }
    add!(
        out,
        "</dl>\n</header>\n<h1>{}, with {}</h1>\n",
        escaped(&basis.car),
        escaped(&basis.plan)
    );
}

/// The range first, then what may be counted on.
fn promise(out: &mut String, quote: &QuoteReport, units: Units) {
    let promise = &quote.answer.promise;
    let (range, _) = units.range_and_middle(What::Power, &promise.power_w);
    add!(
        out,
        "<div class=\"range\">\n<p class=\"number\">{}</p>\n<p>peak power on our drums after the work, as read and uncorrected: nine pulls in ten \
         read in this range. Count on <strong>{}</strong>: {:.0} pulls in 10 reach it.</p>\n</div>\n",
        escaped(&range),
        escaped(&units.show(What::Power, promise.sure.power_w)),
        10.0 * promise.sure.chance
    );
    if let Some(hoped) = quote.hoped(units) {
        add!(out, "<p class=\"hoped\">{}</p>\n", escaped(&hoped));
    }
    if quote
        .fit
        .as_ref()
        .is_some_and(|fit| !fit.answer.misfits.is_empty())
    {
        out.push_str(
            "<p class=\"hoped\">The pulls contradict the car file: this is not to be promised.</p>\n",
        );
    }
}

fn figures(out: &mut String, quote: &QuoteReport, units: Units) {
    out.push_str("<div class=\"picture\">\n<div>\n");
    html::table(out, &super::quote::figures(&quote.answer, units));
    add!(
        out,
        "<p class=\"small\">{}</p>\n</div>\n<div>\n{}<p class=\"small\">Line: the middle. Ribbons: half of all pulls, and nine in ten.</p>\n\
         </div>\n</div>\n",
        escaped(&quote.answer.correction_after.brief()),
        glance(quote, units).svg(svg::NARROW)
    );
}

fn work(out: &mut String, quote: &QuoteReport) {
    let changes = &quote.answer.basis.changes;
    let words: Vec<&str> = changes.iter().map(|id| kind_words(id)).collect();
    list(
        out,
        "The work",
        words.iter().map(|words| (*words).to_owned()),
    );
}

fn basis(out: &mut String, quote: &QuoteReport, units: Units) {
    let basis = &quote.answer.basis;
    let mut points = Vec::new();
    points.push(match (&quote.fit, basis.fitted) {
        (Some(fit), _) => format!(
            "The car was measured first: {} pull{} on these drums.",
            fit.answer.pulls.len(),
            if fit.answer.pulls.len() == 1 { "" } else { "s" }
        ),
        (None, true) => "The car was measured on these drums before.".to_owned(),
        (None, false) => {
            "The car was not measured: the range is wider than it would be after pulls of the car as it is."
                .to_owned()
        }
    });
    if let Some(read) = basis.read_before_w {
        points.push(format!(
            "It read {} before the work, uncorrected.",
            units.show(What::Power, read)
        ));
    }
    let air = &basis.weather_after;
    points.push(format!(
        "Air taken for the pull after the work: {} absolute, {}, {} humidity{}.",
        units.show(What::Pressure, air.station_pressure_pa),
        units.show(What::Temperature, air.temperature_k),
        units.show(What::Percent, air.relative_humidity),
        if air.source == AirSource::Reference {
            ", as nobody stated any"
        } else {
            ""
        }
    ));
    points.push(format!(
        "These drums repeat within {} from one visit to the next (one standard deviation).",
        units.show(What::Percent, basis.visit_repeatability)
    ));
    if let Some(found) = &quote.answer.own_jobs {
        points.push(format!(
            "What was read after earlier work is counted in: {}.",
            own_jobs::words(found)
        ));
    }
    list(out, "What it stands on", points);
}

/// Where the doubt comes from, most first, in the customer's words: the numbers stand on the engineer's side, and shares by correlation need not add
/// up to a whole.
fn doubts(out: &mut String, quote: &QuoteReport) {
    let shares = |of: fn(DriverOrigin) -> bool| -> f64 {
        let drivers = quote.answer.drivers.iter();
        drivers.filter(|d| of(d.origin)).map(|d| d.share).sum()
    };
    let named = [
        (
            shares(|origin| origin == DriverOrigin::Model),
            "how well the calculation foresees what this kind of work does",
        ),
        (
            shares(|origin| origin == DriverOrigin::Plan),
            "what is not exactly known of the new parts",
        ),
        (
            shares(|origin| !matches!(origin, DriverOrigin::Model | DriverOrigin::Plan)),
            "what is not exactly known of this car; more pulls before the work would tell",
        ),
    ];
    let mut points: Vec<(f64, String)> = named
        .into_iter()
        .filter(|(share, _)| *share > 0.0)
        .map(|(share, words)| (share, words.to_owned()))
        .collect();
    points.sort_by(|a, b| b.0.total_cmp(&a.0));
    let points = points.into_iter().map(|(_, words)| words);
    let air = "other air on the day, or parts other than those named".to_owned();
    list(out, "What could change it", points.chain([air]));
}

fn limits_met(out: &mut String, quote: &QuoteReport) {
    let answer = &quote.answer;
    let brief = limits::brief(&answer.limits, &answer.promise.capped_by);
    let brief = brief.strip_prefix("Limits met: ").unwrap_or(&brief);
    add!(
        out,
        "<h2>Limits it runs into</h2>\n<p>{}</p>\n",
        escaped(brief)
    );
}

fn mind(out: &mut String, quote: &QuoteReport, letter: &Letter, units: Units) {
    let own = letter.cautions.iter().cloned();
    let told = cautions::most(&quote.answer.cautions, CAUTIONS, units);
    list(out, "To mind", own.chain(told));
}

fn checked(out: &mut String, quote: &QuoteReport, made_by: &Stamp, letter: &Letter, units: Units) {
    let (range, _) = units.range_and_middle(What::Power, &quote.answer.promise.power_w);
    let holds = match &letter.valid_until {
        Some(until) => {
            format!("It holds until {until}, for the car as it stood and the work named.")
        }
        None => "It holds for the car as it stood and the work named.".to_owned(),
    };
    add!(
        out,
        "<div class=\"checked\">\n<h2>How it will be checked</h2>\n<p>The car is pulled on the same drums after the work, at running temperature, and \
         read uncorrected. In the air named here a reading from {} bears the quote out; in other air the range is computed again for that air, \
         from the same numbers, before the pull. {} It is an estimate, not a warranty.</p>\n\
         <div class=\"sign\"><p>For the shop</p><p>Customer</p></div>\n</div>\n<footer>{}</footer>\n",
        escaped(&range),
        escaped(&holds),
        escaped(&made_by.line())
    );
}

fn list(out: &mut String, head: &str, items: impl IntoIterator<Item = String>) {
    add!(out, "<h2>{head}</h2>\n<ul>\n");
    for item in items {
        add!(out, "<li>{}</li>\n", escaped(&item));
    }
    out.push_str("</ul>\n");
}
