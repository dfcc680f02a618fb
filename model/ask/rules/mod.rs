//! A class rule held against a curve: power, power to weight, and boost against what was declared.
//!
//! A rule is met or not met by a reading; whether the next reading meets it is a chance, because the same car reads another figure on another
//! day. Both are told. The reading is what the class says it is: corrected by its standard, averaged over its grid, the highest pull
//! or the mean of all. It refuses to judge what a class does not name, and to say anything of a car that is prepared for the check.

mod boost;

pub use boost::{Boost, Stretch};

use super::compare::levels::{counted, mean};
use super::compare::{CompareError, Pulls};
use super::quote;
use crate::belief::Noise;
use crate::belief::prior::HALF_WIDTH_90;
use crate::dyno::correction::Standard;
use crate::dyno::inertia_check::Known;
use crate::numeric::straight_between;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// What a class asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// Its name.
    pub name: String,
    /// Standard to which power is corrected.
    pub standard: Standard,
    /// Width of engine speed over which power is averaged, rpm; the averages stand at whole multiples of it.
    pub grid_rpm: f64,
    /// Which pulls count.
    pub pulls: Which,
    /// How far above a limit is let pass, relative.
    pub tolerance: f64,
    /// Most power, W.
    pub power_w: Option<f64>,
    /// Most power for each mass, W/kg.
    pub power_to_weight_w_kg: Option<f64>,
    /// Boost declared.
    pub boost: Option<Declared>,
}

/// Which pulls of a visit count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Which {
    /// The highest one.
    Highest,
    /// The mean of all.
    Mean,
}

/// Boost as declared, above the air outside.
#[derive(Debug, Clone, PartialEq)]
pub struct Declared {
    /// Engine speed, rpm, and gauge pressure, Pa, in order of speed; a single point holds at every speed.
    pub points: Vec<(f64, f64)>,
    /// How far above is let pass, Pa.
    pub tolerance_pa: f64,
}

/// The curve that is held against it.
#[derive(Debug, Clone, Copy)]
pub enum Source<'a> {
    /// Pulls of a visit.
    Measured {
        /// The pulls.
        pulls: Pulls<'a>,
        /// Mechanical efficiency, for the standard that asks for it.
        mechanical_efficiency: Option<f64>,
        /// How far readings stray.
        noise: &'a Noise,
    },
    /// A quote, its correction that of the class.
    Quoted(&'a quote::Answer),
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The class.
    pub class: &'a Class,
    /// The curve.
    pub source: Source<'a>,
    /// Mass as the class weighs it, kg.
    pub mass: Option<Known>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RulesError {
    /// No stretch of the curve is as wide as the grid.
    #[error("no pull covers a whole step of the grid ({grid_rpm:.0} rpm)")]
    Narrow {
        /// The grid.
        grid_rpm: f64,
    },
    /// Nobody says what the car weighs.
    #[error("this class limits power to weight: give --mass, as the class weighs the car")]
    NoMass,
    /// The drums read both axles.
    #[error(
        "these pulls hold electric power; the class's correction cannot be made without its share"
    )]
    Electric,
    /// Boost is declared, and no pull logged it.
    #[error(
        "boost is declared, and no pull logged manifold pressure or boost within its engine speeds"
    )]
    NoBoost,
    /// Boost is declared, and a quote is no log.
    #[error("boost is held against a log: name a visit")]
    BoostOfQuote,
    /// The quote is corrected by another standard.
    #[error("the quote is corrected by another standard than the class names")]
    AnotherStandard,
    /// The pulls cannot be read so.
    #[error(transparent)]
    Pulls(#[from] CompareError),
}

/// How a value stands to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// At the limit or below.
    Pass,
    /// Above, and not by more than the tolerance.
    WithinTolerance,
    /// Above by more.
    Over,
}

impl Standing {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Pass, Self::WithinTolerance, Self::Over];

    /// By the limit and what is let pass.
    fn of(value: f64, limit: f64, highest: f64) -> Self {
        if value <= limit {
            Self::Pass
        } else if value <= highest {
            Self::WithinTolerance
        } else {
            Self::Over
        }
    }
}

/// Chances of the three; their sum is one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Chances {
    /// At the limit or below.
    pub pass: f64,
    /// Above, within the tolerance.
    pub within_tolerance: f64,
    /// Above by more.
    pub over: f64,
}

