//! `book`: the shop's record of cars, visits and quotes, and of how they turned out.

use crate::args::{BookArgs, BookVerb, MisfitArgs, QuoteArgs};
use crate::load::shelf;
use crate::output::{Failure, Output};
use crate::quote::{Quoted, quoted};
use pullcast::ask::basis::{self, AirSource};
use pullcast::ask::record::{Record, Turned, against, log_score, pit};
use pullcast::files::book::{
    self, Book, BookError, Closing, Kept, KeptQuote, Paper, PaperKind, Stored, Tree,
};
use pullcast::files::inputs::kind_of;
use pullcast::files::schema::FileKind;
use pullcast::files::scratch::Scratch;
use pullcast::files::shelf::open_plan;
use pullcast::files::shop::ShopFile;
use pullcast::files::{self, Problems};
use pullcast::fit::own_jobs::ClosedJob;
use pullcast::report::book::{AgainReport, ClosedReport, ListReport, RecordReport};
use pullcast::report::quote::QuoteReport;
use pullcast::report::{Report, Stamped};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Differences that are named.
const MOST_NAMED: usize = 12;

impl From<BookError> for Failure {
    fn from(error: BookError) -> Self {
        Self::Gate(error.to_string())
    }
}

pub(crate) fn run(args: &BookArgs, out: Output<'_>) -> Result<(), Failure> {
    let path = &path_of(args.book.as_deref(), out);
    match &args.verb {
        BookVerb::List => list(path, out),
        BookVerb::Add { file, car } => add(path, file, car.as_deref(), out),
        BookVerb::Again { number } => again(path, number, out),
        BookVerb::Close { number, visit } => close(path, number, visit, out),
        BookVerb::Record => out.report(&RecordReport {
            record: record(&Book::look(path)?)?,
        }),
        BookVerb::Note { number, text } => {
            let mut book = Book::open(path)?;
            let number = book.number(number)?;
            book.note(&number, text, &now())?;
            out.note(&format!("noted on quote {number}"));
            Ok(())
        }
        BookVerb::Backup { to } => {
            Book::look(path)?.backup(to)?;
            out.note(&format!("copy written to {}", to.display()));
            Ok(())
        }
        BookVerb::Export { folder } => export(path, folder, out),
        BookVerb::Check => {
            Book::look(path)?.check()?;
            out.note(&format!(
                "{}: every page and every stored file is sound",
                path.display()
            ));
            Ok(())
        }
    }
}

/// The book named, or the one beside the profile, or the one in this folder.
pub(crate) fn path_of(named: Option<&Path>, out: Output<'_>) -> PathBuf {
    let beside = || out.shop.path.as_deref()?.parent();
    named.map_or_else(
        || beside().unwrap_or(Path::new("")).join(book::NAME),
        Path::to_owned,
    )
}

/// The time of the machine's clock, by UTC.
pub(crate) fn now() -> String {
    jiff::Timestamp::now()
        .round(jiff::Unit::Second)
        .map_or_else(|_| String::new(), |t| t.to_string())
}

fn list(path: &Path, out: Output<'_>) -> Result<(), Failure> {
    let book = Book::look(path)?;
    out.report(&ListReport {
        book: path.display().to_string(),
        cars: book.cars()?,
        quotes: book.lines()?,
    })
}

/// Of the jobs that are closed.
pub(crate) fn record(book: &Book) -> Result<Record, Failure> {
    let turned: Vec<Turned> = book
        .lines()?
        .into_iter()
        .filter_map(|line| {
            let outcome = line.outcome?;
            Some(Turned {
                changes: line.changes,
                read_w: outcome.read_w,
                promised_w: outcome.promised_w,
                range_w: (outcome.low_w, outcome.middle_w, outcome.high_w),
                pit: outcome.pit,
                log_score: outcome.log_score,
            })
        })
        .collect();
    Ok(Record::of(&turned))
}

