//! A reduced drum log in words: pull by pull, with a standard error at every point and the smoothing named.
//!
//! It refuses to show a curve without saying over which span it was smoothed.

mod csv;
mod force;
mod words;

pub use csv::csv;
pub(super) use force::{FORCES, TOLD};
use words::{
    DRUM_LOG, ENGINE_LOG, GEARING, NOT_NEEDED, bad_readings, coast_formula, end, ended_by, gearing,
    hole, method, noise, pair, peak, run_out, smoothing,
};
pub(super) use words::{ENDS, ENGINE_SOURCES, METHODS, REFUSALS};

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::reduce::{Answer, Coast, Curve, Stretch};
use crate::drumlog::reduction::EngineSource;

/// Most rows of a curve in the text; all of them are in the recording and in the JSON.
const MOST_ROWS: usize = 30;
/// Most runs and most notes in the answer; the others stand among the details.
const MOST_STRETCHES: usize = 8;
const MOST_NOTES: usize = 2;

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/reduce/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        document
            .at(Level::Answer)
            .title(self.headline(units))
            .paragraph(self.lead());
        let (first, rest) = self.pulls.split_at(self.pulls.len().min(MOST_STRETCHES));
        let mut part = document.at(Level::Answer);
        part.table(stretches(first, 0, units));
        if !rest.is_empty() {
            part.line(format!("  and {} more", rest.len()));
        }
        part.paragraph(self.doubt());
        force::check(&mut part, self, units);
        if let Some(gearing) = gearing(self) {
            part.labelled("!!  ", format!("{gearing}."), 4);
        }
        notes(&mut document, self, units);
        repeatability(&mut document, self);
        if let Some(coast) = &self.coast_down {
            add_coast(&mut document, coast, units);
        }
        if let Some(reason) = &self.coast_down_refused {
            let mut part = document.at(Level::Answer);
            part.paragraph(format!("Coast-down: no drag, because {reason}."));
        }
        self.how(&mut document, units);
        for (number, pull) in self.pulls.iter().enumerate() {
            add_stretch(&mut document, number + 1, pull, units);
        }
        document
    }
}

impl Answer {
    /// What was found, in a line.
    fn headline(&self, units: Units) -> String {
        let count = self.pulls.len();
        let found = match count {
            0 => return format!("{}: no full-throttle pull, only a run-down", self.name),
            1 => "1 full-throttle pull".to_owned(),
            _ => format!("{count} full-throttle pulls"),
        };
        let curves = self.pulls.iter().enumerate();
        let best = curves
            .filter_map(|(at, pull)| Some((at + 1, pull.curve.as_ref()?.peak_power)))
            .max_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let Some((number, top)) = best else {
            return format!("{}: {found}", self.name);
        };
        let power = units.show(What::Power, top.value);
        let rpm = units.show(What::PeakRpm, top.rpm);
        if count == 1 {
            format!("{}: {found}, {power} at {rpm}", self.name)
        } else {
            format!(
                "{}: {found}, most {power} at {rpm} (pull {number})",
                self.name
            )
        }
    }

    /// Where the curves come from.
    fn lead(&self) -> String {
        let log = format!("From {}, {} rows.", self.log, self.rows);
        if self.pulls.is_empty() {
            return log;
        }
        let source = match self.engine_speed_from {
            EngineSource::DrumLog => DRUM_LOG,
            EngineSource::EngineLog => ENGINE_LOG,
            EngineSource::Gearing => GEARING,
            EngineSource::NotNeeded => NOT_NEEDED,
        };
        format!(
            "{log} Power is uncorrected, {}; engine speed from {source}.",
            force::power_from(self)
        )
    }

