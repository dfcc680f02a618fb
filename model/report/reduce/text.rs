//! The text of a reduced drum log.

use super::super::heading;
use super::super::number::{Units, What};
use super::super::table::{TextTable, WIDTH, bullet, paragraph};
use super::{CoastReport, CurveReport, PeakReport, PullReport, ReduceReport};
use crate::drumlog::Method;

/// Most rows of a curve in the text; all of them are in the recording and in the JSON.
const MOST_ROWS: usize = 30;

pub(super) fn text(report: &ReduceReport, units: Units) -> String {
    let mut out = heading(&format!("Drum log: {}", report.name));
    let count = report.pulls.len();
    let mut lead = format!(
        "{} at full throttle found in {} ({} rows), by speed gathered against {} at the drum's surface.",
        match count {
            0 => "No stretch".to_owned(),
            1 => "1 stretch".to_owned(),
            _ => format!("{count} stretches"),
        },
        report.log,
        report.rows,
        units.show(What::Mass, report.drum_mass_kg),
    );
    if report.left_out > 0 {
        add!(
            lead,
            " {} more {} driven, but too short or too weak for a curve.",
            report.left_out,
            if report.left_out == 1 { "was" } else { "were" }
        );
    }
    if count > 0 {
        add!(
            lead,
            " Smoothing: {}. Engine speed from {}. The drums' own drag is {} the reading. Uncorrected.",
            report.method,
            report.engine_speed_from,
            if report.drag_added_back {
                "in"
            } else {
                "not in"
            }
        );
    }
    out.push_str(&paragraph("", &lead, 0, WIDTH));
    out.push_str(&bad_readings(report, units));
    let doubt = if count == 0 {
        "The run-down alone is read.".to_owned()
    } else if report.power_doubt > 0.0 {
        format!(
            "What stands behind ± is one standard error from noise. Inertia and radius leave another {:.2} % of power and torque and {:.2} % of force, alike at every point.",
            100.0 * report.power_doubt,
            100.0 * report.force_doubt
        )
    } else {
        "What stands behind ± is one standard error from noise. Inertia and radius are taken as exact: state their doubt to see it."
            .to_owned()
    };
    out.push_str(&paragraph("", &doubt, 0, WIDTH));
    if let Some(clock) = &report.engine_log {
        let line = format!(
            "Engine log: its clock is {:+.4} ± {:.4} s behind the drum log's; {:.2} {} (root mean square) are left between the two speeds over {:.0} s.",
            clock.lag_s, clock.lag_se_s, clock.residual, clock.residual_unit, clock.overlap_s
        );
        out.push_str(&paragraph("", &line, 0, WIDTH));
    }
    if let Some(gearing) = report.gearing() {
        out.push_str(&paragraph("", &format!("{gearing}."), 0, WIDTH));
    }
    for (number, pull) in report.pulls.iter().enumerate() {
        out.push_str(&pull_text(number + 1, pull, units));
    }
    if !report.repeatability.is_empty() {
        out.push_str("\nRepeatability, one gear\n");
        for repeat in &report.repeatability {
            out.push_str(&bullet(&format!(
                "stretch {} reads {:+.2} % against stretch {} in the mean of {} points; about that mean it strays {:.2} %, where noise alone explains {:.2} %",
                repeat.second,
                100.0 * repeat.mean,
                repeat.first,
                repeat.points,
                100.0 * repeat.scatter,
                100.0 * repeat.expected
            )));
        }
    }
    if let Some(coast) = &report.coast_down {
        out.push_str(&coast_text(coast, units));
    }
    if let Some(reason) = &report.coast_down_refused {
        out.push_str(&paragraph(
            "",
            &format!("\nCoast-down: no drag, because {reason}."),
            0,
            WIDTH,
        ));
    }
    out
}

/// Most readings left out that are told one by one.
const MOST_READINGS: usize = 5;

/// Readings that no drum can have made.
fn bad_readings(report: &ReduceReport, units: Units) -> String {
    let mut out = String::new();
    for stuck in &report.stuck {
        out.push_str(&bullet(&format!(
            "the drum's sensor is stuck for {:.2} s from {:.2} s, lines {} to {}: one reading again and again, then a jump that no \
             drum makes. These are left out",
            stuck.duration_s, stuck.from_s, stuck.first_line, stuck.last_line
        )));
    }
    let count = report.left_out_readings.len();
    for bad in report.left_out_readings.iter().take(MOST_READINGS) {
        out.push_str(&bullet(&format!(
            "the reading of line {} is left out: {} among readings that foretell {}",
            bad.line,
            units.show(What::Speed, bad.speed_m_s),
            units.show(What::Speed, bad.foretold_m_s)
        )));
    }
    if count > MOST_READINGS {
        out.push_str(&bullet(&format!(
            "{} more such readings are left out; --json lists them",
            count - MOST_READINGS
        )));
    }
    out
}