/// What is known nine times in ten.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Figure {
    /// The figure.
    pub value: f64,
    /// Lower end of what the next check reads.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A limit, the figure held against it, and how it stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Held {
    /// The limit.
    pub limit: f64,
    /// The figure over the limit, less one.
    pub excess: f64,
    /// How it stands.
    pub standing: Standing,
    /// How the next check may stand.
    pub chance: Chances,
}

/// What was counted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Counted {
    /// Whether it was measured; otherwise quoted.
    pub measured: bool,
    /// The visit, or the plan that is quoted.
    pub name: String,
    /// Each pull's own figure and the engine speed in the middle of its stretch; one for a quote.
    pub pulls: Vec<PullLine>,
}

/// One pull.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullLine {
    /// What the shop calls it.
    pub name: String,
    /// Highest average.
    pub power_w: f64,
    /// Middle of its stretch.
    pub rpm: f64,
}

/// Mass to be put in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Ballast {
    /// So that the figure meets the limit.
    pub least_kg: f64,
    /// So that the next check meets it nine times in ten.
    pub sure_kg: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// The class.
    pub class: String,
    /// Standard of the corrected power.
    pub standard: Standard,
    /// Width of the averages.
    pub grid_rpm: f64,
    /// Which pulls count.
    pub which: Which,
    /// What is let pass.
    pub tolerance: f64,
    /// What was counted.
    pub counted: Counted,
    /// Power, W.
    pub power_w: Figure,
    /// Held against the class's limit.
    pub power: Option<Held>,
    /// Mass, kg, with one standard deviation.
    pub mass_kg: Option<(f64, f64)>,
    /// Power to weight, W/kg, with the doubts of both.
    pub power_to_weight_w_kg: Option<Figure>,
    /// Share of the mass's doubt in that of power to weight, of the variance.
    pub share_of_mass: Option<f64>,
    /// Held against the class's limit.
    pub power_to_weight: Option<Held>,
    /// Ballast that meets it; none where none is needed.
    pub ballast: Option<Ballast>,
    /// Boost held against what was declared.
    pub boost: Option<Boost>,
}

/// Highest average of a curve over stretches as wide as the grid, each about a whole multiple of it, with that multiple.
///
/// The curve is taken to be straight between its points, and its average is the integral over the stretch by its width.
/// Equation (8.18).
fn highest(rpm: &[f64], power_w: &[f64], grid_rpm: f64) -> Option<(f64, f64)> {
    let (first, last) = (*rpm.first()?, *rpm.last()?);
    let mut best: Option<(f64, f64)> = None;
    let mut centre = (first / grid_rpm).ceil() * grid_rpm;
    while centre <= last {
        let (from, to) = (centre - 0.5 * grid_rpm, centre + 0.5 * grid_rpm);
        if let Some(average) = average(rpm, power_w, from, to)
            && best.is_none_or(|(most, _)| average > most)
        {
            best = Some((average, centre));
        }
        centre += grid_rpm;
    }
    best
}

/// Average of a curve of straight lines from one place to another; none where it does not reach both.
fn average(xs: &[f64], ys: &[f64], from: f64, to: f64) -> Option<f64> {
    let mut points = vec![(from, straight_between(xs, ys, from)?)];
    let within = xs.iter().zip(ys).filter(|(x, _)| from < **x && **x < to);
    points.extend(within.map(|(x, y)| (*x, *y)));
    points.push((to, straight_between(xs, ys, to)?));
    let area: f64 = points
        .windows(2)
        .map(|w| 0.5 * (w[1].0 - w[0].0) * (w[0].1 + w[1].1))
        .sum();
    Some(area / (to - from))
}

/// Chances of a figure whose logarithm strays by `sd` to stand so and so.
fn chances(value: f64, sd: f64, limit: f64, tolerance: f64) -> Chances {
    let below = |limit: f64| {
        let off = (limit / value).ln();
        Normal::new(0.0, sd).map_or(f64::from(u8::from(off >= 0.0)), |law| law.cdf(off))
    };
    let (pass, let_pass) = (below(limit), below(limit * (1.0 + tolerance)));
    Chances {
        pass,
        within_tolerance: let_pass - pass,
        over: 1.0 - let_pass,
    }
}

