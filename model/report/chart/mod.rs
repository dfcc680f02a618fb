//! Charts as values: what is drawn, in shown units, before it is drawn.
//!
//! A chart belongs to the same [`Document`](super::Document) as the text. It holds no physics and no place on paper: curves with their ranges,
//! named where they end; marks with the figure they stand for; limits from where they begin. What gives them a place and a pen is [`svg`]. It refuses
//! a legend: a reader should not have to look up which line is which.

pub(super) mod beside;
pub(super) mod closed;
pub(super) mod compare;
pub(super) mod diagnose;
pub(super) mod fit;
pub mod png;
pub(super) mod predict;
pub(super) mod quote;
pub(super) mod sequence;
pub(super) mod spread;
pub mod svg;

use super::number::{CERTAIN, Span, Units, What, chance};
use crate::ask::limits::LimitLine;
use crate::ask::quote::Fan;
use serde::Serialize;

/// A chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chart {
    /// What it shows, in one line.
    pub title: String,
    /// How to read it, and what the numbers are: units, correction, ranges.
    pub caption: String,
    /// What is drawn.
    #[serde(flatten)]
    pub figure: Figure,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "figure", rename_all = "snake_case")]
pub enum Figure {
    /// Panels one below the other over one horizontal axis.
    Panels {
        /// Name of the axis, with its unit.
        axis: String,
        /// From the top down.
        panels: Vec<Panel>,
    },
    /// A bar for each row, on one scale.
    Bars {
        /// Name of the scale, with its unit.
        axis: String,
        /// From the top down.
        rows: Vec<Bar>,
    },
    /// A number for each month and hour.
    Hours {
        /// What the numbers are, with their unit.
        name: String,
        /// Those that are known.
        cells: Vec<HourCell>,
    },
}

/// One panel.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "panel", rename_all = "snake_case")]
pub enum Panel {
    /// Curves on a vertical scale.
    Curves(Curves),
    /// Stretches of the horizontal axis, each with its words.
    Stretches(Vec<Stretch>),
}

impl Figure {
    /// Panels over engine speed.
    fn over_engine_speed(panels: Vec<Panel>) -> Self {
        Self::Panels {
            axis: ENGINE_SPEED.to_owned(),
            panels,
        }
    }
}

/// Curves on one vertical scale.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Curves {
    /// What the scale measures, with unit and correction.
    pub name: String,
    /// Whether the scale begins at nothing, so that a difference looks as large as it is.
    pub from_zero: bool,
    /// Numbers that the scale has to hold, so that what is small does not look large.
    pub holds: Vec<f64>,
    /// Whether it is the chart's main panel.
    pub tall: bool,
    /// The curves; later ones are drawn over earlier ones.
    pub curves: Vec<Curve>,
    /// Single points that are named.
    pub marks: Vec<Mark>,
    /// Levels that are named.
    pub levels: Vec<Named>,
}

impl Curves {
    /// The main panel of power as read.
    fn power(curves: Vec<Curve>, units: Units) -> Self {
        Self {
            name: as_read("Power", What::Power, units),
            from_zero: true,
            tall: true,
            curves,
            ..Self::default()
        }
    }
}

/// A level, and what it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Named {
    /// Where.
    pub y: f64,
    /// What it is.
    pub text: String,
}

/// Whose curve it is: each has a pen of its own in every chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Pen {
    /// The answer: the car after the work, the likeliest cause.
    Main,
    /// What it is held against: the car before, the next cause.
    Other,
    /// A third.
    Third,
    /// A fourth.
    Fourth,
    /// Read on a rig: dots.
    Read,
}

/// One curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// Its name, written where it ends.
    pub name: String,
    /// Its pen.
    pub pen: Pen,
    /// From left to right.
    pub points: Vec<Point>,
}

/// One point of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Along the horizontal axis.
    pub x: f64,
    /// The middle.
    pub y: f64,
    /// Where half of all readings lie.
    pub half: Option<(f64, f64)>,
    /// Where nine in ten lie.
    pub most: Option<(f64, f64)>,
}

/// A named point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// Along the horizontal axis.
    pub x: f64,
    /// Along the vertical one.
    pub y: f64,
    /// Its words.
    pub text: String,
    /// Whose it is.
    pub pen: Pen,
    /// Whether the words stand above it.
    pub above: bool,
}

/// A stretch of the horizontal axis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stretch {
    /// Its words.
    pub text: String,
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Whether it weighs: a limit that caps power does.
    pub strong: bool,
}

/// A bar.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bar {
    /// What it is.
    pub name: String,
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// A stroke across it.
    pub middle: Option<f64>,
    /// Its figure in words.
    pub text: String,
    /// Its pen.
    pub pen: Pen,
}

/// One hour of the day of one month.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HourCell {
    /// Month, 1 to 12.
    pub month: u8,
    /// Hour of the day, 0 to 23.
    pub hour: u8,
    /// The number, as shown.
    pub value: f64,
}

/// Name of the axis of engine speed.
const ENGINE_SPEED: &str = "engine speed, rpm";

impl Point {
    const fn bare(x: f64, y: f64) -> Self {
        Self {
            x,
            y,
            half: None,
            most: None,
        }
    }

    /// A fan, in shown units.
    fn fan(x: f64, fan: &Fan, convert: impl Fn(f64) -> f64) -> Self {
        let fan = fan.map(convert);
        Self {
            x,
            y: fan.range.p50,
            half: Some((fan.p25, fan.p75)),
            most: Some((fan.range.p5, fan.range.p95)),
        }
    }

    /// A range, in shown units.
    fn range(x: f64, span: &Span, convert: impl Fn(f64) -> f64) -> Self {
        let span = span.map(convert);
        Self {
            x,
            y: span.p50,
            half: None,
            most: Some((span.p5, span.p95)),
        }
    }

    /// Lowest and highest that is drawn of it.
    fn extent(&self) -> (f64, f64) {
        let (low, high) = self.most.unwrap_or((self.y, self.y));
        (low.min(self.y), high.max(self.y))
    }
}

impl Curve {
    fn new(name: impl Into<String>, pen: Pen, points: impl IntoIterator<Item = Point>) -> Self {
        let drawable = |p: &Point| p.x.is_finite() && p.y.is_finite();
        Self {
            name: name.into(),
            pen,
            points: points.into_iter().filter(drawable).collect(),
        }
    }
}

/// A quantity on the drums, uncorrected, with its unit.
fn as_read(quantity: &str, what: What, units: Units) -> String {
    format!(
        "{quantity} on the drums, uncorrected, {}",
        units.symbol(what)
    )
}

/// Limits of the car with the engine speeds over which they hold; nothing where none has any.
fn limits(lines: &[LimitLine]) -> Option<Panel> {
    let stretch = |line: &LimitLine| {
        let share = match line.share_of_draws {
            Some(share) if share < CERTAIN => format!(", {} chance", chance(share)),
            _ => String::new(),
        };
        let from = line.from_rpm?;
        Some(Stretch {
            text: format!("{}, from {from:.0} rpm{share}", line.limit.words()),
            from,
            to: line.to_rpm?,
            strong: line.caps_power,
        })
    };
    let stretches: Vec<Stretch> = lines.iter().filter_map(stretch).collect();
    (!stretches.is_empty()).then_some(Panel::Stretches(stretches))
}

/// A car's name, with the plan's.
fn subject(car: &str, plan: Option<&str>) -> String {
    match plan {
        Some(plan) => format!("{car}, with {plan}"),
        None => car.to_owned(),
    }
}
