//! A reduced drum log in words: pull by pull, with a standard error at every point and the smoothing named.
//!
//! It refuses to show a curve without saying over which span it was smoothed.

mod csv;

pub use csv::csv;

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::reduce::{Answer, Coast, Curve, Gap, NoiseUnit, Smoothing, Stretch};
use crate::drumlog::curve::Peak;
use crate::drumlog::pulls::End;
use crate::drumlog::reduction::{Ask, EngineSource};

/// Most rows of a curve in the text; all of them are in the recording and in the JSON.
const MOST_ROWS: usize = 30;
/// Most readings left out that are listed one by one.
const MOST_READINGS: usize = 5;
/// Most runs and most notes in the answer; the others stand among the details.
const MOST_STRETCHES: usize = 8;
const MOST_NOTES: usize = 2;

/// By what curves were smoothed, by its id.
pub(super) const METHODS: &[(&str, &str)] = &[
    ("state_space", "state space, noise levels from the log"),
    (
        "local_polynomial",
        "local parabolas (Savitzky-Golay) over a span of engine speed",
    ),
];

/// Where engine speed came from, by its id.
pub(super) const ENGINE_SOURCES: &[(&str, &str)] = &[
    ("drum_log", DRUM_LOG),
    ("engine_log", ENGINE_LOG),
    ("gearing", GEARING),
    ("not_needed", NOT_NEEDED),
];
const DRUM_LOG: &str = "the drum log";
const ENGINE_LOG: &str = "the engine log";
const GEARING: &str = "gearing and tyre, without slip";
const NOT_NEEDED: &str = "nowhere: no curve is made";

/// What ended a stretch, by its id.
pub(super) const ENDS: &[(&str, &str)] = &[
    ("lift_off", LIFT_OFF),
    ("limiter", "ended by the rev limiter"),
    ("shift", "ended by a shift"),
    ("log_ends", LOG_ENDS),
];
const LIFT_OFF: &str = "ended by lifting off";
const LOG_ENDS: &str = "still pulling where the log ends";

/// Why there is no curve or no drag, by its id.
pub(super) const REFUSALS: &[(&str, &str)] = &[
    ("no_engine_speed", "the engine log does not cover it"),
    ("no_curve", "too few bands of engine speed hold data"),
    ("too_short", "too few rows"),
    (
        "too_coarse",
        "the samples are too far apart for the smoothing span",
    ),
    ("lifeless", "the readings do not vary"),
    ("not_falling", "the drum does not run down"),
    (
        "no_fit",
        "no drag of the form F0 + F1 v + F2 v² fits this run-down",
    ),
    (
        "untold",
        "the run-down is too short for the quality of its readings",
    ),
];

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
            0 => return format!("{}: no full-throttle run, only a run-down", self.name),
            1 => "1 full-throttle run".to_owned(),
            _ => format!("{count} full-throttle runs"),
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
                "{}: {found}, most {power} at {rpm} (run {number})",
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
        let drag = if self.drag_added_back {
            "added back"
        } else {
            "not added back"
        };
        format!(
            "{log} Power is uncorrected, the drums' own drag {drag}; engine speed from {source}."
        )
    }

    /// How the runs were found and smoothed.
    fn how(&self, document: &mut Document, units: Units) {
        let mut part = document.at(Level::Detail);
        if !self.pulls.is_empty() {
            part.space().paragraph(format!(
                "Runs are found where the drums gather speed at full throttle, {} at their surface. Smoothing: {}.",
                units.show(What::Mass, self.drum_mass_kg),
                method(self.method)
            ));
        }
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
                "± is one standard error from noise. Inertia and radius add {:.2} % to power and torque and {:.2} % to force, the same at every point.",
                100.0 * self.power_doubt,
                100.0 * self.force_doubt
            )
        } else {
            "± is one standard error from noise. Inertia and radius are taken as exact; give their tolerance to see its effect."
                .to_owned()
        }
    }
}

/// One run a row: when, what ended it, and its peaks.
fn stretches(runs: &[Stretch], before: usize, units: Units) -> TextTable {
    let mut table = TextTable::new("rllr");
    let power = format!("peak {}", units.symbol(What::Power));
    let torque = format!("peak {}", units.symbol(What::Torque));
    table.head(["run", "seconds", "ended by", &power, "rpm", &torque, "rpm"]);
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
            notes.push(format!("run {}: no curve: {reason}", number + 1));
        }
        let holes = run.curve.iter().flat_map(|curve| &curve.holes);
        notes.extend(holes.map(|gap| format!("run {}: {}", number + 1, hole(gap))));
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
            "run {} reads {:+.2} % against run {} (mean of {} points); about that mean it scatters by {:.2} %, of which noise explains {:.2} %",
            repeat.second,
            100.0 * agreement.mean,
            repeat.first,
            agreement.points,
            100.0 * agreement.scatter,
            100.0 * agreement.expected
        )]);
    }
}

