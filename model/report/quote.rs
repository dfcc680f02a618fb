//! The quote: the range to promise, what it stands on, what widens it, and what it leaves out.
//!
//! It is written to be read to a customer: the number to promise first, its range next, then what this build calls for; what stands behind it
//! are details. It refuses to give a middle without its range.

use super::chart;
use super::document::Document;
use super::fit::{self, FitReport};
use super::kind::kind_words;
use super::limits::{self, listed};
use super::number::{Span, Units, What, chance_counted};
use super::strokes::Row;
use super::table::TextTable;
use super::{Level, Report, cautions, interactions, own_jobs, promise};
use crate::ask::quote::{Answer, Basis, Driver, DriverOrigin, Log, Peaks, ReadOn};
use crate::belief::{Mechanism, parameter};
use crate::files::Code;
use serde::Serialize;

/// A quote as reported.
#[derive(Debug, Clone, Serialize)]
pub struct QuoteReport {
    /// What was answered.
    #[serde(flatten)]
    pub answer: Answer,
    /// The fit made for it, if one was.
    pub fit: Option<FitReport>,
    /// What was odd in the files that the range rests on.
    pub warnings: Vec<Warning>,
}

/// Something odd in a file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Warning {
    /// Stable code.
    pub code: Code,
    /// The file.
    pub file: String,
    /// What is odd.
    pub message: String,
    /// What would agree, where something would.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<String>,
}

/// Drivers that are told; the rest is for programs.
const MOST_DRIVERS: usize = 8;

impl Report for QuoteReport {
    const SCHEMA: &'static str = "pullcast/quote/4";

    fn document(&self, units: Units) -> Document {
        let answer = &self.answer;
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(promise::headline(answer, units))
            .paragraph(format!(
                "Car: {}{}. If the inputs are right, 1 pull in 20 reads below each range, 1 in 20 above.",
                answer.basis.car,
                work(answer)
            ));
        if let Some(fit) = &self.fit {
            contradicted(&mut document, fit, units);
        }
        promise::built_on(&mut document, &self.warnings);
        if let Some(warning) = promise::below_today(answer, units) {
            document.at(Level::Answer).labelled("!!  ", &warning, 4);
        }
        extrapolated(&mut document, answer, units);
        document.at(Level::Answer).table(figures(answer, units));
        if let Some(hoped) = self.hoped(units) {
            document.at(Level::Answer).paragraph(hoped);
        }
        corrected(&mut document, answer);
        if let Some(found) = &answer.own_jobs {
            own_jobs::add(&mut document, found, units);
        }
        for chart in chart::quote::charts(self, units) {
            document.at(Level::Answer).chart(chart);
        }
        document
            .at(Level::Brief)
            .paragraph(limits::brief(&answer.limits, &answer.promise.capped_by));
        if let Some(next) = next(answer) {
            document.at(Level::Brief).paragraph(next);
        }
        cautions::add(&mut document, &answer.cautions, units);
        self.details(&mut document, units);
        document
    }
}

/// That the pulls contradict the car file, where somebody went on all the same.
pub(super) fn contradicted(document: &mut Document, fit: &FitReport, units: Units) {
    if fit.answer.misfits.is_empty() {
        return;
    }
    document.at(Level::Brief).labelled(
        "!!  ",
        "The pulls contradict the car file: do not promise this.",
        4,
    );
    for block in fit::misfits(&fit.answer, units).blocks {
        document.push(Level::Detail, block.content);
    }
}

/// The work, after the car's name.
fn work(answer: &Answer) -> String {
    if answer.basis.changes.is_empty() {
        " as it stands".to_owned()
    } else {
        format!(", with {}", answer.basis.plan)
    }
}

/// A figure of a peak.
type PeakOf = fn(&Peaks) -> &Span;

