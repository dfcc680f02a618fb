//! Writing a car file, above all a fitted one, such that reading it gives the same beliefs again.
//!
//! Every number is written with its doubt in the catalogue's unit, and the table `posterior` holds how they hang together.
//! Centres keep nine digits, doubts six: predictions come back within 1e-6, spreads within 1e-5. What the car is made of
//! comes from [`Parts`]; a belief cut closer than the catalogue's range gets the catalogue's range back.

mod structure;

use std::fmt::Write as _;
use std::path::Path;

use super::car::{BlowerParts, Parts, VERSION};
use super::diagnostic::Problems;
use super::posterior::decimals;
use super::write::{Overwrite, write_atomic};
use crate::belief::parameter::Measure;
use crate::belief::prior::{Prior, Shape};
use crate::belief::sheet::{Belief, Origin, Sheet};
use crate::units::{Dimension, find};

/// Significant digits of a centre, of a doubt, and of a number that is no belief.
const CENTRE_DIGITS: usize = 9;
const DOUBT_DIGITS: usize = 6;
const PLAIN_DIGITS: usize = 12;

/// Writes a car file in one step; `comments` become its first lines.
pub fn save(
    path: &Path,
    sheet: &Sheet,
    parts: &Parts,
    comments: &[String],
    overwrite: Overwrite,
) -> Result<(), Problems> {
    write_atomic(path, to_text(sheet, parts, comments).as_bytes(), overwrite)
}

/// The text of a car file; `comments` become its first lines.
pub fn to_text(sheet: &Sheet, parts: &Parts, comments: &[String]) -> String {
    let mut out = Lines::default();
    for comment in comments.iter().flat_map(|text| text.lines()) {
        out.line(&format!("# {}", comment.trim_end()));
    }
    out.line("kind = \"car\"");
    out.line(&format!("version = {VERSION}"));
    out.line(&format!("name = {}", quoted(&sheet.centre.car.name)));
    if let Some(mass_kg) = parts.mass_kg {
        out.table("car");
        out.plain("mass", mass_kg, Dimension::Mass, "kg");
    }
    for table in [
        "engine",
        "breathing",
        "combustion",
        "friction",
        "tune",
        "fuel",
        "intake",
        "exhaust",
        "blower",
        "cooler",
        "driveline",
        "wheels",
        "injectors",
        "fuel_pump",
        "fuel_rail",
        "clutch",
        "converter",
        "electric_axle",
        "drums",
    ] {
        let beliefs: Vec<&Belief> = sheet
            .beliefs
            .iter()
            .filter(|b| b.parameter.table() == table)
            .collect();
        if beliefs.is_empty() {
            continue;
        }
        out.table(table);
        structure::structure(&mut out, table, sheet, parts);
        for belief in beliefs {
            out.belief(belief);
        }
        match (table, &parts.blower) {
            ("blower", BlowerParts::Centrifugal { map, .. }) => {
                structure::map_tables(&mut out, map);
            }
            ("blower", BlowerParts::Turbo { map, control, .. }) => {
                structure::map_tables(&mut out, map);
                structure::boost_table(&mut out, control);
            }
            _ => {}
        }
    }
    structure::limits(&mut out, &parts.supply.thresholds);
    posterior(&mut out, sheet);
    out.text
}

/// The text being written.
#[derive(Default)]
struct Lines {
    text: String,
}

impl Lines {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn table(&mut self, name: &str) {
        self.line("");
        self.line(&format!("[{name}]"));
    }

    fn word(&mut self, key: &str, word: &str) {
        self.line(&format!("{key} = {}", quoted(word)));
    }

    fn plain(&mut self, key: &str, value_si: f64, dimension: Dimension, unit: &str) {
        let text = plain(value_si, dimension, unit);
        let text = if dimension == Dimension::Ratio {
            text
        } else {
            quoted(&text)
        };
        self.line(&format!("{key} = {text}"));
    }

    fn list(&mut self, key: &str, values_si: &[f64], dimension: Dimension, unit: &str) {
        let texts: Vec<String> = values_si
            .iter()
            .map(|value| {
                let text = plain(*value, dimension, unit);
                if dimension == Dimension::Ratio {
                    text
                } else {
                    quoted(&text)
                }
            })
            .collect();
        self.line(&format!("{key} = [{}]", texts.join(", ")));
    }