/// What ended a run, in a word or two.
const fn ended_by(end: &End) -> &'static str {
    match end {
        End::LiftOff => "lifting off",
        End::Limiter { .. } => "rev limiter",
        End::Shift { .. } => "shift",
        End::LogEnds => "end of log",
    }
}

/// By what every curve was smoothed.
fn method(ask: Ask) -> String {
    match ask {
        Ask::StateSpace => "state space, noise levels from the log".to_owned(),
        Ask::LocalPolynomial { span_rpm } => {
            format!("local parabolas (Savitzky-Golay) over {span_rpm:.0} rpm")
        }
    }
}

/// Stretches that are not of one gear.
fn gearing(answer: &Answer) -> Option<String> {
    let other = answer.other_gearing.as_ref()?;
    let ratios: Vec<String> = other
        .stretches
        .iter()
        .map(|found| format!("{:.2} times as fast in run {}", found.ratio, found.stretch))
        .collect();
    Some(format!(
        "At the same drum speed the engine turns {} as in run {}: another gear or tyre, or slip. Do not compare or fit these \
         runs as pulls in one gear",
        ratios.join(", "),
        other.against
    ))
}

/// Readings that no drum can have made.
fn bad_readings(answer: &Answer, units: Units) -> Vec<String> {
    let mut out = Vec::new();
    for stuck in &answer.stuck {
        out.push(format!(
            "the drum sensor is stuck for {:.2} s from {:.2} s (lines {} to {}): one reading repeated, then a jump no drum can \
             make; these lines were left out",
            stuck.duration_s, stuck.from_s, stuck.first_line, stuck.last_line
        ));
    }
    let count = answer.left_out_readings.len();
    for bad in answer.left_out_readings.iter().take(MOST_READINGS) {
        out.push(format!(
            "the reading on line {} was left out: {} where its neighbours predict {}",
            bad.line,
            units.show(What::Speed, bad.speed_m_s),
            units.show(What::Speed, bad.predicted_m_s)
        ));
    }
    if count > MOST_READINGS {
        out.push(format!(
            "{} more such readings were left out; --json lists them",
            count - MOST_READINGS
        ));
    }
    out
}