/// What to expect, the range, and what stands before the work.
pub(super) fn figures(answer: &Answer, units: Units) -> TextTable {
    let (before, after, expected) = (&answer.before, &answer.after, &answer.expected);
    let mut table = TextTable::new("lrrr");
    table.head(["", "expect", "range", "before"]);
    let middle = |what, span: &Span| units.show(what, span.p50);
    let mut both = |name: &str, what, of: PeakOf| {
        let (range, expect) = units.range_and_middle(what, of(after));
        table.row([name.to_owned(), expect, range, middle(what, of(before))]);
    };
    both("peak power, uncorrected", What::Power, |p| &p.power_w);
    both("peak power, corrected", What::Power, |p| {
        &p.corrected_power_w
    });
    if electric(answer) {
        both("electric share (uncorrected)", What::Power, |p| {
            &p.electric_power_w
        });
    }
    both(torque(answer), What::Torque, |p| &p.torque_nm);
    if !answer.basis.changes.is_empty() {
        let (gain, likely) = units.range_and_middle_of_change(What::Power, &answer.promise.gain_w);
        // Where the baseline was pulled in other air, the columns beside would not add up.
        let same_day = middle(What::Power, &answer.same_day_w);
        let from = if same_day == middle(What::Power, &before.power_w) {
            String::new()
        } else {
            format!("from {same_day}")
        };
        table.row(["gain on the same day", &likely, &gain, &from]);
    }
    let mut alone = |name: &str, what, span: &Span| {
        let (range, expect) = units.range_and_middle(what, span);
        table.row([name.to_owned(), expect, range, String::new()]);
    };
    if expected.boost_pa.p50 > 0.0 {
        alone("boost at the peak", What::Pressure, &expected.boost_pa);
    }
    alone(
        "intake air (IAT) there",
        What::Temperature,
        &expected.charge_k,
    );
    if let Some(duty) = &expected.injector_duty {
        alone("injector duty there", What::Percent, duty);
    }
    table
}

/// Whether an electric axle has a part in the reading.
fn electric(answer: &Answer) -> bool {
    answer.after.electric_power_w.p95 > 0.0
}

/// The correction by its name, and what stands against it.
fn corrected(document: &mut Document, answer: &Answer) {
    let correction = &answer.correction_after;
    document.at(Level::Brief).paragraph(correction.brief());
}

/// Name of the peak torque.
fn torque(answer: &Answer) -> &'static str {
    if answer.torque_peaks_at_start_rpm.is_some() {
        "peak torque, at the start"
    } else {
        "peak torque, uncorrected"
    }
}

/// What a torque that is highest where the pull begins is worth.
pub(super) fn torque_at_start(answer: &Answer, units: Units) -> Option<String> {
    let rpm = answer.torque_peaks_at_start_rpm?;
    let what = if electric(answer) {
        "full load and the electric axle are still coming in"
    } else {
        "full load is still coming in"
    };
    Some(format!(
        "Torque is highest where the pull begins, at {}: {what} there, and drums may read less.",
        units.show(What::Rpm, rpm)
    ))
}

/// Peaks before and after in full, and the correction they are stated in.
fn peaks(document: &mut Document, answer: &Answer, units: Units) {
    let (before, after) = (&answer.before, &answer.after);
    let mut table = TextTable::new("l");
    table.head(["", "before", "after"]);
    let mut rows: Vec<(_, _, PeakOf)> = vec![
        ("peak power, uncorrected", What::Power, |p| &p.power_w),
        ("peak power, corrected", What::Power, |p| {
            &p.corrected_power_w
        }),
        (torque(answer), What::Torque, |p| &p.torque_nm),
        ("peak power at", What::PeakRpm, |p| &p.rpm),
        ("at the crank: power", What::Power, |p| &p.crank_power_w),
        ("at the crank: torque", What::Torque, |p| &p.crank_torque_nm),
    ];
    if electric(answer) {
        rows.push(("electric share (uncorrected)", What::Power, |p| {
            &p.electric_power_w
        }));
    }
    for (name, what, of) in rows {
        table.row([
            name.to_owned(),
            units.range(what, of(before)),
            units.range(what, of(after)),
        ]);
    }
    let correction = &answer.correction_after;
    let mut part = document.at(Level::Detail);
    part.space()
        .section("Before and after, as ranges")
        .table(table)
        .space()
        .line(format!("Corrected by {}", correction.line(units)));
    if (answer.correction_before.factor - correction.factor).abs() > 5e-5 {
        part.line(format!(
            "  On the day of the baseline pulls the factor was {:.4}.",
            answer.correction_before.factor
        ));
    }
    part.list(correction.breach_points(units));
    if let Some(start) = torque_at_start(answer, units) {
        part.line(format!("  {start}"));
    }
    if electric(answer) && correction.changes_power() {
        part.line(format!(
            "  The electric share is left as read; the factor would have changed it by {}.",
            units.show_change(What::Power, after.electric_not_added_w)
        ));
    }
}

