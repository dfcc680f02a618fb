//! What was understood of a recording, in words: channel by channel and pull by pull.

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::files::digest::few;
use crate::files::run_csv::{Account, Channel, ReadColumn, ReadPull};
use crate::units::show_number;

/// Most columns and pulls in the answer; the others stand among the details.
const MOST_COLUMNS: usize = 10;
const MOST_PULLS: usize = 6;
/// A clock that starts later than that was not started for the log, s.
const CLOCK_S: f64 = 7200.0;

impl Report for Account {
    const SCHEMA: &'static str = "pullcast/read/1";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        part.title(self.headline()).paragraph(self.lead());
        let (first, rest) = self.columns.split_at(self.columns.len().min(MOST_COLUMNS));
        part.table(columns(first));
        if !rest.is_empty() {
            part.line(format!("  and {} more", rest.len()));
        }
        let (pulls, more) = self.pulls.split_at(self.pulls.len().min(MOST_PULLS));
        if !pulls.is_empty() {
            part.space().table(table_of(pulls, units));
        }
        if !more.is_empty() {
            part.line(format!("  and {} more", more.len()));
        }
        part.paragraph(self.foot());
        let mut detail = document.at(Level::Detail);
        if !rest.is_empty() {
            detail.table(columns(rest));
        }
        if !more.is_empty() {
            detail.table(table_of(more, units));
        }
        if !self.not_read.is_empty() {
            detail.paragraph(format!("Not read: {}.", self.not_read.join(", ")));
        }
        document
    }
}

impl Account {
    fn headline(&self) -> String {
        let count = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
        format!(
            "{}: {}, {}",
            self.file,
            count(self.columns.len(), "channel"),
            count(self.pulls.len(), "pull")
        )
    }

    fn lead(&self) -> String {
        let was = self
            .table_was
            .map_or_else(String::new, |was| format!(", {was}"));
        let decimals = if self.decimal_comma { "comma" } else { "point" };
        let separator = match self.separator.as_str() {
            "tab" => "tabs".to_owned(),
            "blank" => "blanks".to_owned(),
            sign => format!("'{sign}'"),
        };
        format!(
            "{} rows, {}, fields separated by {separator}, decimal {decimals}{was}.",
            self.rows, self.encoding
        )
    }

    fn foot(&self) -> String {
        let mut said = Vec::new();
        if !self.lacks.is_empty() {
            said.push(format!(
                "No curve can be drawn from it: it lacks {}.",
                self.lacks.join(" and ")
            ));
        }
        if !self.not_read.is_empty() {
            said.push(format!("Not read: {}.", few(&self.not_read)));
        }
        said.push(match &self.logger {
            Some(file) => format!("The answers stand in {file}; logs with the same heads, there and in the folders below, are read with them."),
            None => "A column that is read wrongly: --column \"HEADER=wheel_power_hp\", or =skip.".to_owned(),
        });
        said.join(" ")
    }
}

fn columns(columns: &[ReadColumn]) -> TextTable {
    let mut table = TextTable::new("lllrr");
    table.head(["column", "is", "unit", "from", "to"]);
    for column in columns {
        let unit = if (column.times - 1.0).abs() < 1e-12 {
            column.unit.to_owned()
        } else if column.times > 1.0 {
            format!(
                "{} {}",
                show_number(column.times, 4).trim_end_matches(".0"),
                column.unit
            )
        } else {
            format!("{} / {}", column.unit, show_number(1.0 / column.times, 4))
        };
        // A time of day or of an epoch says nothing in seconds: the pull's own seconds do.
        if column.measures == Channel::Time.name() && column.lowest_si > CLOCK_S {
            table.row([
                column.header.clone(),
                column.measures.to_owned(),
                "s from the start".to_owned(),
                show_number(0.0, 4),
                show_number(column.highest_si - column.lowest_si, 4),
            ]);
            continue;
        }
        table.row([
            column.header.clone(),
            column.measures.to_owned(),
            unit,
            show_number(column.lowest, 4),
            show_number(column.highest, 4),
        ]);
    }
    table
}

fn table_of(pulls: &[ReadPull], units: Units) -> TextTable {
    let mut table = TextTable::new("lrrrrlr");
    let power = format!("peak {}", units.symbol(What::Power));
    table.head(["pull", "line", "seconds", "rows/s", "holes", "rpm", &power]);
    let dash = || "-".to_owned();
    for pull in pulls {
        let holes = match pull.longest_hole_s {
            None => "none".to_owned(),
            Some(longest) => format!("{}, to {} s", pull.holes, show_number(longest, 2)),
        };
        let peak = pull.peak_power_w.map_or_else(dash, |power| {
            let at = pull
                .peak_rpm
                .map_or_else(String::new, |rpm| format!(" at {rpm:.0}"));
            format!("{}{at}", units.cell(What::Power, power))
        });
        table.row([
            pull.label.clone(),
            pull.first_line.to_string(),
            pull.time_s
                .map_or_else(dash, |[from, to]| format!("{:.1}", to - from)),
            pull.rate_hz.map_or_else(dash, |rate| show_number(rate, 3)),
            holes,
            pull.engine_rpm
                .map_or_else(dash, |[low, high]| format!("{low:.0} to {high:.0}")),
            peak,
        ]);
    }
    table
}
