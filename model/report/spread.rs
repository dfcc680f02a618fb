//! The spread: the range to expect through a place's hours, what it comes from, and what each correction does about it.
//!
//! Some twenty lines for a person; tables by month and hour, by standard and over engine speed are for programs and the page.

use super::document::Document;
use super::number::{Units, What, chance_counted};
use super::table::TextTable;
use super::{Level, Report, chart};
use crate::ask::spread::{Answer, Cell, Share, StandardLine};
use crate::dyno::correction::Standard;
use crate::files::station::Cleaning;
use crate::units::INCH_OF_MERCURY_PA;
use serde::Serialize;

/// Exact by definition.
const KELVIN_PER_FAHRENHEIT: f64 = 5.0 / 9.0;
/// Of the avoirdupois pound, exact by definition.
const GRAINS_PER_POUND: f64 = 7000.0;

/// A spread as reported.
#[derive(Debug, Clone, Serialize)]
pub struct SpreadReport {
    /// What was answered.
    #[serde(flatten)]
    pub answer: Answer,
    /// The station's file.
    pub file: String,
    /// What was found in it.
    pub station: Cleaning,
    /// Correction that is told in the text.
    pub standard: Standard,
}

/// Shares below this are not told.
const LEAST_TOLD: f64 = 0.005;

impl Report for SpreadReport {
    const SCHEMA: &'static str = "pullcast/spread/1";

    fn document(&self, units: Units) -> Document {
        let (answer, basis) = (&self.answer, &self.answer.basis);
        let work = basis
            .plan
            .as_ref()
            .map_or_else(String::new, |plan| format!(", with {plan}"));
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(self.promise(units))
            .paragraph(format!(
                "Car: {}{work}{}.{}",
                basis.car,
                if basis.fitted {
                    ""
                } else {
                    ", not calibrated on pulls"
                },
                self.asked(units)
            ))
            .table(self.figures(units))
            .space();
        let mut points = vec![causes(answer, units), self.weather(units)];
        points.extend(self.correction(units));
        points.push(self.best(units));
        points.push(limits(answer));
        points.push(seasons(&answer.by_month_and_hour, units));
        document.at(Level::Answer).list(points);
        for chart in chart::spread::charts(self, units) {
            document.at(Level::Answer).chart(chart);
        }
        document
            .at(Level::Detail)
            .list([self.place(units), self.method()]);
        document
    }
}

/// Per cent, a digit more below ten.
fn percent(share: f64) -> String {
    let value = 100.0 * share;
    if value.abs() < 9.95 {
        format!("{value:.1} %")
    } else {
        format!("{value:.0} %")
    }
}

impl SpreadReport {
    fn promise(&self, units: Units) -> String {
        let promise = &self.answer.promise;
        format!(
            "Promise {} on the drums, uncorrected: {:.0} pulls in 100 over these hours should reach it.",
            units.show(What::Power, promise.power_w),
            100.0 * promise.chance
        )
    }

    /// The chance to miss a power that somebody named.
    fn asked(&self, units: Units) -> String {
        let promise = &self.answer.promise;
        let asked = promise.asked_w.zip(promise.miss);
        asked.map_or_else(String::new, |(asked, miss)| {
            format!(
                " The chance to miss {} is {}.",
                units.show(What::Power, asked),
                chance_counted(miss, promise.miss_error.unwrap_or(0.0))
            )
        })
    }

    /// The line of the correction told.
    fn standard_line(&self) -> Option<&StandardLine> {
        self.answer
            .standards
            .iter()
            .find(|line| line.standard == self.standard)
    }

