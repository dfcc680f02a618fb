//! A closed job as a chart: what the drums read after the work, over the range that was predicted for the air of that day.

use super::super::book::ClosedReport;
use super::{Chart, Curve, Curves, Figure, Named, Panel, Pen, Point};
use crate::ask::record::Against;
use crate::report::number::{Units, What};

/// The chart of a closed job.
pub(in crate::report) fn chart(closed: &ClosedReport, units: Units) -> Chart {
    let shown = |w: f64| units.convert(What::Power, w);
    let predicted = |at: &Against| Point {
        x: at.rpm,
        y: shown(at.middle_w),
        half: None,
        most: Some((shown(at.low_w), shown(at.high_w))),
    };
    let read = |at: &Against| Point::bare(at.rpm, shown(at.read_w));
    let over = |at: &Against| Point::bare(at.rpm, 100.0 * (at.read_w / at.middle_w - 1.0));
    let share = |w: f64, at: &Against| 100.0 * (w / at.middle_w - 1.0);
    let range = |at: &Against| Point {
        x: at.rpm,
        y: 0.0,
        half: None,
        most: Some((share(at.low_w, at), share(at.high_w, at))),
    };
    let curve = || closed.curve.iter();
    Chart {
        title: "Predicted and read".to_owned(),
        caption: format!(
            "Line and ribbon: the quote in the air of these pulls, its middle and the range of nine in ten. Dots: what the drums read. Promise {}.",
            units.show(What::Power, closed.promised_w)
        ),
        figure: Figure::over_engine_speed(vec![
            Panel::Curves(Curves {
                levels: vec![Named {
                    y: shown(closed.promised_w),
                    text: format!("promise {}", units.show(What::Power, closed.promised_w)),
                }],
                ..Curves::power(
                    vec![
                        Curve::new("predicted", Pen::Main, curve().map(predicted)),
                        Curve::new("read", Pen::Read, curve().map(read)),
                    ],
                    units,
                )
            }),
            Panel::Curves(Curves {
                name: "Read over predicted, %".to_owned(),
                curves: vec![
                    Curve::new("", Pen::Main, curve().map(range)),
                    Curve::new("", Pen::Read, curve().map(over)),
                ],
                ..Curves::default()
            }),
        ]),
    }
}
