//! Reduced curves as a recording that a visit can name.

use super::force::power_from;
use super::{gearing, method, smoothing};
use crate::ask::reduce::Answer;
use crate::files::drum_log::Extra;
use crate::files::shown::table_comment;

/// The curves, every pull with its label; further channels at the points' times.
pub fn csv(answer: &Answer, extras: &[Extra]) -> String {
    let origin = format!("reduced from {}: {}", answer.log, method(answer.method));
    let mut out = format!("# {}\n", table_comment(&origin));
    if answer.roll_force.is_some() || answer.simulates_a_car {
        let words = format!("power: {}", power_from(answer));
        add!(out, "# {}\n", table_comment(&words));
    }
    for (number, pull) in answer.pulls.iter().enumerate() {
        if let Some(curve) = &pull.curve {
            let words = format!("pull {}: {}", number + 1, smoothing(curve));
            add!(out, "# {}\n", table_comment(&words));
        }
    }
    if let Some(gearing) = gearing(answer) {
        add!(out, "# {}\n", table_comment(&gearing));
    }
    out.push_str(
        "pull,time (s),engine speed (rpm),wheel power (kW),wheel power standard error (kW),wheel torque at engine speed (N m),\
         wheel force (N),drum surface speed (m/s),drum speed (rpm),smoothing span (rpm)",
    );
    let named: Vec<(&Extra, &'static str)> = extras
        .iter()
        .filter_map(|extra| Some((extra, extra.channel.dimension()?.si_unit().symbol)))
        .collect();
    for (extra, symbol) in &named {
        match *symbol {
            "1" => add!(out, ",{}", extra.channel.name()),
            symbol => add!(out, ",{} ({symbol})", extra.channel.name()),
        }
    }
    out.push('\n');
    let lag_s = answer.engine_log.map_or(0.0, |found| found.lag_s);
    for (number, pull) in answer.pulls.iter().enumerate() {
        let Some(curve) = &pull.curve else { continue };
        let lag_s = curve.lag_s.unwrap_or(lag_s);
        for p in &curve.points {
            add!(
                out,
                "{},{:.4},{:.2},{:.4},{:.4},{:.4},{:.2},{:.4},{:.3},{:.1}",
                number + 1,
                p.time_s,
                p.rpm,
                p.power_w / 1e3,
                p.power_se_w / 1e3,
                p.torque_nm,
                p.force_n,
                p.speed_m_s,
                p.speed_m_s / answer.drum_radius_m * 30.0 / std::f64::consts::PI,
                p.span_rpm
            );
            for (extra, _) in &named {
                let shift = if extra.on_engine_clock { lag_s } else { 0.0 };
                add!(out, ",{:.5}", extra.at(p.time_s - shift));
            }
            out.push('\n');
        }
    }
    out
}
