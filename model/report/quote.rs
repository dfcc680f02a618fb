//! The quote: the range to promise, what it stands on, what widens it, and what it leaves out.
//!
//! It is written to be read to a customer: the range first, the basis next, then everything that could make it untrue. It
//! refuses to give a middle without its range.

use super::basis::{Corrected, Weather};
use super::by_cycle::ByCycle;
use super::cautions::Caution;
use super::chart::{Row, power_chart};
use super::fit::FitReport;
use super::interactions::InteractionsReport;
use super::limits::{LimitLine, caps};
use super::number::{Span, Units, What};
use super::table::{TextTable, WIDTH, bullet, paragraph};
use super::{Report, heading};
use crate::ask::quote::{Driver, Kind, Peaks, Quote};
use crate::belief::prior::Prior;
use crate::belief::sheet::Origin;
use crate::build::Plan;
use serde::Serialize;

/// What the quote was computed from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Basis {
    /// The car's name.
    pub car: String,
    /// The plan's name.
    pub plan: String,
    /// Whether the car's numbers come from a fit.
    pub fitted: bool,
    /// Peak power that was read before, uncorrected.
    pub read_before_w: Option<f64>,
    /// Where that was read.
    pub read_on: Option<ReadOn>,
    /// Air of the pull before.
    pub weather_before: Weather,
    /// Air of the pull after.
    pub weather_after: Weather,
    /// Repeatability from visit to visit, relative standard deviation.
    pub visit_repeatability: f64,
    /// Repeatability from pull to pull.
    pub pull_repeatability: f64,
    /// What the model may miss of a gain, as a share of it.
    pub transfer: f64,
    /// What the crank-angle cycle says of a part inside the cylinder; none where the plan has none.
    pub by_cycle: Option<ByCycle>,
    /// What was odd in the files that the range rests on.
    pub warnings: Vec<String>,
    /// Draws used.
    pub draws: usize,
    /// Draws in which the car could not make the pull.
    pub draws_failed: usize,
    /// Seed of the draws.
    pub seed: u64,
}

/// Which pulls the reading before, and its air, are taken from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadOn {
    /// The visit's name.
    pub visit: String,
    /// Its pulls that count: those with the electric axle on, or all if there is none.
    pub pulls: usize,
    /// Visits named in all; this is the last.
    pub visits: usize,
}

impl ReadOn {
    fn words(&self) -> String {
        let place = if self.visits > 1 {
            format!(", the last of the {} visits named", self.visits)
        } else {
            String::new()
        };
        let of = if self.pulls == 1 {
            "the peak of 1 pull".to_owned()
        } else {
            format!("the mean peak of {} pulls", self.pulls)
        };
        format!("{of} of visit '{}'{place}", self.visit)
    }
}

/// What a customer is told first: the peak after the work as the drums will read it, and what it gains over the car without
/// the work on the same day. The same numbers stand in the tables.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Promise {
    /// Peak power, uncorrected; the middle is the likeliest.
    pub power_w: Span,
    /// In the named correction.
    pub corrected_power_w: Span,
    /// The correction, in full.
    pub correction: &'static str,
    /// Gain in peak power.
    pub gain_w: Span,
    /// The same, relative.
    pub gain: Span,
    /// What caps the peak, at the middle of what is believed.
    pub capped_by: Vec<&'static str>,
}

impl Promise {
    fn sentence(&self, units: Units) -> String {
        let told = |what, span| units.told(what, span);
        let (range, middle) = told(What::Power, &self.power_w);
        let (corrected, corrected_middle) = told(What::Power, &self.corrected_power_w);
        let (gain, gain_middle) = units.told_of_change(What::Power, &self.gain_w);
        let (share, share_middle) = units.told_of_change(What::Percent, &self.gain);
        let capped = if self.capped_by.is_empty() {
            String::new()
        } else {
            format!(" That peak is capped: {}.", self.capped_by.join("; "))
        };
        format!(
            "After this work the car should peak at {range} on the drums, uncorrected, most likely near {middle}; corrected by {}, \
             that is {corrected}, most likely near {corrected_middle}. The work should add {gain} or {share} to what the car \
             would read without it on the same day, most likely {gain_middle} or {share_middle}.{capped}",
            self.correction
        )
    }
}

