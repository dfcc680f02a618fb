//! A predicted pull, in words: what the drums will read, and what goes on inside the car to make it so.
//!
//! It is the middle, without a range; a figure to promise comes from a quote.

pub(super) mod axle;
mod rig;

use super::document::Document;
use super::limits::{self, listed};
use super::number::{Units, What};
use super::table::TextTable;
use super::{Level, Report, cautions, chart, sequence};
use crate::ask::predict::{Answer, Point};

/// The curve as a recording: headers with units, one row per engine speed, readable by every verb that takes runs.
pub fn csv(answer: &Answer, units: Units) -> String {
    let (power, torque) = (units.symbol(What::Power), units.symbol(What::Torque));
    let (pressure, degrees) = (
        units.symbol(What::Pressure),
        units.symbol(What::Temperature),
    );
    let mut out = format!(
        "time (s),engine speed (rpm),wheel power ({power}),corrected wheel power ({power}),wheel torque ({torque}),\
         manifold pressure ({pressure} absolute),charge temperature ({degrees}),lambda\n"
    );
    for p in &answer.recording {
        add!(
            out,
            "{:.4},{:.1},{:.3},{:.3},{:.3},{:.3},{:.2},{:.4}\n",
            p.time_s,
            p.drums.rpm,
            units.convert(What::Power, p.drums.power_w),
            units.convert(What::Power, p.drums.corrected_power_w),
            units.convert(What::Torque, p.drums.torque_nm),
            units.convert(What::Pressure, p.manifold_pressure_pa),
            units.convert(What::Temperature, p.charge_k),
            p.lambda
        );
    }
    out
}

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/predict/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        head(&mut document, self, units);
        peaks(&mut document, self, units);
        document
            .at(Level::Answer)
            .chart(chart::predict::chart(self, units));
        if let Some(row) = &self.sequence {
            sequence::answer(&mut document, row, self.at_peak.boost_pa > 0.0, units);
            if let Some(chart) = chart::sequence::chart(row, units) {
                document.at(Level::Answer).chart(chart);
            }
        }
        document
            .at(Level::Brief)
            .paragraph(limits::brief(&self.limits, &self.peak_power_capped_by));
        cautions::add(&mut document, &self.cautions, units);
        details(&mut document, self, units);
        document
    }
}

/// What is expected, of which car.
fn head(document: &mut Document, answer: &Answer, units: Units) {
    let car = match &answer.plan {
        Some(plan) => format!("{}, with {plan}", answer.car),
        None => answer.car.clone(),
    };
    document
        .at(Level::Answer)
        .title(format!(
            "Expect {} on the drums, uncorrected, at {}.",
            units.show(What::Power, answer.peak_power.power_w),
            units.show(What::PeakRpm, answer.peak_power.rpm)
        ))
        .paragraph(format!(
            "Car: {car}. This is the middle: half of all pulls read less. Promise what `quote` says."
        ));
}

/// Air, correction, rig, curve and limits in full.
fn details(document: &mut Document, answer: &Answer, units: Units) {
    let mut part = document.at(Level::Detail);
    part.space()
        .fact("Air:        ", answer.weather.line(units));
    if let Some(axle) = &answer.electric_axle {
        part.fact("Electric:   ", format!("axle {}", axle.line(units)));
    }
    part.fact("Correction: ", answer.correction.line(units))
        .list(answer.correction.breach_points(units));
    if let Some(rig) = &answer.rig {
        part.labelled("Rig:", rig::words(rig, units), 12);
    }
    if answer.peak_power.electric_power_w > 0.0 && answer.correction.changes_power() {
        part.line(format!(
            "The electric share is left as read; the factor would have changed it by {}.",
            units.show_change(What::Power, answer.peak_power.electric_not_added_w)
        ));
    }
    part.line(format!(
        "The pull takes {}.",
        units.show(What::Time, answer.duration_s)
    ));
    part.space().table(curve(&answer.points, units));
    if let Some(table) = axle::table(&answer.points, units) {
        part.space()
            .section("Electric axle through the pull, uncorrected")
            .table(table);
    }
    if let Some(coupling) = answer.axle_split {
        part.labelled("", axle::split(coupling), 2);
    }
    part.space();
    if !answer.peak_power_capped_by.is_empty() {
        part.line(format!(
            "The peak is capped: {}.",
            listed(&answer.peak_power_capped_by)
        ));
    }
    if answer.limits.is_empty() {
        part.line("No limit is met.");
    } else {
        part.section("Limits met")
            .list(answer.limits.iter().map(|limit| limit.point(units)));
    }
    if let Some(row) = &answer.sequence {
        sequence::details(document, row, units);
    }
}

