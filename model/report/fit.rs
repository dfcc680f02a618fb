//! The account of a calibration: how close the model came, what it learnt, and what the pulls could not tell.
//!
//! A low residual alone proves little: a model may follow a curve with the wrong reasons. So the report says what became of
//! each number, which numbers the pulls left alone, and which pairs they cannot tell apart.

use super::number::{Units, What};
use super::table::{TextTable, WIDTH, bullet, paragraph};
use super::{Report, heading};
use crate::fit::calibration::Channel;
use crate::fit::fitted::{Fitted, Learnt, Residual};
use crate::fit::observation::Visit;
use crate::fit::outcome::{Place, Stop};
use crate::fit::parameter::Parameter;
use crate::units::show_number;
use serde::Serialize;

/// The account of a calibration.
#[derive(Debug, Clone, Serialize)]
pub struct FitReport {
    /// The car's name.
    pub car: String,
    /// Whether the search came to rest.
    pub converged: bool,
    /// Why it stopped, in words.
    pub stop: &'static str,
    /// Points at which slopes were taken.
    pub iterations: u32,
    /// Root mean square of the relative power residual.
    pub power_rms: f64,
    /// The worst point of the power curve.
    pub worst: Option<WorstPoint>,
    /// Residual by band of engine speed, over all pulls.
    pub bands: Vec<BandLine>,
    /// Other channels that were logged.
    pub channels: Vec<ChannelLine>,
    /// Scale of each visit.
    pub visits: Vec<VisitLine>,
    /// Scale of each pull.
    pub pulls: Vec<PullLine>,
    /// Bands that the fit let go of.
    pub outliers: Vec<WorstPoint>,
    /// Numbers the pulls informed, best informed first.
    pub learnt: Vec<LearntLine>,
    /// Paths of the numbers the pulls left alone.
    pub not_informed: Vec<&'static str>,
    /// Pairs that the pulls cannot tell apart, tightest first.
    pub tied: Vec<Tied>,
    /// What the pulls did not pin down, in a sentence.
    pub not_pinned_down: String,
    /// Where the fitted car was written, if it was.
    pub written: Option<String>,
}

/// One band of one pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorstPoint {
    /// The pull's name.
    pub pull: String,
    /// Engine speed.
    pub rpm: f64,
    /// Measured over model, less one.
    pub relative: f64,
}

/// Power residual in one band of engine speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BandLine {
    /// Lower edge.
    pub from_rpm: f64,
    /// Upper edge.
    pub to_rpm: f64,
    /// Mean of measured over model, less one.
    pub mean: f64,
    /// Root mean square of the same.
    pub rms: f64,
    /// Bands of pulls in it.
    pub count: usize,
}

/// Residual of a channel beside power.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChannelLine {
    /// Which.
    pub channel: &'static str,
    /// Root mean square, SI.
    pub rms: f64,
    #[serde(skip)]
    what: What,
}

/// Scale of a visit over the model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitLine {
    /// What the shop calls it.
    pub visit: String,
    /// Relative.
    pub scale: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// Scale of a pull over its visit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// What the shop calls it.
    pub pull: String,
    /// Relative.
    pub scale: f64,
    /// Root mean square of its power residual.
    pub rms: f64,
}

/// What became of a number. Before and after are in the unit of the car file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LearntLine {
    /// Path in the car file.
    pub path: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Unit of the car file.
    pub unit: &'static str,
    /// Centre before.
    pub before: f64,
    /// Its doubt: standard deviation, or that of the logarithm for a factor.
    pub before_doubt: f64,
    /// Centre after.
    pub after: f64,
    /// Its doubt.
    pub after_doubt: f64,
    /// Share of the doubt that the pulls took away.
    pub shrinkage: f64,
    /// The bound it was pushed against, if any.
    pub on_bound: Option<&'static str>,
    /// Whether the doubt is a factor.
    pub doubt_is_factor: bool,
}

/// Two numbers that move together without the pulls noticing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tied {
    /// Path of one.
    pub first: &'static str,
    /// Path of the other.
    pub second: &'static str,
    /// Their correlation after the fit.
    pub correlation: f64,
}

/// Width of the bands of the residual table, rpm.
const BAND_RPM: f64 = 500.0;
/// Weight below which the loss has let go of a row.
const OUTLIER_WEIGHT: f64 = 0.5;
/// Correlation from which two numbers are called tied: knowing one exactly would take away 30 % of the other's doubt.
const TIED: f64 = 0.7;