    /// How the runs were found and smoothed.
    fn how(&self, document: &mut Document, units: Units) {
        let mut part = document.at(Level::Detail);
        if !self.pulls.is_empty() {
            part.space().paragraph(format!(
                "Pulls are found where the drums gather speed at full throttle, {} at their surface. Smoothing: {}.",
                units.show(What::Mass, self.drum_mass_kg),
                method(self.method)
            ));
        }
        force::details(&mut part, self, units);
        if self.left_out > 0 {
            part.paragraph(format!(
                "{} more {} too short or too weak for a curve.",
                self.left_out,
                if self.left_out == 1 { "was" } else { "were" }
            ));
        }
        if let Some(clock) = &self.engine_log {
            part.paragraph(format!(
                "The engine log's clock is {:+.4} ± {:.4} s behind the drum log's; over {:.0} s the two speeds then differ by {:.2} {} (root mean square).",
                clock.lag_s, clock.lag_se_s, clock.overlap_s, clock.residual, clock.residual_unit
            ));
        }
    }

    fn doubt(&self) -> String {
        if self.pulls.is_empty() {
            "Only the run-down is evaluated.".to_owned()
        } else if self.power_doubt > 0.0 {
            format!(
                "± is one standard error from noise. {} add {:.2} % to power and torque and {:.2} % to force, the same at every point.",
                force::in_doubt(self),
                100.0 * self.power_doubt,
                100.0 * self.force_doubt
            )
        } else {
            format!(
                "± is one standard error from noise. {} are taken as exact; give their tolerance to see its effect.",
                force::in_doubt(self)
            )
        }
    }
}

/// One run a row: when, what ended it, and its peaks.
fn stretches(runs: &[Stretch], before: usize, units: Units) -> TextTable {
    let mut table = TextTable::new("rllr");
    let power = format!("peak {}", units.symbol(What::Power));
    let torque = format!("peak {}", units.symbol(What::Torque));
    table.head(["pull", "seconds", "ended by", &power, "rpm", &torque, "rpm"]);
    for (at, run) in runs.iter().enumerate() {
        let mut row = vec![
            (before + at + 1).to_string(),
            format!("{:.1} to {:.1}", run.from_s, run.to_s),
            ended_by(&run.end).to_owned(),
        ];
        if let Some(curve) = &run.curve {
            for (top, what) in [
                (&curve.peak_power, What::Power),
                (&curve.peak_torque, What::Torque),
            ] {
                if top.rpm_se.is_some() {
                    let (value, se) = pair(units, what, top.value, top.se);
                    row.extend([format!("{value} ± {se}"), format!("{:.0}", top.rpm)]);
                } else {
                    row.extend(["not reached".to_owned(), "-".to_owned()]);
                }
            }
        } else {
            row.push("no curve".to_owned());
        }
        table.row(row);
    }
    table
}

/// Readings left out and gaps bridged; the first few belong to the answer.
fn notes(document: &mut Document, answer: &Answer, units: Units) {
    let mut notes = Vec::new();
    for (number, run) in answer.pulls.iter().enumerate() {
        if run.curve.is_none() {
            let reason = run
                .refused
                .map_or_else(|| "nothing was found".to_owned(), |why| why.to_string());
            notes.push(format!("pull {}: no curve: {reason}", number + 1));
        }
        let holes = run.curve.iter().flat_map(|curve| &curve.holes);
        notes.extend(holes.map(|gap| format!("pull {}: {}", number + 1, hole(gap))));
    }
    notes.extend(bad_readings(answer, units));
    let (first, rest) = notes.split_at(notes.len().min(MOST_NOTES));
    document
        .at(Level::Answer)
        .list(first.iter().map(String::as_str));
    document
        .at(Level::Detail)
        .list(rest.iter().map(String::as_str));
}

/// How far runs in one gear agree; the first pair belongs to the answer.
fn repeatability(document: &mut Document, answer: &Answer) {
    for (place, repeat) in answer.repeatability.iter().enumerate() {
        let agreement = &repeat.agreement;
        let level = if place == 0 {
            Level::Answer
        } else {
            Level::Detail
        };
        let mut part = document.at(level);
        if place == 0 {
            part.section("Repeatability, in one gear");
        }
        part.list([format!(
            "pull {} reads {:+.2} % against pull {} (mean of {} points); about that mean it scatters by {:.2} %, of which noise explains {:.2} %",
            repeat.second,
            100.0 * agreement.mean,
            repeat.first,
            agreement.points,
            100.0 * agreement.scatter,
            100.0 * agreement.expected
        )]);
    }
}