fn add(path: &Path, file: &Path, car: Option<&str>, out: Output<'_>) -> Result<(), Failure> {
    let kind = match kind_of(file) {
        Some(FileKind::Car) => PaperKind::Car,
        Some(FileKind::Plan) => PaperKind::Plan,
        Some(FileKind::Visit) => PaperKind::Visit,
        Some(FileKind::Weather) => PaperKind::Weather,
        _ => {
            return Err(Failure::Usage(format!(
                "{} is no car, plan, visit or weather file",
                file.display()
            )));
        }
    };
    let mut paper = Paper::of(kind, file)?;
    let name = if kind == PaperKind::Car {
        let (read, _, problems) = files::shop::open_car(file, out.shop)?;
        out.problems(&problems);
        if read.sheet.is_fitted() {
            paper.kind = PaperKind::Fitted;
        }
        whole(&mut paper, read.text.text());
        read.sheet.centre.car.name.clone()
    } else {
        // What cannot be read is not kept.
        let read: Result<Problems, Problems> = match kind {
            PaperKind::Plan => open_plan(file, || shelf(out)).map(|(plan, problems)| {
                if let Some(from) = plan.from_shelf {
                    whole(&mut paper, &from.text);
                }
                problems
            }),
            PaperKind::Visit => files::visit::open(file).map(|(_, problems)| problems),
            _ => files::weather::open(file).map(|(_, problems)| problems),
        };
        out.problems(&read?);
        car.map(str::to_owned).ok_or_else(|| {
            Failure::Usage("say with --car whose it is: the name in its car file".to_owned())
        })?
    };
    let mut book = Book::open(path)?;
    if kind != PaperKind::Car && !book.cars()?.contains(&name) {
        return Err(BookError::NoCar {
            path: path.to_owned(),
            name,
        }
        .into());
    }
    let kept = book.add(&name, &paper, &now())?;
    out.note(&format!(
        "{} {} of '{name}'",
        match kept {
            Kept::New => "kept:",
            Kept::Already => "already in the book:",
        },
        file.display()
    ));
    Ok(())
}

/// A car file with what it took from the profile, or a plan with what it took from the shelf, so that it stands alone.
fn whole(paper: &mut Paper, text: &str) {
    if let Some((_, bytes)) = paper.files.first_mut() {
        *bytes = text.as_bytes().to_vec();
    }
}

/// How a quote was asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Options {
    standard: String,
    mechanical_efficiency: Option<f64>,
    /// As many as were asked for; none, and as many as the range needed were made.
    draws: Option<u32>,
    seed: u64,
    date: Option<String>,
    accept_misfit: bool,
    hoped_w: Option<f64>,
    visit_repeatability: Option<f64>,
    pull_repeatability: Option<f64>,
    /// The closed jobs it learned from; a quote made before there was such a thing has none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    own_jobs: Vec<ClosedJob>,
}

impl Options {
    fn of(args: &QuoteArgs, own_jobs: Vec<ClosedJob>, out: Output<'_>) -> Self {
        Self {
            own_jobs,
            standard: args.correction.standard(out).id().to_owned(),
            mechanical_efficiency: args.correction.mechanical_efficiency,
            draws: args.draws,
            seed: args.seed,
            date: args.date.clone(),
            accept_misfit: args.misfit.accept_misfit,
            hoped_w: args.sheet.hoped,
            visit_repeatability: out.shop.visit,
            pull_repeatability: out.shop.pull,
        }
    }

    /// The call that asks so, of files laid out somewhere.
    fn call(&self, tree: &Tree) -> Result<QuoteArgs, Failure> {
        let missing = || Failure::Gate("the stored quote lacks its car".to_owned());
        let of = |wanted: &[PaperKind]| {
            let found = tree.papers.iter().filter(|(kind, _)| wanted.contains(kind));
            found
                .map(|(_, moved)| moved.now.clone())
                .collect::<Vec<_>>()
        };
        let first = |wanted: &[PaperKind]| of(wanted).into_iter().next();
        Ok(QuoteArgs {
            car: first(&[PaperKind::Car, PaperKind::Fitted]).ok_or_else(missing)?,
            plan: first(&[PaperKind::Plan]),
            visits: of(&[PaperKind::Visit]),
            weather: first(&[PaperKind::Weather]),
            draws: self.draws,
            seed: self.seed,
            own_jobs: Some(self.own_jobs.clone()),
            date: self.date.clone(),
            misfit: MisfitArgs {
                accept_misfit: self.accept_misfit,
            },
            correction: crate::args::CorrectionArgs {
                standard: self.standard.parse().ok(),
                mechanical_efficiency: self.mechanical_efficiency,
            },
            sheet: crate::args::SheetArgs {
                hoped: self.hoped_w,
                ..Default::default()
            },
            ..Default::default()
        })
    }

    fn shop(&self) -> ShopFile {
        ShopFile {
            visit: self.visit_repeatability,
            pull: self.pull_repeatability,
            ..ShopFile::default()
        }
    }
}

