//! Pulls in a row as a chart: what each reads, and the intake air at its peak.

use super::{Chart, Curve, Curves, Figure, Mark, Panel, Pen, Point, as_read};
use crate::ask::predict::Sequence;
use crate::report::number::{Units, What};

/// The chart of pulls in a row.
pub(in crate::report) fn chart(row: &Sequence, units: Units) -> Option<Chart> {
    let over = |shown: &dyn Fn(usize) -> f64| {
        let points = row
            .pulls
            .iter()
            .enumerate()
            .map(|(i, p)| Point::bare(p.pull as f64, shown(i)));
        vec![Curve::new("", Pen::Main, points)]
    };
    if row.pulls.is_empty() {
        return None;
    }
    let power = |i: usize| units.convert(What::Power, row.pulls[i].peak_power.power_w);
    let air = |i: usize| units.convert(What::Temperature, row.pulls[i].charge_at_peak_k);
    let ends = [row.pulls.first(), row.pulls.last().filter(|p| p.pull > 1)];
    let marks = ends.into_iter().flatten().map(|p| Mark {
        x: p.pull as f64,
        y: units.convert(What::Power, p.peak_power.power_w),
        text: units.show(What::Power, p.peak_power.power_w),
        pen: Pen::Main,
        above: true,
    });
    Some(Chart {
        title: "Pulls in a row".to_owned(),
        caption: format!(
            "{:.0} s of rest between them. The scales do not begin at zero, so that the change can be seen.",
            row.rest_s
        ),
        figure: Figure::Panels {
            axis: "pull".to_owned(),
            panels: vec![
                Panel::Curves(Curves {
                    name: as_read("Peak power", What::Power, units),
                    curves: over(&power),
                    holds: vec![0.9 * power(0)],
                    marks: marks.collect(),
                    ..Curves::default()
                }),
                Panel::Curves(Curves {
                    name: format!(
                        "Intake air at the peak, {}",
                        units.symbol(What::Temperature)
                    ),
                    curves: over(&air),
                    holds: vec![air(0) + 10.0],
                    ..Curves::default()
                }),
            ],
        },
    })
}
