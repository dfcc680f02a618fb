//! A calibration as a chart: what was read against the fitted car, and what is left between them.

use super::{Chart, Curve, Curves, Figure, Named, Panel, Pen, Point};
use crate::ask::fit::{FitAnswer, PowerPoint};
use crate::report::number::{Units, What};

/// The chart of a calibration.
pub(in crate::report) fn chart(answer: &FitAnswer, units: Units) -> Chart {
    let shown = |w: f64| units.convert(What::Power, w);
    let all = || answer.curves.iter().flat_map(|pull| &pull.points);
    let left = |p: &PowerPoint| Point::bare(p.rpm, 100.0 * (p.measured_w / p.model_w - 1.0));
    let mean = answer
        .bands
        .iter()
        .map(|band| Point::bare(0.5 * (band.from_rpm + band.to_rpm), 100.0 * band.mean));
    // One pull's curve stands for the car: they differ by the scale of visit and pull alone.
    let mut model: Vec<Curve> = answer
        .curves
        .iter()
        .map(|pull| {
            let points = pull.points.iter();
            let points = points.map(|p| Point::bare(p.rpm, shown(p.model_w)));
            Curve::new("", Pen::Main, points)
        })
        .collect();
    if let Some(last) = model.last_mut() {
        "fitted car".clone_into(&mut last.name);
    }
    let read = all().map(|p| Point::bare(p.rpm, shown(p.measured_w)));
    model.push(Curve::new("read", Pen::Read, read));
    Chart {
        title: format!("Read against the fitted car: {}", answer.car),
        caption: format!(
            "Dots: {} pull{} as read. Below: read over fitted, less one, point by point, and its mean by {:.0} rpm. A run of dots on one side is \
             what the car file cannot say. Root mean square {}.",
            answer.pulls.len(),
            if answer.pulls.len() == 1 { "" } else { "s" },
            answer
                .bands
                .first()
                .map_or(500.0, |band| band.to_rpm - band.from_rpm),
            units.show(What::Percent, answer.power_rms)
        ),
        figure: Figure::over_engine_speed(vec![
            Panel::Curves(Curves::power(model, units)),
            Panel::Curves(Curves {
                name: "Read over fitted, %".to_owned(),
                curves: vec![
                    Curve::new("", Pen::Read, all().map(left)),
                    Curve::new("mean", Pen::Main, mean),
                ],
                levels: vec![Named {
                    y: 0.0,
                    text: String::new(),
                }],
                ..Curves::default()
            }),
        ]),
    }
}