    fn figures(&self, units: Units) -> TextTable {
        let answer = &self.answer;
        let mut table = TextTable::new("l");
        let worked = answer.before.is_some();
        let side = if worked { "after the work, " } else { "" };
        if let Some(before) = &answer.before {
            table.row([
                "before the work, peak power".to_owned(),
                units.range(What::Power, &before.power_w.range),
            ]);
        }
        table.row([
            format!("{side}peak power, uncorrected"),
            units.range(What::Power, &answer.after.power_w.range),
        ]);
        if let Some(line) = self.standard_line() {
            let name = format!("{side}peak power, corrected");
            table.row([name, units.range(What::Power, &line.power_w.range)]);
        }
        table.row([
            format!("{side}peak torque"),
            units.range(What::Torque, &answer.after.torque_nm.range),
        ]);
        if let Some(gain) = &answer.gain {
            let how = if answer.basis.two_days {
                "two days"
            } else {
                "one hour"
            };
            table.row([
                format!("gain the drums show, {how}, uncorrected"),
                units.range_of_change(What::Percent, &gain.range),
            ]);
            if let Some(gain) = self.standard_line().and_then(|line| line.gain.as_ref()) {
                table.row([
                    "the same, corrected".to_owned(),
                    units.range_of_change(What::Percent, &gain.range),
                ]);
            }
        }
        table
    }

    fn weather(&self, units: Units) -> String {
        let slopes = &self.answer.slopes;
        let told = |slope: Option<f64>, step: f64, unit: &str| {
            slope.map(|slope| format!("{:+.2} % per {unit}", 100.0 * slope * step))
        };
        let each: Vec<String> = match units {
            Units::Metric => [
                told(slopes.per_k, 1.0, "K"),
                told(slopes.per_pa, 100.0, "hPa"),
                told(slopes.per_kg_kg, 1e-3, "g of water in a kg of air"),
            ],
            Units::Shop => [
                told(slopes.per_k, KELVIN_PER_FAHRENHEIT, "°F"),
                told(slopes.per_pa, INCH_OF_MERCURY_PA, "inHg"),
                told(
                    slopes.per_kg_kg,
                    1.0 / GRAINS_PER_POUND,
                    "grain of water in a lb of air",
                ),
            ],
        }
        .into_iter()
        .flatten()
        .collect();
        let sd = units.show(What::Percent, slopes.weather_sd);
        format!(
            "the weather alone moves the peak by {sd} (one standard deviation): {}",
            each.join(", ")
        )
    }

    fn correction(&self, units: Units) -> Option<String> {
        let line = self.standard_line()?;
        let outside = line.outside.map_or_else(String::new, |share| {
            format!(
                "; {} of the hours are outside what it states",
                percent(share)
            )
        });
        Some(format!(
            "corrected by {}, which leaves {} of the weather's variance on this car: it takes {} out and adds {}{outside}; corrected, {:.0} pulls in 100 reach {}",
            line.standard.name(),
            percent(line.weather_left),
            percent(line.taken_out),
            percent(line.added),
            100.0 * self.answer.promise.chance,
            units.show(What::Power, line.promise_w),
        ))
    }

    /// The corrections that leave least and most.
    fn best(&self, _units: Units) -> String {
        let by = |a: &&StandardLine, b: &&StandardLine| a.weather_left.total_cmp(&b.weather_left);
        let lines = &self.answer.standards;
        match lines.iter().min_by(by).zip(lines.iter().max_by(by)) {
            Some((least, most)) => format!(
                "of {} corrections {} leaves least of it, {}, and {} most, {}",
                lines.len(),
                least.standard.name(),
                percent(least.weather_left),
                most.standard.name(),
                percent(most.weather_left)
            ),
            None => "no correction is meant for this engine".to_owned(),
        }
    }

