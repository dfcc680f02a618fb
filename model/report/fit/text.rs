//! The account of a calibration as text.

use super::{FitReport, WorstPoint};
use crate::report::number::{Units, What};
use crate::report::table::{TextTable, WIDTH, bullet, paragraph};
use crate::report::{Report, heading};
use crate::units::show_number;

impl Report for FitReport {
    const SCHEMA: &'static str = "pullcast/fit/1";

    fn text(&self, units: Units) -> String {
        let mut out = heading(&format!("Fit: {}", self.car));
        out.push_str(&self.misfits_text(units));
        out.extend(self.remarks(units).iter().map(|remark| bullet(remark)));
        out.push_str("\nPower, measured over model, by engine speed\n");
        out.push_str(&self.bands_text());
        for line in &self.channels {
            add!(
                out,
                "  {} off by {} (root mean square)\n",
                line.channel,
                units.show(line.what, line.rms)
            );
        }
        out.push_str("\nScales\n");
        out.push_str(&self.scales_text(units));
        if !self.outliers.is_empty() {
            out.push_str("\nBands the fit let go of\n");
            for point in self.outliers.iter().take(10) {
                out.push_str(&bullet(&worst_words(point, units)));
            }
            if self.outliers.len() > 10 {
                out.push_str(&bullet(&format!("and {} more", self.outliers.len() - 10)));
            }
        }
        out.push_str(&self.learnt_text());
        if let Some(path) = &self.written {
            add!(out, "\nFitted car written to {path}\n");
        }
        out
    }
}

fn worst_words(point: &WorstPoint, units: Units) -> String {
    format!(
        "{} at {}: measured {} from the model",
        point.pull,
        units.show(What::Rpm, point.rpm),
        units.show_change(What::Percent, point.relative)
    )
}

impl FitReport {
    /// Every sign that the file does not describe the car, set apart so that it is not read over; empty where there is none.
    pub fn misfits_text(&self, units: Units) -> String {
        let mut out: String = self
            .misfits
            .iter()
            .map(|misfit| paragraph("!!  ", &misfit.sentence(units), 4, WIDTH))
            .collect();
        if !out.is_empty() {
            out.push('\n');
        }
        out
    }

    /// The few sentences that a quote shows of its own fit.
    pub fn remarks(&self, units: Units) -> Vec<String> {
        let visits = self.visits.len();
        let mut followed = format!(
            "power is followed to {} (root mean square)",
            units.show(What::Percent, self.power_rms)
        );
        if let Some(worst) = &self.worst {
            add!(followed, "; worst point: {}", worst_words(worst, units));
        }
        vec![
            format!(
                "{} pull{} in {visits} visit{}; the search took {} steps: {}",
                self.pulls.len(),
                if self.pulls.len() == 1 { "" } else { "s" },
                if visits == 1 { "" } else { "s" },
                self.iterations,
                self.stop
            ),
            followed,
            self.not_pinned_down.clone(),
        ]
    }

    fn bands_text(&self) -> String {
        let mut table = TextTable::new("lr");
        table.row(["rpm", "mean %", "rms %", "bands"]);
        for band in &self.bands {
            table.row([
                format!("{:.0} to {:.0}", band.from_rpm, band.to_rpm),
                format!("{:+.2}", 100.0 * band.mean),
                format!("{:.2}", 100.0 * band.rms),
                band.count.to_string(),
            ]);
        }
        // A stroke of a tenth of a per cent for each mark, left of the line below the model, right above.
        let bars = self.bands.iter().map(|band| bar(band.mean));
        let mut lines = table
            .render()
            .lines()
            .map(str::to_owned)
            .collect::<Vec<_>>();
        let width = lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
        for (line, bar) in lines.iter_mut().skip(1).zip(bars) {
            let blanks = " ".repeat(width - line.chars().count());
            *line = format!("{line}{blanks}  {bar}");
        }
        lines.join("\n") + "\n"
    }

    fn scales_text(&self, units: Units) -> String {
        let mut table = TextTable::new("lr");
        for visit in &self.visits {
            table.row([
                format!("visit {}", visit.visit),
                units.show_change(What::Percent, visit.scale),
                format!("± {}", units.show(What::Percent, visit.sd)),
            ]);
        }
        for pull in &self.pulls {
            table.row([
                format!("pull {}", pull.pull),
                units.show_change(What::Percent, pull.scale),
                format!("rms {}", units.show(What::Percent, pull.rms)),
            ]);
        }
        table.render()
    }

    fn learnt_text(&self) -> String {
        let mut out = String::from("\nWhat became of the numbers\n");
        let mut table = TextTable::new("lr");
        table.row(["number", "before", "after", "doubt taken away"]);
        for l in &self.learnt {
            let doubt = |centre: f64, sd: f64| {
                if l.doubt_is_factor {
                    format!(
                        "{} */ {}",
                        with_unit(&show_number(centre, 4), l.unit),
                        show_number(sd.exp(), 3)
                    )
                } else {
                    with_unit(
                        &format!("{} ± {}", show_number(centre, 4), show_number(sd, 2)),
                        l.unit,
                    )
                }
            };
            table.row([
                l.path.to_owned(),
                doubt(l.before, l.before_doubt),
                doubt(l.after, l.after_doubt),
                format!("{:.0} %", 100.0 * l.shrinkage),
            ]);
        }
        out.push_str(&table.render());
        for l in &self.learnt {
            if let Some(bound) = l.on_bound {
                out.push_str(&bullet(&format!("{} ended {bound}", l.path)));
            }
        }
        if !self.not_informed.is_empty() {
            let names = self.not_informed.join(", ");
            out.push_str(&paragraph("\nLeft as believed: ", &names, 2, WIDTH));
        }
        out
    }
}

fn with_unit(number: &str, unit: &str) -> String {
    if unit.is_empty() {
        number.to_owned()
    } else {
        format!("{number} {unit}")
    }
}

/// `|###` for +0.3 %, `###|` for −0.3 %; longer than 2 % is cut and ends in a `>`.
fn bar(mean: f64) -> String {
    const MOST: usize = 20;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small positive count"
    )]
    let tenths = (mean.abs() * 1000.0).round().min(1e6) as usize;
    let mut marks = "#".repeat(tenths.min(MOST));
    if tenths > MOST {
        marks.push('>');
    }
    if mean < 0.0 {
        let left: String = marks
            .chars()
            .rev()
            .map(|c| if c == '>' { '<' } else { c })
            .collect();
        format!("{left:>21}|")
    } else {
        format!("{:>21}|{marks}", "")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_points_the_way_the_measurement_lies() {
        assert_eq!(bar(0.003).trim_start(), "|###");
        assert_eq!(bar(-0.002).trim_start(), "##|");
        assert!(bar(-0.5).trim_start().starts_with("<####"));
        assert_eq!(bar(0.0004).trim_start(), "|");
    }
}