fn gains(document: &mut Document, answer: &Answer, units: Units) {
    let share = |span| units.range_of_change(What::Percent, span);
    let against = if answer.basis.read_before_w.is_some() {
        "the baseline reading"
    } else {
        "a baseline pull"
    };
    let mut table = TextTable::new("l");
    table.row([
        "power gain, same car and day".to_owned(),
        units.range_of_change(What::Power, &answer.gain_w),
    ]);
    table.row([String::new(), share(&answer.gain)]);
    table.row([
        "torque gain, same car and day".to_owned(),
        units.range_of_change(What::Torque, &answer.gain_nm),
    ]);
    let up_to = answer.shown_up_to_rpm.map_or_else(String::new, |rpm| {
        format!(", up to {}", units.show(What::PeakRpm, rpm))
    });
    table.row([
        format!("gain the drums will show over {against}{up_to}"),
        share(&answer.shown_gain),
    ]);
    document.at(Level::Detail).space().table(table);
}

/// Every other engine speed: twice as many rows would show no more.
fn rows(answer: &Answer) -> Vec<Row> {
    let points = answer.curve.iter().step_by(2);
    points
        .map(|point| Row {
            rpm: point.rpm,
            before: point.before_w.map(|fan| fan.range),
            after: point.after_w.range,
        })
        .collect()
}

impl QuoteReport {
    /// What somebody hopes for, and the chance to miss it.
    pub(super) fn hoped(&self, units: Units) -> Option<String> {
        let hoped = self.answer.hoped.as_ref()?;
        Some(format!(
            "Hoped for: {}, uncorrected. The chance to miss it is {}.",
            units.show(What::Power, hoped.power_w),
            chance_counted(hoped.missed, hoped.missed_error)
        ))
    }

    /// What stands behind the answer.
    fn details(&self, document: &mut Document, units: Units) {
        let answer = &self.answer;
        peaks(document, answer, units);
        gains(document, answer, units);
        if let Some(found) = &answer.interactions {
            document.at(Level::Detail).space();
            document.append(interactions::document(found, units));
        }
        document
            .at(Level::Detail)
            .space()
            .section("Power on the drums, uncorrected")
            .strokes(rows(answer), units)
            .space()
            .section("Basis")
            .list(self.basis_points(units));
        drivers(document, answer, units);
        logs(document, answer);
        let mut part = document.at(Level::Detail);
        part.space();
        if answer.limits.is_empty() {
            part.line("No limit is met after the work.");
        } else {
            if !answer.promise.capped_by.is_empty() {
                part.line(format!(
                    "The peak is capped: {}.",
                    listed(&answer.promise.capped_by)
                ));
            }
            part.section("Limits met after the work")
                .list(answer.limits.iter().map(|limit| limit.point(units)));
        }
        part.space()
            .section("Not included")
            .list(answer.not_included.iter().map(|what| what.words()));
    }
}

fn drivers(document: &mut Document, answer: &Answer, units: Units) {
    if answer.drivers.is_empty() {
        return;
    }
    let told = answer.drivers.iter().take(MOST_DRIVERS);
    document
        .at(Level::Detail)
        .space()
        .section("What widens the range of the gain; measuring it would narrow the range")
        .list(told.map(|driver| units.constants(&driver_point(driver))));
}

