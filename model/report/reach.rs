//! The answer to "what does it take": one value of one number of the plan, or what stands in the way.
//!
//! "Not reachable, because" is an answer like any other: it names the limit, where it begins, and how far one gets without it. The
//! values tried stand below, so that nobody has to take one number on trust.

use super::basis::{Corrected, Weather};
use super::fit::FitReport;
use super::limits::{LimitLine, remedy};
use super::number::{Span, Units, What};
use super::table::{TextTable, WIDTH, bullet, paragraph};
use super::{Report, heading};
use crate::ask::quote::reach::{Bar, Spot};
use crate::ask::quote::{Answer, Dial, Reach, Reached};
use serde::Serialize;
use std::f64::consts::TAU;

/// What was asked and found.
#[derive(Debug, Clone, Serialize)]
pub struct ReachReport {
    /// The car's name.
    pub car: String,
    /// The plan's name.
    pub plan: String,
    /// The number that was turned, in words.
    pub number: &'static str,
    /// Its unit in this document: none but for the redline, in rpm.
    pub number_unit: &'static str,
    /// Its range.
    pub range: (f64, f64),
    /// Where the plan stands.
    pub planned: f64,
    /// Power asked for.
    pub target_w: f64,
    /// Whether that is corrected power.
    pub corrected: bool,
    /// Chance asked for.
    pub chance: f64,
    /// The answer.
    pub answer: AnswerLine,
    /// Values tried, ascending.
    pub trials: Vec<TrialLine>,
    /// The fit made for it, if one was.
    pub fit: Option<FitReport>,
    /// Whether the car's numbers come from a fit.
    pub fitted: bool,
    /// Air of the pull after.
    pub weather: Weather,
    /// Correction on that day.
    pub correction: Corrected,
    /// Draws made.
    pub draws: usize,
    /// Draws in which the car could not make a pull before the work.
    pub draws_failed: usize,
    /// Seed of the draws.
    pub seed: u64,
    #[serde(skip)]
    dial: Dial,
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct AnswerLine {
    /// `as_planned`, `at`, `limit`, `end_of_range`, `plateau` or `crest`.
    pub kind: &'static str,
    /// Whether the power is reached with no limit crossed.
    pub reachable: bool,
    /// The value, or the best one where it is not reachable; none if every value crosses a limit.
    pub best: Option<SpotLine>,
    /// What is missing there, with the chance asked for; none where it is reachable.
    pub short_w: Option<f64>,
    /// First and last of the values over which power stays the same; none unless it levels off.
    pub level: Option<[f64; 2]>,
    /// Value from which the limit is crossed.
    pub limit_from: Option<f64>,
    /// The limit.
    pub limit: Option<BarLine>,
}

/// One value in full.
#[derive(Debug, Clone, Serialize)]
pub struct SpotLine {
    /// The value.
    pub value: f64,
    /// Power that is reached with the chance asked for.
    pub sure_w: f64,
    /// Chance of the power asked for.
    pub chance: f64,
    /// Range of the power.
    pub power_w: Span,
    /// Engine speed of peak power at the centre of the beliefs.
    pub rpm: f64,
    /// Manifold pressure above the air outside at that peak.
    pub boost_pa: f64,
    /// Charge temperature at that peak.
    pub charge_k: f64,
    /// Blower speed over engine speed there; none without a blower.
    pub blower_ratio: Option<f64>,
    /// Limits met.
    pub limits: Vec<LimitLine>,
}

/// One value tried.
#[derive(Debug, Clone, Serialize)]
pub struct TrialLine {
    /// The value.
    pub value: f64,
    /// Power that is reached with the chance asked for; none where a limit is crossed.
    pub sure_w: Option<f64>,
    /// The limit.
    pub limit: Option<BarLine>,
}

/// What must not be.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct BarLine {
    /// In words.
    pub limit: &'static str,
    /// Lowest engine speed; none where the car does not start.
    pub from_rpm: Option<f64>,
    /// Highest.
    pub to_rpm: Option<f64>,
    /// What lifts it.
    pub remedy: &'static str,
}

impl From<Bar> for BarLine {
    fn from(bar: Bar) -> Self {
        let (limit, rpm, remedy) = match bar {
            Bar::Limit { limit, rpm } => (limit.words(), Some(rpm), remedy(limit)),
            Bar::Stalled { rpm } => (
                "the car cannot accelerate these drums",
                rpm.map(|rpm| (rpm, rpm)),
                "A lower gear reaches higher engine speed.",
            ),
        };
        Self {
            limit,
            from_rpm: rpm.map(|r| r.0),
            to_rpm: rpm.map(|r| r.1),
            remedy,
        }
    }
}

impl BarLine {
    fn words(&self, units: Units) -> String {
        match (self.from_rpm, self.to_rpm) {
            (Some(from), Some(to)) if from < to => format!(
                "{}, from {} to {}",
                self.limit,
                units.cell(What::Rpm, from),
                units.show(What::Rpm, to)
            ),
            (Some(from), _) => format!("{}, at {}", self.limit, units.show(What::Rpm, from)),
            _ => self.limit.to_owned(),
        }
    }
}