/// A quote as reported.
#[derive(Debug, Clone, Serialize)]
pub struct QuoteReport {
    /// What to tell the customer.
    pub promise: Promise,
    /// What it was computed from.
    pub basis: Basis,
    /// The fit made for it, if one was.
    pub fit: Option<FitReport>,
    /// Correction on the day before.
    pub correction_before: Corrected,
    /// Correction on the day after.
    pub correction_after: Corrected,
    /// Peaks before the work.
    pub before: Side,
    /// Peaks after it.
    pub after: Side,
    /// Gain of the car itself in peak power.
    pub gain_w: Span,
    /// The same, relative.
    pub gain: Span,
    /// Gain of the car itself in peak torque.
    pub gain_nm: Span,
    /// Gain the drums will show against the reading before, relative.
    pub shown_gain: Span,
    /// What the changes gain together and one by one; none for a plan of one change.
    pub interactions: Option<InteractionsReport>,
    /// Power over engine speed.
    pub curve: Vec<CurvePoint>,
    /// What widens the gain, widest first.
    pub drivers: Vec<DriverLine>,
    /// Limits met after the work.
    pub limits: Vec<LimitLine>,
    /// What was not looked at.
    pub not_included: Vec<&'static str>,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

/// Peaks of one side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Side {
    /// Peak power as the drums will read it.
    pub power_w: Span,
    /// In the named correction.
    pub corrected_power_w: Span,
    /// Electric share of it, uncorrected.
    pub electric_power_w: Span,
    /// What the standard would have added to that share.
    pub electric_not_added_w: f64,
    /// Peak torque at engine speed, uncorrected.
    pub torque_nm: Span,
    /// Engine speed of peak power.
    pub rpm: Span,
}

/// One engine speed of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Engine speed.
    pub rpm: f64,
    /// Power before, where the pull before reaches it.
    pub before_w: Option<Span>,
    /// Power after.
    pub after_w: Span,
}

/// One doubt that widens the gain.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DriverLine {
    /// Path in the car file, or change and number of the plan.
    pub number: String,
    /// What it is.
    pub meaning: String,
    /// Whose number it is.
    pub origin: &'static str,
    /// Where a default comes from.
    pub default_basis: Option<String>,
    /// Share of the gain's variance.
    pub share: f64,
    /// Whether more of it means more gain.
    pub raises: bool,
}

impl QuoteReport {
    /// Puts a quote in words.
    pub fn new(
        quote: &Quote,
        basis: Basis,
        fit: Option<FitReport>,
        plan: &Plan<Prior>,
        cautions: Vec<Caution>,
        not_included: Vec<&'static str>,
    ) -> Self {
        let after = side(&quote.after);
        Self {
            promise: Promise {
                power_w: after.power_w,
                corrected_power_w: after.corrected_power_w,
                correction: quote.corrections.1.standard.name(),
                gain_w: quote.gain_w.into(),
                gain: quote.gain.into(),
                capped_by: quote.centre.peak_power().map(caps).unwrap_or_default(),
            },
            basis,
            fit,
            correction_before: Corrected::from(&quote.corrections.0),
            correction_after: Corrected::from(&quote.corrections.1),
            before: side(&quote.before),
            after,
            gain_w: quote.gain_w.into(),
            gain: quote.gain.into(),
            gain_nm: quote.gain_nm.into(),
            shown_gain: quote.shown_gain.into(),
            interactions: None,
            curve: curve(quote),
            drivers: quote
                .drivers
                .iter()
                .map(|driver| driver_line(driver, plan))
                .collect(),
            limits: quote.limits.iter().map(LimitLine::from).collect(),
            not_included,
            cautions,
        }
    }
}

