//! A reduced drum log in words: pull by pull, with a standard error at every point and the smoothing named.
//!
//! It refuses to show a curve without saying over which span it was smoothed.

mod csv;

pub use csv::csv;

use super::number::{Units, What};
use super::table::TextTable;
use super::{Document, Level, Report};
use crate::ask::reduce::{Answer, Coast, Curve, Gap, Smoothing, Stretch};
use crate::drumlog::curve::Peak;
use crate::drumlog::pulls::End;
use crate::drumlog::reduction::{Ask, EngineSource};

/// Most rows of a curve in the text; all of them are in the recording and in the JSON.
const MOST_ROWS: usize = 30;
/// Most readings left out that are told one by one.
const MOST_READINGS: usize = 5;

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
const NOT_NEEDED: &str = "nowhere: no curve is drawn";

/// What ended a stretch, by its id.
pub(super) const ENDS: &[(&str, &str)] = &[
    ("lift_off", LIFT_OFF),
    ("limiter", "ended by the limiter"),
    ("shift", "ended by a shift"),
    ("log_ends", LOG_ENDS),
];
const LIFT_OFF: &str = "ended by the throttle closing";
const LOG_ENDS: &str = "still driven where the log ends";

/// Why there is no curve or no drag, by its id.
pub(super) const REFUSALS: &[(&str, &str)] = &[
    ("no_engine_speed", "the engine log does not cover it"),
    ("no_curve", "too few bands of engine speed hold rows"),
    ("too_short", "too few rows"),
    (
        "too_coarse",
        "the samples lie too far apart for the smoothing span",
    ),
    ("lifeless", "the readings do not vary"),
    ("not_falling", "the drum does not run down"),
    (
        "no_fit",
        "no drag of the form F0 + F1 v + F2 v² follows this run-down",
    ),
    (
        "untold",
        "the run-down is too little for what its readings are worth",
    ),
];

impl Report for Answer {
    const SCHEMA: &'static str = "pullcast/reduce/2";

    fn document(&self, units: Units) -> Document {
        let mut document = Document::new();
        let mut part = document.at(Level::Answer);
        part.title(format!("Drum log: {}", self.name))
            .paragraph(self.lead(units))
            .list(bad_readings(self, units))
            .paragraph(self.doubt());
        if let Some(clock) = &self.engine_log {
            part.paragraph(format!(
                "Engine log: its clock is {:+.4} ± {:.4} s behind the drum log's; {:.2} {} (root mean square) are left between the two speeds over {:.0} s.",
                clock.lag_s, clock.lag_se_s, clock.residual, clock.residual_unit, clock.overlap_s
            ));
        }
        if let Some(gearing) = gearing(self) {
            part.paragraph(format!("{gearing}."));
        }
        for (number, pull) in self.pulls.iter().enumerate() {
            add_stretch(&mut document, number + 1, pull, units);
        }
        if !self.repeatability.is_empty() {
            let mut part = document.at(Level::Answer);
            part.space()
                .section("Repeatability, one gear")
                .list(self.repeatability.iter().map(|repeat| {
                    let agreement = &repeat.agreement;
                    format!(
                        "stretch {} reads {:+.2} % against stretch {} in the mean of {} points; about that mean it strays {:.2} %, where noise alone explains {:.2} %",
                        repeat.second,
                        100.0 * agreement.mean,
                        repeat.first,
                        agreement.points,
                        100.0 * agreement.scatter,
                        100.0 * agreement.expected
                    )
                }));
        }
        if let Some(coast) = &self.coast_down {
            add_coast(&mut document, coast, units);
        }
        if let Some(reason) = &self.coast_down_refused {
            let mut part = document.at(Level::Answer);
            part.paragraph(format!("Coast-down: no drag, because {reason}."));
        }
        document
    }
}

