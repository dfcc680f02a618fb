//! A comparison as a chart: power before and after, the gain with its range, and where it stands out.

use super::{Chart, Curve, Curves, Figure, Mark, Named, Panel, Pen, Point, Stretch};
use crate::ask::compare::{Answer, GainLine};
use crate::report::number::{Units, What};

/// The chart of a comparison.
pub(in crate::report) fn chart(answer: &Answer, units: Units) -> Chart {
    let how = if answer.corrected {
        answer.standard.name()
    } else {
        "uncorrected"
    };
    let power = |name, pen, of: fn(&GainLine) -> f64| {
        let points = answer
            .points
            .iter()
            .map(|p| Point::bare(p.rpm_before, units.convert(What::Power, of(p))));
        Curve::new(name, pen, points)
    };
    let powers = if answer.corrected {
        vec![
            power("before", Pen::Other, |p| p.corrected_before),
            power("after", Pen::Main, |p| p.corrected_after),
        ]
    } else {
        vec![
            power("before", Pen::Other, |p| p.before),
            power("after", Pen::Main, |p| p.after),
        ]
    };
    let gain = answer.points.iter().map(|p| Point {
        x: p.rpm_before,
        y: 100.0 * p.gain,
        half: None,
        most: Some((100.0 * p.gain_low, 100.0 * p.gain_high)),
    });
    let stretches: Vec<Stretch> = answer
        .stretches
        .iter()
        .map(|s| Stretch {
            text: format!(
                "{} stands out, {:.0} to {:.0} rpm",
                if s.gained { "a gain" } else { "a loss" },
                s.from_rpm,
                s.to_rpm
            ),
            from: s.from_rpm,
            to: s.to_rpm,
            strong: s.gained,
        })
        .collect();
    let mark = |rpm: f64, w: f64, pen, above| Mark {
        x: rpm,
        y: units.convert(What::Power, w),
        text: units.show(What::Power, w),
        pen,
        above,
    };
    let marks = answer.peak_power.as_ref().map(|p| {
        let (before, after) = if answer.corrected {
            (p.corrected_before, p.corrected_after)
        } else {
            (p.before, p.after)
        };
        [
            mark(p.rpm_before, before, Pen::Other, false),
            mark(p.rpm_after, after, Pen::Main, true),
        ]
    });
    let mut panels = vec![
        Panel::Curves(Curves {
            name: format!(
                "Mean power of each set, {how}, {}",
                units.symbol(What::Power)
            ),
            from_zero: true,
            tall: true,
            curves: powers,
            marks: marks.into_iter().flatten().collect(),
            ..Curves::default()
        }),
        Panel::Curves(Curves {
            name: format!("Gain, {how}, %"),
            curves: vec![Curve::new("gain", Pen::Main, gain)],
            levels: vec![Named {
                y: 0.0,
                text: String::new(),
            }],
            ..Curves::default()
        }),
    ];
    if !stretches.is_empty() {
        panels.push(Panel::Stretches(stretches));
    }
    Chart {
        title: format!("{} against {}", answer.after.name, answer.before.name),
        caption: format!(
            "Ribbon: the range of the gain; all of them hold together with a chance of {:.0} %. Where it stays clear of zero, the sets are told \
             apart.",
            100.0 * answer.level
        ),
        figure: Figure::over_engine_speed(panels),
    }
}