/// What each log would take off the range.
fn logs(document: &mut Document, answer: &Answer) {
    if answer.next.is_empty() {
        return;
    }
    let told = answer.next.iter().map(|line| {
        format!(
            "{}: narrower by {:.0} %",
            log(line.log),
            100.0 * line.narrows
        )
    });
    document
        .at(Level::Detail)
        .space()
        .section("What a log of the car before the work would take off the range of the gain")
        .list(told);
}

/// What the number of a driver means.
fn driver_meaning(driver: &Driver) -> String {
    let name = driver.number;
    match (driver.origin, driver.change) {
        (DriverOrigin::Model, _) => format!(
            "how far the model may misjudge: {}",
            of_model(name).unwrap_or(name)
        ),
        (_, Some(change)) => format!("{} of the {}", name.replace('_', " "), kind_words(change)),
        (_, None) => parameter::find(name).map_or(name, |e| e.meaning).to_owned(),
    }
}

fn driver_point(driver: &Driver) -> String {
    let name = driver.number;
    let number = match (driver.origin, driver.change) {
        (DriverOrigin::Model, _) | (_, None) => name.to_owned(),
        (_, Some(change)) => format!("{}, {name}", kind_words(change)),
    };
    let meaning = driver_meaning(driver);
    let basis = parameter::find(name)
        .filter(|_| driver.origin == DriverOrigin::Default)
        .map_or_else(String::new, |e| format!(" ({})", e.basis));
    let direction = if driver.raises {
        "more of it, more gain"
    } else {
        "more of it, less gain"
    };
    format!(
        "{:.0} %  {meaning} [{number}], {}{basis}; {direction}",
        100.0 * driver.share,
        origin(driver.origin)
    )
}

/// A mechanism by the id under which it widens a range.
pub(super) fn of_model(id: &str) -> Option<&'static str> {
    let mut all = Mechanism::ALL.into_iter();
    all.find(|m| m.id() == id).map(mechanism)
}

/// Whose number it is, as it stands behind the number.
pub(super) const fn origin(origin: DriverOrigin) -> &'static str {
    match origin {
        DriverOrigin::Given => "as given in the car file",
        DriverOrigin::Default => "a default",
        DriverOrigin::Fitted => "fitted to the pulls",
        DriverOrigin::Plan => "from the plan",
        DriverOrigin::Model => "no baseline measurement narrows this",
    }
}

impl QuoteReport {
    fn basis_points(&self, units: Units) -> Vec<String> {
        let basis = &self.answer.basis;
        let odd = |w: &Warning| format!("!! {}: {}", w.file, w.message);
        let mut points: Vec<String> = self.warnings.iter().map(odd).collect();
        points.push(match (&self.fit, basis.fitted) {
            (Some(fit), _) => format!(
                "the car calibrated on {} measured pull{}",
                fit.answer.pulls.len(),
                if fit.answer.pulls.len() == 1 { "" } else { "s" }
            ),
            (None, true) => "a fitted car file".to_owned(),
            (None, false) => {
                "a car file without measured pulls; calibrate it on a visit to narrow the range"
                    .to_owned()
            }
        });
        points.extend(self.fit.iter().flat_map(|fit| {
            let on_trust = super::guard::on_trust(&fit.recordings);
            let remarks = fit::remarks(&fit.answer, units);
            remarks.into_iter().chain(on_trust.map(str::to_owned))
        }));
        points.extend(read_before(basis, units));
        for (side, air) in [
            ("before", &basis.weather_before),
            ("after", &basis.weather_after),
        ] {
            points.push(format!("air {side}: {}", air.line(units)));
        }
        let share = |x| units.show(What::Percent, x);
        points.push(format!(
            "readings repeat within {} from visit to visit and {} from pull to pull (one standard deviation)",
            share(basis.visit_repeatability),
            share(basis.pull_repeatability)
        ));
        points.extend(misjudged(&self.answer, units));
        points.extend(basis.by_cycle.iter().map(|by| by.line(units)));
        points.push(format!(
            "{} draws of car, parts and drums together, seed {}",
            basis.draws, basis.seed
        ));
        if basis.draws_failed > 0 {
            points.push(format!(
                "{} draws could not make the pull and were left out",
                basis.draws_failed
            ));
        }
        points
    }
}