fn pull_text(number: usize, pull: &PullReport, units: Units) -> String {
    let title = format!(
        "Stretch {number} (pull {}): {:.2} to {:.2} s, lines {} to {}, {}",
        pull.pull, pull.from_s, pull.to_s, pull.first_line, pull.last_line, pull.end
    );
    let mut out = format!("\n{}", paragraph("", &title, 0, WIDTH));
    let Some(curve) = &pull.curve else {
        let reason = pull.refused.as_deref().unwrap_or("nothing was found");
        out.push_str(&bullet(&format!("no curve: {reason}")));
        return out;
    };
    let mut peaks = TextTable::new("l");
    peaks.row([
        "peak power".to_owned(),
        peak(&curve.peak_power, What::Power, units),
    ]);
    peaks.row([
        "peak torque".to_owned(),
        peak(&curve.peak_torque, What::Torque, units),
    ]);
    out.push_str(&peaks.render());
    out.push_str(&bullet(&curve.smoothing));
    out.push_str(&bullet(&noise(curve)));
    for hole in &curve.holes {
        out.push_str(&bullet(&format!(
            "no readings for {:.2} s from {:.2} s, between lines {} and {}: the curve bridges them, and shows nothing of what was \
             there",
            hole.duration_s, hole.from_s, hole.first_line, hole.last_line
        )));
    }
    out.push_str(&bullet(&run_out(curve)));
    if let Some(lag_s) = curve.lag_s {
        out.push_str(&bullet(&format!(
            "engine log's lag in this stretch alone: {lag_s:+.3} s"
        )));
    }
    let every = curve.points.len().div_ceil(MOST_ROWS);
    let mut table = TextTable::new("r");
    table.row([
        "rpm".to_owned(),
        units.symbol(What::Speed).to_owned(),
        units.symbol(What::Force).to_owned(),
        "±".to_owned(),
        units.symbol(What::Power).to_owned(),
        "±".to_owned(),
        units.symbol(What::Torque).to_owned(),
        "±".to_owned(),
    ]);
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
    out.push_str(&table.render());
    if every > 1 {
        add!(
            out,
            "  one point in {every} of {}; --csv and --json give all\n",
            curve.points.len()
        );
    }
    out
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

fn peak(peak: &PeakReport, what: What, units: Units) -> String {
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
pub(super) fn smoothing(method: &Method, span_s: (f64, f64), span_rpm: (f64, f64)) -> String {
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
        range(span_s, 2),
        range(span_rpm, 0)
    );
    match method {
        Method::StateSpace(choice) => format!(
            "{span}, as the log's own noise levels make it: {}, samples stray {}",
            choice.force.words(),
            choice.stray.words()
        ),
        Method::LocalPolynomial { degree, .. } => format!(
            "{span}: local polynomials of degree {degree}; a bend that they flatten is not in the errors"
        ),
    }
}

fn noise(curve: &CurveReport) -> String {
    let mut out = match curve.readings_averaged {
        0 | 1 => format!(
            "{:.0} samples a second, single readings stray {:.4} {}",
            curve.rate_hz, curve.noise, curve.noise_unit
        ),
        n => format!(
            "means of {n} readings, {:.0} a second, stray {:.4} {}",
            curve.rate_hz, curve.noise, curve.noise_unit
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

fn run_out(curve: &CurveReport) -> String {
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

fn coast_text(coast: &CoastReport, units: Units) -> String {
    let (high, low) = coast.speed_m_s;
    let lead = format!(
        "Coast-down, {}: {} to {} in {:.1} s, mass {} at the surface. The drag contains {}. It does not contain losses that grow with torque.",
        coast.state,
        units.show(What::Speed, high),
        units.show(What::Speed, low),
        coast.duration_s,
        units.show(What::Mass, coast.mass_kg),
        coast.contains,
    );
    let mut out = format!("\n{}", paragraph("", &lead, 0, WIDTH));
    let line = match (coast.coefficients, coast.half_widths_95) {
        (Some([f0, f1, f2]), Some([w0, w1, w2])) => format!(
            "F = {f0:.1} (± {w0:.1}) N + {f1:.3} (± {w1:.3}) N s/m v + {f2:.4} (± {w2:.4}) N s²/m² v²; 95 % intervals, each alone"
        ),
        _ => "F0, F1 and F2 cannot be told apart over so narrow a range of speed; the drag is told at the speeds run through alone"
            .to_owned(),
    };
    out.push_str(&bullet(&line));
    for (speed, force, width) in &coast.drag {
        let (force, width) = pair(units, What::Force, *force, *width);
        out.push_str(&bullet(&format!(
            "at {} {force} {} (95 %: ± {width})",
            units.show(What::Speed, *speed),
            units.symbol(What::Force)
        )));
    }
    out
}
