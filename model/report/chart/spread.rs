//! A spread as charts: power over engine speed through the hours, the peak under each correction, the peak by month and hour.

use super::super::spread::SpreadReport;
use super::{Bar, Chart, Curve, Curves, Figure, HourCell, Named, Panel, Pen, Point};
use super::{as_read, subject};
use crate::ask::spread::Figures;
use crate::report::number::{Span, Units, What};

/// The charts of a spread.
pub(in crate::report) fn charts(report: &SpreadReport, units: Units) -> Vec<Chart> {
    let cells = &report.answer.by_month_and_hour;
    let mut charts = vec![curves(report, units), standards(report, units)];
    if !cells.is_empty() {
        charts.push(Chart {
            title: "When to pull: mean peak by month and hour".to_owned(),
            caption: "The stronger the shade, the more power. Rows are hours of the day, local time of the station; columns are months.".to_owned(),
            figure: Figure::Hours {
                name: as_read("Peak power", What::Power, units),
                cells: cells
                    .iter()
                    .map(|cell| HourCell {
                        month: cell.month,
                        hour: cell.hour,
                        value: units.convert(What::Power, cell.mean_w),
                    })
                    .collect(),
            },
        });
    }
    charts
}

fn curves(report: &SpreadReport, units: Units) -> Chart {
    let answer = &report.answer;
    let shown = |w: f64| units.convert(What::Power, w);
    let worked = answer.before.is_some();
    let before = answer
        .curve
        .iter()
        .filter_map(|p| Some(Point::range(p.rpm, &p.before_w?, shown)));
    let after = answer
        .curve
        .iter()
        .map(|p| Point::range(p.rpm, &p.after_w, shown));
    let curves = [
        Curve::new("before", Pen::Other, before),
        Curve::new(if worked { "after" } else { "as it is" }, Pen::Main, after),
    ];
    let promise = &answer.promise;
    Chart {
        title: format!(
            "Through the hours: {}",
            subject(&answer.basis.car, answer.basis.plan.as_deref())
        ),
        caption: format!(
            "Line: the middle. Ribbon: nine readings in ten, over {} hours of weather, the car's doubts and the drums'.",
            answer.basis.hours
        ),
        figure: Figure::over_engine_speed(vec![Panel::Curves(Curves {
            levels: vec![Named {
                y: shown(promise.power_w),
                text: format!(
                    "{:.0} % of readings reach {}",
                    100.0 * promise.chance,
                    units.show(What::Power, promise.power_w)
                ),
            }],
            ..Curves::power(
                curves
                    .into_iter()
                    .filter(|curve| !curve.points.is_empty())
                    .collect(),
                units,
            )
        })]),
    }
}

fn standards(report: &SpreadReport, units: Units) -> Chart {
    let answer = &report.answer;
    let bar = |name: String, span: &Span, pen| {
        let drawn = span.map(|w| units.convert(What::Power, w));
        Bar {
            name,
            from: drawn.p5,
            to: drawn.p95,
            middle: Some(drawn.p50),
            text: units.range(What::Power, span),
            pen,
        }
    };
    let read =
        |name: &str, figures: &Figures, pen| bar(name.to_owned(), &figures.power_w.range, pen);
    let mut rows: Vec<Bar> = answer
        .before
        .iter()
        .map(|before| read("before, uncorrected", before, Pen::Other))
        .collect();
    rows.push(read(
        if rows.is_empty() {
            "uncorrected"
        } else {
            "after, uncorrected"
        },
        &answer.after,
        Pen::Main,
    ));
    rows.extend(answer.standards.iter().map(|line| {
        bar(
            line.standard.name().to_owned(),
            &line.power_w.range,
            Pen::Third,
        )
    }));
    Chart {
        title: "Peak power as read, and under each correction".to_owned(),
        caption: "Bar: nine readings in ten; stroke: the middle. A correction is worth having where its bar is narrower than the uncorrected one."
            .to_owned(),
        figure: Figure::Bars {
            axis: format!("peak power, {}", units.symbol(What::Power)),
            rows,
        },
    }
}