fn peaks(document: &mut Document, answer: &Answer, units: Units) {
    let mut table = TextTable::new("lr");
    table.head(["", "uncorrected", "corrected", "at rpm"]);
    let mut add = |name: &str, what, plain, corrected, rpm| {
        table.row([
            name.to_owned(),
            units.show(what, plain),
            units.show(what, corrected),
            units.cell(What::PeakRpm, rpm),
        ]);
    };
    let p = &answer.peak_power;
    let w = What::Power;
    add("peak power", w, p.power_w, p.corrected_power_w, p.rpm);
    let t = &answer.peak_torque;
    add(
        "peak torque at engine speed",
        What::Torque,
        t.torque_nm,
        t.corrected_torque_nm,
        t.rpm,
    );
    if let Some(b) = &answer.peak_power_before {
        let name = "peak power before the work";
        add(name, w, b.power_w, b.corrected_power_w, b.rpm);
    }
    let crank = &answer.crank.peak_power;
    let (plain, corrected) = (crank.power_w, crank.corrected_power_w);
    add(
        "the engine alone, at its crank",
        w,
        plain,
        corrected,
        crank.rpm,
    );
    let there = &answer.at_peak;
    let mut facts = vec![
        format!("IAT {}", units.show(What::Temperature, there.charge_k)),
        format!("lambda {:.2}", there.lambda),
    ];
    if there.boost_pa > 0.0 {
        facts.insert(
            0,
            format!("boost {}", units.show(What::Pressure, there.boost_pa)),
        );
    }
    if let Some(duty) = there.injector_duty {
        facts.push(format!("injector duty {}", units.show(What::Percent, duty)));
    }
    if p.electric_power_w > 0.0 {
        facts.push(format!(
            "electric share {} (uncorrected)",
            units.show(What::Power, p.electric_power_w)
        ));
    }
    document
        .at(Level::Answer)
        .table(table)
        .paragraph(format!("At the peak: {}.", facts.join(", ")));
    document
        .at(Level::Brief)
        .paragraph(answer.correction.brief());
}

fn curve(points: &[Point], units: Units) -> TextTable {
    let blown = points.iter().any(|p| p.blower_rpm.is_some());
    let turbo = points.iter().any(|p| p.gate_share.is_some());
    let electric = points.iter().any(|p| p.drums.electric_power_w > 0.0);
    let mut table = TextTable::new("r");
    let (power, torque) = (units.symbol(What::Power), units.symbol(What::Torque));
    let pressure = units.symbol(What::Pressure);
    let mut head = vec![
        "rpm", "power", "corr.", "torque", "corr.", "crank", "manifold", "boost", "IAT",
    ];
    let mut symbols = vec![
        "",
        power,
        power,
        torque,
        torque,
        torque,
        pressure,
        pressure,
        units.symbol(What::Temperature),
    ];
    if turbo {
        head.extend(["shaft", "turbine", "gate"]);
        symbols.extend(["rpm", pressure, "%"]);
    } else if blown {
        head.extend(["blower", "takes"]);
        symbols.extend(["rpm", power]);
    }
    if electric {
        head.push("electric");
        symbols.push(power);
    }
    let metered = points.iter().any(|p| p.injector_duty.is_some());
    if metered {
        head.extend(["duty", "lambda"]);
        symbols.extend([units.symbol(What::Percent), ""]);
    }
    let capped = points.iter().any(|p| !p.capped_by.is_empty());
    if capped {
        head.push("");
        symbols.push("");
    }
    table.row(head);
    table.row(symbols);
    for p in points {
        let d = &p.drums;
        let mut row = vec![
            units.cell(What::Rpm, d.rpm),
            units.cell(What::Power, d.power_w),
            units.cell(What::Power, d.corrected_power_w),
            units.cell(What::Torque, d.torque_nm),
            units.cell(What::Torque, d.corrected_torque_nm),
            units.cell(What::Torque, p.crank_torque_nm),
            units.cell(What::Pressure, p.manifold_pressure_pa),
            units.cell(What::Pressure, p.boost_pa),
            units.cell(What::Temperature, p.charge_k),
        ];
        let cell =
            |what, value: Option<f64>| value.map_or_else(String::new, |x| units.cell(what, x));
        if blown {
            row.push(cell(What::Rpm, p.blower_rpm));
        }
        if turbo {
            row.push(cell(What::Pressure, p.turbine_inlet_pa));
            row.push(cell(What::Percent, p.gate_share));
        } else if blown {
            row.push(cell(What::Power, p.blower_power_w));
        }
        if electric {
            row.push(units.cell(What::Power, d.electric_power_w));
        }
        if metered {
            row.push(
                p.injector_duty
                    .map_or_else(String::new, |x| units.cell(What::Percent, x)),
            );
            row.push(units.cell(What::Ratio, p.lambda));
        }
        if capped {
            row.push(if p.capped_by.is_empty() { "" } else { "capped" }.to_owned());
        }
        table.row(row);
    }
    table
}
