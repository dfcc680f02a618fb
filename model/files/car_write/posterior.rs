//! The table `posterior` of a written car: how its numbers hang together, and what its knock table was made for.

use super::number::plain;
use crate::belief::sheet::{Correlation, Sheet};
use crate::files::posterior::decimals;
use crate::files::shown::on_one_line;
use crate::units::{Dimension, rad_s};

/// The table as text, header included.
pub(super) fn text(sheet: &Sheet, reservations: &[String]) -> String {
    let mut lines = vec![
        "[posterior]".to_owned(),
        format!("fitted = {}", sheet.is_fitted()),
    ];
    if !reservations.is_empty() {
        lines.push("# Repeated whenever this car is used.".to_owned());
        let quoted =
            |text: &String| format!("  {},", toml::Value::String(on_one_line(text).into_owned()));
        lines.push("reservations = [".to_owned());
        lines.extend(reservations.iter().map(quoted));
        lines.push("]".to_owned());
    }
    if let Some(measured) = &sheet.measured {
        let speed = |rpm: f64| plain(rad_s(rpm), Dimension::RotationalSpeed, "rpm");
        lines.push(format!("measured_from = {}", speed(measured.from_rpm)));
        lines.push(format!("measured_to = {}", speed(measured.to_rpm)));
    }
    if let Some(correlation) = &sheet.correlation {
        lines.push("order = [".to_owned());
        lines.extend(sheet.free().map(|b| format!("  \"{}\",", b.parameter.path)));
        lines.push("]".to_owned());
        lines.extend(rows(correlation));
    }
    lines.push(String::new());
    lines.push(
        "# What the table of the knock limit was made for; it is made anew when the car has moved away from it."
            .to_owned(),
    );
    lines.push("[posterior.knock_table]".to_owned());
    let made_for = &sheet.centre.car.engine.knock.made_for;
    let geometry = made_for.geometry;
    let (length, ratio) = ((Dimension::Length, "mm"), (Dimension::Ratio, "1"));
    for (key, value_si, (dimension, unit)) in [
        ("bore", geometry.bore_m, length),
        ("stroke", geometry.stroke_m, length),
        ("rod_length", geometry.rod_m, length),
        ("compression_ratio", geometry.compression_ratio, ratio),
        ("lambda", made_for.lambda, ratio),
    ] {
        lines.push(format!("{key} = {}", plain(value_si, dimension, unit)));
    }
    lines.join("\n") + "\n"
}

/// The lower triangle, a text for every row.
fn rows(correlation: &Correlation) -> Vec<String> {
    let matrix = correlation.matrix();
    let digits = decimals(matrix);
    let entry = |row: usize, column: usize| {
        let value = if row == column {
            1.0
        } else {
            matrix[(row, column)]
        };
        let text = format!("{value:.digits$}");
        match text.trim_end_matches('0').trim_end_matches('.') {
            "" | "-0" => "0".to_owned(),
            text => text.to_owned(),
        }
    };
    let mut lines = vec![
        format!(
            "# Lower triangle, rounded to {digits} decimals: few enough that no combination of the numbers loses its spread."
        ),
        "correlation = [".to_owned(),
    ];
    lines.extend((0..matrix.nrows()).map(|row| {
        let entries: Vec<String> = (0..=row).map(|column| entry(row, column)).collect();
        format!("  \"{}\",", entries.join(" "))
    }));
    lines.push("]".to_owned());
    lines
}
