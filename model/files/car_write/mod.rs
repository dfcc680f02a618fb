//! Writing a fitted car: the shop's own file with the numbers the fit found.
//!
//! The text of the file that was read is edited: a number whose belief has changed is replaced where it stands, one that was a default is
//! added to its table, the table `posterior` at the end holds how they hang together. Comments, order and whatever
//! else the shop wrote stay. An account of the fit stands at the head; the next fit puts its own in that place.
//!
//! Centres keep nine digits, doubts six: predictions come back within 1e-6, spreads within 1e-5. A belief cut closer than the
//! catalogue's range gets the catalogue's range back. What is written is read back before it takes its place; it refuses to
//! replace a file with one that would not be the same car.

mod edit;
mod number;
mod posterior;

use std::path::Path;

use super::car::{self, CarFile, Parts};
use super::diagnostic::{Code, Problem, Problems};
use super::shown::on_one_line;
use super::table::TomlFile;
use super::write::{Overwrite, write_atomic};
use crate::belief::sheet::{Correlation, Sheet};
use crate::parts::AxleFacts;

pub(super) use number::{belief_text, number};

/// The car as it would be written is not the car that was meant.
pub const NOT_READ_BACK: Code = Code::new("not_read_back");

/// The line above the account of a fit, and what its lines begin with.
const ACCOUNT: &str = "# Fitted by pullcast; the next fit replaces this account:";
const ACCOUNT_SIGN: &str = "#   ";
/// What the first line of a file begins with that names its schema.
const SCHEMA_SIGN: &str = "#:schema ";

/// What is told of a fit in the file it leaves.
#[derive(Debug, Clone, Copy, Default)]
pub struct Account<'a> {
    /// Where it came from: the lines at the head.
    pub origin: &'a [String],
    /// What speaks against it: repeated whenever the file is read.
    pub reservations: &'a [String],
}

/// Writes the car as `sheet` believes it in one step, with the account of its fit.
pub fn save(
    path: &Path,
    car: &CarFile,
    sheet: &Sheet,
    account: &Account<'_>,
    overwrite: Overwrite,
) -> Result<(), Problems> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let text = to_text(car, sheet, account, folder);
    read_back(
        &path.display().to_string(),
        &text,
        folder,
        &car.parts,
        sheet,
    )?;
    write_atomic(path, text.as_bytes(), overwrite)
}

/// The text of the car file in `folder`, which the paths in it are told from.
pub fn to_text(car: &CarFile, sheet: &Sheet, account: &Account<'_>, folder: &Path) -> String {
    let source = car.text.text();
    let own = source.replace("\r\n", "\n");
    let (schema, own) = head(&own);
    let mut text = String::new();
    if let Some(named) = schema {
        let named = edit::path_from(named, &car.folder, folder);
        text += &[SCHEMA_SIGN, &named, "\n"].concat();
    }
    if !account.origin.is_empty() {
        text.push_str(ACCOUNT);
        text.push('\n');
        for line in account.origin {
            // A comment may hold no control character, and a name may.
            text += &[ACCOUNT_SIGN, on_one_line(line).trim_end(), "\n"].concat();
        }
        if !own.starts_with('\n') {
            text.push('\n');
        }
    }
    text.push_str(&edit::numbers(&own, car, sheet, folder));
    text.push('\n');
    text.push_str(&posterior::text(sheet, account.reservations));
    if source.contains("\r\n") {
        text = text.replace('\n', "\r\n");
    }
    text
}

/// The schema a file names on its first line, and the rest without the account of an earlier fit.
fn head(text: &str) -> (Option<&str>, String) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let (schema, rest) = match first.strip_prefix(SCHEMA_SIGN) {
        Some(named) => (Some(named.trim()), rest),
        None => (None, text),
    };
    let Some((before, after)) = rest.split_once(&format!("{ACCOUNT}\n")) else {
        return (schema, rest.to_owned());
    };
    let mut after = after;
    while let Some((line, further)) = after.split_once('\n')
        && line.starts_with(ACCOUNT_SIGN)
    {
        after = further;
    }
    // With its account goes the empty line that set it apart.
    let after = after.strip_prefix('\n').unwrap_or(after);
    (schema, format!("{before}{after}"))
}

