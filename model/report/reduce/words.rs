//! The words of a reduced drum log: what ended a run, how its curve was smoothed, and what was left out.

use crate::ask::reduce::{Answer, Curve, Gap, NoiseUnit, Smoothing};
use crate::drumlog::curve::Peak;
use crate::drumlog::pulls::End;
use crate::drumlog::reduction::Ask;
use crate::report::number::{Units, What};

/// Most readings left out that are listed one by one.
const MOST_READINGS: usize = 5;

/// By what curves were smoothed, by its id.
pub(in crate::report) const METHODS: &[(&str, &str)] = &[
    ("state_space", "state space, noise levels from the log"),
    (
        "local_polynomial",
        "local parabolas (Savitzky-Golay) over a span of engine speed",
    ),
];

/// Where engine speed came from, by its id.
pub(in crate::report) const ENGINE_SOURCES: &[(&str, &str)] = &[
    ("drum_log", DRUM_LOG),
    ("engine_log", ENGINE_LOG),
    ("gearing", GEARING),
    ("not_needed", NOT_NEEDED),
];
pub(super) const DRUM_LOG: &str = "the drum log";
pub(super) const ENGINE_LOG: &str = "the engine log";
pub(super) const GEARING: &str = "gearing and tyre, without slip";
pub(super) const NOT_NEEDED: &str = "nowhere: no curve is made";

/// What ended a stretch, by its id.
pub(in crate::report) const ENDS: &[(&str, &str)] = &[
    ("lift_off", LIFT_OFF),
    ("limiter", "ended by the rev limiter"),
    ("shift", "ended by a shift"),
    ("log_ends", LOG_ENDS),
];
const LIFT_OFF: &str = "ended by lifting off";
const LOG_ENDS: &str = "still pulling where the log ends";

/// Why there is no curve or no drag, by its id.
pub(in crate::report) const REFUSALS: &[(&str, &str)] = &[
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

/// What ended a run, in a word or two.
pub(super) const fn ended_by(end: &End) -> &'static str {
    match end {
        End::LiftOff => "lifting off",
        End::Limiter { .. } => "rev limiter",
        End::Shift { .. } => "shift",
        End::LogEnds => "end of log",
    }
}

/// By what every curve was smoothed.
pub(super) fn method(ask: Ask) -> String {
    match ask {
        Ask::StateSpace => "state space, noise levels from the log".to_owned(),
        Ask::LocalPolynomial { span_rpm } => {
            format!("local parabolas (Savitzky-Golay) over {span_rpm:.0} rpm")
        }
    }
}

/// Stretches that are not of one gear.
pub(super) fn gearing(answer: &Answer) -> Option<String> {
    let other = answer.other_gearing.as_ref()?;
    let ratios: Vec<String> = other
        .stretches
        .iter()
        .map(|found| format!("{:.2} times as fast in pull {}", found.ratio, found.stretch))
        .collect();
    Some(format!(
        "At the same drum speed the engine turns {} as in pull {}: another gear or tyre, or slip. Do not compare or fit these \
         runs as pulls in one gear",
        ratios.join(", "),
        other.against
    ))
}

/// Readings that no drum can have made.
pub(super) fn bad_readings(answer: &Answer, units: Units) -> Vec<String> {
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

pub(super) fn hole(hole: &Gap) -> String {
    format!(
        "no readings for {:.2} s from {:.2} s (lines {} to {}): the curve bridges the gap and shows nothing of what happened \
             in it",
        hole.duration_s, hole.from_s, hole.first_line, hole.last_line
    )
}

pub(super) fn end(end: &End) -> String {
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
pub(super) fn pair(units: Units, what: What, value: f64, se: f64) -> (String, String) {
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

pub(super) fn peak(peak: &Peak, what: What, units: Units) -> String {
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
pub(super) fn smoothing(curve: &Curve) -> String {
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

pub(super) fn noise(curve: &Curve, units: Units) -> String {
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

pub(super) fn run_out(curve: &Curve) -> String {
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

/// The road-load polynomial with 95 % intervals.
pub(super) fn coast_formula(f: [f64; 3], w: [f64; 3], units: Units) -> String {
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