impl FitReport {
    /// Gives an account of a fit of these visits.
    pub fn new(car: &str, fitted: &Fitted, visits: &[Visit], written: Option<String>) -> Self {
        let names: Vec<String> =
            visits.iter().flat_map(|v| v.pulls.iter().map(|p| format!("{}: {}", v.name, p.name))).collect();
        let point = |r: &Residual| WorstPoint {
            pull: names.get(r.pull).cloned().unwrap_or_default(),
            rpm: r.rpm,
            relative: r.relative(),
        };
        let tied = tied(fitted);
        let not_informed: Vec<&'static str> = fitted.not_informed().map(|l| l.parameter.path).collect();
        Self {
            car: car.to_owned(),
            converged: fitted.stop.converged(),
            stop: stop_words(fitted.stop),
            iterations: fitted.iterations,
            power_rms: fitted.power_rms(),
            worst: fitted.worst().map(point),
            bands: bands(fitted),
            channels: channels(fitted),
            visits: visits
                .iter()
                .zip(&fitted.visit_scales)
                .map(|(v, (scale, sd))| VisitLine { visit: v.name.clone(), scale: *scale, sd: *sd })
                .collect(),
            pulls: names
                .iter()
                .zip(&fitted.pull_scales)
                .enumerate()
                .map(|(i, (pull, scale))| PullLine {
                    pull: pull.clone(),
                    scale: *scale,
                    rms: rms(fitted.channel(Channel::Power).filter(|r| r.pull == i).map(Residual::relative)),
                })
                .collect(),
            outliers: fitted.channel(Channel::Power).filter(|r| r.weight < OUTLIER_WEIGHT).map(point).collect(),
            learnt: learnt(fitted),
            not_pinned_down: sentence(fitted, &tied),
            not_informed,
            tied,
            written,
        }
    }
}

fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for value in values {
        sum += value * value;
        n += 1.0;
    }
    (sum / f64::max(n, 1.0)).sqrt()
}

fn bands(fitted: &Fitted) -> Vec<BandLine> {
    let power: Vec<&Residual> = fitted.channel(Channel::Power).collect();
    let (low, high) = power.iter().fold((f64::MAX, f64::MIN), |(l, h), r| (l.min(r.rpm), h.max(r.rpm)));
    let mut from_rpm = (low / BAND_RPM).floor() * BAND_RPM;
    let mut lines = Vec::new();
    while from_rpm <= high {
        let to_rpm = from_rpm + BAND_RPM;
        let inside: Vec<f64> =
            power.iter().filter(|r| r.rpm >= from_rpm && r.rpm < to_rpm).map(|r| r.relative()).collect();
        if !inside.is_empty() {
            let mean = inside.iter().sum::<f64>() / inside.len() as f64;
            lines.push(BandLine { from_rpm, to_rpm, mean, rms: rms(inside.iter().copied()), count: inside.len() });
        }
        from_rpm = to_rpm;
    }
    lines
}

fn channels(fitted: &Fitted) -> Vec<ChannelLine> {
    [
        (Channel::Manifold, "manifold pressure", What::Pressure),
        (Channel::Charge, "charge temperature", What::TemperatureDifference),
        (Channel::Lambda, "relative air-fuel ratio", What::Ratio),
    ]
    .into_iter()
    .filter(|(channel, _, _)| fitted.channel(*channel).next().is_some())
    .map(|(channel, name, what)| ChannelLine {
        channel: name,
        rms: rms(fitted.channel(channel).map(|r| r.measured - r.model)),
        what,
    })
    .collect()
}

fn learnt(fitted: &Fitted) -> Vec<LearntLine> {
    let mut informed: Vec<&Learnt> = fitted.learnt.iter().filter(|l| l.informed).collect();
    informed.sort_by(|a, b| b.shrinkage.total_cmp(&a.shrinkage));
    informed.into_iter().map(learnt_line).collect()
}

fn learnt_line(l: &Learnt) -> LearntLine {
    let measure = l.parameter.measure;
    let doubt_is_factor = l.before.shape() == crate::fit::Shape::LogNormal;
    let doubt = |sd: f64| if doubt_is_factor { sd } else { measure.difference_from_model(sd) };
    LearntLine {
        path: l.parameter.path,
        meaning: l.parameter.meaning,
        unit: measure.symbol,
        before: measure.from_model(l.before.centre()),
        before_doubt: doubt(l.before.sd()),
        after: measure.from_model(l.after.centre()),
        after_doubt: doubt(l.after.sd()),
        shrinkage: l.shrinkage,
        on_bound: match l.place {
            Place::Free => None,
            Place::OnLower => Some("at its lowest; the pulls would have it lower"),
            Place::OnUpper => Some("at its highest; the pulls would have it higher"),
        },
        doubt_is_factor,
    }
}