/// What the model may misjudge, whatever is measured beforehand.
fn misjudged(answer: &Answer, units: Units) -> Option<String> {
    let told: Vec<String> = answer
        .misjudged
        .iter()
        .map(|line| {
            format!(
                "{} {} of power ± {}",
                mechanism(line.mechanism),
                units.show_change(What::Percent, line.effect),
                units.show(What::Percent, line.doubt)
            )
        })
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "what the model may misjudge at the peak (one standard deviation), whatever is measured beforehand: {}",
            told.join(", ")
        )
    })
}

/// Which log would narrow the range most; nothing where none would.
fn next(answer: &Answer) -> Option<String> {
    let most = answer.next.first()?;
    Some(format!(
        "What would tighten the gain most is {}: by {:.0} %.",
        log(most.log),
        100.0 * most.narrows
    ))
}

/// A log by its name.
pub(super) const fn log(log: Log) -> &'static str {
    match log {
        Log::Spark => "a log of the spark",
        Log::FuelFlow => "a log of the fuel flow",
        Log::AirFlow => "a log of the air flow",
        Log::ManifoldPressure => "a log of the manifold pressure",
        Log::ChargeTemperature => "a log of the intake air temperature",
        Log::DrumSpeed => "a log of drum speed beside engine speed",
        Log::CoastDown => "a coast-down",
    }
}

/// A mechanism by its name.
pub(super) const fn mechanism(mechanism: Mechanism) -> &'static str {
    match mechanism {
        Mechanism::Air => "air swallowed",
        Mechanism::Phasing => "phasing of the burn",
        Mechanism::Work => "work of each kilogram of air",
        Mechanism::GasExchange => "pumping",
        Mechanism::Blower => "the blower's drive",
        Mechanism::Driveline => "driveline and tyres",
        Mechanism::Waves => "waves in intake and exhaust",
    }
}

/// That peaks lie where nobody measured.
fn extrapolated(document: &mut Document, answer: &Answer, units: Units) {
    let Some(found) = &answer.extrapolated else {
        return;
    };
    let rpm = |rpm: f64| units.show(What::PeakRpm, rpm);
    let side = |name: &str, at: Option<f64>| at.map(|at| format!("{name} at {}", rpm(at)));
    let peaks: Vec<String> = [
        side("before", found.before_rpm),
        side("after", found.after_rpm),
    ]
    .into_iter()
    .flatten()
    .collect();
    document.at(Level::Answer).labelled(
        "!!  ",
        format!(
            "The car was measured up to {} only; the peak {} is extrapolated, and its range is wide for that. Pull it to the redline.",
            rpm(found.measured.to_rpm),
            peaks.join(" and ")
        ),
        4,
    );
}

fn read_before(basis: &Basis, units: Units) -> Option<String> {
    let read = units.show(What::Power, basis.read_before_w?);
    let on = basis
        .read_on
        .as_ref()
        .map_or_else(String::new, |on| format!(", {}", read_on(on)));
    Some(format!("baseline reading, uncorrected: {read}{on}"))
}

fn read_on(on: &ReadOn) -> String {
    let place = if on.visits > 1 {
        format!(", the last of the {} visits named", on.visits)
    } else {
        String::new()
    };
    let of = if on.pulls == 1 {
        "the peak of 1 pull".to_owned()
    } else {
        format!("the mean peak of {} pulls", on.pulls)
    };
    format!("{of} of visit '{}'{place}", on.visit)
}