/// What stands beside the answer.
#[derive(Debug, Clone)]
pub struct Grounds {
    /// The fit made for it, if one was.
    pub fit: Option<FitReport>,
    /// Whether the car's numbers come from a fit.
    pub fitted: bool,
    /// Air of the pull after.
    pub weather: Weather,
}

impl ReachReport {
    /// Puts an answer in words.
    pub fn new(reach: &Reach<'_>, reached: &Reached, grounds: Grounds) -> Self {
        let ambient_pa = grounds.weather.station_pressure_pa;
        Self {
            car: reach.question.sheet.centre.car.name.clone(),
            plan: reach.question.plan.name.clone(),
            number: reach.dial.words(),
            number_unit: if reach.dial == Dial::Redline {
                "rpm"
            } else {
                ""
            },
            range: reached.range,
            planned: reached.own,
            target_w: reach.target_w,
            corrected: reach.corrected,
            chance: reach.chance,
            answer: answer(&reached.answer, reach.target_w, ambient_pa),
            trials: reached
                .trials
                .iter()
                .map(|t| TrialLine {
                    value: t.value,
                    sure_w: t.power_w,
                    limit: t.bar.map(BarLine::from),
                })
                .collect(),
            fit: grounds.fit,
            fitted: grounds.fitted,
            weather: grounds.weather,
            correction: Corrected::from(&reached.correction),
            draws: reached.draws.0,
            draws_failed: reached.draws.1,
            seed: reach.question.seed,
            dial: reach.dial,
        }
    }
}

fn answer(answer: &Answer, target_w: f64, ambient_pa: f64) -> AnswerLine {
    let line = |kind, reachable, best: Option<&Spot>| AnswerLine {
        kind,
        reachable,
        short_w: best
            .map(|spot| target_w - spot.sure_w)
            .filter(|_| !reachable),
        best: best.map(|spot| spot_line(spot, ambient_pa)),
        level: None,
        limit_from: None,
        limit: None,
    };
    match answer {
        Answer::AsPlanned(spot) => line("as_planned", true, Some(spot)),
        Answer::At(spot) => line("at", true, Some(spot)),
        Answer::Barred { best, from, bar } => AnswerLine {
            limit_from: Some(*from),
            limit: Some((*bar).into()),
            ..line("limit", false, best.as_ref())
        },
        Answer::OutOfRange { best } => line("end_of_range", false, Some(best)),
        Answer::Levels { best, over } => AnswerLine {
            level: Some([over.0, over.1]),
            ..line("plateau", false, Some(best))
        },
        Answer::Turns { best } => line("crest", false, Some(best)),
    }
}

fn spot_line(spot: &Spot, ambient_pa: f64) -> SpotLine {
    let peak = spot.centre.peak_power();
    let at = |of: fn(&crate::dyno::PullPoint) -> f64| peak.map_or(f64::NAN, of);
    let turbo = peak.is_some_and(|p| p.engine.shaft.is_some());
    let turns = at(|p| p.engine.blower.speed_rad_s / (p.rpm * TAU / 60.0));
    SpotLine {
        value: spot.value,
        sure_w: spot.sure_w,
        chance: spot.chance,
        power_w: spot.power_w.into(),
        rpm: at(|p| p.rpm),
        boost_pa: at(|p| p.engine.manifold_pa) - ambient_pa,
        charge_k: at(|p| p.engine.charge_k),
        blower_ratio: (turns > 0.0 && !turbo).then_some(turns),
        limits: spot.limits.iter().map(LimitLine::from).collect(),
    }
}

impl Report for ReachReport {
    const SCHEMA: &'static str = "pullcast/reach/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading(&format!(
            "What it takes: {} of {}, with {}",
            units.show(What::Power, self.target_w),
            self.car,
            self.plan
        ));
        out.push_str(&paragraph("", &self.sentence(units), 0, WIDTH));
        out.push('\n');
        out.extend(self.fit.iter().map(|fit| fit.misfits_text(units)));
        if let Some(best) = &self.answer.best {
            out.push_str(&self.spot_text(best, units));
        }
        out.push_str(&self.trials_text(units));
        out.push_str(&self.basis_text(units));
        out
    }
}

impl ReachReport {
    /// A value of the number, as a shop writes it.
    fn value(&self, value: f64, units: Units) -> String {
        match self.dial {
            Dial::Redline => units.show(What::Rpm, value),
            Dial::Ethanol => format!("{:.1} %", 100.0 * value),
            Dial::Octane => format!("{value:.1}"),
            _ => format!("{value:.3}"),
        }
    }