/// Keeps a quote with everything it was made from.
pub(crate) fn keep(
    path: &Path,
    args: &QuoteArgs,
    made: &Quoted,
    out: Output<'_>,
) -> Result<(), Failure> {
    let mut car = Paper::of(
        if made.car_is_fitted {
            PaperKind::Fitted
        } else {
            PaperKind::Car
        },
        &args.car,
    )?;
    whole(&mut car, &made.car_text);
    let mut papers = vec![car];
    if let Some(plan) = &args.plan {
        let mut plan = Paper::of(PaperKind::Plan, plan)?;
        if let Some(text) = &made.plan_text {
            whole(&mut plan, text);
        }
        papers.push(plan);
    }
    for visit in &args.visits {
        papers.push(Paper::of(PaperKind::Visit, visit)?);
    }
    if let Some(weather) = &args.weather {
        papers.push(Paper::of(PaperKind::Weather, weather)?);
    }
    let report = &made.report;
    let answer = &report.report.answer;
    let json = |error: serde_json::Error| Failure::Gate(error.to_string());
    let options =
        serde_json::to_string(&Options::of(args, made.own_jobs.clone(), out)).map_err(json)?;
    let text = report.json().map_err(json)?;
    let number = &report.made_by.inputs;
    let kept = Book::open(path)?.keep(&KeptQuote {
        number,
        car: &answer.basis.car,
        plan: &answer.basis.plan,
        kinds: &answer.basis.changes,
        made: &now(),
        version: report.made_by.version,
        seed: args.seed,
        options: &options,
        report: &text,
        peak_w: peak_w(report),
        customer: args.sheet.customer.as_deref(),
        papers: &papers,
    })?;
    out.note(&match kept {
        Kept::New => format!("quote {number} kept in {}", path.display()),
        Kept::Already => format!("quote {number} is in {} already", path.display()),
    });
    Ok(())
}

/// Promised, low end, middle and high end.
fn peak_w(report: &Stamped<QuoteReport>) -> [f64; 4] {
    let promise = &report.report.answer.promise;
    let range = &promise.power_w;
    [promise.sure.power_w, range.p5, range.p50, range.p95]
}

/// A stored quote made again, in other air if some is given; the text of its answer names files as they were named then.
pub(crate) fn made_again(
    stored: &Stored,
    air: Option<basis::Air>,
    out: Output<'_>,
) -> Result<(Quoted, String), Failure> {
    let json = |error: serde_json::Error| {
        Failure::Gate(format!("the stored quote cannot be read: {error}"))
    };
    let options: Options = serde_json::from_str(&stored.options).map_err(json)?;
    let folder = scratch()?;
    let tree = Tree::lay(folder.path(), &stored.inputs)?;
    let args = options.call(&tree)?;
    let shop = options.shop();
    let made = quoted(&args, air, out.quiet(&shop))?;
    let mut text = made.report.json().map_err(json)?;
    for (_, moved) in &tree.papers {
        let parent = |path: &Path| {
            let parent = path.parent().map(|p| p.display().to_string());
            parent
                .filter(|p| !p.is_empty())
                .map_or_else(String::new, |p| p + "/")
        };
        text = text.replace(&moved.now.display().to_string(), &moved.given);
        text = text.replace(&parent(&moved.now), &parent(Path::new(&moved.given)));
    }
    Ok((made, text))
}

/// A folder for files that are laid out for a while.
pub(crate) fn scratch() -> Result<Scratch, Failure> {
    let stamp = jiff::Timestamp::now().as_nanosecond().to_string();
    Scratch::new(&stamp)
        .map_err(|error| Failure::Gate(format!("no folder for a while can be made: {error}")))
}

fn again(path: &Path, number: &str, out: Output<'_>) -> Result<(), Failure> {
    let book = Book::look(path)?;
    let stored = book.stored(&book.number(number)?)?;
    let (made, text) = made_again(&stored, None, out)?;
    let same = text == stored.report;
    let mut differences = Vec::new();
    if !same {
        let value = |text: &str| serde_json::from_str(text).unwrap_or(Value::Null);
        differ("", &value(&stored.report), &value(&text), &mut differences);
    }
    let more = differences.len().saturating_sub(MOST_NAMED);
    differences.truncate(MOST_NAMED);
    out.report(&AgainReport {
        number: stored.number.clone(),
        version_then: stored.version.clone(),
        version_now: made.report.made_by.version.to_owned(),
        same,
        differences,
        more,
    })?;
    if same {
        Ok(())
    } else {
        Err(Failure::Gate(format!(
            "quote {} does not come out as it was",
            stored.number
        )))
    }
}

/// Where two answers differ, field by field.
fn differ(field: &str, then: &Value, now: &Value, found: &mut Vec<(String, String, String)>) {
    match (then, now) {
        (Value::Object(a), Value::Object(b)) => {
            let keys = a.keys().chain(b.keys().filter(|key| !a.contains_key(*key)));
            for key in keys {
                let inner = if field.is_empty() {
                    key.clone()
                } else {
                    format!("{field}.{key}")
                };
                let (a, b) = (a.get(key), b.get(key));
                differ(
                    &inner,
                    a.unwrap_or(&Value::Null),
                    b.unwrap_or(&Value::Null),
                    found,
                );
            }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (place, (a, b)) in a.iter().zip(b).enumerate() {
                differ(&format!("{field}[{place}]"), a, b, found);
            }
        }
        (a, b) if a != b => {
            let short = |value: &Value| value.to_string().chars().take(60).collect();
            found.push((field.to_owned(), short(a), short(b)));
        }
        _ => {}
    }
}