fn side(peaks: &Peaks) -> Side {
    Side {
        power_w: peaks.power_w.into(),
        corrected_power_w: peaks.corrected_w.into(),
        electric_power_w: peaks.electric_w.into(),
        electric_not_added_w: peaks.electric_not_added_w,
        torque_nm: peaks.torque_nm.into(),
        rpm: peaks.rpm.into(),
    }
}

/// The curve after, with the range before at the nearest of its own engine speeds.
fn curve(quote: &Quote) -> Vec<CurvePoint> {
    let before = &quote.curve_before;
    let spacing = before
        .windows(2)
        .map(|pair| pair[1].0 - pair[0].0)
        .fold(0.0, f64::max);
    let near = |rpm: f64| {
        before
            .iter()
            .min_by(|a, b| (a.0 - rpm).abs().total_cmp(&(b.0 - rpm).abs()))
            .filter(|point| (point.0 - rpm).abs() <= 0.5 * spacing + 1e-9)
            .map(|point| Span::from(point.1))
    };
    quote
        .curve
        .iter()
        .map(|(rpm, range)| CurvePoint {
            rpm: *rpm,
            before_w: near(*rpm),
            after_w: (*range).into(),
        })
        .collect()
}

fn driver_line(driver: &Driver, plan: &Plan<Prior>) -> DriverLine {
    let (number, meaning, origin, default_basis) = match &driver.kind {
        Kind::Car(path, origin) => {
            let entry = crate::belief::parameter::find(path);
            let meaning = entry.map_or_else(|| (*path).to_owned(), |p| p.meaning.to_owned());
            let (words, basis) = match origin {
                Origin::Given => ("as given in the car file", None),
                Origin::Default => ("a default", entry.map(|p| p.basis.to_string())),
                Origin::Fitted => ("as the fit left it", None),
            };
            ((*path).to_owned(), meaning, words, basis)
        }
        Kind::Model => (
            "model".to_owned(),
            "what the model may miss of a gain".to_owned(),
            "and nothing measured before the work narrows it",
            None,
        ),
        Kind::Plan(place, name) => {
            let change = plan.changes.get(place - 1).map_or("change", change_words);
            (
                format!("change {place}, {name}"),
                format!("{} of the {change}", name.replace('_', " ")),
                "from the plan",
                None,
            )
        }
    };
    DriverLine {
        number,
        meaning,
        origin,
        default_basis,
        share: driver.share,
        raises: driver.raises,
    }
}

pub(super) fn change_words<T>(change: &crate::build::Change<T>) -> &'static str {
    use crate::build::{Breathing, Change, Charge};
    match change {
        Change::DisplacementBlower(_) | Change::CentrifugalBlower(_) => "new blower",
        Change::Turbocharger(_) => "new turbocharger",
        Change::Boost { .. } => "new boost",
        Change::RemoveBlower => "blower taken off",
        Change::Pulley { .. } => "new pulley",
        Change::ChargeCooler(_) => "new charge cooler",
        Change::RemoveChargeCooler => "charge cooler taken out",
        Change::Intake { .. } => "new intake",
        Change::Exhaust { .. } => "new exhaust",
        Change::Breathing(Breathing::Throttle { .. }) => "new throttle",
        Change::Breathing(Breathing::Headers { .. }) => "headers",
        Change::Breathing(Breathing::Camshaft(_)) => "new camshaft",
        Change::Breathing(Breathing::CylinderHead { .. }) => "cylinder head work",
        Change::Breathing(Breathing::BoreStroke { .. }) => "new bore and stroke",
        Change::Charge(Charge::TankMix { .. }) => "fuel mixed in the tank",
        Change::Charge(Charge::Octane { .. }) => "new octane",
        Change::Charge(Charge::Spark { .. }) => "new spark",
        Change::Charge(Charge::WaterMethanol { .. }) => "water-methanol",
        Change::Charge(Charge::Nitrous { .. }) => "nitrous oxide",
        Change::CompressionRatio { .. } => "new compression ratio",
        Change::Fuel { .. } => "new fuel",
        Change::Mixture { .. } => "new mixture",
        Change::Redline { .. } => "new redline",
        Change::Gearing { .. } => "new gearing",
        Change::Wheels { .. } => "new wheels",
        Change::ElectricAxle { .. } => "electric axle's calibration",
        Change::Injectors(_) => "new injectors",
        Change::FuelPump(_) => "new fuel pump",
        Change::FuelRail(_) => "new rail pressure",
        Change::TurningParts(_) => "new turning parts",
        Change::DrivelineOil(_) => "new gear oil",
        Change::Clutch { .. } => "new clutch",
        Change::Converter(_) => "new converter",
        Change::Belt(_) => "new belt",
        Change::Battery(_) => "new battery",
        Change::Tyres(_) => "new tyres",
        Change::Mass(_) => "mass added or taken out",
    }
}

