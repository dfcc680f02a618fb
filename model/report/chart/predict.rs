//! A predicted pull as a chart: power with the electric axle's share, torque, boost, intake air, where limits begin.

use super::{Chart, Curve, Curves, Figure, Mark, Panel, Pen, Point};
use super::{as_read, limits, subject};
use crate::ask::predict::{Answer, Peak, Point as Row};
use crate::report::number::{Units, What};

/// The chart of a predicted pull.
pub(in crate::report) fn chart(answer: &Answer, units: Units) -> Chart {
    let mut panels = vec![
        Panel::Curves(power(answer, units)),
        Panel::Curves(torque(answer, units)),
        Panel::Curves(alone(
            format!(
                "Manifold pressure above the air outside, {}",
                units.symbol(What::Pressure)
            ),
            answer,
            vec![0.0],
            |p| units.convert(What::Pressure, p.boost_pa),
        )),
        Panel::Curves(alone(
            format!(
                "Intake air in the manifold, {}",
                units.symbol(What::Temperature)
            ),
            answer,
            Vec::new(),
            |p| units.convert(What::Temperature, p.charge_k),
        )),
    ];
    panels.extend(limits(&answer.limits));
    let corrected = if answer.correction.changes_power() {
        format!(
            " Corrected ({}) the peak is {}.",
            answer.correction.standard.name(),
            units.show(What::Power, answer.peak_power.corrected_power_w)
        )
    } else {
        String::new()
    };
    let electric = if helped(answer) {
        " Dotted: the engine's share; what lies between it and the line comes from the electric axle."
    } else {
        ""
    };
    Chart {
        title: format!(
            "Predicted pull: {}",
            subject(&answer.car, answer.plan.as_deref())
        ),
        caption: format!(
            "The middle of what is believed, uncorrected; a quote gives the range. Air: {}.{corrected}{electric} Bars below: where limits begin \
             and end; dark ones cap the power.",
            answer.weather.line(units)
        ),
        figure: Figure::over_engine_speed(panels),
    }
}

fn helped(answer: &Answer) -> bool {
    answer.points.iter().any(|p| p.drums.electric_power_w > 0.0)
}

/// The curves of a figure of the drums, before and after.
fn drums(answer: &Answer, shown: impl Fn(&Peak) -> f64) -> Vec<Curve> {
    let point = |peak: &Peak| Point::bare(peak.rpm, shown(peak));
    let now = if answer.recording_before.is_empty() {
        "as it is"
    } else {
        "after"
    };
    let before = Curve::new(
        "before",
        Pen::Other,
        answer.recording_before.iter().map(point),
    );
    let after = Curve::new(
        now,
        Pen::Main,
        answer.recording.iter().map(|p| point(&p.drums)),
    );
    [before, after]
        .into_iter()
        .filter(|curve| !curve.points.is_empty())
        .collect()
}

fn power(answer: &Answer, units: Units) -> Curves {
    let shown = |w: f64| units.convert(What::Power, w);
    let mut curves = drums(answer, |p| shown(p.power_w));
    if helped(answer) {
        let engine = answer
            .recording
            .iter()
            .map(|p| Point::bare(p.drums.rpm, shown(p.drums.engine_power_w)));
        curves.push(Curve::new("engine alone", Pen::Third, engine));
    }
    let mark = |peak: &Peak, pen, above| Mark {
        x: peak.rpm,
        y: shown(peak.power_w),
        text: format!(
            "{} at {}",
            units.show(What::Power, peak.power_w),
            units.show(What::PeakRpm, peak.rpm)
        ),
        pen,
        above,
    };
    let before = answer.peak_power_before.as_ref();
    Curves {
        marks: before
            .map(|peak| mark(peak, Pen::Other, false))
            .into_iter()
            .chain([mark(&answer.peak_power, Pen::Main, true)])
            .collect(),
        ..Curves::power(curves, units)
    }
}

fn torque(answer: &Answer, units: Units) -> Curves {
    let shown = |nm: f64| units.convert(What::Torque, nm);
    let peak = &answer.peak_torque;
    Curves {
        name: as_read("Torque at engine speed", What::Torque, units),
        from_zero: true,
        curves: drums(answer, |p| shown(p.torque_nm)),
        marks: vec![Mark {
            x: peak.rpm,
            y: shown(peak.torque_nm),
            text: format!(
                "{} at {}",
                units.show(What::Torque, peak.torque_nm),
                units.show(What::PeakRpm, peak.rpm)
            ),
            pen: Pen::Main,
            above: true,
        }],
        ..Curves::default()
    }
}

fn alone(name: String, answer: &Answer, holds: Vec<f64>, shown: impl Fn(&Row) -> f64) -> Curves {
    let points = answer
        .recording
        .iter()
        .map(|p| Point::bare(p.drums.rpm, shown(p)));
    Curves {
        name,
        curves: vec![Curve::new("", Pen::Main, points)],
        holds,
        ..Curves::default()
    }
}
