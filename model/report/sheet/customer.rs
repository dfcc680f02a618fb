//! The customer's side before it is drawn: what stands on it, in the words and the order in which it is read.
//!
//! The page and the document on paper are drawn from this one value, so neither can say what the other does not.

use super::Letter;
use crate::ask::basis::AirSource;
use crate::ask::quote::DriverOrigin;
use crate::report::chart::Chart;
use crate::report::chart::quote::glance;
use crate::report::kind::kind_words;
use crate::report::number::{Units, What};
use crate::report::quote::torque_at_start;
use crate::report::quote::{QuoteReport, figures};
use crate::report::stamp::Stamp;
use crate::report::table::TextTable;
use crate::report::{cautions, limits, own_jobs};

/// Cautions of the program's on the customer's side: those that this build calls for.
const CAUTIONS: usize = 4;
/// Letters of the shop's own cautions on the customer's side: what stands there is read, and the side stays one side. The rest stands behind it.
const OWN_LETTERS: usize = 900;

/// The side.
pub(super) struct Customer {
    /// The shop: its name, then further lines.
    pub(super) shop: Vec<String>,
    /// Number, date, until when it holds, for whom.
    pub(super) facts: Vec<(&'static str, String)>,
    /// Car and work.
    pub(super) title: String,
    /// The range to promise, and what it means: before what may be counted on, that, and behind it.
    pub(super) range: String,
    pub(super) meaning: [String; 3],
    /// What stands below the range.
    pub(super) remarks: Vec<String>,
    pub(super) figures: TextTable,
    /// The correction of the figures.
    pub(super) correction: String,
    pub(super) chart: Chart,
    pub(super) columns: [Vec<Part>; 2],
    /// How it will be checked.
    pub(super) check: Part,
    /// The shop's own cautions, for the engineer's side; none where all of them stand on this one.
    pub(super) own_cautions: Vec<String>,
    /// Made by what, from what.
    pub(super) foot: String,
}

/// How the chart is read.
pub(super) const CHART_NOTE: &str =
    "Line: the middle. Dark ribbon: half of all pulls; light ribbon: the range.";
/// Who signs.
pub(super) const SIGN: [&str; 2] = ["For the shop", "Customer"];

/// Some words under a heading.
pub(super) struct Part {
    pub(super) head: &'static str,
    pub(super) words: Words,
}

/// Points, or one paragraph.
pub(super) enum Words {
    Points(Vec<String>),
    Running(String),
}

impl Part {
    fn points(head: &'static str, points: impl IntoIterator<Item = String>) -> Self {
        Self {
            head,
            words: Words::Points(points.into_iter().collect()),
        }
    }
}

impl Customer {
    /// All of the shop's cautions, for the engineer's side.
    pub(super) fn all_cautions(&self) -> Part {
        Part::points(
            "To mind, as this shop asks",
            self.own_cautions.iter().cloned(),
        )
    }

    pub(super) fn of(quote: &QuoteReport, made_by: &Stamp, letter: &Letter, units: Units) -> Self {
        let answer = &quote.answer;
        let promise = &answer.promise;
        let (range, _) = units.range_and_middle(What::Power, &promise.power_w);
        let work = answer
            .basis
            .changes
            .iter()
            .map(|id| kind_words(id).to_owned());
        let told = cautions::most(&answer.cautions, CAUTIONS, units);
        let (own, overleaf) = own_cautions(letter);
        let brief = limits::brief(&answer.limits, &promise.capped_by);
        let brief = brief.strip_prefix("Limits met: ").unwrap_or(&brief);
        Self {
            shop: letter.shop.clone(),
            facts: facts(made_by, letter),
            title: format!("{}, with {}", answer.basis.car, answer.basis.plan),
            check: check(&range, letter),
            range,
            meaning: [
                "peak power on our drums after the work, as read and uncorrected: 1 pull in 20 reads below this range, 1 in 20 above it. Count on "
                    .to_owned(),
                units.show(What::Power, promise.sure.power_w),
                format!(": 1 pull in {:.0} reads less.", 1.0 / (1.0 - promise.sure.chance)),
            ],
            remarks: remarks(quote, units),
            figures: figures(answer, units),
            correction: answer.correction_after.brief(),
            chart: glance(quote, units),
            columns: [
                vec![
                    Part::points("The work", work),
                    Part::points("What it stands on", basis(quote, units)),
                    Part {
                        head: "Limits it runs into",
                        words: Words::Running(brief.to_owned()),
                    },
                ],
                vec![
                    Part::points("What could change it", doubts(quote)),
                    Part::points("To mind", told.into_iter().chain(own)),
                ],
            ],
            own_cautions: overleaf,
            foot: made_by.line(),
        }
    }
}

/// The shop's cautions on the customer's side, in their order as far as there is room, and all of them for the other side where there is not.
fn own_cautions(letter: &Letter) -> (Vec<String>, Vec<String>) {
    let mut room = OWN_LETTERS;
    let fits = |caution: &&String| {
        let letters = caution.chars().count();
        let fits = letters <= room;
        room = room.saturating_sub(letters);
        fits
    };
    let mut shown: Vec<String> = letter.cautions.iter().take_while(fits).cloned().collect();
    let left = letter.cautions.len() - shown.len();
    if left == 0 {
        return (shown, Vec::new());
    }
    shown.push(format!("{left} more of this shop, on the engineer's side."));
    (shown, letter.cautions.clone())
}

fn facts(made_by: &Stamp, letter: &Letter) -> Vec<(&'static str, String)> {
    let all = [
        ("Quote", Some(&made_by.inputs)),
        ("Date", made_by.date.as_ref()),
        ("Holds until", letter.valid_until.as_ref()),
        ("For", letter.customer.as_ref()),
    ];
    all.into_iter()
        .filter_map(|(name, value)| Some((name, value?.clone())))
        .collect()
}

fn remarks(quote: &QuoteReport, units: Units) -> Vec<String> {
    let misfits = quote
        .fit
        .as_ref()
        .is_some_and(|fit| !fit.answer.misfits.is_empty());
    let contradicted = misfits
        .then(|| "The pulls contradict the car file: this is not to be promised.".to_owned());
    let start = torque_at_start(&quote.answer, units);
    let remarks = [quote.hoped(units), contradicted, start];
    remarks.into_iter().flatten().collect()
}

fn basis(quote: &QuoteReport, units: Units) -> Vec<String> {
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
    points
}

/// Where the doubt comes from, most first, in the customer's words: the numbers stand on the engineer's side, and shares by correlation need not add
/// up to a whole.
fn doubts(quote: &QuoteReport) -> Vec<String> {
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
    points.chain([air]).collect()
}

fn check(range: &str, letter: &Letter) -> Part {
    let holds = match &letter.valid_until {
        Some(until) => {
            format!("It holds until {until}, for the car as it stood and the work named.")
        }
        None => "It holds for the car as it stood and the work named.".to_owned(),
    };
    Part {
        head: "How it will be checked",
        words: Words::Running(format!(
            "The car is pulled on the same drums after the work, at running temperature, and read uncorrected. In the air named here a reading from {range} \
             bears the quote out; in other air the range is computed again for that air, from the same numbers, before the pull. {holds} It is an estimate, \
             not a warranty."
        )),
    }
}