impl Answer {
    fn lead(&self, units: Units) -> String {
        let count = self.pulls.len();
        let mut lead = format!(
            "{} at full throttle found in {} ({} rows), by speed gathered against {} at the drum's surface.",
            match count {
                0 => "No stretch".to_owned(),
                1 => "1 stretch".to_owned(),
                _ => format!("{count} stretches"),
            },
            self.log,
            self.rows,
            units.show(What::Mass, self.drum_mass_kg),
        );
        if self.left_out > 0 {
            add!(
                lead,
                " {} more {} driven, but too short or too weak for a curve.",
                self.left_out,
                if self.left_out == 1 { "was" } else { "were" }
            );
        }
        if count > 0 {
            add!(
                lead,
                " Smoothing: {}. Engine speed from {}. The drums' own drag is {} the reading. Uncorrected.",
                method(self.method),
                match self.engine_speed_from {
                    EngineSource::DrumLog => DRUM_LOG,
                    EngineSource::EngineLog => ENGINE_LOG,
                    EngineSource::Gearing => GEARING,
                    EngineSource::NotNeeded => NOT_NEEDED,
                },
                if self.drag_added_back { "in" } else { "not in" }
            );
        }
        lead
    }

    fn doubt(&self) -> String {
        if self.pulls.is_empty() {
            "The run-down alone is read.".to_owned()
        } else if self.power_doubt > 0.0 {
            format!(
                "What stands behind ± is one standard error from noise. Inertia and radius leave another {:.2} % of power and torque and {:.2} % of force, alike at every point.",
                100.0 * self.power_doubt,
                100.0 * self.force_doubt
            )
        } else {
            "What stands behind ± is one standard error from noise. Inertia and radius are taken as exact: state their doubt to see it."
                .to_owned()
        }
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
    let told: Vec<String> = other
        .stretches
        .iter()
        .map(|found| {
            format!(
                "{:.2} times as fast in stretch {}",
                found.ratio, found.stretch
            )
        })
        .collect();
    Some(format!(
        "At one drum speed the engine turns {} as in stretch {}: another gear or tyre, or slip. Do not compare or fit \
         these stretches as pulls of one gear",
        told.join(", "),
        other.against
    ))
}

/// Readings that no drum can have made.
fn bad_readings(answer: &Answer, units: Units) -> Vec<String> {
    let mut out = Vec::new();
    for stuck in &answer.stuck {
        out.push(format!(
            "the drum's sensor is stuck for {:.2} s from {:.2} s, lines {} to {}: one reading again and again, then a jump that no \
             drum makes. These are left out",
            stuck.duration_s, stuck.from_s, stuck.first_line, stuck.last_line
        ));
    }
    let count = answer.left_out_readings.len();
    for bad in answer.left_out_readings.iter().take(MOST_READINGS) {
        out.push(format!(
            "the reading of line {} is left out: {} among readings that foretell {}",
            bad.line,
            units.show(What::Speed, bad.speed_m_s),
            units.show(What::Speed, bad.foretold_m_s)
        ));
    }
    if count > MOST_READINGS {
        out.push(format!(
            "{} more such readings are left out; --json lists them",
            count - MOST_READINGS
        ));
    }
    out
}

fn add_stretch(document: &mut Document, number: usize, pull: &Stretch, units: Units) {
    let mut part = document.at(Level::Answer);
    part.space().section(format!(
        "Stretch {number} (pull {}): {:.2} to {:.2} s, lines {} to {}, {}",
        pull.pull,
        pull.from_s,
        pull.to_s,
        pull.first_line,
        pull.last_line,
        end(&pull.end)
    ));
    let Some(curve) = &pull.curve else {
        let reason = pull
            .refused
            .map_or_else(|| "nothing was found".to_owned(), |why| why.to_string());
        part.list([format!("no curve: {reason}")]);
        return;
    };
    let mut peaks = TextTable::new("l");
    for (name, top, what) in [
        ("peak power", &curve.peak_power, What::Power),
        ("peak torque", &curve.peak_torque, What::Torque),
    ] {
        peaks.row([name.to_owned(), peak(top, what, units)]);
    }
    part.table(peaks);
    document
        .at(Level::Detail)
        .list([smoothing(curve), noise(curve)]);
    document
        .at(Level::Answer)
        .list(curve.holes.iter().map(hole));
    let lag = curve
        .lag_s
        .map(|lag_s| format!("engine log's lag in this stretch alone: {lag_s:+.3} s"));
    document
        .at(Level::Detail)
        .list(std::iter::once(run_out(curve)).chain(lag));
    add_points(document, curve, units);
}

fn hole(hole: &Gap) -> String {
    format!(
        "no readings for {:.2} s from {:.2} s, between lines {} and {}: the curve bridges them, and shows nothing of what was \
             there",
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
        End::Limiter { held_s } => format!("ended by the limiter, held for {held_s:.1} s"),
        End::Shift {
            ratio: Some(ratio),
            gap_s,
        } => format!(
            "ended by a shift: driven again {gap_s:.2} s later, the engine at {ratio:.2} of its speed before"
        ),
        End::Shift { ratio: None, gap_s } => {
            format!("ended by a shift: driven again {gap_s:.2} s later")
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
            "top not reached: the curve is highest at an end of it, {} at {:.0} rpm",
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
            "{span}, as the log's own noise levels make it: {}, samples stray {}",
            force.words(),
            stray.words()
        ),
        Smoothing::LocalPolynomial { degree } => format!(
            "{span}: local polynomials of degree {degree}; a bend that they flatten is not in the errors"
        ),
    }
}

fn noise(curve: &Curve) -> String {
    let unit = curve.noise_unit.symbol();
    let mut out = match curve.readings_averaged {
        0 | 1 => format!(
            "{:.0} samples a second, single readings stray {:.4} {unit}",
            curve.rate_hz, curve.noise
        ),
        n => format!(
            "means of {n} readings, {:.0} a second, stray {:.4} {unit}",
            curve.rate_hz, curve.noise
        ),
    };
    if curve.error_raised > 1.0 {
        add!(
            out,
            "; neighbouring readings err alike, so errors are raised by a factor of {:.2}",
            curve.error_raised
        );
    }
    match curve.outlier_lines[..] {
        [] => {}
        [line] => add!(out, "; the reading of line {line} stands out"),
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
            "samples too far apart to see harmonic {}",
            list(&curve.run_out_unseen)
        ));
    }
    format!("drum run-out: {}", parts.join("; "))
}