    fn belief(&mut self, belief: &Belief) {
        let origin = match belief.origin {
            Origin::Given => "given",
            Origin::Default => "default",
            Origin::Fitted => "fitted",
        };
        let value = belief_text(&belief.prior, belief.parameter.measure);
        self.line(&format!(
            "{} = {value}  # {origin}: {}",
            belief.parameter.key(),
            belief.parameter.meaning
        ));
    }
}

fn posterior(out: &mut Lines, sheet: &Sheet) {
    let fitted = sheet.beliefs.iter().any(|b| b.origin == Origin::Fitted);
    out.table("posterior");
    out.line(&format!("fitted = {fitted}"));
    if let Some(correlation) = &sheet.correlation {
        let matrix = correlation.matrix();
        let digits = decimals(matrix);
        out.line("order = [");
        for belief in sheet.free() {
            out.line(&format!("  \"{}\",", belief.parameter.path));
        }
        out.line("]");
        out.line(&format!(
            "# Lower triangle, rounded to {digits} decimals: few enough that no combination of the numbers loses its spread."
        ));
        out.line("correlation = [");
        for row in 0..matrix.nrows() {
            let mut line = String::new();
            for column in 0..=row {
                let rounded = if row == column {
                    1.0
                } else {
                    matrix[(row, column)]
                };
                let text = format!("{rounded:.digits$}");
                let text = text.trim_end_matches('0').trim_end_matches('.');
                let text = if text.is_empty() || text == "-0" {
                    "0"
                } else {
                    text
                };
                // Writing to a String cannot fail.
                let _ = write!(line, "{}{text}", if column == 0 { "" } else { " " });
            }
            out.line(&format!("  \"{line}\","));
        }
        out.line("]");
    }
    let made_for = &sheet.centre.car.engine.knock.made_for;
    out.line("");
    out.line("# What the table of the knock limit was made for; it is made anew when the car has moved away from it.");
    out.line("[posterior.knock_table]");
    out.plain("bore", made_for.geometry.bore_m, Dimension::Length, "mm");
    out.plain(
        "stroke",
        made_for.geometry.stroke_m,
        Dimension::Length,
        "mm",
    );
    out.plain(
        "rod_length",
        made_for.geometry.rod_m,
        Dimension::Length,
        "mm",
    );
    out.plain(
        "compression_ratio",
        made_for.geometry.compression_ratio,
        Dimension::Ratio,
        "1",
    );
    out.plain("lambda", made_for.lambda, Dimension::Ratio, "1");
}

/// A belief as the value of a key.
pub(super) fn belief_text(prior: &Prior, measure: Measure) -> String {
    let unit = if measure.symbol.is_empty() {
        String::new()
    } else {
        format!(" {}", measure.symbol)
    };
    let digits = if prior.is_fixed() {
        PLAIN_DIGITS
    } else {
        CENTRE_DIGITS
    };
    let centre = number(measure.from_model(prior.centre()), digits);
    if prior.is_fixed() {
        return if unit.is_empty() {
            centre
        } else {
            quoted(&format!("{centre}{unit}"))
        };
    }
    quoted(&match prior.shape() {
        Shape::Normal => {
            let sd = number(measure.difference_from_model(prior.sd()), DOUBT_DIGITS);
            format!("{centre} ± {sd}{unit}")
        }
        // The factor is near one, so its digits count behind the one.
        Shape::LogNormal => format!(
            "{centre}{unit} */ {}",
            number(prior.sd().exp(), CENTRE_DIGITS)
        ),
    })
}

/// A number in a unit; with the unit unless it is a plain ratio.
fn plain(value_si: f64, dimension: Dimension, unit: &str) -> String {
    let unit = find(unit, dimension).unwrap_or_else(|_| dimension.si_unit());
    let number = number(unit.from_si(value_si), PLAIN_DIGITS);
    if unit.symbol == "1" {
        number
    } else {
        format!("{number} {}", unit.symbol)
    }
}

/// A number rounded to significant digits, without trailing zeros.
pub(super) fn number(value: f64, digits: usize) -> String {
    let rounded: f64 = format!("{value:.*e}", digits - 1).parse().unwrap_or(value);
    if rounded == 0.0 || (1e-4..1e9).contains(&rounded.abs()) {
        rounded.to_string()
    } else {
        format!("{rounded:e}")
    }
}

/// A TOML text with what must be escaped escaped.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            letter if letter.is_control() => {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{:04X}", u32::from(letter));
            }
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests;