impl Report for QuoteReport {
    const SCHEMA: &'static str = "pullcast/quote/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading(&format!(
            "Quote: {}, with {}",
            self.basis.car, self.basis.plan
        ));
        out.push_str(&paragraph("", &self.promise.sentence(units), 0, WIDTH));
        out.push('\n');
        out.extend(self.fit.iter().map(|fit| fit.misfits_text(units)));
        out.push_str(&self.peaks_and_gains(units));
        out.push('\n');
        if let Some(together) = &self.interactions {
            out.push_str(&together.text(units));
            out.push('\n');
        }
        let rows: Vec<Row> = self
            .curve
            .iter()
            .step_by(2)
            .map(|p| Row {
                rpm: p.rpm,
                before: p.before_w,
                after: p.after_w,
            })
            .collect();
        out.push_str("Power at the drums, uncorrected\n");
        out.push_str(&power_chart(&rows, units));
        out.push_str(&self.basis_text(units));
        out.push_str(&self.drivers_text());
        if self.limits.is_empty() {
            out.push_str("\nNo limit is met after the work.\n");
        } else {
            out.push_str("\nLimits met after the work\n");
            out.extend(self.limits.iter().map(|limit| limit.text(units)));
        }
        out.push_str("\nNot included\n");
        out.extend(self.not_included.iter().map(|text| bullet(text)));
        out.push_str("\nBefore the pull\n");
        out.extend(
            self.cautions
                .iter()
                .map(|c| bullet(&format!("{}: {}", c.about, c.text))),
        );
        out
    }
}

impl QuoteReport {
    fn peaks_and_gains(&self, units: Units) -> String {
        let mut table = TextTable::new("l");
        table.row(["", "before", "after"]);
        let rows = [
            (
                "peak power, uncorrected",
                What::Power,
                &self.before.power_w,
                &self.after.power_w,
            ),
            (
                "peak power, corrected",
                What::Power,
                &self.before.corrected_power_w,
                &self.after.corrected_power_w,
            ),
            (
                "peak torque, uncorrected",
                What::Torque,
                &self.before.torque_nm,
                &self.after.torque_nm,
            ),
            (
                "at engine speed",
                What::PeakRpm,
                &self.before.rpm,
                &self.after.rpm,
            ),
        ];
        for (name, what, before, after) in rows {
            table.row([
                name.to_owned(),
                units.range(what, before),
                units.range(what, after),
            ]);
        }
        if self.after.electric_power_w.p95 > 0.0 {
            let electric = |side: &Side| units.range(What::Power, &side.electric_power_w);
            table.row([
                "of it electric, never corrected".to_owned(),
                electric(&self.before),
                electric(&self.after),
            ]);
        }
        let mut out = String::from(
            "If car, work and drums are as believed, nine readings in ten fall in these ranges.\n",
        );
        out.push_str(&table.render());
        add!(out, "\nCorrected by {}\n", self.correction_after.line());
        if (self.correction_before.factor - self.correction_after.factor).abs() > 5e-5 {
            add!(
                out,
                "  on the day of the pulls before, the factor was {:.4}\n",
                self.correction_before.factor
            );
        }
        out.push_str(&self.correction_after.breaches_text());
        if self.after.electric_power_w.p95 > 0.0 {
            out.push_str("  the electric share is left as observed");
            if self.correction_after.changes_power() {
                add!(
                    out,
                    "; the factor would have changed it by {}",
                    units.show_change(What::Power, self.after.electric_not_added_w)
                );
            }
            out.push('\n');
        }
        let mut gains = TextTable::new("l");
        let share = |span| units.range_of_change(What::Percent, span);
        gains.row([
            "gain of the car itself, power".to_owned(),
            units.range_of_change(What::Power, &self.gain_w),
        ]);
        gains.row([String::new(), share(&self.gain)]);
        gains.row([
            "gain of the car itself, torque".to_owned(),
            units.range_of_change(What::Torque, &self.gain_nm),
        ]);
        let against = if self.basis.read_before_w.is_some() {
            "against the reading before"
        } else {
            "against a pull before"
        };
        gains.row([
            format!("gain the drums will show {against}"),
            share(&self.shown_gain),
        ]);
        out.push('\n');
        out.push_str(&gains.render());
        out
    }