    fn place(&self, units: Units) -> String {
        let (basis, station) = (&self.answer.basis, &self.station);
        let temperature = units
            .range_and_middle(What::Temperature, &basis.temperature_k)
            .0;
        let (pressure, water) = (&basis.station_pressure_pa, &basis.humidity_ratio);
        let air = match units {
            Units::Metric => format!(
                "{:.0} to {:.0} hPa, {temperature}, {:.1} to {:.1} g/kg",
                pressure.p5 / 100.0,
                pressure.p95 / 100.0,
                1e3 * water.p5,
                1e3 * water.p95
            ),
            Units::Shop => format!(
                "{:.2} to {:.2} inHg, {temperature}, {:.0} to {:.0} grains/lb",
                pressure.p5 / INCH_OF_MERCURY_PA,
                pressure.p95 / INCH_OF_MERCURY_PA,
                GRAINS_PER_POUND * water.p5,
                GRAINS_PER_POUND * water.p95
            ),
        };
        let left_out: usize = station.left_out.iter().map(|left| left.rows).sum();
        let gaps = if station.gaps == 0 {
            String::new()
        } else {
            format!(
                ", {} gaps, the longest {:.0} h",
                station.gaps,
                station.longest_gap_min as f64 / 60.0
            )
        };
        let floor = if basis.condensing == 0 {
            String::new()
        } else {
            format!(
                "; in {} of them the cell is colder than the dew point",
                basis.condensing
            )
        };
        format!(
            "{} hours of {} ({} rows, {left_out} left out{gaps}), nine in ten with {air}{floor}",
            basis.hours, self.file, station.rows
        )
    }

    fn method(&self) -> String {
        let (basis, method) = (&self.answer.basis, &self.answer.method);
        let failed = if basis.draws_failed == 0 {
            String::new()
        } else {
            format!(", {} more could not make the pull", basis.draws_failed)
        };
        let refused = method.worst_refused.map_or_else(String::new, |worst| {
            format!("; surfaces refused missed by up to {worst:.0e}")
        });
        let surface = if method.by_surface == 0 {
            format!("every pull simulated{refused}")
        } else {
            format!(
                "{} by response surfaces, {} by pulls; {} pulls held out of the surfaces miss them by {:.0e}, at most {:.0e} (allowed {:.0e}){refused}",
                method.by_surface,
                method.by_pulls,
                method.held_out,
                method.rms,
                method.worst,
                method.bound
            )
        };
        format!(
            "{} draws in {} hours each, seed {}{failed}: {surface}",
            basis.draws, basis.hours_per_draw, basis.seed
        )
    }
}

fn causes(answer: &Answer, units: Units) -> String {
    let causes = &answer.causes;
    let told = |name: &str, share: &Share| {
        (share.total > LEAST_TOLD || share.first > LEAST_TOLD).then(|| {
            format!(
                "{name} ({:.0} ± {:.0}) %",
                100.0 * share.total,
                100.0 * share.total_error
            )
        })
    };
    let each: Vec<String> = [
        told("weather", &causes.weather),
        told("car", &causes.car),
        told("work", &causes.work),
        told("rig", &causes.rig),
    ]
    .into_iter()
    .flatten()
    .collect();
    format!(
        "one standard deviation of the peak is {}; its variance goes with {}",
        units.show(What::Power, causes.sd_w),
        each.join(", ")
    )
}

/// Limits named in the answer, those of most pulls first.
const MOST_LIMITS: usize = 3;

fn limits(answer: &Answer) -> String {
    if answer.limits.is_empty() {
        return "no limit is met".to_owned();
    }
    let told = answer.limits.iter().take(MOST_LIMITS);
    let mut each: Vec<String> = told
        .map(|met| format!("{} {}", met.limit.words(), percent(met.share)))
        .collect();
    if answer.limits.len() > MOST_LIMITS {
        each.push(format!("{} more", answer.limits.len() - MOST_LIMITS));
    }
    format!("limits met, share of the pulls: {}", each.join("; "))
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn seasons(cells: &[Cell], units: Units) -> String {
    let by = |a: &&Cell, b: &&Cell| a.mean_w.total_cmp(&b.mean_w);
    let told = |cell: &Cell| {
        let month = MONTHS[usize::from(cell.month.clamp(1, 12)) - 1];
        format!(
            "in {month} at {} h, {} on the mean",
            cell.hour,
            units.show(What::Power, cell.mean_w)
        )
    };
    match cells.iter().max_by(by).zip(cells.iter().min_by(by)) {
        Some((best, worst)) => format!("it reads most {}, least {}", told(best), told(worst)),
        None => String::new(),
    }
}
