//! A diagnosis as charts: the chances of the causes, and what the log shows over engine speed against what each likely cause makes it.

use super::{Bar, Chart, Curve, Curves, Figure, Mark, Named, Panel, Pen, Point};
use crate::ask::diagnose::{Answer, IN_FULL, LEAST_TOLD, Of, SignLine, SuspectLine};
use crate::diagnose::Channel;
use crate::report::diagnose::channel as channel_name;
use crate::report::number::{Units, What, chance};

/// Most causes whose curves are drawn: each has a pen of its own.
const PENS: [Pen; 3] = [Pen::Main, Pen::Other, Pen::Third];
/// Signs that are marked on the curves of the likeliest cause.
const MARKED: usize = 3;

/// The charts of a diagnosis.
pub(in crate::report) fn charts(answer: &Answer, units: Units) -> Vec<Chart> {
    let likely: Vec<(&SuspectLine, Pen)> = answer
        .suspects
        .iter()
        .enumerate()
        .filter(|(place, s)| *place == 0 || s.probability >= IN_FULL)
        .map(|(_, suspect)| suspect)
        .zip(PENS)
        .collect();
    let mut charts = vec![chances(answer)];
    let panels: Vec<Panel> = answer
        .channels
        .iter()
        .filter_map(|&channel| panel(channel, &likely, units))
        .map(Panel::Curves)
        .collect();
    if !panels.is_empty() {
        charts.push(Chart {
            title: format!("What the log shows: '{}' of {}", answer.pull, answer.car),
            caption: "Dots: the log, less a sound pull in that air. Lines: what each cause would make it; the cause whose line follows the dots in \
                      every panel is the one. Rings: what speaks most for the likeliest."
                .to_owned(),
            figure: Figure::over_engine_speed(panels),
        });
    }
    charts
}

fn chances(answer: &Answer) -> Chart {
    let bar = |(place, suspect): (usize, &SuspectLine)| Bar {
        name: suspect.cause.name().to_owned(),
        from: 0.0,
        to: 100.0 * suspect.probability,
        middle: None,
        text: chance(suspect.probability),
        pen: if place == 0 { Pen::Main } else { Pen::Third },
    };
    Chart {
        title: format!("What may be wrong: '{}' of {}", answer.pull, answer.car),
        caption: "Chance of each cause, given the log; those under 1 % are left out.".to_owned(),
        figure: Figure::Bars {
            axis: "chance, %".to_owned(),
            rows: answer
                .suspects
                .iter()
                .filter(|suspect| suspect.probability >= LEAST_TOLD)
                .enumerate()
                .map(bar)
                .collect(),
        },
    }
}

/// A difference in a channel, as shown, and its unit.
fn shown(channel: Channel, difference: f64, units: Units) -> (f64, &'static str) {
    match channel {
        Channel::Power | Channel::DrumRatio | Channel::BlowerRatio => {
            (100.0 * difference.exp_m1(), "%")
        }
        Channel::Manifold => (
            units.convert(What::Pressure, difference),
            units.symbol(What::Pressure),
        ),
        Channel::Charge => (
            units.convert(What::TemperatureDifference, difference),
            units.symbol(What::TemperatureDifference),
        ),
        Channel::Lambda => (difference, ""),
        Channel::Spark => (difference, "deg"),
    }
}

/// What a sound log strays by about: a scale that holds it does not blow noise up into a sign.
fn noise(channel: Channel) -> [f64; 2] {
    let size = match channel {
        Channel::Power | Channel::Lambda | Channel::DrumRatio | Channel::BlowerRatio => 0.02,
        Channel::Manifold => 2e3,
        Channel::Charge | Channel::Spark => 3.0,
    };
    [-size, size]
}

fn panel(channel: Channel, likely: &[(&SuspectLine, Pen)], units: Units) -> Option<Curves> {
    let at = |difference: f64| shown(channel, difference, units).0;
    let unit = shown(channel, 0.0, units).1;
    let trace = |suspect: &SuspectLine| {
        let mut traces = suspect.traces.iter();
        traces.find(|t| t.channel == channel).cloned()
    };
    let first = likely.iter().find_map(|(suspect, _)| trace(suspect))?;
    let seen = first.points.iter().map(|p| Point::bare(p.0, at(p.1)));
    let mut curves = vec![Curve::new("log", Pen::Read, seen)];
    for (suspect, pen) in likely.iter().rev() {
        if let Some(trace) = trace(suspect) {
            let points = trace.points.iter().map(|p| Point::bare(p.0, at(p.2)));
            curves.push(Curve::new(suspect.cause.name(), *pen, points));
        }
    }
    let signs = likely.first().map_or(&[][..], |(suspect, _)| {
        &suspect.signs[..suspect.signs.len().min(MARKED)]
    });
    let mark = |sign: &SignLine| {
        let (y, _) = shown(channel, sign.seen, units);
        let number = if unit.is_empty() {
            format!("{y:+.3}")
        } else {
            format!("{y:+.1} {unit}")
        };
        (sign.of == Of::Channel(channel)).then_some(Mark {
            x: sign.rpm?,
            y,
            text: number,
            pen: Pen::Main,
            above: y >= 0.0,
        })
    };
    let name = channel_name(channel);
    let unit = if unit.is_empty() {
        String::new()
    } else {
        format!(", {unit}")
    };
    let mut letters = name.chars();
    let name: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .chain(letters)
        .collect();
    Some(Curves {
        name: format!("{name}, less a sound pull{unit}"),
        curves,
        marks: signs.iter().filter_map(mark).collect(),
        holds: noise(channel).map(at).to_vec(),
        levels: vec![Named {
            y: 0.0,
            text: String::new(),
        }],
        ..Curves::default()
    })
}