fn add_stretch(document: &mut Document, number: usize, pull: &Stretch, units: Units) {
    let mut part = document.at(Level::Detail);
    part.space().section(format!(
        "Run {number} (pull {}): {:.2} to {:.2} s, lines {} to {}, {}",
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
        .map(|lag_s| format!("engine log's lag in this run alone: {lag_s:+.3} s"));
    part.table(peaks).list(
        [smoothing(curve), noise(curve, units), run_out(curve)]
            .into_iter()
            .chain(lag),
    );
    add_points(document, curve, units);
}

fn hole(hole: &Gap) -> String {
    format!(
        "no readings for {:.2} s from {:.2} s (lines {} to {}): the curve bridges the gap and shows nothing of what happened \
             in it",
        hole.duration_s, hole.from_s, hole.first_line, hole.last_line
    )
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

fn end(end: &End) -> String {
    match end {
        End::LiftOff => LIFT_OFF.to_owned(),
        End::Limiter { held_s } => format!("ended by the rev limiter, held for {held_s:.1} s"),
        End::Shift {
            ratio: Some(ratio),
            gap_s,
        } => format!(
            "ended by a shift: pulling again {gap_s:.2} s later, at {ratio:.2} times the engine speed"
        ),
        End::Shift { ratio: None, gap_s } => {
            format!("ended by a shift: pulling again {gap_s:.2} s later")
        }
        End::LogEnds => LOG_ENDS.to_owned(),
    }
}

/// Value and error with the digits that the error allows: two of its own.
fn pair(units: Units, what: What, value: f64, se: f64) -> (String, String) {
    let zero = units.convert(what, 0.0);
    let (value, se) = (units.convert(what, value), units.convert(what, se) - zero);
    let decimals = match se {
        se if se >= 10.0 => 0,
        se if se >= 1.0 => 1,
        se if se >= 0.1 => 2,
        se if se >= 0.01 => 3,
        se if se > 0.0 => 4,
        _ => 1,
    };
    (format!("{value:.decimals$}"), format!("{se:.decimals$}"))
}

fn peak(peak: &Peak, what: What, units: Units) -> String {
    let (value, se) = pair(units, what, peak.value, peak.se);
    let symbol = units.symbol(what);
    match peak.rpm_se {
        Some(rpm_se) => format!(
            "{value} ± {se} {symbol} at {:.0} ± {rpm_se:.0} rpm",
            peak.rpm
        ),
        // The error of one point is not that of a top, which lies elsewhere.
        None => format!(
            "peak not reached: the curve is highest at one end, {} at {:.0} rpm",
            units.show(what, peak.value),
            peak.rpm
        ),
    }
}

/// How a curve was smoothed, and over which span.
fn smoothing(curve: &Curve) -> String {
    let range = |(low, high): (f64, f64), decimals: usize| {
        let (low, high) = (format!("{low:.decimals$}"), format!("{high:.decimals$}"));
        if low == high {
            low
        } else {
            format!("{low} to {high}")
        }
    };
    let span = format!(
        "smoothing span {} s, {} rpm",
        range(curve.smoothing_span_s, 2),
        range(curve.smoothing_span_rpm, 0)
    );
    match curve.smoothing {
        Smoothing::StateSpace { force, stray } => format!(
            "{span}, set by the log's own noise: {}, samples scatter {}",
            force.words(),
            stray.words()
        ),
        Smoothing::LocalPolynomial { degree } => format!(
            "{span}: local polynomials of degree {degree}; the standard errors do not include a bend that they flatten"
        ),
    }
}

fn noise(curve: &Curve, units: Units) -> String {
    let (value, unit) = match (units, curve.noise_unit) {
        (Units::Shop, NoiseUnit::Speed) => (
            units.convert(What::Speed, curve.noise),
            units.symbol(What::Speed),
        ),
        (Units::Shop, NoiseUnit::Way) => (
            units.convert(What::Length, curve.noise),
            units.symbol(What::Length),
        ),
        (Units::Metric, unit) => (curve.noise, unit.symbol()),
    };
    let mut out = match curve.readings_averaged {
        0 | 1 => format!(
            "{:.0} samples a second, single readings scatter by {value:.4} {unit}",
            curve.rate_hz
        ),
        n => format!(
            "means of {n} readings, {:.0} a second, scatter by {value:.4} {unit}",
            curve.rate_hz
        ),
    };
    if curve.error_raised > 1.0 {
        add!(
            out,
            "; neighbouring readings share their error, so standard errors are raised by a factor of {:.2}",
            curve.error_raised
        );
    }
    match curve.outlier_lines[..] {
        [] => {}
        [line] => add!(out, "; the reading on line {line} stands out"),
        [first, ..] => add!(
            out,
            "; {} readings stand out, the first on line {first}",
            curve.outlier_lines.len()
        ),
    }
    out
}

fn run_out(curve: &Curve) -> String {
    let list = |orders: &[usize]| {
        let words: Vec<String> = orders.iter().map(ToString::to_string).collect();
        words.join(", ")
    };
    let removed: Vec<String> = curve
        .run_out
        .iter()
        .map(|h| {
            format!(
                "{} of a turn {:.3} ± {:.3} % of speed",
                match h.order {
                    1 => "first harmonic".to_owned(),
                    order => format!("harmonic {order}"),
                },
                100.0 * h.amplitude,
                100.0 * h.se
            )
        })
        .collect();
    let mut parts = Vec::new();
    if !removed.is_empty() {
        parts.push(format!("removed: {}", removed.join(", ")));
    }
    if !curve.run_out_absent.is_empty() {
        parts.push(format!(
            "not found: harmonic {}",
            list(&curve.run_out_absent)
        ));
    }
    if !curve.run_out_unseen.is_empty() {
        parts.push(format!(
            "samples too far apart for harmonic {}",
            list(&curve.run_out_unseen)
        ));
    }
    format!("drum run-out: {}", parts.join("; "))
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

/// The road-load polynomial with 95 % intervals.
fn coast_formula(f: [f64; 3], w: [f64; 3], units: Units) -> String {
    let (force, speed, per_m_s) = match units {
        // As the standard writes it.
        Units::Metric => ("N", "m/s", 1.0),
        Units::Shop => (
            units.symbol(What::Force),
            units.symbol(What::Speed),
            units.convert(What::Speed, 1.0),
        ),
    };
    let shown = |newton: f64, power: i32| {
        let force = match units {
            Units::Metric => newton,
            Units::Shop => units.convert(What::Force, newton),
        };
        force / f64::powi(per_m_s, power)
    };
    format!(
        "F = {:.1} (± {:.1}) {force} + {:.3} (± {:.3}) {force}/({speed}) v + {:.4} (± {:.4}) {force}/({speed})² v², each ± a 95 % interval by itself.",
        shown(f[0], 0),
        shown(w[0], 0),
        shown(f[1], 1),
        shown(w[1], 1),
        shown(f[2], 2),
        shown(w[2], 2)
    )
}