fn figure(value: f64, sd: f64) -> Figure {
    let half = (HALF_WIDTH_90 * sd).exp();
    Figure {
        value,
        low: value / half,
        high: value * half,
    }
}

/// The 90 % quantile of the normal distribution.
const NORMAL_90: f64 = 1.281_551_565_544_600_4;

impl Question<'_> {
    /// Holds the curve against the class.
    pub fn answer(&self) -> Result<Answer, RulesError> {
        let class = self.class;
        let (counted, value, sd) = self.counted()?;
        let held = |value: f64, sd: f64, limit: f64| Held {
            limit,
            excess: value / limit - 1.0,
            standing: Standing::of(value, limit, limit * (1.0 + class.tolerance)),
            chance: chances(value, sd, limit, class.tolerance),
        };
        if class.power_to_weight_w_kg.is_some() && self.mass.is_none() {
            return Err(RulesError::NoMass);
        }
        // Relative doubts of a quotient add as squares.
        let mass = self
            .mass
            .map(|mass| (mass, value / mass.value, sd.hypot(mass.sd / mass.value)));
        let to_weight = class.power_to_weight_w_kg.zip(mass);
        let ballast = to_weight.and_then(|(limit, (mass, _, sd))| {
            let more = |power_w: f64| (power_w / limit - mass.value).max(0.0);
            let ballast = Ballast {
                least_kg: more(value),
                sure_kg: more(value * (NORMAL_90 * sd).exp()),
            };
            (ballast.sure_kg > 0.0).then_some(ballast)
        });
        Ok(Answer {
            class: class.name.clone(),
            standard: class.standard,
            grid_rpm: class.grid_rpm,
            which: class.pulls,
            tolerance: class.tolerance,
            counted,
            power_w: figure(value, sd),
            power: class.power_w.map(|limit| held(value, sd, limit)),
            mass_kg: mass.map(|(mass, ..)| (mass.value, mass.sd)),
            power_to_weight_w_kg: mass.map(|(_, ratio, sd)| figure(ratio, sd)),
            share_of_mass: mass.map(|(mass, _, sd)| (mass.sd / mass.value / sd).powi(2)),
            power_to_weight: to_weight.map(|(limit, (_, ratio, sd))| held(ratio, sd, limit)),
            ballast,
            boost: match &class.boost {
                Some(declared) => Some(self.boost(declared)?),
                None => None,
            },
        })
    }

    /// What counts, its figure, and how far the logarithm of the next check's strays.
    ///
    /// ```text
    /// measured: sd² = 2 (visit² + pull²/n),   quoted: sd = ln(p95/p5)/(2 · 1.645)
    /// ```
    ///
    /// The next check is another visit to the same rig with as many pulls; a quote's range holds the visit already. Where the highest pull counts its
    /// own stray is that of a mean all the same: of two normal strays the highest has 0.68 of one's variance (1 − 1/π) and not 0.5, which with the usual
    /// sizes makes sd 2 % too small.
    fn counted(&self) -> Result<(Counted, f64, f64), RulesError> {
        let class = self.class;
        let narrow = RulesError::Narrow {
            grid_rpm: class.grid_rpm,
        };
        match self.source {
            Source::Measured {
                pulls,
                mechanical_efficiency,
                noise,
            } => {
                let found = counted(pulls, None, class.standard, mechanical_efficiency)?;
                if found.standard != class.standard {
                    return Err(RulesError::Electric);
                }
                let lines = found.entries.iter().map(|entry| {
                    let bands = &entry.curve.bands;
                    let rpm: Vec<f64> = bands.iter().map(|band| band.rpm).collect();
                    let power: Vec<f64> = bands
                        .iter()
                        .map(|band| entry.correction.apply(band.power_w, 0.0).total_w)
                        .collect();
                    let (power_w, rpm) = highest(&rpm, &power, class.grid_rpm)?;
                    let name = entry.name.clone();
                    Some(PullLine { name, power_w, rpm })
                });
                let lines: Vec<PullLine> = lines.collect::<Option<_>>().ok_or(narrow)?;
                let figures: Vec<f64> = lines.iter().map(|line| line.power_w).collect();
                let value = match class.pulls {
                    Which::Highest => figures.iter().copied().fold(0.0, f64::max),
                    Which::Mean => mean(&figures),
                };
                let of_visit = noise.visit.powi(2) + noise.pull.powi(2) / figures.len() as f64;
                let counted = Counted {
                    measured: true,
                    name: pulls.visit.name.clone(),
                    pulls: lines,
                };
                Ok((counted, value, (2.0 * of_visit).sqrt()))
            }
            Source::Quoted(answer) => {
                if answer.promise.correction != class.standard {
                    return Err(RulesError::AnotherStandard);
                }
                let rpm: Vec<f64> = answer.curve.iter().map(|point| point.rpm).collect();
                let middle = answer.curve.iter().map(|point| point.after_w.range.p50);
                let middle: Vec<f64> = middle.collect();
                let top = middle.iter().copied().fold(0.0, f64::max);
                let (average, at) = highest(&rpm, &middle, class.grid_rpm).ok_or(narrow)?;
                // The quoted peak, less what the average takes off the top of the middle curve.
                let peak = &answer.promise.corrected_power_w;
                let value = peak.p50 * average / top;
                let counted = Counted {
                    measured: false,
                    name: answer.basis.plan.clone(),
                    pulls: vec![PullLine {
                        name: answer.basis.car.clone(),
                        power_w: value,
                        rpm: at,
                    }],
                };
                let sd = (peak.p95 / peak.p5).ln() / (2.0 * HALF_WIDTH_90);
                Ok((counted, value, sd))
            }
        }
    }
}