fn close(path: &Path, number: &str, visit: &Path, out: Output<'_>) -> Result<(), Failure> {
    out.report(&closed(path, number, visit, out)?)
}

/// Closes a quote with the pulls after the work, and tells how it turned out.
pub(crate) fn closed(
    path: &Path,
    number: &str,
    visit: &Path,
    out: Output<'_>,
) -> Result<ClosedReport, Failure> {
    let mut book = Book::open(path)?;
    let stored = book.stored(&book.number(number)?)?;
    if stored.closed {
        return Err(BookError::Closed {
            path: path.to_owned(),
            number: stored.number,
        }
        .into());
    }
    let Turning {
        report,
        version,
        told,
    } = turned_out(&stored, visit, out)?;
    let (low, middle, high) = report.range_w;
    book.close(
        &report.number,
        &Closing {
            visit: &Paper::of(PaperKind::Visit, visit)?,
            closed: &now(),
            version,
            read_w: report.read_w,
            peak_w: [report.promised_w, low, middle, high],
            pit: report.pit,
            log_score: report.log_score,
            told,
        },
    )?;
    tell_the_rest(&mut book, out)?;
    Ok(report)
}

/// Takes in jobs that were closed before anything was learned from them. One that cannot be made again tells nothing.
fn tell_the_rest(book: &mut Book, out: Output<'_>) -> Result<(), Failure> {
    for number in book.untold()? {
        let stored = book.stored(&number)?;
        match turned(book, &stored, out) {
            Ok(Some(turning)) => book.tell(&number, &turning.told)?,
            Ok(None) => {}
            Err(_) => out.note(&format!(
                "nothing is learned from quote {number}: it cannot be made again"
            )),
        }
    }
    Ok(())
}

/// How a job turned out, by which version that was computed, and what it tells of the model.
struct Turning {
    report: ClosedReport,
    version: &'static str,
    told: ClosedJob,
}

/// How a quote that is closed turned out, from what the book holds; none while it is open.
pub(crate) fn outcome(
    book: &Book,
    stored: &Stored,
    out: Output<'_>,
) -> Result<Option<ClosedReport>, Failure> {
    Ok(turned(book, stored, out)?.map(|turning| turning.report))
}

fn turned(book: &Book, stored: &Stored, out: Output<'_>) -> Result<Option<Turning>, Failure> {
    let Some(paper) = book.closing(&stored.number)? else {
        return Ok(None);
    };
    let folder = scratch()?;
    let tree = Tree::lay(folder.path(), &[paper])?;
    let visit = tree.papers.first().map(|(_, moved)| moved.now.as_path());
    let visit = visit.ok_or_else(|| Failure::Gate("the closing visit is lost".to_owned()))?;
    Ok(Some(turned_out(stored, visit, out)?))
}

/// A stored quote, made again in the air of a visit, against what that visit read.
fn turned_out(stored: &Stored, visit: &Path, out: Output<'_>) -> Result<Turning, Failure> {
    let (read, problems) = files::visit::open(visit)?;
    out.problems(&problems);
    let pulls = read.visit.as_driven();
    let (Some(pull), Some(read_w)) = (pulls.first(), read.visit.read_w()) else {
        return Err(Failure::Gate(format!(
            "{} holds no reading",
            visit.display()
        )));
    };
    let air = basis::Air {
        day: pull.day,
        source: AirSource::Visit(read.visit.name.clone()),
    };
    let (made, _) = made_again(stored, Some(air), out)?;
    let answer = &made.report.report.answer;
    let (pit, log_score) = (
        pit(&answer.peaks_w, read_w),
        log_score(&answer.peaks_w, read_w),
    );
    let [promised_w, low, middle, high] = peak_w(&made.report);
    let report = ClosedReport {
        number: stored.number.clone(),
        read_w,
        promised_w,
        range_w: (low, middle, high),
        pit,
        log_score,
        curve: against(&answer.curve, &read.visit),
    };
    Ok(Turning {
        report,
        version: made.report.made_by.version,
        told: answer.faultless.closed(read_w),
    })
}

fn export(path: &Path, folder: &Path, out: Output<'_>) -> Result<(), Failure> {
    let left_out = Book::look(path)?.export(folder)?;
    out.note(&format!("written to {}", folder.display()));
    if left_out.is_empty() {
        return Ok(());
    }
    Err(Failure::Gate(format!("left out: {}", left_out.join("; "))))
}