fn tied(fitted: &Fitted) -> Vec<Tied> {
    let Some(correlation) = &fitted.sheet.correlation else { return Vec::new() };
    let matrix = correlation.matrix();
    let mut pairs = Vec::new();
    for (i, a) in fitted.learnt.iter().enumerate() {
        for (j, b) in fitted.learnt.iter().enumerate().skip(i + 1) {
            let correlation = matrix[(i, j)];
            if correlation.abs() >= TIED {
                pairs.push(Tied { first: a.parameter.path, second: b.parameter.path, correlation });
            }
        }
    }
    pairs.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));
    pairs
}

fn sentence(fitted: &Fitted, tied: &[Tied]) -> String {
    let words = |path: &str| crate::fit::parameter::find(path).map_or_else(|| path.to_owned(), short);
    let alone: Vec<&Learnt> = fitted.not_informed().collect();
    let mut text = match alone.len() {
        0 => "Every number was informed by the pulls".to_owned(),
        n => {
            let first: Vec<String> = alone.iter().take(3).map(|l| words(l.parameter.path)).collect();
            format!(
                "{n} of {} doubtful numbers stand as they were believed before, because the pulls say next to nothing about \
                 them ({}{})",
                fitted.learnt.len(),
                first.join("; "),
                if n > 3 { "; and so on" } else { "" }
            )
        }
    };
    match tied.first() {
        Some(pair) => {
            let together = if pair.correlation < 0.0 { "more of one and less of the other" } else { "more of both, or less of both," };
            text.push_str(&format!(
                "; and the pulls cannot tell '{}' from '{}': {together} would fit them as well.",
                words(pair.first),
                words(pair.second)
            ));
        }
        None => text.push('.'),
    }
    text
}

/// The meaning of a number up to its first comma.
fn short(parameter: &Parameter) -> String {
    parameter.meaning.split([',', ';']).next().unwrap_or(parameter.meaning).to_owned()
}

fn stop_words(stop: Stop) -> &'static str {
    match stop {
        Stop::GradientSmall | Stop::StepSmall | Stop::CostSmall => "it came to rest",
        Stop::Rounding => "it came to rest at the limit of rounding",
        Stop::AllOnBounds => "every number is held by a bound",
        Stop::NoProgress => "no step made the fit better, and it is no rest",
        Stop::NoSlopes => "the car cannot make the pulls around this point",
        Stop::IterationLimit => "the steps ran out before it came to rest",
    }
}

impl Report for FitReport {
    const SCHEMA: &'static str = "pullcast/fit/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading(&format!("Fit: {}", self.car));
        out.push_str(&self.summary(units));
        out.push_str("\nPower, measured over model, by engine speed\n");
        out.push_str(&self.bands_text());
        for line in &self.channels {
            out.push_str(&format!("  {} off by {} (root mean square)\n", line.channel, units.show(line.what, line.rms)));
        }
        out.push_str("\nScales\n");
        out.push_str(&self.scales_text(units));
        if !self.outliers.is_empty() {
            out.push_str("\nBands the fit let go of\n");
            for point in self.outliers.iter().take(10) {
                out.push_str(&bullet(&worst_words(point, units)));
            }
            if self.outliers.len() > 10 {
                out.push_str(&bullet(&format!("and {} more", self.outliers.len() - 10)));
            }
        }
        out.push_str(&self.learnt_text());
        if let Some(path) = &self.written {
            out.push_str(&format!("\nFitted car written to {path}\n"));
        }
        out
    }
}

fn worst_words(point: &WorstPoint, units: Units) -> String {
    format!(
        "{} at {}: measured {} from the model",
        point.pull,
        units.show(What::Rpm, point.rpm),
        units.show_change(What::Percent, point.relative)
    )
}

impl FitReport {
    /// The few lines that a quote shows of its own fit.
    pub fn summary(&self, units: Units) -> String {
        let mut out = format!(
            "{} pulls in {} visit{}; the search took {} steps: {}.\n",
            self.pulls.len(),
            self.visits.len(),
            if self.visits.len() == 1 { "" } else { "s" },
            self.iterations,
            self.stop
        );
        out.push_str(&format!("Power is followed to {} (root mean square).", units.show(What::Percent, self.power_rms)));
        if let Some(worst) = &self.worst {
            out.push_str(&format!(" Worst point: {}.", worst_words(worst, units)));
        }
        out.push('\n');
        out.push_str(&paragraph("", &self.not_pinned_down, 0, WIDTH));
        out
    }