impl Answer {
    /// How the car stands to everything the class limits.
    pub fn standing(&self) -> Standing {
        let power = self.power.map(|held| held.standing);
        let weight = self.power_to_weight.map(|held| held.standing);
        let boost = self.boost.as_ref().map(|boost| boost.standing);
        let worst = power.into_iter().chain(weight).chain(boost).max();
        worst.unwrap_or(Standing::Pass)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_average_of_a_line_is_its_middle_and_of_a_peak_less_than_the_peak() {
        let rpm: Vec<f64> = (0..=40).map(|i| 2000.0 + 100.0 * f64::from(i)).collect();
        let line: Vec<f64> = rpm.iter().map(|n| 10.0 * n).collect();
        // Stretches of 500 rpm about 2500 ... 5500: the last whole one that the curve holds is about 5500.
        let (most, at) = highest(&rpm, &line, 500.0).expect("a stretch");
        assert_eq!(at, 5500.0);
        assert!((most - 55_000.0).abs() < 1e-6);
        // A roof of height 100 over ±500 rpm, 10 % off a rpm share: its average over 500 rpm about the ridge is 100 − 0.1 · 125.
        let roof: Vec<f64> = rpm
            .iter()
            .map(|n| 100.0 - 0.1 * (n - 4000.0).abs())
            .collect();
        let (most, at) = highest(&rpm, &roof, 500.0).expect("a stretch");
        assert_eq!(at, 4000.0);
        assert!((most - 87.5).abs() < 1e-9, "{most}");
        assert!(highest(&rpm, &roof, 5000.0).is_none());
    }

    /// Φ(1) = 0.8413 and Φ(−1) = 0.1587, of every table of the normal distribution (from memory).
    #[test]
    fn chances_are_those_of_the_normal_distribution() {
        let found = chances(100.0, 0.02, 100.0 * (-0.02_f64).exp(), (0.04_f64).exp_m1());
        assert!((found.pass - 0.1587).abs() < 5e-5, "{found:?}");
        assert!((found.over - 0.1587).abs() < 5e-5, "{found:?}");
        assert!((found.within_tolerance - 0.6827).abs() < 1e-4, "{found:?}");
        let exact = chances(101.0, 0.0, 100.0, 0.02);
        assert_eq!((exact.pass, exact.within_tolerance), (0.0, 1.0));
    }

    #[test]
    fn what_is_over_is_told_by_its_size() {
        assert_eq!(Standing::of(100.0, 100.0, 102.0), Standing::Pass);
        assert_eq!(Standing::of(101.0, 100.0, 102.0), Standing::WithinTolerance);
        assert_eq!(Standing::of(102.1, 100.0, 102.0), Standing::Over);
    }
}
