//! Plans side by side as a chart: the middle of each over engine speed, and the range of each peak.

use super::{Bar, Chart, Curve, Curves, Figure, Panel, Pen, Point, as_read};
use crate::ask::quote::Answer;
use crate::report::number::{Units, What};

/// Pens of the plans, in their order.
const PENS: [Pen; 4] = [Pen::Main, Pen::Other, Pen::Third, Pen::Fourth];

/// Charts of plans, each with its name.
pub(in crate::report) fn charts(plans: &[(&str, &Answer)], units: Units) -> [Chart; 2] {
    let shown = |w: f64| units.convert(What::Power, w);
    let named = || plans.iter().zip(PENS.iter().cycle());
    let curves = |what: What, of: fn(&crate::ask::quote::CurvePoint) -> f64| -> Vec<Curve> {
        named()
            .map(|((name, answer), pen)| {
                let points = answer.curve.iter();
                let points = points.map(|p| Point::bare(p.rpm, units.convert(what, of(p))));
                Curve::new(*name, *pen, points)
            })
            .collect()
    };
    let middles = Chart {
        title: "The middle of each".to_owned(),
        caption: "As the drums read it, uncorrected. Each line is the middle of what is believed; how far a reading may stray from it, the bars \
                  below tell."
            .to_owned(),
        figure: Figure::over_engine_speed(vec![
                Panel::Curves(Curves::power(curves(What::Power, |p| p.after_w.range.p50), units)),
                Panel::Curves(Curves {
                    name: as_read("Torque", What::Torque, units),
                    from_zero: true,
                    curves: curves(What::Torque, |p| p.after_nm.range.p50),
                    ..Curves::default()
                }),
            ]),
    };
    let rows = named().map(|((name, answer), pen)| {
        let range = &answer.after.power_w;
        Bar {
            name: (*name).to_owned(),
            from: shown(range.p5),
            to: shown(range.p95),
            middle: Some(shown(range.p50)),
            text: units.range_and_middle(What::Power, range).0,
            pen: *pen,
        }
    });
    let ranges = Chart {
        title: "The range of each".to_owned(),
        caption: "Peak power: 1 pull in 20 reads below the bar, 1 in 20 above it; the stroke is the middle."
            .to_owned(),
        figure: Figure::Bars {
            axis: as_read("Peak power", What::Power, units),
            rows: rows.collect(),
        },
    };
    [middles, ranges]
}