    fn basis_text(&self, units: Units) -> String {
        let b = &self.basis;
        let mut out = String::from("\nBasis\n");
        out.extend(b.warnings.iter().map(|w| bullet(&format!("!! {w}"))));
        out.push_str(&bullet(&match (&self.fit, b.fitted) {
            (Some(fit), _) => format!(
                "the car as calibrated on {} measured pull{}",
                fit.pulls.len(),
                if fit.pulls.len() == 1 { "" } else { "s" }
            ),
            (None, true) => "a fitted car file".to_owned(),
            (None, false) => {
                "a car file without measured pulls: calibrate it on a visit to narrow the range"
                    .to_owned()
            }
        }));
        out.extend(
            self.fit
                .iter()
                .flat_map(|fit| fit.remarks(units))
                .map(|remark| bullet(&remark)),
        );
        if let Some(read) = b.read_before_w {
            let on = b
                .read_on
                .as_ref()
                .map_or_else(String::new, |on| format!(", {}", on.words()));
            out.push_str(&bullet(&format!(
                "read before, uncorrected: {}{on}",
                units.show(What::Power, read)
            )));
        }
        for (side, air) in [("before", &b.weather_before), ("after", &b.weather_after)] {
            out.push_str(&bullet(&format!("air {side}: {}", air.line(units))));
        }
        out.push_str(&bullet(&format!(
            "drums repeat to {} from visit to visit and {} from pull to pull (one standard deviation)",
            units.show(What::Percent, b.visit_repeatability),
            units.show(What::Percent, b.pull_repeatability)
        )));
        out.push_str(&bullet(&format!(
            "the model may miss {} of a gain (one standard deviation), whatever is measured before the work",
            units.show(What::Percent, b.transfer)
        )));
        out.extend(b.by_cycle.iter().map(|by| bullet(&by.line(units))));
        out.push_str(&bullet(&format!(
            "{} draws of car, work and drums together, seed {}",
            b.draws, b.seed
        )));
        if b.draws_failed > 0 {
            out.push_str(&bullet(&format!(
                "{} draws could not make the pull and are left out",
                b.draws_failed
            )));
        }
        out
    }

    fn drivers_text(&self) -> String {
        if self.drivers.is_empty() {
            return String::new();
        }
        let mut out = String::from(
            "\nWhat widens the gain; a number of car or plan would narrow it if measured\n",
        );
        for d in self.drivers.iter().take(8) {
            let direction = if d.raises {
                "more of it means more gain"
            } else {
                "more of it means less gain"
            };
            let basis = d
                .default_basis
                .as_ref()
                .map_or_else(String::new, |b| format!(" ({b})"));
            out.push_str(&bullet(&format!(
                "{:.0} %  {} [{}], {}{basis}; {direction}",
                100.0 * d.share,
                d.meaning,
                d.number,
                d.origin
            )));
        }
        out
    }
}
