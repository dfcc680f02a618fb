//! A predicted pull, in words: what the drums will read, and what goes on inside the car to make it so.
//!
//! It is the centre of the beliefs, without a range; a figure to promise comes from a quote.

pub(super) mod axle;
mod rig;

use super::document::Document;
use super::limits::listed;
use super::number::{Units, What};
use super::table::TextTable;
use super::{Level, Report, sequence};
use crate::ask::predict::{Answer, Point};

/// The curve as a recording: headers with units, one row per engine speed, readable by every verb that takes runs.
pub fn csv(answer: &Answer) -> String {
    let mut out = String::from(
        "time (s),engine speed (rpm),wheel power (kW),corrected wheel power (kW),wheel torque (N m),manifold pressure (kPa absolute),charge temperature (°C),lambda\n",
    );
    for p in &answer.recording {
        add!(
            out,
            "{:.4},{:.1},{:.3},{:.3},{:.3},{:.3},{:.2},{:.4}\n",
            p.time_s,
            p.drums.rpm,
            p.drums.power_w / 1e3,
            p.drums.corrected_power_w / 1e3,
            p.drums.torque_nm,
            p.manifold_pressure_pa / 1e3,
            p.charge_k - 273.15,
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
        let mut part = document.at(Level::Detail);
        part.table(curve(&self.points, units));
        if let Some(table) = axle::table(&self.points, units) {
            part.space()
                .section("Electric axle through the pull, uncorrected at the drums")
                .table(table);
        }
        if let Some(coupling) = self.axle_split {
            part.labelled("", axle::split(coupling), 2);
        }
        let mut part = document.at(Level::Answer);
        part.space().line(format!(
            "The pull takes {}.",
            units.show(What::Time, self.duration_s)
        ));
        if self.limits.is_empty() {
            part.line("No limit is met.");
        } else {
            part.space()
                .section("Limits met")
                .list(self.limits.iter().map(|limit| limit.point(units)));
        }
        if let Some(row) = &self.sequence {
            document.append(sequence::document(row, units));
        }
        document.at(Level::Answer).space().line(
            "This is the middle of what is believed, without a range; `quote` gives the range to promise.",
        );
        document
    }
}

/// Car, plan, air, correction and rig.
fn head(document: &mut Document, answer: &Answer, units: Units) {
    let title = match &answer.plan {
        Some(plan) => format!("{}, with {plan}", answer.car),
        None => answer.car.clone(),
    };
    let mut part = document.at(Level::Answer);
    part.title(format!("Predicted pull: {title}"))
        .line(format!("Air:        {}", answer.weather.line(units)));
    if let Some(axle) = &answer.electric_axle {
        part.line(format!("Electric:   axle {}", axle.line(units)));
    }
    part.line(format!("Correction: {}", answer.correction.line()))
        .list(answer.correction.breach_points());
    if let Some(rig) = &answer.rig {
        part.labelled("Rig:", rig::words(rig), 12);
    }
    part.space();
}

fn peaks(document: &mut Document, answer: &Answer, units: Units) {
    let mut table = TextTable::new("lr");
    table.row(["", "uncorrected", "corrected", "at rpm"]);
    let mut add = |name: &str, what, plain, corrected, rpm| {
        table.row([
            name.to_owned(),
            units.show(what, plain),
            units.show(what, corrected),
            units.cell(What::PeakRpm, rpm),
        ]);
    };
    let p = &answer.peak_power;
    add(
        "peak power at the drums",
        What::Power,
        p.power_w,
        p.corrected_power_w,
        p.rpm,
    );
    let t = &answer.peak_torque;
    add(
        "peak torque at engine speed",
        What::Torque,
        t.torque_nm,
        t.corrected_torque_nm,
        t.rpm,
    );
    if let Some(b) = &answer.peak_power_before {
        add(
            "peak power before the work",
            What::Power,
            b.power_w,
            b.corrected_power_w,
            b.rpm,
        );
    }
    let mut part = document.at(Level::Answer);
    part.table(table);
    if !answer.peak_power_capped_by.is_empty() {
        part.line(format!(
            "  That peak is capped: {}.",
            listed(&answer.peak_power_capped_by)
        ));
    }
    if p.electric_power_w > 0.0 {
        let mut text = format!(
            "  Of the peak, {} is electric and left uncorrected",
            units.show(What::Power, p.electric_power_w)
        );
        if answer.correction.changes_power() {
            add!(
                text,
                "; the factor would have changed it by {}",
                units.show_change(What::Power, p.electric_not_added_w)
            );
        }
        part.line(text + ".");
    }
    part.space();
}

fn curve(points: &[Point], units: Units) -> TextTable {
    let blown = points.iter().any(|p| p.blower_rpm.is_some());
    let turbo = points.iter().any(|p| p.gate_share.is_some());
    let electric = points.iter().any(|p| p.drums.electric_power_w > 0.0);
    let mut table = TextTable::new("r");
    let (power, torque) = (units.symbol(What::Power), units.symbol(What::Torque));
    let pressure = units.symbol(What::Pressure);
    let mut head = vec![
        "rpm", "power", "corr.", "torque", "corr.", "crank", "manifold", "boost", "charge",
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