/// Whether the text is the car that was meant, to the digits written.
fn read_back(
    name: &str,
    text: &str,
    folder: &Path,
    parts: &Parts,
    sheet: &Sheet,
) -> Result<(), Problems> {
    let unlike = |what: &str| {
        let message = format!("the file would not hold the car that was fitted: {what}");
        let problem = Problem::of_file(NOT_READ_BACK, name, message);
        problem.expected("every value written plainly in its own table")
    };
    let (found, _) = TomlFile::parse(name, text)
        .and_then(|file| car::read(&file, folder))
        .map_err(|problems| {
            let mut told = Problems::from(unlike("it cannot be read"));
            told.append(problems);
            told
        })?;
    match difference(&found, parts, sheet) {
        None => Ok(()),
        Some(what) => Err(unlike(&what).into()),
    }
}

/// An axle with the ratings that were meant, where those written are the same to the digits written.
fn as_rated(found: AxleFacts, meant: &AxleFacts) -> AxleFacts {
    let pick = |found: f64, meant: f64| {
        if (found / meant - 1.0).abs() < 1e-11 {
            meant
        } else {
            found
        }
    };
    AxleFacts {
        rated_power_w: pick(found.rated_power_w, meant.rated_power_w),
        rated_torque_nm: pick(found.rated_torque_nm, meant.rated_torque_nm),
        // Where they are not stated they follow from the rated power.
        battery_j: pick(found.battery_j, meant.battery_j),
        battery_w: pick(found.battery_w, meant.battery_w),
        ..found
    }
}

/// What a car read again has otherwise, if anything.
fn difference(found: &CarFile, parts: &Parts, sheet: &Sheet) -> Option<String> {
    // Beside the two that become explicit, nothing of what the car is made of is touched.
    let made = Parts {
        reference_flow_kg_s: parts.reference_flow_kg_s,
        square: parts.square,
        axle: found
            .parts
            .axle
            .zip(parts.axle)
            .map(|(found, meant)| as_rated(found, &meant)),
        ..found.parts.clone()
    };
    if made != *parts || found.sheet.centre.car.name != sheet.centre.car.name {
        return Some("its parts".to_owned());
    }
    let paths =
        |sheet: &Sheet| -> Vec<&str> { sheet.beliefs.iter().map(|b| b.parameter.path).collect() };
    if paths(&found.sheet) != paths(sheet) {
        return Some("the list of its numbers".to_owned());
    }
    let text =
        |belief: &crate::belief::Belief| belief_text(&belief.prior, belief.parameter.measure);
    let pairs = sheet.beliefs.iter().zip(&found.sheet.beliefs);
    for (meant, read) in pairs {
        if text(meant) != text(read) {
            return Some(format!(
                "{} is {}, not {}",
                meant.parameter.path,
                text(read),
                text(meant)
            ));
        }
    }
    let flow = |sheet: &Sheet| number(sheet.centre.car.intake.reference_flow_kg_s, 9);
    if flow(&found.sheet) != flow(sheet) {
        return Some("engine.reference_flow".to_owned());
    }
    let same = match (&sheet.correlation, &found.sheet.correlation) {
        (Some(meant), Some(read)) => near(meant, read),
        (None, None) => true,
        _ => false,
    };
    (!same).then(|| "its correlations".to_owned())
}

/// Whether two matrices agree to the decimals written.
fn near(meant: &Correlation, read: &Correlation) -> bool {
    let (meant, read) = (meant.matrix(), read.matrix());
    // At most seventeen decimals.
    let decimals = i32::try_from(super::posterior::decimals(meant)).unwrap_or(17);
    meant.shape() == read.shape() && (meant - read).amax() <= 10_f64.powi(-decimals)
}

#[cfg(test)]
mod tests;