fn add_stretch(document: &mut Document, number: usize, pull: &Stretch, units: Units) {
    let mut part = document.at(Level::Detail);
    part.space().section(format!(
        "Pull {number} (run {}): {:.2} to {:.2} s, lines {} to {}, {}",
        pull.pull,
        pull.from_s,
        pull.to_s,
        pull.first_line,
        pull.last_line,
        end(&pull.end)
    ));
    let Some(curve) = &pull.curve else {
        return;
    };
    let mut peaks = TextTable::new("l");
    for (name, top, what) in [
        ("peak power", &curve.peak_power, What::Power),
        ("peak torque", &curve.peak_torque, What::Torque),
    ] {
        peaks.row([name.to_owned(), peak(top, what, units)]);
    }
    let lag = curve
        .lag_s
        .map(|lag_s| format!("engine log's lag in this pull alone: {lag_s:+.3} s"));
    part.table(peaks).list(
        [smoothing(curve), noise(curve, units), run_out(curve)]
            .into_iter()
            .chain(force::noise(curve, units))
            .chain(lag),
    );
    add_points(document, curve, units);
}

fn add_points(document: &mut Document, curve: &Curve, units: Units) {
    let every = curve.points.len().div_ceil(MOST_ROWS);
    let shown = [What::Speed, What::Force, What::Power, What::Torque].map(|w| units.symbol(w));
    let [speed, force, power, torque] = shown;
    let mut table = TextTable::new("r");
    table.head(["rpm", speed, force, "±", power, "±", torque, "±"]);
    for p in curve.points.iter().step_by(every) {
        let (force, force_se) = pair(units, What::Force, p.force_n, p.force_se_n);
        let (power, power_se) = pair(units, What::Power, p.power_w, p.power_se_w);
        let (torque, torque_se) = pair(units, What::Torque, p.torque_nm, p.torque_se_nm);
        table.row([
            format!("{:.0}", p.rpm),
            units.cell(What::Speed, p.speed_m_s),
            force,
            force_se,
            power,
            power_se,
            torque,
            torque_se,
        ]);
    }
    let mut part = document.at(Level::Detail);
    part.table(table);
    if every > 1 {
        part.line(format!(
            "  one point in {every} of {}; --csv and --json give all",
            curve.points.len()
        ));
    }
}

fn add_coast(document: &mut Document, coast: &Coast, units: Units) {
    let (high, low) = coast.speed_m_s;
    let force = |newton: f64, width: f64| {
        let (force, width) = pair(units, What::Force, newton, width);
        format!("{force} ± {width} {}", units.symbol(What::Force))
    };
    let drag: Vec<String> = coast
        .drag
        .iter()
        .map(|(speed, newton, width)| {
            format!(
                "{} at {}",
                force(*newton, *width),
                units.show(What::Speed, *speed)
            )
        })
        .collect();
    document.at(Level::Answer).space().paragraph(format!(
        "Coast-down, {}: drag {} (95 %).",
        coast.state.words(),
        drag.join(", ")
    ));
    let formula = match (coast.coefficients, coast.half_widths_95) {
        (Some(f), Some(w)) => coast_formula(f, w, units),
        _ => "F0, F1 and F2 cannot be told apart over so narrow a speed range; the drag holds only at the speeds covered."
            .to_owned(),
    };
    document
        .at(Level::Detail)
        .space()
        .section("Coast-down")
        .paragraph(format!(
            "{} to {} in {:.1} s, mass {} at the surface. The drag is {}. Losses that grow with torque are not in it.",
            units.show(What::Speed, high),
            units.show(What::Speed, low),
            coast.duration_s,
            units.show(What::Mass, coast.mass_kg),
            coast.state.contains(),
        ))
        .paragraph(formula);
}