    fn bands_text(&self) -> String {
        let mut table = TextTable::new(1);
        table.row(["rpm", "mean %", "rms %", "bands"]);
        for band in &self.bands {
            table.row([
                format!("{:.0} to {:.0}", band.from_rpm, band.to_rpm),
                format!("{:+.2}", 100.0 * band.mean),
                format!("{:.2}", 100.0 * band.rms),
                band.count.to_string(),
            ]);
        }
        // A stroke of a tenth of a per cent for each mark, left of the line below the model, right above.
        let bars = self.bands.iter().map(|band| bar(band.mean));
        let mut lines = table.render().lines().map(str::to_owned).collect::<Vec<_>>();
        let width = lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
        for (line, bar) in lines.iter_mut().skip(1).zip(bars) {
            let blanks = " ".repeat(width - line.chars().count());
            *line = format!("{line}{blanks}  {bar}");
        }
        lines.join("\n") + "\n"
    }

    fn scales_text(&self, units: Units) -> String {
        let mut table = TextTable::new(1);
        for visit in &self.visits {
            table.row([
                format!("visit {}", visit.visit),
                units.show_change(What::Percent, visit.scale),
                format!("± {}", units.show(What::Percent, visit.sd)),
            ]);
        }
        for pull in &self.pulls {
            table.row([
                format!("pull {}", pull.pull),
                units.show_change(What::Percent, pull.scale),
                format!("rms {}", units.show(What::Percent, pull.rms)),
            ]);
        }
        table.render()
    }

    fn learnt_text(&self) -> String {
        let mut out = String::from("\nWhat became of the numbers\n");
        let mut table = TextTable::new(1);
        table.row(["number", "before", "after", "doubt taken away"]);
        for l in &self.learnt {
            let doubt = |centre: f64, sd: f64| {
                if l.doubt_is_factor {
                    format!("{} {} */ {}", show_number(centre, 4), l.unit, show_number(sd.exp(), 3))
                } else {
                    format!("{} ± {} {}", show_number(centre, 4), show_number(sd, 2), l.unit)
                }
            };
            table.row([
                l.path.to_owned(),
                doubt(l.before, l.before_doubt),
                doubt(l.after, l.after_doubt),
                format!("{:.0} %", 100.0 * l.shrinkage),
            ]);
        }
        out.push_str(&table.render());
        for l in &self.learnt {
            if let Some(bound) = l.on_bound {
                out.push_str(&bullet(&format!("{} ended {bound}", l.path)));
            }
        }
        if !self.not_informed.is_empty() {
            let names = self.not_informed.join(", ");
            out.push_str(&paragraph("\nLeft as believed: ", &names, 2, WIDTH));
        }
        for pair in self.tied.iter().take(5) {
            out.push_str(&bullet(&format!("{} and {} are tied: correlation {:+.2}", pair.first, pair.second, pair.correlation)));
        }
        out
    }
}

/// `|###` for +0.3 %, `###|` for −0.3 %; longer than 2 % is cut and ends in a `>`.
fn bar(mean: f64) -> String {
    const MOST: usize = 20;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small positive count")]
    let tenths = (mean.abs() * 1000.0).round().min(1e6) as usize;
    let mut marks = "#".repeat(tenths.min(MOST));
    if tenths > MOST {
        marks.push('>');
    }
    if mean < 0.0 {
        let left: String = marks.chars().rev().map(|c| if c == '>' { '<' } else { c }).collect();
        format!("{left:>21}|")
    } else {
        format!("{:>21}|{marks}", "")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_points_the_way_the_measurement_lies() {
        assert_eq!(bar(0.003).trim_start(), "|###");
        assert_eq!(bar(-0.002).trim_start(), "##|");
        assert!(bar(-0.5).trim_start().starts_with("<####"));
        assert_eq!(bar(0.0004).trim_start(), "|");
    }

    #[test]
    fn every_stop_that_is_no_rest_says_so() {
        for stop in [Stop::NoProgress, Stop::NoSlopes, Stop::IterationLimit] {
            assert!(!stop.converged() && !stop_words(stop).starts_with("it came"), "{stop:?}");
        }
        assert_eq!(stop_words(Stop::CostSmall), "it came to rest");
    }
}