    fn figure(&self) -> &'static str {
        if self.corrected {
            "corrected"
        } else {
            "uncorrected"
        }
    }

    fn sentence(&self, units: Units) -> String {
        let power = |w| units.show(What::Power, w);
        let value = |v| self.value(v, units);
        let chance = format!("{:.0} %", 100.0 * self.chance);
        let (target, number, figure) = (power(self.target_w), self.number, self.figure());
        let planned = value(self.planned);
        let Some(best) = &self.answer.best else {
            let limit = self.answer.limit.map_or_else(String::new, |bar| {
                format!(" As planned, {}. {}", bar.words(units), bar.remedy)
            });
            return format!(
                "Not reachable because every value of the {number} from {} to {} crosses a limit.{limit}",
                value(self.range.0),
                value(self.range.1)
            );
        };
        let at = value(best.value);
        let gets = format!(
            "{} {figure} with {chance} chance, {} short",
            power(best.sure_w),
            power(self.answer.short_w.unwrap_or(0.0))
        );
        match (self.answer.kind, self.answer.limit, self.answer.limit_from) {
            ("as_planned", ..) => format!(
                "The plan does it as it stands ({number}: {at}): the drums read {target} or more, {figure}, with {:.0} % chance, \
                 where {chance} was asked for, and no limit is crossed.",
                100.0 * best.chance
            ),
            ("at", ..) => format!(
                "It takes {at} ({number}; the plan has {planned}): the drums then read {target} or more, {figure}, with {chance} chance, \
                 and no limit is crossed."
            ),
            (_, Some(bar), Some(from)) => format!(
                "Not reachable because of a limit: {}, once the {number} is {}. Up to there, at {at}, one gets {gets}. {}",
                bar.words(units),
                value(from),
                bar.remedy
            ),
            ("end_of_range", ..) => {
                format!("Not reachable because the {number} ends at {at}: there one gets {gets}.")
            }
            ("plateau", ..) => {
                let [from, to] = self.answer.level.unwrap_or([best.value; 2]);
                format!(
                    "Not reachable because power levels off: from {} to {} ({number}) it stays the same. There, as at {at}, one gets {gets}.",
                    value(from),
                    value(to)
                )
            }
            _ => format!(
                "Not reachable because power turns: from {at} ({number}) both more and less give less. There one gets {gets}."
            ),
        }
    }

    fn spot_text(&self, spot: &SpotLine, units: Units) -> String {
        let mut table = TextTable::new("l");
        table.row([
            format!("peak power, {}", self.figure()),
            units.range(What::Power, &spot.power_w),
        ]);
        table.row([
            format!("chance of {}", units.show(What::Power, self.target_w)),
            format!("{:.0} %", 100.0 * spot.chance),
        ]);
        table.row(["peak near".to_owned(), units.show(What::PeakRpm, spot.rpm)]);
        if spot.blower_ratio.is_some() || spot.boost_pa > 0.0 {
            table.row([
                "boost there".to_owned(),
                units.show(What::Pressure, spot.boost_pa),
            ]);
        }
        if let Some(ratio) = spot.blower_ratio {
            table.row(["blower over engine speed".to_owned(), format!("{ratio:.3}")]);
        }
        table.row([
            "charge there".to_owned(),
            units.show(What::Temperature, spot.charge_k),
        ]);
        let mut out = format!("At {}\n{}", self.value(spot.value, units), table.render());
        if !spot.limits.is_empty() {
            out.push_str("\nLimits met there, at the centre of the beliefs or in some draws\n");
            out.extend(spot.limits.iter().map(|limit| limit.text(units)));
        }
        out
    }

    fn trials_text(&self, units: Units) -> String {
        let mut table = TextTable::new("l");
        table.row([
            "value".to_owned(),
            format!("reached with {:.0} % chance", 100.0 * self.chance),
            "limit crossed".to_owned(),
        ]);
        for trial in &self.trials {
            table.row([
                self.value(trial.value, units),
                trial
                    .sure_w
                    .map_or_else(|| "-".to_owned(), |w| units.show(What::Power, w)),
                trial.limit.map_or_else(String::new, |bar| bar.words(units)),
            ]);
        }
        format!("\nTried: {}\n{}", self.number, table.render())
    }

    fn basis_text(&self, units: Units) -> String {
        let mut out = String::from("\nBasis\n");
        out.push_str(&bullet(match (&self.fit, self.fitted) {
            (Some(_), _) => "the car as calibrated on the visits named",
            (None, true) => "a fitted car file",
            (None, false) => {
                "a car file without measured pulls: calibrate it on a visit to need less margin"
            }
        }));
        out.push_str(&bullet(&format!(
            "air of the pull after: {}",
            self.weather.line(units)
        )));
        if self.corrected {
            out.push_str(&bullet(&format!("corrected by {}", self.correction.line())));
        }
        out.push_str(&bullet(
            "a limit counts as crossed where the car at the centre of its beliefs meets it. Held-back spark, an open bypass and inlet \
             valves near choking cost power, harm nothing and do not count",
        ));
        out.push_str(&bullet(&format!(
            "{} draws of car, work and drums, the same for every value, seed {}",
            self.draws, self.seed
        )));
        if self.draws_failed > 0 {
            out.push_str(&bullet(&format!(
                "{} draws could not make the pull and are left out",
                self.draws_failed
            )));
        }
        out
    }
}
