//! Full load of an engine on a test bench: torque at the crank over engine speed, everything settled, and its peaks.

use pullcast::air::Day;
use pullcast::air::atmosphere::StationPressure;
use pullcast::dyno::Setup;
use pullcast::units;

/// Air of a rating: 99 kPa dry, 25 °C.
fn rating_air() -> Day {
    Day::from_vapour(StationPressure::from_pa(100_000.0), 298.15, 1_000.0).expect("a possible day")
}

/// Engine speeds of a curve.
const POINTS: usize = 21;
/// Lowest, over the redline.
const FROM: f64 = 0.18;
/// Makers print the speed from which a plateau of torque stands; this much below its top counts as standing on it.
const PLATEAU: f64 = 0.01;

/// Peaks of a curve.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peaks {
    /// W, rpm.
    pub(super) power: (f64, f64),
    /// N m, rpm.
    pub(super) torque: (f64, f64),
}

/// Torque over engine speed.
pub(super) fn curve(setup: &Setup) -> Vec<(f64, f64)> {
    let redline_rpm = setup.car.engine.redline_rpm;
    let over = (FROM * redline_rpm, redline_rpm);
    let held = setup.at_the_crank(&rating_air(), over, None, POINTS);
    held.points.iter().map(|p| (p.rpm, p.torque_nm)).collect()
}

/// The peaks of an engine; `None` where the model gives nothing.
pub(super) fn peaks(setup: &Setup, torques: &[(f64, f64)]) -> Option<Peaks> {
    let powers: Vec<(f64, f64)> = torques
        .iter()
        .map(|(rpm, torque)| (*rpm, torque * units::rad_s(*rpm)))
        .collect();
    let (power_rpm, power) = top(&powers)?;
    let (mut torque_rpm, torque) = top(torques)?;
    if setup.car.blower.turbo().is_some() {
        torque_rpm = from(torques, (1.0 - PLATEAU) * torque);
    }
    Some(Peaks {
        power: (power, power_rpm),
        torque: (torque, torque_rpm),
    })
}

/// Highest point of a curve, by the parabola through its three highest.
fn top(curve: &[(f64, f64)]) -> Option<(f64, f64)> {
    let best = (0..curve.len()).max_by(|a, b| curve[*a].1.total_cmp(&curve[*b].1))?;
    let (x, y) = curve[best];
    if !(y.is_finite() && y > 0.0) {
        return None;
    }
    if best == 0 || best + 1 == curve.len() {
        return Some((x, y));
    }
    let (below, above) = (curve[best - 1].1, curve[best + 1].1);
    let step = x - curve[best - 1].0;
    let bend = below - 2.0 * y + above;
    let shift = 0.5 * (below - above) / bend;
    Some((x + shift * step, y - 0.25 * (below - above) * shift))
}

/// Lowest speed from which a value is reached.
fn from(curve: &[(f64, f64)], value: f64) -> f64 {
    let Some(at) = curve.iter().position(|p| p.1 >= value) else {
        return curve.last().map_or(0.0, |p| p.0);
    };
    let Some(below) = at.checked_sub(1).map(|i| curve[i]) else {
        return curve[at].0;
    };
    let (x, y) = curve[at];
    below.0 + (x - below.0) * (value - below.1) / (y - below.1)
}
