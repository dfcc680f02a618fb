//! A pull with a clutch that breaks loose: the engine runs away from the gearbox until the torque has fallen enough to be held.
//!
//! Two masses instead of one. What the sound pull says of the engine at each of its speeds, and of the drum at each of its own, is
//! enough to follow them; torque after the clutch is told by what sound pulls turned into acceleration at the same drum speed. The engine
//! is stopped by its limiter. It refuses heat in the clutch: what it keeps while slipping is one number.

use crate::dyno::{Pull, PullPoint, Setup};
use std::f64::consts::TAU;

/// What a log would show in one moment of such a pull.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    /// Engine speed, rpm.
    pub(super) rpm: f64,
    /// Power at the drums, W.
    pub(super) power_w: f64,
    /// Engine speed over that at which a locked clutch would turn it.
    pub(super) flare: f64,
}

/// Steps of a pull; halving them moves power by less than 1e-3 (test).
const STEPS: usize = 1500;
/// A pull that does not end in this time has no use, s.
const LONGEST_S: f64 = 60.0;

/// Follows a pull whose clutch holds `holds` of the greatest torque of the sound pull and keeps `keeps` of that while slipping.
///
/// ```text
/// J dω/dt = T(ω) − T_c,     dv/dt = a(v) T_c/T_locked(v),     P = m a v of the sound pull, in that proportion
/// ```
///
/// Source: derived, Newton's law on either side of the clutch.
pub(super) fn slipping(
    setup: &Setup,
    sound: &Pull,
    holds: f64,
    keeps: f64,
    limiter_rpm: f64,
) -> Vec<Moment> {
    let inertia = setup.car.driveline.parts.ahead_of_clutch_kg_m2();
    let rate_at = |rpm: f64| {
        let low = sound.reading(rpm - 25.0, |p| p.time_s);
        let high = sound.reading(rpm + 25.0, |p| p.time_s);
        50.0 * TAU / 60.0 / (high - low).max(1e-6)
    };
    let through = |rpm: f64| sound.reading(rpm, |p| p.engine.torque_nm) - inertia * rate_at(rpm);
    let first = sound.points[0].rpm;
    let last = sound.points[sound.points.len() - 1].rpm;
    let most = sound
        .points
        .iter()
        .map(|p| through(p.rpm))
        .fold(0.0, f64::max);
    let (static_nm, slip_nm) = (holds * most, holds * keeps * most);
    let total_s = sound.points[sound.points.len() - 1].time_s;
    let step_s = 1.5 * total_s / STEPS as f64;
    // The locked engine speed stands for the drum's.
    let (mut engine, mut locked, mut time_s) = (first, first, 0.0);
    let mut slips = false;
    let mut out = Vec::with_capacity(STEPS);
    while locked < last && time_s < LONGEST_S.min(4.0 * total_s) {
        let locked_nm = through(locked);
        if !slips && locked_nm > static_nm {
            slips = true;
        }
        let at = |of: fn(&PullPoint) -> f64| sound.reading(locked, of);
        let share = if slips {
            slip_nm / locked_nm.max(1e-6)
        } else {
            1.0
        };
        out.push(Moment {
            rpm: engine,
            power_w: at(|p| p.power_w) * share,
            flare: engine / locked,
        });
        locked += rate_at(locked) * share * step_s * 60.0 / TAU;
        if slips {
            let torque_nm = sound.reading(engine, |p| p.engine.torque_nm);
            engine += (torque_nm - slip_nm) / inertia * step_s * 60.0 / TAU;
            engine = engine.min(limiter_rpm);
            if engine <= locked {
                slips = false;
            }
        }
        if !slips {
            engine = locked;
        }
        time_s += step_s;
    }
    out
}

/// Mean of what a log shows in a band about an engine speed, `width_rpm` wide: the logarithms of power and of the flare.
pub(super) fn in_band(moments: &[Moment], rpm: f64, width_rpm: f64) -> Option<(f64, f64)> {
    let inside = || {
        moments
            .iter()
            .filter(|m| (m.rpm - rpm).abs() <= 0.5 * width_rpm)
    };
    let n = inside().count();
    if n == 0 {
        let nearest = moments
            .iter()
            .min_by(|a, b| (a.rpm - rpm).abs().total_cmp(&(b.rpm - rpm).abs()))?;
        return Some((nearest.power_w.max(1.0).ln(), nearest.flare.ln()));
    }
    let sum = |of: fn(&Moment) -> f64| inside().map(of).sum::<f64>() / n as f64;
    Some((sum(|m| m.power_w).max(1.0).ln(), sum(|m| m.flare).ln()))
}
