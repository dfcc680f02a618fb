//! A quote as a chart: power and torque before and after with their ranges, what was read, the promise, where limits begin; boost and intake air.

use super::super::quote::QuoteReport;
use super::{Chart, Curve, Curves, Figure, Mark, Named, Panel, Pen, Point};
use super::{as_read, limits, subject};
use crate::ask::quote::{CurvePoint, Fan};
use crate::report::number::{Units, What};
use crate::units;

/// The power alone, for a small place.
pub(in crate::report) fn glance(report: &QuoteReport, units: Units) -> Chart {
    Chart {
        title: "Before and after".to_owned(),
        caption: as_read("Power", What::Power, units),
        figure: Figure::over_engine_speed(vec![Panel::Curves(power(report, units))]),
    }
}

/// Two sides of the curve.
type Sides = (
    fn(&CurvePoint) -> Option<Fan>,
    fn(&CurvePoint) -> Option<Fan>,
);

/// The charts of a quote.
pub(in crate::report) fn charts(report: &QuoteReport, units: Units) -> Vec<Chart> {
    let answer = &report.answer;
    let correction = if answer.correction_after.changes_power() {
        format!(
            " In the named correction ({}) the peak is {}.",
            answer.promise.correction.name(),
            units.range(What::Power, &answer.after.corrected_power_w)
        )
    } else {
        String::new()
    };
    let read = if report.fit.is_some() {
        " Dots: read on the baseline visits."
    } else {
        ""
    };
    let drums = Chart {
        title: format!(
            "Before and after: {}",
            subject(&answer.basis.car, Some(&answer.basis.plan))
        ),
        caption: format!(
            "As the drums read it, uncorrected. Line: the middle. Dark ribbon: half of all pulls; light ribbon: the range that 1 pull in 20 reads below, 1 in 20 above, if the inputs are \
             right.{read}{correction} Bars below: where limits begin and end, after the work; dark ones cap the power."
        ),
        figure: Figure::over_engine_speed(
            [power(report, units), torque(report, units)]
                .into_iter()
                .map(Panel::Curves)
                .chain(limits(&answer.limits))
                .collect(),
        ),
    };
    let air = Chart {
        title: format!(
            "Boost and intake air: {}",
            subject(&answer.basis.car, Some(&answer.basis.plan))
        ),
        caption: format!(
            "What gauges and logger should show. Air before: {}; after: {}. Dark ribbons: half of all pulls; light ribbons: the range.",
            answer.basis.weather_before.line(units),
            answer.basis.weather_after.line(units)
        ),
        figure: Figure::over_engine_speed(vec![
            Panel::Curves(boost(report, units)),
            Panel::Curves(intake(report, units)),
        ]),
    };
    vec![drums, air]
}

fn sides(report: &QuoteReport, what: What, units: Units, (before, after): Sides) -> Vec<Curve> {
    let side = |name, pen, of: fn(&CurvePoint) -> Option<Fan>| {
        let points = report.answer.curve.iter().filter_map(|p| {
            Some(Point::fan(p.rpm, &of(p)?, |inside| {
                units.convert(what, inside)
            }))
        });
        Curve::new(name, pen, points)
    };
    vec![
        side("before", Pen::Other, before),
        side("after", Pen::Main, after),
    ]
}

/// What was read before the work.
fn read(report: &QuoteReport, what: What, units: Units, of: fn(f64, f64) -> f64) -> Option<Curve> {
    let fit = report.fit.as_ref()?;
    let points = fit.answer.curves.iter().flat_map(|pull| &pull.points);
    let points = points.map(|p| Point::bare(p.rpm, units.convert(what, of(p.rpm, p.measured_w))));
    Some(Curve::new("read", Pen::Read, points))
}

fn power(report: &QuoteReport, units: Units) -> Curves {
    let answer = &report.answer;
    let shown = |w: f64| units.convert(What::Power, w);
    let mut curves = sides(
        report,
        What::Power,
        units,
        (|p| p.before_w, |p| Some(p.after_w)),
    );
    curves.extend(read(report, What::Power, units, |_, w| w));
    let (range, expect) = units.range_and_middle(What::Power, &answer.after.power_w);
    Curves {
        marks: vec![
            Mark {
                x: answer.before.rpm.p50,
                y: shown(answer.before.power_w.p50),
                text: units.show(What::Power, answer.before.power_w.p50),
                pen: Pen::Other,
                above: false,
            },
            Mark {
                x: answer.after.rpm.p50,
                y: shown(answer.after.power_w.p50),
                text: if range == expect {
                    expect
                } else {
                    format!("{expect} ({range})")
                },
                pen: Pen::Main,
                above: true,
            },
        ],
        levels: vec![Named {
            y: shown(answer.promise.sure.power_w),
            text: format!(
                "promise {}",
                units.show(What::Power, answer.promise.sure.power_w)
            ),
        }],
        ..Curves::power(curves, units)
    }
}

fn torque(report: &QuoteReport, units: Units) -> Curves {
    let mut curves = sides(
        report,
        What::Torque,
        units,
        (|p| p.before_nm, |p| Some(p.after_nm)),
    );
    curves.extend(read(report, What::Torque, units, |rpm, w| {
        w / units::rad_s(rpm)
    }));
    Curves {
        name: as_read("Torque at engine speed", What::Torque, units),
        from_zero: true,
        curves,
        ..Curves::default()
    }
}

fn boost(report: &QuoteReport, units: Units) -> Curves {
    Curves {
        name: format!(
            "Manifold pressure above the air outside, {}",
            units.symbol(What::Pressure)
        ),
        curves: sides(
            report,
            What::Pressure,
            units,
            (|p| p.before_boost_pa, |p| Some(p.after_boost_pa)),
        ),
        holds: vec![0.0],
        ..Curves::default()
    }
}

fn intake(report: &QuoteReport, units: Units) -> Curves {
    Curves {
        name: format!(
            "Intake air in the manifold, {}",
            units.symbol(What::Temperature)
        ),
        curves: sides(
            report,
            What::Temperature,
            units,
            (|p| p.before_charge_k, |p| Some(p.after_charge_k)),
        ),
        ..Curves::default()
    }
}