fn add_coast(document: &mut Document, coast: &Coast, units: Units) {
    let (high, low) = coast.speed_m_s;
    let lead = format!(
        "Coast-down, {}: {} to {} in {:.1} s, mass {} at the surface. The drag contains {}. It does not contain losses that grow with torque.",
        coast.state.words(),
        units.show(What::Speed, high),
        units.show(What::Speed, low),
        coast.duration_s,
        units.show(What::Mass, coast.mass_kg),
        coast.state.contains(),
    );
    let mut items = vec![match (coast.coefficients, coast.half_widths_95) {
        (Some([f0, f1, f2]), Some([w0, w1, w2])) => format!(
            "F = {f0:.1} (± {w0:.1}) N + {f1:.3} (± {w1:.3}) N s/m v + {f2:.4} (± {w2:.4}) N s²/m² v²; 95 % intervals, each alone"
        ),
        _ => "F0, F1 and F2 cannot be told apart over so narrow a range of speed; the drag is told at the speeds run through alone"
            .to_owned(),
    }];
    for (speed, force, width) in &coast.drag {
        let (force, width) = pair(units, What::Force, *force, *width);
        items.push(format!(
            "at {} {force} {} (95 %: ± {width})",
            units.show(What::Speed, *speed),
            units.symbol(What::Force)
        ));
    }
    let mut part = document.at(Level::Answer);
    part.space().paragraph(lead).list(items);
}
