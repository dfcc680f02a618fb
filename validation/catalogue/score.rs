//! How far predictions of engines stand from what their tables print, by group, beside the rule of the class median.

use crate::median::{Rule, median};
use crate::prediction::Prediction;
use crate::table::Engine;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Errors of one engine.
#[derive(Debug, Clone, Copy, Default)]
struct Row {
    /// Logarithms of predicted over printed.
    error: f64,
    rule: f64,
    /// Predicted less printed, rpm.
    speed_rpm: f64,
    inside: bool,
    /// Half the range over the centre.
    half_width: f64,
}

fn row(centre: (f64, f64), range: (f64, f64), printed: (f64, f64), rule: f64) -> Row {
    Row {
        error: (centre.0 / printed.0).ln(),
        rule: (rule / printed.0).ln(),
        speed_rpm: centre.1 - printed.1,
        inside: (range.0..=range.1).contains(&printed.0),
        half_width: 0.5 * (range.1 - range.0) / centre.0,
    }
}

fn line(rows: &[Row]) -> String {
    let of = |value: fn(&Row) -> f64| {
        100.0 * median(rows.iter().map(value).collect()).unwrap_or(f64::NAN)
    };
    let share = 100.0 * rows.iter().filter(|r| r.inside).count() as f64 / rows.len() as f64;
    format!(
        "{:3} | {:+5.1} | {:4.1} | {:4.1} | {:3.0} | {:4.1} | {:+5.0}",
        rows.len(),
        of(|r| r.error),
        of(|r| r.error.abs()),
        of(|r| r.rule.abs()),
        share,
        of(|r| r.half_width),
        0.01 * of(|r| r.speed_rpm),
    )
}

/// The table of scores by group, per cent and rpm.
pub(crate) fn table(engines: &[(&Engine, Option<Prediction>, Option<Rule>)]) -> String {
    let mut groups: BTreeMap<(String, &str), Vec<Row>> = BTreeMap::new();
    for (engine, prediction, rule) in engines {
        let (Some(prediction), Some(rule)) = (prediction, rule) else {
            continue;
        };
        let aspiration = if engine.turbo {
            "all turbocharged"
        } else {
            "all natural"
        };
        let mut put = |what: &'static str, row: Row| {
            for group in [engine.group(), aspiration.to_owned()] {
                groups.entry((group, what)).or_default().push(row);
            }
        };
        let power = row(
            prediction.centre.power,
            prediction.power_w,
            engine.power,
            rule.power,
        );
        put("power", power);
        if let (Some(torque), Some(of_rule)) = (engine.torque, rule.torque) {
            let torque = row(
                prediction.centre.torque,
                prediction.torque_nm,
                torque,
                of_rule.0,
            );
            put("torque", torque);
        }
    }
    let mut text = String::from(
        "group | what | engines | middle error | median error | class median's | inside 90 % | half-width | speed of the peak, rpm\n",
    );
    for ((group, what), rows) in &groups {
        let _ = writeln!(text, "{group:<28} | {what:<6} | {}", line(rows));
    }
    text
}
